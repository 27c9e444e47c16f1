"""Capture by one key: what is taken, what is refused, and nothing recorded is ever touched."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from drivers.decoder import Alarm, Code, Decoder
from drivers.layout import packaged
from drivers.settled import State
from inspect_rec.capture import Capture
from inspect_rec.compute.conformity import Verdict
from inspect_rec.errors import StoreError
from inspect_rec.inspection import fold
from inspect_rec.reading import Reading, Sighting
from inspect_rec.store import Store
from inspect_rec.units import Unit
from tests import worked

LAYOUT = packaged()["two-axis line"]
AT = datetime(2026, 11, 18, 9, 0, tzinfo=UTC)
RECORDINGS = Path(__file__).parents[1] / "fixtures" / "recordings"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.create(tmp_path / "ledger.sqlite", "A", "A-0231") as opened:
        for number in ("I1", "I2", "I3"):
            opened.append(AT, "G-01", "job opened", worked.opened(number))
        yield opened


def capture(store: Store, number: str = "I2") -> Capture:
    return Capture(store, worked.inspection_id(number), "G-01", LAYOUT)


def seen(x: str, z: str, after_s: float, *, key: bool = False) -> Sighting:
    at = AT + timedelta(seconds=after_s)
    readings = tuple(
        Reading(c, Decimal(v), Unit.MM, at, "RO-1", b"raw") for c, v in (("X", x), ("Z", z))
    )
    return Sighting(at, readings, b"raw", key=key)


def at(seconds: float) -> datetime:
    return AT + timedelta(seconds=seconds)


def temperatures(found: Capture, first: float = 0) -> None:
    for n, text in enumerate(("20.5", "20.6", "20,5")):
        assert found.type(text).ok
        assert found.take(at(first + n)).ok


def ready(store: Store) -> Capture:
    """Temperatures read, pin clamped: the first sighting comes next."""
    found = capture(store)
    temperatures(found)
    assert found.take(at(4)).words == "Clamped"
    return found


def test_a_figure_read_by_eye_is_repeated_and_waits_for_the_key(store: Store) -> None:
    found = capture(store)
    assert not found.take(at(0)).ok
    assert "20.5" in found.type("20,5").words
    before = store.head().seq
    entry = found.take(at(1)).entry
    assert entry is not None
    assert entry.seq == before + 1
    assert entry.body["by_eye"]
    assert entry.body["taken"] == [{"channel": "temperature", "value": "20.5", "unit": "degC"}]
    assert bytes.fromhex(entry.body["raw"]) == b"20,5", "the characters as they were typed"


def test_digits_that_are_refused_leave_no_shorter_figure_behind(store: Store) -> None:
    """20 on its way to 200 must not be what the key takes when 200 is refused."""
    found = capture(store)
    for text in ("2", "20"):
        assert found.type(text).ok
    assert found.pending == "20"
    assert not found.type("200").ok
    assert found.pending == ""
    assert not found.take(at(1)).ok
    assert not found.inspection.standing


@pytest.mark.parametrize("text", ["abc", "1e3", "--1", "\u0663", "200", "-30", "1_0", ""])
def test_what_can_not_be_is_not_taken(store: Store, text: str) -> None:
    found = capture(store)
    found.type(text)
    assert not found.take(at(1)).ok
    assert not found.inspection.standing


def test_a_still_figure_is_taken_and_a_moving_one_is_not(store: Store) -> None:
    found = ready(store)
    found.hear(seen("20.000", "113.000", 5.0))
    found.hear(seen("20.003", "113.000", 5.2))
    assert found.live(at(5.2)) is State.LIVE
    assert found.take(at(5.25)).words == "Still moving"
    found.hear(seen("20.003", "113.000", 5.4))
    assert not found.take(at(5.45)).ok
    found.hear(seen("20.003", "113.000", 5.6))
    assert found.live(at(5.6)) is State.STILL
    taken = found.take(at(5.65))
    assert taken.ok
    assert taken.entry is not None
    assert taken.entry.body["taken"][0]["value"] == "20.003"


def test_the_readouts_key_takes_at_once_and_a_bounce_does_not_take_twice(store: Store) -> None:
    found = ready(store)
    first = found.hear(seen("20.003", "113.000", 6.0, key=True))
    assert first is not None
    assert first.ok
    assert found.hear(seen("20.003", "113.000", 6.1, key=True)) is None
    assert len([k for k in found.inspection.standing.values() if not k.by_eye]) == 1


def test_an_old_figure_is_refused(store: Store) -> None:
    found = ready(store)
    found.hear(seen("20.003", "113.000", 5.0))
    assert not found.take(at(60)).ok


def test_an_alarm_is_recorded_once_and_the_line_needs_to_settle_anew(store: Store) -> None:
    found = ready(store)
    found.hear(seen("20.003", "113.000", 5.0))
    found.hear(seen("20.003", "113.000", 5.5))
    before = store.head().seq
    alarm = Alarm(Code.LOST, "line lost", b"half", at(5.6))
    assert found.hear(alarm) is not None
    assert found.hear(alarm) is None
    assert store.head().seq == before + 1
    assert not found.take(at(5.7)).ok


def standing(found: Capture) -> Alarm | None:
    return found.alarm


def test_an_alarm_that_flickers_is_one_entry_and_a_later_one_another(store: Store) -> None:
    found = ready(store)
    before = store.head().seq
    for n in range(10):
        found.hear(Alarm(Code.CORRUPT, "odd line", b"?", at(5 + n / 5)))
        found.hear(seen("20.003", "113.000", 5.1 + n / 5))
    assert store.head().seq == before + 1
    assert standing(found) is not None
    found.hear(seen("20.003", "113.000", 9))
    assert standing(found) is None
    found.hear(Alarm(Code.CORRUPT, "odd line", b"?", at(10)))
    assert store.head().seq == before + 2


def test_a_line_that_comes_back_is_said_and_ends_its_alarm(store: Store) -> None:
    found = ready(store)
    said = found.hear(Alarm(Code.LOST, "line lost", b"", at(5)))
    assert said is not None
    assert not said.ok
    assert standing(found) is not None
    said = found.hear(Alarm(Code.BACK, "line back", b"", at(6)))
    assert said is not None
    assert said.ok
    assert standing(found) is None
    assert found.hear(Alarm(Code.LOST, "line lost", b"", at(7))) is not None
    assert [e.body["code"] for e in store.entries(kinds=["alarm"])] == [
        "line lost",
        "line back",
        "line lost",
    ]


def still(found: Capture, x: str, z: str, from_s: float) -> None:
    for n in range(3):
        found.hear(seen(x, z, from_s + n / 5))


def test_a_zero_that_is_reset_at_rest_is_an_alarm_and_never_a_figure(store: Store) -> None:
    found = ready(store)
    still(found, "9.997", "113.000", 5)
    before = dict(found.inspection.standing)
    said = found.hear(seen("0.000", "113.000", 5.6))
    assert said is not None
    assert not said.ok
    assert "zero was reset" in said.words
    assert not found.take(at(5.7)).ok
    assert found.inspection.standing == before
    still(found, "0.000", "113.000", 5.8)
    said = found.datum_set_anew(at(7), "X")
    assert said.entry is not None
    assert said.entry.body["before_mm"] == "9.997"
    assert said.entry.body["after_mm"] == "0.000"
    assert not found.take(at(7)).ok, "it has to settle anew"
    still(found, "0.000", "113.000", 7.0)
    assert found.take(at(7.5)).ok


@pytest.mark.parametrize("code", [Code.ZERO, Code.SWAPPED, Code.FAULT])
def test_what_is_taken_while_the_zero_is_in_doubt_is_suspect_until_it_is_set_anew(
    store: Store, code: Code
) -> None:
    found = ready(store)
    found.hear(Alarm(code, "the zero is in doubt", b"", at(4.5)))
    still(found, "9.997", "113.000", 5)
    said = found.take(at(6))
    assert said.entry is not None
    assert not said.ok
    assert said.entry.body["suspect"] == "the zero is in doubt"
    assert [k.suspect for k in found.inspection.standing.values() if not k.by_eye] == [
        "the zero is in doubt"
    ]
    found.datum_set_anew(at(7), "X")
    still(found, "9.998", "113.000", 8)
    again = found.take(at(9))
    assert again.entry is not None
    assert "suspect" not in again.entry.body


def test_an_alarm_that_leaves_the_zero_alone_makes_nothing_suspect(store: Store) -> None:
    found = ready(store)
    found.hear(Alarm(Code.CORRUPT, "half a line", b"", at(4.5)))
    still(found, "9.997", "113.000", 5)
    said = found.take(at(6))
    assert said.entry is not None
    assert "suspect" not in said.entry.body


def test_nothing_is_judged_from_a_suspect_reading() -> None:
    entries = list(worked.entries("I2"))
    n = next(
        n
        for n, e in enumerate(entries)
        if e.kind == "reading" and e.body["place"]["feature"] == "DC_1"
    )
    doubted = replace(entries[n], body={**entries[n].body, "suspect": "X came from the wrong side"})
    entries[n] = doubted
    results = {
        r.characteristic.id: r for r in fold(tuple(entries), worked.inspection_id("I2")).results
    }
    assert results["DC_1"].verdict is Verdict.REFUSED
    assert "wrong side" in results["DC_1"].judgement.reason
    assert results["SDL"].verdict is Verdict.CONFORMS


@pytest.mark.parametrize(
    ("x", "z", "after_s"),
    [("9.000", "113.000", 0.2), ("0.000", "112.400", 0.2), ("0.000", "113.000", 5)],
    ids=["moved, not to nought", "both slides moved", "time enough to turn it there"],
)
def test_a_slide_that_may_have_been_moved_is_no_reset(
    store: Store, x: str, z: str, after_s: float
) -> None:
    found = ready(store)
    still(found, "9.997", "113.000", 5)
    assert found.hear(seen(x, z, 5.4 + after_s)) is None


def test_a_zero_set_anew_unseen_claims_no_figures(store: Store) -> None:
    found = ready(store)
    still(found, "9.997", "113.000", 5)
    said = found.datum_set_anew(at(7), "Z")
    assert said.entry is not None
    assert (said.entry.body["before_mm"], said.entry.body["after_mm"]) == ("", "")
    assert not found.datum_set_anew(at(8), "Y").ok


def test_a_readout_that_sends_on_its_key_is_not_taken_by_another(store: Store) -> None:
    found = Capture(
        store,
        worked.inspection_id("I2"),
        "G-01",
        replace(LAYOUT, rules=replace(LAYOUT.rules, sends="on key")),
    )
    temperatures(found)
    assert found.take(at(4)).ok
    found.hear(seen("20.003", "113.000", 5))
    found.hear(seen("20.003", "113.000", 6))
    assert found.take(at(6.1)).words == "Press the readout's key"
    assert found.hear(seen("20.003", "113.000", 7, key=True)) is not None


def test_a_bounce_of_the_key_that_clamps_takes_nothing(store: Store) -> None:
    found = capture(store)
    temperatures(found)
    still(found, "20.003", "113.000", 3.5)
    assert found.take(at(4)).words == "Clamped"
    assert not found.take(at(4.1)).ok
    assert found.take(at(4.3)).words == "Taken"


def test_what_can_not_be_stored_is_not_said_as_taken(store: Store, tmp_path: Path) -> None:
    found = ready(store)
    step = found.step
    store.close()
    with pytest.raises(StoreError):
        found.hear(seen("20.003", "113.000", 6, key=True))
    with Store.open(tmp_path / "ledger.sqlite") as again:
        assert capture(again).step == step


def test_the_last_reading_is_struck_out_and_its_step_comes_again(store: Store) -> None:
    found = ready(store)
    found.hear(seen("20.003", "113.000", 6.0, key=True))
    step = found.step
    said = found.strike_out(at(7), "film on edge")
    assert said.ok
    assert found.step != step
    assert found.inspection.record.struck[0].reason == "film on edge"
    assert len(list(store.entries(kinds=("reading",)))) == 4


def test_a_side_that_is_the_wrong_one_is_doubted_but_kept(store: Store) -> None:
    found = ready(store)
    found.hear(seen("10.000", "113.000", 6.0, key=True))
    said = found.hear(seen("20.003", "113.000", 8.0, key=True))
    assert said is not None
    assert said.words.startswith("Taken. Is this the side where X is smaller?")
    assert said.entry is not None


def play(found: Capture, number: str, lines: list[dict[str, Any]]) -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    for each in lines:
        when = datetime.fromisoformat(each["at"])
        if "hex" in each:
            for item in decoder.feed(bytes.fromhex(each["hex"]), when):
                said = found.hear(item)
                assert said is None or said.ok, (each, said)
                assert said is None or said.words == "Taken", (each, said.words)
        elif each["act"] == "type":
            assert found.type(each["text"]).ok, each
        elif each["act"] == "take":
            said = found.take(when)
            assert said.ok, (each, said.words)
            assert said.words in ("Taken", "Clamped", "Unclamped"), said.words
        elif each["act"] == "ground again":
            found.ground_again(when, each["flute"], str(each["infeed_mm"]), each["how"])
        elif each["act"] in ("clamped", "unclamped"):
            found.event(when, each["act"], {"object": each["object"].split(" on ")[0]})
        elif each["act"] == "report":
            return
    assert number


def upto(found: Capture, number: str, n: int) -> None:
    text = (RECORDINGS / f"{number.lower()}.jsonl").read_text("utf-8")
    lines = [json.loads(line) for line in text.splitlines()]
    play(found, number, [line for line in lines if line["n"] <= n])


LATER = (datetime(2026, 11, 17, 8, 30, tzinfo=UTC) - AT).total_seconds()


def test_a_cut_is_recorded_with_what_was_typed_and_nonsense_is_refused(store: Store) -> None:
    found = capture(store, "I1")
    upto(found, "I1", 39)
    before = found.inspection.result("R", 1)
    seq = store.head().seq
    for flute, infeed in ((5, "0.012"), (-1, "0.012"), (1, "abc"), (1, "0"), (1, "99")):
        assert not found.ground_again(at(LATER), flute, infeed, "").ok
    assert store.head().seq == seq
    assert found.inspection.result("R", 1) == before
    said = found.ground_again(at(LATER), 1, "0,012", "pivot")
    assert said.entry is not None
    assert said.entry.body["infeed_mm"] == "0.012"
    assert said.entry.body["noticed"] == "by key"
    assert found.inspection.result("R", 1) is None


def test_other_acts_are_entries_of_their_own_kind(store: Store) -> None:
    found = capture(store)
    record = found.inspection.record
    acts = [
        found.received(at(1), "worn"),
        found.clamped(at(2), "PIN-9"),
        found.unclamped(at(3), "PIN-9"),
        found.wheel_dressed(at(4)),
        found.revision_changed(at(5), "C"),
        found.measure_again(at(6), ["DC_2"], 9, "PIN-11", "neither shown"),
    ]
    assert [(a.entry.kind, sorted(a.entry.body)) for a in acts if a.entry] == [
        ("received", ["inspection", "job", "state", "tool"]),
        ("clamped", ["inspection", "object"]),
        ("unclamped", ["inspection", "object"]),
        ("wheel dressed", ["inspection"]),
        ("drawing revision changed", ["from", "inspection", "job", "to"]),
        ("measure again", ["characteristics", "inspection", "master", "repeats", "why"]),
    ]
    assert acts[4].entry is not None
    assert acts[4].entry.body["from"] == record.revision
    assert found.inspection.record.revision == "C"


@pytest.mark.parametrize("number", ["I1", "I2", "I3"])
def test_recorded_bytes_and_keys_give_the_results_of_the_worked_job(
    store: Store, number: str
) -> None:
    """From bytes through capture, against the same job read straight from its JSON."""
    text = (RECORDINGS / f"{number.lower()}.jsonl").read_text("utf-8")
    found = capture(store, number)
    play(found, number, [json.loads(line) for line in text.splitlines()])
    upto = {"I1": 114, "I2": 56, "I3": 125}[number]
    straight = fold(worked.entries(number, upto), worked.inspection_id(number))
    assert [(r.values, r.u, r.verdict, r.stock) for r in found.inspection.results] == [
        (r.values, r.u, r.verdict, r.stock) for r in straight.results
    ]
    assert found.step is None


def test_a_slide_that_goes_to_the_wheel_asks_once_and_voids_nothing(store: Store) -> None:
    """Asked, never assumed: the finals stand until a person says that it was ground."""
    body = worked.opened("I1")
    wheel = {"slide": "X", "beyond": "80", "side": "+"}
    body["plan"]["set_up"] = {**body["shop"]["set_up"], "wheel": wheel}
    store.append(AT, "G-01", "job opened", body)
    text = (RECORDINGS / "i1.jsonl").read_text("utf-8")
    lines = [json.loads(line) for line in text.splitlines()]
    found = capture(store, "I1")
    play(found, "I1", [line for line in lines if line["n"] <= 39])
    before, seq = found.inspection.result("R", 1), store.head().seq
    assert before is not None
    answers = [found.hear(seen(x, "137.846", n)) for n, x in enumerate(("79.0", "81.0", "82.0"))]
    assert [a is not None for a in answers] == [False, True, False]
    assert answers[1] is not None
    assert "Ground again?" in answers[1].words
    assert store.head().seq == seq
    assert found.inspection.result("R", 1) == before
    cut = found.ground_again(at(9), 1, "", "")
    assert cut.entry is not None
    assert "slide was at the wheel" in cut.entry.body["noticed"]
    assert found.inspection.result("R", 1) is None
