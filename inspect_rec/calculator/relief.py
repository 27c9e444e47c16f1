"""Clearances from drops and widths of lands, and what to grind."""

from __future__ import annotations

from inspect_rec.calculator.base import Answer, Number, computation
from inspect_rec.compute import geometry, infeed


@computation(
    "relief-rolled",
    topic="relief",
    gives=("alpha_flat_deg", "alpha_if_eccentric_deg", "sensitivity_flat_deg_per_um"),
    formula="tool rolled by p under a still indicator; flat land: tan a = (r / (r - h) - cos p) / "
    "sin p; eccentric land: tan a = h / (r p)",
    source="derived from plane geometry",
    refuses="a roll not above 0 and below 90 deg, a drop beyond the radius",
)
def relief_rolled(radius_mm: Number, drop_mm: Number, roll_deg: Number) -> Answer:
    """Clearance in the transverse plane from a rolled drop."""
    flat = geometry.rolled_flat(drop_mm, roll_deg, radius_mm)
    return {
        "alpha_flat_deg": flat.clearance_deg,
        "alpha_if_eccentric_deg": geometry.rolled_eccentric(
            drop_mm, roll_deg, radius_mm
        ).clearance_deg,
        "sensitivity_flat_deg_per_um": flat.per_drop_deg_per_um,
    }


@computation(
    "relief-expected-drop",
    topic="relief",
    gives=("drop_flat_mm", "drop_eccentric_mm"),
    formula="flat land: h = r (1 - cos a / cos(p - a)), below 0 where the heel stands above the "
    "edge; eccentric land: h = r p tan a",
    source="derived from plane geometry",
    refuses="angles outside -90 to 90 deg, a roll not above 0 and below 90 deg, one that takes a "
    "flat land from under the indicator",
)
def relief_expected_drop(radius_mm: Number, alpha_deg: Number, roll_deg: Number) -> Answer:
    """Drop that a clearance shows under a still indicator."""
    return {
        "drop_flat_mm": geometry.drop_of_flat(alpha_deg, roll_deg, radius_mm),
        "drop_eccentric_mm": geometry.drop_of_eccentric(alpha_deg, roll_deg, radius_mm),
    }


@computation(
    "relief-land-width",
    topic="relief",
    gives=("alpha_deg", "naive_atan_h_over_w_deg"),
    formula="flat land of width w, heel h lower in radius: sin a = (w^2 + 2 r h - h^2) / (2 r w); "
    "h / w alone is wrong on a round tool",
    source="derived from plane geometry",
    refuses="a land that can't have this drop",
)
def relief_land_width(radius_mm: Number, land_width_mm: Number, heel_drop_mm: Number) -> Answer:
    """Clearance of a flat land from its width and the drop of its heel."""
    found = geometry.flat_by_width(heel_drop_mm, land_width_mm, radius_mm)
    return {
        "alpha_deg": found.clearance_deg,
        "naive_atan_h_over_w_deg": geometry.slid(heel_drop_mm, land_width_mm),
    }


@computation(
    "relief-hollow-land",
    topic="relief",
    gives=("alpha_edge_deg", "added_deg"),
    formula="clearance at the edge = that of the chord + asin(w / (2 R_wheel))",
    source="derived from plane geometry",
    refuses="a land wider than the wheel",
)
def relief_hollow_land(
    alpha_chord_deg: Number, land_width_mm: Number, wheel_radius_mm: Number
) -> Answer:
    """Clearance at the edge of a land ground hollow by a wheel's periphery."""
    edge = geometry.hollow(alpha_chord_deg, land_width_mm, wheel_radius_mm)
    return {"alpha_edge_deg": edge, "added_deg": edge - alpha_chord_deg}


@computation(
    "relief-slid",
    topic="relief",
    gives=("alpha_deg", "drop_mm"),
    formula="tool still, slide carries the land past a lever indicator: drop = reading cos(lever); "
    "tan a = drop / travel",
    source="derived; cosine of the lever: common practice",
    refuses="a travel not above 0, a lever not between -90 and 90 deg",
)
def relief_slid(reading_mm: Number, travel_mm: Number, lever_angle_deg: Number) -> Answer:
    """Clearance from a drop that a slide ran through."""
    return {
        "alpha_deg": geometry.slid(reading_mm, travel_mm, lever_angle_deg),
        "drop_mm": geometry.true_drop(reading_mm, lever_angle_deg),
    }


@computation(
    "infeed",
    topic="relief",
    gives=("cylinder_infeed_mm", "flank_infeed_mm", "face_stock_mm", "swivelled_infeed_mm"),
    formula="cylinder: (D - D_aim) / 2; flank of a point: a sin k; face of a relieved edge: "
    "dr / tan a; slide swivelled d from the normal: s / cos d",
    source="derived",
    refuses="a clearance not above 0 and below 90 deg, a swivel along the surface",
)
def infeeds(
    diameter_mm: Number | None = None,
    diameter_aim_mm: Number | None = None,
    axial_mm: Number | None = None,
    kappa_deg: Number | None = None,
    radius_to_lose_mm: Number | None = None,
    clearance_deg: Number | None = None,
    stock_mm: Number | None = None,
    swivel_deg: Number | None = None,
) -> Answer:
    """What is left to grind, as what a slide must move; each pair may be left out."""

    def of(how: object, first: float | None, second: float | None) -> float | None:
        if first is None or second is None:
            return None
        assert callable(how)  # noqa: S101 - the four formulas below
        return float(how(first, second))

    return {
        "cylinder_infeed_mm": of(infeed.of_cylinder, diameter_mm, diameter_aim_mm),
        "flank_infeed_mm": of(infeed.of_flank, axial_mm, kappa_deg),
        "face_stock_mm": of(infeed.of_face, radius_to_lose_mm, clearance_deg),
        "swivelled_infeed_mm": of(infeed.of_swivelled, stock_mm, swivel_deg),
    }
