"""Clearances along a profile: on the arc of a radius or ball nose, on a form-relieved tooth.

Drops count as in ``reliefs``: the reading at the last mark less that at the first, the edge.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from inspect_rec.compute import geometry, planes, reliefs
from inspect_rec.compute.uncertainty import Component
from inspect_rec.errors import InputError
from inspect_rec.methods.base import Given, Outcome, Series, calibration, drift_row, repeat, step
from inspect_rec.methods.quantities import Quantity, setting, worked_out
from inspect_rec.methods.register import Asks, Reads, Role, method
from inspect_rec.methods.reliefs import (
    DROP,
    LEVER,
    MASTER,
    RUBS,
    axial_float,
    dropped,
    fall_mm,
    height_of_axis,
    lever,
    lever_refusals,
    roll,
    turning_lever,
)

ROLL = Asks("roll_deg", "angle that the tool is rolled")
ARC = (
    Asks("arc_radius_mm", "radius of the arc"),
    Asks("centre_off_axis_mm", "distance of the arc's centre from the axis; 0 for a ball"),
    Asks("polar_deg", "place on the arc, seen from its centre: 0 on the radius, 90 at the tip"),
    Asks(
        "inclination_deg",
        "angle between the edge there and the plane through the axis; 0 for a straight flute",
    ),
)
_LEVER_REFUSED = "the lever is steeper than 30°, or turns too far for its cosine"
_ON_ARC = "square to the edge at the stated place on the arc"


def _arc(given: Given) -> list[Quantity]:
    """Radius, centre and place on the arc, and the inclination of its edge there."""
    return [
        setting(
            given,
            "radius of the arc",
            "radius of the edge",
            given.number("arc_radius_mm"),
            "mm",
        ),
        setting(
            given,
            "centre of the arc",
            "radius of the edge",
            given.number("centre_off_axis_mm"),
            "mm",
        ),
        setting(given, "place on the arc", "place on the arc", given.number("polar_deg"), "deg"),
        setting(
            given,
            "inclination of the edge",
            "helix of the edge",
            given.number("inclination_deg"),
            "deg",
        ),
    ]


def _off_axis(off_deg: float, polar_deg: float) -> float:
    """What looking past the axis does to a clearance in the plane square to an arc, deg."""
    return off_deg * math.cos(math.radians(polar_deg))


@method(
    "clearance on an arc from a normal drop",
    roles=(DROP, MASTER),
    asks=(
        Asks("land", "how it is ground", words=(reliefs.FLAT, reliefs.ECCENTRIC)),
        ROLL,
        *ARC,
        *LEVER,
    ),
    plane=_ON_ARC,
    assumes="the indicator reads square to the profile, toward the arc's centre, as the tool "
    "swung on its pivot shows it; the tool is rolled about its own axis",
    refuses=("the heel stands above the edge", _LEVER_REFUSED, "land or place isn't stated"),
    formula="with rho = c + R cos t: eccentric land: tan a = h / (rho p); flat land: "
    "tan a = (h sin^2 t + cos t (rho - (rho - h cos t) cos p)) / ((rho - h cos t) sin p); square "
    "to an inclined edge tan a_n = tan a / cos l",
    source="derived: the land's plane met by the rolled indicator; cosine of the lever: common "
    "practice",
    unit="deg",
)
def normal_drop(given: Given) -> Outcome:
    """Clearance square to the edge of a radius or ball nose, from the drop along its normal, deg.

    The plane square to an edge that lies in a plane through the axis holds the profile's normal
    and the direction of turning; in it the point at distance rho from the axis has travelled
    rho p, and the land has fallen by h. ``compute.reliefs.on_arc`` has the flat land's plane."""
    land = given.word("land", (reliefs.FLAT, reliefs.ECCENTRIC))
    drop = given.series["drop"]

    def model(read: float, lever: float, rolled: float, off: float, *arc: float) -> float:
        radius, centre, polar, inclined = arc
        rho = reliefs.radius_on_arc(centre, radius, polar)
        found = reliefs.on_arc(land, geometry.true_drop(read, lever), rolled, rho, polar)
        return planes.normal_clearance(found + _off_axis(off, polar), inclined)

    value, budget = worked_out(
        model,
        dropped(given, drop),
        lever(given),
        roll(given),
        height_of_axis(given),
        *_arc(given),
        unit="deg",
    )
    read = fall_mm(drop)
    refusals = (RUBS,) if read <= 0 else ()
    detail = {"drop_mm": geometry.true_drop(read, given.number("lever_deg"))}
    return Outcome((value,), budget, (*refusals, *lever_refusals(given, read)), detail)


