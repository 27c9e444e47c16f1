"""Where an arc runs into a straight: step, meeting angle, an arc between two straights. No I/O.

All derived from plane geometry. Points are (x, z) in mm; nothing here knows on which side the
metal is: a straight lies at a distance from the centre, and that is held against the radius.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from inspect_rec.compute import fitting
from inspect_rec.compute.equations import solve
from inspect_rec.compute.fitting import Points
from inspect_rec.compute.reach import within
from inspect_rec.errors import ComputeError

Point = tuple[float, float]

_STEPS = 60
_MOVED = 1e-4
"""Of a point to both sides, mm, for a difference: far below a form, far above the rounding."""


@dataclass(frozen=True, slots=True)
class Blend:
    """A straight against the circle of an arc, both fitted by least squares, lengths in mm."""

    circle: fitting.Circle
    straight: fitting.Line
    distance_mm: float
    """Of the straight from the centre."""
    foot: Point
    """Where the straight is nearest to the centre."""

    @property
    def outside_mm(self) -> float:
        """How far the straight lies beyond the circle; below 0 it cuts the circle."""
        return self.distance_mm - self.circle.radius_mm

    @property
    def meeting_deg(self) -> float:
        """Angle between the two where they meet; 0 where they don't."""
        return meeting_angle(self.outside_mm, self.circle.radius_mm)

    def angle_at(self, place_mm: float, slide: int) -> float:
        """Angle in deg between the straight and the circle's tangent beside it, where the straight
        has ``place_mm`` on the slide (0 is x, 1 is z). Raises ComputeError beyond the circle."""
        turn = math.radians(self.straight.angle_deg)
        along = (math.cos(turn), math.sin(turn))
        if abs(along[slide]) < 1e-6:
            raise ComputeError("the straight runs square to the slide: no place along it")
        off = (place_mm - self.foot[slide]) / along[slide]
        if not abs(off) < self.circle.radius_mm:
            raise ComputeError(
                "the place lies beyond the arc",
                expected=f"within {self.circle.radius_mm:.3f} mm of the nearest place",
                found=f"{off:.3f} mm from it",
            )
        return math.degrees(math.asin(abs(off) / self.circle.radius_mm))


def meeting_angle(outside_mm: float, radius_mm: float) -> float:
    """Angle in deg at which a straight cuts a circle that it lies ``outside_mm`` beyond."""
    if outside_mm >= 0:
        return 0.0
    if outside_mm <= -2 * radius_mm:
        raise ComputeError("the straight lies beyond the whole circle")
    return math.degrees(math.acos(1 + outside_mm / radius_mm))


def blend(arc: Points, straight: Points) -> Blend:
    """The circle through ``arc``, centre and radius free, and the line through ``straight``."""
    circle, found = fitting.circle(arc), fitting.line(straight)
    (mx, mz), turn = found.middle, math.radians(found.angle_deg)
    nx, nz = -math.sin(turn), math.cos(turn)
    off = (mx - circle.centre_x_mm) * nx + (mz - circle.centre_z_mm) * nz
    foot = circle.centre_x_mm + off * nx, circle.centre_z_mm + off * nz
    return Blend(circle, found, abs(off), foot)


@dataclass(frozen=True, slots=True)
class Corner:
    """An arc between two straights that it runs into smoothly; lengths in mm."""

    radius_mm: float
    centre: Point
    between_deg: float
    """Angle that the arc turns from one straight to the other."""
    residuals_mm: tuple[float, ...]
    """Of the arc's points: distance from the centre less the radius."""


def corner(arc: Points, one: Points, other: Points) -> Corner:
    """The radius with the least squares of the arc's points, the centre held a radius away from
    both straights on the arc's side. Raises ComputeError for straights of one direction."""
    within(*(c for point in arc for c in point))
    if len(arc) < 1:
        raise ComputeError("a corner needs points on its arc", expected="1 or more", found="0")
    mean = sum(x for x, _ in arc) / len(arc), sum(z for _, z in arc) / len(arc)
    normals, levels = [], []
    for straight in (one, other):
        found = fitting.line(straight)
        turn, (mx, mz) = math.radians(found.angle_deg), found.middle
        n = (-math.sin(turn), math.cos(turn))
        if _dot(n, (mean[0] - mx, mean[1] - mz)) < 0:
            n = (-n[0], -n[1])
        normals.append(n)
        levels.append(_dot(n, (mx, mz)))
    between = math.degrees(math.acos(max(-1.0, min(1.0, _dot(normals[0], normals[1])))))
    if not 1.0 < between < 179.0:
        raise ComputeError(
            "the two straights have one direction: no corner", found=f"{between:.2f}° between them"
        )
    why = "the two straights have one direction: no corner"
    at = (*solve(normals, levels, why=why),)
    toward = (*solve(normals, (1.0, 1.0), why=why),)
    return _tangent(arc, (at[0], at[1]), (toward[0], toward[1]), between)


def _dot(a: Point, b: Point) -> float:
    return a[0] * b[0] + a[1] * b[1]


def _tangent(arc: Points, at: Point, toward: Point, between: float) -> Corner:
    """Gauss-Newton for the radius alone, the centre riding on the bisector from the corner."""
    radius = min(math.dist(p, at) for p in arc) / (math.hypot(*toward) - 1)
    for _ in range(_STEPS):
        centre = at[0] + radius * toward[0], at[1] + radius * toward[1]
        by = square = 0.0
        for x, z in arc:
            d = math.dist((x, z), centre)
            if d == 0:
                raise ComputeError("a point lies in the centre of the circle")
            slope = -((x - centre[0]) * toward[0] + (z - centre[1]) * toward[1]) / d - 1
            by += slope * (d - radius)
            square += slope * slope
        if not square > 1e-12 * len(arc):
            raise ComputeError(
                "the points of the arc give no radius", do="Sight points nearer to its middle"
            )
        step = by / square
        radius -= step
        if abs(step) <= 1e-13 * abs(radius):
            break
    else:
        raise ComputeError("the corner doesn't settle on its points", do="Sight more points")
    if not radius > 0:
        raise ComputeError("the points of the arc give no radius", found=f"{radius:.4f} mm")
    centre = at[0] + radius * toward[0], at[1] + radius * toward[1]
    left = tuple(math.dist(p, centre) - radius for p in arc)
    return Corner(radius, centre, between, left)


def over_points(value: Callable[..., float], *groups: Points) -> float:
    """Standard uncertainty of ``value`` over that of one point (equal in x and z, independent):
    root of the sum of squares of its change with each coordinate, by central differences (GUM
    5.1.3, note 2). ``value`` takes the groups of points in order."""
    total = 0.0
    for n, group in enumerate(groups):
        for k, (x, z) in enumerate(group):
            for dx, dz in ((_MOVED, 0.0), (0.0, _MOVED)):
                ends = []
                for way in (1, -1):
                    moved: list[Sequence[Point]] = [list(g) for g in groups]
                    moved[n] = [*group[:k], (x + way * dx, z + way * dz), *group[k + 1 :]]
                    ends.append(value(*moved))
                total += ((ends[0] - ends[1]) / (2 * _MOVED)) ** 2
    return math.sqrt(total)
