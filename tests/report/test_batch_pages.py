"""The pages of a batch sheet: the same bytes, nothing lost or over anything, tagged, archival."""

from __future__ import annotations

import io
import re
import subprocess
from collections.abc import Callable
from dataclasses import replace
from functools import cache, partial
from pathlib import Path

import pikepdf
import pytest
from pikepdf import Name

from inspect_rec.report import batch, pdf, record
from inspect_rec.report.batch_content import Sheet
from inspect_rec.report.letterhead import Letterhead
from report_templates import batch as template
from report_templates import languages, sheet, words
from tests import batches, worked
from tests.batches import Ledger
from tests.programs import needs
from tests.report import letterheads
from tests.report import test_archival as archival
from tests.report import test_batch as told
from tests.report import test_look as look
from tests.report import test_structure as structure

ISSUED = "2026-11-24T08:00:00Z"
LONG = "A-TOOL-MARK-OF-39-CHARACTERS-NO-LESS-"


def of(found: Ledger, language: str = "en", letterhead: Letterhead | None = None) -> Sheet:
    head = replace(batches.header(found, language), letterhead=letterhead)
    return batch.of(tuple(found.entries), head)


@cache
def many(language: str = "en") -> Sheet:
    """So many tools that each table goes on over pages."""
    c = told.said(language)
    points = tuple(replace(p, label=f"{n:04d}") for n, p in enumerate(c.trend.points * 20))
    return replace(
        c,
        lines=c.lines * 17,
        reports=c.reports * 17,
        trend=replace(c.trend, points=points),
        exceptions=replace(c.exceptions, paragraphs=c.exceptions.paragraphs * 17),
    )


@cache
def crowded(language: str = "en") -> Sheet:
    """Every name longer than its room, more columns than stand side by side."""
    c, w = told.said(language), words(language)
    line = replace(
        c.lines[8],
        mark=f"{LONG}9",
        cells=c.lines[8].cells * 4,
        word=w["batch.both"].format(
            verdict=w["short.neither shown"], decision=w["batch.not released"]
        ),
    )
    column = replace(c.columns[2], name="Ball radius measured in the plane of the edge")
    return replace(
        c,
        heading="1 234 tools, A-DRAWING-NUMBER-OF-MANY-SIGNS-1234567",
        tool=("Ball nose end mill with a long neck and a corner radius R 4.9, 24 flutes; end mill",
              "Solid carbide K20-K40 · TiAlN · resharpened, edges honed; high speed steel · new"),
        columns=(*c.columns[:2], *(column for _ in range(18))),
        lines=(line,) * 9,
        counts=tuple(replace(n, number="1 234", note=f"{LONG}1, {LONG}2 and 1232 more")
                     for n in c.counts),
        reports=tuple(replace(r, mark=f"{LONG}9") for r in c.reports),
        signatures=tuple(
            replace(s, name="Maximiliane Hohenstein-Wolkenburg, Leopold von Waldhausen, M. Oakes")
            if s.role else s for s in c.signatures
        ),
    )  # fmt: skip


SHEETS: dict[str, Callable[[], Sheet]] = {
    "mixed": told.said,
    "mixed, German": lambda: told.said("de"),
    "one tool": lambda: of(Ledger(1)),
    "US Letter": lambda: of(told.mixed(), letterhead=letterheads.letterhead()),
    "many": many,
    "many, German": lambda: many("de"),
    "crowded": crowded,
    "crowded, German": lambda: crowded("de"),
}
every = pytest.mark.parametrize("name", SHEETS)


@cache
def content(name: str) -> Sheet:
    return SHEETS[name]()


@cache
def drawn(name: str) -> bytes:
    c = content(name)
    draw = partial(template.draw, content=c)
    paper = sheet.PAPERS[c.paper]
    return pdf.pages(draw, f"{c.title} {c.number}", c.language, {}, ISSUED, paper)


def text(data: bytes) -> str:
    return "\n".join("\n".join(page) for page in pdf.text_of(data))


def test_a_shops_logo_and_lines_stand_on_every_page_and_its_name_stays_as_text() -> None:
    data, head = drawn("US Letter"), letterheads.letterhead()
    with structure.opened(data) as file:
        assert all(len(page.Resources.XObject) == 1 for page in file.pages)
    for page in pdf.text_of(data):
        assert head.line in " ".join(page)
        assert worked.shop().shop.name in " ".join(page)


# -- the same bytes ------------------------------------------------------------------


def test_the_same_record_gives_the_same_bytes() -> None:
    made = batches.sheet(told.mixed()).rendered.pdf
    files = pdf.attachments(made, batch.LARGEST)
    assert set(files) == {batch.RECORD, batch.DIGESTS}
    head, entries = record.from_bytes(files[batch.RECORD], batch.FORMAT, batch.LARGEST)
    assert batch.make(entries, head).rendered.pdf == made
    assert files[batch.DIGESTS] == batch.digests(told.said().reports)


@pytest.mark.parametrize("language", sorted(languages()))
def test_a_sheet_is_in_its_language(language: str) -> None:
    other = {"en": "de", "de": "en"}[language]
    whole = text(drawn("mixed" if language == "en" else "mixed, German"))
    for key in ("title", "judged", "all_conform", "not_averaged", "reports", "read", "end"):
        assert words(language)[f"batch.{key}"] in whole, key
        assert words(other)[f"batch.{key}"] not in whole, key


# -- nothing lost, nothing over anything ---------------------------------------------


