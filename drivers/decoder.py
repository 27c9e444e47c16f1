"""Bytes of a line to sightings and alarms. Pure: no port, no clock, no thread.

Any chunking gives the same sightings and the same alarms (of a layout whose frames end by a pause:
any chunking with the same instants). Nothing is guessed: what isn't a whole frame of the layout, in
its unit and mode and within its range, is an alarm that holds its bytes, and never a figure.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal

from drivers.fields import Fields
from drivers.first_line import FirstLine
from drivers.framing import HALF, LOOSE, Piece, framer
from drivers.layout import Layout
from drivers.once import Once
from drivers.plausible import Plausible
from drivers.quickly import reading, sighting
from drivers.shown import Code, Shown, Wrong
from inspect_rec.reading import Sighting

__all__ = ["Alarm", "Code", "Decoder"]


@dataclass(frozen=True, slots=True)
class Alarm:
    """Something is wrong with a line: what, in a grinder's words, and the bytes."""

    code: Code
    said: str
    raw: bytes
    at: datetime


_BYTES = 40
"""Bytes of a broken line that are shown."""
_BEFORE = timedelta(milliseconds=100)
"""Nothing for so long: what comes then is the beginning of a frame, whose bytes follow each other
at once."""
_UNREADABLE = re.compile(rb"[^\x02\x03\t\n\r\x20-\x7e]")
_PATIENCE = 3
"""Broken lines behind a first one, after which nothing is waited for that it could be compared
with."""
_ALONE = "The first line may be half of one: nothing came that it could be compared with"
Found = list[Sighting | Alarm]


