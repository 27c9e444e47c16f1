"""A display sends what its slides, keys and faults make of it, and the decoder finds out."""

from __future__ import annotations

import contextlib
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from drivers.decoder import Alarm, Code, Decoder
from drivers.layout import Layout
from drivers.parts import CHANNELS
from inspect_rec.errors import InputError, ReadoutError
from inspect_rec.reading import Sighting
from inspect_rec.simulate import faults
from inspect_rec.simulate.display import Display
from inspect_rec.simulate.script import Player, parse
from tests.simulate.layouts import described
from tests.simulate.test_speaking import can_press

AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)
LAYOUTS = described()
TWO = LAYOUTS["two-axis line"]
D = Decimal


def sent(layout: Layout, script: str, seconds: float, **more: int) -> list[tuple[float, bytes]]:
    """The instants and bytes of a script."""
    player = Player(Display(layout, **more), parse(script, "s", layout))
    player.advance(0.0)
    found = player.advance(seconds)
    assert player.said == []
    return found


def heard(layout: Layout, script: str, seconds: float = 10.0) -> list[Sighting | Alarm]:
    decoder = Decoder(layout, "RO-1")
    found = []
    for at, data in sent(layout, script, seconds):
        found += decoder.feed(data, AT + timedelta(seconds=at))
        if (silent := decoder.silent(AT + timedelta(seconds=at))) is not None:
            found.append(silent)
    return found


def codes(found: list[Sighting | Alarm]) -> list[Code]:
    return [item.code for item in found if isinstance(item, Alarm)]


# Sending


def test_it_sends_at_the_stated_rate() -> None:
    found = sent(TWO, "rate 4", 3.0)
    instants = [at for at, _ in found]
    assert instants == pytest.approx([0.25 * n for n in range(1, 13)])
    assert len({data for _, data in found}) == 1


def test_slides_go_where_they_are_turned_and_the_decoder_reads_them_there() -> None:
    script = "at 1 x 31.447 over 1.0\nat 1 z 142.318 over 2.0\n"
    found = heard(TWO, script, 4.0)
    assert codes(found) == []
    values = [[r.value for r in item.readings] for item in found if isinstance(item, Sighting)]
    assert values[0] == [D(0), D(0)]
    assert values[-1] == [D("31.447"), D("142.318")]
    assert [D("15.724"), D("35.580")] in values


def test_one_that_sends_on_its_key_sends_on_nothing_else() -> None:
    layout = LAYOUTS["instruments"]
    found = sent(layout, "at 1 indicator -0.012\nat 2 key\nat 3 key", 9.0)
    assert found == [(at, b"-0.012 +000.000 +00.000\r\n") for at in (2.0, 3.0)]


def test_one_that_is_asked_answers_each_whole_request() -> None:
    display = Display(LAYOUTS["asked, on the inch"])
    assert display.live(5.0) == b""
    assert display.due_s(5.0) is None
    answer = b"+0000.000+0000.000\r\n"
    assert display.asked(b"?", 1.0) == answer
    assert display.asked(b"x?y?", 2.0) == 2 * answer
    assert display.asked(b"nothing", 3.0) == b""
    assert Display(TWO).asked(b"?", 1.0) == b""


def test_a_request_in_two_pieces_is_one() -> None:
    layout = LAYOUTS["asked, on the inch"]
    display = Display(layout)
    object.__setattr__(layout.asks, "request", b"R\r")
    try:
        assert display.asked(b"R", 1.0) == b""
        assert display.asked(b"\r", 1.0) != b""
        assert display.asked(b"\r", 1.0) == b""
    finally:
        object.__setattr__(layout.asks, "request", b"?")


def test_a_key_is_sent_at_once_and_marked() -> None:
    found = heard(TWO, "rate 1\nat 0.5 key\nat 1.7 key", 3.0)
    assert [item.at - AT for item in found if isinstance(item, Sighting) and item.key] == [
        timedelta(seconds=0.5),
        timedelta(seconds=1.7),
    ]


