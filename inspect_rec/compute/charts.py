"""Control charts and capability: constants, limits, indices. No I/O. Readings in any one unit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from statistics import NormalDist, fmean

from inspect_rec.compute.outliers import sound
from inspect_rec.errors import ComputeError

PRINTED_D2 = 1.128
"""d2 of 2 as tables print it (1.12838 unrounded); individuals charts are drawn with it."""

PRINTED_D4 = 3.267
"""D4 of 2 as tables print it (3.26653 unrounded)."""


@dataclass(frozen=True, slots=True)
class Constants:
    """Constants of control charts with subgroups of ``n`` (ISO 7870-2's names; from memory).

    d2, d3, c4: mean and standard deviation of the range, mean of s, for sigma = 1. A, E, D, B:
    factors of the limits at 3 sigma for means, single values, ranges and standard deviations.
    """

    n: int
    d2: float
    d3: float
    c4: float
    A2: float
    A3: float
    E2: float
    D3: float
    D4: float
    B3: float
    B4: float

    def d2_star(self, groups: int) -> float:
        """Root of the mean square of the mean of ``groups`` ranges, d2* = sqrt(d2^2 + d3^2/g):
        by it an average of few ranges is divided (Duncan; from memory)."""
        if groups < 1:
            raise ComputeError("no such number of ranges", expected="1 or more", found=f"{groups}")
        return math.sqrt(self.d2**2 + self.d3**2 / groups)


@cache
def constants(n: int) -> Constants:
    """The constants for subgroups of ``n`` from 2 to 100, by integration of the range of n normal
    values; no table. Agrees with printed tables to their last digit but one or better."""
    if not 2 <= n <= 100 or n != int(n):
        raise ComputeError("no such subgroup", expected="from 2 to 100 readings", found=f"{n}")
    d2, d3 = _range(n)
    c4 = math.sqrt(2 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))
    of_range, of_s = 3 * d3 / d2, 3 * math.sqrt(1 - c4**2) / c4
    return Constants(
        n=n,
        d2=d2,
        d3=d3,
        c4=c4,
        A2=3 / (d2 * math.sqrt(n)),
        A3=3 / (c4 * math.sqrt(n)),
        E2=3 / d2,
        D3=max(0.0, 1 - of_range),
        D4=1 + of_range,
        B3=max(0.0, 1 - of_s),
        B4=1 + of_s,
    )


def _range(n: int) -> tuple[float, float]:
    """Mean and standard deviation of the range W of n standard normal values.

    E(W - w)+ is the integral over x of the chance that x and x + w both lie inside the range;
    E W is that at w = 0, and E W^2 twice its integral over w.
    """
    import numpy as np
    from scipy.special import ndtr

    step, far = 0.05, 18.0
    x = np.arange(-far, far / 2, step)[:, None]
    nodes, weights = np.polynomial.legendre.leggauss(160)
    w = np.append(0.0, far / 2 * (nodes + 1))
    below, above = ndtr(x), ndtr(-(x + w))
    between = ndtr(x + w) - below
    inside = 1 - (1 - above) ** n - (1 - below) ** n + between**n
    beyond = step * inside.sum(axis=0)
    mean, square = beyond[0], far * (weights * beyond[1:]).sum()
    return float(mean), math.sqrt(square - mean**2)


@dataclass(frozen=True, slots=True)
class Individuals:
    """A chart of single readings and their moving ranges of two: limits at 3 sigma, the constants
    used, and the places (from 0) of what lies outside; a moving range bears its later reading's."""

    mean: float
    mean_moving_range: float
    upper_limit: float
    lower_limit: float
    upper_limit_moving_range: float
    d2: float
    D4: float
    outside: tuple[int, ...]
    outside_moving_range: tuple[int, ...]


def individuals(
    readings: Sequence[float], d2: float | None = PRINTED_D2, D4: float | None = PRINTED_D4
) -> Individuals:
    """Mean -/+ 3 * mean moving range / d2, moving ranges up to D4 times their mean
    (NIST/SEMATECH e-Handbook 6.3.2.2).

    The constants are the printed ones, as published examples use them; None: unrounded.
    """
    sound(readings, 2)
    exact = constants(2)
    d2, D4 = exact.d2 if d2 is None else d2, exact.D4 if D4 is None else D4
    for name, value, least in (("d2", d2, 0), ("D4", D4, 1)):
        if not least < value < math.inf:
            raise ComputeError(f"no such {name}", expected=f"above {least}", found=f"{value}")
    moving = [abs(b - a) for a, b in pairwise(readings)]
    mean, mean_moving = fmean(readings), fmean(moving)
    away, highest = 3 * mean_moving / d2, D4 * mean_moving
    return Individuals(
        mean=mean,
        mean_moving_range=mean_moving,
        upper_limit=mean + away,
        lower_limit=mean - away,
        upper_limit_moving_range=highest,
        d2=d2,
        D4=D4,
        outside=tuple([i for i, value in enumerate(readings) if abs(value - mean) > away]),
        outside_moving_range=tuple([i for i, value in enumerate(moving, 1) if value > highest]),
    )


@dataclass(frozen=True, slots=True)
class Capability:
    """Capability indices; what has no limit on its side, or not on both, is None."""

    Cp: float | None
    Cpu: float | None
    Cpl: float | None
    Cpk: float


def capability(
    lower: float | None, upper: float | None, mean: float, standard_deviation: float
) -> Capability:
    """Cp = (U - L)/(6 s), Cpu = (U - mean)/(3 s), Cpl = (mean - L)/(3 s), Cpk the smaller of the
    two (NIST/SEMATECH e-Handbook 6.1.6; from memory). Means something of a process in control."""
    given = [value for value in (lower, upper, mean, standard_deviation) if value is not None]
    if not all(map(math.isfinite, given)):
        raise ComputeError("no capability: one of its inputs is no number", found=f"{given}")
    if lower is None and upper is None:
        raise ComputeError("no capability without a limit", expected="a lower or an upper limit")
    if lower is not None and upper is not None and not lower < upper:
        raise ComputeError("the lower limit isn't below the upper", found=f"{lower} and {upper}")
    if not standard_deviation > 0:
        raise ComputeError(
            "no capability without scatter",
            expected="a standard deviation above 0",
            found=f"{standard_deviation}",
            do="Read with a finer step",
        )
    thrice = 3 * standard_deviation
    above = None if upper is None else (upper - mean) / thrice
    below = None if lower is None else (mean - lower) / thrice
    both = None if upper is None or lower is None else (upper - lower) / (2 * thrice)
    return Capability(both, above, below, min(c for c in (above, below) if c is not None))


def normal_quantile(p: float) -> float:
    """z that a standard normal value stays below with probability ``p``."""
    if not 0 < p < 1:
        raise ComputeError("no quantile", expected="p above 0 and below 1", found=f"{p}")
    return NormalDist().inv_cdf(p)
