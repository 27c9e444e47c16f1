"""What holds for every method: nothing hangs on where a slide has its zero, which way it counts,
which of the two is the radial one, or how the picture is turned where the method doesn't say so.

The readings are those of the values by hand; each is carried over to another set-up of the machine
that shows the same tool, and value, uncertainty and refusals must be the same.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.errors import InspectRecError
from inspect_rec.methods.base import Given, Outcome, Series, Slides, Taken
from inspect_rec.methods.register import Method, Reads, named
from tests.methods.by_hand import Sample, measured
from tests.methods.by_hand_indicated import INDICATED
from tests.methods.by_hand_sighted import SIGHTED

SAMPLES = SIGHTED + INDICATED
SLIDES = ("X", "Z")
PLACED = {
    "centre_x_mm": "X",
    "centre_z_mm": "Z",
    "origin_x_mm": "X",
    "origin_z_mm": "Z",
    "pivot_x_mm": "X",
    "pivot_z_mm": "Z",
}
"""Parameters that are a place on a slide; everything else that is stated is of the tool."""
OTHER = {"X": "Z", "Z": "X"}
SIDES = {"greater": "smaller", "smaller": "greater"}

Figures = Mapping[str, float]


def of_each(samples: tuple[tuple[str, Sample], ...]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize(
        ("name", "sample"), samples, ids=[f"{name} {sample.case}" for name, sample in samples]
    )


def on_slides(name: str, sample: Sample) -> bool:
    read = {role.reads for role in named(name).roles if role.name in sample.inputs}
    return bool(read & {Reads.RADIAL, Reads.ALONG, Reads.POINT})


ON_SLIDES = tuple(each for each in SAMPLES if on_slides(*each))
TURNED = tuple(each for each in SAMPLES if each[1].turns)
BOTH_WAYS = tuple(each for each in ON_SLIDES if not each[1].handed)


def carried(given_: Given, figures: Callable[[Figures], Figures], slides: Slides) -> Given:
    """The same tool on a machine that shows other figures on its slides."""

    def shown(t: Taken) -> Taken:
        return replace(t, figures=figures(t.figures)) if set(t.figures) & set(SLIDES) else t

    series = {
        role: replace(s, taken=tuple(map(shown, s.taken))) for role, s in given_.series.items()
    }
    return replace(given_, series=series, slides=slides, parameters=_placed(given_, figures))


def _placed(given_: Given, figures: Callable[[Figures], Figures]) -> dict[str, Any]:
    """What the plan states, the places on the slides as they are there."""
    stated = dict(given_.parameters)
    for stem in ("centre", "origin", "pivot"):
        names = [f"{stem}_{slide.lower()}_mm" for slide in SLIDES]
        if all(name in stated for name in names):
            there = figures(
                {slide: given_.number(n) for slide, n in zip(SLIDES, names, strict=True)}
            )
            for slide, name in zip(SLIDES, names, strict=True):
                stated[name] = Decimal(repr(there[slide]))
    return stated


def started(name: str, sample: Sample) -> tuple[Method, Given, Outcome]:
    found = measured(name, sample.inputs)
    return found.method, found.given, found.outcome


def the_same(found: Outcome, as_: Outcome) -> None:
    """To 1e-8 mm or deg, and u to the last digit that is ever printed."""
    assert found.values == pytest.approx(as_.values, abs=1e-8)
    assert found.budget.u == pytest.approx(as_.budget.u, rel=1e-5)
    assert [r.split(" of ")[0] for r in found.refusals] == [
        r.split(" of ")[0] for r in as_.refusals
    ]


@of_each(ON_SLIDES)
@given(dx=st.floats(-200, 200), dz=st.floats(-200, 200))
@settings(max_examples=8, deadline=None)
def test_nothing_hangs_on_where_the_slides_have_their_zero(
    name: str, sample: Sample, dx: float, dz: float
) -> None:
    method, given_, as_read = started(name, sample)
    by = {"X": dx, "Z": dz}
    moved = carried(given_, lambda f: {k: v + by[k] for k, v in f.items()}, given_.slides)
    the_same(method.evaluate(moved), as_read)


def mirrored(given_: Given, slide: str) -> Given:
    """That slide counts the other way: what was greater is smaller now, and the set-up says so."""
    slides, other = (
        given_.slides,
        carried(
            given_, lambda f: {k: -v if k == slide else v for k, v in f.items()}, given_.slides
        ),
    )
    if slide != slides.radial:
        return replace(other, slides=replace(slides, tip=-slides.tip))

    def renamed(series: Series) -> Series:
        if not set(series.marks) <= set(SIDES):
            return series
        return replace(series, taken=tuple(replace(t, mark=SIDES[t.mark]) for t in series.taken))

    series = {SIDES.get(role, role): renamed(s) for role, s in other.series.items()}
    return replace(other, series=series, slides=replace(slides, outward=-slides.outward))


@of_each(BOTH_WAYS)
@pytest.mark.parametrize("slide", SLIDES)
def test_nothing_hangs_on_which_way_a_slide_counts(name: str, sample: Sample, slide: str) -> None:
    method, given_, as_read = started(name, sample)
    the_same(method.evaluate(mirrored(given_, slide)), as_read)


def exchanged(given_: Given) -> Given:
    """The tool clamped square to where it was: the slide Z is the radial one now."""
    slides = replace(given_.slides, radial=given_.slides.along, along=given_.slides.radial)
    other = carried(given_, lambda f: {OTHER[k]: v for k, v in f.items()}, slides)
    free = other.parameters.get("freedoms")
    if isinstance(free, tuple):
        turned = tuple(OTHER.get(str(f), str(f)) for f in free)
        return replace(other, parameters={**other.parameters, "freedoms": turned})
    return other


@of_each(BOTH_WAYS)
def test_nothing_hangs_on_which_slide_is_the_radial_one(name: str, sample: Sample) -> None:
    method, given_, as_read = started(name, sample)
    the_same(method.evaluate(exchanged(given_)), as_read)


@of_each(TURNED)
@given(by=st.floats(-180, 180))
@settings(max_examples=12, deadline=None)
def test_nothing_hangs_on_how_the_picture_is_turned_where_the_method_is_free_of_it(
    name: str, sample: Sample, by: float
) -> None:
    method, given_, as_read = started(name, sample)
    c, s = math.cos(math.radians(by)), math.sin(math.radians(by))
    turned = carried(
        given_,
        lambda f: {"X": c * f["X"] - s * f["Z"], "Z": s * f["X"] + c * f["Z"]},
        given_.slides,
    )
    found = method.evaluate(turned)
    assert found.values == pytest.approx(as_read.values, abs=1e-8)
    # How the slides lack squareness depends on where an edge points: less than 0.2 % of u here.
    assert found.budget.u == pytest.approx(as_read.budget.u, rel=2e-3)


def test_a_value_that_is_turned_is_one_of_those_that_hang_on_no_direction() -> None:
    """What is said to turn freely has no axis and no slide in it; a mirrored contour is another."""
    for name, _ in TURNED:
        roles = {role.reads for role in named(name).roles}
        assert roles == {Reads.POINT}
    assert {name for name, sample in SAMPLES if sample.handed} == {"profile, contour"}


SHIFTED = tuple(
    each
    for each in SAMPLES
    if any(r.reads is Reads.INDICATOR and r.name in each[1].inputs for r in named(each[0]).roles)
)


@of_each(SHIFTED)
@given(by=st.floats(-0.5, 0.5))
@settings(max_examples=8, deadline=None)
def test_nothing_hangs_on_where_an_indicator_has_its_zero(
    name: str, sample: Sample, by: float
) -> None:
    method, given_, as_read = started(name, sample)

    def moved(s: Series) -> Series:
        if s.channel != "indicator":
            return s
        return replace(
            s,
            taken=tuple(
                replace(t, figures={k: v + by for k, v in t.figures.items()}) for t in s.taken
            ),
        )

    there = replace(given_, series={role: moved(s) for role, s in given_.series.items()})
    the_same(method.evaluate(there), as_read)


ALIKE = {
    "lead from travel and turn",
    "helix angle from travel and turn",
    "helix angle on a taper",
}


@of_each(tuple(each for each in SAMPLES if each[0] in ALIKE))
@pytest.mark.parametrize("left", [False, True])
def test_a_left_hand_is_a_right_hand_whose_index_counts_the_other_way(
    name: str, sample: Sample, left: bool
) -> None:
    method, given_, as_read = started(name, sample)
    stated = dict(given_.parameters)
    stated["index_sense"] = "clockwise"
    stated["hand"] = "left" if left else "right"
    found = method.evaluate(replace(given_, parameters=stated))
    assert found.values[0] == pytest.approx((1 if left else -1) * as_read.values[0])
    assert any("hand flute" in r for r in found.refusals) is not left


odd = st.sampled_from([0.0, 1e-12, 1.0, -1.0, 20.0, 31.447, 90.0, 1e5, 1e9])


@of_each(SAMPLES)
@given(draw=st.data())
@settings(max_examples=25, deadline=None)
def test_whatever_is_read_a_method_gives_a_number_or_the_one_error(
    name: str, sample: Sample, draw: st.DataObject
) -> None:
    method, given_, _ = started(name, sample)
    few = draw.draw(st.integers(0, 3))

    def slipped(t: Taken) -> Taken:
        chosen = few == 0 or draw.draw(st.integers(0, few)) == 0
        if not chosen:
            return t
        return replace(t, figures={k: draw.draw(odd) for k in t.figures})

    series = {
        role: replace(s, taken=tuple(map(slipped, s.taken))) for role, s in given_.series.items()
    }
    try:
        found = method.evaluate(replace(given_, series=series))
    except InspectRecError:
        return
    assert all(map(math.isfinite, (*found.values, found.budget.u)))
