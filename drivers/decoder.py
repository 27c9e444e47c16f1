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
from inspect_rec.units import Unit, to_mm


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


_Shown = tuple[Decimal, Decimal, datetime]
"""Figures of X and Z as shown, without a negative nought, and when."""
_NOUGHT = Decimal("0.010")
"""A figure this close to nought after a jump: somebody has set the zero anew."""
_AWAY = Decimal(1)
"""Further from nought than this before the line was lost: it was another zero."""
_SOONEST_S = 0.05
"""Lines that came in one piece bear one instant; a readout sends at most 20 a second."""
_SHOWN = 40


class Decoder:
    """Turns the bytes of one readout into sightings; ``source`` is its id in the register."""

    def __init__(self, layout: Layout, source: str) -> None:
        self.layout, self.source = layout, source
        self._fullmatch = layout.pattern.fullmatch
        self._has_unit = "unit" in layout.pattern.groupindex
        self._has_mode = "mode" in layout.pattern.groupindex
        self._has_key = "key" in layout.pattern.groupindex
        self._on_key, self._x, self._z = layout.on_key, layout.x, layout.z
        self._fastest = layout.fastest_mm_per_s / to_mm(Decimal(1), layout.unit)
        self._soonest = self._fastest * Decimal(_SOONEST_S)
        self._left = b""
        self._endless = False
        self._first = True
        self._last: _Shown | None = None
        self._before_loss: _Shown | None = None
        self._heard: datetime | None = None
        self._quiet = False

    def feed(self, chunk: bytes, at: datetime) -> list[Sighting | Alarm]:
        """What the bytes up to and with ``chunk`` complete. ``at`` is aware; raises nothing."""
        found: list[Sighting | Alarm] = []
        if not chunk:
            return found
        self._heard, self._quiet = at, False
        end, longest = self.layout.terminator, self.layout.longest
        *lines, self._left = (self._left + chunk).split(end)
        for line in lines:
            if self._endless or len(line) > longest:
                found.append(self._end_of_endless(self._cut(line, 0, at, found), at))
            else:
                found.append(self._line(line, at))
        # The last bytes of what is left may be the beginning of a terminator.
        self._left = self._cut(self._left, len(end) - 1, at, found)
        return found

    def _cut(self, line: bytes, spare: int, at: datetime, found: list[Sighting | Alarm]) -> bytes:
        """Cut what is longer than any line can be into alarms; the rest is handed back."""
        longest = self.layout.longest
        while len(line) > longest + spare:
            found.append(self._corrupt(line[:longest], at, "a line without end"))
            self._endless, self._first = True, False
            line = line[longest:]
        return line

    def _end_of_endless(self, rest: bytes, at: datetime) -> Alarm:
        """Whatever it looks like, it stood in one line with what was no figure."""
        self._endless = False
        return self._corrupt(rest, at, "the rest of a line without end")

    def silent(self, at: datetime) -> Alarm | None:
        """An alarm when nothing has come for too long, once; never for a readout that sends on
        its key only, nor for a line that is known to be lost. The first call starts the watch."""
        if self.layout.on_key or self._quiet:
            return None
        if self._heard is None:
            self._heard = at
        quiet_s = (at - self._heard).total_seconds()
        if quiet_s < self.layout.silent_s:
            return None
        self._quiet = True
        said = (
            f"No figure from the readout for {quiet_s:.0f} s: is it on, is its plug in? "
            "It goes on by itself"
        )
        return Alarm(Code.SILENT, said, b"", at)

    def lost(self, at: datetime) -> Alarm:
        """The line went away: its half line is dropped, and shown."""
        half, self._left = self._left, b""
        self._first, self._endless = True, False
        self._before_loss, self._last = self._last or self._before_loss, None
        self._heard, self._quiet = None, True
        said = "Readout line lost: is its plug in? It goes on by itself"
        return Alarm(Code.LOST, said, half, at)

    def back(self, at: datetime) -> Alarm:
        """The line is there again; the watch for silence starts anew."""
        self._heard, self._quiet = at, False
        return Alarm(Code.BACK, "Readout line is back: go on", b"", at)

    def _line(self, line: bytes, at: datetime) -> Sighting | Alarm:
        match = self._fullmatch(line)
        if match is None:
            what = "half a line at the start" if self._first else "a line that isn't of the layout"
            self._first = False
            return self._corrupt(line, at, what)
        self._first = False
        unit = match["unit"] if self._has_unit else None
        mode = match["mode"] if self._has_mode else None
        if unit is not None or mode is not None:
            wrong = self._words(unit, mode, line, at)
            if wrong is not None:
                return wrong
        x_text, z_text = match.group("x", "z")
        x, z = Decimal(x_text.decode()), Decimal(z_text.decode())
        # A slide at nought from below shows -0.000.
        x, z = x or abs(x), z or abs(z)
        alarm = self._doubt(x, z, at, line)
        if alarm is not None:
            return alarm
        said_in, source = self.layout.unit, self.source
        readings = (
            Reading("X", x, said_in, at, source, line),
            Reading("Z", z, said_in, at, source, line),
        )
        key = self._on_key or (self._has_key and match["key"] is not None)
        return Sighting(at, readings, line, key)

    def _words(
        self, unit: bytes | None, mode: bytes | None, line: bytes, at: datetime
    ) -> Alarm | None:
        """A unit or mode other than the job's: no figure, nothing is converted."""
        layout = self.layout
        if unit is not None and layout.unit_words.get(unit) is not layout.unit:
            word = {Unit.MM: "mm", Unit.INCH: "inch"}[layout.unit]
            said = f"Readout is not in {word}: set it back. Nothing was converted"
            return Alarm(Code.UNIT, said, line, at)
        if mode is not None and layout.mode_words.get(mode) != layout.mode:
            said = f"Readout is not in {layout.mode} mode: set it back. Nothing was converted"
            return Alarm(Code.MODE, said, line, at)
        return None

    def _doubt(self, x: Decimal, z: Decimal, at: datetime, raw: bytes) -> Alarm | None:
        """A figure out of range, or further than any slide can have gone since the last."""
        (x_least, x_most), (z_least, z_most) = self._x, self._z
        if not (x_least <= x <= x_most and z_least <= z <= z_most):
            return self._out_of_range(x, z, at, raw)
        before, self._last = self._last, (x, z, at)
        if before is None:
            lost, self._before_loss = self._before_loss, None
            return None if lost is None else self._switched_off(lost, (x, z, at), raw)
        x_before, z_before, at_before = before
        far = self._soonest if at is at_before else self._far(at_before, at)
        if -far <= x - x_before <= far and -far <= z - z_before <= far:
            return None
        return self._jump(before, (x, z, at), far, raw)

    def _far(self, before: datetime, at: datetime) -> Decimal:
        """How far a hand can move a slide between two instants, as shown."""
        return self._fastest * Decimal(max((at - before).total_seconds(), _SOONEST_S))

    def _out_of_range(self, x: Decimal, z: Decimal, at: datetime, raw: bytes) -> Alarm:
        least, most = self._x
        channel, value = "X", x
        if least <= x <= most:
            channel, value, (least, most) = "Z", z, self._z
        said = (
            f"{channel} {value} is out of range ({least} to {most}): check the readout. "
            "The figure was kept, and not used"
        )
        return Alarm(Code.IMPLAUSIBLE, said, raw, at)

    @staticmethod
    def _jump(before: _Shown, new: _Shown, far: Decimal, raw: bytes) -> Alarm:
        """The slide that went furthest, and whether to nought."""
        steps = (("X", new[0], new[0] - before[0]), ("Z", new[1], new[1] - before[1]))
        beyond = [s for s in steps if abs(s[2]) > far]
        to_nought = [s for s in beyond if abs(s[1]) <= _NOUGHT]
        channel, _, step = max(to_nought or beyond, key=lambda s: abs(s[2]))
        if to_nought:
            said = f"{channel} jumped by {step:+} to nought: zero was reset. Sight the pin again"
            return Alarm(Code.ZERO, said, raw, new[2])
        said = (
            f"{channel} jumped by {step:+}, further than a slide can go between two figures "
            f"({far:.0f}): sight the pin again"
        )
        return Alarm(Code.IMPLAUSIBLE, said, raw, new[2])

    @staticmethod
    def _switched_off(lost: _Shown, new: _Shown, raw: bytes) -> Alarm | None:
        """A readout that was off begins at nought, wherever its slides stand."""
        for channel, old, value in (("X", lost[0], new[0]), ("Z", lost[1], new[1])):
            if abs(value) <= _NOUGHT and abs(old) > _AWAY:
                said = (
                    f"{channel} is at nought since the line is back, it was at {old}: was the "
                    "readout off? Zero was reset. Sight the pin again"
                )
                return Alarm(Code.ZERO, said, raw, new[2])
        return None

    def _corrupt(self, raw: bytes, at: datetime, what: str) -> Alarm:
        shown = raw[:_SHOWN].decode("ascii", "backslashreplace")
        said = (
            f"Readout sent {what}: {shown!r}. It was kept, and not used. If more come, check the "
            "cable and the port settings"
        )
        return Alarm(Code.CORRUPT, said, raw, at)
