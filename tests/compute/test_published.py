"""Every published case whose computation exists here gives the published value."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

import pytest

from inspect_rec.compute import (
    conformity,
    contour,
    fitting,
    geometry,
    helix,
    infeed,
    planes,
    swing,
    uncertainty,
    zone,
)
from inspect_rec.errors import InspectRecError
from inspect_rec.units import Unit, to_mm
from tests.compute import published_charts
from tests.compute.published import cases

CASES = list(cases().values())
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
        "u_radius_mm": c.u_r_over_s * c.residual_std_mm,
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
        "straightness_ls_mm": found.straightness_mm,
        "mean_x_mm": found.middle[0],
        "mean_z_mm": found.middle[1],
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
        "conformance_probability": conformity.conformance_probability(y, limits, u),
    }


def swing_test(given: Inputs) -> Answer:
    found = swing.swing_test(given["phi_deg"], given["e_um"])
    return {
        "a_um": found.a_um,
        "p_um": found.p_um,
        "q_um": found.q_um,
        "radius_mm": given["R_set_mm"] + found.a_um / 1000,
        "form_um": found.form_um,
        "mean_e_um": sum(given["e_um"]) / len(given["e_um"]),
    }


def included_angle(given: Inputs) -> Answer:
    one, two = (fitting.line(given[f"points_line_{n}_mm"]).angle_deg for n in (1, 2))
    turned = abs(one - two)
    acute = min(turned, 180 - turned)
    return {"acute_angle_deg": acute, "obtuse_angle_deg": 180 - acute}


def minimum_ring(given: Inputs) -> Answer:
    points = [(x, z) for x, z in given["points_mm"]]
    ring = zone.minimum_ring(points)
    return {
        "centre_x_mm": ring.centre_x_mm,
        "centre_z_mm": ring.centre_z_mm,
        "radius_mm": ring.radius_mm,
        "zone_mm": ring.zone_mm,
        "form_about_ls_centre_mm": fitting.circle(points).form_mm,
    }


def minimum_strip(given: Inputs) -> Answer:
    strip = zone.minimum_strip(given["points_mm"])
    return {
        "zone_mm": strip.zone_mm,
        "zone_angle_deg": strip.angle_deg,
        "straightness_ls_mm": fitting.line(given["points_mm"]).straightness_mm,
    }


def tool_planes(given: Inputs) -> Answer:
    found = planes.tool_planes(given["gamma_f_deg"], given["gamma_p_deg"], given["kappa_r_deg"])
    return {
        "gamma_o_deg": found.rake_orthogonal_deg,
        "lambda_s_deg": found.inclination_deg,
        "gamma_n_deg": found.rake_normal_deg,
    }


def normal_plane(given: Inputs) -> Answer:
    return {
        "alpha_n_deg": planes.normal_clearance(given["alpha_t_deg"], given["helix_deg"]),
        "gamma_n_deg": planes.normal_rake(given["gamma_t_deg"], given["helix_deg"]),
    }


def lead_from_helix(given: Inputs) -> Answer:
    return {"lead_mm": helix.lead_of_helix(given["diameter_mm"], given["helix_deg"])}


def lead_from_travel(given: Inputs) -> Answer:
    found = helix.lead_of_travel(given["z_mm"], given["phi_deg"])
    return {
        "lead_mm": found.lead_mm,
        "u_lead_mm": found.u_lead_mm,
        "helix_deg": helix.helix_of_lead(given["diameter_mm"], found.lead_mm),
    }


def lead_on_taper(given: Inputs) -> Answer:
    small, large = given["diameter_small_mm"], given["diameter_large_mm"]
    return {
        "lead_small_mm": helix.lead_of_helix(small, given["helix_deg"]),
        "lead_large_mm": helix.lead_of_helix(large, given["helix_deg"]),
        "turn_deg": helix.turn_on_taper(small, large, given["length_mm"], given["helix_deg"]),
    }


def lead_from_creep(given: Inputs) -> Answer:
    lead = helix.lead_of_creep(
        given["lead_set_mm"], given["radius_mm"], given["length_mm"], given["creep_mm"]
    )
    return {"lead_mm": lead}


def relief_rolled(given: Inputs) -> Answer:
    rolled = given["drop_mm"], given["roll_deg"], given["radius_mm"]
    flat = geometry.rolled_flat(*rolled)
    return {
        "alpha_flat_deg": flat.clearance_deg,
        "alpha_if_eccentric_deg": geometry.rolled_eccentric(*rolled).clearance_deg,
        "sensitivity_flat_deg_per_um": flat.per_drop_deg_per_um,
    }


def relief_expected_drop(given: Inputs) -> Answer:
    land = given["alpha_deg"], given["roll_deg"], given["radius_mm"]
    return {
        "drop_flat_mm": geometry.drop_of_flat(*land),
        "drop_eccentric_mm": geometry.drop_of_eccentric(*land),
    }


def relief_land_width(given: Inputs) -> Answer:
    drop, width = given["heel_drop_mm"], given["land_width_mm"]
    return {
        "alpha_deg": geometry.flat_by_width(drop, width, given["radius_mm"]).clearance_deg,
        "naive_atan_h_over_w_deg": geometry.slid(drop, width),
    }


def relief_hollow(given: Inputs) -> Answer:
    chord = given["alpha_chord_deg"]
    edge = geometry.hollow(chord, given["land_width_mm"], given["wheel_radius_mm"])
    return {"alpha_edge_deg": edge, "added_deg": edge - chord}


def relief_slid(given: Inputs) -> Answer:
    reading, lever = given["reading_mm"], given["lever_angle_deg"]
    return {
        "drop_mm": geometry.true_drop(reading, lever),
        "alpha_deg": geometry.slid(reading, given["travel_mm"], lever),
    }


def chord_rise(given: Inputs) -> Answer:
    radius, slope = geometry.radius_of_chord(given["chord_mm"], given["rise_mm"])
    return {"radius_mm": radius, "sensitivity_to_rise": slope}


def sine_bar(given: Inputs) -> Answer:
    length = given["bar_length_mm"]
    angle = geometry.sine_bar_angle(length, given["stack_rounded_mm"])
    stack = geometry.sine_bar(length, given["angle_deg"])
    return {"stack_mm": stack, "angle_from_rounded_stack_deg": angle}


def taper_angle(given: Inputs) -> Answer:
    included = geometry.taper(given["diameter_1_mm"], given["diameter_2_mm"], given["distance_mm"])
    return {"included_deg": included, "half_deg": included / 2}


def point_angle(given: Inputs) -> Answer:
    legs = []
    for n in (1, 2):
        (z1, r1), (z2, r2) = given[f"lip_{n}_z_r_mm"]
        legs.append(geometry.leg(z2 - z1, r2 - r1))
    one, two = legs
    return {
        "kappa_1_deg": one.angle_deg,
        "kappa_2_deg": two.angle_deg,
        "point_angle_deg": one.angle_deg + two.angle_deg,
        "lip_symmetry_deg": abs(one.angle_deg - two.angle_deg),
        "u_kappa_lip_1_deg": one.u_deg_per_um * given["u_point_mm"] * 1000,
    }


def rake_offset(given: Inputs) -> Answer:
    radius = given["radius_mm"]
    return {
        "offset_mm": geometry.rake_offset(radius, given["gamma_deg"]),
        "gamma_from_rounded_offset_deg": geometry.rake_of_offset(
            radius, given["offset_rounded_mm"]
        ),
    }


def infeeds(given: Inputs) -> Answer:
    return {
        "flank_infeed_mm": infeed.of_flank(given["axial_mm"], given["kappa_deg"]),
        "face_stock_mm": infeed.of_face(given["radius_to_lose_mm"], given["clearance_deg"]),
        "swivelled_infeed_mm": infeed.of_swivelled(given["stock_mm"], given["swivel_deg"]),
        "cylinder_infeed_mm": infeed.of_cylinder(given["diameter_mm"], given["diameter_aim_mm"]),
    }


def depth_in_face(given: Inputs) -> Answer:
    depth = geometry.depth_in_face(given["outer_radius_mm"], given["depth_mm"], given["gamma_deg"])
    return {"face_depth_mm": depth}


def edge_off_maximum(given: Inputs) -> Answer:
    return {"error_um": 1000 * geometry.off_maximum(given["radius_mm"], given["epsilon_deg"])}


def width_two_sightings(given: Inputs) -> Answer:
    width = geometry.two_sightings(
        given["x1"], given["x2"], given["scale_factor"], given["bias_mm"]
    )
    return {"diameter_mm": width}


def point_length(given: Inputs) -> Answer:
    length = geometry.point_length(given["diameter_mm"], given["point_angle_deg"])
    return {"point_length_mm": length}


def to_20_degrees(given: Inputs) -> Answer:
    reading = given["reading_mm"]
    length = geometry.to_20_degrees(
        reading,
        tool_per_kelvin=given["alpha_tool_per_K"],
        tool_degc=given["T_tool_degC"],
        scale_per_kelvin=given["alpha_scale_per_K"],
        scale_degc=given["T_scale_degC"],
    )
    return {"length_20_mm": length, "correction_um": 1000 * (length - reading)}


def index_runout(given: Inputs) -> Answer:
    found = swing.index_runout(given["readings_um"])
    return {
        "mean_um": found.mean_um,
        "eccentricity_um": found.eccentricity_um,
        "high_side_deg": found.high_side_deg,
        "variation_um": found.variation_um,
        "remainder_um": found.remainder_um,
    }


def spacing(given: Inputs) -> Answer:
    found = swing.spacing(given["radius_mm"], given["offsets_um"])
    return {
        "index_error_arcmin": list(found.index_arcmin),
        "adjacent_error_arcmin": list(found.adjacent_arcmin),
        "total_index_range_arcmin": found.range_arcmin,
    }


def _element(given: Inputs) -> contour.Element:
    if given["kind"] == "line":
        return contour.Straight(tuple(given["from_mm"]), tuple(given["to_mm"]))
    return contour.Arc(tuple(given["centre_mm"]), given["radius_mm"], convex=given["sign"] > 0)


def contour_fit(given: Inputs) -> Answer:
    names = {"dx": "X", "dz": "Z", "rotation": "rotation"}
    found = contour.fit(
        [(x, z) for x, z in given["points_mm"]],
        [_element(element) for element in given["elements"]],
        given["point_element"],
        [names[freedom] for freedom in given["freedoms"]],
        tuple(given["pivot_mm"]),
    )
    return {
        "dx_mm": found.shift_x_mm,
        "dz_mm": found.shift_z_mm,
        "rotation_deg": found.rotation_deg,
        "max_deviation_mm": found.highest_mm,
        "min_deviation_mm": found.lowest_mm,
        "rms_deviation_mm": found.rms_mm,
        "max_deviation_before_fit_mm": max(found.before_mm),
        "min_deviation_before_fit_mm": min(found.before_mm),
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
    "included-angle": included_angle,
    "circle-minimum-zone": minimum_ring,
    "straightness-minimum-zone": minimum_strip,
    "tool-planes": tool_planes,
    "normal-plane": normal_plane,
    "lead-from-helix": lead_from_helix,
    "lead-from-travel": lead_from_travel,
    "lead-on-taper": lead_on_taper,
    "lead-from-creep": lead_from_creep,
    "relief-rolled": relief_rolled,
    "relief-expected-drop": relief_expected_drop,
    "relief-land-width": relief_land_width,
    "relief-hollow-land": relief_hollow,
    "relief-slid": relief_slid,
    "chord-rise": chord_rise,
    "sine-bar": sine_bar,
    "taper-angle": taper_angle,
    "point-angle": point_angle,
    "rake-offset": rake_offset,
    "infeed": infeeds,
    "depth-in-face": depth_in_face,
    "edge-off-maximum": edge_off_maximum,
    "width-two-sightings": width_two_sightings,
    "point-length": point_length,
    "to-20-degrees": to_20_degrees,
    "index-runout": index_runout,
    "spacing": spacing,
    "contour-fit": contour_fit,
    **published_charts.CALC,
}

MISSING = frozenset(
    {
        "reamer-limits",
        "size-limits",
    }
)
"""What isn't computed here yet. A name leaves when its computation comes; none is added."""


@pytest.mark.parametrize("case", [c for c in CASES if c["calc"] in CALC], ids=lambda c: c["id"])
def test_the_published_value_comes_out(case: dict[str, Any]) -> None:
    if case["expect"].get("error"):
        with pytest.raises(InspectRecError):
            CALC[case["calc"]](case["inputs"])
        return
    got = CALC[case["calc"]](case["inputs"])
    for name, expected in case["expect"].items():
        value, tolerance = expected["value"], expected["tol"]
        if isinstance(value, str | bool) or value is None:
            assert got[name] == value
        elif isinstance(value, list):
            assert [float(x) for x in got[name]] == pytest.approx(value, abs=tolerance)
        else:
            assert float(got[name]) == pytest.approx(value, abs=tolerance, rel=1e-12), name


def test_every_computation_is_there_or_named_as_missing() -> None:
    asked = {c["calc"] for c in CASES if c["calc"]}
    assert asked - set(CALC) == MISSING
    assert set(CALC) <= asked
