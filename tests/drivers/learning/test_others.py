"""Layouts that no table names: lines and binary frames of the same families, from seeds."""

from __future__ import annotations

import random
from datetime import UTC, datetime
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest

from drivers.decoder import Alarm, Code, Decoder
from drivers.learning.evidence import Undecided
from drivers.learning.learn import learn
from drivers.learning.proposal import Proposal
from drivers.learning.recording import moves, of, read
from tests.drivers.learning.played import holds
from tests.drivers.learning.recordings import Recorded, any_block, any_line, recorded, xor
from tests.drivers.learning.test_twelve import a_move, written


@pytest.mark.parametrize("seed", range(60))
def test_any_line_is_found_and_decodes_another_recording(seed: int) -> None:
    rng = random.Random(seed)
    readout = any_line(rng)
    start, by = a_move(readout, rng)
    first = recorded(readout, rng, by, start=start)
    found = learn(written(first, readout, rng), moves(first.moved))
    holds(found, readout, recorded(readout, random.Random(seed + 1000)))


@pytest.mark.parametrize("seed", range(30))
def test_any_line_is_found_among_damaged_ones(seed: int) -> None:
    rng = random.Random(seed)
    readout = any_line(rng)
    start, by = a_move(readout, rng)
    first = recorded(readout, rng, by, start=start, noise=0.02, half=True, still=50)
    found = learn(written(first, readout, rng), moves(first.moved))
    holds(found, readout, recorded(readout, random.Random(seed + 1000)))


def binary(seed: int, **damage: Any) -> tuple[Any, Recorded]:
    """Both slides through nought, by ways that differ."""
    rng = random.Random(seed)
    readout = any_block(rng)
    start = {axis: Decimal(rng.randint(3_000, 90_000)) / 1000 for axis in readout.axes}
    by = {"X": -start["X"] - Decimal(rng.randint(3_000, 12_000)) / 1000}
    by["Z"] = -start["Z"] - Decimal(rng.randint(20_000, 30_000)) / 1000
    if abs(by["X"] / by["Z"] - 1) < Decimal("0.1"):
        by["Z"] *= 2
    return readout, recorded(readout, rng, by, start=start, **damage)


@pytest.mark.parametrize("seed", range(40))
def test_any_binary_frame_is_found_or_refused_and_never_found_wrong(seed: int) -> None:
    readout, first = binary(seed)
    bare = seed % 2 == 0
    try:
        found = learn(
            read(first.data if bare else first.json_lines, "recording"), moves(first.moved)
        )
    except Undecided as undecided:
        assert "move " in undecided.decides  # noqa: PT017 - either way is right
        return
    holds(found, readout, recorded(readout, random.Random(seed + 1000)))


def test_most_binary_frames_are_found_when_both_slides_went_through_nought() -> None:
    found = 0
    for seed in range(40):
        _, first = binary(seed)
        try:
            learn(read(first.json_lines, "recording"), moves(first.moved))
        except Undecided:
            continue
        found += 1
    assert found >= 36


# -- one by one ------------------------------------------------------------------------------

WAY = [31.447] * 10 + [31.447 + n + 0.0013 * (n % 3) for n in range(1, 10)] + [41.447] * 10
XS = [round(x, 3) for x in WAY]
Z = 142.318


def lines(text: str, xs: list[float] | None = None) -> bytes:
    return b"".join(text.format(x=x, z=Z, n=n).encode("latin-1") for n, x in enumerate(xs or XS))


def found(data: bytes, *moved: str) -> Proposal:
    return learn(read(data, "recording"), moves(moved or ["X=+10mm"]))


def shown(proposal: Proposal) -> str:
    pattern = proposal.layout.pattern
    assert pattern is not None
    return pattern.pattern.decode("latin-1")


def test_a_third_axis_is_known_by_its_letter() -> None:
    layout = found(lines("X{x:+9.3f} Y{z:+9.3f} Z{z:+9.3f}\r\n")).layout
    assert layout.channels == ("X", "Y", "Z")


