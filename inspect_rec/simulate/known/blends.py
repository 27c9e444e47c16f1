"""Known tools of radii that run into straights."""

from __future__ import annotations

import math
import random

from inspect_rec.simulate.known import LATHE, Known, Stated, exact, known
from inspect_rec.simulate.known.arcs import arc
from inspect_rec.simulate.known.widths import EDGE_PLANE
from inspect_rec.simulate.machine import Machine, Spot

_CENTRE_MM = 4.0
"""Of the arcs, from the axis."""


def _along(r: float, first: float, last: float, n: int, metal: float) -> tuple[Spot, ...]:
    """A straight along the tool."""
    return tuple(
        Spot(
            str(k + 1),
            r,
            first + (last - first) * k / (n - 1),
            normal=(metal, 0.0),
            flute=1,
            plane=EDGE_PLANE,
        )
        for k in range(n)
    )


def _blended(
    of: random.Random, machine: Machine, outside: float, radius: float, form: str
) -> Known:
    """An arc and the straight along the tool beside it, ``outside`` further from the arc's centre
    than the arc; each point is as round as the shop states of an edge."""
    metal = 1.0 if form == "convex" else -1.0
    n = of.choice((7, 9))
    rough = tuple(machine.setting("edge", k) for k in range(n))
    return Known(
        (),
        {
            "arc": arc(
                radius,
                (_CENTRE_MM, -radius),
                (5, 85),
                n,
                hollow=form == "concave",
                flute=1,
                form=rough,
            ),
            "straight": _along(
                _CENTRE_MM + radius + outside,
                -radius - 0.3,
                -radius - of.uniform(3, 8),
                of.choice((4, 6)),
                metal,
            ),
        },
        {"form": form},
        flute=1,
    )


def _with(tool: Known, truth: float, more: dict[str, Stated], *, zero: bool = False) -> Known:
    return Known((truth,), tool.spots, {**tool.parameters, **more}, flute=1, natural_zero=zero)


def _step(of: random.Random, machine: Machine, form: str) -> Known:
    outside = of.uniform(-0.02, 0.02)
    tool = _blended(of, machine, outside, of.uniform(0.8, 4), form)
    return _with(tool, outside if form == "convex" else -outside, {})


@known("step at a blend", "convex")
def step(of: random.Random, machine: Machine) -> Known:
    """A corner radius of 0.8 to 4 mm and a periphery up to 0.02 mm off its tangent."""
    return _step(of, machine, "convex")


@known("step at a blend", "concave")
def step_concave(of: random.Random, machine: Machine) -> Known:
    """The same, hollow."""
    return _step(of, machine, "concave")


@known("tangency at a blend", "where they cut")
def tangency(of: random.Random, machine: Machine) -> Known:
    """A straight that cuts its arc 0.01 to 0.06 mm inside the tangent."""
    outside, radius = -of.uniform(0.01, 0.06), of.uniform(0.8, 4)
    tool = _blended(of, machine, outside, radius, "convex")
    return _with(tool, math.degrees(math.acos((radius + outside) / radius)), {}, zero=True)


@known("tangency at a blend", "at a stated place")
def tangency_at(of: random.Random, machine: Machine) -> Known:
    """A blend that the drawing puts up to 0.3 mm off the tangent point."""
    radius, off = of.uniform(0.8, 4), of.uniform(-0.3, 0.3)
    tool = _blended(of, machine, of.uniform(-0.01, 0.01), radius, "convex")
    place = machine.place(LATHE, 0.0, -radius + off)[LATHE.along] + machine.setting("corner")
    return _with(
        tool, math.degrees(math.asin(abs(off) / radius)), {"place_mm": exact(place)}, zero=True
    )


@known("corner radius between two straights")
def corner(of: random.Random, machine: Machine) -> Known:
    """A corner radius of 0.5 to 3 mm that runs smoothly into periphery and end."""
    del machine
    radius = of.uniform(0.5, 3)
    end = tuple(
        Spot(
            str(k + 1),
            _CENTRE_MM - 0.2 - k * 0.6,
            0.0,
            normal=(0.0, 1.0),
            flute=1,
            plane=EDGE_PLANE,
        )
        for k in range(4)
    )
    return Known(
        (radius,),
        {
            "arc": arc(radius, (_CENTRE_MM, -radius), (5, 85), 9, flute=1),
            "side": _along(_CENTRE_MM + radius, -radius - 0.3, -radius - 5, 4, 1.0),
            "end": end,
        },
        {"form": "convex"},
        flute=1,
        width=0.1,
    )
