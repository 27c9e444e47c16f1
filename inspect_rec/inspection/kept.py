"""What the entries of one tool hold: readings at their places, events, and what still stands.

Reads entries only; a reading that was struck out or ground away is kept here too, marked.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from inspect_rec.errors import LedgerError
from inspect_rec.ledger import Entry
from inspect_rec.plan import JobFile, SetUp, ShopFile
from inspect_rec.units import Unit, to_mm

Ref = tuple[str, int]

BEFORE, AFTER, CLOSURE, GROUND = "before", "after", "closure", "after grinding"
TEMPERATURE = "temperature"
"""Name of the built-in feature whose marks are the places of the thermometer."""


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where a reading belongs; ``round`` counts the orders to measure again."""

    feature: str
    flute: int = 0
    mark: str = ""
    repeat: int = 1
    when: str = ""
    round: int = 0

    def body(self) -> dict[str, Any]:
        """As it stands in an entry, without what is absent."""
        whole = {
            "feature": self.feature,
            "flute": self.flute,
            "mark": self.mark,
            "repeat": self.repeat,
            "when": self.when,
            "round": self.round,
        }
        return {key: value for key, value in whole.items() if value or key == "feature"}

    @classmethod
    def of(cls, body: Mapping[str, Any]) -> Place:
        """From an entry; raises LedgerError for what isn't a place."""
        try:
            return cls(**body)
        except TypeError as error:
            raise LedgerError("an entry names no place", found=repr(dict(body))[:80]) from error


@dataclass(frozen=True, slots=True)
class Kept:
    """One reading at its place. ``figures``: mm, deg or degC by channel, exact; ``shown``: the
    figures as the readout showed them."""

    place: Place
    figures: Mapping[str, Decimal]
    shown: Mapping[str, str]
    stage: str
    ref: Ref
    at: datetime.datetime
    by_eye: bool
    source: str
    person: str
    once_more: bool = False
    """Whether its place is sighted once more than planned: the repeats differed, or this is it."""
    suspect: str = ""
    """Why it can't be trusted: nothing is judged from it until its place is sighted again."""


@dataclass(frozen=True, slots=True)
class StruckOut:
    """A reading taken back by a person, and why."""

    reading: Kept
    person: str
    reason: str
    at: datetime.datetime


@dataclass(frozen=True, slots=True)
class Cut:
    """Metal was taken off after a final reading: what it voids isn't measured any more."""

    ref: Ref
    at: datetime.datetime
    flute: int
    infeed_mm: str
    how: str
    person: str


@dataclass(frozen=True, slots=True)
class Round:
    """An order to measure again: characteristics, sightings each, the master to use."""

    number: int
    characteristics: tuple[str, ...]
    repeats: int
    master: str
    why: str


@dataclass(frozen=True, slots=True)
class Document:
    """A file that came with an act: its name, and what it is known by. ``picture``: ``PNG`` or
    ``JPEG`` where it is one that stands on the report."""

    name: str
    sha256: str
    size: int
    picture: str = ""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture of the tool that stands on its report: of which edge (0 = of none), and what it
    shows. ``struck``: why it was struck out; empty while it stands."""

    ref: Ref
    at: datetime.datetime
    document: Document
    flute: int
    words: str
    person: str
    struck: str = ""


@dataclass(frozen=True, slots=True)
class Concession:
    """The customer takes what isn't shown to conform, or doesn't. It covers what was measured
    before it, and never turns a verdict into another."""

    ref: Ref
    at: datetime.datetime
    number: str
    """The customer's reference."""
    characteristics: tuple[str, ...]
    flutes: tuple[int, ...]
    """The flutes it covers; empty = all."""
    words: str
    granted_by: str
    person: str
    document: Document | None


@dataclass
class Record:
    """Everything the entries of one tool say, in order."""

    inspection: str
    job: JobFile
    shop: ShopFile
    entries: list[Entry] = field(default_factory=list)
    readings: list[Kept] = field(default_factory=list)
    void: dict[Ref, str] = field(default_factory=dict)
    """Reading -> why it doesn't count any more."""
    struck: list[StruckOut] = field(default_factory=list)
    cuts: list[Cut] = field(default_factory=list)
    rounds: list[Round] = field(default_factory=list)
    concessions: list[Concession] = field(default_factory=list)
    pictures: list[Picture] = field(default_factory=list)
    clamped: str = ""
    state: str = ""
    received: datetime.datetime | None = None
    revision: str = ""
    """Drawing revision in force; differs from the job's after a change without a new job file."""
    refs: dict[Ref, int] = field(default_factory=dict)

    @property
    def mark(self) -> str:
        """The tool's mark."""
        return self.inspection.split("/", 1)[1]

    @property
    def set_up(self) -> SetUp:
        """The job's own set-up, else the shop's."""
        return self.job.set_up or self.shop.set_up

    def standing(self) -> dict[Place, Kept]:
        """The readings that count, by place."""
        return {r.place: r for r in self.readings if r.ref not in self.void}


def record(entries: Iterable[Entry], inspection: str) -> Record:
    """Read the entries of one tool, oldest first.

    Raises LedgerError where no entry opened its job, where the job has no such tool, or where an
    entry isn't of the form it must be.
    """
    found: Record | None = None
    for entry in entries:
        if entry.kind == "job opened":
            found = _opened(found, entry, inspection)
        elif found is not None:
            _READ.get(entry.kind, _other)(found, entry)
        if found is not None:
            found.entries.append(entry)
    if found is None:
        raise LedgerError(f"no entry opened the job of {inspection}", do="Open its job file first")
    marks = [tool.mark for tool in found.job.tool]
    if found.mark not in marks:
        raise LedgerError(
            f"the job of {inspection} has no such tool",
            expected=" | ".join(marks),
            found=found.mark,
        )
    return found


