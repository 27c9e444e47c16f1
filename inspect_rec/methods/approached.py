"""Methods of points, legs and corners whose budgets count what an approach leaves of the backlash:
the version after the one that didn't.

A point round an arc or on a leg is approached from wherever its neighbour lies, so backlash comes
in at each of them anew, as the crosshair does, and by the same sensitivity. Widths, lengths and
places had it in their budgets from the first; these had not.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from inspect_rec.compute.uncertainty import Budget, Component
from inspect_rec.methods import angles, arcs_less_bias, blends, end_views, points, reliefs, tapers
from inspect_rec.methods.base import Evaluate, Given, Outcome
from inspect_rec.methods.register import entered, newer

MODULES = (angles, arcs_less_bias, blends, end_views, points, reliefs, tapers)
"""Where the versions before are entered."""
BEFORE = {
    "angle by two points": 2,
    "arc, centre held": 2,
    "arc, centre on the axis": 2,
    "arc, free centre": 2,
    "arc, two opposite flutes": 2,
    "chisel edge angle": 1,
    "clearance from land width and heel drop": 1,
    "corner radius between two straights": 1,
    "form of an arc": 1,
    "included angle from legs on both sides": 1,
    "lip height difference from the lips": 2,
    "lip symmetry from the lips": 1,
    "lip symmetry from turned lips": 1,
    "point angle from the lips": 2,
    "point angle from turned lips": 1,
    "radius from chord and rise": 2,
    "step at a blend": 1,
    "taper angle from several radii": 1,
    "tangency at a blend": 1,
}
"""Method, and its version that counts no backlash."""
SINCE = (
    "counted no backlash at its points: on a simulated machine up to 5.7 of 100 tools were "
    "accepted at their limit, where 5 are promised"
)


def approached(before: Evaluate) -> Evaluate:
    """Beside each row of the crosshair one of the backlash, spread and averaged alike."""

    def evaluated(given: Given) -> Outcome:
        found = before(given)
        rows = (*found.budget.components, *_backlash(given, found.budget.components))
        return replace(found, budget=Budget(rows, found.budget.unit))

    evaluated.__doc__ = before.__doc__
    vars(evaluated).update(vars(before))
    return evaluated


def _backlash(given: Given, rows: tuple[Component, ...]) -> Iterator[Component]:
    for row in rows:
        if row.of_reading == "crosshair":
            of = row.name.partition(",")[2] or row.name.removeprefix("crosshair")
            left = given.component(
                f"backlash left over, {of.strip()}".rstrip(", "),
                "backlash",
                sensitivity=row.sensitivity,
                ends=row.ends,
                averaged=row.averaged,
                common=row.common,
                unit=row.unit,
            )
            yield replace(left, of_reading="backlash")


for _name, _version in BEFORE.items():
    _before = entered(_name, _version)
    newer(_name, _version + 1, assumes=_before.assumes, since=SINCE)(approached(_before.evaluate))
