"""Known tools of points and flanks in a view along the tool, and of points seen from the end."""

from __future__ import annotations

import math
import random
from collections.abc import Iterable, Sequence
from dataclasses import replace

from inspect_rec.simulate.known import Known, exact, known, sides
from inspect_rec.simulate.known.angles import lip
from inspect_rec.simulate.known.widths import EDGE_PLANE, shank
from inspect_rec.simulate.machine import Machine, Spot

At = tuple[float, float]


# -- in a view along the tool ------------------------------------------------


def _turned(of: random.Random, machine: Machine) -> tuple[list[float], Known]:
    """Lips of a drill that stand out of the image plane by as much as the plan states."""
    half = of.choice((59.0, 65.0, 70.0)) + of.uniform(-0.5, 0.5)
    kappas = [half, half + of.uniform(-0.4, 0.4)]
    stated = [of.uniform(3, 15) for _ in kappas]
    leg, inner, repeats = of.uniform(1.5, 5), of.uniform(0.3, 1), of.choice((1, 2, 3))
    spots = []
    for n, (kappa, turn) in enumerate(zip(kappas, stated, strict=True), 1):
        seen = math.cos(math.radians(turn + machine.setting("turn of the lip", n)))
        spots += [replace(s, r=s.r * seen) for s in lip(kappa, inner, leg, n, repeats, plane="")]
    turned = tuple(exact(turn) for turn in stated)
    return kappas, Known((), {"lips": tuple(spots)}, {"turned_deg": turned})


@known("point angle from turned lips")
def turned_point(of: random.Random, machine: Machine) -> Known:
    """A point of 118 to 140 deg whose lips stand 3 to 15 deg out of the image plane."""
    kappas, tool = _turned(of, machine)
    return replace(tool, truth=(sum(kappas),))


@known("lip symmetry from turned lips")
def turned_symmetry(of: random.Random, machine: Machine) -> Known:
    """The same points; half angles that differ by up to 0.4 deg."""
    kappas, tool = _turned(of, machine)
    return replace(tool, truth=(abs(kappas[0] - kappas[1]),), natural_zero=True)


@known("lip height difference from the lips")
def lip_heights(of: random.Random, machine: Machine) -> Known:
    """Two lips, up to 0.04 mm apart in height, compared in the middle of their legs."""
    half = of.choice((59.0, 65.0, 70.0))
    kappas = [half + of.uniform(-0.3, 0.3) for _ in range(2)]
    inner, leg, repeats = of.uniform(0.3, 1), of.uniform(1.5, 5), of.choice((1, 2, 3))
    high = [0.0, of.uniform(-0.04, 0.04)]
    at = inner + leg * math.sin(math.radians(half)) * of.uniform(0.4, 0.8)
    heights, spots = [], []
    for n, (kappa, up) in enumerate(zip(kappas, high, strict=True), 1):
        heights.append(up - (at - inner) / math.tan(math.radians(kappa)))
        floated = up + machine.held("axial float", n) / 1000
        spots += [replace(s, z=s.z + floated) for s in lip(kappa, inner, leg, n, repeats)]
    return Known(
        (max(heights) - min(heights),),
        {"lips": tuple(spots), "axis": shank(of)},
        {"at_radius_mm": exact(at)},
        natural_zero=True,
    )


@known("included angle from legs on both sides")
def legs(of: random.Random, machine: Machine) -> Known:
    """A countersink or step of 60 to 120 deg, legs of 1 to 4 mm."""
    repeats, inner = of.choice((1, 2, 3)), of.uniform(0.5, 2)
    half, leg = of.uniform(30, 60), of.uniform(1, 4)
    kappas = [half + of.uniform(-0.3, 0.3) for _ in range(2)]
    found = {}
    for side, kappa in zip(("greater", "smaller"), kappas, strict=True):
        sign = 1 if side == "greater" else -1
        seen = kappa + machine.setting("image plane", side)
        found[side] = tuple(
            replace(s, r=sign * s.r, normal=(sign * s.normal[0], s.normal[1]))
            for s in lip(seen, inner, leg, None, repeats, plane="")
        )
    return Known((sum(kappas),), found)


@known("back taper from two diameters")
def back_taper(of: random.Random, machine: Machine) -> Known:
    """A drill of 4 to 16 mm that gets smaller by up to 0.1 mm on 100 mm, over 15 to 50 mm."""
    del machine
    d, per_100, apart = of.uniform(4, 16), of.uniform(0, 0.1), of.uniform(15, 50)
    repeats = of.choice((2, 3))
    places = {"front": (d, -2.0), "back": (d - per_100 * apart / 100, -2.0 - apart)}
    # Each diameter is turned to its own largest reading.
    spots = {
        role: sides(size, repeats, z=z, plane=EDGE_PLANE, flute=n)
        for n, (role, (size, z)) in enumerate(places.items(), 1)
    }
    return Known((per_100,), spots)


