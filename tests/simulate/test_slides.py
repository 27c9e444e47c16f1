"""Slides go where a hand turns them: in time, with play, with noise."""

from __future__ import annotations

import random
import statistics
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.errors import InputError
from inspect_rec.simulate.slides import SPEED, Slide

D = Decimal


def test_a_slide_arrives_exactly_and_is_half_way_at_half_the_time() -> None:
    slide = Slide(D("10.000"))
    slide.go(D("31.447"), 2.0, 1.0)
    assert slide.place(1.0) == slide.place(2.0) == D("10.000")
    assert slide.place(2.5) == D("20.7235")
    assert slide.place(3.0) == slide.place(99.0) == D("31.447")
    assert slide.busy_until_s == 3.0


def test_without_a_time_it_goes_at_its_speed() -> None:
    slide = Slide()
    slide.go(2 * SPEED, 0.0)
    assert slide.busy_until_s == 2.0
    slide.speed = D(5)
    slide.go(D(0), 2.0)
    assert slide.busy_until_s == 10.0


def test_a_hand_that_turns_anew_begins_where_the_slide_is() -> None:
    slide = Slide()
    slide.go(D(10), 0.0, 1.0)
    slide.go(D(0), 0.5, 1.0)
    assert slide.place(0.5) == 5
    assert slide.place(1.0) == D("2.5")
    assert slide.place(1.5) == 0


def test_a_turn_the_other_way_takes_up_the_play_first() -> None:
    slide = Slide()
    slide.set_backlash(D("0.020"), 0.0)
    slide.go(D(1), 0.0, 1.0)
    assert slide.place(1.0) == 1
    for n, expected in enumerate(("1", "1", "0.995", "0.985")):
        slide.turn(D("-0.010") if n < 2 else D("-0.005") if n == 2 else D("-0.010"), 2.0 + n, 0.1)
        assert slide.place(3.0 + n) == D(expected)


def test_a_hand_that_looks_at_the_display_goes_on_until_it_is_there() -> None:
    slide = Slide()
    slide.set_backlash(D("0.5"), 0.0)
    for n, place in enumerate((D(1), D("0.9"), D("0.95"), D("0.95"), D(-3))):
        slide.go(place, float(n), 0.5)
        assert slide.place(n + 1.0) == place


@given(st.lists(st.integers(-2000, 2000), min_size=1, max_size=12), st.integers(0, 500))
def test_the_slide_is_never_further_from_the_hand_than_half_the_play(
    turns: list[int], play: int
) -> None:
    slide = Slide()
    slide.set_backlash(D(play) / 1000, 0.0)
    hand = D(0)
    for n, turn in enumerate(turns):
        before = slide.place(float(n))
        slide.turn(D(turn) / 1000, float(n), 0.9)
        hand += D(turn) / 1000
        after = slide.place(n + 1.0)
        assert abs(after - hand) <= D(play) / 2000
        assert (after - before) * turn >= 0


def test_noise_is_of_the_size_that_was_asked_for_and_the_same_for_the_same_seed() -> None:
    slide = Slide(D(5))
    slide.noise = D("0.002")
    draws = [float(slide.shown(n / 10, draw)) for draw in [random.Random(7)] for n in range(2000)]
    assert statistics.mean(draws) == pytest.approx(5, abs=0.0002)
    assert statistics.stdev(draws) == pytest.approx(0.002, rel=0.06)
    again = [float(slide.shown(n / 10, draw)) for draw in [random.Random(7)] for n in range(2000)]
    assert draws == again
    assert slide.place(1.0) == 5


def test_a_slide_without_speed_is_refused_but_goes_in_a_stated_time() -> None:
    slide = Slide()
    slide.speed = D(0)
    with pytest.raises(InputError, match="speed above 0"):
        slide.go(D(1), 0.0)
    slide.go(D(1), 0.0, 2.0)
    assert slide.place(2.0) == 1
