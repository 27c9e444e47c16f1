"""Light on a profile: what the fit leaves of it, and what a radius master takes off it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from inspect_rec.compute import chain
from inspect_rec.compute.thermal import Body, Pair
from inspect_rec.compute.uncertainty import Component
from inspect_rec.methods.base import Given, Instrument, MasterBias, Outcome
from inspect_rec.methods.register import named
from tests.compute.test_chain import LINKS, ON
from tests.methods.readings import asked, points
from tests.methods.test_contours import ELEMENTS
from tests.methods.test_thermal import STEEL, WARM

RM = Instrument("RM-5", expanded=0.8, value=5.0)
NAME = "profile, radius held"
METAL = {"convex": 1.0, "concave": -1.0}
FORM = (0.003, -0.001, 0.002, 0.0, -0.002, 0.001, 0.003, -0.003, 0.0, 0.002, 0.001, -0.001, 0.002)


def arc(
    radius: float, form: str, bloom_mm: float = 0.0, half: float = 78, rough: bool = True
) -> list[tuple[float, float]]:
    """13 points about (40, 60), rough by some um, every one set off out of the metal."""
    found = []
    for n, off in enumerate(FORM):
        turn = math.radians(90 - half + n * half / 6)
        r = radius + METAL[form] * (bloom_mm + (off if rough else 0.0))
        found.append((40 + r * math.cos(turn), 60 + r * math.sin(turn)))
    return found


def given(
    form: str,
    bloom_mm: float = 0.0,
    *freedoms: str,
    master_mm: float | None = None,
    half: float = 78,
) -> Given:
    """A profile of nominal R 3; ``master_mm``: light on a master of R 5 sighted beside it."""
    stated = {"form": form, "radius_mm": 3, "centre_x_mm": 40, "centre_z_mm": 60}
    series = {"arc": points(arc(3, form, bloom_mm, half))}
    if master_mm is not None:
        on_master = points(arc(5, form, master_mm, rough=False))
        series["master"] = replace(on_master, master=RM)
    return asked(series, freedoms=freedoms or ("X", "Z"), **stated)  # type: ignore[arg-type]


def both(case: Given) -> tuple[Outcome, Outcome]:
    return tuple(named(NAME, version).evaluate(case) for version in (1, 2))  # type: ignore[return-value]


def row(found: Outcome, name: str) -> Component:
    return next(r for r in found.budget.components if r.name.startswith(name))


@pytest.mark.parametrize("form", METAL)
def test_without_a_master_the_values_stay_and_the_budget_counts_more(form: str) -> None:
    one, two = both(given(form))
    assert two.values == one.values
    assert {r.name for r in two.budget.components} - {r.name for r in one.budget.components} == {
        "light, as the fit leaves it",
        "backlash left over, one point",
    }


@pytest.mark.parametrize("freedoms", [("X", "Z"), ("X",), ("Z",)])
@pytest.mark.parametrize("half", [30.0, 78.0, 120.0])
def test_light_counts_by_the_largest_share_that_the_fit_leaves(
    half: float, freedoms: tuple[str, ...]
) -> None:
    """Against the residuals of a unit offset by the normal equations of numpy."""
    _, found = both(given("convex", 0.0, *freedoms, half=half))
    turns = np.radians(90 - half + np.arange(13) * half / 6)
    ways = {"X": np.cos(turns), "Z": np.sin(turns)}
    moves = np.column_stack([ways[each] for each in freedoms])
    ones = np.ones(13)
    left = ones - moves @ np.linalg.lstsq(moves, ones, rcond=None)[0]
    light = row(found, "light")
    assert light.sensitivity == pytest.approx(np.abs(left).max(), abs=0.006)
    assert light.u == pytest.approx(light.sensitivity * 3 / math.sqrt(3), rel=1e-9)
    assert light.common


@pytest.mark.parametrize("form", METAL)
@pytest.mark.parametrize("bloom_um", [-3.0, 2.5])
def test_light_that_the_master_shows_too_is_taken_off_each_point(
    form: str, bloom_um: float
) -> None:
    bare, lit = given(form), given(form, bloom_um / 1000, master_mm=bloom_um / 1000)
    off, found = both(lit)
    assert found.values == pytest.approx(both(bare)[0].values, abs=2e-6)
    assert max(abs(a - b) for a, b in zip(off.values, found.values, strict=True)) > 5e-4
    assert found.detail["bias_mm"] == pytest.approx(METAL[form] * bloom_um / 1000, abs=1e-7)


def test_with_a_master_its_check_its_calibration_and_its_drift_count_by_the_same_share() -> None:
    case = replace(given("convex", master_mm=0.001), drift={"master": 1.2})
    case = replace(case, bias={"master": MasterBias(1.0, 0.7)})
    _, found = both(case)
    share = row(both(given("convex"))[1], "light").sensitivity
    assert not [r for r in found.budget.components if r.name.startswith("light")]
    for name, u in (
        ("check of the radius master", 0.7),
        ("radius master, calibration", 0.4),
        ("drift of the radius master", 0.6 / math.sqrt(3)),
    ):
        assert row(found, name).u == pytest.approx(share * u)


def test_a_master_without_a_value_takes_nothing_off_and_light_counts() -> None:
    case = given("convex", 0.002, master_mm=0.002)
    master = replace(case.series["master"], master=replace(RM, value=None))
    _, found = both(replace(case, series={**case.series, "master": master}))
    assert found.values == both(given("convex", 0.002))[0].values
    assert row(found, "light").u > 0


def test_a_warm_master_is_larger_by_its_warmth_and_not_by_light() -> None:
    pair = Pair(Body("RM-5", STEEL, 6), None)
    case = given("convex", 0.002)
    true_um = (pair.shown(5.0) - 5.0) * 1000 + 2.0
    lit = replace(given("convex", 0.002, master_mm=0.0), bias={"master": MasterBias(true_um, 0.5)})
    tool = WARM.thermal.tool
    assert tool is not None
    still = replace(tool, body=replace(tool.body, away=0.0), scale=None)
    thermal = replace(WARM.thermal, tool=still, masters={"master": pair})
    _, found = both(replace(lit, thermal=thermal))
    assert found.detail["bias_mm"] == pytest.approx(0.002, abs=1e-9)
    assert found.values == pytest.approx(both(given("convex"))[0].values, abs=2e-6)
    missing = replace(
        thermal, masters={}, missing={"master": ("the temperature of RM-5 is missing",)}
    )
    _, refused = both(replace(lit, thermal=missing))
    assert refused.refusals == ("the temperature of RM-5 is missing: not corrected to 20 °C",)
    assert both(replace(case, thermal=thermal))[1].refusals == ()


def test_the_first_version_stays_as_it_was() -> None:
    assert named(NAME, 1).roles[0].name == "arc"
    assert [role.name for role in named(NAME, 2).roles] == ["arc", "master"]
    assert len(named(NAME, 1).roles) == 1
    assert "light" not in " ".join(r.name for r in both(given("convex"))[0].budget.components)


# -- a contour -------------------------------------------------------------------------


CONTOUR = "profile, contour"


def lit_contour(bloom_mm: float, *freedoms: str, master_mm: float | None = None) -> Given:
    """The contour of its own tests, every point set off out of the metal."""
    still = chain.fit_chain(ON, LINKS, ())
    ways = [math.radians(a) for a in chain.normals(still, LINKS)]
    read = points(
        [(x + bloom_mm * math.cos(t), z + bloom_mm * math.sin(t))
         for (x, z), t in zip(ON, ways, strict=True)]
    )  # fmt: skip
    series = {"points": read}
    if master_mm is not None:
        on_master = points(arc(5, "convex", master_mm, rough=False))
        series["master"] = replace(on_master, master=RM)
    return asked(series, elements=ELEMENTS, freedoms=freedoms or ("none",))


@pytest.mark.parametrize("freedoms", [(), ("X", "Z"), ("X", "Z", "rotation")])
def test_light_on_a_contour_is_taken_off_by_a_master_that_shows_it_too(
    freedoms: tuple[str, ...],
) -> None:
    one, two = (
        named(CONTOUR, version).evaluate(lit_contour(0.003, *freedoms, master_mm=0.003))
        for version in (1, 2)
    )
    assert max(map(abs, one.values)) > 5e-4
    assert max(map(abs, two.values)) < 1e-6


def test_light_on_a_contour_that_may_not_move_counts_in_full_and_else_by_what_stays() -> None:
    held = named(CONTOUR).evaluate(lit_contour(0.0))
    free = named(CONTOUR).evaluate(lit_contour(0.0, "X", "Z"))
    assert row(held, "light").sensitivity == pytest.approx(1.0, abs=0.005)
    lit = named(CONTOUR, 1).evaluate(lit_contour(0.001, "X", "Z"))
    largest = max(map(abs, lit.values)) / 0.001
    assert row(free, "light").sensitivity == pytest.approx(largest, abs=0.01)
