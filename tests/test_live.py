"""Several readouts at one machine: slides of two, an indicator and a thermometer of their own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Literal

import pytest

from drivers.decoder import Alarm, Code
from drivers.layout import Layout, packaged
from drivers.parts import Figures
from drivers.settled import State
from inspect_rec.capture import Capture
from inspect_rec.capture.live import Arrival
from inspect_rec.reading import Reading, Sighting
from inspect_rec.store import Store
from inspect_rec.units import Unit
from tests import worked

SLIDES = packaged()["two-axis line"]
AT = datetime(2026, 11, 20, 8, 0, tzinfo=UTC)


def layout_of(channel: str) -> Layout:
    """A readout that shows one channel alone."""
    axes = Figures(axes={b"A": channel})
    return replace(SLIDES, id=channel, figures=axes)


def shown(channel: str, value: str, at: datetime, *, key: bool = False) -> Sighting:
    reading = Reading(channel, Decimal(value), Unit.MM, at, "", f"{channel} {value}".encode())
    return Sighting(at, (reading,), reading.raw, key)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.create(tmp_path / "ledger.sqlite", "A", "A-0231") as store:
        store.append(AT, "G-01", "job opened", worked.opened("I2"))
        yield store


def at_step(capture: Capture, instrument: str) -> None:
    """Go on, figures made up, to the step that is read on that instrument."""
    now = AT + timedelta(minutes=1)
    for _ in range(400):
        step = capture.step
        assert step is not None
        now += timedelta(seconds=2)
        if step.kind in ("clamp", "unclamp"):
            capture.take(now)
        elif step.feature is not None and step.feature.instrument == instrument:
            return
        elif step.by_eye:
            capture.type("20.5")
            capture.take(now)
        else:
            both = shown("X", "10.000", now).readings + shown("Z", "100.000", now).readings
            capture.hear(Sighting(now, both, b"X 10.000 Z 100.000", key=True))
    raise AssertionError(instrument)


def capture_of(store: Store, **others: Layout) -> Capture:
    names = {"indicator": "IN-2", "temperature": "TH-1"}
    given = {names[channel]: layout for channel, layout in others.items()}
    return Capture(store, worked.inspection_id("I2"), "G-01", SLIDES, given)


def test_an_indicators_figure_is_taken_by_the_key_once_it_stands_still(store: Store) -> None:
    capture = capture_of(store, indicator=layout_of("indicator"))
    at_step(capture, "IN-2")
    place = capture.step.place if capture.step else None
    assert place is not None
    now = AT + timedelta(hours=1)
    capture.hear(shown("indicator", "0.0140", now), "IN-2")
    assert not capture.take(now).ok, "it may still be moving"
    for ms in (150, 300):
        capture.hear(shown("indicator", "0.0140", now + timedelta(milliseconds=ms)), "IN-2")
    said = capture.take(now + timedelta(milliseconds=310))
    assert said.entry is not None
    body = said.entry.body
    assert body["place"] == place.body()
    assert body["taken"] == [{"channel": "indicator", "value": "0.0140", "unit": "mm"}]
    assert body["source"] == "IN-2"
    assert body["by_eye"] is False
    assert bytes.fromhex(str(body["raw"])) == b"indicator 0.0140"


def test_an_indicators_own_key_takes_only_where_it_is_to_be_read(store: Store) -> None:
    capture = capture_of(store, indicator=layout_of("indicator"))
    before = len(capture.inspection.standing)
    assert capture.hear(shown("indicator", "0.5", AT, key=True), "IN-2") is None
    assert len(capture.inspection.standing) == before
    at_step(capture, "IN-2")
    now = AT + timedelta(hours=1)
    said = capture.hear(shown("indicator", "0.0140", now, key=True), "IN-2")
    assert said is not None
    assert said.entry is not None
    bounce = now + timedelta(milliseconds=50)
    assert capture.hear(shown("indicator", "0.0140", bounce, key=True), "IN-2") is None


def test_typed_digits_go_before_what_the_instrument_shows(store: Store) -> None:
    capture = capture_of(store, temperature=layout_of("temperature"))
    at_step(capture, "TH-1")
    now = AT + timedelta(hours=1)
    for ms in (0, 400):
        capture.hear(shown("temperature", "20.6", now + timedelta(milliseconds=ms)), "TH-1")
    offers = [capture.offered is not None]
    capture.type("20.9")
    offers.append(capture.offered is not None)
    assert offers == [True, False]
    said = capture.take(now + timedelta(milliseconds=500))
    assert said.entry is not None
    assert said.entry.body["by_eye"] is True
    assert said.entry.body["taken"][0]["value"] == "20.9"


def test_without_a_readout_of_its_own_a_figure_is_read_by_eye(store: Store) -> None:
    capture = capture_of(store)
    at_step(capture, "TH-1")
    assert capture.offered is None
    assert "Type" in capture.take(AT + timedelta(hours=1)).words


def test_an_alarm_of_an_instrument_leaves_the_slides_alone_and_bears_its_name(store: Store) -> None:
    capture = capture_of(store, indicator=layout_of("indicator"))
    now = AT + timedelta(hours=1)
    both = shown("X", "10.000", now).readings + shown("Z", "100.000", now).readings
    for ms in (0, 400):
        at = now + timedelta(milliseconds=ms)
        capture.hear(Sighting(at, both, b"X 10.000 Z 100.000"))
    said = capture.hear(Alarm(Code.LOST, "line lost", b"", at), "IN-2")
    assert said is not None
    assert said.words.startswith("IN-2: ")
    assert said.entry is not None
    assert said.entry.body["source"] == "IN-2"
    assert capture.live(at) is State.STILL


def test_two_readouts_of_one_slide_each_give_one_sighting(store: Store) -> None:
    across, along = layout_of("X"), layout_of("Z")
    capture = Capture(store, worked.inspection_id("I2"), "G-01", across, {"RO-2": along})
    now = AT + timedelta(hours=1)
    for ms in (0, 150, 400):
        at = now + timedelta(milliseconds=ms)
        capture.hear(shown("X", "10.000", at))
        capture.hear(shown("Z", "100.000", at + timedelta(milliseconds=50)), "RO-2")
    assert capture.figures is not None
    assert [r.channel for r in capture.figures.readings] == ["X", "Z"]
    assert capture.live(now + timedelta(milliseconds=460)) is State.STILL
    capture.hear(Alarm(Code.LOST, "line lost", b"", at), "RO-2")
    assert capture.live(now + timedelta(milliseconds=460)) is State.LOST


def arrived(*figures: str) -> Arrival:
    found = Arrival()
    for n, value in enumerate(figures):
        found.hear(shown("X", value, AT + timedelta(milliseconds=100 * n)))
    return found


@pytest.mark.parametrize(
    ("figures", "sense"),
    [
        (("10.000", "10.500", "11.000"), "+"),
        (("11.000", "10.500", "10.000"), "-"),
        # Past the mark and back by more than a flicker; figures flicker at rest.
        (("10.000", "11.010", "11.000"), "-"),
        (("10.000", "11.000", "10.999", "11.000", "10.999"), "+"),
        (("11.000", "10.000", "10.001", "10.000", "10.002"), "-"),
        (("10.000", "10.001", "10.002", "10.003"), "+"),
        (("10.000", "9.000", "9.001", "9.002", "9.003"), "+"),
    ],
)
def test_the_sense_in_which_a_slide_came_is_that_of_its_last_real_move(
    figures: tuple[str, ...], sense: Literal["+", "-"]
) -> None:
    other: Literal["+", "-"] = "-" if sense == "+" else "+"
    assert arrived(*figures).wrong({"X": sense}) == []
    assert arrived(*figures).wrong({"X": other}) == ["X"]


def test_a_slide_that_did_not_move_is_not_known_to_have_come_wrong() -> None:
    assert arrived("10.000", "10.001", "10.000").wrong({"X": "+", "Z": "-"}) == []
