"""The pattern of one line, held to what can neither run for ever nor pass as another figure.

A frame pattern is a regular expression that somebody at a machine wrote. Only a small part of the
language is let in, and before it is compiled the ways in which it could be tried on a line are
counted: that number bounds the work that any bytes can cause. What else its lines have in common
(length, bytes that only begin or end one) tells whether half of one could pass as a whole one.
Compiles only; reads no line.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Collection
from dataclasses import dataclass, field
from functools import cache

from drivers.net import Net, Part, PatternError

__all__ = ["MOST_WAYS", "PatternError", "Shape", "compiled", "count_base", "shape"]

MOST_WAYS = 100_000
_DEEPEST = 8
_PLAIN = set("drnts")
_CLASS = re.compile(r"\[\^?\]?(?:\\.|[^\]\\])*\]")
_COUNT = re.compile(r"\{(\d{1,4})(?:(,)(\d{1,4})?)?\}")
_GROUP = re.compile(r"\((\?P<([a-z_]+)>|\?:)?")
_DIGIT = r"(?:\\d|\[0-9\])"
_SIGNED = rf"(?:(?:\[[+ -]{{1,3}}\]|-)\??)?{_DIGIT}(?:\{{\d+(?:,\d+)?\}})?"
_PLACES = rf"{_DIGIT}\{{(\d)(?:,(\d))?\}}"
_FIGURE = {
    ".": re.compile(rf"{_SIGNED}(?:\\\.{_PLACES})?"),
    ",": re.compile(rf"{_SIGNED}(?:,{_PLACES})?"),
    "none": re.compile(_SIGNED),
}
_SIGN = re.compile(r"\[[+ -]{1,3}\]\??|[+-]\??")
_HEXADECIMAL = r"\[0-9(?:A-F|a-f|A-Fa-f)\]"
_COUNT_GROUP = re.compile(rf"(?:{_DIGIT}|{_HEXADECIMAL})(?:\{{\d+(?:,\d+)?\}})?")


_HEX = re.compile(r"\\x[0-9a-fA-F]{2}")


@dataclass(frozen=True, slots=True)
class Shape:
    """What all lines of a pattern have in common. ``halves``: whether the end of one can be a line,
    too. ``alphabet``: bytes that may stand in one; ``begins``: those with which each begins, and
    which stand nowhere else in one; ``ends``: likewise at its end; empty where there are none."""

    least: int
    most: int
    halves: bool
    alphabet: bytes
    begins: bytes
    ends: bytes
    places: tuple[int, int] | None
    """Fewest and most decimals that its figures may have; None where the point is implied."""


@dataclass(slots=True)
class _Walk:
    """Counts ways and bytes, left to right."""

    text: str
    longest: int
    at: int = 0
    deep: int = 0
    names: dict[str, str] = field(default_factory=dict)
    perhaps: set[str] = field(default_factory=set)
    """Groups that don't stand exactly once in every line."""
    net: Net = field(default_factory=Net)

    def either(self) -> Part:
        """One alternative or another: their ways add up."""
        before = len(self.names)
        found = self.row()
        while self.ahead("|"):
            self.at += 1
            other = self.row()
            found = self.net.or_(found, other, self.held(found.ways + other.ways))
            self.perhaps.update(list(self.names)[before:])
        return found

    def row(self) -> Part:
        """One after another: their ways multiply."""
        found = self.net.nothing()
        while self.at < len(self.text) and not self.ahead("|") and not self.ahead(")"):
            before = len(self.names)
            part = self.repeated(self.one(), before)
            found = self.net.then(found, part, self.held(found.ways * part.ways))
        return found

    def one(self) -> Part:
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
            long = _HEX.match(text, at)
            self.at = long.end() if long else at + 2
        elif text[at] in "^$":
            raise PatternError("no ^ and no $: it always stands for the whole line")
        elif text[at] in "*+?{}":
            raise PatternError("something to repeat before each *, +, ? and {, and no { alone")
        else:
            self.at = at + 1
        return self.net.byte(_fits(text[at : self.at]))

    def group(self) -> Part:
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

    def repeated(self, part: Part, before: int) -> Part:
        """What stands there, repeated as it says; ``before``: how many names came before it."""
        least, most = self.count()
        if (least, most) != (1, 1):
            self.perhaps.update(list(self.names)[before:])
        ways = self.held(sum(self.held(part.ways**n) for n in range(least, most + 1)))
        return self.net.times(part, least, most, ways)

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


