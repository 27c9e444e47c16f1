"""The look: fonts that align, nothing over anything else, nothing lost, bars to scale."""

from __future__ import annotations

import ctypes
import re
import struct
import tomllib
from dataclasses import replace
from importlib import resources
from importlib.resources.abc import Traversable
from io import BytesIO
from typing import cast

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFontFile

from inspect_rec.report import pdf
from inspect_rec.report.content import Bar
from report_templates import bars, letter, letter_pages, lettering, sheet, sketches
from report_templates.flow import Flow
from report_templates.pen import Pen
from tests.report import samples

CUTS = [
    lettering.REGULAR,
    lettering.SEMIBOLD,
    lettering.CONDENSED,
    lettering.CONDENSED_SEMIBOLD,
]
NAMES = [
    "I1", "I2", "I3", "I1 before rework", "I3 before rework", "I1 begun", "I2 half", "longest",
    "emptiest", "one edge", "unknown kind", "end mill",
    "too uncertain", "contour",
    *(f"{number}{state}, German" for number in ("I1", "I2", "I3")
      for state in ("", " before rework", " begun", " half")),
    "foreign names", "Korean names", "longest, German", "emptiest, German", "too uncertain, German",
    "one edge, German", "contour, German", "known tool", "known tool, German",
]  # fmt: skip
Box = tuple[str, float, float, float, float]


# -- the four tests of a font ----------------------------------------------------


@pytest.mark.parametrize("narrow", [False, True])
def test_figures_and_signs_are_all_equally_wide_where_weights_mix(narrow: bool) -> None:
    lettering.fonts()
    cuts = CUTS[2:] if narrow else CUTS[:2]
    wide = {round(pdfmetrics.stringWidth(c, f, 1000)) for f in cuts for c in "0123456789+−±"}
    assert wide == {564 if narrow else 600}


@pytest.mark.parametrize("font", CUTS)
def test_the_fonts_have_what_the_trade_writes(font: str) -> None:
    lettering.fonts()
    known = pdfmetrics.getFont(font).face.charWidths
    asked = "αβγκλρστφΔØ±−≤≥′″°µ–·×ÄÖÜäöüßЖдź" + "1lI0O" + "…\u2009\u202f\u00a0"
    missing = [c for c in asked if ord(c) not in known]
    assert missing == []


def font_tables(data: bytes) -> dict[str, bytes]:
    """Tables of a TrueType file."""
    (count,) = struct.unpack(">H", data[4:6])
    rows = [struct.unpack(">4s3I", data[12 + 16 * n : 28 + 16 * n]) for n in range(count)]
    return {tag.decode("ascii"): data[at : at + size] for tag, _, at, size in rows}


@pytest.mark.parametrize("font", CUTS)
def test_the_fonts_may_be_embedded_and_subset_and_bear_a_name_of_our_own(font: str) -> None:
    data = (resources.files("report_templates") / "fonts" / f"{font}.ttf").read_bytes()
    tables = font_tables(data)
    assert struct.unpack(">H", tables["OS/2"][8:10]) == (0,)
    assert "glyf" in tables
    names = tables["name"].replace(b"\0", b"")
    assert b"Tallow Sans" in names
    # The reserved name may stand in the copyright and trademark notes alone (OFL 1.1, clause 3).
    face = TTFontFile(BytesIO(data))
    assert all("Plex" not in str(n) for n in (face.name, face.familyName, face.styleName))


def test_the_licence_stands_beside_the_fonts() -> None:
    text = (resources.files("report_templates") / "fonts" / "OFL.txt").read_text("utf-8")
    assert "SIL OPEN FONT LICENSE" in text


# -- nothing over anything else ---------------------------------------------------


def boxes(data: bytes) -> list[list[Box]]:
    """Per page every text with the box of its ink, mm from the top left."""
    document = pypdfium2.PdfDocument(data)
    found = []
    for page in document:
        high, text_page = page.get_height(), page.get_textpage()
        here = []
        for text in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT]):
            left, bottom, right, top = (n / lettering.MM for n in text.get_bounds())
            tall = high / lettering.MM
            said = _text(text, text_page)
            if said.strip():
                here.append((said, left, tall - top, right, tall - bottom))
        found.append(here)
        text_page.close()
        page.close()
    document.close()
    return found


