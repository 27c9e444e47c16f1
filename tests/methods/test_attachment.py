"""Swing tests: the radius that was planted comes back, and a short swing is said to be short."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import partial
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.errors import ComputeError, InputError
from inspect_rec.methods.base import Given, Outcome, Series, Taken
from inspect_rec.methods.register import named
from tests.methods.readings import GAUGE, INDICATOR, alone, asked, indicated, scatter_um

offsets = st.floats(-0.02, 0.02)
QUIET = replace(INDICATOR, half_step=0.0, repeat=1.0, expanded=0.0)


def turns(span: float, n: int = 9, start: float = 0.0) -> list[float]:
    return [start + span * k / (n - 1) for k in range(n)]


def excess(radius: float, p: float, q: float, angles: list[float]) -> list[float]:
    """Distance of the tangent of a circle at (p, q) from the pivot, less the gauge's 5 mm."""
    return [
        radius - 5.0 + p * math.cos(math.radians(a)) + q * math.sin(math.radians(a)) for a in angles
    ]


def swung(
    e: list[float], angles: list[float], form: str = "convex", zero: float = 0.0, **more: object
) -> Given:
    read = indicated(e, angles, instrument=QUIET)
    gauge = indicated([zero], master=replace(GAUGE, expanded=0.0), instrument=QUIET)
    return asked({"swing": read, "gauge": gauge}, form=form, **more)  # type: ignore[arg-type]


def radius_of(given_: Given) -> Outcome:
    return named("radius by swing test").evaluate(given_)


@given(st.floats(4.9, 5.1), offsets, offsets, st.floats(60, 300), st.floats(-180, 180), offsets)
@settings(max_examples=50)
def test_a_swing_gives_back_the_radius_wherever_its_centre_stands(
    radius: float, p: float, q: float, span: float, start: float, zero: float
) -> None:
    angles = turns(span, start=start)
    outward = [e + zero for e in excess(radius, p, q, angles)]
    found = radius_of(swung(outward, angles, zero=zero))
    assert found.value == pytest.approx(radius, abs=1e-9)
    assert found.detail["p_um"] == pytest.approx(p * 1000, abs=1e-6)
    assert found.detail["q_um"] == pytest.approx(q * 1000, abs=1e-6)
    assert found.detail["span_deg"] == pytest.approx(span)
    assert not found.refusals
    inward = [zero - e for e in excess(radius, p, q, angles)]
    concave = radius_of(swung(inward, angles, "concave", zero=zero))
    assert concave.value == pytest.approx(radius, abs=1e-9)


@pytest.mark.parametrize("outward", [1, -1])
def test_a_sighted_swing_counts_the_slide_outward(outward: int) -> None:
    angles = turns(120)
    at = [40 + outward * e for e in excess(5.012, 0.004, -0.003, angles)]

    def sighted(places: list[float], index: tuple[float, ...]) -> Series:
        taken = (Taken(str(n), 1, 1, {"X": x, "Z": 0}, ("A", n)) for n, x in enumerate(places))
        read = indicated([]).instrument
        return Series("swing", tuple(taken), "slides", read, GAUGE, index)

    series = {"swing": sighted(at, tuple(angles)), "gauge": sighted([40.0], ())}
    given_ = asked(series, form="concave")
    found = named("radius by swing test, crosshair").evaluate(
        replace(given_, slides=replace(given_.slides, outward=outward))
    )
    assert found.value == pytest.approx(5.012, abs=1e-9)


def test_metal_left_is_plus_on_both_forms_and_the_form_is_what_the_circle_leaves() -> None:
    angles = turns(180, 13)
    bump = [0.003 * math.cos(math.radians(6 * a)) for a in angles]
    outward = [e + b for e, b in zip(excess(5, 0.01, 0, angles), bump, strict=True)]
    for form, read in (("convex", outward), ("concave", [-e for e in outward])):
        given_ = swung(read, angles, form)
        left = named("form by swing test").evaluate(given_)
        deviations = left.detail["deviations_mm"]
        assert isinstance(deviations, tuple)
        assert (deviations[0] > 0) is (form == "convex")
        assert left.value == pytest.approx(max(deviations) - min(deviations))
        assert left.value == pytest.approx(0.006, abs=0.001)
        assert radius_of(replace(given_, width=0.02)).refusals == ()
        assert "no circle" in radius_of(replace(given_, width=0.01)).refusals[0]