def _laid_up(given: Given, drop: Series, what: str) -> Quantity:
    """The drop of one direction, without what both directions share."""
    return Quantity(
        (fall_mm(drop),),
        lambda slope: [
            repeat(
                drop.instrument,
                f"repeat of a {what} reading, edge and end of roll",
                sensitivity=slope / 1000,
                ends=2,
                averaged=drop.repeats,
            ),
            step(drop.instrument, f"step, {what} drop", sensitivity=slope / 1000, ends=2),
            *turning_lever(given, drop, slope / 1000),
        ],
    )


def _of_both(given: Given, drops: tuple[Series, Series]) -> Quantity:
    """What one indicator does to both drops alike, 0 mm; of two, the less certain does it."""
    worst = max((drop.instrument for drop in drops), key=lambda found: found.expanded or 0.0)

    def rows(slope: float) -> list[Component]:
        per_um = slope / 1000
        return [
            calibration(worst, "indicator, calibration, in both drops", sensitivity=per_um),
            *drift_row(given, "master", "drift of the indicator check", sensitivity=per_um),
        ]

    return Quantity((0.0,), rows)


@method(
    "clearance on an arc from radial and axial drops",
    roles=(
        Role(
            "radial",
            Reads.INDICATOR,
            "square to the axis, where the profile is along it: at the edge, and after the roll",
            least=2,
        ),
        Role(
            "axial",
            Reads.INDICATOR,
            "along the axis, where the profile is square to it: at the edge, and after the roll",
            least=2,
        ),
        MASTER,
    ),
    asks=(ROLL, *ARC, *LEVER),
    plane=_ON_ARC,
    assumes="one cam carries the whole profile inward and back while the tool turns; both drops "
    "are read over the same roll, with the same lever",
    refuses=("the land stands above the edge there", _LEVER_REFUSED),
    formula="tan a = (h_r cos t + h_a sin t) / ((c + R cos t) p); square to an inclined edge "
    "tan a_n = tan a / cos l",
    source="derived: a profile that is carried by (h_r, h_a) falls square to itself by "
    "h_r cos t + h_a sin t",
    unit="deg",
)
def two_drops(given: Given) -> Outcome:
    """Clearance square to the edge at a place on an arc, from the radial and the axial drop, deg.

    In each section through the axis the profile has moved, for the angle p rolled, by (h_r, h_a).
    Its normal at polar angle t is (cos t, sin t), so that the tangent plane there has fallen by
    h_r cos t + h_a sin t along it. The edge's point has travelled rho p = (c + R cos t) p in the
    direction of turning. Both directions lie in the plane square to an edge that lies in a plane
    through the axis, and the clearance there is the angle between them."""
    radial, axial = given.series["radial"], given.series["axial"]

    def model(
        inward: float,
        back: float,
        both: float,
        floated: float,
        lever: float,
        rolled: float,
        off: float,
        *arc: float,
    ) -> float:
        radius, centre, polar, inclined = arc
        rho = reliefs.radius_on_arc(centre, radius, polar)
        h_r = geometry.true_drop(inward + both, lever)
        h_a = geometry.true_drop(back + both, lever) + floated
        found = reliefs.on_arc_of_two(h_r, h_a, rolled, rho, polar)
        return planes.normal_clearance(found + _off_axis(off, polar), inclined)

    value, budget = worked_out(
        model,
        _laid_up(given, radial, "radial"),
        _laid_up(given, axial, "axial"),
        _of_both(given, (radial, axial)),
        axial_float(given),
        lever(given),
        roll(given),
        height_of_axis(given),
        *_arc(given),
        unit="deg",
    )
    refusals = ["the land stands above the edge there: it rubs"] if value <= 0 else []
    for drop in (radial, axial):
        refusals += lever_refusals(given, fall_mm(drop))
    angle = given.number("lever_deg")
    falls = tuple(geometry.true_drop(fall_mm(drop), angle) for drop in (radial, axial))
    return Outcome((value,), budget, tuple(dict.fromkeys(refusals)), {"drops_mm": falls})


