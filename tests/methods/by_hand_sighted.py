"""Sighted methods by hand: widths, angles, points, arcs, profiles, blends."""

from __future__ import annotations

import math
from math import atan, cos, degrees, radians, sin
from typing import Any

from tests.methods.by_hand import ROUND, Sample

PIN = {"greater": [25.0] * 3, "smaller": [15.0] * 3}
"""A shank whose axis is at 20."""
FAR = {"greater": 20.0027, "smaller": 10.0}


def about(x: float, z: float, radius: float, turns: Any, off: Any = None) -> list[list[float]]:
    """Points of an arc, each so far outside it."""
    off = [0.0] * len(turns) if off is None else off
    return [
        [x + (radius + e) * cos(radians(t)), z + (radius + e) * sin(radians(t))]
        for t, e in zip(turns, off, strict=True)
    ]


CROSSED = (0.002, -0.002, 0.002, -0.002)
"""Over a whole round square to the radius and to both places of the centre."""
UP = [degrees(math.asin(s)) for s in (0.6, 0.8, 1.0)]
ROUGH = (0.001, -0.002, 0.001)
"""Square to the radius (sum 0) and to the place along the tool (0.6 - 1.6 + 1.0 = 0)."""
LIPS = {
    "flutes": [
        [[15.702, 15.640], [18.607, 14.288]],
        [[15.704, 15.638], [18.606, 14.306]],
    ]
}
K1, K2 = degrees(atan(2.905 / 1.352)), degrees(atan(2.902 / 1.332))


CHISEL = [[20.1, 9.7], [20.1, 10.3]]

