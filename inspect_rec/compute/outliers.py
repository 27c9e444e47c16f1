"""Outliers among readings that should be alike: Grubbs' test and Dixon's. No I/O.

An outlier is shown; nothing here drops one. Readings in any one unit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import fmean, stdev

from inspect_rec.errors import ComputeError

LEAST, LARGEST = 1e-70, 1e70
"""Scatter and readings whose squares are numbers lie between."""


class Side(StrEnum):
    """Which readings are suspected, settled before they are looked at."""

    MAXIMUM = "maximum"
    MINIMUM = "minimum"
    BOTH = "both"


@dataclass(frozen=True, slots=True)
class Grubbs:
    """Grubbs' test: the reading furthest from the mean, how far in standard deviations, and from
    where on that shows an outlier."""

    g: float
    critical: float
    outlier: bool
    index: int
    """Place of the suspected reading in the row, from 0."""
    value: float
    side: Side
    alpha: float
    n: int


def sound(readings: Sequence[float], least: int, what: str = "readings") -> None:
    """There are ``least`` readings or more, numbers all, and not all the same."""
    if len(readings) < least:
        raise ComputeError(f"too few {what}", expected=f"{least} or more", found=f"{len(readings)}")
    # Any unit may come here, so it isn't held to what a slide reaches.
    for value in readings:
        if not abs(value) <= LARGEST:
            raise ComputeError(
                f"one of the {what} is no number, or none whose square is one", found=f"{value}"
            )
    if len(readings) > 1 and max(readings) - min(readings) < LEAST:
        raise ComputeError(
            f"no scatter: all {what} are the same",
            found=f"{len(readings)} times {readings[0]}",
            do="Read with a finer step, or take the step of the readout as the uncertainty",
        )


def risk(alpha: float) -> None:
    """``alpha`` is a probability that something can be tested at."""
    if not 0 < alpha < 1:
        raise ComputeError(
            "no such risk of a false alarm", expected="above 0 and below 1", found=f"{alpha}"
        )


def grubbs(readings: Sequence[float], alpha: float = 0.05, side: Side = Side.BOTH) -> Grubbs:
    """Grubbs' test of three or more readings from a normal distribution, at the risk ``alpha``.

    G = (max - mean)/s, (mean - min)/s, or the larger of both (NIST/SEMATECH e-Handbook,
    1.3.5.17.1; from memory). Two equal readings of three give the third the largest G there can
    be, above critical at 5 %: from a coarse step that shows nothing; ``studies`` holds readings
    against the pooled scatter.
    """
    sound(readings, 3)
    critical = grubbs_critical(len(readings), alpha, side)
    mean, s = fmean(readings), stdev(readings)
    up, down = 1, -1
    ways = {Side.MAXIMUM: (up,), Side.MINIMUM: (down,), Side.BOTH: (up, down)}[side]
    off = [max(way * (value - mean) for way in ways) for value in readings]
    index = off.index(max(off))
    g = off[index] / s
    return Grubbs(g, critical, g > critical, index, readings[index], side, alpha, len(readings))


def grubbs_critical(n: int, alpha: float = 0.05, side: Side = Side.BOTH) -> float:
    """Critical G of ``n`` readings: (n - 1)/sqrt(n) * sqrt(t^2/(n - 2 + t^2)), t of n - 2 degrees
    of freedom exceeded with alpha/n, or where both sides are tested alpha/(2n) (source as above).
    """
    from scipy.special import stdtrit

    _number(n)
    risk(alpha)
    t = float(stdtrit(n - 2, alpha / (2 * n if side is Side.BOTH else n)))
    return (n - 1) / math.sqrt(n) / math.sqrt(1 + (n - 2) / t**2)


@dataclass(frozen=True, slots=True)
class Dixon:
    """Dixon's r10: the gap beside the suspected reading over the range of all, and from where on
    that shows an outlier."""

    r10: float
    critical: float
    outlier: bool
    index: int
    """Place of the suspected reading in the row, from 0."""
    value: float
    side: Side
    confidence: float
    n: int


def dixon(readings: Sequence[float], confidence: float = 0.95, side: Side = Side.BOTH) -> Dixon:
    """Dixon's test of 3 to 100 readings from a normal distribution: of the end that is suspected,
    or of the one with the wider gap. One outlier may hide beside another; Grubbs' test is stronger.
    """
    sound(readings, 3)
    n = len(readings)
    critical = dixon_critical(n, confidence, two_sided=side is Side.BOTH)
    row = sorted(range(n), key=readings.__getitem__)
    gaps = {
        Side.MINIMUM: (readings[row[1]] - readings[row[0]], row[0]),
        Side.MAXIMUM: (readings[row[-1]] - readings[row[-2]], row[-1]),
    }
    gap, index = gaps[side] if side in gaps else max(gaps.values(), key=lambda each: each[0])
    r10 = gap / (readings[row[-1]] - readings[row[0]])
    return Dixon(r10, critical, r10 > critical, index, readings[index], side, confidence, n)


def dixon_critical(n: int, confidence: float = 0.95, *, two_sided: bool = True) -> float:
    """Critical value of Dixon's r10, the gap of an extreme reading over the range of all ``n``.

    ``confidence`` is that no end (two-sided) or not the one suspected (one-sided) is called an
    outlier by chance. Two-sided leaves half the risk to each end (Rorabacher, Anal. Chem. 63
    (1991) 139; from memory). By integration, no table; 3 to 100 readings.
    """
    from scipy.optimize import brentq

    _number(n, 100)
    if not 0 < confidence < 1:
        raise ComputeError(
            "no such confidence", expected="above 0 and below 1", found=f"{confidence}"
        )
    beyond = (1 - confidence) / (2 if two_sided else 1)
    exceeded = _Dixon(n)
    return float(brentq(lambda r: exceeded.chance(r) - beyond, 0.0, 1.0, xtol=1e-12))


class _Dixon:
    """How often the largest of n normal readings stands off by more than a part r of the range."""

    def __init__(self, n: int) -> None:
        import numpy as np
        from scipy.special import ndtr

        # Over the smallest x the trapezoid rule, which for a smooth function that vanishes at both
        # ends converges faster than any power; over the range w, which begins at 0, Gauss.
        step = 0.05
        x = np.arange(-9, 9 + step, step)[:, None]
        nodes, weights = np.polynomial.legendre.leggauss(160)
        self._x, self._w, self._n = x, 9 * (nodes + 1), n
        self._below = ndtr(x)
        density = np.exp(-(x**2 + (x + self._w) ** 2) / 2) / (2 * math.pi)
        self._weight = n * (n - 1) * step * 9 * weights * density

    def chance(self, r: float) -> float:
        """P(r10 > r): the n - 2 others lie between x and x + (1 - r) w."""
        from scipy.special import ndtr

        between = ndtr(self._x + (1 - r) * self._w) - self._below
        return float((self._weight * between ** (self._n - 2)).sum())


def _number(n: int, most: int | None = None) -> None:
    if n < 3 or (most and n > most) or n != int(n):
        expected = f"from 3 to {most}" if most else "3 or more"
        raise ComputeError(
            "no such number of readings for this test", expected=expected, found=f"{n}"
        )
