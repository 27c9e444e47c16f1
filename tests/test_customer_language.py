"""A report is in the language of its customer, else of the station; it stays so to the last
signature, and is verified in it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from inspect_rec import release
from inspect_rec.config import Folder, Name
from inspect_rec.errors import InputError
from inspect_rec.report import make, pdf, printed, record, verify
from inspect_rec.report.finding import Code, Findings
from inspect_rec.store import Store
from tests import signing, worked

AT = datetime(2026, 11, 24, 8, 0, tzinfo=UTC)
I1 = "I1/QF-0417"


@pytest.fixture
def here(tmp_path: Path) -> Folder:
    found = Folder(tmp_path / "shop")
    found.path.mkdir()
    shutil.copyfile(worked.FOLDER / "shop.toml", found.shop)
    for person in (signing.GRINDER, signing.INSPECTOR):
        found.name_person(person.id, Name(person.name, tuple(person.roles)))
    return found


@pytest.fixture
def store(here: Folder) -> Iterator[Store]:
    with Store.create(here.ledger, "A", "A-0231") as store:
        release.open_job(store, here, worked.job("I1"), "G-01", AT - timedelta(days=8))
        for e in worked.entries("I1", signing.UPTO["I1"])[1:]:
            store.append(e.at, e.person, e.kind, e.body)
        yield store


def speaks(here: Folder, language: str, customer: str = "C-1") -> None:
    text = here.names.read_text(encoding="utf-8")
    mark = f'[customer."{customer}"]\n'
    here.names.write_text(text.replace(mark, f'{mark}language = "{language}"\n'), encoding="utf-8")


def signed(here: Folder, store: Store) -> bytes:
    number = release.hand_over(store, here, I1, signing.who(signing.GRINDER), AT).number
    path = release.release(
        store, here, number, signing.who(signing.INSPECTOR), "released", "", AT + timedelta(hours=1)
    )
    return path.read_bytes()


def test_a_customers_language_goes_before_the_stations(here: Folder, store: Store) -> None:
    assert here.language_for("C-1") == "en"
    speaks(here, "de")
    assert here.language_for("C-1") == "de"
    here.customer_id("Brackwater Pump Works")
    assert here.language_for("C-1") == "de"
    assert here.language_for("C-2") == "en"
    here.station.write_text('language = "de"\n', encoding="utf-8")
    assert here.language_for("C-2") == "de"
    assert store.head().seq


def test_a_language_without_words_is_said_with_its_line(here: Folder, store: Store) -> None:
    speaks(here, "tlh")
    with pytest.raises(InputError) as caught:
        here.customers()
    assert caught.value.mistakes[0].where.startswith("names.toml:")
    assert "de, en" in caught.value.mistakes[0].expected
    assert store.head().seq


def test_both_signatures_speak_the_reports_language_whatever_the_station_speaks_meanwhile(
    here: Folder, store: Store
) -> None:
    speaks(here, "de")
    number = release.hand_over(store, here, I1, signing.who(signing.GRINDER), AT).number
    here.names.write_text(
        here.names.read_text(encoding="utf-8").replace('language = "de"', 'language = "en"'),
        encoding="utf-8",
    )
    path = release.release(
        store, here, number, signing.who(signing.INSPECTOR), "released", "", AT + timedelta(hours=1)
    )
    data = path.read_bytes()
    first = pdf.text_of_appearance(data, "measured_by")
    second = pdf.text_of_appearance(data, "released_by")
    assert any("24.11.2026, 08:00 UTC" in line for line in first)
    assert any("elektronische Signatur" in line for line in first)
    assert "Freigegeben von" in second
    assert any("gebe das Werkzeug frei" in line for line in second)


def test_a_german_report_is_genuine_and_its_record_names_its_language(
    here: Folder, store: Store
) -> None:
    speaks(here, "de")
    data = signed(here, store)
    found = verify.verify(data, [signing.shop().certificate], AT + timedelta(days=1))
    assert found.findings == ()
    assert found.same_bytes
    assert found.header is not None
    assert found.header.language == "de"
    assert "Erfüllt." in "\n".join(pdf.text_of(data)[0])


def test_a_german_page_under_an_english_record_is_found(here: Folder, store: Store) -> None:
    speaks(here, "de")
    data = signed(here, store)
    header, entries = record.from_bytes(pdf.attachments(data, record.LARGEST)[record.RECORD])
    english = make.make(entries, replace(header, language="en"))
    findings = Findings()
    printed.pages(data, english.rendered.pdf, findings)
    assert {f.code for f in findings.found} == {Code.PRINTED}