def test_a_swing_counts_the_gap_and_not_the_figures_of_its_index() -> None:
    angles = [340.0, 350.0, 0.0, 10.0, 20.0]
    found = radius_of(swung(excess(5, 0, 0, angles), angles))
    assert found.detail["span_deg"] == pytest.approx(40)
    assert "too short" in found.refusals[0]


@pytest.mark.parametrize("span", [30, 60, 90, 180, 300])
def test_the_budget_agrees_with_trials_on_a_swing_of_any_length(span: float) -> None:
    """The model is linear in radius and centre, so the budget holds on a short swing, too; it is
    large there, and the swing is refused."""
    angles = turns(span)
    exact = excess(5.0, 0.005, -0.003, angles)
    only = alone(index_angle=0.0)

    def once(random: np.random.Generator) -> float:
        read = [e + random.normal(0, 0.001) for e in exact]
        zero = float(random.normal(0, 0.001))
        return radius_of(swung(read, angles, zero=zero, influences=only)).value

    u = radius_of(swung(exact, angles, influences=only)).budget.u
    assert u == pytest.approx(scatter_um(once), rel=0.05)


def test_the_budget_agrees_with_trials_of_the_centre_and_of_the_index() -> None:
    angles = turns(150)
    exact = excess(5.0, 0.5, 0.3, angles)
    only = alone(index_angle=0.1)

    def value(part: str, random: np.random.Generator) -> float:
        there = [a + random.uniform(-0.1, 0.1) for a in angles]
        read = [e + random.normal(0, 0.001) for e in excess(5.0, 0.5, 0.3, there)]
        given_ = swung(read, angles, influences=only, part=part)
        return named("pivot offset by swing test").evaluate(given_).value

    for part, slack in (("along 0", 1.15), ("along 90", 1.15), ("amount", 1.5)):
        seen = scatter_um(partial(value, part))
        given_ = swung(exact, angles, influences=only, part=part)
        u = named("pivot offset by swing test").evaluate(given_).budget.u
        # The index counts with its largest slope, the amount in its worst direction: safe side.
        assert seen * 0.97 < u < seen * slack


def test_the_uncertainty_grows_as_the_swing_shrinks_and_a_short_one_is_refused() -> None:
    found = [
        radius_of(swung(excess(5, 0, 0, a), a)) for a in (turns(s) for s in (180, 120, 90, 60, 40))
    ]
    assert all(a.budget.u < b.budget.u for a, b in pairwise(found))
    assert [bool(f.refusals) for f in found] == [False, False, False, False, True]


def test_the_setting_gauge_goes_into_the_radius_one_to_one() -> None:
    angles = turns(120)

    def u(expanded: float) -> float:
        given_ = swung(excess(5, 0, 0, angles), angles)
        gauge = replace(given_.series["gauge"], master=replace(GAUGE, expanded=expanded))
        return radius_of(replace(given_, series={**given_.series, "gauge": gauge})).budget.u

    assert u(6.0) ** 2 - u(0.0) ** 2 == pytest.approx(3.0**2)


def test_readings_that_scatter_more_than_the_shop_says_lend_few_degrees_of_freedom() -> None:
    angles = turns(180, 7)
    rough = [e + 0.02 * (-1) ** n for n, e in enumerate(excess(5, 0, 0, angles))]
    found = radius_of(swung(rough, angles)).budget
    quiet = radius_of(swung(excess(5, 0, 0, angles), angles)).budget
    assert math.isinf(quiet.dof)
    assert found.dof == pytest.approx(4, rel=0.1)
    assert found.coverage_k > 2.5


def test_a_swing_without_angles_or_gauge_is_refused() -> None:
    angles = turns(120)
    given_ = swung(excess(5, 0, 0, angles), angles)
    short = replace(given_.series["swing"], index=())
    with pytest.raises(InputError, match="9 angles"):
        radius_of(replace(given_, series={**given_.series, "swing": short}))
    bare = replace(given_.series["gauge"], master=None)
    with pytest.raises(InputError, match="no master with a value"):
        radius_of(replace(given_, series={**given_.series, "gauge": bare}))
    with pytest.raises(InputError, match="convex or concave"):
        radius_of(swung(excess(5, 0, 0, angles), angles, "flat"))
    with pytest.raises(ComputeError, match="three angles"):
        radius_of(swung([0.0, 0.0, 0.0, 0.0], [0.0, 90.0, 0.0, 90.0]))
