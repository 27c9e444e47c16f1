"""Points and lips, tool planes, rake, sine bars, and angles in degrees, minutes and seconds."""

from __future__ import annotations

from typing import Annotated

from inspect_rec.calculator.base import Answer, Number, Pair, computation
from inspect_rec.compute import geometry, planes
from inspect_rec.errors import ComputeError

Lip = Annotated[tuple[Pair, Pair], "two points [[z, r], [z, r]]"]


@computation(
    "point-angle",
    topic="angles",
    gives=(
        "point_angle_deg",
        "lip_symmetry_deg",
        "kappa_1_deg",
        "kappa_2_deg",
        "u_kappa_lip_1_deg",
        "u_kappa_lip_2_deg",
    ),
    formula="half angle of a lip from two points (z along the axis, r from it): tan k = dr / dz; "
    "point angle = sum, symmetry = difference without sign; u = sqrt(2) u_point / leg",
    source="derived",
    refuses="two points on one place",
)
def point_angle(lip_1_z_r_mm: Lip, lip_2_z_r_mm: Lip, u_point_mm: Number = 0.0) -> Answer:
    """Point angle and lip symmetry of a drill from two points of each lip."""
    one, two = (geometry.leg(b[0] - a[0], b[1] - a[1]) for a, b in (lip_1_z_r_mm, lip_2_z_r_mm))
    return {
        "point_angle_deg": one.angle_deg + two.angle_deg,
        "lip_symmetry_deg": abs(one.angle_deg - two.angle_deg),
        "kappa_1_deg": one.angle_deg,
        "kappa_2_deg": two.angle_deg,
        "u_kappa_lip_1_deg": one.u_deg_per_um * u_point_mm * 1000,
        "u_kappa_lip_2_deg": two.u_deg_per_um * u_point_mm * 1000,
    }


@computation(
    "edge-out-of-plane",
    topic="angles",
    gives=("kappa_deg", "full_point_change_deg"),
    formula="tan k = tan k_view / cos e for an edge turned e out of the image plane; full point: "
    "twice the change of one lip",
    source="derived",
    refuses="a turn not between -90 and 90 deg",
)
def edge_out_of_plane(kappa_view_deg: Number, epsilon_deg: Number) -> Answer:
    """Half angle of a lip that is turned out of the image plane."""
    kappa = geometry.edge_out_of_plane(kappa_view_deg, epsilon_deg)
    return {"kappa_deg": kappa, "full_point_change_deg": 2 * (kappa - kappa_view_deg)}


@computation(
    "tool-planes",
    topic="angles",
    gives=("gamma_o_deg", "lambda_s_deg", "gamma_n_deg"),
    formula="tan go = tan gf sin k + tan gp cos k; tan ls = tan gp sin k - tan gf cos k; "
    "tan gn = tan go cos ls",
    source="derived; letters of ISO 3002-1 (from memory)",
    refuses="a rake not between -90 and 90 deg, an edge angle outside 0 to 180 deg",
)
def tool_planes(gamma_f_deg: Number, gamma_p_deg: Number, kappa_r_deg: Number) -> Answer:
    """Rake and inclination in the orthogonal and normal planes."""
    found = planes.tool_planes(gamma_f_deg, gamma_p_deg, kappa_r_deg)
    return {
        "gamma_o_deg": found.rake_orthogonal_deg,
        "lambda_s_deg": found.inclination_deg,
        "gamma_n_deg": found.rake_normal_deg,
    }


@computation(
    "normal-plane",
    topic="angles",
    gives=("alpha_n_deg", "gamma_n_deg"),
    formula="tan an = tan at / cos b; tan gn = tan gt cos b, from the end view to square to a "
    "helical edge",
    source="derived",
    refuses="angles not between -90 and 90 deg",
)
def normal_plane(alpha_t_deg: Number, gamma_t_deg: Number, helix_deg: Number) -> Answer:
    """Clearance and rake square to a helical edge."""
    return {
        "alpha_n_deg": planes.normal_clearance(alpha_t_deg, helix_deg),
        "gamma_n_deg": planes.normal_rake(gamma_t_deg, helix_deg),
    }


@computation(
    "rake-offset",
    topic="angles",
    gives=("offset_mm", "gamma_from_rounded_offset_deg"),
    formula="offset of a face from the axis o = r sin g, and back g = asin(o / r)",
    source="derived",
    refuses="an offset larger than the radius",
)
def rake_offset(
    radius_mm: Number, gamma_deg: Number, offset_rounded_mm: Number | None = None
) -> Answer:
    """Offset of a face that gives a radial rake."""
    offset = geometry.rake_offset(radius_mm, gamma_deg)
    back = None
    if offset_rounded_mm is not None:
        back = geometry.rake_of_offset(radius_mm, offset_rounded_mm)
    return {"offset_mm": offset, "gamma_from_rounded_offset_deg": back}


@computation(
    "sine-bar",
    topic="angles",
    gives=("stack_mm", "angle_from_rounded_stack_deg"),
    formula="stack = L sin t, and back t = asin(stack / L)",
    source="derived",
    refuses="a stack longer than the bar",
)
def sine_bar(
    bar_length_mm: Number, angle_deg: Number, stack_rounded_mm: Number | None = None
) -> Answer:
    """Stack under a sine bar."""
    back = None
    if stack_rounded_mm is not None:
        back = geometry.sine_bar_angle(bar_length_mm, stack_rounded_mm)
    return {
        "stack_mm": geometry.sine_bar(bar_length_mm, angle_deg),
        "angle_from_rounded_stack_deg": back,
    }


@computation(
    "taper-angle",
    topic="angles",
    gives=("included_deg", "half_deg"),
    formula="included angle = 2 atan((d1 - d2) / (2 l))",
    source="derived",
    refuses="a distance not above 0",
)
def taper_angle(diameter_1_mm: Number, diameter_2_mm: Number, distance_mm: Number) -> Answer:
    """Angle of a taper from two diameters."""
    if diameter_1_mm <= 0 or diameter_2_mm <= 0:
        raise ComputeError(
            "no such diameter", expected="above 0 mm", found=f"{diameter_1_mm}, {diameter_2_mm}"
        )
    included = geometry.taper(diameter_1_mm, diameter_2_mm, distance_mm)
    return {"included_deg": included, "half_deg": included / 2}


@computation(
    "point-length",
    topic="angles",
    gives=("point_length_mm",),
    formula="(D / 2) / tan(point / 2)",
    source="derived",
    refuses="a point angle not between 0 and 180 deg",
)
def point_length(diameter_mm: Number, point_angle_deg: Number) -> Answer:
    """Length of a drill's point."""
    return {"point_length_mm": geometry.point_length(diameter_mm, point_angle_deg)}
