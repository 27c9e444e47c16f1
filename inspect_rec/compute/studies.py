"""A shop's own knowledge of its scatter and of its masters: pooled repeats, drift. No I/O.

Nothing here drops a reading: what stands out is reported, and is in the pooled s.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from statistics import NormalDist, fmean, variance

from inspect_rec.compute.outliers import LEAST, risk, sound
from inspect_rec.compute.uncertainty import ENOUGH_DOF
from inspect_rec.errors import ComputeError

Groups = Sequence[Sequence[float]]

SELDOM = 0.0027
"""How often good repeats lie as far apart as ``largest_range``: once in 370, as a normal value lies
beyond three standard deviations (common practice)."""


@dataclass(frozen=True, slots=True)
class Alike:
    """A test whether groups scatter alike, so that they may be pooled."""

    test: str
    statistic: float
    p: float
    """How often groups that scatter alike differ so much by chance."""
    alpha: float

    @property
    def alike(self) -> bool:
        """Nothing speaks against pooling; of few readings this says little."""
        return self.p > self.alpha


@dataclass(frozen=True, slots=True)
class StandsOut:
    """A reading further from the mean of its group than chance explains; places count from 0.
    Of a group of two both stand out, or neither."""

    group: int
    index: int
    value: float
    deviation: float
    studentised: float
    """Deviation over its own standard deviation s sqrt(1 - 1/n)."""


@dataclass(frozen=True, slots=True)
class Pooled:
    """Pooled standard deviation of repeats, in the unit of the readings, with all readings in it.

    ``alike`` is None of a single group; ``critical`` (of the studentised deviation) is None where
    one degree of freedom leaves nothing to test with.
    """

    s: float
    dof: int
    groups: int
    alike: Alike | None
    outliers: tuple[StandsOut, ...]
    critical: float | None

    @property
    def enough(self) -> bool:
        """Whether s may take the place of an assumed value."""
        return enough(self.dof)


def enough(dof: float) -> bool:
    """Whether so many degrees of freedom make a study: ENOUGH_DOF or more (rule of the house)."""
    return dof >= ENOUGH_DOF


def pooled(groups: Groups, alpha: float = 0.05) -> Pooled:
    """s = sqrt(sum (n_i - 1) s_i^2 / sum (n_i - 1)) of groups of two or more repeats (GUM 4.2.4).

    ``alpha`` is the risk, in the whole study, of calling groups unlike that aren't, and again of
    calling a reading an outlier.
    """
    risk(alpha)
    if not groups:
        raise ComputeError("no study without readings", expected="1 group or more", found="0")
    for number, group in enumerate(groups, 1):
        if len(group) < 2:
            raise ComputeError(
                f"group {number} has no repeats",
                expected="2 readings or more",
                found=f"{len(group)}",
                do="Repeat the reading, or leave the group out",
            )
    # All means taken off: groups may be of different pieces.
    left = [_deviations(group) for group in groups]
    sound([value for group in left for value in group], 2, "deviations from the groups' means")
    dofs = [len(group) - 1 for group in groups]
    variances = [variance(group) for group in left]
    dof = sum(dofs)
    s2 = math.fsum(n * v for n, v in zip(dofs, variances, strict=True)) / dof
    s, critical = math.sqrt(s2), _critical(groups, alpha)
    return Pooled(
        s=s,
        dof=dof,
        groups=len(groups),
        alike=_alike(variances, dofs, s2, alpha) if len(groups) > 1 else None,
        outliers=() if critical is None else tuple(_standing_out(groups, left, s, critical)),
        critical=critical,
    )


@cache
def largest_range(n: int, seldom: float = SELDOM) -> float:
    """Range of ``n`` normal values, in standard deviations, that they exceed as ``seldom``: of two
    by the usual chance 3 sqrt(2), as a difference exceeds three of its standard deviations."""
    if n < 2 or not 0 < seldom < 1:
        raise ComputeError("no such range", expected="2 values or more", found=f"{n}, {seldom}")
    low, high = 0.0, 20.0
    while high - low > 1e-9:
        middle = (low + high) / 2
        low, high = (middle, high) if 1 - _within(middle, n) > seldom else (low, middle)
    return high


def _within(w: float, n: int) -> float:
    """P(range <= w) = n times the integral of phi(x) (Phi(x + w) - Phi(x))^(n - 1), by the
    trapezoid rule, which for a smooth function that vanishes at both ends is all but exact."""
    below = NormalDist()
    step, around = 0.05, range(-180, 181)
    x = [step * i for i in around]
    return (
        n * step * math.fsum(below.pdf(a) * (below.cdf(a + w) - below.cdf(a)) ** (n - 1) for a in x)
    )


def _deviations(group: Sequence[float]) -> list[float]:
    if all(math.isfinite(value) for value in group):
        # From one reading, so that a length of 100 mm takes no digits from a scatter of 1 um.
        off = [value - group[0] for value in group]
        mean = fmean(off)
        return [value - mean for value in off]
    return list(group)


def _alike(variances: Sequence[float], dofs: Sequence[int], s2: float, alpha: float) -> Alike:
    """Bartlett's test; its logarithms want scatter in each group. Where one has none, Cochran's of
    the largest variance, by F against the others (ISO 5725-2; 't Lam 2010; both from memory)."""
    from scipy.special import chdtrc, fdtrc

    k, dof = len(dofs), sum(dofs)
    pairs = list(zip(variances, dofs, strict=True))
    if min(variances) > LEAST**2:
        above = math.fsum(-n * math.log(v / s2) for v, n in pairs)
        below = 1 + (math.fsum(1 / n for n in dofs) - 1 / dof) / (3 * (k - 1))
        statistic = max(0.0, above / below)
        return Alike("Bartlett", statistic, float(chdtrc(k - 1, statistic)), alpha)
    p, largest = 1.0, 0.0
    for v, n in pairs:
        share = n * v / (dof * s2)
        rest = dof - n
        F = math.inf if share >= 1 else share / (1 - share) * rest / n
        p, largest = min(p, k * float(fdtrc(n, rest, F))), max(largest, share)
    return Alike("Cochran", largest, p, alpha)


def _critical(groups: Groups, alpha: float) -> float | None:
    """Grubbs' critical value carried over to the deviations of several groups: of one group the
    outliers are those of Grubbs (Stefansky 1972; from memory)."""
    from scipy.special import stdtrit

    dof = sum(len(group) - 1 for group in groups)
    if dof < 2:
        return None
    # The two deviations of a pair are one.
    tests = sum(len(group) if len(group) > 2 else 1 for group in groups)
    t = float(stdtrit(dof - 1, alpha / (2 * tests)))
    return math.sqrt(dof / (1 + (dof - 1) / t**2))


def _standing_out(groups: Groups, left: Groups, s: float, critical: float) -> list[StandsOut]:
    found = []
    for g, (group, deviations) in enumerate(zip(groups, left, strict=True)):
        own = s * math.sqrt(1 - 1 / len(group))
        for i, deviation in enumerate(deviations):
            if abs(deviation) > critical * own:
                found.append(StandsOut(g, i, group[i], deviation, deviation / own))
    return found


def interpolated(before: float, after: float, t_before: float, t_after: float, t: float) -> float:
    """A master's value at ``t`` between two checks, drift taken as even in time; the instants in
    any one unit. Outside the two checks nothing is known, and nothing is said."""
    if not all(map(math.isfinite, (before, after, t_before, t_after, t))):
        raise ComputeError("a check of a master, or its instant, is no number")
    if not t_before < t_after:
        raise ComputeError(
            "no time between the two checks",
            expected="the check after later than the one before",
            found=f"{t_before} and {t_after}",
        )
    if not t_before <= t <= t_after:
        raise ComputeError(
            "no check of the master on both sides of this instant",
            expected=f"from {t_before} to {t_after}",
            found=f"{t}",
            do="Check the master again, after the reading",
        )
    return before + (after - before) * ((t - t_before) / (t_after - t_before))
