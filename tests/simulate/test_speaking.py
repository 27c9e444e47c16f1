"""What is spoken is what the real decoder hears: every layout, any figures, any chunking."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import cache
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.decoder import Alarm, Code, Decoder
from drivers.fields import Checked
from drivers.layout import Layout, parse
from inspect_rec.errors import ReadoutError
from inspect_rec.reading import Sighting
from inspect_rec.simulate.speaking import Said, Speaker
from inspect_rec.units import Unit
from tests.simulate.layouts import described

AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)
LAYOUTS = described()
every_layout = pytest.mark.parametrize("layout", LAYOUTS.values(), ids=lambda layout: layout.id)


@cache
def room(layout_id: str) -> int:
    """How many steps of the last decimal its frames have room for, in powers of ten."""
    layout = LAYOUTS[layout_id]
    speaker = Speaker(layout)
    for power in range(9, 0, -1):
        try:
            for sign in (1, -1):
                most = Decimal(sign * (10**power - 1)).scaleb(-layout.figures.decimals)
                speaker.frames(Said(dict.fromkeys(layout.channels, most), count=1))
        except ReadoutError:
            continue
        ranges = [abs(end) for c in layout.channels for end in layout.rules.range(c)]
        least: int = min(10**power - 1, int(min(ranges).scaleb(layout.figures.decimals)))
        return least
    raise AssertionError(f"{layout_id} shows nothing")


@st.composite
def figures(draw: st.DrawFn, layout: Layout) -> Mapping[str, Decimal]:
    most = room(layout.id)
    steps = {c: draw(st.integers(-most, most)) for c in layout.channels}
    return {c: Decimal(n).scaleb(-layout.figures.decimals) for c, n in steps.items()}


def heard(layout: Layout, chunks: list[bytes]) -> list[Sighting | Alarm]:
    """What the decoder makes of it, and of the silence behind it."""
    decoder = Decoder(layout, "RO-1", timed=False)
    found = [item for chunk in chunks for item in decoder.feed(chunk, AT)]
    return [*found, *decoder.close(AT + timedelta(minutes=1))]


def shown(found: list[Sighting | Alarm]) -> Iterator[tuple[str, Decimal]]:
    for item in found:
        assert isinstance(item, Sighting), item
        yield from ((r.channel, r.value) for r in item.readings)


def can_press(layout: Layout) -> bool:
    return layout.on_key or "key" in layout.names


@every_layout
@given(data=st.data())
@settings(max_examples=40, deadline=None)
def test_what_is_spoken_is_heard_again_exactly(layout: Layout, data: st.DataObject) -> None:
    said = data.draw(figures(layout))
    key = can_press(layout) and data.draw(st.booleans())
    figures_ = layout.figures
    count = data.draw(st.integers(figures_.count_from, figures_.count_to))
    frames = Speaker(layout).frames(Said(said, key=key, count=count))
    stream = b"".join(frames)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=6)))
    found = heard(layout, [stream[a:b] for a, b in pairwise([0, *cuts, len(stream)])])
    assert dict(shown(found)) == said
    assert {item.key for item in found if isinstance(item, Sighting)} == {key or layout.on_key}
    if "count" in layout.names:
        assert found[0].count == count  # type: ignore[union-attr]


@every_layout
@given(data=st.data())
@settings(max_examples=10, deadline=None)
def test_the_check_of_a_frame_holds_and_of_one_with_another_byte_does_not(
    layout: Layout, data: st.DataObject
) -> None:
    said = Said(data.draw(figures(layout)), count=1)
    for whole in Speaker(layout).frames(said):
        if layout.check is None:
            assert len(heard(layout, [whole])) == 1
            continue
        assert Checked(layout.check).holds(whole)
        covered = range(len(whole))[slice(layout.check.from_, layout.check.to)]
        at = data.draw(st.sampled_from(covered))
        other = bytearray(whole)
        other[at] ^= 1
        assert not Checked(layout.check).holds(bytes(other))


# What a pattern asks for


def spoken(layout_id: str, x: str, z: str, **more: object) -> tuple[bytes, ...]:
    values = {"X": Decimal(x), "Z": Decimal(z)}
    return Speaker(LAYOUTS[layout_id]).frames(Said(values, **more))  # type: ignore[arg-type]


def test_the_bytes_are_those_that_the_layout_describes() -> None:
    assert spoken("signs apart, implied point", "-0.5", "142.318", key=True) == (
        b"\x02X-0000500Z 0142318K\x03",
    )
    assert spoken("sign behind, comma", "-0.5", "142.3181") == (b"0,5000- 142,3181+mm\r\n",)
    assert spoken("one axis a line", "-0.5", "142.318", count=12) == (
        b"ACROSS-0.500 12\r",
        b"ALONG142.318 01\r",
    )
    assert spoken("two displays", "-0.5", "142.318") == (b"R-0.500 D-1.000 Z142.318\r\n",)
    assert spoken("so many bytes", "-0.5", "142.318") == (b"X-0.500 Z        142.318",)


def test_the_place_of_a_binary_figure_holds_its_number() -> None:
    (whole,) = spoken("binary, big", "-0.5", "142.318", key=True, count=200)
    assert whole[:2] == b"\xaa\x55"
    assert int.from_bytes(whole[2:6], "big", signed=True) == -500
    assert int.from_bytes(whole[6:10], "little") == 284636
    assert whole[10] == 200
    assert whole[11] == 0x81


def test_the_finest_step_that_has_room_is_shown_and_said() -> None:
    fine = spoken("binary, digits", "12345.67", "1")[0]
    assert (fine[1:5], fine[22]) == (bytes.fromhex("12345670"), 17)
    coarse = spoken("binary, digits", "123456.78", "1")[0]
    assert (coarse[1:5], coarse[22]) == (bytes.fromhex("12345678"), 16)


@pytest.mark.parametrize(
    ("layout_id", "x", "z"),
    [
        ("two-axis line", "1.2345", "1"),
        ("two-axis line", "99999", "1"),
        ("two-axis line", "NaN", "1"),
        ("two-axis line", "Infinity", "1"),
        ("so many bytes", "-1234.567", "-123456.789"),
        ("binary, big", "1", "0.0001"),
        ("binary, big", "3000000", "1"),
        ("binary, big", "1", "2000000"),
        ("binary, big", "1", "-2000000"),
        ("binary, digits", "1234567.89", "1"),
        ("binary, digits", "1", "-99999.999"),
        ("binary, swapped words", "1", "300000"),
    ],
)
def test_figures_that_it_can_not_show_are_refused(layout_id: str, x: str, z: str) -> None:
    with pytest.raises(ReadoutError, match="can't show"):
        spoken(layout_id, x, z)


@pytest.mark.parametrize(
    "more",
    [
        {"key": True},
        {"unit": Unit.INCH},
        {"mode": "radius"},
        {"counting": "incremental"},
        {"good": False},
    ],
)
def test_words_that_it_has_not_are_refused(more: dict[str, object]) -> None:
    with pytest.raises(ReadoutError, match="can't show"):
        spoken("sum within the line", "1", "2", **more)


def test_channels_that_it_has_not_or_that_are_missing_are_refused() -> None:
    speaker = Speaker(LAYOUTS["two-axis line"])
    one = Decimal(1)
    for values in ({}, {"X": one}, {"X": one, "Z": one, "angle": one}):
        with pytest.raises(ReadoutError, match="figures of X, Z"):
            speaker.frames(Said(values))


def test_of_one_axis_a_line_one_axis_can_be_said_alone() -> None:
    (whole,) = Speaker(LAYOUTS["one axis a line"]).frames(Said({"Z": Decimal(1)}, count=3))
    assert whole == b"ALONG1.000 03\r"


def test_the_counter_begins_anew_after_its_last() -> None:
    speaker = Speaker(LAYOUTS["one axis a line"])
    assert [speaker.next(n) for n in (1, 11, 12)] == [2, 12, 1]


# What is wrong on purpose


def alarms(layout_id: str, frames: tuple[bytes, ...]) -> list[Code]:
    found = heard(LAYOUTS[layout_id], list(frames))
    return [item.code for item in found if isinstance(item, Alarm)]


@pytest.mark.parametrize(
    ("layout_id", "more", "code"),
    [
        ("sign behind, comma", {"unit": Unit.INCH}, Code.UNIT),
        ("words and counter", {"unit": Unit.INCH}, Code.UNIT),
        ("words and counter", {"mode": "radius"}, Code.MODE),
        ("words and counter", {"counting": "incremental"}, Code.MODE),
        ("words and counter", {"good": False}, Code.FAULT),
        ("binary, big", {"unit": Unit.INCH}, Code.UNIT),
        ("binary, big", {"good": False}, Code.FAULT),
    ],
)
def test_another_word_is_the_alarm_that_it_should_be(
    layout_id: str, more: dict[str, object], code: Code
) -> None:
    frames = spoken(layout_id, "1.5", "2.25", count=7, **more)
    assert alarms(layout_id, frames) == [code]


def test_the_own_words_are_said_where_they_are_asked_for() -> None:
    plain = spoken("words and counter", "1.5", "2.25", count=7)
    said = spoken("words and counter", "1.5", "2.25", count=7, unit=Unit.MM)
    assert plain == (b":007;OK;X+001.50 DA;+002.25\r\n",)
    assert said == (b":007;OK;X+001.50 DA mm;+002.25\r\n",)


@pytest.mark.parametrize(
    "layout_id",
    ["words and counter", "hex sum behind", "bodies of one width", "so many bytes", "binary, big"],
)
def test_a_fault_is_said_in_the_layouts_words(layout_id: str) -> None:
    speaker = Speaker(LAYOUTS[layout_id])
    frame, counted = speaker.fault(count=7)
    assert alarms(layout_id, (frame,)) == [Code.FAULT]
    assert counted is (layout_id == "binary, big")


def test_dashes_stand_in_a_figures_place_and_a_word_in_the_frames() -> None:
    asked = Speaker(LAYOUTS["asked pair"])
    assert asked.fault(b"----.---") == (b"----.---,0.000,OK\r", False)
    assert asked.fault(b"OVR") == (b"OVR\r", False)
    assert Speaker(LAYOUTS["hex sum behind"]).fault()[0].startswith(b"$X    -----Z+0000.000*")
    wide = Speaker(LAYOUTS["bodies of one width"])
    assert wide.fault() == (b"OVR".ljust(21) + b"\r\n", False)


def test_each_word_for_a_fault_can_be_chosen() -> None:
    speaker = Speaker(LAYOUTS["words and counter"])
    assert b"OVR" in speaker.fault()[0]
    assert b"E-SIG" in speaker.fault(b"E-SIG")[0]


def test_a_layout_without_words_for_a_fault_refuses_to_say_one() -> None:
    with pytest.raises(ReadoutError, match="no words for a fault"):
        Speaker(LAYOUTS["two-axis line"]).fault()


@pytest.mark.parametrize(
    "layout_id", ["two-axis line", "two displays", "words and counter", "sum within the line"]
)
def test_a_dark_display_is_blanks_and_never_a_figure(layout_id: str) -> None:
    layout = LAYOUTS[layout_id]
    (plain,) = spoken(layout_id, "1.5", "2.25", count=1)
    (dark,) = spoken(layout_id, "1.5", "2.25", count=1, blank=frozenset({"X"}))
    assert len(dark) == len(plain)
    assert dark.count(b" ") > plain.count(b" ")
    assert b"2.25" in dark
    assert layout.check is None or Checked(layout.check).holds(dark)
    assert alarms(layout_id, (dark,)) == [Code.CORRUPT]


def test_a_dark_axis_of_one_axis_a_line_sends_nothing() -> None:
    frames = spoken("one axis a line", "1.5", "2.25", count=1, blank=frozenset({"X"}))
    assert frames == (b"ALONG2.250 01\r",)


def test_dark_digits_are_no_figure_and_a_whole_number_is_never_dark() -> None:
    dark = spoken("binary, digits", "1.5", "2.25", blank=frozenset({"X"}))
    assert dark[0][1:5] == b"\xff" * 4
    assert alarms("binary, digits", dark) == [Code.CORRUPT]
    with pytest.raises(ReadoutError, match="can't blank"):
        spoken("binary, big", "1.5", "2.25", count=1, blank=frozenset({"X"}))


def test_a_counter_in_hexadecimal_is_spoken_as_it_is_read() -> None:
    text = """id = "h"
[frame]
pattern = '(?P<count>[0-9A-F]{2}) X(?P<x>\\d\\.\\d{3})'
[figures]
count_to = 255
"""
    frames = Speaker(parse(text, "h.toml")).frames(Said({"X": Decimal("1.000")}, count=0xAF))
    assert frames == (b"AF X1.000\r\n",)
