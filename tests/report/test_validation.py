"""The validation record: every case is on it as it ran, figures can be worked out again by hand,
and nothing is claimed that wasn't shown."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from inspect_rec.calculator import cases as running
from inspect_rec.calculator.base import register
from inspect_rec.report import compared
from tests.report.validated import (
    CHORD,
    DIGEST,
    PLATFORM,
    RADIUS,
    counts,
    dense,
    hostile,
    met,
    off,
    pages,
    published,
    ran,
    record,
    refused,
    rows,
    said,
)

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
        (123456789.0, "123456789"), (-1e299, "−1E299"),
    ],
)  # fmt: skip
def test_a_difference_has_three_digits_and_is_scientific_where_small_or_huge(
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
