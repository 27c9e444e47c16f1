"""Arcs and contours as they are drawn: points where they must lie, zones that never fold."""

from __future__ import annotations

import math
import random
import re
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from functools import partial
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.methods.register import named
from inspect_rec.report import pdf, profiles
from inspect_rec.report.profile_arcs import FORM, HELD, PROFILE
from inspect_rec.report.profile_content import Profiles, Round
from inspect_rec.simulate.job import measured
from inspect_rec.simulate.known import tools
from inspect_rec.simulate.machine import BUDGETS, errors
from report_templates import forms, graphs, scale_bars, words
from report_templates.contour import Drawing
from report_templates.letter_profiles import that_matter
from report_templates.pen import Point
from tests import signing, worked
from tests.report import contoured, drawn, samples
from tests.report.test_look import boxes, over

# -- scales ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wide", "high", "scale"),
    [
        (5.87, 2.38, 15.0),
        (4.45, 4.45, 10.0),
        (0.09, 0.09, 500.0),
        (24.6, 24.6, 2.0),
        (10.0, 0.0, 7.5),
    ],
)
def test_a_form_is_drawn_at_the_largest_round_scale_that_fits(
    wide: float, high: float, scale: float
) -> None:
    rounds = {n * 10.0**k for k in range(-2, 4) for n in (1, 1.5, 2, 3, 5, 7.5)}
    fits = [s for s in rounds if s * wide <= forms.FIELD[0] and s * high <= forms.FIELD[1]]
    assert forms.form_scale(wide, high) == pytest.approx(max(fits))
    assert max(fits) == pytest.approx(scale)


def test_a_zone_is_at_most_16_wide_and_never_folds_in_a_radius() -> None:
    assert forms.magnification(0.03, [45.0]) == 500
    assert forms.magnification(0.03, [10.0]) == 100  # 200 would be 6 wide, 0.4 R is 4
    assert forms.magnification(0.03, []) == 500


@pytest.mark.parametrize(("scale", "usual", "long"), [(15, 1, 1), (500, 1, 0.02), (0.2, 1, 50)])
def test_a_scale_bar_is_the_usual_one_or_the_next_round_one_that_fits(
    scale: float, usual: float, long: float
) -> None:
    assert scale_bars.bar(scale, usual) == pytest.approx(long)


# -- points ----------------------------------------------------------------------


def own_circle(points: list[Point], axis: float) -> tuple[float, float]:
    """Radius and place along Z of the circle on the axis, from x^2 + z^2 = 2 z0 z + c (Kasa)."""
    x, z = np.array(points).T
    a = np.column_stack([2 * z, np.ones_like(z)])
    z0, c = np.linalg.lstsq(a, (x - axis) ** 2 + z**2, rcond=None)[0]
    return math.sqrt(c + z0**2), float(z0)


def sighted(number: str, flute: int) -> list[Point]:
    """Points of an edge as the readout showed them, those that count."""
    last: dict[str, Point] = {}
    for e in worked.entries(number, signing.UPTO[number]):
        place = e.body.get("place", {})
        if (place.get("feature"), place.get("flute")) != ("profile arc", flute):
            continue
        if place.get("when") is None:
            x, z = (float(t["value"]) for t in e.body["taken"])
            last[place["mark"]] = (x, z)
    return list(last.values())


@pytest.mark.parametrize("flute", [1, 2, 4])
def test_points_of_a_ball_lie_at_nominal_plus_the_magnified_deviation(flute: int) -> None:
    """Against a circle fitted by other equations to the readings as they were sent."""
    (p,) = samples.contents()["I1"].profiles
    d = drawn.drawing(p)
    assert (d.laid.scale, d.laid.times) == (10, 500)
    points = sighted("I1", flute)
    made = signing.made("I1").inspection.result("R", flute)
    assert made is not None
    axis = made.outcome.detail["centre_x_mm"]
    assert isinstance(axis, float)
    radius, z0 = own_circle(points, axis)
    assert radius == pytest.approx(float(made.value), abs=2e-4)
    wanted = []
    for x, z in points:
        far, turn = math.hypot(x - axis, z - z0), math.atan2(abs(x - axis), z - z0)
        on_paper = 4.9 * 10 + (far - 4.9) * 500
        wanted.append((on_paper * math.sin(turn), -on_paper * math.cos(turn)))
    found = [s.at for s in d.spots[id(p.edges[flute - 1])]]
    # 0.2 um are 0.1 mm on paper.
    assert np.array(sorted(found)) == pytest.approx(np.array(sorted(wanted)), abs=0.1)


def test_points_of_a_contour_lie_at_their_foot_plus_the_magnified_deviation() -> None:
    """Against places and normals worked out by hand; the fit takes off what it was free to move."""
    (p,) = contoured.said().profiles
    d = drawn.drawing(p)
    scale, times = d.laid.scale, d.laid.times
    for n, edge in enumerate(p.edges, 1):
        wanted = []
        shift = _shift(n)
        for k, (x, z, nx, nz) in enumerate(contoured.ON, 1):
            shown = [float(v) for v in contoured.sighted(n, k)]
            off = (shown[0] - x - shift[0]) * nx + (shown[1] - z - shift[1]) * nz
            wanted.append((scale * x + times * off * nx, -(scale * z + times * off * nz)))
        found = [s.at for s in d.spots[id(edge)]]
        # A foot that lies 5 um further along the form is 0.05 mm on paper.
        assert np.array(found) == pytest.approx(np.array(wanted), abs=0.1)


