"""Sighted points against a nominal contour of lines and arcs. Plain Python, no I/O.

Only what is declared free moves: X, Z, rotation. Nothing is scaled, ever, and nothing turned in
silence. Each point belongs to the element that is given for it, and elements count as unbounded;
least squares of the distances square to the contour (derived: Gauss-Newton from the nominal
place). Points are (x, z) in mm, deviations positive where metal is left: to the left of a line on
its way from ``start`` to ``end``, outside a convex arc, inside a concave one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from itertools import chain
from operator import mul

from inspect_rec.compute.equations import solve
from inspect_rec.compute.reach import length, within
from inspect_rec.errors import ComputeError

Point = tuple[float, float]
Deviation = Callable[[float, float], tuple[float, float, float]]
"""Of a point (x, z) in mm: its deviation in mm, and the unit normal along which it grows."""

FREEDOMS = ("X", "Z", "rotation")

_STEPS = 60


@dataclass(frozen=True, slots=True)
class Straight:
    """A straight element; metal counts to the left of the way from start to end."""

    start: Point
    end: Point

    def deviation(self, point: Point) -> tuple[float, float, float]:
        """Deviation of a point in mm, and the unit normal along which it grows."""
        return self.deviations()(*point)

    def deviations(self) -> Deviation:
        """The same for many points. Raises ComputeError where start and end are one point."""
        x0, z0 = self.start
        dx, dz = self.end[0] - x0, self.end[1] - z0
        long_mm = math.hypot(dx, dz)
        length(long_mm, "straight element")
        nx, nz = -dz / long_mm, dx / long_mm
        return lambda x, z: ((x - x0) * nx + (z - z0) * nz, nx, nz)


@dataclass(frozen=True, slots=True)
class Arc:
    """An arc; on a convex one metal left stands outside, on a concave one inside."""

    centre: Point
    radius_mm: float
    convex: bool = True

    def deviation(self, point: Point) -> tuple[float, float, float]:
        """Deviation of a point in mm, and the unit normal along which it grows."""
        return self.deviations()(*point)

    def deviations(self) -> Deviation:
        """The same for many points."""
        (x0, z0), radius, sign = self.centre, self.radius_mm, 1.0 if self.convex else -1.0

        def deviation(x: float, z: float) -> tuple[float, float, float]:
            dx, dz = x - x0, z - z0
            d = math.hypot(dx, dz)
            if d == 0:
                raise ComputeError("a point lies in the centre of its arc")
            return sign * (d - radius), sign * dx / d, sign * dz / d

        return deviation


Element = Straight | Arc


@dataclass(frozen=True, slots=True)
class ContourFit:
    """Where the measured profile sits against nominal, and what is left of it there.

    The rotation is about the pivot, from +x towards +z, and comes before the shift.
    """

    shift_x_mm: float
    shift_z_mm: float
    rotation_deg: float
    deviations_mm: tuple[float, ...]
    before_mm: tuple[float, ...]
    """Deviations with nothing moved."""

    @property
    def lowest_mm(self) -> float:
        """Where most metal is missing."""
        return min(self.deviations_mm)

    @property
    def highest_mm(self) -> float:
        """Where most metal is left."""
        return max(self.deviations_mm)

    @property
    def rms_mm(self) -> float:
        """Root mean square of the deviations."""
        return math.sqrt(sum(d * d for d in self.deviations_mm) / len(self.deviations_mm))


def fit(
    points: Sequence[Point],
    elements: Sequence[Element],
    belongs: Sequence[int],
    freedoms: Collection[str],
    pivot: Point = (0.0, 0.0),
) -> ContourFit:
    """The place with the least squares of the deviations under the declared ``freedoms`` (of
    "X", "Z", "rotation"; none is allowed, too). ``belongs[i]`` is the element of ``points[i]``.

    Raises ComputeError where the points don't hold a freedom, as along a single line.
    """
    within(*pivot)
    own = _checked(points, elements, belongs, freedoms)
    before = _moved(points, own, (0.0, 0.0, 0.0), pivot)
    free = [FREEDOMS.index(name) for name in FREEDOMS if name in freedoms]
    place, found = [0.0, 0.0, 0.0], before
    # A turn counts by what it moves at the outermost point, so that steps compare.
    reach = max(math.hypot(x - pivot[0], z - pivot[1]) for x, z in points) or 1.0
    size = (1.0, 1.0, 1 / reach)
    rest = 1e-12 * max(reach, *(math.hypot(x, z) for x, z in points))
    for _ in range(_STEPS if free else 0):
        step = _step(found, free, size)
        for i, change in zip(free, step, strict=True):
            place[i] += change * size[i]
        found = _moved(points, own, (place[0], place[1], place[2]), pivot)
        if max(map(abs, step)) <= rest:
            break
    else:
        if free:
            raise ComputeError("the contour doesn't settle on its points")
    return ContourFit(
        place[0],
        place[1],
        math.degrees(place[2]),
        tuple([deviation for deviation, *_ in found]),
        tuple([deviation for deviation, *_ in before]),
    )


Row = tuple[float, float, float, float]
"""A deviation, and its change for X, Z and the turn of the profile."""


def _moved(
    points: Sequence[Point],
    own: Sequence[Deviation],
    place: tuple[float, float, float],
    pivot: Point,
) -> list[Row]:
    """Deviations with the measured profile taken back from its place."""
    shift_x, shift_z, turn = place
    c, s = math.cos(turn), math.sin(turn)
    pivot_x, pivot_z = pivot
    found = []
    for (x, z), deviation in zip(points, own, strict=True):
        px, pz = x - shift_x - pivot_x, z - shift_z - pivot_z
        # Turned back by the rotation.
        qx, qz = c * px + s * pz, c * pz - s * px
        d, nx, nz = deviation(qx + pivot_x, qz + pivot_z)
        found.append((d, s * nz - c * nx, -s * nx - c * nz, nx * qz - nz * qx))
    return found


def _step(rows: Sequence[Row], free: Sequence[int], size: Sequence[float]) -> list[float]:
    """One Gauss-Newton step of the free places, each in its size."""
    deviations, *by_place = zip(*rows, strict=True)
    slopes = [[slope * size[i] for slope in by_place[i]] for i in free]
    return solve(
        [[sum(map(mul, a, b)) for b in slopes] for a in slopes],
        [-sum(map(mul, a, deviations)) for a in slopes],
        why="the points don't hold the contour in what is declared free",
    )


def _checked(
    points: Sequence[Point],
    elements: Sequence[Element],
    belongs: Sequence[int],
    freedoms: Collection[str],
) -> list[Deviation]:
    """How each point deviates from its element."""
    unknown = sorted(set(freedoms) - set(FREEDOMS))
    if unknown:
        raise ComputeError(
            "no such freedom", expected=", ".join(FREEDOMS), found=", ".join(unknown)
        )
    if not points or len(points) != len(belongs) or len(points) < len(set(freedoms)):
        raise ComputeError(
            "the points don't hold the contour in what is declared free",
            expected=f"{max(1, len(set(freedoms)))} points or more, each with its element",
            found=f"{len(points)} points, {len(belongs)} elements",
        )
    if not all(0 <= number < len(elements) for number in belongs):
        raise ComputeError("a point belongs to no element", expected=f"0 to {len(elements) - 1}")
    within(*chain.from_iterable(points))
    deviations = {number: elements[number].deviations() for number in set(belongs)}
    return [deviations[number] for number in belongs]


def one_arc(
    points: Sequence[Point],
    centre: Point,
    radius_mm: float,
    *,
    convex: bool,
    freedoms: Collection[str] = ("X", "Z"),
) -> ContourFit:
    """Points against a single nominal arc, its radius held."""
    length(radius_mm, "radius")
    return fit(points, [Arc(centre, radius_mm, convex)], [0] * len(points), freedoms, centre)
