"""When a figure may be taken: two equal reads far enough apart, fresh, and both slides."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from importlib import resources

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.layout import packaged, parse
from drivers.settled import Settled, State
from inspect_rec.reading import Reading, Sighting
from inspect_rec.units import Unit

LAYOUT = packaged()["two-axis line"]
TEXT = (resources.files("drivers") / "layouts" / "two-axis-line.toml").read_text("utf-8")
AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)


def after(ms: int) -> datetime:
    return AT + timedelta(milliseconds=ms)


def shown(ms: int, x: str, z: str = "130.250") -> Sighting:
    at = after(ms)
    pairs = (("X", x), ("Z", z))
    readings = tuple(Reading(c, Decimal(v), Unit.MM, at, "RO-1", b"") for c, v in pairs)
    return Sighting(at, readings, b"")


def heard(*sightings: Sighting) -> Settled:
    settled = Settled(LAYOUT)
    for sighting in sightings:
        settled.hear(sighting)
    return settled


def test_nothing_heard_is_lost() -> None:
    assert Settled(LAYOUT).state(AT) is State.LOST


@pytest.mark.parametrize(
    ("figures", "state"),
    [
        ([(0, "1.000")], State.LIVE),
        ([(0, "1.000"), (299, "1.000")], State.LIVE),
        ([(0, "1.000"), (300, "1.000")], State.STILL),
        ([(0, "1.000"), (100, "1.000"), (200, "1.000"), (300, "1.000")], State.STILL),
        ([(0, "1.000"), (300, "1.001")], State.LIVE),
        ([(0, "1.000"), (150, "1.001"), (300, "1.000")], State.LIVE),
        ([(0, "1.001"), (300, "1.000"), (600, "1.000")], State.STILL),
    ],
)
def test_a_figure_is_still_after_two_equal_reads_far_enough_apart(
    figures: list[tuple[int, str]], state: State
) -> None:
    settled = heard(*(shown(ms, x) for ms, x in figures))
    assert settled.state(after(figures[-1][0])) is state


def test_one_slide_that_moves_is_enough_to_be_moving() -> None:
    settled = heard(shown(0, "1.000"), shown(300, "1.000", "130.251"))
    assert settled.state(after(300)) is State.LIVE


def test_a_still_figure_goes_stale_after_three_usual_intervals_then_lost_after_two_seconds() -> (
    None
):
    settled = heard(*(shown(ms, "1.000") for ms in range(0, 1001, 200)))
    assert settled.state(after(1600)) is State.STILL
    assert settled.state(after(1601)) is State.STALE
    assert settled.state(after(2999)) is State.STALE
    assert settled.state(after(3000)) is State.LOST


def test_a_quick_readout_is_not_stale_before_the_settling_time() -> None:
    settled = heard(*(shown(ms, "1.000") for ms in range(0, 1001, 50)))
    assert settled.state(after(1300)) is State.STILL
    assert settled.state(after(1301)) is State.STALE


def test_after_an_alarm_a_figure_settles_anew() -> None:
    settled = heard(shown(0, "1.000"), shown(400, "1.000"))
    settled.lose()
    assert settled.state(after(400)) is State.LOST
    settled.hear(shown(500, "1.000"))
    assert settled.state(after(500)) is State.LIVE


def test_a_readout_with_a_key_of_its_own_has_no_silence() -> None:
    settled = Settled(parse(TEXT.replace('"continuously"\n', '"on key"\n'), "key.toml"))
    settled.hear(shown(0, "1.000"))
    assert settled.state(AT + timedelta(hours=1)) is State.LIVE


@given(st.lists(st.tuples(st.integers(1, 900), st.sampled_from("123")), min_size=1, max_size=12))
def test_what_is_still_was_the_same_for_the_settling_time(reads: list[tuple[int, str]]) -> None:
    settled, ms, read = Settled(LAYOUT), 0, []
    for step, x in reads:
        ms += step
        read.append((ms, x))
        settled.hear(shown(ms, x))
    same = [read[-1][0]]
    for at, x in reversed(read[:-1]):
        if x != read[-1][1]:
            break
        same.append(at)
    still = len(same) >= 2 and same[0] - same[-1] >= 300
    assert (settled.state(after(ms)) is State.STILL) == still
