"""The line with uncertainty in both axes: published, against other routes, and its coverage."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares, minimize_scalar

from inspect_rec.compute import fitting
from inspect_rec.compute.regression import regression
from inspect_rec.compute.weighted_line import weighted_line
from inspect_rec.errors import ComputeError
from tests.compute.published import cases, inputs

Four = tuple[list[float], list[float], list[float], list[float]]
Floats = npt.NDArray[np.float64]
CASE = "line-york-weighted"


def york() -> Four:
    given_ = inputs(CASE)
    u_x, u_y = ([w**-0.5 for w in given_[f"weight_{axis}"]] for axis in "xy")
    return given_["x"], given_["y"], u_x, u_y


@st.composite
def lines(draw: st.DrawFn) -> Four:
    n = draw(st.integers(4, 12))
    slope, start = draw(st.floats(-3, 3)), draw(st.floats(-50, 50))
    u_x = draw(st.lists(st.floats(0.01, 0.3), min_size=n, max_size=n))
    u_y = draw(st.lists(st.floats(0.01, 0.3), min_size=n, max_size=n))
    off = draw(st.lists(st.floats(-2, 2), min_size=2 * n, max_size=2 * n))
    x = [k + e * u for k, (e, u) in enumerate(zip(off, u_x, strict=False))]
    y = [start + slope * k + e * u for k, (e, u) in enumerate(zip(off[n:], u_y, strict=True))]
    return x, y, u_x, u_y


def test_pearsons_data_with_yorks_weights() -> None:
    found = weighted_line(*york())
    for name, wanted in cases()[CASE]["expect"].items():
        assert getattr(found, name) == pytest.approx(wanted["value"], abs=wanted["tol"]), name


def squares(points: Four, b: float) -> float:
    """The smallest sum of squares at a slope: weighted residuals about the weighted mean."""
    x, y, u_x, u_y = map(np.asarray, points)
    w = 1 / (u_y**2 + (b * u_x) ** 2)
    left = y - b * x
    return float((w * (left - np.average(left, weights=w)) ** 2).sum())


@given(lines())
@settings(max_examples=60, deadline=None)
def test_no_other_slope_leaves_less(points: Four) -> None:
    found = weighted_line(*points)
    assert found.reduced_chi_square * found.dof == pytest.approx(
        squares(points, found.slope), rel=1e-9, abs=1e-12
    )
    least = min(squares(points, math.tan(math.radians(a))) for a in np.arange(-89.5, 90, 0.5))
    assert squares(points, found.slope) <= least * (1 + 1e-12) + 1e-15
    near = minimize_scalar(
        lambda b: squares(points, b),
        bracket=(found.slope - 0.01, found.slope + 0.01),
        options={"xtol": 1e-10},
    )
    assert found.slope == pytest.approx(near.x, abs=3e-6)


def test_slope_intercept_and_their_uncertainties_are_those_of_a_fit_of_all_true_points() -> None:
    """General least squares with the true x of each point as unknowns, and its own covariance."""
    x, y, u_x, u_y = map(np.asarray, york())

    def off(p: Floats) -> Floats:
        true = p[2:]
        return np.concatenate([(true - x) / u_x, (p[0] + p[1] * true - y) / u_y])

    start = np.concatenate([[5, -0.5], x])
    theirs = least_squares(off, start, xtol=1e-15, ftol=1e-15, gtol=1e-15)
    found = weighted_line(*york())
    assert [found.intercept, found.slope] == pytest.approx(theirs.x[:2], rel=1e-7)
    assert found.reduced_chi_square == pytest.approx(2 * theirs.cost / 8, rel=1e-9)
    cov = np.linalg.inv(theirs.jac.T @ theirs.jac)[:2, :2]
    assert [found.u_intercept, found.u_slope] == pytest.approx(np.sqrt(np.diag(cov)), rel=1e-6)
    r = cov[0, 1] / math.sqrt(cov[0, 0] * cov[1, 1])
    assert found.correlation == pytest.approx(r, abs=1e-6)


@given(lines())
@settings(max_examples=60, deadline=None)
def test_where_x_is_known_it_is_weighted_least_squares_of_y_over_x(points: Four) -> None:
    x, y, _, u_y = points
    found = weighted_line(x, y, [0.0] * len(x), u_y)
    (slope, intercept), cov = np.polyfit(x, y, 1, w=1 / np.asarray(u_y), cov="unscaled")
    assert found.slope == pytest.approx(slope, rel=1e-8, abs=1e-10)
    assert found.intercept == pytest.approx(intercept, rel=1e-8, abs=1e-8)
    assert [found.u_slope, found.u_intercept] == pytest.approx(np.sqrt(np.diag(cov)), rel=1e-8)


def test_with_one_uncertainty_for_all_it_is_the_orthogonal_line() -> None:
    x, y = york()[:2]
    found = weighted_line(x, y, [0.2] * 10, [0.2] * 10)
    theirs = fitting.line(list(zip(x, y, strict=True)))
    assert math.degrees(math.atan(found.slope)) == pytest.approx(theirs.angle_deg, abs=1e-10)
    free = theirs.residual_std_mm**2 / 0.2**2
    assert found.reduced_chi_square == pytest.approx(free, rel=1e-9)


@given(lines(), st.floats(-1000, 1000), st.sampled_from([0.001, 1000.0]))
@settings(max_examples=60, deadline=None)
def test_another_datum_and_another_unit_give_the_same_line(
    points: Four, shift: float, scale: float
) -> None:
    x, y, u_x, u_y = points
    one = weighted_line(*points)
    other = weighted_line([scale * v + shift for v in x], y, [scale * u for u in u_x], u_y)
    assert other.slope * scale == pytest.approx(one.slope, rel=1e-7, abs=1e-9)
    assert other.u_slope * scale == pytest.approx(one.u_slope, rel=1e-7)
    there, here = other.at(shift + 2 * scale), one.at(2)
    assert there[0] == pytest.approx(here[0], rel=1e-7, abs=1e-7)
    # Far from the datum two large uncertainties nearly cancel.
    assert there[1] == pytest.approx(here[1], rel=1e-3)


def test_the_stated_uncertainties_are_how_much_the_line_scatters() -> None:
    rng, runs = np.random.default_rng(11), 2000
    x = np.array([0.0, 1, 2, 4, 5, 8, 9])
    u_x, u_y = np.full(7, 0.02), np.array([0.01, 0.02, 0.05, 0.02, 0.01, 0.03, 0.02])
    found = [
        weighted_line(
            list(x + u_x * rng.standard_normal(7)),
            list(3 - 0.7 * x + u_y * rng.standard_normal(7)),
            list(u_x),
            list(u_y),
        )
        for _ in range(runs)
    ]
    for name in ("slope", "intercept"):
        spread = float(np.std([getattr(f, name) for f in found]))
        stated = float(np.mean([getattr(f, f"u_{name}") for f in found]))
        assert spread == pytest.approx(stated, rel=4 / math.sqrt(2 * runs)), name
    at = [f.at(12.0) for f in found]
    spread, stated = float(np.std([y for y, _ in at])), float(np.mean([u for _, u in at]))
    assert spread == pytest.approx(stated, rel=4 / math.sqrt(2 * runs))
    mean = float(np.mean([f.reduced_chi_square for f in found]))
    assert mean == pytest.approx(1, abs=4 * math.sqrt(2 / 5 / runs))


def test_the_thermometer_of_the_gum_is_predicted_with_its_correlation() -> None:
    """JCGM 100:2008, H.3 (from memory): with the residual scatter as u of each reading the
    prediction at 30 degC is -0.1494, u 0.0041, correlation -0.930."""
    given_ = inputs("gum-h3-thermometer-line")
    wanted = cases()["gum-h3-thermometer-line"]["expect"]
    over = [t - given_["reference_degC"] for t in given_["reading_degC"]]
    s = regression(over, given_["correction_degC"]).residual_std
    found = weighted_line(over, given_["correction_degC"], [0.0] * 11, [s] * 11)
    y, u = found.at(given_["predict_at_degC"] - given_["reference_degC"])
    for ours, name in (
        (y, "prediction_degC"),
        (u, "u_prediction_degC"),
        (found.correlation, "correlation"),
        (found.u_intercept, "u_y1_degC"),
        (found.u_slope, "u_y2"),
        (found.dof, "dof"),
    ):
        assert ours == pytest.approx(wanted[name]["value"], abs=wanted[name]["tol"]), name


def test_a_steep_line_is_found_where_least_squares_of_y_starts_far_off() -> None:
    x, y = [0.0, 1, 0, -1, 0], [0.0, 10, 20, 30, 40]
    found = weighted_line(x, y, [1.0] * 5, [1.0] * 5)
    assert abs(regression(x, y).slope) < 11
    assert found.slope == pytest.approx(
        math.tan(math.radians(fitting.line(list(zip(x, y, strict=True))).angle_deg)), rel=1e-9
    )
    assert abs(found.slope) > 30


def test_a_slope_at_which_the_sum_is_largest_is_no_fit() -> None:
    """Along x the four points scatter less than along y, and York's step rests at slope 0."""
    x, y, u = [0.0, 1, 0, 1], [0.0, 0, 1.01, 1.01], [1.0] * 4
    with pytest.raises(ComputeError, match="Exchange x and y"):
        weighted_line(x, y, u, u)
    assert weighted_line(y, x, u, u).slope == pytest.approx(0, abs=1e-12)


