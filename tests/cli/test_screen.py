"""The screen at the machine: every state of the worked jobs fits, and says what it must at once."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.decoder import Alarm, Code, Decoder
from drivers.layout import packaged
from drivers.settled import State
from inspect_rec.capture import Capture
from inspect_rec.cli import big, screen
from inspect_rec.cli.screen import HIGH, WIDE, View
from inspect_rec.inspection import Place
from inspect_rec.reading import Reading, Sighting
from inspect_rec.store import Store
from inspect_rec.units import Unit
from tests import worked

LAYOUT = packaged()["two-axis line"]
RECORDINGS = Path(__file__).parents[2] / "fixtures" / "recordings"
AT = datetime(2026, 11, 18, 9, 0, tzinfo=UTC)
WHY = "1 film on edge  2 wrong side  3 knocked  4 wrong flute  Backspace: the one before"
QUESTIONS = (
    f"Strike out profile arc, flute 3, point 9: why? {WHY}",
    "Flute 3: ground by how much? mm, then Enter (Enter alone: not known): 0.012_",
)


@dataclass(frozen=True)
class Shown:
    """A view of a worked job as it went by, and where it was."""

    n: int
    place: Place | None
    view: View


@cache
def states(number: str) -> tuple[Shown, ...]:
    """Every state of a worked job, from its recorded bytes."""
    return tuple(_play(number))


def _play(number: str) -> Iterator[Shown]:
    decoder = Decoder(LAYOUT, "RO-1")
    with (
        TemporaryDirectory() as folder,
        Store.create(Path(folder) / "ledger.sqlite", "A", "A-0231") as store,
    ):
        store.append(AT - timedelta(days=9), "G-01", "job opened", worked.opened(number))
        capture = Capture(store, worked.inspection_id(number), "G-01", LAYOUT)
        for text in (RECORDINGS / f"{number.lower()}.jsonl").read_text("utf-8").splitlines():
            each = json.loads(text)
            at = datetime.fromisoformat(each["at"])
            said = None
            if "hex" in each:
                for item in decoder.feed(bytes.fromhex(each["hex"]), at):
                    said = capture.hear(item)
            elif each["act"] == "type":
                said = capture.type(each["text"])
            elif each["act"] == "take":
                said = capture.take(at)
            elif each["act"] == "ground again":
                said = capture.ground_again(at, each["flute"], str(each["infeed_mm"]), each["how"])
            elif each["act"] in ("clamped", "unclamped"):
                said = capture.event(at, each["act"], {"object": each["object"].split(" on ")[0]})
            elif each["act"] == "report":
                return
            place = None if capture.step is None else capture.step.place
            words = said.words if said else ""
            yield Shown(each["n"], place, screen.view(capture, capture.live(at), words))


def squeezed(text: str) -> str:
    """Text without blanks: what was wrapped reads the same."""
    return "".join(text.split())


def whole(lines: list[str], v: View) -> list[str]:
    """What of a view isn't on the screen, or is cut."""
    shown = squeezed(" ".join(lines))
    texts = (*v.head, v.second, v.how, v.state, v.last, v.strip, *v.notes, v.keys)
    return [text for text in texts if squeezed(text) not in shown]


@pytest.mark.parametrize("number", ["I1", "I2", "I3"])
def test_every_state_of_a_worked_job_fits_and_nothing_is_cut(number: str) -> None:
    seen = states(number)
    assert len(seen) > 100
    for shown in seen:
        lines = screen.draw(shown.view)
        assert len(lines) == HIGH
        assert max(map(len, lines)) <= WIDE
        assert whole(lines, shown.view) == [], shown.n


@pytest.mark.parametrize("number", ["I1", "I2", "I3"])
def test_questions_and_help_fit_into_every_state_too(number: str) -> None:
    for shown in states(number)[::7]:
        for notes in (*((q,) for q in QUESTIONS), screen.HELP):
            v = replace(shown.view, notes=notes)
            assert whole(screen.draw(v), v) == [], shown.n


@pytest.mark.parametrize("number", ["I1", "I2", "I3"])
def test_places_on_the_screen_do_not_move(number: str) -> None:
    """Prompt, figures, state and keys are found where they were, whatever they say."""
    for shown in states(number):
        lines = screen.draw(shown.view)
        assert squeezed(lines[9]).startswith(shown.view.labels[0])
        if len(shown.view.labels) == 2:
            assert squeezed(lines[15]).startswith(shown.view.labels[1])
        assert lines[18].startswith(shown.view.state)
        assert lines[19].startswith(shown.view.strip[:8])
        assert lines[-1] == shown.view.keys