def test_a_figure_of_no_axis_is_let_in_and_not_used() -> None:
    made = found(b"".join(b"X%.3f Z%.3f F%.1f\r\n" % (x, Z, n % 3) for n, x in enumerate(XS)))
    assert made.layout.channels == ("X", "Z")
    assert shown(made).endswith(r" F[-]?\d{1,4}\.\d{1}")


def test_lines_of_one_sighting_that_an_empty_line_ends_are_one_frame() -> None:
    made = found(lines("X {x:.3f}\r\nZ {z:.3f}\r\n\r\n"))
    assert made.layout.frame.terminator == b"\r\n\r\n"
    assert made.layout.channels == ("X", "Z")


def test_the_readouts_own_clock_is_let_in_and_not_used() -> None:
    stamps = [f"12:{30 + n // 10}:{n * 6 % 60:02} X {x:.3f} Z {Z}\r\n" for n, x in enumerate(XS)]
    assert shown(found("".join(stamps).encode())).startswith(r"\d{2}:\d{2}:\d{2} X ")


def test_a_mark_that_begins_a_frame_is_no_terminator() -> None:
    data = lines("@X{x:+09.3f}Z{z:+09.3f}")
    for cut in (0, 7):
        frame = found(data[cut:]).layout.frame
        assert (frame.terminator, frame.length) == (b"", 21)


def test_a_check_behind_the_figures_may_be_any_byte() -> None:
    bodies = [b"%+07d%+07d" % (round(x * 1000), round(Z * 1000)) for x in XS]
    made = found(b"".join(b"%s%c\r\n" % (body, xor(body)) for body in bodies))
    assert made.layout.check is not None
    assert (made.layout.check.kind, made.layout.check.at) == ("xor", -3)


def test_words_of_mode_and_counting_are_held_to_what_was_measured() -> None:
    made = found(lines("X {x:.3f} DIA Z {z:.3f} ABS\r\n", [2 * x for x in XS]))
    assert made.layout.figures.mode == "diameter"
    assert made.layout.figures.mode_words == {b"DIA": "diameter", b"RAD": "radius"}
    assert made.layout.figures.counting_words == {b"ABS": "absolute", b"INC": "incremental"}


def test_a_word_for_the_mode_tells_it_where_x_stood_still() -> None:
    data = b"".join(b"X 62.894 DIA Z %.3f\r\n" % x for x in XS)
    settings = {s.setting: s for s in found(data, "Z=+10mm").settings}
    assert (settings["mode"].value, settings["mode"].proved) == ("diameter", False)


def test_axes_may_be_named_by_numbers() -> None:
    assert found(lines("1: {x:.3f}\r\n2: {z:.3f}\r\n")).layout.figures.axes == {
        b"1": "X",
        b"2": "Z",
    }


def test_a_mark_that_stands_while_a_slide_moves_is_no_key() -> None:
    marks = [True, *(a != b for a, b in pairwise(XS))]
    data = b"".join(
        b"X%.3f %s\r\n" % (x, b"M" if m else b"-") for x, m in zip(XS, marks, strict=True)
    )
    made = found(data)
    assert "(?P<key>" not in shown(made)
    assert {s.setting for s in made.settings} >= {"mark of motion"}


def test_an_indicator_is_a_channel_like_any_other() -> None:
    data = b"".join(b"%+.4f\r" % (x / 100) for x in XS)
    assert found(data, "indicator=+0.1mm").layout.channels == ("indicator",)


def test_integers_between_commas_are_no_decimal_commas() -> None:
    data = b"".join(b"%06d,%06d\r\n" % (round(x * 1000), round(Z * 1000)) for x in XS)
    figures = found(data).layout.figures
    assert (figures.point, figures.decimals) == ("none", 3)


