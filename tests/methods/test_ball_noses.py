"""Ball noses as a whole: two flutes at once, what that hides, and where the tip stands."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.errors import InputError
from inspect_rec.methods.base import Given, Outcome, Slides
from inspect_rec.methods.register import named
from tests.methods.readings import alone, asked, both_sides, points, scatter_um
from tests.methods.test_arcs import Pairs, rough

places = st.floats(-80, 80)
SWAPPED = Slides("Z", "X", 1, 1)


def nose(
    one: float, other: float, axis: float = 0.0, along: float = 0.0, tip: int = 1, n: int = 9
) -> tuple[Pairs, Pairs]:
    """Points of two opposite flutes, 5 to 85 deg each, both about a centre on the axis."""
    turns = [math.radians(5 + 80 * k / (n - 1)) for k in range(n)]
    sides = []
    for way, radius in ((-1, one), (1, other)):
        sides.append(
            [(axis + way * radius * math.cos(t), along + tip * radius * math.sin(t)) for t in turns]
        )
    return sides[0], sides[1]


def jointly(read: Pairs, axis: float = 0.0, **more: object) -> Outcome:
    given_ = asked({"arc": points(read), "axis": both_sides(axis)}, **more)  # type: ignore[arg-type]
    return named("arc, two opposite flutes").evaluate(given_)


@given(st.floats(1, 20), places, places, st.sampled_from([1, -1]))
@settings(max_examples=50)
def test_two_alike_flutes_give_their_radius_wherever_the_tool_stands(
    radius: float, axis: float, along: float, tip: int
) -> None:
    left, right = nose(radius, radius, axis, along, tip)
    found = jointly(left + right, axis)
    assert found.value == pytest.approx(radius, abs=1e-9)
    assert found.detail["hidden_difference_um"] == pytest.approx(0, abs=1e-6)
    assert found.detail["off_axis_um"] == pytest.approx(0, abs=1e-6)
    assert found.refusals == ()


def test_a_joint_radius_hides_a_difference_of_the_flutes_and_says_so() -> None:
    """Both flutes about one centre on the axis, radii 10 um apart: the joint circle lies between
    them, off the axis; only part of the difference shows in its form."""
    left, right = nose(5.0, 5.01)
    found = jointly(left + right)
    assert found.value == pytest.approx(5.005, abs=0.001)
    assert found.detail["hidden_difference_um"] == pytest.approx(10, abs=1e-6)
    assert found.detail["radii_mm"] == pytest.approx((5.0, 5.01), abs=1e-9)
    assert found.detail["off_axis_um"] == pytest.approx(6.4, abs=0.5)
    form = found.detail["form_um"]
    assert isinstance(form, float)
    assert form < 9
    assert jointly(left + right, width=0.021).refusals == ()
    assert "differ by 10.0 µm" in jointly(left + right, width=0.019).refusals[0]


def test_two_flutes_jointly_are_surer_than_one_and_agree_with_trials() -> None:
    """Expected: 0.55 for the sighting of 1.5 um, the trade's own budget of this arc."""
    left, right = nose(5, 5)
    exact = left + right
    only = alone(crosshair=1.5)
    found = jointly(exact, influences=only).budget
    assert found.components[0].sensitivity == pytest.approx(0.55, abs=0.015)
    seen = scatter_um(lambda r: jointly(rough(exact, r)).value)
    assert found.u == pytest.approx(seen, rel=0.05)
    checked = {"axis": both_sides(0), "master": points(exact)}
    whole = named("arc, two opposite flutes", 2).evaluate(asked({"arc": points(exact), **checked}))
    assert whole.budget.u == pytest.approx(1.1, abs=0.05)
    one = named("arc, centre on the axis", 2).evaluate(asked({"arc": points(right), **checked}))
    assert one.budget.u == pytest.approx(1.8, abs=0.05)


def test_a_radius_without_a_master_has_the_light_in_its_budget_once() -> None:
    """Expected by hand: 3 um rectangular, the same for all flutes, beside all else."""
    left, right = nose(5, 5)
    checked = {"axis": both_sides(0), "master": points(left + right)}
    known = named("arc, two opposite flutes").evaluate(
        asked({"arc": points(left + right), **checked})
    )
    without = jointly(left + right)
    added = math.sqrt(without.budget.u**2 - known.budget.u**2)
    assert added == pytest.approx(3 / math.sqrt(3), rel=1e-9)
    assert without.budget.u_own == pytest.approx(known.budget.u_own, rel=1e-9)


def test_one_flute_alone_or_too_short_an_arc_is_no_joint_radius() -> None:
    left, right = nose(5, 5)
    with pytest.raises(InputError, match="0 and 9"):
        jointly(right)
    with pytest.raises(InputError, match="9 and 2"):
        jointly(left + right[:2])
    assert "too short" in jointly(left[5:] + right[5:]).refusals[0]


def tip_of(
    read: Pairs, datum: float, axis: float = 0.0, slides: Slides | None = None, **more: object
) -> Outcome:
    series = {
        "arc": points(read),
        "axis": both_sides(axis),
        "datum": points([(datum, datum)]),
    }
    given_: Given = asked(series, slides=slides or Slides("X", "Z", 1, 1), **more)  # type: ignore[arg-type]
    return named("tip from a datum").evaluate(given_)


@given(st.floats(1, 20), places, places, places, st.sampled_from([1, -1]))
@settings(max_examples=50)
def test_a_tip_is_centre_and_radius_from_its_datum(
    radius: float, axis: float, along: float, datum: float, tip: int
) -> None:
    _, right = nose(radius, radius, axis, along, tip)
    found = tip_of(right, datum, axis, Slides("X", "Z", 1, tip))
    assert found.value == pytest.approx(abs(along + tip * radius - datum), abs=1e-9)


def test_a_tool_clamped_along_the_other_slide_has_the_same_tip() -> None:
    _, right = nose(5, 5, 0.0, 10.0)
    turned = [(z, x) for x, z in right]
    sides = both_sides(0)
    across = [
        t.__class__(t.mark, t.repeat, None, {"X": 0.0, "Z": t["X"]}, t.ref) for t in sides.taken
    ]
    axis = sides.__class__("axis", tuple(across), "slides", sides.instrument)
    series = {"arc": points(turned), "axis": axis, "datum": points([(-20.0, 0.0)])}
    found = named("tip from a datum").evaluate(asked(series, slides=SWAPPED))
    assert found.value == pytest.approx(35.0, abs=1e-9)


def test_the_budget_of_a_tip_agrees_with_trials_of_points_axis_and_datum() -> None:
    only = alone(crosshair=1.5, clamping=3.0)
    _, right = nose(5, 5)

    def once(random: np.random.Generator) -> float:
        axis = random.uniform(-0.003, 0.003) + random.normal(0, 0.0015) / math.sqrt(6)
        datum = -20 + random.normal(0, 0.0015)
        return tip_of(rough(right, random), float(datum), float(axis)).value

    u = tip_of(right, -20.0, influences=only).budget.u
    assert u == pytest.approx(scatter_um(once), rel=0.06)  # the axis is rounded up to 0.1 um
