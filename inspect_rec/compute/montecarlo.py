"""Uncertainty by trials (JCGM 101): for models that a budget's straight line doesn't do justice.

Seeded, so that the same report gives the same digits again; numpy is loaded only when this is
called. No I/O, and no random number from anywhere but the seed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

from inspect_rec.compute import fitting
from inspect_rec.compute.circles import step
from inspect_rec.compute.fitting import Points
from inspect_rec.compute.uncertainty import Distribution
from inspect_rec.errors import ComputeError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]

TRIALS = 200_000
"""The ends of a 95 % interval then scatter by about 0.5 % of u."""

_BLOCK = 65_536
_IN_CACHE = 1024
"""Trials of an arc that step together: their points stay in the processor's cache."""

_STEPS = 60


@dataclass(frozen=True, slots=True)
class Quantity:
    """An input: its estimate, and how it is spread about it, in its own unit.

    ``amount`` as in a budget's component: the standard uncertainty, the half width, the one-sided
    width or the expanded uncertainty. Of a normal one with few ``dof`` the trials follow t
    (JCGM 101, 6.4.9).
    """

    value: float
    amount: float
    distribution: Distribution = Distribution.NORMAL
    dof: float = math.inf


@dataclass(frozen=True, slots=True)
class Propagated:
    """What the trials gave, in the unit of the model."""

    mean: float
    u: float
    low: float
    high: float
    """Ends of the interval with equal probability on both sides."""
    shortest_low: float
    shortest_high: float
    trials: int


def monte_carlo(
    model: Callable[..., Numbers],
    quantities: Sequence[Quantity],
    *,
    seed: int,
    trials: int = TRIALS,
    p: float = 0.95,
) -> Propagated:
    """Propagate the inputs through ``model``, which takes one array for each quantity, in order,
    and gives an array of the same length. Raises ComputeError for too few trials, or where the
    model gives what is no number."""
    import numpy as np

    random = np.random.default_rng(seed)

    def block(n: int) -> Any:
        return model(*(_drawn(q, random, n) for q in quantities))

    return _summed(_in_blocks(block, trials), p)


def radius_by_trials(
    points: Points, s_mm: float, *, seed: int, trials: int = TRIALS, p: float = 0.95
) -> Propagated:
    """The free radius of an arc whose points scatter by ``s_mm`` in each slide, refitted every
    time: shows the bias and the skew of a short arc, which its budget can't."""
    import numpy as np

    random = np.random.default_rng(seed)
    found = fitting.circle(points)
    x, z = (np.array(p, dtype=float)[:, None] for p in zip(*points, strict=True))
    x, z = x - found.centre_x_mm, z - found.centre_z_mm

    def block(n: int) -> Any:
        noise = random.standard_normal((2, len(x), n))
        noise *= s_mm
        noise[0] += x
        noise[1] += z
        return _radii(*noise)

    return _summed(_in_blocks(block, trials, _IN_CACHE), p)


def _radii(x: Any, z: Any) -> Any:
    """Radii of the circles in the columns, each stepped to rest from the centre (0, 0)."""
    import numpy as np

    n = len(x)
    a = b = np.zeros(x.shape[1])
    for _ in range(_STEPS):
        da, db, r, (su, sv, suu, suv, _) = step(x, z, a, b)
        a, b = a + da, b + db
        # The next step would be of the order of this one's square over the radius.
        if not ((da * da + db * db) > 1e-9 * r * r).any():
            # Mean distance from where the step leads, to its second order: 1e-13 of the radius.
            bent = suu * db * db - 2 * suv * da * db + (n - suu) * da * da
            return r - (su * da + sv * db - bent / (2 * r)) / n
    raise ComputeError("a trial's circle doesn't settle", do="Sight a longer arc")


def _in_blocks(block: Callable[[int], Any], trials: int, size: int = _BLOCK) -> Any:
    import numpy as np

    if trials < 1000:
        raise ComputeError("too few trials", expected="1000 or more", found=str(trials))
    sizes = [min(size, trials - first) for first in range(0, trials, size)]
    return np.concatenate([block(n) for n in sizes])


def _drawn(q: Quantity, random: Any, n: int) -> Any:
    """``n`` values of one quantity."""
    match q.distribution:
        case Distribution.RECTANGULAR:
            return random.uniform(q.value - q.amount, q.value + q.amount, n)
        case Distribution.ONE_SIDED:
            return random.uniform(q.value, q.value + q.amount, n)
    sigma = q.amount / 2 if q.distribution is Distribution.EXPANDED else q.amount
    if math.isinf(q.dof):
        return random.normal(q.value, sigma, n)
    return q.value + sigma * random.standard_t(q.dof, n)


def _summed(values: Any, p: float) -> Propagated:
    import numpy as np

    n = len(values)
    covered = round(p * n)
    if not 0 < covered < n:
        raise ComputeError("no such probability", expected="between 0 and 1", found=str(p))
    if not np.isfinite(values).all():
        raise ComputeError("a trial gave what is no number")
    ordered = np.sort(values)
    first = (n - covered) // 2
    shortest = int((ordered[covered:] - ordered[: n - covered]).argmin())
    return Propagated(
        float(ordered.mean()),
        float(ordered.std(ddof=1)),
        float(ordered[first]),
        float(ordered[first + covered]),
        float(ordered[shortest]),
        float(ordered[shortest + covered]),
        n,
    )


def by_trials(
    model: Callable[[list[float]], Mapping[str, float]],
    quantities: Sequence[Quantity],
    *,
    number: int,
    seed: int,
    p: float = 0.95,
) -> dict[str, Propagated]:
    """Propagate the inputs through a ``model`` of plain numbers that gives several results: slower
    than ``monte_carlo``, for models that numpy can't run as arrays."""
    import numpy as np

    random = np.random.default_rng(seed)
    drawn = np.column_stack([_drawn(q, random, number) for q in quantities])
    found = [model(row) for row in drawn.tolist()]
    return {
        name: _summed(np.array([each[name] for each in found]), p)
        for name in found[0]
        if all(name in each for each in found)
    }


class Agreement(StrEnum):
    """What trials say of a budget's interval."""

    AGREES = "agrees"
    DISAGREES = "disagrees"
    MORE_TRIALS = "more trials needed"


def agreement(value: float, u: float, coverage_k: float, trials: Propagated, p: float) -> Agreement:
    """Whether the ends of a budget's interval lie within half a unit of the second significant
    digit of ``u`` from those of the trials (JCGM 101, clause 8; from memory).

    ``trials`` were summed for the probability ``p`` that ``coverage_k`` stands for. Their own ends
    scatter; where that leaves it open, more trials are needed to tell.
    """
    if u <= 0 or trials.u <= 0:
        return Agreement.AGREES if u == trials.u else Agreement.DISAGREES
    tolerance = 0.5 * 10.0 ** (math.floor(math.log10(u)) - 1)
    off = max(abs(value - coverage_k * u - trials.low), abs(value + coverage_k * u - trials.high))
    normal, tail = NormalDist(), (1 - p) / 2
    scatter = math.sqrt(tail * (1 - tail) / trials.trials) / normal.pdf(normal.inv_cdf(tail))
    scatter *= trials.u
    if off > tolerance + 3 * scatter:
        return Agreement.DISAGREES
    return Agreement.AGREES if max(off, scatter) <= tolerance else Agreement.MORE_TRIALS
