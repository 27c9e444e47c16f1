"""Stores of older and newer forms, and files that are none; entries filed as what they aren't."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from inspect_rec.errors import LedgerError, StoreError
from inspect_rec.store import Store, schema
from tests import worked

RECORDS = Path(__file__).parents[2] / "fixtures" / "records"
AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)
FORMS = sorted(RECORDS.glob("store-v*.sql"))


def released(path: Path, form: Path) -> Path:
    """A store as the program of that form wrote it."""
    with closing(sqlite3.connect(path)) as db:
        db.executescript(form.read_text(encoding="utf-8"))
    return path


def tables(path: Path) -> dict[str, str]:
    """Every table, index and trigger as SQLite was told to make it, without its line breaks."""
    with closing(sqlite3.connect(path)) as db:
        rows = db.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL")
        return {name: " ".join(sql.split()) for name, sql in rows}


@pytest.fixture
def new(tmp_path: Path) -> Iterator[Store]:
    with Store.create(tmp_path / "new.sqlite", "A", "A-0231") as store:
        for entry in worked.entries("I2", 21):
            store.append(entry.at, entry.person, entry.kind, entry.body)
        yield store


def test_every_form_that_has_a_number_has_its_file() -> None:
    assert [form.stem for form in FORMS] == [f"store-v{n + 1}" for n in range(schema.SCHEMA)]


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.stem)
def test_an_older_store_becomes_what_a_new_one_is_and_keeps_every_entry(
    form: Path, tmp_path: Path, new: Store
) -> None:
    path = released(tmp_path / "old.sqlite", form)
    with closing(sqlite3.connect(path)) as db:
        before = db.execute("SELECT * FROM entry ORDER BY station, seq").fetchall()
        assert schema.version(db) == int(form.stem.removeprefix("store-v"))
    with Store.open(path) as store:
        after = store._db.execute("SELECT * FROM entry ORDER BY station, seq").fetchall()
        assert schema.version(store._db) == schema.SCHEMA
        store.check()
        assert store.open_inspections() == ["I2/BW-22-B"]
        assert store.append(AT, "G-01", "alarm", {}).seq == len(before) + 1
    assert after == before
    assert len(before) == 21
    assert tables(path) == tables(new.path)


def test_a_step_that_fails_half_way_leaves_the_older_form_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = released(tmp_path / "old.sqlite", RECORDS / "store-v1.sql")
    before = tables(path)
    steps = (schema._STEPS[0], (*schema._STEPS[1], "CREATE TABLE about (again TEXT)"))
    with monkeypatch.context() as patch:
        patch.setattr(schema, "_STEPS", steps)
        with pytest.raises(StoreError, match="already exists"):
            Store.open(path)
    assert tables(path) == before
    with closing(sqlite3.connect(path)) as db:
        assert schema.version(db) == 1
    with Store.open(path) as store:
        store.check()


def test_a_newer_store_carried_away_is_refused_without_a_byte_changed(new: Store) -> None:
    """One in a single file, as copies are: to look at it in WAL mode would already change it."""
    new.settle()
    with closing(sqlite3.connect(new.path)) as db:
        db.execute(f"PRAGMA user_version = {schema.SCHEMA + 1}")
    before = new.path.read_bytes()
    with pytest.raises(StoreError, match="newer version") as caught:
        Store.open(new.path)
    assert caught.value.where == str(new.path)
    assert new.path.read_bytes() == before


@pytest.mark.parametrize("content", ["nothing", "tables of another program"])
def test_a_database_that_is_no_store_is_said_and_left_alone(content: str, tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite"
    with closing(sqlite3.connect(path)) as db:
        if content != "nothing":
            db.execute("CREATE TABLE song (name TEXT)")
    path.touch()
    before = path.read_bytes()
    with pytest.raises(StoreError, match="no store"):
        Store.open(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE about SET value = 'B' WHERE key = 'station'",
        "DELETE FROM about",
        "INSERT OR REPLACE INTO about VALUES ('station', 'B')",
    ],
)
def test_a_store_keeps_its_station_and_its_series(new: Store, statement: str) -> None:
    with (
        closing(sqlite3.connect(new.path)) as db,
        pytest.raises(sqlite3.IntegrityError, match="keeps its station"),
    ):
        db.execute(statement)


@pytest.mark.parametrize(
    ("column", "value"), [("inspection", "I9/OTHER"), ("inspection", None), ("kind", "alarm")]
)
def test_an_entry_filed_where_nobody_would_find_it_is_named(
    new: Store, column: str, value: str | None
) -> None:
    """Its bytes and its digest are whole; only the inspection would be folded without it."""
    with closing(sqlite3.connect(new.path)) as db, db:
        db.execute("DROP TRIGGER entry_unchanged")
        db.execute(f"UPDATE entry SET {column} = ? WHERE seq = 7", (value,))
    with pytest.raises(LedgerError, match="filed as what it isn't") as caught:
        new.check()
    assert caught.value.where == "A 7"
    assert [m.code for m in new.check_against(new.head())] == ["chain broken"]


def test_bytes_that_are_no_entry_are_named_by_their_place(new: Store) -> None:
    with closing(sqlite3.connect(new.path)) as db, db:
        db.execute("DROP TRIGGER entry_unchanged")
        db.execute("UPDATE entry SET text = ? WHERE seq IN (5, 21)", (b"{",))
    with pytest.raises(LedgerError, match="no JSON") as caught:
        new.check()
    assert caught.value.where == "A 5"


def test_an_index_that_lacks_an_entry_is_found(new: Store) -> None:
    """The bytes are whole; only whoever asks by inspection would miss a reading."""
    with closing(sqlite3.connect(new.path)) as db:
        sql = db.execute("SELECT sql FROM sqlite_master WHERE name = 'entry_inspection'")
        made = sql.fetchone()[0]
        db.execute("PRAGMA writable_schema = ON")
        db.execute(
            "UPDATE sqlite_master SET sql = ? WHERE name = 'entry_inspection'",
            (made + " AND seq <> 7",),
        )
        db.commit()
    with closing(sqlite3.connect(new.path)) as db:
        db.execute("REINDEX entry_inspection")
        db.execute("PRAGMA writable_schema = ON")
        db.execute("UPDATE sqlite_master SET sql = ? WHERE name = 'entry_inspection'", (made,))
        db.commit()
    with Store.open(new.path) as store, pytest.raises(StoreError, match="damaged"):
        store.check()