@every
def test_no_text_stands_over_another_or_off_its_page(name: str) -> None:
    high = sheet.PAPERS[content(name).paper].high
    for number, page in enumerate(look.boxes(drawn(name)), 1):
        for n, a in enumerate(page):
            assert a[1] > 18, (number, a)
            assert a[3] < 197, (number, a)
            assert a[2] > 10, (number, a)
            assert a[4] < high - 7, (number, a)
            assert [b for b in page[n + 1 :] if look.over(a, b)] == [], (number, a)
        assert len([b for b in page if b[4] > high - 16.5]) == 4, number


def said_by(c: Sheet) -> list[str]:
    said = [c.title, c.number, *c.head_left, c.heading, *c.tool, *(x for f in c.facts for x in f)]
    said += [x for n in c.counts for x in (n.number, n.word, n.note)]
    said += [x for n in c.columns for x in (n.name, n.limits, n.largest, n.mean, n.smallest)]
    said += [x for line in c.lines for x in (line.mark, line.left, line.word, line.report)]
    said += [cell.text for line in c.lines for cell in line.cells]
    said += [*c.summed, c.trend.title, *c.axis, c.exceptions.heading, *c.exceptions.paragraphs]
    said += [x for r in c.reports for x in (r.number, r.mark, r.decision, r.day, r.digest)]
    said += [x for t in c.texts for x in (t.heading, *t.paragraphs)]
    said += [x for s in c.signatures for x in (s.role, s.meaning, s.name, *s.lines)]
    return [*said, *c.foot]


@every
def test_every_word_is_on_the_pages(name: str) -> None:
    whole = re.sub(r"\s", "", text(drawn(name)))
    for each in dict.fromkeys(said_by(content(name))):
        parts = [re.sub(r"\s", "", part) for part in each.split()]
        assert re.sub(r"\s", "", each) in whole or all(part in whole for part in parts), each


def test_a_long_mark_is_whole_in_its_row() -> None:
    c = content("crowded")
    assert len(c.lines[0].mark) == 38
    whole = re.sub(r"\s", "", text(drawn("crowded")))
    assert whole.count(c.lines[0].mark) >= 3 * len(c.lines)  # so many tables side by side


def test_two_hundred_tools_have_each_a_row_under_heads_that_repeat() -> None:
    c, pages = content("many"), pdf.text_of(drawn("many"))
    whole = [" ".join(page) for page in pages]
    marks = [line.mark for line in c.lines]
    found = re.findall(r"QF-\d{4}", " ".join(page for page in whole if "Verdict, decision" in page))
    assert len(found) >= len(marks) == 204
    with_rows = [page for page in whole if "A-0233" in page and "released" in page]
    assert len(with_rows) > 6
    assert all("Verdict, decision" in p or "SHA-256 of the signed file" in p for p in with_rows)
    last = [page for page in whole if "end of sheet" in page]
    assert last == whole[-1:]
    for n, page in enumerate(whole, 1):
        assert f"page {n} of {len(whole)}" in page


def test_the_signature_stands_on_page_1_where_a_report_has_it() -> None:
    made = batches.sheet(told.mixed()).rendered
    report = {"page": 0}
    (box,) = made.boxes.values()
    assert box.page == report["page"]
    assert list(made.boxes) == ["released_by"]
    # Nothing of the page stands in it: role, meaning and name are the signature's own.
    inside = [
        b for b in look.boxes(made.pdf)[0]
        if b[3] * 72 / 25.4 > box.x0 and b[1] * 72 / 25.4 < box.x1
        and (297 - b[4]) * 72 / 25.4 > box.y0 and (297 - b[4]) * 72 / 25.4 < box.y1
    ]  # fmt: skip
    assert inside == []


# -- tags, archive, other programs ---------------------------------------------------


@every
def test_each_piece_of_text_is_in_the_tree_once_and_tables_are_tables(name: str) -> None:
    with structure.opened(drawn(name)) as file:
        named = structure.pieces(file)
        assert len(named) == len(set(named))
        assert sorted(named) == sorted(structure.drawn(file))
        tree = list(structure.elements(file.Root.StructTreeRoot.K))
        assert [str(e.S)[1:] for e in tree][:2] == ["Document", "H1"]
        tables = [e for e in tree if Name.Table == e.S]
        assert len(tables) >= 2
        for table in tables:
            assert len(structure.row_widths(table)) == 1


@archival.pytestmark[0]
@archival.pytestmark[1]
def test_an_independent_checker_finds_it_archival(tmp_path: Path) -> None:
    files = {f"{n}.pdf": archival.twin(drawn(name)) for n, name in enumerate(SHEETS)}
    assert archival.preflight(tmp_path, files) == ["valid"] * len(SHEETS)


def test_it_calls_itself_pdf_a_3_and_both_attachments_are_associated() -> None:
    with pikepdf.open(io.BytesIO(batches.sheet(told.mixed()).rendered.pdf)) as file:
        metadata = file.Root.Metadata.read_bytes()
        assert b"<pdfaid:part>3<" in metadata
        assert b"Batch sheet B1-batch" in metadata
        assert sorted(str(f.UF) for f in file.Root.AF) == [batch.RECORD, batch.DIGESTS]


@needs("sha256sum")
def test_the_digests_are_those_that_another_program_checks(tmp_path: Path) -> None:
    (tmp_path / "A-0231.pdf").write_bytes(b"a report")
    named = told.said().reports[0]
    digest = subprocess.run(
        ["sha256sum", "A-0231.pdf"], cwd=tmp_path, capture_output=True, text=True, check=True
    ).stdout.split()[0]
    lines = batch.digests([replace(named, digest=digest), replace(named, number="x", digest="")])
    (tmp_path / batch.DIGESTS).write_bytes(lines)
    done = subprocess.run(
        ["sha256sum", "--strict", "-c", batch.DIGESTS],
        cwd=tmp_path, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (0, "A-0231.pdf: OK\n")