def _text(text: pypdfium2.PdfObject, page: pypdfium2.PdfTextPage) -> str:
    length = pdfium.FPDFTextObj_GetText(text, page, None, 0)
    buffer = ctypes.create_string_buffer(length)
    pdfium.FPDFTextObj_GetText(
        text, page, ctypes.cast(buffer, ctypes.POINTER(ctypes.c_ushort)), length
    )
    return buffer.raw[: length - 2].decode("utf-16-le")


def over(a: Box, b: Box) -> bool:
    wide = min(a[3], b[3]) - max(a[1], b[1])
    high = min(a[4], b[4]) - max(a[2], b[2])
    return wide > 0.15 and high > 0.15


def test_the_test_sees_one_text_over_another() -> None:
    content = samples.contents()["I1"]
    facts = tuple((label, f"{value}{' ' * 60}X") for label, value in content.facts)
    crowded = replace(content, facts=facts, foot=(content.foot[0] * 2, content.foot[1]))
    page = boxes(pdf.render(crowded, {}, samples.ISSUED).pdf)[0]
    assert any(over(a, b) for n, a in enumerate(page) for b in page[n + 1 :])


@pytest.mark.parametrize("name", NAMES)
def test_no_text_stands_over_another_or_off_its_page(name: str) -> None:
    for number, page in enumerate(boxes(samples.rendered(name)), 1):
        for n, a in enumerate(page):
            assert a[1] > 18, (number, a)
            assert a[3] < 197, (number, a)
            assert a[2] > 10, (number, a)
            assert a[4] < 290, (number, a)
            assert [b for b in page[n + 1 :] if over(a, b)] == [], (number, a)


@pytest.mark.parametrize("name", NAMES)
def test_nothing_stands_in_the_foot_but_the_foot(name: str) -> None:
    for page in boxes(samples.rendered(name)):
        foot = [b[0] for b in page if b[4] > sheet.HIGH - 16.5]
        assert len(foot) == 4, foot


def test_blocks_of_page_1_stand_at_the_same_height_on_every_report() -> None:
    keys = ("page.tool", "page.where", "page.left", "signature.ground")
    heights: dict[str, set[tuple[float, ...]]] = {}
    for name in NAMES:
        content, page = samples.contents()[name], boxes(samples.rendered(name))[0]
        labels = [content.words[key] for key in keys]
        found = tuple(b[4] for label in labels for b in page if b[0].strip() == label)
        heights.setdefault(content.language, set()).add(tuple(round(h, 2) for h in found))
    assert set(heights) == {"en", "de"}
    assert all(len(each) == 1 for each in heights.values())
    # Of the ink: a letter that hangs below the line is the only difference.
    (english,), (german,) = heights["en"], heights["de"]
    assert len(english) == len(keys)
    assert german == pytest.approx(english, abs=0.8)


# -- nothing lost -----------------------------------------------------------------


def plain(data: bytes) -> str:
    return re.sub(r"\s", "", "".join("".join(page) for page in pdf.text_of(data)))


@pytest.mark.parametrize("name", NAMES)
def test_every_word_of_the_content_is_on_the_pages(name: str) -> None:
    c, whole = samples.contents()[name], plain(samples.rendered(name))
    said = [c.title, c.number, *c.head_left, c.mark, *c.tool, *(x for f in c.facts for x in f)]
    said += [c.verdict.finding, c.verdict.permits, c.offsets_title, *c.foot, c.features_more]
    said += [x for o in c.offsets for x in (o.label, o.value, *o.notes)]
    said += [x for f in c.features for x in (f.name, *f.values, *f.limits)]
    said += [x for g in c.groups for x in (g.name, *g.lines)]
    said += [x for g in c.groups for r in g.rows for x in (r.value, r.expanded, r.deviation)]
    said += [x for g in c.groups for r in g.rows for x in (r.word, r.note, r.edge)]
    said += [x for t in c.texts for x in (t.heading, *t.paragraphs)]
    said += [*c.equipment.heads, *(x for row in c.equipment.rows for x in row)]
    said += [*c.equipment.below, *(p.caption for p in c.profiles)]
    said += [x for s in c.signatures for x in (s.role, s.meaning, s.name, *s.lines)]
    if c.verdict.deciding is not None:
        said += [c.verdict.deciding.label, c.verdict.deciding.name, c.verdict.deciding.value]
    for text in said:
        wanted = re.sub(r"\s", "", text)
        assert wanted in whole or all(re.sub(r"\s", "", word) in whole for word in text.split()), (
            text
        )
    for text in c.verdict.lines:
        assert re.sub(r"\s", "", text) in whole, text


