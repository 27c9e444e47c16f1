"""What a recording can't decide is refused, with the one thing to do that decides it."""

from __future__ import annotations

import contextlib
import random
import time
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.learning.evidence import Undecided
from drivers.learning.learn import learn
from drivers.learning.recording import Recording, moves, of, read
from tests.drivers.learning import recordings
from tests.drivers.learning.played import holds
from tests.drivers.learning.recordings import recorded
from tests.drivers.learning.test_others import WAY, XS, Z, lines


def refused(data: bytes, *moved: str) -> Undecided:
    with pytest.raises(Undecided) as caught:
        learn(read(data, "recording"), moves(moved))
    return caught.value


BOTH = "{x:.3f} {z:.3f}\r\n"


@pytest.mark.parametrize(
    ("text", "moved", "decides"),
    [
        ("X{x:.3f} Z{z:.3f}\r\n", [], "move X by +10 mm"),
        ("X{z:.3f} Z{z:.3f}\r\n", ["X=+10mm"], "move X by +10 mm and record again"),
        ("{x:.3f} {x:.3f}\r\n", ["X=+10mm"], "move X by +10 mm alone and record again"),
        ("{x:.3f} {x:.3f}\r\n", ["X=+10mm", "Z=+10mm"], "move Z by +5 mm alone"),
        ("{x:.3f} {z:.3f} {z:.3f}\r\n", ["X=+10mm"], "move Z by +5 mm and record again"),
        ("{z:.3f} {x:.3f}\r\n", ["Z=+10mm"], "move X by +10 mm and record again"),
        ("{x:.3f} {z:.3f}\r\n", ["X=+4mm"], "move X by +10 mm and record again"),
        ("{x:.3f} {z:.3f}\r\n", ["X=+10mm", "Z=+5mm"], "move Z by +5 mm and record again"),
        ("X{z:.3f} Z{x:.3f}\r\n", ["X=+10mm"], "move Z by +10 mm and record again"),
        ("X{x:.3f}-{z:.3f}\r\n", ["X=+10mm"], "move X and Z through nought"),
        ("X{x:.3f} INC\r\n", ["X=+10mm"], "set the readout to absolute counting"),
        ("X{x:.3f}i\r\n", ["X=+10mm"], "set the readout to absolute counting"),
        ("X{x:.3f} in\r\n", ["X=+10mm"], "move X by +10 mm"),
        ("X{x:.6E}\r\n", ["X=+10mm"], "move X by +10 mm"),
    ],
)
def test_what_two_readings_are_left_of_is_refused_with_the_move_that_decides(
    text: str, moved: list[str], decides: str
) -> None:
    found = refused(lines(text), *moved)
    assert found.decides.startswith(decides), str(found)


def test_the_move_that_decides_does_decide() -> None:
    first = lines("{z:.3f} {x:.3f}\r\n")
    assert refused(first, "Z=+10mm").decides == "move X by +10 mm and record again"
    again = b"".join(b"%.3f %.3f\r\n" % (2 * (x - XS[0]) + Z, XS[-1]) for x in XS)
    figures = learn(read(first + again, "recording"), moves(["Z=+10mm", "X=+20mm"]))
    assert figures.layout.channels == ("X", "Z")


def test_a_flag_that_nobody_understands_is_refused() -> None:
    data = b"".join(b"X%.3f %s\r\n" % (x, b"T" if n < 9 else b"L") for n, x in enumerate(XS))
    assert "touch nothing on the readout" in refused(data, "X=+10mm").decides


def test_a_counter_is_no_figure_that_moved() -> None:
    counts = b"".join(b"%05d\r\n" % (30000 + n) for n in range(40))
    assert "move X" in refused(counts, "X=+0.039mm").decides
    data = b"".join(b"%05d %.3f\r\n" % (30000 + n, x) for n, x in enumerate(XS))
    assert learn(read(data, "a"), moves(["X=+10mm"])).layout.names == {"count", "x"}


@pytest.mark.parametrize(("parity", "odd"), [("E", 0), ("O", 1), ("M", None)])
def test_seven_bits_with_parity_are_recognised(parity: str, odd: int | None) -> None:
    text = lines("X{x:.3f} Z{z:.3f}\r\n")
    sent = bytes(b | 0x80 if odd is None or b.bit_count() % 2 != odd else b for b in text)
    found = refused(sent, "X=+10mm")
    assert found.decides == f'set bytesize = 7 and parity = "{parity}" at the port and record again'


def test_text_of_seven_bits_is_no_parity() -> None:
    assert learn(read(lines("X{x:.3f}\r\n"), "a"), moves(["X=+10mm"])).layout.port.bytesize == 8


