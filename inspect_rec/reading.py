"""Reading and Sighting: what came in, exactly as it came. Nothing here computes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from inspect_rec.units import Unit


@dataclass(frozen=True, slots=True)
class Reading:
    """One value from one channel of one readout.

    ``value`` is the figure as shown, in ``unit``, exact; ``at`` is aware and in UTC; ``raw``
    holds the bytes it came from (for a value read by eye: the characters typed, UTF-8).
    """

    channel: str
    """``X`` or ``Z`` for a slide; else what was read: ``angle``, ``indicator``, ``length``,
    ``temperature``."""
    value: Decimal
    unit: Unit
    at: datetime
    source: str
    """Id of the readout or instrument in the equipment register."""
    raw: bytes
    by_eye: bool = False


@dataclass(frozen=True, slots=True)
class Sighting:
    """The readings of one instant: both slides, or one figure read by eye.

    ``key`` tells that the readout's own print key (or contact) sent it.
    """

    at: datetime
    readings: tuple[Reading, ...]
    raw: bytes
    key: bool = False
    count: int | None = None
    """The frame's own counter, where it has one."""
    mode: str | None = None
    """``radius`` or ``diameter``, where the frame says it itself."""
    suspect: str | None = None
    """Why it can't be trusted until the pin is sighted again."""
