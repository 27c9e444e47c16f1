"""Known tools of leads, helices and tapers."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

from inspect_rec.simulate.known import Known, Stated, exact, known
from inspect_rec.simulate.known.angles import step_check
from inspect_rec.simulate.known.widths import EDGE_PLANE
from inspect_rec.simulate.machine import Machine, Spot


@dataclass(frozen=True, slots=True)
class Flute:
    """A flute on a cylinder: diameter, lead (mm) and hand, touched at index angles (deg)."""

    diameter: float
    lead: float
    hand: str
    stated: tuple[float, ...]
    spots: tuple[Spot, ...]

    @classmethod
    def drawn(cls, of: random.Random, machine: Machine) -> Flute:
        """A tool of 4 to 20 mm, helix 15 to 45 deg, five to nine places over 40 to 120 deg."""
        diameter, helix = of.uniform(4, 20), of.uniform(15, 45)
        lead = math.pi * diameter / math.tan(math.radians(helix))
        n, turn = of.choice((5, 7, 9)), of.uniform(40, 120)
        stated = tuple(round(turn * k / (n - 1), 2) for k in range(n))
        runs = lead / (math.pi * diameter)
        spots = tuple(
            Spot(
                f"{a:g}",
                diameter / 2,
                -(a + machine.setting("index angle", a)) / 360 * lead,
                runs=runs,
                flute=1,
            )
            for a in stated
            for _ in range(2)
        )
        return cls(diameter, lead, of.choice(("right", "left")), stated, spots)

    def asked(self) -> dict[str, Stated]:
        """What the plan states of its hand and of the index."""
        sense = "counter-clockwise" if self.hand == "right" else "clockwise"
        return {"hand": self.hand, "index_sense": sense}


@known("lead from travel and turn")
def lead(of: random.Random, machine: Machine) -> Known:
    """The flute's lead."""
    flute = Flute.drawn(of, machine)
    asked = flute.asked() | {"diameter_mm": exact(flute.diameter)}
    return Known(
        (flute.lead,),
        {"flute": flute.spots},
        asked,
        index={"flute": flute.stated},
        flute=1,
    )


@known("helix angle from travel and turn")
def helix(of: random.Random, machine: Machine) -> Known:
    """The flute's helix at its diameter."""
    flute = Flute.drawn(of, machine)
    touched = flute.diameter + 2 * machine.setting("radius of the edge")
    truth = math.degrees(math.atan(math.pi * touched / flute.lead))
    asked = flute.asked() | {"diameter_mm": exact(flute.diameter)}
    return Known(
        (truth,),
        {"flute": flute.spots},
        asked,
        index={"flute": flute.stated},
        flute=1,
    )


@known("lead from creep at a set lead")
def creep(of: random.Random, machine: Machine) -> Known:
    """A lead of 30 to 150 mm, followed at one that is off by up to 2 %."""
    true, radius = of.uniform(30, 150), of.uniform(3, 10)
    set_lead = round(true * of.uniform(0.98, 1.02), 2)
    travel = of.uniform(10, 30)
    places = tuple(round(travel * k / 5, 2) for k in range(6))
    touched = radius + machine.setting("radius of the edge")
    creeps = 2 * math.pi * touched * (1 / true - 1 / set_lead)
    off = machine.setting("following at a set lead") / travel
    spots = tuple(Spot(f"{z:g}", figure=(creeps + off) * z, flute=1) for z in places)
    blocks, mastered = step_check(machine)
    return Known(
        (true,),
        {"creep": spots, "master": blocks},
        {
            "set_lead_mm": exact(set_lead),
            "radius_mm": exact(radius),
            "places_mm": tuple(exact(z) for z in places),
            "plus": "more turn",
        },
        masters={"master": mastered},
        flute=1,
    )


@known("helix angle on a taper")
def taper_helix(of: random.Random, machine: Machine) -> Known:
    """A taper of 2 to 10 deg a side whose helix is the same everywhere."""
    first, helix_deg = of.uniform(3, 8), of.uniform(15, 40)
    k = math.tan(math.radians(of.uniform(2, 10)))
    tangent = math.tan(math.radians(helix_deg))
    touched = first / 2 + machine.setting("radius of the edge", "first")
    n, turn = of.choice((5, 7, 9)), of.uniform(40, 100)
    stated = tuple(round(turn * j / (n - 1), 2) for j in range(n))

    def away(turn_deg: float) -> float:
        """r d(turn)/dz = tan b, and r grows by k for each mm."""
        return touched / k * math.expm1(k * math.radians(turn_deg) / tangent)

    spots = tuple(
        Spot(
            f"{a:g}",
            touched,
            -away(a + machine.setting("index angle", a)),
            runs=1 / tangent,
            flute=1,
        )
        for a in stated
        for _ in range(2)
    )
    last = touched + k * away(stated[-1]) - machine.setting("radius of the edge", "last")
    return Known(
        (helix_deg,),
        {"flute": spots},
        {
            "first_diameter_mm": exact(first),
            "last_diameter_mm": exact(2 * last),
            "hand": "right",
            "index_sense": "counter-clockwise",
        },
        index={"flute": stated},
        flute=1,
    )


@known("taper angle from several radii")
def taper(of: random.Random, machine: Machine) -> Known:
    """A taper of -1 to 10 deg a side, two to six places over 5 to 30 mm."""
    del machine
    kappa, r, travel = of.uniform(-1, 10), of.uniform(2, 5), of.uniform(5, 30)
    slope = math.tan(math.radians(kappa))
    n = of.choice((2, 3, 6))
    normal = (math.cos(math.radians(kappa)), math.sin(math.radians(kappa)))
    spots = tuple(
        Spot(
            str(j),
            r + slope * travel * j / (n - 1),
            -travel * j / (n - 1),
            normal=normal,
            plane=EDGE_PLANE,
            flute=1,
        )
        for j in range(n)
        for _ in range(2)
    )
    return Known((kappa,), {"edge": spots}, flute=1)
