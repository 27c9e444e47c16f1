"""Radii, profiles and the places of arcs, from points sighted round an arc."""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import fmean

from inspect_rec.compute import contour, fitting
from inspect_rec.compute.uncertainty import Budget, Component
from inspect_rec.errors import InputError
from inspect_rec.methods.base import Given, Outcome, Series, drift_row, stated, step
from inspect_rec.methods.register import Asks, Reads, Role, method
from inspect_rec.methods.thermal import CORRECTION, factor, lacking, thermal_rows, to_20
from inspect_rec.methods.widths import AXIS, axis_row, middle_mm

ARC = Role("arc", Reads.POINT, "points spread round the arc, both ends included", least=3)
RADIUS_MASTER = Role(
    "master", Reads.POINT, "points round a radius master", least=3, master=True, needed=False
)

SHORTEST_SPAN_DEG = 60.0
"""Below about this span a free radius isn't worth reporting (trade: common practice)."""

DRIFT = "drift of the radius master"

LIGHT = "light and line width shift the edge no further than the radius master's check allows"

Points = list[tuple[float, float]]


def points_of(series: Series) -> Points:
    """The sighted points (x, z), mm."""
    return [(t["X"], t["Z"]) for t in series.taken]


def on_axis(given: Given, arc: Series) -> fitting.Circle:
    """The circle whose centre is held on the axis along the radial slide."""
    radial = given.slides.radial
    axis_mm = middle_mm(given.series["axis"], radial)
    return fitting.circle_on_axis(points_of(arc), axis_mm, which=radial.lower())


def u_of_tip(given: Given, circle: fitting.Circle) -> float:
    """u of the tip's place over that of one sighting, whichever way the slide counts."""
    return circle.u_tip_over_s if given.slides.tip > 0 else circle.u_tip_below_over_s


def detail_of(circle: fitting.Circle, points: Points) -> dict[str, float | tuple[float, ...]]:
    """Centre, radius, form and span, and each point's distance and angle from the centre."""
    centre_x, centre_z = circle.centre_x_mm, circle.centre_z_mm
    return {
        "centre_x_mm": centre_x,
        "centre_z_mm": centre_z,
        "radius_mm": circle.radius_mm,
        "form_um": circle.form_mm * 1000,
        "span_deg": circle.span_deg,
        **round_centre((centre_x, centre_z), points),
    }


def round_centre(centre: tuple[float, float], points: Points) -> dict[str, tuple[float, ...]]:
    """Each point's distance and angle from a centre."""
    x0, z0 = centre
    return {
        "distances_mm": tuple(math.hypot(x - x0, z - z0) for x, z in points),
        "angles_deg": tuple(math.degrees(math.atan2(z - z0, x - x0)) for x, z in points),
    }


def no_circle(given: Given, circle: fitting.Circle) -> tuple[str, ...]:
    """A radius whose form takes half its tolerance is no circle (trade: common practice)."""
    if given.width is None or circle.form_mm <= given.width / 2:
        return ()
    return (f"form {circle.form_mm * 1000:.1f} µm is more than half of the tolerance: no circle",)


def _too_short(circle: fitting.Circle) -> tuple[str, ...]:
    if circle.span_deg >= SHORTEST_SPAN_DEG:
        return ()
    said = f"an arc of {circle.span_deg:.0f}° is too short for a free radius"
    return (f"{said}: report the profile deviation, or hold the centre",)


def edge_rows(given: Given) -> list[Component]:
    """What every radius of an edge has in its budget beside its sightings."""
    unknown = () if "master" in given.series else ("light",)
    return [
        given.component("scale", "scale", common=True),
        given.component("edge out of the axial plane, roundness of the edge", "edge"),
        *drift_row(given, "master", DRIFT, common=True),
        *(given.component("light, no radius master", light, common=True) for light in unknown),
    ]


@method(
    "arc, centre on the axis",
    roles=(ARC, AXIS, RADIUS_MASTER),
    plane="image plane through the axis",
    assumes=f"the centre lies on the axis; {LIGHT}",
    refuses=("a form of more than half the tolerance: no circle",),
    formula="least-squares circle whose centre is held on the axis, free along the tool",
    source="derived: normal equations with one coordinate of the centre held",
)
@to_20()
def arc_on_axis(given: Given) -> Outcome:
    """Radius of a ball nose, its centre held on the axis."""
    arc = given.series["arc"]
    circle = on_axis(given, arc)
    rows = [
        given.component(
            f"crosshair, {len(arc.taken)} points, centre held on the axis",
            "crosshair",
            sensitivity=stated(circle.u_r_over_s),
        ),
        axis_row(given, stated(abs(circle.dr_daxis)), common=True),
        *edge_rows(given),
    ]
    along = circle.centre_z_mm if given.slides.along == "Z" else circle.centre_x_mm
    detail = detail_of(circle, points_of(arc)) | {
        "tip_mm": along + given.slides.tip * circle.radius_mm
    }
    return Outcome((circle.radius_mm,), Budget(tuple(rows), "um"), no_circle(given, circle), detail)


