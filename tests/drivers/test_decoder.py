"""Bytes to sightings: any chunking the same, nothing guessed, nothing broken passes."""

from __future__ import annotations

from datetime import datetime, timedelta
from importlib import resources
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.decoder import Alarm, Code, Decoder
from drivers.layout import packaged, parse
from inspect_rec.reading import Sighting
from tests.drivers.cases import AT, cases

LAYOUT = packaged()["two-axis line"]
BROKEN = [case for case in cases(LAYOUT.id, "broken") if len(case["said"]) == 1]
TEXT = (resources.files("drivers") / "layouts" / "two-axis-line.toml").read_text("utf-8")


def line(x: float, z: float, end: str = "") -> bytes:
    return f"X{x:+09.3f} Z{z:+09.3f}{end}\r\n".encode()


def decoded(chunks: list[bytes]) -> list[Sighting | Alarm]:
    decoder = Decoder(LAYOUT, "RO-1")
    return [item for chunk in chunks for item in decoder.feed(chunk, AT)]


def test_a_line_becomes_the_figures_as_shown_with_its_bytes() -> None:
    (found,) = decoded([line(36.449, -130.25, " *")])
    assert isinstance(found, Sighting)
    assert found.key
    assert [(r.channel, str(r.value)) for r in found.readings] == [
        ("X", "36.449"),
        ("Z", "-130.250"),
    ]
    assert found.raw == b"X+0036.449 Z-0130.250 *"


def test_capture_goes_on_after_every_broken_line() -> None:
    good = line(36.449, 130.25)
    stream = b"".join(good + bytes.fromhex(case["hex"]) for case in BROKEN) + good
    found = decoded([stream])
    assert sum(isinstance(item, Sighting) for item in found) >= len(BROKEN) - 2
    assert isinstance(found[-1], Sighting)


@st.composite
def streams(draw: st.DrawFn) -> tuple[bytes, list[int]]:
    pieces = st.one_of(
        st.builds(line, st.floats(-99, 99), st.floats(0, 300), st.sampled_from(["", " *", " mm"])),
        st.sampled_from([bytes.fromhex(case["hex"]) for case in BROKEN]),
        st.binary(max_size=200),
        st.just(b"\r"),
    )
    stream = b"".join(draw(st.lists(pieces, max_size=8)))
    cuts = draw(st.lists(st.integers(0, len(stream)), max_size=12))
    return stream, sorted(cuts)


@given(streams())
@settings(max_examples=300, deadline=None)
def test_any_chunking_gives_the_same_sightings_and_alarms(given_: tuple[bytes, list[int]]) -> None:
    stream, cuts = given_
    ends = [0, *cuts, len(stream)]
    chunks = [stream[a:b] for a, b in pairwise(ends)]
    assert decoded(chunks) == decoded([stream])
    assert decoded([stream[n : n + 1] for n in range(len(stream))]) == decoded([stream])


@given(st.binary(max_size=3000))
@settings(max_examples=200, deadline=None)
def test_no_byte_of_garbage_is_lost_or_raises(data: bytes) -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    found = decoder.feed(data, AT)
    kept = sum(len(item.raw) for item in found) + 2 * data.count(b"\r\n")
    assert kept + len(decoder.lost(AT).raw) == len(data)


def at(ms: int) -> datetime:
    return AT + timedelta(milliseconds=ms)


def test_one_figure_further_than_a_slide_can_go_is_an_alarm_and_the_rest_goes_on() -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    decoder.feed(line(10, 100), AT)
    (jump,) = decoder.feed(line(900, 100), at(200))
    assert isinstance(jump, Alarm)
    assert jump.code is Code.IMPLAUSIBLE
    (after,) = decoder.feed(line(10.5, 100), at(400))
    assert isinstance(after, Sighting)
    assert after.suspect is None


def test_a_slide_that_stays_where_no_hand_moved_it_is_suspect_until_the_pin_is_sighted() -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    decoder.feed(line(10, 100), AT)
    (jump,) = decoder.feed(line(900, 100), at(200))
    (there,) = decoder.feed(line(900.5, 100), at(400))
    (later,) = decoder.feed(line(901, 100), at(600))
    assert isinstance(jump, Alarm)
    assert isinstance(there, Sighting)
    assert isinstance(later, Sighting)
    assert there.suspect == later.suspect == jump.said
    decoder.forget()
    (good,) = decoder.feed(line(901, 100), at(800))
    assert isinstance(good, Sighting)
    assert good.suspect is None


