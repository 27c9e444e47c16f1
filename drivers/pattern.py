"""The pattern of one line, held to what can neither run for ever nor pass as another figure.

A frame pattern is a regular expression that somebody at a machine wrote. Only a small part of the
language is let in, and before it is compiled the ways in which it could be tried on a line are
counted: that number bounds the work that any bytes can cause. Compiles only; reads no line.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Collection
from dataclasses import dataclass, field

MOST_WAYS = 100_000
_DEEPEST = 8
_PLAIN = set("drnts")
_CLASS = re.compile(r"\[\^?\]?(?:\\.|[^\]\\])*\]")
_COUNT = re.compile(r"\{(\d{1,4})(?:(,)(\d{1,4})?)?\}")
_GROUP = re.compile(r"\((\?P<([a-z_]+)>|\?:)?")
_DIGIT = r"(?:\\d|\[0-9\])"
_SIGNED = rf"(?:\[[+ -]{{1,3}}\]\??)?{_DIGIT}(?:\{{\d+(?:,\d+)?\}})?"
_FIGURE = {
    ".": re.compile(rf"{_SIGNED}(?:\\\.{_DIGIT}\{{(\d)\}})?"),
    ",": re.compile(rf"{_SIGNED}(?:,{_DIGIT}\{{(\d)\}})?"),
    "none": re.compile(_SIGNED),
}
_SIGN = re.compile(r"\[[+ -]{1,3}\]\??|[+-]\??")
_COUNT_GROUP = re.compile(rf"{_DIGIT}(?:\{{\d+(?:,\d+)?\}})?")


class PatternError(ValueError):
    """A pattern that is refused; the message says what was expected."""


@dataclass(frozen=True, slots=True)
class _Part:
    """A part of the pattern: ways to try it, and the least and most bytes that it matches."""

    ways: int
    least: int
    most: int


_NOTHING, _BYTE = _Part(1, 0, 0), _Part(1, 1, 1)


@dataclass(slots=True)
class _Walk:
    """Counts ways and bytes, left to right."""

    text: str
    longest: int
    at: int = 0
    deep: int = 0
    names: dict[str, str] = field(default_factory=dict)

    def either(self) -> _Part:
        """One alternative or another: their ways add up."""
        found = self.row()
        while self.ahead("|"):
            self.at += 1
            other = self.row()
            least, most = min(found.least, other.least), max(found.most, other.most)
            found = _Part(self.held(found.ways + other.ways), least, most)
        return found

    def row(self) -> _Part:
        """One after another: their ways multiply."""
        found = _NOTHING
        while self.at < len(self.text) and not self.ahead("|") and not self.ahead(")"):
            part = self.repeated(self.one())
            ways = self.held(found.ways * part.ways)
            found = _Part(ways, found.least + part.least, found.most + part.most)
        return found

    def one(self) -> _Part:
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
        return _BYTE

    def group(self) -> _Part:
        """A group, plain or with a name."""
        found = _GROUP.match(self.text, self.at)
        if found is None or self.text[found.end() : found.end() + 1] == "?":
            raise PatternError("groups (...), (?:...) and (?P<name>...) only")
        self.at = start = found.end()
        self.deep += 1
        if self.deep > _DEEPEST:
            raise PatternError(f"at most {_DEEPEST} groups inside each other")
        part = self.either()
        self.deep -= 1
        if not self.ahead(")"):
            raise PatternError("a ) for each (")
        if found[2]:
            self.names[found[2]] = self.text[start : self.at]
        self.at += 1
        return part

    def repeated(self, part: _Part) -> _Part:
        """What stands there, repeated as it says."""
        least, most = self.count()
        ways = self.held(sum(self.held(part.ways**n) for n in range(least, most + 1)))
        return _Part(ways, least * part.least, most * part.most)

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


def one_length(text: str, longest: int) -> bool:
    """Whether all that the pattern matches is of one length, so that half of it is never whole."""
    found = _Walk(text, longest).either()
    return found.least == found.most


def compiled(
    text: str, longest: int, decimals: int, point: str, allowed: Collection[str]
) -> re.Pattern[bytes]:
    """The pattern of one frame's body.

    ``longest``: bytes of the longest frame; ``decimals``, ``point``: how its figures are written;
    ``allowed``: names that a group may have. Raises PatternError for what isn't let in, could take
    too long, or whose groups aren't figures.
    """
    walk = _Walk(text, longest)
    walk.either()
    if walk.at < len(text):
        raise PatternError("a ( for each )")
    for name, inside in walk.names.items():
        if name not in allowed:
            raise PatternError(f"named groups such as x, z, unit, key; not {name}")
        _shaped(name, inside, decimals, point)
    try:
        with warnings.catch_warnings():
            # Signs in a set that a later Python may read in another way are refused today.
            warnings.simplefilter("error")
            return re.compile(text.encode("latin-1"))
    except (re.error, UnicodeEncodeError, OverflowError, Warning) as error:
        raise PatternError(f"a regular expression of bytes ({error})") from error


def _shaped(name: str, inside: str, decimals: int, point: str) -> None:
    """A group of figures holds one, a sign's a sign, a counter's digits."""
    if name.endswith("sign"):
        if not _SIGN.fullmatch(inside):
            raise PatternError(f"group {name} a sign, such as [+-]")
    elif name == "count":
        if not _COUNT_GROUP.fullmatch(inside):
            raise PatternError(rf"group {name} a number, such as \d{{1,4}}")
    elif name not in _NO_FIGURES:
        figure = _FIGURE[point].fullmatch(inside)
        shown = 0 if point == "none" else decimals
        if figure is None or (point != "none" and int(figure[1] or 0) != shown):
            sign = {".": r"\.", ",": ",", "none": ""}[point]
            places = rf"{sign}\d{{{shown}}}" if shown else ""
            raise PatternError(
                rf"group {name} a figure of {shown} decimals, such as [+-]?\d{{1,4}}{places}"
            )


_NO_FIGURES = frozenset({"unit", "mode", "counting", "status", "key", "axis"})
