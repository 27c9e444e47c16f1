"""Radii, profiles and the places of arcs, from points sighted round an arc."""

from __future__ import annotations

import math
from collections.abc import Callable

from inspect_rec.compute import fitting
from inspect_rec.compute.uncertainty import Budget, Component, spread_of_flutes
from inspect_rec.errors import InputError
from inspect_rec.methods.base import Given, Outcome, Series, drift_row, stated, step
from inspect_rec.methods.register import Asks, Reads, Role, method
from inspect_rec.methods.widths import AXIS, axis_row, middle_mm

ARC = Role("arc", Reads.POINT, "points spread round the arc, both ends included", least=3)
RADIUS_MASTER = Role(
    "master", Reads.POINT, "points round a radius master", least=3, master=True, needed=False
)

SHORTEST_SPAN_DEG = 60.0
"""Below about this span a free radius isn't worth reporting (trade: common practice)."""

Points = list[tuple[float, float]]


def points_of(series: Series) -> Points:
    """The sighted points (x, z), mm."""
    return [(t["X"], t["Z"]) for t in series.taken]


def on_axis(given: Given, arc: Series) -> fitting.Circle:
    """The circle whose centre is held on the axis along the radial slide."""
    radial = given.slides.radial
    axis_mm = middle_mm(given.series["axis"], radial)
    return fitting.circle_on_axis(points_of(arc), axis_mm, which=radial.lower())


def _detail(circle: fitting.Circle, points: Points) -> dict[str, float | tuple[float, ...]]:
    centre_x, centre_z = circle.centre_x_mm, circle.centre_z_mm
    return {
        "centre_x_mm": centre_x,
        "centre_z_mm": centre_z,
        "radius_mm": circle.radius_mm,
        "form_um": circle.form_mm * 1000,
        "span_deg": circle.span_deg,
        "distances_mm": tuple(math.hypot(x - centre_x, z - centre_z) for x, z in points),
        "angles_deg": tuple(
            math.degrees(math.atan2(z - centre_z, x - centre_x)) for x, z in points
        ),
    }


def _form(given: Given, circle: fitting.Circle) -> tuple[str, ...]:
    """A radius whose form takes half its tolerance is no circle (trade: common practice)."""
    if given.width is None or circle.form_mm <= given.width / 2:
        return ()
    return (f"form {circle.form_mm * 1000:.1f} µm is more than half of the tolerance: no circle",)


def _edge_rows(given: Given) -> list[Component]:
    return [
        given.component("scale", "scale", common=True),
        given.component("edge out of the axial plane, roundness of the edge", "edge"),
        *drift_row(given, "master", "drift of the radius master", common=True),
    ]


@method(
    "arc, centre on the axis",
    roles=(ARC, AXIS, RADIUS_MASTER),
    plane="image plane through the axis",
    assumes="the centre lies on the axis",
    refuses=("a form of more than half the tolerance: no circle",),
    formula="least-squares circle whose centre is held on the axis, free along the tool",
    source="derived: normal equations with one coordinate of the centre held",
)
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
        *_edge_rows(given),
    ]
    along = circle.centre_z_mm if given.slides.along == "Z" else circle.centre_x_mm
    detail = _detail(circle, points_of(arc)) | {
        "tip_mm": along + given.slides.tip * circle.radius_mm
    }
    return Outcome((circle.radius_mm,), Budget(tuple(rows), "um"), _form(given, circle), detail)


@method(
    "arc, free centre",
    roles=(ARC, RADIUS_MASTER),
    plane="image plane",
    refuses=(
        "an arc below 60 deg",
        "a form of more than half the tolerance: no circle",
    ),
    formula="least-squares circle, centre and radius free",
    source="derived; Gander, Golub, Strebel, BIT 34 (1994) for the example it is checked against",
)
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
        *_edge_rows(given),
    ]
    refusals = list(_form(given, circle))
    if circle.span_deg < SHORTEST_SPAN_DEG:
        refusals.append(
            f"an arc of {circle.span_deg:.0f}° is too short for a free radius: report the profile "
            "deviation, or hold the centre"
        )
    return Outcome(
        (circle.radius_mm,),
        Budget(tuple(rows), "um"),
        tuple(refusals),
        _detail(circle, points_of(arc)),
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
    if given.parameters.get("freedoms") != ("X", "Z"):
        raise InputError(
            "the method needs declared freedoms",
            expected='freedoms = ["X", "Z"]',
            found=str(given.parameters.get("freedoms", "nothing")),
        )
    radius = given.number("radius_mm")
    points = points_of(arc)
    circle = fitting.circle_held_radius(points, radius)
    metal = 1.0 if form == "convex" else -1.0
    deviations = tuple(metal * r for r in circle.residuals_mm)
    rows = (
        given.component("crosshair, one point", "crosshair"),
        step(arc.instrument, "readout step"),
        given.component("scale", "scale"),
        given.component("edge", "edge"),
    )
    detail = _detail(circle, points) | {
        "deviations_mm": deviations,
        "shift_x_um": (circle.centre_x_mm - given.number("centre_x_mm")) * 1000,
        "shift_z_um": (circle.centre_z_mm - given.number("centre_z_mm")) * 1000,
    }
    return Outcome((min(deviations), max(deviations)), Budget(rows, "um"), detail=detail)


def _spread(
    given: Given, place: Callable[[Series], tuple[float, float]], more: list[Component], name: str
) -> Outcome:
    """Largest less smallest of a place of each flute's arc; ``place`` gives mm and u/s."""
    arc = given.series["arc"]
    found = [place(arc.of_flute(n)) for n in arc.flutes]
    places = tuple(value for value, _ in found)
    own = Budget(
        (
            given.component(
                name, "crosshair", sensitivity=stated(max(sensitivity for _, sensitivity in found))
            ),
            given.component("edge", "edge"),
            *more,
        ),
        "um",
    )
    return Outcome(
        (max(places) - min(places),),
        spread_of_flutes(own, "one flute, own part"),
        detail={"places_mm": places},
    )


@method(
    "spread of the tips",
    roles=(ARC, AXIS),
    plane="along the axis",
    assumes="the centres lie on the axis",
    formula="largest less smallest place of the tips along the tool, the tip being centre plus "
    "radius of the arc held on the axis",
    source="derived",
    over_flutes=True,
)
def tip_spread(given: Given) -> Outcome:
    """Spread of the tips of a ball nose along the tool, mm."""

    def tip(arc: Series) -> tuple[float, float]:
        circle = on_axis(given, arc)
        along = circle.centre_z_mm if given.slides.along == "Z" else circle.centre_x_mm
        return along + given.slides.tip * circle.radius_mm, circle.u_tip_over_s

    return _spread(given, tip, [], "crosshair, place of the tip")


@method(
    "spread of the centres",
    roles=(ARC,),
    plane="along the radial slide",
    formula="largest less smallest place of the centres of the arcs along the radial slide",
    source="derived",
    over_flutes=True,
)
def centre_spread(given: Given) -> Outcome:
    """Spread of the radial places of a profile's arcs over the teeth, mm."""

    def centre(arc: Series) -> tuple[float, float]:
        circle = fitting.circle(points_of(arc))
        if given.slides.radial == "Z":
            return circle.centre_z_mm, circle.u_cz_over_s
        return circle.centre_x_mm, circle.u_cx_over_s

    indexing = given.component("indexing, run-out of the arbor", "indexing")
    return _spread(given, centre, [indexing], "crosshair, place of the centre")