@pytest.mark.parametrize("name", ["longest", "longest, German"])
def test_24_flutes_and_30_characteristics_flow_over_pages_with_their_heads(name: str) -> None:
    pages, w = pdf.text_of(samples.rendered(name)), samples.contents()[name].words
    assert len(pages) > 15
    tables = [p for p in map(" ".join, pages[1:]) if p.count(w["short.conforms"]) > 3]
    assert len(tables) >= 15
    heads = (w["page.axis"].split("|")[0], w["page.characteristic"])
    assert all(head in page for page in tables for head in heads)
    whole = "\n".join("\n".join(page) for page in pages)
    assert whole.count(w["page.end"]) == 1
    assert w["page.continued"] in whole
    last = " ".join(pages[-1])
    n = len(pages)
    assert w["page.foot_right"].partition(" · ")[2].format(revision=0, page=n, pages=n) in last


@pytest.mark.parametrize("room", [8.0, 5.5, 4.4, 2.6])
def test_the_mark_of_the_end_stands_below_the_last_block_and_not_alone(room: float) -> None:
    flow, placed = Flow(), list[float]()
    flow.place(flow.whole - room, lambda _pen, _y: None)
    flow.close(letter_pages.END, lambda _pen, y: placed.append(y))
    assert len(flow.pages) == 1
    flow.pages[-1][-1](cast("Pen", None))
    assert placed == pytest.approx([min(flow.bottom - room, flow.bottom - letter_pages.END)])


def test_a_mark_for_which_there_is_no_room_goes_to_the_next_page() -> None:
    flow = Flow()
    flow.place(flow.whole - 2.4, lambda _pen, _y: None)
    flow.close(letter_pages.END, lambda _pen, _y: None)
    assert [len(page) for page in flow.pages] == [1, 1]


@pytest.mark.parametrize("name", NAMES)
def test_no_page_of_a_sample_bears_the_mark_of_the_end_alone(name: str) -> None:
    assert len(letter_pages.paginate(samples.contents()[name])[-1]) > 1


def test_what_page_1_has_no_room_for_stands_in_full_on_page_2() -> None:
    first, second, *_ = pdf.text_of(samples.rendered("longest"))
    assert "see page 2" in " ".join(first)
    assert samples.NAME not in " ".join(first)
    assert samples.NAME in " ".join(second)


@pytest.mark.parametrize("said", ["lies 2.1 µm under", "at most 5 % of", "ground 0.012 mm on"])
def test_a_figure_and_its_unit_stay_on_one_line(said: str) -> None:
    lettering.fonts()
    before, figure, unit, after = said.rsplit(" ", 3)
    wide = lettering.width(f"{before} {figure}", lettering.REGULAR, 8.5) + 0.5
    lines = lettering.wrap(said, lettering.REGULAR, 8.5, wide)
    assert any(f"{figure} {unit}" in line for line in lines), (lines, after)


def test_a_value_under_its_limit_has_its_mark_the_other_way_up() -> None:
    content = samples.contents()["I1 before rework"]
    turned = replace(content, verdict=replace(content.verdict, under=True))
    over = pdf.render(content, {}, samples.ISSUED).pdf
    under = pdf.render(turned, {}, samples.ISSUED).pdf
    assert over != under
    assert pdf.text_of(over) == pdf.text_of(under)


