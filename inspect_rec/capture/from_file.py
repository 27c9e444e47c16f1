"""The use case of a file: its good rows into the open places of one tool, all on disk or none.

A row is a sighting by the readout's key: it is taken for the place that is asked for, or refused
with the reason. A row that names its place is never taken for another; one that names none isn't
taken any more once a row above it was wrong or refused, since it may belong there. The entry that
names the file comes with its readings in one transaction, so that nothing is taken twice, whenever
the program is killed. Opens nothing and knows no clock.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from drivers.rows import Row, row_of
from inspect_rec import ledger
from inspect_rec.capture import PLAUSIBLE
from inspect_rec.errors import InputError, Mistake
from inspect_rec.inspection import Inspection, Place, Step, doubt, fold
from inspect_rec.ledger import Entry, Head, Kinds
from inspect_rec.plan import Channel
from inspect_rec.reading import Reading
from inspect_rec.store import Store
from inspect_rec.units import Unit, to_mm

MOST_SAID = 100
"""Mistakes and refusals that the entry of a file keeps in words; the rest are counted."""
NAMING_A_FILE = (Kinds.FILE_READ, Kinds.PICTURE_KEPT)
_SLIDES = ("X", "Z")
_AHEAD = timedelta(minutes=5)
"""How far another computer's clock may go ahead of this one's."""


@dataclass(frozen=True, slots=True)
class Source:
    """A file and the mapping by which it is read; digests are SHA-256."""

    name: str
    digest: str
    size: int
    what: str
    """``table``, ``spreadsheet``, ``points``, ``contour`` or ``picture``."""
    mapping: str = ""
    mapping_digest: str = ""

    def body(self) -> dict[str, Any]:
        """As it stands in an entry."""
        body: dict[str, Any] = {
            "what": self.what,
            "file": {"name": self.name, "digest": self.digest, "size": self.size},
        }
        if self.mapping:
            body["mapping"] = {"name": self.mapping, "digest": self.mapping_digest}
        return body


@dataclass(frozen=True, slots=True)
class Known:
    """What the ledger knows: files by digest with their entries, and digests of rows."""

    files: dict[str, Entry]
    rows: frozenset[str]


def known(entries: Iterable[Entry]) -> Known:
    """Which files and rows were read already, of entries that name a file."""
    files: dict[str, Entry] = {}
    rows: set[str] = set()
    for entry in entries:
        if entry.kind in NAMING_A_FILE:
            files.setdefault(str(entry.body["file"]["digest"]), entry)
            rows.update(str(row["digest"]) for row in entry.body.get("rows", []))
    return Known(files, frozenset(rows))


@dataclass
class Intake:
    """What became of a file's rows."""

    taken: list[tuple[Row, Place, str]] = field(default_factory=list)
    """Row, the place that it was taken for, and what looks wrong about it there, in words."""
    refused: list[Mistake] = field(default_factory=list)
    """Wrong rows, and rows that fit no place, in their order."""
    known: list[Row] = field(default_factory=list)
    """Rows that were taken before, from this file or another."""
    entry: Entry | None = None
    """The entry of the file; None where nothing was taken."""


class Batch:
    """Entries to be, on top of those of a store: seen by who folds, on disk all at once."""

    def __init__(self, store: Store, inspection: str, person: str) -> None:
        self.store, self.inspection, self.person = store, inspection, person
        self.head: Head = store.head()
        self.entries = list(store.entries(inspection))
        self.drafts: list[tuple[datetime, str, str, dict[str, Any]]] = []
        self._last = self.head

    def add(self, at: datetime, kind: str, body: dict[str, Any]) -> None:
        """One more; nothing is stored yet."""
        entry = ledger.make(self._last, at, self.person, kind, body)
        self._last = Head(entry.station, entry.seq, entry.digest)
        self.entries.append(entry)
        self.drafts.append((at, self.person, kind, body))

    def fold(self) -> Inspection:
        """What the store's entries and these say."""
        return fold(self.entries, self.inspection)

    def store_all(self) -> list[Entry]:
        """All on disk or none; StoreError where the chain went on since."""
        return self.store.append_all(self.drafts, self.head)


