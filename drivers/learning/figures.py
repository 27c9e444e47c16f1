"""How the figures of a readout are written: signs, blanks, digits, places. Pure.

Takes one number's texts over all frames and says its values, and the pattern that lets in figures
written so and no others.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

NUMBERS = {
    ".": re.compile(rb"(\d+\.\d+|(?<!\d)\.\d+|\d+)"),
    ",": re.compile(rb"(\d+,\d+|(?<!\d),\d+|\d+)"),
    "none": re.compile(rb"(\d+)"),
}
_BEFORE = re.compile(rb"( *)([+-]?)( *)\Z")
_AFTER = re.compile(rb"([+ -])")
NEED = 4
"""Digits before the point that a slide of up to 2 m, in mm, may need."""
_IMPLIED = 3
"""Further digits where the point is implied."""
COUNT_WIDE = 5
"""Digits that a counter may have that noughts don't fill up."""
WIDE = 6
"""Digits without a point, always so many: noughts fill them up, also where none was seen."""
SHORTEST = 5
"""Digits of the shortest figure without a point that noughts fill up; of fewer, noughts stand
before an implied point."""
_STEADY = 0.8
"""Of its steps a counter goes on by one; the rest are lost frames and its new start."""
_LEAST_LAST = 9
_SPAN = 50
"""A counter that leaves out more than so many at once isn't one."""


@dataclass(frozen=True, slots=True)
class Written:
    """One number in one frame: blanks before its sign, the sign, blanks behind that, digits."""

    pad: int
    sign: bytes
    inner: int
    digits: bytes
    after: bool = False
    ahead: bool = False
    """Whether the sign stands before the word of the figure's axis."""


