"""Contours of many points in arrays: what ``contour`` and ``chain`` do point by point. No I/O.

numpy is loaded only when this is called. Sums are taken in another order there, so the last digits
of a float may differ from those of few points; nothing that is reported shows them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from inspect_rec.compute.circles import distances
from inspect_rec.compute.contour import Columns, Element, Point, Profile, Straight
from inspect_rec.errors import ComputeError

if TYPE_CHECKING:
    from inspect_rec.compute.chain import Link

_BLOCK = 256
"""Points searched together: their distances from all links stay in the processor's cache."""


def product(a: Any, b: Any) -> float:
    """Sum of the products of two columns."""
    return float(a @ b)


def measured(
    points: Sequence[Point],
    elements: Sequence[Element],
    belongs: Sequence[int],
    pivot: Point,
    turn_size: float,
) -> Profile:
    """The profile of many points, each with its own element, that ``contour.fit`` moves."""
    import numpy as np

    x, z = np.array(points, dtype=float).T
    shapes = np.zeros((6, len(elements)))
    for number in set(belongs):
        shapes[:, number] = _shape(elements[number])
    x0, z0, nx0, nz0, radius, sign = shapes[:, belongs]
    on_arc = sign != 0

    def at(shift_x: float, shift_z: float, turn: float) -> Columns:
        c, s = math.cos(turn), math.sin(turn)
        px, pz = x - shift_x - pivot[0], z - shift_z - pivot[1]
        qx, qz = c * px + s * pz, c * pz - s * px
        dx, dz = qx + pivot[0] - x0, qz + pivot[1] - z0
        off = np.where(on_arc, distances(dx, dz), 1.0)
        if not off.all():
            raise ComputeError("a point lies in the centre of its arc")
        nx = np.where(on_arc, sign * dx / off, nx0)
        nz = np.where(on_arc, sign * dz / off, nz0)
        deviations = np.where(on_arc, sign * (off - radius), dx * nx0 + dz * nz0)
        by_turn = (nx * qz - nz * qx) * turn_size
        return deviations, s * nz - c * nx, -s * nx - c * nz, by_turn

    return at


def _shape(element: Element) -> tuple[float, float, float, float, float, float]:
    """Start or centre; the unit normal of a straight one; radius and sign of an arc."""
    if isinstance(element, Straight):
        _, nx, nz = element.deviation(element.start)
        return *element.start, nx, nz, 0.0, 0.0
    return *element.centre, 0.0, 0.0, element.radius_mm, 1.0 if element.convex else -1.0


def search(links: Sequence[Link], same_mm: float) -> Callable[[Sequence[Point]], tuple[int, ...]]:
    """The search for the links of many points; distances that differ by less than ``same_mm``
    are one."""
    import numpy as np

    ends = np.array([(*link.start, *link.end) for link in links]).T
    shapes = np.array([_shape(link.element) for link in links]).T
    middle_x, middle_z, radius = np.array([link.around() for link in links]).T[:, :, None]

    def block(x: Any, z: Any) -> Any:
        # What lies further off as a whole than the furthest of another is not the nearest.
        away = distances(x - middle_x, z - middle_z)
        link, point = pairs = np.nonzero(away - radius <= (away + radius).min(axis=0) + same_mm)
        deviation, off = np.full((2, *away.shape), np.inf)
        deviation[pairs], off[pairs] = _held(x[point], z[point], ends[:, link], shapes[:, link])
        near = off <= off.min(axis=0) + same_mm
        # Of those the first that it deviates from most.
        return np.where(near, deviation, -1.0).argmax(axis=0)

    def found(points: Sequence[Point]) -> tuple[int, ...]:
        x, z = np.array(points, dtype=float).T
        parts = [block(x[n : n + _BLOCK], z[n : n + _BLOCK]) for n in range(0, len(x), _BLOCK)]
        return tuple(np.concatenate(parts).tolist())

    return found


def _held(x: Any, z: Any, ends: Any, shapes: Any) -> tuple[Any, Any]:
    """Sizes of the points' deviations, each from a link, to 1e-9 mm, and their distances from what
    lies between its ends."""
    import numpy as np

    ax, az, bx, bz = ends
    x0, z0, nx, nz, radius, sign = shapes
    dx, dz = x - x0, z - z0
    deviation = np.abs(np.where(sign == 0, dx * nx + dz * nz, distances(dx, dz) - radius))
    way_x, way_z = bx - ax, bz - az
    along = way_x * dx + way_z * dz
    beside = (along >= 0) & (along <= way_x * way_x + way_z * way_z)
    # A convex arc turns to the right.
    past_start = sign * (dx * (az - z0) - dz * (ax - x0)) >= 0
    short_of_end = sign * (dz * (bx - x0) - dx * (bz - z0)) >= 0
    beside = np.where(sign == 0, beside, past_start & short_of_end)
    to_an_end = np.minimum(distances(x - ax, z - az), distances(x - bx, z - bz))
    return deviation.round(9), np.where(beside, deviation, to_an_end)
