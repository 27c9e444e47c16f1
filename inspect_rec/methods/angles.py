"""Angles: of points and lips, by protractor, and between two points."""

from __future__ import annotations

import math

from inspect_rec.compute import geometry
from inspect_rec.compute.uncertainty import Budget, Component, Distribution
from inspect_rec.errors import InputError
from inspect_rec.methods.base import (
    Given,
    Outcome,
    Series,
    calibration,
    drift_row,
    step,
)
from inspect_rec.methods.register import Asks, Reads, Role, method

LIPS = Role("lips", Reads.POINT, "two points of each lip, far apart", least=2)


def _leg(series: Series, given: Given) -> tuple[float, float]:
    """Half angle (deg) against the tool axis and leg (mm) of the two points of one edge."""
    radial, along = given.slides.radial, given.slides.along
    if len(series.marks) != 2:
        raise InputError("an edge needs two points", expected="2", found=str(len(series.marks)))
    first, second = series.marks
    dr = abs(series.mean(second, radial) - series.mean(first, radial))
    dz = abs(series.mean(second, along) - series.mean(first, along))
    return math.degrees(math.atan2(dr, dz)), math.hypot(dr, dz)


def _leg_rows(
    given: Given, series: Series, leg_mm: float, kappa: float, edges: int
) -> list[Component]:
    """What each edge adds on its own: two points, step, edge turned out of the image plane."""
    per_um = math.degrees(1e-3 / leg_mm)
    plane = given.influences.get("lip out of the image plane")
    if plane is None:
        raise InputError("the shop file states no influence 'lip out of the image plane'")
    turned = geometry.edge_out_of_plane(kappa, float(plane.amount)) - kappa
    return [
        given.component(
            "crosshair at the two points",
            "crosshair",
            sensitivity=per_um,
            ends=2 * edges,
            averaged=series.repeats,
        ),
        step(series.instrument, "readout step", sensitivity=per_um, ends=2 * edges),
        Component(
            name=f"edge up to {plane.amount} deg out of the image plane",
            amount=turned,
            distribution=Distribution.ONE_SIDED,
            ends=edges,
            assumed=plane.assumed,
            unit="deg",
        ),
    ]


def _lips(given: Given) -> tuple[tuple[float, ...], tuple[float, ...], list[Component]]:
    lips = given.series["lips"]
    found = [_leg(lips.of_flute(n), given) for n in lips.flutes]
    if len(found) != 2:
        raise InputError("a point angle needs two lips", expected="2", found=str(len(found)))
    kappas = tuple(kappa for kappa, _ in found)
    legs = tuple(leg for _, leg in found)
    return kappas, legs, _leg_rows(given, lips.of_flute(lips.flutes[0]), min(legs), max(kappas), 2)


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
    square = given.component(
        "squareness of the slides, in both lips", "squareness", sensitivity=2, unit="deg"
    )
    detail = {"half_angles_deg": kappas, "legs_mm": legs}
    return Outcome((sum(kappas),), Budget((*rows, square), "deg"), detail=detail)


@method(
    "lip symmetry from the lips",
    roles=(LIPS,),
    plane="image plane, each lip turned into it",
    refuses=("other than two lips",),
    formula="difference of the two half angles, without sign",
    source="derived; the squareness of the slides cancels",
    unit="deg",
    over_flutes=True,
)
def lip_symmetry(given: Given) -> Outcome:
    """Difference of the half angles of the two lips, deg."""
    kappas, legs, rows = _lips(given)
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
        *_leg_rows(given, edge, leg, kappa, 1),
        given.component("squareness of the slides", "squareness", common=True, unit="deg"),
    )
    return Outcome((kappa,), Budget(rows, "deg"), detail={"leg_mm": leg})


@method(
    "angle by protractor, sum of the sides",
    roles=(
        Role("sides", Reads.ANGLE, "each side of the cone, read on the reticle", least=2),
        Role("master", Reads.ANGLE, "an angle master", master=True, needed=False),
    ),
    asks=(Asks("leg_mm", "length of the shorter leg that the line is laid on"),),
    plane="axial, included",
    formula="sum of the angles read on the protractor reticle, one on each side",
    source="common practice",
    unit="deg",
)
def protractor_sum(given: Given) -> Outcome:
    """Included angle of a step or countersink, each side read on the reticle, deg."""
    sides = given.series["sides"]
    marks = sides.marks
    value = sum(sides.mean(mark, sides.channel) for mark in marks)
    per_um = math.degrees(1e-3 / given.number("leg_mm"))
    n = len(marks)
    rows = (
        given.component(
            "line laid on the leg",
            "crosshair",
            sensitivity=per_um,
            ends=2 * n,
            averaged=sides.repeats,
        ),
        step(sides.instrument, "protractor step", ends=n, unit="deg"),
        calibration(sides.instrument, "reticle, calibration", sensitivity=n, unit="deg"),
        given.component("image plane", "image plane", ends=n, unit="deg"),
        *drift_row(given, "master", "drift of the angle master", sensitivity=n, unit="deg"),
    )
    return Outcome((value,), Budget(rows, "deg"))
