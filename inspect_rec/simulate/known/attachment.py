"""Known tools of radii that swing about a pivot."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

from inspect_rec.methods.base import Instrument
from inspect_rec.simulate.known import Known, Mastered, known
from inspect_rec.simulate.machine import Machine, Spot


@dataclass(frozen=True, slots=True)
class Swung:
    """An edge swung about a pivot: radius and centre, mm; the angles that the plan states and
    those that are, deg; and the waves of its form, mm."""

    radius: float
    p: float
    q: float
    stated: tuple[float, ...]
    turned: tuple[float, ...]
    wave: float = 0.0

    @classmethod
    def drawn(cls, of: random.Random, machine: Machine, *, wave: float = 0.0) -> Swung:
        """R 2 to 8, centre up to 0.01 mm off the pivot, 7 to 13 angles over 80 to 180 deg."""
        n, span = of.choice((7, 9, 13)), of.uniform(80, 180)
        stated = tuple(round(span * k / (n - 1), 2) for k in range(n))
        turned = tuple(a + machine.setting("index angle", a) for a in stated)
        off, way = of.uniform(0, 0.01), of.uniform(0, 2 * math.pi)
        return cls(of.uniform(2, 8), off * math.cos(way), off * math.sin(way), stated, turned, wave)

    def form(self, angle_deg: float) -> float:
        """What the edge stands further out there than its circle, mm."""
        return self.wave * math.cos(math.radians(6 * angle_deg))

    def on_ray(self, angle_deg: float) -> float:
        """Distance from the pivot of the edge along the ray that the indicator looks down, mm."""
        c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
        across = self.p * s - self.q * c
        return (
            self.p * c + self.q * s + math.sqrt(self.radius**2 - across**2) + self.form(angle_deg)
        )

    def tangent(self, angle_deg: float) -> float:
        """Distance from the pivot of the edge's tangent square to the ray, mm."""
        c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
        return self.radius + self.p * c + self.q * s + self.form(angle_deg)


def _gauge(of: random.Random, radius: float) -> Instrument:
    return Instrument("SG", expanded=1.0, value=round(radius + of.uniform(-0.05, 0.05), 3))


def _indicated(swung: Swung, outward: float, zero: float) -> tuple[Spot, ...]:
    return tuple(
        Spot(f"{stated:g}", figure=outward * (swung.on_ray(turned) - zero), flute=1)
        for stated, turned in zip(swung.stated, swung.turned, strict=True)
    )


def _swing(of: random.Random, machine: Machine, form: str) -> Known:
    swung = Swung.drawn(of, machine)
    gauge = _gauge(of, swung.radius)
    outward = 1.0 if form == "convex" else -1.0
    zero = gauge.value or 0.0
    # The edge's own roundness shows as its radius here.
    spots = _indicated(swung, outward, zero - machine.setting("edge"))
    at_gauge = Spot("gauge", figure=outward * (machine.true_value(gauge) - zero))
    return Known(
        (swung.radius,),
        {"swing": spots, "gauge": (at_gauge,) * of.choice((1, 2, 3))},
        {"form": form},
        masters={"gauge": Mastered(gauge)},
        index={"swing": swung.stated},
        flute=1,
        width=0.02,
    )


@known("radius by swing test", "convex")
def swing(of: random.Random, machine: Machine) -> Known:
    """A convex edge under an indicator."""
    return _swing(of, machine, "convex")


@known("radius by swing test", "concave")
def swing_concave(of: random.Random, machine: Machine) -> Known:
    """A concave edge, the indicator inside it."""
    return _swing(of, machine, "concave")


@known("radius by swing test, crosshair")
def by_crosshair(of: random.Random, machine: Machine) -> Known:
    """A convex edge sighted while it swings, the line laid tangent."""
    swung = Swung.drawn(of, machine)
    gauge = _gauge(of, swung.radius)
    zero = (gauge.value or 0.0) - machine.setting("edge")
    spots = tuple(
        Spot(f"{stated:g}", swung.tangent(turned) - zero, normal=(1.0, 0.0), flute=1)
        for stated, turned in zip(swung.stated, swung.turned, strict=True)
    )
    at_gauge = Spot("gauge", machine.true_value(gauge) - (gauge.value or 0.0), normal=(1.0, 0.0))
    return Known(
        (swung.radius,),
        {"swing": spots, "gauge": (at_gauge,) * of.choice((1, 2, 3))},
        {"form": "convex"},
        masters={"gauge": Mastered(gauge)},
        index={"swing": swung.stated},
        flute=1,
        width=0.02,
    )


@known("form by swing test")
def form(of: random.Random, machine: Machine) -> Known:
    """An edge with waves of up to 5 µm; the truth is what circle and centre leave of it."""
    from inspect_rec.compute.swing import swing_test

    swung = Swung.drawn(of, machine, wave=of.uniform(0.001, 0.005))
    true = [swung.tangent(a) * 1000 for a in swung.stated]
    return Known(
        (swing_test(swung.stated, true).form_um / 1000,),
        {"swing": _indicated(swung, 1.0, swung.radius)},
        {"form": "convex"},
        index={"swing": swung.stated},
        flute=1,
        natural_zero=True,
    )


def _offset(of: random.Random, machine: Machine, part: str) -> Known:
    swung = Swung.drawn(of, machine)
    truth = {"along 0": swung.p, "along 90": swung.q, "amount": math.hypot(swung.p, swung.q)}[part]
    return Known(
        (truth,),
        {"swing": _indicated(swung, 1.0, swung.radius)},
        {"form": "convex", "part": part},
        index={"swing": swung.stated},
        flute=1,
        natural_zero=part == "amount",
    )


@known("pivot offset by swing test", "along 90")
def offset_along(of: random.Random, machine: Machine) -> Known:
    """A centre off the pivot, square to the zero of the swing."""
    return _offset(of, machine, "along 90")


@known("pivot offset by swing test", "amount")
def offset(of: random.Random, machine: Machine) -> Known:
    """How far a centre lies off the pivot."""
    return _offset(of, machine, "amount")
