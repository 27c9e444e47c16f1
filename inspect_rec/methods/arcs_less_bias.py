"""Radii from which the bias of a radius master is taken off: version 2 of the methods of an arc.

Version 1 lets what the master's check shows stand as long as it lies within its limit. On a
simulated machine with light of up to 3 um its U then held 84 to 88 of 100 values instead of 95.
"""

from __future__ import annotations

from dataclasses import replace
from functools import wraps

from inspect_rec.compute import fitting
from inspect_rec.compute.uncertainty import Budget, Component, Distribution
from inspect_rec.methods import arcs, ball_noses
from inspect_rec.methods.arcs import DRIFT, RADIUS_MASTER
from inspect_rec.methods.base import (
    Evaluate,
    Given,
    MasterBias,
    Outcome,
    Series,
    calibration,
    stated,
)
from inspect_rec.methods.masters import Bias, bias_between, drift_left
from inspect_rec.methods.register import newer
from inspect_rec.methods.thermal import to_20

MASTER = replace(RADIUS_MASTER, length=True)
ALIKE = (
    "tool and radius master are sighted in the same light, over a like span; without a master "
    "light counts in full"
)
LESS = ", less what a radius master sighted the same way reads too large"
TAKEN_OFF = ", bias of the master taken off."
SINCE = (
    "let the master's bias stand within the limit of its check: on a simulated machine "
    "its U held 84 to 88 of 100 values instead of 95"
)


def less_bias(evaluate: Evaluate) -> Evaluate:
    """Stands between the register and a radius: less the bias of its master, then to 20 degC.

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

    evaluated.__doc__ = (evaluate.__doc__ or "").rstrip(".") + TAKEN_OFF
    return evaluated


def _taken_off(given: Given, found: Outcome, master: Series, value_mm: float) -> Outcome:
    known = known_bias(given, master, value_mm)
    bias = bias_between(given, "master", known.um / 1000, given.series["arc"])
    rows = [row for row in found.budget.components if row.name != DRIFT]
    rows += checked_rows(given, known, bias)
    if master.master is not None:
        rows.append(calibration(master.master, "radius master, calibration", common=True))
    rows += [replace(row, common=True) for row in drift_left(given, "master", bias, DRIFT)]
    return replace(
        found,
        values=tuple(value - bias.mm for value in found.values),
        budget=Budget(tuple(rows), found.budget.unit),
        detail={**found.detail, "bias_mm": bias.mm, "uncorrected_mm": found.value},
    )


def known_bias(given: Given, master: Series, value_mm: float) -> MasterBias:
    """What the master read too large at the check before, as its check knows it, else by its
    points."""
    return given.bias.get("master") or _of_points(given, master, value_mm)


def checked_rows(given: Given, known: MasterBias, bias: Bias) -> list[Component]:
    """What the checks scatter, each by its share in the bias."""
    return [_check(given, known, name, share, bias.note) for name, share in _shares(bias)]


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


FIRST_VERSIONS = (
    ("arc, centre on the axis", arcs.arc_on_axis, "the centre lies on the axis; "),
    ("arc, free centre", arcs.arc_free, ""),
    (
        "arc, centre held",
        arcs.arc_held_centre,
        "the centre lies on the pivot, whose place is known; ",
    ),
    ("radius from chord and rise", arcs.chord_and_rise, ""),
    (
        "arc, two opposite flutes",
        ball_noses.opposite_flutes,
        "both flutes are sighted at one index position, each on its own side of the axis; ",
    ),
)
"""Name, function, and what each assumes beside the light."""

for name, version_1, assumed in FIRST_VERSIONS:
    newer(name, 2, assumes=assumed + ALIKE, since=SINCE, formula=LESS, role=MASTER)(
        less_bias(version_1)
    )
