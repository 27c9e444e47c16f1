"""Exact conversion, and rounding that never crosses a limit."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.units import Unit, places, printed, quantise, to_mm, to_step

decimals = st.decimals(-1000, 1000, allow_nan=False, places=6)


def test_an_inch_is_25_4_mm_without_binary_rounding() -> None:
    """NIST SP 811 (quoted from memory): 25.4 mm exactly."""
    assert to_mm(Decimal("1.2388"), Unit.INCH) == Decimal("31.46552")
    assert to_mm(Decimal("-0.00005"), Unit.INCH) == Decimal("-0.00127")


def test_a_temperature_is_no_length() -> None:
    with pytest.raises(ValueError, match="no unit of length"):
        to_mm(Decimal(1), Unit.CELSIUS)


@pytest.mark.parametrize(
    ("width", "expected"),
    [("0.020", 4), ("2", 2), ("0.5", 3), ("0.2", 3), ("0.022", 4), ("0.010", 4), ("0.001", 4)],
)
def test_places_are_one_digit_finer_than_a_tenth_of_the_tolerance(
    width: str, expected: int
) -> None:
    assert places(Decimal(width)) == expected


def test_a_value_just_above_its_limit_is_never_printed_as_the_limit() -> None:
    limit = Decimal("4.910")
    assert printed(Decimal("4.910004"), 4, [limit]) == Decimal("4.910004")
    assert printed(Decimal("4.90996"), 4, [limit]) == Decimal("4.90996")
    assert printed(Decimal("4.91"), 4, [limit]) == Decimal("4.9100")


@given(decimals, st.integers(0, 5), st.lists(decimals, max_size=3))
def test_print_keeps_every_value_on_its_side_of_every_limit(
    value: Decimal, digits: int, limits: list[Decimal]
) -> None:
    rounded = printed(value, digits, limits)
    assert all(value.compare(limit) == rounded.compare(limit) for limit in limits)


@given(decimals, st.sampled_from(["0.001", "0.0005", "0.01"]))
def test_steps_up_down_and_nearest_lie_round_the_value(value: Decimal, step: str) -> None:
    size = Decimal(step)
    up, down = to_step(value, size, "up"), to_step(value, size, "down")
    assert down <= value <= up
    assert up - down <= size
    assert abs(to_step(value, size, "nearest") - value) <= size / 2


@given(st.floats(-1e4, 1e4))
def test_quantised_values_lie_within_half_a_nanometre(value: float) -> None:
    found = quantise(value, Unit.MM)
    assert abs(float(found) - value) <= 5.0001e-7
    assert not (found == 0 and found.is_signed())
