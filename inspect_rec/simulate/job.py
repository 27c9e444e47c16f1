"""A known tool measured on the simulated machine: masters before and after, and the outcome.

The master checks are those of the program, limits included: what a job refuses here, it refuses in
the shop.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from inspect_rec.inspection.checks import Check, Noise, check
from inspect_rec.methods.base import Given, Instrument, MasterBias, Outcome, Series, Taken
from inspect_rec.methods.register import Method, Reads, Role, named
from inspect_rec.plan import Feature
from inspect_rec.simulate.known import Known, Make, Mastered
from inspect_rec.simulate.machine import (
    AXIS,
    MASTER,
    TOOL,
    Errors,
    Machine,
    Spot,
    influences,
    instrument,
)

USUAL = {
    Reads.RADIAL: "RO-1",
    Reads.ALONG: "RO-1",
    Reads.POINT: "RO-1",
    Reads.INDICATOR: "IN-1",
    Reads.ANGLE: "OP-1",
    Reads.LENGTH: "CA-1",
}
"""The instrument of what is read, where a known tool names no other."""

_CHANNEL = {Reads.INDICATOR: "indicator", Reads.ANGLE: "angle", Reads.LENGTH: "length"}
_ROUND_S = 300.0
"""Between the masters and the tool: clamping and lining up."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A known tool and what the program made of its readings."""

    truth: tuple[float, ...]
    outcome: Outcome
    given: Given
    refusals: tuple[str, ...]
    """Of the master checks and of the method."""
    natural_zero: bool
    """Whether the value can't lie below zero, so that it has an upper limit alone."""

    @property
    def scale(self) -> float:
        """What turns the unit of the budget into that of the value: um into mm, deg into deg."""
        return 1.0 if self.outcome.budget.unit == "deg" else 1e-3

    @property
    def errors(self) -> tuple[float, ...]:
        """Values less truths, mm or deg."""
        return tuple(v - t for v, t in zip(self.outcome.values, self.truth, strict=True))

    @property
    def u(self) -> float:
        """Standard uncertainty by the budget, mm or deg."""
        return self.outcome.budget.u * self.scale

    @property
    def U(self) -> float:  # noqa: N802 - the GUM's letter
        """Expanded uncertainty by the budget, mm or deg."""
        return self.outcome.budget.expanded * self.scale


def measured(method: Method, make: Make, errors: Errors, seed: str) -> Measured:
    """Draw a known tool and measure it. The same seed draws the same tool whatever the errors."""
    machine = Machine(errors, f"{seed}/errors")
    tool = make(random.Random(f"{seed}/tool"), machine)
    how = named(tool.of) if tool.of else method
    series, checks = _job(how, tool, machine)
    drift = {role: c.drift for role, c in checks.items() if c.drift is not None}
    given = Given(
        series=series,
        flute=tool.flute,
        parameters=tool.parameters,
        slides=tool.slides,
        influences=influences(),
        drift=drift,
        bias={r: MasterBias(c.before, c.u) for r, c in checks.items() if c.before is not None},
        others={},
        width=tool.width,
    )
    if tool.of:
        given = replace(given, others=_flutes(how, given), series={})
    outcome = method.evaluate(given)
    refused = tuple(r for c in checks.values() for r in c.refusals)
    return Measured(tool.truth, outcome, given, refused + outcome.refusals, tool.natural_zero)


def _flutes(how: Method, given: Given) -> Mapping[int, Outcome]:
    """The outcome of each flute, the rest of the readings shared."""
    primary = given.series[how.roles[0].name]
    found = {}
    for flute in primary.flutes:
        own = {name: s.of_flute(flute) if s.flutes else s for name, s in given.series.items()}
        found[flute] = how.evaluate(replace(given, series=own, flute=flute))
    return found


