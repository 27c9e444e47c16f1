"""The validation record: every case is on it as it ran, figures can be worked out again by hand,
the pages are sound, and nothing is claimed that wasn't shown."""

from __future__ import annotations

import io
import re
import subprocess
from collections.abc import Callable
from datetime import UTC, datetime
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from pikepdf import Name

from inspect_rec.calculator import cases as running
from inspect_rec.calculator.base import register
from inspect_rec.calculator.cases import Ran
from inspect_rec.errors import LedgerError
from inspect_rec.report import compared, pdf, validation
from inspect_rec.report.content import Cases, Compared, Validation
from report_templates import sheet
from tests.compute.published import cases
from tests.programs import needs
from tests.report import test_archival as archival
from tests.report import test_look as look
from tests.report import test_structure as structure

AT = datetime(2026, 11, 17, 8, 22, 38, tzinfo=UTC)
DIGEST = "1f" * 32
PLATFORM = {"Python": "3.11.7", "system": "Linux 6.1", "processor": "x86_64", "numpy": "2.4.6"}
CHORD = {"chord_mm": 4.0, "rise_mm": 0.35}
RADIUS = 5.889285714285714
"""c^2 / (8 h) + h / 2, worked out by hand: 16 / 2.8 + 0.175."""
LONG_ID = "-".join(["a-name-that-goes-on"] * 20)
LONG_SOURCE = "A source that has much to tell, page after page. " * 150


def ran(id_: str = "one", calc: str | None = "chord-rise", **more: Any) -> Ran:
    return running.run({"id": id_, "calc": calc, "inputs": CHORD} | more)


def expecting(value: Any, tol: float = 1e-9, **more: Any) -> Ran:
    return ran(expect={"radius_mm": {"value": value, "tol": tol}}, **more)


def met(id_: str = "met") -> Ran:
    return expecting(RADIUS, id_=id_)


def off(id_: str = "off") -> Ran:
    return expecting(5.9, id_=id_)


def refused(id_: str = "must be refused", *, expected: bool = True) -> Ran:
    return ran(id_, inputs=CHORD | {"rise_mm": 0}, expect={"error": True} if expected else {})


@cache
def published() -> tuple[Ran, ...]:
    return tuple(running.run(case) for case in cases().values())


@cache
def many() -> tuple[Ran, ...]:
    kinds = (met, off, refused)
    return tuple(kinds[n % 3](f"case {n:04}") for n in range(2000))


@cache
def hostile() -> tuple[Ran, ...]:
    """Texts without end, signs that no font has, more items than a page has lines."""
    items = [float(n) for n in range(300)]
    long = Ran("list", "line", "", "", {"v": [*items[:-1], 0.0]}, None, expected=True, ok=False)
    figures = {"v": items}, {"v": 0.5}
    return (
        ran(LONG_ID, source=LONG_SOURCE, provenance="\u5c71\n{page}", expect={"error": True}),
        ran("text", expect={"radius_mm": {"value": "word " * 90}, "q" * 300: {"value": 1}}),
        ran("unknown", calc="no-such-thing" * 30, expect={"x_mm": {"value": 1.0}}),
        ran("nothing asked"),
        ran("not run", calc=None),
        Ran(**_fields(long), wanted=figures[0], tolerances=figures[1]),
        *(expecting(RADIUS, id_=f"{n}", source=LONG_SOURCE[: 40 * n]) for n in range(60)),
    )


def _fields(of: Ran) -> dict[str, Any]:
    names = ("id", "calc", "source", "provenance", "got", "error", "expected", "ok")
    return {name: getattr(of, name) for name in names}


KINDS: dict[str, Callable[[], tuple[Ran, ...]]] = {
    "published": published,
    "hostile": hostile,
    "empty": lambda: (),
    "one off": lambda: (off(), met()),
}


def said(*of: Ran, **more: Any) -> Validation:
    return validation.said(of, validation.Run("open.json", DIGEST, PLATFORM, AT, **more))


def made(of: tuple[Ran, ...], **more: Any) -> bytes:
    return validation.made(of, "open.json", DIGEST, PLATFORM, AT, **more)


@cache
def record(name: str) -> bytes:
    return made(KINDS[name]())


def pages(data: bytes) -> list[str]:
    return [" ".join(page) for page in pdf.text_of(data)]


def dense(text: str) -> str:
    """Letters and digits alone: a hyphen that ends a line is read as something else."""
    return re.sub(r"[\W_]", "", text)


def rows(section: Cases, n: int = 0) -> tuple[Compared, ...]:
    return section.cases[n].rows


