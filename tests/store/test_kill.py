"""Killed at random instants, most of them while an entry is on its way to the disk: everything
that was shown as taken is there, the chain holds, and it goes on."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

from inspect_rec.ledger import Entry, Head, check_chain
from inspect_rec.store import Store

KILLS = 200
ROOT = Path(__file__).parents[2]


@dataclass(frozen=True, slots=True)
class Run:
    """What one writer showed before it was killed."""

    begun: tuple[int, ...]
    taken: dict[int, str]
    """Sequence number to digest, as shown."""
    within: bool
    """Died after its commit had begun and before it was shown as taken: in write, sync or
    acknowledgement."""


def killed(path: Path, draw: random.Random) -> Run:
    """Starts a writer and kills it.

    Two in three kills wait for a commit and then for part of a millisecond, so that they fall
    into the write or the sync; the third comes at any instant.
    """
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.store.writer", str(path)],
        stdout=subprocess.PIPE,
        cwd=ROOT,
        bufsize=0,
    )
    assert process.stdout is not None
    lines: list[bytes] = []
    wanted = draw.randrange(1, 12)
    commits = 0
    while commits < wanted:
        line = process.stdout.readline()
        assert line, "the writer ended by itself"
        lines.append(line)
        commits += line == b"commit\n"
    if draw.random() < 2 / 3:
        end = time.perf_counter() + draw.random() * 0.0003
        while time.perf_counter() < end:
            pass
    else:
        time.sleep(draw.random() * 0.01)
    process.kill()
    rest, _ = process.communicate()
    assert process.returncode == -9
    lines += rest.splitlines(keepends=True)
    whole = [line.split() for line in lines if line.endswith(b"\n")]
    return Run(
        tuple(int(words[1]) for words in whole if words[0] == b"begin"),
        {int(words[1]): words[2].decode() for words in whole if words[0] == b"taken"},
        whole[-1][0] == b"commit",
    )


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL")
def test_nothing_shown_as_taken_is_lost_in_200_kills(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite"
    Store.create(path, "A", "A-0001").close()
    draw = random.Random(20261117)
    inside = shown = unseen = count = 0
    for _ in range(KILLS):
        run = killed(path, draw)
        assert run.begun[0] == count + 1  # it went on with the number that follows
        with Store.open(path) as store:
            entries = list(store.entries())
        kept = {e.seq: e.digest for e in entries}
        assert sorted(kept) == list(range(1, len(kept) + 1))
        assert {seq: kept.get(seq) for seq in run.taken} == run.taken
        assert len(kept) - count - len(run.taken) in (0, 1)  # one at most was on its way
        check_chain(entries[-50:], before(entries[-50:]))
        inside += run.within
        shown += len(run.taken)
        unseen += len(kept) - count - len(run.taken)
        count = len(kept)
    with Store.open(path) as store:
        store.check()
    print(
        f"\n{KILLS} kills, {inside} of them between the first write and the"
        f" acknowledgement; {shown} entries shown as"
        f" taken, all there; {unseen} more were stored before they could be shown"
    )
    assert inside >= KILLS / 2
    # Some died before the commit and some after it: the window was really hit from both sides.
    assert 0 < unseen < inside
    assert shown >= KILLS


def before(entries: list[Entry]) -> Head:
    """Where the chain stood before the first of these."""
    first = entries[0]
    return Head(first.station, first.seq - 1, first.previous)
