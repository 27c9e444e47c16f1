"""Power cut: every state that the disk could be left in is rebuilt from what a real program wrote.

A kill can't show this: the system keeps what a dead program wrote. Here whatever wasn't synced yet
is lost, torn or kept out of order, and the store must open, hold, and have all that was taken.
"""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from inspect_rec.store import Store
from tests.programs import needs

ROOT = Path(__file__).parents[2]
NAME = "ledger.sqlite"
FILES = (NAME, f"{NAME}-wal")
READINGS = 14
SECTOR = 512
CALLS = "pwrite64,write,fdatasync,fsync,ftruncate,unlink"

_CALL = re.compile(
    r'(?:\d+ +)?(?P<call>\w+)\((?:(?P<fd>\d+)<(?P<path>[^>]*)>)?(?:(?:, )?"(?P<text>[^"]*)")?'
    r"(?:, (?P<first>\d+))?(?:, (?P<second>\d+))?\) += \d+"
)


@dataclass(frozen=True, slots=True)
class Write:
    """Bytes on their way to a file."""

    offset: int
    data: bytes


@dataclass(frozen=True, slots=True)
class Cut:
    """A file made this long; -1 where it was removed."""

    size: int


Change = Write | Cut
Taken = Mapping[int, str]
"""Sequence number to digest, as the program showed them."""
Disk = Mapping[str, bytes | None]


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that the program did: changed a file, synced it, or showed a reading as taken."""

    file: str
    what: Change | str


def recorded(folder: Path, readings: int, *pragmas: str) -> tuple[Disk, list[Event]]:
    """What the disk held before, and all that a program did that appends readings."""
    path, trace = folder / NAME, folder / "trace"
    Store.create(path, "A", "A-0001").close()
    before: Disk = {FILES[0]: path.read_bytes(), FILES[1]: None}
    subprocess.run(
        ["strace", "-f", "-y", "-xx", "-s", "70000", "-e", f"trace={CALLS}", "-o", str(trace),
         sys.executable, "-m", "tests.store.writer", str(path), str(readings), *pragmas],
        cwd=ROOT, check=True, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    lines = trace.read_text(encoding="utf-8").splitlines()
    return before, [event for line in lines if (event := understood(line)) is not None]


def understood(line: str) -> Event | None:
    """A line of the recording, where it is about the store or about what was shown."""
    found = _CALL.match(line)
    if found is None:
        return None
    call, data = found["call"], plain(found["text"] or "")
    if call == "write" and found["fd"] == "1":
        return Event("", data.decode())
    file = Path((data if call == "unlink" else plain(found["path"] or "")).decode()).name
    if file not in FILES:
        return None
    if call == "pwrite64":
        assert len(data) == int(found["first"]), "strace cut a write short"
        return Event(file, Write(int(found["second"]), data))
    if call in ("fsync", "fdatasync"):
        return Event(file, "sync")
    return Event(file, Cut(-1 if call == "unlink" else int(found["first"])))


def plain(text: str) -> bytes:
    """Bytes that strace wrote in hexadecimal."""
    return bytes.fromhex(text.replace("\\x", ""))


def changed(image: bytes | None, changes: Sequence[Change]) -> bytes | None:
    """A file after these; what was never written between is zeros."""
    for change in changes:
        if isinstance(change, Write):
            old = (image or b"").ljust(change.offset, b"\0")
            end = change.offset + len(change.data)
            image = old[: change.offset] + change.data + old[end:]
        else:
            image = None if change.size < 0 else (image or b"")[: change.size]
    return image


def survivors(pending: Sequence[Change]) -> Iterator[Sequence[Change]]:
    """What may have reached the disk of changes that weren't synced: each beginning, each alone,
    each but one, and each beginning whose last write is torn at a sector, from either side."""
    for n in range(len(pending) + 1):
        yield pending[:n]
    for n, change in enumerate(pending):
        yield [change]
        yield [*pending[:n], *pending[n + 1 :]]
        if isinstance(change, Write) and len(change.data) > SECTOR:
            middle = len(change.data) // SECTOR // 2 * SECTOR
            yield [*pending[:n], Write(change.offset, change.data[:middle])]
            yield [*pending[:n], Write(change.offset + middle, change.data[middle:])]


def states(before: Disk, events: Sequence[Event]) -> Iterator[tuple[Disk, Taken]]:
    """Every state a power cut may leave, and what had been shown as taken by then.

    Looked at before each sync, where most is under way, and whenever a reading was shown. What may
    be left at any other instant is among these.
    """
    synced = dict(before)
    pending: dict[str, list[Change]] = {file: [] for file in FILES}
    taken: dict[int, str] = {}
    for event in events:
        if isinstance(event.what, Write | Cut):
            pending[event.file].append(event.what)
            continue
        if event.what.startswith("taken"):
            _, seq, digest = event.what.split()
            taken[int(seq)] = digest
        if event.what == "sync" or event.what.startswith("taken"):
            yield from ((disk, dict(taken)) for disk in left(synced, pending))
        if event.what == "sync":
            synced[event.file] = changed(synced[event.file], pending[event.file])
            pending[event.file].clear()
    yield from ((disk, dict(taken)) for disk in left(synced, pending))


def left(synced: Disk, pending: Mapping[str, Sequence[Change]]) -> Iterator[Disk]:
    """One file in each of its states, while of the other all or nothing came through."""
    for file in FILES:
        (other,) = set(FILES) - {file}
        for rest in ((), pending[other]):
            for kept in survivors(pending[file]):
                yield {
                    file: changed(synced[file], kept),
                    other: changed(synced[other], rest),
                }


def lost(folder: Path, before: Disk, events: Sequence[Event]) -> tuple[int, int]:
    """How many different states there are, and in how many of them something taken is missing.

    Raises where one doesn't open, doesn't hold, or can't be gone on with.
    """
    seen: set[tuple[object, ...]] = set()
    missing = 0
    for disk, taken in states(before, events):
        key = (*(disk[file] for file in FILES), len(taken))
        if key in seen:
            continue
        seen.add(key)
        for file in (*FILES, f"{NAME}-shm"):
            (folder / file).unlink(missing_ok=True)
        for file, image in disk.items():
            if image is not None:
                (folder / file).write_bytes(image)
        with Store.open(folder / NAME) as store:
            store._db.execute("PRAGMA synchronous = OFF")  # these copies need not outlast a cut
            store.check()
            kept = {entry.seq: entry.digest for entry in store.entries()}
            after = store.append(datetime(2026, 11, 17, tzinfo=UTC), "G-01", "alarm", {})
        assert after.seq == len(kept) + 1
        missing += any(kept.get(seq) != digest for seq, digest in taken.items())
    return len(seen), missing


def shown(events: Sequence[Event]) -> int:
    return sum(isinstance(e.what, str) and e.what.startswith("taken") for e in events)


@needs("strace")
def test_no_power_cut_loses_what_was_taken(tmp_path: Path) -> None:
    # A checkpoint every few readings: the log begins anew over its old bytes.
    before, events = recorded(tmp_path, READINGS, "wal_autocheckpoint = 20")
    assert shown(events) == READINGS
    assert shown(events[events.index(Event(NAME, "sync")) :]) > READINGS / 3
    count, missing = lost(tmp_path, before, events)
    print(f"\n{count} states of the disk, {missing} of them without a reading that was taken")
    assert count > 15 * READINGS
    assert missing == 0


@needs("strace")
def test_a_store_that_does_not_sync_each_reading_is_seen_to_lose_some(tmp_path: Path) -> None:
    """The same look at synchronous NORMAL, which syncs at checkpoints only."""
    before, events = recorded(tmp_path, 3, "synchronous = NORMAL")
    assert shown(events) == 3
    count, missing = lost(tmp_path, before, events)
    print(f"\n{count} states of the disk, {missing} of them without a reading that was taken")
    assert missing > count / 2
