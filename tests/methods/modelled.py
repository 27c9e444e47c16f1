"""Readings of a tool whose geometry is known, and the scatter of a value by trials (JCGM 101).

The trials disturb the readings and what the plan states, and work the value out anew: nothing of
the budget goes into them but the amounts of the shop file and the equipment.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np

from inspect_rec.methods.base import Given, Instrument, Outcome, Series, Slides, Taken
from inspect_rec.methods.register import named
from tests import worked

READOUT = Instrument("RO-1", half_step=0.5)
INDICATOR = Instrument("IN-1", half_step=0.05, repeat=0.6, expanded=2.0)
SLIDES = Slides("X", "Z", 1, 1)

Stated = Mapping[str, float | str | Sequence[float]]
Disturb = Callable[[Mapping[str, Series], np.random.Generator], Mapping[str, Series]]


def indicated(*readings: float) -> Series:
    """Readings of an indicator, mm, each at a mark of its own."""
    taken = (Taken(str(n), 1, None, {"indicator": r}, ("A", n)) for n, r in enumerate(readings))
    return Series("drop", tuple(taken), "indicator", INDICATOR)


def places(*points: tuple[str, float, float], flute: int | None = None) -> Series:
    """Sightings: mark, place along the radial slide and along the tool, mm."""
    taken = (Taken(m, 1, flute, {"X": x, "Z": z}, ("A", n)) for n, (m, x, z) in enumerate(points))
    return Series("places", tuple(taken), "slides", READOUT)


def joined(*parts: Series) -> Series:
    """One feature read on several flutes."""
    return replace(parts[0], taken=tuple(t for part in parts for t in part.taken))


def moved(series: Series, dx: float = 0.0, dz: float = 0.0, *, mirrored: bool = False) -> Series:
    """The same sightings with the slides zeroed elsewhere, or the radial one reversed."""
    way = -1 if mirrored else 1
    return replace(
        series,
        taken=tuple(
            replace(t, figures={"X": way * t["X"] + dx, "Z": t["Z"] + dz}) for t in series.taken
        ),
    )


def turned(series: Series, by_deg: float) -> Series:
    """The same sightings in a picture that is turned."""
    c, s = math.cos(math.radians(by_deg)), math.sin(math.radians(by_deg))
    return replace(
        series,
        taken=tuple(
            replace(t, figures={"X": c * t["X"] - s * t["Z"], "Z": s * t["X"] + c * t["Z"]})
            for t in series.taken
        ),
    )


def evaluated(
    name: str,
    series: Mapping[str, Series],
    *,
    drift: Mapping[str, float] | None = None,
    **stated: object,
) -> Outcome:
    """What the method makes of the readings and of what the plan states."""
    return named(name).evaluate(
        Given(
            series=series,
            flute=None,
            parameters={key: _parameter(value) for key, value in stated.items()},
            slides=SLIDES,
            influences=worked.shop().influence,
            drift=drift or {},
            others={},
        )
    )


def _parameter(value: object) -> Decimal | str | tuple[Decimal, ...]:
    if isinstance(value, str):
        return value
    if isinstance(value, Sequence):
        return tuple(Decimal(repr(float(v))) for v in value)
    return Decimal(repr(float(value)))  # type: ignore[arg-type]


def drawn(influence: str, random: np.random.Generator) -> float:
    """A draw of an influence of the shop file, in its unit."""
    found = worked.shop().influence[influence]
    amount = float(found.amount)
    if found.distribution == "rectangular":
        return float(random.uniform(-amount, amount))
    if found.distribution == "rectangular one-sided":
        return float(random.uniform(0, amount))
    return float(random.normal(0, amount))


def _disturbed(
    series: Series, random: np.random.Generator, *, calibrated: bool, approached: bool
) -> Series:
    instrument = series.instrument
    half = (instrument.half_step or 0) / 1000

    def one(t: Taken, *, last: bool) -> Taken:
        if series.channel == "slides":
            scatter = [drawn("crosshair", random) / 1000 for _ in "XZ"]
            if approached:
                scatter = [each + drawn("backlash", random) / 1000 for each in scatter]
            steps = random.uniform(-half, half, 2)
            x, z = t["X"] + scatter[0] + steps[0], t["Z"] + scatter[1] + steps[1]
            return replace(t, figures={"X": x, "Z": z})
        read = t["indicator"] + random.normal(0, (instrument.repeat or 0) / 1000)
        read += random.uniform(-half, half)
        if last and calibrated:
            read += random.normal(0, (instrument.expanded or 0) / 2000)
        return replace(t, figures={"indicator": read})

    end = len(series.taken) - 1
    return replace(series, taken=tuple(one(t, last=n == end) for n, t in enumerate(series.taken)))


def by_trials(
    name: str,
    series: Mapping[str, Series],
    stated: Stated,
    *,
    uncertain: Mapping[str, str],
    added: Sequence[tuple[str, float]] = (),
    disturb: Disturb = lambda series, _: series,
    calibrated: bool = True,
    trials: int = 1500,
) -> float:
    """Standard deviation of the value, mm or deg.

    ``uncertain``: what the plan states -> influence that says how far it may be off; ``added``:
    influences that shift the value itself, and by how much for one unit; ``disturb``: what shifts
    several readings together; ``calibrated``: whether each drop has a calibration error of its own.
    """
    random = np.random.default_rng(20)
    rows = evaluated(name, series, **dict(stated)).budget.components  # type: ignore[arg-type]
    approached = any(row.of_reading == "backlash" for row in rows)

    def off(value: float | str | Sequence[float], influence: str) -> float | Sequence[float]:
        if isinstance(value, str):
            raise TypeError(value)
        if not isinstance(value, float | int):
            return [v + drawn(influence, random) for v in value]
        return value + drawn(influence, random)

    def once() -> float:
        together = disturb(series, random)
        read = {
            role: _disturbed(each, random, calibrated=calibrated, approached=approached)
            for role, each in together.items()
        }
        said: dict[str, Any] = dict(stated)
        said |= {key: off(stated[key], influence) for key, influence in uncertain.items()}
        shift = sum(factor * drawn(influence, random) for influence, factor in added)
        return evaluated(name, read, **said).values[-1] + shift

    return float(np.std([once() for _ in range(trials)], ddof=1))
