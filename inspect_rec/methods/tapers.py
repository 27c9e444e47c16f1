"""Tapered tools: the helix angle of their flutes, and the taper itself."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from inspect_rec.compute.reach import length
from inspect_rec.compute.regression import Regression, regression
from inspect_rec.compute.uncertainty import Budget, Component
from inspect_rec.errors import ComputeError
from inspect_rec.methods.base import Given, Outcome, step
from inspect_rec.methods.leads import (
    FLUTE,
    HAND,
    REFUSES,
    SENSE,
    SHORTEST_TRAVEL_MM,
    Travel,
    ends,
    one_mark,
    root_of_squares,
    slope_of,
    travel_of,
)
from inspect_rec.methods.register import Asks, Reads, Role, method
from inspect_rec.methods.scatter import known_or_seen, scaled


@method(
    "helix angle on a taper",
    roles=(FLUTE,),
    asks=(
        Asks("first_diameter_mm", "diameter at the first mark"),
        Asks("last_diameter_mm", "diameter at the last mark"),
        HAND,
        SENSE,
    ),
    plane="tangent to the surface of revolution, against a plane through the axis; its lead "
    "grows with the diameter",
    assumes="the diameter grows evenly from the first mark to the last, and the helix angle is "
    "the same everywhere",
    refuses=REFUSES,
    formula="tan b = slope of the turn over ln(d / d1) / k, least squares, with k half the "
    "diameter's growth for each mm along the axis; on a cylinder over 2 z / d",
    source="derived: r d(turn)/dz = tan b along the axis",
    unit="deg",
)
def taper_helix(given: Given) -> Outcome:
    """Constant helix angle of a flute on a taper, deg, plus for the hand that is stated."""
    travel = travel_of(given)
    first, last = given.number("first_diameter_mm"), given.number("last_diameter_mm")
    for diameter in (first, last):
        length(diameter, "diameter")
    fit, way, diameters = _turned(travel, first, last)
    per_degree = math.degrees(1 / (1 + fit.slope**2))
    if abs(fit.slope) < 1e-6:
        raise ComputeError("the flute is straight: no helix angle")
    radius = sum(diameters) / len(diameters) / 2
    # A place that is off by 1 mm is off by 1 / r along the way.
    per_mark = per_degree / root_of_squares(way) / (radius * 1000)
    known = one_mark(given, travel.series, math.radians(radius / fit.slope), radius)
    seen_um = fit.residual_std / abs(fit.slope) * radius * 1000
    rows = (
        *known_or_seen(
            scaled(known, per_mark * fit.slope),
            seen_um,
            len(way) - 2,
            per_mark * fit.slope,
        ),
        *ends(given, per_degree * fit.slope / (max(way) - min(way)) / (radius * 1000)),
        *_diameters(given, lambda a, b: _turned(travel, a, b)[0].slope, first, last, per_degree),
    )
    value = math.degrees(math.atan(fit.slope))
    detail: dict[str, float | tuple[float, ...]] = {
        "hand": math.copysign(1.0, value),
        "helix_deg": abs(value),
        "turn_deg": travel.whole_turn_deg,
        "travel_mm": travel.travel_mm,
        "leads_mm": tuple(math.pi * d / fit.slope for d in diameters),
        "deviations_deg": tuple(math.degrees(r) for r in fit.residuals),
    }
    return Outcome((value * travel.hand,), Budget(rows, "deg"), travel.refusals(value), detail)


def _turned(
    travel: Travel, first: float, last: float
) -> tuple[Regression, list[float], list[float]]:
    """The turn over the way along the taper, whose slope is tan b; that way, and the diameters."""
    whole = travel.away_mm[-1] - travel.away_mm[0]
    length(abs(whole), "travel")
    k = (last - first) / (2 * whole)
    from_first = [away - travel.away_mm[0] for away in travel.away_mm]
    diameters = [first + 2 * k * way for way in from_first]
    for diameter in diameters:
        length(diameter, "diameter")
    # ln(1 + q) / q, which is 1 on a cylinder.
    grown = [d / first - 1 for d in diameters]
    way = [
        2 * z / first * (math.log1p(q) / q if abs(q) > 1e-12 else 1.0)
        for z, q in zip(from_first, grown, strict=True)
    ]
    turns = [math.radians(turn) for turn in travel.turn_deg]
    return regression(way, turns), way, diameters


def _diameters(
    given: Given,
    slope: Callable[[float, float], float],
    first: float,
    last: float,
    per_degree: float,
) -> list[Component]:
    """What the two diameters add, each by the difference it makes, 1 um to both sides."""
    by = (
        (slope(first + 1e-3, last) - slope(first - 1e-3, last)) / 2e-3,
        (slope(first, last + 1e-3) - slope(first, last - 1e-3)) / 2e-3,
    )
    return [
        given.component(
            f"{which} diameter, twice its radius",
            "radius of the edge",
            sensitivity=2 * per_degree * each,
            unit="mm",
        )
        for which, each in zip(("first", "last"), by, strict=True)
    ]


@method(
    "taper angle from several radii",
    roles=(Role("edge", Reads.POINT, "the edge at two or more places along the tool", least=2),),
    plane="axial, half angle against the axis",
    assumes="the edge is turned gently through its largest reading at each place, on the side "
    "where the radial slide counts outward",
    refuses=("a travel below 1 mm",),
    formula="tan k = slope of the radius over the place away from the tip, least squares; plus "
    "where the tool grows thicker away from the tip",
    source="derived",
    unit="deg",
)
def taper_angle(given: Given) -> Outcome:
    """Half angle of a taper against the axis, deg; minus is a back taper."""
    edge, slides = given.series["edge"], given.slides
    away = [-slides.tip * edge.mean(mark, slides.along) for mark in edge.marks]
    radii = [slides.outward * edge.mean(mark, slides.radial) for mark in edge.marks]
    slope, seen_um, dof = slope_of(away, radii)
    per_um = math.degrees(1e-3 / (1 + slope**2)) / root_of_squares(away)
    # Along the edge a place that is off counts by the taper's slope.
    long = math.hypot(1.0, slope)
    n = edge.repeats
    crosshair = given.component("crosshair on the edge", "crosshair", averaged=n)
    known = scaled(
        (replace(crosshair, sensitivity=long), step(edge.instrument, "readout step")), per_um
    )
    turned = given.component("", "edge out of the axial plane", unit="deg")
    kappa = math.degrees(math.atan(slope))
    short = 1 - math.cos(math.radians(turned.amount))
    plane = replace(
        turned,
        amount=math.degrees(abs(slope) * short / (1 + slope**2)),
        unit="deg",
        name=f"edge {turned.amount:g} deg out of the axial plane",
    )
    rows = (
        *known_or_seen(known, seen_um, dof, per_um),
        plane,
        given.component("squareness of the slides", "squareness", common=True, unit="deg"),
    )
    travel = max(away) - min(away)
    refusals: tuple[str, ...] = ()
    if travel < SHORTEST_TRAVEL_MM - 1e-9:
        refusals = (f"a travel of {travel:.2f} mm is too short for a taper",)
    detail = {"travel_mm": travel, "slope": slope}
    return Outcome((kappa,), Budget(rows, "deg"), refusals, detail)
