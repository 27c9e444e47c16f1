"""Pooled repeats against other routes, outliers that stay in, a master's drift in time."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from inspect_rec.compute.outliers import grubbs
from inspect_rec.compute.studies import (
    SELDOM,
    Pooled,
    enough,
    interpolated,
    largest_range,
    pooled,
)
from inspect_rec.errors import ComputeError

microns = st.lists(st.lists(st.integers(-20, 20), min_size=2, max_size=6), min_size=1, max_size=8)
scattered = microns.filter(lambda groups: any(len(set(group)) > 1 for group in groups))
row = st.lists(st.integers(-50, 50), min_size=3, max_size=15).filter(lambda x: len(set(x)) > 1)


def drawn(seed: int, sizes: list[int], s: list[float]) -> list[list[float]]:
    rng = np.random.default_rng(seed)
    pairs = zip(sizes, s, strict=True)
    return [[10 * g + v * x for x in rng.standard_normal(n)] for g, (n, v) in enumerate(pairs)]


@given(scattered)
def test_pooled_s_is_the_error_of_a_one_way_analysis(groups: list[list[int]]) -> None:
    within = sum(float(np.var(group)) * len(group) for group in groups)
    dof = sum(map(len, groups)) - len(groups)
    found = pooled(groups)
    assert found.dof == dof
    assert found.s == pytest.approx(math.sqrt(within / dof), rel=1e-9)


@given(scattered, st.lists(st.integers(-500, 500), min_size=8, max_size=8), st.integers(1, 30))
def test_each_group_may_be_of_another_piece_and_the_unit_changes_nothing(
    groups: list[list[int]], shifts: list[int], scale: int
) -> None:
    pairs = zip(groups, shifts, strict=False)
    other = [[scale * x + shift for x in group] for group, shift in pairs]
    before, after = pooled(groups), pooled(other)
    assert after.s == pytest.approx(scale * before.s, rel=1e-9)
    assert [(o.group, o.index) for o in after.outliers] == [
        (o.group, o.index) for o in before.outliers
    ]
    if before.alike and after.alike:
        assert after.alike.p == pytest.approx(before.alike.p, rel=1e-6, abs=1e-9)


@given(row)
def test_of_one_group_the_outliers_are_those_of_grubbs(readings: list[int]) -> None:
    found, wanted = pooled([readings]), grubbs(readings)
    n = len(readings)
    assert found.alike is None
    assert found.critical == pytest.approx(wanted.critical * math.sqrt(n / (n - 1)), rel=1e-9)
    assert bool(found.outliers) is wanted.outlier
    if wanted.outlier:
        assert wanted.index in {one.index for one in found.outliers}


def test_bartlett_is_that_of_another_library() -> None:
    groups = drawn(3, [3, 4, 5, 6, 8], [1, 2, 1, 3, 1])
    found, wanted = pooled(groups).alike, stats.bartlett(*groups)
    assert found is not None
    assert found.test == "Bartlett"
    assert found.statistic == pytest.approx(wanted.statistic, rel=1e-9)
    assert found.p == pytest.approx(wanted.pvalue, rel=1e-9)


@pytest.mark.parametrize(("share", "alike"), [(0.606, True), (0.626, False)])
def test_a_group_that_repeats_itself_to_the_digit_goes_to_cochran_and_his_table(
    share: float, alike: bool
) -> None:
    """Six groups of three: critical C 0.616 at 5 % (ISO 5725-2's table, from memory)."""
    rest = (1 - share) / 4
    wide = [[0.0, math.sqrt(v), -math.sqrt(v)] for v in (share, rest, rest, rest, rest)]
    found = pooled([*wide, [5.0, 5.0, 5.0]]).alike
    assert found is not None
    assert found.test == "Cochran"
    assert found.statistic == pytest.approx(share, rel=1e-12)
    assert found.alike is alike


def test_when_only_one_group_scatters_the_groups_are_not_alike() -> None:
    found = pooled([[1.0, 2.0, 3.0], [7.0, 7.0], [8.0, 8.0]]).alike
    assert found is not None
    assert found.p == 0
    assert not found.alike


@pytest.mark.parametrize("sizes", [[3] * 10, [2] * 20, [2, 4, 6]])
def test_alike_groups_are_called_unlike_or_outlying_no_oftener_than_the_risk(
    sizes: list[int],
) -> None:
    runs, alpha = 1500, 0.05
    studies = [pooled(drawn(seed, sizes, [1.0] * len(sizes)), alpha) for seed in range(runs)]
    margin = 4 * math.sqrt(alpha * (1 - alpha) / runs)
    unlike = sum(1 for one in studies if one.alike and not one.alike.alike) / runs
    outlying = sum(1 for one in studies if one.outliers) / runs
    assert unlike <= alpha + margin
    assert outlying == pytest.approx(alpha, abs=margin)


def test_groups_of_different_scatter_are_seen() -> None:
    found = pooled(drawn(4, [6] * 6, [1, 1, 1, 5, 5, 5])).alike
    assert found is not None
    assert not found.alike


def test_an_outlier_is_named_and_stays_in_s() -> None:
    groups = drawn(5, [3] * 10, [0.001] * 10)
    clean = pooled(groups)
    assert clean.outliers == ()
    groups[4][1] += 0.02
    found = pooled(groups)
    assert (found.outliers[0].group, found.outliers[0].index) == (4, 1)
    assert found.outliers[0].value == groups[4][1]
    assert found.s > 2 * clean.s
    assert found.dof == clean.dof


def test_a_step_of_the_readout_between_three_readings_is_no_outlier_in_a_study() -> None:
    """By itself it is one to Grubbs, whatever the step."""
    assert grubbs([10.001, 10.001, 10.002]).outlier
    groups = [[10.001, 10.001, 10.002], *drawn(6, [3] * 8, [0.001] * 8)]
    assert 0 not in {one.group for one in pooled(groups).outliers}


def test_one_pair_has_one_degree_of_freedom_and_nothing_to_test_with() -> None:
    found = pooled([[1.0, 2.0]])
    assert found.s == pytest.approx(math.sqrt(0.5), rel=1e-12)
    assert (found.dof, found.critical, found.outliers) == (1, None, ())


def test_twenty_degrees_of_freedom_make_a_study() -> None:
    def of(pairs: int) -> Pooled:
        return pooled([[0.0, 1.0]] * pairs)

    assert not of(19).enough
    assert of(20).enough
    assert not enough(19.999)
    assert not enough(math.nan)


def test_studies_that_show_no_scatter_are_refused() -> None:
    with pytest.raises(ComputeError, match="without readings"):
        pooled([])
    with pytest.raises(ComputeError, match="group 2 has no repeats"):
        pooled([[1.0, 2.0], [3.0]])
    with pytest.raises(ComputeError, match="no scatter"):
        pooled([[10.001, 10.001], [20.0, 20.0]])
    with pytest.raises(ComputeError, match="no number"):
        pooled([[1.0, math.inf], [1.0, 2.0]])
    with pytest.raises(ComputeError, match="risk"):
        pooled([[1.0, 2.0]], 0)


@given(st.integers(-1000, 1000), st.integers(-1000, 1000), st.integers(0, 100))
def test_a_drift_is_even_in_time_and_meets_both_checks(before: int, after: int, t: int) -> None:
    found = interpolated(before, after, 0, 100, t)
    assert found == pytest.approx(before + (after - before) * t / 100, abs=1e-9)
    assert interpolated(before, after, 0, 100, 0) == before
    assert interpolated(before, after, 0, 100, 100) == after
    assert found == pytest.approx(interpolated(after, before, 0, 100, 100 - t), abs=1e-9)


@pytest.mark.parametrize(
    ("given_", "says"),
    [
        ((1, 2, 10, 10, 10), "no time between"),
        ((1, 2, 10, 5, 7), "no time between"),
        ((1, 2, 0, 10, 10.5), "both sides"),
        ((1, 2, 0, 10, -0.5), "both sides"),
        ((math.nan, 2, 0, 10, 5), "no number"),
        ((1, 2, 0, 10, math.inf), "no number"),
    ],
)
def test_a_drift_that_is_not_known_is_refused(given_: tuple[float, ...], says: str) -> None:
    with pytest.raises(ComputeError, match=says):
        interpolated(*given_)


@pytest.mark.parametrize("n", [2, 3, 4, 9, 100])
@pytest.mark.parametrize("seldom", [0.0027, 0.05])
def test_the_range_of_good_repeats_is_that_of_another_library(n: int, seldom: float) -> None:
    assert largest_range(n, seldom) == pytest.approx(
        stats.studentized_range.ppf(1 - seldom, n, 1e7), rel=1e-5
    )


def test_two_good_repeats_differ_by_3_root_2_once_in_370() -> None:
    assert pytest.approx(2 * (1 - stats.norm.cdf(3)), abs=1e-6) == SELDOM
    assert largest_range(2) == pytest.approx(3 * math.sqrt(2), rel=1e-4)


@pytest.mark.parametrize(("n", "seldom"), [(1, 0.05), (3, 0.0), (3, 1.0)])
def test_a_range_of_nothing_is_refused(n: int, seldom: float) -> None:
    with pytest.raises(ComputeError, match="no such range"):
        largest_range(n, seldom)
