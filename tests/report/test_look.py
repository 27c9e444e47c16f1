"""The report's look: fonts, nothing lost, nothing over the foot, long and empty data."""

from __future__ import annotations

from dataclasses import replace
from importlib import resources

import pypdfium2
import pytest
from reportlab.pdfbase import pdfmetrics

from inspect_rec.report import pdf
from inspect_rec.report.content import Content
from report_templates import letter, lettering, words
from tests import signing

FOOT_MM = 297 - 16


def rendered(content: Content) -> bytes:
    return pdf.render(content, {}, "2026-11-17T08:22:38Z").pdf


@pytest.mark.parametrize("font", [lettering.REGULAR, lettering.SEMIBOLD])
def test_figures_and_signs_are_all_equally_wide(font: str) -> None:
    lettering.fonts()
    wide = {round(pdfmetrics.stringWidth(c, font, 1000)) for c in "0123456789+−±"}
    assert wide == {600}


@pytest.mark.parametrize(
    "font",
    [lettering.REGULAR, lettering.SEMIBOLD, lettering.CONDENSED, lettering.CONDENSED_SEMIBOLD],
)
def test_the_fonts_have_what_the_trade_writes(font: str) -> None:
    lettering.fonts()
    known = pdfmetrics.getFont(font).face.charWidths
    missing = [c for c in "αβγκλρστφΔØ±−≤≥′″°µ–·×ÄÖÜäöüßЖдź" if ord(c) not in known]
    assert missing == []


def test_the_licence_stands_beside_the_fonts() -> None:
    text = (resources.files("report_templates") / "fonts" / "OFL.txt").read_text("utf-8")
    assert "SIL OPEN FONT LICENSE" in text


def places(data: bytes) -> list[list[tuple[str, float]]]:
    """Per page each character with its height over the foot, mm from the top."""
    document = pypdfium2.PdfDocument(data)
    found = []
    for page in document:
        text = page.get_textpage()
        high = page.get_height()
        chars = []
        for n in range(text.count_chars()):
            _, bottom, _, _ = text.get_charbox(n)
            chars.append((text.get_text_range(n, 1), (high - bottom) / lettering.MM))
        found.append(chars)
        text.close()
        page.close()
    document.close()
    return found


def many(content: Content, edges: int, groups: int) -> Content:
    group = content.groups[0]
    rows = tuple(replace(group.rows[n % 4], edge=str(n + 1)) for n in range(edges))
    long = tuple(
        replace(group, number=n + 1, name=f"{group.name} {n + 1}", rows=rows) for n in range(groups)
    )
    feature = content.features[0]
    return replace(
        content,
        groups=long,
        features=tuple(replace(feature, number=n + 1) for n in range(9)),
        features_more="21 more on page 2",
        edges=edges,
        mark="A-TOOL-MARK-OF-29-CHARACTERS-X",
    )


@pytest.mark.parametrize("number", ["I1", "I2", "I3"])
def test_nothing_stands_over_the_foot(number: str) -> None:
    for page in places(rendered(signing.made(number).said)):
        body = [(char, y) for char, y in page if FOOT_MM - 1.5 < y < FOOT_MM + 2]
        assert body == []


def test_24_flutes_and_30_characteristics_flow_over_pages_with_their_heads() -> None:
    content = many(signing.made("I1").said, 24, 30)
    texts = pdf.text_of(rendered(content))
    whole = "\n".join("\n".join(page) for page in texts)
    assert len(texts) > 15
    assert all(f"Ball radius RE {n}" in whole for n in range(1, 31))
    heads = sum("lower limit" in " ".join(page) for page in texts)
    assert heads >= 15
    for page in places(rendered(content)):
        assert not [c for c, y in page if FOOT_MM - 1.5 < y < FOOT_MM + 2]
    assert whole.count("end of report") == 1


def test_every_value_of_the_table_is_on_the_pages() -> None:
    for number in ("I1", "I2", "I3"):
        said = signing.made(number).said
        whole = " ".join(" ".join(page) for page in pdf.text_of(rendered(said)))
        for group in said.groups:
            for row in group.rows:
                assert row.value.replace(" to ", " to ") in whole, row.value
        for offset in said.offsets:
            assert offset.value in whole


def test_the_emptiest_report_still_says_what_is_missing() -> None:
    content = signing.made("I1").said
    empty = replace(
        content,
        groups=(),
        features=(),
        graph=None,
        profiles=(),
        offsets=(),
        life=replace(content.life, now=None, words="not stated"),
        verdict=replace(content.verdict, verdict="refused", deciding=None),
    )
    whole = " ".join(" ".join(page) for page in pdf.text_of(rendered(empty)))
    assert "not stated" in whole
    assert "end of report" in whole


def test_a_kind_without_a_sketch_says_so() -> None:
    content = replace(signing.made("I1").said, sketch="something else", edges=11)
    whole = " ".join(" ".join(page) for page in pdf.text_of(rendered(content)))
    assert "no sketch for this kind" in whole


def test_every_language_has_every_word() -> None:
    folder = resources.files("report_templates") / "words"
    languages = [f.name.removesuffix(".toml") for f in folder.iterdir() if f.name.endswith(".toml")]
    assert "en" in languages
    for language in languages:
        assert set(words(language)) == set(words("en")), language


def test_the_signature_boxes_lie_on_the_page_and_apart() -> None:
    boxes = letter.boxes()
    _, x0, y0, x1, y1 = boxes["measured_by"]
    _, a0, b0, a1, b1 = boxes["released_by"]
    assert 0 < x0 < x1 < a0 < a1 < letter.WIDE * lettering.MM
    assert 0 < y0 < y1
    assert 0 < b0 < b1
