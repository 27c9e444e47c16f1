"""A shop's letterhead: read with all its mistakes, kept in the record, and never able to hide what
a report must say."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from itertools import combinations, permutations
from pathlib import Path
from random import Random
from typing import Any, get_args

import pikepdf
import pytest

from inspect_rec.config import Folder
from inspect_rec.errors import InputError, ReportError
from inspect_rec.people import key_id
from inspect_rec.report import figures, letterhead, make, pdf, record, sign
from inspect_rec.report.letterhead import Block
from inspect_rec.report.verify import verify
from report_templates import letter, pictures, sheet
from report_templates import letterhead as drawing
from report_templates.lettering import MM
from tests import signing, worked
from tests.report import letterheads, samples
from tests.report import test_archival as archival
from tests.report.test_look import boxes, over

BLOCKS = get_args(Block)


def mistakes(text: str, logo: bytes | None = None) -> list[str]:
    with pytest.raises(InputError) as caught:
        letterheads.letterhead(text, logo)
    return [f"{m.where} {m.expected} {m.found}" for m in caught.value.mistakes]


# -- reading ---------------------------------------------------------------------


def test_all_mistakes_are_told_at_once_each_with_its_line() -> None:
    text = (
        'paper = "A3"\n'
        'lines = ["one"]\n'
        'logo = "logo.png"\n'
        'order = ["rule", "verdict"]\n'
        "hide = true\n"
        "[[statement]]\n"
        'heading = "H"\n'
        'text = ["a\\nb"]\n'
    )
    found = mistakes(text, b"no picture")
    lines = {int(each.split(" ")[0].split(":")[1]) for each in found}
    assert lines == {1, 3, 4, 5, 8}, found


def test_lines_that_dont_fit_the_head_are_a_mistake_and_not_cut() -> None:
    wide = ", ".join('"' + "W" * 59 + '"' for _ in range(3))
    (found,) = mistakes(f"lines = [{wide}]\n")
    assert "letterhead.toml:1" in found
    assert "mm too much" in found


def test_a_sign_that_no_font_has_is_told_before_a_report_is_made() -> None:
    (found,) = mistakes('lines = ["\U0001f600"]\n')
    assert "U+1F600" in found


def test_a_block_named_twice_is_a_mistake() -> None:
    (found,) = mistakes('order = ["rule", "rule"]\n')
    assert "rule stands twice" in found


@pytest.mark.parametrize("block", ["verdict", "table", "signatures", "end", "statements"])
def test_what_has_a_fixed_place_cant_be_moved(block: str) -> None:
    assert mistakes(f'order = ["{block}"]\n')


def test_a_logo_beside_the_file_is_read_and_none_from_another_folder(tmp_path: Path) -> None:
    (tmp_path / "logo.png").write_bytes(letterheads.picture())
    (tmp_path / "letterhead.toml").write_text('logo = "logo.png"\n', encoding="utf-8")
    found = Folder(tmp_path).letterhead()
    assert found is not None
    assert found.logo is not None
    assert found.logo.data == letterheads.picture()
    (tmp_path / "letterhead.toml").write_text('logo = "../logo.png"\n', encoding="utf-8")
    with pytest.raises(InputError, match="without a folder"):
        Folder(tmp_path).letterhead()
    (tmp_path / "letterhead.toml").write_text('\nlogo = "none.png"\n', encoding="utf-8")
    with pytest.raises(InputError, match=r"letterhead\.toml:2.*no such file"):
        Folder(tmp_path).letterhead()


def test_a_shop_without_the_file_has_no_letterhead(tmp_path: Path) -> None:
    assert Folder(tmp_path).letterhead() is None


def test_the_example_of_the_document_is_read_and_names_every_block() -> None:
    text = (Path(__file__).parents[2] / "docs" / "letterhead.md").read_text(encoding="utf-8")
    example = text.split("```toml\n")[1].split("```")[0]
    found = letterheads.letterhead(example)
    assert found.paper == "Letter"
    assert found.line == "Tel. +44 0000 000000 · tallow-lane.example"
    assert len(found.statement[0].text) == 2
    assert all(f"`{block}`" in text for block in BLOCKS)


# -- logo ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "mode"),
    [("PNG", m) for m in ("RGBA", "RGB", "L", "LA", "P", "1")] + [("JPEG", "RGB"), ("JPEG", "L")],
)
def test_pictures_of_every_allowed_kind_come_onto_the_page(kind: str, mode: str) -> None:
    logo = letterhead.logo_of(letterheads.picture(kind, mode))
    content = replace(samples.contents()["I1"], logo=logo.data)
    with pikepdf.open(_stream(pdf.render(content, {}, samples.ISSUED).pdf)) as file:
        for page in file.pages:
            (image,) = page.Resources.XObject.values()
            assert str(image.ColorSpace) in {"/DeviceRGB", "/DeviceGray"}
            assert "/SMask" not in image


def _stream(data: bytes) -> io.BytesIO:
    return io.BytesIO(data)


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (letterheads.picture("JPEG", "CMYK"), "CMYK"),
        (letterheads.picture()[:-40], "whole PNG or JPEG"),
        (letterheads.picture("GIF", "P"), "PNG or JPEG"),
        (letterheads.picture(size=(2001, 10)), "2001 pixels"),
        (b"\x89PNG" + bytes(300_000), "200 kB"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "PNG or JPEG"),
    ],
)
def test_a_picture_that_cant_be_printed_is_refused(data: bytes, told: str) -> None:
    with pytest.raises(InputError, match=told):
        letterhead.logo_of(data)


@pytest.mark.parametrize("size", [(640, 160), (100, 900), (1900, 20), (3, 3)])
def test_a_logo_stays_in_its_room_and_isnt_stretched(size: tuple[int, int]) -> None:
    wide, high = pictures.room(size, drawing.WIDE, drawing.HIGH)
    assert wide <= drawing.WIDE + 1e-9
    assert high <= drawing.HIGH + 1e-9
    assert wide / high == pytest.approx(size[0] / size[1])


# -- the record ------------------------------------------------------------------


def test_a_report_without_a_letterhead_has_no_word_of_it_in_its_record() -> None:
    files = pdf.attachments(signing.made("I1").rendered.pdf, record.LARGEST)
    assert b"letterhead" not in files[record.RECORD]


def test_a_letterhead_comes_back_from_the_record_as_it_was() -> None:
    files = pdf.attachments(letterheads.made().rendered.pdf, record.LARGEST)
    header, entries = record.from_bytes(files[record.RECORD])
    assert header.letterhead == letterheads.letterhead()
    assert record.to_bytes(header, entries) == files[record.RECORD]
    assert make.header_of(letterheads.made().rendered.pdf) == header


@pytest.mark.parametrize(
    "change",
    [
        {"order": ["verdict"]},
        {"order": ["rule", "rule"]},
        {"paper": "A0"},
        {"hide": ["rule"]},
        {"logo": {"sha256": "0" * 64, "base64": ""}},
        {"logo": {"sha256": "0" * 64, "base64": "%%%%"}},
        {"statement": [{"heading": "H", "text": []}]},
        "no table",
    ],
)
def test_a_record_with_a_letterhead_that_doesnt_hold_is_refused(change: Any) -> None:
    body = letterheads.letterhead().body()
    with pytest.raises(ReportError, match="letterhead"):
        letterhead.of(change if isinstance(change, str) else body | change)


def test_a_logo_exchanged_for_another_is_refused() -> None:
    body = letterheads.letterhead().body()
    other = letterhead.logo_of(letterheads.picture("JPEG", "RGB"))
    body["logo"]["base64"] = other.base64
    with pytest.raises(ReportError, match="another digest"):
        letterhead.of(body)


@pytest.mark.parametrize("paper", list(sheet.PAPERS))
def test_a_signed_report_with_a_letterhead_is_made_again_byte_for_byte(paper: str) -> None:
    text = letterheads.TEXT.replace('"Letter"', f'"{paper}"')
    data = _signed(letterheads.made("I1", text).rendered, paper)
    found = verify(data, [signing.shop().certificate], signing.NOW)
    assert not found.findings, found.findings
    assert found.same_bytes is True
    assert found.released is True


def _signed(rendered: pdf.Rendered, paper: str) -> bytes:
    grinder, inspector = signing.who(signing.GRINDER), signing.who(signing.INSPECTOR)
    at, key = figures.moment(signing.MEASURED_AT), key_id(grinder.certificate)
    stamp = pdf.measured_stamp(grinder.person, key, at, "en", paper)
    boxes_ = dict(rendered.boxes)
    data = sign.measure_sign(rendered.pdf, grinder, signing.MEASURED_AT, boxes_, stamp)
    at, key = figures.moment(signing.RELEASED_AT), key_id(inspector.certificate)
    stamp = pdf.released_stamp(inspector.person, key, at, "en", "released", "", paper=paper)
    return sign.release_sign(data, inspector, signing.RELEASED_AT, "released", "", stamp)


# -- nothing hidden ----------------------------------------------------------------


def words_of(data: bytes) -> str:
    return re.sub(r"\s", "", "".join("".join(page) for page in pdf.text_of(data)))


def said(made: make.Made) -> list[str]:
    c = made.said
    found = [c.title, c.number, *c.head_left, c.mark, c.verdict.finding, c.verdict.permits, *c.foot]
    found += [x for t in c.texts for x in (t.heading, *t.paragraphs)]
    found += [x for g in c.groups for r in g.rows for x in (r.value, r.expanded, r.word)]
    found += [x for row in c.equipment.rows for x in row] + [p.caption for p in c.profiles]
    found += [x for s in c.signatures for x in (s.role, s.name)]
    return [*found, c.words["page.end"]]


def _orders() -> list[tuple[str, ...]]:
    every = list(permutations(BLOCKS))
    return [(), *Random(7).sample(every, 6), *((block,) for block in BLOCKS)]


@pytest.mark.parametrize("order", _orders())
@pytest.mark.parametrize("paper", list(sheet.PAPERS))
def test_no_letterhead_leaves_out_what_a_report_says(order: tuple[str, ...], paper: str) -> None:
    quoted = ", ".join(f'"{block}"' for block in order)
    text = re.sub(r"order = .*", f"order = [{quoted}]", letterheads.TEXT)
    found = letterheads.made("I1", text.replace('"Letter"', f'"{paper}"'))
    whole = words_of(found.rendered.pdf)
    plain = signing.made("I1")
    assert found.said.texts == plain.said.texts
    for each in (*said(plain), "Regrinding", "tallow-lane.example", "Send them in their boxes."):
        assert re.sub(r"\s", "", each) in whole, each


def test_blocks_stand_in_the_order_of_the_letterhead_and_the_rest_as_always() -> None:
    pages = " ".join(" ".join(page) for page in pdf.text_of(letterheads.made().rendered.pdf)[1:])
    w = letterheads.made().said.words
    keys = ("texts.equipment", "texts.supplied", "texts.rule", "texts.method")
    heads = [w["page.axis"].split("|")[0], "Regrinding", *(w[key] for key in keys)]
    places = [pages.index(head) for head in heads]
    assert places == sorted(places)


def test_every_block_below_the_table_has_a_name() -> None:
    text = re.sub(r"order = .*", 'order = ["amendment"]', letterheads.TEXT)
    assert set(letterheads.made("I1", text).said.order) < set(BLOCKS)
    with pytest.raises(KeyError):
        pdf.render(replace(samples.contents()["I1"], order=("no block",)), {}, samples.ISSUED)


# -- how it looks ------------------------------------------------------------------


def test_on_letter_nothing_is_scaled_and_only_the_gaps_give() -> None:
    data = letterheads.made().rendered.pdf
    with pikepdf.open(_stream(data)) as file:
        sizes = {tuple(float(edge) for edge in page.MediaBox)[2:] for page in file.pages}
    assert {(round(w, 1), round(h, 1)) for w, h in sizes} == {(612.0, 792.0)}
    assert pytest.approx(4.38) == sheet.US_LETTER.gap
    plain = [(b[0], b[4] - b[2]) for b in boxes(signing.made("I1").rendered.pdf)[0]]
    here = [(b[0], b[4] - b[2]) for b in boxes(data)[0]]
    compared = [said for said, _ in here if said in dict(plain)]
    assert len(compared) > 100
    for said, high in here:
        sizes_ = [tall for other, tall in plain if other == said]
        assert not sizes_ or any(high == pytest.approx(s, abs=0.05) for s in sizes_), said


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("number", ["I1", "I2", "I3"])
def test_no_text_lies_over_another_or_leaves_the_page(number: str, language: str) -> None:
    made = letterheads.made(number, letterheads.TEXT, language)
    paper = sheet.US_LETTER
    for n, page in enumerate(boxes(made.rendered.pdf), 1):
        covered = [(a[0], b[0]) for a, b in combinations(page, 2) if over(a, b)]
        assert not covered, (n, covered)
        assert all(b[4] <= paper.high - 7 and b[3] <= sheet.LEFT + sheet.LIVE + 0.6 for b in page)
        assert len([b for b in page if b[4] > paper.high - 16.5]) == 4


@pytest.mark.parametrize("name", ["longest", "longest, German", "emptiest"])
def test_the_longest_and_the_emptiest_report_fit_letter(name: str) -> None:
    content = replace(samples.contents()[name], paper="Letter", logo=letterheads.picture())
    for n, page in enumerate(boxes(pdf.render(content, {}, samples.ISSUED).pdf), 1):
        covered = [(a[0], b[0]) for a, b in combinations(page, 2) if over(a, b)]
        assert not covered, (n, covered)
        foot = [b for b in page if b[4] > sheet.US_LETTER.high - 16.5]
        assert len(foot) == 4, foot


@pytest.mark.parametrize("paper", list(sheet.PAPERS.values()))
def test_signature_boxes_lie_on_the_paper_and_under_every_block(paper: sheet.Paper) -> None:
    for page, left, bottom, right, top in letter.boxes(paper).values():
        assert page == 0
        assert 0 < left < right < paper.wide * MM
        assert 16 * MM < bottom < top
        assert paper.high - top / MM == pytest.approx(paper.sign_top + 4, abs=7)


def test_the_shops_name_stays_as_text_beside_a_logo() -> None:
    shop = worked.shop().shop.name
    for page in pdf.text_of(letterheads.made().rendered.pdf):
        assert shop in " ".join(page)


@archival.pytestmark[0]
@archival.pytestmark[1]
def test_a_report_with_a_logo_is_archival(tmp_path: Path) -> None:
    logos = {m: letterheads.picture(*m) for m in (("PNG", "RGBA"), ("JPEG", "RGB"), ("JPEG", "L"))}
    made = [replace(samples.contents()["I1"], logo=logo) for logo in logos.values()]
    drawn = {f"{n}.pdf": pdf.render(c, {}, samples.ISSUED).pdf for n, c in enumerate(made)}
    files = {name: archival.twin(data) for name, data in drawn.items()}
    assert archival.preflight(tmp_path, files) == ["valid"] * len(logos)
