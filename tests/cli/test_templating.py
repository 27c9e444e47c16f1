"""The sample that shows a letterhead, and the measurement record of a tool."""

from __future__ import annotations

import io
import json
from importlib import resources
from pathlib import Path

import pikepdf
import pytest
from typer.testing import CliRunner

from inspect_rec.cli import app
from inspect_rec.errors import InputError
from inspect_rec.report import pdf, record
from inspect_rec.report.verify import verify
from inspect_rec.store import Store
from report_templates import languages, words
from tests import signing, worked
from tests.report import letterheads

SAMPLE = resources.files("inspect_rec.cli") / "templates" / "sample.json"


def ran(*words_: str) -> None:
    found = CliRunner().invoke(app, list(words_), catch_exceptions=False)
    assert found.exit_code == 0, found.output


def test_the_sample_is_the_worked_job() -> None:
    _, entries = record.from_bytes(SAMPLE.read_bytes())
    assert json.loads(SAMPLE.read_bytes())["program"]
    assert entries == worked.entries("I1", signing.UPTO["I1"])


@pytest.mark.parametrize("language", sorted(languages()))
def test_every_page_of_a_preview_says_that_it_is_a_sample(tmp_path: Path, language: str) -> None:
    (tmp_path / "logo.png").write_bytes(letterheads.picture())
    file, out = tmp_path / "letterhead.toml", tmp_path / "out" / "sample.pdf"
    file.write_text(letterheads.TEXT, encoding="utf-8")
    ran("report", "preview", "--letterhead", str(file), "--language", language, "--out", str(out))
    pages, w = pdf.text_of(out.read_bytes()), words(language)
    assert len(pages) > 1
    for page in pages:
        assert " ".join(page).count(w["preview.sample"]) == 2
        assert w["preview.foot"] in " ".join(page)
        assert "tallow-lane.example" in " ".join(page)
        assert w["page.foot"] not in " ".join(page)
    assert signing.NUMBERS["I1"] not in "".join(map("".join, pages))


def test_a_preview_is_taken_for_no_report(tmp_path: Path) -> None:
    out = tmp_path / "sample.pdf"
    ran("report", "preview", "--out", str(out))
    assert pdf.attachments(out.read_bytes(), record.LARGEST) == {}
    assert not verify(out.read_bytes(), [signing.shop().certificate], signing.NOW).ok
    with pikepdf.open(io.BytesIO(out.read_bytes())) as file:
        assert "/AcroForm" not in file.Root


def test_a_preview_for_a_shop_bears_its_name_its_letterhead_and_its_language(
    tmp_path: Path,
) -> None:
    text = (worked.FOLDER / "shop.toml").read_text(encoding="utf-8")
    text = text.replace(worked.shop().shop.name, "Another Grinding Shop")
    (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
    (tmp_path / "station.toml").write_text('language = "de"\n', encoding="utf-8")
    (tmp_path / "letterhead.toml").write_text('lines = ["a further line"]\n', encoding="utf-8")
    out = tmp_path / "sample.pdf"
    ran("report", "preview", "--shop", str(tmp_path), "--out", str(out))
    for page in pdf.text_of(out.read_bytes()):
        said = " ".join(page)
        assert "Another Grinding Shop" in said
        assert "a further line" in said
        assert "Muster, kein Bericht" in said


def test_a_letterhead_with_mistakes_makes_no_preview(tmp_path: Path) -> None:
    file, out = tmp_path / "letterhead.toml", tmp_path / "sample.pdf"
    file.write_text('paper = "A3"\nhide = ["verdict"]\n', encoding="utf-8")
    with pytest.raises(InputError, match=r"letterhead\.toml:2"):
        ran("report", "preview", "--letterhead", str(file), "--out", str(out))
    assert not out.exists()


def test_a_language_without_words_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="xx"):
        ran("report", "preview", "--language", "xx", "--out", str(tmp_path / "sample.pdf"))


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "shop.toml").write_bytes((worked.FOLDER / "shop.toml").read_bytes())
    names = '[person."G-01"]\nname = "Marten Oakes"\n[customer."C-1"]\nname = "Quillfen Moulds"\n'
    (folder / "names.toml").write_text(names, encoding="utf-8")
    with Store.create(folder / "ledger.sqlite", "A", "A-0231") as store:
        for entry in worked.entries("I1", 60):
            store.append(entry.at, entry.person, entry.kind, entry.body)
    return folder


def test_a_record_is_written_for_a_tool_that_isnt_measured_to_its_end(
    shop: Path, tmp_path: Path
) -> None:
    out = tmp_path / "record.pdf"
    ran("report", "record", worked.inspection_id("I1"), "--shop", str(shop), "--out", str(out))
    said = " ".join(" ".join(page) for page in pdf.text_of(out.read_bytes()))
    assert "Marten Oakes" in said
    assert "Quillfen Moulds" in said
    assert "no report, not signed" in said
    first = out.read_bytes()
    ran("report", "record", worked.inspection_id("I1"), "--shop", str(shop), "--out", str(out))
    assert out.read_bytes() == first


def test_a_record_is_on_the_letterheads_paper_and_in_the_language_asked_for(
    shop: Path, tmp_path: Path
) -> None:
    (shop / "letterhead.toml").write_text('paper = "Letter"\n', encoding="utf-8")
    out = tmp_path / "record.pdf"
    words_ = ("--shop", str(shop), "--language", "de", "--out", str(out))
    ran("report", "record", worked.inspection_id("I1"), *words_)
    with pikepdf.open(io.BytesIO(out.read_bytes())) as file:
        assert float(file.pages[0].MediaBox[3]) == pytest.approx(792)
    assert "Messprotokoll" in " ".join(pdf.text_of(out.read_bytes())[0])
