"""Uncertainty by trials (JCGM 101): for models that a budget's straight line doesn't do justice.

Seeded, so that the same report gives the same digits again; numpy is loaded only when this is
called. No I/O, and no random number from anywhere but the seed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from inspect_rec.compute.circles import circles
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
    arc = np.array(points, dtype=float)

    def block(n: int) -> Any:
        noise = random.normal(0.0, s_mm, (2, n, len(arc)))
        return circles(arc[:, 0] + noise[0], arc[:, 1] + noise[1]).radius_mm

    return _summed(_in_blocks(block, trials), p)


def _in_blocks(block: Callable[[int], Any], trials: int) -> Any:
    import numpy as np

    if trials < 1000:
        raise ComputeError("too few trials", expected="1000 or more", found=str(trials))
    sizes = [min(_BLOCK, trials - first) for first in range(0, trials, _BLOCK)]
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
