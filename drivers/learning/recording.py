"""What was recorded and what was moved: bytes, their instants where known, stated moves. Pure."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from drivers import recorded
from drivers.parts import CHANNELS
from inspect_rec.errors import InputError, Mistake
from inspect_rec.units import INCH_MM

LARGEST = 8 * 1024 * 1024
"""Bytes of a file to learn from; a minute of the fastest line is a third of it, as JSON Lines."""
_MOVE = re.compile(r"(?P<axis>[A-Za-z]+)=(?P<by>[+-]?[0-9]{1,5}(?:\.[0-9]{1,6})?) ?(?P<unit>mm|in)")
_KNOWN = {name.lower(): channel for name, channel in CHANNELS.items()}


@dataclass(frozen=True, slots=True)
class Recording:
    """Bytes as they came. ``ends``: the offset behind each piece; ``instants``: when each piece
    came, in seconds, empty where nobody wrote them down."""

    data: bytes
    ends: tuple[int, ...] = ()
    instants: tuple[float, ...] = ()

    @property
    def timed(self) -> bool:
        """Whether it says when its bytes came."""
        return len(self.instants) > 1 and self.instants[-1] > self.instants[0]

    def at(self, end: int) -> float:
        """When the byte before the offset ``end`` came, in seconds."""
        if not self.instants:
            return 0.0
        return self.instants[min(bisect_left(self.ends, end), len(self.instants) - 1)]

    def pieces(self) -> Iterable[tuple[float, bytes]]:
        """Each piece with its instant; all at 0 s where nobody wrote instants down."""
        starts = (0, *self.ends[:-1])
        instants: Iterable[float] = self.instants or (0.0,) * len(self.ends)
        for start, end, at in zip(starts, self.ends, instants, strict=True):
            yield at, self.data[start:end]


@dataclass(frozen=True, slots=True)
class Move:
    """A slide was moved by so much between the beginning and the end of a recording."""

    axis: str
    mm: Decimal
    said: str

    @property
    def exact(self) -> bool:
        """Whether it was stated to a hundredth of a millimetre, or a thousandth of an inch."""
        by, unit = self.said.split()
        _, _, places = by.partition(".")
        return len(places) >= (3 if unit == "in" else 2)

    def __str__(self) -> str:
        return f"{self.axis} by {self.said}"


def of(chunks: Iterable[tuple[float, bytes]]) -> Recording:
    """A recording of pieces with their instants in seconds."""
    held = [(at, data) for at, data in chunks if data]
    ends, size = [], 0
    for _, data in held:
        size += len(data)
        ends.append(size)
    return Recording(b"".join(d for _, d in held), tuple(ends), tuple(at for at, _ in held))


def read(raw: bytes, name: str) -> Recording:
    """A recording from a file: bare bytes, or JSON Lines with ``at`` (RFC 3339, or seconds) and
    ``hex``. Raises InputError with each bad line."""
    if len(raw) > LARGEST:
        raise InputError("the recording is too large", found=f"{len(raw)} bytes", where=name)
    found = recorded.read(raw, name)
    if not found.timed:
        return Recording(raw, (len(raw),))
    return of((piece.at.timestamp(), piece.data) for piece in found.pieces)


def moves(stated: Sequence[str]) -> tuple[Move, ...]:
    """Moves from words such as ``X=+10.000mm``; raises InputError with each mistake."""
    found: dict[str, Move] = {}
    bad: list[Mistake] = []
    for text in stated:
        match = _MOVE.fullmatch(text.strip())
        axis = _KNOWN.get(match["axis"].lower(), "") if match is not None else ""
        if match is None or axis in ("", "angle", "temperature") or not Decimal(match["by"]):
            expected = "an axis and how far it was moved, such as X=+10.000mm or Z=-0.5in"
            bad.append(Mistake("--moved", expected, repr(text[:40])))
            continue
        by, unit = Decimal(match["by"]), match["unit"]
        if axis in found:
            bad.append(Mistake("--moved", f"one move of {axis}", repr(text[:40])))
        said = f"{by:+} {unit}"
        found[axis] = Move(axis, by * INCH_MM if unit == "in" else by, said)
    if bad:
        raise InputError("a move can't be read", bad)
    return tuple(found.values())
