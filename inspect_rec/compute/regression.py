"""The straight line of y on x: where x is known and y is read. Plain Python, no I/O.

Where both slides carry the error, the orthogonal line of ``fitting`` is the right one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from inspect_rec.errors import ComputeError

_LARGEST = 1e70


@dataclass(frozen=True, slots=True)
class Regression:
    """y = intercept + slope x; standard uncertainties from the residuals, n - 2 of them free."""

    slope: float
    intercept: float
    residual_std: float
    u_slope: float
    u_intercept: float
    residuals: tuple[float, ...]


def regression(x: Sequence[float], y: Sequence[float]) -> Regression:
    """Least squares of y over x; three points or more, so that a residual is left over."""
    n = len(x)
    if n != len(y) or n < 3:
        raise ComputeError("too few points for a line", expected="3", found=f"{n} and {len(y)}")
    # Any unit may come here, so it isn't held to what a slide reaches.
    if not all(abs(value) <= _LARGEST for value in (*x, *y)):
        raise ComputeError("a point is no number, or none whose square is one")
    mx, my = math.fsum(x) / n, math.fsum(y) / n
    sxx = math.fsum((a - mx) ** 2 for a in x)
    if not sxx > 1e-24 * max(abs(mx), *map(abs, x)) ** 2:
        raise ComputeError("all points lie at one place", do="Read at different places")
    slope = math.fsum((a - mx) * (b - my) for a, b in zip(x, y, strict=True)) / sxx
    left = tuple(b - my - slope * (a - mx) for a, b in zip(x, y, strict=True))
    s = math.sqrt(math.fsum(r * r for r in left) / (n - 2))
    return Regression(
        slope, my - slope * mx, s, s / math.sqrt(sxx), s * math.sqrt(1 / n + mx * mx / sxx), left
    )
