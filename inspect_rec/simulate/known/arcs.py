"""Known tools of radii and profiles: ball noses, corner radii and form cutters."""

from __future__ import annotations

import math
import random
from dataclasses import replace

from inspect_rec.methods.base import Instrument, Slides
from inspect_rec.simulate.known import LATHE, Known, Mastered, exact, known, sides
from inspect_rec.simulate.known.widths import EDGE_PLANE, shank
from inspect_rec.simulate.machine import Machine, Spot

ALONG_X = Slides("Z", "X", -1, 1)
"""A cutter clamped with its axis along X: Z is radial and grows toward the axis."""

TOLERANCE_MM = 0.02


def arc(  # noqa: PLR0913 - an arc has as many numbers
    radius: float,
    centre: tuple[float, float],
    span: tuple[float, float],
    points: int,
    *,
    hollow: bool = False,
    flute: int | None = None,
    plane: str = EDGE_PLANE,
    index: float = 0.0,
    form: tuple[float, ...] = (),
) -> tuple[Spot, ...]:
    """``points`` points of an arc, equally spread over ``span`` (deg from the radial direction
    toward the tip); ``form``: what each lies further out than the circle, mm."""
    found = []
    metal = -1.0 if hollow else 1.0
    for n in range(points):
        t = math.radians(span[0] + (span[1] - span[0]) * n / (points - 1))
        c, s = math.cos(t), math.sin(t)
        far = radius + (form[n] if form else 0.0)
        found.append(
            Spot(
                str(n + 1),
                centre[0] + far * c,
                centre[1] + far * s,
                normal=(metal * c, metal * s),
                flute=flute,
                plane=plane,
                index=index,
            )
        )
    return tuple(found)


BALL_SPAN = (5.0, 85.0)


def radius_master(
    machine: Machine,
    radius: float,
    span: tuple[float, float],
    *,
    hollow: bool = False,
    free: bool = False,
) -> tuple[Mastered, tuple[Spot, ...]]:
    """A radius master on a shank, sighted as the ball nose or the form is."""
    master = Instrument("RM", expanded=0.8, value=round(radius, 4))
    true = machine.true_value(master)
    if hollow:
        return Mastered(master, "arc"), arc(true, (0, 0), span, 13, hollow=True, plane="")
    spots = arc(true, (0.0, -true), span, 9, plane="")
    if free:
        return Mastered(master, "arc"), spots
    return Mastered(master, "arc on the axis", sides(2 * true, 3)), spots


@known("arc, centre on the axis")
def ball(of: random.Random, machine: Machine) -> Known:
    """A ball nose of R 1.5 to 8, nine points from 5 to 85 deg, and a master of similar radius."""
    radius = of.uniform(1.5, 8)
    mastered, master = radius_master(machine, radius + of.uniform(-0.2, 0.2), BALL_SPAN)
    return Known(
        (radius,),
        {
            "arc": arc(radius, (0.0, -radius), BALL_SPAN, 9, flute=1),
            "axis": shank(of),
            "master": master,
        },
        masters={"master": mastered},
        flute=1,
        width=TOLERANCE_MM,
    )


@known("arc, free centre", "concave")
def hollow(of: random.Random, machine: Machine) -> Known:
    """A form cutter of R 2 to 6 over 156 deg, 13 points, and a master of similar radius."""
    radius = of.uniform(2, 6)
    span = (-78.0, 78.0)
    mastered, master = radius_master(machine, radius + of.uniform(-0.1, 0.1), span, hollow=True)
    return Known(
        (radius,),
        {
            "arc": arc(radius, (-20.0, 0.0), span, 13, hollow=True, flute=1, plane=""),
            "master": master,
        },
        masters={"master": mastered},
        slides=ALONG_X,
        flute=1,
        width=TOLERANCE_MM,
    )