def test_a_readout_without_a_key_says_so() -> None:
    with pytest.raises(ReadoutError, match="no print key"):
        Display(LAYOUTS["sum within the line"]).key(0.0)


def test_a_key_whose_figures_have_no_room_says_so_and_a_live_reading_waits() -> None:
    display = Display(TWO)
    display.go("X", D(99999), 0.0, 0.0)
    with pytest.raises(ReadoutError, match="can't show"):
        display.key(1.0)
    assert display.live(1.0) == b""
    assert "99999" in display.trouble
    display.go("X", D(5), 1.0, 0.0)
    assert display.live(2.0) != b""
    assert display.trouble == ""


def test_it_does_not_make_up_for_a_long_pause_where_it_is_told_of_it() -> None:
    player = Player(Display(TWO))
    player.advance(0.0)
    player.display.skip(0.5)
    assert len(player.advance(0.5)) == 5
    player.display.skip(60.0)
    assert [at for at, _ in player.advance(60.0)] == [60.0]


def test_noise_shows_in_the_last_digit_and_is_the_same_for_the_same_seed() -> None:
    script = "noise x 0.001"
    one, again, other = (
        [data for _, data in sent(TWO, script, 5.0, seed=seed)] for seed in (1, 1, 2)
    )
    assert one == again != other
    assert 3 <= len(set(one)) <= 9
    assert all(data.endswith(b" Z+0000.000\r\n") for data in one)


def test_looking_at_it_changes_nothing_that_is_sent() -> None:
    looked, alone = Display(TWO, seed=4), Display(TWO, seed=4)
    for display in (looked, alone):
        display.slides["X"].noise = D("0.005")
    sent_ = []
    for n in range(10):
        assert abs(looked.seen(float(n))["X"]) < D("0.05")
        sent_.append((looked.live(float(n)), alone.live(float(n))))
    assert all(one == other for one, other in sent_)
    assert len({one for one, _ in sent_}) > 5


def test_what_is_shown_is_in_whole_steps_of_what_a_frame_can_say() -> None:
    display = Display(LAYOUTS["binary, big"])
    display.go("X", D("1.00049"), 0.0, 0.0)
    display.go("Z", D("1.00049"), 0.0, 0.0)
    assert display.shown(1.0) == {"X": D("1.000"), "Z": D("1.0005")}


# The readout's own buttons


def test_zero_and_preset_change_the_display_and_move_nothing() -> None:
    display = Display(TWO)
    display.go("X", D("31.447"), 0.0, 0.0)
    display.preset("X", D(0), 1.0)
    assert display.shown(1.0)["X"] == 0
    assert display.slides["X"].place(1.0) == D("31.447")
    display.preset("X", D("12.5"), 1.0)
    display.go("X", D("13.5"), 1.0, 0.0)
    assert display.shown(2.0)["X"] == D("13.5")
    assert display.slides["X"].place(2.0) == D("32.447")


def test_another_unit_and_mode_change_what_is_shown() -> None:
    display = Display(TWO)
    display.go("X", D("25.4"), 0.0, 0.0)
    display.go("Z", D("12.7"), 0.0, 0.0)
    display.switch("in")
    assert display.shown(1.0) == {"X": D(1), "Z": D("0.5")}
    display.switch("diameter")
    assert display.shown(1.0) == {"X": D(2), "Z": D("0.5")}
    display.go("X", D(1), 1.0, 0.0)
    assert display.slides["X"].place(2.0) == D("12.7")


def test_no_angle_is_ever_shown_in_inch() -> None:
    display = Display(LAYOUTS["instruments"])
    for channel in display.slides:
        display.go(channel, D("5.08"), 0.0, 0.0)
    display.switch("in")
    shown = display.shown(1.0)
    assert (shown["indicator"], shown["angle"]) == (D("0.200"), D("5.080"))


# Faults, each by its name, through the real decoder


