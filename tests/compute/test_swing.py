"""Readings over an angle: what was planted is found, and what can't be found is refused."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.compute import swing
from inspect_rec.errors import ComputeError

small = st.floats(-20, 20)


@given(small, small, small, st.floats(60, 340))
def test_a_swing_gives_back_radius_and_centre(a: float, p: float, q: float, span: float) -> None:
    turns = [span * k / 8 for k in range(9)]
    read = [a + p * math.cos(math.radians(t)) + q * math.sin(math.radians(t)) for t in turns]
    found = swing.swing_test(turns, read)
    assert (found.a_um, found.p_um, found.q_um) == pytest.approx((a, p, q), abs=1e-9)
    assert found.form_um == pytest.approx(0, abs=1e-9)


def test_a_whole_swing_knows_radius_and_centre_as_a_mean_and_a_harmonic_do() -> None:
    """Expected: 1/n and 2/n, since the harmonics of equal steps are square to each other."""
    found = swing.swing_test([45.0 * k for k in range(8)], [0.5, -0.5] * 4)
    wanted = [[1 / 8, 0, 0], [0, 2 / 8, 0], [0, 0, 2 / 8]]
    for row, expected in zip(found.covariance_over_s2, wanted, strict=True):
        assert row == pytest.approx(expected, abs=1e-15)
    assert found.residual_std_um == pytest.approx(math.sqrt(8 * 0.25 / 5))
    assert math.isnan(swing.swing_test([0, 90, 180], [0, 1, 0]).residual_std_um)


@given(small, st.floats(0.1, 20), st.floats(0, 359), st.integers(3, 12))
def test_clamping_out_of_the_middle_is_the_first_harmonic(
    mean: float, size: float, high: float, n: int
) -> None:
    read = [mean + size * math.cos(2 * math.pi * k / n - math.radians(high)) for k in range(n)]
    found = swing.index_runout(read)
    assert found.eccentricity_um == pytest.approx(size, abs=1e-9)
    assert math.cos(math.radians(found.high_side_deg - high)) == pytest.approx(1, abs=1e-9)
    assert found.remainder_um == pytest.approx(0, abs=1e-9)


def test_a_high_side_at_the_first_reading_is_0_and_not_360() -> None:
    """The sine's sum of these is a hair below 0."""
    found = swing.index_runout([10.0, 4.0, -2.0, 4.0])
    assert 0 <= found.high_side_deg < 360
    assert found.high_side_deg == pytest.approx(0, abs=1e-9)


@given(st.lists(small, min_size=2, max_size=12), st.floats(1, 50))
def test_the_steps_between_teeth_close_the_circle(offsets: list[float], radius: float) -> None:
    found = swing.spacing(radius, offsets)
    assert sum(found.adjacent_arcmin) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("turns", "read"),
    [
        ([0, 90], [1, 2]),
        ([0, 45, 90], [1, 2]),
        ([30, 30.000001, 30.000002], [1, 2, 3]),
        ([0, 45, 90], [1, math.nan, 2]),
    ],
)
def test_a_swing_that_shows_nothing_is_refused(turns: list[float], read: list[float]) -> None:
    with pytest.raises(ComputeError):
        swing.swing_test(turns, read)


def test_two_index_steps_have_no_high_side() -> None:
    with pytest.raises(ComputeError, match="too few"):
        swing.index_runout([0.0, 5.0])
    with pytest.raises(ComputeError, match="no number"):
        swing.index_runout([0.0, 5.0, math.inf])
    with pytest.raises(ComputeError, match="radius"):
        swing.spacing(0.0, [1.0, 2.0])
