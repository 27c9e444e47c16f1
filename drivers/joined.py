"""Sightings that come one axis at a time, or from several lines, made one: figures of one instant.

Pure: no line, no clock. Whether the slides stand still is watched on the joined sightings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from inspect_rec.reading import Reading, Sighting


class Joined:
    """Joins the figures of ``channels``, each the last that was heard, where they lie no further
    apart in time than ``within_ms``."""

    def __init__(self, channels: Sequence[str], within_ms: int = 200) -> None:
        self._channels = tuple(channels)
        self._within = timedelta(milliseconds=within_ms)
        self._last: dict[str, tuple[Reading, bytes]] = {}

    def hear(self, sighting: Sighting) -> Sighting | None:
        """The sighting with all channels, at the instant of the latest; None while one is missing
        or too old. What is alone already complete is handed on as it is."""
        for reading in sighting.readings:
            self._last[reading.channel] = reading, sighting.raw
        if {r.channel for r in sighting.readings} >= set(self._channels):
            return sighting
        if not all(channel in self._last for channel in self._channels):
            return None
        found = [self._last[channel] for channel in self._channels]
        instants = [reading.at for reading, _ in found]
        if max(instants) - min(instants) > self._within:
            return None
        # One line may have sent both; its bytes stand once.
        raw = b"".join(dict.fromkeys(raw for _, raw in found))
        return replace(sighting, at=max(instants), readings=tuple(r for r, _ in found), raw=raw)

    def lose(self) -> None:
        """A line went away, or an alarm came: what was read before is no part of a new one."""
        self._last.clear()
