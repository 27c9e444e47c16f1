"""The pages of the validation record: the same bytes, whole, tagged, sound to other programs."""

from __future__ import annotations

import io
import re
import subprocess
from pathlib import Path

import pikepdf
import pytest
from pikepdf import Name

from inspect_rec.errors import LedgerError
from inspect_rec.report import validation
from report_templates import sheet
from tests.programs import needs
from tests.report import test_archival as archival
from tests.report import test_look as look
from tests.report import test_structure as structure
from tests.report.validated import (
    AT,
    DIGEST,
    KINDS,
    dense,
    made,
    many,
    met,
    pages,
    ran,
    record,
    said,
)

# -- pages -----------------------------------------------------------------------


@pytest.mark.parametrize("name", KINDS)
def test_the_same_cases_give_the_same_bytes(name: str) -> None:
    assert made(KINDS[name]()) == record(name)


def test_another_instant_or_person_gives_other_bytes() -> None:
    assert made((met(),)) != made((met(),), by="M. Brandt")


def test_an_instant_without_a_time_zone_is_refused() -> None:
    with pytest.raises(LedgerError, match="time zone"):
        validation.made((), "f", DIGEST, {}, AT.replace(tzinfo=None))


@pytest.mark.parametrize("name", KINDS)
def test_each_page_has_its_number_and_the_last_its_end(name: str) -> None:
    found = pages(record(name))
    for n, page in enumerate(found, 1):
        assert f"page {n} of {len(found)}" in page
        assert "VR-20261117-082238" in page
        assert DIGEST in page
    assert [n for n, page in enumerate(found, 1) if "end of record" in page] == [len(found)]
    for blank in ("Name", "Date", "Signature", "Checked by"):
        assert blank in found[-1]


@pytest.mark.parametrize("name", KINDS)
def test_everything_that_is_said_is_on_the_pages(name: str) -> None:
    found = said(*KINDS[name]())
    read = " ".join(pages(record(name)))
    whole, figures = dense(read), re.sub(r"\s", "", read)
    texts = [found.title, *found.finding, found.sentence, *(x for f in found.facts for x in f)]
    texts += [x for t in (*found.texts, *found.statements) for x in (t.heading, *t.paragraphs)]
    texts += [x for s in found.sections for x in (s.heading, *s.paragraphs)]
    texts += [x for s in found.sections for c in s.cases for x in (c.id, *c.notes)]
    for text in texts:
        assert all(word in whole for word in map(dense, text.split())), text
    for row in (r for s in found.sections for c in s.cases for r in c.rows):
        assert dense(row.quantity[:12]) in whole
        for cell in (row.expected, row.tolerance, row.got, row.difference):
            assert all(word in figures for word in cell.split()), row


@pytest.mark.parametrize("name", KINDS)
def test_no_text_stands_over_another_or_off_its_page(name: str) -> None:
    for number, page in enumerate(look.boxes(record(name)), 1):
        for n, a in enumerate(page):
            assert a[1] > 18, (number, a)
            assert a[3] < 197, (number, a)
            assert a[2] > 10, (number, a)
            assert a[4] < 290, (number, a)
            assert [b for b in page[n + 1 :] if look.over(a, b)] == [], (number, a)
        assert len([b for b in page if b[4] > sheet.HIGH - 16.5]) == 4, number


def test_two_thousand_cases_flow_over_pages_with_their_heads() -> None:
    data = made(many())
    found = pages(data)
    assert len(found) > 40
    whole = " ".join(found)
    for n in range(0, 2000, 97):
        assert f"case {n:04}" in whole
    assert len(re.findall(r"case \d{4}", " ".join(found[1:]))) > 1990
    assert all("Expected Tolerance Got Difference Met" in page for page in found[1:-1])
    assert "667 of 2000 cases not met" in found[0]


def test_a_case_longer_than_a_page_goes_on_under_its_name() -> None:
    wanted = {f"quantity_{n}": {"value": n, "tol": 0} for n in range(150)}
    found = pages(made((ran("very many", expect=wanted),)))
    assert sum("very many, continued" in page for page in found) >= 2
    whole = " ".join(found)
    assert all(f"quantity_{n} " in whole for n in range(150))


@pytest.mark.parametrize("name", KINDS)
def test_the_structure_names_each_text_once_and_tables_are_tables(name: str) -> None:
    with structure.opened(record(name)) as file:
        named = structure.pieces(file)
        assert len(named) == len(set(named))
        assert sorted(named) == sorted(structure.drawn(file))
        tree = list(structure.elements(file.Root.StructTreeRoot.K))
        roles = [str(element.S)[1:] for element in tree]
        assert [role for role in roles if role != "P"][:3] == ["Document", "H1", "H2"]
        assert roles.count("H1") == 1
        tables = [element for element in tree if Name.Table == element.S]
        assert [structure.row_widths(table) for table in tables[:2]] == [{2}, {2}]
        assert all(structure.row_widths(table) == {7} for table in tables[2:])
        compared_ = [s for s in said(*KINDS[name]()).sections if any(c.rows for c in s.cases)]
        assert len(tables) == 2 + len(compared_)


def test_the_file_has_no_attachments_and_calls_itself_archival() -> None:
    with pikepdf.open(io.BytesIO(record("published"))) as file:
        assert "/AF" not in file.Root
        assert b"<pdfaid:part>3<" in file.Root.Metadata.read_bytes()
        assert b"Validation record of the calculations VR-" in file.Root.Metadata.read_bytes()


@archival.pytestmark[0]
@archival.pytestmark[1]
def test_an_independent_checker_finds_it_archival(tmp_path: Path) -> None:
    files = {f"{n}.pdf": archival.twin(record(name)) for n, name in enumerate(KINDS)}
    assert archival.preflight(tmp_path, files) == ["valid"] * len(KINDS)


@needs("qpdf", "pdftotext")
def test_other_programs_find_it_sound_and_read_its_figures(tmp_path: Path) -> None:
    path = tmp_path / "record.pdf"
    path.write_bytes(record("published"))
    done = subprocess.run(["qpdf", "--check", path], capture_output=True, text=True, check=True)
    assert "No syntax or stream encoding errors" in done.stdout
    read = subprocess.run(
        ["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True
    ).stdout
    line = next(x for x in read.splitlines() if "centre_x_mm" in x and "4.7398 " in x)
    assert line.split() == ["centre_x_mm", "4.7398", "6E−5", "4.73978241091", "−1.76E−5", "met"]