@method(
    "arc, free centre",
    roles=(ARC, RADIUS_MASTER),
    plane="image plane",
    assumes=LIGHT,
    refuses=(
        "an arc below 60 deg",
        "a form of more than half the tolerance: no circle",
    ),
    formula="least-squares circle, centre and radius free",
    source="derived; Gander, Golub, Strebel, BIT 34 (1994) for the example it is checked against",
)
@to_20()
def arc_free(given: Given) -> Outcome:
    """Radius of an arc of its own."""
    arc = given.series["arc"]
    circle = fitting.circle(points_of(arc))
    rows = [
        given.component(
            f"crosshair, {len(arc.taken)} points over {circle.span_deg:.0f} deg, free fit",
            "crosshair",
            sensitivity=stated(circle.u_r_over_s),
        ),
        *edge_rows(given),
    ]
    return Outcome(
        (circle.radius_mm,),
        Budget(tuple(rows), "um"),
        (*no_circle(given, circle), *_too_short(circle)),
        detail_of(circle, points_of(arc)),
    )


@method(
    "arc, centre held",
    roles=(ARC, RADIUS_MASTER),
    asks=(
        Asks("centre_x_mm", "place of the pivot on the slide X"),
        Asks("centre_z_mm", "place of the pivot on the slide Z"),
    ),
    plane="image plane",
    assumes="the centre lies on the pivot, whose place is known",
    refuses=("a form of more than half the tolerance: no circle",),
    formula="mean distance of the points from the place where the centre is held",
    source="derived; on a short arc the place of the pivot goes in one to one",
)
@to_20()
def arc_held_centre(given: Given) -> Outcome:
    """Radius of an arc whose centre is held at the pivot."""
    points = points_of(given.series["arc"])
    circle = fitting.circle_held_centre(
        points, (given.number("centre_x_mm"), given.number("centre_z_mm"))
    )
    detail = detail_of(circle, points)
    turns = [math.atan2(z - circle.centre_z_mm, x - circle.centre_x_mm) for x, z in points]
    by_x, by_z = fmean(map(math.cos, turns)), fmean(map(math.sin, turns))
    rows = (
        given.component(
            f"crosshair, {len(points)} points, centre held",
            "crosshair",
            sensitivity=stated(circle.u_r_over_s),
        ),
        step(given.series["arc"].instrument, "readout step", averaged=len(points)),
        given.component("pivot in X", "place of the pivot", sensitivity=-by_x, common=True),
        given.component("pivot in Z", "place of the pivot", sensitivity=-by_z, common=True),
        *edge_rows(given),
    )
    return Outcome((circle.radius_mm,), Budget(rows, "um"), no_circle(given, circle), detail)


@method(
    "radius from chord and rise",
    roles=(
        Role(
            "arc", Reads.POINT, "both ends of the arc, and its middle", ("first", "middle", "last")
        ),
        RADIUS_MASTER,
    ),
    plane="image plane",
    refuses=("an arc below 60 deg",),
    formula="circle through three points: with the rise h over the middle of the chord c, "
    "R = c^2 / (8 h) + h / 2",
    source="derived; holds where the middle point isn't over the middle of the chord, too",
)
@to_20()
def chord_and_rise(given: Given) -> Outcome:
    """Radius of the circle through three points, the least that an arc can be read from."""
    arc = given.series["arc"]
    first, middle, last = points = [
        (arc.mean(mark, "X"), arc.mean(mark, "Z")) for mark in ("first", "middle", "last")
    ]
    circle = fitting.circle(points)
    chord = math.dist(first, last)
    along = (last[0] - first[0]) / chord, (last[1] - first[1]) / chord
    dx, dz = middle[0] - first[0], middle[1] - first[1]
    rows = (
        given.component(
            f"crosshair, three points over {circle.span_deg:.0f} deg",
            "crosshair",
            sensitivity=stated(circle.u_r_over_s),
            averaged=arc.repeats,
        ),
        step(arc.instrument, "readout step", sensitivity=stated(circle.u_r_over_s)),
        *edge_rows(given),
    )
    detail = detail_of(circle, points) | {
        "chord_mm": chord,
        "rise_mm": abs(dz * along[0] - dx * along[1]),
        "off_middle_mm": dx * along[0] + dz * along[1] - chord / 2,
    }
    return Outcome((circle.radius_mm,), Budget(rows, "um"), _too_short(circle), detail)


