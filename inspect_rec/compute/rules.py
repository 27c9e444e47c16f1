"""Decision rules that a job may agree on: whose guard band, how wide, at which risk. As data.

Without agreement the supplier proves (ISO 14253-1, from memory of the 2017 edition). Whatever the
rule, where no value at all could be shown to conform the measurement is unfit for the limits and
there is no verdict.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from statistics import NormalDist

from inspect_rec.compute import conformity
from inspect_rec.compute.conformity import Judgement, Limits, Verdict, Zones
from inspect_rec.compute.uncertainty import (
    ENOUGH_DOF,
    coverage_factor,
    guard_factor,
    student_above,
)
from inspect_rec.errors import ComputeError


class Kind(StrEnum):
    """Who has to prove what, or what was agreed instead."""

    SUPPLIER = "supplier proves"
    CUSTOMER = "customer proves"
    SIMPLE = "simple acceptance"
    SHARE = "share of U"


NUMBERS = {
    Kind.SUPPLIER: ("factor",),
    Kind.CUSTOMER: ("factor",),
    Kind.SIMPLE: ("largest_ratio", "least_tur", "largest_expanded"),
    Kind.SHARE: ("share",),
}
"""The numbers that belong to each kind of rule."""

USUAL_FACTOR = Decimal("1.645")
_MOST = {
    "factor": None,
    "share": 1,
    "largest_ratio": 1,
    "least_tur": None,
    "largest_expanded": None,
}


@dataclass(frozen=True, slots=True)
class Risk:
    """The largest risks on the side of one limit, as probabilities.

    ``wrong_acceptance``: that a value accepted at the end of the acceptance zone lies in truth
    beyond that limit; ``wrong_rejection``: that one rejected at the end of the rejection zone
    lies in truth within it. Of a normal value; where two limits stand close together the other
    one adds at most the same again.
    """

    wrong_acceptance: float
    wrong_rejection: float


@dataclass(frozen=True, slots=True)
class Rule:
    """A decision rule and its numbers; those that its kind has no use for stay empty.

    ``factor``: g over u. ``share``: g over U. Simple acceptance holds only where U is small
    enough: U over the tolerance's width at most ``largest_ratio``, or that width over 2 U (test
    uncertainty ratio) at least ``least_tur``; a limit that stands alone has no width, and needs
    ``largest_expanded`` in the unit of the value. Raises ComputeError for numbers that don't fit.
    """

    kind: Kind = Kind.SUPPLIER
    factor: Decimal | None = None
    share: Decimal | None = None
    largest_ratio: Decimal | None = None
    least_tur: Decimal | None = None
    largest_expanded: Decimal | None = None

    def __post_init__(self) -> None:
        strange = [
            name
            for name in _MOST
            if name not in NUMBERS[self.kind] and getattr(self, name) is not None
        ]
        if strange:
            raise ComputeError(
                f"the rule {self.kind.value!r} has no use for it",
                expected=" or ".join(NUMBERS[self.kind]),
                found=", ".join(strange),
            )
        if self.kind in (Kind.SUPPLIER, Kind.CUSTOMER) and self.factor is None:
            object.__setattr__(self, "factor", USUAL_FACTOR)
        if self.kind is Kind.SHARE and self.share is None:
            raise ComputeError("no guard band is agreed", expected="share = g over U")
        if self.kind is Kind.SIMPLE and (self.largest_ratio is None) is (self.least_tur is None):
            raise ComputeError(
                "simple acceptance needs one bound on U",
                expected="either largest_ratio or least_tur",
                found="neither" if self.least_tur is None else "both",
            )
        for name in _MOST:
            _fits(name, getattr(self, name))

    def multiple(self, dof: float = math.inf) -> Decimal:
        """g over u: at few degrees of freedom with Student's t for the normal value."""
        if self.kind is Kind.SIMPLE:
            return Decimal(0)
        if self.share is not None:
            return self.share * _four(coverage_factor(dof))
        factor = USUAL_FACTOR if self.factor is None else self.factor
        return factor if dof >= ENOUGH_DOF else _four(guard_factor(float(factor), dof))

    def risk(self, dof: float = math.inf) -> Risk:
        """The largest risks: of a normal value, or of Student's t below ENOUGH_DOF."""
        z = float(self.multiple(dof))
        beyond = NormalDist().cdf(-z) if dof >= ENOUGH_DOF else student_above(z, dof)
        return Risk(1 - beyond if self.kind is Kind.CUSTOMER else beyond, beyond)

    def sentence(self, dof: float = math.inf) -> str:
        """The rule, its factor, who carries the doubt, and the risk, in one plain sentence."""
        risk = self.risk(dof)
        wrong = percent(risk.wrong_acceptance)
        if self.kind is Kind.SIMPLE:
            return (
                f"Simple acceptance, as agreed: a value is accepted within its limits, g = 0, "
                f"where {self._bound}; at a limit the risk of a wrong acceptance, and of a wrong "
                f"rejection, is up to {wrong}."
            )
        if self.kind is Kind.CUSTOMER:
            return (
                f"The customer proves (ISO 14253-1): a value is rejected only when it lies outside "
                f"a limit by more than g = {_plain(self.factor)} u, at a risk of at most "
                f"{percent(risk.wrong_rejection)} that it is in truth inside; where neither is "
                f"shown the customer carries the doubt and accepts, at a risk of up to {wrong}."
            )
        if self.kind is Kind.SHARE:
            why, g = "By contract", f"{_plain(self.share)} U"
        else:
            why, g = "The supplier proves (ISO 14253-1)", f"{_plain(self.factor)} u"
        return (
            f"{why}: a value is accepted when it lies inside each limit by at least g = {g}, at a "
            f"risk of at most {wrong} that it is in truth beyond that limit; where neither is "
            f"shown the supplier carries the doubt and it is not accepted."
        )

    @property
    def _bound(self) -> str:
        if self.largest_ratio is not None:
            said = f"U is at most {_plain(self.largest_ratio * 100)} % of the tolerance"
        else:
            said = f"the tolerance is at least {_plain(self.least_tur)} times 2 U"
        if self.largest_expanded is None:
            return said
        return f"{said} (at a limit alone at most {_plain(self.largest_expanded)})"


