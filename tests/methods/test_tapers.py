"""Tapered tools: a known taper gives back its helix and its angle."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.compute.helix import turn_on_taper
from inspect_rec.errors import ComputeError
from inspect_rec.methods.base import Given, Outcome, Slides
from inspect_rec.methods.register import named
from tests.methods.readings import alone, along, asked, points, scatter_um

PLACES = (0.0, 5.0, 10.0, 15.0, 20.0)


def flute(helix_deg: float, first: float = 4.0, last: float = 6.1, **more: object) -> Given:
    """A right-hand flute of constant helix angle between two diameters, 20 mm apart."""
    index = [0.0]
    for place in PLACES[1:]:
        at = first + (last - first) * place / 20
        index.append(turn_on_taper(first, at, place, helix_deg))
    series = {"flute": along([-place for place in PLACES], index)}
    stated = {"index_sense": "counter-clockwise", "hand": "right"}
    return asked(series, first_diameter_mm=first, last_diameter_mm=last, **stated, **more)  # type: ignore[arg-type]


def helix_of(given_: Given) -> Outcome:
    return named("helix angle on a taper").evaluate(given_)


@given(st.floats(5, 60), st.floats(3, 10), st.floats(-1, 4))
@settings(max_examples=50)
def test_a_constant_helix_comes_back_from_a_taper_and_its_lead_grows_with_the_diameter(
    helix: float, first: float, growth: float
) -> None:
    found = helix_of(flute(helix, first, first + growth))
    assert found.value == pytest.approx(helix, abs=1e-9)
    leads = found.detail["leads_mm"]
    assert isinstance(leads, tuple)
    assert leads[0] == pytest.approx(math.pi * first / math.tan(math.radians(helix)))
    assert leads[-1] / leads[0] == pytest.approx((first + growth) / first)


def test_a_constant_lead_on_a_taper_shows_in_the_deviations() -> None:
    """At one lead the turn grows evenly, at one helix angle it slows down as the tool thickens."""
    given_ = flute(30.0)
    turn = given_.series["flute"].index[-1]
    even = along([-place for place in PLACES], [turn * place / 20 for place in PLACES])
    off = helix_of(replace(given_, series={"flute": even})).detail["deviations_deg"]
    none = helix_of(given_).detail["deviations_deg"]
    assert isinstance(off, tuple)
    assert isinstance(none, tuple)
    assert max(map(abs, none)) < 1e-9
    assert max(off) - min(off) > 5


def test_the_budget_of_a_helix_on_a_taper_agrees_with_trials() -> None:
    only = alone(index_angle=0.3, radius_of_the_edge=0.02, crosshair=3.0)
    given_ = flute(30.0, influences=only)
    series = given_.series["flute"]

    def once(random: np.random.Generator) -> float:
        radii = [2.0 + 1.05 * place / 20 for place in PLACES]
        index = [
            angle + random.uniform(-0.3, 0.3) + math.degrees(random.normal(0, 0.003) / radius)
            for angle, radius in zip(series.index, radii, strict=True)
        ]
        drawn = asked(
            {"flute": along([-place for place in PLACES], index)},
            influences=only,
            first_diameter_mm=float(4 + 2 * random.uniform(-0.02, 0.02)),
            last_diameter_mm=float(6.1 + 2 * random.uniform(-0.02, 0.02)),
            index_sense="counter-clockwise",
            hand="right",
        )
        return helix_of(drawn).value

    assert helix_of(given_).budget.u * 1000 == pytest.approx(scatter_um(once), rel=0.05)


def test_a_straight_flute_on_a_taper_has_no_helix() -> None:
    with pytest.raises(ComputeError, match="straight"):
        helix_of(flute(0.0))
    given_ = flute(30.0)
    places = (0.0, -5.0, 50.0, -15.0, -20.0)  # the third lies beyond where the taper ends
    beyond = along(places, given_.series["flute"].index)
    with pytest.raises(ComputeError, match="diameter"):
        helix_of(replace(given_, series={"flute": beyond}))


def cone(
    half_deg: float, places: tuple[float, ...] = PLACES, outward: int = 1, tip: int = 1
) -> list[tuple[float, float]]:
    """Points of an edge whose radius is 3 mm at the tip and grows away from it."""
    k = math.tan(math.radians(half_deg))
    return [(20 + outward * (3 + k * z), 50 - tip * z) for z in places]


def angle_of(given_: Given) -> Outcome:
    return named("taper angle from several radii").evaluate(given_)


@given(st.floats(-5, 30), st.sampled_from([1, -1]), st.sampled_from([1, -1]))
def test_a_taper_comes_back_whichever_way_the_slides_count(
    half: float, outward: int, tip: int
) -> None:
    for places in (PLACES, PLACES[::4]):
        given_ = asked(
            {"edge": points(cone(half, places, outward, tip))},
            slides=Slides("X", "Z", outward, tip),
        )
        assert angle_of(given_).value == pytest.approx(half, abs=1e-9)


def test_a_longer_taper_is_surer_and_one_below_a_millimetre_is_refused() -> None:
    found = [
        angle_of(asked({"edge": points(cone(3.0, (0.0, s / 2, s)))})) for s in (20, 10, 5, 2, 0.8)
    ]
    assert all(a.budget.u < b.budget.u for a, b in pairwise(found))
    assert [bool(f.refusals) for f in found] == [False, False, False, False, True]


@pytest.mark.parametrize("half", [3.0, 25.0])
def test_the_budget_of_a_taper_agrees_with_trials(half: float) -> None:
    only = alone(crosshair=1.5)
    exact = cone(half)
    normal = math.cos(math.radians(half)), math.sin(math.radians(half))

    def once(random: np.random.Generator) -> float:
        off = random.normal(0, 0.0015, len(exact))
        drawn = [
            (x + d * normal[0], z + d * normal[1]) for (x, z), d in zip(exact, off, strict=True)
        ]
        return angle_of(asked({"edge": points(drawn)}, influences=only)).value

    given_ = asked({"edge": points(exact)}, influences=only)
    assert angle_of(given_).budget.u * 1000 == pytest.approx(scatter_um(once), rel=0.05)


def test_an_edge_that_scatters_more_than_the_shop_says_lends_few_degrees_of_freedom() -> None:
    rough = [(x + 0.05 * (-1) ** n, z) for n, (x, z) in enumerate(cone(3.0))]
    assert angle_of(asked({"edge": points(rough)})).budget.dof == pytest.approx(3, rel=0.05)
