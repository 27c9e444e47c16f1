"""Recordings and moves as they are written down."""

from __future__ import annotations

from decimal import Decimal

import pytest

from drivers.learning.recording import moves, of, read
from inspect_rec.errors import InputError


def test_bare_bytes_are_a_recording_without_instants() -> None:
    found = read(b"X1.000\r\n", "a.bin")
    assert found.data == b"X1.000\r\n"
    assert not found.timed


def test_json_lines_bear_instants_as_rfc_3339_or_seconds() -> None:
    raw = b'{"at": "2026-11-17T08:00:00.5Z", "hex": "5831"}\n{"at": "2026-11-17T08:00:02Z", '
    found = read(raw + b'"hex": "0d"}\n', "a.jsonl")
    assert found.data == b"X1\r"
    assert found.instants[1] - found.instants[0] == pytest.approx(1.5)
    assert read(b'{"at": 3, "hex": "58"}\n{"at": 4.5, "hex": "0d"}', "b").instants == (3.0, 4.5)


def test_an_act_among_the_bytes_is_no_byte() -> None:
    raw = b'{"at": 1, "hex": "58"}\n{"at": 2, "act": "take"}\n{"at": 3, "hex": "59"}\n'
    assert list(read(raw, "a").pieces()) == [(1.0, b"X"), (3.0, b"Y")]


def test_every_bad_line_of_a_recording_is_named() -> None:
    with pytest.raises(InputError) as caught:
        read(b'{"at": 1, "hex": "5"}\n{"at": true, "hex": "58"}\n{"hex": "58"}\n[1]\n', "a.jsonl")
    assert [m.where for m in caught.value.mistakes] == [f"a.jsonl:{n}" for n in (1, 2, 3, 4)]


@pytest.mark.parametrize("raw", [b"", b'{"at": 1, "act": "take"}\n'])
def test_a_recording_without_bytes_is_refused(raw: bytes) -> None:
    with pytest.raises(InputError):
        read(raw, "a")


def test_pieces_without_bytes_are_left_out() -> None:
    assert of([(0.0, b""), (1.0, b"X")]).instants == (1.0,)


def test_a_move_has_its_axis_way_and_unit() -> None:
    x, z = moves(["X=+10.000mm", "z=-0.5in"])
    assert (x.axis, x.mm, str(x)) == ("X", Decimal(10), "X by +10.000 mm")
    assert (z.axis, z.mm, str(z)) == ("Z", Decimal("-12.70"), "Z by -0.5 in")


@pytest.mark.parametrize(
    "text", ["X", "X=10", "X=0mm", "Q=1mm", "angle=3mm", "X=1e3mm", "X=1mm;Z=2mm"]
)
def test_what_is_no_move_is_refused_with_what_was_expected(text: str) -> None:
    with pytest.raises(InputError, match=r"X=\+10\.000mm"):
        moves([text])


def test_one_axis_moved_twice_is_refused() -> None:
    with pytest.raises(InputError, match="one move of X"):
        moves(["X=1mm", "x=2mm"])


def test_lines_in_braces_that_hold_no_bytes_in_hex_are_bytes_themselves() -> None:
    raw = b'{"x":31.447,"z":142.318}\n' * 3
    assert read(raw, "a").data == raw
