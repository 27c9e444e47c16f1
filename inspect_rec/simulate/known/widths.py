"""Known tools of widths, diameters, lengths and places along one slide."""

from __future__ import annotations

import random

from inspect_rec.methods.base import Instrument
from inspect_rec.simulate.known import Known, Mastered, known, sides
from inspect_rec.simulate.machine import Machine, Spot

EDGE_PLANE = "edge plane"


def shank(of: random.Random, repeats: int = 3) -> tuple[Spot, ...]:
    """The sides of a shank, which give the axis."""
    return sides(of.choice((6.0, 8.0, 10.0, 12.0)), repeats)


@known("width by two sightings")
def width(of: random.Random, machine: Machine) -> Known:
    """A diameter of 3 to 12 mm, and a pin within 2 mm of it."""
    d = of.uniform(3, 12)
    pin = Instrument("PIN", expanded=1.0, value=round(d + of.uniform(-2, 2), 4))
    repeats = of.choice((2, 3, 3, 5))
    return Known(
        (d,),
        {
            "edges": sides(d, repeats, plane=EDGE_PLANE),
            "master": sides(machine.true_value(pin), repeats),
        },
        masters={"master": Mastered(pin, "width")},
    )


@known("width by two sightings, no master")
def width_alone(of: random.Random, machine: Machine) -> Known:
    """A chisel edge or land of 0.3 to 3 mm."""
    del machine
    d = of.uniform(0.3, 3)
    return Known((d,), {"edges": sides(d, of.choice((1, 2, 3)))})


@known("middle off the axis")
def middle(of: random.Random, machine: Machine) -> Known:
    """A chisel edge whose middle lies up to 0.03 mm off the axis."""
    del machine
    off, half = of.uniform(-0.03, 0.03), of.uniform(0.15, 0.5)
    edges = tuple(
        Spot(mark, off + sign * half, normal=(sign, 0.0))
        for _ in range(of.choice((1, 2, 3)))
        for mark, sign in (("greater", 1.0), ("smaller", -1.0))
    )
    return Known((abs(off),), {"edges": edges, "axis": shank(of)}, natural_zero=True)


@known("length between two corners")
def corners(of: random.Random, machine: Machine) -> Known:
    """A step of 5 to 40 mm, both corners looking toward the tip."""
    del machine
    long, r = of.uniform(5, 40), of.uniform(2, 6)
    spots = tuple(
        Spot(mark, r, z, normal=(0.0, 1.0), corner=True)
        for _ in range(2)
        for mark, z in (("step", -long), ("tip", 0.0))
    )
    return Known((long,), {"corners": spots})


def edges_of(of: random.Random, flutes: int, repeats: int, scatter: float) -> list[list[Spot]]:
    """The edges of all flutes, each ``repeats`` times; radii within ``scatter`` mm."""
    r = of.uniform(1.5, 8)
    radii = [r + of.uniform(0, scatter) for _ in range(flutes)]
    return [
        [
            Spot(
                "edge",
                radius,
                normal=(1.0, 0.0),
                flute=n + 1,
                plane=EDGE_PLANE,
                index=360 * n / flutes,
            )
        ]
        * repeats
        for n, radius in enumerate(radii)
    ]


@known("edge to axis")
def edge(of: random.Random, machine: Machine) -> Known:
    """One edge of a tool of 3 to 16 mm."""
    del machine
    flutes = of.choice((2, 3, 4, 5))
    spots = of.choice(edges_of(of, flutes, of.choice((1, 2, 3)), 0.01))
    return Known((spots[0].r,), {"edge": tuple(spots), "axis": shank(of)}, flute=spots[0].flute)


@known("swept diameter")
def swept(of: random.Random, machine: Machine) -> Known:
    """A tool of 3 or 5 flutes whose edges lie within 0.01 mm."""
    del machine
    edges = edges_of(of, of.choice((3, 5)), of.choice((1, 2, 3)), 0.01)
    largest = max(spots[0].r for spots in edges)
    return Known((2 * largest,), {"edge": tuple(s for e in edges for s in e), "axis": shank(of)})


@known("variation over the flutes", "radius of the edges")
def variation(of: random.Random, machine: Machine) -> Known:
    """Three to six edges that differ by up to 0.015 mm."""
    del machine
    edges = edges_of(of, of.choice((3, 4, 4, 6)), of.choice((2, 3)), of.uniform(0.003, 0.015))
    radii = [spots[0].r for spots in edges]
    return Known(
        (max(radii) - min(radii),),
        {"edge": tuple(s for e in edges for s in e), "axis": shank(of)},
        of="edge to axis",
        natural_zero=True,
    )
