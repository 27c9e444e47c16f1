"""Keys, questions and the journal at the machine; the whole program in a terminal of its own."""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from drivers.decoder import Alarm, Code
from drivers.layout import packaged
from drivers.settled import State
from drivers.transport import Chunk
from inspect_rec.capture import Capture
from inspect_rec.cli import keys, measure
from inspect_rec.cli.console import Console
from inspect_rec.config import Folder, Name
from inspect_rec.errors import InputError, StoreError
from inspect_rec.people import Role
from inspect_rec.reading import Reading, Sighting
from inspect_rec.simulate.readout import SimulatedReadout
from inspect_rec.store import Store
from inspect_rec.units import Unit
from tests import worked

LAYOUT = packaged()["two-axis line"]
AT = datetime(2026, 11, 18, 9, 0, tzinfo=UTC)
MARK = "I1/QF-0417"
TIMES = ("97.4", "20.7", "20.8", "20.7")
"""What is read by eye before the first sighting: length on arrival and three temperatures."""


@dataclass
class Bench:
    """A console on a store, its clock, and what it wrote."""

    store: Store
    capture: Capture
    console: Console
    out: io.StringIO
    at: datetime = AT
    kinds: list[str] = field(default_factory=list)

    def press(self, *pressed: str) -> str:
        """Press keys, a second apart; gives what was said last."""
        for key in pressed:
            self.at += timedelta(seconds=1)
            assert self.console.key(key, self.at)
        return self.console.said

    def added(self) -> list[str]:
        """Kinds of the entries since the last look."""
        all_ = [e.kind for e in self.store.entries()]
        new, self.kinds = all_[len(self.kinds) :], all_
        return new

    def sight(self, x: str, z: str) -> None:
        self.at += timedelta(seconds=1)
        readings = tuple(
            Reading(c, Decimal(v), Unit.MM, self.at, "RO-1", b"") for c, v in (("X", x), ("Z", z))
        )
        self.console.hear(Sighting(self.at, readings, b"", key=True))


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """Job I1, RM-5 clamped: the first sighting comes next."""
    with Store.create(tmp_path / "ledger.sqlite", "A", "A-0231") as store:
        store.append(AT, "G-01", "job opened", worked.opened("I1"))
        capture, out = Capture(store, MARK, "G-01", LAYOUT), io.StringIO()
        found = Bench(store, capture, Console(capture, plain=True, out=out), out)
        for text in TIMES:
            found.press(*text, keys.TAKE)
        found.press(keys.TAKE)
        assert found.added() == ["job opened", *["reading"] * 4, "clamped"]
        yield found


def test_what_is_taken_is_one_line_with_its_number_and_place(bench: Bench) -> None:
    bench.out.truncate(0)
    bench.out.seek(0)
    bench.sight("36.449", "130.250")
    line = bench.out.getvalue()
    assert line.endswith("\n")
    word, seq, place = line.split(" ", 2)
    assert (word, int(seq)) == ("taken", bench.store.head().seq)
    assert json.loads(place)["feature"] == "master axis"


def test_a_strike_out_asks_why_and_any_other_key_lets_it_be(bench: Bench) -> None:
    bench.sight("36.449", "130.250")
    bench.added()
    assert bench.press(keys.STRIKE, "x") == "Nothing struck out"
    assert bench.added() == []
    assert "Struck out: master axis, greater" in bench.press(keys.STRIKE, "1")
    assert bench.added() == ["struck out"]
    assert bench.capture.inspection.record.struck[0].reason == "film on edge"


def test_the_strike_key_again_goes_one_further_back(bench: Bench) -> None:
    bench.sight("36.449", "130.250")
    bench.sight("26.450", "130.250")
    assert "master axis, greater" in bench.press(keys.STRIKE, keys.STRIKE, "3")
    struck = bench.capture.inspection.record.struck[0]
    assert (struck.reading.place.mark, struck.reason) == ("greater", "knocked")
    assert "temperature" in bench.press(keys.STRIKE, keys.STRIKE, "2")


def test_further_back_than_the_first_there_is_nothing(bench: Bench) -> None:
    assert bench.press(*[keys.STRIKE] * 5) == "There is nothing to strike out"
    bench.added()
    bench.press("1")
    assert bench.added() == []


def test_a_cut_asks_for_flute_and_infeed(bench: Bench) -> None:
    said = bench.press("g", "3", keys.TAKE, *"0,012", keys.TAKE)
    assert said == "Ground again: flute 3 is to be measured anew"
    cut = bench.capture.inspection.record.cuts[0]
    assert (cut.flute, cut.infeed_mm) == (3, "0.012")