def test_words_instead_of_figures_are_faults() -> None:
    pieces = [(0.2 * n, b"%.3f,%.3f,OK\r" % (x, Z)) for n, x in enumerate(XS)]
    pieces += [(9.0, b"----.---,142.318,E-SIG\r"), (9.2, b"OVR\r"), (9.4, pieces[-1][1])]
    layout = learn(of(pieces), moves(["X=+10mm"])).layout
    assert set(layout.figures.faults) == {b"----.---", b"E-SIG", b"OVR"}
    assert layout.figures.good == (b"OK",)


@pytest.mark.parametrize("first", [4, 14, 24])
def test_a_flag_for_the_unit_may_come_later(first: int) -> None:
    data = b"".join(b"A=%.3f;B=%.3f%s\n" % (x, Z, b";U=0" * (n >= first)) for n, x in enumerate(XS))
    made = found(data)
    assert shown(made).endswith("(?:;U=(?P<unit>0|1))?")
    assert made.layout.figures.unit_words == {b"0": "mm", b"1": "in"}


def test_another_unit_within_the_recording_is_no_figure_of_this_one() -> None:
    tail = b"A=%.5f;B=%.5f;U=1\n" % (XS[-1] / 25.4, Z / 25.4)
    made = found(lines("A={x:.3f};B={z:.3f};U=0\n") + 5 * tail)
    assert made.layout.figures.unit_words == {b"0": "mm", b"1": "in"}


def test_another_unit_is_said_to_be_one_when_it_comes() -> None:
    layout = found(lines("X{x:.3f} mm\r\n")).layout
    decoder = Decoder(layout, "RO-1")
    decoder.feed(b"X31.447 mm\r\nX31.447 mm\r\n", datetime(2026, 11, 17, tzinfo=UTC))
    (alarm,) = decoder.feed(b"X1.238 in\r\n", datetime(2026, 11, 17, 0, 0, 1, tzinfo=UTC))
    assert isinstance(alarm, Alarm)
    assert alarm.code is Code.UNIT


def test_a_figure_that_goes_the_other_way_is_said_and_kept_as_shown() -> None:
    made = found(lines("X{x:.3f} Z{z:.3f}\r\n"), "X=-10mm")
    settings = {s.setting: s for s in made.settings}
    assert any("counts the other way" in words for words in settings["axis X"].against)


def test_the_key_is_known_by_its_mark() -> None:
    data = b"".join(
        b"X%.3f Z%.3f%s\r\n" % (x, Z, b" P" if n in (4, 12, 25) else b"") for n, x in enumerate(XS)
    )
    made = found(data)
    assert r"(?P<key> P)?" in shown(made)
    assert {s.setting: s.proved for s in made.settings}["key"]


def test_a_readout_that_sends_on_its_key_is_known_by_its_pauses() -> None:
    pieces = [(4.1 * n, b"PRT X%+.3f Z%+.3f\r\n" % (x, Z)) for n, x in enumerate((1.5, 1.5, 11.5))]
    assert learn(of(pieces), moves(["X=+10mm"])).layout.on_key


def test_what_asks_is_kept() -> None:
    from drivers.learning.proposal import Known

    made = learn(
        read(lines("{x:.3f},{z:.3f},OK\r"), "recording"), moves(["X=+10mm"]), Known(asked=b"%1\r")
    )
    assert made.layout.asks is not None
    assert (made.layout.asks.request, made.layout.rules.sends) == (b"%1\r", "when asked")


def test_a_keys_word_may_stand_in_the_place_of_another() -> None:
    data = b"".join(
        b"%s X%.3f Z%.3f\r\n" % (b"P" if n in (4, 7, 25) else b"L", x, Z) for n, x in enumerate(XS)
    )
    made = found(data)
    assert shown(made).startswith("(?:L|(?P<key>P)) X")
    assert not {s.setting: s.proved for s in made.settings}["key"]
    data = data.replace(b"P", b"L")
    once = data[:60].replace(b"L", b"P") + data[60:]
    with pytest.raises(Undecided, match="'P' 2 times"):
        found(once)