class FromFile:
    """One file into one tool."""

    def __init__(self, store: Store, inspection: str, person: str, source: Source) -> None:
        """Raises LedgerError where the job isn't open."""
        self._known = known(store.entries(kinds=NAMING_A_FILE))
        self._batch = Batch(store, inspection, person)
        self._now = self._batch.fold()
        self.source, self.id = source, inspection

    def once(self) -> None:
        """Raises InputError where the file was taken before."""
        if (before := self._known.files.get(self.source.digest)) is not None:
            raise InputError(
                "the file was taken before",
                expected="a file that isn't in the ledger yet",
                found=f"entry {before.station} {before.seq} of {before.body.get('inspection')}",
                where=self.source.name,
            )

    def take(self, rows: Iterable[Row], mistakes: Sequence[Mistake], at: datetime) -> Intake:
        """Take the good rows in their order; ``mistakes`` are those found so far while ``rows``
        is gone through. Everything is on disk when this returns, or nothing is.

        Raises InputError where no row is new. Rows without instants of their own are taken all or
        none, and their file once: nothing else tells them from rows that were taken.
        """
        found, seen = Intake(), set[str]()
        untimed = False
        for row in rows:
            untimed = untimed or not row.timed
            if untimed:
                self.once()
            if row.digest in self._known.rows or row.digest in seen:
                found.known.append(row)
                continue
            gap = bool(found.refused or (mistakes and row_of(mistakes[0]) < row.number))
            if (why := self._unfit(row, at, gap=gap)) is not None:
                found.refused.append(why)
                if self._now.next is None:
                    break
                continue
            seen.add(row.digest)
            found.taken.append(self._take(row, at))
        found.refused = sorted([*mistakes, *found.refused], key=row_of)
        if untimed and found.refused:
            raise InputError(
                "rows without instants are taken all or none; none was",
                found.refused,
                where=self.source.name,
                do="Put the file right, and import it again",
            )
        if found.taken:
            self._batch.add(at, Kinds.FILE_READ, self._body(found))
            found.entry = self._batch.store_all()[-1]
        elif not found.refused:
            self.once()
        return found

    def _body(self, found: Intake) -> dict[str, Any]:
        refused = [
            {"where": m.where, "expected": m.expected, "found": m.found}
            for m in found.refused[:MOST_SAID]
        ]
        return {
            "inspection": self.id,
            **self.source.body(),
            "rows": [{"row": row.number, "digest": row.digest} for row, *_ in found.taken],
            "known": len(found.known),
            "refused": refused,
            "refused_in_all": len(found.refused),
        }

    # -- one row -------------------------------------------------------------

    def _unfit(self, row: Row, now: datetime, *, gap: bool) -> Mistake | None:
        """Why a row isn't taken for the place that is asked for; None where it is."""
        if row.sighting.at > now + _AHEAD:
            found = f"{ledger.instant(row.sighting.at)}; is the zone of its instants right?"
            return self._wrong(row, f"an instant before now, {ledger.instant(now)}", found)
        step = self._now.next
        if step is None:
            return self._wrong(row, "no row from here on: everything is taken", "a row")
        if step.kind != "read" or step.place is None or step.feature is None:
            return self._wrong(row, f"first: {step.kind} {step.object}", "a row")
        place, asked = step.place, _named(step.place)
        names = (step.feature.id, step.feature.name)
        other = (
            (row.feature and row.feature not in names)
            or (row.flute is not None and row.flute != place.flute)
            or (row.mark and row.mark != place.mark)
            or (row.repeat is not None and row.repeat != place.repeat)
        )
        if other:
            said = Place(row.feature, row.flute or 0, row.mark, row.repeat or 1)
            return self._wrong(row, f"the place that is asked for: {asked}", _named(said))
        named = (
            row.feature
            and (row.mark or not place.mark)
            and (row.flute is not None or not place.flute)
        )
        if gap and not named:
            expected = f"feature, flute and mark below a row that wasn't taken; asked is {asked}"
            return self._wrong(row, expected, "a row without all of them")
        return self._unlike(row, step)

    def _unlike(self, row: Row, step: Step) -> Mistake | None:
        """Why its figures aren't those that the place takes."""
        readings = _wanted(row, step)
        if step.feature is None or step.feature.channel is Channel.SLIDES:
            if len(readings) < 2:
                return self._wrong(row, f"X and Z for {_named(step.place)}", _figures(row))
            return None
        if not readings:
            channel = step.feature.channel.value
            return self._wrong(row, f"{channel} for {_named(step.place)}", _figures(row))
        least, most, unit = PLAUSIBLE[step.feature.channel]
        shown = readings[0]
        value = to_mm(shown.value, shown.unit) if unit == Unit.MM else shown.value
        if not least <= value <= most:
            return self._wrong(row, f"{least} to {most} {unit}", f"{shown.value} {shown.unit}")
        return None

    def _wrong(self, row: Row, expected: str, found: str) -> Mistake:
        return Mistake(f"{self.source.name}:{row.number}", expected, found)

    def _take(self, row: Row, at: datetime) -> tuple[Row, Place, str]:
        step = self._now.next
        assert step is not None  # noqa: S101 - _unfit has looked
        assert step.place is not None  # noqa: S101
        assert step.feature is not None  # noqa: S101
        record = self._now.record
        taken = [
            {"channel": r.channel, "value": format(r.value, "f"), "unit": r.unit.value}
            for r in _wanted(row, step)
        ]
        slides = step.feature.channel is Channel.SLIDES
        body = {
            "inspection": self.id,
            "place": step.place.body(),
            "stage": step.stage,
            "taken": taken,
            "by_eye": False,
            "key": row.sighting.key,
            "source": record.set_up.readout if slides else step.feature.instrument,
            "taken_at": ledger.instant(row.sighting.at),
            "raw": row.sighting.raw.hex(),
            "row": {"file": self.source.digest, "row": row.number, "digest": row.digest},
            **doubt.one_more(record, step.place, taken),
        }
        self._batch.add(at, Kinds.READING, body)
        self._now = self._batch.fold()
        said = doubt.taken(self._now.record, step.place) if slides else ""
        return row, step.place, said.removeprefix("Taken").removeprefix(". ")


def _wanted(row: Row, step: Step) -> list[Reading]:
    """The figures of a row that a step takes, in the order of the slides."""
    channel = step.feature.channel if step.feature is not None else Channel.SLIDES
    wanted: Sequence[str] = _SLIDES if channel is Channel.SLIDES else (channel.value,)
    return [r for name in wanted for r in row.sighting.readings if r.channel == name]


def _figures(row: Row) -> str:
    return ", ".join(r.channel for r in row.sighting.readings)


def _named(place: Place | None) -> str:
    """A place as a row names it."""
    if place is None:
        return "none"
    parts = [place.feature, str(place.flute or ""), place.mark]
    repeat = f"repeat {place.repeat}" if place.repeat > 1 else ""
    return ", ".join(filter(None, [*parts, repeat, place.when])) or "no place"


def said(entry: Entry) -> Iterator[str]:
    """What wasn't taken of a file, a line each, as its entry keeps it."""
    for each in entry.body.get("refused", []):
        yield str(Mistake(each["where"], each["expected"], each["found"]))
    more = int(entry.body.get("refused_in_all", 0)) - MOST_SAID
    if more > 0:
        yield f"and {more} more"