@dataclass
class Number:
    """A number of the frame over all frames alike. ``kind``: figure, count, or digits that aren't
    understood; ``slot``: which number of the frame it is."""

    slot: int
    kind: str
    written: list[Written]
    point: str
    places: int = 0
    need: int = NEED
    more: int = 0
    """Decimals more that are let in, so that what a readout shows in inch is known for that."""
    kin: frozenset[bytes] = frozenset()
    """Signs that any figure of the frame was seen with: they are written alike."""
    kin_apart: int = -1
    """Blanks before the sign of any figure whose sign stands apart before its digits; -1: none."""
    padded: bool = False
    """Whether a blank stands before the sign of any figure."""
    wide: bool = False
    """Whether all figures are of one width without a point: noughts fill them up."""
    filled: bool = False
    """Whether blanks were seen to fill all figures up to one width."""
    either: bool = False
    """Whether a minus may stand before the digits or in the blank's place behind them."""
    hexadecimal: str = ""
    """What lets a counter in that is hexadecimal; empty for all others."""
    led: int = 0
    """Bytes of each figure, its minus included, where that takes the place of a nought; else 0."""
    beside: bool = False
    """Whether nothing but blanks stands between it and the number before."""

    @cached_property
    def values(self) -> list[int]:
        """Its values, in units of the last place."""
        known: dict[Written, int] = {}
        for each in self.written:
            if each not in known:
                number = int(each.digits.replace(b".", b"").replace(b",", b""))
                known[each] = -number if each.sign == b"-" else number
        return [known[each] for each in self.written]

    @cached_property
    def _kinds(self) -> list[Written]:
        return list(dict.fromkeys(self.written))

    @cached_property
    def signs(self) -> frozenset[bytes]:
        """Signs that were seen; empty text: none."""
        return frozenset(each.sign for each in self._kinds)

    @property
    def apart(self) -> bool:
        """Whether its sign stands apart from its digits."""
        return self.kin_apart >= 0 or any(each.after or each.ahead for each in self._kinds)

    @cached_property
    def whole(self) -> tuple[int, int]:
        """Fewest and most digits before the point."""
        sizes = [len(each.digits) - self._behind for each in self._kinds]
        return min(sizes), max(sizes)

    @property
    def _behind(self) -> int:
        """Bytes of the point and what stands behind it."""
        return self.places + 1 if self.point != "none" and self.places else 0

    @cached_property
    def zeros(self) -> bool:
        """Whether noughts fill it up to one width."""
        least, most = self.whole
        filled = any(each.digits[:1] == b"0" for each in self._kinds)
        if self.kind == "figure" and self.point == "none" and most < SHORTEST:
            return False
        return least == most > 1 and (filled or self.wide)

    @property
    def _narrowed(self) -> int:
        """Digits before the point of a figure without minus, which takes the place of a nought;
        0: it doesn't."""
        return max(0, self.led - self._behind)

    @cached_property
    def column(self) -> bool:
        """Whether blanks fill it up to one width."""
        if self.zeros or self.led:
            return False
        wide = {e.pad + len(e.sign.strip()) + e.inner + len(e.digits) for e in self._kinds}
        pads = {each.pad + each.inner for each in self._kinds}
        least, most = self.whole
        # One blank before figures of one width may fill them up, or not.
        may = least == most and 1 in pads
        # Blanks before a plus have no other use.
        may = may or (self.padded and b"+" in self.kin)
        return self.filled or (len(wide) == 1 and len(pads) > 1) or min(pads) > 1 or may

    @property
    def one_width(self) -> bool:
        """Whether it is of one width also when its sign is another."""
        if self.led:
            return True
        if self.column or self.apart:
            return self.filled or (self.zeros and not self.either)
        known = bool(self.kin - {b"", b" "})
        return self.zeros and known and not self._before()[1].endswith("?")

    # -- pattern ------------------------------------------------------------------------

    def pattern(self, name: str, sign: str) -> str:
        """The text of its groups; ``sign``: the name of the group of a sign that stands apart.
        Without a name it is let in and not used."""
        if self.hexadecimal:
            return f"{self._pad()}{_group(name, self.hexadecimal)}"
        digits = f"{self._whole_digits()}{self._places()}"
        if any(each.after for each in self._kinds):
            digits = f"{'[-]?' if self.either else ''}{digits}"
            return f"{self._pad()}{_group(name, digits)}{_group(sign, self._sign_after())}"
        if any(each.ahead for each in self._kinds):
            return f"{self._pad()}{_group(name, digits)}"
        if self.apart:
            return f"{self._apart(name, sign, digits)}"
        pad, signs = self._before()
        return f"{pad}{_group(name, signs + digits)}"

    def _places(self) -> str:
        if self.point == "none" or not self.places:
            return ""
        point = re.escape(self.point) if self.point == "." else ","
        return f"{point}\\d{_times(self.places, self.places + self.more)}"

    @property
    def _most(self) -> int:
        """Digits before the point that it may have."""
        return max(self.whole[1], self.need + (_IMPLIED if self.point == "none" else 0))

    def _whole_digits(self) -> str:
        least, most = self.whole
        if self.kind == "count" and not self.zeros:
            return f"\\d{{1,{max(most, COUNT_WIDE)}}}"
        if self._narrowed:
            return f"\\d{_times(self._narrowed - 1, self._narrowed)}"
        if self.zeros or self.kind == "digits":
            return f"\\d{_times(least, most)}"
        return f"\\d{_times(min(least, 1), self._most)}"

    def _pads(self, least: int, most: int) -> tuple[int, int]:
        """Blanks that it may need, where blanks fill it up: fewer before more digits."""
        if not self.column:
            return least, most
        rooms = [e.pad + len(e.sign) + e.inner + len(e.digits) - self._behind for e in self._kinds]
        # Digits that aren't held apart by a point need a blank, and so does a sign of either.
        apart = self.beside and least > 0 and (self.point == "none" or self.either)
        return max(int(apart), min(rooms) - self._most - 1), max(rooms) - 1

    def _pad(self) -> str:
        pads = [each.pad for each in self._kinds]
        return _blanks(*self._pads(min(pads), max(pads)))

    def _before(self) -> tuple[str, str]:
        """Blanks before the sign, and the sign, that stands right before the digits."""
        pads = [each.pad for each in self._kinds]
        least, most = self._pads(min(pads), max(pads))
        if self.kind == "count":
            return _blanks(least, most), ""
        if self.led:
            return _blanks(least, most), "[-]?"
        if self.signs - {b""}:
            return self._signed(least, most)
        if min(pads) and not self.column:
            # Nobody saw whether a minus stands behind the blank or in its place.
            return _blanks(least - 1, most), "[ -]"
        return _blanks(least, most), "[-]?"

    def _signed(self, least: int, most: int) -> tuple[str, str]:
        """Blanks and sign where a sign was seen."""
        blanks, plus = _blanks(least, most), b"+" in self.signs
        if b"" in self.signs:
            # A blank may stand for plus: then what is negative has one blank fewer.
            signed = {e.pad for e in self._kinds if e.sign}
            bare = {e.pad for e in self._kinds if not e.sign}
            if not self.column and max(signed) < min(bare):
                return _blanks(min(signed), max(signed)), "[ -]"
            return blanks, "[+-]?" if plus else "[-]?"
        if plus:
            return blanks, "[+-]"
        # Only minus was seen; other figures of the frame may show how a plus is written.
        known = "[ -]?" if b"" in self.kin else "[+-]" if b"+" in self.kin else "[+ -]?"
        return blanks, known

    def _sign_after(self) -> str:
        plain = (self.signs | self.kin) - {b"-", b""}
        if plain == {b"+"}:
            return "[+-]"
        return "[ -]" if plain == {b" "} else "[+ -]"

    def _apart(self, name: str, sign: str, digits: str) -> str:
        before = self.kin_apart
        inner = [e.inner if e.sign else e.pad - before - 1 for e in self._kinds]
        plain = (self.signs | self.kin) - {b"-"}
        signs = "[+-]" if plain == {b"+"} else "[ -]" if plain == {b""} else "[+ -]"
        least, most = self._pads(max(0, min(inner)), max(inner))
        most -= self.column and not before
        blanks = f"{_blanks(before, before)}{_group(sign, signs)}{_blanks(least, most)}"
        return f"{blanks}{_group(name, digits)}"


