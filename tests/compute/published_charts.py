"""How the published cases on charts, outliers, gauge studies and written angles are computed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from decimal import Decimal
from typing import Any

from inspect_rec.compute import angle_text, charts, gauge_study, outliers

Inputs = Mapping[str, Any]
Answer = Mapping[str, Any]


def chart_constants(given: Inputs) -> Answer:
    return asdict(charts.constants(given["n"]))


def individuals_chart(given: Inputs) -> Answer:
    # The method's text prints D4 = 3.267, which is the default.
    return asdict(charts.individuals(given["readings"], given["d2"]))


def capability(given: Inputs) -> Answer:
    found = charts.capability(given["LSL"], given["USL"], given["mean"], given["std"])
    return asdict(found)


def normal_quantile(given: Inputs) -> Answer:
    return {"z": [charts.normal_quantile(p) for p in given["p"]]}


# "One-sided maximum": the method's text.
SIDE = {1: outliers.Side.MAXIMUM, 2: outliers.Side.BOTH}


def grubbs_test(given: Inputs) -> Answer:
    found = outliers.grubbs(given["readings"], given["alpha"], SIDE[given["sides"]])
    return {"G": found.g, "critical": found.critical, "outlier": found.outlier}


def grubbs_critical(given: Inputs) -> Answer:
    alpha, side = given["alpha"], SIDE[given["sides"]]
    return {"critical": [outliers.grubbs_critical(n, alpha, side) for n in given["n"]]}


def dixon_critical(given: Inputs) -> Answer:
    return {"critical": [outliers.dixon_critical(n, given["confidence"]) for n in given["n"]]}


def _of_study(found: gauge_study.GaugeStudy) -> dict[str, Any]:
    return {
        "EV": found.repeatability,
        "AV": found.reproducibility,
        "GRR": found.grr,
        "PV": found.parts,
        "TV": found.total,
        "ndc": found.ndc,
    }


def gauge_study_ranges(given: Inputs) -> Answer:
    factors = [given.get(name) for name in ("K1", "K2", "K3")]
    found = gauge_study.by_ranges(given["readings_appraiser_trial_part"], *factors)
    return _of_study(found) | {"mean_range": found.mean_range}


def gauge_study_anova(given: Inputs) -> Answer:
    found = gauge_study.by_variance(given["readings_appraiser_trial_part"])
    rows = ("part", "appraiser", "interaction", "equipment", "total")
    return _of_study(found) | {f"ss_{row}": getattr(found, f"{row}_row").ss for row in rows}


def dms_to_degrees(given: Inputs) -> Answer:
    parts = [Decimal(repr(given[name])) for name in ("degrees", "minutes", "seconds")]
    return {"angle_deg": angle_text.degrees(angle_text.Dms(given["sign"], *parts))}


def degrees_to_dms(given: Inputs) -> Answer:
    return asdict(angle_text.dms(Decimal(given["angle_deg_text"])))


CALC: dict[str, Callable[[Inputs], Answer]] = {
    "chart-constants": chart_constants,
    "individuals-chart": individuals_chart,
    "capability": capability,
    "normal-quantile": normal_quantile,
    "grubbs-test": grubbs_test,
    "grubbs-critical": grubbs_critical,
    "dixon-critical": dixon_critical,
    "gauge-study-ranges": gauge_study_ranges,
    "gauge-study-anova": gauge_study_anova,
    "dms-to-degrees": dms_to_degrees,
    "degrees-to-dms": degrees_to_dms,
}
