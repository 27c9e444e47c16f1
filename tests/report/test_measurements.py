"""The measurement record: every reading, every act and every row of every budget, and nothing that
looks like a report."""

from __future__ import annotations

import re
from datetime import timedelta
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest

from inspect_rec import ledger
from inspect_rec.compute.uncertainty import Distribution
from inspect_rec.inspection import Inspection, fold
from inspect_rec.ledger import Head, Kinds
from inspect_rec.report import budgets, measurements, pdf, record
from inspect_rec.report.measurements import Said
from inspect_rec.report.verify import verify
from report_templates import languages, sheet, words
from tests import signing, worked
from tests.report import letterheads
from tests.report import test_archival as archival
from tests.report import test_structure as structure
from tests.report.test_look import boxes, over

NUMBERS = ("I1", "I2", "I3")
NAMES = {"G-01": "Marten Oakes", "C-1": "Quillfen Moulds"}


def said(language: str = "en", paper: str = "A4") -> Said:
    """On US Letter under all of a letterhead."""
    head = None if paper == "A4" else letterheads.letterhead()
    return Said(language, "0.1.0", NAMES, head)


@cache
def made(number: str, language: str = "en", paper: str = "A4") -> bytes:
    return measurements.made(signing.made(number).inspection, said(language, paper))


def whole(data: bytes) -> str:
    return re.sub(r"\s", "", "".join("".join(page) for page in pdf.text_of(data)))


def bare(text: str) -> str:
    return re.sub(r"\s", "", text)


@cache
def disturbed() -> Inspection:
    """A job with a reading struck out, one that is suspect, and an order to measure again."""
    entries = list(worked.entries("I2", 30))
    readings = [e for e in entries if e.kind == "reading"]
    last = entries[-1]
    acts: list[tuple[str, dict[str, Any]]] = [
        (
            "struck out",
            {
                "inspection": worked.inspection_id("I2"),
                "entry": {"station": readings[-2].station, "seq": readings[-2].seq},
                "reason": "the flute was dirty",
            },
        ),
        ("reading", dict(readings[-1].body) | {"suspect": "bytes were lost before it"}),
        (
            "measure again",
            {
                "inspection": worked.inspection_id("I2"),
                "characteristics": ["DC_2"],
                "repeats": 9,
                "master": "PIN-11",
                "why": "neither shown",
            },
        ),
    ]
    for n, (kind, body) in enumerate(acts, 1):
        head = Head(entries[-1].station, entries[-1].seq, entries[-1].digest)
        at = last.at + timedelta(minutes=n)
        entries.append(ledger.make(head, at, "G-01", kind, body))
    return fold(entries, worked.inspection_id("I2"))


# -- all of it ---------------------------------------------------------------------


@pytest.mark.parametrize("language", sorted(languages()))
@pytest.mark.parametrize("number", NUMBERS)
def test_every_reading_is_in_it_as_it_was_shown(number: str, language: str) -> None:
    found, w = signing.made(number).inspection, words(language)
    content = measurements.of(found, said(language))
    (part,) = [p for p in content.parts if p.heading == w["measurements.readings"]]
    lines, text = part.grids[0].lines, whole(made(number, language))
    assert len(lines) == len(found.record.readings) > 50
    for kept, line in zip(found.record.readings, lines, strict=True):
        assert line.cells[:3] == (str(kept.ref[1]), f"{kept.at:%Y-%m-%d %H:%M:%S}", kept.person)
        for value in kept.shown.values():
            assert w.figure(value) in line.cells[5]
        assert line.off == (kept.ref in found.record.void)
        for cell in line.cells:
            assert bare(cell) in text


@pytest.mark.parametrize("number", NUMBERS)
def test_every_row_of_every_budget_is_in_it(number: str) -> None:
    found, w = signing.made(number).inspection, words("en")
    content = measurements.of(found, said())
    text, rows = whole(made(number)), 0
    lines = {line.cells for p in content.parts for g in p.grids for line in g.lines}
    for r in found.results:
        for c in r.budget.components:
            cells = (
                c.name,
                budgets.amount(c.amount, c.unit, w),
                w[f"distribution.{c.distribution.name.lower()}"],
                str(c.ends),
                str(c.averaged),
                budgets.amount(c.u, r.budget.unit, w),
            )
            assert any(set(cells) <= set(line) for line in lines), cells
            rows += 1
            assert all(bare(cell) in text for cell in cells)
        assert bare(budgets.amount(r.budget.u, r.budget.unit, w)) in text
    assert rows > 40