def test_a_bit_of_a_key_is_none_of_motion_where_the_slide_hardly_moves() -> None:
    xs = [-4800] * 30 + list(range(-4800, 5200, 1250)) + [5200] * 30
    pressed = {4, 10, 16, 40, 50, 60}
    frames = [
        b"\xff\xfe" + bytes([n in pressed]) + x.to_bytes(4, "big", signed=True)
        for n, x in enumerate(xs)
    ]
    made = found(b"".join(body + bytes([sum(body) % 256]) for body in frames))
    assert [f.name for f in made.layout.fields if f.at == 2] == ["key", "fixed"]


@pytest.mark.parametrize("by", ["{x:.3f}\t{z:.3f}\r\n", "{x:+9.3f},{z:+9.3f}\r"])
def test_presses_in_an_even_rhythm_are_no_continuous_line(by: str) -> None:
    pauses = (0.9, 1.2, 1.0, 1.3, 0.8, 2.5, 1.1, 0.9, 1.3, 1.0)
    rows = [by.format(x=x, z=Z).encode() for x in [31.447, 31.448] * 3 + [41.447, 41.448] * 3]
    at, pieces = 0.0, []
    for pause, row in zip((*pauses, 1.0, 1.2), rows, strict=True):
        pieces.append((at, row))
        at += pause
    assert learn(of(pieces), moves(["X=+10mm"])).layout.on_key
    assert found(b"".join(rows)).layout.on_key
    even = [(1.0 * n, row) for n, row in enumerate(rows)]
    assert not learn(of(even), moves(["X=+10mm"])).layout.on_key


def test_a_word_that_noise_made_once_is_no_axis() -> None:
    rows = [f"X{x:+.3f}\r\n".encode() for x in [-31.447] * 5 + [-21.447] * 5]
    rows[3] = rows[3].replace(b"-", b"m")
    with pytest.raises(Undecided, match="'X' 8 times, 'Xm' 1 times"):
        found(b"".join(rows))


def test_a_mark_on_one_of_a_few_presses_may_be_damage_and_is_refused() -> None:
    rows = [b"%.3f\t%.3f\r\n" % (x, Z) for x in [31.447] * 5 + [41.447] * 5]
    rows[3] = rows[3].replace(b"\t", b"#\t")
    pieces = [(1.1 * n + 0.3 * (n % 2), row) for n, row in enumerate(rows)]
    with pytest.raises(Undecided, match="was seen once"):
        learn(of(pieces), moves(["X=+10mm"]))


@pytest.mark.parametrize(
    ("form", "then", "code"),
    [
        ("X {x:.3f} mm Z {z:.3f}\r\n", "X 1.2381 in Z 5.6031\r\n", Code.UNIT),
        ("X {x:.3f} mm\r\n", "X 1.23807 inch\r\n", Code.UNIT),
        ("X {x:9.3f} MM\r\n", "X   1.23807 INCH\r\n", Code.UNIT),
        ("X{x:+.3f} Z{z:+.3f} M\r", "X+1.238 Z+5.603 I\r", Code.UNIT),
        ("{x:.3f} {z:.3f} mm/rad\n", "62.894 142.318 mm/dia\n", Code.MODE),
        ("X:{x:.3f} mm R\r\nZ:{z:.3f} mm R\r\n", "X:62.894 mm D\r\n", Code.MODE),
        ("X {x:.3f} ABS\r\n", "X 1.000 INC\r\n", Code.MODE),
    ],
)
def test_a_word_that_says_something_else_is_that_alarm(form: str, then: str, code: Code) -> None:
    layout = found(lines(form)).layout
    decoder, at = Decoder(layout, "RO-1"), datetime(2026, 11, 17, tzinfo=UTC)
    decoder.feed(2 * form.format(x=31.447, z=Z).encode(), at)
    (alarm,) = decoder.feed(then.encode(), datetime(2026, 11, 17, 0, 0, 1, tzinfo=UTC))
    assert isinstance(alarm, Alarm)
    assert alarm.code is code


