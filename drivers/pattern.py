"""The pattern of one line, held to what can neither run for ever nor pass as another figure.

A frame pattern is a regular expression that somebody at a machine wrote. Only a small part of the
language is let in, and before it is compiled the ways in which it could be tried on a line are
counted: that number bounds the work that any bytes can cause. Compiles only; reads no line.
"""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass, field

MOST_WAYS = 100_000
_DEEPEST = 8
_PLAIN = set("drnts")
_CLASS = re.compile(r"\[\^?\]?(?:\\.|[^\]\\])*\]")
_COUNT = re.compile(r"\{(\d{1,4})(?:(,)(\d{1,4})?)?\}")
_GROUP = re.compile(r"\((\?P<([a-z]+)>|\?:)?")
_FIGURE = re.compile(
    r"(?:\[[+-]{1,2}\]\??)?(?:\\d|\[0-9\])(?:\{\d+(?:,\d+)?\})?(?:\\\.(?:\\d|\[0-9\])\{(\d)\})?"
)


class PatternError(ValueError):
    """A pattern that is refused; the message says what was expected."""


@dataclass(slots=True)
class _Walk:
    """Counts the ways, left to right."""

    text: str
    longest: int
    at: int = 0
    deep: int = 0
    names: dict[str, str] = field(default_factory=dict)

    def either(self) -> int:
        """One alternative or another: their ways add up."""
        ways = self.row()
        while self.ahead("|"):
            self.at += 1
            ways = self.held(ways + self.row())
        return ways

    def row(self) -> int:
        """One after another: their ways multiply."""
        ways = 1
        while self.at < len(self.text) and not self.ahead("|") and not self.ahead(")"):
            ways = self.held(ways * self.repeated(self.one()))
        return ways

    def one(self) -> int:
        """One character, set of characters, or group."""
        text, at = self.text, self.at
        if text[at] == "(":
            return self.group()
        if text[at] == "[":
            found = _CLASS.match(text, at)
            if found is None:
                raise PatternError("a set of characters that is closed with ]")
            self.at = found.end()
        elif text[at] == "\\":
            after = text[at + 1 : at + 2]
            if not after or (after.isalnum() and after not in _PLAIN and after != "x"):
                raise PatternError(r"of the letters after \ only \d, \s, \t, \r, \n and \x00")
            self.at = at + 2
        elif text[at] in "^$":
            raise PatternError("no ^ and no $: it always stands for the whole line")
        elif text[at] in "*+?{}":
            raise PatternError("something to repeat before each *, +, ? and {, and no { alone")
        else:
            self.at = at + 1
        return 1

    def group(self) -> int:
        """A group, plain or with a name."""
        found = _GROUP.match(self.text, self.at)
        if found is None or self.text[found.end() : found.end() + 1] == "?":
            raise PatternError("groups (...), (?:...) and (?P<name>...) only")
        self.at = start = found.end()
        self.deep += 1
        if self.deep > _DEEPEST:
            raise PatternError(f"at most {_DEEPEST} groups inside each other")
        ways = self.either()
        self.deep -= 1
        if not self.ahead(")"):
            raise PatternError("a ) for each (")
        if found[2]:
            self.names[found[2]] = self.text[start : self.at]
        self.at += 1
        return ways

    def repeated(self, ways: int) -> int:
        """The ways of what stands there, repeated as it says."""
        least, most = self.count()
        total = sum(self.held(ways**n) for n in range(least, most + 1))
        return self.held(total)

    def count(self) -> tuple[int, int]:
        """How often, at least and at most; without an end it is the longest line."""
        sign = self.text[self.at : self.at + 1]
        found = _COUNT.match(self.text, self.at)
        if sign not in ("*", "+", "?") and found is None:
            return 1, 1
        if found is not None:
            self.at = found.end()
            least = int(found[1])
            most = int(found[3]) if found[3] else self.longest if found[2] else least
        else:
            self.at += 1
            least, most = {"*": (0, self.longest), "+": (1, self.longest), "?": (0, 1)}[sign]
        if self.text[self.at : self.at + 1] in ("*", "+", "?", "{") or least > most:
            raise PatternError("no repeat of a repeat")
        return least, min(most, self.longest)

    def ahead(self, sign: str) -> bool:
        return self.text[self.at : self.at + 1] == sign

    @staticmethod
    def held(ways: int) -> int:
        if ways > MOST_WAYS:
            raise PatternError(
                r"counts such as \d{1,4} instead of + and *: it could be tried on a line in more "
                f"than {MOST_WAYS} ways"
            )
        return ways


def compiled(text: str, longest: int, decimals: int) -> re.Pattern[bytes]:
    """The pattern of one line without its terminator.

    ``longest``: bytes of the longest line; ``decimals``: places of the figures ``x`` and ``z``.
    Raises PatternError for what isn't let in, could take too long, or whose groups aren't figures.
    """
    walk = _Walk(text, longest)
    walk.either()
    if walk.at < len(text):
        raise PatternError("a ( for each )")
    names = walk.names
    if not {"x", "z"} <= set(names) <= {"x", "z", "key", "unit", "mode"}:
        raise PatternError("named groups x and z, and if need be key, unit, mode")
    for name in ("x", "z"):
        figure = _FIGURE.fullmatch(names[name])
        if figure is None or int(figure[1] or 0) != decimals:
            raise PatternError(
                rf"group {name} a figure of {decimals} decimals, such as [+-]?\d{{1,4}}"
                + (rf"\.\d{{{decimals}}}" if decimals else "")
            )
    try:
        with warnings.catch_warnings():
            # Signs in a set that a later Python may read in another way are refused today.
            warnings.simplefilter("error")
            return re.compile(text.encode("latin-1"))
    except (re.error, UnicodeEncodeError, OverflowError, Warning) as error:
        raise PatternError(f"a regular expression of bytes ({error})") from error
