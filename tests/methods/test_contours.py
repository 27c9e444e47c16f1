"""Profiles against a stated contour, in a face with rake, too; lengths on a screen."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec import jobfile
from inspect_rec.compute import geometry
from inspect_rec.errors import ComputeError, InputError
from inspect_rec.methods.base import Instrument, Outcome, Series, Slides, Taken
from inspect_rec.methods.contours import contour_of
from inspect_rec.methods.register import named
from tests import worked
from tests.compute.test_chain import LINKS, ON, OWN, moved
from tests.methods.readings import alone, asked, both_sides, points, scatter_um
from tests.methods.test_arcs import Pairs, rough

ELEMENTS = (
    "from 0 5",
    "line 2.2 5",
    "arc 3 4.2 0.8 convex",
    "line 3 2.5",
    "arc 4.5 1 1.5 concave",
    "line 7 1",
)
shifts = st.floats(-0.03, 0.03)
places = st.floats(-80, 80)


def profile(
    read: Pairs, *freedoms: str, elements: Sequence[str] = ELEMENTS, **more: object
) -> Outcome:
    stated = {"elements": tuple(elements), "freedoms": freedoms, **more}
    return named("profile, contour").evaluate(asked({"points": points(read)}, **stated))  # type: ignore[arg-type]


def test_a_stated_contour_is_read_as_the_chain_that_it_is() -> None:
    for link, wanted in zip(contour_of(ELEMENTS), LINKS, strict=True):
        assert link.start == wanted.start
        assert link.end == wanted.end
        assert link.element.deviation((3.3, 2.2)) == pytest.approx(
            wanted.element.deviation((3.3, 2.2))
        )


@pytest.mark.parametrize(
    ("elements", "said"),
    [
        ((), "a start and an element"),
        (("from 0 5",), "a start and an element"),
        (("line 0 5", "line 1 5"), "element 1 of the contour: expected from X Z"),
        (("from 0", "line 1 5"), "element 1"),
        (("from 0 5", "line 1 5", "lien 3 5"), "element 3 of the contour: expected line X Z"),
        (("from 0 5", "line 1,5 5"), "found 'line 1,5 5'"),
        (("from 0 5", "line 1e9 5"), "element 2"),
        (("from 0 5", "arc 3 5 2"), "arc X Z R convex"),
        (("from 0 5", "arc 3 5 1 convex"), r"element 2 \(arc 3 5 1 convex\): no such arc"),
        (("from 0 5", "arc 3 5 0 convex"), "no such radius"),
        (("from 0 5", "line 0 5"), "no such straight element"),
    ],
)
def test_what_is_no_contour_is_said_with_its_number(elements: tuple[str, ...], said: str) -> None:
    with pytest.raises(InputError, match=said):
        contour_of(elements)


@given(shifts, shifts, st.floats(-0.3, 0.3), places, places)
@settings(max_examples=40)
def test_a_profile_set_off_and_turned_anywhere_on_the_slides_deviates_nowhere(
    x: float, z: float, turn: float, origin_x: float, origin_z: float
) -> None:
    read = [(a + origin_x, b + origin_z) for a, b in moved(ON, x, z, turn)]
    found = profile(read, "X", "Z", "rotation", origin_x_mm=origin_x, origin_z_mm=origin_z)
    assert max(map(abs, found.values)) < 1e-9
    assert found.detail["rotation_deg"] == pytest.approx(turn, abs=1e-8)
    assert found.detail["elements"] == tuple(n + 1.0 for n in OWN)
    still = profile(read, "none", origin_x_mm=origin_x, origin_z_mm=origin_z)
    if math.hypot(x, z) > 0.001:
        assert max(map(abs, still.values)) > 1e-5
    assert still.detail["rotation_deg"] == 0


def test_an_outcome_says_how_far_along_the_contour_each_point_lies() -> None:
    found = profile(ON, "none").detail["along_mm"]
    assert isinstance(found, tuple)
    # A line of 2.2, a quarter turn of R 0.8, a line of 1.7, a quarter turn of R 1.5, a line of 2.5.
    parts = (2.2, 0.4 * math.pi, 1.7, 0.75 * math.pi, 2.5)
    wanted = [sum(parts[:n]) + part * parts[n] for n in range(5) for part in (0.1, 0.35, 0.65, 0.9)]
    assert found == pytest.approx(wanted)


@given(st.sampled_from(range(20)), st.floats(0.001, 0.02))
@settings(max_examples=30)
def test_metal_left_is_the_highest_and_metal_missing_the_lowest(which: int, off: float) -> None:
    _, nx, nz = LINKS[OWN[which]].element.deviation(ON[which])
    for way in (1, -1):
        read = list(ON)
        read[which] = (ON[which][0] + way * off * nx, ON[which][1] + way * off * nz)
        low, high = profile(read, "none").values
        assert (high if way > 0 else -low) == pytest.approx(off, abs=1e-9)
        assert (low if way > 0 else high) == pytest.approx(0, abs=1e-9)


def test_only_what_is_declared_moves_and_a_turn_without_a_shift_needs_its_pivot() -> None:
    read = moved(ON, 0.01, 0.02, 0.1)
    one = profile(read, "X")
    assert one.detail["shift_z_um"] == 0
    assert one.detail["rotation_deg"] == 0
    with pytest.raises(InputError, match="pivot_x_mm and pivot_z_mm"):
        profile(read, "rotation")
    about = profile(
        moved(ON, 0.0, 0.0, 0.1),
        "rotation",
        pivot_x_mm=0,
        pivot_z_mm=0,
        origin_x_mm=0,
        origin_z_mm=0,
    )
    assert about.detail["rotation_deg"] == pytest.approx(0.1)
    for freedoms in ((), ("X", "none"), ("Y",)):
        with pytest.raises(InputError, match="declared freedoms"):
            profile(read, *freedoms)
    with pytest.raises(InputError, match="alone says nothing"):
        profile(read, "X", origin_x_mm=1)
    with pytest.raises(InputError, match="needs a contour"):
        named("profile, contour").evaluate(asked({"points": points(ON)}, freedoms=("X",)))
    with pytest.raises(ComputeError, match="hold"):
        profile(ON[:3], "X", "Z")


def test_a_point_past_the_end_of_the_contour_gives_no_verdict() -> None:
    assert profile([*ON, (7.05, 1.0)], "none").refusals == ()
    assert "0.30 mm past the end" in profile([*ON, (7.3, 1.0)], "none").refusals[0]


def test_the_budget_of_one_deviation_agrees_with_trials_of_points_that_nothing_moves() -> None:
    """One point stands far out, so that it is the highest in every trial; what a best fit moves
    takes up a part of its scatter, so u is on the safe side there."""
    read = [*ON[:1], (ON[1][0], ON[1][1] + 0.05), *ON[2:]]
    only = alone(crosshair=1.5)
    u = profile(read, "none", influences=only).budget.u
    still = scatter_um(lambda r: profile(rough(read, r), "none").value, 500)
    assert u == pytest.approx(still, rel=0.1)  # 500 trials know it to 3 %
    fitted = scatter_um(lambda r: profile(rough(read, r), "X", "Z").value, 500)
    assert 0.75 * u < fitted < 1.06 * u


RAKE, OUTER = 12.0, 30.0
CUTTER = ("from 20 0", "line 30 0", "line 30 -4", "arc 27 -7 3 concave", "line 27 -12")
CUTTER_ON = [
    (30.0, -1.0),
    (30.0, -3.0),
    *((30 - 3 * math.sin(t), -7 + 3 * math.cos(t)) for t in (0.3, 0.8, 1.3)),
    (27.0, -8.0),
    (27.0, -11.0),
    (25.0, 0.0),
    (28.0, 0.0),
]


def in_face(on: Pairs, axis: float, outward: int = 1, rake: float = RAKE) -> Pairs:
    """How points of an axial plane appear in the face: at their depth there below the outermost,
    which stands at r cos g from the axis."""
    outermost = OUTER * math.cos(math.radians(rake))
    return [
        (axis + outward * (outermost - geometry.depth_in_face(OUTER, OUTER - r, rake)), z)
        for r, z in on
    ]


def cutter(read: Pairs, axis: float, *freedoms: str, rake: float = RAKE, **more: object) -> Outcome:
    stated = {"elements": CUTTER, "freedoms": freedoms, "origin_x_mm": axis, "origin_z_mm": 0}
    series = {"points": points(read), "axis": both_sides(axis)}
    given_ = asked(series, rake_deg=rake, outer_radius_mm=OUTER, **stated, **more)  # type: ignore[arg-type]
    return named("profile, contour").evaluate(given_)


@given(st.floats(-25, 25), places)
@settings(max_examples=40)
def test_a_profile_sighted_in_a_face_with_rake_is_that_of_the_axial_plane(
    rake: float, axis: float
) -> None:
    assert max(
        map(abs, cutter(in_face(CUTTER_ON, axis, rake=rake), axis, "none", rake=rake).values)
    ) < (1e-9)


def test_a_rake_that_is_left_out_shows_as_a_profile_that_is_too_deep() -> None:
    """Expected: at 12 deg and r 30 a depth of 3 mm appears as 3.07 mm in the face."""
    axis = 5.0
    read = in_face(CUTTER_ON, axis)
    flat = profile(
        read,
        "X",
        elements=CUTTER,
        origin_x_mm=axis - 30 * (1 - math.cos(math.radians(RAKE))),
        origin_z_mm=0,
    )
    assert flat.values[1] - flat.values[0] > 0.05
    deep = geometry.depth_in_face(30, 3, 12)
    assert deep == pytest.approx(3.07, abs=0.005)
    mirrored = [(-x, z) for x, z in read]
    series = {"points": points(mirrored), "axis": both_sides(-axis)}
    turned = ("from -27 -12", "line -27 -7", "arc -30 -4 3 concave", "line -30 0", "line -20 0")
    stated = {"elements": turned, "freedoms": ("none",), "origin_x_mm": -axis, "origin_z_mm": 0}
    given_ = asked(
        series,
        rake_deg=RAKE,
        outer_radius_mm=OUTER,
        slides=Slides("X", "Z", -1, 1),
        **stated,  # type: ignore[arg-type]
    )
    assert max(map(abs, named("profile, contour").evaluate(given_).values)) < 1e-9


def test_the_rows_of_rake_and_axis_agree_with_trials_of_them() -> None:
    """The row holds the deviation that changes most; here all that is read at the root does."""
    only = alone(rake_of_the_face=0.1)
    u = cutter(in_face(CUTTER_ON, 0.0), 0.0, "none", influences=only).budget.u
    read = in_face(CUTTER_ON, 0.0)

    def lowest(random: np.random.Generator) -> float:
        rake = RAKE + random.uniform(-0.1, 0.1)
        low, high = cutter(read, 0.0, "none", rake=float(rake)).values
        return high if high > -low else low

    assert u == pytest.approx(scatter_um(lowest, 500), rel=0.1)
    shifted = cutter(read, 0.0, "X", influences=only).budget.u
    assert shifted < u / 2


def test_a_rake_needs_its_radius_and_the_axis() -> None:
    with pytest.raises(InputError, match="rake_deg and outer_radius_mm"):
        profile(ON, "none", rake_deg=10)
    with pytest.raises(InputError, match="need the axis"):
        profile(ON, "none", rake_deg=10, outer_radius_mm=30)
    with pytest.raises(InputError, match="beyond the axis"):
        cutter([(-1.0, 0.0), *CUTTER_ON], 0.0, "none")


RULE = Instrument("RU-1", half_step=250.0)
GRATICULE = Instrument("GR-1", expanded=2.0, value=2.0)


def shown(length_mm: float, graticule_mm: float, **more: object) -> Outcome:
    def rule(mm: float, master: Instrument | None = None) -> Series:
        return Series(
            "screen", (Taken("1", 1, None, {"length": mm}, ("A", 1)),), "length", RULE, master
        )

    series = {"length": rule(length_mm), "graticule": rule(graticule_mm, GRATICULE)}
    return named("length on the screen").evaluate(asked(series, **more))  # type: ignore[arg-type]


@given(st.floats(0.05, 5), st.floats(5, 100))
def test_a_length_on_the_screen_is_that_over_the_magnification(mm: float, times: float) -> None:
    found = shown(mm * times, 2.0 * times)
    assert found.value == pytest.approx(mm, abs=1e-9)
    assert found.detail["magnification"] == pytest.approx(times)


def test_the_budget_of_a_length_on_the_screen_agrees_with_trials() -> None:
    only = alone(**{"laying-up on the screen": 100.0})
    times = 30.0

    def ruled(random: np.random.Generator, mm: float) -> float:
        return float(mm + random.normal(0, 0.1) + random.uniform(-0.25, 0.25, 2).sum())

    def once(random: np.random.Generator) -> float:
        true = 2.0 + random.normal(0, 0.001)
        return shown(ruled(random, 1.2 * times), ruled(random, true * times)).value

    assert shown(1.2 * times, 2.0 * times, influences=only).budget.u == pytest.approx(
        scatter_um(once), rel=0.05
    )
    larger = [shown(1.2 * t, 2.0 * t).budget.u for t in (10, 30, 100)]
    assert larger == sorted(larger, reverse=True)


def test_a_screen_without_a_graticule_that_has_a_value_is_refused() -> None:
    bare = Series("screen", (Taken("1", 1, None, {"length": 5.0}, ("A", 1)),), "length", RULE)
    with pytest.raises(InputError, match="no master with a value"):
        named("length on the screen").evaluate(asked({"length": bare, "graticule": bare}))
    with pytest.raises(ComputeError, match="graticule on the screen"):
        shown(36.0, 0.0)


def job_with(elements: str) -> str:
    """The job of the form cutter, its profile held against a stated contour."""
    text = (worked.FOLDER / "i3.toml").read_text(encoding="utf-8")
    start = text.index('method = "profile, radius held"')
    end = text.index("printed_in", start)
    stated = f"with = {{ elements = {elements}, freedoms = ['X', 'Z'] }}\n"
    method = 'method = "profile, contour"\nfeature = { points = "profile arc" }\n'
    return text[:start] + method + stated + text[end:]


def test_a_job_file_states_a_contour_and_a_mistake_in_it_is_said_with_its_line() -> None:
    good = job_with("['from 43 60', 'arc 37 60 3 concave']")
    found = jobfile.parse_job(good, worked.shop(), "job.toml")
    stated = next(c for c in found.characteristic if c.id == "profile").parameters["elements"]
    assert stated == ("from 43 60", "arc 37 60 3 concave")
    for elements, said in (
        ("['from 43 60', 'arc 37 60 2 concave']", "its ends lie too far apart"),
        ("['from 43 60', 'bow 37 60 3']", "element 2 of the contour"),
        ("[43, 60]", "from X Z, then: line X Z"),
        ("'from 43 60'", "a list"),
    ):
        bad = job_with(elements)
        line = bad[: bad.index("elements = ")].count("\n") + 1
        with pytest.raises(InputError, match=said) as caught:
            jobfile.parse_job(bad, worked.shop(), "job.toml")
        assert [m.where for m in caught.value.mistakes] == [f"job.toml:{line}"]