def test_a_level_line_is_one() -> None:
    found = weighted_line([0, 1, 2], [5, 5, 5], [0.1] * 3, [0.1] * 3)
    assert (found.slope, found.intercept, found.reduced_chi_square) == (0, 5, 0)


@pytest.mark.parametrize(
    ("given_", "says"),
    [
        (([1, 2], [1, 2], [0, 0], [1, 1]), "too few"),
        (([1, 1, 1], [1, 2, 3], [0, 0, 0], [1, 1, 1]), "one place"),
        (([1, 2, 3], [1, 2, 3], [0, 0], [1, 1, 1]), "both its uncertainties"),
        (([1, 2, 3], [1, 2, 3], [0, 0, 0], [1, 1]), "both its uncertainties"),
        (([1, 2, 3], [1, 2, 3], [0, 0, 0], [1, 0, 1]), "exchange them"),
        (([1, 2, 3], [1, 2, 3], [0, -1, 0], [1, 1, 1]), "no such uncertainty"),
        (([1, 2, 3], [1, 2, 3], [0, math.nan, 0], [1, 1, 1]), "no such uncertainty"),
        (([1, 2, 3], [1, 2, 3], [0, 0, 0], [1, math.inf, 1]), "no such uncertainty"),
    ],
)
def test_what_is_no_line_or_no_uncertainty_is_refused(given_: Four, says: str) -> None:
    with pytest.raises(ComputeError, match=says):
        weighted_line(*given_)