@method(
    "form of an arc",
    roles=(ARC,),
    plane="image plane",
    formula="largest less smallest distance from the least-squares circle, centre and radius free",
    source="derived; never less than the narrowest ring's, and the scatter of the sightings stays "
    "in it, which is on the safe side",
)
def form_of_arc(given: Given) -> Outcome:
    """Form of an arc: what its circle leaves, mm."""
    arc = given.series["arc"]
    points = points_of(arc)
    circle = fitting.circle(points)
    rows = (
        given.component("crosshair, two points", "crosshair", ends=2),
        step(arc.instrument, "readout step, two points", ends=2),
        given.component("edge", "edge"),
    )
    return Outcome((circle.form_mm,), Budget(rows, "um"), detail=detail_of(circle, points))


def _freedoms(given: Given) -> tuple[str, ...]:
    """What the best fit may move, as the plan declares it."""
    stated = given.parameters.get("freedoms")
    if isinstance(stated, tuple) and stated and set(stated) <= {"X", "Z"}:
        return tuple(map(str, stated))
    raise InputError(
        "the method needs declared freedoms",
        expected='freedoms = ["X", "Z"], or one of them',
        found=str(stated or "nothing"),
    )


@method(
    "profile, radius held",
    roles=(ARC,),
    asks=(
        Asks("form", "which side the metal is on", words=("convex", "concave")),
        Asks("freedoms", "what the best fit may move", words=("X", "Z"), many=True),
        Asks("radius_mm", "nominal radius"),
        Asks("centre_x_mm", "nominal centre"),
        Asks("centre_z_mm", "nominal centre"),
    ),
    plane="image plane, square to the nominal arc",
    refuses=("freedoms that aren't declared",),
    formula="distance square to the nominal arc after a best fit that sets free only what the "
    "plan declares; plus = metal left",
    source="derived: least squares of normal distances",
)
def profile(given: Given) -> Outcome:
    """Lowest and highest deviation of a profile from its nominal arc, mm."""
    arc = given.series["arc"]
    form = given.word("form", ("convex", "concave"))
    freedoms = _freedoms(given)
    radius = given.number("radius_mm")
    nominal = given.number("centre_x_mm"), given.number("centre_z_mm")
    points = grown(points_of(arc), nominal, factor(given))

    def fitted(points: Points) -> contour.ContourFit:
        # From the nominal centre, not through a free circle, which a short rough arc may not have.
        return contour.one_arc(points, nominal, radius, convex=form == "convex", freedoms=freedoms)

    placed = fitted(points)
    deviations = placed.deviations_mm
    metal = 1.0 if form == "convex" else -1.0
    circle = fitting.Circle(
        nominal[0] + placed.shift_x_mm,
        nominal[1] + placed.shift_z_mm,
        radius,
        tuple(metal * d for d in deviations),
        tuple(points),
    )
    rows = (
        given.component("crosshair, one point", "crosshair"),
        step(arc.instrument, "readout step"),
        given.component("scale", "scale"),
        given.component("edge", "edge"),
        *(thermal_rows(given, _steepest(fitted, points, nominal)) if given.thermal else ()),
    )
    detail = detail_of(circle, points) | {
        "deviations_mm": deviations,
        "shift_x_um": placed.shift_x_mm * 1000,
        "shift_z_um": placed.shift_z_mm * 1000,
    }
    if given.thermal and not lacking(given):
        detail[CORRECTION] = (max(deviations) - max(fitted(points_of(arc)).deviations_mm)) * 1000
    return Outcome((min(deviations), max(deviations)), Budget(rows, "um"), lacking(given), detail)


def grown(points: Points, about: tuple[float, float], by: float) -> Points:
    """The points moved away from a place that stays, ``by`` times as far."""
    if by == 1:
        return points
    return [(about[0] + by * (x - about[0]), about[1] + by * (z - about[1])) for x, z in points]


def _steepest(
    fitted: Callable[[Points], contour.ContourFit], points: Points, about: tuple[float, float]
) -> float:
    """How far growing by its own size moves the deviation that it moves most, mm."""
    by = 1e-4
    both = fitted(points).deviations_mm, fitted(grown(points, about, 1 + by)).deviations_mm
    return max(abs(b - a) / by for a, b in zip(*both, strict=True))
