"""Readings in groups, such as days: what scatters within them and what between. No I/O.

Balanced one-stage nested design after GUM (JCGM 100:2008) H.5 (from memory). Any one unit; nothing
here drops a reading.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import fmean, stdev

from inspect_rec.compute.outliers import LARGEST, LEAST, risk
from inspect_rec.errors import ComputeError


@dataclass(frozen=True, slots=True)
class OneWay:
    """Both estimates of the variance of one reading, if groups had no effect, and what follows.

    ``s_a``: from the scatter of the groups' means, ``dof_a``; ``s_b``: from within the groups,
    ``dof_b``. F = s_a^2 / s_b^2, None where no group scatters within itself.
    """

    grand_mean: float
    groups: int
    each: int
    """Readings in a group."""
    std_of_means: float
    s_b: float

    @property
    def s_a(self) -> float:
        """sqrt(each) times the standard deviation of the groups' means."""
        return math.sqrt(self.each) * self.std_of_means

    @property
    def dof_a(self) -> int:
        """Degrees of freedom between groups."""
        return self.groups - 1

    @property
    def dof_b(self) -> int:
        """Degrees of freedom within groups."""
        return self.groups * (self.each - 1)

    @property
    def F(self) -> float | None:  # noqa: N802 - the statistic's name
        """How much more the means scatter than chance would have it."""
        return (self.s_a / self.s_b) ** 2 if self.s_b > LEAST else None

    @property
    def p(self) -> float:
        """How often groups without an effect give an F as large."""
        from scipy.special import fdtrc

        return 0.0 if self.F is None else float(fdtrc(self.dof_a, self.dof_b, self.F))

    def critical(self, alpha: float) -> float:
        """F that is exceeded by chance with the probability ``alpha``."""
        from scipy.special import fdtri

        risk(alpha)
        return float(fdtri(self.dof_a, self.dof_b, 1 - alpha))

    @property
    def s_between(self) -> float:
        """Standard deviation of the groups' own effect: sqrt((s_a^2 - s_b^2) / each), or 0."""
        return math.sqrt(max(0.0, (self.s_a**2 - self.s_b**2) / self.each))

    @property
    def u_mean(self) -> float:
        """u of the grand mean, the groups' effect in it (H.5.2.4), with dof_a."""
        return self.std_of_means / math.sqrt(self.groups)

    @property
    def u_mean_without_effect(self) -> float:
        """u of the grand mean if there is no such effect: both estimates pooled (H.5.2.5), with
        groups times each less 1 degrees of freedom."""
        n = self.groups * self.each
        squares = self.dof_a * self.s_a**2 + self.dof_b * self.s_b**2
        return math.sqrt(squares / (n - 1) / n)


def one_way(groups: Sequence[Sequence[float]]) -> OneWay:
    """Of readings: two groups or more, of two readings or more, as many in each."""
    each = len(groups[0]) if groups else 0
    for number, group in enumerate(groups, 1):
        if len(group) != each:
            raise ComputeError(
                "groups of unlike numbers of readings",
                expected=f"{each} in each",
                found=f"{len(group)} in group {number}",
                do="Take what is missing, or leave readings out by a rule settled before",
            )
        if not all(abs(value) <= LARGEST for value in group):
            raise ComputeError(f"a reading of group {number} is no number")
    _enough(len(groups), each)
    # From one reading, so that a length of 100 mm takes no digits from a scatter of 1 um.
    origin = groups[0][0]
    off = [[value - origin for value in group] for group in groups]
    found = of_means([fmean(group) for group in off], [stdev(group) for group in off], each)
    return replace(found, grand_mean=origin + found.grand_mean)


def of_means(means: Sequence[float], stds: Sequence[float], each: int) -> OneWay:
    """Of what is known of the groups: the mean and the standard deviation of one reading of each
    group of ``each`` readings."""
    _enough(len(means), each)
    if len(stds) != len(means):
        raise ComputeError(
            "each group needs its standard deviation",
            expected=f"{len(means)}",
            found=f"{len(stds)}",
        )
    if not all(abs(m) <= LARGEST and 0 <= s <= LARGEST for m, s in zip(means, stds, strict=True)):
        raise ComputeError("a mean is no number, or a standard deviation lies below 0")
    of_groups, within = stdev(means), math.sqrt(fmean([s * s for s in stds]))
    if max(of_groups, within) < LEAST:
        raise ComputeError(
            "no scatter, neither within the groups nor between them",
            do="Read with a finer step, or take the step of the readout as the uncertainty",
        )
    return OneWay(fmean(means), len(means), each, of_groups, within)


def _enough(groups: int, each: int) -> None:
    if groups < 2 or each < 2:
        raise ComputeError(
            "too few readings for an analysis of variance",
            expected="2 groups or more, of 2 readings or more",
            found=f"{groups} of {each}",
        )
