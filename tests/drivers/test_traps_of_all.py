"""Traps that any readout's lines hold: noughts, resets, other units and modes, parity, bounces."""

from __future__ import annotations

from datetime import timedelta

import pytest

from drivers.decoder import Alarm, Code, Decoder
from inspect_rec.reading import Sighting
from tests.drivers.cases import AT, LAYOUTS, after, cases, chunks, heard
from tests.drivers.spoken import PAIR, SPREAD, every, short, stx, timed


@pytest.mark.parametrize("layout", LAYOUTS)
def test_trap_nought_from_below_has_no_sign(layout: str) -> None:
    name = "minus nought"
    found = [c for c in cases(layout, "golden") if c["name"] == name]
    for case in found:
        items = heard(LAYOUTS[layout], chunks(case), timed=False)
        values = [r.value for i in items if isinstance(i, Sighting) for r in i.readings]
        assert values
        assert all(not value.is_signed() and value == 0 for value in values)
    assert found or layout == "register block"


REST = {
    "two-axis line": "X+0031.447 Z+0142.318\r\n",
    "flagged pair": "A=31.447;B=142.318\n",
    "framed digits": stx("+031447+142318"),
    "comma columns": "  31,447   142,318\r",
    "pause only": SPREAD,
    "asked pair": "31.447,142.318,OK\r",
}
NOUGHT = {
    "two-axis line": "X+0000.000 Z+0142.318\r\n",
    "flagged pair": "A=-0.000;B=142.318\n",
    "framed digits": stx("+000002+142318"),
    "comma columns": "   0,000   142,318\r",
    "pause only": "X0.001Z142.318",
    "asked pair": "0.000,142.318,OK\r",
}
BOTH = {
    "two-axis line": "X+0000.000 Z+0000.000\r\n",
    "flagged pair": "A=0.000;B=0.000\n",
    "framed digits": stx("+000000+000000"),
    "comma columns": "   0,000     0,000\r",
    "pause only": "X0.000Z0.000",
    "asked pair": "0.000,0.000,OK\r",
}


@pytest.mark.parametrize("layout", REST)
@pytest.mark.parametrize("ms", [50, 100, 200, 333, 500])
@pytest.mark.parametrize("zeros", [NOUGHT, BOTH], ids=["X", "both"])
def test_trap_a_zero_set_by_a_bystander_is_found_at_2_to_20_readings_a_second(
    layout: str, ms: float, zeros: dict[str, str]
) -> None:
    rest, zero = REST[layout], zeros[layout]
    sent = every(ms, rest, rest, rest, zero, zero)
    items = heard(LAYOUTS[layout], [(t, d.encode("latin-1")) for t, d in sent], timed=True)
    assert short(items)[:4] == [PAIR, PAIR, PAIR, "zero reset"]
    last = items[4]
    assert isinstance(last, Sighting)
    assert last.suspect is not None


@pytest.mark.parametrize("ms", [50, 100, 200, 333, 500])
def test_trap_a_slide_that_is_turned_to_nought_is_no_reset(ms: float) -> None:
    decoder = Decoder(LAYOUTS["flagged pair"], "RO-1")
    x, t = 40.0, 0.0
    while x > 0.0005:
        for item in decoder.feed(f"A={x:.3f};B=142.318\n".encode(), after(t)):
            assert isinstance(item, Sighting), item
        x, t = x - min(x * 0.3, 0.02 * ms), t + ms


def test_trap_a_readout_switched_off_and_on_is_a_zero_reset_after_silence_or_a_greeting() -> None:
    rest, zero = REST["two-axis line"], BOTH["two-axis line"]
    for between in ([], [(5000.0, "SELF TEST\r\n")]):
        found = timed("two-axis line", *every(100, rest, rest), *between, (9000, zero))
        assert found == [PAIR, PAIR, *["corrupt"] * len(between), "zero reset"]
    decoder = Decoder(LAYOUTS["two-axis line"], "RO-1")
    decoder.feed(rest.encode(), AT)
    decoder.lost(after(100))
    decoder.back(after(5000))
    (alarm,) = decoder.feed(zero.encode(), after(5200))
    assert isinstance(alarm, Alarm)
    assert alarm.code is Code.ZERO


