"""Small systems of linear equations, as normal equations give them. Plain Python, no I/O."""

from __future__ import annotations

from collections.abc import Sequence

from inspect_rec.errors import ComputeError


def solve(matrix: Sequence[Sequence[float]], right: Sequence[float], *, why: str) -> list[float]:
    """The unknowns, by elimination with pivots. ``matrix`` is square.

    Raises ComputeError with ``why`` as its sentence where no pivot is left that stands out of
    the rounding of the largest entry.
    """
    n = len(right)
    rows = [[*row, value] for row, value in zip(matrix, right, strict=True)]
    least = 1e-12 * max(abs(x) for row in matrix for x in row)
    for i in range(n):
        pivot = max(range(i, n), key=lambda k: abs(rows[k][i]))
        if not abs(rows[pivot][i]) > least:
            raise ComputeError(why)
        rows[i], rows[pivot] = rows[pivot], rows[i]
        for k in range(n):
            if k != i:
                factor = rows[k][i] / rows[i][i]
                rows[k] = [x - factor * y for x, y in zip(rows[k], rows[i], strict=True)]
    return [rows[i][n] / rows[i][i] for i in range(n)]
