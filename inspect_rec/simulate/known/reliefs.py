"""Known tools of clearances: lands and end faces, solid geometry that knows no method's formula.

A land is a curve behind its edge in the transverse plane; where an indicator touches it is found by
halving, not by the formula that is turned round to measure it.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass

from inspect_rec.simulate.known import Known, Stated, exact, known, sides
from inspect_rec.simulate.known.angles import step_check
from inspect_rec.simulate.machine import Machine, Spot

LANDS = ("flat", "eccentric", "hollow")
_FURTHEST = 0.5
"""Rad behind the edge, as far as a land is looked for."""


def found_at(goes: Callable[[float], float], wanted: float, far: float) -> float:
    """Where a growing function takes a value, between -far and far, by halving."""
    low, high = -far, far
    for _ in range(60):
        middle = (low + high) / 2
        if goes(middle) < wanted:
            low = middle
        else:
            high = middle
    return (low + high) / 2


@dataclass(frozen=True, slots=True)
class Land:
    """A land: radius at an angle behind the edge, mm and rad."""

    kind: str
    clearance_deg: float
    radius: float
    wheel: float = 0.0

    def at(self, behind: float) -> float:
        """Distance from the axis of the point ``behind`` the edge, rad."""
        a, r = math.radians(self.clearance_deg), self.radius
        if self.kind == "eccentric":
            return r * (1 - behind * math.tan(a))
        flat = r * math.cos(a) / math.cos(behind - a)
        if self.kind == "flat":
            return flat
        # The wheel's centre stands square over the edge, its near side is the land.
        cx, cy = self.wheel * math.sin(a), r + self.wheel * math.cos(a)
        dx, dy = math.sin(behind), math.cos(behind)
        along = cx * dx + cy * dy
        return along - math.sqrt(along * along - cx * cx - cy * cy + self.wheel**2)

    def rolled(self, begin_deg: float, roll_deg: float) -> float:
        """What the surface falls under an indicator over the axis, mm, from ``begin`` on."""
        begin = math.radians(begin_deg)
        return self.at(begin) - self.at(begin + math.radians(roll_deg))

    def slid(self, travel: float, turned_deg: float) -> float:
        """What the surface falls, mm, ``travel`` down from the edge, the tool standing turned."""
        turned = math.radians(turned_deg)

        def along(behind: float) -> float:
            return self.at(behind) * math.sin(behind + turned)

        edge = self.radius * math.sin(turned)
        behind = found_at(along, edge + travel, _FURTHEST)
        return self.radius * math.cos(turned) - self.at(behind) * math.cos(behind + turned)


@dataclass(frozen=True, slots=True)
class Lever:
    """A lever indicator that stands at an angle against the surface; 0: a plunger."""

    stated_deg: float
    true_deg: float
    length: float = 15.0

    def reads(self, fall: float) -> float:
        """What its arm's end travels round its own pivot while the surface falls, mm."""
        if not self.stated_deg:
            return fall
        lies = math.radians(self.true_deg)
        return self.length * (math.asin(math.sin(lies) + fall / self.length) - lies)

    @property
    def asked(self) -> dict[str, Stated]:
        """As the plan states it."""
        return {"lever_deg": exact(self.stated_deg), "lever_mm": exact(self.length)}


def lever(of: random.Random, machine: Machine) -> Lever:
    """A plunger, or a lever at up to 20 deg."""
    stated = of.choice((0.0, round(of.uniform(5, 20))))
    return Lever(stated, stated + machine.setting("angle of the lever"))


def drops(fall: float, reads: Lever, repeats: int, *, floats: bool = False) -> tuple[Spot, ...]:
    """The edge, and what lies behind it."""
    down = Spot("land", figure=reads.reads(fall), flute=1, floats=floats)
    return (Spot("edge", flute=1), down) * repeats


@dataclass(frozen=True, slots=True)
class _Stated:
    """A land, its lever, and what a plan states of them."""

    land: Land
    lever: Lever
    truth: float
    parameters: dict[str, Stated]

    @classmethod
    def drawn(cls, of: random.Random, machine: Machine, kind: str) -> _Stated:
        radius, wheel = of.uniform(2.5, 10), of.uniform(40, 80)
        clearance = of.uniform(7, 16)
        helix = of.choice((0.0, of.uniform(10, 45)))
        land = Land(
            kind,
            clearance,
            radius + machine.setting("radius of the edge"),
            wheel + machine.setting("radius of the wheel") if kind == "hollow" else 0.0,
        )
        reads = lever(of, machine)
        asked: dict[str, Stated] = {
            "land": kind,
            "edge_radius_mm": exact(radius),
            "plane": "normal" if helix else "transverse",
            **reads.asked,
        }
        truth = clearance
        if kind == "hollow":
            asked["wheel_radius_mm"] = exact(wheel)
        if helix:
            asked["helix_deg"] = exact(helix)
            lies = math.radians(helix + machine.setting("helix of the edge"))
            truth = math.degrees(math.atan(math.tan(math.radians(clearance)) / math.cos(lies)))
        return cls(land, reads, truth, asked)

    def measured(self, fall: float, machine: Machine, repeats: int, **more: Stated) -> Known:
        blocks, mastered = step_check(machine)
        return Known(
            (self.truth,),
            {"drop": drops(fall, self.lever, repeats), "master": blocks},
            self.parameters | more,
            masters={"master": mastered},
            flute=1,
        )


