"""Languages of the report: every word is there, nothing of another language is left, and what the
program says of its own accord is known in each.

The lists are taken from the program itself: the register of methods, the kinds of tools and the
rows of the budgets of every known tool. What its modules name: ``test_words_of_source``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any

import pytest

from inspect_rec.calculator.base import register as calculator
from inspect_rec.methods.register import named, register, versions
from inspect_rec.plan import Conditions, Job, SetUp
from inspect_rec.report import pdf, validation
from inspect_rec.simulate.coverage import cases
from inspect_rec.simulate.job import measured
from inspect_rec.simulate.known import tools
from inspect_rec.simulate.machine import BUDGETS, errors
from inspect_rec.tools import catalogue
from report_templates import languages, lettering, words
from report_templates.sheet import THIRD
from report_templates.wording import TEXTS
from tests import signing, worked
from tests.report import samples, validated
from tests.report.test_look import boxes, over

MEANINGS = ("ground", "measured", "released", "not_released")
OTHERS = sorted(languages() - {"en"})

# -- words -----------------------------------------------------------------------


def places(said: str) -> list[str]:
    return sorted(re.findall(r"{(\w+)[^}]*}", said))


def test_german_and_english_are_here() -> None:
    assert languages() >= {"de", "en"}


@pytest.mark.parametrize("language", OTHERS)
def test_every_language_has_every_word_and_fills_in_the_same(language: str) -> None:
    said, english = words(language), words("en")
    assert set(said) == set(english)
    for key, text in english.items():
        assert places(said[key]) == places(text), key
        assert said[key].count("|") == text.count("|"), key
        assert said[key], key


@pytest.mark.parametrize("language", OTHERS)
def test_what_is_said_for_a_text_fills_in_what_the_text_has(language: str) -> None:
    texts = words(language).texts
    assert set(texts) == set(TEXTS)
    for table in texts.values():
        for text, said in table.items():
            assert places(said) == places(text), text


def test_english_says_every_text_as_it_is() -> None:
    assert words("en").texts == {}
    assert words("en").told("reason", "the temperature is missing") == "the temperature is missing"


@pytest.mark.parametrize("language", sorted(languages()))
def test_what_a_signature_means_is_printed_whole(language: str) -> None:
    """It is drawn when the signature is made: nothing of it may go to another page."""
    lettering.fonts()
    said = words(language)
    key = said["signature.key"].format(key="ABCD 1234")
    for text, room in (
        *((said[f"signature.{name}_meaning"], THIRD) for name in MEANINGS),
        (said["signature.ground_note"], THIRD - 6),
        (key, THIRD - 6),
        (said["figures.day"].format(day=30, month=said["figures.months"][-3:], year=2026), 20),
    ):
        assert lettering.fit(text, room, 7).whole, text


# -- texts of the program ----------------------------------------------------------


def unknown(language: str, kind: str, texts: Iterator[str] | set[str]) -> list[str]:
    return sorted({text for text in texts if text and not words(language).knows(kind, text)})


@pytest.mark.parametrize("language", OTHERS)
def test_every_method_has_its_name_plane_and_formula_in_every_language(language: str) -> None:
    every = [named(name, version) for name in register() for version in versions(name)]
    for kind, texts in (
        ("method", {m.name for m in every}),
        ("plane", {m.plane for m in every}),
        ("formula", {m.formula for m in every}),
    ):
        assert unknown(language, kind, texts) == [], kind


@pytest.mark.parametrize("language", OTHERS)
def test_every_kind_of_tool_and_what_a_plan_leaves_out_is_said_in_every_language(
    language: str,
) -> None:
    texts = set(catalogue())
    for kind in catalogue().values():
        texts |= {str(c["name"]) for c in kind.characteristics.values()}
        planes = {str(c.get("plane", "")) for c in kind.characteristics.values()}
        assert unknown(language, "plane", planes) == []
    texts |= {Job.model_fields["title"].default, SetUp.model_fields["approach"].default}
    texts |= set(Conditions.model_fields["where"].default)
    texts |= {"before", "after", "after grinding", "temperature", "flute", "tooth", "lip", "edge"}
    assert unknown(language, "text", texts) == []


def named_row(text: str) -> str:
    """As much of a row's name as a report prints."""
    return re.split("[,:]", text, maxsplit=1)[0]


@cache
def rows_of_known_tools() -> frozenset[str]:
    """Rows of the budgets of every known tool, and of the worked jobs."""
    found: set[str] = set()
    for name, case in cases():
        of = measured(named(name), tools()[name][case], errors(BUDGETS), "words")
        found |= {named_row(row.name) for row in of.outcome.budget.components}
    for number in ("I1", "I2", "I3"):
        for r in signing.made(number).inspection.results:
            found |= {named_row(row.name) for row in r.budget.components}
    return frozenset(found)


@pytest.mark.parametrize("language", OTHERS)
def test_every_row_of_the_budgets_of_every_known_tool_is_said_in_every_language(
    language: str,
) -> None:
    rows = rows_of_known_tools()
    assert len(rows) > 60
    assert unknown(language, "row", set(rows)) == []


def test_reasons_are_said_one_by_one_with_the_figures_and_days_of_the_language() -> None:
    said = (
        "master RM-5 drifted by -4.6 µm, allowed 4.5: everything since the check before is suspect"
        "; TH-1 was due on 2026-05-04; the tool is at 23.4 °C (after grinding), allowed 20 ± 2 °C"
        "; ein Grund, der getippt wurde"
    )
    assert words("de").told("reason", said).split("; ") == [
        "Normal RM-5 driftete um −4,6 µm, zulässig 4,5: alles seit der Prüfung vorher ist zweifelhaft",  # noqa: E501
        "TH-1 war am 04.05.2026 fällig",
        "das Werkzeug hat 23,4 °C (nach dem Schleifen), zulässig 20 ± 2 °C",
        "ein Grund, der getippt wurde",
    ]


