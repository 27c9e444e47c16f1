"""Copies on another disk: whole, private, kept; and none that is better than what is here goes."""

from __future__ import annotations

import stat
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from inspect_rec.errors import LedgerError
from inspect_rec.store import Store, sqlite

AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.create(tmp_path / "ledger.sqlite", "A", "A-0231") as opened:
        yield opened


def handed_over(store: Store, folder: Path, n: int) -> Path:
    """One more tool, and the copy after it."""
    at = AT + timedelta(minutes=n)
    store.append(at, "G-01", "alarm", {"n": n})
    return store.copy_to(folder, at)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows knows no such permissions")
def test_a_store_and_its_copies_are_private(store: Store, tmp_path: Path) -> None:
    copy = handed_over(store, tmp_path / "disk", 1)
    files = [*tmp_path.glob("*.sqlite*"), *copy.parent.iterdir()]
    assert len(files) == 4  # the store, its log and its index; the copy
    assert {stat.S_IMODE(file.stat().st_mode) for file in files} == {0o600}


def test_the_newest_copies_stay_and_hold_all_that_went_with_the_oldest(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sqlite, "COPIES", 3)
    other = tmp_path / "disk" / "ledger-of-the-shop-next-door-20261117T080100-1.sqlite"
    other.parent.mkdir()
    other.write_bytes(b"not ours")
    made = [handed_over(store, other.parent, n) for n in range(1, 6)]
    assert sorted(other.parent.iterdir()) == sorted([*made[2:], other])
    with Store.open(made[-1]) as newest:
        assert [entry.body["n"] for entry in newest.entries()] == [1, 2, 3, 4, 5]


def test_a_copy_of_what_was_lost_here_is_never_removed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk died, the shop began anew by mistake; the old copy is all there is."""
    monkeypatch.setattr(sqlite, "COPIES", 2)
    folder = tmp_path / "disk"
    with Store.create(tmp_path / "ledger.sqlite", "A", "A-0231") as first:
        for n in range(3):
            last = handed_over(first, folder, n)
    (tmp_path / "ledger.sqlite").unlink()
    with Store.create(tmp_path / "ledger.sqlite", "A", "A-0231") as anew:
        for n in range(10, 15):
            handed_over(anew, folder, n)
    assert last in folder.iterdir()
    assert len(list(folder.iterdir())) > 2


def test_a_damaged_old_copy_is_left_for_a_person_to_look_at(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sqlite, "COPIES", 1)
    damaged = handed_over(store, tmp_path / "disk", 1)
    damaged.write_bytes(b"x" * 5000)
    newest = handed_over(store, tmp_path / "disk", 2)
    assert sorted((tmp_path / "disk").iterdir()) == sorted([damaged, newest])


def test_of_a_chain_that_does_not_hold_no_copy_takes_a_name(store: Store, tmp_path: Path) -> None:
    good = handed_over(store, tmp_path / "disk", 1)
    store.append(AT, "G-01", "alarm", {"n": 2})
    store._db.execute("DROP TRIGGER entry_unchanged")
    text = store._db.execute("SELECT text FROM entry WHERE seq = 1").fetchone()[0]
    store._db.execute("UPDATE entry SET text = ? WHERE seq = 1", (text.replace(b'n":1', b'n":7'),))
    with pytest.raises(LedgerError, match="changed"):
        store.copy_to(tmp_path / "disk", AT + timedelta(minutes=9))
    assert list((tmp_path / "disk").glob("*.sqlite")) == [good]


def test_what_a_killed_copy_left_is_in_nobodys_way(store: Store, tmp_path: Path) -> None:
    """Its log is a good one, of another store; nothing of it may come in. (SQLite 3.40 drops a
    log beside an empty file by itself.)"""
    folder = tmp_path / "disk"
    folder.mkdir()
    left = folder / ".ledger-20261117T080100-1.sqlite.part"
    left.write_bytes(b"half")
    with Store.create(tmp_path / "other.sqlite", "B", "B-0001") as other:
        other.append(AT, "G-01", "alarm", {})
        log = (tmp_path / "other.sqlite-wal").read_bytes()
    left.with_name(left.name + "-wal").write_bytes(log)
    copy = handed_over(store, folder, 1)
    assert list(folder.iterdir()) == [copy]
    with Store.open(copy) as opened:
        assert list(opened.entries()) == list(store.entries())


def test_what_a_killed_set_up_left_is_in_nobodys_way(tmp_path: Path) -> None:
    (tmp_path / ".ledger.sqlite.new").write_bytes(b"half")
    with Store.create(tmp_path / "ledger.sqlite", "A", "A-0231") as store:
        store.check()
    assert [file.name for file in tmp_path.iterdir()] == ["ledger.sqlite"]
