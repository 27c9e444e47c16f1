"""What can go wrong with a simulated readout, by name, and what it does to bytes. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from drivers.layout import Layout
from drivers.parts import CHANNELS
from inspect_rec.errors import InputError, ReadoutError


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
        return f"{head} {CHANNELS[tail]}", FAULTS[f"{head} x"]
    if name not in FAULTS or head in (_ZERO, _BLANK):
        raise InputError("there is no such fault", expected=" | ".join(FAULTS), found=repr(name))
    lacks = {
        GAP: "count" not in layout.names and "a counter",
        SWAPPED: not {"X", "Z"} <= {*layout.channels} and "axes X and Z",
        COUNTING: "counting" not in layout.names and "a word for counting",
        WORD: not (layout.figures.faults or "status" in layout.names) and "words for a fault",
        MODE: "X" not in layout.channels and "an axis X",
    }.get(name)
    if lacks:
        raise ReadoutError(
            f"this readout can't have the fault {name!r}",
            expected=f"a layout with {lacks}",
            found=f"layout {layout.id}",
        )
    return name, FAULTS[name]


def other_parity(data: bytes) -> bytes:
    """What comes from a port set to seven bits and even parity where eight and none are expected:
    the eighth bit is the parity of the others."""
    return bytes((b & 0x7F) | ((b & 0x7F).bit_count() % 2) << 7 for b in data)
