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
from inspect_rec.inspection import Inspection, Kept, Step, fold
from inspect_rec.ledger import Entry
from inspect_rec.plan import Channel, SetUp
from inspect_rec.reading import Sighting
from inspect_rec.store import Store

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
        self.pending: str = ""
        self._settled = Settled(layout)
        self._locked_until: datetime | None = None
        self._alarm: Code | None = None
        self._at_wheel = False
        self._folded: Inspection | None = None

    # -- what is -------------------------------------------------------------

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
    def figures(self) -> Sighting | None:
        """The last live figures."""
        return self._settled.last

    def live(self, at: datetime) -> State:
        """State of the live figures."""
        return self._settled.state(at)

    # -- what comes in -------------------------------------------------------

    def hear(self, item: Sighting | Alarm) -> Said | None:
        """A sighting of the readout, or an alarm; the print key takes at once."""
        if isinstance(item, Alarm):
            return self._alarmed(item)
        self._alarm = None
        self._settled.hear(item)
        if not item.key:
            return self._moved_in(item)
        if self._locked(item.at):
            return None
        return self._sighted(item, key=True)

    def _alarmed(self, alarm: Alarm) -> Said | None:
        """An alarm is recorded once until it clears; what was taken stays as it is."""
        if alarm.code is not Code.BACK:
            self._settled.lose()
        if alarm.code is self._alarm:
            return None
        self._alarm = alarm.code
        body = {
            "inspection": self.id,
            "code": alarm.code.value,
            "said": alarm.said,
            "raw": alarm.raw.hex(),
            "source": self.inspection.record.set_up.readout,
        }
        entry = self._append(alarm.at, "alarm", body)
        return Said(alarm.said, entry, ok=False)

    def type(self, text: str) -> Said:
        """Digits read by eye; they wait for the key."""
        step = self.step
        if step is None or not step.by_eye or step.feature is None:
            return Said("Nothing is to be typed now", ok=False)
        bare = text.strip()
        if _BEGUN.fullmatch(bare) and not _TYPED.fullmatch(bare):
            self.pending = bare
            return Said(bare)
        if not _TYPED.fullmatch(bare):
            return Said(f"Type digits only, such as 20.7; found {bare[:20]!r}", ok=False)
        value = Decimal(bare.replace(",", "."))
        least, most, unit = _PLAUSIBLE[step.feature.channel]
        if not least <= value <= most:
            return Said(f"{bare} {unit} can't be: expected {least} to {most}", ok=False)
        self.pending = bare.replace(",", ".").lstrip("+")
        return Said(f"{self.pending} – press the key if that's right")

    def take(self, at: datetime) -> Said:  # noqa: PLR0911 - one answer a state
        """The one key: takes a still figure, confirms typed digits, or says a step is done."""
        if self._locked(at):
            return Said("Too soon after the last", ok=False)
        step = self.step
        if step is None:
            return Said("Everything is taken", ok=False)
        if step.kind in ("clamp", "unclamp"):
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
        doubt = _doubt(self.inspection, step, sighting)
        entry = self._read(step, at, taken, source, sighting, key=key)
        return Said(f"Taken. {doubt}" if doubt else "Taken", entry)

    def _by_eye(self, step: Step, at: datetime) -> Said:
        if not _TYPED.fullmatch(self.pending) or step.feature is None:
            return Said("Type the figure first", ok=False)
        unit = _PLAUSIBLE[step.feature.channel][2]
        taken = [{"channel": step.feature.channel.value, "value": self.pending, "unit": unit}]
        sighting = Sighting(at, (), self.pending.encode())
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
        }
        entry = self._append(at, "reading", body)
        self.pending = ""
        self._locked_until = at + timedelta(milliseconds=self.layout.lockout_ms)
        return entry

    # -- other acts ----------------------------------------------------------

    def strike_out(self, at: datetime, reason: str, back: int = 1) -> Said:
        """Take a standing reading back, the last or one further back; both stay visible."""
        standing = sorted(self.inspection.standing.values(), key=lambda k: k.ref)
        if len(standing) < back:
            return Said("There is nothing to strike out", ok=False)
        return self.strike(at, standing[-back], reason)

    def strike(self, at: datetime, reading: Kept, reason: str) -> Said:
        """Take one reading back."""
        station, seq = reading.ref
        body = {"entry": {"station": station, "seq": seq}, "reason": reason}
        said = self.event(at, "struck out", body)
        return Said(f"Struck out: {_named(reading)}", said.entry)

    def ground_again(
        self, at: datetime, flute: int, infeed_mm: str, how: str, noticed: str = "by key"
    ) -> Said:
        """A cut was taken: what was final on that flute doesn't stand any more."""
        body = {"flute": flute, "infeed_mm": infeed_mm, "how": how, "noticed": noticed}
        said = self.event(at, "ground again", body)
        return Said(f"Ground again: flute {flute} is to be measured anew", said.entry)

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
        return Said(f"At the wheel after {_named(last)} was final. Ground again? Press G", ok=False)


_WHY_NOT = {
    State.LIVE: "Still moving",
    State.STALE: "The figure is old: wait for the readout",
    State.LOST: "No figure: is the readout's plug in?",
    State.STILL: "",
}


def _named(reading: Kept) -> str:
    place = reading.place
    flute = f"flute {place.flute}, " if place.flute else ""
    return f"{place.feature}, {flute}{place.mark}"


def _doubt(inspection: Inspection, step: Step, sighting: Sighting) -> str:
    """What looks wrong about a figure at its place; empty where nothing does."""
    place = step.place
    if place is None or place.mark not in ("greater", "smaller"):
        return ""
    set_up: SetUp = inspection.record.set_up
    other = "smaller" if place.mark == "greater" else "greater"
    twins = [
        k
        for p, k in inspection.standing.items()
        if p.mark == other
        and (p.feature, p.when, p.round) == (place.feature, place.when, place.round)
    ]
    if not twins:
        return ""
    shown = next(r.value for r in sighting.readings if r.channel == set_up.radial)
    factor = 2 if set_up.mode == "diameter" else 1
    beside = twins[-1].figures[set_up.radial] * factor
    if (shown - beside > 0) is (place.mark == "greater"):
        return ""
    return f"Is this the side where {set_up.radial} is {place.mark}? Strike it out if not"
