"""Outliers: critical values by other routes, what a test finds, what it refuses."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from inspect_rec.compute.outliers import Side, dixon, dixon_critical, grubbs, grubbs_critical
from inspect_rec.errors import ComputeError

microns = st.lists(st.integers(-50, 50), min_size=3, max_size=15).filter(lambda x: len(set(x)) > 1)


def test_three_readings_have_a_largest_possible_g_that_the_critical_one_nears() -> None:
    """(n - 1)/sqrt(n) is the most that G can be; 1.1543 at 5 % two-sided, 1.1531 one-sided
    (tables in use, from memory)."""
    assert grubbs_critical(3) == pytest.approx(1.1543, abs=6e-5)
    assert grubbs_critical(3, side=Side.MAXIMUM) == pytest.approx(1.1531, abs=6e-5)
    assert grubbs_critical(3, 1e-9) <= 2 / math.sqrt(3)


@pytest.mark.parametrize("side", [Side.MAXIMUM, Side.MINIMUM, Side.BOTH])
@pytest.mark.parametrize("n", [3, 5, 12])
def test_alike_readings_are_called_outlying_as_often_as_the_risk_says(n: int, side: Side) -> None:
    rng, runs, alpha = np.random.default_rng(20), 100_000, 0.05
    x = rng.standard_normal((runs, n))
    off = (x - x.mean(axis=1, keepdims=True)) / x.std(axis=1, ddof=1, keepdims=True)
    G = {Side.MAXIMUM: off, Side.MINIMUM: -off, Side.BOTH: np.abs(off)}[side].max(axis=1)
    called = float((grubbs_critical(n, alpha, side) < G).mean())
    assert called == pytest.approx(alpha, abs=4 * math.sqrt(alpha * (1 - alpha) / runs))


@pytest.mark.parametrize(("n", "confidence"), [(3, 0.95), (4, 0.9), (6, 0.99), (10, 0.95)])
def test_dixon_ratios_of_drawn_readings_exceed_the_critical_one_as_often_as_they_should(
    n: int, confidence: float
) -> None:
    rng, runs = np.random.default_rng(21), 200_000
    x = np.sort(rng.standard_normal((runs, n)), axis=1)
    top = (x[:, -1] - x[:, -2]) / (x[:, -1] - x[:, 0])
    half = (1 - confidence) / 2
    spread = math.sqrt(half / runs)
    assert float((top > dixon_critical(n, confidence)).mean()) == pytest.approx(
        half, abs=4 * spread
    )
    one_sided = dixon_critical(n, 1 - half, two_sided=False)
    assert one_sided == pytest.approx(dixon_critical(n, confidence), abs=1e-9)


def test_of_three_readings_dixon_is_known_in_closed_form() -> None:
    """The ratio r of three normals: P(r10 > r) = 3/pi * atan(sqrt(3) (1 - r)/(1 + r)), by turning
    the plane of the two differences; so that r follows from the confidence without an integral."""
    for confidence in (0.5, 0.9, 0.95, 0.99):
        tangent = math.tan((1 - confidence) / 2 * math.pi / 3) / math.sqrt(3)
        wanted = (1 - tangent) / (1 + tangent)
        assert dixon_critical(3, confidence) == pytest.approx(wanted, abs=1e-9)


def test_the_older_ninety_percent_column_comes_out() -> None:
    """Dean and Dixon's 0.941, 0.765, 0.642, 0.507, 0.412, as the published case's note says."""
    found = [dixon_critical(n, 0.90) for n in (3, 4, 5, 7, 10)]
    assert found == pytest.approx([0.941, 0.765, 0.642, 0.507, 0.412], abs=1.1e-3)


def test_more_readings_and_less_confidence_want_a_smaller_gap() -> None:
    by_number = [dixon_critical(n) for n in (3, 4, 8, 15, 30, 100)]
    assert by_number == sorted(by_number, reverse=True)
    by_confidence = [dixon_critical(8, c) for c in (0.5, 0.8, 0.95, 0.999)]
    assert by_confidence == sorted(by_confidence)


def test_each_side_suspects_its_own_reading() -> None:
    readings = [10.0, 10.1, 9.9, 10.05, 9.95, 6.0, 10.2]
    assert grubbs(readings, side=Side.BOTH).index == 5
    assert grubbs(readings, side=Side.MINIMUM).value == 6.0
    assert grubbs(readings, side=Side.MINIMUM).outlier
    assert grubbs(readings, side=Side.MAXIMUM).index == 6
    assert not grubbs(readings, side=Side.MAXIMUM).outlier


@given(microns, st.integers(-1000, 1000), st.integers(1, 100))
def test_shift_and_scale_change_no_g(readings: list[int], shift: int, scale: int) -> None:
    before, after = grubbs(readings), grubbs([scale * x + shift for x in readings])
    assert after.g == pytest.approx(before.g, rel=1e-9)
    turned = grubbs([-x for x in readings], side=Side.MINIMUM)
    assert turned.g == pytest.approx(grubbs(readings, side=Side.MAXIMUM).g, rel=1e-9)


@given(microns)
def test_g_is_the_largest_score_of_another_library(readings: list[int]) -> None:
    assert grubbs(readings).g == pytest.approx(np.abs(stats.zscore(readings, ddof=1)).max())
    assert grubbs(readings).g <= (len(readings) - 1) / math.sqrt(len(readings)) * (1 + 1e-12)


def test_dixon_suspects_the_end_with_the_wider_gap() -> None:
    """Gaps and ranges by hand."""
    readings = [0.189, 0.167, 0.187, 0.183, 0.186, 0.182, 0.181, 0.184, 0.181, 0.177]
    found = dixon(readings, 0.90)
    assert found.r10 == pytest.approx((0.177 - 0.167) / (0.189 - 0.167), rel=1e-9)
    assert (found.index, found.value, found.side) == (1, 0.167, Side.BOTH)
    assert found.outlier
    assert not dixon(readings, 0.95).outlier
    top = dixon(readings, 0.90, Side.MAXIMUM)
    assert top.r10 == pytest.approx((0.189 - 0.187) / (0.189 - 0.167), rel=1e-9)
    assert (top.index, top.outlier) == (0, False)


@pytest.mark.parametrize("side", [Side.MAXIMUM, Side.MINIMUM, Side.BOTH])
def test_alike_readings_are_outlying_to_dixon_as_often_as_the_risk_says(side: Side) -> None:
    rng, runs, n = np.random.default_rng(22), 20_000, 5
    x = np.sort(rng.standard_normal((runs, n)), axis=1)
    low, high = (np.diff(x, axis=1)[:, k] / (x[:, -1] - x[:, 0]) for k in (0, -1))
    r10 = {Side.MAXIMUM: high, Side.MINIMUM: low, Side.BOTH: np.maximum(low, high)}[side]
    found = dixon(x[0].tolist(), side=side)
    assert found.r10 == pytest.approx(r10[0], rel=1e-12)
    called = float((found.critical < r10).mean())
    assert called == pytest.approx(0.05, abs=4 * math.sqrt(0.0475 / runs))


@given(microns, st.integers(-1000, 1000), st.integers(1, 100))
@settings(max_examples=5, deadline=None)
def test_shift_and_scale_change_no_gap_and_turned_round_the_ends_change(
    readings: list[int], shift: int, scale: int
) -> None:
    before, after = dixon(readings), dixon([scale * x + shift for x in readings])
    assert after.r10 == pytest.approx(before.r10, rel=1e-12)
    turned = dixon([-x for x in readings], side=Side.MINIMUM)
    assert turned.r10 == pytest.approx(dixon(readings, side=Side.MAXIMUM).r10, rel=1e-12)


def test_what_can_not_be_tested_is_refused() -> None:
    with pytest.raises(ComputeError, match="too few"):
        grubbs([1.0, 2.0])
    with pytest.raises(ComputeError, match="no scatter"):
        grubbs([10.001] * 5)
    with pytest.raises(ComputeError, match="no number"):
        grubbs([1.0, 2.0, math.inf])
    with pytest.raises(ComputeError, match="no scatter"):
        dixon([10.001] * 5)
    for alpha in (0, 1, -0.1, math.nan):
        with pytest.raises(ComputeError, match="risk"):
            grubbs_critical(5, alpha)
        with pytest.raises(ComputeError, match="confidence"):
            dixon_critical(5, alpha)
    for n in (0, 2, -1):
        with pytest.raises(ComputeError, match="number of readings"):
            grubbs_critical(n)
        with pytest.raises(ComputeError, match="number of readings"):
            dixon_critical(n)
    with pytest.raises(ComputeError, match="3 to 100"):
        dixon_critical(101)
