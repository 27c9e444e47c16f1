"""Scatter within and between groups: the GUM's voltages, another library, and drawn readings."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from inspect_rec.compute.analysis_of_variance import OneWay, of_means, one_way
from inspect_rec.compute.studies import pooled
from inspect_rec.errors import ComputeError
from tests.compute.published import cases, inputs

CASE = "gum-h5-anova"
tables = (
    st.tuples(st.integers(2, 6), st.integers(2, 6))
    .flatmap(
        lambda size: st.lists(
            st.lists(st.integers(-40, 40), min_size=size[1], max_size=size[1]),
            min_size=size[0],
            max_size=size[0],
        )
    )
    .filter(lambda groups: any(len(set(group)) > 1 for group in groups))
)


def voltages() -> OneWay:
    given_ = inputs(CASE)
    return of_means(
        [1e6 * v for v in given_["day_mean_V"]],
        given_["day_std_uV"],
        given_["observations_per_day"],
    )


def test_the_voltages_of_ten_days_of_the_gum() -> None:
    """JCGM 100:2008, H.5 (quoted from memory), in microvolts."""
    found = voltages()
    ours = {
        "grand_mean_V": found.grand_mean / 1e6,
        "std_day_means_uV": found.std_of_means,
        "s_a_uV": found.s_a,
        "s_b_uV": found.s_b,
        "F_ratio": found.F,
        "s_between_uV": found.s_between,
        "u_mean_uV": found.u_mean,
        "u_mean_if_no_day_effect_uV": found.u_mean_without_effect,
        "F_crit_95": found.critical(0.05),
        "F_crit_975": found.critical(0.025),
    }
    for name, wanted in cases()[CASE]["expect"].items():
        assert ours[name] == pytest.approx(wanted["value"], abs=wanted["tol"]), name
    assert (found.dof_a, found.dof_b) == (9, 40)
    assert 0.025 < found.p < 0.05


@given(tables)
def test_f_and_p_are_those_of_another_library(groups: list[list[int]]) -> None:
    found, theirs = one_way(groups), stats.f_oneway(*groups)
    assert pytest.approx(theirs.statistic, rel=1e-9, abs=1e-12) == found.F
    # Of equal means scipy's F may be a hair below 0, and its p no number; it is 1 by definition.
    p = theirs.pvalue if theirs.statistic > 0 else 1.0
    assert found.p == pytest.approx(p, rel=1e-7, abs=1e-12)
    assert found.critical(0.05) == pytest.approx(
        stats.f.isf(0.05, found.dof_a, found.dof_b), rel=1e-9
    )


@given(tables)
def test_without_an_effect_u_is_that_of_all_readings_in_one_row(groups: list[list[int]]) -> None:
    every = [value for group in groups for value in group]
    found = one_way(groups)
    assert found.grand_mean == pytest.approx(float(np.mean(every)), abs=1e-9)
    assert found.u_mean_without_effect == pytest.approx(stats.sem(every), rel=1e-9)
    assert found.s_b == pytest.approx(pooled(groups).s, rel=1e-9)


@given(tables)
def test_means_and_standard_deviations_say_what_the_readings_say(groups: list[list[int]]) -> None:
    one = one_way(groups)
    means, stds = [float(np.mean(g)) for g in groups], [float(np.std(g, ddof=1)) for g in groups]
    two = of_means(means, stds, len(groups[0]))
    for name in ("grand_mean", "std_of_means", "s_b", "s_between", "u_mean"):
        assert getattr(two, name) == pytest.approx(getattr(one, name), rel=1e-9, abs=1e-6), name


def test_a_drawn_effect_of_days_comes_back_and_its_u_holds() -> None:
    rng, runs, own, within = np.random.default_rng(8), 2000, 2.0, 1.0
    found = [
        one_way((own * rng.standard_normal((6, 1)) + within * rng.standard_normal((6, 4))).tolist())
        for _ in range(runs)
    ]
    true_u = math.sqrt((own**2 + within**2 / 4) / 6)
    assert np.std([f.grand_mean for f in found]) == pytest.approx(true_u, rel=0.07)
    assert np.mean([f.u_mean**2 for f in found]) == pytest.approx(true_u**2, rel=0.08)
    assert np.mean([f.s_between**2 for f in found]) == pytest.approx(own**2, rel=0.08)
    # By one who forgets the days: far too small.
    assert np.mean([f.u_mean_without_effect for f in found]) < 0.6 * true_u


def test_groups_without_an_effect_are_called_different_no_oftener_than_the_risk() -> None:
    rng, runs = np.random.default_rng(9), 2000
    ps = [one_way(rng.standard_normal((5, 3)).tolist()).p for _ in range(runs)]
    assert np.mean(np.array(ps) < 0.05) == pytest.approx(0.05, abs=4 * math.sqrt(0.0475 / runs))


def test_a_far_datum_takes_no_digits() -> None:
    near = one_way([[0.001, 0.002], [0.005, 0.004], [0.002, 0.002]])
    far = one_way(
        [[1e6 + v for v in group] for group in ([0.001, 0.002], [0.005, 0.004], [0.002] * 2)]
    )
    assert pytest.approx(near.F, rel=1e-6) == far.F
    assert far.grand_mean == pytest.approx(1e6 + near.grand_mean, abs=1e-9)


def test_groups_that_repeat_themselves_to_the_digit_differ_beyond_chance() -> None:
    found = one_way([[1, 1], [2, 2]])
    assert (found.F, found.p, found.s_b) == (None, 0, 0)


@pytest.mark.parametrize(
    ("groups", "says"),
    [
        ([], "too few readings"),
        ([[1, 2]], "too few readings"),
        ([[1], [2]], "too few readings"),
        ([[], []], "too few readings"),
        ([[1, 2], [3, 4, 5]], "3 in group 2"),
        ([[1, 2], [3, math.nan]], "group 2 is no number"),
        ([[5, 5], [5, 5]], "no scatter"),
    ],
)
def test_readings_that_are_no_groups_are_refused(groups: list[list[float]], says: str) -> None:
    with pytest.raises(ComputeError, match=says):
        one_way(groups)


def test_groups_that_are_known_by_halves_are_refused() -> None:
    with pytest.raises(ComputeError, match="its standard deviation"):
        of_means([1, 2], [1], 5)
    with pytest.raises(ComputeError, match="below 0"):
        of_means([1, 2], [1, -1], 5)
    with pytest.raises(ComputeError, match="risk"):
        voltages().critical(0)
