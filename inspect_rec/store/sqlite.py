"""The store in one SQLite file: entries appended, read, checked, copied. Never updated.

WAL and synchronous FULL: an entry is on disk when ``append`` returns. The database itself
refuses to change or remove an entry. Projections are derived in the same transaction and may be
thrown away.
"""

from __future__ import annotations

import os
import re
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Self

from inspect_rec import ledger
from inspect_rec.errors import LedgerError, StoreError
from inspect_rec.ledger import NOTHING, Entry, Head

SCHEMA = 1
NUMBER = re.compile(r"([A-Z])-([0-9]{4,6})")

_TABLES = """
CREATE TABLE entry (
    station TEXT NOT NULL, seq INTEGER NOT NULL, inspection TEXT, job TEXT, kind TEXT NOT NULL,
    text BLOB NOT NULL, PRIMARY KEY (station, seq)
) WITHOUT ROWID;
CREATE INDEX entry_inspection ON entry (inspection, station, seq) WHERE inspection IS NOT NULL;
CREATE INDEX entry_job ON entry (job, station, seq) WHERE job IS NOT NULL;
CREATE TRIGGER entry_unchanged BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END;
CREATE TRIGGER entry_kept BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry is never removed'); END;
CREATE TRIGGER entry_in_order BEFORE INSERT ON entry
WHEN NEW.seq <> 1 + COALESCE((SELECT MAX(seq) FROM entry WHERE station = NEW.station), 0)
BEGIN SELECT RAISE(ABORT, 'an entry is missing or out of order'); END;
CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
"""
_PROJECTIONS = """
CREATE TABLE IF NOT EXISTS last (inspection TEXT PRIMARY KEY, station TEXT, seq INTEGER, kind TEXT)
WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS number (number TEXT PRIMARY KEY, station TEXT, seq INTEGER)
WITHOUT ROWID;
"""

