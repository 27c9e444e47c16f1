"""Widths, depths, lead and helix, temperature, runout, spacing and the swing test."""

from __future__ import annotations

from typing import Annotated

from inspect_rec.calculator.base import Answer, Filled, Number, Numbers, computation
from inspect_rec.compute import geometry, helix, swing
from inspect_rec.errors import ComputeError


@computation(
    "width-two-sightings",
    topic="lengths",
    gives=("diameter_mm",),
    formula="|x2 - x1| times the scale factor (1; 1/2 where the readout counts the diameter; 25.4 "
    "from inches), less what a master sighted the same way reads too large",
    source="common practice",
)
def width_two_sightings(
    x1: Number, x2: Number, scale_factor: Number = 1.0, bias_mm: Number = 0.0
) -> Answer:
    """Width or diameter from two sightings."""
    return {"diameter_mm": geometry.two_sightings(x1, x2, scale_factor, bias_mm)}


@computation(
    "edge-off-maximum",
    topic="lengths",
    gives=("error_um",),
    formula="r (1 - cos e): what an edge turned e out of the axial plane reads short",
    source="derived",
    refuses="a radius not above 0",
)
def edge_off_maximum(radius_mm: Number, epsilon_deg: Number) -> Answer:
    """What an edge beside its largest reading reads short."""
    return {"error_um": 1000 * geometry.off_maximum(radius_mm, epsilon_deg)}


@computation(
    "depth-in-face",
    topic="lengths",
    gives=("face_depth_mm",),
    formula="r cos g - sqrt((r - d)^2 - r^2 sin^2 g): how a depth d below the outer radius r "
    "appears in a face with radial rake g",
    source="derived",
    refuses="a depth that the face doesn't reach",
)
def depth_in_face(outer_radius_mm: Number, depth_mm: Number, gamma_deg: Number) -> Answer:
    """Depth of a profile as it appears in a raked face."""
    return {"face_depth_mm": geometry.depth_in_face(outer_radius_mm, depth_mm, gamma_deg)}


@computation(
    "to-20-degrees",
    topic="lengths",
    gives=("length_20_mm", "correction_um"),
    formula="L (1 - a_tool (T_tool - 20) + a_scale (T_scale - 20)), first order",
    source="derived; reference temperature 20 degC: ISO 1",
)
def to_20_degrees(
    reading_mm: Number,
    alpha_tool_per_K: Number,
    T_tool_degC: Number,
    alpha_scale_per_K: Number,
    T_scale_degC: Number,
) -> Answer:
    """Length at 20 degC."""
    length = geometry.to_20_degrees(
        reading_mm,
        tool_per_kelvin=alpha_tool_per_K,
        tool_degc=T_tool_degC,
        scale_per_kelvin=alpha_scale_per_K,
        scale_degc=T_scale_degC,
    )
    return {"length_20_mm": length, "correction_um": 1000 * (length - reading_mm)}


@computation(
    "lead-from-helix",
    topic="lead",
    gives=("lead_mm",),
    formula="pi D / tan b",
    source="derived",
    refuses="a helix of 0 or 90 deg",
)
def lead_from_helix(diameter_mm: Number, helix_deg: Number) -> Answer:
    """Lead of a helix angle on a diameter; its sign is the hand."""
    return {"lead_mm": helix.lead_of_helix(diameter_mm, helix_deg)}


@computation(
    "lead-from-travel",
    topic="lead",
    gives=("lead_mm", "u_lead_mm", "helix_deg"),
    formula="360 times the slope of Z over the index angle (least squares of Z); u from the "
    "residuals; helix = atan(pi D / |L|)",
    source="derived",
    refuses="fewer than three pairs, one index alone",
)
def lead_from_travel(z_mm: Numbers, phi_deg: Numbers, diameter_mm: Number | None = None) -> Answer:
    """Lead from places along a flute and the index there."""
    found = helix.lead_of_travel(z_mm, phi_deg)
    angle = None if diameter_mm is None else helix.helix_of_lead(diameter_mm, found.lead_mm)
    return {"lead_mm": found.lead_mm, "u_lead_mm": found.u_lead_mm, "helix_deg": angle}