def test_a_cut_of_unknown_depth_on_all_flutes_is_recorded_too(bench: Bench) -> None:
    assert "all 4 edges" in bench.press("G", "0", keys.TAKE, keys.TAKE)
    cut = bench.capture.inspection.record.cuts[0]
    assert (cut.flute, cut.infeed_mm) == (0, "")


@pytest.mark.parametrize(
    "pressed",
    [
        ("g", "5", keys.TAKE),
        ("g", keys.TAKE),
        ("g", "q"),
        ("g", "3", keys.TAKE, "q"),
        ("g", "3", keys.TAKE, *"abc"),
        ("g", "3", keys.STRIKE, keys.TAKE),
        ("g", "3", keys.TAKE, *"99", keys.TAKE),
        ("g", keys.OTHER),
        ("z", "y"),
    ],
    ids=" ".join,
)
def test_an_answer_that_is_none_records_nothing(bench: Bench, pressed: tuple[str, ...]) -> None:
    bench.added()
    bench.press(*pressed)
    assert "ground again" not in bench.added()
    assert not bench.capture.inspection.record.cuts


def test_the_key_that_ends_an_answer_takes_nothing_when_it_bounces(bench: Bench) -> None:
    """Enter after a flute's number, twice in 100 ms: the infeed must still be asked for."""
    bench.press("g", "3")
    for ms in (0, 100, 200):
        bench.console.key(keys.TAKE, bench.at + timedelta(seconds=1, milliseconds=ms))
    assert not bench.capture.inspection.record.cuts
    bench.press(*"0.01", keys.TAKE)
    assert bench.capture.inspection.record.cuts[0].infeed_mm == "0.01"


def test_digits_that_are_refused_stay_refused_until_they_are_cleared(tmp_path: Path) -> None:
    """97.4 typed after a slip of 200 must not leave 7.4 for the key."""
    with Store.create(tmp_path / "ledger.sqlite", "A", "A-0231") as store:
        store.append(AT, "G-01", "job opened", worked.opened("I1"))
        capture = Capture(store, MARK, "G-01", LAYOUT)
        bench = Bench(
            store, capture, Console(capture, plain=True, out=io.StringIO()), io.StringIO()
        )
        assert "can't be" in bench.press(*"20097.4")
        assert "Backspace clears it" in bench.console.said
        assert bench.press(keys.TAKE) == "Type the figure first"
        bench.press(*"2009")
        assert bench.press(keys.STRIKE) == "Typed figure cleared"
        bench.press(*"97.4", keys.TAKE)
        (kept,) = capture.inspection.standing.values()
        assert kept.shown == {"length": "97.4"}


def test_keys_of_other_acts(bench: Bench) -> None:
    bench.press("d", "c", "z", "x", "Z", "Z")
    assert bench.added() == ["wheel dressed", "clamped", "datum set anew", "datum set anew"]
    assert bench.capture.inspection.record.clamped == "RM-5"


@pytest.mark.parametrize("key", [keys.OTHER, "x", "7", "?", "ß", "\x00"])
def test_keys_without_an_act_record_nothing(bench: Bench, key: str) -> None:
    bench.press(key)
    assert bench.added() == []


def test_leaving_is_q_but_not_in_a_question_and_the_end_of_keys_always(bench: Bench) -> None:
    bench.press("g")
    assert bench.console.key("q", bench.at)
    assert not bench.console.key("q", bench.at)
    bench.press("g")
    assert not bench.console.key(keys.LEAVE, bench.at)


