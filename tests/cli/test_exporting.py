"""Export as it is typed: files by suffix, several tools in one table, nothing written over."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from inspect_rec import cli
from inspect_rec.outgoing import qif, writers
from inspect_rec.store import Store
from tests import worked


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "shop.toml").write_bytes((worked.FOLDER / "shop.toml").read_bytes())
    with Store.create(folder / "ledger.sqlite", "A", "A-0231") as store:
        for number in ("I1", "I2"):
            for entry in worked.entries(number):
                store.append(entry.at, entry.person, entry.kind, entry.body)
    return folder


@pytest.fixture
def export(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], shop: Path) -> Any:
    def run(*words: str) -> tuple[int, str]:
        monkeypatch.setattr("sys.argv", ["inspect-rec", "export", *words, "--shop", str(shop)])
        with pytest.raises(SystemExit) as caught:
            cli.main()
        said = capsys.readouterr()
        return int(caught.value.code or 0), said.out + said.err

    return run


BOTH = [worked.inspection_id(number) for number in ("I1", "I2")]


def test_two_tools_stand_in_one_book(export: Any, tmp_path: Path) -> None:
    path = tmp_path / "both.xlsx"
    assert export(*BOTH, "--to", str(path))[0] == 0
    found = writers.from_xlsx(path.read_bytes())
    assert set(found) == {"readings", "results"}
    assert {row["inspection"] for row in found["results"].rows} == set(BOTH)
    assert load_workbook(path)["readings"].freeze_panes == "A2"


@pytest.mark.parametrize("suffix", ["csv", "jsonl", "parquet"])
def test_a_plain_format_gives_two_files(export: Any, tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"tool.{suffix}"
    assert export(BOTH[0], "--to", str(path))[0] == 0
    assert not path.exists()
    for name in ("readings", "results"):
        assert (tmp_path / f"tool-{name}.{suffix}").stat().st_size > 100


def test_qif_is_one_document_of_all_tools(export: Any, tmp_path: Path) -> None:
    path = tmp_path / "both.QIF"
    assert export(*BOTH, "--to", str(path))[0] == 0
    (written,) = tmp_path.glob("both*")
    read, found = qif.from_qif(written.read_bytes())
    for table in (read, found):
        assert {row["inspection"] for row in table.rows} == set(BOTH)


def test_nothing_is_written_over(export: Any, tmp_path: Path) -> None:
    (tmp_path / "tool-results.csv").write_text("mine")
    code, said = export(BOTH[0], "--to", str(tmp_path / "tool.csv"))
    assert code == 2
    assert "there already" in " ".join(said.split())
    assert (tmp_path / "tool-results.csv").read_text() == "mine"
    assert not (tmp_path / "tool-readings.csv").exists()


def test_another_suffix_is_refused_with_those_there_are(export: Any, tmp_path: Path) -> None:
    code, said = export(BOTH[0], "--to", str(tmp_path / "tool.doc"))
    assert code == 2
    assert ".parquet" in said
