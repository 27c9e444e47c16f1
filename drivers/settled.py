"""When a live figure may be taken: two equal reads far enough apart, both slides. No clock."""

from __future__ import annotations

from datetime import datetime, timedelta
from enum import StrEnum

from drivers.layout import Layout
from inspect_rec.reading import Sighting


class State(StrEnum):
    """State of the live figure."""

    LIVE = "live"
    STILL = "still"
    STALE = "stale"
    LOST = "lost"


class Settled:
    """Watches live sightings of one readout."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        self._since: Sighting | None = None
        self._reads = 0
        self.last: Sighting | None = None

    def hear(self, sighting: Sighting) -> None:
        """A live sighting."""
        if self._since is None or _figures(self._since) != _figures(sighting):
            self._since, self._reads = sighting, 1
        else:
            self._reads += 1
        self.last = sighting

    def lose(self) -> None:
        """The line went away, or an alarm came: what was still isn't any more."""
        self._since, self._reads, self.last = None, 0, None

    def state(self, at: datetime) -> State:
        """State of the figure at ``at``."""
        if self.last is None or self._since is None:
            return State.LOST
        quiet = at - self.last.at
        if quiet > timedelta(seconds=self._layout.silent_s):
            return State.LOST
        apart = timedelta(milliseconds=self._layout.settled_apart_ms)
        enough = self._reads >= self._layout.settled_reads
        if enough and self.last.at - self._since.at >= apart:
            return State.STILL
        return State.STALE if quiet > 3 * apart else State.LIVE


def _figures(sighting: Sighting) -> tuple[tuple[str, str], ...]:
    return tuple((r.channel, str(r.value)) for r in sighting.readings)