def after(number: str, n: int) -> Shown:
    """The last state of reading ``n``."""
    return [s for s in states(number) if s.n == n][-1]


def test_the_next_step_is_said_in_large_words() -> None:
    v = after("I1", 43).view
    assert v.first == "flute 2 of 4 point 5/9"
    assert "flute 2 of 4, point 5 of 9" in v.second
    assert v.second.endswith("Come from the right")
    assert screen.draw(v)[2:5] == big.words("FLUTE 2 OF 4 POINT 5/9")
    assert {s.view.first for s in states("I3")} >= {"tooth 4/4 point 13/13"}


def test_wheel_stopped_is_asked_before_the_first_point_of_each_flute_alone() -> None:
    asked = {
        (s.place.flute, s.place.mark)
        for s in states("I1")
        if s.place and s.place.feature == "profile arc" and not s.place.when
        if "Wheel stopped?" in s.view.second
    }
    assert asked == {(flute, "1") for flute in range(1, 5)}


def test_a_flutes_verdict_and_stock_stand_there_with_its_last_point() -> None:
    """Trade I1: flute 3 by size alone 0.011 to 0.024, with the variation 0.011 to 0.019."""
    assert "Flute 1 RE conforms." in after("I1", 39).view.notes
    before, then = after("I1", 56).view, after("I1", 57).view
    assert before.strip.startswith("1 conforms   2 conforms   3 open")
    assert then.strip.startswith("1 conforms   2 conforms   3 over   4 open")
    (said,) = then.notes
    assert said.startswith("Flute 3 RE does not conform: over. Grind 0.017 more: pivot 0.017 ")
    assert said.endswith("toward the wheel; least 0.011, most 0.024. Aim: middle of the zone.")
    said = " ".join(after("I1", 66).view.notes)
    assert "Flute 3: Grind 0.012 more: pivot 0.012 toward the wheel" in said
    assert "least 0.011, most 0.019. Aim: RE of flute 4." in said


def test_a_diameter_that_is_under_is_said_to_be_past_saving() -> None:
    said = " ".join(note for s in states("I2") for note in s.view.notes)
    assert "DC_2 neither shown. Measure again, better, first. Past saving by grinding" in said


def test_what_was_taken_is_said_with_the_time_on_disk() -> None:
    taken = datetime.fromisoformat("2026-11-17T07:44:30Z").astimezone()
    last = after("I1", 39).view.last
    assert last.startswith("Last taken: profile arc, flute 1, point 9 – on disk ")
    assert f"{taken:%H:%M}" in last


def test_at_the_end_the_way_on_is_said() -> None:
    v = states("I1")[-1].view
    assert v.first == "All taken"
    assert "inspect-rec handover I1/QF-0417" in v.second
    assert "0 to go" in v.strip


@pytest.fixture
def live(tmp_path: Path) -> Iterator[Capture]:
    """Job I1 where the first sighting is to be taken."""
    with Store.create(tmp_path / "ledger.sqlite", "A", "A-0231") as store:
        store.append(AT, "G-01", "job opened", worked.opened("I1"))
        found = Capture(store, "I1/QF-0417", "G-01", LAYOUT)
        for n, text in enumerate(("97.4", "20.7", "20.8", "20.7")):
            assert found.type(text).ok
            assert found.take(AT + timedelta(seconds=n)).ok
        assert found.take(AT + timedelta(seconds=5)).ok
        yield found


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (Code.LOST, "Line lost"),
        (Code.SILENT, "Line silent"),
        (Code.UNIT, "Wrong unit"),
        (Code.MODE, "Wrong mode"),
        (Code.ZERO, "Zero was reset"),
        (Code.IMPLAUSIBLE, "Figure jumped"),
    ],
)
def test_an_alarm_takes_the_prompts_place_and_says_what_is_kept(
    live: Capture, code: Code, words: str
) -> None:
    said = live.hear(Alarm(code, "What it is: what to do", b"", AT + timedelta(seconds=6)))
    assert said is not None
    v = screen.view(live, State.LOST, said.words)
    assert v.first == words
    assert v.second == "What it is: what to do. Kept: 4 readings"
    assert v.big == ("--.---", "--.---")
    assert v.state == "No figure"
    assert v.notes == ()


def test_an_odd_line_is_a_note_and_the_prompt_stays(live: Capture) -> None:
    said = live.hear(Alarm(Code.CORRUPT, "odd", b"", AT + timedelta(seconds=6)))
    assert said is not None
    v = screen.view(live, State.LOST, said.words)
    assert v.first.startswith("Master RM-5")
    assert v.notes == ("odd",)