def test_a_full_disk_is_said_and_the_next_act_tries_again(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise StoreError("the store can't be used", found="disk full", do="Make room")

    with monkeypatch.context() as patch:
        patch.setattr(bench.store, "append_all", full)
        bench.sight("36.449", "130.250")
        assert bench.console.said.startswith("Not stored. ")
        assert "Make room" in bench.console.said
        assert "taken" not in bench.out.getvalue().splitlines()[-1]
        bench.press("d")
        assert bench.console.said.startswith("Not stored. ")
    assert bench.added() == []
    bench.sight("36.449", "130.250")
    assert bench.console.said == "Taken"
    assert bench.added() == ["reading"]


# The screen


def test_only_lines_that_changed_are_written_and_leaving_gives_the_cursor_back(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shutil, "get_terminal_size", lambda _: os.terminal_size((80, 24)))
    out = io.StringIO()
    with Console(bench.capture, plain=False, out=out) as console:
        console.show(State.LOST)
        first = out.getvalue()
        assert "\x1b[2J" in first
        console.show(State.LOST)
        assert out.getvalue() == first
        console.show(State.STILL)
        more = out.getvalue()[len(first) :]
        assert more.startswith("\x1b[19;1HStill: take")
        assert more.count("\x1b[K") == 1
        console.key("g", AT)
        console.show(State.STILL)
        assert "which flute? 1 to 4" in out.getvalue()
    assert out.getvalue().endswith("\x1b[?25h")


def test_a_window_that_is_too_small_says_so(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "get_terminal_size", lambda _: os.terminal_size((60, 20)))
    out = io.StringIO()
    Console(bench.capture, plain=False, out=out).show(State.LOST)
    assert "Make this window 80 by 24" in out.getvalue()


# Keys


def pressed(text: str) -> list[str]:
    """What comes out for the characters of a terminal."""
    characters = iter(text)
    source = keys.Keys(lambda: next(characters, ""))
    found: list[str] = []
    until = time.monotonic() + 5
    while found[-1:] != [keys.LEAVE] and time.monotonic() < until:
        found += [key for key in (source.next(),) if key is not None]
    return found[:-1]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (" \r\n\x7f\x08", [keys.TAKE] * 3 + [keys.STRIKE] * 2),
        ("\x1b[D\x1b[C\x1bOQ\x1b[3~\x1b[1;5Dg", [keys.OTHER] * 5 + ["g"]),
        ("\x1bd ", [keys.OTHER, keys.TAKE]),
        ("\x1b", [keys.OTHER]),
        ("\x1b[", [keys.OTHER]),
        ("d", ["d"]),
    ],
    ids=["named", "arrows and the like", "with Alt", "cut off", "cut off later", "letter"],
)
def test_an_arrow_is_no_letter(text: str, expected: list[str]) -> None:
    """Left arrow ends in D, which records that the wheel was dressed."""
    assert pressed(text) == expected


# The journal


def test_bytes_are_in_the_journal_as_they_came() -> None:
    journal = io.StringIO()
    assert measure._keep(Chunk(b"X+0\xff", AT), journal) is None
    assert json.loads(journal.getvalue()) == {"at": "2026-11-18T09:00:00Z", "hex": "582b30ff"}


def test_a_journal_that_fails_is_said() -> None:
    class Full(io.StringIO):
        def write(self, _: str) -> int:
            raise OSError(28, "No space left on device")

    said = measure._keep(Chunk(b"X", AT), Full())
    assert said is not None
    assert not said.ok
    assert "No space left" in said.words


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


def until(condition: Callable[[], bool], act: Callable[[], Any]) -> None:
    """Repeat an act until a condition holds."""
    end = time.monotonic() + 20
    while not condition():
        assert time.monotonic() < end
        act()


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_in_a_terminal_one_key_takes_and_arrows_do_nothing(folder: Folder) -> None:
    words = [sys.executable, "-m", "inspect_rec", "measure", MARK, "--person", "G-01"]
    with SimulatedReadout() as readout:
        program = Terminal([*words, "--readout", readout.url, "--shop", str(folder.path)])
        try:
            readout.meet()
            program.wait_for("Type the figure")
            for text in TIMES:
                program.press(text)
                program.wait_for("press the key if that's right")
                time.sleep(0.35)
                program.press(" ")
                program.wait_for("Taken")
            time.sleep(0.35)
            program.press("\x1b[D\x1b[C ")
            program.wait_for("Clamped")

            def live() -> None:
                readout.send(line_of("36.449", "130.250"))
                program.read()
                time.sleep(0.1)

            until(lambda: b"Still: take" in program.written, live)
            program.press("\n")
            program.wait_for("Taken")
            program.press("q")
            until(lambda: program.process.poll() is not None, program.read)
            program.read()
            assert program.written.rstrip().endswith(b"\x1b[?25h")
        finally:
            program.close()
    with Store.open(folder.ledger) as store:
        kinds = [e.kind for e in store.entries()]
        assert kinds == ["job opened", *["reading"] * 4, "clamped", "reading"]
    journals = list(folder.journal.iterdir())
    assert len(journals) == 1
    kept = b"".join(
        bytes.fromhex(json.loads(line)["hex"]) for line in journals[0].read_text().splitlines()
    )
    assert kept.startswith(line_of("36.449", "130.250"))


@pytest.mark.parametrize("code", list(Code))
def test_every_alarm_is_one_line(bench: Bench, code: Code) -> None:
    before = bench.out.getvalue()
    bench.console.hear(Alarm(code, "what it is", b"", bench.at))
    assert bench.out.getvalue()[len(before) :] == "alarm what it is\n"