def test_a_line_behind_what_has_no_end_is_no_figure() -> None:
    """Sixty-four bytes of noise and then a whole line, with no end in between, are one line."""
    good = line(36.449, 130.25)
    found = decoded([b"#" * LAYOUT.frame.longest + good + good])
    assert [type(item) for item in found] == [Alarm, Alarm, Sighting]
    assert found[1].raw == good.removesuffix(b"\r\n")


@pytest.mark.parametrize("noise", [63, 64, 65, 66, 127, 128, 129])
def test_wherever_a_long_line_is_cut_on_its_way_it_gives_the_same(noise: int) -> None:
    stream = b"#" * noise + b"\r\n" + line(36, 130) + b"#" * noise + line(36, 130) + line(36, 130)
    whole = decoded([stream])
    assert sum(isinstance(item, Sighting) for item in whole) == 2
    for cut in range(len(stream)):
        assert decoded([stream[:cut], stream[cut:]]) == whole


def test_a_lost_line_ends_what_had_no_end() -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    decoder.feed(b"#" * 100, AT)
    decoder.lost(AT)
    (found,) = decoder.feed(line(36.449, 130.25), AT)
    assert isinstance(found, Sighting)


def test_a_line_that_never_ends_is_kept_in_pieces_and_the_buffer_stays_small() -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    kept = b"".join(item.raw for _ in range(100) for item in decoder.feed(b"#" * 1000, AT))
    assert len(kept) >= 100_000 - LAYOUT.frame.longest - 1
    assert len(decoder.lost(AT).raw) <= LAYOUT.frame.longest + 1


def test_a_readout_in_inch_is_held_to_what_a_hand_can_move_in_mm() -> None:
    text = TEXT.replace('unit = "mm"', 'unit = "in"')
    decoder = Decoder(parse(text, "inch.toml"), "RO-1")
    decoder.feed(line(1, 5, " in"), AT)
    (near,) = decoder.feed(line(1.9, 5, " in"), AT)
    assert isinstance(near, Sighting)
    (far,) = decoder.feed(line(2.9, 5, " in"), AT)
    assert isinstance(far, Alarm)
    assert far.code is Code.IMPLAUSIBLE
    (millimetres,) = decoder.feed(line(2.9, 5, " mm"), AT)
    assert isinstance(millimetres, Alarm)
    assert millimetres.code is Code.UNIT


def test_a_readout_in_the_other_mode_gives_no_figure() -> None:
    text = TEXT.replace("(?P<unit> mm| in)?", "(?P<mode> R| D)")
    text = text.replace("unit_words = ", 'mode_words = { " R" = "radius", " D" = "diameter" } #')
    decoder = Decoder(parse(text, "mode.toml"), "RO-1")
    (good,) = decoder.feed(line(1, 5, " R"), AT)
    assert isinstance(good, Sighting)
    (wrong,) = decoder.feed(line(2, 5, " D"), AT)
    assert isinstance(wrong, Alarm)
    assert wrong.code is Code.MODE


def test_a_readout_that_sends_on_its_key_only_sends_by_key_and_is_never_silent() -> None:
    decoder = Decoder(parse(TEXT.replace('"continuously"\n', '"on key"\n'), "key.toml"), "RO-1")
    (found,) = decoder.feed(line(1, 5), AT)
    assert isinstance(found, Sighting)
    assert found.key
    assert decoder.silent(AT + timedelta(hours=1)) is None


@pytest.mark.parametrize(("x", "z"), [(10.0, 161.0), (41.0, 100.0), (-21.0, 100.0), (10.0, 39.0)])
def test_either_slide_may_jump_either_way(x: float, z: float) -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    decoder.feed(line(10, 100), AT)
    (jump,) = decoder.feed(line(x, z), AT + timedelta(milliseconds=60))
    assert isinstance(jump, Alarm)
    assert jump.code is Code.IMPLAUSIBLE
    assert jump.said.startswith("X" if z == 100 else "Z")
    decoder = Decoder(LAYOUT, "RO-1")
    decoder.feed(line(10, 100), AT)
    (far,) = decoder.feed(line(x, z), AT + timedelta(milliseconds=200))
    assert isinstance(far, Sighting)


def test_silence_is_said_once_and_again_after_new_bytes() -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    decoder.feed(line(1, 2), AT)
    late = AT + timedelta(seconds=3)
    assert decoder.silent(AT + timedelta(seconds=1)) is None
    assert (alarm := decoder.silent(late)) is not None
    assert alarm.code is Code.SILENT
    assert decoder.silent(late) is None
    decoder.feed(line(1, 2), late)
    assert decoder.silent(late + timedelta(seconds=3)) is not None