@pytest.mark.parametrize(
    ("layout_id", "script", "expected"),
    [
        ("two-axis line", "at 2 fault half frame", [Code.CORRUPT]),
        ("two-axis line", "at 2 half", [Code.CORRUPT]),
        ("two-axis line", "at 2 fault parity", [Code.CORRUPT]),
        ("two-axis line", "at 2 fault other unit for 0.15", [Code.UNIT] * 2),
        ("two-axis line", "at 2.05 unit in\nat 2.2 unit mm", [Code.UNIT]),
        ("words and counter", "at 2 fault other mode for 0.15", [Code.MODE] * 2),
        ("words and counter", "at 2 fault incremental for 0.15", [Code.MODE] * 2),
        ("binary, big", "at 2 fault other unit for 0.15", [Code.UNIT] * 2),
        ("two-axis line", "x 50 over 1\nat 2 fault zero x", [Code.ZERO]),
        ("two-axis line", 'x 50 over 1\nat 2 fault "zero x"', [Code.ZERO]),
        ("two-axis line", "x 50 over 1\nat 2 zero x", [Code.ZERO]),
        ("two-axis line", "x 50 over 1\nat 2 fault power cycle", [Code.ZERO]),
        ("two-axis line", "z 50 over 1\nat 2 off\nat 4 on", [Code.ZERO]),
        ("words and counter", "at 2 fault lost counts", [Code.FAULT]),
        ("hex sum behind", "at 2 fault lost counts", [Code.FAULT]),
        ("words and counter", "at 2 fault counter gap", [Code.COUNT]),
        ("binary, big", "at 2 fault counter gap", [Code.COUNT]),
        ("binary, big", "at 2 fault lost counts for 0.15", [Code.FAULT] * 2),
        ("words and counter", "at 2 fault doubled", [Code.DOUBLED]),
        ("two-axis line", "at 2 fault doubled\nat 3 key", [Code.DOUBLED]),
        ("two-axis line", "x 50 over 1\nat 2 fault swapped axes", [Code.SWAPPED]),
        ("two-axis line", "at 2 fault blank x for 0.15", [Code.CORRUPT] * 2),
        ("sum within the line", "at 2 fault blank z for 0.15", [Code.CORRUPT] * 2),
    ],
)
def test_the_decoder_finds_each_fault_and_goes_on_behind_it(
    layout_id: str, script: str, expected: list[Code]
) -> None:
    layout = LAYOUTS[layout_id]
    found = heard(layout, f"x 1 over 0.1\nz 2 over 0.1\n{script}", 5.0)
    assert codes(found) == expected
    assert isinstance(found[-1], Sighting)
    before = [item for item in found[:10] if isinstance(item, Alarm)]
    assert before == []


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=lambda layout: layout.id)
def test_every_fault_on_every_layout_is_refused_in_words_or_happens(layout: Layout) -> None:
    happened: set[str] = set()
    for name in faults.FAULTS:
        head, _, tail = name.partition(" ")
        axes = [n for n, c in CHANNELS.items() if c in layout.channels]
        own = f"{head} {axes[0]}" if tail == "x" else name
        display = Display(layout)
        for n, channel in enumerate(layout.channels):
            display.go(channel, D("1.5") + n, 0.0, 0.0)
        with contextlib.suppress(ReadoutError):
            display.fault(own, 1.0, None if head == "zero" else 1.0)
            happened.add(name)
        if name not in happened:
            continue
        plain = Display(layout)
        for n, channel in enumerate(layout.channels):
            plain.go(channel, D("1.5") + n, 0.0, 0.0)
        spoilt, whole = (d._reading(1.5, key=can_press(layout)) for d in (display, plain))
        assert display.trouble == "", own
        assert spoilt != whole, own
    assert happened >= {"half frame", "parity", "zero x", "power cycle", "doubled", "silence"}