Crest = Callable[..., float]


def _of_crest(given: Given, model: Crest, more: list[Quantity], unit: str) -> Outcome:
    """What the drop of a form-relieved tooth's crest gives."""
    drop = given.series["drop"]
    value, budget = worked_out(
        model, dropped(given, drop), lever(given), roll(given), *more, unit=unit
    )
    read = fall_mm(drop)
    refusals = (RUBS,) if read <= 0 or value <= 0 else ()
    detail = {"drop_mm": geometry.true_drop(read, given.number("lever_deg"))}
    return Outcome((value,), budget, (*refusals, *lever_refusals(given, read)), detail)


@method(
    "rise of a form relief",
    roles=(DROP, MASTER),
    asks=(ROLL, Asks("teeth", "number of teeth"), *LEVER),
    plane="along the radius",
    assumes="the crest is read: a part of the profile along the axis",
    refuses=("the heel stands above the edge", _LEVER_REFUSED),
    formula="drop of the crest x 360 / number of teeth / angle rolled",
    source="derived: the cam rises evenly with the angle turned",
)
def form_rise(given: Given) -> Outcome:
    """Rise of the relieving cam for each tooth, mm."""
    teeth = given.number("teeth")
    if teeth != int(teeth):
        raise InputError("a tool has whole teeth", expected="a whole number", found=f"{teeth:g}")

    def model(read: float, lever: float, rolled: float) -> float:
        return reliefs.form_rise(geometry.true_drop(read, lever), rolled, teeth)

    return _of_crest(given, model, [], "um")


@method(
    "clearance normal to a form flank",
    roles=(DROP, MASTER),
    asks=(
        ROLL,
        Asks("point_radius_mm", "distance of the flank's point from the axis"),
        Asks("flank_deg", "angle of the flank against the radius: 90 on the crest, 0 radial"),
        Asks("relieved_deg", "lean of the relief from the radius toward the flank; 0 if radial"),
        *LEVER,
    ),
    plane="square to the profile's edge",
    assumes="the crest is read: a part of the profile along the axis; the face is radial",
    refuses=("the heel stands above the edge", "the flank gets no clearance", _LEVER_REFUSED),
    formula="tan a = (h / cos t) sin(s + t) / (rho p), with the drop h of the crest over the "
    "angle p rolled, the flank at s to the radius, the relief at t, and its point at rho; on the "
    "crest under radial relief this is tan a = k z / (pi D)",
    source="derived: what the cam carries along its direction, seen square to the flank",
    unit="deg",
)
def form_flank(given: Given) -> Outcome:
    """Clearance square to a flank of a form-relieved profile, deg."""

    def model(
        read: float,
        lever: float,
        rolled: float,
        off: float,
        radius: float,
        flank: float,
        relieved: float,
    ) -> float:
        h = geometry.true_drop(read, lever)
        found = reliefs.form_flank(h, rolled, radius, flank, relieved)
        return found + off * math.sin(math.radians(flank))

    flank, leans = given.number("flank_deg"), given.number("relieved_deg")
    radius = given.number("point_radius_mm")
    return _of_crest(
        given,
        model,
        [
            height_of_axis(given),
            setting(given, "radius of the point", "radius of the edge", radius, "mm"),
            setting(given, "angle of the flank", "flank of the form", flank, "deg"),
            setting(given, "direction of the relief", "direction of the relief", leans, "deg"),
        ],
        "deg",
    )
