"""Values of one table of a layout file, each checked as it is taken; mistakes with their lines.

Knows TOML tables and nothing of readouts: what a key may say is the caller's to know.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from inspect_rec.errors import Mistake

_MANY = 50
"""Unknown keys that are named; with more of them the file is another one."""


class Table:
    """One table of the file. ``name``: its name, empty for the keys before all tables; ``nth``:
    which one, of a table that stands several times in ``[[double]]`` brackets."""

    def __init__(self, name: str, text: str, file: str, values: object, nth: int = 0) -> None:
        self.name, self.text, self.file, self.nth = name, text, file, nth
        self.values: Mapping[str, Any] = values if isinstance(values, Mapping) else {}
        self.mistakes: dict[str, Mistake] = {}
        self.taken: set[str] = set()

    def where(self, key: str) -> str:
        """File and line of a key; of its table where that is one of several and lacks the key."""
        table, count, head = "", -1, 0
        for number, line in enumerate(self.text.splitlines(), 1):
            bare = line.strip()
            if bare.startswith("["):
                table = bare.split("#")[0].strip("[] ")
                count += table == self.name
                if not self.name and table == key:
                    return f"{self.file}:{number}"
                if bare.startswith("[[") and table == self.name and count == self.nth:
                    head = number
            elif (
                table == self.name
                and max(count, 0) == self.nth
                and re.match(rf"{re.escape(key)}\s*=", bare)
            ):
                return f"{self.file}:{number}"
        if head:
            return f"{self.file}:{head}"
        return f"{self.file} [{self.name}]" if self.name else self.file

    def wrong(self, key: str, expected: str) -> None:
        """Note a mistake, the first of each key."""
        found = repr(self.values.get(key, "nothing"))[:60]
        self.mistakes.setdefault(key, Mistake(self.where(key), f"{key} = {expected}", found))

    def has(self, key: str) -> bool:
        """Whether the key is there."""
        return key in self.values

    def text_(
        self, key: str, default: str | None = None, among: tuple[str, ...] = (), longest: int = 500
    ) -> str:
        """A text, one of ``among`` where that is stated; empty only where that is the default."""
        value = self._take(key, default)
        good = isinstance(value, str) and len(value) <= longest and (value or default == "")
        if not good or (among and value not in among):
            self.wrong(key, " or ".join(map(repr, among)) or f"a text of 1 to {longest} characters")
            return default or (among[0] if among else "")
        return str(value)

    def bytes_(self, key: str, default: str, longest: int) -> bytes:
        """A text that stands for bytes, one each."""
        text = self.text_(key, default, longest=longest)
        if not is_bytes(text):
            self.wrong(key, "characters that are one byte each")
            return default.encode("latin-1")
        return text.encode("latin-1")

    def whole(self, key: str, default: int, least: int, most: int) -> int:
        """A whole number within bounds."""
        value = self._take(key, default)
        if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
            self.wrong(key, f"a whole number from {least} to {most}")
            return default
        return value

    def truth(self, key: str, *, default: bool) -> bool:
        """true or false."""
        value = self._take(key, default)
        if not isinstance(value, bool):
            self.wrong(key, "true or false")
            return default
        return value

    def number(self, key: str, default: str, least: str, most: str) -> Decimal:
        """An exact number within bounds; a text of digits is one, too."""
        value = _exact(self._take(key, Decimal(default)))
        if value is None or not Decimal(least) <= value <= Decimal(most):
            self.wrong(key, f"a number from {least} to {most}")
            return Decimal(default)
        return value

    def places(self, key: str, default: int, most: int) -> tuple[int, int]:
        """How many decimals: a whole number, or the fewest and the most in a list."""
        value = self._take(key, default)
        ends = value if isinstance(value, list) else [value, value]
        whole = [v for v in ends if isinstance(v, int) and not isinstance(v, bool)]
        if len(whole) == len(ends) == 2 and 0 <= whole[0] <= whole[1] <= most:
            return whole[0], whole[1]
        self.wrong(key, f"a number of places from 0 to {most}, or the fewest and most, [3, 4]")
        return default, default

    def span(self, key: str, default: tuple[int, int]) -> tuple[Decimal, Decimal]:
        """Least and most of something."""
        value = self._take(key, list(default))
        ends = [_exact(v) for v in value] if isinstance(value, list) else []
        if len(ends) == 2 and ends[0] is not None and ends[1] is not None and ends[0] < ends[1]:
            return ends[0], ends[1]
        self.wrong(key, "the least and the most figure, such as [-2000, 2000]")
        return Decimal(default[0]), Decimal(default[1])

    def words(self, key: str, among: tuple[str, ...]) -> Mapping[bytes, str]:
        """What a frame says -> what it means, one of ``among``."""
        value = self._take(key, {})
        good = isinstance(value, Mapping) and all(
            is_bytes(word) and said in among for word, said in value.items()
        )
        if not good:
            self.wrong(key, f"words of the frame, each with its meaning: {' or '.join(among)}")
            return {}
        return {word.encode("latin-1"): said for word, said in dict(value).items()}  # type: ignore[call-overload]

    def numbered(self, key: str, among: tuple[str, ...]) -> Mapping[int, str]:
        """What a number in a frame means, one of ``among``; an exact number where that is empty."""
        value = self._take(key, {})
        found = {_number(k): v for k, v in value.items()} if isinstance(value, Mapping) else {}
        good = isinstance(value, Mapping) and len(found) == len(value) and None not in found
        if not good or not all(v in among if among else _exact(v) for v in found.values()):
            meaning = " or ".join(among) or 'what one step is worth, such as "0.001"'
            self.wrong(key, f"numbers in quotes, each with its meaning: {meaning}")
            return {}
        return {n: str(v) for n, v in found.items() if n is not None}

    def several(self, key: str) -> tuple[bytes, ...]:
        """A list of texts that stand for bytes."""
        value = self._take(key, [])
        good = isinstance(value, list) and all(
            isinstance(word, str) and 0 < len(word) <= 40 and is_bytes(word) for word in value
        )
        if not good or not isinstance(value, list):
            self.wrong(key, 'a list of words, such as ["OVR", "E-SIG"]')
            return ()
        return tuple(word.encode("latin-1") for word in value)

    def _take(self, key: str, default: object) -> object:
        self.taken.add(key)
        return self.values.get(key, default)

    def found(self) -> list[Mistake]:
        """All mistakes, keys that nobody knows among them."""
        unknown = [key for key in self.values if key not in self.taken]
        expected = f"one of {', '.join(sorted(self.taken))}"
        left = [Mistake(self.where(key), expected, repr(key)[:60]) for key in unknown[:_MANY]]
        return [*self.mistakes.values(), *left]


def _exact(value: object) -> Decimal | None:
    if isinstance(value, str) and re.fullmatch(r"[+-]?[0-9]{1,12}(\.[0-9]{1,12})?", value):
        return Decimal(value)
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        return None
    exact = Decimal(value)
    return exact if exact.is_finite() else None


def _number(text: str) -> int | None:
    """A whole number in quotes, decimal or hexadecimal."""
    if re.fullmatch(r"0x[0-9a-fA-F]{1,16}", text):
        return int(text, 16)
    return int(text) if re.fullmatch(r"-?[0-9]{1,20}", text) else None


def is_bytes(text: str) -> bool:
    """Whether each character stands for one byte."""
    return all(ord(char) < 256 for char in text)
