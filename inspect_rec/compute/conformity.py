"""Conformity after ISO 14253-1: acceptance and rejection limits, verdicts, in exact decimals.

Who proves carries the uncertainty: to show conformity the limits are narrowed by g, to show
non-conformity they are widened by it; between, neither is shown and never rounded to a pass.
(Rule and factor 1.645 from memory of the 2017 edition; the factor is an input.)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from inspect_rec.errors import ComputeError


class Verdict(StrEnum):
    """What can be said of a value."""

    CONFORMS = "conforms"
    DOES_NOT_CONFORM = "does not conform"
    NEITHER_SHOWN = "neither shown"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class Limits:
    """Lower and upper limit; ``natural_zero``: a value below zero can't be (form, variation)."""

    lower: Decimal | None
    upper: Decimal | None
    natural_zero: bool = False

    @property
    def width(self) -> Decimal | None:
        """Width of the tolerance; of an upper limit with a natural zero the limit."""
        if self.lower is not None and self.upper is not None:
            return self.upper - self.lower
        return self.upper if self.natural_zero else None


@dataclass(frozen=True, slots=True)
class Zones:
    """Ends of the acceptance zone (they belong to it) and of the rejection zones (they don't).

    ``shown_low``, ``shown_high``: between them conformity is shown. That is the acceptance zone,
    but where non-conformity has to be proved more than that is accepted.
    """

    accept_low: Decimal | None
    accept_high: Decimal | None
    reject_below: Decimal | None
    reject_above: Decimal | None
    guard: Decimal
    shown_low: Decimal | None
    shown_high: Decimal | None


@dataclass(frozen=True, slots=True)
class Judgement:
    """A verdict, the zones it rests on, why it was refused, and on which side it lies."""

    verdict: Verdict
    zones: Zones | None
    reason: str
    side: str | None


def zones(limits: Limits, u: Decimal, guard_factor: Decimal) -> Zones:
    """Limits narrowed and widened by g = guard_factor * u."""
    guard = guard_factor * u
    lower, upper = limits.lower, limits.upper
    low = None if lower is None else lower + guard
    high = None if upper is None else upper - guard
    return Zones(
        accept_low=low,
        accept_high=high,
        reject_below=None if lower is None else lower - guard,
        reject_above=None if upper is None else upper + guard,
        guard=guard,
        shown_low=low,
        shown_high=high,
    )


def judge(value: Decimal, limits: Limits, u: Decimal, guard_factor: Decimal) -> Judgement:
    """The verdict on one unrounded value."""
    return judge_range(value, value, limits, u, guard_factor)


def judge_range(
    lowest: Decimal, highest: Decimal, limits: Limits, u: Decimal, guard_factor: Decimal
) -> Judgement:
    """The verdict on a profile: both ends must lie inside, the worse counts."""
    _sound(lowest, highest, u, guard_factor)
    found = zones(limits, u, guard_factor)
    width = limits.width
    room = 1 if limits.lower is None else 2
    if width is not None and room * found.guard >= width:
        return Judgement(
            Verdict.REFUSED,
            found,
            f"the uncertainty is too large for these limits: g = {found.guard.normalize():f} "
            f"leaves no acceptance zone",
            None,
        )
    low, high = _below(lowest, found), _above(highest, found)
    worst = max((low, high), key=_RANK.__getitem__)
    side = None
    if worst is not Verdict.CONFORMS:
        side = "under" if low is worst else "over"
    return Judgement(worst, found, "", side)


def _sound(lowest: Decimal, highest: Decimal, u: Decimal, guard_factor: Decimal) -> None:
    """A comparison with what is no number would raise something that says less, or be false."""
    if not all(number.is_finite() for number in (lowest, highest, u, guard_factor)):
        raise ComputeError("what is judged is no number")
    if lowest > highest:
        raise ComputeError("the lowest value lies above the highest", found=f"{lowest}, {highest}")
    if u < 0 or guard_factor < 0:
        raise ComputeError(
            "no such uncertainty",
            expected="u and guard factor from 0 up",
            found=f"{u}, {guard_factor}",
        )


_RANK = {Verdict.CONFORMS: 0, Verdict.NEITHER_SHOWN: 1, Verdict.DOES_NOT_CONFORM: 2}


def _below(value: Decimal, found: Zones) -> Verdict:
    if found.shown_low is None or found.reject_below is None or value >= found.shown_low:
        return Verdict.CONFORMS
    return Verdict.DOES_NOT_CONFORM if value < found.reject_below else Verdict.NEITHER_SHOWN


def _above(value: Decimal, found: Zones) -> Verdict:
    if found.shown_high is None or found.reject_above is None or value <= found.shown_high:
        return Verdict.CONFORMS
    return Verdict.DOES_NOT_CONFORM if value > found.reject_above else Verdict.NEITHER_SHOWN


def warns(limits: Limits, expanded: Decimal) -> tuple[Decimal | None, bool]:
    """U over the tolerance's width (one-sided: over the limit), and whether it is above a
    quarter; None and False where there is neither."""
    width = limits.width
    if not width:
        return None, False
    return expanded / width, expanded > width / 4


def conformance_probability(value: Decimal, limits: Limits, u: Decimal) -> float:
    """Probability that the true value lies within the limits, if it is spread normally about the
    measured one (JCGM 106:2012, clause 7; from memory). For information: no verdict rests on it."""
    _sound(value, value, u, Decimal(0))
    if u == 0:
        inside = (limits.lower is None or value >= limits.lower) and (
            limits.upper is None or value <= limits.upper
        )
        return float(inside)
    low = -math.inf if limits.lower is None else float((limits.lower - value) / u)
    high = math.inf if limits.upper is None else float((limits.upper - value) / u)
    if low > 0:
        # In the other tail, where small probabilities keep their digits.
        low, high = -high, -low
    return _normal_below(high) - _normal_below(low)


def _normal_below(z: float) -> float:
    """The normal distribution function by erfc, which keeps its digits where it is small."""
    return math.erfc(-z / math.sqrt(2)) / 2
