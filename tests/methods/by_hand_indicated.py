"""Swings, spacing, heights, leads and clearances by hand, and what is read by eye."""

from __future__ import annotations

from math import atan, cos, degrees, hypot, log, pi, radians, sin, tan

from tests.methods.by_hand import ROUND, Sample


def swung(*, zero: float = 0.0, form: float = 0.0) -> list[float]:
    """e = 3 um + 4 um cos - 1 um sin at the four quarters, with a form that none of them takes."""
    return [
        zero + 0.003 + 0.004 * cos(radians(t)) - 0.001 * sin(radians(t)) + form * (1, -1, 1, -1)[n]
        for n, t in enumerate(ROUND)
    ]


# Clearances: alpha 10 deg, edge at radius 5, rolled or behind the edge as said.
A, R, P = radians(10), 5.0, radians(6)
LEFT = R * cos(A) / cos(P - A)
"""Radius of a flat land 6 deg behind its edge: its distance from the axis is R cos A."""
LEVER = {"lever_deg": 0}
BESIDE, BEHIND = 3 * cos(P), 3 * sin(P)
T, RHO = radians(40), 4 * cos(radians(40))
"""Place on a ball of radius 4, and how far it stands from the axis."""


def on_a_ball() -> float:
    """Drop along the normal of a ball's flat land at 40 deg, rolled by 6 deg.

    Land: n cos A + e sin A through the edge (rho, 0, 0), n = (cos T, 0, sin T), e = (0, 1, 0). The
    indicator's point (rho - h cos T, 0, -h sin T) lies on it once the tool is turned by P."""

    def beyond(h: float) -> float:
        x, z = RHO - h * cos(T), -h * sin(T)
        dx, dy = x * cos(P) - RHO, x * sin(P)
        return (dx * cos(T) + z * sin(T)) * cos(A) + dy * sin(A)

    return beyond(0) / (beyond(0) - beyond(1))


BALL = {"arc_radius_mm": 4, "centre_off_axis_mm": 0, "polar_deg": 40, "inclination_deg": 0}
CAM = 0.02
"""What a cam carries inward and as much back, mm for 6 deg."""
LEAD = {"diameter_mm": 10.0, "hand": "right", "index_sense": "counter-clockwise"}
FLUTE = [100.0, 100 - 100 / 12, 100 - 100 / 6]
"""Lead 100: a right-hand flute is 100/12 further from the tip after 30 deg counter-clockwise."""
TAPER = [degrees(tan(radians(30)) / 0.05 * log(d / 6)) for d in (6, 8, 10)]
SCREEN = {"length": [18.36], "graticule": [30.0], "master_value": 1.0}


