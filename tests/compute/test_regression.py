"""The line of y on x against certified and published ones."""

from __future__ import annotations

import math

import pytest

from inspect_rec.compute.regression import regression
from inspect_rec.errors import ComputeError
from tests.compute.published import cases, inputs


def test_norris_of_the_nist_reference_datasets() -> None:
    """NIST StRD, Norris: certified values."""
    given, wanted = inputs("line-ols-norris"), cases()["line-ols-norris"]["expect"]
    found = regression(given["x"], given["y"])
    for name in ("intercept", "slope", "u_intercept", "u_slope", "residual_std"):
        want = wanted[name]
        assert getattr(found, name) == pytest.approx(want["value"], abs=want["tol"]), name


def test_the_thermometer_of_the_gum() -> None:
    """JCGM 100:2008, H.3 (quoted from memory): correction over the reading less 20 degC."""
    given, wanted = inputs("gum-h3-thermometer-line"), cases()["gum-h3-thermometer-line"]["expect"]
    over = [t - given["reference_degC"] for t in given["reading_degC"]]
    found = regression(over, given["correction_degC"])
    for ours, name in (
        (found.intercept, "y1_degC"),
        (found.u_intercept, "u_y1_degC"),
        (found.slope, "y2"),
        (found.u_slope, "u_y2"),
        (found.residual_std, "residual_std_degC"),
    ):
        assert ours == pytest.approx(wanted[name]["value"], abs=wanted[name]["tol"]), name


def test_lines_that_are_none_are_refused() -> None:
    with pytest.raises(ComputeError, match="one place"):
        regression([1, 1, 1], [1, 2, 3])
    with pytest.raises(ComputeError, match="too few"):
        regression([1, 2], [1, 2])
    with pytest.raises(ComputeError, match="no number"):
        regression([1, 2, math.nan], [1, 2, 3])
