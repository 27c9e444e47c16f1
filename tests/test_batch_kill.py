"""A batch handed over by the real program, killed at random instants: no number is used twice and
none is left out, and what it goes on with is what was still to do."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from inspect_rec.config import Folder, write_whole
from inspect_rec.people import new_person
from inspect_rec.release import batch
from inspect_rec.report.verify import verify
from inspect_rec.store import Store
from tests import batches, signing

ROOT = Path(__file__).parents[1]
COUNT = 12
KILLS = 7
PATIENCE_S = 120
A_REPORT_S = 0.2
"""About as long as one report takes, so that kills fall on every part of it."""


def with_keys(path: Path) -> Folder:
    here = batches.shop(path, COUNT)
    root = signing.shop().root
    issued = new_person(
        signing.GRINDER,
        signing.shop().name,
        signing.PASSPHRASE,
        root,
        signing.PASSPHRASE,
        signing.SINCE,
    )
    write_whole(here.certificate("root"), root.certificate)
    write_whole(here.certificate("G-01"), issued.certificate)
    write_whole(here.key("G-01"), issued.key, private=True)
    (path / "secret").write_text(signing.PASSPHRASE, encoding="utf-8")
    return here


def program(here: Folder) -> subprocess.Popen[bytes]:
    words = ["batch", batches.JOB, "--handover", "--workers", "2", "--person", "G-01"]
    secret = str(here.path.parent / "secret")
    return subprocess.Popen(
        [sys.executable, "-u", "-m", "inspect_rec", *words, "--shop", str(here.path),
         "--passphrase-file", secret],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT, start_new_session=True,
    )  # fmt: skip


def left_behind(process: subprocess.Popen[bytes]) -> bool:
    """Whether a process that draws outlived the one that signs by more than some seconds."""
    for _ in range(100):
        try:
            os.killpg(process.pid, 0)
        except ProcessLookupError:
            return False
        time.sleep(0.1)
    return True


def reports(lines: Iterator[bytes]) -> Iterator[str]:
    """The numbers that the program says are signed, as it says them."""
    for line in lines:
        words = line.decode().split()
        if words[1:2] == ["of"]:
            yield words[3]


def killed(here: Folder, draw: random.Random) -> list[str]:
    """Starts the program and kills it; gives the numbers that it said are signed."""
    process = program(here)
    assert process.stdout is not None
    said = []
    for number in reports(iter(process.stdout.readline, b"")):
        said.append(number)
        if len(said) > draw.randrange(2):
            break
    time.sleep(draw.random() * A_REPORT_S)
    process.kill()
    rest, wrong = process.communicate(timeout=PATIENCE_S)
    assert process.returncode in (-9, 0), wrong.decode()
    assert not left_behind(process)
    return said + list(reports(iter(rest.splitlines())))


def account(store: Store) -> dict[str, str]:
    """Number to tool; fails where a number stands twice or one is left out."""
    entries = list(store.entries(kinds=("report made", "number given", "signed")))
    made = [e for e in entries if e.kind == "report made"]
    numbers = [str(e.body["number"]) for e in made]
    assert numbers == [f"A-{231 + n:04d}" for n in range(len(numbers))]
    signed = [str(e.body["number"]) for e in entries if e.kind == "signed"]
    assert signed == numbers
    return {str(e.body["number"]): str(e.body["inspection"]) for e in made}


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL")
def test_no_number_is_used_twice_or_left_out_in_kills_at_random_instants(tmp_path: Path) -> None:
    here = with_keys(tmp_path)
    draw = random.Random(20261117)
    between = 0
    for _ in range(KILLS):
        said = killed(here, draw)
        with Store.open(here.ledger) as store:
            made = account(store)
        assert set(said) <= set(made)  # what was said to be signed is in the ledger
        between += not here.report(max(made)).is_file() if made else 0
    process = program(here)
    _, wrong = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 0, wrong.decode()
    with Store.open(here.ledger) as store:
        made = account(store)
        store.check()
        assert batch.survey(store, here, batches.JOB).to_do == ()
    assert list(made.values()) == batches.inspections(COUNT)
    assert {p.stem for p in here.reports.glob("A-*.pdf")} == set(made)
    root, now = signing.shop().certificate, datetime.now(UTC) + timedelta(hours=1)
    for number, inspection in made.items():
        found = verify(here.report(number).read_bytes(), [root], now)
        assert [f.code.value for f in found.findings] == ["signature missing"]
        assert found.header is not None
        assert (found.header.number, found.header.inspection) == (number, inspection)
    print(f"\n{KILLS} kills, {between} of them between the entries and the file's place")


@pytest.mark.skipif(sys.platform == "win32", reason="needs a signal of POSIX")
def test_the_key_that_stops_ends_it_after_the_report_in_hand(tmp_path: Path) -> None:
    here = with_keys(tmp_path)
    process = program(here)
    assert process.stdout is not None
    next(reports(iter(process.stdout.readline, b"")))
    process.send_signal(signal.SIGINT)
    rest, wrong = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 0, wrong.decode()
    assert wrong == b""
    with Store.open(here.ledger) as store:
        made = account(store)
    assert 0 < len(made) < COUNT
    said = rest.decode()
    assert f"{COUNT - len(made)} to come" in said
    assert f"inspect-rec batch {batches.JOB} --handover" in said
    assert {p.stem for p in here.reports.glob("A-*.pdf")} == set(made)
