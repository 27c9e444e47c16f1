"""The raw record: every byte, bounded, compressed, and whole after a cut."""

from __future__ import annotations

import gzip
import json
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from drivers import replay
from inspect_rec.errors import InputError, StoreError
from inspect_rec.store.journal import STALE_S, Journal, recording

AT = datetime(2026, 11, 27, 8, 0, tzinfo=UTC)


class Clock:
    def __init__(self) -> None:
        self.at = AT

    def __call__(self) -> datetime:
        self.at += timedelta(seconds=1)
        return self.at


def played(folder: Path) -> bytes:
    """All bytes of a journal in the order of its files, through the code that replays them."""
    found = b""
    for path in sorted(folder.iterdir()):
        lines, bad = replay.read(recording(path).decode(), path.name)
        assert not bad
        found += b"".join(each.data for each in lines)
    return found


def test_every_byte_comes_back_in_order(tmp_path: Path) -> None:
    chunks = [bytes([n % 256, 13, 10]) * (n % 7 + 1) for n in range(500)]
    with Journal(tmp_path, "RO-1", one_file=2000, clock=Clock()) as journal:
        for n, chunk in enumerate(chunks):
            assert journal.write(chunk, AT + timedelta(milliseconds=n)) == ""
    assert len(list(tmp_path.glob("*.jsonl.gz"))) > 10
    assert not list(tmp_path.glob("*.jsonl"))
    assert played(tmp_path) == b"".join(chunks)


def test_instants_are_kept_to_the_microsecond(tmp_path: Path) -> None:
    at = AT + timedelta(microseconds=123456)
    with Journal(tmp_path, "RO-1", clock=Clock()) as journal:
        journal.write(b"X", at)
    (path,) = tmp_path.iterdir()
    lines, _ = replay.read(recording(path).decode(), path.name)
    assert [each.at for each in lines] == [at]


def test_the_oldest_go_beyond_the_bound_and_never_the_last(tmp_path: Path) -> None:
    with Journal(tmp_path, "RO-1", one_file=500, all_files=3000, clock=Clock()) as journal:
        for n in range(2000):
            journal.write(f"X{n:+09.3f}".encode(), AT)
    files = sorted(tmp_path.iterdir())
    assert sum(path.stat().st_size for path in files) <= 3000
    assert b"X+1999.000" in played(tmp_path)
    assert b"X+0000.000" not in played(tmp_path)


def test_what_a_stopped_program_left_is_kept_and_packed_once_it_is_old(tmp_path: Path) -> None:
    clock = Clock()
    left = Journal(tmp_path, "RO-1", clock=clock)
    left.__enter__()
    left.write(b"before the power went", AT)
    assert left._file is not None
    left._file.close()
    (open_one,) = tmp_path.iterdir()
    for age_s, suffix in ((STALE_S / 2, ".jsonl"), (2 * STALE_S, ".gz")):
        os.utime(open_one, (clock.at.timestamp() - age_s,) * 2)
        with Journal(tmp_path, "RO-1", clock=clock):
            pass
        (now,) = tmp_path.iterdir()
        assert now.suffix == suffix
        assert played(tmp_path) == b"before the power went"


def test_another_readouts_open_recording_is_left_alone(tmp_path: Path) -> None:
    with Journal(tmp_path, "RO-1", clock=Clock()) as one:
        one.write(b"one", AT)
        with Journal(tmp_path, "RO-2", clock=Clock()) as two:
            two.write(b"two", AT)
            one.write(b" more", AT)
    assert sorted(path.name.split("-2026")[0] for path in tmp_path.iterdir()) == ["RO-1", "RO-2"]
    assert played(tmp_path) == b"one moretwo"


def test_a_readout_that_sent_nothing_leaves_no_file(tmp_path: Path) -> None:
    with Journal(tmp_path, "RO-1"):
        pass
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_is_said_and_tried_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Journal(tmp_path, "RO-1", clock=Clock()) as journal:
        assert journal._file is not None
        full = OSError(28, "No space left on device")
        monkeypatch.setattr(journal._file, "flush", lambda: (_ for _ in ()).throw(full))
        assert "disk full" in journal.write(b"lost", AT)
        assert journal.write(b"kept", AT) == ""
    assert played(tmp_path).endswith(b"kept")


def test_a_folder_that_can_not_be_made_is_an_error_with_advice(tmp_path: Path) -> None:
    (tmp_path / "journal").write_text("a file, no folder")
    with pytest.raises(StoreError, match="Make room"), Journal(tmp_path / "journal", "RO-1"):
        pass


def test_a_source_that_is_no_file_name_is_written_as_one(tmp_path: Path) -> None:
    with Journal(tmp_path, "../RO 1", clock=Clock()) as journal:
        journal.write(b"X", AT)
    (path,) = tmp_path.iterdir()
    assert path.name.startswith(".._RO_1-2026")


def test_the_same_recording_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("a", "b"):
        with Journal(tmp_path / name, "RO-1", clock=Clock()) as journal:
            journal.write(b"X", AT)
    (one,), (other,) = ((tmp_path / name).iterdir() for name in ("a", "b"))
    assert one.read_bytes() == other.read_bytes()
    assert json.loads(gzip.decompress(one.read_bytes()))["hex"] == "58"


@pytest.mark.parametrize("data", [b"", b"\x1f\x8b", gzip.compress(b"x" * 100, mtime=0)[:-9]])
def test_a_broken_or_bursting_recording_is_refused(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "RO-1-20261127T080000000000.jsonl.gz"
    path.write_bytes(data)
    if data:
        with pytest.raises(InputError):
            recording(path)
    else:
        assert recording(path) == b""
    bomb = tmp_path / "bomb.gz"
    bomb.write_bytes(gzip.compress(bytes(5_000_000)))
    with pytest.raises(InputError, match="too large"):
        recording(bomb, largest=1_000_000)
