"""Uncertainty and decision: degrees of freedom, coverage, decision rules and their risks."""

from __future__ import annotations

import math
from decimal import Decimal
from statistics import NormalDist
from typing import Annotated

from inspect_rec.calculator.base import (
    Answer,
    Exact,
    Filled,
    Flag,
    Number,
    Numbers,
    Text,
    computation,
)
from inspect_rec.compute import conformity, correlation, risk, rules, uncertainty
from inspect_rec.compute.conformity import Limits
from inspect_rec.errors import ComputeError

Matrix = Annotated[
    tuple[Annotated[Numbers, Filled], ...], Filled, "rows of numbers, as many as there are"
]
Kind = Annotated[Text, " | ".join(rules.Kind)]
Dofs = Annotated[tuple[Number | None, ...], Filled, "numbers, null = infinite"]


def _alike(one: int, other: int, what: str) -> None:
    if one != other:
        raise ComputeError(what, expected=str(one), found=str(other))


@computation(
    "effective-dof",
    topic="uncertainty",
    gives=("dof_effective", "dof_truncated", "u_combined_um"),
    formula="u = root of the sum of squares; dof = u^4 / sum(u_i^4 / dof_i), cut to a whole number",
    source="GUM (JCGM 100:2008) G.4.1, Welch-Satterthwaite (from memory)",
    refuses="a component below 0, degrees of freedom not above 0",
)
def effective_dof(u_um: Annotated[Numbers, Filled], dof: Dofs) -> Answer:
    """Combined uncertainty and effective degrees of freedom of components."""
    _alike(len(u_um), len(dof), "each component needs its degrees of freedom")
    if min(u_um) < 0 or any(d is not None and d <= 0 for d in dof):
        raise ComputeError(
            "no such component",
            expected="u from 0 up, degrees of freedom above 0 or null",
            found=f"{list(u_um)}, {list(dof)}",
        )
    parts = tuple(
        uncertainty.Component(str(n), u, dof=math.inf if d is None else d)
        for n, (u, d) in enumerate(zip(u_um, dof, strict=True))
    )
    budget = uncertainty.Budget(parts)
    found = budget.dof
    return {
        "dof_effective": found,
        "dof_truncated": math.floor(found) if math.isfinite(found) else None,
        "u_combined_um": budget.u,
    }


@computation(
    "t-factor",
    topic="uncertainty",
    gives=("t",),
    formula="two-sided quantile of Student's t for probability p; degrees of freedom cut to a "
    "whole number, null = infinite",
    source="GUM (JCGM 100:2008) table G.2 and G.4.2 (from memory)",
    refuses="a probability not between 0 and 1, degrees of freedom below 1",
)
def t_factor(p: Annotated[Numbers, Filled], dof: Dofs) -> Answer:
    """Coverage factors from t."""
    _alike(len(p), len(dof), "each probability needs its degrees of freedom")
    for each, free in zip(p, dof, strict=True):
        if not 0 < each < 1 or (free is not None and free < 1):
            raise ComputeError(
                "no such coverage",
                expected="a probability between 0 and 1, degrees of freedom from 1 up",
                found=f"{each}, {free}",
            )
    return {"t": [_t(each, free) for each, free in zip(p, dof, strict=True)]}


def _t(p: float, dof: float | None) -> float:
    if dof is None:
        return NormalDist().inv_cdf(0.5 + p / 2)
    return uncertainty.t_factor(p, dof)


@computation(
    "correlated-components",
    topic="uncertainty",
    gives=("u_combined_um", "u_uncorrelated_um"),
    formula="u^2 = sum over i and k of c_i c_k u_i u_k r_ik; sensitivities of 1 where none are "
    "given; u_uncorrelated: with every correlation left out",
    source="GUM (JCGM 100:2008) 5.2.2, equation 16 (from memory)",
    refuses="a component below 0, correlations that no quantities can have",
)
def correlated_components(
    u_um: Annotated[Numbers, Filled], r: Matrix, sensitivity: Numbers | None = None
) -> Answer:
    """Combined uncertainty of components that err together."""
    slopes = (1.0,) * len(u_um) if sensitivity is None else sensitivity
    _alike(len(u_um), len(slopes), "each component needs its sensitivity")
    ((variance,),) = correlation.propagated([slopes], u_um, r)
    alone = (c * u for c, u in zip(slopes, u_um, strict=True))
    return {"u_combined_um": math.sqrt(max(0.0, variance)), "u_uncorrelated_um": math.hypot(*alone)}