class Decoder:
    """Turns the bytes of one readout into sightings; ``source`` is its id in the register.

    ``timed``: whether the instants are those at which the bytes came; of a recording of bare bytes
    they aren't, and nothing is said of speed.
    """

    def __init__(self, layout: Layout, source: str, *, timed: bool = True) -> None:
        self.layout, self.source, self._timed = layout, source, timed
        self._framer, self._fields = framer(layout), Fields(layout)
        self._plausible = Plausible(layout, timed=timed)
        self._once = Once(layout, timed=timed)
        self._begun = FirstLine(layout, timed=timed)
        self._numbered = bool({"count", "heartbeat"} & layout.names)
        self._units = {channel: layout.figures.unit_of(channel) for channel in layout.channels}
        # A terminator that every line has isn't kept with it.
        self._tail = b"" if layout.frame.trailer else layout.frame.terminator
        self._silent_s = layout.silent_s
        self._first = True
        self._behind: list[Alarm] = []
        self._heard: datetime | None = None
        self._mute = True
        self._listens: datetime | None = None
        self._quiet = False

    def feed(self, chunk: bytes, at: datetime) -> Found:
        """What the bytes up to and with ``chunk`` complete. ``at`` is aware; raises nothing."""
        found: Found = []
        if not chunk:
            return found
        self._heard, self._quiet, self._mute = at, False, False
        for piece in self._framer.feed(chunk, at):
            self._take(piece, found)
        return found

    def idle(self, at: datetime) -> Found:
        """Nothing came until ``at``: what a pause completes."""
        found: Found = []
        for piece in self._framer.idle(at):
            self._take(piece, found)
        if self._mute:
            self._hush(at)
        return found

    def close(self, at: datetime) -> Found:
        """What waited for more at the end of a recording."""
        found: Found = []
        for piece in self._framer.end():
            self._take(piece, found)
        if self._begun.waits:
            self._shown(*self._begun.given_up(), found, suspect=_ALONE)
            self._tell(found)
        if half := self._framer.drop():
            wrong = self._fields.fault(half)
            if wrong is not None:
                found.append(Alarm(wrong.code, wrong.said, half, at))
            else:
                found.append(self._corrupt(half, at, "half a line at the end"))
        return found

    @property
    def calm(self) -> bool:
        """Whether nothing hangs over: no line waits, no figure was refused."""
        return self._plausible.calm and not self._begun.waits and not self._behind

    @property
    def suspect(self) -> str | None:
        """Why what is shown can't be trusted until the pin is sighted again."""
        return self._plausible.suspect

    def went_on(self, figures: Mapping[str, tuple[Decimal, ...]], at: datetime) -> None:
        """Frames were read elsewhere of which nothing is to be said; of each channel the last two
        figures."""
        self._plausible.went_on(figures, at)

    def forget(self) -> None:
        """The pin was sighted again: what was suspect isn't any more."""
        self._plausible.suspect = None

    def silent(self, at: datetime) -> Alarm | None:
        """An alarm when nothing has come for too long, once; never for a readout that sends on
        its key only, nor for a line that is known to be lost. The first call starts the watch."""
        silent_s = self.layout.silent_s
        if silent_s is None or self._quiet:
            return None
        if self._heard is None:
            self._heard = at
        quiet_s = (at - self._heard).total_seconds()
        if quiet_s < silent_s:
            return None
        self._quiet = True
        said = (
            f"No figure from the readout for {quiet_s:.0f} s: is it on, is its plug in? "
            "It goes on by itself"
        )
        return Alarm(Code.SILENT, said, b"", at)

    def lost(self, at: datetime, why: str = "") -> Alarm:
        """The line went away, or isn't there yet: its half line is dropped, and shown."""
        half = b"".join(alarm.raw for alarm in self._behind) + self._framer.drop()
        if self._begun.waits:
            half = self._begun.given_up()[0].whole + half
        self._first, self._behind = True, []
        self._mute, self._listens = True, None
        self._begun = FirstLine(self.layout, timed=self._timed)
        self._plausible.lost()
        self._once.lost()
        self._heard, self._quiet = None, True
        said = f"Readout line lost: {why or 'is its plug in? It goes on by itself'}"
        return Alarm(Code.LOST, said, half, at)

    def back(self, at: datetime) -> Alarm:
        """The line is there again; the watch for silence starts anew."""
        self._heard, self._quiet = at, False
        return Alarm(Code.BACK, "Readout line is back: go on", b"", at)

    def _hush(self, at: datetime) -> None:
        """Nothing came yet since somebody listens."""
        if self._listens is None:
            self._listens = at
        elif at - self._listens >= _BEFORE:
            self._begun.quiet_before()

    def _take(self, piece: Piece, found: Found) -> None:
        first, self._first = self._first, False
        shown: Shown | Wrong
        if piece.body is None:
            shown = self._fields.fault(piece.whole) or Wrong(Code.CORRUPT, piece.why)
        else:
            shown = self._fields.read(piece.whole, piece.body)
        if isinstance(shown, Wrong):
            if shown.code is not Code.CORRUPT:
                self._wrong(piece, shown, found)
            elif at := self._fields.begins_within(piece.body or b""):
                # Foreign bytes, and behind them a whole line.
                self._first = first
                self._take(Piece(piece.whole[:at], piece.at, None, LOOSE), found)
                rest = piece.whole[at:]
                self._take(Piece(rest, piece.at, rest.removesuffix(self._tail)), found)
            else:
                self._wrong(piece, replace(shown, said=HALF) if first else shown, found)
        elif self._begun.waits:
            held, whole = self._begun.compared(piece, shown)
            if whole:
                self._shown(*held, found)
            else:
                found.append(self._corrupt(self._raw(held[0]), held[0].at, HALF))
            self._tell(found)
            self._shown(piece, shown, found)
        elif not self._begun.hold(piece, shown):
            self._shown(piece, shown, found)

    def _wrong(self, piece: Piece, wrong: Wrong, found: Found) -> None:
        """A frame that is no reading; its counter is counted all the same."""
        lost = self._once.counted(wrong.count)
        raw, at = self._raw(piece), piece.at
        alarms = [] if lost is None else [Alarm(lost.code, lost.said, raw, at)]
        if wrong.code is Code.CORRUPT:
            alarms.append(self._corrupt(raw, at, wrong.said))
        else:
            alarms.append(Alarm(wrong.code, wrong.said, raw, at))
        if not self._begun.waits:
            found += alarms
            return
        # What is said stays in the order of what came.
        self._behind += alarms
        if wrong.code in (Code.UNIT, Code.MODE) or len(self._behind) >= _PATIENCE:
            held, _ = self._begun.given_up()
            found.append(self._corrupt(self._raw(held), held.at, HALF))
            self._tell(found)

    def _tell(self, found: Found) -> None:
        """Alarms that waited behind a first line."""
        found += self._behind
        self._behind = []

    def _raw(self, piece: Piece) -> bytes:
        """Its bytes, without a terminator that every line has."""
        return piece.whole.removesuffix(self._tail)

    def _shown(
        self, piece: Piece, shown: Shown, found: Found, *, suspect: str | None = None
    ) -> None:
        at, raw, figures = piece.at, self._raw(piece), shown.figures
        if (self._numbered or shown.key) and self._repeats(shown, raw, at, found):
            return
        wrong = self._plausible.doubt(figures, at)
        if wrong is not None:
            found.append(Alarm(wrong.code, wrong.said, raw, at))
            return
        units, source = self._units, self.source
        readings = tuple(
            [reading(channel, value, units[channel], at, source, raw) for channel, value in figures]
        )
        suspect = self._plausible.suspect or suspect
        found.append(sighting(at, readings, raw, shown.key, shown.count, shown.mode, suspect))

    def _repeats(self, shown: Shown, raw: bytes, at: datetime, found: Found) -> bool:
        """Whether the frame is another's repeat; what its counter says is told."""
        wrong = (
            self._once.counted(shown.count),
            self._once.stale(shown.beat, at),
            self._once.bounced(shown.figures, at) if shown.key else None,
        )
        told = [each for each in wrong if each is not None]
        found.extend(Alarm(each.code, each.said, raw, at) for each in told)
        return any(each.code is Code.DOUBLED for each in told)

    @staticmethod
    def _corrupt(raw: bytes, at: datetime, what: str) -> Alarm:
        shown = raw[:_BYTES].decode("ascii", "backslashreplace")
        seven = bytes(byte & 0x7F for byte in raw)
        what_now = "check the cable and the port settings"
        if seven != raw and 8 * len(_UNREADABLE.findall(seven)) <= len(seven):
            what_now = "the readout may send 7 bits with parity: check the port settings"
        said = (
            f"Readout sent {what}: {shown!r}. It was kept, and not used. If more come, {what_now}"
        )
        return Alarm(Code.CORRUPT, said, raw, at)
