"""The parts of a readout's layout, as data: port, frame, fields, figures, check, rules. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from drivers.checksum import Crc16
from inspect_rec.units import Unit

CHANNELS = {
    "x": "X",
    "y": "Y",
    "z": "Z",
    "indicator": "indicator",
    "angle": "angle",
    "temperature": "temperature",
}
"""Groups and fields that are figures, and the channels that they are of."""
UNITS = {"angle": Unit.DEGREE, "temperature": Unit.CELSIUS}
"""Channels that are no lengths, and their units."""
WORDS = ("unit", "mode", "counting", "status", "key", "count", "axis")
"""Groups and fields that are no figures."""
FIGURE = "figure"


@dataclass(frozen=True, slots=True)
class Port:
    """Settings of a serial port."""

    baud: int = 9600
    bytesize: int = 8
    parity: str = "N"
    stopbits: int = 1


@dataclass(frozen=True, slots=True)
class Asks:
    """How a readout that answers is asked for a reading."""

    request: bytes
    every_ms: int = 200
    answer_ms: int = 500


@dataclass(frozen=True, slots=True)
class Modbus:
    """The block of registers of a Modbus device that is read as one frame."""

    first: int
    count: int
    registers: str = "holding"
    unit: int = 1
    every_ms: int = 200
    answer_ms: int = 500


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a reading begins and ends; exactly one of terminator, length and pause."""

    header: bytes = b""
    terminator: bytes = b""
    trailer: int = 0
    length: int = 0
    pause_ms: int = 0
    width: int = 0
    """Bytes of every body, between header and terminator; 0: any number."""
    longest: int = 64


@dataclass(frozen=True, slots=True)
class Field:
    """A binary field at its place in the frame."""

    name: str
    at: int
    size: int
    """Bytes."""
    order: str = "big"
    as_: str = "two's complement"
    scale: Decimal = Decimal(1)
    scale_from: str = ""
    """Name of the field that says what one step is worth; ``scale`` then multiplies it."""
    mask: int = 0
    words: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Figures:
    """What figures and words mean. ``decimals``: most places, shown or implied; ``fewest``."""

    decimals: int = 3
    fewest: int = 3
    point: str = "."
    unit: Unit = Unit.MM
    unit_words: Mapping[bytes, Unit] = field(default_factory=dict)
    mode: str = "radius"
    mode_words: Mapping[bytes, str] = field(default_factory=dict)
    counting_words: Mapping[bytes, str] = field(default_factory=dict)
    minus: bytes = b"-"
    good: tuple[bytes, ...] = ()
    faults: tuple[bytes, ...] = ()
    count_from: int = 0
    count_to: int = 99
    axes: Mapping[bytes, str] = field(default_factory=dict)

    def unit_of(self, channel: str) -> Unit:
        """What a channel's figures are in."""
        return UNITS.get(channel, self.unit)


@dataclass(frozen=True, slots=True)
class Check:
    """The check that a frame carries: which bytes it covers, where and how it stands."""

    kind: str
    from_: int = 0
    to: int = -1
    at: int = -1
    as_: str = "byte"
    start: int = 0
    modulus: int = 256
    crc: Crc16 | None = None


@dataclass(frozen=True, slots=True)
class Rules:
    """When a figure may be taken, and what can be true of a slide."""

    sends: str = "continuously"
    settled_reads: int = 2
    settled_apart_ms: int = 300
    lockout_ms: int = 300
    pair_ms: int = 200
    silent_s: float = 2.0
    heartbeat_ms: int = 0
    ranges: Mapping[str, tuple[Decimal, Decimal]] = field(default_factory=dict)
    """By channel; of one that isn't named, from -2000 to 2000."""
    fastest_mm_per_s: Decimal = Decimal(500)

    def range(self, channel: str) -> tuple[Decimal, Decimal]:
        """Least and most figure of a channel, as shown."""
        return self.ranges.get(channel, (Decimal(-2000), Decimal(2000)))
