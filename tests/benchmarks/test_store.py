"""One commit a reading with all ledger work, and many in a group, against SQLite as given."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from inspect_rec import ledger
from inspect_rec.store import Store
from inspect_rec.store.sqlite import Draft
from tests.benchmarks.timing import interleaved

pytestmark = pytest.mark.benchmark

AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)
COUNT, GROUP = 200, 1000
READ_ALONG = """
import sqlite3, sys, time
files = [sqlite3.connect(path) for path in sys.argv[1:]]
print("reading", flush=True)
while True:
    for file in files:
        file.execute("SELECT count(*) FROM entry").fetchone()
    time.sleep(0.01)
"""


def body(n: int) -> dict[str, Any]:
    """A reading as capture writes it."""
    return {
        "inspection": "I1/QF-0417",
        "place": {"feature": "profile arc", "flute": 1, "mark": f"{n}.0", "repeat": 1},
        "stage": "final",
        "taken": [
            {"channel": "X", "value": f"{31 + n / 1000:.3f}", "unit": "mm"},
            {"channel": "Z", "value": f"{142 - n / 1000:.3f}", "unit": "mm"},
        ],
        "by_eye": False,
        "key": True,
        "source": "RO-1",
        "taken_at": ledger.instant(AT + timedelta(seconds=n)),
        "raw": "58202b30333130303020205a202b3134323331380d0a",
    }


DRAFTS: list[Draft] = [
    (AT + timedelta(seconds=n), "G-01", "reading", body(n)) for n in range(GROUP)
]
ROWS = [(at.timestamp(), 31_000 + n, 142_000 - n) for n, (at, *_) in enumerate(DRAFTS)]
INSERT = "INSERT INTO entry(at, x, z) VALUES (?, ?, ?)"


def plain(path: Path) -> sqlite3.Connection:
    """What a user would pick today: one table, WAL, synchronous FULL."""
    db = sqlite3.connect(path)
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    db.execute("CREATE TABLE entry(id INTEGER PRIMARY KEY, at REAL, x INTEGER, z INTEGER)")
    return db


@contextmanager
def read_along(*paths: Path) -> Iterator[None]:
    """Another process that reads the stores a hundred times a second."""
    reader = subprocess.Popen(
        [sys.executable, "-c", READ_ALONG, *map(str, paths)], stdout=subprocess.PIPE
    )
    assert reader.stdout is not None
    try:
        reader.stdout.readline()
        yield
        assert reader.poll() is None, "the reader gave up"
    finally:
        reader.kill()
        reader.communicate()


def appended(file: int) -> Callable[[], None]:
    """The least work: the entry's bytes appended and synced."""
    sync = getattr(os, "fdatasync", os.fsync)
    text = ledger.canonical(ledger.to_json(ledger.make(ledger.Head("A", 0, "0" * 64), *DRAFTS[0])))

    def work() -> None:
        for _ in range(COUNT):
            os.write(file, text)
            sync(file)

    return work


@pytest.mark.parametrize("company", [False, True], ids=["alone", "another process reads"])
def test_a_commit_a_reading(tmp_path: Path, company: bool) -> None:
    ours, theirs = tmp_path / "ledger.sqlite", tmp_path / "plain.sqlite"
    file = os.open(tmp_path / "bytes", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    db = plain(theirs)
    with Store.create(ours, "A", "A-0231") as store:

        def with_ledger() -> None:
            for draft in DRAFTS[:COUNT]:
                store.append(*draft)

        def as_given() -> None:
            for row in ROWS[:COUNT]:
                with db:
                    db.execute(INSERT, row)

        routes = {"append": with_ledger, "SQLite": as_given, "bytes and sync": appended(file)}
        if company:
            with read_along(ours, theirs):
                timed = interleaved(routes, COUNT)
        else:
            timed = interleaved(routes, COUNT)
        store.check()
        assert db.execute("SELECT count(*) FROM entry").fetchone()[0] == store.head().seq
    db.close()
    os.close(file)
    print(timed.table("A commit a reading (goal: append at most 1.3 of SQLite)", "SQLite"))


def test_a_session_from_its_opening(tmp_path: Path) -> None:
    """As a shop has it: a program is started and some hundred readings are taken, while the log
    grows for the first time."""
    session = 2 * COUNT
    turn = count()

    def with_ledger() -> None:
        with Store.create(tmp_path / f"{next(turn)}.ledger", "A", "A-0231") as store:
            for draft in DRAFTS[:session]:
                store.append(*draft)

    def as_given() -> None:
        db = plain(tmp_path / f"{next(turn)}.plain")
        for row in ROWS[:session]:
            with db:
                db.execute(INSERT, row)
        db.close()

    timed = interleaved({"append": with_ledger, "SQLite": as_given}, session)
    title = f"{session} readings from opening to closing (goal: at most 1.3 of SQLite)"
    print(timed.table(title, "SQLite"))


def test_readings_in_a_group(tmp_path: Path) -> None:
    db = plain(tmp_path / "plain.sqlite")
    with Store.create(tmp_path / "ledger.sqlite", "A", "A-0231") as store:

        def as_given() -> None:
            with db:
                db.executemany(INSERT, ROWS)

        def entries_alone() -> None:
            head = ledger.Head("A", 0, ledger.NOTHING)
            for draft in DRAFTS:
                made = ledger.make(head, *draft)
                head = ledger.Head("A", made.seq, made.digest)

        routes = {
            "append_all": lambda: store.append_all(DRAFTS),
            "SQLite": as_given,
            "entries, no store": entries_alone,
        }
        timed = interleaved(routes, GROUP)
        store.check()
        assert db.execute("SELECT count(*) FROM entry").fetchone()[0] == store.head().seq
    db.close()
    print(timed.table(f"{GROUP} readings in a group (goal: 15 µs each)", "SQLite"))