def _slid(of: random.Random, machine: Machine, kind: str) -> Known:
    tool = _Stated.drawn(of, machine, kind)
    travel = of.uniform(0.08, 0.12) * tool.land.radius
    true = travel + machine.setting("travel over the land")
    turned = machine.setting("height of the axis, angle")
    fall = tool.land.slid(true, turned)
    return tool.measured(fall, machine, of.choice((1, 2, 3)), travel_mm=exact(travel))


def _rolled(of: random.Random, machine: Machine, kind: str) -> Known:
    tool = _Stated.drawn(of, machine, kind)
    roll = of.uniform(5, 7)
    begin = machine.held("edge under the indicator")
    fall = tool.land.rolled(begin, roll + machine.setting("angle rolled"))
    return tool.measured(fall, machine, of.choice((1, 2, 3)), roll_deg=exact(roll))


def _heel(of: random.Random, machine: Machine, kind: str) -> Known:
    tool = _Stated.drawn(of, machine, kind)
    behind = math.radians(of.uniform(5, 7))
    r, heel = tool.land.radius, tool.land.at(behind)
    width = math.dist((0, r), (heel * math.sin(behind), heel * math.cos(behind)))
    found = tool.measured(r - heel, machine, of.choice((1, 2, 3)))
    both = sides(width, of.choice((1, 2, 3)), flute=1)
    return Known(
        found.truth,
        {**found.spots, "width": both},
        found.parameters,
        found.masters,
        flute=1,
    )


def _enter() -> None:
    """Each way over each kind of land."""
    ways = {
        "clearance from a slid drop": _slid,
        "clearance in a stated plane from a rolled drop": _rolled,
        "clearance from land width and heel drop": _heel,
    }
    for name, way in ways.items():
        for kind in LANDS:

            def make(
                of: random.Random,
                machine: Machine,
                way: Callable[[random.Random, Machine, str], Known] = way,
                kind: str = kind,
            ) -> Known:
                return way(of, machine, kind)

            known(name, f"{kind} land")(make)


_enter()


def _end(of: random.Random, machine: Machine, kind: str, moved: str) -> Known:
    clearance, place, dish = of.uniform(5, 12), of.uniform(2, 6), of.uniform(0, 3)
    reads = lever(of, machine)
    r = place + machine.setting("place of the indicator")
    rise = math.tan(math.radians(dish + machine.setting("dish of the end")))
    a = math.tan(math.radians(clearance))

    def face(beside: float, behind: float) -> float:
        """Height of the end face over the edge at the true place, mm."""
        far = math.hypot(beside, behind)
        if kind == "flat":
            return -behind * a + (beside - r) * rise
        return -r * a * math.atan2(behind, beside) + (far - r) * rise

    asked: dict[str, Stated] = {
        "land": kind,
        "moved": moved,
        "at_radius_mm": exact(place),
        "dish_deg": exact(dish),
        **reads.asked,
    }
    if moved == "slid":
        travel = of.uniform(0.4, 1)
        asked["travel_mm"] = exact(travel)
        fall = -face(r, travel + machine.setting("travel over the land"))
    else:
        roll = of.uniform(5, 10)
        asked["roll_deg"] = exact(roll)
        p = math.radians(roll + machine.setting("angle rolled"))
        fall = -face(r * math.cos(p), r * math.sin(p))
    blocks, mastered = step_check(machine)
    return Known(
        (clearance,),
        {
            "drop": drops(fall, reads, of.choice((1, 2, 3)), floats=moved == "rolled"),
            "master": blocks,
        },
        asked,
        masters={"master": mastered},
        flute=1,
    )


_END = "axial clearance from a drop on the end face"


@known(_END, "flat, slid")
def end_slid(of: random.Random, machine: Machine) -> Known:
    """A flat end of 5 to 12 deg, dished by up to 3 deg."""
    return _end(of, machine, "flat", "slid")


@known(_END, "flat, rolled")
def end_rolled(of: random.Random, machine: Machine) -> Known:
    """The same, rolled by 5 to 10 deg."""
    return _end(of, machine, "flat", "rolled")


@known(_END, "eccentric, rolled")
def end_eccentric(of: random.Random, machine: Machine) -> Known:
    """An end that falls evenly with the angle."""
    return _end(of, machine, "eccentric", "rolled")
