"""Drawings in DXF to nominal contours: what another program drew, and what is refused."""

from __future__ import annotations

import cmath
import json
import math
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import drawing, mapping, outline
from drivers.mapping import Begin, Mapping
from drivers.outline import Outline
from inspect_rec.compute.chain import Link
from inspect_rec.compute.contour import Straight
from inspect_rec.errors import InputError
from inspect_rec.methods.contours import contour_of
from inspect_rec.units import Unit

FOLDER = Path(__file__).parents[2] / "fixtures" / "drawings"
POINTS = json.loads((FOLDER / "points.json").read_text("utf-8"))
FORM = (
    "from 0 0",
    "line 2 0",
    "arc 3 1 1 concave",
    "line 3 5",
    "arc 5 7 2 convex",
    "arc 7 5 2 convex",
    "line 7.5 1.25",
)


def stated(
    x: str = "0", z: str = "0", unit: Unit | None = None, body: str = "", layer: str = ""
) -> Mapping:
    units = {"lengths": unit} if unit else {}
    begin = Begin(Decimal(x), Decimal(z))
    return Mapping("m.toml", "contour", units=units, begin=begin, body=body, layer=layer)


def dxf(*entities: str, units: int | None = 4) -> bytes:
    """A drawing from entities written as "LINE 10 0 20 0 11 1 21 0"."""
    pairs = ["0", "SECTION", "2", "HEADER"]
    if units is not None:
        pairs += ["9", "$INSUNITS", "70", str(units)]
    pairs += ["0", "ENDSEC", "0", "SECTION", "2", "ENTITIES"]
    for entity in entities:
        pairs += ["0", *entity.split()]
    return "\r\n".join([*pairs, "0", "ENDSEC", "0", "EOF", ""]).encode()


def off_mm(found: Outline, points: Sequence[Sequence[float]]) -> float:
    """How far the furthest of the points lies off the contour, as the method reads it."""
    links = contour_of(found.elements)
    return max(min(_apart(link, complex(x, z)) for link in links) for x, z in points)


def _apart(link: Link, point: complex) -> float:
    start, end = complex(*link.start), complex(*link.end)
    ends = min(abs(point - start), abs(point - end))
    if isinstance(link.element, Straight):
        along = ((point - start) / (end - start)).real
        return min(ends, abs(point - start - min(max(along, 0), 1) * (end - start)))
    centre = complex(*link.element.centre)
    middle, half = (start - centre) + (end - centre), cmath.phase((end - centre) / (start - centre))
    inside = abs(cmath.phase((point - centre) / middle)) <= abs(half) / 2 if point != centre else 0
    return min(ends, abs(abs(point - centre) - link.element.radius_mm)) if inside else ends


def read(name: str, given: Mapping) -> Outline:
    return outline.contour((FOLDER / f"{name}.dxf").read_bytes(), given, name)


@pytest.mark.parametrize(
    ("name", "given"),
    [
        ("pieces-mm", stated(layer="EDGE")),
        ("lwpolyline-in", stated()),
        ("polyline-r12", stated(unit=Unit.MM)),
    ],
)
def test_a_drawing_of_another_program_is_the_contour_that_was_drawn(
    name: str, given: Mapping
) -> None:
    found = read(name, given)
    assert found.elements == FORM
    assert not found.closed
    assert found.gap_mm < 1e-9
    assert off_mm(found, POINTS[name]) < 1e-6


def test_the_way_begins_where_it_is_stated_with_the_body_on_its_right_hand() -> None:
    back = read("pieces-mm", stated("7.5", "1.25", layer="EDGE"))
    assert back.elements == (
        *("from 7.5 1.25", "line 7 5", "arc 5 7 2 concave", "arc 3 5 2 concave"),
        *("line 3 1", "arc 2 0 1 convex", "line 0 0"),
    )


def test_everything_that_is_not_in_the_chain_is_named_with_its_line() -> None:
    found = read("pieces-mm", stated(layer="EDGE"))
    assert [m.found for m in found.left] == [
        "TEXT on layer 'NOTES'", "LINE on layer 'AXIS'", "SPLINE on layer 'EDGE'",
    ]  # fmt: skip
    lines = (FOLDER / "pieces-mm.dxf").read_text("utf-8").splitlines()
    assert [lines[int(m.where.split(":")[1])].strip() for m in found.left] == [
        "TEXT", "LINE", "SPLINE",
    ]  # fmt: skip
    apart = outline.contour(
        dxf("LINE 10 0 20 0 11 1 21 0", "LINE 10 5 20 0 11 6 21 0", "ARC 10 9 20 9 40 1 50 0 51 9"),
        stated(),
        "a.dxf",
    )
    assert apart.elements == ("from 0 0", "line 1 0")
    assert [m.found for m in apart.left] == ["one apart from it"] * 2


