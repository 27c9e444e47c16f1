"""A simulated grinder: slides, crosshair, indicator, protractor, caliper, and their errors.

It is handed true places and answers with what would be read there. Every error has a name of
``errors.toml`` and can be switched; everything is drawn from one seed, so that the same seed gives
the same readings. Never part of a measurement.
"""

from __future__ import annotations

import math
import random
import tomllib
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache
from importlib import resources
from typing import Any

from inspect_rec.errors import InputError
from inspect_rec.methods.base import Instrument, Slides

BUDGETS, ROUGH = "as the budgets assume", "rough"
"""The two sets of errors."""

TOOL, MASTER, AXIS = "tool", "master", "axis"
"""What is sighted: the edges of the tool, a master, the sides that give an axis."""

STEEL, SCALE = 11.5e-6, 8e-6
"""Expansion per kelvin of tool and master, and of a glass scale (common practice)."""

_ERRORS, _STATED = "simulate/errors.toml", "cli/templates/shop.toml"
"""The errors, and what budgets state: the amounts that a new shop file begins with."""

_AS_STATED = "as stated"
_DIVISOR = {"rectangular": math.sqrt(3), "rectangular one-sided": math.sqrt(12)}
_AT_AN_APPROACH = ("backlash", "sticky slide", "lost motion")
_WAVE_MM = 2.0
_INDICATOR_WAVE_MM = 0.1
_OFFSET_MM = 80.0


@dataclass(frozen=True, slots=True)
class Spread:
    """How one error is drawn; ``share``: the part of the draws that have it at all."""

    amount: float
    distribution: str
    share: float = 1.0

    def drawn(self, of: random.Random) -> float:
        """One draw, in the error's unit."""
        if self.share < 1 and of.random() >= self.share:
            return 0.0
        return self.amount * _SHAPES[self.distribution](of)


# Each of the standard deviation 1, or the half width or width 1.
_SHAPES: Mapping[str, Callable[[random.Random], float]] = {
    "normal": lambda of: of.gauss(),
    "rectangular": lambda of: of.uniform(-1, 1),
    "rectangular one-sided": lambda of: of.random(),
    "fixed": lambda of: 1.0 if of.random() < 0.5 else -1.0,
    # t with 4 degrees of freedom, whose variance is 2.
    "long tails": lambda of: of.gauss() / math.sqrt(2 * of.gammavariate(2.0, 0.5)),
    "skewed": lambda of: of.expovariate(1.0) - 1,
}


@dataclass(frozen=True, slots=True)
class Errors:
    """The errors of one machine by name; what isn't in ``spreads`` is switched off."""

    name: str
    spreads: Mapping[str, Spread]

    def without(self, *names: str) -> Errors:
        """These switched off. Raises InputError for a name that no error has."""
        _known(names)
        return replace(self, spreads={n: s for n, s in self.spreads.items() if n not in names})

    def only(self, *names: str) -> Errors:
        """All others switched off. Raises InputError for a name that no error has."""
        _known(names)
        return replace(self, spreads={n: s for n, s in self.spreads.items() if n in names})


def _known(names: tuple[str, ...]) -> None:
    for name in names:
        if name not in what():
            raise InputError("no such error", expected=" | ".join(what()), found=repr(name))


@cache
def _file(name: str) -> Mapping[str, Any]:
    text = resources.files("inspect_rec").joinpath(name).read_text(encoding="utf-8")
    return tomllib.loads(text)


def what() -> Mapping[str, str]:
    """Every error's name and what it is."""
    found: Mapping[str, str] = _file(_ERRORS)["what"]
    return found


def sets() -> tuple[str, ...]:
    """The names of the sets of errors."""
    return tuple(_file(_ERRORS)["set"])


@cache
def errors(name: str) -> Errors:
    """A set of errors.toml. Raises InputError for a set or error that there isn't."""
    if name not in sets():
        raise InputError("no such set of errors", expected=" | ".join(sets()), found=repr(name))
    spreads = {n: Spread(**s) for n, s in _file(_ERRORS)["set"][name].items()}
    _known(tuple(spreads))
    for each in spreads.values():
        if each.distribution not in (*_SHAPES, _AS_STATED):
            raise InputError(
                "no such distribution",
                expected=" | ".join((*_SHAPES, _AS_STATED)),
                found=repr(each.distribution),
            )
    return Errors(name, spreads)


NONE = Errors("none", {})
"""A machine without errors, which still doesn't round."""


@dataclass(frozen=True, slots=True)
class Stated:
    """An influence as a shop file states it."""

    amount: Decimal
    distribution: str = "normal"
    unit: str = "um"
    assumed: bool = False


