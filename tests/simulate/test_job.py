"""A job on the simulated machine: masters before and after, refused as the program refuses it."""

from __future__ import annotations

import pytest

from inspect_rec.methods.register import named
from inspect_rec.simulate.job import Measured, measured
from inspect_rec.simulate.known import tools
from inspect_rec.simulate.machine import BUDGETS, NONE, Errors, Spread, errors

WIDTH = "width by two sightings"
BALL = "arc, centre on the axis"


def job(method: str, of: Errors, seed: str = "1", case: str = "") -> Measured:
    return measured(named(method), tools()[method][case], of, seed)


def one(name: str, amount: float) -> Errors:
    return Errors("one", {name: Spread(amount, "fixed")})


def test_the_master_is_sighted_before_and_after_and_its_drift_is_in_the_budget() -> None:
    found = job(WIDTH, errors(BUDGETS), "2")
    master, edges = found.given.series["master"], found.given.series["edges"]
    assert max(t.at for t in master.taken) < min(t.at for t in edges.taken)
    assert max(t.at for t in edges.taken) < min(t.at for t in master.after)
    assert found.given.drift["master"] != 0
    assert any("drift" in row.name for row in found.outcome.budget.components)


def test_a_radius_master_that_the_light_moves_refuses_a_job_that_does_not_take_it_off() -> None:
    make, first = tools()[BALL][""], named(BALL, 1)
    assert measured(first, make, one("light", 1.0), "1").refusals == ()
    assert "is off by" in measured(first, make, one("light", 8.0), "1").refusals[0]


def test_what_the_light_does_to_tool_and_radius_master_is_taken_off() -> None:
    found = job(BALL, one("light", 8.0))
    assert found.refusals == ()
    assert abs(found.errors[0]) < 1e-6


def test_a_steady_drift_hardly_shows_in_a_width_and_shows_where_the_axis_was_sighted_before() -> (
    None
):
    """A width is a difference within seconds; its master's check doesn't see the drift, either."""
    found = job(WIDTH, one("drift", 100.0))
    assert found.refusals == ()
    assert abs(found.errors[0]) < 0.005
    assert abs(job("edge to axis", one("drift", 100.0)).errors[0]) > abs(found.errors[0])


def test_the_tool_is_the_same_whatever_the_errors() -> None:
    assert job(BALL, NONE).truth == job(BALL, errors(BUDGETS)).truth
    assert job(BALL, NONE).truth != job(BALL, NONE, "2").truth


def test_a_variation_is_of_the_flutes_of_one_tool_that_share_one_axis() -> None:
    """A clamping that moves the axis moves every flute alike, and the variation not at all."""
    case = "radius of the edges"
    found = job("variation over the flutes", one("clamping", 50.0), case=case)
    assert len(found.given.others) >= 3
    assert found.errors[0] == pytest.approx(0, abs=1e-9)
    radius = job("edge to axis", one("clamping", 50.0))
    assert abs(radius.errors[0]) == pytest.approx(0.05)


def test_a_value_in_degrees_has_its_uncertainty_in_degrees_and_a_length_in_mm() -> None:
    angle, length = job("angle by two points", NONE), job(WIDTH, NONE)
    assert angle.u == angle.outcome.budget.u
    assert length.u == pytest.approx(length.outcome.budget.u / 1000)
    assert pytest.approx(length.outcome.budget.expanded / 1000) == length.U