@pytest.mark.parametrize("layout", REST)
def test_trap_the_diameter_switch_is_found_by_the_figure_that_doubles(layout: str) -> None:
    twice = {
        "two-axis line": "X+0062.894 Z+0142.318\r\n",
        "flagged pair": "A=62.894;B=142.318\n",
        "framed digits": stx("+062894+142318"),
        "comma columns": "  62,894   142,318\r",
        "pause only": "X62.894Z142.318",
        "asked pair": "62.894,142.318,OK\r",
    }[layout]
    rest = REST[layout]
    assert timed(layout, *every(100, rest, rest, rest, twice))[3] == "mode changed"
    assert timed(layout, *every(100, twice, twice, twice, rest))[3] == "mode changed"


def seven(text: str, *, even: bool = True) -> str:
    return "".join(chr(ord(c) | ((ord(c).bit_count() + (not even)) % 2) << 7) for c in text)


@pytest.mark.parametrize("layout", REST)
@pytest.mark.parametrize("even", [True, False])
def test_trap_seven_bits_with_parity_read_as_eight_are_garbage_and_said_so(
    layout: str, even: bool
) -> None:
    text = seven(REST[layout] * 12, even=even)
    items = heard(LAYOUTS[layout], [(0, text.encode("latin-1"))], timed=False)
    assert {item.code for item in items if isinstance(item, Alarm)} == {Code.CORRUPT}
    assert all(isinstance(item, Alarm) for item in items)
    assert any(isinstance(item, Alarm) and "7 bits with parity" in item.said for item in items)


def test_trap_a_key_that_bounces_is_one_press_and_a_second_press_is_two() -> None:
    rest = "X+0031.447 Z+0142.318 *\r\n"
    moved = "X+0031.449 Z+0142.318 *\r\n"
    assert timed("two-axis line", (0, rest), (50, rest), (120, moved), (299, rest)) == [
        PAIR,
        *["doubled"] * 3,
    ]
    assert timed("two-axis line", (0, rest), (50, rest), (300, rest)) == [PAIR, "doubled", PAIR]


def test_trap_swapped_axes_are_found_and_what_follows_is_suspect() -> None:
    swapped = "A=142.318;B=31.447\n"
    rest = REST["flagged pair"]
    sent = every(100, rest, rest, rest, swapped, swapped)
    items = heard(LAYOUTS["flagged pair"], [(t, d.encode()) for t, d in sent], timed=True)
    assert short(items)[3] == "swapped axes"
    assert isinstance(items[4], Sighting)
    assert items[4].suspect


def test_trap_one_frame_that_stands_out_costs_that_frame_only() -> None:
    rest, out = REST["flagged pair"], "A=931.447;B=142.318\n"
    assert timed("flagged pair", *every(100, rest, out, rest, rest)) == [
        PAIR,
        "implausible",
        PAIR,
        PAIR,
    ]


def test_trap_what_is_suspect_is_so_until_the_pin_is_sighted() -> None:
    decoder = Decoder(LAYOUTS["flagged pair"], "RO-1")
    rest, zero = REST["flagged pair"].encode(), NOUGHT["flagged pair"].encode()
    for n in range(3):
        decoder.feed(rest, AT + timedelta(seconds=n / 10))
    decoder.feed(zero, after(300))
    for n in range(100):
        (found,) = decoder.feed(zero, after(400 + 100 * n))
        assert isinstance(found, Sighting)
        assert found.suspect
    decoder.forget()
    (found,) = decoder.feed(zero, after(11000))
    assert isinstance(found, Sighting)
    assert found.suspect is None
