"""Angles: of points and lips, by protractor, and between two points."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import fmean

from inspect_rec.compute import geometry
from inspect_rec.compute.reach import length
from inspect_rec.compute.uncertainty import Budget, Component, Distribution
from inspect_rec.errors import ComputeError, InputError
from inspect_rec.methods.base import (
    Given,
    Outcome,
    Series,
    calibration,
    drift_row,
    step,
)
from inspect_rec.methods.register import Asks, Reads, Role, method, newer

LIPS = Role("lips", Reads.POINT, "two points of each lip, far apart", least=2)
_LEG = Asks("leg_mm", "length of the shorter leg that the line is laid on")
_ANGLE_MASTER = Role("master", Reads.ANGLE, "an angle master", master=True, needed=False)


def _leg(series: Series, given: Given) -> tuple[float, float]:
    """Half angle (deg) against the tool axis and leg (mm) of the two points of one edge."""
    radial, along = given.slides.radial, given.slides.along
    if len(series.marks) != 2:
        raise InputError("an edge needs two points", expected="2", found=str(len(series.marks)))
    first, second = series.marks
    dr = abs(series.mean(second, radial) - series.mean(first, radial))
    dz = abs(series.mean(second, along) - series.mean(first, along))
    leg = math.hypot(dr, dz)
    length(leg, "leg: both points of an edge lie at one place")
    return math.degrees(math.atan2(dr, dz)), leg


def _leg_rows(
    given: Given, series: Series, leg_mm: float, kappa: float, edges: int, repeats: int
) -> list[Component]:
    """What each edge adds on its own: two points, step, edge turned out of the image plane."""
    per_um = math.degrees(1e-3 / leg_mm)
    plane = given.component("", "lip out of the image plane", unit="deg")
    return [
        given.component(
            "crosshair at the two points",
            "crosshair",
            sensitivity=per_um,
            ends=2 * edges,
            averaged=repeats,
        ),
        step(series.instrument, "readout step", sensitivity=per_um, ends=2 * edges),
        replace(
            plane,
            name=f"edge up to {plane.amount:g} deg out of the image plane",
            amount=geometry.edge_out_of_plane(kappa, plane.amount) - kappa,
            distribution=Distribution.ONE_SIDED,
            ends=edges,
        ),
    ]


def _lips(given: Given) -> tuple[tuple[float, ...], tuple[float, ...], list[Component]]:
    lips = given.series["lips"]
    each = [lips.of_flute(n) for n in lips.flutes]
    if len(each) != 2:
        raise InputError("a point angle needs two lips", expected="2", found=str(len(each)))
    found = [_leg(lip, given) for lip in each]
    kappas = tuple(kappa for kappa, _ in found)
    legs = tuple(leg for _, leg in found)
    repeats = min(lip.repeats for lip in each)
    return kappas, legs, _leg_rows(given, each[0], min(legs), max(kappas), 2, repeats)


def _square(given: Given, *, in_sum: bool) -> list[Component]:
    """What the slides lack in squareness turns both lips alike in the picture: of lips sighted on
    one side, the tool indexed in between, it adds up in the sum and cancels in the difference; of
    lips sighted on both sides of the axis the other way round."""
    lips, (radial, along) = given.series["lips"], (given.slides.radial, given.slides.along)
    ways = []
    for lip in (lips.of_flute(n) for n in lips.flutes):
        first, second = lip.marks
        dr = lip.mean(second, radial) - lip.mean(first, radial)
        ways.append(dr * (lip.mean(second, along) - lip.mean(first, along)))
    if (math.prod(ways) >= 0) is not in_sum:
        return []
    name = "squareness of the slides, in both lips"
    return [given.component(name, "squareness", sensitivity=2, unit="deg")]


@method(
    "point angle from the lips",
    roles=(LIPS,),
    plane="image plane, each lip turned into it",
    refuses=("other than two lips",),
    formula="sum of the two half angles, each from two points of its lip",
    source="derived",
    unit="deg",
    over_flutes=True,
)
def point_angle(given: Given) -> Outcome:
    """Included angle of a drill point, deg."""
    kappas, legs, rows = _lips(given)
    rows += _square(given, in_sum=True)
    detail = {"half_angles_deg": kappas, "legs_mm": legs}
    return Outcome((sum(kappas),), Budget(tuple(rows), "deg"), detail=detail)


@newer(
    "point angle from the lips",
    2,
    assumes="a lip out of the image plane reads short; the value isn't corrected by that, so it "
    "counts with its full amount to both sides",
    since="counted how far such a lip is spread about its mean, and not the mean: on a simulated "
    "machine its U held 84 of 100 values instead of 95",
)
def point_angle_uncorrected(given: Given) -> Outcome:
    """Included angle of a drill point, deg."""
    return _both_ways(point_angle(given))


@method(
    "lip symmetry from the lips",
    roles=(LIPS,),
    plane="image plane, each lip turned into it",
    refuses=("other than two lips",),
    formula="difference of the two half angles, without sign",
    source="derived; the squareness of the slides cancels where both lips are sighted on one side",
    unit="deg",
    over_flutes=True,
)
def lip_symmetry(given: Given) -> Outcome:
    """Difference of the half angles of the two lips, deg."""
    kappas, legs, rows = _lips(given)
    rows += _square(given, in_sum=False)
    detail = {"half_angles_deg": kappas, "legs_mm": legs}
    return Outcome((abs(kappas[0] - kappas[1]),), Budget(tuple(rows), "deg"), detail=detail)


@method(
    "angle by two points",
    roles=(Role("edge", Reads.POINT, "two points of the edge, far apart", least=2),),
    plane="image plane",
    refuses=("other than two points",),
    formula="angle against the tool axis of the line through two points of the edge",
    source="derived",
    unit="deg",
)
def two_points(given: Given) -> Outcome:
    """Angle of one edge against the tool axis, deg."""
    edge = given.series["edge"]
    kappa, leg = _leg(edge, given)
    rows = (
        *_leg_rows(given, edge, leg, kappa, 1, edge.repeats),
        given.component("squareness of the slides", "squareness", common=True, unit="deg"),
    )
    return Outcome((kappa,), Budget(rows, "deg"), detail={"leg_mm": leg})


@newer(
    "angle by two points",
    2,
    assumes="an edge out of the image plane reads short; the value isn't corrected by that, so it "
    "counts with its full amount to both sides",
    since="counted how far such an edge is spread about its mean, and not the mean: on a simulated "
    "machine its U held 86 of 100 values instead of 95",
)
def two_points_uncorrected(given: Given) -> Outcome:
    """Angle of one edge against the tool axis, deg."""
    return _both_ways(two_points(given))


def _both_ways(found: Outcome) -> Outcome:
    """The same, what always reads short and isn't corrected counted in full to both sides."""
    rows = tuple(
        replace(row, distribution=Distribution.RECTANGULAR)
        if row.distribution is Distribution.ONE_SIDED
        else row
        for row in found.budget.components
    )
    return replace(found, budget=Budget(rows, found.budget.unit))