def test_a_line_that_is_silent_from_the_start_is_said_too() -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    assert decoder.silent(AT) is None
    assert decoder.silent(AT + timedelta(seconds=1)) is None
    assert decoder.silent(AT + timedelta(seconds=2)) is not None


def test_a_lost_line_is_not_silent_too_until_it_is_back() -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    decoder.feed(line(1, 2), AT)
    decoder.lost(AT)
    assert decoder.silent(AT + timedelta(minutes=1)) is None
    assert decoder.silent(AT + timedelta(minutes=1, seconds=30)) is None
    assert decoder.back(AT + timedelta(minutes=2)).code is Code.BACK
    assert decoder.silent(AT + timedelta(minutes=3)) is not None


def test_a_lost_line_drops_its_half_line_and_shows_it() -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    decoder.feed(b"X+0036.4", AT)
    assert decoder.lost(AT).raw == b"X+0036.4"
    (found,) = decoder.feed(line(36.449, 130.25), AT)
    assert isinstance(found, Sighting)


@pytest.mark.parametrize(
    ("back", "alarmed"), [((0, 0), True), ((36.449, 0), True), ((36, 9), False)]
)
def test_a_readout_that_was_off_while_the_line_was_lost_is_noticed(
    back: tuple[float, float], alarmed: bool
) -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    decoder.feed(line(36.449, 130.25), AT)
    decoder.lost(AT)
    decoder.lost(AT)
    decoder.back(AT + timedelta(minutes=1))
    first, second = (
        decoder.feed(line(*back), AT + timedelta(minutes=1, seconds=s)) for s in (1, 2)
    )
    assert [isinstance(item, Alarm) and item.code is Code.ZERO for item in first] == [alarmed]
    assert isinstance(second[0], Sighting)


STREAM = packaged()["starred stream"]


def test_a_figure_behind_silence_is_whole_and_one_that_began_before_it_is_not_known_to_be() -> None:
    decoder = Decoder(STREAM, "RO-1")
    assert [*decoder.idle(at(0)), *decoder.idle(at(100))] == []
    (found,) = decoder.feed(b"1.4468 ", at(150))
    assert isinstance(found, Sighting)
    decoder = Decoder(STREAM, "RO-1")
    decoder.feed(b"1.44", at(0))
    assert [*decoder.idle(at(100)), *decoder.idle(at(900)), *decoder.feed(b"68 ", at(901))] == []
    half, whole = decoder.feed(b"31.4468 ", at(1000))
    assert isinstance(half, Alarm)
    assert isinstance(whole, Sighting)


def test_a_line_that_comes_back_is_listened_to_anew() -> None:
    decoder = Decoder(STREAM, "RO-1")
    for n in range(3):
        decoder.feed(b"31.4468 ", at(100 * n))
    decoder.lost(at(300))
    decoder.back(at(5000))
    assert decoder.feed(b"1.4468 ", at(5050)) == []
    half, whole = decoder.feed(b"31.4468 ", at(5150))
    assert isinstance(half, Alarm)
    assert isinstance(whole, Sighting)


def test_a_first_line_that_waits_is_shown_when_the_line_is_lost() -> None:
    decoder = Decoder(STREAM, "RO-1")
    assert decoder.feed(b"1.4468 # 31.4", at(0)) == []
    assert decoder.lost(at(100)).raw == b"1.4468 #31.4"


def test_broken_lines_behind_a_first_one_are_not_kept_back_for_long() -> None:
    decoder = Decoder(STREAM, "RO-1")
    assert decoder.feed(b"1.4468 # # ", at(0)) == []
    found = decoder.feed(b"# ", at(100))
    assert [item.raw for item in found] == [b"1.4468", b"#", b"#", b"#"]
    (later,) = decoder.feed(b"31.4468 ", at(200))
    assert isinstance(later, Sighting)


def test_angles_and_temperatures_bear_their_own_units() -> None:
    text = TEXT.replace("Z(?P<z>[+-]\\d{4}\\.\\d{3})", "T(?P<temperature>[+-]\\d{4}\\.\\d{3})")
    assert text != TEXT
    decoder = Decoder(parse(text.replace("z = [", "temperature = ["), "t.toml"), "RO-1")
    (found,) = decoder.feed(b"X+0031.447 T+0020.500\r\n", AT)
    assert isinstance(found, Sighting)
    assert [(r.channel, r.unit) for r in found.readings] == [("X", "mm"), ("temperature", "degC")]
