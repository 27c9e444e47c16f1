"""Clearances from the drop of a land on the periphery under an indicator.

A drop is the reading at the last mark less that at the first, the edge: the indicator is set to
count up where the surface falls.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from inspect_rec.compute import geometry, planes, reliefs
from inspect_rec.compute.uncertainty import Budget, Component, Distribution
from inspect_rec.methods.base import (
    Given,
    Outcome,
    Series,
    calibration,
    drift_row,
    repeat,
    step,
)
from inspect_rec.methods.quantities import Quantity, setting, sighted, worked_out
from inspect_rec.methods.register import Asks, Reads, Role, asked_where, method, newer, where
from inspect_rec.methods.widths import SIDES, width_mm

DROP = Role("drop", Reads.INDICATOR, "at the edge, and down the land", least=2)
MASTER = Role("master", Reads.INDICATOR, "a step of gauge blocks", master=True, needed=False)
RUBS = "the heel stands above the edge: it rubs"

STEEPEST_LEVER = 30.0
"""Deg; beyond it the cosine of a lever isn't known well enough (common practice)."""
LARGEST_TURN = 0.01
"""Part of a drop by which a lever that turns while it reads may make it wrong."""

EDGE_RADIUS = Asks("edge_radius_mm", "radius of the edge")
LAND = Asks("land", "how the land is ground", words=reliefs.LANDS)
WHEEL = asked_where(
    where("land", reliefs.HOLLOW),
    "wheel_radius_mm",
    "radius of the wheel that ground a hollow land, axis along the edge",
)
LEVER = (
    Asks("lever_deg", "angle of the indicator's lever against the surface; 0 for a plunger"),
    asked_where(
        lambda p: p.get("lever_deg", 0) != 0, "lever_mm", "length of the lever, unless that is 0"
    ),
)
PLANE = (
    Asks("plane", "where the clearance is meant", words=("transverse", "normal")),
    asked_where(where("plane", "normal"), "helix_deg", "helix angle of the edge, if normal"),
)


def fall_mm(series: Series) -> float:
    """Reading at the last mark less that at the first, mm."""
    first, last = series.marks[0], series.marks[-1]
    return series.mean(last, series.channel) - series.mean(first, series.channel)


def drop_rows(given: Given, drop: Series, per_um: float, ends: str) -> list[Component]:
    """What an indicator adds to a clearance that moves by ``per_um`` deg for 1 um of drop."""
    return [
        calibration(drop.instrument, "indicator, calibration", sensitivity=per_um),
        repeat(
            drop.instrument,
            f"repeat of a reading, {ends}",
            sensitivity=per_um,
            ends=2,
            averaged=drop.repeats,
        ),
        step(drop.instrument, "step of the indicator", sensitivity=per_um, ends=2),
        *drift_row(given, "master", "drift of the indicator check", sensitivity=per_um),
    ]


def dropped(given: Given, drop: Series) -> Quantity:
    """The drop of a land as it was read, lever and all, mm."""
    return Quantity((fall_mm(drop),), lambda slope: _read_rows(given, drop, slope))


def _read_rows(given: Given, drop: Series, slope: float) -> list[Component]:
    rows = drop_rows(given, drop, slope / 1000, "edge and land")
    return [*rows, *turning_lever(given, drop, slope / 1000)]


def turning_lever(given: Given, drop: Series, per_um: float) -> list[Component]:
    """The row for a lever that turns while it reads; a plunger has none."""
    angle = given.number("lever_deg")
    if not angle:
        return []
    off = reliefs.lever_turns(fall_mm(drop), angle, given.number("lever_mm"))
    return [
        Component(
            name="lever that turns while it reads",
            amount=off * 1000,
            distribution=Distribution.RECTANGULAR,
            sensitivity=per_um / math.cos(math.radians(angle)),
        )
    ]


def lever(given: Given) -> Quantity:
    """Angle of the indicator's lever against the surface, deg."""
    value = given.number("lever_deg")
    return setting(given, "angle of the lever", "angle of the lever", value, "deg")


def lever_refusals(given: Given, reading_mm: float) -> tuple[str, ...]:
    """Why the cosine of the lever can't stand for its reading."""
    angle = given.number("lever_deg")
    if abs(angle) > STEEPEST_LEVER:
        return (f"the lever stands at {angle:g}°, its cosine holds up to {STEEPEST_LEVER:g}°",)
    if not angle:
        return ()
    off = reliefs.lever_turns(reading_mm, angle, given.number("lever_mm"))
    if off > LARGEST_TURN * abs(geometry.true_drop(reading_mm, angle)):
        return ("the lever turns too far for one cosine: roll or travel less, or lay it flatter",)
    return ()


