"""The traps that lines of readouts hold: each by name, with what must come out instead."""

from __future__ import annotations

import pytest

from drivers.decoder import Alarm, Code, Decoder
from drivers.joined import Joined
from drivers.settled import Settled, State
from inspect_rec.reading import Sighting
from tests.drivers.cases import AT, LAYOUTS, after, heard
from tests.drivers.spoken import PAIR, SPREAD, bare, every, short, stx, timed

# 1: one axis a line


def joined(*sent: tuple[float, str]) -> list[dict[str, str]]:
    layout = LAYOUTS["axis words"]
    join = Joined(layout.channels, layout.rules.pair_ms)
    found = heard(layout, [(ms, t.encode()) for ms, t in sent], timed=True)
    whole = [join.hear(item) for item in found if isinstance(item, Sighting)]
    return [{r.channel: str(r.value) for r in each.readings} for each in whole if each is not None]


ACROSS, ALONG = "ACROSS +31.4470 mm\r\n", "ALONG +142.3180 mm\r\n"


@pytest.mark.parametrize(("apart", "pairs"), [(0, 1), (200, 1), (201, 0), (5000, 0)])
def test_trap_x_and_z_of_two_instants_are_one_sighting_within_200_ms_only(
    apart: float, pairs: int
) -> None:
    found = joined((0, ACROSS), (apart, ALONG))
    assert found == [{"X": "31.4470", "Z": "142.3180"}] * pairs


def test_trap_a_slide_that_moves_between_its_axes_lines_is_not_still() -> None:
    layout = LAYOUTS["axis words"]
    join, settled = Joined(layout.channels, layout.rules.pair_ms), Settled(layout)
    decoder, states = Decoder(layout, "RO-1"), []
    for n in range(20):
        x = "31.4470" if n >= 10 else f"{30 + n / 10:.4f}"
        for ms, line in ((n * 100, f"ACROSS +{x} mm\r\n"), (n * 100 + 50, ALONG)):
            for item in decoder.feed(line.encode(), after(ms)):
                assert isinstance(item, Sighting)
                whole = join.hear(item)
                if whole is not None:
                    settled.hear(whole)
        states.append(settled.state(after(n * 100 + 50)))
    assert State.STILL not in states[:13]
    assert set(states[13:]) == {State.STILL}


# 2: a flag for the unit


def test_trap_a_unit_flag_that_is_first_seen_mid_job_is_an_alarm_and_nothing_is_converted() -> None:
    first = ["A=31.447;B=142.318\n"] * 3
    assert timed("flagged pair", *every(100, *first, "A=1.238;B=5.603;U=1\n", first[0])) == [
        *[PAIR] * 3,
        "unit changed",
        PAIR,
    ]


def test_trap_a_readout_switched_to_inch_without_a_word_is_found_by_its_figures() -> None:
    for shown in ("A=1.238;B=5.603\n", "A=0.124;B=0.560\n"):
        found = timed("flagged pair", *every(100, *["A=31.447;B=142.318\n"] * 3, shown))
        assert found[-1] != {"X": shown[2:7], "Z": shown[10:15]}
    assert timed("flagged pair", *every(100, *["A=31.447;B=142.318\n"] * 3, "A=1.238;B=5.603\n"))[
        -1
    ] == ("unit changed")


# 3: implied decimals


@pytest.mark.parametrize("places", [3, 4, 5])
def test_trap_the_point_moves_in_inch_and_a_figure_is_ten_or_a_hundred_times_as_large(
    places: int,
) -> None:
    def frame(x: float, z: float, decimals: int) -> str:
        return stx(f"{round(x * 10**decimals):+07d}{round(z * 10**decimals):+07d}")

    mm = frame(31.447, 142.318, 3)
    inch = frame(31.447 / 25.4, 142.318 / 25.4, places)
    found = heard(
        LAYOUTS["framed digits"],
        [(ms, t.encode("latin-1")) for ms, t in every(100, mm, mm, mm, inch, inch)],
        timed=True,
    )
    assert short(found)[:3] == [PAIR] * 3
    assert isinstance(found[3], Alarm)
    assert found[3].code in (Code.UNIT, Code.IMPLAUSIBLE)
    assert isinstance(found[4], Alarm) or found[4].suspect is not None