@pytest.mark.parametrize(("body", "how"), [("inside", "convex"), ("outside", "concave")])
def test_a_circle_closes_and_its_body_is_stated(body: str, how: str) -> None:
    found = read("circle-mm", stated("1", "5", body=body))
    assert found.closed
    assert len(found.elements) == 4
    assert {e.split()[-1] for e in found.elements[1:]} == {how}
    assert (found.elements[0], found.elements[-1]) == ("from 1 5", f"arc 1 5 3 {how}")
    assert off_mm(found, POINTS["circle-mm"]) < 1e-6


def test_a_closed_polyline_runs_so_that_its_body_is_on_the_right_hand() -> None:
    square = "LWPOLYLINE 90 4 70 1 10 0 20 0 10 4 20 0 10 4 20 4 10 0 20 4 42 0.41421356"
    for data in (dxf(square), dxf(square.replace("0.4", "-0.4"))):
        inside = outline.contour(data, stated("4", "0", body="inside"), "a.dxf").elements
        outside = outline.contour(data, stated("4", "0", body="outside"), "a.dxf").elements
        assert inside[:2] == ("from 4 0", "line 0 0")
        assert outside[:2] == ("from 4 0", "line 4 4")
        assert inside[-1] == outside[-1].replace("0 0", "4 0") == "line 4 0"


@pytest.mark.parametrize("bulge", ["1", "-1", "0.9", "-0.9"])
def test_what_arcs_enclose_counts_for_the_way_of_a_contour_that_closes(bulge: str) -> None:
    data = dxf(f"LWPOLYLINE 90 2 70 1 10 0 20 0 42 {bulge} 10 4 20 0 42 {bulge}")
    found = outline.contour(data, stated(body="inside"), "a.dxf")
    assert {element.split()[-1] for element in found.elements[1:]} == {"convex"}


def test_ends_that_nearly_meet_are_one_and_the_gap_is_told() -> None:
    data = dxf("LINE 10 0 20 0 11 1 21 0", "LINE 10 1.0006 20 0.0005 11 1 21 5")
    found = outline.contour(data, stated(), "a.dxf")
    assert found.elements == ("from 0 0", "line 1 0", "line 1 5")
    assert found.gap_mm == pytest.approx(math.hypot(0.0006, 0.0005))
    wide = outline.contour(data, stated(), "a.dxf")
    assert len(wide.left) == 0
    with pytest.raises(InputError, match="no contour begins"):
        outline.contour(data, stated("1", "0"), "a.dxf")


@pytest.mark.parametrize(
    ("data", "given", "why"),
    [
        (dxf("LINE 10 0 20 0 11 1 21 0", units=None), stated(), "says no unit"),
        (dxf("LINE 10 0 20 0 11 1 21 0", units=0), stated(), "says no unit"),
        (dxf("LINE 10 0 20 0 11 1 21 0", units=5), stated(), "found 5 cm"),
        (dxf("LINE 10 0 20 0 11 1 21 0", units=1), stated(unit=Unit.MM), "another than stated"),
        (dxf("LINE 10 0 20 0 11 1 21 0"), stated("9"), r"\[0, 0\], \[1, 0\]"),
        (dxf("LINE 10 0 20 0 11 1 21 0"), stated(body="inside"), "doesn't close"),
        (dxf("CIRCLE 10 0 20 0 40 1"), stated("1", "0"), "the contour closes"),
        (dxf("CIRCLE 10 0 20 0 40 1"), stated("2", "0", body="inside"), "no contour begins"),
        (dxf(), stated(), "no contour\n.*expected lines and arcs, found none"),
        (dxf("SPLINE 10 0 20 0"), stated(), r"no contour\n.*a.dxf:\d+: .*found SPLINE"),
        (dxf("LINE 10 0 20 0 11 1 21 0", "LINE 10 0 20 0 11 0 21 1", "LINE 10 0 20 0 11 9 21 1"),
         stated(), "at most two pieces"),
        (b"AutoDraw Binary\r\n\x1a\0", stated(), "Save it as ASCII"),
        (b"0\nSECTION\n2\nENTITIES\n", stated(), "without its end"),
        (b"0\nSECTION\n2\nENTITIES\n0\nENDSEC\n", stated(), "no end of the file"),
        (b"0\nSECTION\n2\n", stated(), "group code"),
        (b"hello\nworld\n", stated(), "'hello'"),
        (b"", stated(), "no end"),
    ],
)  # fmt: skip
def test_what_is_not_said_or_no_contour_is_refused(data: bytes, given: Mapping, why: str) -> None:
    with pytest.raises(InputError, match=why):
        outline.contour(data, given, "a.dxf")


def test_a_figure_with_a_control_character_is_none() -> None:
    """Found by fuzzing: a space to a regular expression, and none to a number."""
    data = dxf("LINE 10 0 20 0 11 1 21 0", "LINE 10 5 20 0 11 77 21 0").replace(b"77", b"7\x1c")
    (left,) = outline.contour(data, stated(), "a.dxf").left
    assert "figure" in str(left)