@cache
def _fits(atom: str) -> int:
    """The bytes of a set, a bit each."""
    fits = _of_bytes(atom).fullmatch
    return sum(1 << n for n in range(256) if fits(bytes([n])))


def _of_bytes(text: str) -> re.Pattern[bytes]:
    try:
        with warnings.catch_warnings():
            # Signs in a set that a later Python may read in another way are refused today.
            warnings.simplefilter("error")
            return re.compile(text.encode("latin-1"))
    except (re.error, UnicodeEncodeError, OverflowError, Warning) as error:
        raise PatternError(f"a regular expression of bytes ({error})") from error


def shape(text: str, longest: int, point: str = ".") -> Shape:
    """What the lines of a pattern that was let in have in common."""
    walk = _Walk(text, longest)
    found = walk.either()
    places: tuple[int, int] | None = None
    for name, inside in walk.names.items():
        figure = _FIGURE[point].fullmatch(inside)
        if figure is None or point == "none" or name in _NO_FIGURES or _WORDLY.search(name):
            continue
        least = int(figure[1] or 0)
        most = int(figure[2] or least)
        places = (min(least, places[0]), max(most, places[1])) if places else (least, most)
    net, ends = walk.net, found.last
    first, last = net.bytes_at(found.first), net.bytes_at(ends)
    later = net.bytes_at(net.behind())
    sooner = net.bytes_at(net.before())
    alone = bool(found.least)
    return Shape(
        found.least,
        found.most,
        net.halves(found.first, ends),
        _bytes(first | later),
        _bytes(first if alone and not first & later else 0),
        _bytes(last if alone and not last & sooner else 0),
        places,
    )


def _bytes(among: int) -> bytes:
    return bytes(n for n in range(256) if among >> n & 1)


def compiled(
    text: str, longest: int, decimals: int | tuple[int, int], point: str, allowed: Collection[str]
) -> re.Pattern[bytes]:
    """The pattern of one frame's body.

    ``longest``: bytes of the longest frame; ``decimals`` (or fewest and most), ``point``: how its
    figures are written; it may let in other decimals, too, which are then found and refused;
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
        if name in walk.perhaps and name not in _PERHAPS and not name.endswith("sign"):
            raise PatternError(f"group {name} once in every line, not in some")
        places = (decimals, decimals) if isinstance(decimals, int) else decimals
        _shaped(name, inside, places, point)
    return _of_bytes(text)


def _shaped(name: str, inside: str, decimals: tuple[int, int], point: str) -> None:
    """A group of figures holds one, a sign's a sign, a counter's digits."""
    if name.endswith("sign"):
        if not _SIGN.fullmatch(inside):
            raise PatternError(f"group {name} a sign, such as [+-]")
    elif name == "count":
        if not _COUNT_GROUP.fullmatch(inside):
            raise PatternError(rf"group {name} a number, such as \d{{1,4}} or [0-9A-F]{{4}}")
    elif name not in _NO_FIGURES:
        figure = _FIGURE[point].fullmatch(inside)
        if figure is None or (point != "none" and not _let_in(figure, decimals)):
            fewest, most = decimals
            sign = {".": r"\.", ",": ",", "none": ""}[point]
            count = f"{fewest},{most}" if most > fewest else f"{most}"
            places = rf"{sign}\d{{{count}}}" if most and sign else ""
            raise PatternError(
                rf"group {name} a figure of {count} decimals, such as [+-]?\d{{1,4}}{places}"
            )


def count_base(pattern: re.Pattern[bytes]) -> int:
    """Whether the counter of a pattern is decimal or hexadecimal: 10 or 16."""
    return (
        16 if re.search(rf"\(\?P<count>{_HEXADECIMAL}", pattern.pattern.decode("latin-1")) else 10
    )


def _let_in(figure: re.Match[str], decimals: tuple[int, int]) -> bool:
    """Whether a figure may have as many decimals as the layout says."""
    least = int(figure[1] or 0)
    most = int(figure[2] or least)
    return least <= decimals[1] and decimals[0] <= most


_NO_FIGURES = frozenset({"unit", "mode", "counting", "status", "key", "axis"})
_PERHAPS = frozenset({"unit", "mode", "counting", "status", "key"})
_WORDLY = re.compile(r"sign$|^count$")
