"""Plane geometry of edges and lands: clearances, points, places. No I/O, no readings.

All derived from plane geometry where nothing else is named; angles in deg, lengths in mm. The
clearances are those of the transverse plane.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from inspect_rec.compute.reach import LEAST, formula, length
from inspect_rec.errors import ComputeError


@dataclass(frozen=True, slots=True)
class Relief:
    """A clearance in the transverse plane, and what moves it."""

    clearance_deg: float
    per_drop_deg_per_um: float
    per_roll_deg_per_deg: float
    per_radius_deg_per_mm: float


@formula
def rolled_flat(drop_mm: float, roll_deg: float, radius_mm: float) -> Relief:
    """Clearance of a flat land from the drop under a still indicator while the tool is rolled:
    tan a = (r / (r - h) - cos p) / sin p."""
    _sound_drop(drop_mm, roll_deg, radius_mm)
    p = math.radians(roll_deg)
    t = (radius_mm / (radius_mm - drop_mm) - math.cos(p)) / math.sin(p)
    turned = 1 / (1 + t * t)
    left = radius_mm - drop_mm
    by_h = turned * radius_mm / left**2 / math.sin(p)
    by_p = turned * (1 - t * math.cos(p) / math.sin(p))
    by_r = turned * -drop_mm / left**2 / math.sin(p)
    return Relief(math.degrees(math.atan(t)), math.degrees(by_h) / 1000, by_p, math.degrees(by_r))


@formula
def rolled_eccentric(drop_mm: float, roll_deg: float, radius_mm: float) -> Relief:
    """Clearance of an eccentric (archimedean) land: tan a = h / (r p)."""
    _sound_drop(drop_mm, roll_deg, radius_mm)
    p = math.radians(roll_deg)
    t = drop_mm / (radius_mm * p)
    turned = 1 / (1 + t * t)
    return Relief(
        math.degrees(math.atan(t)),
        math.degrees(turned / (radius_mm * p)) / 1000,
        -turned * t / p,
        math.degrees(-turned * t / radius_mm),
    )


@formula
def drop_of_flat(clearance_deg: float, roll_deg: float, radius_mm: float) -> float:
    """Drop to expect of a flat land after the roll, mm: r (1 - cos a / cos(p - a)). Below 0 the
    land stands above the edge there."""
    _sound_angle(clearance_deg)
    _sound_drop(0.0, roll_deg, radius_mm)
    if not abs(roll_deg - clearance_deg) < 90:
        raise ComputeError(
            "the indicator doesn't meet this land after so much roll",
            expected=f"a roll of less than {90 + clearance_deg:g}°",
            found=f"{roll_deg}°",
        )
    a, p = math.radians(clearance_deg), math.radians(roll_deg)
    return radius_mm * (1 - math.cos(a) / math.cos(p - a))


@formula
def drop_of_eccentric(clearance_deg: float, roll_deg: float, radius_mm: float) -> float:
    """Drop to expect of an eccentric land after the roll, mm: r p tan a."""
    _sound_angle(clearance_deg)
    _sound_drop(0.0, roll_deg, radius_mm)
    return radius_mm * math.radians(roll_deg) * math.tan(math.radians(clearance_deg))


@dataclass(frozen=True, slots=True)
class WidthRelief:
    """A clearance from the width of the land and the drop of its heel, and what moves it."""

    clearance_deg: float
    per_drop_deg_per_um: float
    per_width_deg_per_mm: float
    per_radius_deg_per_mm: float


@formula
def flat_by_width(heel_drop_mm: float, width_mm: float, radius_mm: float) -> WidthRelief:
    """Clearance of a flat land of chord width w whose heel stands h lower in radius than the
    edge: sin a = (w^2 + 2 r h - h^2) / (2 r w). (h / w alone is wrong on a round tool.)"""
    h, w, r = heel_drop_mm, width_mm, radius_mm
    length(w, "land")
    length(r, "radius")
    s = (w * w + 2 * r * h - h * h) / (2 * r * w)
    if not (abs(s) < 1 and h < r):
        raise ComputeError(
            "no flat land has this drop over this width", found=f"{h} mm over {w} mm"
        )
    c = math.sqrt(1 - s * s)
    by_h = (r - h) / (r * w) / c
    by_w = (w * w - 2 * r * h + h * h) / (2 * r * w * w) / c
    by_r = (h * h - w * w) / (2 * r * r * w) / c
    return WidthRelief(
        math.degrees(math.asin(s)),
        math.degrees(by_h) / 1000,
        math.degrees(by_w),
        math.degrees(by_r),
    )


@formula
def rubbing_below(width_mm: float, radius_mm: float) -> float:
    """Clearance at which the heel of a flat land is as far out as the edge, deg; below it the
    heel rubs: sin a = w / (2 r)."""
    if not 0 < width_mm < 2 * radius_mm:
        raise ComputeError(
            "no such land",
            expected=f"a width above 0 and below {2 * radius_mm} mm",
            found=f"{width_mm} mm",
        )
    return math.degrees(math.asin(width_mm / (2 * radius_mm)))


@formula
def slid(reading_mm: float, travel_mm: float, lever_deg: float = 0.0) -> float:
    """Clearance of a still tool whose land a slide carries past a lever indicator, deg:
    tan a = reading * cos(lever) / travel. (Cosine of the lever: common practice.)"""
    _sound_angle(lever_deg)
    length(travel_mm, "travel over the land")
    return math.degrees(math.atan(true_drop(reading_mm, lever_deg) / travel_mm))


@formula
def true_drop(reading_mm: float, lever_deg: float) -> float:
    """What a lever indicator set at an angle reads, taken back to a drop (common practice)."""
    return reading_mm * math.cos(math.radians(lever_deg))


@formula
def hollow(chord_deg: float, width_mm: float, wheel_radius_mm: float) -> float:
    """Clearance at the edge of a land ground hollow by a wheel's periphery, deg: that of its
    chord and asin(w / (2 R_wheel))."""
    if not 0 < width_mm < 2 * wheel_radius_mm:
        raise ComputeError(
            "no such hollow",
            expected="a width above 0 and below the wheel's diameter",
            found=f"{width_mm} mm, wheel radius {wheel_radius_mm} mm",
        )
    return chord_deg + math.degrees(math.asin(width_mm / (2 * wheel_radius_mm)))


def _sound_drop(drop_mm: float, roll_deg: float, radius_mm: float) -> None:
    # Below a thousandth of a degree there is no roll, and the slopes would overflow.
    if not 1e-3 <= roll_deg < 90:
        raise ComputeError("no such roll", expected="above 0°, below 90°", found=f"{roll_deg}°")
    length(radius_mm, "radius")
    if not drop_mm <= radius_mm - LEAST:
        raise ComputeError(
            "no such drop", expected=f"below the radius {radius_mm} mm", found=f"{drop_mm} mm"
        )


def _sound_angle(angle_deg: float) -> None:
    if not -90 < angle_deg < 90:
        raise ComputeError("no such angle", expected="between -90° and 90°", found=f"{angle_deg}°")


@formula
def edge_out_of_plane(kappa_view_deg: float, turned_deg: float) -> float:
    """Angle of an edge against the axis that is turned out of the image plane:
    tan k = tan k_view / cos e, on the side of the right angle on which it is seen."""
    _sound_angle(turned_deg)
    if not -180 < kappa_view_deg <= 180:
        raise ComputeError(
            "no such angle", expected="above -180° up to 180°", found=f"{kappa_view_deg}°"
        )
    view = math.tan(math.radians(kappa_view_deg))
    beyond = 0.0 if abs(kappa_view_deg) <= 90 else math.copysign(180, kappa_view_deg)
    return math.degrees(math.atan(view / math.cos(math.radians(turned_deg)))) + beyond


@dataclass(frozen=True, slots=True)
class Leg:
    """Angle of one straight edge against the tool axis, from two points."""

    angle_deg: float
    length_mm: float
    u_deg_per_um: float
    """For a standard uncertainty of 1 um of each point, square to the edge: sqrt(2) / length."""


@formula
def leg(along_mm: float, across_mm: float) -> Leg:
    """From the differences of the two points along the axis and across it, mm, signs left out:
    tan k = across / along."""
    long_mm = math.hypot(along_mm, across_mm)
    length(long_mm, "leg")
    angle = math.atan2(abs(across_mm), abs(along_mm))
    return Leg(math.degrees(angle), long_mm, math.degrees(math.sqrt(2) * 1e-3 / long_mm))


@formula
def point_length(diameter_mm: float, point_deg: float) -> float:
    """Length of a drill's point: (D / 2) / tan(point / 2), mm."""
    length(diameter_mm, "diameter")
    if not 0 < point_deg < 180:
        raise ComputeError("no such point", expected="above 0°, below 180°", found=f"{point_deg}°")
    return diameter_mm / 2 / math.tan(math.radians(point_deg) / 2)


