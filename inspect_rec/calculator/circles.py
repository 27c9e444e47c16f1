"""Circles through points: free, held on the axis, held centre, held radius, smallest ring."""

from __future__ import annotations

import math

from inspect_rec.calculator.base import Answer, Number, Numbers, Pair, Points, Whole, computation
from inspect_rec.compute import fitting, geometry, zone
from inspect_rec.errors import ComputeError

_FIT = ("centre_x_mm", "centre_z_mm", "form_mm", "residual_std_mm", "u_r_over_s", "span_deg")
_LEAST_SQUARES = "sum of the squares of the distances from the circle is least"


def _of(c: fitting.Circle) -> dict[str, float]:
    return {
        "radius_mm": c.radius_mm,
        "centre_x_mm": c.centre_x_mm,
        "centre_z_mm": c.centre_z_mm,
        "form_mm": c.form_mm,
        "residual_std_mm": c.residual_std_mm,
        "u_r_over_s": c.u_r_over_s,
        "span_deg": c.span_deg,
    }


@computation(
    "circle",
    topic="circles",
    gives=("radius_mm", *_FIT, "u_radius_mm"),
    formula=f"{_LEAST_SQUARES}, centre and radius free; form = largest less smallest distance from "
    "the centre; residual_std = sqrt(SSR / (n - 3)); u_radius = residual_std times the root of the "
    "radius' entry of inverse(J'J)",
    source="Gander, Golub, Strebel, BIT 34 (1994), for the geometric fit",
    refuses="fewer than three different points, points on a line",
)
def circle(points_mm: Points) -> Answer:
    """Least-squares circle, free centre and radius."""
    c = fitting.circle(points_mm)
    return _of(c) | {"u_radius_mm": c.u_r_over_s * c.residual_std_mm}


@computation(
    "circle-held-centre",
    topic="circles",
    gives=("radius_mm", *_FIT, "u_radius_scatter_mm"),
    formula="radius = mean distance from the held centre; residual_std = sqrt(SSR / (n - 1)); "
    "u_radius_scatter = residual_std / sqrt(n)",
    source="derived: least squares with one unknown",
    refuses="no points; points in the centre",
)
def circle_held_centre(points_mm: Points, held_centre_mm: Pair) -> Answer:
    """Circle about a held centre."""
    c = fitting.circle_held_centre(points_mm, held_centre_mm)
    return _of(c) | {"u_radius_scatter_mm": c.residual_std_mm * c.u_r_over_s}


@computation(
    "circle-on-axis",
    topic="circles",
    gives=("radius_mm", *_FIT, "tip_z_mm", "u_radius_mm", "sensitivity_radius_to_axis"),
    formula=f"{_LEAST_SQUARES}, X of the centre held on the axis, its Z and the radius free; "
    "residual_std = sqrt(SSR / (n - 2)); tip = Z of the centre + radius",
    source="derived: normal equations with one coordinate of the centre held",
    refuses="fewer than two different points, points that hold no circle",
)
def circle_on_axis(points_mm: Points, axis_x_mm: Number) -> Answer:
    """Circle whose centre is held on the axis."""
    c = fitting.circle_on_axis(points_mm, axis_x_mm)
    return _of(c) | {
        "tip_z_mm": c.centre_z_mm + c.radius_mm,
        "u_radius_mm": c.u_r_over_s * c.residual_std_mm,
        "sensitivity_radius_to_axis": c.dr_daxis,
    }


@computation(
    "circle-held-radius",
    topic="circles",
    gives=("max_deviation_mm", "min_deviation_mm", *_FIT, "deviations_mm"),
    formula=f"{_LEAST_SQUARES}, radius held, centre free; deviation = distance less radius, "
    "positive outside",
    source="derived: gradient of the sum of squares = 0",
    refuses="points that hold no centre",
)
def circle_held_radius(points_mm: Points, held_radius_mm: Number) -> Answer:
    """Circle of a held radius."""
    c = fitting.circle_held_radius(points_mm, held_radius_mm)
    found = _of(c)
    del found["radius_mm"]
    return {
        "max_deviation_mm": max(c.residuals_mm),
        "min_deviation_mm": min(c.residuals_mm),
        **found,
        "deviations_mm": c.residuals_mm,
    }


@computation(
    "circle-minimum-zone",
    topic="circles",
    gives=("zone_mm", "centre_x_mm", "centre_z_mm", "radius_mm", "form_about_ls_centre_mm"),
    formula="the two concentric circles closest to each other that hold all points between them; "
    "radius = mean of the two",
    source="derived; roundness by minimum zone as in ISO 12181-1 (from memory)",
    refuses="fewer than four different points (three always have a ring without width), points on "
    "a line",
)
def circle_minimum_zone(points_mm: Points) -> Answer:
    """Smallest ring that holds all points."""
    ring = zone.minimum_ring(points_mm)
    return {
        "zone_mm": ring.zone_mm,
        "centre_x_mm": ring.centre_x_mm,
        "centre_z_mm": ring.centre_z_mm,
        "radius_mm": ring.radius_mm,
        "form_about_ls_centre_mm": fitting.circle(points_mm).form_mm,
    }


@computation(
    "circle-span",
    topic="circles",
    gives=("u_r_over_s_span_{span}_deg",),
    formula="u of a free radius over u of one point, points equally spread with both ends of the "
    "span included (360: equal division without repeating the first)",
    source="derived: root of the radius' entry of inverse(J'J) with rows (cos a, sin a, 1)",
    refuses="fewer than three points, no span above 0 up to 360 deg",
)
def circle_span(number_of_points: Whole, spans_deg: Numbers) -> Answer:
    """How much an arc's span widens the uncertainty of its radius."""
    found = {}
    for span in spans_deg:
        if not (0 < span <= 360 and 3 <= number_of_points <= 10_000):
            raise ComputeError(
                "no such arc",
                expected="3 points or more over a span above 0 up to 360 deg",
                found=f"{number_of_points} points over {span:g} deg",
            )
        step = math.radians(span / (number_of_points - (span != 360)))
        points = [(math.cos(k * step), math.sin(k * step)) for k in range(number_of_points)]
        found[f"u_r_over_s_span_{span:g}_deg"] = fitting.circle(points).u_r_over_s
    return found


@computation(
    "chord-rise",
    topic="circles",
    gives=("radius_mm", "sensitivity_to_rise"),
    formula="radius = c^2 / (8 h) + h / 2 from a chord c and its rise h",
    source="derived",
    refuses="a chord or rise not above 0",
)
def chord_rise(chord_mm: Number, rise_mm: Number) -> Answer:
    """Radius from a chord and its rise."""
    radius, slope = geometry.radius_of_chord(chord_mm, rise_mm)
    return {"radius_mm": radius, "sensitivity_to_rise": slope}