SIGHTED: tuple[tuple[str, Sample], ...] = (
    (
        "width by two sightings",
        Sample(
            {
                "edges": {"greater": 18.503, "smaller": 10.0},
                "master": FAR,
                "master_value": 9.9996,
                "master_instrument": {"expanded": 1.0},
            },
            (8.503 - (10.0027 - 9.9996),),
        ),
    ),
    (
        "width by two sightings, no master",
        Sample({"edges": {"greater": 15.318, "smaller": 14.706}}, (0.612,)),
    ),
    (
        "middle off the axis",
        Sample({"edges": {"greater": 20.318, "smaller": 19.706}, "axis": PIN}, (0.012,)),
    ),
    ("length between two corners", Sample({"corners": {"a": 116.420, "b": 92.464}}, (23.956,))),
    ("edge to axis", Sample({"edge": [25.013], "axis": PIN}, (5.013,))),
    (
        "swept diameter",
        Sample({"edge": {"flutes": [[25.01], [25.03], [25.02]]}, "axis": PIN}, (10.06,)),
    ),
    ("angle by two points", Sample({"edge": [[30, 50], [33, 46]]}, (degrees(atan(3 / 4)),))),
    ("point angle from the lips", Sample({"lips": LIPS}, (K1 + K2,))),
    ("lip symmetry from the lips", Sample({"lips": LIPS}, (K2 - K1,))),
    (
        "point angle from turned lips",
        Sample(
            {"lips": LIPS, "turned_deg": [5, 0]},
            (degrees(atan(2.905 / 1.352 / cos(radians(5)))) + K2,),
        ),
    ),
    (
        "lip symmetry from turned lips",
        Sample(
            {"lips": LIPS, "turned_deg": [5, 0]},
            (K2 - degrees(atan(2.905 / 1.352 / cos(radians(5)))),),
        ),
    ),
    (
        "angle by protractor, sum of the sides",
        Sample({"sides": {"l": 44.9, "r": 45.2}, "leg_mm": 2}, (90.1,)),
    ),
    (
        "angle by protractor, two lines",
        Sample({"lines": {"a": 350.0, "b": 27.0}, "leg_mm": 2, "counted": "obtuse"}, (143.0,)),
    ),
    (
        "included angle from legs on both sides",
        Sample(
            {"greater": [[22, 100], [24, 98]], "smaller": [[18, 100], [17, 98]]},
            (45 + degrees(atan(0.5)),),
        ),
    ),
    (
        "lip height difference from the lips",
        Sample(
            {
                "lips": {"flutes": [[[21, 100], [25, 97]], [[21, 100.02], [25, 97.03]]]},
                "axis": PIN,
                "at_radius_mm": 3,
            },
            ((100.02 - 2 * 2.99 / 4) - (100 - 2 * 3 / 4),),
        ),
    ),
    (
        "back taper from two diameters",
        Sample(
            {
                "front": {"greater": [25.0, 100], "smaller": [15.0, 100]},
                "back": {"greater": [24.988, 40], "smaller": [15.012, 40]},
            },
            (0.04,),
        ),
    ),
    ("chisel edge length", Sample({"ends": [[20, 10], [20.3, 10.4]]}, (0.5,), turns=True)),
    (
        "chisel edge angle",
        Sample(
            {
                "ends": about(20, 10, 0.4, (35, 215)),
                "lip": about(20, 10, 3, (-20, 160)),
                "counted": "acute",
            },
            (55.0,),
            turns=True,
        ),
    ),
    (
        "chisel edge off the axis, half a turn",
        Sample({"ends": CHISEL, "turned": [[19.9, 10.3], [19.9, 9.7]]}, (0.1,), turns=True),
    ),
    (
        "web thickness from both sides",
        Sample({"web": [[19.4, 50], [20.6, 50.5]]}, (1.3,), turns=True),
    ),
    (
        "web off the axis, half a turn",
        Sample({"side": {"flutes": [[20.62], [20.58]]}}, (0.02,)),
    ),
    (
        "arc, centre on the axis",
        Sample({"arc": about(20, 100, 5, UP, ROUGH), "axis": PIN}, (5.0,)),
    ),
    (
        "arc, free centre",
        Sample({"arc": about(20, 100, 5, ROUND, CROSSED)}, (5.0,), turns=True),
    ),
    (
        "arc, two opposite flutes",
        Sample({"arc": about(20, 100, 5, (10, 40, 70, 110, 140, 170)), "axis": PIN}, (5.0,)),
    ),
    (
        "arc, centre held",
        Sample(
            {
                "arc": [[23, 104], [25.002, 100], [20, 104.996]],
                "centre_x_mm": 20,
                "centre_z_mm": 100,
            },
            ((5 + 5.002 + 4.996) / 3,),
            turns=True,
        ),
    ),
    (
        "radius from chord and rise",
        Sample(
            {"arc": {"first": [18, 100], "middle": [20, 100.35], "last": [22, 100]}},
            (16 / (8 * 0.35) + 0.35 / 2,),
            turns=True,
        ),
    ),
    ("form of an arc", Sample({"arc": about(20, 100, 5, ROUND, CROSSED)}, (0.004,), turns=True)),
    (
        "profile, radius held",
        Sample(
            {
                "arc": about(40.01, 59.98, 3, ROUND, (0.003, 0.001, 0.003, 0.001)),
                "form": "convex",
                "freedoms": ["X", "Z"],
                "radius_mm": 3,
                "centre_x_mm": 40,
                "centre_z_mm": 60,
            },
            (0.001, 0.003),
            turns=True,
        ),
    ),
    (
        "spread of the tips",
        Sample(
            {
                "arc": {"flutes": [about(20, 100 + z, 5, UP, ROUGH) for z in (0, 0.012, 0.003)]},
                "axis": PIN,
            },
            (0.012,),
        ),
    ),
    (
        "spread of the centres",
        Sample({"arc": {"flutes": [about(20 + x, 100, 5, ROUND) for x in (0, 0.006)]}}, (0.006,)),
    ),
    (
        "tip from a datum",
        Sample({"arc": about(20, 100, 5, UP, ROUGH), "axis": PIN, "datum": [42.5]}, (62.5,)),
    ),
    (
        "step at a blend",
        Sample(
            {
                "arc": about(20, 100, 2, ROUND, CROSSED),
                "straight": [[22.004, 99], [22.004, 97], [22.004, 95]],
                "form": "convex",
            },
            (0.004,),
            turns=True,
        ),
    ),
    (
        "tangency at a blend",
        Sample(
            {
                "arc": about(20, 100, 2, ROUND, CROSSED),
                "straight": [[21.98, 99], [21.98, 97], [21.98, 95]],
                "form": "concave",
            },
            (degrees(math.acos(1.98 / 2)),),
            turns=True,
        ),
    ),
    (
        "corner radius between two straights",
        Sample(
            {
                "arc": about(28, 102, 2, (20, 45, 70)),
                "side": [[30, 98], [30, 96]],
                "end": [[27, 104], [25, 104]],
                "form": "convex",
            },
            (2.0,),
            turns=True,
        ),
    ),
)
