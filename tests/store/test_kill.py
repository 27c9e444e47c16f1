"""Killed at random instants, most of them while an entry is on its way to the disk: everything
that was shown as taken is there, the chain holds, and it goes on."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

from inspect_rec.ledger import check_chain
from inspect_rec.store import Store

KILLS = 200
ROOT = Path(__file__).parents[2]


def killed(path: Path, draw: random.Random) -> tuple[dict[int, str], bool]:
    """One run: what it showed as taken, and whether it died between begin and taken.

    Two in three kills wait for a begin and then for part of a millisecond, so that they fall
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
    begun = 0
    while begun < wanted:
        line = process.stdout.readline()
        lines.append(line)
        begun += line.startswith(b"begin")
    if draw.random() < 2 / 3:
        end = time.perf_counter() + draw.random() * 0.0004
        while time.perf_counter() < end:
            pass
    else:
        time.sleep(draw.random() * 0.01)
    process.kill()
    rest, _ = process.communicate()
    lines += rest.splitlines(keepends=True)
    whole = [line.split() for line in lines if line.endswith(b"\n")]
    taken = {int(words[1]): words[2].decode() for words in whole if words[0] == b"taken"}
    return taken, whole[-1][0] == b"begin"


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL")
def test_nothing_shown_as_taken_is_lost_in_200_kills(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite"
    Store.create(path, "A", "A-0001").close()
    draw = random.Random(20261117)
    inside = 0
    for _ in range(KILLS):
        taken, within = killed(path, draw)
        inside += within
        with Store.open(path) as store:
            kept = {e.seq: e.digest for e in store.entries()}
            assert sorted(kept) == list(range(1, len(kept) + 1))
            assert {seq: kept.get(seq) for seq in taken} == taken
    with Store.open(path) as store:
        check_chain(store.entries())
        count = store.head().seq
    print(f"\n{KILLS} kills, {inside} of them between begin and taken; {count} entries, all hold")
    assert inside >= KILLS / 2
