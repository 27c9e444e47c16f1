"""Every published case whose computation exists here gives the published value."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from inspect_rec.compute import conformity, fitting, geometry, swing, uncertainty
from inspect_rec.errors import InspectRecError
from inspect_rec.units import Unit, to_mm

FILE = Path(__file__).parents[2] / "fixtures" / "published" / "open_checks.json"
CASES = json.loads(FILE.read_text("utf-8"))["cases"]
Inputs = Mapping[str, Any]
Answer = Mapping[str, Any]


def _of_circle(c: fitting.Circle) -> dict[str, Any]:
    return {
        "centre_x_mm": c.centre_x_mm,
        "centre_z_mm": c.centre_z_mm,
        "radius_mm": c.radius_mm,
        "form_mm": c.form_mm,
        "residual_std_mm": c.residual_std_mm,
        "u_r_over_s": c.u_r_over_s,
        "span_deg": c.span_deg,
    }


def circle(given: Inputs) -> Answer:
    return _of_circle(fitting.circle(given["points_mm"]))


def circle_held_centre(given: Inputs) -> Answer:
    c = fitting.circle_held_centre(given["points_mm"], tuple(given["held_centre_mm"]))
    return _of_circle(c) | {"u_radius_scatter_mm": c.residual_std_mm * c.u_r_over_s}


def circle_on_axis(given: Inputs) -> Answer:
    c = fitting.circle_on_axis(given["points_mm"], given["axis_x_mm"])
    return _of_circle(c) | {
        "tip_z_mm": c.centre_z_mm + c.radius_mm,
        "sensitivity_radius_to_axis": c.dr_daxis,
    }


def circle_held_radius(given: Inputs) -> Answer:
    c = fitting.circle_held_radius(given["points_mm"], given["held_radius_mm"])
    return _of_circle(c) | {
        "deviations_mm": list(c.residuals_mm),
        "max_deviation_mm": max(c.residuals_mm),
        "min_deviation_mm": min(c.residuals_mm),
    }


def circle_span(given: Inputs) -> Answer:
    n, found = given["number_of_points"], {}
    for span in given["spans_deg"]:
        step = span / n if span == 360 else span / (n - 1)
        points = [
            (math.cos(math.radians(k * step)), math.sin(math.radians(k * step))) for k in range(n)
        ]
        found[f"u_r_over_s_span_{span}_deg"] = fitting.circle(points).u_r_over_s
    return found


def line(given: Inputs) -> Answer:
    found = fitting.line(given["points_mm"])
    return {
        "angle_deg": found.angle_deg,
        "residual_std_mm": found.residual_std_mm,
        "straightness_mm": found.straightness_mm,
    }


def effective_dof(given: Inputs) -> Answer:
    parts = tuple(
        uncertainty.Component(str(n), u, dof=math.inf if dof is None else dof)
        for n, (u, dof) in enumerate(zip(given["u_um"], given["dof"], strict=True))
    )
    budget = uncertainty.Budget(parts)
    dof = budget.dof
    return {
        "u_combined_um": budget.u,
        "dof_effective": dof,
        "dof_truncated": math.floor(dof) if math.isfinite(dof) else None,
    }


def t_factor(given: Inputs) -> Answer:
    pairs = zip(given["p"], given["dof"], strict=True)
    return {"t": [uncertainty.t_factor(p, dof) for p, dof in pairs]}


def judged(given: Inputs) -> Answer:
    def exact(name: str) -> Decimal | None:
        value = given.get(name)
        return None if value is None else Decimal(repr(value))

    limits = conformity.Limits(exact("lower_limit_mm"), exact("upper_limit_mm"))
    y, u, k = exact("y_mm"), exact("u_mm"), exact("k_one_sided")
    assert y is not None
    assert u is not None
    assert k is not None
    found = conformity.judge(y, limits, u, k)
    zones = conformity.zones(limits, u, k)
    return {
        "guard_band_mm": zones.guard,
        "verdict": found.verdict.value,
        "acceptance_low_mm": zones.accept_low,
        "acceptance_high_mm": zones.accept_high,
    }


def swing_test(given: Inputs) -> Answer:
    found = swing.swing_test(given["phi_deg"], given["e_um"])
    return {
        "a_um": found.a_um,
        "p_um": found.p_um,
        "q_um": found.q_um,
        "radius_mm": given["R_set_mm"] + found.a_um / 1000,
        "form_um": found.form_um,
    }


def edge_out_of_plane(given: Inputs) -> Answer:
    kappa = geometry.edge_out_of_plane(given["kappa_view_deg"], given["epsilon_deg"])
    return {"kappa_deg": kappa, "full_point_change_deg": 2 * (kappa - given["kappa_view_deg"])}


def inch_to_mm(given: Inputs) -> Answer:
    found = (to_mm(Decimal(text), Unit.INCH) for text in given["inch_text"])
    return {f"mm_text_{n}": format(mm.normalize(), "f") for n, mm in enumerate(found, 1)}


CALC: dict[str, Callable[[Inputs], Answer]] = {
    "circle": circle,
    "circle-held-centre": circle_held_centre,
    "circle-on-axis": circle_on_axis,
    "circle-held-radius": circle_held_radius,
    "circle-span": circle_span,
    "line": line,
    "effective-dof": effective_dof,
    "t-factor": t_factor,
    "conformity": judged,
    "swing-test": swing_test,
    "edge-out-of-plane": edge_out_of_plane,
    "inch-to-mm": inch_to_mm,
}


@pytest.mark.parametrize("case", [c for c in CASES if c["calc"] in CALC], ids=lambda c: c["id"])
def test_the_published_value_comes_out(case: dict[str, Any]) -> None:
    if case["expect"].get("error"):
        with pytest.raises(InspectRecError):
            CALC[case["calc"]](case["inputs"])
        return
    got = CALC[case["calc"]](case["inputs"])
    compared = 0
    for name, expected in case["expect"].items():
        if name not in got:
            continue
        compared += 1
        value, tolerance = expected["value"], expected["tol"]
        if isinstance(value, str | bool) or value is None:
            assert got[name] == value
        elif isinstance(value, list):
            assert [float(x) for x in got[name]] == pytest.approx(value, abs=tolerance)
        else:
            assert float(got[name]) == pytest.approx(value, abs=tolerance, rel=1e-12), name
    assert compared, f"nothing of {list(case['expect'])} was computed"


def test_the_list_of_what_is_missing_only_shrinks() -> None:
    missing = {c["calc"] for c in CASES if c["calc"]} - set(CALC)
    assert len(missing) <= 41, sorted(missing)
