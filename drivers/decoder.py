"""Bytes of a line to sightings and alarms. Pure: no port, no clock, no thread.

Any chunking gives the same sightings and the same alarms. Nothing is guessed: what isn't a
complete line of the layout, in its unit and mode and within its range, is an alarm that holds
its bytes, and never a figure.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from enum import StrEnum

from drivers.layout import Layout
from inspect_rec.reading import Reading, Sighting


class Code(StrEnum):
    """Kinds of alarm."""

    CORRUPT = "corrupt"
    UNIT = "unit changed"
    MODE = "mode changed"
    IMPLAUSIBLE = "implausible"
    ZERO = "zero reset"
    SILENT = "silent"
    LOST = "line lost"
    BACK = "line back"


@dataclass(frozen=True, slots=True)
class Alarm:
    """Something is wrong with a line: what, in a grinder's words, and the bytes."""

    code: Code
    said: str
    raw: bytes
    at: datetime


_JUMP_TO_ZERO = Decimal("0.010")
"""A figure this close to nought after a jump: somebody has set the zero anew."""


class Decoder:
    """Turns the bytes of one readout into sightings; ``source`` is its id in the register."""

    def __init__(self, layout: Layout, source: str) -> None:
        self.layout, self.source = layout, source
        self._left = b""
        self._last: Sighting | None = None
        self._heard: datetime | None = None
        self._silent = False
        self._first = True

    def feed(self, chunk: bytes, at: datetime) -> list[Sighting | Alarm]:
        """What the bytes up to and with ``chunk`` complete."""
        found: list[Sighting | Alarm] = []
        if chunk:
            self._heard, self._silent = at, False
        end = self.layout.terminator
        *lines, self._left = (self._left + chunk).split(end)
        for line in lines:
            rest = self._endless(line, 0, at, found)
            found.append(self._line(rest, at))
        self._left = self._endless(self._left, len(end) - 1, at, found)
        return found

    def _endless(
        self, line: bytes, spare: int, at: datetime, found: list[Sighting | Alarm]
    ) -> bytes:
        """Cut what is longer than any line can be into alarms; the rest is handed back.

        ``spare``: bytes at the end that may be the beginning of a terminator.
        """
        longest = self.layout.longest
        while len(line) > longest + spare:
            found.append(self._corrupt(line[:longest], at, "a line without end"))
            self._first = False
            line = line[longest:]
        return line

    def silent(self, at: datetime) -> Alarm | None:
        """An alarm when nothing has come for too long, once; never for a readout that sends on
        its key only."""
        if self.layout.on_key or self._silent or self._heard is None:
            return None
        if (at - self._heard).total_seconds() < self.layout.silent_s:
            return None
        self._silent = True
        said = f"Readout line silent since {self._heard:%H:%M:%S}: is its plug in?"
        return Alarm(Code.SILENT, said, b"", at)

    def lost(self, at: datetime) -> Alarm:
        """The line went away: its half line is dropped, and shown."""
        half, self._left = self._left, b""
        self._first, self._last, self._heard = True, None, None
        said = "Readout line lost: is its plug in? It goes on by itself"
        return Alarm(Code.LOST, said, half, at)

    def _line(self, line: bytes, at: datetime) -> Sighting | Alarm:
        first, self._first = self._first, False
        match = self.layout.pattern.fullmatch(line)
        if match is None:
            what = "half a line at the start" if first else "a line that isn't of the layout"
            return self._corrupt(line, at, what)
        groups = match.groupdict()
        alarm = self._words(groups, line, at)
        if alarm:
            return alarm
        readings = tuple(
            Reading(
                axis.upper(),
                Decimal(groups[axis].decode("ascii")) + 0,
                self.layout.unit,
                at,
                self.source,
                line,
            )
            for axis in ("x", "z")
            if groups.get(axis) is not None
        )
        sighting = Sighting(at, readings, line, key=groups.get("key") is not None)
        return self._plausible(sighting) or sighting

    def _words(self, groups: dict[str, bytes | None], line: bytes, at: datetime) -> Alarm | None:
        """A unit or mode other than the job's: no figure, nothing is converted."""
        unit = groups.get("unit")
        if unit is not None and self.layout.unit_words.get(unit) is not self.layout.unit:
            said = f"Readout is not in {self.layout.unit}: set it back. Nothing was converted"
            return Alarm(Code.UNIT, said, line, at)
        mode = groups.get("mode")
        if mode is not None and self.layout.mode_words.get(mode) != self.layout.mode:
            said = f"Readout is not in {self.layout.mode} mode: set it back. Nothing was converted"
            return Alarm(Code.MODE, said, line, at)
        return None

    def _plausible(self, sighting: Sighting) -> Alarm | None:
        """A figure out of range, or further than any slide can have gone since the last."""
        for reading in sighting.readings:
            if not self.layout.least <= reading.value <= self.layout.most:
                said = (
                    f"{reading.channel} {reading.value} is out of range "
                    f"({self.layout.least} to {self.layout.most}): check the readout"
                )
                return Alarm(Code.IMPLAUSIBLE, said, sighting.raw, sighting.at)
        return self._jump(sighting)

    def _jump(self, sighting: Sighting) -> Alarm | None:
        before, self._last = self._last, sighting
        if before is None or len(before.readings) != len(sighting.readings):
            return None
        seconds = max((sighting.at - before.at).total_seconds(), 0.05)
        for old, new in zip(before.readings, sighting.readings, strict=True):
            step = abs(new.value - old.value)
            if step <= self.layout.fastest_mm_per_s * Decimal(repr(seconds)):
                continue
            if abs(new.value) <= _JUMP_TO_ZERO:
                said = (
                    f"{new.channel} jumped by {new.value - old.value:+} to nought: zero was reset. "
                    "Sight the pin again"
                )
                return Alarm(Code.ZERO, said, sighting.raw, sighting.at)
            said = (
                f"{new.channel} jumped by {new.value - old.value:+} in {seconds:.2f} s, more than "
                "a slide can: sight the pin again"
            )
            return Alarm(Code.IMPLAUSIBLE, said, sighting.raw, sighting.at)
        return None

    def _corrupt(self, raw: bytes, at: datetime, what: str) -> Alarm:
        shown = raw[:40].decode("ascii", "backslashreplace")
        said = f"Readout sent {what}: {shown!r}. It was kept, and not used"
        return Alarm(Code.CORRUPT, said, raw, at)