def test_a_sign_that_always_stands_behind_a_figure_isnt_read_as_a_mark() -> None:
    data = b"".join(b"X%08.3f- mm, Z%08.3f  mm\n" % (60 - x, Z) for x in XS)
    layout = learn(read(data, "a"), moves(["X=+10mm"])).layout
    assert layout.pattern is not None
    match = layout.pattern.fullmatch(b"X0028.553- mm, Z0142.318  mm")
    assert match is not None
    assert match["x_sign"] == b"-"


def test_where_a_frame_begins_isnt_guessed_without_instants() -> None:
    stream = b"".join(b"X%.3fZ%.3f" % (x, Z) for x in XS)
    assert learn(read(stream, "a"), moves(["X=+10mm"])).layout.frame.pause_ms
    assert "instants" in refused(stream[:-3], "X=+10mm").decides


@pytest.mark.parametrize("data", [b"X31.447 Z142.318\r\n", b"\r\n" * 50, b"X", b"\x00" * 400])
def test_too_little_is_refused(data: bytes) -> None:
    assert "record again" in refused(data, "X=+10mm").decides


@pytest.mark.parametrize("seed", range(5))
def test_garbage_is_refused(seed: int) -> None:
    data = random.Random(seed).randbytes(3000)
    assert "check baud, bytesize and parity" in refused(data, "X=+10mm").decides


@given(st.binary(min_size=1, max_size=400), st.sampled_from(["X=+10mm", "Z=-5mm", "Y=+0.5in"]))
@settings(max_examples=150, deadline=None)
def test_whatever_bytes_come_raise_nothing_else(data: bytes, moved: str) -> None:
    with contextlib.suppress(Undecided):
        learn(Recording(data, (len(data),)), moves([moved]))


@given(
    st.lists(st.sampled_from([b"X1.000 ", b"Z-2.5", b"\r\n", b"\x02", b"*", b"31", b",", b"mm"])),
    st.integers(2, 12),
)
@settings(max_examples=150, deadline=None)
def test_whatever_text_repeats_raises_nothing_else(pieces: list[bytes], times: int) -> None:
    data = b"".join(pieces) * times or b"X"
    with contextlib.suppress(Undecided):
        learn(of((0.1 * n, data[n : n + 5]) for n in range(0, len(data), 5)), moves(["X=+1mm"]))


@pytest.mark.parametrize("seed", range(20))
def test_a_modbus_block_is_refused_until_a_move_through_nought_decides(seed: int) -> None:
    rng = random.Random(seed)
    readout = recordings.twelve(rng)
    near = Decimal(rng.randint(5_000, 20_000)) / 1000
    first = recorded(readout, rng, {"X": Decimal(3)}, start={"X": near})
    found = refused(first.data, "X=+3mm")
    assert found.decides.startswith("move X through nought") or "slowly" in found.decides
    start = {"X": near + 3}
    again = recorded(readout, rng, {"X": -near - 13}, start=start)
    learned = learn(read(first.data + again.data, "a"), moves([f"X={-near - 10}mm"]))
    holds(learned, readout, recorded(readout, random.Random(seed + 1000)))


def test_every_refusal_says_what_was_found_all_the_same() -> None:
    found = refused(
        lines(BOTH.replace("{x", "{q").replace("{z", "{x").replace("{q", "{z")), "Z=+10mm"
    )
    assert {s.setting for s in found.settings} >= {"axis Z", "unit"}


@pytest.mark.parametrize(
    "make", [recordings.one, recordings.three, recordings.ten, recordings.five]
)
def test_a_recording_of_a_hundred_kilobytes_takes_a_second_or_so(
    make: recordings.Readout,
) -> None:
    rng = random.Random(3)
    readout = make(rng)  # type: ignore[operator]
    size = len(b"".join(readout.write(readout.shown({"X": Decimal(9), "Z": Decimal(9)}), 0, False)))
    first = recorded(readout, rng, {"X": Decimal(20)}, still=100_000 // (2 * size))
    begun = time.process_time()
    learn(read(first.json_lines, "a"), moves(first.moved))
    assert len(first.data) > 95_000
    assert time.process_time() - begun < 4


def test_settings_bear_their_evidence_as_json_does() -> None:
    made = learn(of((0.1 * n, b"X%.3f\r\n" % x) for n, x in enumerate(WAY)), moves(["X=+10mm"]))
    body = made.body()
    assert body["decides"] is None
    assert isinstance(body["settings"], list)
    assert all(s["for"] or s["against"] for s in body["settings"])
    proved = {s.setting for s in made.settings if s.proved}
    assert proved >= {"axis X", "unit", "mode", "decimals", "sends", "frame"}
    for setting in made.settings:
        assert f"# {setting.setting} " in made.toml
