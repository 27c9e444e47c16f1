"""Readings over an angle: swing test, run-out by index, spacing of teeth. Plain Python, no I/O.

Angles in deg, readings in um. A harmonic is for diagnosis and is never taken off a final value
(trade: common practice).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from inspect_rec.compute.equations import solve
from inspect_rec.compute.reach import length, within
from inspect_rec.errors import ComputeError


@dataclass(frozen=True, slots=True)
class Swing:
    """A swing test: e = a + p cos(phi) + q sin(phi), um; the radius is the set one plus a."""

    a_um: float
    p_um: float
    q_um: float
    residuals_um: tuple[float, ...]
    covariance_over_s2: tuple[tuple[float, ...], ...]
    """Of a, p and q, for a standard uncertainty of 1 of one reading."""

    @property
    def form_um(self) -> float:
        """Largest less smallest residual."""
        return max(self.residuals_um) - min(self.residuals_um)

    @property
    def residual_std_um(self) -> float:
        """Standard deviation of the residuals; not a number for three readings."""
        left = len(self.residuals_um) - 3
        return math.sqrt(sum(r * r for r in self.residuals_um) / left) if left > 0 else math.nan


def swing_test(phi_deg: Sequence[float], e_um: Sequence[float]) -> Swing:
    """Least squares of the readings of a radius attachment over its swing (derived).

    Over a part turn the mean of the readings isn't the radius: the constant of the fit is.
    Raises ComputeError for fewer than three angles, or none far enough apart.
    """
    if len(phi_deg) != len(e_um) or len(set(phi_deg)) < 3:
        raise ComputeError(
            "a swing test needs three angles and a reading at each",
            expected="3 or more",
            found=f"{len(set(phi_deg))} angles, {len(e_um)} readings",
        )
    within(*phi_deg, *e_um)
    turns = [math.radians(phi) for phi in phi_deg]
    rows = [(1.0, math.cos(turn), math.sin(turn)) for turn in turns]
    matrix = [[sum(row[i] * row[j] for row in rows) for j in range(3)] for i in range(3)]
    why = "the angles of the swing lie too close together"
    right = [sum(row[i] * e for row, e in zip(rows, e_um, strict=True)) for i in range(3)]
    a, p, q = solve(matrix, right, why=why)
    covariance = (solve(matrix, unit, why=why) for unit in ((1, 0, 0), (0, 1, 0), (0, 0, 1)))
    left = tuple(e - a - p * c - q * s for (_, c, s), e in zip(rows, e_um, strict=True))
    return Swing(a, p, q, left, tuple(map(tuple, covariance)))


@dataclass(frozen=True, slots=True)
class Runout:
    """Readings at equal division: e = mean + A cos(theta - high side), and what is left over."""

    mean_um: float
    eccentricity_um: float
    high_side_deg: float
    """Of the first harmonic, 0 <= angle < 360; 0 is the first reading."""
    variation_um: float
    """Largest less smallest reading, as read."""
    residuals_um: tuple[float, ...]

    @property
    def remainder_um(self) -> float:
        """Largest less smallest after the harmonic: grinding, where that is clamping."""
        return max(self.residuals_um) - min(self.residuals_um)


def index_runout(readings_um: Sequence[float]) -> Runout:
    """First harmonic of readings at n equal index steps, n at least 3 (derived: Fourier sums)."""
    n = len(readings_um)
    if n < 3:
        raise ComputeError("too few index steps for a first harmonic", expected="3", found=str(n))
    within(*readings_um)
    turns = [2 * math.pi * k / n for k in range(n)]
    mean = sum(readings_um) / n
    p = 2 / n * sum(e * math.cos(turn) for e, turn in zip(readings_um, turns, strict=True))
    q = 2 / n * sum(e * math.sin(turn) for e, turn in zip(readings_um, turns, strict=True))
    left = tuple(
        e - mean - p * math.cos(turn) - q * math.sin(turn)
        for e, turn in zip(readings_um, turns, strict=True)
    )
    # Twice, as a hair below 0 comes out as 360.
    high = math.degrees(math.atan2(q, p)) % 360 % 360
    return Runout(mean, math.hypot(p, q), high, max(readings_um) - min(readings_um), left)


@dataclass(frozen=True, slots=True)
class Spacing:
    """Errors of the index of each tooth and of the step to its neighbour, arc minutes."""

    index_arcmin: tuple[float, ...]
    adjacent_arcmin: tuple[float, ...]
    """To the next tooth, the last to the first included; they add up to 0."""

    @property
    def range_arcmin(self) -> float:
        """Largest less smallest index error."""
        return max(self.index_arcmin) - min(self.index_arcmin)


def spacing(radius_mm: float, offsets_um: Sequence[float]) -> Spacing:
    """From tangential offsets of tooth faces touched at ``radius_mm``, each at its nominal index:
    offset over radius (derived)."""
    length(radius_mm, "radius")
    if len(offsets_um) < 2:
        raise ComputeError("no spacing", expected="two teeth or more", found=str(len(offsets_um)))
    within(*offsets_um)
    index = tuple(60 * math.degrees(offset / 1000 / radius_mm) for offset in offsets_um)
    return Spacing(index, tuple(b - a for a, b in pairwise((*index, index[0]))))
