"""Risks of a decision after JCGM 106:2012 (from memory): of this item, and of a whole process.

For information: no verdict rests on them. Value, limits, u and process in one unit. What isn't
accepted counts as rejected, the middle zone with it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
import numpy.typing as npt

from inspect_rec.compute.conformity import Limits, Zones
from inspect_rec.compute.outliers import LARGEST, LEAST
from inspect_rec.errors import ComputeError

Floats = npt.NDArray[np.float64]

_FAR = 38.0
"""Standard deviations beyond which a normal density is no number any more."""
_CUTS = (-_FAR, -12.0, -8.0, -4.0, -2.0, 0.0, 2.0, 4.0, 8.0, 12.0, _FAR)
_NODES = 48


@dataclass(frozen=True, slots=True)
class Specific:
    """The risk of one decision that is taken (clause 9.3): of an accepted item that it is outside
    the limits (the consumer's), of a rejected one that it is within them (the producer's)."""

    accepted: bool
    risk: float


@dataclass(frozen=True, slots=True)
class Process:
    """A process whose items are spread normally: mean and standard deviation."""

    mean: float
    s: float


@dataclass(frozen=True, slots=True)
class Global:
    """Of all items of a process, before any is measured (clause 9.5), as probabilities.

    ``consumer``: outside the limits and accepted; ``producer``: within them and rejected;
    ``conforming``: within them; ``accepted``: accepted, rightly or not.
    """

    consumer: float
    producer: float
    conforming: float
    accepted: float


def probability_within(value: Decimal, limits: Limits, u: Decimal, dof: float = math.inf) -> float:
    """Probability that the true value lies within the limits (clause 7).

    Normal about the value; with few degrees of freedom Student's t, scaled by u. Above a natural
    zero what would lie below it is cut off and the rest raised in proportion: the posterior of
    an even prior from zero up. Raises ComputeError for what is no measurement.
    """
    return _split(value, limits, u, dof)[0]


def specific(
    value: Decimal, limits: Limits, zones: Zones, u: Decimal, dof: float = math.inf
) -> Specific:
    """The risk that comes with accepting, or rejecting, an item of this value."""
    low, high = zones.accept_low, zones.accept_high
    accepted = (low is None or value >= low) and (high is None or value <= high)
    within, outside = _split(value, limits, u, dof)
    return Specific(accepted, outside if accepted else within)


def _split(value: Decimal, limits: Limits, u: Decimal, dof: float) -> tuple[float, float]:
    """Probabilities within and outside, each from its own tails, so that small ones keep their
    digits."""
    if not (value.is_finite() and u.is_finite() and u >= 0 and dof > 0):
        raise ComputeError(
            "no such measurement",
            expected="a value, u from 0 up, degrees of freedom above 0",
            found=f"{value}, {u}, {dof}",
        )
    zero = -_in_u(value, Decimal(0), u) if limits.natural_zero else -math.inf
    low = -math.inf if limits.lower is None else -_in_u(value, limits.lower, u)
    high = math.inf if limits.upper is None else _in_u(limits.upper, value, u)
    low, between = max(low, zero), _between(dof)
    if low > high:
        raise ComputeError("the limits cross", found=f"{limits.lower}, {limits.upper}")
    possible = between(zero, math.inf)
    if possible == 0:
        raise ComputeError("the value lies too far below its natural zero", found=f"{value}, u {u}")
    outside = between(zero, low) + between(high, math.inf)
    return between(low, high) / possible, outside / possible


def _in_u(end: Decimal, start: Decimal, u: Decimal) -> float:
    """How far ``end`` lies above ``start``, in u; without uncertainty only on which side."""
    return float((end - start) / u) if u else math.copysign(math.inf, end - start)


def _between(dof: float) -> Callable[[float, float], float]:
    from scipy.special import ndtr, stdtr

    def below(z: float) -> float:
        return float(ndtr(z) if math.isinf(dof) else stdtr(dof, z))

    def between(a: float, b: float) -> float:
        # In the lower tail, where small probabilities keep their digits.
        return below(-a) - below(-b) if a > 0 else below(b) - below(a)

    return between


def global_risk(process: Process, limits: Limits, zones: Zones, u: float) -> Global:
    """Risks of a process that is measured with u and decided by an acceptance zone.

    Gauss-Legendre over the process, piece by piece between the limits, the ends of the zone and
    some standard deviations about each. Above a natural zero the process is cut off at zero.
    Raises ComputeError for what is no process, or no uncertainty.
    """
    m, s = process.mean, process.s
    if not (abs(m) <= LARGEST and all(x == 0 or LEAST <= x <= LARGEST for x in (s, u))):
        raise ComputeError(
            "no such process", expected="a mean, s and u from 0 up", found=f"{m}, {s}, {u}"
        )
    if limits.natural_zero and m < 0:
        raise ComputeError("the process lies below its natural zero", found=f"mean {m}")
    lower, upper = _ends(limits.lower, limits.upper)
    if limits.natural_zero:
        lower = max(lower, 0.0)
    low, high = _ends(zones.accept_low, zones.accept_high)
    if any(LARGEST < abs(x) < math.inf for x in (lower, upper, low, high)):
        raise ComputeError("a limit lies further off than can be told", found=f"{lower}, {upper}")
    if low > high:
        raise ComputeError("there is no acceptance zone", found=f"{low} to {high}")
    accept = _accepting(low, high, u)
    if s == 0:
        good, taken = float(lower <= m <= upper), float(accept(np.array([m]))[0][0])
        return Global((1 - good) * taken, good * (1 - taken), good, taken)
    floor = max(m - _FAR * s, 0.0 if limits.natural_zero else -math.inf)
    about = ((m, s), (low, u), (high, u))
    inner = {lower, upper, *(x + c * width for x, width in about for c in _CUTS)}
    far = m + _FAR * s
    cuts = sorted({floor, far} | {x for x in inner if floor < x < far})
    # A row a piece.
    edges = np.array(cuts)
    middle, half = (edges[1:] + edges[:-1])[:, None] / 2, np.diff(edges)[:, None] / 2
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    x = middle + half * nodes
    mass = weights * half * np.exp(-(((x - m) / s) ** 2) / 2) / (s * math.sqrt(2 * math.pi))
    yes, no = accept(x)
    good = (lower <= middle) & (middle <= upper)
    parts = (mass * yes * ~good, mass * no * good, mass * good, mass * yes)
    # What of the process lies above where it is cut off.
    whole = float(mass.sum()) if limits.natural_zero else 1.0
    return Global(*(float(part.sum()) / whole for part in parts))


def _ends(low: Decimal | None, high: Decimal | None) -> tuple[float, float]:
    return (
        -math.inf if low is None else float(low),
        math.inf if high is None else float(high),
    )


def _accepting(low: float, high: float, u: float) -> Callable[[Floats], tuple[Floats, Floats]]:
    """Probabilities that items of these true values are accepted, and rejected."""
    from scipy.special import ndtr

    def accept(x: Floats) -> tuple[Floats, Floats]:
        if u == 0:
            yes = ((low <= x) & (x <= high)).astype(float)
            return yes, 1 - yes
        a, b = (low - x) / u, (high - x) / u
        # In the lower tail, where small probabilities keep their digits.
        yes = np.where(x > high, ndtr(b) - ndtr(a), ndtr(-a) - ndtr(-b))
        return yes, ndtr(a) + ndtr(-b)

    return accept
