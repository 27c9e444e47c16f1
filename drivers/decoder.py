"""Bytes of a line to sightings and alarms. Pure: no port, no clock, no thread.

Any chunking gives the same sightings and the same alarms (of a layout whose frames end by a pause:
any chunking with the same instants). Nothing is guessed: what isn't a whole frame of the layout, in
its unit and mode and within its range, is an alarm that holds its bytes, and never a figure.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime

from drivers.fields import Code, Fields, Shown, Wrong
from drivers.framing import HALF, Piece, framer
from drivers.layout import Layout
from drivers.plausible import Plausible
from inspect_rec.reading import Reading, Sighting

__all__ = ["Alarm", "Code", "Decoder"]


@dataclass(frozen=True, slots=True)
class Alarm:
    """Something is wrong with a line: what, in a grinder's words, and the bytes."""

    code: Code
    said: str
    raw: bytes
    at: datetime


_SHOWN = 40
_SHAPE = re.compile(rb"\d")
_MAY_BE_HALF = tuple(bytes([b]) for b in b"0123456789+-., ")
"""A line that begins otherwise begins with a word of its pattern, and is whole."""


class Decoder:
    """Turns the bytes of one readout into sightings; ``source`` is its id in the register.

    ``timed``: whether the instants are those at which the bytes came; of a recording of bare bytes
    they aren't, and nothing is said of speed.
    """

    def __init__(self, layout: Layout, source: str, *, timed: bool = True) -> None:
        self.layout, self.source = layout, source
        self._framer, self._fields = framer(layout), Fields(layout)
        self._plausible = Plausible(layout, timed=timed)
        self._unit = layout.figures.unit
        self._counted = layout.figures.count_to if "count" in layout.names else 0
        self._paused = layout.frame.pause_ms > 0
        frame = layout.frame
        self._tail = 0 if frame.trailer else len(frame.terminator)
        # Half a line of figures may look like a whole one, where nothing shows that it isn't.
        self._bare = bool(frame.terminator) and not (
            frame.header or layout.check or layout.on_key or self._fields.one_length
        )
        self._first = True
        self._held: tuple[Piece, Shown] | None = None
        self._heard: datetime | None = None
        self._quiet = False

    def feed(self, chunk: bytes, at: datetime) -> list[Sighting | Alarm]:
        """What the bytes up to and with ``chunk`` complete. ``at`` is aware; raises nothing."""
        found: list[Sighting | Alarm] = []
        if not chunk:
            return found
        if self._paused:
            for piece in self._framer.idle(at):
                self._take(piece, found)
        self._heard, self._quiet = at, False
        for piece in self._framer.feed(chunk, at):
            self._take(piece, found)
        return found

    def close(self, at: datetime) -> list[Sighting | Alarm]:
        """What waited for more at the end of a recording."""
        found: list[Sighting | Alarm] = []
        self._release(found)
        if half := self._framer.drop():
            found.append(self._corrupt(half, at, "half a line at the end"))
        return found

    def forget(self) -> None:
        """The pin was sighted again: what was suspect isn't any more."""
        self._plausible.suspect = None

    def silent(self, at: datetime) -> Alarm | None:
        """An alarm when nothing has come for too long, once; never for a readout that sends on
        its key only, nor for a line that is known to be lost. The first call starts the watch."""
        if self.layout.on_key or self._quiet:
            return None
        if self._heard is None:
            self._heard = at
        quiet_s = (at - self._heard).total_seconds()
        if quiet_s < self.layout.rules.silent_s:
            return None
        self._quiet = True
        said = (
            f"No figure from the readout for {quiet_s:.0f} s: is it on, is its plug in? "
            "It goes on by itself"
        )
        return Alarm(Code.SILENT, said, b"", at)

    def lost(self, at: datetime) -> Alarm:
        """The line went away: its half line is dropped, and shown."""
        half = self._framer.drop()
        self._first, self._held = True, None
        self._plausible.lost()
        self._heard, self._quiet = None, True
        said = "Readout line lost: is its plug in? It goes on by itself"
        return Alarm(Code.LOST, said, half, at)

    def back(self, at: datetime) -> Alarm:
        """The line is there again; the watch for silence starts anew."""
        self._heard, self._quiet = at, False
        return Alarm(Code.BACK, "Readout line is back: go on", b"", at)

    def _take(self, piece: Piece, found: list[Sighting | Alarm]) -> None:
        first, self._first = self._first, False
        if piece.body is None:
            found.append(self._corrupt(piece.whole, piece.at, piece.why))
            return
        shown = self._fields.read(piece.whole, piece.body)
        if isinstance(shown, Wrong):
            if shown.code is Code.CORRUPT:
                what = HALF if first else shown.said
                found.append(self._corrupt(self._raw(piece), piece.at, what))
            else:
                found.append(Alarm(shown.code, shown.said, self._raw(piece), piece.at))
            return
        if first and self._bare and piece.body[:1] in _MAY_BE_HALF:
            self._held = piece, shown
            return
        if self._held is not None:
            self._second(piece, found)
        self._shown(piece, shown, found)

    def _second(self, piece: Piece, found: list[Sighting | Alarm]) -> None:
        """A first line may be the end of one whose beginning nobody heard: where the next is longer
        and ends alike it isn't used."""
        assert self._held is not None  # noqa: S101 - the caller looks first
        held, shown = self._held
        self._held = None
        one, other = (_SHAPE.sub(b"0", p.whole) for p in (held, piece))
        if len(one) < len(other) and other.endswith(one):
            found.append(self._corrupt(self._raw(held), held.at, HALF))
        else:
            self._shown(held, shown, found)

    def _raw(self, piece: Piece) -> bytes:
        """Its bytes, without a terminator that every line has."""
        return piece.whole[: len(piece.whole) - self._tail] if self._tail else piece.whole

    def _release(self, found: list[Sighting | Alarm]) -> None:
        if self._held is not None:
            (held, shown), self._held = self._held, None
            self._shown(held, shown, found)

    def _shown(self, piece: Piece, shown: Shown, found: list[Sighting | Alarm]) -> None:
        at, raw = piece.at, self._raw(piece)
        if self._counted:
            wrong = self._plausible.counted(shown.count)
            if wrong is not None:
                found.append(Alarm(wrong.code, wrong.said, raw, at))
                if wrong.code is Code.DOUBLED:
                    return
        if shown.key:
            wrong = self._plausible.bounced(shown.figures, at)
            if wrong is not None:
                found.append(Alarm(wrong.code, wrong.said, raw, at))
                return
        wrong = self._plausible.doubt(shown.figures, at)
        if wrong is not None:
            found.append(Alarm(wrong.code, wrong.said, raw, at))
            return
        unit, source = self._unit, self.source
        readings = tuple(
            [Reading(channel, value, unit, at, source, raw) for channel, value in shown.figures]
        )
        suspect = self._plausible.suspect
        found.append(Sighting(at, readings, raw, shown.key, shown.count, shown.mode, suspect))

    @staticmethod
    def _corrupt(raw: bytes, at: datetime, what: str) -> Alarm:
        shown = raw[:_SHOWN].decode("ascii", "backslashreplace")
        said = (
            f"Readout sent {what}: {shown!r}. It was kept, and not used. If more come, check the "
            "cable and the port settings"
        )
        return Alarm(Code.CORRUPT, said, raw, at)
