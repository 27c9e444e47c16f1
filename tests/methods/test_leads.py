"""Leads: a known flute gives its lead back with its hand, and too little of it is refused."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.errors import ComputeError, InputError
from inspect_rec.methods.base import Given, Outcome, Slides
from inspect_rec.methods.register import named
from tests.methods.readings import INDICATOR, alone, along, asked, indicated, numbers, scatter_um

leads = st.floats(20, 2000)
QUIET = replace(INDICATOR, half_step=0.0, repeat=1.0, expanded=0.0)


def azimuth(away: float, lead: float) -> float:
    """Clockwise angle of a flute seen onto the tip, deg: a right-hand one (lead above 0) turns
    clockwise as it goes away."""
    return 360 * away / lead


def followed(
    lead: float,
    *,
    places: tuple[float, ...] = (2.0, 7.0, 12.0, 17.0, 22.0),
    start: float = 0.0,
    tip: int = 1,
    sense: str = "counter-clockwise",
    hand: str = "right",
    offset: float = 50.0,
    **more: object,
) -> Given:
    """Readings of a flute that is brought back to where it was touched first by the index."""
    index = []
    for place in places:
        clockwise = -azimuth(place, lead)  # the tool is turned so that the flute comes back
        index.append(start + (clockwise if sense == "clockwise" else -clockwise))
    z = [offset - tip * place for place in places]
    return asked(
        {"flute": along(z, index)},
        slides=Slides("X", "Z", 1, tip),
        diameter_mm=10,
        index_sense=sense,
        hand=hand,
        **more,  # type: ignore[arg-type]
    )


def lead_of(given_: Given) -> Outcome:
    return named("lead from travel and turn").evaluate(given_)


@given(
    leads,
    st.sampled_from([1, -1]),
    st.sampled_from(["clockwise", "counter-clockwise"]),
    st.floats(-360, 360),
    st.floats(-100, 100),
)
@settings(max_examples=50)
def test_a_lead_comes_back_with_its_hand_however_index_and_slide_count(
    lead: float, tip: int, sense: str, start: float, offset: float
) -> None:
    for hand, sign in (("right", 1), ("left", -1)):
        found = lead_of(
            followed(sign * lead, tip=tip, sense=sense, hand=hand, start=start, offset=offset)
        )
        assert found.value == pytest.approx(lead, rel=1e-9)
        assert found.detail["lead_mm"] == pytest.approx(sign * lead, rel=1e-9)
        assert found.detail["hand"] == sign
        assert found.detail["turn_deg"] == pytest.approx(360 * 20 / lead)
        assert not any("hand" in r for r in found.refusals)


def test_a_screw_that_goes_in_clockwise_has_a_right_hand() -> None:
    """A right-hand screw turned clockwise by its driver moves away from him: what is touched at a
    fixed place comes nearer by a lead a turn, as on the bolt that stands still in its nut."""
    away = (3.0, 2.0, 1.0)
    index = [0.0, 360.0, 720.0]
    given_ = asked(
        {"flute": along([-z for z in away], index)},
        diameter_mm=10,
        index_sense="clockwise",
        hand="right",
    )
    assert lead_of(given_).value == pytest.approx(1.0)


def test_the_other_hand_than_stated_is_refused_and_its_lead_is_negative() -> None:
    for lead, hand, other in ((100.0, "left", "right"), (-100.0, "right", "left")):
        found = lead_of(followed(lead, hand=hand))
        assert found.value == pytest.approx(-100)
        assert f"those of a {other}-hand flute, {hand} is stated" in found.refusals[0]


def test_too_short_a_turn_or_travel_is_refused_and_a_longer_one_is_surer() -> None:
    short_turn = lead_of(followed(2000.0))
    assert "a turn of 3.6° is too short" in short_turn.refusals[0]
    short_travel = lead_of(followed(20.0, places=(0.0, 0.3, 0.6)))
    assert "a travel of 0.60 mm is too short" in short_travel.refusals[0]
    spans = [lead_of(followed(100.0, places=(0, s / 2, s))).budget.u for s in (30, 20, 10, 5)]
    assert all(a < b for a, b in pairwise(spans))


@pytest.mark.parametrize("lead", [30.0, 100.0, 400.0])
def test_the_budget_of_a_lead_agrees_with_trials(lead: float) -> None:
    given_ = followed(lead, influences=alone(crosshair=1.5, index_angle=0.03))
    series = given_.series["flute"]
    places = [t["Z"] for t in series.taken]
    per_degree = lead / 360

    def once(random: np.random.Generator) -> float:
        z = [place + per_degree * math.degrees(random.normal(0, 0.0015) / 5) for place in places]
        index = [angle + random.uniform(-0.03, 0.03) for angle in series.index]
        return lead_of(replace(given_, series={"flute": along(z, index)})).value

    assert lead_of(given_).budget.u == pytest.approx(scatter_um(once), rel=0.05)


def test_places_that_scatter_more_than_the_shop_says_lend_few_degrees_of_freedom() -> None:
    given_ = followed(100.0)
    series = given_.series["flute"]
    rough = [t["Z"] + 0.2 * (-1) ** n for n, t in enumerate(series.taken)]
    found = lead_of(replace(given_, series={"flute": along(rough, series.index)})).budget
    assert found.dof == pytest.approx(3, rel=0.05)
    assert math.isinf(lead_of(given_).budget.dof)


@given(leads, st.floats(2, 40))
@settings(max_examples=30)
def test_a_helix_angle_is_that_of_its_lead_on_its_diameter(lead: float, diameter: float) -> None:
    given_ = followed(lead, places=(0.0, 30.0, 60.0), hand="right")
    given_ = replace(given_, parameters={**given_.parameters, "diameter_mm": numbers(diameter)[0]})
    found = named("helix angle from travel and turn").evaluate(given_)
    wanted = math.degrees(math.atan(math.pi * diameter / lead))
    assert found.value == pytest.approx(wanted, abs=1e-9)


def test_the_budget_of_a_helix_angle_agrees_with_trials_of_lead_and_diameter() -> None:
    given_ = followed(60.0, influences=alone(index_angle=0.3, radius_of_the_edge=0.05))
    series = given_.series["flute"]
    places = [t["Z"] for t in series.taken]

    def once(random: np.random.Generator) -> float:
        index = [angle + random.uniform(-0.3, 0.3) for angle in series.index]
        diameter = 10 + 2 * random.uniform(-0.05, 0.05)
        drawn = asked(
            {"flute": along(places, index)},
            influences=given_.influences,
            diameter_mm=float(diameter),
            index_sense="counter-clockwise",
            hand="right",
        )
        return named("helix angle from travel and turn").evaluate(drawn).value

    found = named("helix angle from travel and turn").evaluate(given_).budget
    assert found.u * 1000 == pytest.approx(scatter_um(once), rel=0.05)
    wrong = named("helix angle from travel and turn").evaluate(followed(60.0, hand="left"))
    assert wrong.value < 0
    assert wrong.refusals


def crept(
    lead: float,
    *,
    set_mm: float = 100.0,
    places: tuple[float, ...] = (0.0, 5.0, 10.0, 15.0),
    plus: str = "more turn",
    noise: tuple[float, ...] = (),
    **more: object,
) -> Given:
    """What an indicator at a radius of 5 mm shows of a flute that turns otherwise than it."""
    way = 1 if plus == "more turn" else -1
    e = [way * 2 * math.pi * 5 * z * (1 / lead - 1 / set_mm) for z in places]
    off = noise or (0.0,) * len(e)
    read = indicated([a + b for a, b in zip(e, off, strict=True)], instrument=QUIET)
    return asked(
        {"creep": read},
        set_lead_mm=set_mm,
        radius_mm=5,
        places_mm=numbers(*places),
        plus=plus,
        **more,  # type: ignore[arg-type]
    )


def creep_of(given_: Given) -> Outcome:
    return named("lead from creep at a set lead").evaluate(given_)


@given(st.floats(90, 115), st.sampled_from(["more turn", "less turn"]))
def test_an_indicator_that_creeps_gives_the_lead_back(lead: float, plus: str) -> None:
    assert creep_of(crept(lead, plus=plus)).value == pytest.approx(lead, abs=1e-9)
    two = creep_of(crept(lead, plus=plus, places=(0.0, 20.0)))
    assert two.value == pytest.approx(lead, abs=1e-9)
    assert math.isinf(two.budget.dof)


@pytest.mark.parametrize("places", [(0.0, 15.0), (0.0, 5.0, 10.0, 15.0)])
def test_the_budget_of_a_creep_agrees_with_trials(places: tuple[float, ...]) -> None:
    only = alone(following_at_a_set_lead=3.0)

    def once(random: np.random.Generator) -> float:
        machine = random.uniform(-0.003, 0.003)
        noise = tuple(
            float(random.normal(0, 0.001) + machine * place / places[-1]) for place in places
        )
        return creep_of(crept(101.0, places=places, noise=noise, influences=only)).value

    u = creep_of(crept(101.0, places=places, influences=only)).budget.u
    assert u == pytest.approx(scatter_um(once), rel=0.05)


def test_what_creeps_the_wrong_way_or_over_too_little_is_said() -> None:
    back = creep_of(crept(-100.0))
    assert back.value == pytest.approx(-100)
    assert "other hand" in back.refusals[0]
    assert "too short" in creep_of(crept(101.0, places=(0.0, 0.4, 0.8))).refusals[0]
    given_ = crept(101.0)
    with pytest.raises(InputError, match="4 numbers"):
        creep_of(replace(given_, parameters={**given_.parameters, "places_mm": numbers(0, 5)}))
    with pytest.raises(ComputeError, match="travel"):
        creep_of(crept(101.0, places=(5.0, 5.0)))


def test_a_flute_without_angles_or_turn_is_refused() -> None:
    given_ = followed(100.0)
    bare = replace(given_.series["flute"], index=())
    with pytest.raises(InputError, match="5 angles"):
        lead_of(replace(given_, series={"flute": bare}))
    straight = along([0.0, 5.0, 10.0], [0.0, 0.0, 0.0])
    with pytest.raises(ComputeError, match="one place"):
        lead_of(replace(given_, series={"flute": straight}))
    for name, words in product(("hand", "index_sense"), ("both",)):
        with pytest.raises(InputError, match=name):
            lead_of(replace(given_, parameters={**given_.parameters, name: words}))
