"""Known tools: for each method of the register, true values and the true places of every mark.

One module a family, found like the methods. A known tool draws its size from realistic ranges, and
asks the machine only for how far it was set wrong (rolled too far, indexed off); what sighting adds
is the machine's business.
"""

from __future__ import annotations

import importlib
import pkgutil
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache

from inspect_rec.methods.base import Instrument, Slides
from inspect_rec.simulate.machine import Machine, Spot

LATHE = Slides("X", "Z", 1, 1)
"""X is radial and grows outward, Z grows toward the tip."""


Stated = Decimal | str | tuple[Decimal, ...] | tuple[str, ...]
"""A parameter as a plan states it."""


@dataclass(frozen=True, slots=True)
class Mastered:
    """The master of a role: what it is, and the kind of check that it is sighted for."""

    master: Instrument
    check: str = ""
    """As in a plan's feature: width, arc, arc on the axis, step, angle; empty: none."""
    axis: tuple[Spot, ...] = ()
    """The sides of its own shank, where the check needs an axis."""


@dataclass(frozen=True, slots=True)
class Known:
    """A tool whose true value is known, as one method is to measure it.

    ``truth`` in mm or deg, as many values as the method gives; ``spots`` by role, in the order in
    which they are taken, repeats as such. ``of``: for a variation, the method that gives the
    value of each flute.
    """

    truth: tuple[float, ...]
    spots: Mapping[str, tuple[Spot, ...]]
    parameters: Mapping[str, Stated] = field(default_factory=dict)
    masters: Mapping[str, Mastered] = field(default_factory=dict)
    instruments: Mapping[str, str] = field(default_factory=dict)
    """Role -> instrument, where it isn't the usual one of what is read."""
    index: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    slides: Slides = LATHE
    flute: int | None = None
    width: float | None = None
    """Width of the tolerance, where the method asks for it."""
    of: str = ""
    natural_zero: bool = False
    """Whether the value can't lie below zero, so that it has an upper limit alone."""


Make = Callable[[random.Random, Machine], Known]

_KNOWN: dict[str, dict[str, Make]] = {}


def known(name: str, case: str = "") -> Callable[[Make], Make]:
    """Enter a known tool of the method ``name``; ``case`` says which, where there are several."""

    def enter(make: Make) -> Make:
        cases = _KNOWN.setdefault(name, {})
        if case in cases:
            raise ValueError(f"two known tools of {name!r} are called {case!r}")
        cases[case] = make
        return make

    return enter


@cache
def tools() -> Mapping[str, Mapping[str, Make]]:
    """All known tools: method -> case -> tool; a file that can't be imported is an error."""
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
    return {name: _KNOWN[name] for name in sorted(_KNOWN)}


def sides(diameter: float, repeats: int, **more: float | str | int | None) -> tuple[Spot, ...]:
    """Both sides of a pin, shank or width, ``repeats`` times each."""
    return tuple(
        Spot(mark, sign * diameter / 2, normal=(sign, 0.0), **more)  # type: ignore[arg-type]
        for _ in range(repeats)
        for mark, sign in (("greater", 1.0), ("smaller", -1.0))
    )


def exact(figure: float, places: int = 9) -> Decimal:
    """A number as a plan states it."""
    return Decimal(f"{figure:.{places}f}")