def _fits(name: str, number: Decimal | None) -> None:
    most = _MOST[name]
    if number is None or (
        number.is_finite()
        and (number > 0 or (number == 0 and name == "factor"))
        and (most is None or number <= most)
    ):
        return
    raise ComputeError(
        f"no such {name} for a decision rule",
        expected=("from 0 up" if name == "factor" else "above 0") + (f" to {most}" if most else ""),
        found=str(number),
    )


@dataclass(frozen=True, slots=True)
class Ruling:
    """A verdict with the rule it was given by.

    ``multiple``: g over u; ``ratio``: U over the width of the tolerance, None where it has none.
    """

    rule: Rule
    judgement: Judgement
    multiple: Decimal
    ratio: Decimal | None
    dof: float = math.inf

    @property
    def risk(self) -> Risk:
        """The largest risks of the rule at these degrees of freedom."""
        return self.rule.risk(self.dof)

    @property
    def verdict(self) -> Verdict:
        """What can be said."""
        return self.judgement.verdict

    @property
    def accepted(self) -> bool:
        """Whether the rule accepts it: neither shown falls to who must prove the opposite."""
        carried = self.verdict is Verdict.NEITHER_SHOWN and self.rule.kind is Kind.CUSTOMER
        return carried or self.verdict is Verdict.CONFORMS

    def sentence(self, unit: str) -> str:
        """The rule's sentence, and g and ratio as they are here."""
        g = self.judgement.zones.guard if self.judgement.zones else Decimal(0)
        said = f"{self.rule.sentence(self.dof)} Here g = {_plain(self.multiple)} u = "
        said += f"{_plain(g)} {unit}"
        if self.ratio is not None:
            said += f", and U is {percent(float(self.ratio))} of the tolerance"
        return f"{said}."


def zones(limits: Limits, u: Decimal, rule: Rule, dof: float = math.inf) -> Zones:
    """Zones under a rule; where non-conformity has to be proved all that isn't rejected is
    accepted."""
    return _ruled(conformity.zones(limits, u, rule.multiple(dof)), rule)


def _ruled(found: Zones, rule: Rule) -> Zones:
    if rule.kind is not Kind.CUSTOMER:
        return found
    return replace(found, accept_low=found.reject_below, accept_high=found.reject_above)


def judge(value: Decimal, limits: Limits, u: Decimal, rule: Rule, dof: float = math.inf) -> Ruling:
    """The ruling on one unrounded value; ``u`` in its unit, ``dof`` degrees of freedom."""
    return judge_range(value, value, limits, u, rule, dof)


def judge_range(
    lowest: Decimal,
    highest: Decimal,
    limits: Limits,
    u: Decimal,
    rule: Rule,
    dof: float = math.inf,
) -> Ruling:
    """The ruling on a profile: both ends must lie inside, the worse counts."""
    multiple = rule.multiple(dof)
    found = conformity.judge_range(lowest, highest, limits, u, multiple)
    if found.zones is not None:
        found = replace(found, zones=_ruled(found.zones, rule))
    expanded = _four(coverage_factor(dof)) * u
    ratio, _ = conformity.warns(limits, expanded)
    refused = found.verdict is Verdict.REFUSED
    if not refused and (reason := _too_uncertain(limits, expanded, rule)):
        found = replace(found, verdict=Verdict.REFUSED, reason=reason, side=None)
    return Ruling(rule, found, multiple, ratio, dof)


def _too_uncertain(limits: Limits, expanded: Decimal, rule: Rule) -> str:
    """Why simple acceptance doesn't hold here; empty where it does."""
    width = limits.width
    if rule.kind is not Kind.SIMPLE:
        return ""
    if width is None and rule.largest_expanded is None:
        return (
            "simple acceptance is agreed by the tolerance's width, and a limit alone has none: "
            "agree on a largest U"
        )
    here = _plain(expanded)
    if width is None:
        largest = rule.largest_expanded or Decimal(0)
        agreed = f"up to U = {_plain(largest)}"
    elif rule.largest_ratio is not None:
        largest, here = rule.largest_ratio * width, f"{here} of {_plain(width)}"
        agreed = f"up to U = {_plain(rule.largest_ratio * 100)} % of the tolerance"
    else:
        # Without a division: a third of the width isn't exact.
        largest, here = width, f"{here} of {_plain(width)}"
        expanded *= 2 * (rule.least_tur or Decimal(0))
        agreed = f"from a tolerance of {_plain(rule.least_tur)} times 2 U up"
    if expanded <= largest:
        return ""
    return f"simple acceptance is agreed {agreed}, here U is {here}"


def percent(probability: float) -> str:
    """A probability in per cent, to two figures of it or of what is left to 100: 5 %, 2.3 %."""
    share = probability * 100
    small = min(share, 100 - share)
    digits = max(0, 1 - math.floor(math.log10(small))) if small > 0 else 3
    return f"{_plain(round(Decimal(share), digits))} %"


def _plain(number: Decimal | None) -> str:
    return "" if number is None else format(number.normalize(), "f")


def _four(number: float) -> Decimal:
    """A factor to four decimals, so that another processor's last bit changes nothing."""
    return Decimal(repr(round(number, 4)))
