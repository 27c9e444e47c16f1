"""Known tools of angles: points and lips, edges, cones on the protractor, rolled lands."""

from __future__ import annotations

import math
import random

from inspect_rec.methods.base import Instrument
from inspect_rec.simulate.known import Known, Mastered, exact, known
from inspect_rec.simulate.machine import Machine, Spot

LIP_PLANE = "lip plane"
STEP = Instrument("GS-1", expanded=0.2, value=0.1)
ANGLE_MASTER = Instrument("AM-45", expanded=0.0083, value=45.0)


def lip(
    kappa: float, inner: float, leg: float, flute: int | None, repeats: int, plane: str = LIP_PLANE
) -> list[Spot]:
    """Two points of a straight lip, ``kappa`` deg against the axis, the inner one first."""
    k = math.radians(kappa)
    normal = (math.cos(k), math.sin(k))
    points = [("inner", inner, 0.0), ("outer", inner + leg * math.sin(k), -leg * math.cos(k))]
    return [
        Spot(mark, r, z, normal=normal, flute=flute, plane=plane, index=180.0 * (flute or 1))
        for _ in range(repeats)
        for mark, r, z in points
    ]


def _point(of: random.Random) -> tuple[list[float], tuple[Spot, ...]]:
    """Half angles of the two lips of a drill, and their spots."""
    half = of.choice((45.0, 59.0, 65.0, 70.0)) + of.uniform(-0.5, 0.5)
    kappas = [half, half + of.uniform(-0.4, 0.4)]
    leg, repeats = of.uniform(1.5, 5), of.choice((1, 2, 3))
    inner = of.uniform(0.3, 1)
    lips = [s for n, k in enumerate(kappas, 1) for s in lip(k, inner, leg, n, repeats)]
    return kappas, tuple(lips)


@known("point angle from the lips")
def point_angle(of: random.Random, machine: Machine) -> Known:
    """A drill's point of 90 to 140 deg, legs of 1.5 to 5 mm."""
    del machine
    kappas, lips = _point(of)
    return Known((sum(kappas),), {"lips": lips})


@known("lip symmetry from the lips")
def lip_symmetry(of: random.Random, machine: Machine) -> Known:
    """The same points; half angles that differ by up to 0.4 deg."""
    del machine
    kappas, lips = _point(of)
    return Known((abs(kappas[0] - kappas[1]),), {"lips": lips}, natural_zero=True)


@known("angle by two points")
def two_points(of: random.Random, machine: Machine) -> Known:
    """An edge of 20 to 75 deg, leg of 1 to 8 mm."""
    del machine
    kappa = of.uniform(20, 75)
    edge = lip(kappa, of.uniform(0.3, 3), of.uniform(1, 8), None, of.choice((1, 2, 3)))
    return Known((kappa,), {"edge": tuple(edge)})


@known("angle by protractor, sum of the sides")
def protractor_sum(of: random.Random, machine: Machine) -> Known:
    """A countersink or step of 60 to 120 deg, legs of 1 to 4 mm."""
    sides = [of.uniform(30, 60) for _ in range(2)]
    leg, repeats = of.uniform(1, 4), of.choice((1, 2, 3))
    spots = tuple(
        Spot(mark, figure=side, leg_mm=leg)
        for _ in range(repeats)
        for mark, side in zip(("left", "right"), sides, strict=True)
    )
    master = Spot("45", figure=machine.true_value(ANGLE_MASTER, unit=1.0))
    return Known(
        (sum(sides),),
        {"sides": spots, "master": (master,)},
        {"leg_mm": exact(leg)},
        masters={"master": Mastered(ANGLE_MASTER, "angle")},
    )


@known("angle by protractor, two lines")
def protractor_lines(of: random.Random, machine: Machine) -> Known:
    """A rake or chamfer of 5 to 85 deg, its first line anywhere on the reticle."""
    between, first = of.uniform(5, 85), of.uniform(0, 180)
    leg, repeats = of.uniform(1, 4), of.choice((1, 2, 3))
    spots = tuple(
        Spot(mark, figure=angle, leg_mm=leg)
        for _ in range(repeats)
        for mark, angle in (("one", first), ("other", first + between))
    )
    master = Spot("45", figure=machine.true_value(ANGLE_MASTER, unit=1.0))
    return Known(
        (between,),
        {"lines": spots, "master": (master,)},
        {"leg_mm": exact(leg), "counted": "acute"},
        masters={"master": Mastered(ANGLE_MASTER, "angle")},
    )


def step_check(machine: Machine) -> tuple[tuple[Spot, ...], Mastered]:
    """An indicator over a step of gauge blocks."""
    true = machine.true_value(STEP)
    return (Spot("0"), Spot("step", figure=true)), Mastered(STEP, "step")


def _rolled(of: random.Random, machine: Machine, land: str) -> Known:
    clearance, radius = of.uniform(6, 16), of.uniform(2.5, 10)
    roll = of.uniform(0.4, 0.7) * clearance if land == "flat" else of.uniform(4, 8)
    a = math.radians(clearance)
    true_radius = radius + machine.setting("radius of the edge")

    def drop(turned_deg: float) -> float:
        """How far the land lies under the edge, ``turned_deg`` behind it."""
        p = math.radians(turned_deg)
        if land == "flat":
            return true_radius * (1 - math.cos(a) / math.cos(p - a))
        return true_radius * p * math.tan(a)

    begin = machine.held("edge under the indicator")
    end = begin + roll + machine.setting("angle rolled")
    repeats = of.choice((1, 2, 3))
    spots = tuple(
        Spot(mark, figure=drop(at), flute=1)
        for _ in range(repeats)
        for mark, at in (("edge", begin), ("rolled", end))
    )
    blocks, mastered = step_check(machine)
    return Known(
        (clearance,),
        {"drop": spots, "master": blocks},
        {"land": land, "edge_radius_mm": exact(radius), "roll_deg": exact(roll)},
        masters={"master": mastered},
        flute=1,
    )


@known("clearance from a rolled drop", "flat land")
def rolled_flat(of: random.Random, machine: Machine) -> Known:
    """A flat land of 6 to 16 deg at a radius of 2.5 to 10 mm."""
    return _rolled(of, machine, "flat")


@known("clearance from a rolled drop", "eccentric land")
def rolled_eccentric(of: random.Random, machine: Machine) -> Known:
    """An eccentric land of 6 to 16 deg at a radius of 2.5 to 10 mm."""
    return _rolled(of, machine, "eccentric")