@cache
def influences() -> Mapping[str, Stated]:
    """What the budgets state of this machine."""
    return {
        name: Stated(**{**row, "amount": Decimal(str(row["amount"]))})
        for name, row in _file(_STATED)["influence"].items()
    }


@cache
def instrument(name: str) -> Instrument:
    """An instrument of this machine as its budgets know it."""
    return Instrument(name, **_file(_ERRORS)["instrument"][name])


@dataclass(frozen=True, slots=True)
class Spot:
    """One true place or figure, and what of it an error needs to know.

    ``r`` from the axis of its body and ``z`` along it, mm; ``normal`` out of the metal, (r, z),
    zero where no light acts; ``figure``: what an indicator, protractor or caliper should show, mm
    or deg. ``plane``: the error that turns it out of its plane. ``index``: deg.
    """

    mark: str
    r: float = 0.0
    z: float = 0.0
    normal: tuple[float, float] = (0.0, 0.0)
    flute: int | None = None
    figure: float = 0.0
    plane: str = ""
    corner: bool = False
    floats: bool = False
    """Of an indicator: the spindle was indexed to come there."""
    index: float = 0.0
    leg_mm: float = 0.0
    down: bool = False
    """Of an indicator: reached on the way down."""
    from_wrong_side: bool = False
    runs: float = 1.0
    """How far the line that is sighted runs along the tool for what it is off across it."""


