"""Arcs: a known arc comes back under every way of holding it, and a short one is told as such."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.compute import fitting, geometry
from inspect_rec.compute.fitting import circle
from inspect_rec.errors import InputError
from inspect_rec.methods.base import Outcome, Series, Taken
from inspect_rec.methods.register import named
from tests.methods.readings import READOUT, alone, asked, points, scatter_um

places = st.floats(-80, 80)
Pairs = list[tuple[float, float]]


def arc(
    radius: float,
    span: float,
    n: int = 9,
    *,
    centre: tuple[float, float] = (0, 0),
    start: float = 5,
) -> Pairs:
    turns = [math.radians(start + span * k / (n - 1)) for k in range(n)]
    return [(centre[0] + radius * math.cos(t), centre[1] + radius * math.sin(t)) for t in turns]


def rough(exact: Pairs, random: np.random.Generator, s_um: float = 1.5) -> Pairs:
    off = random.normal(0, s_um / 1000, (len(exact), 2))
    return [(x + dx, z + dz) for (x, z), (dx, dz) in zip(exact, off, strict=True)]


def held(read: Pairs, centre: tuple[float, float] = (0, 0), **more: object) -> Outcome:
    given_ = asked({"arc": points(read)}, centre_x_mm=centre[0], centre_z_mm=centre[1], **more)  # type: ignore[arg-type]
    return named("arc, centre held").evaluate(given_)


@given(st.floats(1, 20), st.floats(5, 300), st.tuples(places, places), st.floats(-180, 180))
@settings(max_examples=50)
def test_a_radius_about_a_held_centre_comes_back_even_from_a_short_arc(
    radius: float, span: float, centre: tuple[float, float], start: float
) -> None:
    found = held(arc(radius, span, centre=centre, start=start), centre)
    assert found.value == pytest.approx(radius, abs=1e-9)
    assert found.refusals == ()


@pytest.mark.parametrize("span", [20, 80, 160])
def test_the_budget_about_a_held_centre_agrees_with_trials_of_points_and_pivot(span: float) -> None:
    only = alone(crosshair=1.5, place_of_the_pivot=2.0)
    exact = arc(5, span)

    def once(random: np.random.Generator) -> float:
        x, z = random.uniform(-0.002, 0.002, 2)
        return held(rough(exact, random), (float(x), float(z))).value

    assert held(exact, influences=only).budget.u == pytest.approx(scatter_um(once), rel=0.05)


def test_a_shorter_arc_about_a_held_centre_hangs_more_on_the_pivot_and_less_than_a_free_one() -> (
    None
):
    only = alone(crosshair=1.5, place_of_the_pivot=2.0)
    u = [held(arc(5, span), influences=only).budget.u for span in (300, 180, 90, 45, 20)]
    assert all(a < b for a, b in pairwise(u))
    free = named("arc, free centre").evaluate(
        asked({"arc": points(arc(5, 90))}, influences=alone(crosshair=1.5))
    )
    assert u[2] < free.budget.u


def three(read: Pairs, **more: object) -> Outcome:
    taken = tuple(
        Taken(mark, n, None, {"X": x, "Z": z}, ("A", n))
        for n, ((x, z), mark) in enumerate(zip(read, ("first", "middle", "last"), strict=True))
    )
    series = {"arc": Series("arc", taken, "slides", READOUT)}
    return named("radius from chord and rise").evaluate(asked(series, **more))  # type: ignore[arg-type]


@given(
    st.floats(1, 20), st.floats(70, 180), st.floats(0.2, 0.8), st.floats(-180, 180), places, places
)
@settings(max_examples=50)
def test_three_points_give_the_radius_wherever_the_middle_one_lies(
    radius: float, span: float, part: float, start: float, x: float, z: float
) -> None:
    on = [math.radians(start + span * p) for p in (0, part, 1)]
    read = [(x + radius * math.cos(t), z + radius * math.sin(t)) for t in on]
    found = three(read)
    assert found.value == pytest.approx(radius, rel=1e-9)
    assert three(read[::-1]).value == pytest.approx(radius, rel=1e-9)
    chord, rise, off = (found.detail[k] for k in ("chord_mm", "rise_mm", "off_middle_mm"))
    assert isinstance(chord, float)
    assert isinstance(rise, float)
    assert isinstance(off, float)
    assert chord == pytest.approx(2 * radius * math.sin(math.radians(span / 2)))
    if abs(off) < 1e-9:
        assert geometry.radius_of_chord(chord, rise)[0] == pytest.approx(radius)


@pytest.mark.parametrize(
    ("span", "moved", "tolerance"), [(90, 0.00034, 5e-6), (45, 0.00135, 2e-5), (22.5, 0.0058, 2e-4)]
)
def test_three_points_feel_a_moved_end_as_was_published(
    span: float, moved: float, tolerance: float
) -> None:
    """Expected: a public page on the error of small radii, end point moved outward by 0.0002 on a
    radius of 0.050. Tolerance: half a unit of its last digit at 90 deg, two on shorter arcs."""
    read = arc(0.050, span, 3)
    t = math.radians(5 + span)
    read[2] = (0.0502 * math.cos(t), 0.0502 * math.sin(t))
    assert three(read).value - 0.050 == pytest.approx(moved, abs=tolerance)


@pytest.mark.parametrize("span", [60, 90, 180])
def test_the_budget_of_three_points_agrees_with_trials(span: float) -> None:
    only = alone(crosshair=1.5)
    exact = arc(5, span, 3)
    u = three(exact, influences=only).budget.u
    assert u == pytest.approx(scatter_um(lambda r: three(rough(exact, r)).value), rel=0.05)


def test_a_very_short_arc_scatters_more_than_its_budget_says_and_is_refused() -> None:
    """Over 8 deg one sighting moves a radius of 5 mm by tenths of it, and the straight line of the
    budget ends: the value is refused, not only uncertain."""
    only = alone(crosshair=1.5)
    exact = arc(5, 8, 3)
    found = three(exact, influences=only)
    seen = scatter_um(lambda r: three(rough(exact, r)).value)
    assert seen > 1.05 * found.budget.u
    assert found.budget.u > 300
    assert "an arc of 8° is too short" in found.refusals[0]


def form(read: Pairs, **more: object) -> Outcome:
    return named("form of an arc").evaluate(asked({"arc": points(read)}, **more))  # type: ignore[arg-type]


@given(st.floats(0.0005, 0.02), places, places, st.booleans())
def test_a_form_that_was_planted_comes_back_wherever_the_arc_lies(
    size: float, x: float, z: float, mirrored: bool
) -> None:
    """Three lobes on a full round: square to centre and radius, so nothing of them is absorbed."""
    way = -1 if mirrored else 1
    turns = [2 * math.pi * k / 12 for k in range(12)]
    read = [
        (x + way * r * math.cos(t), z + r * math.sin(t))
        for t in turns
        for r in [5 + size / 2 * math.cos(3 * t)]
    ]
    assert form(read).value == pytest.approx(size, rel=1e-3)


def test_the_budget_of_a_form_is_on_the_safe_side_of_trials() -> None:
    """The circle takes up part of what two points scatter, so u is somewhat more than is seen."""
    only = alone(crosshair=1.5)
    read = arc(5, 170, 13)
    read[4], read[9] = ((x * k, z * k) for (x, z), k in ((read[4], 1.004), (read[9], 0.996)))
    seen = scatter_um(lambda r: form(rough(read, r)).value)
    assert seen < form(read, influences=only).budget.u < 1.35 * seen


def profile(read: Pairs, *freedoms: str, side: str = "convex") -> Outcome:
    stated = {"form": side, "radius_mm": 3, "centre_x_mm": 40, "centre_z_mm": 60}
    given_ = asked({"arc": points(read)}, freedoms=freedoms, **stated)  # type: ignore[arg-type]
    return named("profile, radius held").evaluate(given_)


@given(st.floats(-0.05, 0.05), st.floats(-0.05, 0.05), st.floats(15, 200))
@settings(max_examples=50)
def test_a_profile_set_off_is_found_even_on_a_short_arc(x: float, z: float, span: float) -> None:
    found = profile(arc(3, span, centre=(40 + x, 60 + z)), "X", "Z")
    assert max(map(abs, found.values)) < 1e-9
    assert found.detail["shift_x_um"] == pytest.approx(x * 1000, abs=1e-6)
    assert found.detail["shift_z_um"] == pytest.approx(z * 1000, abs=1e-6)


def test_a_short_rough_arc_has_a_profile_where_a_free_circle_turns_to_the_other_side() -> None:
    """Five points of which the middle one is worn hollow: a free circle lies on the other side,
    and a fit that starts there reads everything from the wrong side. Expected: the mean is what a
    shift takes off so short an arc, so a fifth of 25 um stands over the four others."""
    read = arc(3, 10, 5, centre=(40, 60), start=85)
    read[2] = (read[2][0], read[2][1] - 0.025)
    assert circle(read).centre_z_mm > 63
    found = profile(read, "X", "Z")
    assert found.values[0] == pytest.approx(-0.020, abs=0.0002)
    assert found.values[1] == pytest.approx(0.005, abs=0.0002)
    inside = profile(read, "X", "Z", side="concave")
    assert inside.values == pytest.approx((-found.values[1], -found.values[0]))


def test_only_the_declared_slide_moves_a_profile() -> None:
    read = arc(3, 120, centre=(40.01, 60.02))
    found = profile(read, "Z")
    assert found.detail["shift_x_um"] == 0
    assert found.values[1] > 0.005
    wanted = fitting.circle_held_radius(read, 3.0).residuals_mm
    assert profile(read, "X", "Z").detail["deviations_mm"] == pytest.approx(wanted, abs=1e-9)
    for freedoms in ((), ("X", "rotation")):
        with pytest.raises(InputError, match="declared freedoms"):
            profile(read, *freedoms)
