"""Known tools of clearances along a profile: arcs, ball noses, form-relieved teeth."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

from inspect_rec.simulate.known import Known, Stated, exact, known
from inspect_rec.simulate.known.angles import step_check
from inspect_rec.simulate.known.reliefs import drops, lever
from inspect_rec.simulate.machine import Machine


def _tan(degrees: float) -> float:
    return math.tan(math.radians(degrees))


@dataclass(frozen=True, slots=True)
class Place:
    """A place on an arc as it is: distance from the axis, polar angle and inclination (deg), and
    what the plan states of them."""

    rho: float
    polar: float
    inclination: float
    asked: dict[str, Stated]

    @classmethod
    def drawn(cls, of: random.Random, machine: Machine) -> Place:
        """An arc of R 2 to 6, its centre on the axis or up to 5 mm off."""
        radius, centre = of.uniform(2, 6), of.choice((0.0, of.uniform(1, 5)))
        polar = of.uniform(0, 50)
        inclination = of.choice((0.0, of.uniform(5, 30)))
        true = polar + machine.setting("place on the arc")
        rho = centre + machine.setting("radius of the edge", "centre")
        rho += (radius + machine.setting("radius of the edge", "arc")) * math.cos(
            math.radians(true)
        )
        return cls(
            rho,
            true,
            inclination + machine.setting("helix of the edge"),
            {
                "arc_radius_mm": exact(radius),
                "centre_off_axis_mm": exact(centre),
                "polar_deg": exact(polar),
                "inclination_deg": exact(inclination),
            },
        )

    def truth(self, tangent: float) -> float:
        """Clearance square to the inclined edge, deg, of one square to the profile."""
        return math.degrees(math.atan(tangent / math.cos(math.radians(self.inclination))))


def _plane_falls(clearance: float, rho: float, polar: float, behind_deg: float) -> float:
    """How far a plane through the edge lies under it along the profile's normal, mm, where the
    indicator's line meets it ``behind`` the edge.

    The line rho + s cos t from the axis, z + s sin t along it, turned back by p, in the plane
    whose normal is cos a (cos t, 0, sin t) + sin a (0, 1, 0)."""
    a, t, p = (math.radians(x) for x in (clearance, polar, behind_deg))
    ca, sa, ct, st, cp, sp = (f(x) for x in (a, t, p) for f in (math.cos, math.sin))
    return -rho * (ca * ct * (1 - cp) - sa * sp) / (ca * ct * ct * cp + sa * ct * sp + ca * st * st)


def _normal(of: random.Random, machine: Machine, land: str) -> Known:
    place, reads = Place.drawn(of, machine), lever(of, machine)
    clearance, roll = of.uniform(7, 16), of.uniform(4, 6)
    begin = machine.held("edge under the indicator")
    end = begin + roll + machine.setting("angle rolled")
    if land == "flat":
        under = [_plane_falls(clearance, place.rho, place.polar, at) for at in (begin, end)]
        fall = under[1] - under[0]
    else:
        fall = place.rho * math.radians(end - begin) * _tan(clearance)
    blocks, mastered = step_check(machine)
    return Known(
        (place.truth(_tan(clearance)),),
        {"drop": drops(fall, reads, of.choice((1, 2, 3))), "master": blocks},
        {"land": land, "roll_deg": exact(roll), **place.asked, **reads.asked},
        masters={"master": mastered},
        flute=1,
    )


@known("clearance on an arc from a normal drop", "flat land")
def normal_flat(of: random.Random, machine: Machine) -> Known:
    """A plane land of 7 to 16 deg on an arc."""
    return _normal(of, machine, "flat")


@known("clearance on an arc from a normal drop", "eccentric land")
def normal_eccentric(of: random.Random, machine: Machine) -> Known:
    """A land that falls evenly with the angle."""
    return _normal(of, machine, "eccentric")


@known("clearance on an arc from radial and axial drops")
def two_drops(of: random.Random, machine: Machine) -> Known:
    """A profile that a cam carries inward and back."""
    place, reads = Place.drawn(of, machine), lever(of, machine)
    roll = of.uniform(4, 8)
    inward, back = (place.rho * _tan(of.uniform(6, 12)) for _ in range(2))
    p = math.radians(roll + machine.setting("angle rolled"))
    t = math.radians(place.polar)
    tangent = (inward * math.cos(t) + back * math.sin(t)) / place.rho
    repeats = of.choice((1, 2, 3))
    blocks, mastered = step_check(machine)
    return Known(
        (place.truth(tangent),),
        {
            "radial": drops(inward * p, reads, repeats),
            "axial": drops(back * p, reads, repeats, floats=True),
            "master": blocks,
        },
        {"roll_deg": exact(roll), **place.asked, **reads.asked},
        masters={"master": mastered},
        flute=1,
    )


@known("rise of a form relief")
def rise(of: random.Random, machine: Machine) -> Known:
    """A cam of 1 to 4 mm a tooth, six to fourteen teeth."""
    reads, teeth = lever(of, machine), of.choice((6, 8, 10, 14))
    cam, roll = of.uniform(1, 4), of.uniform(3, 6)
    fall = cam * teeth / 360 * (roll + machine.setting("angle rolled"))
    blocks, mastered = step_check(machine)
    return Known(
        (cam,),
        {"drop": drops(fall, reads, of.choice((1, 2, 3))), "master": blocks},
        {"roll_deg": exact(roll), "teeth": exact(teeth, 0), **reads.asked},
        masters={"master": mastered},
        flute=1,
    )


@known("clearance normal to a form flank")
def flank(of: random.Random, machine: Machine) -> Known:
    """A flank of 5 to 90 deg to the radius, relieved along the radius or up to 15 deg beside it."""
    reads, roll = lever(of, machine), of.uniform(3, 6)
    radius, leans = of.uniform(20, 50), of.choice((0.0, of.uniform(5, 15)))
    flank_deg = of.uniform(5, 90)
    cam = radius * _tan(of.uniform(8, 14))
    p = math.radians(roll + machine.setting("angle rolled"))
    s = math.radians(flank_deg + machine.setting("flank of the form"))
    t = math.radians(leans + machine.setting("direction of the relief"))
    rho = radius + machine.setting("radius of the edge")
    blocks, mastered = step_check(machine)
    return Known(
        (math.degrees(math.atan(cam * math.sin(s + t) / rho)),),
        {
            "drop": drops(cam * math.cos(t) * p, reads, of.choice((1, 2, 3))),
            "master": blocks,
        },
        {
            "roll_deg": exact(roll),
            "point_radius_mm": exact(radius),
            "flank_deg": exact(flank_deg),
            "relieved_deg": exact(leans),
            **reads.asked,
        },
        masters={"master": mastered},
        flute=1,
    )
