"""Gauge studies by both methods: against known components, textbook sums, and refusals."""

from __future__ import annotations

import copy
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from inspect_rec.compute.charts import constants
from inspect_rec.compute.gauge_study import by_ranges, by_variance
from inspect_rec.errors import ComputeError
from tests.compute.published import inputs

READINGS: list[list[list[float]]] = inputs("gauge-study-anova")["readings_appraiser_trial_part"]
FIGURES = ("repeatability", "reproducibility", "interaction", "grr", "parts", "total")


def drawn(
    rng: np.random.Generator, sizes: tuple[int, int, int], s: tuple[float, float, float, float]
) -> Any:
    """Readings with standard deviations of repeats, appraisers, interaction and parts."""
    appraisers, _, parts = sizes
    within, between, both, of_parts = s
    return (
        within * rng.standard_normal(sizes)
        + between * rng.standard_normal((appraisers, 1, 1))
        + both * rng.standard_normal((appraisers, 1, parts))
        + of_parts * rng.standard_normal((1, 1, parts))
    )


def test_the_factors_of_the_manual_come_out_where_none_are_given() -> None:
    """K1 0.5908, K2 0.5231, K3 0.3146 for 3 trials, 3 appraisers, 10 parts (from memory)."""
    found = by_ranges(READINGS)
    assert found.k1.value == pytest.approx(0.5908, abs=6e-5)
    assert found.k2.value == pytest.approx(0.5231, abs=6e-5)
    assert found.k3.value == pytest.approx(0.3146, abs=6e-5)
    assert found.k1.origin == "1/d2 of 3"
    assert found.k2.origin == "1/d2* of 3, ranges: 1"
    assert by_ranges(READINGS, k1=0.5908).k1.origin == "given"
    assert found.ndc == 5


def test_few_ranges_are_divided_by_d2_star() -> None:
    small = [[trial[:2] for trial in appraiser] for appraiser in READINGS]
    found = by_ranges(small)
    assert found.k1.value == pytest.approx(1 / constants(3).d2_star(6), rel=1e-12)
    assert found.k1.origin == "1/d2* of 3, ranges: 6"


def test_the_methods_differ_in_the_categories_and_say_which_they_are() -> None:
    ranges, variance = by_ranges(READINGS), by_variance(READINGS)
    assert (ranges.ndc, variance.ndc) == (5, 4)
    assert ranges.method == "average and range"
    assert variance.method == "analysis of variance, interaction pooled with the error"
    assert 1.41 * variance.parts / variance.grr == pytest.approx(4.86, abs=6e-3)


def test_the_sums_of_squares_add_up_and_agree_with_one_way_analyses() -> None:
    found = by_variance(READINGS)
    rows = (found.part_row, found.appraiser_row, found.interaction_row, found.equipment_row)
    assert math.fsum(row.ss for row in rows) == pytest.approx(found.total_row.ss, rel=1e-12)
    assert sum(row.dof for row in rows) == found.total_row.dof == 89
    cells = np.array(READINGS).transpose(0, 2, 1).reshape(30, 3)
    one_way = stats.f_oneway(*cells)
    between = found.total_row.ss - found.equipment_row.ss
    assert (between / 29) / found.equipment_row.ms == pytest.approx(one_way.statistic, rel=1e-9)


def test_the_interaction_is_judged_by_f_and_kept_where_the_level_asks_for_it() -> None:
    found = by_variance(READINGS)
    wanted = stats.f.sf(found.interaction_row.ms / found.equipment_row.ms, 18, 60)
    assert found.p_interaction == pytest.approx(wanted, rel=1e-9)
    assert found.pooled
    kept = by_variance(READINGS, 1.0)
    assert not kept.pooled
    assert kept.repeatability == pytest.approx(math.sqrt(kept.equipment_row.ms), rel=1e-12)
    # Here it is smaller than the error: its component would be below 0.
    assert kept.interaction_row.ms < kept.equipment_row.ms
    assert kept.interaction == 0


def test_an_interaction_that_is_there_is_kept_and_counted_in_grr() -> None:
    readings = drawn(np.random.default_rng(5), (3, 3, 10), (0.1, 0.2, 0.5, 2)).tolist()
    found = by_variance(readings)
    assert not found.pooled
    assert found.interaction == pytest.approx(0.5, rel=0.4)
    squares = found.repeatability**2 + found.reproducibility**2 + found.interaction**2
    assert found.grr == pytest.approx(math.sqrt(squares), rel=1e-12)
    assert found.total == pytest.approx(math.hypot(found.grr, found.parts), rel=1e-12)


