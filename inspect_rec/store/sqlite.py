"""The store in one SQLite file: entries appended, read, checked, copied. Never updated.

WAL and synchronous FULL: an entry is on disk when ``append`` returns. The database itself
refuses to change or remove an entry. Projections are derived in the same transaction and may be
thrown away.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Self

from inspect_rec import ledger
from inspect_rec.errors import LedgerError, StoreError
from inspect_rec.ledger import NOTHING, Entry, Head, Kinds
from inspect_rec.store import file, filing, numbering, schema
from inspect_rec.store.numbering import NUMBER, NUMBERED

COPIES = 30
"""How many copies of a store stand in a folder before the oldest goes."""

Draft = tuple[datetime, str, str, Mapping[str, Any]]
"""An entry to be: instant, person, kind, body."""
Run = tuple[str, str]
"""Inspection and kind of entries that follow one another."""


@dataclass(frozen=True, slots=True)
class Misfit:
    """A place where a store doesn't fit a report's head."""

    code: str
    expected: str
    found: str


class Store:
    """An open store. Use ``create`` or ``open``; close it, or use it as a context manager."""

    def __init__(self, path: Path, connection: sqlite3.Connection, station: str) -> None:
        self.path, self.station, self._db = path, station, connection
        self._known: tuple[int, Head, Run | None] | None = None
        # Data version, head and run after this connection's last commit.

    # -- opening -------------------------------------------------------------

    @classmethod
    def create(cls, path: Path, station: str, first_number: str) -> Self:
        """A new, empty store. Raises StoreError where there is a file already."""
        if not NUMBER.fullmatch(first_number):
            raise StoreError("no first number", expected="A-0231", found=first_number)
        if path.exists():
            raise StoreError("there is a file already", where=str(path), do="Open it instead")
        # Made beside and moved into place whole: a kill in between leaves no half of a store.
        beside = path.with_name(f".{path.name}.new")
        with file.said(path):
            file.remove(beside)
            with file.new(beside) as db:
                schema.bring_up(db)
                rows = [("station", station), ("first number", first_number)]
                db.executemany("INSERT INTO about VALUES (?, ?)", rows)
                db.execute("PRAGMA journal_mode = DELETE")
            file.put_in_place(beside, path)
        return cls.open(path)

    @classmethod
    def open(cls, path: Path) -> Self:
        """An existing store, or a copy of one; an older form is brought up to the newest. Raises
        StoreError where it can't be opened, and has changed nothing then."""
        if not path.is_file():
            raise StoreError("there is no store", where=str(path), do="Set the shop up first")
        with file.said(path):
            db = sqlite3.connect(path, timeout=5, isolation_level=None)
            try:
                station = _prepared(db, path)
            except BaseException:
                db.close()
                raise
        return cls(path, db, station)

    def close(self) -> None:
        """Let go of the file."""
        self._db.close()

    def settle(self) -> None:
        """Bring everything into the one file, so that it can be carried away."""
        self._db.execute("PRAGMA journal_mode = DELETE")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # -- writing -------------------------------------------------------------

    def append(self, at: datetime, person: str, kind: str, body: Mapping[str, Any]) -> Entry:
        """Add an entry; it is on disk when this returns."""
        return self.append_all([(at, person, kind, body)])[0]

    def append_all(self, drafts: Sequence[Draft], after: Head | None = None) -> list[Entry]:
        """Add several entries, all or none; ``after``: only where the chain still ends there.
        Raises RefusedError where it doesn't, and for what is given once and was given."""
        with file.said(self.path), self._writing():
            version, head, run = self._end()
            filing.must_follow(head, after)
            written = []
            for draft in drafts:
                entry, text = ledger.write(head, *draft)
                written.append((entry, text))
                head = Head(entry.station, entry.seq, entry.digest)
            run = self._insert(written, run)
        self._known = version, head, run
        return [entry for entry, _ in written]

    def _end(self) -> tuple[int, Head, Run | None]:
        """Data version, head and run, inside a transaction that writes. The version changes when
        another connection commits; until then the head that was written last is the head.
        Forgotten while writing, so that an interruption leaves nothing stale."""
        known, self._known = self._known, None
        version: int = self._db.execute("PRAGMA data_version").fetchone()[0]
        if known is not None and known[0] == version:
            return known
        return version, self.head(), None

    @contextmanager
    def _writing(self) -> Iterator[None]:
        self._db.execute("BEGIN IMMEDIATE")
        try:
            yield
            self._db.execute("COMMIT")
        except BaseException:
            # It may be over already, committed or rolled back; to ask again would hide the error.
            if self._db.in_transaction:
                self._db.execute("ROLLBACK")
            raise

    def _insert(self, written: Sequence[tuple[Entry, bytes]], run: Run | None) -> Run | None:
        self._db.executemany(
            "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?)",
            [(*filing.columns(entry), text) for entry, text in written],
        )
        for entry, _ in written:
            numbering.must_be_new(self._db, entry)
        return self._project((entry for entry, _ in written), run)

    def _project(self, entries: Iterable[Entry], run: Run | None = None) -> Run | None:
        """Derive what follows from these entries; ``run`` went before them, the one that they end
        with is given back. An inspection that is touched again and again is the latest from the
        first time on: written once a run, not once a reading, that saves a page in three."""
        last: dict[str, tuple[str, int, str]] = {}
        for e in entries:
            inspection = e.body.get("inspection")
            if inspection and run != (inspection, e.kind):
                run = (inspection, e.kind)
                last[inspection] = (e.station, e.seq, e.kind)
            if e.kind in NUMBERED:
                row = (numbering.free(self._db, e.body.get("number")), e.station, e.seq)
                self._db.execute("INSERT INTO number VALUES (?, ?, ?)", row)
        self._db.executemany(
            "INSERT OR REPLACE INTO last VALUES (?, ?, ?, ?)",
            [(inspection, *where) for inspection, where in last.items()],
        )
        return run

    def rebuild(self) -> None:
        """Throw the projections away and derive them again."""
        with file.said(self.path), self._writing():
            for statement in schema.REBUILT:
                self._db.execute(statement)
            rows = self._db.execute("SELECT text FROM entry ORDER BY station, seq")
            self._project(ledger.parse(text) for (text,) in rows)

    # -- reading -------------------------------------------------------------

    def head(self, station: str | None = None) -> Head:
        """Where a station's chain ends; this store's own without a name."""
        station = station or self.station
        row = self._db.execute(
            "SELECT text FROM entry WHERE station = ? ORDER BY seq DESC LIMIT 1", (station,)
        ).fetchone()
        if row is None:
            return Head(station, 0, NOTHING)
        last = ledger.parse(row[0])
        return Head(station, last.seq, last.digest)

    def heads(self) -> list[Head]:
        """Where each station's chain ends, by station."""
        rows = self._db.execute("SELECT DISTINCT station FROM entry ORDER BY station")
        return [self.head(station) for (station,) in rows.fetchall()]

    def entries(
        self,
        inspection: str | None = None,
        kinds: Iterable[str] | None = None,
        *,
        job: str | None = None,
        after: int = 0,
    ) -> Iterator[Entry]:
        """Entries oldest first, with a sequence number above ``after``.

        Of one inspection: its own, and those that concern its job as a whole. Of one job: these,
        and those of all its inspections.
        """
        where = "seq > ?"
        values: list[object] = [after]
        if inspection is not None:
            where += " AND (inspection = ? OR (inspection IS NULL AND job = ?))"
            values += [inspection, inspection.split("/", 1)[0]]
        if job is not None:
            # "0" is the character after "/": every inspection of the job lies between.
            where += " AND (job = ? OR (inspection >= ? AND inspection < ?))"
            values += [job, f"{job}/", f"{job}0"]
        if kinds is not None:
            wanted = sorted(set(kinds))
            where += f" AND kind IN ({', '.join('?' * len(wanted))})"
            # Said in so many words, the index that leaves readings out can be used.
            where += "" if Kinds.READING in wanted else " AND kind <> 'reading'"
            values += wanted
        rows = self._db.execute(
            f"SELECT text FROM entry WHERE {where} ORDER BY station, seq",  # noqa: S608 - marks only
            values,
        )
        for (text,) in rows.fetchall():
            yield ledger.parse(text)

    def inspections(self) -> list[str]:
        """All inspections, the one touched last at the end."""
        rows = self._db.execute("SELECT inspection FROM last ORDER BY station, seq")
        return [row[0] for row in rows]

    def open_inspections(self) -> list[str]:
        """Inspections that nobody has decided on since they were touched, the latest at the end."""
        rows = self._db.execute(
            "SELECT inspection FROM last WHERE kind <> 'decided' ORDER BY station, seq"
        )
        return [row[0] for row in rows]

    def numbered(self, number: str) -> Entry | None:
        """The entry that gave a report number away; None while it is free."""
        row = self._db.execute(
            "SELECT text FROM entry JOIN number USING (station, seq) WHERE number = ?", (number,)
        ).fetchone()
        return None if row is None else ledger.parse(row[0])

    def next_number(self) -> str:
        """The next report number of this station's series: the first that no entry has taken."""
        return numbering.following(self._db)

    # -- checking ------------------------------------------------------------

    def check(self) -> tuple[Entry, ...]:
        """Raises LedgerError naming the first entry of a chain that doesn't hold, or that is filed
        under another inspection, job or kind than it says; StoreError where the file is damaged.
        Gives back the entries whose instant lies before that of the entry before."""
        back: list[Entry] = []
        with file.said(self.path):
            stations = self._db.execute("SELECT DISTINCT station FROM entry ORDER BY station")
            for station in stations.fetchall():
                rows = self._db.execute(
                    "SELECT station, seq, inspection, job, kind, text FROM entry"
                    " WHERE station = ? ORDER BY seq",
                    station,
                )
                back += ledger.check_chain(map(filing.as_filed, rows))
            # An index that lacks an entry would hide it from whoever asks by inspection.
            damage = self._db.execute("PRAGMA integrity_check(1)").fetchone()[0]
        if damage != "ok":
            raise StoreError(
                "the file is damaged",
                expected="a whole file",
                found=damage,
                where=str(self.path),
                do="Start again from a copy",
            )
        return tuple(back)

    def check_against(self, head: Head) -> list[Misfit]:
        """How this store doesn't fit the head that a report carries: shortened or rewritten."""
        try:
            self.check()
            found = []
        except (LedgerError, StoreError) as error:
            found = [Misfit("chain broken", "a chain that holds", str(error))]
        return found + self._unlike(head)

    def _unlike(self, head: Head) -> list[Misfit]:
        if head.seq == 0:
            return []
        with file.said(self.path):
            row = self._db.execute(
                "SELECT text FROM entry WHERE station = ? AND seq = ?", (head.station, head.seq)
            ).fetchone()
            if row is None:
                end = self._db.execute(
                    "SELECT COALESCE(MAX(seq), 0) FROM entry WHERE station = ?", (head.station,)
                ).fetchone()[0]
                wanted = f"entry {head.station} {head.seq}"
                ends = f"the chain ends at {head.station} {end}"
                return [Misfit("chain shortened", wanted, ends)]
        try:
            digest = ledger.parse(row[0]).digest
        except LedgerError as error:
            digest = str(error)
        if digest == head.digest:
            return []
        return [Misfit("chain rewritten", f"{head.station} {head.seq} {head.digest}", digest)]

    # -- copying -------------------------------------------------------------

    def copy_to(self, folder: Path, at: datetime) -> Path:
        """A consistent copy in ``folder``, checked, under a name of its own; work goes on.

        Older copies stay. Beyond COPIES of them the oldest goes, but only one whose every entry
        stands here as well: of a chain that was cut short or rewritten, the older copy is the
        better one, and nothing here removes it.
        """
        folder.mkdir(parents=True, exist_ok=True)
        name = f"{self.path.stem}-{at:%Y%m%dT%H%M%S}-{self.head().seq}.sqlite"
        beside, target = folder / f".{name}.part", folder / name
        with file.said(target):
            file.remove(beside)
            with file.new(beside) as copy:
                self._db.backup(copy)
            with Store.open(beside) as opened:
                opened.check()
                opened.settle()
            file.put_in_place(beside, target)
            self._thin_out(folder, target.name)
        return target

    def _thin_out(self, folder: Path, newest: str) -> None:
        name = re.compile(re.escape(self.path.stem) + r"-\d{8}T\d{6}-\d+\.sqlite", re.ASCII)
        copies = sorted(each for each in folder.iterdir() if name.fullmatch(each.name))
        for each in copies[:-COPIES]:
            if each.name != newest and _is_within(each, self):
                each.unlink(missing_ok=True)


def _is_within(older: Path, newer: Store) -> bool:
    """Whether each chain of a copy ends at an entry that the newer one has."""
    try:
        with closing(sqlite3.connect(f"{older.resolve().as_uri()}?mode=ro", uri=True)) as db:
            heads = Store(older, db, newer.station).heads()
    except (sqlite3.Error, LedgerError):
        return False
    return not any(newer._unlike(head) for head in heads)  # noqa: SLF001 - the same class


def _prepared(db: sqlite3.Connection, path: Path) -> str:
    """An existing file made ready; gives the station. Nothing is written before it is known that
    the file is a store, and none of a newer program."""
    if schema.version(db) == 0:
        raise StoreError("the file is no store", where=str(path), do="Choose the shop's ledger")
    schema.bring_up(db, str(path))
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    # A commit that makes the log longer syncs the new length too, and costs half as much again;
    # once brought into the file, the log is written over. A session has some hundred readings.
    db.execute("PRAGMA wal_autocheckpoint = 500")
    row = db.execute("SELECT value FROM about WHERE key = 'station'").fetchone()
    if row is None:
        raise StoreError("the store has no station", where=str(path), do="Start again from a copy")
    station: str = row[0]
    return station
