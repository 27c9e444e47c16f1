"""A measuring method by trials (JCGM 101): its readings scatter as the budget says. No I/O.

What a budget knows of the readings' own scatter (crosshair, backlash at each point, step, repeat)
is drawn into them and goes through the method anew; what doesn't show in readings is added as it is
spread. So a fit on a short arc, or an angle near its limit, shows what the budget's straight line
can't.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace

from inspect_rec.calculator.measuring import Measured
from inspect_rec.calculator.propagate import PROBABILITY
from inspect_rec.compute.montecarlo import Propagated, Quantity, by_trials
from inspect_rec.compute.uncertainty import Component, Distribution
from inspect_rec.errors import ComputeError
from inspect_rec.methods.base import Given, Taken
from inspect_rec.methods.register import Reads
from inspect_rec.methods.widths import PLACE_OF_AXIS

_SLIDES = (Reads.RADIAL, Reads.ALONG, Reads.POINT)
_AT_SLIDES = ("crosshair", "backlash")
_Place = tuple[str, int | None, str, int, str, str]
"""Role, flute, mark, repeat (0: all repeats at once), channel, kind."""
_Shift = tuple[str, int | None, str, int, str]


def trials(found: Measured, *, number: int, seed: int, p: float = PROBABILITY) -> Propagated:
    """The value by trials (JCGM 101): readings that scatter as the budget says are put through the
    method anew, what doesn't show in the readings is added as it is spread."""
    rows = found.outcome.budget.components
    slides = {r.name for r in found.method.roles if r.reads in _SLIDES}
    held = {"axis"} if any(row.name == PLACE_OF_AXIS for row in rows) else set()
    kinds: dict[str, float] = {}
    for row in rows:
        kinds[row.of_reading] = min(row.dof, kinds.get(row.of_reading, math.inf))
    noise = dict(_noise(found, kinds, held))
    covered = [
        row
        for row in rows
        if noise and row.of_reading and (row.of_reading not in _AT_SLIDES or slides)
    ]
    left = [row for row in rows if row not in covered and row.u > 0]
    per_unit = 1.0 if found.method.unit == "deg" else 1000.0
    places = list(noise)
    quantities = [*noise.values(), *(_spread(row, per_unit) for row in left)]
    if not quantities:
        raise ComputeError("the budget has no row to draw from")

    def once(figures: list[float]) -> Mapping[str, float]:
        shifts: dict[_Shift, float] = {}
        for place, shift in zip(places, figures, strict=False):
            shifts[place[:5]] = shifts.get(place[:5], 0.0) + shift
        value = found.method.evaluate(_shaken(found.given, shifts)).value
        return {"value": value + sum(figures[len(places) :])}

    return by_trials(once, quantities, number=number, seed=seed, p=p)["value"]


def _noise(
    found: Measured, kinds: Mapping[str, float], held: set[str]
) -> Iterator[tuple[_Place, Quantity]]:
    """What each figure scatters; ``kinds``: kind -> degrees of freedom that it is known with."""
    given = found.given
    roles = {role.name: role for role in found.method.roles}
    for name, series in given.series.items():
        if name in held:
            continue
        slides = roles[name].reads in _SLIDES
        scale = 1.0 if roles[name].reads is Reads.ANGLE else 1e-3
        instrument = series.instrument
        steps_seen: set[_Place] = set()
        for t in series.taken:
            for channel in t.figures:
                for kind in _AT_SLIDES if slides else ():
                    if kind in kinds:
                        place = (name, t.flute, t.mark, t.repeat, channel, kind)
                        known = given.component(kind, kind)
                        amount = known.amount * 1e-3
                        yield place, Quantity(0.0, amount, known.distribution, kinds[kind])
                if instrument.repeat and "repeat" in kinds:
                    place = (name, t.flute, t.mark, t.repeat, channel, "repeat")
                    yield place, Quantity(0.0, instrument.repeat * scale, dof=kinds["repeat"])
                # Repeats at one place share what the step rounds off.
                place = (name, t.flute, t.mark, 0, channel, "step")
                if instrument.half_step and "step" in kinds and place not in steps_seen:
                    steps_seen.add(place)
                    step = instrument.half_step * scale
                    yield place, Quantity(0.0, step, Distribution.RECTANGULAR)


def _spread(row: Component, per_unit: float) -> Quantity:
    """What a row adds to the value, mm or deg, spread as the row says."""
    if row.ends == row.averaged == 1:
        amount = abs(row.sensitivity) * row.amount / per_unit
        centre = -amount / 2 if row.distribution is Distribution.ONE_SIDED else 0.0
        return Quantity(centre, amount, row.distribution, row.dof)
    return Quantity(0.0, row.u / per_unit, Distribution.NORMAL, row.dof)


def _shaken(given: Given, shifts: Mapping[_Shift, float]) -> Given:
    def moved(name: str, t: Taken) -> Taken:
        figures = {
            channel: figure
            + shifts.get((name, t.flute, t.mark, t.repeat, channel), 0.0)
            + shifts.get((name, t.flute, t.mark, 0, channel), 0.0)
            for channel, figure in t.figures.items()
        }
        return replace(t, figures=figures)

    series = {
        name: replace(s, taken=tuple(moved(name, t) for t in s.taken))
        for name, s in given.series.items()
    }
    return replace(given, series=series)
