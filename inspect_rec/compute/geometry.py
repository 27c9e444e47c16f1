"""Plane geometry of edges and lands: clearances from a drop, half angles. No I/O.

All derived from plane geometry; angles in deg, lengths in mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from inspect_rec.errors import ComputeError


@dataclass(frozen=True, slots=True)
class Relief:
    """A clearance in the transverse plane, and what moves it."""

    clearance_deg: float
    per_drop_deg_per_um: float
    per_roll_deg_per_deg: float
    per_radius_deg_per_mm: float


def rolled_flat(drop_mm: float, roll_deg: float, radius_mm: float) -> Relief:
    """Clearance of a flat land from the drop under a still indicator while the tool is rolled:
    tan a = (r / (r - h) - cos p) / sin p."""
    _sound(drop_mm, roll_deg, radius_mm)
    p = math.radians(roll_deg)
    t = (radius_mm / (radius_mm - drop_mm) - math.cos(p)) / math.sin(p)
    turned = 1 / (1 + t * t)
    left = radius_mm - drop_mm
    by_h = turned * radius_mm / left**2 / math.sin(p)
    by_p = turned * (1 - t * math.cos(p) / math.sin(p))
    by_r = turned * -drop_mm / left**2 / math.sin(p)
    return Relief(math.degrees(math.atan(t)), math.degrees(by_h) / 1000, by_p, math.degrees(by_r))


def rolled_eccentric(drop_mm: float, roll_deg: float, radius_mm: float) -> Relief:
    """Clearance of an eccentric (archimedean) land: tan a = h / (r p)."""
    _sound(drop_mm, roll_deg, radius_mm)
    p = math.radians(roll_deg)
    t = drop_mm / (radius_mm * p)
    turned = 1 / (1 + t * t)
    return Relief(
        math.degrees(math.atan(t)),
        math.degrees(turned / (radius_mm * p)) / 1000,
        -turned * t / p,
        math.degrees(-turned * t / radius_mm),
    )


def _sound(drop_mm: float, roll_deg: float, radius_mm: float) -> None:
    if not 0 < roll_deg < 90:
        raise ComputeError("no such roll", expected="above 0°, below 90°", found=f"{roll_deg}°")
    if not (radius_mm > 0 and drop_mm < radius_mm):
        raise ComputeError(
            "no such drop", expected=f"below the radius {radius_mm} mm", found=f"{drop_mm} mm"
        )


def edge_out_of_plane(kappa_view_deg: float, turned_deg: float) -> float:
    """Angle of an edge against the axis that is turned out of the image plane:
    tan k = tan k_view / cos e."""
    view = math.tan(math.radians(kappa_view_deg))
    return math.degrees(math.atan(view / math.cos(math.radians(turned_deg))))
