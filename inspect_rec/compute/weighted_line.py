"""The straight line through points of which each axis has its own uncertainty. No I/O.

York, Evensen, Martinez, Delgado, Am. J. Phys. 72 (2004) 367 (equations from memory): the sum of the
squares of the distances in x and in y, each over its standard uncertainty, is least. With all u_x 0
that is weighted least squares of y over x; with all u alike it is the orthogonal line.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from inspect_rec.compute.outliers import LARGEST, LEAST
from inspect_rec.compute.regression import regression
from inspect_rec.errors import ComputeError

_ENOUGH, _MOST = 1e-14, 500
_ROUGH = tuple(math.tan(math.radians(angle)) for angle in range(-88, 90, 4))
Floats = Sequence[float]


@dataclass(frozen=True, slots=True)
class WeightedLine:
    """y = intercept + slope x; standard uncertainties from those of the points alone, not scaled by
    how the points scatter. ``correlation`` is that of intercept and slope."""

    slope: float
    intercept: float
    u_slope: float
    u_intercept: float
    correlation: float
    reduced_chi_square: float
    """Sum of squares over n - 2: near 1 where the points scatter as their uncertainties say."""
    dof: int

    def at(self, x: float) -> tuple[float, float]:
        """y of the line at x, and its standard uncertainty."""
        both = 2 * x * self.correlation * self.u_slope * self.u_intercept
        u2 = self.u_intercept**2 + (x * self.u_slope) ** 2 + both
        return self.intercept + self.slope * x, math.sqrt(max(0.0, u2))


def weighted_line(x: Floats, y: Floats, u_x: Floats, u_y: Floats) -> WeightedLine:
    """The line through three points or more; u_x from 0 up, u_y above 0, in the units of x and y.

    Raises ComputeError for points or uncertainties that are none, and where the points lie along y.
    """
    regression(x, y)
    n = len(x)
    if len(u_x) != n or len(u_y) != n:
        raise ComputeError(
            "each point needs both its uncertainties",
            expected=f"{n} and {n}",
            found=f"{len(u_x)} and {len(u_y)}",
        )
    if not all(0 <= u <= LARGEST for u in u_x) or not all(LEAST <= u <= LARGEST for u in u_y):
        raise ComputeError(
            "no such uncertainty",
            expected="u of x from 0 up, u of y above 0",
            found=f"{list(u_x)[:5]}, {list(u_y)[:5]}",
            do="Where y is known and x is read, exchange them",
        )
    # From the middle, in steps of the readings' own spread, so that neither a far datum nor the
    # unit takes digits.
    ax, ay = _Axis.of(x, u_x), _Axis.of(y, u_y)
    slope, chi2 = _least(ax, ay)
    step = _step(ax, ay, slope)
    adjusted = [step.x + beta for beta in step.betas]
    whole = math.fsum(step.weights)
    centre = math.fsum(w * a for w, a in zip(step.weights, adjusted, strict=True)) / whole
    spread = math.fsum(w * (a - centre) ** 2 for w, a in zip(step.weights, adjusted, strict=True))
    # What x = 0 is in the fit's own coordinates.
    off = centre + ax.origin / ax.scale
    u_slope = 1 / math.sqrt(spread)
    u_intercept = math.hypot(1 / math.sqrt(whole), off * u_slope)
    return WeightedLine(
        slope=slope * ay.scale / ax.scale,
        intercept=ay.origin
        + ay.scale * (step.y - slope * step.x)
        - slope * ay.scale / ax.scale * ax.origin,
        u_slope=u_slope * ay.scale / ax.scale,
        u_intercept=u_intercept * ay.scale,
        correlation=-off * u_slope / u_intercept,
        reduced_chi_square=chi2 / (n - 2),
        dof=n - 2,
    )


@dataclass(frozen=True, slots=True)
class _Axis:
    """One axis: readings and their u from ``origin``, over ``scale``."""

    values: list[float]
    u: list[float]
    origin: float
    scale: float

    @classmethod
    def of(cls, values: Floats, u: Floats) -> _Axis:
        origin = math.fsum(values) / len(values)
        scale = max(*(abs(v - origin) for v in values), *u)
        return cls([(v - origin) / scale for v in values], [e / scale for e in u], origin, scale)


@dataclass(frozen=True, slots=True)
class _Step:
    """York's sums at one slope: weights, means, and how far each adjusted x is from its mean."""

    weights: list[float]
    x: float
    y: float
    betas: list[float]
    slope: float
    chi2: float


def _step(ax: _Axis, ay: _Axis, b: float) -> _Step:
    pairs = list(zip(ax.values, ay.values, ax.u, ay.u, strict=True))
    weights = [1 / (uy * uy + b * b * ux * ux) for _, _, ux, uy in pairs]
    whole = math.fsum(weights)
    mx = math.fsum(w * p[0] for w, p in zip(weights, pairs, strict=True)) / whole
    my = math.fsum(w * p[1] for w, p in zip(weights, pairs, strict=True)) / whole
    betas, above, below, chi2 = [], [], [], []
    for w, (x, y, ux, uy) in zip(weights, pairs, strict=True):
        dx, dy = x - mx, y - my
        betas.append(beta := w * (dx * uy * uy + b * dy * ux * ux))
        above.append(w * beta * dy)
        below.append(w * beta * dx)
        chi2.append(w * (dy - b * dx) ** 2)
    under = math.fsum(below)
    slope = math.fsum(above) / under if under else math.nan
    return _Step(weights, mx, my, betas, slope, math.fsum(chi2))


def _least(ax: _Axis, ay: _Axis) -> tuple[float, float]:
    """Slope of the least sum of squares, and that sum. York's step also rests on slopes where the
    sum is largest, so it starts at several, and none of the rough ones may be better."""
    rough = min(_ROUGH, key=lambda slope: _step(ax, ay, slope).chi2)
    pairs = list(zip(ax.values, ay.values, strict=True))
    flat = math.fsum(x * y for x, y in pairs) / math.fsum(x * x for x, _ in pairs)
    fits = [fit for start in (flat, rough) if (fit := _settled(ax, ay, start)) is not None]
    best = min(fits, key=lambda fit: fit[1], default=(math.nan, math.inf))
    if not best[1] <= _step(ax, ay, rough).chi2 * (1 + 1e-9):
        raise ComputeError("the fit doesn't settle: the points lie along y", do="Exchange x and y")
    return best


def _settled(ax: _Axis, ay: _Axis, slope: float) -> tuple[float, float] | None:
    """Slope and sum of squares where York's step repeats itself, or None."""
    for _ in range(_MOST):
        found = _step(ax, ay, slope)
        if not math.isfinite(found.slope):
            return None
        moved = abs(found.slope - slope)
        slope = found.slope
        if moved <= _ENOUGH * (1 + abs(slope)):
            return slope, _step(ax, ay, slope).chi2
    return None