@formula
def taper(diameter_1_mm: float, diameter_2_mm: float, distance_mm: float) -> float:
    """Included angle of a taper from two diameters and their distance along the axis, deg."""
    length(distance_mm, "distance")
    return 2 * math.degrees(math.atan((diameter_1_mm - diameter_2_mm) / (2 * distance_mm)))


@formula
def radius_of_chord(chord_mm: float, rise_mm: float) -> tuple[float, float]:
    """Radius from a chord and its rise, c^2 / (8 h) + h / 2, mm; and dR/dh."""
    length(chord_mm, "chord")
    length(rise_mm, "rise")
    square = chord_mm**2 / 8
    return square / rise_mm + rise_mm / 2, 0.5 - square / rise_mm**2


@formula
def off_maximum(radius_mm: float, turned_deg: float) -> float:
    """What an edge turned out of the axial plane reads short: r (1 - cos e), mm."""
    length(radius_mm, "radius")
    # Not 1 - cos: that loses the digits of a small angle.
    return 2 * radius_mm * math.sin(math.radians(turned_deg) / 2) ** 2


@formula
def depth_in_face(outer_radius_mm: float, depth_mm: float, rake_deg: float) -> float:
    """How a depth below the outer radius appears in a face with rake, mm:
    r cos g - sqrt((r - d)^2 - r^2 sin^2 g)."""
    length(outer_radius_mm, "radius")
    sine = outer_radius_mm * math.sin(math.radians(rake_deg))
    inner = outer_radius_mm - depth_mm
    if not (0 <= depth_mm < outer_radius_mm and inner > abs(sine)):
        raise ComputeError(
            "the face doesn't reach so deep",
            expected=f"a depth from 0 to below {outer_radius_mm - abs(sine)} mm",
            found=f"{depth_mm} mm",
        )
    return outer_radius_mm * math.cos(math.radians(rake_deg)) - math.sqrt(inner**2 - sine**2)