def _limits(lower: Decimal | None, upper: Decimal | None, *, natural_zero: bool = False) -> Limits:
    if lower is None and upper is None:
        raise ComputeError("nothing to decide on", expected="a lower or an upper limit")
    limits = Limits(lower, upper, natural_zero)
    if limits.width is not None and limits.width <= 0:
        raise ComputeError(
            "no such limits",
            expected="the lower below the upper, above 0 where 0 is a natural limit",
            found=f"{lower}, {upper}",
        )
    return limits


@computation(
    "conformity",
    topic="decision",
    gives=(
        "verdict",
        "guard_band_mm",
        "acceptance_low_mm",
        "acceptance_high_mm",
        "rejection_below_mm",
        "rejection_above_mm",
        "conformance_probability",
        "refused_because",
    ),
    formula="g = k u; conforms: LL + g <= y <= UL - g; does not conform: y < LL - g or y > UL + g; "
    "between: neither shown; in exact decimals; probability that the true value lies within the "
    "limits, normal about y",
    source="ISO 14253-1 (default rule, from memory), JCGM 106:2012 clause 7 (from memory)",
    refuses="2 g >= UL - LL: no acceptance zone; no limit at all; u below 0",
)
def conformity_of(
    y_mm: Exact,
    u_mm: Exact,
    lower_limit_mm: Exact | None = None,
    upper_limit_mm: Exact | None = None,
    k_one_sided: Exact = Decimal("1.645"),
) -> Answer:
    """Verdict on a value with its uncertainty and limits."""
    limits = _limits(lower_limit_mm, upper_limit_mm)
    found = conformity.judge(y_mm, limits, u_mm, k_one_sided)
    zones = conformity.zones(limits, u_mm, k_one_sided)
    return {
        "verdict": found.verdict.value,
        "guard_band_mm": zones.guard,
        "acceptance_low_mm": zones.accept_low,
        "acceptance_high_mm": zones.accept_high,
        "rejection_below_mm": zones.reject_below,
        "rejection_above_mm": zones.reject_above,
        "conformance_probability": conformity.conformance_probability(y_mm, limits, u_mm),
        "refused_because": found.reason or None,
    }


@computation(
    "decision-rule",
    topic="decision",
    gives=(
        "verdict",
        "accepted",
        "guard_band_mm",
        "guard_factor",
        "acceptance_low_mm",
        "acceptance_high_mm",
        "rejection_below_mm",
        "rejection_above_mm",
        "U_over_tolerance",
        "risk_wrong_acceptance",
        "risk_wrong_rejection",
        "sentence",
        "refused_because",
    ),
    formula="supplier proves: accepted inside the limits by g = factor u or more (share of U: by "
    "share U); customer proves: rejected outside them by more than g, else accepted; simple "
    "acceptance: g = 0 where U over the tolerance is at most largest_ratio, or the tolerance at "
    "least least_tur times 2 U. Below 20 degrees of freedom factor and U by Student's t, to four "
    "decimals; risks are the largest on the side of one limit",
    source="ISO 14253-1:2017; JCGM 106:2012 (both from memory); shares and ratios: common practice",
    refuses="another rule, a number that its kind has no use for, simple acceptance without one "
    "bound, no limit, u below 0",
)
def decision_rule(  # noqa: PLR0913 - a rule has its own numbers beside those of the value
    kind: Kind,
    y_mm: Exact,
    u_mm: Exact,
    *,
    lower_limit_mm: Exact | None = None,
    upper_limit_mm: Exact | None = None,
    factor: Exact | None = None,
    share: Exact | None = None,
    largest_ratio: Exact | None = None,
    least_tur: Exact | None = None,
    largest_expanded_mm: Exact | None = None,
    dof: Number | None = None,
    natural_zero: Flag = False,
) -> Answer:
    """Verdict under the decision rule that was agreed on."""
    known = [each.value for each in rules.Kind]
    if kind not in known:
        raise ComputeError("no such rule", expected=" | ".join(known), found=repr(kind))
    rule = rules.Rule(
        rules.Kind(kind), factor, share, largest_ratio, least_tur, largest_expanded_mm
    )
    limits = _limits(lower_limit_mm, upper_limit_mm, natural_zero=natural_zero)
    found = rules.judge(y_mm, limits, u_mm, rule, _free(dof))
    zones = rules.zones(limits, u_mm, rule, _free(dof))
    return {
        "verdict": found.verdict.value,
        "accepted": found.accepted,
        "guard_band_mm": zones.guard,
        "guard_factor": found.multiple,
        "acceptance_low_mm": zones.accept_low,
        "acceptance_high_mm": zones.accept_high,
        "rejection_below_mm": zones.reject_below,
        "rejection_above_mm": zones.reject_above,
        "U_over_tolerance": found.ratio,
        "risk_wrong_acceptance": found.risk.wrong_acceptance,
        "risk_wrong_rejection": found.risk.wrong_rejection,
        "sentence": found.sentence("mm"),
        "refused_because": found.judgement.reason or None,
    }


