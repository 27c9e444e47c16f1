"""When a live figure may be taken: two equal reads far enough apart, both slides. No clock."""

from __future__ import annotations

from collections import deque
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


_WATCHED = 5
"""Intervals from which the usual one is known."""
_LATE = 3
"""A read that is later than so many usual intervals makes the figure stale."""


class Settled:
    """Watches live sightings of one readout."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        self._apart = timedelta(milliseconds=layout.rules.settled_apart_ms)
        self._silence = timedelta(seconds=layout.rules.silent_s)
        self._since: Sighting | None = None
        self._reads = 0
        self._intervals: deque[timedelta] = deque(maxlen=_WATCHED)
        self.last: Sighting | None = None

    def hear(self, sighting: Sighting) -> None:
        """A live sighting."""
        if self.last is not None and sighting.at > self.last.at:
            self._intervals.append(sighting.at - self.last.at)
        if self._since is None or _figures(self._since) != _figures(sighting):
            self._since, self._reads = sighting, 1
        else:
            self._reads += 1
        self.last = sighting

    def lose(self) -> None:
        """The line went away, or an alarm came: what was still isn't any more."""
        self._since, self._reads, self.last = None, 0, None
        self._intervals.clear()

    def state(self, at: datetime) -> State:
        """State of the figure at ``at``. A readout that sends on its own key only has no live
        figure: it is never stale, still or lost once it was heard."""
        if self.last is None or self._since is None:
            return State.LOST
        if self._layout.on_key:
            return State.LIVE
        quiet = at - self.last.at
        if quiet >= self._silence:
            return State.LOST
        if quiet > self._patience():
            return State.STALE
        enough = self._reads >= self._layout.rules.settled_reads
        stood = self.last.at - self._since.at
        return State.STILL if enough and stood >= self._apart else State.LIVE

    def _patience(self) -> timedelta:
        """How long a figure is fresh: three usual intervals, and the settling time at least."""
        usual = sorted(self._intervals)[len(self._intervals) // 2] if self._intervals else None
        return max(_LATE * usual, self._apart) if usual is not None else self._silence


def _figures(sighting: Sighting) -> tuple[tuple[str, str], ...]:
    return tuple((r.channel, str(r.value)) for r in sighting.readings)
