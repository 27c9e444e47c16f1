"""Many circles at once are the same circles as one by one."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from inspect_rec.compute import fitting
from inspect_rec.compute.circles import circles
from inspect_rec.errors import ComputeError


def rows(count: int, points: int, span: float) -> tuple[Any, Any]:
    random = np.random.default_rng(3)
    turns = np.radians(np.sort(random.uniform(0, span, (count, points)), axis=1))
    radius = random.uniform(2, 20, (count, 1)) + random.normal(0, 0.002, (count, points))
    middle = random.uniform(-100, 100, (2, count, 1))
    return middle[0] + radius * np.cos(turns), middle[1] + radius * np.sin(turns)


@pytest.mark.parametrize(("points", "span"), [(4, 360), (9, 180), (20, 360)])
def test_a_batch_gives_the_circles_one_by_one(points: int, span: float) -> None:
    x, z = rows(600, points, span)  # more than two blocks
    batch = circles(x, z)
    for k in range(len(x)):
        one = fitting.circle(list(zip(x[k].tolist(), z[k].tolist(), strict=True)))
        assert batch.radius_mm[k] == pytest.approx(one.radius_mm, rel=1e-9)
        assert batch.centre_x_mm[k] == pytest.approx(one.centre_x_mm, abs=1e-8)
        assert batch.centre_z_mm[k] == pytest.approx(one.centre_z_mm, abs=1e-8)
        assert batch.residual_std_mm[k] == pytest.approx(one.residual_std_mm, rel=1e-6, abs=1e-12)
        assert batch.u_r_over_s[k] == pytest.approx(one.u_r_over_s, rel=1e-6)


def test_the_arrays_given_are_left_alone() -> None:
    x, z = rows(3, 9, 180)
    before = x.copy(), z.copy()
    circles(x, z)
    assert (x == before[0]).all()
    assert (z == before[1]).all()


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_the_first_row_that_is_no_circle_is_named(bad: float) -> None:
    x, z = rows(300, 9, 180)
    x[270, 4] = bad
    with pytest.raises(ComputeError, match="row 270"):
        circles(x, z)
    x, z = rows(300, 9, 180)
    z[280] = x[280]
    with pytest.raises(ComputeError, match="row 280"):
        circles(x, z)


def test_no_rows_give_no_circles_and_rows_too_short_are_refused() -> None:
    assert circles(np.empty((0, 9)), np.empty((0, 9))).radius_mm.shape == (0,)
    with pytest.raises(ComputeError, match="4 points"):
        circles(np.zeros((5, 3)), np.zeros((5, 3)))
