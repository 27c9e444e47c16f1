"""The use case at the machine: a source's sightings, one key, entries on disk before they show.

Knows no terminal and no clock: instants come in. What is next is folded from the entries, so it
survives being killed at any instant.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from drivers.decoder import Alarm, Code
from drivers.layout import Layout
from drivers.settled import Settled, State
from inspect_rec import ledger
from inspect_rec.inspection import Inspection, Kept, Step, doubt, fold
from inspect_rec.ledger import Entry
from inspect_rec.plan import Channel
from inspect_rec.reading import Sighting
from inspect_rec.store import Store
from inspect_rec.units import to_mm

REASONS = ("film on edge", "wrong side", "knocked", "wrong flute")
"""Reasons that are offered for a strike-out, by number."""

_TYPED = re.compile(r"[+-]?[0-9]{1,5}([.,][0-9]{1,5})?")
_BEGUN = re.compile(r"[+-]?[0-9]{0,5}[.,]?")
"""What may still become a figure while it is typed."""

_PLAUSIBLE = {
    Channel.TEMPERATURE: (Decimal(-10), Decimal(60), "degC"),
    Channel.ANGLE: (Decimal(0), Decimal(360), "deg"),
    Channel.INDICATOR: (Decimal(-5), Decimal(5), "mm"),
    Channel.LENGTH: (Decimal(0), Decimal(1000), "mm"),
}
_LARGEST_CUT_MM = Decimal(20)
_CLEAR_AFTER = timedelta(seconds=1)
"""Good figures for this long without the alarm: it is over. A line that flickers is one alarm."""
_NOUGHT_MM, _RESET_MM, _NEXT_READ = Decimal("0.010"), Decimal(1), timedelta(seconds=1)
"""A slide that stood still and in its next read is at nought, further away than a hand can turn
it in between, was not moved: its zero was set. (Rule of the house.)"""


@dataclass(frozen=True, slots=True)
class Said:
    """What an act led to, in words; ``entry`` is on disk when there is one."""

    words: str
    entry: Entry | None = None
    ok: bool = True


class Capture:
    """One tool at the machine, one person, one readout."""

    def __init__(self, store: Store, inspection: str, person: str, layout: Layout) -> None:
        self.store, self.id, self.person, self.layout = store, inspection, person, layout
        self._typed: str = ""
        self._settled = Settled(layout)
        self._locked_until: datetime | None = None
        self._alarms: dict[Code, Alarm] = {}
        self._before_jump: Sighting | None = None
        self._at_wheel = self._asked_wheel = False
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
        """The last live figures."""
        return self._settled.last

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
        return self._settled.state(at)

    def hear(self, item: Sighting | Alarm) -> Said | None:
        """A sighting of the readout, or an alarm; the print key takes at once."""
        if isinstance(item, Alarm):
            return self._alarmed(item)
        if (reset := self._reset(item)) is not None:
            return self._alarmed(reset)
        over = [c for c, a in self._alarms.items() if item.at - a.at >= _CLEAR_AFTER]
        for code in over:
            del self._alarms[code]
        self._settled.hear(item)
        if not item.key:
            return self._moved_in(item)
        if self._locked(item.at):
            return None
        return self._sighted(item, key=True)

    def _alarmed(self, alarm: Alarm) -> Said | None:
        """An alarm is recorded once until it clears; what was taken stays as it is."""
        back = alarm.code is Code.BACK
        if alarm.code in (Code.ZERO, Code.IMPLAUSIBLE):
            self._before_jump = self._settled.last or self._before_jump
        if not back:
            self._settled.lose()
        said = None if alarm.code in self._alarms else self._record_alarm(alarm)
        if back:
            self._alarms.pop(Code.LOST, None)
            self._alarms.pop(Code.SILENT, None)
        else:
            self._alarms[alarm.code] = alarm
        return said

    def _record_alarm(self, alarm: Alarm) -> Said:
        body = {
            "inspection": self.id,
            "code": alarm.code.value,
            "said": alarm.said,
            "raw": alarm.raw.hex(),
            "source": self.inspection.record.set_up.readout,
        }
        entry = self._append(alarm.at, "alarm", body)
        return Said(alarm.said, entry, ok=alarm.code is Code.BACK)

    def _reset(self, sighting: Sighting) -> Alarm | None:
        """A zero that somebody set while the slides stood still."""
        last = self._settled.last
        if last is None or self._settled.state(last.at) is not State.STILL:
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
        if _BEGUN.fullmatch(bare) and not _TYPED.fullmatch(bare):
            self._typed = bare
            return Said(bare)
        if not _TYPED.fullmatch(bare):
            return Said(f"Type digits only, such as 20.7; found {bare[:20]!r}", ok=False)
        value = Decimal(bare.replace(",", "."))
        least, most, unit = _PLAUSIBLE[step.feature.channel]
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
            return self._by_eye(step, at)
        if self.layout.on_key:
            return Said("Press the readout's key", ok=False)
        state = self._settled.state(at)
        if state is not State.STILL or self._settled.last is None:
            return Said(_WHY_NOT[state], ok=False)
        return self._sighted(self._settled.last, key=False, at=at)

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
        entry = self._read(step, at, taken, source, sighting, key=key)
        self._asked_wheel = False
        return Said(doubt.taken(self.inspection.record, step.place), entry)

    def _by_eye(self, step: Step, at: datetime) -> Said:
        if not _TYPED.fullmatch(self._typed) or step.feature is None:
            return Said("Type the figure first", ok=False)
        unit = _PLAUSIBLE[step.feature.channel][2]
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
    ) -> Entry:
        assert step.place is not None  # noqa: S101 - a step that reads has a place
        body = {
            "inspection": self.id,
            "place": step.place.body(),
            "stage": step.stage,
            "taken": taken,
            "by_eye": step.by_eye,
            "key": key,
            "source": source,
            "taken_at": ledger.instant(sighting.at),
            "raw": sighting.raw.hex(),
            **doubt.one_more(self.inspection.record, step.place, taken),
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

    def ground_again(
        self, at: datetime, flute: int, infeed_mm: str, how: str, noticed: str = ""
    ) -> Said:
        """A cut was taken: what was final on that flute (0 = all) doesn't stand any more.

        ``noticed``: how it came to be recorded; without it by key, or by key after the slide
        went to the wheel.
        """
        edges, word = self.inspection.tool.edges, self.inspection.tool.edge_word
        if not 0 <= flute <= edges:
            return Said(f"There is no {word} {flute}: expected 1 to {edges}, or 0 = all", ok=False)
        infeed_mm = infeed_mm.strip().replace(",", ".")
        if infeed_mm and (
            not _TYPED.fullmatch(infeed_mm) or not 0 < Decimal(infeed_mm) <= _LARGEST_CUT_MM
        ):
            return Said(f"{infeed_mm} mm can't be an infeed: type it in mm, as 0.012", ok=False)
        by_key = "by key, asked when the slide was at the wheel" if self._asked_wheel else "by key"
        body = {"flute": flute, "infeed_mm": infeed_mm, "how": how, "noticed": noticed or by_key}
        said = self.event(at, "ground again", body)
        self._asked_wheel = False
        what = f"{word} {flute} is" if flute else f"all {edges} edges are"
        return Said(f"Ground again: {what} to be measured anew", said.entry)

    def clamped(self, at: datetime, thing: str) -> Said:
        """Something was clamped: the tool by its mark, or a piece of equipment by its id."""
        return self.event(at, "clamped", {"object": thing})

    def unclamped(self, at: datetime, thing: str) -> Said:
        """Something was taken out."""
        return self.event(at, "unclamped", {"object": thing})

    def datum_set_anew(self, at: datetime, slide: str, why: str = "by key") -> Said:
        """A slide shows another zero now. Where the jump was seen its figures before and after go
        into the record; what was still has to settle anew."""
        if slide not in ("X", "Z"):
            return Said(f"There is no slide {slide}: expected X or Z", ok=False)
        before, after = self._before_jump, self.figures if self._before_jump else None
        shown = {"before_mm": _shown_mm(before, slide), "after_mm": _shown_mm(after, slide)}
        said = self.event(at, "datum set anew", {"slide": slide, **shown, "why": why})
        self._before_jump = None
        self._alarms.pop(Code.ZERO, None)
        return Said(f"Zero of {slide} set anew: sight the pin again", said.entry)

    def wheel_dressed(self, at: datetime, why: str = "") -> Said:
        """The wheel was dressed."""
        return self.event(at, "wheel dressed", {"why": why} if why else {})

    def received(self, at: datetime, state: str) -> Said:
        """The state in which the tool arrived, in words."""
        record = self.inspection.record
        body = {"job": record.job.job.number, "tool": record.mark, "state": state}
        return self.event(at, "received", body)

    def revision_changed(self, at: datetime, to: str) -> Said:
        """The drawing has a new revision: no verdict until its job file is opened."""
        record = self.inspection.record
        body = {"job": record.job.job.number, "from": record.revision, "to": to}
        return self.event(at, "drawing revision changed", body)

    def measure_again(
        self, at: datetime, characteristics: list[str], repeats: int, master: str, why: str
    ) -> Said:
        """An order to measure again."""
        body = {"characteristics": characteristics, "repeats": repeats, "master": master}
        return self.event(at, "measure again", body | {"why": why})

    def event(self, at: datetime, kind: str, body: Mapping[str, Any]) -> Said:
        """Any other act on this tool."""
        entry = self._append(at, kind, {"inspection": self.id, **body})
        if kind == "datum set anew":
            self._settled.lose()
        return Said(kind.capitalize(), entry)

    def _append(self, at: datetime, kind: str, body: Mapping[str, Any]) -> Entry:
        entry = self.store.append(at, self.person, kind, body)
        self._folded = None
        return entry

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


_WHY_NOT = {
    State.LIVE: "Still moving",
    State.STALE: "The figure is old: wait for the readout",
    State.LOST: "No figure: is the readout's plug in?",
    State.STILL: "",
}


def _shown_mm(sighting: Sighting | None, slide: str) -> str:
    """The slide's figure as shown, in mm; empty where it wasn't seen."""
    readings = () if sighting is None else sighting.readings
    return next((format(to_mm(r.value, r.unit), "f") for r in readings if r.channel == slide), "")
