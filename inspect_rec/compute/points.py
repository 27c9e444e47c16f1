"""Lines and places of a drill's point: lips, chisel edge, flanks on both sides of the axis.

No I/O, no readings. All derived from plane geometry; angles in deg, lengths in mm. In a view along
the tool, ``along`` counts away from the tip and ``across`` square to the axis; in a view from the
end both slides lie square to the axis.
"""

from __future__ import annotations

import math

from inspect_rec.compute.reach import LEAST, formula, length
from inspect_rec.errors import ComputeError


@formula
def opening(across_mm: float, along_mm: float) -> float:
    """Angle of a leg against the axis, deg, from the differences of two of its points: above 0
    where it opens away from the tip on its side, whichever point comes first."""
    length(math.hypot(across_mm, along_mm), "leg")
    way = -1 if along_mm < 0 else 1
    return math.degrees(math.atan2(way * across_mm, way * along_mm))


@formula
def height_at(at_mm: float, r1_mm: float, z1_mm: float, r2_mm: float, z2_mm: float) -> float:
    """Height of a straight lip at a distance from the axis, mm, from two of its points."""
    apart = r2_mm - r1_mm
    if not abs(apart) >= LEAST:
        raise ComputeError(
            "the two points of a lip lie at one distance from the axis", found=f"{r1_mm} mm"
        )
    return z1_mm + (at_mm - r1_mm) * (z2_mm - z1_mm) / apart


@formula
def between(x1_mm: float, z1_mm: float, x2_mm: float, z2_mm: float) -> float:
    """Angle between two directions without their senses, from 0 to 90 deg."""
    length(math.hypot(x1_mm, z1_mm), "edge")
    length(math.hypot(x2_mm, z2_mm), "edge")
    turned = math.atan2(x1_mm * z2_mm - z1_mm * x2_mm, x1_mm * x2_mm + z1_mm * z2_mm)
    return math.degrees(abs(turned) if abs(turned) <= math.pi / 2 else math.pi - abs(turned))


@formula
def off_axis(ends: tuple[float, ...], after: tuple[float, ...]) -> float:
    """Distance of an edge's line from the axis, mm with sign, from its two ends (x1, z1, x2, z2)
    and the same two after half a turn.

    Half a turn about the axis takes the line to one that is parallel, as far off on the other
    side: half the distance of the two. Where the axis lies, and what the crosshair's line does to
    both alike, cancels."""
    x1, z1, x2, z2 = ends
    u1, w1, u2, w2 = after
    dx, dz = (x2 - x1) - (u2 - u1), (z2 - z1) - (w2 - w1)
    long = math.hypot(dx, dz)
    length(long, "edge")
    return ((x1 + x2 - u1 - u2) * dz - (z1 + z2 - w1 - w2) * dx) / (4 * long)


@formula
def off_half_a_turn(ends: tuple[float, ...], after: tuple[float, ...]) -> float:
    """How far the two directions of an edge are off half a turn, deg."""
    x1, z1, x2, z2 = ends
    u1, w1, u2, w2 = after
    length(math.hypot(x2 - x1, z2 - z1), "edge")
    length(math.hypot(u2 - u1, w2 - w1), "edge")
    before, now = math.atan2(z2 - z1, x2 - x1), math.atan2(w2 - w1, u2 - u1)
    return abs((math.degrees(now - before) % 360) - 180)


@formula
def back_taper(front_mm: float, back_mm: float, distance_mm: float) -> float:
    """How much smaller a diameter gets toward the shank, mm on 100 mm."""
    length(distance_mm, "distance of the two diameters")
    return (front_mm - back_mm) * 100 / distance_mm