class Machine:
    """One set-up: everything held is drawn once. ``seed`` is any text."""

    def __init__(self, errors_: Errors, seed: str) -> None:
        self.errors = errors_
        self._random = random.Random(seed)
        self._held: dict[Hashable, float] = {}
        self._clock_s = 0.0
        self._axis = self._random.uniform(10, 60), self._random.uniform(80, 140)
        self._phase = [self._random.uniform(0, 2 * math.pi) for _ in range(4)]
        self._slides = [self._slide(0), self._slide(1)]
        some = (errors_.spreads.get(name) for name in _AT_AN_APPROACH)
        self._left = [each for each in some if each is not None and each.share]

    @property
    def now_s(self) -> float:
        """Time since the set-up, s."""
        return self._clock_s

    def wait(self, seconds: float) -> None:
        """Let time go by."""
        self._clock_s += seconds

    def fresh(self, name: str) -> float:
        """A new draw of that error; zero where it is switched off."""
        spread = self.errors.spreads.get(name)
        return 0.0 if spread is None else spread.drawn(self._random)

    def held(self, name: str, key: Hashable = None) -> float:
        """The draw of that error that ``key`` has in this set-up; zero where it is off."""
        if name not in self.errors.spreads:
            return 0.0
        at = (name, key)
        if at not in self._held:
            self._held[at] = self.fresh(name)
        return self._held[at]

    def setting(self, name: str, key: Hashable = None) -> float:
        """How far a setting, or a figure of the plan, is off that the shop states as an
        influence; mm or deg."""
        spread = self.errors.spreads.get("settings")
        if spread is None:
            return 0.0
        at = ("settings", name, key)
        if at not in self._held:
            stated = influences()[name]
            a, shape = float(stated.amount), stated.distribution
            if spread.distribution != _AS_STATED:
                a /= _DIVISOR.get(shape, 1.0)
                shape = spread.distribution
            drawn = Spread(a * spread.amount, shape).drawn(self._random)
            self._held[at] = drawn / 1000 if stated.unit == "um" else drawn
        return self._held[at]

    # -- slides --------------------------------------------------------------

    def sight(
        self, spot: Spot, readout: Instrument, slides: Slides, body: str, key: Hashable = None
    ) -> dict[str, float]:
        """What the readout shows, mm, with the crosshair on ``spot``; ``key`` names the object
        or feature, for what is held for it alone."""
        r, z = self._object(spot, body, key)
        true = self.place(slides, r, z)
        radial, along = true[slides.radial], true[slides.along]
        wander = self.held("drift") * self._clock_s / 3600 / 1000
        square = math.radians(self.held("squareness")) * (along - self._axis[1])
        wrong = spot.from_wrong_side
        shown = {
            slides.radial: self._scale(0, radial + wander + square)
            + self._approach(wrong=wrong, runs=1.0),
            slides.along: self._scale(1, along + wander)
            + self._approach(wrong=wrong, runs=spot.runs),
        }
        self._clock_s += 15
        on = "readout step" in self.errors.spreads
        return {
            slide: rounded(place, readout.half_step, on=on)
            for slide, place in sorted(shown.items())
        }

    def _object(self, spot: Spot, body: str, key: Hashable) -> tuple[float, float]:
        """Where the spot seems to lie on its object, mm: turned, warm, run out, in the light."""
        r, z = spot.r, spot.z
        if spot.plane:
            r *= math.cos(math.radians(self.held(spot.plane, spot.flute)))
        on_master = body == MASTER
        warm = STEEL * self.held("master temperature" if on_master else "tool temperature")
        warm -= SCALE * self.held("scale temperature")
        out = self.held("light") + (
            self.held("light on a master") if on_master else self.held("personal bias")
        )
        if spot.corner:
            out += self.held("corner", (key, spot.mark, spot.flute))
        r = r * (1 + warm) + spot.normal[0] * out / 1000
        z = z * (1 + warm) + spot.normal[1] * out / 1000
        if body == AXIS:
            r += self.held("clamping", key) / 1000
        elif body == TOOL:
            r += self.run_out(spot.index)
        return r, z

    def run_out(self, index_deg: float) -> float:
        """What a tool that runs out shows too much at an index, mm."""
        turned = self._phase[2] + math.radians(index_deg)
        return self.held("eccentricity") * math.cos(turned) / 1000

    def place(self, slides: Slides, r: float, z: float) -> dict[str, float]:
        """The true place of a point on both slides, mm."""
        return {
            slides.radial: self._axis[0] + slides.outward * r,
            slides.along: self._axis[1] + slides.tip * z,
        }

    def _scale(self, slide: int, place: float) -> float:
        """What the scale gives at a true place, mm; with the slide's tilt at the offset."""
        gain, wave = self._slides[slide]
        turned = 2 * math.pi / _WAVE_MM * place + self._phase[slide]
        return place + gain * (place - self._axis[slide]) + wave * math.sin(turned)

    def _slide(self, slide: int) -> tuple[float, float]:
        """What a slide shows too much for each mm, and the amplitude of its wave, mm."""
        tilt = math.radians(self.held("tilt", slide) / 3600) * _OFFSET_MM
        linear = self.held("scale, linear", slide) / 1000
        return tilt + linear, self.held("scale, periodic") / 1000

    def _approach(self, *, wrong: bool, runs: float) -> float:
        """What the approach and the eye add on one slide, mm."""
        off = runs * self.fresh("sighting")
        for left in self._left:
            off += left.drawn(self._random)
        if wrong and "lost motion" in self.errors.spreads:
            off += self.errors.spreads["lost motion"].amount
        return off / 1000

    # -- by eye --------------------------------------------------------------

    def indicate(self, spot: Spot, on: Instrument) -> float:
        """What an indicator shows, mm, for a true ``figure`` since it was set to zero."""
        lever = math.cos(math.radians(self.held("indicator lever")))
        floated = self.held("axial float", (spot.mark, spot.flute)) if spot.floats else 0.0
        true = spot.figure / lever + floated / 1000
        half = (on.expanded or 0.0) / 2
        wave = math.sin(2 * math.pi * true / _INDICATOR_WAVE_MM + self._phase[3])
        off = half * self.held("indicator error") * wave
        off += (on.repeat or 0.0) * self.fresh("indicator repeat")
        if spot.down:
            off += self.fresh("indicator hysteresis")
        self._clock_s += 20
        return rounded(true + off / 1000, on.half_step, on="indicator step" in self.errors.spreads)

    def protract(self, spot: Spot, on: Instrument, key: Hashable = None) -> float:
        """What the protractor shows, deg, laid on a side of ``leg_mm``; a master (0) lies flat in
        the image plane, and is long."""
        off = self.held("reticle") * (on.expanded or 0.0) / 2
        if spot.leg_mm:
            off += self.held("image plane", (key, spot.mark))
            ends = (self.fresh("sighting") - self.fresh("sighting")) / 1000
            off += math.degrees(ends / spot.leg_mm)
        self._clock_s += 30
        return rounded(
            spot.figure + off, on.half_step, unit=1.0, on="reticle step" in self.errors.spreads
        )

    def lay_up(self, spot: Spot, on: Instrument) -> float:
        """What a caliper shows, mm, or a rule, which states no largest error."""
        figure = spot.figure * (1 + STEEL * self.held("tool temperature"))
        if on.largest_error:
            off = self.held("caliper") * on.largest_error + self.fresh("laying-up")
            figure += off / 1000
        self._clock_s += 20
        return rounded(figure, on.half_step, on="caliper step" in self.errors.spreads)

    def true_value(self, master: Instrument, unit: float = 1000.0) -> float:
        """What a master really is, mm, or with ``unit`` 1 deg: its value and its calibration's
        error."""
        off = self.held("master calibration", master.id) * (master.expanded or 0.0) / 2
        return (master.value or 0.0) + off / unit


def rounded(figure: float, half_step: float | None, *, on: bool, unit: float = 1000.0) -> float:
    """A figure in whole steps of ``2 * half_step`` (um; with ``unit`` 1 the figure's own)."""
    if not on or not half_step:
        return figure
    step = 2 * half_step / unit
    return round(round(figure / step) * step, 7)
