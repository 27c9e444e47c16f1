"""Control charts, capability, outlier tests and gauge studies.

Their numbers hang on method, confidence and the edition of a table: each says which.
"""

from __future__ import annotations

from typing import Annotated, Any

from inspect_rec.calculator.base import (
    Answer,
    Filled,
    Number,
    Numbers,
    Text,
    Whole,
    computation,
)
from inspect_rec.compute import charts, gauge_study, outliers
from inspect_rec.errors import ComputeError

Wholes = Annotated[tuple[Whole, ...], Filled, "whole numbers"]
Table = Annotated[
    tuple[Annotated[tuple[Annotated[Numbers, Filled], ...], Filled], ...],
    Filled,
    "readings [appraiser][trial][part]",
]
End = Annotated[Text, "maximum | minimum"]
_CONSTANTS = ("d2", "d3", "c4", "A2", "A3", "E2", "B3", "B4", "D3", "D4")
_HANDBOOK = "NIST/SEMATECH e-Handbook of Statistical Methods"


@computation(
    "chart-constants",
    topic="statistics",
    gives=_CONSTANTS,
    formula="d2, d3: mean and standard deviation of the range of n standard normal values, by "
    "integration; c4 = sqrt(2 / (n - 1)) G(n / 2) / G((n - 1) / 2); A2 = 3 / (d2 sqrt(n)); "
    "A3 = 3 / (c4 sqrt(n)); E2 = 3 / d2; D3, D4 = 1 -/+ 3 d3 / d2; B3, B4 = 1 -/+ 3 sqrt(1 - "
    "c4^2) / c4; none below 0",
    source="definitions; printed tables differ by one unit of the third decimal between editions",
    refuses="fewer than 2 in a subgroup, or more than 100",
)
def chart_constants(n: Whole) -> Answer:
    """Constants of control charts for subgroups of n."""
    found = charts.constants(n)
    return {name: getattr(found, name) for name in _CONSTANTS}


@computation(
    "individuals-chart",
    topic="statistics",
    gives=(
        "mean",
        "mean_moving_range",
        "lower_limit",
        "upper_limit",
        "upper_limit_moving_range",
        "outside",
    ),
    formula="mean -/+ 3 mean moving range / d2; moving ranges up to D4 times their mean; the "
    "printed constants 1.128 and 3.267 where none are given; outside = places of the readings "
    "beyond the limits, from 1",
    source=f"{_HANDBOOK} 6.3.2.2 (from memory)",
    refuses="fewer than two readings, no scatter",
)
def individuals_chart(
    readings: Numbers, d2: Number = charts.PRINTED_D2, D4: Number = charts.PRINTED_D4
) -> Answer:
    """Limits of a chart of individual readings."""
    found = charts.individuals(readings, d2, D4)
    return {
        "mean": found.mean,
        "mean_moving_range": found.mean_moving_range,
        "lower_limit": found.lower_limit,
        "upper_limit": found.upper_limit,
        "upper_limit_moving_range": found.upper_limit_moving_range,
        "outside": [i + 1 for i in found.outside],
    }


@computation(
    "capability",
    topic="statistics",
    gives=("Cpk", "Cp", "Cpu", "Cpl"),
    formula="Cp = (USL - LSL) / (6 s); Cpu = (USL - mean) / (3 s); Cpl = (mean - LSL) / (3 s); Cpk "
    "= the smaller",
    source=f"{_HANDBOOK} 6.1.6 (from memory)",
    refuses="no limit, a standard deviation not above 0",
)
def capability(
    mean: Number, std: Number, LSL: Number | None = None, USL: Number | None = None
) -> Answer:
    """Capability indices; they mean something of a process in control."""
    found = charts.capability(LSL, USL, mean, std)
    return {"Cpk": found.Cpk, "Cp": found.Cp, "Cpu": found.Cpu, "Cpl": found.Cpl}


@computation(
    "normal-quantile",
    topic="statistics",
    gives=("z",),
    formula="z that a standard normal value stays below with probability p",
    source="definition",
    refuses="a probability not between 0 and 1",
)
def normal_quantile(p: Annotated[Numbers, Filled]) -> Answer:
    """Quantiles of the standard normal distribution."""
    return {"z": [charts.normal_quantile(each) for each in p]}


def _side(sides: int, suspected: str = "maximum") -> outliers.Side:
    one = {"maximum": outliers.Side.MAXIMUM, "minimum": outliers.Side.MINIMUM}
    if sides not in {1, 2}:
        raise ComputeError("no such test", expected="1 or 2 sides", found=str(sides))
    if suspected not in one or (sides == 2 and suspected == "minimum"):
        raise ComputeError(
            "no such end of the readings",
            expected="maximum or minimum on one side; on two sides neither is named",
            found=f"{suspected!r} on {sides}",
        )
    return one[suspected] if sides == 1 else outliers.Side.BOTH


