"""Straight lines through points, angles between them, and contours of lines and arcs."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from inspect_rec.calculator.base import (
    Answer,
    Filled,
    Number,
    Numbers,
    Pair,
    Points,
    Texts,
    Whole,
    computation,
)
from inspect_rec.compute import contour, fitting, weighted_line, zone
from inspect_rec.errors import ComputeError


@computation(
    "line",
    topic="lines",
    gives=("angle_deg", "mean_x_mm", "mean_z_mm", "residual_std_mm", "straightness_ls_mm"),
    formula="sum of the squares of the distances square to the line is least: tan 2t = 2 Sxz / "
    "(Sxx - Szz); angle against +x, above -90 up to 90 deg; residual_std = sqrt(SSR / (n - 2)); "
    "straightness = largest less smallest distance",
    source="derived; Pearson (1901) for the data it is checked against",
    refuses="fewer than two different points, points spread alike in all directions",
)
def line(points_mm: Points) -> Answer:
    """Orthogonal least-squares line."""
    found = fitting.line(points_mm)
    return {
        "angle_deg": found.angle_deg,
        "mean_x_mm": found.middle[0],
        "mean_z_mm": found.middle[1],
        "residual_std_mm": found.residual_std_mm,
        "straightness_ls_mm": found.straightness_mm,
    }


@computation(
    "line-weighted",
    topic="lines",
    gives=(
        "slope",
        "intercept",
        "u_slope",
        "u_intercept",
        "correlation",
        "reduced_chi_square",
        "dof",
        "y_at",
        "u_y_at",
    ),
    formula="sum of (dx / u_x)^2 + (dy / u_y)^2 is least; u from those of the points alone, not "
    "scaled by their scatter; reduced_chi_square = that sum / (n - 2); y_at, u_y_at: the line at "
    "x_at, with the correlation of slope and intercept",
    source="York, Evensen, Martinez, Delgado, Am. J. Phys. 72 (2004) 367 (equations from memory)",
    refuses="fewer than three points, points at one x or along y, u of x below 0, u of y not above "
    "0",
)
def line_weighted(
    x: Numbers, y: Numbers, u_x: Numbers, u_y: Numbers, x_at: Number | None = None
) -> Answer:
    """Straight line through points with a standard uncertainty of each in both axes, any units."""
    found = weighted_line.weighted_line(x, y, u_x, u_y)
    at = (None, None) if x_at is None else found.at(x_at)
    return {
        "slope": found.slope,
        "intercept": found.intercept,
        "u_slope": found.u_slope,
        "u_intercept": found.u_intercept,
        "correlation": found.correlation,
        "reduced_chi_square": found.reduced_chi_square,
        "dof": found.dof,
        "y_at": at[0],
        "u_y_at": at[1],
    }


@computation(
    "included-angle",
    topic="lines",
    gives=("acute_angle_deg", "obtuse_angle_deg"),
    formula="difference of the angles of two orthogonal least-squares lines, folded to at most "
    "90 deg; the other is 180 deg less that",
    source="derived",
    refuses="what a line refuses",
)
def included_angle(points_line_1_mm: Points, points_line_2_mm: Points) -> Answer:
    """Angle between two edges."""
    turned = abs(
        fitting.line(points_line_1_mm).angle_deg - fitting.line(points_line_2_mm).angle_deg
    )
    acute = min(turned, 180 - turned)
    return {"acute_angle_deg": acute, "obtuse_angle_deg": 180 - acute}


@computation(
    "straightness-minimum-zone",
    topic="lines",
    gives=("zone_mm", "zone_angle_deg", "straightness_ls_mm"),
    formula="the two parallel lines closest to each other that hold all points between them",
    source="derived; straightness by minimum zone as in ISO 12780-1 (from memory)",
    refuses="fewer than two different points",
)
def straightness_minimum_zone(points_mm: Points) -> Answer:
    """Narrowest strip that holds all points."""
    strip = zone.minimum_strip(points_mm)
    return {
        "zone_mm": strip.zone_mm,
        "zone_angle_deg": strip.angle_deg,
        "straightness_ls_mm": fitting.line(points_mm).straightness_mm,
    }


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Straight(_Strict):
    """A line of a contour, on its way from one point to the other."""

    kind: Literal["line"]
    from_mm: Pair
    to_mm: Pair


class Arc(_Strict):
    """An arc of a contour; sign +1 where a deviation outward counts as positive, -1 inward."""

    kind: Literal["arc"]
    centre_mm: Pair
    radius_mm: Number
    sign: Literal[1, -1]


Elements = Annotated[
    tuple[Annotated[Straight | Arc, Field(discriminator="kind")], ...],
    Filled,
    'lines {"kind": "line", "from_mm", "to_mm"} and arcs {"kind": "arc", "centre_mm", "radius_mm", '
    '"sign"}',
]
_FREEDOMS = {"dx": "X", "dz": "Z", "rotation": "rotation"}


def _element(given: Straight | Arc) -> contour.Element:
    if isinstance(given, Straight):
        return contour.Straight(given.from_mm, given.to_mm)
    return contour.Arc(given.centre_mm, given.radius_mm, convex=given.sign > 0)


@computation(
    "contour-fit",
    topic="lines",
    gives=(
        "max_deviation_mm",
        "min_deviation_mm",
        "rms_deviation_mm",
        "dx_mm",
        "dz_mm",
        "rotation_deg",
        "max_deviation_before_fit_mm",
        "min_deviation_before_fit_mm",
        "deviations_mm",
    ),
    formula="sum of the squares of the distances square to the contour is least under the declared "
    "freedoms; each point belongs to the element named for it, elements unbounded; rotation about "
    "the pivot, from +x towards +z, before the shift; positive to the left of a line, outward on "
    "an arc times its sign",
    source="derived: Gauss-Newton from the nominal place",
    refuses="freedoms that the points don't hold, a point of no element, another freedom",
)
def contour_fit(
    points_mm: Points,
    elements: Elements,
    point_element: Annotated[tuple[Whole, ...], "whole numbers"],
    freedoms: Texts,
    pivot_mm: Pair = (0.0, 0.0),
) -> Answer:
    """Best fit of points to a nominal contour under declared freedoms."""
    for name in freedoms:
        if name not in _FREEDOMS:
            raise ComputeError("no such freedom", expected=", ".join(_FREEDOMS), found=repr(name))
    found = contour.fit(
        points_mm,
        [_element(each) for each in elements],
        point_element,
        [_FREEDOMS[name] for name in freedoms],
        pivot_mm,
    )
    return {
        "max_deviation_mm": found.highest_mm,
        "min_deviation_mm": found.lowest_mm,
        "rms_deviation_mm": found.rms_mm,
        "dx_mm": found.shift_x_mm,
        "dz_mm": found.shift_z_mm,
        "rotation_deg": found.rotation_deg,
        "max_deviation_before_fit_mm": max(found.before_mm),
        "min_deviation_before_fit_mm": min(found.before_mm),
        "deviations_mm": found.deviations_mm,
    }