def counts(of: Validation) -> dict[str, int]:
    return {name: int(count) for name, count in of.counts}


# -- what it says ----------------------------------------------------------------


def test_one_case_that_is_off_makes_the_whole_not_met_and_is_named() -> None:
    found = said(met(), off("off by 0.0107"), refused())
    assert found.verdict == "does not conform"
    assert found.finding == ("Not all met.", "1 of 3 cases not met")
    assert "off by 0.0107" in found.sentence


def test_all_met_needs_something_that_was_expected() -> None:
    assert said(met(), refused()).verdict == "conforms"
    for nothing in ((), (ran(),), (ran(calc=None),), (refused(expected=False),)):
        found = said(*nothing)
        assert found.verdict == "open"
        assert found.finding[0] == "Nothing shown."


def test_each_case_is_counted_once() -> None:
    of = (met(), off(), refused(), refused(expected=False), ran(), ran(calc=None), ran(calc="x"))
    found = counts(said(*of))
    every = found.pop("in the file")
    judged = found.pop("judged: met or not met")
    assert every == len(of) == sum(found.values())
    assert judged == found["met by value"] + found["met: refused as expected"] + found["not met"]
    assert found["not met"] == 2
    assert found["for a test only, not run"] == 1


def test_a_case_that_asks_for_no_known_computation_is_not_met_even_without_expectation() -> None:
    found = said(met(), ran("strange", calc="no-such"))
    assert found.verdict == "does not conform"
    assert found.sections[-1].paragraphs == ("The program has no computation of this name.",)
    assert rows(found.sections[-1])[0].got == "not computed"
    assert rows(found.sections[-1])[0].word == "not met"


def test_met_and_not_met_differ_in_word_and_mark() -> None:
    section = said(met(), off()).sections[0]
    good, bad = rows(section)[0], rows(section, 1)[0]
    assert (good.word, bad.word) == ("met", "not met")
    assert good.verdict != bad.verdict
    assert bad.difference == "−0.0107"
    assert bad.got == "5.88928571429"


def test_a_quantity_that_is_off_is_told_from_one_that_is_met_in_the_same_case() -> None:
    wanted = {
        "radius_mm": {"value": RADIUS, "tol": 1e-9},
        "sensitivity_to_rise": {"value": 0, "tol": 1},
    }
    first, second = rows(said(ran(expect=wanted)).sections[0])
    assert (first.word, second.word) == ("met", "not met")


def test_a_quantity_that_the_computation_does_not_give_is_not_met() -> None:
    row = rows(said(ran(expect={"colour": {"value": 1, "tol": 9}})).sections[0])[0]
    assert (row.got, row.word) == ("not given", "not met")


def test_a_refusal_is_met_only_where_it_is_expected_and_its_words_are_told() -> None:
    unawares = ran("unawares", inputs=CHORD | {"rise_mm": 0}, expect={"radius_mm": {"value": 1}})
    section = said(refused(), unawares).sections[0]
    assert (rows(section)[0].got, rows(section)[0].word) == ("refused", "met")
    assert (rows(section, 1)[0].got, rows(section, 1)[0].word) == ("refused", "not met")
    words = refused().error
    assert words
    for case in section.cases:
        assert dense(words) in dense(case.notes[0])


def test_what_must_be_refused_and_gives_a_value_is_not_met() -> None:
    row = rows(said(ran(expect={"error": True})).sections[0])[0]
    assert (row.expected, row.got, row.word) == ("refused", "computed", "not met")


def test_what_has_no_expectation_shows_what_was_got_and_no_verdict() -> None:
    row = rows(said(ran()).sections[0])[0]
    assert (row.quantity, row.expected, row.got) == ("radius_mm", "–", "5.88928571429")
    assert (row.verdict, row.word) == ("", "–")


def test_formula_source_and_refusals_of_the_computation_stand_over_its_cases() -> None:
    entry = register()["chord-rise"]
    section = said(met()).sections[0]
    assert section.heading == "chord-rise"
    whole = " ".join(section.paragraphs)
    assert all(text in whole for text in (entry.formula, entry.source, entry.refuses))


def test_provenance_and_source_stand_beside_each_case() -> None:
    case = said(ran(provenance="memory", source="a book")).sections[0].cases[0]
    assert case.about == "memory · a book"
    again = said(ran(provenance="derived", source="derived: twice")).sections[0].cases[0]
    assert again.about == "derived: twice"
    assert said(ran()).sections[0].cases[0].about == "no source stated"


