"""Uncertainty and decision: degrees of freedom, coverage, conformity."""

from __future__ import annotations

import math
from decimal import Decimal
from statistics import NormalDist
from typing import Annotated

from inspect_rec.calculator.base import Answer, Exact, Filled, Number, Numbers, computation
from inspect_rec.compute import conformity, uncertainty
from inspect_rec.errors import ComputeError

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
    if lower_limit_mm is None and upper_limit_mm is None:
        raise ComputeError("nothing to decide on", expected="a lower or an upper limit")
    limits = conformity.Limits(lower_limit_mm, upper_limit_mm)
    if limits.width is not None and limits.width <= 0:
        raise ComputeError(
            "no such limits",
            expected="the lower below the upper",
            found=f"{lower_limit_mm}, {upper_limit_mm}",
        )
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
