"""Drawings of arcs and contours: sides, words, edges told apart, every method, and extremes."""

from __future__ import annotations

import math
import random
import re
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from functools import partial

import pytest

from inspect_rec.methods.register import named
from inspect_rec.report import pdf, profiles
from inspect_rec.report.profile_arcs import FORM, HELD, PROFILE
from inspect_rec.report.profile_content import Profiles, Round
from inspect_rec.report.profile_drawn import fitted
from inspect_rec.simulate.job import measured
from inspect_rec.simulate.known import tools
from inspect_rec.simulate.machine import BUDGETS, errors
from report_templates import forms, graphs, words
from report_templates.contour import Drawing
from report_templates.letter_profiles import that_matter
from report_templates.pen import Point
from tests import signing
from tests.report import contoured, drawn, samples
from tests.report.test_look import boxes, over

# -- sides, edges, words ---------------------------------------------------------


def word(d: Drawing, key: str) -> Point:
    return next((t.x, t.y) for t in d.texts if t.said == d.words[key])


@pytest.mark.parametrize(
    ("name", "n", "inside"),
    [("I1", 0, "page.metal"), ("I3", 0, "page.air"), ("I3", 1, "page.air")],
)
def test_metal_lies_inside_a_ball_and_outside_a_concave_radius(
    name: str, n: int, inside: str
) -> None:
    p = samples.contents()[name].profiles[n]
    d = drawn.drawing(p)
    (piece,) = p.form.pieces
    assert isinstance(piece, Round)
    for key in ("page.metal", "page.air"):
        far = math.hypot(*word(d, key))
        assert (far < piece.radius * d.laid.scale) == (key == inside)


def test_metal_lies_over_the_contour_of_a_cutter_whose_axis_is_above() -> None:
    (p,) = contoured.said().profiles
    d = drawn.drawing(p)
    assert word(d, "page.metal")[1] < min(place.y for place in d.laid.nominal)
    assert word(d, "page.air")[1] > min(place.y for place in d.laid.nominal)


def test_a_subtitle_says_what_was_held_and_that_nothing_was_turned_or_scaled() -> None:
    ball, (radius, profile) = (samples.contents()[n].profiles for n in ("I1", "I3"))
    said = [p.subtitle for p in (*ball, radius, profile, *contoured.said().profiles)]
    assert "its own circle, held on the axis, Z free" in said[0]
    assert "its own circle, free in X and Z" in said[1]
    assert "R 3 held, X and Z set free" in said[2]
    assert "5 straight and 2 round, 10.59 mm long" in said[3]
    assert all("not turned, not scaled" in each for each in said)
    assert "limits 4.890 – 4.910" in said[0]


def test_of_24_edges_the_one_that_decides_is_drawn_and_the_report_says_how_many_are() -> None:
    p = drawn.arc(5, (5, 85), count=24, decides=17)
    chosen = that_matter(p.edges)
    assert len(chosen) == 4
    assert "18" in [e.label for e in chosen]
    content = replace(samples.contents()["I1"], profiles=(p,))
    whole = " ".join(
        " ".join(page) for page in pdf.text_of(pdf.render(content, {}, samples.ISSUED).pdf)
    )
    assert "Drawn are 4 of 24 flutes" in whole
    assert len(that_matter(drawn.arc(5, (5, 85), count=8).edges)) == 8


NO_RADIUS = {
    "tip from a datum", "step at a blend", "tangency at a blend", "pivot offset by swing test",
    "form by swing test",
}  # fmt: skip
"""Their limits are none of an arc; and the last doesn't know its radius."""


def test_every_method_that_measures_round_an_arc_is_drawn() -> None:
    holding = set()
    for name, makes in tools().items():
        make = next(iter(makes.values()))
        found = measured(named(name), make, errors(BUDGETS), "drawn 1").outcome.detail
        many = {key for key, value in found.items() if isinstance(value, tuple)}
        if "angles_deg" in many or ("radius_mm" in found and many):
            holding.add(name)
    assert holding == {*HELD, FORM, PROFILE, *NO_RADIUS}


