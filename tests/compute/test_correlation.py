"""Inputs that err together: the GUM's example, another library's propagation, and trials."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import umath

from inspect_rec.compute.correlation import Correlated, combined, propagated, simultaneous, sound
from inspect_rec.errors import ComputeError
from tests.compute.published import cases, inputs

CASE = "gum-h2-correlated"
QUANTITIES = ("voltage_V", "current_A", "phase_rad")


def sets() -> list[tuple[float, ...]]:
    return list(zip(*(inputs(CASE)[name] for name in QUANTITIES), strict=True))


def impedance(of: Sequence[float]) -> tuple[float, float, float]:
    v, i, phi = of
    return v * math.cos(phi) / i, v * math.sin(phi) / i, v / i


def test_the_resistance_and_reactance_of_the_gum() -> None:
    """JCGM 100:2008, H.2, approach 1 (quoted from memory)."""
    found = combined(impedance, simultaneous(sets()))
    ours = {f"{name}_ohm": value for name, value in zip("RXZ", found.values, strict=True)}
    ours |= {f"u_{name}_ohm": u for name, u in zip("RXZ", found.u, strict=True)}
    ours |= {f"r_{a}_{b}": found.r["RXZ".index(a)]["RXZ".index(b)] for a, b in ("RX", "RZ", "XZ")}
    for name, wanted in cases()[CASE]["expect"].items():
        assert ours[name] == pytest.approx(wanted["value"], abs=wanted["tol"]), name


def test_the_correlations_of_the_gums_means_are_those_it_prints() -> None:
    """H.2, table H.2 (from memory): r(V, I) -0.36, r(V, phi) 0.86, r(I, phi) -0.65."""
    found = simultaneous(sets())
    assert found.r[0][1] == pytest.approx(-0.36, abs=0.005)
    assert found.r[0][2] == pytest.approx(0.86, abs=0.005)
    assert found.r[1][2] == pytest.approx(-0.65, abs=0.005)


def test_dropped_correlations_would_give_another_uncertainty() -> None:
    means = simultaneous(sets())
    alone = Correlated(means.values, means.u, tuple(map(tuple, np.eye(3))))
    assert combined(impedance, alone).u[0] == pytest.approx(0.195, abs=0.0005)


def test_the_second_approach_of_the_gum_gives_the_same() -> None:
    """H.2, approach 2: each set makes its own R, X, Z; their means scatter alike to first order."""
    one, two = combined(impedance, simultaneous(sets())), simultaneous(list(map(impedance, sets())))
    assert two.values == pytest.approx(one.values, rel=1e-5)
    assert two.u == pytest.approx(one.u, rel=5e-3)
    assert two.r[0] == pytest.approx(one.r[0], abs=5e-3)


tables = st.lists(st.tuples(*[st.integers(-30, 30)] * 3), min_size=4, max_size=12).filter(
    lambda rows: all(len(set(column)) > 1 for column in zip(*rows, strict=True))
)


@given(tables)
def test_means_scatter_and_correlate_as_another_library_says(rows: list[tuple[int, ...]]) -> None:
    found, array = simultaneous(rows), np.array(rows, float)
    assert found.values == pytest.approx(array.mean(axis=0), abs=1e-9)
    assert found.u == pytest.approx(array.std(axis=0, ddof=1) / math.sqrt(len(rows)), rel=1e-9)
    assert np.array(found.r) == pytest.approx(np.corrcoef(array.T), abs=1e-9)
    sound(found.u, found.r)


@given(tables)
def test_results_are_those_of_automatic_differentiation(rows: list[tuple[int, ...]]) -> None:
    means = simultaneous([(10 + a / 100, 20 + b / 100, 0.5 + c / 1000) for a, b, c in rows])

    def model(at: Sequence[float]) -> tuple[float, float]:
        return at[0] * math.cos(at[2]) + at[1], at[0] * at[1]

    found = combined(model, means)
    pairs = list(zip(means.values, means.u, strict=True))
    x, y, phi = uncertainties.correlated_values_norm(pairs, np.array(means.r))
    theirs = (x * umath.cos(phi) + y, x * y)
    assert found.values == pytest.approx([one.nominal_value for one in theirs], rel=1e-12)
    # Where contributions cancel only what the differences leave over stands there.
    assert found.u == pytest.approx([one.std_dev for one in theirs], rel=1e-5, abs=1e-7)
    if min(found.u) > 1e-4:
        r = uncertainties.correlation_matrix(theirs)[0][1]
        assert found.r[0][1] == pytest.approx(r, abs=1e-4)


def test_two_lengths_off_one_master_share_its_error_and_their_difference_does_not_have_it() -> None:
    """r of a shared part: u_shared^2 over the product of both uncertainties (GUM F.1.2.3)."""
    own, shared = 0.3, 0.4
    u = math.hypot(own, shared)
    r = shared**2 / u**2
    (difference, both), (_, total) = propagated([[1, -1], [1, 1]], [u, u], [[1, r], [r, 1]])
    assert difference == pytest.approx(2 * own**2, rel=1e-12)
    assert total == pytest.approx(2 * own**2 + 4 * shared**2, rel=1e-12)
    assert both == pytest.approx(0, abs=1e-15)


def test_fully_correlated_inputs_add_up_as_they_are() -> None:
    """GUM 5.2.2, note 1 (from memory): ten resistors off one standard."""
    ones = [[1.0] * 10] * 10
    ((found,),) = propagated([[1.0] * 10], [0.1] * 10, ones)
    assert math.sqrt(found) == pytest.approx(1.0, rel=1e-12)
    alone = np.eye(10).tolist()
    ((found,),) = propagated([[1.0] * 10], [0.1] * 10, alone)
    assert math.sqrt(found) == pytest.approx(0.1 * math.sqrt(10), rel=1e-12)


def test_trials_scatter_as_the_propagation_says() -> None:
    means = simultaneous(sets())
    u = np.array(means.u)
    cov = np.array(means.r) * np.outer(u, u)
    drawn = np.random.default_rng(2).multivariate_normal(means.values, cov, 20_000)
    results = np.array([impedance(row) for row in drawn])
    found = combined(impedance, means)
    assert results.std(axis=0, ddof=1) == pytest.approx(found.u, rel=0.02)
    assert np.corrcoef(results.T)[0][1] == pytest.approx(found.r[0][1], abs=0.02)


def test_a_reading_that_never_moves_has_no_correlation() -> None:
    found = simultaneous([(1, 5), (2, 5), (4, 5)])
    assert found.u[1] == 0
    assert found.r == ((1, 0), (0, 1))


def test_a_far_datum_takes_no_digits() -> None:
    near = simultaneous([(0.001, 0.002), (0.002, 0.001), (0.003, 0.005)])
    far = simultaneous([(1e6 + 0.001, 0.002), (1e6 + 0.002, 0.001), (1e6 + 0.003, 0.005)])
    assert far.u[0] == pytest.approx(near.u[0], rel=1e-6)
    assert far.r[0][1] == pytest.approx(near.r[0][1], rel=1e-6)


def test_readings_that_are_no_sets_are_refused() -> None:
    with pytest.raises(ComputeError, match="too few sets"):
        simultaneous([(1, 2)])
    with pytest.raises(ComputeError, match="too few sets"):
        simultaneous([(), ()])
    with pytest.raises(ComputeError, match="set 2 has a gap"):
        simultaneous([(1, 2), (3,)])
    with pytest.raises(ComputeError, match="set 2 is no number"):
        simultaneous([(1, 2), (3, math.nan)])


@pytest.mark.parametrize(
    ("u", "r", "says"),
    [
        ([], [], "no matrix"),
        ([1, 1], [[1, 0]], "no matrix"),
        ([1, 1], [[1, 0], [0]], "no matrix"),
        ([1, -1], [[1, 0], [0, 1]], "no such uncertainty"),
        ([1, math.nan], [[1, 0], [0, 1]], "no such uncertainty"),
        ([1, 1], [[1, 0.5], [0.4, 1]], "row 1, column 2"),
        ([1, 1], [[1, 1.1], [1.1, 1]], "row 1, column 2"),
        ([1, 1], [[1, 0], [0, 0.9]], "row 2, column 2"),
        ([1, 1], [[1, math.nan], [math.nan, 1]], "row 1, column 2"),
        ([1, 1, 1], [[1, 0.9, -0.9], [0.9, 1, 0.9], [-0.9, 0.9, 1]], "contradict"),
    ],
)
def test_correlations_that_can_not_be_are_refused(
    u: list[float], r: list[list[float]], says: str
) -> None:
    with pytest.raises(ComputeError, match=says):
        propagated([[1.0] * len(u)], u, r)


def test_correlations_of_one_that_were_rounded_are_taken() -> None:
    """-0.588, -0.485 and 0.993, as the GUM prints them, have an eigenvalue a hair below 0."""
    printed = [[1, -0.588, -0.485], [-0.588, 1, 0.993], [-0.485, 0.993, 1]]
    assert np.linalg.eigvalsh(printed)[0] < 0
    ((found,),) = propagated([[1, 0, 0]], [0.071, 0.295, 0.236], printed)
    assert found == pytest.approx(0.071**2, rel=1e-12)
