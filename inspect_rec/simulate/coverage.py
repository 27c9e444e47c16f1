"""How often the stated uncertainty holds: known tools on the simulated machine, method by method.

The share of known tools whose error is within U, and how tools at and about their limits are
judged. ``page`` writes it down.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from inspect_rec.compute.conformity import Limits, Verdict, judge
from inspect_rec.compute.uncertainty import GUARD_BASE
from inspect_rec.errors import InputError
from inspect_rec.methods.register import named
from inspect_rec.simulate.job import Measured, measured
from inspect_rec.simulate.known import tools
from inspect_rec.simulate.machine import Errors

LEVEL = 0.9545
"""What k = 2 states (two-sided, normal)."""

AT_LIMIT = 0.05
"""What g = 1.645 u promises of a value exactly at its limit (one-sided, normal)."""

WIDTH_IN_U = 4.0
"""Width of the tolerances that tools are judged by, in U: the widest U that gives no warning."""


@dataclass(frozen=True, slots=True)
class Value:
    """One value of one tool: its error, what the budget states, and how it is judged.

    ``at_lower``, ``at_upper``: the verdict were the truth exactly at that limit, the other far
    away; ``inside``: whether the truth conforms to limits drawn round it; ``verdict``: by these.
    """

    error: float
    u: float
    U: float
    at_lower: Verdict | None
    at_upper: Verdict
    inside: bool
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Coverage:
    """What became of the known tools of one method; lengths in mm, angles in deg."""

    method: str
    case: str
    errors: str
    unit: str
    tools: int
    refused: int
    values: tuple[Value, ...]

    @property
    def covered(self) -> float:
        """Share of the values whose error is at most U."""
        return _share(abs(v.error) <= v.U for v in self.values)

    @property
    def mean_U(self) -> float:  # noqa: N802 - the GUM's letter
        """Mean expanded uncertainty."""
        return math.fsum(v.U for v in self.values) / len(self.values)

    @property
    def rms(self) -> float:
        """Root of the mean square of the errors, bias included."""
        return math.sqrt(math.fsum(v.error**2 for v in self.values) / len(self.values))

    @property
    def bias(self) -> float:
        """Mean error."""
        return math.fsum(v.error for v in self.values) / len(self.values)

    def at_limit(self, verdict: Verdict) -> float:
        """Share of tools exactly at a limit that get that verdict; of the worse of both limits."""
        upper = _share(v.at_upper is verdict for v in self.values)
        lower = [v.at_lower is verdict for v in self.values if v.at_lower is not None]
        return max(upper, _share(lower)) if lower else upper

    def judged(self, *, inside: bool, verdict: Verdict) -> float:
        """Share of the tools inside (or outside) their limits that get that verdict."""
        return _share(v.verdict is verdict for v in self.values if v.inside is inside)


def _share(found: Iterable[bool]) -> float:
    each = list(found)
    return sum(each) / len(each) if each else math.nan


def least(tools_: int, level: float = LEVEL, risk: float = 1e-4) -> float:
    """The smallest share of ``tools_`` that chance leaves covered where each is with the
    probability ``level``; it falls lower with the probability ``risk`` (binomial)."""
    from scipy.special import bdtr

    low, high = 0, tools_
    while low < high:
        middle = (low + high) // 2
        if bdtr(middle, tools_, level) >= risk:
            high = middle
        else:
            low = middle + 1
    return low / tools_


def coverage(
    method: str, case: str, errors: Errors, tools_: int, seed: str, *, of_u: float = 1.0
) -> Coverage:
    """Measure so many known tools by a method of the register.

    ``of_u``: every budget's u times this, for a test of the test. Raises InputError for a method
    or case that has no known tool.
    """
    how = named(method)
    make = tools().get(method, {}).get(case)
    if make is None:
        raise InputError("this method has no such known tool", found=f"{method}, {case or '-'}")
    values: list[Value] = []
    refused = 0
    unit = how.unit
    for n in range(tools_):
        found = measured(how, make, errors, f"{seed}/{method}/{case}/{n}")
        if found.refusals:
            refused += 1
            continue
        values += _values(found, of_u, random.Random(f"{seed}/{n}/limits"))
    return Coverage(method, case, errors.name, unit, tools_, refused, tuple(values))


def _values(found: Measured, of_u: float, chance: random.Random) -> list[Value]:
    u, expanded = found.u * of_u, found.U * of_u
    factor = Decimal(repr(round(found.outcome.budget.guard_k(GUARD_BASE), 4)))
    exact_u = Decimal(repr(u))
    return [
        _value(value, truth, (exact_u, factor), expanded, found.natural_zero, chance)
        for value, truth in zip(found.outcome.values, found.truth, strict=True)
    ]


def _value(
    value: float,
    truth: float,
    by: tuple[Decimal, Decimal],
    expanded: float,
    natural_zero: bool,  # noqa: FBT001
    chance: random.Random,
) -> Value:
    y, t = Decimal(repr(value)), Decimal(repr(truth))
    width = Decimal(repr(WIDTH_IN_U * expanded))
    # The truth lies anywhere from half a width under the lower limit to half one over the upper.
    upper = t + width * Decimal(repr(chance.uniform(-0.5, 1.5)))
    lower = None if natural_zero else upper - width
    return Value(
        error=value - truth,
        u=float(by[0]),
        U=expanded,
        at_lower=None if natural_zero else judge(y, Limits(t, None), *by).verdict,
        at_upper=judge(y, Limits(None, t), *by).verdict,
        inside=t <= upper and (lower is None or t >= lower),
        verdict=judge(y, Limits(lower, upper), *by).verdict,
    )


def cases() -> list[tuple[str, str]]:
    """Every method with a known tool, and its cases."""
    return [(method, case) for method, each in tools().items() for case in each]


def alone(
    method: str, case: str, errors: Errors, tools_: int, seed: str
) -> Sequence[tuple[str, float, float]]:
    """What each error does alone: name, rms and bias, mm or deg, the largest first. Nothing is
    refused here."""
    how, make = named(method), tools()[method][case]
    found = []
    for name in errors.spreads:
        one = errors.only(name)
        off = [
            e
            for n in range(tools_)
            for e in measured(how, make, one, f"{seed}/{method}/{case}/{n}").errors
        ]
        found.append((name, math.sqrt(sum(e * e for e in off) / len(off)), sum(off) / len(off)))
    return sorted(found, key=lambda row: -row[1])
