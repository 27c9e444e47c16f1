"""The shorter what is sighted, swung, turned or travelled, the less certain is what it gives."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from itertools import pairwise
from typing import Any

import pytest

from tests.methods.by_hand import measured
from tests.methods.by_hand_sighted import about

Typed = tuple[str, dict[str, Any]]
Of = Callable[[float], Typed]
"""From a size, mm or deg, a method and its typed readings."""


def _arc(name: str, **more: object) -> Of:
    """Nine points over a span that ends at the tip, deg."""
    return lambda span: (
        name,
        {"arc": about(20, 100, 5, [90 - span * k / 8 for k in range(9)]), **more},
    )


def _three(span: float) -> Typed:
    first, middle, last = about(20, 100, 5, [90 - span / 2, 90, 90 + span / 2])
    points = {"first": first, "middle": middle, "last": last}
    return "radius from chord and rise", {"arc": points}


def _leg(name: str, role: str, **more: object) -> Of:
    """An edge at 30 deg whose two points lie so far apart, mm."""
    return lambda long: (name, {role: [[21, 90], [21 + long / 2, 90 - long * 0.75**0.5]], **more})


def _lips(name: str, **more: object) -> Of:
    def of(long: float) -> Typed:
        lip = [[21, 90], [21 + long * 0.75**0.5, 90 - long / 2]]
        return name, {"lips": {"flutes": [lip, lip]}, **more}

    return of


def _opening(long: float) -> Typed:
    way = long * 0.5**0.5
    legs = {
        "greater": [[22, 90], [22 + way, 90 - way]],
        "smaller": [[18, 90], [18 - way, 90 - way]],
    }
    return "included angle from legs on both sides", legs


def _on_reticle(name: str, role: str, **more: object) -> Of:
    return lambda long: (name, {role: {"a": 40.0, "b": 45.0}, "leg_mm": long, **more})


def _swing(span: float) -> Typed:
    turns = [span * k / 6 for k in range(7)]
    return "radius by swing test", {
        "swing": [0.001] * 7,
        "swing_index_deg": turns,
        "gauge": [0.0],
        "master_value": 5.0,
        "master_instrument": {"expanded": 0.8},
        "form": "convex",
    }


def _turn(name: str) -> Of:
    return lambda turn: (
        name,
        {
            "flute": [100 - turn * k / 2 * 100 / 360 for k in range(3)],
            "flute_index_deg": [turn * k / 2 for k in range(3)],
            "diameter_mm": 10,
            "hand": "right",
            "index_sense": "counter-clockwise",
        },
    )


def _taper(long: float) -> Typed:
    return "taper angle from several radii", {"edge": [[25, 90], [25 + long / 40, 90 - long]]}


def _creep(long: float) -> Typed:
    return "lead from creep at a set lead", {
        "creep": [0.0, long / 2000, long / 1000],
        "places_mm": [0, long / 2, long],
        "set_lead_mm": 100,
        "radius_mm": 5,
        "plus": "more turn",
    }


def _behind(long: float) -> Typed:
    return "clearance from a slid drop", {
        "drop": [0.0, long * math.tan(math.radians(10))],
        "land": "flat",
        "edge_radius_mm": 5,
        "travel_mm": long,
        "lever_deg": 0,
        "plane": "transverse",
    }


def _thinner(long: float) -> Typed:
    return "back taper from two diameters", {
        "front": {"greater": [25.0, 100], "smaller": [15.0, 100]},
        "back": {"greater": [24.99, 100 - long], "smaller": [15.01, 100 - long]},
    }


_HELD = {"centre_x_mm": 20, "centre_z_mm": 100}
_PIN = {"greater": [25.0] * 3, "smaller": [15.0] * 3}
SHRINKING: Mapping[str, tuple[Of, list[float]]] = {
    "free arc": (_arc("arc, free centre"), [300, 180, 120, 90, 60, 40, 20]),
    "arc on the axis": (_arc("arc, centre on the axis", axis=_PIN), [85, 60, 45, 30, 20]),
    "arc about a held centre": (_arc("arc, centre held", **_HELD), [360 * 8 / 9, 180, 90, 40]),
    "chord and rise": (_three, [170, 120, 90, 60, 30]),
    "two points": (_leg("angle by two points", "edge"), [8, 5, 3, 2, 1]),
    "point angle": (_lips("point angle from the lips"), [8, 5, 3, 2, 1]),
    "lip symmetry": (_lips("lip symmetry from the lips"), [8, 5, 3, 2, 1]),
    "turned lips": (_lips("point angle from turned lips", turned_deg=[3, 3]), [8, 5, 3, 2, 1]),
    "legs on both sides": (_opening, [8, 5, 3, 2, 1]),
    "cone": (_on_reticle("angle by protractor, sum of the sides", "sides"), [8, 4, 2, 1]),
    "two lines": (
        _on_reticle("angle by protractor, two lines", "lines", counted="acute"),
        [8, 4, 2, 1],
    ),
    "swing": (_swing, [308, 180, 120, 90, 60]),
    "lead": (_turn("lead from travel and turn"), [360, 180, 90, 45, 20]),
    "helix": (_turn("helix angle from travel and turn"), [360, 180, 90, 45, 20]),
    "taper": (_taper, [60, 30, 15, 5]),
    "creep": (_creep, [60, 30, 15, 5]),
    "land": (_behind, [1.2, 0.8, 0.4, 0.2]),
    "back taper": (_thinner, [80, 40, 20, 10]),
}


@pytest.mark.parametrize("which", SHRINKING)
def test_a_shorter_arc_leg_swing_turn_or_travel_knows_its_value_less_well(which: str) -> None:
    of, sizes = SHRINKING[which]
    u = [measured(*of(size)).outcome.budget.u for size in sizes]
    assert all(a < b for a, b in pairwise(u)), u