def test_trap_a_wrong_check_is_no_figure() -> None:
    good = stx("+031447+142318")
    for wrong in range(256):
        found = bare("framed digits", good[:-1] + chr(wrong))
        assert found == [PAIR] if chr(wrong) == good[-1] else set(found) == {"corrupt"}, wrong


def test_trap_the_check_may_look_like_stx_or_etx() -> None:
    etx, stx_ = stx("+142318+142318"), stx("+142318+142319")
    assert (etx[-1], stx_[-1]) == ("\x03", "\x02")
    found = bare("framed digits", etx + stx_ + etx)
    same = {"X": "142.318", "Z": "142.318"}
    assert found == [same, {"X": "142.318", "Z": "142.319"}, same]


# 4: columns


def test_trap_one_axis_blanked_never_puts_its_neighbour_in_its_column() -> None:
    good = "  31,447   142,318\r"
    for start, end in ((0, 8), (8, 18)):
        dark = good[:start] + " " * (end - start) + good[end:]
        for line in (dark, dark.lstrip(" "), dark.rstrip(" \r") + "\r", dark.replace(" ", "")):
            assert bare("comma columns", line + good) == ["corrupt", PAIR]


def test_trap_a_decimal_comma_is_read_and_a_point_is_not() -> None:
    assert bare("comma columns", "  31,447   142,318\r") == [PAIR]
    assert bare("comma columns", "  31.447   142.318\r") == ["corrupt"]


# 5: the sign behind


def test_trap_a_sign_behind_the_digits_is_a_sign_and_no_separator() -> None:
    assert (
        bare("sign behind", "0314470-Q1423180+R0314470-Q1423180+R")
        == [
            {"X": "-31.4470"},
            {"Z": "142.3180"},
        ]
        * 2
    )


def test_trap_four_implied_decimals_are_not_three() -> None:
    assert bare("sign behind", "0314470+Q") == [{"X": "31.4470"}]


# 6: two displays of one axis


def test_trap_the_diameter_is_never_taken_for_the_radius() -> None:
    good = "[R]31.447[/D]62.894\n"
    assert bare("double display", good) == [{"X": "31.447"}]
    for wrong in ("[R]62.894[/D]31.447\n", "[R]62.894[/D]62.894\n", "[D]62.894[/R]31.447\n"):
        assert bare("double display", wrong + good) == ["corrupt", {"X": "31.447"}]
    (found,) = heard(LAYOUTS["double display"], [(0, good.encode())], timed=False)
    assert isinstance(found, Sighting)
    assert found.mode == "radius"


# 7: letters and a counter


@pytest.mark.parametrize(
    ("letter", "told"), [("I", "unit changed"), ("i", "mode changed"), ("Ii", "unit changed")]
)
def test_trap_a_capital_letter_is_another_word_than_a_small_one(letter: str, told: str) -> None:
    assert bare("numbered line", f"#17:X31.447{letter}\r\n") == [told]


def test_trap_gaps_of_the_counter_are_lost_frames_and_the_reading_is_good() -> None:
    lines = [f"#{n:02d}:X31.447\r\n" for n in (97, 98, 1, 2)]
    x = {"X": "31.447"}
    assert bare("numbered line", "".join(lines)) == [x, x, "lost count", x, x]


# 8: nothing but a pause


@pytest.mark.parametrize("at", range(1, len(SPREAD)))
def test_trap_a_frame_split_by_the_timing_is_whole_or_nothing(at: int) -> None:
    for gap, whole in ((0, True), (20, True), (49, True), (50, False), (300, False)):
        sent = ((0, SPREAD[:at]), (gap, SPREAD[at:]), (gap + 400, SPREAD))
        found = timed("pause only", *sent)
        assert found == ([PAIR, PAIR] if whole else ["corrupt", "corrupt", PAIR]), gap


@pytest.mark.parametrize("count", [2, 3, 30])
def test_trap_frames_merged_by_the_timing_are_as_many_as_were_sent(count: int) -> None:
    assert timed("pause only", (0, SPREAD * count)) == [PAIR] * count
    assert bare("pause only", SPREAD * count) == [PAIR] * count


