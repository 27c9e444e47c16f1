"""Clearances from where a second point of the land lies: on lands, end faces, arcs, forms.

No I/O, no readings. All derived from plane geometry; angles in deg, lengths in mm. The edge lies
at the origin of the transverse plane, ``along`` counts from it down the tangent of its circle,
``below`` from that tangent toward the axis. Clearances are those at the edge itself.
"""

from __future__ import annotations

import math

from inspect_rec.compute import geometry
from inspect_rec.compute.reach import LEAST, formula, length
from inspect_rec.errors import ComputeError

FLAT, ECCENTRIC, HOLLOW = "flat", "eccentric", "hollow"
LANDS = (FLAT, ECCENTRIC, HOLLOW)
"""How a land is ground: plane, falling evenly with the angle turned, by a wheel's periphery."""


@formula
def rolled_point(drop_mm: float, roll_deg: float, radius_mm: float) -> tuple[float, float]:
    """Along and below, of the point under a still indicator after the tool was rolled."""
    _roll(roll_deg)
    left, p = _left(drop_mm, radius_mm), math.radians(roll_deg)
    return left * math.sin(p), radius_mm - left * math.cos(p)


@formula
def heel_point(heel_drop_mm: float, width_mm: float, radius_mm: float) -> tuple[float, float]:
    """Along and below, of a heel that stands lower in radius, at a chord of that width."""
    _left(heel_drop_mm, radius_mm)
    chord = math.radians(geometry.flat_by_width(heel_drop_mm, width_mm, radius_mm).clearance_deg)
    return width_mm * math.cos(chord), width_mm * math.sin(chord)


@formula
def of_land(
    land: str, along_mm: float, below_mm: float, radius_mm: float, wheel_radius_mm: float = 0.0
) -> float:
    """Clearance in the transverse plane of a land that holds the edge and a second point, deg.

    Flat: that of the chord. Hollow: the chord's and asin(chord / (2 R_wheel)). Eccentric: the
    radius falls by k for each radian, tan a = k / r, with k from both radii and the angle between
    them. Raises ComputeError for a land of another kind or a point that isn't on it."""
    length(along_mm, "travel over the land")
    length(radius_mm, "radius")
    chord = math.degrees(math.atan2(below_mm, along_mm))
    if land == FLAT:
        return chord
    if land == HOLLOW:
        return geometry.hollow(chord, math.hypot(along_mm, below_mm), wheel_radius_mm)
    if land == ECCENTRIC:
        height = _left(below_mm, radius_mm)
        fall = radius_mm - math.hypot(along_mm, height)
        return math.degrees(math.atan2(fall, radius_mm * math.atan2(along_mm, height)))
    raise ComputeError("no such land", expected=" | ".join(LANDS), found=repr(land))


@formula
def end_face(
    land: str, beside_mm: float, behind_mm: float, drop_mm: float, radius_mm: float, dish_deg: float
) -> float:
    """Axial clearance of an end land at a radius, deg, from an axial drop at a point ``beside``
    the axis along the edge, and ``behind`` the edge.

    The edge lies on a radius and rises outward by the dish d. Flat: the face is
    z = -y tan a + (x - r) tan d. Eccentric: it falls by k for each radian, and k / r = tan a;
    z = -k p + (rho - r) tan d."""
    length(radius_mm, "radius")
    length(behind_mm, "travel over the land")
    rise = math.tan(math.radians(dish_deg))
    if land == FLAT:
        return math.degrees(math.atan2(drop_mm + (beside_mm - radius_mm) * rise, behind_mm))
    if land == ECCENTRIC:
        fall = drop_mm + (math.hypot(beside_mm, behind_mm) - radius_mm) * rise
        return math.degrees(math.atan2(fall, radius_mm * math.atan2(behind_mm, beside_mm)))
    raise ComputeError("no such land", expected=f"{FLAT} | {ECCENTRIC}", found=repr(land))


@formula
def radius_on_arc(centre_mm: float, arc_radius_mm: float, polar_deg: float) -> float:
    """Distance from the axis of a point of a convex arc, whose centre lies ``centre_mm`` off the
    axis (a ball: 0); the polar angle counts from the radius, 90 deg is along the axis."""
    length(arc_radius_mm, "arc")
    found = centre_mm + arc_radius_mm * math.cos(math.radians(polar_deg))
    if not found >= LEAST:
        raise ComputeError(
            "that place of the arc doesn't turn",
            expected="one off the axis",
            found=f"{polar_deg}°, {found} mm from the axis",
        )
    return found