def test_edges_whose_budgets_agree_share_one_and_others_have_their_own() -> None:
    found = signing.made("I1").inspection
    results = [r for r in found.results if r.characteristic.id == "R"]
    grids = list(budgets.grids(results, found, words("en")))
    named = [edge for grid in grids for edge in re.findall(r"flute \d", grid.title)]
    assert sorted(named) == [f"flute {n}" for n in range(1, 5)]
    assert len(grids) < len(results)
    assert len({grid.lines for grid in grids}) == len(grids)


def test_the_parts_of_a_budget_come_to_what_stands_under_them() -> None:
    found = signing.made("I2").inspection
    for r in found.results:
        (grid,) = budgets.grids([r], found, words("en"))
        *rows, last = (float(re.sub(r"[^\d.]", "", line.cells[6])) for line in grid.lines)
        # Each printed row is rounded by at most half of its last place.
        half = 0.005 if r.budget.unit == "um" else 0.00005
        total = sum(u * u for u in rows) ** 0.5
        assert total == pytest.approx(last, abs=half * (len(rows) ** 0.5 + 1))


def test_checks_closures_temperatures_and_acts_are_in_it() -> None:
    found, text = signing.made("I1").inspection, whole(made("I1"))
    w = words("en")
    assert found.checks
    assert found.closures
    for c in found.checks:
        for value in (c.before, c.after, c.drift):
            assert value is not None
            assert bare(budgets.amount(value, c.unit, w, sign=True)) in text
    for closure in found.closures:
        assert bare(budgets.amount(closure.difference, closure.unit, w, sign=True)) in text
    for t in found.temperatures:
        assert all(f"{place}{value}°C" in text for place, value in t.degC.items())
    assert "flute3,0.012mm,pivottowardthewheel" in text


def test_what_was_struck_out_or_is_suspect_stands_there_with_its_reason() -> None:
    found = disturbed()
    data = measurements.made(found, said())
    text = whole(data)
    assert found.record.struck
    assert bare("no: struck out") in text
    assert bare("by G-01: the flute was dirty") in text
    assert bare("Suspect: bytes were lost before it") in text
    assert bare("sightings 9; master PIN-11; neither shown") in text
    content = measurements.of(found, said())
    (part,) = [p for p in content.parts if p.heading == words("en")["measurements.suspects"]]
    assert len(part.grids[0].lines) == 1
    clean = measurements.of(signing.made("I1").inspection, said())
    (part,) = [p for p in clean.parts if p.heading == words("en")["measurements.suspects"]]
    assert part.grids == ()


def test_a_tool_that_is_half_measured_says_what_is_left() -> None:
    found = disturbed()
    assert found.missing
    content = measurements.of(found, said())
    assert "; ".join(found.missing) in dict(content.facts).values()


def test_names_stand_beside_ids_and_an_id_without_a_name_stays() -> None:
    found = signing.made("I1").inspection
    facts = dict(measurements.of(found, said()).facts)
    assert facts["Persons"] == "G-01 Marten Oakes"
    assert facts["Customer"] == "Quillfen Moulds"
    nameless = dict(measurements.of(found, Said("en", "0.1.0", {})).facts)
    assert nameless["Persons"] == "G-01"


@pytest.mark.parametrize(
    ("refs", "text"), [([1, 2, 3], "1–3"), ([3, 1], "1, 3"), ([2, 2, 3, 9], "2–3, 9"), ([], "")]
)
def test_entries_in_a_row_are_a_range(refs: list[int], text: str) -> None:
    found = signing.made("I1").inspection
    assert measurements.runs([("A", n) for n in refs], found) == text