@pytest.mark.parametrize(
    ("state", "word"),
    [
        (State.LIVE, "Moving"),
        (State.STILL, "Still: take"),
        (State.STALE, "Waiting"),
        (State.LOST, "No figure"),
    ],
)
def test_the_state_of_the_live_figure_is_a_word(live: Capture, state: State, word: str) -> None:
    assert screen.view(live, state, "").state == word


def test_figures_stand_as_the_readout_sends_them(live: Capture) -> None:
    at = AT + timedelta(seconds=6)
    readings = tuple(
        Reading(c, Decimal(v), Unit.MM, at, "RO-1", b"") for c, v in (("X", "-0.5000"), ("Z", "12"))
    )
    live.hear(Sighting(at, readings, b""))
    assert screen.view(live, State.LIVE, "").big == ("-0.5000", "12")


def test_a_readout_that_sends_on_its_key_has_no_live_state(live: Capture) -> None:
    live.layout = replace(LAYOUT, rules=replace(LAYOUT.rules, sends="on key"))
    assert screen.view(live, State.LOST, "").state == "Press the readout's key"


def test_many_edges_are_counted_in_their_plural(live: Capture) -> None:
    v = screen.view(live, State.LIVE, "")
    assert v.strip.startswith("1 open   2 open   3 open   4 open")
    inspection = live.inspection
    many = inspection.tool.model_copy(update={"edges": 12, "edge_word": "tooth"})
    live._folded = replace(inspection, tool=many)
    assert screen.view(live, State.LIVE, "").strip.startswith("12 teeth: 12 open   ")


# Letters and figures


@given(st.text("0123456789.,+-", max_size=9))
def test_a_figure_can_be_read_back_from_its_blocks(text: str) -> None:
    lines = [line.ljust(90) for line in big.figure(text)]
    read, column = "", 0
    shapes = {tuple(line.ljust(8) for line in big.figure(char)): char for char in "0123456789+-"}
    points = {tuple(line.ljust(4) for line in big.figure(char)): char for char in ".,"}
    while any(line[column:].strip() for line in lines):
        eight = tuple(line[column : column + 8] for line in lines)
        four = tuple(line[column : column + 4] for line in lines)
        char = shapes.get(eight) or points[four]
        read, column = read + char, column + (8 if eight in shapes else 4)
    assert read == text


def test_no_two_characters_look_alike() -> None:
    alike = {"-": "−–", "0": "D", "5": "S", "8": "B"}
    seen: dict[tuple[str, ...], str] = {}
    for char in big._GLYPHS:
        shape = tuple(big.words(char))
        assert shape not in seen or char in alike[seen[shape]], (char, seen[shape])
        seen.setdefault(shape, char)


def test_what_has_no_shape_is_written_plainly_and_never_as_another() -> None:
    v = replace(states("I1")[0].view, first="Ƶ 5", big=("5 Ƶ",), labels=("mm",))
    lines = screen.draw(v)
    assert "Ƶ 5" in lines[3]
    assert "5 Ƶ" in lines[9]


TEXT = st.text("ab é°–█ ", max_size=200)


@given(
    st.builds(
        View,
        st.tuples(TEXT, TEXT),
        TEXT,
        TEXT,
        TEXT,
        st.tuples(TEXT, TEXT),
        st.just(("X", "Z")),
        TEXT,
        TEXT,
        TEXT,
        st.tuples(TEXT, TEXT, TEXT, TEXT),
    ),
    st.integers(20, 200),
    st.integers(2, 60),
)
def test_nothing_is_ever_wider_or_higher_than_the_screen(v: View, wide: int, high: int) -> None:
    lines = screen.draw(v, wide, high)
    assert len(lines) == high
    assert max(map(len, lines)) <= wide


def test_what_does_not_fit_ends_in_a_sign_that_more_follows() -> None:
    v = replace(states("I1")[20].view, notes=("word " * 200,), second="word " * 200)
    shown = screen.draw(v)
    assert shown[6].endswith("…")
    assert shown[-2].endswith("…")


def test_a_sighting_that_was_not_planned_says_why_it_is_asked_for(live: Capture) -> None:
    """Width of the master's shank at the third index: 11 um more than at the others."""
    for n, x in enumerate(("36.449", "26.450", "36.448", "26.449", "36.460", "26.450")):
        at = AT + timedelta(seconds=10 + n)
        figures = [
            Reading(c, Decimal(v), Unit.MM, at, "RO-1", b"") for c, v in (("X", x), ("Z", "130"))
        ]
        live.hear(Sighting(at, tuple(figures), b"", key=True))
    v = screen.view(live, State.STILL, "Taken")
    assert "once more, since the repeats differ, index 0°" in v.second
    assert "4 of 3" not in v.second
    assert not [line for line in screen.draw(v) if "…" in line]
