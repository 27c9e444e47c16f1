"""Inputs that err together: means of simultaneous readings, and what is computed from them. No I/O.

GUM (JCGM 100:2008) 5.2.2 and 5.2.3, in one row with its example H.2 (from memory). A budget adds
squares and takes its rows for independent; where they aren't, this is what counts.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from inspect_rec.compute.outliers import LARGEST
from inspect_rec.errors import ComputeError

Matrix = Sequence[Sequence[float]]
_STEP = 6e-6
"""Of a value: balances what rounding and curvature leave over in central differences."""


@dataclass(frozen=True, slots=True)
class Correlated:
    """Values, their standard uncertainties, and the correlation of each with each, which is 0
    where there is no uncertainty."""

    values: tuple[float, ...]
    u: tuple[float, ...]
    r: tuple[tuple[float, ...], ...]


def simultaneous(sets: Matrix) -> Correlated:
    """Means of quantities that are read together, two sets or more of one reading each; u and r of
    the means by GUM 4.2.3 and 5.2.3, equation 17."""
    n, width = len(sets), len(sets[0]) if sets else 0
    if n < 2 or not width:
        raise ComputeError("too few sets of readings", expected="2 or more", found=f"{n}")
    for number, one in enumerate(sets, 1):
        if len(one) != width:
            raise ComputeError(
                f"set {number} has a gap", expected=f"{width} readings", found=f"{len(one)}"
            )
        if not all(abs(value) <= LARGEST for value in one):
            raise ComputeError(f"a reading of set {number} is no number")
    columns = list(zip(*sets, strict=True))
    # From the first reading, so that a large value takes no digits from a small scatter.
    off = [[value - column[0] for value in column] for column in columns]
    means = [math.fsum(column) / n for column in off]
    left = [[value - mean for value in column] for column, mean in zip(off, means, strict=True)]
    covariance = [
        [
            math.fsum(a * b for a, b in zip(one, other, strict=True)) / (n * (n - 1))
            for other in left
        ]
        for one in left
    ]
    values = [column[0] + mean for column, mean in zip(columns, means, strict=True)]
    return _correlated(values, covariance)


def combined(model: Callable[[Sequence[float]], Sequence[float]], inputs: Correlated) -> Correlated:
    """The results of ``model`` at the inputs, their u and correlation to first order (GUM 5.2.2,
    equation 13, and H.2.3), with sensitivities by central differences. Raises what the model
    raises, and ComputeError for correlations that can't be."""
    values = list(model(inputs.values))
    slopes = [_slopes(model, inputs, n) for n in range(len(inputs.values))]
    return _correlated(values, propagated(list(zip(*slopes, strict=True)), inputs.u, inputs.r))


def propagated(slopes: Matrix, u: Sequence[float], r: Matrix) -> list[list[float]]:
    """Covariances of results whose sensitivities to the inputs are ``slopes[result][input]``."""
    sound(u, r)
    # In units of each input's own u.
    parts = [[c * each for c, each in zip(row, u, strict=True)] for row in slopes]
    return [
        [
            math.fsum(a * r[i][k] * b for i, a in enumerate(one) for k, b in enumerate(other))
            for other in parts
        ]
        for one in parts
    ]


def sound(u: Sequence[float], r: Matrix) -> None:
    """Uncertainties from 0 up and a matrix of correlations that quantities can have; ComputeError
    for others."""
    import numpy as np

    n = len(u)
    if not n or len(r) != n or any(len(row) != n for row in r):
        raise ComputeError(
            "no matrix of correlations",
            expected=f"{n} rows of {n}",
            found=f"rows of {sorted({len(row) for row in r})}",
        )
    if not all(0 <= each <= LARGEST for each in u):
        raise ComputeError("no such uncertainty", expected="from 0 up", found=f"{list(u)[:5]}")
    for i, row in enumerate(r):
        for k, each in enumerate(row):
            if not abs(each) <= 1 or (i == k and each != 1) or not abs(each - r[k][i]) < 1e-9:
                raise ComputeError(
                    f"no such correlation in row {i + 1}, column {k + 1}",
                    expected="from -1 to 1, the same both ways, 1 with itself",
                    found=f"{each}",
                )
    # Correlations that were rounded to three digits may pass the limit by so much.
    if float(np.linalg.eigvalsh(np.array(r, float))[0]) < -1e-3 * n:
        raise ComputeError(
            "correlations that contradict each other",
            expected="a matrix without an eigenvalue below 0",
            do="Take them from simultaneous readings, or from the parts that are shared",
        )


def _slopes(
    model: Callable[[Sequence[float]], Sequence[float]], inputs: Correlated, n: int
) -> list[float]:
    h = max(abs(inputs.values[n]), inputs.u[n]) * _STEP or _STEP
    at = list(inputs.values)
    at[n] += h
    above = model(at)
    up, at[n] = at[n], inputs.values[n] - h
    below = model(at)
    return [(high - low) / (up - at[n]) for high, low in zip(above, below, strict=True)]


def _correlated(values: Sequence[float], covariance: Matrix) -> Correlated:
    u = [math.sqrt(max(0.0, covariance[n][n])) for n in range(len(values))]
    r = tuple(
        tuple(1.0 if i == k else _r(covariance[i][k], u[i], u[k]) for k in range(len(values)))
        for i in range(len(values))
    )
    return Correlated(tuple(values), tuple(u), r)


def _r(covariance: float, one: float, other: float) -> float:
    if not (one and other):
        return 0.0
    return max(-1.0, min(1.0, covariance / one / other))