def _free(dof: float | None) -> float:
    if dof is not None and dof < 1:
        raise ComputeError("no such degrees of freedom", expected="from 1 up", found=f"{dof}")
    return math.inf if dof is None else dof


_GUARDED = (
    "Accepted: inside the limits by guard_band_mm or more (left out: 0; below 0: up to so much "
    "outside them); what isn't accepted counts as rejected"
)


@computation(
    "specific-risk",
    topic="decision",
    gives=("risk", "accepted", "conformance_probability"),
    formula="of an accepted value the probability that the true one lies outside the limits, of a "
    "rejected one that it lies within; normal about the value, at few degrees of freedom Student's "
    f"t scaled by u; above a natural zero cut off there. {_GUARDED}",
    source="JCGM 106:2012, 9.3 (from memory)",
    refuses="no limit, u below 0, degrees of freedom below 1",
)
def specific_risk(
    y_mm: Exact,
    u_mm: Exact,
    *,
    lower_limit_mm: Exact | None = None,
    upper_limit_mm: Exact | None = None,
    guard_band_mm: Exact = Decimal(0),
    dof: Number | None = None,
    natural_zero: Flag = False,
) -> Answer:
    """Risk of the decision on one value that was measured."""
    limits = _limits(lower_limit_mm, upper_limit_mm, natural_zero=natural_zero)
    zones = conformity.zones(limits, guard_band_mm, Decimal(1))
    found = risk.specific(y_mm, limits, zones, u_mm, _free(dof))
    return {
        "risk": found.risk,
        "accepted": found.accepted,
        "conformance_probability": risk.probability_within(y_mm, limits, u_mm, _free(dof)),
    }


@computation(
    "global-risk",
    topic="decision",
    gives=("consumer_risk", "producer_risk", "fraction_conforming", "fraction_accepted"),
    formula="consumer: of all items of a normal process those outside the limits and accepted; "
    "producer: those within and rejected; as probabilities, by integration over the process; above "
    f"a natural zero it is cut off there. {_GUARDED}",
    source="JCGM 106:2012, 9.5 (from memory)",
    refuses="no limit, a standard deviation or u below 0, no acceptance zone",
)
def global_risk(
    process_mean_mm: Number,
    process_std_mm: Number,
    u_mm: Number,
    *,
    lower_limit_mm: Exact | None = None,
    upper_limit_mm: Exact | None = None,
    guard_band_mm: Exact = Decimal(0),
    natural_zero: Flag = False,
) -> Answer:
    """Risks of a process before anything is measured."""
    limits = _limits(lower_limit_mm, upper_limit_mm, natural_zero=natural_zero)
    zones = conformity.zones(limits, guard_band_mm, Decimal(1))
    process = risk.Process(process_mean_mm, process_std_mm)
    found = risk.global_risk(process, limits, zones, u_mm)
    return {
        "consumer_risk": found.consumer,
        "producer_risk": found.producer,
        "fraction_conforming": found.conforming,
        "fraction_accepted": found.accepted,
    }