Draft = tuple[datetime, str, str, Mapping[str, Any]]
"""An entry to be: instant, person, kind, body."""


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
        # Where the chain ended after this connection's last commit, and the data version then.
        self._known: tuple[int, Head] | None = None

    # -- opening -------------------------------------------------------------

    @classmethod
    def create(cls, path: Path, station: str, first_number: str) -> Self:
        """A new, empty store. Raises StoreError where there is a file already."""
        if not NUMBER.fullmatch(first_number):
            raise StoreError("no first number", expected="A-0231", found=first_number)
        if path.exists():
            raise StoreError("there is a file already", where=str(path), do="Open it instead")
        path.touch(mode=0o600)
        with _said(path):
            db = _connect(path)
            with db:
                db.executescript(f"BEGIN;{_TABLES}{_PROJECTIONS}PRAGMA user_version = {SCHEMA};")
                rows = [("station", station), ("first number", first_number)]
                db.executemany("INSERT INTO about VALUES (?, ?)", rows)
            db.commit()
        return cls(path, db, station)

    @classmethod
    def open(cls, path: Path) -> Self:
        """An existing store, or a copy of one. Raises StoreError where it can't be opened."""
        if not path.is_file():
            raise StoreError("there is no store", where=str(path), do="Set the shop up first")
        with _said(path):
            db = _connect(path)
            version = db.execute("PRAGMA user_version").fetchone()[0]
            if version > SCHEMA:
                raise StoreError(
                    "the store was written by a newer version of this program",
                    expected=f"schema {SCHEMA} or older",
                    found=f"schema {version}",
                    where=str(path),
                    do="Install the newer version; nothing was changed",
                )
            station = db.execute("SELECT value FROM about WHERE key = 'station'").fetchone()[0]
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

    def append_all(self, drafts: Sequence[Draft]) -> list[Entry]:
        """Add several entries, all or none."""
        with _said(self.path), self._writing():
            version, head = self._end()
            written = []
            for draft in drafts:
                entry, text = ledger.write(head, *draft)
                written.append((entry, text))
                head = Head(entry.station, entry.seq, entry.digest)
            self._insert(written)
        self._known = version, head
        return [entry for entry, _ in written]

    def _end(self) -> tuple[int, Head]:
        """Data version and head, inside a transaction that writes. The version changes when
        another connection commits; until then the head that was written last is the head.
        Forgotten while writing, so that an interruption leaves nothing stale."""
        known, self._known = self._known, None
        version: int = self._db.execute("PRAGMA data_version").fetchone()[0]
        if known is not None and known[0] == version:
            return known
        return version, self.head()

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

    def _insert(self, written: Sequence[tuple[Entry, bytes]]) -> None:
        self._db.executemany(
            "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?)",
            [
                (e.station, e.seq, e.body.get("inspection"), e.body.get("job"), e.kind, text)
                for e, text in written
            ],
        )
        self._project(entry for entry, _ in written)

    def _project(self, entries: Iterable[Entry]) -> None:
        last: dict[str, tuple[str, int, str]] = {}
        for e in entries:
            if inspection := e.body.get("inspection"):
                last[inspection] = (e.station, e.seq, e.kind)
            if e.kind in ("report made", "number given"):
                row = (e.body["number"], e.station, e.seq)
                self._db.execute("INSERT INTO number VALUES (?, ?, ?)", row)
        self._db.executemany(
            "INSERT OR REPLACE INTO last VALUES (?, ?, ?, ?)",
            [(inspection, *where) for inspection, where in last.items()],
        )

    def rebuild(self) -> None:
        """Throw the projections away and derive them again."""
        with _said(self.path), self._writing():
            self._db.execute("DELETE FROM last")
            self._db.execute("DELETE FROM number")
            self._project(self.entries())

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

    def entries(
        self, inspection: str | None = None, kinds: Iterable[str] | None = None
    ) -> Iterator[Entry]:
        """Entries oldest first; of one inspection: its own, and those that opened its job."""
        wanted = None if kinds is None else sorted(set(kinds))
        where, values = "1", []
        if inspection is not None:
            where = "(inspection = ? OR (inspection IS NULL AND job = ?))"
            values = [inspection, inspection.split("/", 1)[0]]
        if wanted is not None:
            where += f" AND kind IN ({', '.join('?' * len(wanted))})"
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

    def numbered(self, number: str) -> Entry | None:
        """The entry that gave a report number away; None while it is free."""
        row = self._db.execute(
            "SELECT text FROM entry JOIN number USING (station, seq) WHERE number = ?", (number,)
        ).fetchone()
        return None if row is None else ledger.parse(row[0])

    def next_number(self) -> str:
        """The next report number of this station's series."""
        first = self._db.execute("SELECT value FROM about WHERE key = 'first number'").fetchone()[0]
        taken = {row[0] for row in self._db.execute("SELECT number FROM number")}
        letter, digits = first.split("-")
        count = int(digits)
        while f"{letter}-{count:0{len(digits)}d}" in taken:
            count += 1
        return f"{letter}-{count:0{len(digits)}d}"

    # -- checking ------------------------------------------------------------

    def check(self) -> None:
        """Raises LedgerError naming the first entry of a chain that doesn't hold."""
        stations = [r[0] for r in self._db.execute("SELECT DISTINCT station FROM entry")]
        for station in stations:
            rows = self._db.execute(
                "SELECT text FROM entry WHERE station = ? ORDER BY seq", (station,)
            )
            ledger.check_chain(ledger.parse(text) for (text,) in rows)

    def check_against(self, head: Head) -> list[Misfit]:
        """How this store doesn't fit the head that a report carries: shortened or rewritten."""
        found = []
        try:
            self.check()
        except LedgerError as error:
            found.append(Misfit("chain broken", "a chain that holds", str(error)))
        row = self._db.execute(
            "SELECT text FROM entry WHERE station = ? AND seq = ?", (head.station, head.seq)
        ).fetchone()
        if row is None:
            end = self.head(head.station)
            found.append(
                Misfit(
                    "chain shortened",
                    f"entry {head.station} {head.seq}",
                    f"the chain ends at {end.station} {end.seq}",
                )
            )
        elif (digest := ledger.parse(row[0]).digest) != head.digest:
            found.append(
                Misfit("chain rewritten", f"{head.station} {head.seq} {head.digest}", digest)
            )
        return found

    # -- copying -------------------------------------------------------------

    def copy_to(self, folder: Path, at: datetime) -> Path:
        """A consistent copy in ``folder``, checked, under a name of its own."""
        folder.mkdir(parents=True, exist_ok=True)
        name = f"{self.path.stem}-{at:%Y%m%dT%H%M%S}-{self.head().seq}.sqlite"
        beside, target = folder / f".{name}.part", folder / name
        beside.unlink(missing_ok=True)
        with _said(target):
            copy = sqlite3.connect(beside)
            try:
                self._db.backup(copy)
            finally:
                copy.close()
            with Store.open(beside) as opened:
                opened.check()
                opened.settle()
            with beside.open("rb+") as file:
                os.fsync(file.fileno())
            beside.replace(target)
        return target


def _connect(path: Path) -> sqlite3.Connection:
    db = sqlite3.connect(path, timeout=5, isolation_level=None)
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    return db


@contextmanager
def _said(path: Path) -> Iterator[None]:
    """SQLite's own errors stop here."""
    try:
        yield
    except (sqlite3.Error, OSError) as error:
        raise StoreError(
            "the store can't be used", found=str(error), where=str(path), do=_advice(error)
        ) from error


def _advice(error: Exception) -> str:
    text = str(error)
    if "locked" in text:
        return "Another program writes to it: close that program, then try again"
    if "full" in text:
        return "The disk is full: nothing was stored; make room, then try again"
    return ""
