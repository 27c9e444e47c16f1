"""What every store must do: append for good, refuse to change, tell what doesn't hold, copy."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from inspect_rec.errors import LedgerError, StoreError
from inspect_rec.ledger import Head
from inspect_rec.store import Store
from inspect_rec.store.schema import SCHEMA
from tests import worked
from tests.programs import needs

ROOT = Path(__file__).parents[2]
AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)

Backend = Callable[[Path], Store]


def sqlite(folder: Path) -> Store:
    """A new store of station A in ``folder``."""
    return Store.create(folder / "ledger.sqlite", "A", "A-0231")


BACKENDS: list[Backend] = [sqlite]
"""Whatever keeps entries must pass the whole contract."""


@pytest.fixture(params=BACKENDS, ids=lambda made: made.__name__)
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    with request.param(tmp_path) as opened:
        yield opened


def filled(store: Store, upto: int = 20) -> Store:
    for entry in worked.entries("I2", upto):
        store.append(entry.at, entry.person, entry.kind, entry.body)
    return store


def test_what_was_appended_is_read_by_another_connection_at_once(store: Store) -> None:
    entry = store.append(AT, "G-01", "received", {"inspection": "I1/QF-0417"})
    with Store.open(store.path) as other:
        assert list(other.entries()) == [entry]
        assert other.head() == Head("A", 1, entry.digest)


def test_entries_come_back_as_they_went_in(store: Store) -> None:
    filled(store)
    assert list(store.entries()) == list(worked.entries("I2", 20))
    assert list(store.entries("I2/BW-22-B")) == list(worked.entries("I2", 20))
    assert list(store.entries("I1/QF-0417")) == []
    store.check()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET kind = 'x'",
        "DELETE FROM entry",
        "INSERT INTO entry SELECT station, seq + 5, inspection, job, kind, text FROM entry LIMIT 1",
        "INSERT OR REPLACE INTO entry SELECT * FROM entry LIMIT 1",
    ],
)
def test_the_database_itself_refuses_to_change_an_entry(store: Store, statement: str) -> None:
    filled(store)
    other = sqlite3.connect(store.path)
    with pytest.raises(sqlite3.DatabaseError):
        other.execute(statement)
    other.close()
    store.check()


def test_all_or_none_of_several_are_appended(store: Store) -> None:
    with pytest.raises(LedgerError):
        store.append_all([(AT, "G", "a", {}), (AT, "G", "b", {"bad": 1.5})])
    assert list(store.entries()) == []
    made = store.append_all([(AT, "G", "a", {}), (AT, "G", "b", {})])
    assert [e.seq for e in made] == [1, 2]


def test_what_rests_on_a_head_is_appended_right_behind_it_or_not_at_all(store: Store) -> None:
    head = store.head()
    store.append_all([(AT, "G", "a", {})], head)
    with pytest.raises(StoreError, match="went on meanwhile"):
        store.append_all([(AT, "G", "b", {})], head)
    assert [e.kind for e in store.entries()] == ["a"]
    store.append_all([(AT, "G", "c", {})], store.head())
    assert [e.kind for e in store.entries()] == ["a", "c"]


def test_projections_rebuilt_are_the_same(store: Store) -> None:
    filled(store)
    store.append(AT, "G", "report made", {"inspection": "I2/BW-22-B", "number": "A-0231"})
    before = (store.inspections(), store.next_number())
    store.rebuild()
    assert (store.inspections(), store.next_number()) == before


def test_every_number_is_used_once_and_none_is_skipped(store: Store) -> None:
    given = []
    for n in range(5):
        number = store.next_number()
        given.append(number)
        kind = "number given" if n == 2 else "report made"
        store.append(AT, "G", kind, {"number": number})
    assert given == ["A-0231", "A-0232", "A-0233", "A-0234", "A-0235"]
    with pytest.raises(StoreError):
        store.append(AT, "G", "report made", {"number": "A-0233"})
    store.check()


def test_a_store_of_a_newer_program_is_refused_and_left_alone(store: Store) -> None:
    filled(store).close()
    other = sqlite3.connect(store.path)
    other.execute(f"PRAGMA user_version = {SCHEMA + 1}")
    other.close()
    before = store.path.read_bytes()
    with pytest.raises(StoreError, match="newer version"):
        Store.open(store.path)
    assert store.path.read_bytes() == before


def test_what_is_no_store_is_said(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="no store"):
        Store.open(tmp_path / "nothing.sqlite")
    (tmp_path / "text.sqlite").write_text("hello" * 1000, encoding="utf-8")
    with pytest.raises(StoreError):
        Store.open(tmp_path / "text.sqlite")
    with pytest.raises(StoreError, match="already"):
        Store.create(tmp_path / "text.sqlite", "A", "A-0001")


def test_a_second_writer_waits_and_both_chains_stay_whole(store: Store) -> None:
    with Store.open(store.path) as other:
        for n in range(20):
            (store if n % 2 else other).append(AT, "G", "alarm", {"n": n})
    store.check()
    assert store.head().seq == 20


def test_a_copy_holds_and_the_shop_goes_on_from_it(store: Store, tmp_path: Path) -> None:
    filled(store)
    head = store.head()
    copy = store.copy_to(tmp_path / "other disk", AT)
    store.append(AT, "G", "alarm", {})
    with Store.open(copy) as again:
        assert again.head() == head
        again.check()
        again.append(AT, "G", "alarm", {"after": "restart"})
        again.check()


def test_a_shortened_chain_is_found_by_a_reports_head(store: Store, tmp_path: Path) -> None:
    filled(store, 10)
    copy = store.copy_to(tmp_path / "c", AT)
    store.append(AT, "G", "alarm", {})
    head = store.head()
    assert store.check_against(head) == []
    with Store.open(copy) as short:
        assert [m.code for m in short.check_against(head)] == ["chain shortened"]


def test_a_chain_rewritten_whole_is_found_by_a_reports_head(store: Store, tmp_path: Path) -> None:
    filled(store, 10)
    head = store.head()
    with Store.create(tmp_path / "new.sqlite", "A", "A-0231") as other:
        for entry in worked.entries("I2", 10):
            other.append(entry.at, "G-02", entry.kind, entry.body)
        other.check()
        assert [m.code for m in other.check_against(head)] == ["chain rewritten"]


def test_an_entry_changed_behind_the_databases_back_is_named(store: Store) -> None:
    filled(store)
    other = sqlite3.connect(store.path)
    other.execute("DROP TRIGGER entry_unchanged")
    text = other.execute("SELECT text FROM entry WHERE seq = 7").fetchone()[0]
    changed = text.replace(b'"value":"', b'"value":"9')
    other.execute("UPDATE entry SET text = ? WHERE seq = 7", (changed,))
    other.commit()
    other.close()
    with pytest.raises(LedgerError) as caught:
        store.check()
    assert caught.value.where == "A 7"


def test_a_store_of_schema_1_opens(tmp_path: Path) -> None:
    """The first released form, kept as SQL; it must open for ever."""
    sql = (Path(__file__).parents[2] / "fixtures" / "records" / "store-v1.sql").read_text("utf-8")
    path = tmp_path / "old.sqlite"
    old = sqlite3.connect(path)
    old.executescript(sql)
    old.close()
    with Store.open(path) as opened:
        opened.check()
        assert opened.head().seq == 21
        assert opened.append(AT, "G-01", "alarm", {}).seq == 22


def test_a_store_that_another_program_holds_says_so_and_loses_nothing(store: Store) -> None:
    filled(store, 5)
    before = store.head()
    other = sqlite3.connect(store.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    store._db.execute("PRAGMA busy_timeout = 20")  # nobody waits for five seconds here
    with pytest.raises(StoreError, match="close that program"):
        store.append(AT, "G", "alarm", {})
    assert store.head() == before
    other.execute("ROLLBACK")
    other.close()
    assert store.append(AT, "G", "alarm", {}).seq == before.seq + 1
    store.check()


def test_a_full_disk_says_so_and_the_chain_goes_on_when_there_is_room(store: Store) -> None:
    """SQLite's own limit of pages gives the same error as a disk without room."""
    pages = store._db.execute("PRAGMA page_count").fetchone()[0]
    store._db.execute(f"PRAGMA max_page_count = {pages + 3}")
    kept = 0

    def fill() -> None:
        nonlocal kept
        for _ in range(1000):
            store.append(AT, "G", "alarm", {"said": "x" * 500})
            kept += 1

    with pytest.raises(StoreError, match="disk is full: nothing was stored"):
        fill()
    assert 0 < kept == store.head().seq
    store._db.execute(f"PRAGMA max_page_count = {pages + 300}")
    assert store.append(AT, "G", "alarm", {}).seq == kept + 1
    store.check()


