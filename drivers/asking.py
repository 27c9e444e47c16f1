"""When a readout that answers is asked: never while its answer may still come. Pure: no port, no
clock; instants come in.
"""

from __future__ import annotations

from datetime import datetime

from drivers.framing import framer
from drivers.layout import Layout


class Asking:
    """Says when the next request of a layout with ``[asks]`` is due; seconds are those of a
    monotonic clock."""

    def __init__(self, layout: Layout) -> None:
        asks = layout.asks
        assert asks is not None  # noqa: S101 - the line looks first
        self.request = asks.request
        self._every_s, self._answer_s = asks.every_ms / 1000, asks.answer_ms / 1000
        self._framer = framer(layout)
        self._asked: float | None = None
        self._answered = False

    def due_s(self, moment: float) -> float:
        """Seconds until the next request; 0 or less: now. An answer that doesn't come is waited
        for ``answer_ms``, so that two requests never stand at a time."""
        if self._asked is None:
            return 0
        wait_s = self._every_s if self._answered else max(self._every_s, self._answer_s)
        return self._asked + wait_s - moment

    def asked(self, moment: float) -> None:
        """The request went out."""
        self._asked, self._answered = moment, False
        self._framer.drop()

    def heard(self, data: bytes, at: datetime) -> None:
        """Bytes of the readout: a whole frame is an answer, good or bad."""
        if self._framer.feed(data, at):
            self._answered = True

    def anew(self) -> None:
        """The line was opened: it can be asked at once."""
        self._asked = None
        self._framer.drop()
