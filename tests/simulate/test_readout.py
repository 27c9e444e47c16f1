"""The simulated readout sends what the real decoder reads, and can be unplugged."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from importlib import resources

import pytest

from drivers.decoder import Decoder
from drivers.layout import packaged, parse
from drivers.lines import Pollable
from drivers.opening import opened
from drivers.transport import Back, Chunk, Lost
from inspect_rec.errors import ReadoutError
from inspect_rec.reading import Sighting
from inspect_rec.simulate.readout import LAYOUT, SimulatedReadout

AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)


def heard(line: Pollable, count: int) -> bytes:
    data = b""
    for _ in range(100):
        if len(data) >= count:
            return data
        found = line.poll(0.1)
        data += found.data if isinstance(found, Chunk) else b""
    raise AssertionError(f"{count} bytes didn't come, only {data!r}")


def test_what_it_shows_is_what_the_decoder_reads() -> None:
    layout = packaged()[LAYOUT]
    with SimulatedReadout() as readout, opened(readout.url, layout, lambda: AT) as line:
        sent = readout.show("36.449", "-130.250") + readout.show(Decimal(36), "-130", key=True)
        found = Decoder(layout, "RO-1").feed(heard(line, len(sent)), AT)
    assert [isinstance(s, Sighting) and s.key for s in found] == [False, True]
    figures = [[str(r.value) for r in s.readings] for s in found if isinstance(s, Sighting)]
    assert figures == [["36.449", "-130.250"], ["36.000", "-130.000"]]


def test_it_can_be_unplugged_and_plugged_in_under_the_same_address() -> None:
    with SimulatedReadout() as readout, opened(readout.url, readout.layout, lambda: AT) as line:
        url = readout.url
        heard(line, len(readout.show("1", "2")))
        readout.unplug()
        assert isinstance(line.poll(1), Lost)
        readout.plug_in()
        assert readout.url == url
        while not isinstance(line.poll(0.1), Back):
            pass
        sent = readout.show("3", "4")
        assert heard(line, len(sent)) == sent


@pytest.mark.parametrize(("x", "z"), [("1.2345", "1"), ("99999", "1"), ("1", "NaN")])
def test_what_no_line_can_show_is_refused(x: str, z: str) -> None:
    with SimulatedReadout() as readout, pytest.raises(ReadoutError, match="can't show"):
        readout.show(x, z)


def test_any_layout_of_two_slides_is_spoken_and_any_other_is_refused() -> None:
    text = (resources.files("drivers") / "layouts" / "two-axis-line.toml").read_text("utf-8")
    other = parse(text.replace("pattern = 'X", "pattern = 'A"), "other.toml")
    with SimulatedReadout(other) as readout, opened(readout.url, other, lambda: AT) as line:
        assert readout.show("1", "2") == b"A+0001.000 Z+0002.000\r\n"
        assert heard(line, 23)
    lone = text.replace("X(?P<x>[+-]\\d{4}\\.\\d{3}) ", "").replace("\nx = ", "\n# ")
    readout = SimulatedReadout(parse(lone, "z.toml"))
    with readout, pytest.raises(ReadoutError, match="figures of Z"):
        readout.show("1", "2")


def test_it_can_be_closed_twice_and_without_a_listener() -> None:
    readout = SimulatedReadout()
    readout.close()
    readout.close()


def test_the_next_listener_takes_the_place_of_the_one_before() -> None:
    with SimulatedReadout() as readout, opened(readout.url, readout.layout, lambda: AT) as first:
        heard(first, len(readout.show("1", "2")))
        with opened(readout.url, readout.layout, lambda: AT) as second:
            readout.meet()
            assert isinstance(first.poll(1), Lost)
            sent = readout.show("3", "4")
            assert heard(second, len(sent)) == sent