@formula
def on_arc(land: str, drop_mm: float, roll_deg: float, radius_mm: float, polar_deg: float) -> float:
    """Clearance square to an edge on an arc, from the drop along the arc's normal, deg.

    The edge lies in a plane through the axis; at polar angle t its normal there is
    n = (cos t, 0, sin t), and the plane square to it is that of n and the direction of turning,
    e = (0, 1, 0). Eccentric: the edge falls by k for each radian, tan a = k / rho. Flat: the land
    is a plane through the edge with the normal n cos a + e sin a; the touched point, after the
    roll p, is ((rho - h cos t) cos p, (rho - h cos t) sin p, z - h sin t), which gives
    tan a = (h sin^2 t + cos t (rho - (rho - h cos t) cos p)) / ((rho - h cos t) sin p)."""
    _roll(roll_deg)
    p, t = math.radians(roll_deg), math.radians(polar_deg)
    left = _left(drop_mm * math.cos(t), radius_mm)
    if land == ECCENTRIC:
        return math.degrees(math.atan2(drop_mm, radius_mm * p))
    if land == FLAT:
        inward = drop_mm * math.sin(t) ** 2 + math.cos(t) * (radius_mm - left * math.cos(p))
        return math.degrees(math.atan2(inward, left * math.sin(p)))
    raise ComputeError("no such land", expected=f"{FLAT} | {ECCENTRIC}", found=repr(land))


@formula
def on_arc_of_two(
    radial_mm: float, axial_mm: float, roll_deg: float, radius_mm: float, polar_deg: float
) -> float:
    """Clearance square to an edge on an arc that a cam carries inward and back, deg.

    In every section through the axis the whole profile has moved by (h_r, h_a) for the roll p.
    Square to the profile that is h_r cos t + h_a sin t; the edge's point has travelled rho p, and
    both lie in the plane square to the edge: tan a = (h_r cos t + h_a sin t) / (rho p)."""
    _roll(roll_deg)
    length(radius_mm, "radius")
    t = math.radians(polar_deg)
    normal = radial_mm * math.cos(t) + axial_mm * math.sin(t)
    return math.degrees(math.atan2(normal, radius_mm * math.radians(roll_deg)))


@formula
def form_rise(drop_mm: float, roll_deg: float, teeth: float) -> float:
    """Rise of the relieving cam for each tooth, mm: k = h (360 / z) / p."""
    _roll(roll_deg)
    if not teeth >= 1:
        raise ComputeError("no such tool", expected="1 tooth or more", found=str(teeth))
    return drop_mm * 360 / teeth / roll_deg


@formula
def form_flank(
    drop_mm: float, roll_deg: float, radius_mm: float, flank_deg: float, relieved_deg: float = 0.0
) -> float:
    """Clearance square to a flank of a form-relieved profile, deg, from the drop of the crest.

    The cam carries the whole profile along one direction, which leans by t from the radius toward
    the flank; the crest, parallel to the axis, shows h = k cos t of it. A flank at angle s to the
    radius has its normal at 90 deg - s to it, so that it falls by k sin(s + t) while its point
    travels rho p: tan a = (h / cos t) sin(s + t) / (rho p). Radial relief: t = 0; and with
    h = k z p / (2 pi), s = 90 deg this is tan a = k z / (pi D)."""
    _roll(roll_deg)
    length(radius_mm, "radius")
    if not -90 < relieved_deg < 90:
        raise ComputeError(
            "no such relief", expected="between -90° and 90°", found=f"{relieved_deg}°"
        )
    t = math.radians(relieved_deg)
    fall = drop_mm / math.cos(t) * math.sin(math.radians(flank_deg) + t)
    return math.degrees(math.atan2(fall, radius_mm * math.radians(roll_deg)))


@formula
def lever_turns(reading_mm: float, lever_deg: float, lever_mm: float) -> float:
    """How far one cosine is wrong for a lever that turns while it reads, mm: sin l R^2 / (2 L),
    from L (sin(l + R / L) - sin l) to the second order."""
    length(lever_mm, "lever")
    return abs(math.sin(math.radians(lever_deg))) * reading_mm**2 / (2 * lever_mm)


def _roll(roll_deg: float) -> None:
    # Below a thousandth of a degree there is no roll, and the slopes would overflow.
    if not 1e-3 <= roll_deg < 90:
        raise ComputeError("no such roll", expected="above 0°, below 90°", found=f"{roll_deg}°")


def _left(drop_mm: float, radius_mm: float) -> float:
    """What is left of the radius under a drop."""
    length(radius_mm, "radius")
    if not drop_mm <= radius_mm - LEAST:
        raise ComputeError(
            "no such drop", expected=f"below the radius {radius_mm} mm", found=f"{drop_mm} mm"
        )
    return radius_mm - drop_mm