@known("arc, free centre", "corner radius")
def corner_radius(of: random.Random, machine: Machine) -> Known:
    """A corner radius of 0.5 to 3 over 80 to 90 deg, nine points, no master."""
    del machine
    radius, r = of.uniform(0.5, 3), of.uniform(4, 8)
    span = (of.uniform(0, 5), of.uniform(85, 90))
    spots = arc(radius, (r - radius, 0.0), span, 9, flute=1)
    return Known((radius,), {"arc": spots}, flute=1, width=0.1)


@known("profile, radius held", "no master")
def profile(of: random.Random, machine: Machine) -> Known:
    """A concave arc of nominal R 2 to 6, its radius off by up to 8 µm and wavy by up to 2 µm.

    The truth is what the method's own best fit gives of the true points.
    """
    return _profile(of, machine)


@known("profile, radius held", "radius master")
def mastered_profile(of: random.Random, machine: Machine) -> Known:
    """The same, and a hollow master of similar radius, sighted over the same span."""
    tool = _profile(of, machine)
    nominal = float(str(tool.parameters["radius_mm"]))
    radius = nominal + of.uniform(-0.1, 0.1)
    mastered, master = radius_master(machine, radius, (-78.0, 78.0), hollow=True)
    spots = {**tool.spots, "master": master}
    return replace(tool, spots=spots, masters={"master": mastered})


def _profile(of: random.Random, machine: Machine) -> Known:
    from inspect_rec.compute import fitting

    nominal = round(of.uniform(2, 6), 1)
    off, wave, phase = of.uniform(-8e-3, 8e-3), of.uniform(0, 2e-3), of.uniform(0, 6)
    form = tuple(wave * math.sin(phase + n) for n in range(13))
    spots = arc(
        nominal + off, (-20.0, 0.0), (-78, 78), 13, hollow=True, flute=1, plane="", form=form
    )
    held = fitting.circle_held_radius([(s.r, s.z) for s in spots], nominal)
    deviations = [-r for r in held.residuals_mm]
    centre = machine.place(ALONG_X, -20.0, 0.0)
    return Known(
        (min(deviations), max(deviations)),
        {"arc": spots},
        {
            "form": "concave",
            "freedoms": ("X", "Z"),
            "radius_mm": exact(nominal),
            **{f"centre_{s.lower()}_mm": exact(place) for s, place in centre.items()},
        },
        slides=ALONG_X,
        flute=1,
    )


def _balls(of: random.Random) -> tuple[list[float], list[float], tuple[Spot, ...]]:
    """Radii and tips of the flutes of a ball nose, mm, and the spots of all."""
    flutes, radius = of.choice((2, 3, 4)), of.uniform(1.5, 8)
    spread = of.uniform(0.003, 0.015)
    radii = [radius + of.uniform(0, spread) for _ in range(flutes)]
    tips = [of.uniform(0, spread) for _ in range(flutes)]
    spots = tuple(
        spot
        for n, (r, tip) in enumerate(zip(radii, tips, strict=True))
        for spot in arc(r, (0.0, tip - r), BALL_SPAN, 9, flute=n + 1, index=360 * n / flutes)
    )
    return radii, tips, spots


@known("variation over the flutes", "radius of a ball nose")
def variation(of: random.Random, machine: Machine) -> Known:
    """Radii of two to four flutes that differ by up to 0.015 mm."""
    del machine
    radii, _, spots = _balls(of)
    return Known(
        (max(radii) - min(radii),),
        {"arc": spots, "axis": shank(of)},
        of="arc, centre on the axis",
        width=TOLERANCE_MM,
        natural_zero=True,
    )


@known("spread of the tips")
def tips(of: random.Random, machine: Machine) -> Known:
    """Tips of two to four flutes that differ by up to 0.015 mm."""
    del machine
    _, places, spots = _balls(of)
    return Known((max(places) - min(places),), {"arc": spots, "axis": shank(of)}, natural_zero=True)


