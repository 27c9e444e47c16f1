"""Least-squares circles and lines through sighted points. Plain Python, no I/O.

Geometric fits: the distances square to the curve are least. Circles by Gauss-Newton from an
algebraic start, with coordinates shifted to their mean; the six points of Gander, Golub and
Strebel (BIT 34, 1994) are the published check. Points are (x, z) in mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from inspect_rec.compute.reach import FAR, length, within
from inspect_rec.compute.short_arcs import HUGE, LOW, SHORT, about_means
from inspect_rec.errors import ComputeError

Points = Sequence[tuple[float, float]]

_STEPS = 60
_REST = 1e-14
"""A step of so much of the radius moves nothing: 1e-10 mm on a radius of 10 m."""


@dataclass(frozen=True, slots=True)
class Circle:
    """A fitted circle. Lengths in mm; ``residuals_mm`` = distance from the centre less radius.

    ``..._over_s``: standard uncertainty of that result for a standard uncertainty of one point
    (equal, square to the arc). ``dr_daxis``: change of the radius for a change of the held place
    of the axis. ``u_tip_over_s``: of centre plus radius along the free coordinate, and
    ``u_tip_below_over_s`` of centre less radius, where the tip lies that way.
    """

    centre_x_mm: float
    centre_z_mm: float
    radius_mm: float
    residuals_mm: tuple[float, ...]
    points_mm: tuple[tuple[float, float], ...]
    u_r_over_s: float = 0.0
    u_cx_over_s: float = 0.0
    u_cz_over_s: float = 0.0
    u_tip_over_s: float = 0.0
    u_tip_below_over_s: float = 0.0
    dr_daxis: float = 0.0
    free: int = 3

    @property
    def span_deg(self) -> float:
        """Angle that the points span as seen from the centre."""
        return span_deg(self.points_mm, self.centre_x_mm, self.centre_z_mm)

    @property
    def form_mm(self) -> float:
        """Largest less smallest distance from the centre."""
        return max(self.residuals_mm) - min(self.residuals_mm)

    @property
    def residual_std_mm(self) -> float:
        """Standard deviation of the residuals; not a number where no point is left over."""
        return _deviation(self.residuals_mm, self.free)


Pairs = list[tuple[float, float]]


def _deviation(residuals: tuple[float, ...], free: int) -> float:
    """Their standard deviation, ``free`` results having been fitted to them."""
    left = len(residuals) - free
    return math.hypot(*residuals) / math.sqrt(left) if left > 0 else math.nan


def _checked(points: Points, least: int) -> tuple[Pairs, float, float]:
    """The points, and their mean."""
    found = [(x, z) for x, z in points]
    return found, *_mean(found, least)


def _mean(points: Points, least: int) -> tuple[float, float]:
    """Mean of the points, if there are enough different ones and all are numbers."""
    sx = sz = square = 0.0
    for x, z in points:
        sx += x
        sz += z
        square += x * x + z * z
    if not math.isfinite(sx + sz):  # one that is none makes the whole sum none
        raise ComputeError("a point is no number")
    n = len(points)
    if not square <= FAR * FAR * n:
        raise ComputeError("a point lies further off than a machine reaches")
    different: set[tuple[float, float]] = set()
    for x, z in points:
        different.add((x, z))
        if len(different) == least:
            return sx / n, sz / n
    raise ComputeError(
        "too few different points",
        expected=f"at least {least}",
        found=str(len(different)),
        do="Sight more points",
    )


def span_deg(points: Points, centre_x: float, centre_z: float) -> float:
    """Angle that the points span as seen from the centre: 360 less the widest gap."""
    angles = sorted(math.atan2(z - centre_z, x - centre_x) for x, z in points)
    if len(angles) < 2:
        return 0.0
    gaps = [b - a for a, b in pairwise(angles)]
    gaps.append(angles[0] + 2 * math.pi - angles[-1])
    return math.degrees(2 * math.pi - max(gaps))


def _directions(points: Points, a: float, b: float) -> list[tuple[float, float, float]]:
    """Unit vector from (a, b) to each point, and the distance."""
    found = []
    for x, z in points:
        dx, dz = x - a, z - b
        d = math.sqrt(dx * dx + dz * dz)
        if d == 0.0:
            raise ComputeError("a point lies in the centre of the circle")
        found.append((dx / d, dz / d, d))
    return found


def _settled(step: float, before: float, radius: float) -> bool:
    """Whether Gauss-Newton has come to rest: nothing moves any more; or, steps shrinking as they
    do, the next wouldn't; or only the last bits move, which on exact points jitter for ever."""
    if step <= _REST * radius:
        return True
    if step >= 1e-8 * radius or not math.isfinite(before):
        return False
    return step >= before / 2 or step * step / before <= _REST * radius


def _straight() -> ComputeError:
    return ComputeError(
        "the points lie on one line: no circle goes through them", do="Sight a longer arc"
    )


