"""The structure of a report for readers who can't see it: everything said is in the tree, once,
in an order that makes sense, and tables are tables."""

from __future__ import annotations

import io
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name

from inspect_rec.report import pdf
from tests import signing
from tests.programs import needs
from tests.report import samples

NAMES = ["I1", "I2 half", "I3", "longest", "emptiest"]
OPEN = re.compile(r"/(\w+) <</MCID (\d+)>> BDC")


def opened(data: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(data))


def elements(element: pikepdf.Object) -> Iterator[pikepdf.Object]:
    """The element and all below it, in reading order."""
    yield element
    kids = element.get("/K", Array())
    for kid in kids:
        if isinstance(kid, Dictionary) and kid.get("/Type") == Name.StructElem:
            yield from elements(kid)


def pieces(file: pikepdf.Pdf) -> list[tuple[int, int]]:
    """Pieces of text that the tree names, as (page, number), in reading order."""
    page_of: dict[Any, int] = {page.objgen: n for n, page in enumerate(file.pages)}
    return [
        (page_of[kid.Pg.objgen], int(kid.MCID))
        for element in elements(file.Root.StructTreeRoot.K)
        for kid in element.K
        if kid.get("/Type") == Name.MCR
    ]


def drawn(file: pikepdf.Pdf) -> list[tuple[int, int]]:
    """Pieces of text that stand on the pages."""
    return [
        (n, int(number))
        for n, page in enumerate(file.pages)
        for _, number in OPEN.findall(page.Contents.read_bytes().decode("latin-1"))
    ]


def row_widths(table: pikepdf.Object) -> set[int]:
    """How many cells the rows of a table have, heading cells that span rows counted in each."""
    rows = list(table.K)
    assert all(row.S == Name.TR for row in rows)
    reach: dict[int, int] = {}
    widths = set()
    for number, row in enumerate(rows):
        cells = list(row.K)
        assert all(cell.S in (Name.TH, Name.TD) for cell in cells)
        heads = sum(1 for until in reach.values() if until > number)
        widths.add(heads + len(cells))
        for cell in cells:
            span = int(cell.A.RowSpan) if "/A" in cell else 1
            if span > 1:
                reach[number] = number + span
    return widths


@pytest.mark.parametrize("name", NAMES)
def test_each_piece_of_text_is_in_the_tree_once(name: str) -> None:
    with opened(samples.rendered(name)) as file:
        named, there = pieces(file), drawn(file)
        assert len(named) == len(set(named))
        assert sorted(named) == sorted(there)
        assert len(there) > 40


@pytest.mark.parametrize("name", NAMES)
def test_each_piece_of_text_leads_back_to_its_element(name: str) -> None:
    with opened(samples.rendered(name)) as file:
        root = file.Root.StructTreeRoot
        assert bool(file.Root.MarkInfo.Marked)
        flat = list(root.ParentTree.Nums)
        by_page = {int(n): owners for n, owners in zip(flat[::2], flat[1::2], strict=True)}
        page_of: dict[Any, int] = {page.objgen: n for n, page in enumerate(file.pages)}
        assert [int(page.StructParents) for page in file.pages] == list(range(len(file.pages)))
        for element in elements(root.K):
            for kid in element.K:
                if kid.get("/Type") == Name.MCR:
                    owner = by_page[page_of[kid.Pg.objgen]][int(kid.MCID)]
                    assert owner.objgen == element.objgen


@pytest.mark.parametrize("name", NAMES)
def test_marks_open_and_close_and_never_stand_inside_each_other(name: str) -> None:
    with opened(samples.rendered(name)) as file:
        for page in file.pages:
            depth = 0
            for one in pikepdf.parse_content_stream(page):
                operator = str(one.operator)
                depth += {"BDC": 1, "BMC": 1, "EMC": -1}.get(operator, 0)
                assert depth in (0, 1)
                if operator in ("Tj", "S", "s", "f", "f*", "B", "B*"):
                    assert depth == 1, operator
            assert depth == 0


@pytest.mark.parametrize("name", NAMES)
def test_a_table_has_rows_a_row_has_cells_and_rows_are_of_one_width(name: str) -> None:
    with opened(samples.rendered(name)) as file:
        for table in elements(file.Root.StructTreeRoot.K):
            if Name.Table != table.S:
                continue
            widths = row_widths(table)
            assert len(widths) == 1, widths


def test_the_title_comes_first_then_the_tool_then_the_verdict() -> None:
    with opened(samples.rendered("I1")) as file:
        roles = [str(e.S)[1:] for e in elements(file.Root.StructTreeRoot.K)]
    assert roles[:2] == ["Document", "H1"]
    assert roles.count("H1") == 1
    assert roles.count("H2") > 12
    assert roles.count("Table") == 3


@needs("pdfinfo")
def test_an_independent_program_reads_the_headings_in_order(tmp_path: Path) -> None:
    path = tmp_path / "report.pdf"
    path.write_bytes(signing.report("I1"))
    done = subprocess.run(
        ["pdfinfo", "-struct-text", path], capture_output=True, text=True, check=True
    )
    assert done.stderr == ""
    headings = re.findall(r"H2 \(block\)\n\s+\"(.*)\"", done.stdout)
    wanted = ["Tool", "Conforms.", "Closest to a limit", "Type into the machine"]
    assert headings[:4] == wanted
    assert "Tagged:          yes" in subprocess.run(
        ["pdfinfo", path], capture_output=True, text=True, check=True
    ).stdout  # fmt: skip


def test_figures_are_whole_where_they_are_aligned_on_their_sign() -> None:
    whole = "\n".join("\n".join(page) for page in pdf.text_of(samples.rendered("I1")))
    for figure in ("4.905", "9.810", "97.05", "4.8998", "10.51°"):
        assert re.search(rf"(?<![\d.]){re.escape(figure)}(?![\d])", whole), figure
