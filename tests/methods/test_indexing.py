"""Teeth and edges at their index: planted spacing comes back, clamping is told from grinding."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.errors import ComputeError, InputError
from inspect_rec.methods.base import Given, Outcome
from inspect_rec.methods.register import named
from tests.methods.readings import (
    INDICATOR,
    alone,
    asked,
    indicated,
    numbers,
    per_flute,
    scatter_um,
)

RADIUS = 10.0
QUIET = replace(INDICATOR, half_step=0.0, repeat=1.0, expanded=0.0)
planted = st.lists(st.floats(-0.5, 0.5), min_size=2, max_size=9)


def offset(error_deg: float) -> float:
    """Tangential offset of a face at the radius, mm."""
    return math.radians(error_deg) * RADIUS


def equal(errors: list[float], which: str, **more: object) -> Outcome:
    read = per_flute([offset(e) for e in errors], QUIET)
    given_ = asked({"teeth": read}, radius_mm=RADIUS, which=which, **more)  # type: ignore[arg-type]
    return named("spacing, equal pitch").evaluate(given_)


def unequal(errors: list[float], nominal: list[float], index: list[float], **more: object) -> Given:
    """Teeth that stand ahead of their nominal angle by their errors, read at some index."""
    there = [n + e - i for n, e, i in zip(nominal, errors, index, strict=True)]
    read = indicated([offset(t) for t in there], index, instrument=QUIET)
    stated = {"which": "total", "plus": "ahead", **more}
    return asked({"teeth": read}, radius_mm=RADIUS, angles_deg=numbers(*nominal), **stated)  # type: ignore[arg-type]


@given(planted)
def test_the_spacing_that_was_planted_comes_back(errors: list[float]) -> None:
    total = equal(errors, "total")
    assert total.value == pytest.approx(max(errors) - min(errors), abs=1e-9)
    assert total.detail["errors_deg"] == pytest.approx(tuple(errors), abs=1e-9)
    steps = [errors[(n + 1) % len(errors)] - e for n, e in enumerate(errors)]
    adjacent = equal(errors, "adjacent")
    assert adjacent.value == pytest.approx(max(map(abs, steps)), abs=1e-9)
    assert adjacent.detail["adjacent_deg"] == pytest.approx(tuple(steps), abs=1e-9)


@given(planted, st.floats(-0.5, 0.5))
def test_a_tool_that_is_turned_whole_has_the_same_spacing(errors: list[float], by: float) -> None:
    turned = [e + by for e in errors]
    for which in ("adjacent", "total"):
        assert equal(turned, which).value == pytest.approx(equal(errors, which).value, abs=1e-9)


@given(
    st.lists(st.tuples(st.floats(-0.5, 0.5), st.floats(-0.2, 0.2)), min_size=4, max_size=4),
    st.floats(-400, 400),
)
def test_an_unequal_pitch_is_held_against_its_own_angles(
    teeth: list[tuple[float, float]], start: float
) -> None:
    nominal = [0.0, 85.0, 180.0, 262.0]
    errors = [error for error, _ in teeth]
    # The index itself is set a little off the nominal angle, and counts from anywhere.
    index = [n + off for n, (_, off) in zip(nominal, teeth, strict=True)]
    given_ = unequal(errors, nominal, index)
    elsewhere = replace(
        given_.series["teeth"], index=tuple((angle + start) % 360 for angle in index)
    )
    for series in (given_.series["teeth"], elsewhere):
        found = named("spacing, unequal pitch").evaluate(replace(given_, series={"teeth": series}))
        assert found.value == pytest.approx(max(errors) - min(errors), abs=1e-9)
    back = replace(
        given_.series["teeth"], taken=indicated([-t["indicator"] for t in elsewhere.taken]).taken
    )
    mirrored = replace(
        given_, series={"teeth": back}, parameters={**given_.parameters, "plus": "behind"}
    )
    found = named("spacing, unequal pitch").evaluate(mirrored)
    assert found.value == pytest.approx(max(errors) - min(errors), abs=1e-9)


def test_the_budget_of_a_spacing_agrees_with_trials() -> None:
    """One tooth far ahead and one far behind, so that the same two decide in every trial; where
    all stand alike, largest less smallest is biased upward, which no budget of two teeth holds."""
    only = alone(index_angle=0.03, indexing=2.0)
    errors = [0.0, 0.5, 0.0, -0.5]

    def once(random: np.random.Generator) -> float:
        read = [
            e
            + random.uniform(-0.03, 0.03)
            + math.degrees((random.normal(0, 1) + random.uniform(-2, 2)) * 1e-3 / RADIUS)
            for e in errors
        ]
        return equal(read, "total", influences=only).value

    u = equal(errors, "total", influences=only).budget.u
    assert u * 1000 == pytest.approx(scatter_um(once), rel=0.05)


def test_alike_teeth_read_larger_than_their_spacing_by_the_scatter_alone() -> None:
    """Expected: the mean range of six normal values is 2.534 of their deviation (from memory, a
    control chart's d2), here the budget's u
    over the root of two."""
    random = np.random.default_rng(3)
    one = equal([0.0] * 6, "total").budget.u / math.sqrt(2)
    found = [equal(list(random.normal(0, one, 6)), "total").value for _ in range(2000)]
    assert np.mean(found) == pytest.approx(2.534 * one, rel=0.03)


def test_a_larger_radius_makes_an_indicator_surer_of_a_spacing() -> None:
    read = per_flute([0.0, 0.01, 0.0])
    found = [
        named("spacing, equal pitch")
        .evaluate(asked({"teeth": read}, radius_mm=r, which="total", influences=alone()))
        .budget.u
        for r in (5, 10, 20)
    ]
    assert found[0] == pytest.approx(2 * found[1])
    assert found[1] == pytest.approx(2 * found[2])


def test_a_spacing_without_what_it_needs_is_refused() -> None:
    with pytest.raises(InputError, match="two or more"):
        equal([0.0], "total")
    with pytest.raises(InputError, match="adjacent or total"):
        equal([0.0, 0.1], "pitch")
    given_ = unequal([0.0, 0.0, 0.0], [0.0, 100.0, 200.0], [0.0, 100.0, 200.0])
    short = {**given_.parameters, "angles_deg": numbers(0, 100)}
    with pytest.raises(InputError, match="3 of each"):
        named("spacing, unequal pitch").evaluate(replace(given_, parameters=short))
    nought = {**given_.parameters, "radius_mm": numbers(0)[0]}
    with pytest.raises(ComputeError, match="radius"):
        named("spacing, unequal pitch").evaluate(replace(given_, parameters=nought))


def edges(mm: list[float], **more: object) -> Outcome:
    given_ = asked({"edges": per_flute(mm, QUIET)}, **more)  # type: ignore[arg-type]
    return named("variation of the edges by indicator").evaluate(given_)


@given(st.integers(3, 9), st.floats(0.001, 0.05), st.floats(0, 359), st.floats(-1, 1))
def test_clamping_out_of_the_middle_is_shown_and_never_taken_off(
    n: int, eccentric: float, high: float, zero: float
) -> None:
    turns = [2 * math.pi * k / n - math.radians(high) for k in range(n)]
    read = [zero + eccentric * math.cos(turn) for turn in turns]
    found = edges(read)
    assert found.value == pytest.approx(max(read) - min(read), abs=1e-9)
    assert found.detail["eccentricity_um"] == pytest.approx(eccentric * 1000, abs=1e-6)
    assert found.detail["remainder_um"] == pytest.approx(0, abs=1e-6)
    assert edges([-e for e in read]).value == pytest.approx(found.value, abs=1e-12)


def test_two_flutes_have_a_variation_and_no_harmonic() -> None:
    found = edges([0.0, 0.012])
    assert found.value == pytest.approx(0.012)
    assert "eccentricity_um" not in found.detail


def test_the_budget_of_a_variation_agrees_with_trials() -> None:
    only = alone(indexing=2.0)

    def once(random: np.random.Generator) -> float:
        read = [e + (random.normal(0, 1) + random.uniform(-2, 2)) * 1e-3 for e in (0.0, 0.05, 0.02)]
        return edges(read, influences=only).value

    u = edges([0.0, 0.05, 0.02], influences=only).budget.u
    assert u == pytest.approx(scatter_um(once), rel=0.05)