def test_every_distribution_has_its_word_in_every_language() -> None:
    for language in languages():
        for each in Distribution:
            assert words(language)[f"distribution.{each.name.lower()}"]


@pytest.mark.parametrize("language", sorted(languages() - {"en"}))
def test_no_row_of_a_budget_is_left_in_english(language: str) -> None:
    w, left = words(language), set()
    for number in NUMBERS:
        for r in signing.made(number).inspection.results:
            for c in r.budget.components:
                if not w.knows("row", c.name):
                    parts = re.split(", |: ", c.name)
                    left |= {p for p in parts if not (w.knows("row", p) or w.knows("text", p))}
                left |= {p for p in c.note.split("; ") if p and not w.knows("note", p)}
    assert left == set()


# -- what it is ----------------------------------------------------------------------


def test_the_same_entries_give_the_same_bytes() -> None:
    again = measurements.made(signing.made("I1").inspection, said())
    assert again == made("I1")


def test_it_is_taken_for_no_report() -> None:
    found = verify(made("I1"), [signing.shop().certificate], signing.NOW)
    assert not found.ok
    assert found.header is None
    for page in pdf.text_of(made("I1")):
        assert "no report, not signed" in " ".join(page)


def test_the_readings_are_attached_with_the_bytes_that_came() -> None:
    files = pdf.attachments(made("I1"), record.LARGEST)
    assert files == {record.READINGS: record.to_csv(signing.made("I1").inspection)}


@pytest.mark.parametrize("language", sorted(languages()))
@pytest.mark.parametrize("paper", list(sheet.PAPERS))
@pytest.mark.parametrize("number", NUMBERS)
def test_nothing_lies_over_anything_else(number: str, paper: str, language: str) -> None:
    size = sheet.PAPERS[paper]
    for n, page in enumerate(boxes(made(number, language, paper)), 1):
        covered = [(a[0], b[0]) for a, b in combinations(page, 2) if over(a, b)]
        assert not covered, (n, covered)
        assert all(b[3] <= sheet.LEFT + sheet.LIVE + 0.6 for b in page)
        assert len([b for b in page if b[4] > size.high - 16.5]) == 4
        assert "…" not in "".join(b[0] for b in page)


def test_every_text_is_in_the_tree_once_and_tables_are_even() -> None:
    for data in (made("I1"), measurements.made(disturbed(), said())):
        with structure.opened(data) as file:
            named, there = structure.pieces(file), structure.drawn(file)
            assert len(named) == len(set(named))
            assert sorted(named) == sorted(there)
            tables = [
                e for e in structure.elements(file.Root.StructTreeRoot.K) if str(e.S) == "/Table"
            ]
            assert len(tables) >= 10
            assert all(len(structure.row_widths(table)) == 1 for table in tables)


def test_a_shops_logo_and_lines_stand_on_every_page_and_its_name_stays_as_text() -> None:
    data, head = made("I1", "en", "Letter"), letterheads.letterhead()
    with structure.opened(data) as file:
        assert all(len(page.Resources.XObject) == 1 for page in file.pages)
    for page in pdf.text_of(data):
        assert head.line in " ".join(page)
        assert worked.shop().shop.name in " ".join(page)
    with structure.opened(made("I1")) as file:
        assert all("/XObject" not in page.Resources for page in file.pages)


@archival.pytestmark[0]
@archival.pytestmark[1]
def test_it_is_archival(tmp_path: Path) -> None:
    files = {f"{n}.pdf": archival.twin(made(n, "de")) for n in NUMBERS}
    files["logo.pdf"] = archival.twin(made("I1", "de", "Letter"))
    assert archival.preflight(tmp_path, files) == ["valid"] * len(files)


@pytest.mark.parametrize("language", sorted(languages()))
def test_every_act_on_a_tool_has_its_word(language: str) -> None:
    elsewhere = {Kinds.READING, Kinds.NUMBER_GIVEN, Kinds.SHEET_SIGNED, Kinds.PERSON_ADDED}
    said = words(language)
    assert [kind for kind in set(Kinds) - elsewhere if f"act.{kind}" not in said] == []