@formula
def rake_offset(radius_mm: float, rake_deg: float) -> float:
    """Offset of a face from the axis that gives a radial rake: r sin g, mm."""
    length(radius_mm, "radius")
    return radius_mm * math.sin(math.radians(rake_deg))


@formula
def rake_of_offset(radius_mm: float, offset_mm: float) -> float:
    """Radial rake of a face that lies off the axis: asin(o / r), deg."""
    return _arcsine(offset_mm, radius_mm, "offset")


@formula
def sine_bar(length_mm: float, angle_deg: float) -> float:
    """Stack under a sine bar: L sin t, mm."""
    length(length_mm, "bar")
    return length_mm * math.sin(math.radians(angle_deg))


@formula
def sine_bar_angle(length_mm: float, stack_mm: float) -> float:
    """Angle of a sine bar on a stack: asin(h / L), deg."""
    return _arcsine(stack_mm, length_mm, "stack")


def _arcsine(opposite_mm: float, length_mm: float, what: str) -> float:
    length(length_mm, "length")
    if not abs(opposite_mm) <= length_mm:
        raise ComputeError(
            f"no such {what}", expected=f"at most {length_mm} mm", found=f"{opposite_mm} mm"
        )
    return math.degrees(math.asin(opposite_mm / length_mm))


@formula
def two_sightings(first: float, second: float, scale: float = 1.0, bias_mm: float = 0.0) -> float:
    """Width over two sightings, mm: distance times ``scale`` (1; 1/2 where the readout counts the
    diameter; 25.4 from inches), less what a master sighted the same way reads too large, mm."""
    return abs(second - first) * scale - bias_mm


@formula
def to_20_degrees(
    length_mm: float,
    *,
    tool_per_kelvin: float,
    tool_degc: float,
    scale_per_kelvin: float,
    scale_degc: float,
) -> float:
    """Length at 20 °C (ISO 1) of a tool measured warm with a scale that is warm, too, mm:
    L (1 - a_tool (T_tool - 20) + a_scale (T_scale - 20)), first order."""
    tool, scale = tool_per_kelvin * (tool_degc - 20), scale_per_kelvin * (scale_degc - 20)
    return length_mm * (1 - tool + scale)