def edge_radius(given: Given) -> Quantity:
    """Radius of the edge, mm."""
    value = given.number("edge_radius_mm")
    return setting(given, "radius of the edge", "radius of the edge", value, "mm")


def roll(given: Given) -> Quantity:
    """Angle rolled, deg."""
    return setting(given, "angle rolled", "angle rolled", given.number("roll_deg"), "deg")


def height_of_axis(given: Given) -> Quantity:
    """How far the indicator looks past the axis, as an angle: 0, deg."""
    return setting(given, "height of the axis", "height of the axis, angle", 0.0, "deg")


def travel(given: Given) -> Quantity:
    """Travel of the slide from the edge, mm."""
    value = given.number("travel_mm")
    return setting(given, "travel over the land", "travel over the land", value, "mm")


def axial_float(given: Given) -> Quantity:
    """How far the tool floats along its axis while it is rolled: 0, mm."""
    return Quantity(
        (0.0,),
        lambda slope: [
            given.component(
                "axial float while it is rolled", "axial float", sensitivity=slope / 1000
            )
        ],
    )


@method(
    "clearance from a rolled drop",
    roles=(
        Role("drop", Reads.INDICATOR, "at the edge, and after the roll", least=2),
        MASTER,
    ),
    asks=(
        Asks("land", "how the land is ground", words=("flat", "eccentric")),
        Asks("edge_radius_mm", "radius of the edge"),
        Asks("roll_deg", "angle that the tool is rolled"),
    ),
    plane="transverse",
    assumes="the indicator reads square to the axis and along its own way (a plunger, or a lever "
    "laid at 0 deg); it stands still over the axis, and the edge starts under it",
    refuses=("the heel stands above the edge", "the kind of land isn't stated"),
    formula="flat land: tan a = (r / (r - h) - cos p) / sin p; eccentric land: tan a = h / (r p), "
    "with the drop h over the angle p rolled under a still indicator and r the radius of the edge",
    source="derived from plane geometry",
    unit="deg",
)
def rolled_drop(given: Given) -> Outcome:
    """Clearance in the transverse plane from the drop of a tool rolled under an indicator, deg."""
    drop = given.series["drop"]
    land = given.word("land", ("flat", "eccentric"))
    radius, roll = given.number("edge_radius_mm"), given.number("roll_deg")
    h_mm = fall_mm(drop)
    relief = geometry.rolled_flat if land == "flat" else geometry.rolled_eccentric
    found = relief(h_mm, roll, radius)
    per_um = found.per_drop_deg_per_um
    rows = (
        *drop_rows(given, drop, per_um, "edge and end of roll"),
        given.component(
            "angle rolled", "angle rolled", sensitivity=found.per_roll_deg_per_deg, unit="deg"
        ),
        given.component(
            "radius of the edge",
            "radius of the edge",
            sensitivity=found.per_radius_deg_per_mm,
            unit="mm",
        ),
        given.component("height of the axis", "height of the axis, angle", unit="deg"),
    )
    refusals = (RUBS,) if h_mm <= 0 else ()
    return Outcome((found.clearance_deg,), Budget(rows, "deg"), refusals, {"drop_mm": h_mm})


Point = Callable[[float, float, float], tuple[float, float]]
"""From drop, travel (roll, width) and radius, the second point along and below the edge."""


def _of_land(
    given: Given, point: Point, over: Quantity, *, off_counts_hollow: bool = False
) -> Outcome:
    """A clearance in the plane that the plan states, from the edge and a second point.

    ``off_counts_hollow``: an edge that isn't under the indicator moves both of a still one's
    points round the hollow, too."""
    land = given.word("land", reliefs.LANDS)
    plane = given.word("plane", ("transverse", "normal"))
    drop = given.series["drop"]
    wheel, helix = 0.0, 0.0
    more = []
    if land == reliefs.HOLLOW:
        wheel = given.number("wheel_radius_mm")
        more.append(setting(given, "radius of the wheel", "radius of the wheel", wheel, "mm"))
    if plane == "normal":
        helix = given.number("helix_deg")
        more.append(setting(given, "helix of the edge", "helix of the edge", helix, "deg"))

    def transverse(
        read: float, lever: float, over: float, radius: float, off: float, wheel: float = 0.0
    ) -> float:
        place = point(geometry.true_drop(read, lever), over, radius)
        along_hollow = radius / wheel if off_counts_hollow and wheel else 0.0
        return reliefs.of_land(land, *place, radius, wheel) + off * (1 + along_hollow)

    def stated_plane(*figures: float) -> float:
        if plane == "transverse":
            return transverse(*figures)
        return planes.normal_clearance(transverse(*figures[:-1]), figures[-1])

    radius, axis = edge_radius(given), height_of_axis(given)
    value, budget = worked_out(
        stated_plane, dropped(given, drop), lever(given), over, radius, axis, *more, unit="deg"
    )
    read, angle = fall_mm(drop), given.number("lever_deg")
    h = geometry.true_drop(read, angle)
    along, below = point(h, over.values[0], radius.values[0])
    chord = math.degrees(math.atan2(below, along))
    rubs = value <= 0 or math.hypot(along, radius.values[0] - below) >= radius.values[0]
    refusals = (RUBS,) if rubs else ()
    detail = {"drop_mm": h, "chord_deg": chord}
    if plane == "normal":
        in_view = transverse(read, angle, over.values[0], radius.values[0], 0.0, wheel)
        detail["transverse_deg"] = in_view
    return Outcome((value,), budget, (*refusals, *lever_refusals(given, read)), detail)


