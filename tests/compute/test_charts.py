"""Constants of charts against integrals by another route, limits, indices, refusals."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import integrate, stats

from inspect_rec.compute.charts import capability, constants, individuals, normal_quantile
from inspect_rec.errors import ComputeError
from tests.compute.published import inputs

microns = st.lists(st.integers(-50, 50), min_size=3, max_size=15).filter(lambda x: len(set(x)) > 1)


def test_the_range_of_two_and_the_mean_range_of_three_are_known_in_closed_form() -> None:
    assert constants(2).d2 == pytest.approx(2 / math.sqrt(math.pi), abs=1e-12)
    assert constants(2).d3 == pytest.approx(math.sqrt(2 - 4 / math.pi), abs=1e-12)
    assert constants(3).d2 == pytest.approx(3 / math.sqrt(math.pi), abs=1e-12)


@pytest.mark.parametrize("n", [2, 4, 9, 25, 100])
def test_mean_and_square_of_the_range_are_those_of_the_studentized_range(n: int) -> None:
    """With infinite degrees of freedom its distribution is that of the range of n normals."""
    beyond = stats.studentized_range(n, math.inf).sf
    mean = integrate.quad(beyond, 0, 20, epsabs=1e-8)[0]
    square = integrate.quad(lambda w: 2 * w * beyond(w), 0, 20, epsabs=1e-8)[0]
    assert constants(n).d2 == pytest.approx(mean, abs=1e-7)
    assert constants(n).d3 == pytest.approx(math.sqrt(square - mean**2), abs=1e-6)


@pytest.mark.parametrize("n", [2, 5, 50])
def test_c4_is_the_mean_of_a_chi_over_the_root_of_its_freedom(n: int) -> None:
    assert constants(n).c4 == pytest.approx(stats.chi(n - 1).mean() / math.sqrt(n - 1), rel=1e-12)


def test_larger_subgroups_have_narrower_limits() -> None:
    rows = [constants(n) for n in range(2, 101)]
    for name in ("A2", "A3", "E2", "D4", "B4"):
        values = [getattr(row, name) for row in rows]
        assert values == sorted(values, reverse=True), name
    for name in ("d2", "c4", "D3", "B3"):
        values = [getattr(row, name) for row in rows]
        assert values == sorted(values), name


def test_few_ranges_are_divided_by_more_than_many() -> None:
    """1/d2* of 3 and of 10 with one range each: K2 = 0.5231 and K3 = 0.3146 (MSA manual of the
    automotive industry; from memory)."""
    assert 1 / constants(3).d2_star(1) == pytest.approx(0.5231, abs=6e-5)
    assert 1 / constants(10).d2_star(1) == pytest.approx(0.3146, abs=6e-5)
    assert constants(3).d2_star(10**9) == pytest.approx(constants(3).d2, abs=1e-9)
    with pytest.raises(ComputeError, match="ranges"):
        constants(3).d2_star(0)


@pytest.mark.parametrize("n", [1, 0, 101, -3])
def test_no_subgroup_has_no_constants(n: int) -> None:
    with pytest.raises(ComputeError, match="from 2 to 100"):
        constants(n)


def test_the_unrounded_constants_give_the_limit_that_the_published_note_names() -> None:
    """With d2 = 1.128379 the upper limit of NIST's flow rates is 55.8024."""
    readings = inputs("imr-flowrate")["readings"]
    assert individuals(readings, None).upper_limit == pytest.approx(55.8024, abs=6e-5)
    found = individuals(readings, None, None)
    assert found.upper_limit_moving_range == pytest.approx(
        (1 + 3 * constants(2).d3 / constants(2).d2) * found.mean_moving_range, rel=1e-12
    )


def test_a_jump_is_outside_as_a_reading_and_as_a_moving_range() -> None:
    found = individuals([0, 1, 0, 1, 0, 1, 0, 30, 1, 0, 1, 0])
    assert found.outside == (7,)
    assert found.outside_moving_range == (7, 8)


@given(microns, st.integers(-1000, 1000), st.integers(1, 100))
def test_a_chart_moves_and_stretches_with_its_readings(
    readings: list[int], shift: int, scale: int
) -> None:
    before = individuals([float(x) for x in readings])
    after = individuals([float(scale * x + shift) for x in readings])
    assert after.upper_limit == pytest.approx(scale * before.upper_limit + shift, abs=1e-8)
    assert after.lower_limit == pytest.approx(scale * before.lower_limit + shift, abs=1e-8)
    wanted = scale * before.upper_limit_moving_range
    assert after.upper_limit_moving_range == pytest.approx(wanted, rel=1e-12)


def test_charts_that_are_none_are_refused() -> None:
    with pytest.raises(ComputeError, match="too few"):
        individuals([1.0])
    with pytest.raises(ComputeError, match="no scatter"):
        individuals([10.001, 10.001, 10.001])
    with pytest.raises(ComputeError, match="no number"):
        individuals([1.0, math.nan, 2.0])
    with pytest.raises(ComputeError, match="no such d2"):
        individuals([1.0, 2.0], 0.0)
    with pytest.raises(ComputeError, match="no such D4"):
        individuals([1.0, 2.0], D4=math.inf)


@given(st.floats(-5, 5), st.floats(0.01, 5), st.floats(-20, 20), st.floats(0.01, 9))
def test_the_poorer_side_is_the_capability(
    lower: float, width: float, mean: float, s: float
) -> None:
    found = capability(lower, lower + width, mean, s)
    assert found.Cp is not None
    assert found.Cpu is not None
    assert found.Cpl is not None
    assert found.Cpk == min(found.Cpu, found.Cpl)
    assert found.Cpk <= found.Cp + 1e-9
    assert (found.Cpu + found.Cpl) / 2 == pytest.approx(found.Cp, abs=1e-9)
    assert capability(None, lower + width, mean, s).Cpk == found.Cpu
    assert capability(lower, None, mean, s).Cpl == found.Cpl


def test_with_one_limit_there_is_no_cp() -> None:
    assert capability(8, None, 16, 2).Cp is None
    assert capability(8, None, 16, 2).Cpu is None


@pytest.mark.parametrize(
    ("lower", "upper", "mean", "s", "says"),
    [
        (8, 20, 16, 0, "without scatter"),
        (8, 20, 16, -1, "without scatter"),
        (20, 8, 16, 2, "isn't below"),
        (8, 8, 8, 2, "isn't below"),
        (None, None, 16, 2, "without a limit"),
        (8, 20, math.nan, 2, "no number"),
        (8, math.inf, 16, 2, "no number"),
    ],
)
def test_a_capability_that_is_none_is_refused(
    lower: float | None, upper: float | None, mean: float, s: float, says: str
) -> None:
    with pytest.raises(ComputeError, match=says):
        capability(lower, upper, mean, s)


@given(st.floats(1e-12, 1 - 1e-12))
def test_a_quantile_is_that_of_another_library(p: float) -> None:
    assert normal_quantile(p) == pytest.approx(stats.norm.ppf(p), abs=1e-9, rel=1e-12)


@given(st.floats(1e-6, 0.5))
def test_quantiles_lie_evenly_about_zero(p: float) -> None:
    assume(p < 0.5)
    assert normal_quantile(1 - p) == pytest.approx(-normal_quantile(p), rel=1e-6)
    assert normal_quantile(p) < 0


@pytest.mark.parametrize("p", [0, 1, -0.1, 1.1, math.nan])
def test_no_probability_has_no_quantile(p: float) -> None:
    with pytest.raises(ComputeError, match="above 0 and below 1"):
        normal_quantile(p)
