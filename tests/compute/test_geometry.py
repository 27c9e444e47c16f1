"""Clearances from a drop: the slopes that the budget uses are those of the formula."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.compute import geometry
from inspect_rec.compute.geometry import Relief
from inspect_rec.errors import ComputeError

Method = Callable[[float, float, float], Relief]


@pytest.mark.parametrize("relief", [geometry.rolled_flat, geometry.rolled_eccentric])
@given(st.floats(0.005, 0.2), st.floats(3, 15), st.floats(2, 20))
def test_the_stated_slopes_are_those_of_the_formula(
    relief: Method, drop: float, roll: float, radius: float
) -> None:
    found = relief(drop, roll, radius)

    def slope(change: Callable[[float], Relief], step: float) -> float:
        up, down = change(step), change(-step)
        return (up.clearance_deg - down.clearance_deg) / (2 * step)

    by_drop = slope(lambda s: relief(drop + s, roll, radius), 1e-6) / 1000
    by_roll = slope(lambda s: relief(drop, roll + s, radius), 1e-4)
    by_radius = slope(lambda s: relief(drop, roll, radius + s), 1e-4)
    assert found.per_drop_deg_per_um == pytest.approx(by_drop, rel=1e-4, abs=1e-6)
    assert found.per_roll_deg_per_deg == pytest.approx(by_roll, rel=1e-4, abs=1e-6)
    assert found.per_radius_deg_per_mm == pytest.approx(by_radius, rel=1e-4, abs=1e-6)


@given(st.floats(2, 14), st.floats(2, 10), st.floats(2, 20))
def test_a_flat_land_drawn_and_rolled_gives_its_own_angle_back(
    clearance: float, roll: float, radius: float
) -> None:
    """Forward model: the land is a line through the edge; rolled, the point under the indicator
    is where that line meets the ray at the angle rolled."""
    a, p = math.radians(clearance), math.radians(roll)
    reach = radius * math.cos(a) / math.cos(a - p) if math.cos(a - p) else 0
    under = radius / (math.cos(p) + math.tan(a) * math.sin(p))
    assert reach == pytest.approx(under, rel=1e-9)
    drop = radius - under
    if 0 < drop < radius:
        assert geometry.rolled_flat(drop, roll, radius).clearance_deg == pytest.approx(
            clearance, abs=1e-9
        )


@pytest.mark.parametrize(
    ("drop", "roll", "radius"), [(0.1, 0, 5), (6, 7, 5), (0.1, 90, 5), (0, 7, 0)]
)
def test_drops_that_can_not_be_are_refused(drop: float, roll: float, radius: float) -> None:
    with pytest.raises(ComputeError):
        geometry.rolled_flat(drop, roll, radius)