def test_a_letter_that_contradicts_the_figures_says_nothing() -> None:
    layout = found(lines("X {x:.3f} D\r\n")).layout
    assert (layout.figures.mode, layout.figures.mode_words) == ("radius", {})


def test_figures_of_other_decimals_are_none_of_the_layouts_unit() -> None:
    layout = found(lines("X {x:.3f} mm\r\n")).layout
    decoder = Decoder(layout, "RO-1")
    decoder.feed(b"X 31.447 mm\r\nX 31.447 mm\r\n", datetime(2026, 11, 17, tzinfo=UTC))
    (alarm,) = decoder.feed(b"X 31.4471 mm\r\n", datetime(2026, 11, 17, 0, 0, 1, tzinfo=UTC))
    assert isinstance(alarm, Alarm)
    assert alarm.code is Code.CORRUPT


@pytest.mark.parametrize("by_word", [True, False])
def test_a_key_is_none_of_motion_where_figures_never_rest(by_word: bool) -> None:
    xs = [x + 0.001 * (0, 1, 0, 1, 1)[n % 5] for n, x in enumerate(XS)]
    pressed = {4, 7, 22, 26}
    if by_word:
        made = found(
            b"".join(b"%s X%.3f\r\n" % (b"LP"[n in pressed :][:1], x) for n, x in enumerate(xs))
        )
        assert made.layout.names == {"key", "x"}
        return
    bodies = [
        b"\xff\xfe"
        + bytes([n in pressed])
        + round(1000 * x - 36000).to_bytes(4, "big", signed=True)
        for n, x in enumerate(xs)
    ]
    made = found(b"".join(body + bytes([sum(body) % 256]) for body in bodies))
    assert "key" in {f.name for f in made.layout.fields}


def test_words_that_stand_right_behind_their_figures_are_theirs() -> None:
    made = found(lines("{x:+.3f}X {z:+.3f}Z\r\n"))
    assert made.layout.channels == ("X", "Z")
    assert found(lines("{x:.3f} Z{z:.3f}\r\n"), "X=+10mm").layout.channels == ("X", "Z")


def test_a_quote_that_isnt_right_behind_a_figure_says_no_inch() -> None:
    assert found(lines('"x":{x:.3f},"z":{z:.3f};\n')).layout.figures.unit.value == "mm"
    inches = [x / 25.4 for x in XS]
    made = found(lines('X{x:.4f}" Y{z:.4f}"\r\n', inches))
    assert made.layout.figures.unit_words[b'"'].value == "in"


def test_one_keys_mark_behind_each_figure_is_one_key() -> None:
    marks = [b"*" if n in (4, 12, 25) else b" " for n in range(len(XS))]
    made = found(
        b"".join(b"X%.3f%sZ%.3f%s\r" % (x, m, Z, m) for x, m in zip(XS, marks, strict=True))
    )
    assert "key" in made.layout.names


def test_a_letter_in_the_place_of_one_sign_is_damage() -> None:
    rows = [f"X {-x:9.3f} Z {-Z:9.3f}\r\n" for x in XS]
    rows[5] = rows[5].replace("Z  -", "Z  m")
    made = found("".join(rows).encode(), "X=-10mm")
    assert "key" not in made.layout.names
    assert "[+ -]?" in shown(made)


def test_a_sum_of_two_bytes_is_none_of_one() -> None:
    bodies = [f"{x:+9.3f} {Z:+9.3f} ".encode() for x in XS]
    made = found(b"".join(body + b"%04X\r\n" % sum(body) for body in bodies))
    assert made.layout.check is not None
    assert (made.layout.check.kind, made.layout.check.modulus) == ("sum", 65536)