def test_after_a_refused_append_the_chain_goes_on_where_it_was(store: Store) -> None:
    first = store.append(AT, "G", "number given", {"number": "A-0231"})
    with pytest.raises(StoreError):
        store.append_all([(AT, "G", "a", {}), (AT, "G", "number given", {"number": "A-0231"})])
    assert store.append(AT, "G", "a", {}).previous == first.digest
    store.check()


class InterruptedAfterCommit:
    """A connection; somebody presses Ctrl-C as soon as it has committed."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self.db = db

    def __getattr__(self, name: str) -> Any:
        return getattr(self.db, name)

    def execute(self, statement: str, *values: Any) -> sqlite3.Cursor:
        done = self.db.execute(statement, *values)
        if statement == "COMMIT":
            raise KeyboardInterrupt
        return done


def test_an_interruption_right_after_the_commit_leaves_nothing_stale(store: Store) -> None:
    store.append(AT, "G", "a", {})
    whole = store._db
    store._db = InterruptedAfterCommit(whole)  # type: ignore[assignment]
    with pytest.raises(KeyboardInterrupt):
        store.append(AT, "G", "b", {})
    store._db = whole
    assert store.append(AT, "G", "c", {}).seq == 3
    assert [e.kind for e in store.entries()] == ["a", "b", "c"]
    store.check()


@needs("strace")
def test_every_entry_is_synced_before_it_is_said_to_be_taken(store: Store, tmp_path: Path) -> None:
    """What a kill can't show, since the system keeps what a dead program wrote: the order of write,
    sync and acknowledgement that a power cut asks for."""
    trace = tmp_path / "trace"
    writer = subprocess.Popen(
        ["strace", "-y", "-o", str(trace), "-e", "trace=write,pwrite64,fsync,fdatasync",
         sys.executable, "-m", "tests.store.writer", str(store.path), "30"],
        cwd=ROOT, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    assert writer.wait(timeout=60) == 0
    found: list[str] = []
    for line in trace.read_text("utf-8", "replace").splitlines():
        if line.startswith("write(1<") and (said := line.split('"')[1].split()[0]) != "":
            found.append(said)
        elif "sqlite-wal" in line:
            found.append("sync" if "sync(" in line else "write")
    runs = " ".join(found).split("begin")[1:]
    assert len(runs) == 30
    for run in runs:
        acts = run.split()
        written = max(n for n, act in enumerate(acts) if act == "write")
        assert written < acts.index("taken")
        assert "sync" in acts[written + 1 : acts.index("taken")], run
