"""Readings made from a known tool, and the same with errors drawn anew many times."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from statistics import stdev

import numpy as np

from inspect_rec.methods.base import Amount, Given, Instrument, Series, Slides, Taken
from inspect_rec.plan import Influence
from tests import worked

READOUT = Instrument("RO-1", half_step=0.0005)
"""A readout that shows tenths of a um and finer, so that trials aren't of its step."""
INDICATOR = Instrument("IN-1", half_step=0.05, repeat=0.6, expanded=2.0)
GAUGE = Instrument("SG-5", expanded=0.8, value=5.0)
SLIDES = Slides("X", "Z", 1, 1)
Parameter = Decimal | str | tuple[Decimal, ...] | tuple[str, ...]


def points(places: Sequence[tuple[float, float]], flute: int | None = None) -> Series:
    """A point at each place (x, z), each a mark of its own."""
    taken = (
        Taken(str(n), 1, flute, {"X": x, "Z": z}, ("A", n)) for n, (x, z) in enumerate(places, 1)
    )
    return Series("points", tuple(taken), "slides", READOUT)


def along(z: Sequence[float], index: Sequence[float]) -> Series:
    """Places along the tool, each at its index angle."""
    found = points([(0.0, place) for place in z])
    return Series("flute", found.taken, "slides", READOUT, index=tuple(index))


def indicated(
    mm: Sequence[float],
    index: Sequence[float] = (),
    *,
    master: Instrument | None = None,
    instrument: Instrument = INDICATOR,
) -> Series:
    """Figures of an indicator, each a mark of its own."""
    taken = (Taken(str(n), 1, None, {"indicator": e}, ("A", n)) for n, e in enumerate(mm, 1))
    return Series("indicator", tuple(taken), "indicator", instrument, master, tuple(index))


def per_flute(mm: Sequence[float], instrument: Instrument = INDICATOR) -> Series:
    """Figures of an indicator, one on each flute."""
    taken = (Taken("edge", 1, n, {"indicator": e}, ("A", n)) for n, e in enumerate(mm, 1))
    return Series("indicator", tuple(taken), "indicator", instrument)


def both_sides(axis: float, radius: float = 5.0) -> Series:
    """A pin sighted three times on both sides."""
    sides = (("greater", axis + radius), ("smaller", axis - radius)) * 3
    taken = (
        Taken(mark, n // 2 + 1, None, {"X": x, "Z": 0.0}, ("A", n))
        for n, (mark, x) in enumerate(sides)
    )
    return Series("axis", tuple(taken), "slides", READOUT)


def alone(**amounts: float) -> dict[str, Amount]:
    """The shop's influences, of which all but those named are nothing: names with _ for blank."""
    wanted = {name.replace("_", " "): amount for name, amount in amounts.items()}
    found: dict[str, Amount] = {}
    for name, influence in worked.shop().influence.items():
        amount = Decimal(repr(wanted.pop(name, 0.0)))
        found[name] = influence.model_copy(update={"amount": amount})
    assert not wanted, f"the shop has no such influence: {sorted(wanted)}"
    return found


def asked(
    series: Mapping[str, Series],
    *,
    influences: Mapping[str, Amount] | None = None,
    slides: Slides = SLIDES,
    drift: Mapping[str, float] | None = None,
    width: float | None = None,
    **parameters: Parameter | float,
) -> Given:
    """What a method is given; numbers as a plan states them."""
    stated: dict[str, Parameter] = {
        name: Decimal(repr(value)) if isinstance(value, int | float) else value
        for name, value in parameters.items()
    }
    known: Mapping[str, Influence] = worked.shop().influence
    return Given(
        series=series,
        flute=None,
        parameters=stated,
        slides=slides,
        influences=known if influences is None else influences,
        drift=drift or {},
        others={},
        width=width,
    )


def numbers(*values: float) -> tuple[Decimal, ...]:
    """A list of numbers as a plan states it."""
    return tuple(Decimal(repr(value)) for value in values)


def scatter_um(value: Callable[[np.random.Generator], float], trials: int = 2000) -> float:
    """Standard deviation of a value, mm (or deg) turned to um (or 0.001 deg), over trials with
    errors drawn from a fixed seed: known to 1.6 % for 2000."""
    random = np.random.default_rng(20260731)
    found = stdev(value(random) for _ in range(trials))
    assert math.isfinite(found)
    return found * 1000
