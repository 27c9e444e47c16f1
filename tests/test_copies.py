"""What a customer gets beside the report is chosen in names.toml, and the report says so."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inspect_rec import release
from inspect_rec.config import Folder, Name
from inspect_rec.errors import InputError
from inspect_rec.inspection import fold
from inspect_rec.release import copies
from inspect_rec.report import pdf, record
from inspect_rec.report.verify import verify
from inspect_rec.store import Store
from tests import signing, test_customer_language

AT, I1 = test_customer_language.AT, test_customer_language.I1
here, store = test_customer_language.here, test_customer_language.store


def gets(folder: Folder, *what: str) -> None:
    said = ", ".join(f'"{each}"' for each in what)
    text = folder.names.read_text(encoding="utf-8")
    mark = '[customer."C-1"]\n'
    folder.names.write_text(text.replace(mark, f"{mark}copies = [{said}]\n"), encoding="utf-8")


def handed(folder: Folder, store: Store) -> bytes:
    return release.hand_over(store, folder, I1, signing.who(signing.GRINDER), AT).path.read_bytes()


def test_a_customer_who_asks_for_nothing_gets_the_report_alone(here: Folder, store: Store) -> None:
    data = handed(here, store)
    assert b'"copies"' not in pdf.attachments(data, record.LARGEST)[record.RECORD]
    assert [path.name for path in here.reports.iterdir()] == ["A-0231.pdf"]
    assert "Goes with this report" not in " ".join(map(" ".join, pdf.text_of(data)))


def test_a_customer_who_gets_the_measurement_record_reads_so_in_the_report(
    here: Folder, store: Store
) -> None:
    gets(here, "report", "measurement record")
    number = release.hand_over(store, here, I1, signing.who(signing.GRINDER), AT).number
    at = AT + timedelta(hours=1)
    inspector = signing.who(signing.INSPECTOR)
    data = release.release(store, here, number, inspector, "released", "", at).read_bytes()
    text = " ".join(map(" ".join, pdf.text_of(data)))
    assert "Goes with this report" in text
    assert "A-0231-measurements.pdf" in text
    found = verify(data, [signing.shop().certificate], AT + timedelta(days=1))
    assert not found.findings
    assert found.same_bytes is True


def test_the_record_that_goes_along_is_made_again_from_the_report_alone(
    here: Folder, store: Store
) -> None:
    gets(here, "measurement record")
    data = handed(here, store)
    path = here.reports / "A-0231-measurements.pdf"
    first = path.read_bytes()
    assert "Marten Oakes" in " ".join(pdf.text_of(first)[0])
    header, entries = record.from_bytes(pdf.attachments(data, record.LARGEST)[record.RECORD])
    path.unlink()
    assert copies.beside(here, header, fold(entries, header.inspection)) == path
    assert path.read_bytes() == first


def test_what_there_isnt_cant_be_asked_for(here: Folder, store: Store) -> None:
    gets(here, "raw cheese")
    with pytest.raises(InputError, match=r"names\.toml"):
        here.customers()
    assert store.head().seq


def test_another_name_leaves_a_customers_copies_as_they_were(here: Folder, store: Store) -> None:
    gets(here, "measurement record")
    here.name_person("G-07", Name("Somebody Else"))
    assert here.customers()["C-1"].beside == ("measurement record",)
    assert store.head().seq
