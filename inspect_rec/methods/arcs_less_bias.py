"""Radii from which the bias of a radius master is taken off: version 2 of the methods of an arc.

Version 1 lets what the master's check shows stand as long as it lies within its limit. On a
simulated machine with light of up to 3 um its U then held 84 to 88 of 100 values instead of 95.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import wraps

from inspect_rec.compute import fitting
from inspect_rec.compute.uncertainty import Budget, Component, Distribution
from inspect_rec.methods import arcs, ball_noses
from inspect_rec.methods.arcs import ARC, DRIFT, RADIUS_MASTER
from inspect_rec.methods.base import Given, MasterBias, Outcome, Series, calibration, stated
from inspect_rec.methods.masters import Bias, bias_between, drift_left
from inspect_rec.methods.register import Asks, Reads, Role, method
from inspect_rec.methods.thermal import to_20
from inspect_rec.methods.widths import AXIS

MASTER = replace(RADIUS_MASTER, length=True)
ALIKE = (
    "tool and radius master are sighted in the same light, over a like span; without a master "
    "light counts in full"
)
LESS = ", less what a radius master sighted the same way reads too large"
SINCE = (
    "; version 1 let the master's bias stand within the limit of its check: on a simulated machine "
    "its U held 84 to 88 of 100 values instead of 95"
)

Evaluate = Callable[[Given], Outcome]


def less_bias(evaluate: Evaluate) -> Evaluate:
    """Stands between ``@method`` and a radius: less the bias of its master, then to 20 degC.

    What tool and master have in common (light, line width, slides out of square) goes with the
    bias; what the check scatters, and how well the master is known, comes in. Without a master the
    radius stays as it is, light and all.
    """

    def corrected(given: Given) -> Outcome:
        found = evaluate(replace(given, thermal=None))
        master = given.series.get("master")
        value_mm = master.master.value if master and master.master else None
        if master is None or value_mm is None:
            return found
        return _taken_off(given, found, master, value_mm)

    alone, against = to_20()(corrected), to_20(master="master")(corrected)

    @wraps(evaluate)
    def evaluated(given: Given) -> Outcome:
        return (against if "master" in given.series else alone)(given)

    return evaluated


def _taken_off(given: Given, found: Outcome, master: Series, value_mm: float) -> Outcome:
    known = given.bias.get("master") or _of_points(given, master, value_mm)
    bias = bias_between(given, "master", known.um / 1000, given.series["arc"])
    rows = [row for row in found.budget.components if row.name != DRIFT]
    rows += [_check(given, known, name, share, bias.note) for name, share in _shares(bias)]
    if master.master is not None:
        rows.append(calibration(master.master, "radius master, calibration", common=True))
    rows += [replace(row, common=True) for row in drift_left(given, "master", bias, DRIFT)]
    return replace(
        found,
        values=tuple(value - bias.mm for value in found.values),
        budget=Budget(tuple(rows), found.budget.unit),
        detail={**found.detail, "bias_mm": bias.mm, "uncorrected_mm": found.value},
    )


def _of_points(given: Given, master: Series, value_mm: float) -> MasterBias:
    """From the master's points alone, its centre free."""
    circle = fitting.circle(arcs.points_of(master))
    u = stated(circle.u_r_over_s) * given.crosshair_um()
    return MasterBias((circle.radius_mm - value_mm) * 1000, u)


def _shares(bias: Bias) -> list[tuple[str, float]]:
    name = "check of the radius master"
    if not bias.share:
        return [(name, 1.0)]
    share = stated(bias.share)
    return [(f"{name}, check before", 1 - share), (f"{name}, check after", share)]


def _check(given: Given, known: MasterBias, name: str, share: float, note: str) -> Component:
    scatter = given.component("", "crosshair")
    return replace(
        scatter,
        name=name,
        amount=known.u,
        distribution=Distribution.NORMAL,
        sensitivity=share,
        common=True,
        note=note or "sightings of the check",
        of_reading="",
    )


@method(
    "arc, centre on the axis",
    version=2,
    roles=(ARC, AXIS, MASTER),
    plane="image plane through the axis",
    assumes=f"the centre lies on the axis; {ALIKE}",
    refuses=("a form of more than half the tolerance: no circle",),
    formula="least-squares circle whose centre is held on the axis, free along the tool" + LESS,
    source="derived: normal equations with one coordinate of the centre held" + SINCE,
)
@less_bias
def arc_on_axis(given: Given) -> Outcome:
    """Radius of a ball nose, its centre held on the axis, bias of the master taken off."""
    return arcs.arc_on_axis(given)


@method(
    "arc, free centre",
    version=2,
    roles=(ARC, MASTER),
    plane="image plane",
    assumes=ALIKE,
    refuses=(
        "an arc below 60 deg",
        "a form of more than half the tolerance: no circle",
    ),
    formula="least-squares circle, centre and radius free" + LESS,
    source="derived; Gander, Golub, Strebel, BIT 34 (1994) for the example it is checked against"
    + SINCE,
)
@less_bias
def arc_free(given: Given) -> Outcome:
    """Radius of an arc of its own, bias of the master taken off."""
    return arcs.arc_free(given)


@method(
    "arc, centre held",
    version=2,
    roles=(ARC, MASTER),
    asks=(
        Asks("centre_x_mm", "place of the pivot on the slide X"),
        Asks("centre_z_mm", "place of the pivot on the slide Z"),
    ),
    plane="image plane",
    assumes=f"the centre lies on the pivot, whose place is known; {ALIKE}",
    refuses=("a form of more than half the tolerance: no circle",),
    formula="mean distance of the points from the place where the centre is held" + LESS,
    source="derived; on a short arc the place of the pivot goes in one to one" + SINCE,
)
@less_bias
def arc_held_centre(given: Given) -> Outcome:
    """Radius of an arc whose centre is held at the pivot, bias of the master taken off."""
    return arcs.arc_held_centre(given)


@method(
    "radius from chord and rise",
    version=2,
    roles=(
        Role(
            "arc", Reads.POINT, "both ends of the arc, and its middle", ("first", "middle", "last")
        ),
        MASTER,
    ),
    plane="image plane",
    assumes=ALIKE,
    refuses=("an arc below 60 deg",),
    formula="circle through three points: with the rise h over the middle of the chord c, "
    "R = c^2 / (8 h) + h / 2" + LESS,
    source="derived; holds where the middle point isn't over the middle of the chord, too" + SINCE,
)
@less_bias
def chord_and_rise(given: Given) -> Outcome:
    """Radius of the circle through three points, bias of the master taken off."""
    return arcs.chord_and_rise(given)


@method(
    "arc, two opposite flutes",
    version=2,
    roles=(ball_noses.BOTH, AXIS, MASTER),
    plane="image plane through the axis",
    assumes="both flutes are sighted at one index position, each on its own side of the axis; "
    + ALIKE,
    refuses=ball_noses.REFUSES,
    formula="least-squares circle through the points of both flutes, centre and radius free" + LESS,
    source="derived; the axis gives each flute's own radius beside it" + SINCE,
    over_flutes=True,
)
@less_bias
def opposite_flutes(given: Given) -> Outcome:
    """Radius of a ball nose from two opposite flutes at once, bias of the master taken off."""
    return ball_noses.opposite_flutes(given)
