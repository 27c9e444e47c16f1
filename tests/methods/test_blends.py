"""Blends: planted steps and angles come back, and near tangency the budget stays on its side."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.compute.blend import blend, corner
from inspect_rec.methods.base import Outcome
from inspect_rec.methods.register import named
from tests.compute.test_blend import Pairs, between, nose
from tests.methods.readings import alone, asked, points, scatter_um
from tests.methods.test_arcs import rough

ONLY = alone(crosshair=1.5)


def judged(name: str, arc: Pairs, straight: Pairs, form: str = "convex", **more: object) -> Outcome:
    series = {"arc": points(arc), "straight": points(straight)}
    return named(name).evaluate(asked(series, form=form, **more))  # type: ignore[arg-type]


def step_of(arc: Pairs, straight: Pairs, form: str = "convex", **more: object) -> Outcome:
    return judged("step at a blend", arc, straight, form, **more)


def tangency_of(arc: Pairs, straight: Pairs, **more: object) -> Outcome:
    return judged("tangency at a blend", arc, straight, **more)  # type: ignore[arg-type]


@given(st.floats(1, 20), st.floats(-0.02, 0.02))
def test_a_step_counts_plus_where_the_straight_stands_proud(radius: float, outside: float) -> None:
    read = nose(radius, outside)
    assert step_of(*read).value == pytest.approx(outside, abs=1e-9)
    assert step_of(*read, "concave").value == pytest.approx(-outside, abs=1e-9)


@pytest.mark.parametrize("outside", [-0.01, 0.0, 0.01])
def test_the_budget_of_a_step_agrees_with_trials(outside: float) -> None:
    arc, straight = nose(5.0, outside)
    seen = scatter_um(lambda r: blend(rough(arc, r), rough(straight, r)).outside_mm)
    assert step_of(arc, straight, influences=ONLY).budget.u == pytest.approx(seen, rel=0.05)


def test_a_step_is_less_certain_the_shorter_its_arc() -> None:
    arc, straight = nose(5.0, 0.0)
    found = [step_of(arc[:n], straight).budget.u for n in (9, 7, 5, 4)]
    assert all(a < b for a, b in pairwise(found))


def test_an_arc_that_is_no_circle_lends_few_degrees_of_freedom() -> None:
    arc, straight = nose(5.0, 0.0)
    bad = [(x + 0.03 * (-1) ** n, z) for n, (x, z) in enumerate(arc)]
    found = step_of(bad, straight).budget
    assert found.dof == pytest.approx(len(arc) + len(straight) - 5, rel=0.05)
    assert math.isinf(step_of(arc, straight).budget.dof)


@given(st.floats(1, 20), st.floats(1, 30))
def test_the_angle_at_which_a_straight_meets_an_arc_comes_back(radius: float, angle: float) -> None:
    read = nose(radius, -radius * (1 - math.cos(math.radians(angle))))
    assert tangency_of(*read).value == pytest.approx(angle, abs=1e-6)
    at = radius * math.sin(math.radians(angle / 2))
    assert tangency_of(*read, place_mm=at).value == pytest.approx(angle / 2, abs=1e-6)


@pytest.mark.parametrize("angle", [8.0, 20.0])
def test_the_budget_of_a_meeting_angle_agrees_with_trials_where_it_is_clear(angle: float) -> None:
    arc, straight = nose(5.0, -5.0 * (1 - math.cos(math.radians(angle))))
    u = tangency_of(arc, straight, influences=ONLY).budget.u
    seen = scatter_um(lambda r: blend(rough(arc, r), rough(straight, r)).meeting_deg)
    assert u * 1000 == pytest.approx(seen, rel=0.06)


def test_near_tangency_the_angle_goes_with_the_root_of_the_step_and_u_is_that_of_one_step() -> None:
    """At 1 deg the straight cuts in by 0.8 um, less than one u of the step: half of the trials
    don't meet at all. The budget then states the angle of a step of one u, which isn't less than
    what is seen, but no more than twice of it; a straight that doesn't meet is refused."""
    arc, straight = nose(5.0, -5.0 * (1 - math.cos(math.radians(1.0))))
    found = tangency_of(arc, straight, influences=ONLY)
    seen = scatter_um(lambda r: blend(rough(arc, r), rough(straight, r)).meeting_deg)
    assert seen * 0.8 < found.budget.u * 1000 < 2 * seen
    apart = tangency_of(*nose(5.0, 0.004))
    assert apart.value == 0
    assert "4.0 µm lie between them" in apart.refusals[0]
    assert tangency_of(*nose(5.0, 0.004), place_mm=0.0).refusals == ()


def test_the_budget_of_an_angle_at_a_stated_place_agrees_with_trials() -> None:
    arc, straight = nose(5.0, 0.0)
    u = tangency_of(arc, straight, place_mm=0.5, influences=ONLY).budget.u
    seen = scatter_um(lambda r: blend(rough(arc, r), rough(straight, r)).angle_at(0.5, 1))
    assert u * 1000 == pytest.approx(seen, rel=0.05)


def corner_of(groups: tuple[Pairs, Pairs, Pairs], **more: object) -> Outcome:
    series = dict(zip(("arc", "side", "end"), map(points, groups), strict=True))
    given_ = asked(series, form="convex", **more)  # type: ignore[arg-type]
    return named("corner radius between two straights").evaluate(given_)


@given(st.floats(0.2, 10), st.floats(-5, 30))
@settings(max_examples=40)
def test_a_corner_radius_comes_back_with_nothing_left_at_its_blends(
    radius: float, dish: float
) -> None:
    found = corner_of(between(radius, dish))
    assert found.value == pytest.approx(radius, abs=1e-9)
    assert found.detail["free_radius_mm"] == pytest.approx(radius, abs=1e-9)
    assert found.detail["step_side_um"] == pytest.approx(0, abs=1e-6)
    assert found.detail["span_deg"] == pytest.approx(90 + dish, abs=1e-6)


def test_a_corner_held_to_its_straights_is_surer_than_a_free_one_and_agrees_with_trials() -> None:
    groups = between(2.0, 0.0)
    u = corner_of(groups, influences=ONLY).budget.u

    def once(random: np.random.Generator) -> float:
        arc, side, end = (rough(group, random) for group in groups)
        return corner(arc, side, end).radius_mm

    assert u == pytest.approx(scatter_um(once), rel=0.05)
    free = asked({"arc": points(groups[0])}, influences=ONLY)
    assert u < named("arc, free centre").evaluate(free).budget.u


def test_a_corner_that_steps_down_to_its_side_shows_that_and_has_a_form() -> None:
    arc, side, end = between(2.0, 0.0)
    proud = [(x + 0.01, z) for x, z in side]
    found = corner_of((arc, proud, end), width=0.05)
    assert found.detail["step_side_um"] == pytest.approx(10, abs=0.01)
    assert found.detail["step_end_um"] == pytest.approx(0, abs=0.01)
    assert found.refusals == ()
    assert "no smooth corner" in corner_of((arc, proud, end), width=0.01).refusals[0]
