"""Written angles: signs that stay, carries that run through, texts that are none."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.compute.angle_text import Dms, degrees, dms, parsed
from inspect_rec.errors import ComputeError

D = Decimal
signs = st.sampled_from([1, -1])
tenths = st.integers(0, 599).map(lambda n: D(n) / 10)
sixty = st.integers(0, 59).map(D)


@given(signs, st.integers(0, 720).map(D), sixty, tenths)
def test_there_and_back_gives_the_same_angle(
    sign: int, whole: Decimal, minutes: Decimal, seconds: Decimal
) -> None:
    angle = Dms(sign, whole, minutes, seconds)
    back = dms(degrees(angle))
    assert (back.degrees, back.minutes, back.seconds) == (whole, minutes, seconds)
    assert back.sign == (sign if whole or minutes or seconds else 1)
    assert parsed(str(back)) == back


@given(st.decimals(-720, 720, places=9), st.sampled_from([D("0.1"), D(1), D("0.01"), D(30)]))
def test_rounding_moves_an_angle_by_half_a_step_at_most_and_parts_stay_below_sixty(
    angle: Decimal, step: Decimal
) -> None:
    found = dms(angle, step)
    seconds = found.sign * (
        Fraction(found.degrees) * 3600 + Fraction(found.minutes) * 60 + Fraction(found.seconds)
    )
    assert abs(seconds - Fraction(angle) * 3600) <= Fraction(step) / 2
    assert found.minutes < 60
    assert found.seconds < 60
    assert found.seconds % step == 0


def test_a_tie_is_rounded_up_in_its_amount_on_both_sides_of_zero() -> None:
    tie = D("12.500125")  # 12° 30′ 0.45″
    for angle, tenths_of_second in ((tie, 5), (-tie, 5), (tie - D("1e-12"), 4)):
        assert dms(angle).seconds * 10 == tenths_of_second
    assert dms(-tie).sign == -1


def test_a_carry_runs_through_minutes_and_degrees_on_the_negative_side_too() -> None:
    assert dms(D("-29.99999")) == Dms(-1, D(30), D(0), D(0))
    assert dms(D("12.51666666")) == Dms(1, D(12), D(31), D("0.0"))


def test_what_is_rounded_to_nothing_is_no_negative_zero() -> None:
    assert dms(D("-0.000001")) == Dms(1, D(0), D(0), D(0))
    assert str(degrees(Dms(-1, D(0)))) == "0"
    assert dms(D("-0")).sign == 1
    assert parsed("-0°").sign == 1


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("12° 34′ 56.7″", Dms(1, D(12), D(34), D("56.7"))),
        ("12°34'56.7\"", Dms(1, D(12), D(34), D("56.7"))),
        ("12 34 56.7", Dms(1, D(12), D(34), D("56.7"))),
        ("12°34'56''", Dms(1, D(12), D(34), D(56))),
        ("-0° 30'", Dms(-1, D(0), D(30))),
        ("−0°30.5′", Dms(-1, D(0), D("30.5"))),
        ("+118", Dms(1, D(118))),
        (" 12.5824 ", Dms(1, D("12.5824"))),
    ],
)
def test_an_angle_is_read_as_it_is_written(text: str, wanted: Dms) -> None:
    assert parsed(text) == wanted


@pytest.mark.parametrize(
    "text",
    ["", "°", "12,5", "12°-30'", "12' 30\"", "1e3", "12° 30' 15\" 7", "nan", "1" * 60, "١٢°"],
)
def test_what_is_no_angle_is_refused(text: str) -> None:
    with pytest.raises(ComputeError, match="no angle"):
        parsed(text)


@given(st.text("0123456789.°′″'\"-+ ", max_size=20))
def test_no_text_gives_anything_but_an_angle_or_the_one_error(text: str) -> None:
    try:
        found = parsed(text)
    except ComputeError:
        return
    assert parsed(str(found)) == found


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ((0, 1, 1, 1), "no such sign"),
        ((2, 1, 1, 1), "no such sign"),
        ((1, -1, 0, 0), "no such degrees"),
        ((1, 1, 60, 0), "no such minutes"),
        ((1, 1, 0, 60), "no such seconds"),
        ((1, 1, -5, 0), "no such minutes"),
        ((1, "1.5", 1, 0), "decimals before"),
        ((1, "1.5", 0, 1), "decimals before"),
        ((1, 1, "1.5", 1), "decimals before"),
        ((1, "NaN", 0, 0), "no such degrees"),
        ((1, 1_000_000, 0, 0), "no such degrees"),
    ],
)
def test_parts_that_make_no_angle_are_refused(parts: tuple[int, ...], says: str) -> None:
    sign, *others = parts
    with pytest.raises(ComputeError, match=says):
        Dms(sign, *map(Decimal, others))


def test_steps_and_angles_that_are_none_are_refused() -> None:
    for step in ("0", "-0.1", "0.7", "120", "NaN", "1e-60"):
        with pytest.raises(ComputeError, match="step"):
            dms(D(12), D(step))
    for angle in ("NaN", "Infinity", "1e9"):
        with pytest.raises(ComputeError, match="no such angle"):
            dms(D(angle))