def test_trap_a_frame_is_handed_on_when_the_pause_is_over_and_not_with_the_next() -> None:
    decoder = Decoder(LAYOUTS["pause only"], "RO-1")
    assert decoder.feed(SPREAD.encode(), AT) == []
    assert decoder.idle(after(49)) == []
    (found,) = decoder.idle(after(50))
    assert isinstance(found, Sighting)
    assert found.at == AT


# 9: faults


@pytest.mark.parametrize("fault", ["----.---", "OVR", "E-SIG"])
def test_trap_a_fault_is_never_read_as_nought(fault: str) -> None:
    good = "31.447,142.318,OK\r"
    for line in (
        f"{fault}\r",
        f"{fault},142.318,OK\r",
        f"31.447,{fault},OK\r",
        f"{fault},{fault},OK\r",
        f"31.447,142.318,{fault}\r",
    ):
        assert bare("asked pair", good + line + good) == [PAIR, "fault word", PAIR]


# 10: the starred line


def test_trap_the_starred_figure_is_the_reading_and_not_the_next() -> None:
    layout = LAYOUTS["starred stream"]
    sent = every(100, "31.4468 ", "31.4471", "* ", "31.4475 ", "31.4480 ")
    found = heard(layout, [(ms, t.encode()) for ms, t in sent], timed=True)
    assert [(str(s.readings[0].value), s.key) for s in found if isinstance(s, Sighting)] == [
        ("31.4468", False),
        ("31.4471", True),
        ("31.4475", False),
        ("31.4480", False),
    ]


# 11: a keyboard


@pytest.mark.parametrize(
    ("trap", "line"),
    [
        ("keyboard language", "31,447\t142,318\r"),
        ("Caps Lock", '#!>$$&\t!$">#!*\r'),
        ("focus: typed into it", "1.31.447\t142.318\r"),
        ("focus: words", "ok31.447\t142.318\r"),
        ("focus: elsewhere in between", "31.447\t2.318.\r"),
        ("a digit block without its lock", "\x1b[F.\x1b[D\t\r"),
    ],
)
def test_trap_a_keyboard_types_something_else_than_figures(trap: str, line: str) -> None:
    assert bare("typed pair", line) == ["corrupt"], trap


def test_trap_a_keyboard_whose_window_came_late_types_half_a_figure() -> None:
    whole = "31.447\t142.318\r"
    for cut in range(1, len(whole)):
        found = timed("typed pair", (0, whole[cut:]), (900, whole), (1800, whole))
        assert found == ["corrupt", PAIR, PAIR], cut


def test_trap_a_figure_with_nothing_before_it_is_taken_at_once() -> None:
    decoder = Decoder(LAYOUTS["typed pair"], "RO-1")
    assert decoder.idle(AT) == decoder.idle(after(100)) == []
    (found,) = decoder.feed(b"1.447\t142.318\r", after(150))
    assert isinstance(found, Sighting)
    assert found.suspect is None


# 12: registers


def block(steps: int, scale: int = 1000, beat: int = 1) -> str:
    data = steps.to_bytes(4, "big", signed=True) + scale.to_bytes(2) + beat.to_bytes(2)
    return data.decode("latin-1")


def test_trap_the_order_of_words_and_the_sign() -> None:
    assert bare("register block", block(-142318)) == [{"X": "-142.318"}]
    assert bare("register block", block(65536)) == [{"X": "65.536"}]
    swapped = block(31447)[2:4] + block(31447)[:2] + block(31447)[4:]
    assert bare("register block", swapped) == ["implausible"]


def test_trap_a_step_of_a_tenth_of_a_micrometre_is_none_of_a_micrometre() -> None:
    found = bare("register block", block(314470, 10000) + block(31447, 1000, 2))
    assert found == [{"X": "31.4470"}, {"X": "31.447"}]
    assert bare("register block", block(31447, 1)) == ["corrupt"]


def test_trap_a_stale_value_with_an_old_heartbeat_is_not_used() -> None:
    beats = [block(31447, beat=n) for n in (7, 8, 8, 8, 8, 9)]
    x = {"X": "31.447"}
    assert timed("register block", *every(300, *beats)) == [x, x, x, "doubled", "doubled", x]
    assert bare("register block", beats[1] + beats[2]) == [x, "doubled"]
