"""Clearance of an end face from the axial drop behind its edge."""

from __future__ import annotations

import math

from inspect_rec.compute import geometry, reliefs
from inspect_rec.methods.base import Given, Outcome
from inspect_rec.methods.quantities import setting, worked_out
from inspect_rec.methods.register import Asks, asked_where, method, where
from inspect_rec.methods.reliefs import (
    DERIVED,
    DROP,
    LEVER,
    MASTER,
    REFUSES,
    RUBS,
    axial_float,
    dropped,
    fall_mm,
    lever,
    lever_refusals,
    roll,
    travel,
)


@method(
    "axial clearance from a drop on the end face",
    roles=(DROP, MASTER),
    asks=(
        Asks("land", "how the end is ground", words=(reliefs.FLAT, reliefs.ECCENTRIC)),
        Asks("moved", "what moves between the readings", words=("slid", "rolled")),
        Asks("at_radius_mm", "distance of the indicator from the axis"),
        Asks("dish_deg", "how much the end edge rises outward"),
        asked_where(
            where("moved", "slid"), "travel_mm", "travel square to the edge, where it is slid"
        ),
        asked_where(where("moved", "rolled"), "roll_deg", "angle rolled, where it is rolled"),
        *LEVER,
    ),
    plane="along the axis and the direction of turning, at the stated radius",
    assumes="the end edge lies on a radius; the indicator reads along the axis",
    refuses=("the heel stands above the edge", REFUSES[1], "land, move or dish isn't stated"),
    formula="with the point x along and y behind the edge (slid: r, s; rolled: r cos p, r sin p): "
    "flat land: tan a = (h + (x - r) tan d) / y; eccentric land: "
    "tan a = (h + (root(x^2 + y^2) - r) tan d) / (r atan(y / x)), d being the dish",
    source=DERIVED,
    unit="deg",
)
def end_drop(given: Given) -> Outcome:
    """Clearance of an end edge from the axial drop behind it, deg."""
    land = given.word("land", (reliefs.FLAT, reliefs.ECCENTRIC))
    moved = given.word("moved", ("slid", "rolled"))
    drop = given.series["drop"]

    def model(
        read: float,
        lever: float,
        over: float,
        radius: float,
        dish: float,
        floated: float = 0.0,
    ) -> float:
        beside, behind = radius, over
        if moved == "rolled":
            p = math.radians(over)
            beside, behind = radius * math.cos(p), radius * math.sin(p)
        h = geometry.true_drop(read, lever) + floated
        return reliefs.end_face(land, beside, behind, h, radius, dish)

    place, dish = given.number("at_radius_mm"), given.number("dish_deg")
    quantities = [
        dropped(given, drop),
        lever(given),
        roll(given) if moved == "rolled" else travel(given),
        setting(given, "place of the indicator", "place of the indicator", place, "mm"),
        setting(given, "dish of the end", "dish of the end", dish, "deg"),
    ]
    if moved == "rolled":
        quantities.append(axial_float(given))
    value, budget = worked_out(model, *quantities, unit="deg")
    read = fall_mm(drop)
    refusals = (RUBS,) if value <= 0 else ()
    detail = {"drop_mm": geometry.true_drop(read, given.number("lever_deg"))}
    return Outcome((value,), budget, (*refusals, *lever_refusals(given, read)), detail)
