"""What is left to grind, turned into what a slide must move. No I/O. Lengths in mm.

All derived; which way a feature is ground, and whether it may be, is not known here.
"""

from __future__ import annotations

import math

from inspect_rec.compute.reach import formula
from inspect_rec.errors import ComputeError


@formula
def of_cylinder(diameter_mm: float, aim_mm: float) -> float:
    """Infeed square to the axis: half of what the diameter has to lose."""
    return (diameter_mm - aim_mm) / 2


@formula
def of_flank(axial_mm: float, kappa_deg: float) -> float:
    """Infeed square to the flank of a point that stands ``axial_mm`` too long: a sin k."""
    return axial_mm * math.sin(math.radians(kappa_deg))


@formula
def of_face(radius_to_lose_mm: float, clearance_deg: float) -> float:
    """What to take off the face, so that a relieved edge loses so much radius: dr / tan a."""
    if not 0 < clearance_deg < 90:
        raise ComputeError(
            "face grinding takes no radius off",
            expected="a clearance above 0° and below 90°",
            found=f"{clearance_deg}°",
        )
    return radius_to_lose_mm / math.tan(math.radians(clearance_deg))


@formula
def radius_lost(face_mm: float, clearance_deg: float) -> float:
    """How much radius a relieved edge loses to the face ground: t tan a."""
    if not 0 <= clearance_deg < 90:
        raise ComputeError(
            "no such clearance", expected="from 0° to below 90°", found=f"{clearance_deg}°"
        )
    return face_mm * math.tan(math.radians(clearance_deg))


@formula
def of_swivelled(stock_mm: float, swivel_deg: float) -> float:
    """Infeed of a slide swivelled from the normal of the surface: s / cos d."""
    if not -90 < swivel_deg < 90:
        raise ComputeError(
            "the slide moves along the surface",
            expected="a swivel between -90° and 90°",
            found=f"{swivel_deg}°",
        )
    return stock_mm / math.cos(math.radians(swivel_deg))


@formula
def of_angle(error_deg: float, length_mm: float) -> float:
    """Stock at the proud end of an edge that stands at a wrong angle: l tan e."""
    return length_mm * math.tan(math.radians(error_deg))