def simulated(name: str, language: str) -> tuple[Profiles, float]:
    """Job I1, its ball radius measured by another method on the simulated machine."""
    makes = tools()[name]
    found = measured(named(name), next(iter(makes.values())), errors(BUDGETS), "drawn 2").outcome
    inspection = signing.made("I1").inspection
    (c,) = (c for c in inspection.job.characteristic if c.id == "R")
    nominal = Decimal(0) if name == FORM else Decimal(f"{found.value:.2f}")
    limits = {"nominal": nominal, "lower": nominal - 1, "upper": nominal + 1}
    other = c.model_copy(update={**limits, "parameters": {"form": "convex"}})
    values = tuple(Decimal(repr(v)) for v in found.values)
    results = tuple(
        replace(r, characteristic=other, outcome=found, method=named(name), values=values)
        for r in inspection.results
        if r.characteristic.id == "R"
    )
    job = inspection.job.model_copy(update={"characteristic": (other,)})
    record = replace(inspection.record, job=job)
    changed = replace(inspection, record=record, results=results)
    (drawn_,) = profiles.of(changed, {"R": 1}, words(language))
    return drawn_, found.value


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("name", sorted({*HELD, FORM}))
def test_points_of_each_method_lie_about_the_value_that_it_states(name: str, language: str) -> None:
    """Where the radius is free, deviations from the circle sum up to nought (its normal equation):
    the mean of what is drawn is the stated value less the nominal."""
    p, value = simulated(name, language)
    (piece,) = p.form.pieces
    assert isinstance(piece, Round)
    for edge in p.edges:
        mean = sum(d for _, d in edge.points) / len(edge.points)
        stated = 0.0 if name == FORM else (value - piece.radius) * 1000
        # The centre of a smooth corner hangs on the radius, and the equation is another.
        near = 5.0 if name == "corner radius between two straights" else 1e-3
        assert mean == pytest.approx(stated, abs=near)
    assert drawn.drawing(p, language).height > 40
    assert not re.search("[{}]", p.subtitle + p.caption + p.title)


def test_a_point_far_out_is_held_near_the_zone_and_its_figure_is_told() -> None:
    p = drawn.arc(5, (5, 85), deviation=lambda _of, n, k: -900.0 if (n, k) == (0, 4) else 0.0)
    d = drawn.drawing(p)
    far = d.spots[id(p.edges[0])][4]
    assert far.beyond == -1
    assert far.by == pytest.approx(-(13 * d.laid.times / 1000 + forms.BEYOND))
    assert any(t.said == "−900 µm" for t in d.texts)


def test_without_limits_no_limit_is_drawn() -> None:
    """An earlier program drew limits of 10 um where none were set."""
    none = drawn.arc(5, (5, 85), limits=(None, None), guard=0.0)
    one = drawn.arc(5, (5, 85), limits=(None, 20.0))
    assert [t.said for t in drawn.drawing(none).texts if "µm" in t.said] == ["0 µm"]
    assert {"+20", "+20 µm"} & {t.said for t in drawn.drawing(one).texts}
    thick = [path for path in drawn.seen(drawn.drawing(none)).paths if len(path) > 60]
    more = [path for path in drawn.seen(drawn.drawing(one)).paths if len(path) > 60]
    assert len(more) == len(thick) + 1


@pytest.mark.parametrize(
    ("limits", "wanted"),
    [
        ((-10.0, 10.0), (0, 20)),
        ((0.0, 30.0), (15, 30)),
        ((None, 20.0), (0, 40)),
        ((None, None), (0, 10)),
    ],
)
def test_a_small_graph_has_both_limits_at_a_quarter_and_three_quarters(
    limits: tuple[float | None, float | None], wanted: tuple[float, float]
) -> None:
    (edge,) = drawn.arc(5, (5, 85), limits=limits, count=1, deviation=lambda *_: 4.2).edges
    assert graphs.window(edge) == pytest.approx(wanted)


# -- extremes --------------------------------------------------------------------


def far_out(of: random.Random, edge: int, point: int) -> float:
    return of.uniform(-8, 8) if point != 3 else (900.0 if edge else -400.0)