def _algebraic(points: Points) -> tuple[float, float]:
    """Centre of the circle with the least algebraic residual (Kasa), as a start; the points are
    those about their mean."""
    a11 = a12 = a22 = b1 = b2 = 0.0
    for x, z in points:
        xx, zz = x * x, z * z
        q = (xx + zz) / 2
        a11 += xx
        a12 += x * z
        a22 += zz
        b1 += x * q
        b2 += z * q
    det = a11 * a22 - a12 * a12
    if det <= 1e-14 * (a11 + a22) ** 2:
        raise _straight()
    return (b1 * a22 - b2 * a12) / det, (a11 * b2 - a12 * b1) / det


def _sums(points: Points, a: float, b: float) -> tuple[float, ...]:
    """Sums over the unit vectors (u, v) from (a, b) to the points and the distances d: uu, uv,
    vv, u, v, d, ud, vd. One plain loop, because a fit spends its time here."""
    suu = suv = su = sv = sd = sud = svd = 0.0
    root = math.sqrt
    try:
        for x, z in points:
            dx, dz = x - a, z - b
            d = root(dx * dx + dz * dz)
            u = dx / d
            v = dz / d
            suu += u * u
            suv += u * v
            su += u
            sv += v
            sd += d
            sud += dx
            svd += dz
    except ZeroDivisionError:
        raise ComputeError("a point lies in the centre of the circle") from None
    return suu, suv, len(points) - suu, su, sv, sd, sud, svd


def circle(points: Points) -> Circle:
    """Centre and radius free. Raises ComputeError for fewer than three points, a line, or an arc
    that can't be told from one."""
    found, mx, mz = _checked(points, 3)
    n = len(found)
    moved = [(x - mx, z - mz) for x, z in found]
    a, b = _algebraic(moved)
    step = math.inf
    for _ in range(_STEPS):
        suu, suv, svv, su, sv, sd, sud, svd = _sums(moved, a, b)
        r = sd / n
        c11, c12, c22 = suu - su * su / n, suv - su * sv / n, svv - sv * sv / n
        det, g, h = c11 * c22 - c12 * c12, sud - su * r, svd - sv * r
        if det <= SHORT * n * n:
            c11, c12, c22, g, h = about_means(moved, a, b)
            det = c11 * c22 - c12 * c12
        if det <= 0 or not math.isfinite(det):
            raise _straight()
        da, db = (g * c22 - h * c12) / det, (h * c11 - g * c12) / det
        a, b = a + da, b + db
        step, before = abs(da) + abs(db), step
        if _settled(step, before, r):
            break
    else:
        raise ComputeError("the circle doesn't settle", do="Sight a longer arc")
    if det <= SHORT * n * n and r > HUGE * 2 * max(math.hypot(*p) for p in moved):
        raise _straight()
    distances = [math.hypot(x - a, z - b) for x, z in moved]
    r = sum(distances) / n
    return Circle(
        a + mx,
        b + mz,
        r,
        tuple([d - r for d in distances]),
        tuple(found),
        u_r_over_s=math.sqrt((suu * svv - suv * suv) / (n * det)),
        u_cx_over_s=math.sqrt(c22 / det),
        u_cz_over_s=math.sqrt(c11 / det),
    )


def circle_on_axis(points: Points, axis_mm: float, which: str = "x") -> Circle:
    """Centre held at ``axis_mm`` along ``which`` ("x" or "z"), free along the other."""
    if which not in ("x", "z"):
        raise ComputeError("no such coordinate", expected="x or z", found=which)
    within(axis_mm)
    found, _, _ = _checked(points, 2)
    held = [(x, z) if which == "x" else (z, x) for x, z in found]
    n = len(held)
    shift = sum(z for _, z in held) / n
    moved = [(x - axis_mm, z - shift) for x, z in held]
    b = _start_on_axis(moved)
    step = math.inf
    for _ in range(_STEPS):
        _, _, svv, _, sv, sd, _, svd = _sums(moved, 0.0, b)
        r, c = sd / n, svv - sv * sv / n
        h = svd - sv * r
        if c <= LOW * n:
            _, _, c, _, h = about_means(moved, 0.0, b)
        if c <= 1e-12 * n:
            raise ComputeError(
                "the points give no place along the axis", do="Sight points further round"
            )
        db = h / c
        b += db
        step, before = abs(db), step
        if _settled(step, before, r):
            break
    else:
        raise ComputeError("the circle doesn't settle", do="Sight a longer arc")
    distances = [d for _, _, d in _directions(moved, 0.0, b)]
    r = sum(distances) / n
    both, apart = n + svv, n * svv - sv * sv
    place = (axis_mm, b + shift)
    centre_x, centre_z = place if which == "x" else place[::-1]
    return Circle(
        centre_x,
        centre_z,
        r,
        tuple(d - r for d in distances),
        tuple(found),
        u_r_over_s=math.sqrt(svv / (n * c)),
        u_cx_over_s=0.0 if which == "x" else math.sqrt(1 / c),
        u_cz_over_s=math.sqrt(1 / c) if which == "x" else 0.0,
        u_tip_over_s=math.sqrt((both - 2 * sv) / apart),
        u_tip_below_over_s=math.sqrt((both + 2 * sv) / apart),
        dr_daxis=_follows_axis(moved, b, r),
        free=2,
    )


