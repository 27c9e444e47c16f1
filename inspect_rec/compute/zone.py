"""Minimum zones: the narrowest ring or strip that holds all points. No I/O.

For a form's verdict where a standard asks for it; the least-squares form is never narrower.
Derived. A ring that is the best of a few of the points is the narrowest of all, since none of all
can be narrower; where the few have no best one within a radius of the least-squares centre, the
ring is the one that is reached from there by going down. Points are (x, z) in mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from heapq import nlargest, nsmallest
from itertools import combinations, pairwise

from inspect_rec.compute import fitting
from inspect_rec.compute.fitting import Points
from inspect_rec.compute.reach import within
from inspect_rec.errors import ComputeError

Pair = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Ring:
    """The narrowest ring; ``radius_mm`` is the middle of its two circles."""

    centre_x_mm: float
    centre_z_mm: float
    radius_mm: float
    zone_mm: float


def minimum_ring(points: Points) -> Ring:
    """The centre that makes largest less smallest distance least.

    Raises ComputeError as ``fitting.circle`` does, and below four points.
    """
    start = fitting.circle(points)
    mx, mz = start.centre_x_mm, start.centre_z_mm
    # Each place once: what two points share in their last digits is one point here.
    moved = list(dict.fromkeys((x - mx, z - mz) for x, z in points))
    if len(moved) < 4:
        raise ComputeError("too few different points", expected="4", found=str(len(moved)))
    centre = _grown(moved, start.radius_mm)
    down = _descended(moved, start.radius_mm)
    if _width(moved, down) < _width(moved, centre) - 1e-12:
        centre = down
    distances = [math.hypot(x - centre[0], z - centre[1]) for x, z in moved]
    low, high = min(distances), max(distances)
    return Ring(centre[0] + mx, centre[1] + mz, (low + high) / 2, high - low)


def _grown(moved: list[Pair], reach: float) -> Pair:
    """Grows a working set: the best ring of a few points, found by trying every alternation (two
    points on the outer, two on the inner circle), and then the points that stand out of it most.
    """
    working = _ends(moved, (0.0, 0.0))
    centre = (0.0, 0.0)
    for _ in range(len(moved)):
        if len(working) >= 4:
            centre = min(_candidates(working, reach), key=lambda c: _width(working, c))
        more = [p for p in _ends(moved, centre) if p not in working]
        if len(working) >= 4 and _width(moved, centre) <= _width(working, centre) + 1e-12:
            break
        if not more:
            # The ends are in the set already, which is too small for an alternation.
            more = [next(p for p in moved if p not in working)]
        working += more
    return centre


_STEPS = 100
_OUTERMOST = 20
"""Points at either end that a step down looks at; those of the steps before stay with them."""


def _descended(moved: list[Pair], reach: float) -> Pair:
    """The centre reached from the least-squares one by linear programmes, each of the distances as
    they change to first order, within a bound that shrinks where a step leads up; then exactly,
    from the points at the ends."""
    centre, bound, held = (0.0, 0.0), 0.1 * reach, set[Pair]()
    width = _width(moved, centre)
    for _ in range(_STEPS):
        if bound <= 1e-6 * width or width == 0:
            break
        of = partial(_distance, centre)
        held |= {*nsmallest(_OUTERMOST, moved, of), *nlargest(_OUTERMOST, moved, of)}
        dx, dz = _step(sorted(held), centre, width, bound)
        there = (centre[0] + dx, centre[1] + dz)
        narrower = _width(moved, there)
        if narrower < width * (1 - 1e-12) and math.hypot(*there) <= reach:
            centre, width = there, narrower
        else:
            bound /= 4
    of = partial(_distance, centre)
    low, high = min(map(of, moved)), max(map(of, moved))
    at_an_end = nsmallest(6, moved, lambda p: min(of(p) - low, high - of(p)))
    exact = [centre, *_candidates(at_an_end, reach)]
    return min(exact, key=lambda c: _width(moved, c))


def _step(points: list[Pair], centre: Pair, width: float, bound: float) -> Pair:
    """How to move the centre, at most ``bound`` each way, so that the width shrinks most."""
    from scipy.optimize import linprog

    rows, right = [], []
    first = math.hypot(points[0][0] - centre[0], points[0][1] - centre[1])
    for x, z in points:
        d = math.hypot(x - centre[0], z - centre[1])
        # A point in the centre has no direction; any serves.
        u, v = (x - centre[0]) / (d or 1.0), (z - centre[1]) / (d or 1.0)
        rows += [(-u, -v, -1.0, 0.0), (u, v, 0.0, 1.0)]
        right += [(first - d) / width, (d - first) / width]
    most = bound / width
    limits = [(-most, most)] * 2 + [(None, None)] * 2
    found = linprog((0.0, 0.0, 1.0, -1.0), A_ub=rows, b_ub=right, bounds=limits, method="highs")
    if found.x is None:
        return 0.0, 0.0
    return float(found.x[0]) * width, float(found.x[1]) * width


def _distance(centre: Pair, point: Pair) -> float:
    return math.hypot(point[0] - centre[0], point[1] - centre[1])


def _width(points: list[Pair], centre: Pair) -> float:
    distances = [math.hypot(x - centre[0], z - centre[1]) for x, z in points]
    return max(distances) - min(distances)


def _ends(points: list[Pair], centre: Pair) -> list[Pair]:
    """The nearest and the furthest point."""
    by_distance = sorted(points, key=lambda p: math.hypot(p[0] - centre[0], p[1] - centre[1]))
    return [by_distance[0], by_distance[-1]] if len(points) > 1 else by_distance


def _candidates(points: list[Pair], reach: float) -> Iterator[Pair]:
    """Centres of equal distance to each of two pairs, not further off than the radius."""
    yield (0.0, 0.0)
    for a, b, c, d in combinations(points, 4):
        for first, second in (((a, b), (c, d)), ((a, c), (b, d)), ((a, d), (b, c))):
            centre = _meet(first, second)
            if centre is not None and math.hypot(*centre) <= reach:
                yield centre


def _meet(first: tuple[Pair, Pair], second: tuple[Pair, Pair]) -> Pair | None:
    """Where the perpendicular bisectors of two pairs meet."""
    rows = []
    for (ax, az), (bx, bz) in (first, second):
        rows.append((bx - ax, bz - az, (bx * bx + bz * bz - ax * ax - az * az) / 2))
    (p, q, r), (s, t, w) = rows
    det = p * t - q * s
    if abs(det) <= 1e-14 * (math.hypot(p, q) * math.hypot(s, t)):
        return None
    return (r * t - q * w) / det, (p * w - r * s) / det


@dataclass(frozen=True, slots=True)
class Strip:
    """The narrowest strip; its direction against +x, -90 < angle <= 90."""

    zone_mm: float
    angle_deg: float


def minimum_strip(points: Points) -> Strip:
    """Least width of a strip that holds all points: it lies along an edge of their convex hull."""
    hull = _hull(points)
    best = (math.inf, 0.0)
    for (ax, az), (bx, bz) in pairwise((*hull, hull[0])):
        dx, dz = bx - ax, bz - az
        length = math.hypot(dx, dz)
        width = max(abs(dx * (z - az) - dz * (x - ax)) for x, z in hull) / length
        best = min(best, (width, math.atan2(dz, dx)))
    angle = math.degrees(best[1])
    if angle > 90:
        angle -= 180
    elif angle <= -90:
        angle += 180
    return Strip(best[0], angle)


def _hull(points: Points) -> list[Pair]:
    """Corners of the convex hull in turn (monotone chain); two for points on one line."""
    ordered = sorted({(float(x), float(z)) for x, z in points})
    for point in ordered:
        within(*point)
    if len(ordered) < 2:
        raise ComputeError("too few different points", expected="at least 2")

    def chain(along: list[Pair]) -> list[Pair]:
        found: list[Pair] = []
        for p in along:
            while len(found) > 1 and _turn(found[-2], found[-1], p) <= 0:
                found.pop()
            found.append(p)
        return found[:-1]

    return chain(ordered) + chain(ordered[::-1])


def _turn(a: Pair, b: Pair, c: Pair) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
