"""Bytes to sightings: any chunking the same, nothing guessed, nothing broken passes."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.decoder import Alarm, Code, Decoder
from drivers.layout import packaged
from inspect_rec.reading import Sighting

LAYOUT = packaged()["two-axis line"]
AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)
FIXTURES = Path(__file__).parents[2] / "fixtures"
BROKEN = [
    json.loads(line)
    for line in (FIXTURES / "readouts" / "broken-lines.jsonl").read_text("utf-8").splitlines()
]


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


def test_minus_nought_is_nought() -> None:
    (found,) = decoded([b"X-0000.000 Z+0001.000\r\n"])
    assert isinstance(found, Sighting)
    assert not found.readings[0].value.is_signed()


@pytest.mark.parametrize("case", BROKEN, ids=lambda c: c["name"])
def test_a_broken_line_is_an_alarm_that_keeps_its_bytes_and_never_a_figure(
    case: dict[str, Any],
) -> None:
    data = bytes.fromhex(case["hex"])
    (found,) = decoded([data])
    assert isinstance(found, Alarm)
    assert found.code.value == case["code"]
    assert found.raw == data.removesuffix(b"\r\n")
    assert len(found.said) > 20


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


def test_a_slide_that_jumps_further_than_it_can_is_an_alarm_and_the_next_figure_counts() -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    decoder.feed(line(10, 100), AT)
    (jump,) = decoder.feed(line(900, 100), AT + timedelta(milliseconds=200))
    assert isinstance(jump, Alarm)
    assert jump.code is Code.IMPLAUSIBLE
    (zero,) = decoder.feed(line(0, 100), AT + timedelta(milliseconds=400))
    assert isinstance(zero, Alarm)
    assert zero.code is Code.ZERO
    (after,) = decoder.feed(line(0.5, 100), AT + timedelta(seconds=1))
    assert isinstance(after, Sighting)


def test_silence_is_said_once_and_again_after_new_bytes() -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    assert decoder.silent(AT + timedelta(minutes=1)) is None
    decoder.feed(line(1, 2), AT)
    late = AT + timedelta(seconds=3)
    assert decoder.silent(AT + timedelta(seconds=1)) is None
    assert (alarm := decoder.silent(late)) is not None
    assert alarm.code is Code.SILENT
    assert decoder.silent(late) is None
    decoder.feed(line(1, 2), late)
    assert decoder.silent(late + timedelta(seconds=3)) is not None


def test_a_lost_line_drops_its_half_line_and_shows_it() -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    decoder.feed(b"X+0036.4", AT)
    assert decoder.lost(AT).raw == b"X+0036.4"
    (found,) = decoder.feed(line(36.449, 130.25), AT)
    assert isinstance(found, Sighting)


@pytest.mark.parametrize("number", ["i1", "i2", "i3"])
def test_the_recordings_hold_every_sighting_of_the_worked_jobs_in_order(number: str) -> None:
    worked = json.loads((FIXTURES / "worked" / "worked-jobs.json").read_text("utf-8"))
    job = next(
        j for k, j in worked.items() if k.startswith("job") and j["job"]["number"] == number.upper()
    )
    wanted = [r for r in job["readings"] if r["what"] == "sighting"]
    decoder = Decoder(LAYOUT, "RO-1")
    taken: list[tuple[Decimal, ...]] = []
    last: Sighting | None = None
    for text in (FIXTURES / "recordings" / f"{number}.jsonl").read_text("utf-8").splitlines():
        each = json.loads(text)
        at = datetime.fromisoformat(each["at"])
        if "hex" in each:
            for item in decoder.feed(bytes.fromhex(each["hex"]), at):
                assert isinstance(item, Sighting), item
                last = item
                if item.key:
                    taken.append(tuple(r.value for r in item.readings))
        elif (
            each["act"] == "take" and last is not None and any(r["n"] == each["n"] for r in wanted)
        ):
            taken.append(tuple(r.value for r in last.readings))
    assert [(f"{x:.3f}", f"{z:.3f}") for x, z in taken] == [
        (f"{r['x_mm']:.3f}", f"{r['z_mm']:.3f}") for r in wanted
    ]