def _group(name: str, inside: str) -> str:
    return f"(?P<{name}>{inside})" if name else inside


def _times(least: int, most: int) -> str:
    return f"{{{least}}}" if least == most else f"{{{least},{most}}}"


def _blanks(least: int, most: int) -> str:
    if most <= 0:
        return ""
    if least == most:
        return " " * most
    return f" {_times(max(least, 0), most)}"


def sign_before(gap: bytes) -> tuple[bytes, Written]:
    """What stands before a number, without its sign and blanks, and those."""
    match = _BEFORE.search(gap)
    assert match is not None  # noqa: S101 - it matches nothing at the end, too
    pad, sign, inner = match.groups()
    return gap[: match.start()], Written(len(pad), sign, len(inner), b"")


def sign_after(gap: bytes) -> tuple[bytes, bytes] | None:
    """A sign that stands right behind a number, and what follows."""
    match = _AFTER.match(gap)
    return None if match is None else (match[1], gap[1:])


def places_of(digits: bytes, point: str) -> int:
    """Places behind the point; 0 where there is none."""
    if point == "none":
        return 0
    _, _, behind = digits.partition(point.encode())
    return len(behind)


def counts(values: Sequence[int]) -> bool:
    """Whether a row of whole numbers goes on by one each time, lost ones and a new start apart."""
    if len(values) < 2 or min(values) < 0:
        return False
    values = _undamaged(values)
    steps = [b - a for a, b in pairwise(values)]
    last = max(values)
    # Words such as 1 and 2 take turns, and count nothing.
    anew = sum(a == last >= _LEAST_LAST and b in {0, 1} for a, b in pairwise(values))
    if steps.count(1) + anew < _STEADY * len(steps) or 1 not in steps:
        return False
    odd = [(a, step) for a, step in zip(values, steps, strict=False) if step != 1]
    return all(0 <= step <= _SPAN or (step < 0 and a + step <= _SPAN) for a, step in odd)


def _undamaged(values: Sequence[int]) -> list[int]:
    """Without numbers that stand alone between two that follow each other."""
    ends = (values[0] - 1, values[-1] + 1)
    around = zip((ends[0], *values[:-1]), values, (*values[1:], ends[1]), strict=True)
    return [n for before, n, after in around if after != before + 2 or n == before + 1]


def wraps(values: Sequence[int], rows: Sequence[int]) -> tuple[int, int] | None:
    """First and last number of a counter that was seen to start anew, from its highest number.
    ``rows``: which frames bear the numbers; where one is missing, nought may be lost."""
    last = max(values)
    steps = zip(pairwise(values), pairwise(rows), strict=True)
    firsts = [
        b if row - before == 1 else 0
        for (a, b), (before, row) in steps
        if a == last and b in {0, 1} and b < a
    ]
    return (min(firsts), last) if firsts else None