def test_known_components_come_out_of_many_drawn_studies() -> None:
    """Variances are estimated without bias where none is cut off at 0 (EMS of the random model)."""
    rng, true = np.random.default_rng(6), (1.0, 3.0, 2.0, 5.0)
    studies = [by_variance(drawn(rng, (4, 2, 6), true).tolist(), 1.0) for _ in range(800)]
    names = ("repeatability", "reproducibility", "interaction", "parts")
    for name, s in zip(names, true, strict=True):
        squares = np.array([getattr(study, name) ** 2 for study in studies])
        error = squares.std() / math.sqrt(len(studies))
        assert squares.mean() == pytest.approx(s**2, abs=4 * error + 0.02 * s**2), name


def test_ranges_find_the_repeatability_that_was_drawn() -> None:
    rng = np.random.default_rng(7)
    found = [by_ranges(drawn(rng, (3, 3, 10), (2, 1, 0, 4)).tolist()) for _ in range(300)]
    assert np.mean([one.repeatability for one in found]) == pytest.approx(2, rel=0.03)


def test_appraisers_and_parts_that_differ_by_less_than_the_repeats_count_as_zero() -> None:
    readings = [[[0.0, 1.0], [1.0, 0.0]], [[1.0, 0.0], [0.0, 1.0]]]
    for found in (by_ranges(readings), by_variance(readings)):
        assert found.reproducibility == 0
        assert found.parts == 0
        assert found.ndc == 0
        assert found.grr_percent == pytest.approx(100, rel=1e-12)


@given(st.integers(-500, 500), st.integers(1, 50))
def test_a_study_stretches_with_its_readings_and_never_moves(shift: int, scale: int) -> None:
    other = [[[scale * x + shift for x in trial] for trial in one] for one in READINGS]
    for study in (by_ranges, by_variance):
        before, after = study(READINGS), study(other)
        assert after.ndc == before.ndc
        for name in FIGURES:
            wanted = scale * getattr(before, name)
            assert getattr(after, name) == pytest.approx(wanted, rel=1e-8), name


def test_the_order_of_appraisers_trials_and_parts_changes_nothing() -> None:
    other = [[trial[::-1] for trial in one[::-1]] for one in READINGS[::-1]]
    for study in (by_ranges, by_variance):
        before, after = study(READINGS), study(other)
        for name in FIGURES:
            assert getattr(after, name) == pytest.approx(getattr(before, name), rel=1e-9), name


def test_a_table_with_gaps_is_refused_and_the_gap_is_named() -> None:
    short = copy.deepcopy(READINGS)
    del short[1][2][4]
    fewer = copy.deepcopy(READINGS)
    del fewer[2][0]
    for study in (by_ranges, by_variance):
        with pytest.raises(ComputeError, match="9 in trial 3 of appraiser 2"):
            study(short)
        with pytest.raises(ComputeError, match="2 of appraiser 3"):
            study(fewer)


def test_studies_that_can_show_nothing_are_refused() -> None:
    one_part = [[trial[:1] for trial in one] for one in READINGS]
    steady = [[one[0], one[0]] for one in READINGS]
    broken = copy.deepcopy(READINGS)
    broken[0][0][0] = math.nan
    for study in (by_ranges, by_variance):
        for table, says in (
            (READINGS[:1], "one appraiser"),
            ([], "one appraiser"),
            ([one[:1] for one in READINGS], "too few trials"),
            ([[], []], "too few trials"),
            (one_part, "too few parts"),
            (steady, "no repeatability"),
            ([[[5.0, 5.0]] * 2] * 2, "no scatter"),
            (broken, "no number"),
            ([[[0.0, 1.0], [1e-200, 1.0]]] * 2, "no repeatability"),
        ):
            with pytest.raises(ComputeError, match=says):
                study(table)


def test_factors_and_levels_that_are_none_are_refused() -> None:
    with pytest.raises(ComputeError, match="no such K2"):
        by_ranges(READINGS, k2=0)
    with pytest.raises(ComputeError, match="no such K1"):
        by_ranges(READINGS, k1=math.nan)
    with pytest.raises(ComputeError, match="level"):
        by_variance(READINGS, 1.5)