def _per_um(given: Given) -> float:
    """What a line turns, deg, where one end of the leg that it is laid on is 1 um off."""
    leg = given.number("leg_mm")
    length(leg, "leg_mm")
    return math.degrees(1e-3 / leg)


@method(
    "angle by protractor, sum of the sides",
    roles=(
        Role("sides", Reads.ANGLE, "each side of the cone, read on the reticle", least=2),
        _ANGLE_MASTER,
    ),
    asks=(_LEG,),
    plane="axial, included",
    assumes="each side is read against the axis, from 0 to 90 deg",
    refuses=("other than two sides", "a side that isn't read from 0 to 90 deg"),
    formula="sum of the angles read on the protractor reticle, one on each side",
    source="common practice",
    unit="deg",
)
def protractor_sum(given: Given) -> Outcome:
    """Included angle of a step or countersink, each side read on the reticle, deg."""
    sides = given.series["sides"]
    if len(sides.marks) != 2:
        raise InputError("a cone has two sides", expected="2 marks", found=str(len(sides.marks)))
    read = [sides.mean(mark, sides.channel) for mark in sides.marks]
    if not all(0 < each < 90 for each in read):
        raise ComputeError(
            "a side of a cone is read against the axis",
            expected="between 0 and 90 deg",
            found=" and ".join(f"{each:g}" for each in read),
        )
    rows = (
        given.component(
            "line laid on the leg",
            "crosshair",
            sensitivity=_per_um(given),
            ends=4,
            averaged=sides.repeats,
        ),
        step(sides.instrument, "protractor step", ends=2, unit="deg"),
        calibration(sides.instrument, "reticle, calibration", sensitivity=2, unit="deg"),
        given.component("image plane", "image plane", ends=2, unit="deg"),
        *drift_row(given, "master", "drift of the angle master", sensitivity=2, unit="deg"),
    )
    return Outcome((sum(read),), Budget(rows, "deg"))


@method(
    "angle by protractor, two lines",
    roles=(
        Role("lines", Reads.ANGLE, "the reticle laid on each of two lines", least=2),
        _ANGLE_MASTER,
    ),
    asks=(
        _LEG,
        Asks("counted", "which of the two angles the drawing means", words=("acute", "obtuse")),
    ),
    plane="image plane",
    assumes="both lines lie in the image plane; the zero of the reticle cancels",
    refuses=("other than two lines", "which angle is counted isn't stated"),
    formula="difference of the two readings of the reticle, each the mean of its laying-ups, "
    "folded to at most 90 deg; obtuse: 180 deg less the acute one",
    source="derived: a line has no sense, so that a reading and one half a turn off are the same",
    unit="deg",
)
def two_lines(given: Given) -> Outcome:
    """Angle between two edges or an edge and a slide's way, both read on the reticle, deg."""
    lines = given.series["lines"]
    counted = given.word("counted", ("acute", "obtuse"))
    if len(lines.marks) != 2:
        raise InputError("an angle has two lines", expected="2 marks", found=str(len(lines.marks)))
    one, other = (_laid(lines, mark) for mark in lines.marks)
    acute = abs(math.remainder(other - one, 180))
    rows = (
        given.component(
            "line laid on the leg",
            "crosshair",
            sensitivity=_per_um(given),
            ends=4,
            averaged=lines.repeats,
        ),
        step(lines.instrument, "protractor step", ends=2, unit="deg"),
        calibration(lines.instrument, "reticle, calibration", ends=2, unit="deg"),
        given.component("image plane", "image plane", ends=2, unit="deg"),
        *drift_row(given, "master", "drift of the angle master", unit="deg"),
    )
    value = acute if counted == "acute" else 180 - acute
    return Outcome((value,), Budget(rows, "deg"), detail={"lines_deg": (one, other)})


def _laid(series: Series, mark: str) -> float:
    """Mean of the laying-ups at a mark, deg, of which some may read half a turn further."""
    read = [t[series.channel] for t in series.at(mark)]
    return read[0] + fmean(math.remainder(each - read[0], 180) for each in read)
