"""Many least-squares circles at once, in arrays: for whole batches and for trials. No I/O.

The same fit as ``fitting.circle``, all centres stepping together; numpy is loaded only when this
is called. One circle of few points is quicker there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from inspect_rec.errors import ComputeError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]

_BLOCK = 256
"""Circles that step together: their points stay in the processor's cache."""

_STEPS = 60


@dataclass(frozen=True, slots=True, eq=False)
class Circles:
    """Fitted circles, one entry each, in the order of the rows; lengths in mm."""

    centre_x_mm: Numbers
    centre_z_mm: Numbers
    radius_mm: Numbers
    residual_std_mm: Numbers
    u_r_over_s: Numbers


def circles(x_mm: Numbers, z_mm: Numbers) -> Circles:
    """Circles through the rows of ``x_mm`` and ``z_mm``, both of shape (circles, points).

    Needs four points a circle, so that a residual is left over. Raises ComputeError for shapes
    that don't fit, for what is no number, and with the row of the first circle that has none.
    """
    import numpy as np

    if x_mm.ndim != 2 or x_mm.shape != z_mm.shape or x_mm.shape[1] < 4:
        raise ComputeError(
            "no rows of points",
            expected="x and z of one shape (circles, 4 points or more)",
            found=f"{x_mm.shape} and {z_mm.shape}",
        )
    parts = []
    for first in range(0, len(x_mm), _BLOCK):
        block = [np.array(p[first : first + _BLOCK].T, order="C") for p in (x_mm, z_mm)]
        # An infinity gives nan, which is found below.
        with np.errstate(invalid="ignore", over="ignore", divide="ignore"):
            found = _fitted(*block)
        _sound(found, first)
        parts.append(found)
    return Circles(*np.concatenate(parts, axis=1) if parts else np.empty((5, 0)))


def _sound(found: Any, first: int) -> None:
    import numpy as np

    bad = ~np.isfinite(found).all(axis=0)
    if bad.any():
        raise ComputeError(
            "no circle goes through these points", where=f"row {first + int(bad.argmax())}"
        )


def _start(x: Any, z: Any) -> tuple[Any, Any]:
    """Algebraic centres of points about their mean; not a number where they lie on one line."""
    import numpy as np

    q = (x * x + z * z) / 2
    a11, a12, a22, b1, b2 = (
        np.einsum("ij,ij->j", p, s) for p, s in ((x, x), (x, z), (z, z), (x, q), (z, q))
    )
    det = a11 * a22 - a12 * a12
    det[det <= 1e-14 * (a11 + a22) ** 2] = np.nan
    return (b1 * a22 - b2 * a12) / det, (a11 * b2 - a12 * b1) / det


def _fitted(x: Any, z: Any) -> Any:
    """Rows: centre x, centre z, radius, residual standard deviation, u of the radius over s.
    ``x`` and ``z`` are (points, circles), and are moved to their means."""
    import numpy as np

    n = len(x)
    mx, mz = x.mean(axis=0), z.mean(axis=0)
    x -= mx
    z -= mz
    a, b = _start(x, z)
    for _ in range(_STEPS):
        da, db, r, (_, _, suu, suv, det) = step(x, z, a, b)
        a, b = a + da, b + db
        if not (np.abs(da) + np.abs(db) > 1e-9 * r).any():
            break
    else:
        a[np.abs(da) + np.abs(db) > 1e-9 * r] = np.nan
    d = distances(x - a, z - b)
    r = d.mean(axis=0)
    d -= r
    left = np.sqrt(np.einsum("ij,ij->j", d, d) / (n - 3))
    u = np.sqrt((suu * (n - suu) - suv * suv) / (n * det))
    return np.stack((a + mx, b + mz, r, left, u))


def distances(dx: Any, dz: Any) -> Any:
    """Lengths of the ways (dx, dz), with no array more than it takes."""
    import numpy as np

    d = dx * dx
    d += dz * dz
    return np.sqrt(d, out=d)


def step(x: Any, z: Any, a: Any, b: Any) -> tuple[Any, Any, Any, tuple[Any, ...]]:
    """One Gauss-Newton step of all centres (a, b) of the circles in the columns of x and z:
    their changes, the mean distances before it, and the sums of u, v, uu and uv over the unit
    vectors from the centres to the points, with the determinant."""
    import numpy as np

    n = len(x)
    u, v = x - a, z - b
    sx, sz = u.sum(axis=0), v.sum(axis=0)
    d = distances(u, v)
    r = d.sum(axis=0) / n
    u /= d
    v /= d
    su, sv = u.sum(axis=0), v.sum(axis=0)
    suu, suv = np.einsum("ij,ij->j", u, u), np.einsum("ij,ij->j", u, v)
    c11, c12, c22 = suu - su * su / n, suv - su * sv / n, n - suu - sv * sv / n
    # The sums of u d and v d are those of the coordinates from the centre.
    g, h = sx - su * r, sz - sv * r
    det = c11 * c22 - c12 * c12
    return (g * c22 - h * c12) / det, (h * c11 - g * c12) / det, r, (su, sv, suu, suv, det)
