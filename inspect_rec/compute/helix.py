"""Lead and helix of flutes. No I/O. Lengths in mm, angles in deg.

A lead's sign is its hand: right-hand positive where Z and the index count that way.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from inspect_rec.compute.reach import formula, length
from inspect_rec.compute.regression import regression
from inspect_rec.errors import ComputeError


@formula
def lead_of_helix(diameter_mm: float, helix_deg: float) -> float:
    """Lead of a helix angle on a diameter: pi D / tan b, mm."""
    length(diameter_mm, "diameter")
    if not 0 < abs(helix_deg) < 90:
        raise ComputeError(
            "no lead", expected="a helix above 0° and below 90°", found=f"{helix_deg}°"
        )
    return math.pi * diameter_mm / math.tan(math.radians(helix_deg))


@formula
def helix_of_lead(diameter_mm: float, lead_mm: float) -> float:
    """Helix angle of a lead on a diameter: atan(pi D / |L|), deg."""
    length(diameter_mm, "diameter")
    length(abs(lead_mm), "lead")
    return math.degrees(math.atan(math.pi * diameter_mm / abs(lead_mm)))


@dataclass(frozen=True, slots=True)
class Lead:
    """A lead with its standard uncertainty from the scatter of the readings, mm."""

    lead_mm: float
    u_lead_mm: float


def lead_of_travel(z_mm: Sequence[float], index_deg: Sequence[float]) -> Lead:
    """From places along the flute and the index there: 360 times the slope of Z over the index."""
    found = regression(index_deg, z_mm)
    return Lead(360 * found.slope, 360 * found.u_slope)


@formula
def lead_of_creep(
    set_mm: float | None, radius_mm: float, length_mm: float, creep_mm: float
) -> float:
    """Lead of a flute that an indicator creeps out of while it follows at the lead that is set:
    1/L = 1/L_set + creep / (2 pi r Z), creep tangential at r over the length Z. A set lead of None
    is infinite: the machine doesn't turn the tool."""
    for value, what in ((radius_mm, "radius"), (length_mm, "length")):
        length(value, what)
    if set_mm is not None:
        length(abs(set_mm), "lead")
    turns_per_mm = creep_mm / (2 * math.pi * radius_mm * length_mm)
    if set_mm is not None:
        turns_per_mm += 1 / set_mm
    if turns_per_mm == 0:
        raise ComputeError("the flute is straight: no lead")
    return 1 / turns_per_mm


@formula
def turn_on_taper(small_mm: float, large_mm: float, length_mm: float, helix_deg: float) -> float:
    """Turn of an edge of constant helix angle on a taper between two diameters, deg:
    tan b / k * ln(d1 / d0) with k = (d1 - d0) / (2 length), with the sign of b, the hand. Its lead
    varies with the diameter."""
    for value, what in ((small_mm, "diameter"), (large_mm, "diameter"), (length_mm, "length")):
        length(value, what)
    if not abs(helix_deg) < 90:
        raise ComputeError("no such helix", expected="between -90° and 90°", found=f"{helix_deg}°")
    ratio = large_mm / small_mm - 1
    # ln(1 + q) / q, which is 1 on a cylinder.
    over = math.log1p(ratio) / ratio if ratio else 1.0
    tangent = math.tan(math.radians(helix_deg))
    return math.degrees(tangent * 2 * length_mm / small_mm * over)
