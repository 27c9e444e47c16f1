"""Known tools of heights by indicator and lengths by caliper."""

from __future__ import annotations

import random

from inspect_rec.simulate.known import Known, known
from inspect_rec.simulate.known.angles import step_check
from inspect_rec.simulate.machine import Machine, Spot


@known("height difference by indicator")
def height_difference(of: random.Random, machine: Machine) -> Known:
    """Two to four lips or teeth whose heights differ by up to 0.03 mm."""
    heights = [of.uniform(0, 0.03) for _ in range(of.choice((2, 2, 3, 4)))]
    spots = tuple(
        Spot("lip", figure=height, flute=n, floats=True) for n, height in enumerate(heights, 1)
    )
    blocks, mastered = step_check(machine)
    return Known(
        (max(heights) - min(heights),),
        {"heights": spots, "master": blocks},
        masters={"master": mastered},
        natural_zero=True,
    )


@known("height against the axis by indicator")
def against_axis(of: random.Random, machine: Machine) -> Known:
    """A face up to 0.05 mm off the axis."""
    height = of.uniform(-0.05, 0.05)
    face = Spot("face", figure=height, flute=1)
    axis = Spot("axis", figure=machine.held("height of the axis") / 1000)
    blocks, mastered = step_check(machine)
    return Known(
        (height,),
        {"face": (face,), "axis": (axis,), "master": blocks},
        masters={"master": mastered},
        instruments={"face": "IN-2", "axis": "IN-2", "master": "IN-2"},
        flute=1,
    )


@known("length by caliper")
def caliper(of: random.Random, machine: Machine) -> Known:
    """A tool of 40 to 150 mm."""
    del machine
    length = of.uniform(40, 150)
    return Known((length,), {"length": (Spot("tip", figure=length),) * of.choice((1, 2, 3))})
