"""Readings and sightings put together by their slots: a frozen record's own way takes twice as
long, and there are three of them in every frame.
"""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from inspect_rec.reading import Reading, Sighting
from inspect_rec.units import Unit

_CHANNEL, _VALUE, _UNIT, _AT, _SOURCE, _RAW, _BY_EYE = (
    Reading.__dict__[name].__set__
    for name in ("channel", "value", "unit", "at", "source", "raw", "by_eye")
)
_S_AT, _READINGS, _S_RAW, _KEY, _COUNT, _MODE, _SUSPECT = (
    Sighting.__dict__[name].__set__
    for name in ("at", "readings", "raw", "key", "count", "mode", "suspect")
)
_NEW = object.__new__
_READ = False
"""By the readout, not by eye."""


def reading(
    channel: str, value: Decimal, unit: Unit, at: datetime, source: str, raw: bytes
) -> Reading:
    """``Reading(channel, value, unit, at, source, raw)``."""
    made = _NEW(Reading)
    _CHANNEL(made, channel)
    _VALUE(made, value)
    _UNIT(made, unit)
    _AT(made, at)
    _SOURCE(made, source)
    _RAW(made, raw)
    _BY_EYE(made, _READ)
    return made


def sighting(
    at: datetime,
    readings: tuple[Reading, ...],
    raw: bytes,
    key: bool,  # noqa: FBT001 - as the record has it
    count: int | None,
    mode: str | None,
    suspect: str | None,
) -> Sighting:
    """``Sighting(at, readings, raw, key, count, mode, suspect)``."""
    made = _NEW(Sighting)
    _S_AT(made, at)
    _READINGS(made, readings)
    _S_RAW(made, raw)
    _KEY(made, key)
    _COUNT(made, count)
    _MODE(made, mode)
    _SUSPECT(made, suspect)
    return made