def _job(how: Method, tool: Known, machine: Machine) -> tuple[dict[str, Series], dict[str, Check]]:
    """Masters before, the axis and the tool, masters after."""
    roles = [role for role in how.roles if role.name in tool.spots]
    masters = [role for role in roles if role.name in tool.masters]
    before = {role.name: _master(role, tool, machine) for role in masters}
    machine.wait(_ROUND_S)
    # The axis comes before what hangs on it.
    tooled = sorted((r for r in roles if r not in masters), key=lambda r: r.name != AXIS)
    taken = {role.name: _series(role, tool, tool.spots[role.name], machine) for role in tooled}
    machine.wait(_ROUND_S)
    after = {role.name: _master(role, tool, machine) for role in masters}
    checks = {
        role.name: found
        for role in masters
        if (found := _checked(tool, role, before[role.name], after[role.name])) is not None
    }
    known = {
        name: replace(series, after=after[name][0].taken) for name, (series, _) in before.items()
    }
    return taken | known, checks


def _master(role: Role, tool: Known, machine: Machine) -> tuple[Series, Series | None]:
    """A master's series, and that of its own axis where its check needs one."""
    mastered = tool.masters[role.name]
    own_axis = None
    if mastered.axis:
        axis = Role(AXIS, Reads.RADIAL, "sides of the master's shank")
        own_axis = _series(axis, tool, mastered.axis, machine, key=mastered.master.id)
    found = _series(role, tool, tool.spots[role.name], machine)
    return replace(found, master=mastered.master), own_axis


def _series(
    role: Role, tool: Known, spots: tuple[Spot, ...], machine: Machine, key: str = ""
) -> Series:
    on = instrument(tool.instruments.get(role.name, USUAL[role.reads]))
    read = _reader(role, tool, on, machine, key or role.name)
    repeats: dict[tuple[str, int | None], int] = {}
    taken = []
    flute = None
    for n, spot in enumerate(spots):
        if spot.flute != flute:
            machine.wait(30.0)
            flute = spot.flute
        place = (spot.mark, spot.flute)
        repeats[place] = repeats.get(place, 0) + 1
        figures = read(spot)
        taken.append(
            Taken(spot.mark, repeats[place], spot.flute, figures, ("A", n + 1), machine.now_s)
        )
    channel = _CHANNEL.get(role.reads, "slides")
    return Series(role.name, tuple(taken), channel, on, index=tool.index.get(role.name, ()))


def _reader(
    role: Role, tool: Known, on: Instrument, machine: Machine, key: str
) -> Callable[[Spot], dict[str, float]]:
    """How a spot of that role is read."""
    match role.reads:
        case Reads.INDICATOR:
            return lambda spot: {"indicator": machine.indicate(spot, on)}
        case Reads.ANGLE:
            return lambda spot: {"angle": machine.protract(spot, on, key)}
        case Reads.LENGTH:
            return lambda spot: {"length": machine.lay_up(spot, on)}
    body = MASTER if role.master else AXIS if role.name == AXIS else TOOL
    return lambda spot: machine.sight(spot, on, tool.slides, body, key)


# -- checks ------------------------------------------------------------------


@cache
def _feature(kind: str, role: str) -> Feature:
    fields: dict[str, Any] = {"id": role, "master": "master", "check": kind, "marks": ["1"]}
    return Feature.model_validate(fields)


@cache
def _noise() -> Noise:
    stated = influences()
    readout = instrument(USUAL[Reads.POINT])
    clamping = float(stated["clamping"].amount) / 3**0.5
    return Noise(float(stated["crosshair"].amount), readout.half_step or 0.0, clamping)


def _unknown_um(mastered: Mastered) -> float:
    """u of what a check can't see in itself, as the program counts it."""
    parts = [(mastered.master.expanded or 0.0) / 2]
    if mastered.check.startswith("arc"):
        parts += [float(influences()[name].amount) for name in ("scale", "edge")]
    return math.hypot(*parts)


def _checked(
    tool: Known,
    role: Role,
    before: tuple[Series, Series | None],
    after: tuple[Series, Series | None],
) -> Check | None:
    mastered = tool.masters[role.name]
    if not mastered.check:
        return None
    both = {
        "before": before[0],
        "after": replace(after[0], master=mastered.master),
    }
    axes = {"before": before[1], "after": after[1]}
    return check(
        _feature(mastered.check, role.name),
        0,
        both,
        axes,
        _noise(),
        tool.slides.radial,
        _unknown_um(mastered),
        taken_off=role.length,
    )
