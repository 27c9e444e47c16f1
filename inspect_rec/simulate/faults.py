"""What can go wrong with a simulated readout, by name, and what it does to bytes. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from drivers.layout import Layout
from drivers.parts import CHANNELS
from inspect_rec.errors import InputError, ReadoutError
from inspect_rec.simulate import numbering
from inspect_rec.units import Unit


@dataclass(frozen=True, slots=True)
class Fault:
    """``what`` happens; ``once``: to the next frame alone, where no time is stated; ``for_s``: how
    long it lasts where none is stated, None: until ``mend``."""

    what: str
    once: bool = False
    for_s: float | None = None


HALF, PARITY, WORD = "half frame", "parity", "lost counts"
GAP, DOUBLED = "counter gap", "doubled"
SILENCE, CYCLE, UNPLUGGED = "silence", "power cycle", "unplugged"
SWAPPED, UNIT, MODE, COUNTING = "swapped axes", "other unit", "other mode", "incremental"
_ZERO, _BLANK = "zero", "blank"

FAULTS: Mapping[str, Fault] = {
    HALF: Fault("the next frame ends in its middle", once=True),
    PARITY: Fault("the next frame comes in another parity: garbage", once=True),
    UNIT: Fault("it is switched over from mm to inch, or back"),
    MODE: Fault("it is switched over from radius to diameter, or back"),
    COUNTING: Fault("it is switched over to incremental counting"),
    "zero x": Fault("its zero is reset: X, or another axis, jumps to nought", once=True),
    CYCLE: Fault("it is off for a second, and begins at nought", for_s=1.0),
    WORD: Fault("the next frame says that counts were lost", once=True),
    GAP: Fault("its counter leaves three out", once=True),
    DOUBLED: Fault("the next frame comes twice: a bouncing key, where it has one", once=True),
    SWAPPED: Fault("X and Z have changed places"),
    "blank x": Fault("the display of X, or another axis, is dark"),
    SILENCE: Fault("nothing comes"),
    UNPLUGGED: Fault("its plug is out for a second", for_s=1.0),
}
"""Every fault by name; ``zero`` and ``blank`` stand before any axis that the layout has."""


def named(name: str, layout: Layout) -> tuple[str, Fault]:
    """A fault by its name, and as it is known: with the axis as the layout writes it.

    Raises InputError for a name that no fault has, and ReadoutError for a fault that no readout of
    this layout can have.
    """
    name = " ".join(name.lower().split())
    head, _, tail = name.partition(" ")
    if head in (_ZERO, _BLANK) and CHANNELS.get(tail) in layout.channels:
        if head == _BLANK and numbering.bright(layout, tail):
            raise _cannot(name, layout, "digits there, or a line of text")
        return f"{head} {CHANNELS[tail]}", FAULTS[f"{head} x"]
    if name not in FAULTS or head in (_ZERO, _BLANK):
        raise InputError("there is no such fault", expected=" | ".join(FAULTS), found=repr(name))
    figures = layout.figures
    unit = "in" if figures.unit is Unit.MM else "mm"
    mode = "radius" if figures.mode == "diameter" else "diameter"
    needs, has = {
        GAP: ("a counter", "count" in layout.names),
        SWAPPED: ("axes X and Z", {"X", "Z"} <= {*layout.channels}),
        WORD: ("words for a fault", bool(figures.faults) or "status" in layout.names),
        UNIT: (f"a word for {unit}", can_say(unit, layout)),
        MODE: (f"an X in {mode}", "X" in layout.channels and can_say(mode, layout)),
        COUNTING: ("a word for counting", "counting" in layout.names),
    }.get(name, ("", True))
    if not has:
        raise _cannot(name, layout, needs)
    return name, FAULTS[name]


def _cannot(name: str, layout: Layout, needs: str) -> ReadoutError:
    return ReadoutError(
        f"this readout can't have the fault {name!r}",
        expected=f"a layout with {needs}",
        found=f"layout {layout.id}",
    )


def can_say(word: str, layout: Layout) -> bool:
    """Whether it can be switched to mm, in, radius, diameter, absolute or incremental: it says so
    itself, or says nothing of the kind."""
    figures = layout.figures
    group, words = {
        "mm": ("unit", {unit.value for unit in figures.unit_words.values()}),
        "in": ("unit", {unit.value for unit in figures.unit_words.values()}),
        "radius": ("mode", {*figures.mode_words.values()}),
        "diameter": ("mode", {*figures.mode_words.values()}),
    }.get(word, ("counting", {*figures.counting_words.values()}))
    words |= {said for each in layout.fields if each.name == group for said in each.words.values()}
    return group not in layout.names or word in words


def other_parity(data: bytes) -> bytes:
    """What comes from a port set to seven bits and even parity where eight and none are expected:
    the eighth bit is the parity of the others."""
    return bytes((b & 0x7F) | ((b & 0x7F).bit_count() % 2) << 7 for b in data)
