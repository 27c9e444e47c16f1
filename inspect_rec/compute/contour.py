"""Sighted points against a nominal contour of lines and arcs. No I/O.

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
from itertools import chain, repeat
from operator import mul
from typing import Any

from inspect_rec.compute.equations import solve
from inspect_rec.compute.reach import length, within
from inspect_rec.errors import ComputeError

Point = tuple[float, float]
Deviation = Callable[[float, float], tuple[float, float, float]]
"""Of a point (x, z) in mm: its deviation in mm, and the unit normal along which it grows."""

FREEDOMS = ("X", "Z", "rotation")

MANY = 500
"""From so many points arrays are quicker, the time in which numpy is loaded included, as a value
of a contour takes several fits."""

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
    _check(points, elements, belongs, freedoms)
    free = [FREEDOMS.index(name) for name in FREEDOMS if name in freedoms]
    # A turn counts by what it moves at the outermost point, so that steps compare.
    reach = max(map(math.dist, points, repeat(pivot))) or 1.0
    size = (1.0, 1.0, 1 / reach)
    rest = 1e-12 * max(reach, *map(math.hypot, *zip(*points, strict=True)))
    begin, product = _measured, _product
    if len(points) >= MANY:
        from inspect_rec.compute import contour_arrays

        begin, product = contour_arrays.measured, contour_arrays.product
    profile = begin(points, elements, belongs, pivot, size[2])
    place = [0.0, 0.0, 0.0]
    before = found = profile(*place)
    for _ in range(_STEPS if free else 0):
        step = _step(found, free, product)
        for i, change in zip(free, step, strict=True):
            place[i] += change * size[i]
        found = profile(*place)
        if max(map(abs, step)) <= rest:
            break
    else:
        if free:
            raise ComputeError("the contour doesn't settle on its points")
    return ContourFit(
        place[0],
        place[1],
        math.degrees(place[2]),
        tuple(map(float, found[0])),
        tuple(map(float, before[0])),
    )


Columns = tuple[Any, Any, Any, Any]
"""Deviations of the points, and their changes for X, Z and the turn of the profile: sequences or
arrays."""

Profile = Callable[[float, float, float], Columns]
"""The measured profile taken back from a place: shift in X and Z, mm, and turn, rad."""


def _measured(
    points: Sequence[Point],
    elements: Sequence[Element],
    belongs: Sequence[int],
    pivot: Point,
    turn_size: float,
) -> Profile:
    """``turn_size``: the turn, rad, for which its column states the change."""
    own = {number: elements[number].deviations() for number in set(belongs)}
    measured = [(x, z, own[number]) for (x, z), number in zip(points, belongs, strict=True)]
    pivot_x, pivot_z = pivot

    def at(shift_x: float, shift_z: float, turn: float) -> Columns:
        c, s = math.cos(turn), math.sin(turn)
        rows = []
        for x, z, deviation in measured:
            px, pz = x - shift_x - pivot_x, z - shift_z - pivot_z
            # Turned back by the rotation.
            qx, qz = c * px + s * pz, c * pz - s * px
            d, nx, nz = deviation(qx + pivot_x, qz + pivot_z)
            turned = (nx * qz - nz * qx) * turn_size
            rows.append((d, s * nz - c * nx, -s * nx - c * nz, turned))
        deviations, by_x, by_z, by_turn = zip(*rows, strict=True)
        return deviations, by_x, by_z, by_turn

    return at


def _product(a: Sequence[float], b: Sequence[float]) -> float:
    return float(sum(map(mul, a, b)))


def _step(
    columns: Columns, free: Sequence[int], product: Callable[[Any, Any], float]
) -> list[float]:
    """One Gauss-Newton step of the free places, each in its size."""
    deviations, *by_place = columns
    slopes = [by_place[i] for i in free]
    return solve(
        [[product(a, b) for b in slopes] for a in slopes],
        [-product(a, deviations) for a in slopes],
        why="the points don't hold the contour in what is declared free",
    )


def _check(
    points: Sequence[Point],
    elements: Sequence[Element],
    belongs: Sequence[int],
    freedoms: Collection[str],
) -> None:
    """That each point has an element, and that what is declared free can be held by them."""
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
    if min(belongs) < 0 or max(belongs) >= len(elements):
        raise ComputeError("a point belongs to no element", expected=f"0 to {len(elements) - 1}")
    within(*chain.from_iterable(points))


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
