"""How far a value moves with each of its inputs, by differences. No I/O.

For formulas of several inputs the sensitivities of a budget are taken numerically, as the GUM
allows (JCGM 100:2008, 5.1.3, note 2; the clause from memory): half the difference of the values
a small step above and below.
"""

from __future__ import annotations

from collections.abc import Callable

STEP = 1e-5
"""In the unit of the input, mm or deg: small against every length and angle of a tool, large
against the rounding of binary floats."""


def slopes(model: Callable[..., float], *inputs: float) -> tuple[float, ...]:
    """Partial derivatives of ``model`` at ``inputs``, in their order; a unit of the value for
    each unit of the input. Raises what the model raises where a step leads out of its reach."""
    at, found = list(inputs), []
    for n, here in enumerate(inputs):
        above, below = here + STEP, here - STEP
        at[n] = above
        high = model(*at)
        at[n] = below
        found.append((high - model(*at)) / (above - below))
        at[n] = here
    return tuple(found)