_LANDS = (
    "tan a of its chord; eccentric land: tan a = fall of the radius / (r x angle between); hollow "
    "land: chord and asin(chord length / (2 wheel radius)); in the normal plane "
    "tan a_n = tan a / cos helix"
)
_STATED_PLANE = "transverse, or square to the edge: as stated"
REFUSES = (
    "the heel stands above the edge",
    "the lever is steeper than 30°, or turns too far for its cosine",
    "kind of land or plane isn't stated",
)
DERIVED = "derived from plane geometry; cosine of the lever: common practice"


@method(
    "clearance from a slid drop",
    roles=(DROP, MASTER),
    asks=(
        LAND,
        EDGE_RADIUS,
        Asks("travel_mm", "travel of the slide from the edge, along the tangent"),
        WHEEL,
        *LEVER,
        *PLANE,
    ),
    plane=_STATED_PLANE,
    assumes="the tool stands still with its edge at the height of the axis, the indicator square "
    "to the travel",
    refuses=REFUSES,
    formula="flat land: tan a = reading x cos lever / travel, " + _LANDS,
    source=DERIVED,
    unit="deg",
)
def slid_drop(given: Given) -> Outcome:
    """Clearance from the drop of a still tool's land, carried past an indicator by a slide, deg."""
    return _of_land(given, lambda h, along, _: (along, h), travel(given))


@method(
    "clearance in a stated plane from a rolled drop",
    roles=(DROP, MASTER),
    asks=(
        LAND,
        EDGE_RADIUS,
        Asks("roll_deg", "angle that the tool is rolled"),
        WHEEL,
        *LEVER,
        *PLANE,
    ),
    plane=_STATED_PLANE,
    assumes="the indicator stands still over the axis, and the edge starts under it",
    refuses=REFUSES,
    formula="flat land, second point at (r - h) sin p along, r - (r - h) cos p below: " + _LANDS,
    source=DERIVED,
    unit="deg",
)
def rolled_in_plane(given: Given) -> Outcome:
    """Clearance from the drop of a tool rolled under an indicator, deg, in a stated plane."""
    return _of_land(given, reliefs.rolled_point, roll(given))


@newer(
    "clearance in a stated plane from a rolled drop",
    2,
    assumes="the indicator stands still over the axis, and the edge starts under it; on a hollow "
    "land an edge that doesn't counts (1 + r / wheel radius) times",
    since="let such an edge count once: on a simulated machine its U held 94.4 of 100 values of "
    "hollow lands instead of 95.45",
)
def rolled_in_plane_hollow(given: Given) -> Outcome:
    """Clearance from the drop of a tool rolled under an indicator, deg, in a stated plane."""
    return _of_land(given, reliefs.rolled_point, roll(given), off_counts_hollow=True)


@method(
    "clearance from land width and heel drop",
    roles=(
        DROP,
        Role("width", Reads.RADIAL, "both sides of the land, seen square on", SIDES),
        MASTER,
    ),
    asks=(LAND, EDGE_RADIUS, WHEEL, *LEVER, *PLANE),
    plane=_STATED_PLANE,
    assumes="the width is the chord from edge to heel in the transverse plane; edge and heel are "
    "read at the height of the axis, the tool turned in between",
    refuses=REFUSES,
    formula="flat land: sin a = (w^2 + 2 r h - h^2) / (2 r w) with the drop h of the heel and the "
    "width w, " + _LANDS,
    source=DERIVED + "; h / w alone is wrong on a round tool",
    unit="deg",
)
def heel_drop(given: Given) -> Outcome:
    """Clearance from the width of the land and how much lower in radius its heel stands, deg."""
    land = given.series["width"]
    width = sighted(given, land, "the land", width_mm(land, given.slides.radial))

    def rows(slope: float) -> list[Component]:
        at_both = [
            given.component(
                "light on both sides of the land", "light", sensitivity=2 * slope / 1000
            )
        ]
        return [*width.rows(math.sqrt(2) * slope), *at_both]

    return _of_land(given, reliefs.heel_point, Quantity(width.values, rows))
