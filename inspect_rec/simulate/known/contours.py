"""Known tools of profiles against a contour of lines and arcs, and of lengths on a screen."""

from __future__ import annotations

import math
import random
from dataclasses import replace

from inspect_rec.compute import chain
from inspect_rec.methods.base import Instrument
from inspect_rec.methods.contours import contour_of
from inspect_rec.simulate.known import LATHE, Known, Mastered, Stated, exact, known
from inspect_rec.simulate.known.arcs import radius_master
from inspect_rec.simulate.known.widths import shank
from inspect_rec.simulate.machine import Machine, Spot

At = tuple[float, float]


def _corner(of: random.Random, r: float, corner: float) -> list[tuple[At, At]]:
    """Points of an end, a convex corner and a periphery, each with its normal out of the metal;
    they lie up to 5 µm off the contour, which is the truth."""
    wave, phase = of.uniform(0, 0.005), of.uniform(0, 6)
    end, c = [((r - corner - 0.2 - k * 0.3, 0.0), (0.0, 1.0)) for k in range(4)], corner
    round_ = []
    for k in range(7):
        t = math.radians(87 - 14 * k)
        n = math.cos(t), math.sin(t)
        round_.append(((r - c + c * n[0], -c + c * n[1]), n))
    side = [((r, -corner - 0.2 - k * 0.8), (1.0, 0.0)) for k in range(5)]
    found = []
    for k, ((x, z), n) in enumerate([*end, *round_, *side]):
        d = wave * math.sin(phase + 2 * k)
        found.append(((x + d * n[0], z + d * n[1]), n))
    return found


def _elements(r: float, corner: float) -> tuple[str, ...]:
    return (
        f"from {r - corner - 2:.6f} 0",
        f"line {r - corner:.6f} 0",
        f"arc {r:.6f} {-corner:.6f} {corner:.6f} convex",
        f"line {r:.6f} {-corner - 5:.6f}",
    )


def _profile(of: random.Random, machine: Machine, *, rake: bool) -> Known:
    r, corner = round(of.uniform(6, 20), 3), round(of.uniform(0.8, 2), 3)
    elements, points = _elements(r, corner), _corner(of, r, corner)
    true = chain.fit_chain([at for at, _ in points], contour_of(elements), ("X", "Z"), (r, 0.0)).fit
    origin = machine.place(LATHE, 0.0, 0.0)
    asked: dict[str, Stated] = {
        "elements": elements,
        "freedoms": ("X", "Z"),
        "origin_x_mm": exact(origin["X"]),
        "origin_z_mm": exact(origin["Z"]),
    }
    sine = 0.0
    if rake:
        stated = of.uniform(3, 12)
        asked |= {"rake_deg": exact(stated), "outer_radius_mm": exact(r)}
        sine = r * math.sin(math.radians(stated + machine.setting("rake of the face")))
    spots = tuple(
        # In the face a point of radius x lies at root(x^2 - (r sin g)^2).
        Spot(str(k + 1), math.sqrt(x * x - sine * sine), z, normal=n)
        for k, ((x, z), n) in enumerate(points)
    )
    of_axis = {"axis": shank(of)} if rake else {}
    return Known((true.lowest_mm, true.highest_mm), {"points": spots, **of_axis}, asked)


@known("profile, contour", "corner")
def profile(of: random.Random, machine: Machine) -> Known:
    """An end, a corner radius and a periphery that lie up to 5 µm off their contour."""
    return _profile(of, machine, rake=False)


@known("profile, contour", "in a face with rake")
def in_face(of: random.Random, machine: Machine) -> Known:
    """The same, sighted in a face of 3 to 12 deg rake."""
    return _profile(of, machine, rake=True)


@known("profile, contour", "corner, radius master")
def mastered(of: random.Random, machine: Machine) -> Known:
    """The corner again, and a radius master of about its size, sighted in the same light."""
    tool = _profile(of, machine, rake=False)
    held, master = radius_master(machine, of.uniform(0.8, 2), (0.0, 180.0), free=True)
    return replace(tool, spots={**tool.spots, "master": master}, masters={"master": held})


@known("length on the screen")
def screen(of: random.Random, machine: Machine) -> Known:
    """A length of 0.5 to 4 mm at 20 to 50 times, and a graticule of 2 mm."""
    length, times, repeats = of.uniform(0.5, 4), of.uniform(20, 50), of.choice((1, 2, 3))
    graticule = Instrument("GR", expanded=1.0, value=2.0)
    field = machine.setting("field of the screen")

    def shown(true: float, what: str) -> tuple[Spot, ...]:
        laid = (machine.setting("laying-up on the screen", (what, n)) for n in range(repeats))
        return tuple(Spot(what, figure=true * times + each) for each in laid)

    return Known(
        (length,),
        {
            "length": shown(length + field / times, "tool"),
            "graticule": shown(machine.true_value(graticule), "graticule"),
        },
        masters={"graticule": Mastered(graticule)},
        instruments={"length": "RL-1", "graticule": "RL-1"},
    )