def _shift(tooth: int) -> tuple[float, float]:
    """The least-squares shift of a tooth's points, linear in the normals."""
    rows, off = [], []
    for k, (x, z, nx, nz) in enumerate(contoured.ON, 1):
        shown = [float(v) for v in contoured.sighted(tooth, k)]
        rows.append((nx, nz))
        off.append((shown[0] - x) * nx + (shown[1] - z) * nz)
    x, z = np.linalg.lstsq(np.array(rows, float), np.array(off), rcond=None)[0]
    return float(x), float(z)


def test_the_discs_on_the_page_are_the_points_of_the_edge_that_decides() -> None:
    (p,) = samples.contents()["I1"].profiles
    d = drawn.drawing(p)
    deciding = next(e for e in p.edges if e.decides)
    first, *rest = (s.at for s in d.spots[id(deciding)])
    seen = drawn.seen(d).discs
    there = seen[-len(deciding.points)]
    for spot, disc in zip(rest, seen[-len(rest) :], strict=True):
        assert disc[0] - there[0] == pytest.approx(spot[0] - first[0])
        assert disc[1] - there[1] == pytest.approx(spot[1] - first[1])


def test_a_line_between_two_points_follows_the_form_and_never_cuts_a_corner() -> None:
    p = drawn.arc(5, (0, 90), points=2, deviation=lambda _of, _n, k: 10.0 * k, count=1)
    d = drawn.drawing(p)
    a, b = d.spots[id(p.edges[0])]
    between = d.laid.between((0, a.along, a.by), (0, b.along, b.by))
    radii = [math.hypot(x, y) - 5 * d.laid.scale for x, y in between]
    assert len(radii) > 20
    assert radii == pytest.approx(np.linspace(0, 10 * d.laid.times / 1000, len(radii)))


def test_what_is_taken_off_a_radius_is_taken_off_its_points() -> None:
    made = signing.made("I1")
    less = tuple(
        replace(r, values=tuple(v - Decimal("0.001") for v in r.values))
        if r.characteristic.id == "R"
        else r
        for r in made.inspection.results
    )
    other = replace(made.inspection, results=less)
    before, after = (
        profiles.of(i, {"R": 1}, words("en"))[0].edges[1].points for i in (made.inspection, other)
    )
    assert [b - a for (_, a), (_, b) in zip(before, after, strict=True)] == pytest.approx(
        [-1.0] * 9
    )


# -- zones -----------------------------------------------------------------------


def dense(p: Profiles, d: Drawing) -> np.ndarray:
    """The nominal form on paper, worked out piece by piece, 0.05 mm apart."""
    found = []
    for piece in p.form.pieces:
        shares = np.linspace(0, 1, 1 + int((piece.last - piece.first) * d.laid.scale / 0.05))
        if isinstance(piece, Round):
            turn = np.radians(piece.begin + shares * (piece.end - piece.begin))
            (cx, cy), r = piece.centre, piece.radius
            found.append(np.column_stack([cx + r * np.cos(turn), cy + r * np.sin(turn)]))
        else:
            a, b = np.array(piece.start), np.array(piece.end)
            found.append(a + shares[:, None] * (b - a))
    x, y = (d.laid.scale * np.concatenate(found)).T
    return np.column_stack([-y, -x] if d.laid.turned else [x, -y])


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_a_limit_lies_nowhere_nearer_to_the_form_than_it_must(seed: int) -> None:
    """So it never folds: a line that folds comes nearer to another part of the form."""
    p = drawn.winding(seed)
    d = drawn.drawing(p)
    form = dense(p, d)
    for um in (-10.0, 10.0):
        by = abs(um * d.laid.times / 1000)
        points = np.array([point for run in d.laid.beside(um) for point in run])
        assert len(points) > 20
        near = np.array([np.hypot(*(form - point).T).min() for point in points])
        assert near.min() > by - 0.02
        assert near.max() < by + 0.02


def crossings(line: list[Point]) -> int:
    def turn(a: Point, b: Point, c: Point) -> float:
        return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])

    found = 0
    parts = list(pairwise(line))
    for n, (a, b) in enumerate(parts):
        for c, e in parts[n + 2 :]:
            if turn(a, b, c) * turn(a, b, e) < -1e-9 and turn(c, e, a) * turn(c, e, b) < -1e-9:
                found += 1
    return found


def test_limits_of_the_worked_contour_cross_nowhere_not_even_at_its_sharp_corners() -> None:
    (p,) = contoured.said().profiles
    d = drawn.drawing(p)
    for um in (-15.0, 15.0):
        (run,) = d.laid.beside(um)
        assert crossings(run) == 0
    folded = [place.off(-15 * d.laid.times / 1000) for place in d.laid.nominal]
    assert crossings(folded) > 0


@pytest.mark.parametrize("plus", [1, -1])
@pytest.mark.parametrize(("radius", "span"), [(3, (-78, 78)), (200, (40, 50)), (0.1, (5, 85))])
def test_the_zone_of_an_arc_is_two_arcs_about_its_centre(
    radius: float, span: tuple[float, float], plus: int
) -> None:
    d = drawn.drawing(drawn.arc(radius, span, plus=plus))
    for um in (-10.0, 10.0):
        (run,) = d.laid.beside(um)
        wanted = radius * d.laid.scale + plus * um * d.laid.times / 1000
        assert [math.hypot(x, y) for x, y in run] == pytest.approx([wanted] * len(run))
    assert 20 * d.laid.times / 1000 <= min(16, 0.4 * radius * d.laid.scale) + 1e-9


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
