"""The use case at the machine: a source's sightings, one key, entries on disk before they show.

Knows no terminal and no clock: instants come in. What is next is folded from the entries, so it
survives being killed at any instant.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from drivers.decoder import Alarm, Code
from drivers.layout import Layout
from drivers.settled import Settled, State
from inspect_rec import ledger
from inspect_rec.capture.acts import TYPED, Acts, Said
from inspect_rec.capture.live import WHY_NOT, Live
from inspect_rec.inspection import Inspection, Kept, Step, doubt, fold
from inspect_rec.ledger import Entry
from inspect_rec.plan import Channel
from inspect_rec.reading import Reading, Sighting
from inspect_rec.report.writable import writable
from inspect_rec.store import Store
from inspect_rec.units import to_mm

__all__ = ["PLAUSIBLE", "REASONS", "Capture", "Said"]

REASONS = ("film on edge", "wrong side", "knocked", "wrong flute")
"""Reasons that are offered for a strike-out, by number."""

_BEGUN = re.compile(r"[+-]?[0-9]{0,5}[.,]?")
"""What may still become a figure while it is typed."""

PLAUSIBLE = {
    Channel.TEMPERATURE: (Decimal(-10), Decimal(60), "degC"),
    Channel.ANGLE: (Decimal(0), Decimal(360), "deg"),
    Channel.INDICATOR: (Decimal(-5), Decimal(5), "mm"),
    Channel.LENGTH: (Decimal(0), Decimal(1000), "mm"),
}
_CLEAR_AFTER = timedelta(seconds=1)
"""Good figures for this long without the alarm: it is over. A line that flickers is one alarm."""
_NOUGHT_MM, _RESET_MM, _NEXT_READ = Decimal("0.010"), Decimal(1), timedelta(seconds=1)
"""A slide that stood still and in its next read is at nought, further away than a hand can turn
it in between, was not moved: its zero was set. (Rule of the house.)"""


class Capture(Acts):
    """One tool at the machine, one person, one readout or several (``others``: id -> layout)."""

    def __init__(
        self,
        store: Store,
        inspection: str,
        person: str,
        layout: Layout,
        others: Mapping[str, Layout] = MappingProxyType({}),
    ) -> None:
        self.store, self.id, self.person, self.layout = store, inspection, person, layout
        self._typed: str = ""
        self._live = Live("", layout, others)
        self._locked_until: datetime | None = None
        self._alarms: dict[Code, Alarm] = {}
        self._suspect = ""
        self._before_jump: Sighting | None = None
        self._at_wheel = False
        self._folded: Inspection | None = None

    @property
    def inspection(self) -> Inspection:
        """Everything that the entries say, folded when one was added."""
        if self._folded is None:
            self._folded = fold(self.store.entries(self.id), self.id)
        return self._folded

    @property
    def step(self) -> Step | None:
        """The next thing to do; None when everything is taken."""
        return self.inspection.next

    @property
    def pending(self) -> str:
        """Digits that wait for the key, as they will be recorded; empty where none do."""
        return self._typed.replace(",", ".").lstrip("+")

    @property
    def alarm(self) -> Alarm | None:
        """The alarm that stands; None while all is well."""
        return next(reversed(self._alarms.values()), None)

    @property
    def figures(self) -> Sighting | None:
        """The last live figures of the slides."""
        return self._live.slides

    @property
    def offered(self) -> Reading | None:
        """What a readout of its own shows of the figure that is to be read now; None where it is
        read by eye, or digits were typed."""
        found = self._instrument()
        return None if found is None or self._typed else found[1]

    def _instrument(self) -> tuple[Settled, Reading | None] | None:
        step = self.step
        if step is None or not step.by_eye or step.feature is None:
            return None
        return self._live.instrument(step.feature.instrument, step.feature.channel.value)

    def taken(self, back: int = 1) -> Kept | None:
        """The last standing reading, or one further back; None where there are fewer."""
        standing = sorted(self.inspection.standing.values(), key=lambda k: k.ref)
        return standing[-back] if 0 < back <= len(standing) else None

    def named(self, reading: Kept) -> str:
        """A reading's place in the shop's words."""
        place = reading.place
        flute = f"{self.inspection.tool.edge_word} {place.flute}, " if place.flute else ""
        point = "point " if place.mark.isdigit() else ""
        return f"{place.feature}, {flute}{point}{place.mark}"

    def live(self, at: datetime) -> State:
        """State of the live figures."""
        return self._live.state(at)

    def hear(self, heard: Sighting | Alarm, source: str = "") -> Said | None:
        """A sighting of a readout, or an alarm; the print key takes at once. ``source``: id of a
        further readout, empty for the main one."""
        if isinstance(heard, Alarm):
            return self._alarmed(heard, source)
        item = self._live.complete(heard, source)
        if item is None:
            return self._by_key(heard, source)
        if (reset := self._reset(item)) is not None:
            return self._alarmed(reset)
        over = [c for c, a in self._alarms.items() if item.at - a.at >= _CLEAR_AFTER]
        for code in over:
            del self._alarms[code]
        self._live.hear(item)
        if not item.key:
            return self._moved_in(item)
        if self._locked(item.at):
            return None
        return self._sighted(item, key=True)

    def _by_key(self, sighting: Sighting, source: str) -> Said | None:
        """An instrument's own key takes its figure where that is what is to be read."""
        step = self.step
        if not sighting.key or step is None or step.feature is None or self._locked(sighting.at):
            return None
        if self._instrument() is None or step.feature.instrument != source:
            return None
        return self._shown_by(source, sighting.at, key=True)

    def _alarmed(self, alarm: Alarm, source: str = "") -> Said | None:
        """An alarm is recorded once until it clears; what was taken stays as it is."""
        back = alarm.code is Code.BACK
        if alarm.code in _ZERO_IN_DOUBT and not source:
            self._suspect = alarm.said
        if alarm.code in (Code.ZERO, Code.IMPLAUSIBLE) and not source:
            self._before_jump = self._live.slides or self._before_jump
        if not back:
            self._live.lose(source)
        said = None if alarm.code in self._alarms else self._record_alarm(alarm, source)
        if back:
            self._alarms.pop(Code.LOST, None)
            self._alarms.pop(Code.SILENT, None)
        else:
            self._alarms[alarm.code] = alarm
        return said

    def _record_alarm(self, alarm: Alarm, source: str) -> Said:
        body = {
            "inspection": self.id,
            "code": alarm.code.value,
            "said": alarm.said,
            "raw": alarm.raw.hex(),
            "source": source or self.inspection.record.set_up.readout,
        }
        entry = self._append(alarm.at, "alarm", body)
        said = f"{source}: {alarm.said}" if source else alarm.said
        return Said(said, entry, ok=alarm.code is Code.BACK)

    def _reset(self, sighting: Sighting) -> Alarm | None:
        """A zero that somebody set while the slides stood still."""
        last = self._live.slides
        if last is None or self._live.state(last.at) is not State.STILL:
            return None
        if sighting.at - last.at > _NEXT_READ or len(last.readings) != len(sighting.readings):
            return None
        both = zip(last.readings, sighting.readings, strict=True)
        pairs = [(new, new.value - old.value) for old, new in both]
        jumped = [(r, by) for r, by in pairs if abs(by) >= _RESET_MM and abs(r.value) <= _NOUGHT_MM]
        if len(jumped) != 1 or sum(1 for _, by in pairs if by) != 1:
            return None
        reading, by = jumped[0]
        said = (
            f"{reading.channel} jumped by {by:+} to nought, slide at rest: zero was reset. "
            "Press Z, then sight the pin again"
        )
        return Alarm(Code.ZERO, said, sighting.raw, sighting.at)

    def type(self, text: str) -> Said:
        """Digits read by eye; they wait for the key."""
        step = self.step
        if step is None or not step.by_eye or step.feature is None:
            return Said("Nothing is to be typed now", ok=False)
        bare, self._typed = text.strip(), ""
        # What is refused must not leave shorter digits behind that the key would then take.
        if _BEGUN.fullmatch(bare) and not TYPED.fullmatch(bare):
            self._typed = bare
            return Said(bare)
        if not TYPED.fullmatch(bare):
            return Said(f"Type digits only, such as 20.7; found {bare[:20]!r}", ok=False)
        value = Decimal(bare.replace(",", "."))
        least, most, unit = PLAUSIBLE[step.feature.channel]
        if not least <= value <= most:
            return Said(f"{bare} {unit} can't be: expected {least} to {most}", ok=False)
        self._typed = bare
        return Said(f"{self.pending} – press the key if that's right")

    def take(self, at: datetime) -> Said:  # noqa: PLR0911 - one answer a state
        """The one key: takes a still figure, confirms typed digits, or says a step is done."""
        if self._locked(at):
            return Said("Too soon after the last", ok=False)
        step = self.step
        if step is None:
            return Said("Everything is taken", ok=False)
        if step.kind in ("clamp", "unclamp"):
            self._lock(at)
            return self.event(at, f"{step.kind}ed", {"object": step.object})
        if step.by_eye:
            if self.offered is not None and step.feature is not None:
                return self._shown_by(step.feature.instrument, at, key=False)
            return self._by_eye(step, at)
        if self.layout.on_key:
            return Said("Press the readout's key", ok=False)
        state, figures = self._live.state(at), self._live.slides
        if state is not State.STILL or figures is None:
            return Said(WHY_NOT[state], ok=False)
        return self._sighted(figures, key=False, at=at)

    def _shown_by(self, source: str, at: datetime, *, key: bool) -> Said:
        """Take what an instrument's readout shows, once it stands still or by its own key."""
        step, (settled, reading) = self.step, self._instrument() or (None, None)
        if step is None or settled is None or reading is None or settled.last is None:
            return Said(WHY_NOT[State.LOST], ok=False)
        state = settled.state(at)
        if not key and state is not State.STILL:
            return Said(WHY_NOT[state] or "Press the readout's key", ok=False)
        taken = [
            {
                "channel": reading.channel,
                "value": format(reading.value, "f"),
                "unit": reading.unit.value,
            }
        ]
        entry = self._read(step, at, taken, source, settled.last, key=key, by_eye=False)
        return Said("Taken", entry)

    def _locked(self, at: datetime) -> bool:
        return self._locked_until is not None and at < self._locked_until

    def _lock(self, at: datetime) -> None:
        """A key that bounces is one key."""
        self._locked_until = at + timedelta(milliseconds=self.layout.rules.lockout_ms)

    def _sighted(self, sighting: Sighting, *, key: bool, at: datetime | None = None) -> Said:
        step, at = self.step, at or sighting.at
        if step is None:
            return Said("Everything is taken", ok=False)
        if step.kind in ("clamp", "unclamp"):
            return Said(f"First: {step.kind} {step.object}", ok=False)
        if step.by_eye:
            return Said("This one is read by eye: type the figure", ok=False)
        have = {r.channel for r in sighting.readings}
        if not {"X", "Z"} <= have:
            return Said("Both slides are needed; the readout sent one", ok=False)
        taken = [
            {"channel": r.channel, "value": format(r.value, "f"), "unit": r.unit.value}
            for r in sighting.readings
        ]
        source = self.inspection.record.set_up.readout
        points = step.place is not None and step.place.mark.isdigit()
        wanted = {} if points else self.inspection.record.set_up.arrive
        suspect = self._suspect or self._live.came_wrong(wanted)
        entry = self._read(step, at, taken, source, sighting, key=key, suspect=suspect)
        self._asked_wheel = False
        if suspect:
            return Said(f"Taken, and suspect: {suspect}", entry, ok=False)
        return Said(doubt.taken(self.inspection.record, step.place), entry)

    def _by_eye(self, step: Step, at: datetime) -> Said:
        if not TYPED.fullmatch(self._typed) or step.feature is None:
            return Said("Type the figure first", ok=False)
        unit = PLAUSIBLE[step.feature.channel][2]
        taken = [{"channel": step.feature.channel.value, "value": self.pending, "unit": unit}]
        sighting = Sighting(at, (), self._typed.encode())
        entry = self._read(step, at, taken, step.feature.instrument, sighting, key=False)
        return Said("Taken", entry)

    def _read(
        self,
        step: Step,
        at: datetime,
        taken: list[dict[str, str]],
        source: str,
        sighting: Sighting,
        *,
        key: bool,
        by_eye: bool | None = None,
        suspect: str = "",
    ) -> Entry:
        assert step.place is not None  # noqa: S101 - a step that reads has a place
        body = {
            "inspection": self.id,
            "place": step.place.body(),
            "stage": step.stage,
            "taken": taken,
            "by_eye": step.by_eye if by_eye is None else by_eye,
            "key": key,
            "source": source,
            "taken_at": ledger.instant(sighting.at),
            "raw": sighting.raw.hex(),
            **doubt.one_more(self.inspection.record, step.place, taken),
            **({"suspect": suspect} if suspect else {}),
        }
        entry = self._append(at, "reading", body)
        self._typed, self._before_jump = "", None
        self._lock(at)
        return entry

    def strike_out(self, at: datetime, reason: str, back: int = 1) -> Said:
        """Take a standing reading back, the last or one further back; both stay visible."""
        reading = self.taken(back)
        if reading is None:
            return Said("There is nothing to strike out", ok=False)
        return self.strike(at, reading, reason)

    def strike(self, at: datetime, reading: Kept, reason: str) -> Said:
        """Take one reading back."""
        station, seq = reading.ref
        body = {"entry": {"station": station, "seq": seq}, "reason": reason}
        said = self.event(at, "struck out", body)
        return Said(f"Struck out: {self.named(reading)}", said.entry)

    def datum_set_anew(self, at: datetime, slide: str, why: str = "by key") -> Said:
        """A slide shows another zero now. Where the jump was seen its figures before and after go
        into the record; what was still has to settle anew."""
        if slide not in ("X", "Z"):
            return Said(f"There is no slide {slide}: expected X or Z", ok=False)
        before, after = self._before_jump, self.figures if self._before_jump else None
        shown = {"before_mm": _shown_mm(before, slide), "after_mm": _shown_mm(after, slide)}
        said = self.event(at, "datum set anew", {"slide": slide, **shown, "why": why})
        self._before_jump, self._suspect = None, ""
        for code in _ZERO_IN_DOUBT:
            self._alarms.pop(code, None)
        return Said(f"Zero of {slide} set anew: sight the pin again", said.entry)

    def event(self, at: datetime, kind: str, body: Mapping[str, Any]) -> Said:
        """Any other act on this tool."""
        entry = self._append(at, kind, {"inspection": self.id, **body})
        if kind == "datum set anew":
            self._live.lose("")
        return Said(kind.capitalize(), entry)

    def _append(self, at: datetime, kind: str, body: Mapping[str, Any]) -> Entry:
        self._folded = None
        return self.store.append(at, self.person, kind, writable(body))

    def _moved_in(self, sighting: Sighting) -> Said | None:
        """A slide that goes to the wheel while final readings stand: was it ground? Asked once
        each time, never assumed."""
        wheel = self.inspection.record.set_up.wheel
        if wheel is None:
            return None
        figure = next((r.value for r in sighting.readings if r.channel == wheel.slide), None)
        was, self._at_wheel = self._at_wheel, figure is not None and wheel.holds(figure)
        if was or not self._at_wheel:
            return None
        finals = [k for k in self.inspection.standing.values() if k.stage == "final"]
        if not finals:
            return None
        last = max(finals, key=lambda k: k.ref)
        self._asked_wheel = True
        return Said(
            f"At the wheel after {self.named(last)} was final. Ground again? Press G", ok=False
        )


_ZERO_IN_DOUBT = (Code.ZERO, Code.SWAPPED, Code.FAULT)
"""After these a figure of the slides means nothing until the pin is sighted again."""


def _shown_mm(sighting: Sighting | None, slide: str) -> str:
    """The slide's figure as shown, in mm; empty where it wasn't seen."""
    readings = () if sighting is None else sighting.readings
    return next((format(to_mm(r.value, r.unit), "f") for r in readings if r.channel == slide), "")
