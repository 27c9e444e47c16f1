"""The words of a report in one language: fixed ones by key, texts of the program by the text.

What the program says in English of its own accord (names of methods and rows, planes, reasons of
a refusal) is looked up by the English text; what a shop typed stays as it was typed. Figures in a
text that is filled in are written as the language writes them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date
from functools import cached_property

TEXTS = ("text", "plane", "method", "formula", "row", "reason", "note")
"""Tables of a language whose keys are English texts of the program. English itself has none."""

_FIGURE = re.compile(r"(?<![\w.])[+\-−]?\d+(\.\d+)?(?![\w-]|\.\d)")
_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_PLACE = re.compile(r"{(\w+)}")


class Words(Mapping[str, str]):
    """The words of a language, "table.key" -> text, and what it says for texts of the program."""

    def __init__(
        self, language: str, fixed: Mapping[str, str], texts: Mapping[str, Mapping[str, str]]
    ) -> None:
        self.language, self.fixed, self.texts = language, fixed, texts
        self._known: dict[tuple[str, str], str] = {}

    def __getitem__(self, key: str) -> str:
        return self.fixed[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self.fixed)

    def __len__(self) -> int:
        return len(self.fixed)

    def figure(self, text: str) -> str:
        """A figure as it is printed: a minus that is as wide as a plus, the decimal sign."""
        return text.replace("-", "−").replace(".", self["figures.decimal"])

    def whole(self, number: int) -> str:
        """A count, in groups of three from five digits on."""
        if abs(number) < 10_000:
            return self.figure(str(number))
        return self.figure(f"{number:,}".replace(",", self["figures.group"]))

    def day(self, when: date) -> str:
        """A day: 17 Nov 2026."""
        month = self["figures.months"].split("|")[when.month - 1]
        return self["figures.day"].format(day=when.day, month=month, year=when.year)

    def told(self, kind: str, text: str) -> str:
        """What the language says for a text of the program; a text that it doesn't know, such as
        one that was typed, stays. ``kind``: one of TEXTS."""
        if not self.texts:
            return text
        if (kind, text) not in self._known:
            self._known[kind, text] = self._told(kind, text)
        return self._known[kind, text]

    def knows(self, kind: str, text: str) -> bool:
        """Whether the language has words of its own for a text of the program."""
        return not self.texts or self._one(kind, text) is not None

    def _told(self, kind: str, text: str) -> str:
        found = self._one(kind, text)
        if found is not None:
            return found
        # Reasons of a refusal stand one behind the other.
        return "; ".join(self._one(kind, part) or part for part in text.split("; "))

    def _one(self, kind: str, text: str) -> str | None:
        """One text, whole or as a pattern; what fills a pattern may be a text, too."""
        texts = self.texts.get(kind, {})
        if text in texts:
            return texts[text]
        for wanted, said in self._patterns.get(kind, ()):
            if found := wanted.fullmatch(text):
                filled = {name: self._part(kind, part) for name, part in found.groupdict().items()}
                return said.format(**filled)
        return None

    def _part(self, kind: str, text: str) -> str:
        for each in (kind, "text"):
            if (found := self._one(each, text)) is not None:
                return found
        if _DAY.fullmatch(text):
            return self.day(date.fromisoformat(text))
        return _FIGURE.sub(lambda found: self.figure(found[0]), text)

    @cached_property
    def _patterns(self) -> Mapping[str, tuple[tuple[re.Pattern[str], str], ...]]:
        """Texts with something to fill in, by kind; those with the most words come first."""
        found: dict[str, tuple[tuple[re.Pattern[str], str], ...]] = {}
        for kind, texts in self.texts.items():
            keys = [key for key in texts if _PLACE.search(key)]
            keys.sort(key=lambda key: len(_PLACE.sub("", key)), reverse=True)
            found[kind] = tuple((_pattern(key), texts[key]) for key in keys)
        return found


def _pattern(text: str) -> re.Pattern[str]:
    """What matches a text whose places in braces are filled in; a semicolon ends what fills one."""
    parts = _PLACE.split(text)
    named = (re.escape(p) if n % 2 == 0 else f"(?P<{p}>[^;]+?)" for n, p in enumerate(parts))
    return re.compile("".join(named))
