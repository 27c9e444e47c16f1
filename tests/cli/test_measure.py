"""Measuring in the terminal: the journal, going on, and the whole program in a terminal."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from drivers import replay
from drivers.layout import packaged
from inspect_rec.capture import Capture
from inspect_rec.cli import measure
from inspect_rec.config import Folder, Name
from inspect_rec.errors import InputError, StoreError
from inspect_rec.people import Role
from inspect_rec.simulate.readout import SimulatedReadout
from inspect_rec.store import Store
from inspect_rec.store.journal import recording
from tests import worked

LAYOUT = packaged()["two-axis line"]
LOCKOUT_S = LAYOUT.rules.lockout_ms / 1000 + 0.05
AT = datetime(2026, 11, 18, 9, 0, tzinfo=UTC)
MARK = "I1/QF-0417"
BY_EYE = ("97.4", "20.7", "20.8", "20.7")
"""What is read by eye before the first sighting: length on arrival and three temperatures."""


# The whole program


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    found = Folder(tmp_path / "shop")
    found.path.mkdir()
    shutil.copyfile(worked.FOLDER / "shop.toml", found.shop)
    found.name_person("G-01", Name(name="Marten Oakes", roles=(Role.MEASURES,)))
    shop = found.read_shop().shop
    with Store.create(found.ledger, shop.station, shop.first_number) as store:
        store.append(datetime.now(UTC), "G-01", "job opened", worked.opened("I1"))
    return found


def test_without_a_readout_it_says_where_to_name_one(folder: Folder) -> None:
    with pytest.raises(InputError, match="no readout is named"):
        measure.run(folder, MARK, "G-01")


def test_a_journal_that_can_not_be_begun_is_said_before_anything_is_taken(folder: Folder) -> None:
    folder.journal.write_text("in the way", encoding="utf-8")
    with SimulatedReadout() as readout, pytest.raises(StoreError, match="journal"):
        measure.run(folder, MARK, "G-01", readout=readout.url, plain=True)


def test_what_was_left_is_gone_on_with(folder: Folder, capsys: pytest.CaptureFixture[str]) -> None:
    recording = Path(__file__).parents[2] / "fixtures" / "recordings" / "i1.jsonl"
    part = folder.path / "part.jsonl"
    lines = recording.read_text("utf-8").splitlines()
    middle = next(i for i, line in enumerate(lines) if json.loads(line)["n"] == 44)
    for some in (lines[:middle], lines[middle:]):
        part.write_text("\n".join(some) + "\n", encoding="utf-8")
        measure.run(folder, MARK, "G-01", recording=part, plain=True)
    taken = [line for line in capsys.readouterr().out.splitlines() if line.startswith("taken ")]
    with Store.open(folder.ledger) as store:
        capture = Capture(store, MARK, "G-01", LAYOUT)
        assert capture.step is None
        assert len(taken) == len(list(store.entries(kinds=["reading"])))


class Terminal:
    """A terminal of 80 by 24 with the program in it."""

    def __init__(self, words: list[str]) -> None:
        import fcntl
        import pty
        import struct
        import termios

        self.own, other = pty.openpty()
        fcntl.ioctl(other, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.process = subprocess.Popen(words, stdin=other, stdout=other, stderr=other)
        os.close(other)
        self.written = b""

    def wait_for(self, text: str) -> None:
        until = time.monotonic() + 20
        while text.encode() not in self.written:
            assert time.monotonic() < until, self.written.decode(errors="replace")[-3000:]
            self.read()

    def read(self) -> None:
        import select

        if select.select([self.own], [], [], 0.1)[0]:
            with contextlib.suppress(OSError):  # the program has ended
                self.written += os.read(self.own, 65536)

    def press(self, text: str) -> None:
        self.written = b""
        os.write(self.own, text.encode())

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        os.close(self.own)


def line_of(x: str, z: str) -> bytes:
    return f"X{float(x):+09.3f} Z{float(z):+09.3f}\r\n".encode()


@contextlib.contextmanager
def sending(readout: SimulatedReadout, line: bytes) -> Iterator[None]:
    """The readout sends a line ten times a second."""
    over = threading.Event()

    def send() -> None:
        while not over.wait(0.1):
            with contextlib.suppress(OSError):  # the program has left
                readout.send(line)

    thread = threading.Thread(target=send)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_in_a_terminal_one_key_takes_and_arrows_do_nothing(folder: Folder) -> None:
    words = [sys.executable, "-m", "inspect_rec", "measure", MARK, "--person", "G-01"]
    with SimulatedReadout() as readout:
        program = Terminal([*words, "--readout", readout.url, "--shop", str(folder.path)])
        try:
            readout.meet()
            with sending(readout, line_of("36.449", "130.250")):
                program.wait_for("Type the figure")
                for text in BY_EYE:
                    program.press(text)
                    program.wait_for("press the key if that's right")
                    program.press(" ")
                    program.wait_for("Taken")
                    time.sleep(LOCKOUT_S)
                program.press("\x1b[D\x1b[C ")
                program.wait_for("Clamped")
                program.wait_for("Still: take")
                time.sleep(LOCKOUT_S)
                program.press("\n")
                program.wait_for("Taken")
                program.press("q")
                program.wait_for("\x1b[?25h")
        finally:
            program.close()
    with Store.open(folder.ledger) as store:
        kinds = [e.kind for e in store.entries()]
        assert kinds == ["job opened", *["reading"] * 4, "clamped", "reading"]
    journals = list(folder.journal.iterdir())
    assert len(journals) == 1
    lines, bad = replay.read(recording(journals[0]).decode(), journals[0].name)
    assert not bad
    kept = b"".join(each.data for each in lines)
    assert kept.startswith(line_of("36.449", "130.250"))