def _opened(found: Record | None, entry: Entry, inspection: str) -> Record:
    job = JobFile.model_validate(entry.body["plan"])
    shop = ShopFile.model_validate(entry.body["shop"])
    if found is None:
        return Record(inspection, job, shop, revision=job.job.drawing_revision)
    found.job, found.shop, found.revision = job, shop, job.job.drawing_revision
    return found


def _other(found: Record, entry: Entry) -> None:
    """Kinds that change nothing of what was measured."""


def _received(found: Record, entry: Entry) -> None:
    found.state, found.received = str(entry.body.get("state", "")), entry.at


def _clamped(found: Record, entry: Entry) -> None:
    found.clamped = str(entry.body["object"])


def _unclamped(found: Record, _entry: Entry) -> None:
    found.clamped = "none"


def _reading(found: Record, entry: Entry) -> None:
    body = entry.body
    place = Place.of(body["place"])
    kept = Kept(
        place=place,
        figures=figures_of(body["taken"], found.set_up),
        shown={t["channel"]: t["value"] for t in body["taken"]},
        stage=body["stage"],
        ref=(entry.station, entry.seq),
        at=entry.at,
        by_eye=body["by_eye"],
        source=body["source"],
        person=entry.person,
        once_more=bool(body.get("once_more", False)),
        suspect=str(body.get("suspect", "")),
    )
    for earlier in found.readings:
        if earlier.place == place and earlier.ref not in found.void:
            found.void[earlier.ref] = "taken again"
    found.readings.append(kept)


def figures_of(taken: Iterable[Mapping[str, str]], set_up: SetUp) -> dict[str, Decimal]:
    """Figures in mm, deg or degC; a slide in diameter mode shows twice its travel."""
    figures: dict[str, Decimal] = {}
    for each in taken:
        value, unit = Decimal(each["value"]), Unit(each["unit"])
        if unit in (Unit.MM, Unit.INCH):
            value = to_mm(value, unit)
        if each["channel"] == set_up.radial and set_up.mode == "diameter":
            value /= 2
        figures[each["channel"]] = value
    return figures


def _struck_out(found: Record, entry: Entry) -> None:
    ref = (entry.body["entry"]["station"], entry.body["entry"]["seq"])
    reason = str(entry.body.get("reason", ""))
    if any(p.ref == ref for p in found.pictures):
        found.pictures = [
            replace(p, struck=reason or "–") if p.ref == ref else p for p in found.pictures
        ]
        return
    reading = next((r for r in found.readings if r.ref == ref), None)
    if reading is None:
        raise LedgerError(
            "a strike-out names no reading of this tool", where=f"{entry.station} {entry.seq}"
        )
    found.void[ref] = "struck out"
    found.struck.append(StruckOut(reading, entry.person, reason, entry.at))


def _ground(found: Record, entry: Entry) -> None:
    """A cut voids what was final on that flute, and on the tool as a whole, since any cut may
    have moved it; closures that vouched for it go too. Other flutes' own finals stand."""
    body, ref = entry.body, (entry.station, entry.seq)
    flute = int(body.get("flute", 0))
    final = [r for r in found.readings if r.stage == "final" and r.ref not in found.void]
    cut = [r for r in final if flute == 0 or r.place.flute in (0, flute)]
    touched = {r.place.feature for r in cut}
    for reading in found.readings:
        closes = reading.place.when == CLOSURE and reading.place.feature in touched
        if (reading in cut or closes) and reading.ref not in found.void:
            found.void[reading.ref] = "ground again"
    found.cuts.append(
        Cut(
            ref,
            entry.at,
            flute,
            str(body.get("infeed_mm", "")),
            str(body.get("how", "")),
            entry.person,
        )
    )


def _measure_again(found: Record, entry: Entry) -> None:
    body = entry.body
    found.rounds.append(
        Round(
            number=len(found.rounds) + 1,
            characteristics=tuple(body["characteristics"]),
            repeats=int(body.get("repeats", 0)),
            master=str(body.get("master", "")),
            why=str(body.get("why", "")),
        )
    )


def _concession(found: Record, entry: Entry) -> None:
    body, given = entry.body, entry.body.get("document")
    document = None
    if given:
        document = Document(str(given["name"]), str(given["sha256"]), int(given["size"]))
    found.concessions.append(
        Concession(
            ref=(entry.station, entry.seq),
            at=entry.at,
            number=str(body["number"]),
            characteristics=tuple(body["characteristics"]),
            flutes=tuple(body.get("flutes", ())),
            words=str(body.get("words", "")),
            granted_by=str(body.get("granted_by", "")),
            person=entry.person,
            document=document,
        )
    )


def _picture(found: Record, entry: Entry) -> None:
    file, shown = entry.body["file"], entry.body["picture"]
    document = Document(
        str(file["name"]), str(file["digest"]), int(file["size"]), str(shown["kind"])
    )
    found.pictures.append(
        Picture(
            (entry.station, entry.seq),
            entry.at,
            document,
            int(shown.get("flute", 0)),
            str(shown.get("words", "")),
            entry.person,
        )
    )


def _revision(found: Record, entry: Entry) -> None:
    found.revision = str(entry.body["to"])


_READ = {
    "received": _received,
    "clamped": _clamped,
    "unclamped": _unclamped,
    "reading": _reading,
    "struck out": _struck_out,
    "ground again": _ground,
    "measure again": _measure_again,
    "concession": _concession,
    "picture kept": _picture,
    "drawing revision changed": _revision,
}