@pytest.mark.parametrize(
    ("entity", "expected"),
    [
        ("LINE 10 nan 20 0 11 1 21 0", "figure"),
        ("LINE 10 inf 20 0 11 1 21 0", "figure"),
        ("LINE 10 1e9 20 0 11 1 21 0", "figure"),
        ("LINE 10 1_0 20 0 11 1 21 0", "figure"),
        ("LINE 10 0 20 0 11 1", "figure"),
        ("LINE 10 0 20 0 30 1 11 1 21 0 31 2", "plane"),
        ("ARC 10 0 20 0 40 1 50 0 51 90 210 0 220 0 230 -1", "plane"),
        ("ARC 10 0 20 0 40 -1 50 0 51 90", "radius"),
        ("ARC 10 0 20 0 40 1 50 0 51 360", "less than a turn"),
        ("LINE 67 1 10 0 20 0 11 1 21 0", "sheet of paper"),
        ("LINE 60 1 10 0 20 0 11 1 21 0", "visible"),
        ("LINE 67 x 10 0 20 0 11 1 21 0", "whole number"),
        ("LWPOLYLINE 90 3 10 0 20 0 10 1 20 0", "as many vertices"),
        ("LWPOLYLINE 90 2 10 0 10 1 20 0", "X and Y"),
        ("LWPOLYLINE 90 1 10 0 20 0", "2 vertices"),
        ("LWPOLYLINE 90 2 10 0 20 0 42 1e-6 10 9 20 0", "centres"),
        ("POLYLINE 66 1 70 8", "no mesh"),
        ("ELLIPSE 10 0 20 0", "LINE or ARC"),
    ],
)
def test_an_entity_that_is_no_piece_of_the_plane_is_named(entity: str, expected: str) -> None:
    data = dxf("LINE 10 0 20 0 11 5 21 0", entity)
    found = outline.contour(data, stated(), "a.dxf")
    assert found.elements == ("from 0 0", "line 5 0")
    assert len(found.left) == 1
    assert expected in found.left[0].expected


def test_a_bulge_that_nobody_could_measure_is_a_line() -> None:
    data = dxf("LWPOLYLINE 90 2 10 0 20 0 42 1e-8 10 9 20 0")
    assert outline.contour(data, stated(), "a.dxf").elements == ("from 0 0", "line 9 0")


@pytest.mark.parametrize("limit", ["LARGEST", "MOST_PIECES", "MOST_LEFT"])
def test_a_drawing_beyond_the_limits_is_refused(
    monkeypatch: pytest.MonkeyPatch, limit: str
) -> None:
    monkeypatch.setattr(drawing, limit, 2)
    many = [f"LINE 10 {n} 20 0 11 {n + 1} 21 0" for n in range(3)] + ["TEXT"] * 3
    with pytest.raises(InputError, match="too"):
        outline.contour(dxf(*many), stated(), "a.dxf")


SHAPES = st.floats(-50, 50).map(lambda f: f"{f:.4f}")


BULGES = st.sampled_from(["0", "0.3", "-1", "5", "-0.02"])


@given(st.lists(st.tuples(SHAPES, SHAPES, BULGES), min_size=2, max_size=8))
@settings(deadline=None)
def test_any_polyline_is_a_contour_that_the_method_reads(
    vertices: list[tuple[str, str, str]],
) -> None:
    groups = " ".join(f"10 {x} 20 {y} 42 {bulge}" for x, y, bulge in vertices)
    data = dxf(f"LWPOLYLINE 90 {len(vertices)} {groups}")
    try:
        found = outline.contour(data, stated(*vertices[0][:2]), "a.dxf")
    except InputError:
        return
    assert off_mm(found, [(float(x), float(y)) for x, y, _ in vertices]) < 0.002


ALL = [(FOLDER / f"{name}.dxf").read_bytes() for name in POINTS]


@given(st.sampled_from(ALL), st.lists(st.tuples(st.integers(0), st.binary(max_size=6)), max_size=5))
@settings(deadline=None, max_examples=200)
def test_a_damaged_drawing_is_read_or_refused(data: bytes, places: list[tuple[int, bytes]]) -> None:
    changed = bytearray(data)
    for where, part in places:
        at = where % len(changed)
        changed[at : at + len(part)] = part
    try:
        found = outline.contour(bytes(changed), stated(unit=Unit.MM, layer="EDGE"), "a.dxf")
    except InputError:
        return
    assert found.elements[0] == "from 0 0"


@given(st.binary(max_size=300))
def test_any_bytes_are_refused(data: bytes) -> None:
    with pytest.raises(InputError):
        outline.contour(data, stated(), "a.dxf")


def test_a_mapping_for_contours_names_layer_body_and_begin() -> None:
    text = 'kind = "contour"\n[contour]\nbegin = [1, 5]\nbody = "inside"\n[units]\nlengths = "mm"\n'
    found = read("circle-mm", mapping.parse(text, "m.toml"))
    assert found.elements[0] == "from 1 5"