INDICATED: tuple[tuple[str, Sample], ...] = (
    (
        "radius by swing test",
        Sample(
            {
                "swing": swung(form=0.001),
                "swing_index_deg": ROUND,
                "gauge": [0.002],
                "master_value": 5.0,
                "master_instrument": {"expanded": 0.8},
                "form": "convex",
            },
            (5.0 + 0.003 - 0.002,),
        ),
    ),
    (
        "radius by swing test, crosshair",
        Sample(
            {
                "swing": swung(zero=30),
                "swing_index_deg": ROUND,
                "gauge": [30.002],
                "master_value": 5.0,
                "master_instrument": {"expanded": 0.8},
                "form": "concave",
            },
            (5.0 + 0.003 - 0.002,),
        ),
    ),
    (
        "form by swing test",
        Sample({"swing": swung(form=0.001), "swing_index_deg": ROUND, "form": "convex"}, (0.002,)),
    ),
    (
        "pivot offset by swing test",
        Sample(
            {"swing": swung(), "swing_index_deg": ROUND, "form": "convex", "part": "amount"},
            (hypot(0.004, 0.001),),
        ),
    ),
    (
        "spacing, equal pitch",
        Sample(
            {
                "teeth": {"flutes": [[0.0], [0.010], [-0.006], [0.002]]},
                "radius_mm": 20,
                "which": "adjacent",
            },
            (degrees(0.016 / 20),),
        ),
    ),
    (
        "spacing, unequal pitch",
        Sample(
            {
                "teeth": [0.0, 0.005, 0.010],
                "teeth_index_deg": (0, 91, 180),
                "angles_deg": [0, 90, 180],
                "radius_mm": 20,
                "which": "total",
                "plus": "ahead",
            },
            (1 + degrees(0.005 / 20),),
        ),
    ),
    (
        "variation of the edges by indicator",
        Sample({"edges": {"flutes": [[0.0], [0.012], [0.005]]}}, (0.012,)),
    ),
    (
        "height difference by indicator",
        Sample({"heights": {"flutes": [[0.0], [0.014]]}}, (0.014,)),
    ),
    (
        "height against the axis by indicator",
        Sample({"face": [0.0143], "axis": [0.0015, 0.0025]}, (0.0123,)),
    ),
    ("length by caliper", Sample({"length": [97.05]}, (97.05,))),
    (
        "variation over the flutes",
        Sample({"values": [4.9023, 4.9174, 4.9050], "u_own": 1.26}, (0.0151,)),
    ),
    (
        "lead from travel and turn",
        Sample({"flute": FLUTE, "flute_index_deg": (0, 30, 60), **LEAD}, (100.0,)),
    ),
    (
        "helix angle from travel and turn",
        Sample(
            {"flute": FLUTE, "flute_index_deg": (0, 30, 60), **LEAD},
            (degrees(atan(pi * 10 / 100)),),
        ),
    ),
    (
        "helix angle on a taper",
        Sample(
            {
                "flute": [100.0, 80.0, 60.0],
                "flute_index_deg": TAPER,
                "first_diameter_mm": 6,
                "last_diameter_mm": 10,
                "hand": "right",
                "index_sense": "counter-clockwise",
            },
            (30.0,),
        ),
    ),
    (
        "lead from creep at a set lead",
        Sample(
            {
                "creep": [0.0, 0.010, 0.020],
                "places_mm": [0, 10, 20],
                "set_lead_mm": 100,
                "radius_mm": 5,
                "plus": "more turn",
            },
            (1 / (1 / 100 + 0.001 / (2 * pi * 5)),),
        ),
    ),
    (
        "taper angle from several radii",
        Sample({"edge": [[25, 100], [26, 60]]}, (degrees(atan(1 / 40)),)),
    ),
    (
        "profile, contour",
        Sample(
            {
                "points": [[31, 50.003], [35, 49.998], [39, 50.001]],
                "elements": ["from 0 0", "line 10 0"],
                "freedoms": ["none"],
                "origin_x_mm": 30,
                "origin_z_mm": 50,
            },
            (-0.002, 0.003),
            handed=True,
        ),
    ),
    (
        "length on the screen",
        Sample({**SCREEN, "master_instrument": {"expanded": 1.0}}, (18.36 / 30,)),
    ),
    (
        "clearance from a rolled drop",
        Sample(
            {"drop": [0.0, R - LEFT], "land": "flat", "edge_radius_mm": R, "roll_deg": 6},
            (10.0,),
            "flat land",
        ),
    ),
    (
        "clearance from a rolled drop",
        Sample(
            {
                "drop": [0.0, R * P * tan(A)],
                "land": "eccentric",
                "edge_radius_mm": R,
                "roll_deg": 6,
            },
            (10.0,),
            "eccentric land",
        ),
    ),
    (
        "clearance from a slid drop",
        Sample(
            {
                "drop": [0.1, 0.1 + 0.6 * tan(A) / cos(radians(12))],
                "land": "flat",
                "edge_radius_mm": R,
                "travel_mm": 0.6,
                "lever_deg": 12,
                "lever_mm": 15,
                "plane": "normal",
                "helix_deg": 45,
            },
            (degrees(atan(tan(A) / cos(radians(45)))),),
        ),
    ),
    (
        "clearance in a stated plane from a rolled drop",
        Sample(
            {
                "drop": [0.0, R - LEFT],
                "land": "flat",
                "edge_radius_mm": R,
                "roll_deg": 6,
                "plane": "transverse",
                **LEVER,
            },
            (10.0,),
        ),
    ),
    (
        "clearance from land width and heel drop",
        Sample(
            {
                "drop": [0.0, R - hypot(R - 0.8 * sin(A), 0.8 * cos(A))],
                "width": {"greater": 20.8, "smaller": 20.0},
                "land": "flat",
                "edge_radius_mm": R,
                "plane": "transverse",
                **LEVER,
            },
            (10.0,),
        ),
    ),
    (
        "axial clearance from a drop on the end face",
        Sample(
            {
                "drop": [0.0, BEHIND * tan(A) - (BESIDE - 3) * tan(radians(2))],
                "land": "flat",
                "moved": "rolled",
                "roll_deg": 6,
                "at_radius_mm": 3,
                "dish_deg": 2,
                **LEVER,
            },
            (10.0,),
        ),
    ),
    (
        "clearance on an arc from a normal drop",
        Sample(
            {"drop": [0.0, on_a_ball()], "land": "flat", "roll_deg": 6, **BALL, **LEVER}, (10.0,)
        ),
    ),
    (
        "clearance on an arc from radial and axial drops",
        Sample(
            {
                "radial": [0.0, CAM],
                "axial": [0.0, CAM],
                "roll_deg": 6,
                **BALL,
                **LEVER,
            },
            (degrees(atan(CAM * (cos(T) + sin(T)) / (RHO * P))),),
        ),
    ),
    (
        "rise of a form relief",
        Sample({"drop": [0.0, 0.05], "roll_deg": 3, "teeth": 12, **LEVER}, (0.05 * 30 / 3,)),
    ),
    (
        "clearance normal to a form flank",
        Sample(
            {
                "drop": [0.0, 0.3],
                "roll_deg": 6,
                "point_radius_mm": 30,
                "flank_deg": 30,
                "relieved_deg": 0,
                **LEVER,
            },
            (degrees(atan(0.3 * sin(radians(30)) / (30 * P))),),
        ),
    ),
)
