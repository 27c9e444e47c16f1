"""Angles by two points and by protractor: what both lips share, and what a reticle can't tell."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.errors import ComputeError, InputError
from inspect_rec.methods.base import Instrument, Outcome, Series, Slides, Taken
from inspect_rec.methods.register import named
from tests.methods.readings import READOUT, alone, asked, numbers

RETICLE = Instrument("OP-1", half_step=0.05, expanded=0.0417)


def lip(kappa: float, flute: int, *, side: int = 1, repeats: int = 1, leg: float = 3.0) -> Series:
    """Two points of a lip, 0.5 mm from the axis on, on the greater or the smaller side."""
    k = math.radians(kappa)
    places = [
        ("inner", 20 + side * 0.5, 15.0),
        ("outer", 20 + side * (0.5 + leg * math.sin(k)), 15 - leg * math.cos(k)),
    ]
    taken = [
        Taken(mark, n + 1, flute, {"X": x, "Z": z}, ("A", n))
        for n in range(repeats)
        for mark, x, z in places
    ]
    return Series("lip", tuple(taken), "slides", READOUT)


def lips(*each: Series) -> Series:
    return replace(each[0], taken=tuple(t for one in each for t in one.taken))


def of(name: str, read: Series, **more: object) -> Outcome:
    if "turned" in name:
        more["turned_deg"] = numbers(0, 0)
    return named(name).evaluate(asked({"lips": read}, **more))  # type: ignore[arg-type]


SUM, DIFFERENCE = "point angle from the lips", "lip symmetry from the lips"
TURNED = ("point angle from turned lips", "lip symmetry from turned lips")
IN_SUM, IN_DIFFERENCE = {1: 2.0, -1: 0.0}, {1: 0.0, -1: 2.0}


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize(
    ("name", "felt"),
    [
        (SUM, IN_SUM),
        (DIFFERENCE, IN_DIFFERENCE),
        (TURNED[0], IN_SUM),
        (TURNED[1], IN_DIFFERENCE),
    ],
)
def test_an_axis_that_leans_against_the_slide_counts_where_both_lips_show_it(
    name: str, felt: dict[int, float], side: int
) -> None:
    """A picture turned by 0.1 deg, which is more than the same lack of squareness does: of lips
    sighted on one side (the tool indexed in between) both half angles grow, of lips on both sides
    of the axis one grows and one shrinks."""
    lean = math.radians(0.1)
    plain = lips(lip(60, 1), lip(61, 2, side=side))

    def leaning(t: Taken) -> Taken:
        x, z = t["X"] - 20, t["Z"] - 15
        return replace(t, figures={"X": 20 + x - lean * z, "Z": 15 + z + lean * x})

    leant = replace(plain, taken=tuple(map(leaning, plain.taken)))
    square = alone(squareness=0.1)
    moved = abs(of(name, leant).value - of(name, plain).value)
    assert moved == pytest.approx(0.1 * felt[side], abs=1e-6)
    # Rectangular, and nothing else is uncertain.
    u = of(name, plain, influences=square).budget.u
    assert u == pytest.approx(0.1 * felt[side] / math.sqrt(3), abs=1e-4)


def test_of_two_lips_the_one_that_was_sighted_less_often_counts() -> None:
    crosshair = alone(crosshair=1.5)
    u = [
        of(SUM, lips(lip(60, 1, repeats=a), lip(60, 2, repeats=b)), influences=crosshair).budget.u
        for a, b in ((3, 3), (3, 1), (1, 3), (1, 1))
    ]
    assert u[0] < u[1] == u[2] == u[3]


def test_a_leg_of_no_length_is_refused_by_name() -> None:
    with pytest.raises(ComputeError, match="leg"):
        of(SUM, lips(lip(60, 1), lip(60, 2, leg=0.0)))
    edge = replace(lip(60, 1, leg=0.0), feature="edge")
    with pytest.raises(ComputeError, match="leg"):
        named("angle by two points").evaluate(asked({"edge": edge}))


def laid(**marks: float | list[float]) -> Series:
    taken = [
        Taken(mark, n, None, {"angle": figure}, ("A", n))
        for mark, read in marks.items()
        for n, figure in enumerate(read if isinstance(read, list) else [read], 1)
    ]
    return Series("lines", tuple(taken), "angle", RETICLE)


def cone(*, leg_mm: float = 2.0, **marks: float) -> Outcome:
    given_ = asked({"sides": laid(**marks)}, leg_mm=leg_mm)
    return named("angle by protractor, sum of the sides").evaluate(given_)


def test_a_cone_has_two_sides_each_read_against_the_axis() -> None:
    assert cone(left=44.9, right=45.2).value == pytest.approx(90.1)
    for right in (-45.2, 314.8, 0.0, 90.0):
        with pytest.raises(ComputeError, match="against the axis"):
            cone(left=44.9, right=right)
    with pytest.raises(InputError, match="two sides"):
        cone(left=44.9, right=45.2, again=45.1)
    with pytest.raises(ComputeError, match="leg_mm"):
        cone(left=44.9, right=45.2, leg_mm=0.0)


def between(
    counted: str = "acute", *, leg_mm: float = 2.0, **marks: float | list[float]
) -> Outcome:
    given_ = asked({"lines": laid(**marks)}, leg_mm=leg_mm, counted=counted)
    return named("angle by protractor, two lines").evaluate(given_)


@given(
    st.floats(-180, 540),
    st.floats(0.5, 89.5),
    st.sampled_from([1, -1]),
    st.lists(st.sampled_from([-360, -180, 0, 180, 360]), min_size=3, max_size=3),
)
def test_an_angle_between_two_lines_hangs_on_no_zero_no_sense_and_no_half_turn(
    first: float, angle: float, way: int, turns: list[int]
) -> None:
    other = [first + way * angle + turn for turn in turns]
    found = between(one=first, other=other)
    assert found.value == pytest.approx(angle, abs=1e-9)
    assert between("obtuse", one=first, other=other).value == pytest.approx(180 - angle, abs=1e-9)
    assert between(one=other, other=first).value == pytest.approx(angle, abs=1e-9)


def test_laying_ups_about_the_zero_of_the_reticle_are_averaged_across_it() -> None:
    """Expected by hand: 359.9 and 0.3 mean 0.1, and 12.1 less 0.1 is 12."""
    assert between(one=[359.9, 0.3], other=[12.0, 12.2]).value == pytest.approx(12.0)


def test_the_budget_of_two_lines_by_hand() -> None:
    """Two ends of each line 1.5 um off over 2 mm, twice laid up; step 0.05 rectangular and reticle
    U 0.0417 at each of the two, image plane 0.083 rectangular at each."""
    found = between(one=[10.0, 10.0], other=[47.0, 47.0])
    line = math.degrees(0.0015 / 2) * math.sqrt(4 / 2)
    step, plane = (math.sqrt(2 / 3) * half for half in (0.05, 0.083))
    by_hand = math.sqrt(line**2 + step**2 + plane**2 + 2 * (0.0417 / 2) ** 2)
    assert found.budget.u == pytest.approx(by_hand, rel=1e-9)


def test_a_short_leg_on_the_reticle_is_less_certain() -> None:
    u = [between(leg_mm=leg, one=10.0, other=47.0).budget.u for leg in (8, 4, 2, 1, 0.5)]
    assert all(a < b for a, b in pairwise(u))


def test_which_angle_is_counted_has_to_be_stated() -> None:
    with pytest.raises(InputError, match="counted"):
        between("either", one=10.0, other=47.0)
    with pytest.raises(InputError, match="two lines"):
        between(one=10.0, other=47.0, third=50.0)


def test_angles_by_two_points_hang_on_no_polarity() -> None:
    mirrored = Slides("X", "Z", -1, -1)
    edge = {"edge": replace(lip(35, 1), feature="edge")}
    flipped = {
        "edge": replace(
            edge["edge"],
            taken=tuple(
                replace(t, figures={"X": -t["X"], "Z": -t["Z"]}) for t in edge["edge"].taken
            ),
        )
    }
    one = named("angle by two points").evaluate(asked(edge))
    other = named("angle by two points").evaluate(asked(flipped, slides=mirrored))
    assert one.value == pytest.approx(35)
    assert (other.value, other.budget.u) == pytest.approx((one.value, one.budget.u))


def test_a_version_that_reports_rest_on_stays_callable_beside_the_newer() -> None:
    """Version 2 counts an edge out of the image plane in full, twice as much as version 1."""
    edge = {"edge": replace(lip(65, 1), feature="edge")}
    old, new = (named("angle by two points", v).evaluate(asked(edge)) for v in (1, 2))
    assert old.values == new.values
    one, two = (
        next(r for r in o.budget.components if "image plane" in r.name).u for o in (old, new)
    )
    assert two == pytest.approx(2 * one)
    assert named("angle by two points").version == 3
    with pytest.raises(InputError, match="1, 2, 3"):
        named("angle by two points", 4)
