"""Profiles whose budget counts light and backlash: version 2 of the methods of a profile.

Bloom and line width set every sighting off the edge alike. Where the fit can move it takes a part
of that away; what is left of it stands at the ends of an arc, or across a contour, as a deviation.
So light counts by the largest share that stays. With a radius master sighted the same way its bias
is taken off each point before the fit, and the check of the master comes in by that share.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from inspect_rec.compute.uncertainty import Budget
from inspect_rec.methods import arcs, contours
from inspect_rec.methods.arcs import DRIFT
from inspect_rec.methods.arcs_less_bias import MASTER, checked_rows, known_bias
from inspect_rec.methods.base import Evaluate, Given, MasterBias, Outcome, calibration, stated
from inspect_rec.methods.masters import bias_between, drift_left
from inspect_rec.methods.register import newer
from inspect_rec.methods.thermal import lacking

Normals = Callable[[Given, Outcome], Sequence[tuple[float, float]]]
"""Of each sighted point the unit normal out of the metal, on the slides X and Z."""

_STEP_MM = 1e-3
LIGHT = (
    "light sets every point off the edge alike; tool and radius master, where there is one, are "
    "sighted in the same light and curved the same way"
)
SINCE = (
    "counted neither light nor backlash: on a simulated machine with light of up to 3 um its U "
    "held {held} of 100 values, and {accepted} of 100 tools at their limit were accepted, not 5"
)
LESS = ", each point less what a radius master sighted the same way reads too large"


def in_light(version_1: Evaluate, role: str, normals: Normals) -> Evaluate:
    """Stands between the register and a profile, of which ``role`` has the points."""

    def evaluated(given: Given) -> Outcome:
        found = version_1(given)
        out = normals(given, found)
        share = stated(_share(found, version_1(_moved(given, role, out, _STEP_MM))))
        rows = [
            *found.budget.components,
            given.component("backlash left over, one point", "backlash"),
        ]
        held = given.series["master"].master if "master" in given.series else None
        if held is None or held.value is None:
            name = "light, as the fit leaves it"
            light = given.component(name, "light", sensitivity=share, common=True)
            return replace(found, budget=Budget((*rows, light), found.budget.unit))
        known = known_bias(given, given.series["master"], held.value)
        bias = bias_between(given, "master", _mm(given, known, held.value), given.series[role])
        placed = version_1(_moved(given, role, out, -_metal(given) * bias.mm))
        of_master = [
            *checked_rows(given, known, bias),
            calibration(held, "radius master, calibration", common=True),
            *(replace(row, common=True) for row in drift_left(given, "master", bias, DRIFT)),
        ]
        rows += [replace(row, sensitivity=share * row.sensitivity) for row in of_master]
        return replace(
            placed,
            budget=Budget(tuple(rows), found.budget.unit),
            refusals=(*placed.refusals, *_lacking(given, placed)),
            detail={**placed.detail, "bias_mm": bias.mm},
        )

    evaluated.__doc__ = (version_1.__doc__ or "").replace(", mm.", ", light counted, mm.")
    return evaluated


def _mm(given: Given, known: MasterBias, value_mm: float) -> float:
    """The bias without what the master is larger by in its warmth; what is uncertain in that is
    some hundredths of a um at most."""
    pair = given.thermal.masters.get("master") if given.thermal else None
    return known.um / 1000 - (0.0 if pair is None else pair.shown(value_mm) - value_mm)


def _lacking(given: Given, placed: Outcome) -> list[str]:
    """Why the master can't be taken to 20 degC, beyond what is said already."""
    return [said for said in lacking(given, "master") if said not in placed.refusals]


def _metal(given: Given) -> float:
    """1 where the metal lies inside the arc, -1 where it lies outside."""
    return -1.0 if given.parameters.get("form") == "concave" else 1.0


def _moved(given: Given, role: str, normals: Sequence[tuple[float, float]], by_mm: float) -> Given:
    """The same with every point moved so far out of the metal."""
    series = given.series[role]
    taken = tuple(
        replace(t, figures={**t.figures, "X": t["X"] + by_mm * x, "Z": t["Z"] + by_mm * z})
        for t, (x, z) in zip(series.taken, normals, strict=True)
    )
    return replace(given, series={**given.series, role: replace(series, taken=taken)})


def _share(at_rest: Outcome, moved: Outcome) -> float:
    """How much of what moves every point alike the fit leaves at the point where most is left."""
    both = _deviations(at_rest), _deviations(moved)
    return max(abs(b - a) for a, b in zip(*both, strict=True)) / _STEP_MM


def _deviations(found: Outcome) -> tuple[float, ...]:
    value = found.detail["deviations_mm"]
    assert isinstance(value, tuple)  # noqa: S101 - a profile's deviations are a list
    return value


def _ways(found: Outcome, key: str, metal: float = 1.0) -> list[tuple[float, float]]:
    """Unit normals out of the metal, from angles of the detail, deg."""
    angles = found.detail[key]
    assert isinstance(angles, tuple)  # noqa: S101 - the angles of points are a list
    turns = (math.radians(a) for a in angles)
    return [(metal * math.cos(t), metal * math.sin(t)) for t in turns]


newer(
    "profile, radius held",
    2,
    assumes=LIGHT,
    since=SINCE.format(held="94.6", accepted="6.3"),
    formula=LESS,
    role=MASTER,
)(in_light(arcs.profile, "arc", lambda given, found: _ways(found, "angles_deg", _metal(given))))

newer(
    "profile, contour",
    2,
    assumes=f"{contours.BELONGS}; {LIGHT}; a radius master is convex",
    since=SINCE.format(held="95.4", accepted="6.5"),
    formula=LESS,
    role=MASTER,
)(in_light(contours.contour, "points", lambda _, found: _ways(found, "normals_deg")))