def test_silence_and_a_readout_that_is_off_send_nothing() -> None:
    for script in ("fault silence for 2", "off\nat 3 on", "unplug\nat 3 plug in"):
        instants = [at for at, _ in sent(TWO, f"at 1 {script}", 5.0)]
        assert [at for at in instants if 1.0 <= at < 3.0] == []
        assert len([at for at in instants if at >= 3.0]) == 21


def test_a_plug_that_is_out_for_a_second_is_in_again() -> None:
    display = Display(TWO)
    assert display.fault("unplugged", 1.0) == "unplugged"
    assert display.active(1.9) == {"unplugged"}
    assert not display.plugged
    assert display.active(2.0) == frozenset()
    assert display.plugged


def test_a_power_cycle_loses_the_zero_and_begins_the_counter_anew() -> None:
    display = Display(LAYOUTS["words and counter"])
    display.go("X", D("31.4"), 0.0, 0.0)
    for n in range(5):
        display.live(1.0 + n)
    display.fault("power cycle", 6.0)
    assert display.live(6.5) == b""
    assert display.live(7.5).startswith(b":000;OK;X+000.00")


def test_faults_that_last_are_over_when_they_are_mended() -> None:
    display = Display(TWO)
    display.go("X", D(5), 0.0, 0.0)
    for name in ("other unit", "other mode", "swapped axes", "blank z", "silence"):
        display.fault(name, 1.0)
    display.fault("half frame", 1.0)
    assert display.live(2.0) == b""
    display.mend(3.0)
    assert display.active(3.0) == frozenset()
    assert display.live(3.0) == b"X+0005.000 Z+0000.000\r\n"


def test_a_fault_for_a_time_spoils_every_frame_in_it() -> None:
    found = heard(TWO, "at 2.05 fault parity for 1.0", 5.0)
    assert Code.CORRUPT in codes(found)
    garbage = [data for at, data in sent(TWO, "at 2.05 fault parity for 1.0", 5.0) if data[0] > 127]
    assert len(garbage) == 10


@pytest.mark.parametrize(
    ("layout_id", "name", "lacks"),
    [
        ("two-axis line", "counter gap", "counter"),
        ("two-axis line", "lost counts", "words for a fault"),
        ("two-axis line", "incremental", "counting"),
        ("instruments", "swapped axes", "axes X and Z"),
        ("instruments", "other mode", "an X in diameter"),
        ("binary, big", "blank x", "digits"),
        ("double display", "other mode", "an X in diameter"),
    ],
)
def test_a_fault_that_no_such_readout_can_have_is_refused(
    layout_id: str, name: str, lacks: str
) -> None:
    with pytest.raises(ReadoutError, match=lacks):
        Display(LAYOUTS[layout_id]).fault(name, 0.0)


def test_a_switch_for_which_its_frames_have_no_word_is_refused() -> None:
    with pytest.raises(ReadoutError, match="a word for diameter"):
        Display(LAYOUTS["double display"]).switch("diameter")


@pytest.mark.parametrize("name", ["nonsense", "zero", "zero y", "blank angle", ""])
def test_a_fault_that_there_is_not_is_refused_with_those_that_there_are(name: str) -> None:
    with pytest.raises(InputError, match="half frame"):
        Display(TWO).fault(name, 0.0)


def test_every_fault_has_a_name_that_can_be_said_and_words_that_explain_it() -> None:
    rich = Display(LAYOUTS["words and counter"])
    for name, fault in faults.FAULTS.items():
        assert rich.fault(name, 0.0).lower() == name
        assert fault.what


def test_a_frame_in_another_parity_is_what_a_wrong_port_makes_of_it() -> None:
    assert faults.other_parity(b"\x00\x01\x03\x41\x43") == b"\x00\x81\x03\x41\xc3"
    assert bytes(b & 127 for b in faults.other_parity(bytes(range(128)))) == bytes(range(128))


@pytest.mark.parametrize("rate", [0.0, -1.0, 1000.0, float("nan")])
def test_a_rate_that_no_readout_has_is_refused(rate: float) -> None:
    with pytest.raises(InputError, match="a second"):
        Display(TWO, rate=rate)