@known("spread of the centres")
def centres(of: random.Random, machine: Machine) -> Known:
    """Centres of the concave arcs of three to eight teeth, indexed on an arbor."""
    teeth, radius = of.choice((3, 4, 6, 8)), of.uniform(2, 6)
    spread = of.uniform(0.005, 0.03)
    places = [-20 + of.uniform(0, spread) for _ in range(teeth)]
    spots = tuple(
        spot
        for n, place in enumerate(places)
        for spot in arc(
            radius,
            (place + machine.setting("indexing", n), 0.0),
            (-78, 78),
            13,
            hollow=True,
            flute=n + 1,
            plane="",
            index=360 * n / teeth,
        )
    )
    return Known((max(places) - min(places),), {"arc": spots}, slides=ALONG_X, natural_zero=True)


@known("arc, centre held")
def pivoted(of: random.Random, machine: Machine) -> Known:
    """A corner radius of 1 to 5 over 70 to 100 deg, its centre on the pivot."""
    radius, span = of.uniform(1, 5), (0.0, of.uniform(70, 100))
    pivot = machine.place(LATHE, 3.0, -radius)
    off = {slide: machine.setting("place of the pivot", slide) for slide in "XZ"}
    return Known(
        (radius,),
        {"arc": arc(radius, (3.0, -radius), span, of.choice((5, 9)), flute=1)},
        {f"centre_{slide.lower()}_mm": exact(pivot[slide] + off[slide]) for slide in "XZ"},
        flute=1,
        width=0.1,
    )


@known("radius from chord and rise")
def chord(of: random.Random, machine: Machine) -> Known:
    """Three points of an arc of R 1 to 6 over 80 to 170 deg, each sighted one to three times."""
    del machine
    radius, half = of.uniform(1, 6), of.uniform(40, 85)
    marks = ("first", "middle", "last")
    points = arc(radius, (3.0, 0.0), (-half, half), 3, flute=1)
    named = tuple(replace(p, mark=mark) for p, mark in zip(points, marks, strict=True))
    return Known((radius,), {"arc": named * of.choice((1, 2, 3))}, flute=1, width=0.1)


@known("form of an arc")
def form(of: random.Random, machine: Machine) -> Known:
    """An arc of R 2 to 6 with waves of up to 6 µm; the truth is what the circle leaves of them."""
    from inspect_rec.compute import fitting

    del machine
    radius, wave, phase = of.uniform(2, 6), of.uniform(0, 6e-3), of.uniform(0, 6)
    waves = tuple(wave * math.sin(phase + 2 * n) for n in range(13))
    spots = arc(radius, (3.0, 0.0), (-80, 80), 13, flute=1, form=waves)
    left = fitting.circle([(s.r, s.z) for s in spots]).form_mm
    return Known((left,), {"arc": spots}, flute=1, natural_zero=True)


@known("arc, two opposite flutes")
def opposite(of: random.Random, machine: Machine) -> Known:
    """A ball nose of R 1.5 to 8 over 170 deg, both flutes alike, and a master of similar radius."""
    radius, span = of.uniform(1.5, 8), (5.0, 175.0)
    mastered, master = radius_master(machine, radius + of.uniform(-0.2, 0.2), span, free=True)
    return Known(
        (radius,),
        {
            "arc": arc(radius, (0.0, -radius), span, of.choice((9, 17))),
            "axis": shank(of),
            "master": master,
        },
        masters={"master": mastered},
        width=TOLERANCE_MM,
    )


@known("tip from a datum")
def tip(of: random.Random, machine: Machine) -> Known:
    """A tip 10 to 40 mm from a face that looks toward it, or away from it."""
    del machine
    radius, long = of.uniform(1.5, 8), of.uniform(10, 40)
    datum = Spot("datum", 4.0, -long, normal=(0.0, of.choice((1.0, -1.0))))
    return Known(
        (long,),
        {
            "arc": arc(radius, (0.0, -radius), BALL_SPAN, 9, flute=1),
            "axis": shank(of),
            "datum": (datum,) * of.choice((1, 2, 3)),
        },
        flute=1,
    )