def test_what_no_judged_case_asks_for_is_listed() -> None:
    uncovered = said(met(), ran("unjudged", calc="sine-bar")).texts[1].paragraphs
    assert "sine-bar" in uncovered[0]
    assert "chord-rise" not in uncovered[0]
    assert "arc" in uncovered[1]
    asked = {each.calc for each in published() if each.expected}
    listed = said(*published()).texts[1].paragraphs[0].removesuffix(".").split(": ")[1]
    assert set(listed.split("; ")) == (set(register()) - asked or {"none"})


def test_of_a_long_list_what_lies_farthest_off_is_printed_and_the_rest_counted() -> None:
    case = said(hostile()[5]).sections[0].cases[0]
    assert len(case.rows) == compared.SHOWN
    assert [row.quantity for row in case.rows if row.word == "not met"] == ["v [300]"]
    assert "300 compared, 1 not met" in case.notes[0]


def test_a_list_of_another_length_differs() -> None:
    of = running.run(
        {
            "id": "t",
            "calc": "t-factor",
            "inputs": {"dof": [1], "p": [0.95]},
            "expect": {"t": {"value": [12.7, 4.3], "tol": 0.1}},
        }
    )
    row = rows(said(of).sections[0])[0]
    assert (row.expected, row.got, row.word) == ("list of 2", "list of 1", "not met")


def test_program_platform_file_and_digest_are_named() -> None:
    found = said(met(), version="9.9", by="M. Brandt", shop="Grinding works")
    facts = dict(found.facts)
    assert PLATFORM.items() <= facts.items()
    assert facts["Program"] == "inspect_rec 9.9"
    assert facts["SHA-256 of the cases"] == DIGEST
    assert (facts["Case file"], facts["Run by"]) == ("open.json", "M. Brandt")
    assert found.head_left == ("Grinding works", "inspect_rec 9.9 · open.json")
    assert dict(said(met()).facts)["Run by"] == "not stated"


def test_it_calls_itself_no_certificate_and_claims_no_accreditation() -> None:
    whole = " ".join(pages(record("published"))).lower()
    assert "validation record of the calculations" in whole
    told = " ".join(p for text in said(*published()).statements for p in text.paragraphs)
    assert re.findall(r"\w+ certificate", told) == ["no certificate"]
    assert "accredit" not in whole
    assert "never an uncertainty of measurement" in whole
    assert "copy only in full" in whole


# -- figures ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (0.0, "0"), (4.7398, "4.7398"), (12.0, "12"), (6e-05, "6E−5"), (-1e-08, "−1E−8"),
        (31.447288674202, "31.447288674202"), (3, "3"), (1e22, "1E22"),
        (0.1 + 0.2, "0.30000000000000004"),
    ],
)  # fmt: skip
def test_a_figure_is_printed_as_it_was_stated(value: float, said: str) -> None:
    assert compared.figure(value) == said


@pytest.mark.parametrize(
    ("difference", "said"),
    [
        (0.0, "0"), (-1.7588e-05, "−1.76E−5"), (0.000123456, "0.000123"), (0.0107142, "0.0107"),
        (-2.5, "−2.50"), (1234.56, "1235"), (4.44e-15, "4.44E−15"), (9.9999e-5, "0.0001"),
    ],
)  # fmt: skip
def test_a_difference_has_three_digits_and_is_scientific_only_where_small(
    difference: float, said: str
) -> None:
    assert compared.apart(difference) == said


def test_what_is_equal_to_the_last_bit_is_printed_alike() -> None:
    assert compared.beside(8.00155635070126, 8.00155635070126) == "8.00155635070126"


def back(said: str) -> Decimal:
    return Decimal(said.replace("−", "-"))


@given(
    st.floats(-1e6, 1e6).filter(lambda v: abs(v) > 1e-9),
    st.floats(-1, 1).filter(lambda v: v != 0),
    st.integers(-11, 2),
)
def test_the_difference_can_be_worked_out_from_the_printed_figures(
    wanted: float, share: float, power: int
) -> None:
    got = wanted + share * 10.0**power * abs(wanted)
    difference = got - wanted
    # Below that the last of a binary number's 17 digits is what differs.
    assume(abs(difference) > 1e-13 * max(abs(got), abs(wanted)))
    by_hand = back(compared.beside(got, wanted)) - back(compared.figure(wanted))
    printed = back(compared.apart(difference))
    assert abs(by_hand - printed) <= Decimal("0.006") * abs(by_hand)


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
    read = " ".join(pages(record(name))).replace("[U+5C71]", "\u5c71")
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
            assert [b for b in page[n + 1 :] if look._over(a, b)] == [], (number, a)
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
