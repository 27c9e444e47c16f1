"""A figure over a recording, and how its way fits a stated one. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from itertools import pairwise
from math import floor, log10
from statistics import median_low

from drivers.learning.recording import Move
from inspect_rec.units import INCH_MM, Unit

_TOLERANCE = 0.02
"""Of a stated move: a hand sets a slide by dial or by readout, and 2 % is far off for either."""
_EXACT, _INEXACT = 0.002, 0.01
"""Of a move that was stated exactly: what fits it, and what doesn't beside what does."""
_ENDS = 5
"""Frames at either end whose middle one is where the slide stood."""
LETTERS = {b"X": "X", b"Y": "Y", b"Z": "Z"}


@dataclass(frozen=True)
class Series:
    """A figure over the recording. ``key``: which one; ``label``: its own word; ``values``: in
    units of its last place; ``places``: decimals shown, None where they are implied;
    ``free``: one unit of the last place may be worth anything (binary)."""

    key: str
    label: bytes
    values: tuple[int, ...]
    places: int | None = None
    free: bool = False

    @cached_property
    def ends(self) -> tuple[int, int]:
        """Where it stood at the beginning and at the end."""
        n = self._settled
        return median_low(self.values[:n]), median_low(self.values[-n:])

    @property
    def _settled(self) -> int:
        """Frames at either end; with few of them each may be a press of the key."""
        n = min(_ENDS, len(self.values) // 3)
        return n if n > 2 else 1

    @property
    def by(self) -> int:
        """How far it went."""
        return self.ends[1] - self.ends[0]

    @cached_property
    def restless(self) -> int:
        """How much it changes while its slide stands still: the widest step at the quieter end."""
        n = self._settled
        ends = (self.values[:n], self.values[-n:])
        return min(max((abs(b - a) for a, b in pairwise(part)), default=0) for part in ends)

    def worth(self, scale: Decimal) -> Decimal:
        """What one unit of its last place is worth, where ``scale`` is what is implied."""
        return scale if self.places is None else Decimal(1).scaleb(-self.places)

    @property
    def letter(self) -> str:
        """The axis that its own letter names."""
        return LETTERS.get(self.label.upper(), "")

    @property
    def named(self) -> str:
        """What a person calls it."""
        word = self.label.decode("latin-1")
        return f"the figure {word!r}" if word else f"figure {self.key}"


@dataclass(frozen=True)
class Reading:
    """One way to read the evidence: axis of each figure that moved, unit, mode, scale."""

    axes: tuple[tuple[str, str], ...]
    """(key of the series, axis)."""
    unit: Unit
    mode: str
    scale: Decimal
    """What one unit of the last place is worth, in the unit."""


def fits(series: Series, stated: Move) -> Iterator[tuple[Unit, str, Decimal]]:
    """Units, modes and scales in which the figure went as far as the slide."""
    gone, mm = abs(series.by), abs(stated.mm)
    slack = _TOLERANCE + 2 / gone
    for unit, per_mm in ((Unit.MM, Decimal(1)), (Unit.INCH, 1 / INCH_MM)):
        for mode, times in (("radius", 1), ("diameter", 2)):
            if mode == "diameter" and stated.axis != "X":
                continue
            shown = mm * per_mm * times
            for scale in _scales(series, float(shown) / gone):
                if abs(float(scale) * gone / float(shown) - 1) <= slack:
                    yield unit, mode, scale


def _scales(series: Series, about: float) -> list[Decimal]:
    """What the last place may be worth: what its decimals say, or a power of ten; of a binary
    figure twice or five times that, too."""
    if series.places is not None:
        return [Decimal(1).scaleb(-series.places)]
    power = floor(log10(about) + 0.5)
    if not series.free:
        return [Decimal(1).scaleb(power)] if -6 <= power <= 0 else []
    found = [Decimal(m).scaleb(p) for p in (power - 1, power) for m in (1, 2, 5)]
    return [s for s in found if Decimal("1e-6") <= s <= Decimal("0.01")]


def exact(readings: list[Reading], gone: Sequence[Series], moves: Sequence[Move]) -> list[Reading]:
    """Of moves that were stated exactly, the readings that fit them so, where others don't."""
    off = [_off(r, gone, moves) for r in readings]
    if min(off) > _EXACT:
        return readings
    return [r for r, far in zip(readings, off, strict=True) if far <= _INEXACT]


def _off(reading: Reading, gone: Sequence[Series], moves: Sequence[Move]) -> float:
    """How far a reading is off the stated moves at most, as a share of them, noise of two counts
    apart."""
    by_axis = {axis: s for s in gone for key, axis in reading.axes if key == s.key}
    per_mm = 1 if reading.unit is Unit.MM else 1 / INCH_MM
    found = []
    for stated in moves:
        series = by_axis[stated.axis]
        times = 2 if stated.axis == "X" and reading.mode == "diameter" else 1
        shown = float(abs(stated.mm) * per_mm * times)
        counts = abs(series.by) * float(series.worth(reading.scale))
        found.append(abs(counts / shown - 1) - 2 / abs(series.by))
    return max(found)