@computation(
    "grubbs-test",
    topic="statistics",
    gives=("outlier", "G", "critical", "suspected"),
    formula="G = (max - mean) / s on one side, (mean - min) / s where end is minimum, "
    "on two sides the larger of both; critical value from t with n - 2 degrees of "
    "freedom at alpha / n, on two sides alpha / (2 n)",
    source=f"{_HANDBOOK} 1.3.5.17.1 (from memory)",
    refuses="fewer than three readings, no scatter",
)
def grubbs_test(
    readings: Numbers, alpha: Number = 0.05, sides: Whole = 2, end: End = "maximum"
) -> Answer:
    """Whether the reading furthest from the mean is an outlier; it is shown, never dropped."""
    found = outliers.grubbs(readings, alpha, _side(sides, end))
    return {
        "outlier": found.outlier,
        "G": found.g,
        "critical": found.critical,
        "suspected": found.value,
    }


@computation(
    "grubbs-critical",
    topic="statistics",
    gives=("critical",),
    formula="(n - 1) / sqrt(n) sqrt(t^2 / (n - 2 + t^2)), t of n - 2 degrees of freedom at alpha / "
    "n, on two sides alpha / (2 n)",
    source=f"{_HANDBOOK} 1.3.5.17.1 (from memory)",
    refuses="fewer than three readings",
)
def grubbs_critical(n: Wholes, alpha: Number = 0.05, sides: Whole = 2) -> Answer:
    """Critical values of Grubbs' test."""
    side = _side(sides)
    return {"critical": [outliers.grubbs_critical(each, alpha, side) for each in n]}


@computation(
    "dixon-critical",
    topic="statistics",
    gives=("critical",),
    formula="critical value of r10 = gap / range, two-sided (half the risk at each end), by "
    "integration",
    source="Rorabacher, Anal. Chem. 63 (1991) 139 (from memory)",
    refuses="fewer than 3 readings or more than 100",
)
def dixon_critical(n: Wholes, confidence: Number = 0.95) -> Answer:
    """Critical values of Dixon's r10."""
    return {"critical": [outliers.dixon_critical(each, confidence) for each in n]}


@computation(
    "dixon-test",
    topic="statistics",
    gives=("outlier", "r10", "critical", "suspected"),
    formula="r10 = gap beside the suspected end / range, on two sides of the end with the wider "
    "gap; critical value by integration, on two sides with half the risk at each end",
    source="Dean and Dixon (1951); Rorabacher, Anal. Chem. 63 (1991) 139 (both from memory)",
    refuses="fewer than 3 readings or more than 100, no scatter",
)
def dixon_test(
    readings: Numbers, confidence: Number = 0.95, sides: Whole = 2, end: End = "maximum"
) -> Answer:
    """Whether the reading at one end stands off as an outlier; it is shown, never dropped."""
    found = outliers.dixon(readings, confidence, _side(sides, end))
    return {
        "outlier": found.outlier,
        "r10": found.r10,
        "critical": found.critical,
        "suspected": found.value,
    }


_STUDY = ("GRR", "EV", "AV", "PV", "TV", "ndc", "GRR_percent", "how")


def _of(found: gauge_study.GaugeStudy) -> dict[str, Any]:
    return {
        "GRR": found.grr,
        "EV": found.repeatability,
        "AV": found.reproducibility,
        "PV": found.parts,
        "TV": found.total,
        "ndc": found.ndc,
        "GRR_percent": found.grr_percent,
        "how": found.method,
    }


@computation(
    "gauge-study-ranges",
    topic="statistics",
    gives=(*_STUDY, "mean_range", "K1", "K2", "K3"),
    formula="EV = K1 mean range; AV = sqrt((K2 Xdiff)^2 - EV^2 / (n r)) or 0; GRR = root of the "
    "sum of squares; PV = K3 Rp; ndc = 1.41 PV / GRR cut down to a whole number; a K left out is "
    "1 / d2* for its number and that of its ranges, K1 above 15 ranges 1 / d2",
    source="average and range method (common practice; reference example from memory)",
    refuses="a ragged table, one appraiser, one trial, one part",
)
def gauge_study_ranges(
    readings_appraiser_trial_part: Table,
    K1: Number | None = None,
    K2: Number | None = None,
    K3: Number | None = None,
) -> Answer:
    """Gauge study by averages and ranges."""
    found = gauge_study.by_ranges(readings_appraiser_trial_part, K1, K2, K3)
    return _of(found) | {
        "mean_range": found.mean_range,
        "K1": found.k1.value,
        "K2": found.k2.value,
        "K3": found.k3.value,
    }


_ROWS = ("part", "appraiser", "interaction", "equipment", "total")


@computation(
    "gauge-study-anova",
    topic="statistics",
    gives=(*_STUDY, *(f"ss_{row}" for row in _ROWS), "p_interaction"),
    formula="two-way analysis of variance with interaction, parts and appraisers drawn at random; "
    "an interaction with p above pooled_above is pooled with the error; components below 0 become "
    "0; ndc = 1.41 PV / GRR cut down to a whole number",
    source="analysis of variance (common practice)",
    refuses="a ragged table, one appraiser, one trial, one part",
)
def gauge_study_anova(readings_appraiser_trial_part: Table, pooled_above: Number = 0.05) -> Answer:
    """Gauge study by analysis of variance."""
    found = gauge_study.by_variance(readings_appraiser_trial_part, pooled_above)
    sums = {f"ss_{row}": getattr(found, f"{row}_row").ss for row in _ROWS}
    return _of(found) | sums | {"p_interaction": found.p_interaction}
