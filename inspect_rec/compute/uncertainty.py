"""Uncertainty: components, budgets, effective degrees of freedom, coverage. Plain Python.

GUM (JCGM 100:2008): standard uncertainties of the inputs, weighted with their sensitivities,
added as squares; Welch-Satterthwaite (G.4.1) for the degrees of freedom.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist

from inspect_rec.compute.outliers import LARGEST
from inspect_rec.errors import ComputeError

ENOUGH_DOF = 20
"""From so many effective degrees of freedom up k is 2 and the guard factor the stated one."""

GUARD_BASE = 1.645
_TWO_SIDED = 0.9545


class Distribution(StrEnum):
    """How the amount of a component is spread."""

    NORMAL = "normal"
    RECTANGULAR = "rectangular"
    ONE_SIDED = "rectangular one-sided"
    EXPANDED = "expanded k=2"


_DIVISOR = {
    Distribution.NORMAL: 1.0,
    Distribution.RECTANGULAR: math.sqrt(3),
    Distribution.ONE_SIDED: math.sqrt(12),
    Distribution.EXPANDED: 2.0,
}


@dataclass(frozen=True, slots=True)
class Component:
    """One row of a budget.

    ``amount`` in ``unit`` (um, mm or deg); ``sensitivity`` turns it into the unit of the budget;
    ``ends`` independent parts are added, ``averaged`` repeats averaged. ``common``: the same for
    all flutes of a tool, so that it cancels between them.
    """

    name: str
    amount: float
    distribution: Distribution = Distribution.NORMAL
    sensitivity: float = 1.0
    ends: int = 1
    averaged: int = 1
    common: bool = False
    dof: float = math.inf
    assumed: bool = False
    note: str = ""
    unit: str = "um"
    of_reading: str = ""
    """What scatters the readings themselves: "crosshair", "backlash", "step" or "repeat"; empty
    for what doesn't show in them, or in none of them alone."""
    study: str = ""
    """The study its amount comes from: all rows of one study share its degrees of freedom."""

    @property
    def u(self) -> float:
        """Standard uncertainty that it adds, in the unit of the budget."""
        u = abs(self.sensitivity) * self.amount / _DIVISOR[self.distribution]
        return u if self.ends == self.averaged else u * math.sqrt(self.ends / self.averaged)


@dataclass(frozen=True, slots=True)
class Budget:
    """Where the uncertainty of one value comes from; ``unit`` is um or deg."""

    components: tuple[Component, ...]
    unit: str = "um"

    @property
    def u(self) -> float:
        """Combined standard uncertainty (GUM 5.1.2)."""
        return math.sqrt(sum([c.u**2 for c in self.components]))

    @property
    def u_own(self) -> float:
        """The part that differs between the flutes of one tool."""
        return math.sqrt(sum(c.u**2 for c in self.components if not c.common))

    @property
    def dof(self) -> float:
        """Effective degrees of freedom (GUM G.4.1), infinite where no part is finite. Rows of one
        study err together, so they are one part: the least dof of its rows, once."""
        parts: dict[str, tuple[float, float]] = {}
        for n, c in enumerate(self.components):
            if math.isfinite(c.dof):
                u2, dof = parts.get(key := c.study or f"row {n}", (0.0, math.inf))
                parts[key] = u2 + c.u**2, min(dof, c.dof)
        below = sum(u2**2 / dof for u2, dof in parts.values())
        # 20 degrees of freedom mustn't become 19.999... on their way through the squares.
        return round(self.u**4 / below, 9) if below > 0 else math.inf

    @property
    def coverage_k(self) -> float:
        """Coverage factor of U: 2, or below ENOUGH_DOF two-sided t at 95.45 %."""
        return coverage_factor(self.dof)

    def guard_k(self, base: float = GUARD_BASE) -> float:
        """Factor of the guard band: ``base``, or what it is at few degrees of freedom."""
        return guard_factor(base, self.dof)

    @property
    def expanded(self) -> float:
        """U."""
        return self.coverage_k * self.u


@dataclass(frozen=True, slots=True)
class TypeA:
    """What repeated readings say by themselves (GUM 4.2), in their unit."""

    mean: float
    s: float
    """Standard deviation of one reading."""
    n: int

    @property
    def u(self) -> float:
        """Standard uncertainty of the mean, with n - 1 degrees of freedom."""
        return self.s / math.sqrt(self.n)


def type_a(readings: Sequence[float]) -> TypeA:
    """Mean and standard deviation of two readings or more. From the first reading on, and summed
    without rounding, so that a large value takes no digits from a small scatter."""
    n = len(readings)
    if n < 2:
        raise ComputeError("too few readings", expected="2 or more", found=f"{n}")
    if not all(abs(value) <= LARGEST for value in readings):
        raise ComputeError("a reading is no number, or none whose square is one")
    off = [value - readings[0] for value in readings]
    mean = math.fsum(off) / n
    s = math.sqrt(math.fsum((value - mean) ** 2 for value in off) / (n - 1))
    return TypeA(readings[0] + mean, s, n)


def coverage_factor(dof: float) -> float:
    """k of U: 2, or below ENOUGH_DOF two-sided t at 95.45 %."""
    return 2.0 if dof >= ENOUGH_DOF else t_factor(_TWO_SIDED, dof)


def guard_factor(base: float, dof: float) -> float:
    """Factor of the guard band: ``base``, or below ENOUGH_DOF the t that leaves no more beyond it
    than ``base`` does of a normal value, and no more than 5 %."""
    if dof >= ENOUGH_DOF:
        return base
    between = round(2 * NormalDist().cdf(base) - 1, 4)
    return max(base, t_factor(max(0.90, between), dof))


def t_factor(p: float, dof: float) -> float:
    """Two-sided t for probability ``p``; degrees of freedom cut to a whole number (GUM G.4.2)."""
    from scipy.special import stdtrit

    whole = max(1, math.floor(dof))
    return float(stdtrit(whole, 0.5 + p / 2))


def student_above(t: float, dof: float) -> float:
    """Probability that Student's t lies above ``t``; degrees of freedom cut to a whole number."""
    from scipy.special import stdtr

    return float(stdtr(max(1, math.floor(dof)), -t))


def spread_of_flutes(one: Budget, name: str) -> Budget:
    """Budget of largest less smallest over flutes: the common part cancels, the rest counts
    twice; no correction for the upward bias, which is on the safe side."""
    own = Budget(tuple(c for c in one.components if not c.common), one.unit)
    assumed = any(c.assumed for c in own.components)
    # The degrees of freedom of its own part: what is well known but cancels must not lend any.
    component = Component(name, own.u, ends=2, assumed=assumed, dof=own.dof, unit=one.unit)
    return Budget((component,), one.unit)