@computation(
    "lead-on-taper",
    topic="lead",
    gives=("lead_small_mm", "lead_large_mm", "turn_deg"),
    formula="constant helix b on a taper: lead = pi d / tan b at each end; turn = tan b / k "
    "ln(d1 / d0), k = (d1 - d0) / (2 l); leads and turn bear the hand's sign",
    source="derived",
    refuses="lengths not above 0, a helix of 0 or 90 deg",
)
def lead_on_taper(
    diameter_small_mm: Number, diameter_large_mm: Number, length_mm: Number, helix_deg: Number
) -> Answer:
    """Leads at the ends of a taper whose helix angle is constant, and the turn between them."""
    small, large = diameter_small_mm, diameter_large_mm
    return {
        "lead_small_mm": helix.lead_of_helix(small, helix_deg),
        "lead_large_mm": helix.lead_of_helix(large, helix_deg),
        "turn_deg": helix.turn_on_taper(small, large, length_mm, helix_deg),
    }


@computation(
    "lead-from-creep",
    topic="lead",
    gives=("lead_mm",),
    formula="1 / L = 1 / L_set + creep / (2 pi r Z) for an indicator that follows at the set lead; "
    "null: infinite, the tool isn't turned",
    source="derived",
    refuses="a straight flute",
)
def lead_from_creep(
    lead_set_mm: Number | None, radius_mm: Number, length_mm: Number, creep_mm: Number
) -> Answer:
    """Lead of a flute from what an indicator creeps while it follows at another."""
    return {"lead_mm": helix.lead_of_creep(lead_set_mm, radius_mm, length_mm, creep_mm)}


@computation(
    "index-runout",
    topic="index",
    gives=("variation_um", "eccentricity_um", "high_side_deg", "mean_um", "remainder_um"),
    formula="first harmonic of readings at n equal index steps = clamping eccentricity, its high "
    "side null where there is none; remainder = largest less smallest after it; for diagnosis, "
    "never taken off a final value",
    source="derived: Fourier sums",
    refuses="fewer than three readings",
)
def index_runout(readings_um: Annotated[Numbers, Filled]) -> Answer:
    """Runout per index, and its first harmonic."""
    # From the first one, so that a place far off takes no digits from a small run-out.
    first = readings_um[0]
    found = swing.index_runout([reading - first for reading in readings_um])
    # Below that it is the rounding of the sums, which has no side.
    sided = found.eccentricity_um > 1e-9 * found.variation_um
    return {
        "variation_um": found.variation_um,
        "eccentricity_um": found.eccentricity_um,
        "high_side_deg": found.high_side_deg if sided else None,
        "mean_um": first + found.mean_um,
        "remainder_um": found.remainder_um,
    }


@computation(
    "spacing",
    topic="index",
    gives=("total_index_range_arcmin", "index_error_arcmin", "adjacent_error_arcmin"),
    formula="index error of a tooth = tangential offset / radius at its nominal index; adjacent "
    "error = difference to the next tooth, the last to the first included",
    source="derived",
    refuses="fewer than two teeth, a radius not above 0",
)
def spacing(radius_mm: Number, offsets_um: Numbers) -> Answer:
    """Errors of the spacing of teeth."""
    found = swing.spacing(radius_mm, offsets_um)
    return {
        "total_index_range_arcmin": found.range_arcmin,
        "index_error_arcmin": found.index_arcmin,
        "adjacent_error_arcmin": found.adjacent_arcmin,
    }


@computation(
    "swing-test",
    topic="index",
    gives=("radius_mm", "a_um", "p_um", "q_um", "form_um", "mean_e_um"),
    formula="crosshair tangent at R_set from the pivot, reading e at swing p: e = a + p cos + q "
    "sin; radius = R_set + a; p, q = centre off the pivot; form = largest less smallest rest; over "
    "a part turn the mean of e is not the deviation of the radius",
    source="derived: least squares of three unknowns",
    refuses="fewer than three swings, swings that hold no centre",
)
def swing_test(phi_deg: Numbers, e_um: Annotated[Numbers, Filled], R_set_mm: Number) -> Answer:
    """Radius and place of its centre from a swing about the pivot."""
    if len(phi_deg) != len(e_um):
        raise ComputeError(
            "each swing needs its reading",
            expected=f"{len(phi_deg)} readings",
            found=str(len(e_um)),
        )
    found = swing.swing_test(phi_deg, e_um)
    return {
        "radius_mm": R_set_mm + found.a_um / 1000,
        "a_um": found.a_um,
        "p_um": found.p_um,
        "q_um": found.q_um,
        "form_um": found.form_um,
        "mean_e_um": sum(e_um) / len(e_um),
    }
