"""Linear budgets against trials of the whole method: where they agree, and where the trials say no.

Only the amounts of the shop and the instruments go into a trial; the readings are put through the
method anew each time (JCGM 101).
"""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Any

import pytest

from inspect_rec.calculator import measuring, trying
from inspect_rec.calculator.measuring import Measured, Shelf
from inspect_rec.calculator.propagate import PROBABILITY
from inspect_rec.compute.montecarlo import Agreement, Propagated, agreement
from inspect_rec.methods.base import Instrument, Known
from inspect_rec.methods.register import named
from tests.methods.by_hand import Sample, measured
from tests.methods.by_hand_indicated import INDICATED
from tests.methods.by_hand_sighted import SIGHTED, about

MORE_THAN_TRIALS = {
    "form of an arc": "the fit takes part of each point's scatter up, two points are counted whole",
    "form by swing test": "the fit takes part of each reading's scatter up",
    "profile, radius held": "the fit takes part of each point's scatter up",
    "profile, contour": "the highest of several points moves less than one of them",
    "height against the axis by indicator": "the axis is read twice and counted once",
    "lead from travel and turn": "a flute that is touched across shows more along than a sighting",
}
"""Budgets on the safe side, and why."""

FEW = {"step at a blend", "tangency at a blend", "radius by swing test"}
"""What rests on one degree of freedom: Student's t has no standard deviation there."""

STRAIGHT = tuple(
    each for each in SIGHTED + INDICATED if each[0] not in MORE_THAN_TRIALS and each[0] not in FEW
)


def tried(found: Measured, number: int) -> Propagated:
    return trying.trials(found, number=number, seed=11)


def u_of(found: Measured) -> float:
    """u in the unit of the value."""
    return found.outcome.budget.u / (1 if found.method.unit == "deg" else 1000)


def ids(samples: tuple[tuple[str, Sample], ...]) -> list[str]:
    return [f"{name} {sample.case}" for name, sample in samples]


@pytest.mark.parametrize(("name", "sample"), STRAIGHT, ids=ids(STRAIGHT))
def test_a_budget_is_what_trials_of_the_method_scatter(name: str, sample: Sample) -> None:
    """1500 trials know a standard deviation to 1.8 %."""
    found = measured(name, sample.inputs)
    trials = tried(found, 1500)
    assert trials.u == pytest.approx(u_of(found), rel=0.075)
    assert trials.mean == pytest.approx(found.outcome.value, abs=0.2 * u_of(found))


@pytest.mark.parametrize("name", MORE_THAN_TRIALS)
def test_a_budget_on_the_safe_side_is_never_less_than_trials(name: str) -> None:
    sample = next(s for known, s in SIGHTED + INDICATED if known == name)
    found = measured(name, sample.inputs)
    assert 0.6 * u_of(found) < tried(found, 1500).u < 0.97 * u_of(found)


def said(found: Measured, number: int) -> Agreement:
    budget, trials = found.outcome.budget, tried(found, number)
    return agreement(found.outcome.value, u_of(found), budget.coverage_k, trials, PROBABILITY)


def arc(span: float, crosshair: float) -> Measured:
    points = about(20, 100, 5, [90 - span / 2 + span * k / 8 for k in range(9)])
    # Light is one rectangular part for all points; what is asked here is what the fit does.
    amounts = {"crosshair": crosshair, "light": 0.0}
    return measured("arc, free centre", {"arc": points, "influence": amounts})


def test_a_wide_arc_follows_its_budget_and_a_short_one_is_told_not_to() -> None:
    assert said(arc(180, 1.5), 4000) is not Agreement.DISAGREES
    assert said(arc(12, 4), 4000) is Agreement.DISAGREES
    assert arc(12, 4).outcome.refusals


def tangent(outside_um: float) -> Measured:
    """An arc and a straight that lies so far beyond it, many points of each."""
    x = 22 + outside_um / 1000
    typed: dict[str, Any] = {
        "arc": about(20, 100, 2, [45 * k for k in range(8)]),
        "straight": [[x, 99 - 2 * k] for k in range(3)],
        "form": "convex",
        "influence": {"edge": 0.0},
    }
    return measured("tangency at a blend", typed)


def test_an_angle_near_its_limit_is_told_not_to_follow_its_budget() -> None:
    """Where straight and arc are tangent the angle goes with the root of the step, and none lies
    below 0: trials lie to one side. Far from there they lie to both."""
    near, far = tangent(-0.3), tangent(-200.0)
    assert said(near, 1000) is Agreement.DISAGREES
    assert tried(near, 1000).low >= 0
    assert near.outcome.value - 2 * u_of(near) < 0
    assert tried(far, 1000).u == pytest.approx(u_of(far), rel=0.08)


def steep(kappa: float) -> Measured:
    """An edge so far from the axis, its two points 1 mm apart."""
    k = math.radians(kappa)
    edge = [[30, 50], [30 + math.sin(k), 50 - math.cos(k)]]
    return measured("angle by two points", {"edge": edge, "influence": {"crosshair": 8.0}})


def test_an_edge_square_to_the_axis_is_folded_and_trials_say_so() -> None:
    """An angle against the axis ends at 90 deg: trials beyond it come back."""
    assert tried(steep(60), 4000).u == pytest.approx(u_of(steep(60)), rel=0.06)
    folded = tried(steep(90), 4000)
    assert folded.high <= 90.2
    assert folded.u < 0.8 * u_of(steep(90))
    assert said(steep(90), 4000) is Agreement.DISAGREES


def test_readings_known_from_few_repeats_are_drawn_from_students_t() -> None:
    """JCGM 101, 6.4.9.2 (from memory): a t of 6 degrees of freedom has the variance 6 / 4."""
    own = Known(Decimal("1.5"), dof=6, study="crosshair")
    quiet = dict.fromkeys(("light", "backlash"), Decimal(0))
    zero = {name: Known(amount) for name, amount in quiet.items()}
    shelf = Shelf({"crosshair": own, **zero}, {"slides": Instrument("RO-1", half_step=0.0)})
    typed = {"edges": {"greater": 15.318, "smaller": 14.706}}
    found = measuring.measured(named("width by two sightings, no master"), typed, shelf)
    assert found.outcome.budget.dof == pytest.approx(6)
    trials = tried(found, 20_000)
    assert trials.u == pytest.approx(u_of(found) * math.sqrt(6 / 4), rel=0.03)
