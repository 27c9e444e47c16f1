"""Sums for a step of a circle's fit over an arc too short for plain ones. No I/O."""

from __future__ import annotations

import math
from collections.abc import Sequence

SHORT = 1e-6
"""Determinant over the square of the number of points below which an arc is short: some 25 deg."""

LOW = 1e-5
"""The same of an arc whose centre is free along one coordinate alone: the mean square."""


HUGE = 1000
"""Radius over the length of an arc from which on it is a line: the rise is 1/8000 of the chord."""


def about_means(points: Sequence[tuple[float, float]], a: float, b: float) -> tuple[float, ...]:
    """Sums of uu, uv, vv, ud and vd, all about their means: (u, v) the unit vectors from (a, b) to
    the points, d the distances.

    Distances are taken as differences from that of the first point, by (p - q)(p + q), so that a
    large radius takes no digits from a small rise.
    """
    (x0, z0), n = points[0], len(points)
    first = math.hypot(x0 - a, z0 - b)
    rows = []
    for x, z in points:
        d = math.hypot(x - a, z - b)
        apart = (x - x0) * (x + x0 - 2 * a) + (z - z0) * (z + z0 - 2 * b)
        rows.append(((x - a) / d, (z - b) / d, apart / (d + first)))
    mean_u, mean_v, mean_d = (math.fsum(column) / n for column in zip(*rows, strict=True))
    off = [(u - mean_u, v - mean_v, d - mean_d) for u, v, d in rows]
    return (
        math.fsum(u * u for u, _, _ in off),
        math.fsum(u * v for u, v, _ in off),
        math.fsum(v * v for _, v, _ in off),
        math.fsum(u * d for u, _, d in off),
        math.fsum(v * d for _, v, d in off),
    )