def named_at_length(p: Profiles) -> Profiles:
    longer = tuple(
        replace(e, title=f"Schneide {n}", value="−104,9 bis +101,8 µm")
        for n, e in enumerate(p.edges, 1)
    )
    return replace(p, edges=longer, title="Profilabweichung der Schneide " * 4)


EXTREMES: dict[str, Callable[[], Profiles]] = {
    "eight flutes": lambda: drawn.arc(4.9, (5, 85), count=8),
    "24 flutes": lambda: drawn.arc(4.9, (5, 85), count=24, decides=17),
    "10 degrees of R 200": lambda: drawn.arc(200, (40, 50)),
    "R 0.1": lambda: drawn.arc(0.1, (5, 85)),
    "nothing off": lambda: drawn.arc(5, (5, 85), deviation=lambda *_: 0.0),
    "far out": lambda: drawn.arc(5, (-85, 85), deviation=far_out),
    "nearly a whole circle": lambda: drawn.arc(5, (-170, 170), points=21),
    "no limits": lambda: drawn.arc(5, (5, 85), limits=(None, None), guard=0.0),
    "no limits, nothing off": lambda: drawn.arc(
        5, (5, 85), limits=(None, None), guard=0.0, deviation=lambda *_: 0.0
    ),
    "an upper limit alone": lambda: drawn.arc(5, (5, 85), limits=(None, 20.0)),
    "limits to one side": lambda: drawn.arc(5, (5, 85), limits=(20.0, 40.0), count=1),
    "no room between the guard bands": lambda: drawn.arc(5, (0, 90), points=3, guard=30.0),
    "900 points": lambda: drawn.arc(5, (5, 85), points=900, count=3),
    **{f"contour {n}": partial(drawn.winding, n) for n in range(12)},
    "long values": lambda: named_at_length(drawn.arc(5, (5, 85), count=24, decides=17)),
    "contour, far out": lambda: drawn.winding(3, deviation=far_out),
}


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", EXTREMES)
def test_no_text_of_an_extreme_stands_over_another_or_off_the_page(name: str, paper: str) -> None:
    language = "de" if paper == "Letter" else "en"
    content = replace(
        samples.in_language("I1", language).said, profiles=(EXTREMES[name](),), paper=paper
    )
    rendered = pdf.render(content, {}, samples.ISSUED).pdf
    assert rendered == pdf.render(content, {}, samples.ISSUED).pdf
    for number, page in enumerate(boxes(rendered), 1):
        for n, a in enumerate(page):
            assert 18 < a[1] < a[3] < 197, (number, a)
            assert [b for b in page[n + 1 :] if over(a, b)] == [], (number, a)


@pytest.mark.parametrize("name", EXTREMES)
def test_a_drawing_is_as_high_and_wide_as_it_says(name: str) -> None:
    p = EXTREMES[name]()
    d = Drawing(p, that_matter(p.edges), words("en"))
    seen = drawn.seen(d)
    xs, ys = zip(*(at for path in [*seen.paths, seen.discs] for at in path), strict=True)
    assert min(ys) >= 50 - 1e-6
    assert max(ys) <= 50 + d.height + 1e-6
    assert min(xs) >= 20
    assert max(xs) <= 20 + 131


@pytest.mark.parametrize(
    ("freedoms", "english", "german"),
    [
        (("X", "Z"), "X and Z set free, not turned, not scaled", "X und Z frei, nicht gedreht"),
        (("Z",), "Z set free, not turned, not scaled", "Z frei, nicht gedreht"),
        (("X", "Z", "rotation"), "X and Z and rotation set free, not scaled", "Drehung frei"),
        (("rotation",), "rotation set free, not shifted, not scaled", "nicht verschoben"),
        (("none",), "nothing set free: not shifted, not turned, not scaled", "nichts frei"),
    ],
)
def test_a_subtitle_says_what_the_fit_was_free_to_move(
    freedoms: tuple[str, ...], english: str, german: str
) -> None:
    plan = contoured.plan(contoured.entries()[0], freedoms)
    assert fitted(plan.characteristic[0], words("en")) == english
    assert german in fitted(plan.characteristic[0], words("de"))
