"""Frames that are another's repeat: the same counter, a key that bounced, a heartbeat that stands.

Pure. Frames that a counter leaves out are found here, too.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from drivers.layout import Layout
from drivers.plausible import Figures
from drivers.shown import Code, Wrong


class Once:
    """Watches counter, key and heartbeat of one readout."""

    def __init__(self, layout: Layout, *, timed: bool = True) -> None:
        self._timed = timed
        self._counts = layout.figures.count_to - layout.figures.count_from + 1
        self._lockout = timedelta(milliseconds=layout.rules.lockout_ms)
        self._beats_within = timedelta(milliseconds=layout.rules.heartbeat_ms)
        self._count: int | None = None
        self._keys: dict[tuple[str, ...], datetime] = {}
        self._beat: tuple[int, datetime] | None = None

    def lost(self) -> None:
        """The line went away: what was counted may go on anywhere."""
        self._count, self._beat = None, None
        self._keys.clear()

    def counted(self, count: int | None) -> Wrong | None:
        """A counter that left some out, or stands still."""
        before, self._count = self._count, self._count if count is None else count
        if count is None or before is None:
            return None
        step = (count - before) % self._counts
        if step == 1:
            return None
        if step == 0:
            return Wrong(Code.DOUBLED, f"Readout sent number {count} twice: the second isn't used")
        return Wrong(
            Code.COUNT,
            f"{step - 1} lines of the readout were lost before number {count}: check the cable. "
            "What comes is good",
        )

    def bounced(self, figures: Figures, at: datetime) -> Wrong | None:
        """The key again, sooner than a hand presses it twice."""
        if not self._timed:
            return None
        channels = tuple([channel for channel, _ in figures])
        before = self._keys.get(channels)
        if before is not None and timedelta(0) <= at - before < self._lockout:
            return Wrong(Code.DOUBLED, "The key bounced: the second isn't used")
        self._keys[channels] = at
        return None

    def stale(self, beat: int | None, at: datetime) -> Wrong | None:
        """A heartbeat that stands still: the figures are old."""
        if beat is None:
            return None
        if self._beat is None or self._beat[0] != beat:
            self._beat = beat, at
            return None
        if self._timed and at - self._beat[1] < self._beats_within:
            return None
        return Wrong(
            Code.DOUBLED,
            "The readout's heartbeat stands still: its figures are old, and not used. Check the "
            "readout",
        )