# -- from the end ------------------------------------------------------------


def _line(off: float, turned_deg: float, first: float, last: float) -> tuple[At, At]:
    """Two points of a line that passes the axis at ``off``, mm, at ``first`` and ``last``."""
    c, s = math.cos(math.radians(turned_deg)), math.sin(math.radians(turned_deg))
    return (first * c - off * s, first * s + off * c), (last * c - off * s, last * s + off * c)


def _spots(
    marks: Sequence[str], places: Iterable[At], normals: Sequence[At], *, corner: bool = False
) -> tuple[Spot, ...]:
    return tuple(
        Spot(mark, *at, normal=normal, corner=corner)
        for mark, at, normal in zip(marks, places, normals, strict=True)
    )


_NONE: tuple[At, At] = ((0.0, 0.0), (0.0, 0.0))


def _outward(one: At, two: At) -> tuple[At, At]:
    """Unit vectors from each point away from the other."""
    long = math.dist(one, two)
    way = (two[0] - one[0]) / long, (two[1] - one[1]) / long
    return (-way[0], -way[1]), way


@known("chisel edge length")
def chisel_length(of: random.Random, machine: Machine) -> Known:
    """A chisel edge of 0.3 to 1.5 mm, any way round."""
    del machine
    long = of.uniform(0.3, 1.5)
    both = _line(0.01, of.uniform(0, 180), -long / 2, long / 2)
    spots = _spots(("1", "2"), both, _outward(*both), corner=True)
    return Known((long,), {"ends": spots * of.choice((1, 2, 3))})


@known("chisel edge off the axis, half a turn")
def chisel_offset(of: random.Random, machine: Machine) -> Known:
    """A chisel edge of 0.4 to 1.5 mm that passes the axis at up to 0.03 mm; the tool moves in its
    seat while it is turned."""
    off, long, turned = of.uniform(-0.03, 0.03), of.uniform(0.4, 1.5), of.uniform(0, 180)
    both = _line(off, turned, -long / 2, long / 2)
    moved = machine.setting("clamping", "r"), machine.setting("clamping", "z")
    after = [(moved[0] - x, moved[1] - z) for x, z in both]
    repeats = of.choice((1, 2, 3))
    return Known(
        (abs(off),),
        {
            "ends": _spots(("1", "2"), both, _NONE) * repeats,
            "turned": _spots(("1", "2"), after, _NONE) * repeats,
        },
        natural_zero=True,
    )


@known("chisel edge angle")
def chisel_angle(of: random.Random, machine: Machine) -> Known:
    """A chisel edge of 0.4 to 1.5 mm at 45 to 80 deg to a lip of 2 to 6 mm."""
    del machine
    turned, between = of.uniform(0, 180), of.uniform(45, 80)
    long, lip_mm = of.uniform(0.4, 1.5), of.uniform(2, 6)
    edge = _line(0.0, turned, -long / 2, long / 2)
    of_lip = _line(0.2, turned + between, 0.3, 0.3 + lip_mm)
    repeats = of.choice((2, 3))
    counted = of.choice(("acute", "obtuse"))
    return Known(
        (between if counted == "acute" else 180 - between,),
        {
            "ends": _spots(("1", "2"), edge, _NONE) * repeats,
            "lip": _spots(("inner", "outer"), of_lip, _NONE) * repeats,
        },
        {"counted": counted},
    )


@known("web thickness from both sides")
def web(of: random.Random, machine: Machine) -> Known:
    """A web of 0.5 to 3 mm, any way round."""
    del machine
    thick = of.uniform(0.5, 3)
    both = _line(0.0, of.uniform(0, 180), -thick / 2, thick / 2)
    spots = _spots(("1", "2"), both, _outward(*both))
    return Known((thick,), {"web": spots * of.choice((1, 2, 3))})


@known("web off the axis, half a turn")
def web_offset(of: random.Random, machine: Machine) -> Known:
    """A web whose middle lies up to 0.03 mm off the axis."""
    off, thick, repeats = of.uniform(0, 0.03), of.uniform(0.5, 3), of.choice((1, 2, 3))
    places = thick / 2 + off, thick / 2 - off + machine.setting("clamping")
    spots = tuple(
        Spot("side", r, normal=(1.0, 0.0), flute=n, index=180.0 * n)
        for n, r in enumerate(places, 1)
        for _ in range(repeats)
    )
    return Known((off,), {"side": spots}, natural_zero=True)