def _follows_axis(points: Points, b: float, r: float) -> float:
    """dR/da of the circle held at a, free along the axis: the condition of the fit, sum of
    v (d - r) = 0, differentiated whole, so that it holds for arcs with form, too."""
    n = len(points)
    by_a = by_b = su = sv = 0.0
    for u, v, d in _directions(points, 0.0, b):
        su, sv = su + u, sv + v
        by_a += u * v * (d - r) / d - u * v
        by_b -= u * u * (d - r) / d + v * v
    by_a += su * sv / n
    by_b += sv * sv / n
    return -(su - sv * by_a / by_b) / n


def _start_on_axis(points: Points) -> float:
    """Algebraic start: x^2 + (z - b)^2 = r^2 is linear in b and r^2 - b^2."""
    n = len(points)
    sz = sum(z for _, z in points)
    sq = sum(x * x + z * z for x, z in points)
    szz = sum(z * z for _, z in points) - sz * sz / n
    szq = sum(z * (x * x + z * z) for x, z in points) - sz * sq / n
    if szz <= 0:
        raise ComputeError("the points give no place along the axis")
    return szq / (2 * szz)


def circle_held_centre(points: Points, centre: tuple[float, float]) -> Circle:
    """Centre held; the radius is the mean distance."""
    within(*centre)
    found, _, _ = _checked(points, 1)
    distances = [d for _, _, d in _directions(found, *centre)]
    r = sum(distances) / len(distances)
    return Circle(
        centre[0],
        centre[1],
        r,
        tuple(d - r for d in distances),
        tuple(found),
        u_r_over_s=1 / math.sqrt(len(distances)),
        free=1,
    )


def circle_held_radius(points: Points, radius_mm: float) -> Circle:
    """Radius held, centre free."""
    length(radius_mm, "radius")
    start = circle(points)
    found, _, _ = _checked(points, 2)
    a, b = start.centre_x_mm, start.centre_z_mm
    step = math.inf
    for _ in range(_STEPS):
        suu, suv, svv, su, sv, _, sud, svd = _sums(found, a, b)
        g, h = sud - su * radius_mm, svd - sv * radius_mm
        det = suu * svv - suv * suv
        if det <= 0:
            raise _straight()
        da, db = (g * svv - h * suv) / det, (h * suu - g * suv) / det
        a, b = a + da, b + db
        step, before = abs(da) + abs(db), step
        if _settled(step, before, radius_mm):
            break
    else:
        raise ComputeError("the circle doesn't settle", do="Sight a longer arc")
    return Circle(
        a,
        b,
        radius_mm,
        tuple(d - radius_mm for _, _, d in _directions(found, a, b)),
        tuple(found),
        u_cx_over_s=math.sqrt(svv / det),
        u_cz_over_s=math.sqrt(suu / det),
        free=2,
    )


@dataclass(frozen=True, slots=True)
class Line:
    """An orthogonal least-squares line. ``angle_deg`` against +x, -90 < angle <= 90."""

    angle_deg: float
    middle: tuple[float, float]
    residuals_mm: tuple[float, ...]
    u_angle_deg_over_s: float

    @property
    def straightness_mm(self) -> float:
        """Largest less smallest distance from the line."""
        return max(self.residuals_mm) - min(self.residuals_mm)

    @property
    def residual_std_mm(self) -> float:
        """Standard deviation of the distances; not a number for two points."""
        return _deviation(self.residuals_mm, 2)


def line(points: Points) -> Line:
    """The line whose square distances to the points are least (tan 2t = 2 Sxz / (Sxx - Szz))."""
    mx, mz = _mean(points, 2)
    sxx = sxz = szz = 0.0
    for x, z in points:
        dx, dz = x - mx, z - mz
        sxx += dx * dx
        sxz += dx * dz
        szz += dz * dz
    if math.hypot(sxx - szz, 2 * sxz) <= 1e-14 * (sxx + szz):
        raise ComputeError("the points have no direction")
    angle = math.atan2(2 * sxz, sxx - szz) / 2
    if angle <= -math.pi / 2:
        angle += math.pi
    c, s = math.cos(angle), math.sin(angle)
    offset = mz * c - mx * s
    return Line(
        math.degrees(angle),
        (mx, mz),
        tuple([z * c - x * s - offset for x, z in points]),
        math.degrees(1 / math.sqrt(sxx * c * c + 2 * sxz * s * c + szz * s * s)),
    )