@given(st.text(alphabet="abcdefgh -/", max_size=80), st.floats(min_value=3, max_value=60))
def test_wrapping_loses_nothing_and_stays_in_its_room(said: str, wide: float) -> None:
    lettering.fonts()
    lines = lettering.wrap(said, lettering.REGULAR, 8.5, wide)
    assert "".join(lines).replace(" ", "") == said.replace(" ", "")
    assert all(lettering.width(line, lettering.REGULAR, 8.5) <= wide + 1e-6 for line in lines)


@given(
    st.text(alphabet="abcdefgh ", min_size=1, max_size=120),
    st.floats(min_value=12, max_value=90),
    st.integers(1, 3),
)
def test_text_that_fits_is_whole_and_never_smaller_than_it_may_be(
    said: str, wide: float, lines: int
) -> None:
    lettering.fonts()
    found = lettering.fit(said, wide, 8.5, lettering.REGULAR, lines)
    assert found.size >= lettering.SMALLEST
    assert len(found.lines) <= lines
    if found.whole:
        assert "".join(found.lines).replace(" ", "") == said.replace(" ", "")


# -- to scale ---------------------------------------------------------------------

TWO_SIDED = Bar(9.0, 11.0, 10.0, False, 0.2, 10.5, 10.5, 0.3, "conforms")


def test_both_limits_stand_at_a_quarter_and_three_quarters() -> None:
    s = bars.scale(TWO_SIDED, 100, 50)
    assert s.at(9.0) == pytest.approx(112.5)
    assert s.at(11.0) == pytest.approx(137.5)
    assert s.at(10.5) == pytest.approx(131.25)


def test_a_limit_over_a_natural_zero_has_its_zero_at_a_quarter() -> None:
    bar = replace(TWO_SIDED, lower=None, upper=0.01, nominal=None, zero=True)
    s = bars.scale(bar, 0, 50)
    assert s.at(0.0) == pytest.approx(12.5)
    assert s.at(0.01) == pytest.approx(37.5)


def test_a_lower_limit_alone_has_a_round_width_with_room_for_value_and_whisker() -> None:
    # 1.25 * 1.05 = 1.31: the next of 1, 2, 5 is 2.
    bar = Bar(96.0, None, None, False, 0.03, 97.05, 97.05, 0.04, "conforms")
    s = bars.scale(bar, 0, 50)
    assert s.at(96.0) == pytest.approx(12.5)
    assert s.at(98.0) == pytest.approx(37.5)


def test_an_upper_limit_without_zero_is_the_same_mirrored() -> None:
    bar = Bar(None, 5.0, None, False, 0.03, 4.0, 4.0, 0.04, "conforms")
    s = bars.scale(bar, 0, 50)
    assert s.at(5.0) == pytest.approx(37.5)
    assert s.at(3.0) == pytest.approx(12.5)


def test_values_beyond_a_bar_are_held_at_its_end() -> None:
    s = bars.scale(TWO_SIDED, 0, 50)
    assert s.clipped(20.0) == 50
    assert not s.inside(20.0)
    assert s.inside(12.0)


def test_the_signature_boxes_lie_on_the_page_and_apart() -> None:
    found = letter.boxes()
    _, x0, y0, x1, y1 = found["measured_by"]
    _, a0, b0, a1, b1 = found["released_by"]
    assert 0 < x0 < x1 < a0 < a1 < sheet.WIDE * lettering.MM
    assert 0 < y0 < y1
    assert 0 < b0 < b1


def _tools() -> list[Traversable]:
    return list((resources.files("inspect_rec") / "tools").iterdir())


def test_a_kind_without_a_sketch_says_so_and_each_kind_with_one_is_drawn() -> None:
    whole = " ".join(" ".join(page) for page in pdf.text_of(samples.rendered("unknown kind")))
    assert "no sketch for this kind" in whole
    kinds = {tomllib.loads(f.read_text("utf-8"))["kind"] for f in _tools() if f.name[-4:] == "toml"}
    assert kinds == sketches.kinds()
    for name in ("I1", "I2", "I3"):
        assert samples.contents()[name].sketch in sketches.kinds()
