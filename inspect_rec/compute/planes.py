"""Angles of an edge in one plane from those in another. No I/O.

Letters and planes are those of ISO 3002-1 (from memory; the formulas are derived, and public
pages disagree about the sign of the inclination: at an edge angle of 90 deg the orthogonal rake
must be the side rake, and the inclination the back rake). Angles in deg.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from inspect_rec.compute.reach import formula
from inspect_rec.errors import ComputeError


@dataclass(frozen=True, slots=True)
class ToolPlanes:
    """Rake in the orthogonal and normal planes, and the inclination of the edge."""

    rake_orthogonal_deg: float
    inclination_deg: float
    rake_normal_deg: float


@formula
def tool_planes(rake_side_deg: float, rake_back_deg: float, edge_deg: float) -> ToolPlanes:
    """From the side rake (f), the back rake (p) and the edge angle kappa_r:
    tan go = tan gf sin k + tan gp cos k; tan ls = tan gp sin k - tan gf cos k;
    tan gn = tan go cos ls."""
    side, back = _tan(rake_side_deg), _tan(rake_back_deg)
    if not 0 <= edge_deg <= 180:
        raise ComputeError("no such edge angle", expected="from 0° to 180°", found=f"{edge_deg}°")
    s, c = math.sin(math.radians(edge_deg)), math.cos(math.radians(edge_deg))
    orthogonal = side * s + back * c
    inclination = math.atan(back * s - side * c)
    return ToolPlanes(
        math.degrees(math.atan(orthogonal)),
        math.degrees(inclination),
        math.degrees(math.atan(orthogonal * math.cos(inclination))),
    )


@formula
def normal_clearance(transverse_deg: float, helix_deg: float) -> float:
    """Clearance square to a helical edge from that of the end view: tan an = tan at / cos b."""
    _tan(helix_deg)
    return math.degrees(math.atan(_tan(transverse_deg) / math.cos(math.radians(helix_deg))))


@formula
def normal_rake(transverse_deg: float, helix_deg: float) -> float:
    """Rake square to a helical edge from that of the end view: tan gn = tan gt cos b."""
    _tan(helix_deg)
    return math.degrees(math.atan(_tan(transverse_deg) * math.cos(math.radians(helix_deg))))


def _tan(angle_deg: float) -> float:
    if not -90 < angle_deg < 90:
        raise ComputeError("no such angle", expected="between -90° and 90°", found=f"{angle_deg}°")
    return math.tan(math.radians(angle_deg))