def test_what_a_shop_knows_by_its_own_study_is_said_whole() -> None:
    note = (
        "own studies of 2026-01-05 and 2026-02-11: s = 1.72 µm, 2 groups, 18 degrees of freedom, "
        "1 reading standing out kept; 2 more needed before it counts, yet 1.5 µm is too small"
    )
    assert words("de").told("note", note) == (
        "eigene Untersuchungen vom 05.01.2026 und 11.02.2026: s = 1,72 µm, 2 Gruppen, "
        "18 Freiheitsgrade, 1 abseits liegender Messwert bleibt; "
        "2 weitere nötig, bevor sie zählt, doch 1,5 µm ist zu klein"
    )
    own = "repeats of DC_1, greater, differ by 0.012 mm, usual up to 0.007 mm"
    assert words("de").told("note", f"{own}: their own scatter is taken") == (
        "Wiederholungen an DC_1, größer, weichen um 0,012 mm voneinander ab, "
        "üblich bis 0,007 mm: ihre eigene Streuung gilt"
    )


# -- a whole report --------------------------------------------------------------

STATES = [("I1", 0), ("I1", 20), ("I1", 91), ("I2", 0), ("I2", 30), ("I3", 0), ("I3", 90)]
ENGLISH = re.compile(
    r"\b(the|of|and|is|are|with|to|not|no|on|at|from|by|for|only|measured|limits?|"
    r"value|tool|flutes?|teeth|tooth|lips?|page|none|allowed|before|after|conforms?|edges?)\b"
)


CODES = {"verdict", "verdicts", "id", "sketch", "hand", "language", "words"}


def said_in(thing: Any) -> Iterator[str]:
    """Every text of a content but the codes of verdicts and features, and its fixed words."""
    if isinstance(thing, str):
        yield thing
    elif isinstance(thing, tuple):
        for part in thing:
            yield from said_in(part)
    elif is_dataclass(thing):
        for f in fields(thing):
            value = getattr(thing, f.name)
            if f.name not in CODES or is_dataclass(value):
                yield from said_in(value)


def typed(thing: Any) -> Iterator[str]:
    """Every text that a person typed into job file, shop file or entry."""
    if isinstance(thing, str):
        yield thing
    elif isinstance(thing, Mapping):
        for key, value in thing.items():
            yield from typed(key)
            yield from typed(value)
    elif isinstance(thing, list | tuple):
        for value in thing:
            yield from typed(value)


@cache
def left(number: str, reading: int, language: str) -> tuple[str, ...]:
    """What a report says less what was typed, its first letter in either case."""
    made = samples.in_language(number, language, reading)
    known = {text for table in words(language).texts.values() for text in table}
    names = {text for e in made.inspection.record.entries for text in typed(e.body)}
    names |= {part.strip() for text in names for part in re.split("[;,]", text)}
    names = {n for n in names - known if sum(map(str.isalpha, n)) > 1 or "Ø" in n}
    longest = "|".join(re.escape(n) for n in sorted(names, key=len, reverse=True))
    gone = re.compile(rf"(?<!\w)(?:{longest})(?!\w)", re.IGNORECASE)
    return tuple(gone.sub("", re.sub(r"{\w+}", "", text)) for text in said_in(made.said))


@pytest.mark.parametrize(("number", "reading"), STATES)
def test_no_english_is_left_in_a_german_report_but_what_was_typed(
    number: str, reading: int
) -> None:
    found = {text: ENGLISH.findall(text) for text in left(number, reading, "de")}
    assert {text: hits for text, hits in found.items() if hits} == {}


def test_the_test_sees_english_that_is_left() -> None:
    english = samples.in_language("I1", "en").said
    assert sum(1 for text in said_in(english) if ENGLISH.search(text)) > 30


@pytest.mark.parametrize(("number", "reading"), STATES)
def test_german_figures_have_a_comma_and_german_days_their_points(
    number: str, reading: int
) -> None:
    whole = " | ".join(left(number, reading, "de"))
    days = re.findall(r"\b\d\d\.\d\d\.\d{4}\b", whole)
    assert len(days) > 5
    for day in days:
        whole = whole.replace(day, "")
    whole = whole.replace(signing.header("I1", worked.entries("I1", 5)).program, "")
    assert re.findall(r"\d\.\d", whole) == []
    assert re.findall(r"\d,\d", whole) or reading
    assert re.findall(r"\b[A-Z][a-z]{2} 20\d\d", whole) == []


@pytest.mark.parametrize("language", sorted(languages()))
def test_a_validation_record_fits_its_pages_in_every_language(language: str) -> None:
    ran = (*validated.published(), validated.off(), validated.refused(expected=False))
    data = validation.made(
        ran, "known.json", validated.DIGEST, validated.PLATFORM, validated.AT, language=language
    )
    for page in boxes(data):
        for n, a in enumerate(page):
            assert a[3] < 197, a
            assert [b for b in page[n + 1 :] if over(a, b)] == [], a
    text = " ".join(" ".join(page) for page in pdf.text_of(data))
    assert words(language)["validation.title"] in text
    assert words(language)["validation.end"] in text


@pytest.mark.parametrize("language", OTHERS)
def test_what_stays_english_in_a_validation_record_is_what_the_calculator_says(
    language: str,
) -> None:
    """Names, formulas, sources and refusals of computations; sources and refusals of methods."""
    said = words(language)
    for entry in calculator().values():
        assert said.told("formula", entry.formula) == entry.formula
    for m in register().values():
        assert said.told("formula", m.formula) != m.formula
        assert said.told("text", m.source) == m.source
