"""Points and flanks along the tool: drawn ones come back, and budgets hold by trials."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.errors import ComputeError, InputError
from inspect_rec.methods.base import Series
from tests.methods.modelled import by_trials, drawn, evaluated, joined, moved, places, turned

ANGLE, SYMMETRY = "point angle from turned lips", "lip symmetry from turned lips"
HEIGHT = "lip height difference from the lips"
INCLUDED = "included angle from legs on both sides"
TAPER = "back taper from two diameters"

kappas = st.floats(45, 70)
turns = st.floats(-20, 20)
shifts = st.floats(-40, 40)


def lip(kappa: float, *, turned: float = 0.0, flute: int = 1, leg: float = 4.0) -> Series:
    """A lip in space, turned about the axis out of the image plane, as the picture shows it."""
    a = math.radians(kappa)

    def point(at: float) -> tuple[float, float]:
        return at * math.sin(a) * math.cos(math.radians(turned)), -at * math.cos(a)

    return places(("1", *point(0.5)), ("2", *point(0.5 + leg)), flute=flute)


def pin(axis: float = 0.0) -> Series:
    return places(("greater", axis + 5, 0), ("smaller", axis - 5, 0))


@given(kappas, kappas, turns, turns, shifts, shifts, st.booleans())
@settings(max_examples=60)
def test_lips_out_of_the_image_plane_give_their_own_angles_back(
    one: float, two: float, e1: float, e2: float, dx: float, dz: float, mirrored: bool
) -> None:
    seen = joined(lip(one, turned=e1), lip(two, turned=e2, flute=2))
    lips = {"lips": moved(seen, dx, dz, mirrored=mirrored)}
    whole = evaluated(ANGLE, lips, turned_deg=[e1, e2])
    assert whole.value == pytest.approx(one + two, abs=1e-9)
    assert whole.detail["half_angles_deg"] == pytest.approx((one, two), abs=1e-9)
    uneven = evaluated(SYMMETRY, lips, turned_deg=[e1, e2])
    assert uneven.value == pytest.approx(abs(one - two), abs=1e-9)


def test_the_trade_s_example_of_a_lip_out_of_plane_comes_out() -> None:
    """trade: a lip 5 deg out at a half angle of 65 deg reads 0.17 deg short on the full point."""
    lips = {"lips": joined(lip(65, turned=5), lip(65, turned=5, flute=2))}
    seen = evaluated(ANGLE, lips, turned_deg=[0, 0]).value
    assert seen - 130 == pytest.approx(-0.17, abs=5e-3)


def test_lips_in_the_image_plane_read_as_without_the_correction() -> None:
    lips = {"lips": joined(lip(64), lip(66, flute=2))}
    for name in (ANGLE, SYMMETRY):
        plain = evaluated(name.replace("turned", "the"), lips).value
        assert evaluated(name, lips, turned_deg=[0, 0]).value == pytest.approx(plain, abs=1e-12)


@given(kappas, kappas, st.floats(-0.1, 0.1), st.floats(1.5, 3), shifts, shifts, st.booleans())
@settings(max_examples=60)
def test_lips_drawn_at_two_heights_give_their_difference_at_a_radius_back(
    one: float, two: float, higher: float, at: float, dx: float, dz: float, mirrored: bool
) -> None:
    second = moved(lip(two, flute=2), dz=higher)
    lips = joined(lip(one), second)
    drawn_ = {"lips": moved(lips, dx, dz, mirrored=mirrored), "axis": pin(dx)}
    found = evaluated(HEIGHT, drawn_, at_radius_mm=at)
    heights = (-at / math.tan(math.radians(one)), higher - at / math.tan(math.radians(two)))
    assert found.value == pytest.approx(abs(heights[0] - heights[1]), abs=1e-9)
    assert found.refusals == ()
    opposite = joined(lip(one), moved(second, mirrored=True))
    both = evaluated(HEIGHT, {"lips": opposite, "axis": pin()}, at_radius_mm=at)
    assert both.value == pytest.approx(found.value, abs=1e-9)


def test_the_axis_counts_where_lips_are_sighted_on_opposite_sides_and_cancels_on_one() -> None:
    def axis(lips: Series) -> list[float]:
        found = evaluated(HEIGHT, {"lips": lips, "axis": pin()}, at_radius_mm=2)
        return [c.u for c in found.budget.components if c.name == "axis: clamping"]

    even = lip(60), lip(60, flute=2)
    assert axis(joined(*even)) in ([], [pytest.approx(0, abs=1e-6)])
    both = 2 / math.tan(math.radians(60)) / math.sqrt(3)
    assert axis(joined(even[0], moved(even[1], mirrored=True))) == [pytest.approx(both, rel=1e-6)]


@given(st.floats(20, 75), st.floats(20, 75), st.floats(-3, 3), shifts, st.booleans())
@settings(max_examples=60)
def test_a_countersink_drawn_gives_its_included_angle_back_though_it_leans(
    one: float, two: float, leans: float, shift: float, swapped: bool
) -> None:
    def leg(side: int, kappa: float) -> Series:
        a = math.radians(kappa) + side * math.radians(leans)
        far = ("far", side * (1 + 3 * math.sin(a)), -3 * math.cos(a))
        near = ("near", side * 1.0, 0.0)
        return moved(places(*((far, near) if swapped else (near, far))), shift, shift)

    found = evaluated(INCLUDED, {"greater": leg(1, one), "smaller": leg(-1, two)})
    assert found.value == pytest.approx(one + two, abs=1e-9)
    assert found.refusals == ()


@given(st.floats(3, 20), st.floats(-0.05, 0.1), st.floats(20, 90), shifts, shifts)
@settings(max_examples=60)
def test_a_back_taper_drawn_comes_back_on_100_mm(
    size: float, taper: float, apart: float, dx: float, dz: float
) -> None:
    back = size - taper * apart / 100
    front = places(("greater", size / 2, 0), ("smaller", -size / 2, 0))
    behind = places(("greater", back / 2, -apart), ("smaller", -back / 2, -apart))
    found = evaluated(TAPER, {"front": moved(front, dx, dz), "back": moved(behind, dx, dz)})
    assert found.value == pytest.approx(taper, abs=1e-9)
    assert found.detail["distance_mm"] == pytest.approx(apart, abs=1e-9)


# Budgets


def leaning(series: Mapping[str, Series], random: Any) -> dict[str, Series]:
    """The radial slide follows the other a little: the same in every sighting."""
    lean = math.tan(math.radians(drawn("squareness", random)))

    def one(found: Series) -> Series:
        sheared = [(t.mark, t["X"] - lean * t["Z"], t["Z"], t.flute) for t in found.taken]
        return joined(*(places((m, x, z), flute=f) for m, x, z, f in sheared))

    return {role: one(found) for role, found in series.items()}


@pytest.mark.parametrize("name", [ANGLE, SYMMETRY])
@pytest.mark.parametrize("out", [[0.0, 0.0], [8.0, -12.0]])
def test_the_budget_of_turned_lips_is_what_trials_give(name: str, out: list[float]) -> None:
    """The slides lie against the axis as far off as they are from square, at most."""
    lips = {"lips": joined(lip(60, turned=out[0]), lip(64, turned=out[1], flute=2))}
    stated: dict[str, Any] = {"turned_deg": out}

    def leans(series: Mapping[str, Series], random: Any) -> dict[str, Series]:
        return {"lips": turned(series["lips"], drawn("squareness", random))}

    s = by_trials(name, lips, stated, uncertain={"turned_deg": "turn of the lip"}, disturb=leans)
    assert evaluated(name, lips, **stated).budget.u == pytest.approx(s, rel=0.05)


@pytest.mark.parametrize("mirrored", [False, True])
def test_the_budget_of_lip_heights_is_what_trials_give(mirrored: bool) -> None:
    other = moved(lip(61, flute=2), dz=0.05, mirrored=mirrored)
    read = {"lips": joined(lip(60), other), "axis": pin()}
    stated: dict[str, Any] = {"at_radius_mm": 2.0}

    def clamped(series: Mapping[str, Series], random: Any) -> dict[str, Series]:
        off = drawn("clamping", random) / 1000
        lean = math.tan(math.radians(drawn("squareness", random)))
        turned = {n: math.radians(drawn("lip out of the image plane", random)) for n in (1, 2)}
        lips = joined(
            *(
                places(
                    (t.mark, t["X"] * math.cos(turned[t.flute]), t["Z"] + lean * t["X"]),
                    flute=t.flute,
                )
                for t in series["lips"].taken
                if t.flute is not None
            )
        )
        return {"lips": lips, "axis": moved(series["axis"], off)}

    s = by_trials(
        HEIGHT,
        read,
        stated,
        uncertain={},
        added=[("axial float", 1e-3)],
        disturb=clamped,
    )
    assert evaluated(HEIGHT, read, **stated).budget.u == pytest.approx(1000 * s, rel=0.05)


def test_the_budget_of_an_included_angle_is_what_trials_give() -> None:
    read = {
        "greater": places(("1", 1, 0), ("2", 3, -2)),
        "smaller": places(("1", -1, 0), ("2", -3, -2)),
    }
    plane = [("image plane", 1.0), ("image plane", 1.0)]
    s = by_trials(INCLUDED, read, {}, uncertain={}, added=plane, disturb=leaning)
    assert evaluated(INCLUDED, read).budget.u == pytest.approx(s, rel=0.05)


def test_the_budget_of_a_back_taper_is_what_trials_give() -> None:
    size, apart = 8.5, 60.0
    read = {
        "front": places(("greater", size / 2, 0), ("smaller", -size / 2, 0)),
        "back": places(("greater", size / 2 - 0.01, -apart), ("smaller", 0.01 - size / 2, -apart)),
    }
    per_mm = 100 / apart

    def off_their_largest(series: Mapping[str, Series], random: Any) -> dict[str, Series]:
        def short(found: Series) -> Series:
            # As the budget has it: the shortening itself is rectangular, not the angle.
            less = 1 - (1 - math.cos(math.radians(1))) * random.uniform(0, 1)
            return places(*((t.mark, less * t["X"], t["Z"]) for t in found.taken))

        return {role: short(found) for role, found in series.items()}

    s = by_trials(
        TAPER,
        read,
        {},
        uncertain={},
        added=[
            ("scale against a master", per_mm / 1000),
            ("backlash", per_mm / 1000),
            ("backlash", per_mm / 1000),
        ],
        disturb=off_their_largest,
    )
    assert evaluated(TAPER, read).budget.u == pytest.approx(1000 * s, rel=0.05)


# What is refused


def test_a_radius_that_a_lip_was_not_sighted_around_is_refused() -> None:
    read = {"lips": joined(lip(60), lip(60, flute=2)), "axis": pin()}
    for at in (0.3, 5.0):
        found = evaluated(HEIGHT, read, at_radius_mm=at).refusals
        assert len(found) == 2
        assert f"radius {at:g} mm" in found[0]


@pytest.mark.parametrize("name", [ANGLE, SYMMETRY])
def test_a_point_needs_two_lips_of_two_points_and_the_turn_of_each(name: str) -> None:
    two = joined(lip(60), lip(60, flute=2))
    with pytest.raises(InputError, match="turned_deg"):
        evaluated(name, {"lips": two})
    with pytest.raises(InputError, match="2 and 1"):
        evaluated(name, {"lips": two}, turned_deg=[5])
    with pytest.raises(InputError, match="needs 2 lips"):
        evaluated(name, {"lips": lip(60)}, turned_deg=[5, 5])
    three = joined(places(("1", 1, 0), ("2", 2, -1), ("3", 3, -2), flute=1), lip(60, flute=2))
    with pytest.raises(InputError, match="two points"):
        evaluated(name, {"lips": three}, turned_deg=[5, 5])


def test_legs_that_lean_the_same_way_are_no_countersink() -> None:
    leg = places(("1", 1, 0), ("2", 3, -2))
    found = evaluated(INCLUDED, {"greater": leg, "smaller": moved(leg, -4)})
    assert any("don't open" in reason for reason in found.refusals)


def test_diameters_at_one_place_or_the_wrong_way_round_have_no_back_taper() -> None:
    front = places(("greater", 4, 0), ("smaller", -4, 0))
    for apart in (0.0, 30.0):
        with pytest.raises(ComputeError, match="distance of the two diameters"):
            evaluated(TAPER, {"front": front, "back": moved(front, 0, apart)})
