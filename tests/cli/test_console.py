"""Questions and answers at the machine: what a key does, and what it doesn't."""

from __future__ import annotations

import io
import json
import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from drivers.decoder import Alarm, Code
from drivers.layout import packaged
from drivers.settled import State
from inspect_rec.capture import Capture
from inspect_rec.cli import keys
from inspect_rec.cli.console import Console
from inspect_rec.errors import StoreError
from inspect_rec.reading import Reading, Sighting
from inspect_rec.store import Store
from inspect_rec.units import Unit
from tests import worked

LAYOUT = packaged()["two-axis line"]
AT = datetime(2026, 11, 18, 9, 0, tzinfo=UTC)
MARK = "I1/QF-0417"
BY_EYE = ("97.4", "20.7", "20.8", "20.7")
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
        for text in BY_EYE:
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


@pytest.mark.parametrize("code", list(Code))
def test_every_alarm_is_one_line(bench: Bench, code: Code) -> None:
    before = bench.out.getvalue()
    bench.console.hear(Alarm(code, "what it is", b"", bench.at))
    assert bench.out.getvalue()[len(before) :] == "alarm what it is\n"
