"""The demo: what its summary tells is what the worked jobs expect, result by result."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from inspect_rec.cli import demo, verifying
from inspect_rec.report import batch_verify, pdf
from inspect_rec.report.verify import verify
from tests import worked
from tests.report.test_languages import ENGLISH

FIXTURES = Path(__file__).parents[2] / "fixtures"


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "demo-out"
    assert demo.run(FIXTURES, folder) == 0
    return folder


def results(out: Path, mark: str) -> dict[tuple[Any, ...], dict[str, Any]]:
    told = json.loads((out / "summary.json").read_text("utf-8"))["tools"][mark]["results"]
    return {(r["characteristic"], r["flute"], r["set"]): r for r in told}


@pytest.mark.parametrize(
    ("number", "mark", "report", "decision"),
    [
        ("I1", "QF-0417", "A-0231", "released"),
        ("I2", "BW-22-B", "A-0232", "not released"),
        ("I3", "HC-9", "A-0240", "released"),
    ],
)
def test_the_summary_tells_every_expected_result(
    out: Path, number: str, mark: str, report: str, decision: str
) -> None:
    tool = json.loads((out / "summary.json").read_text("utf-8"))["tools"][mark]
    assert (tool["report"], tool["decision"]) == (report, decision)
    told = results(out, mark)
    for expected in worked.jobs()[number]["expect"]["results"]:
        key = (expected["characteristic"], expected["flute"], expected["set"])
        found = told.pop(key)
        slack = 6e-5 if expected["u_unit"] == "deg" else 6e-7
        for name in ("value", "lowest", "highest"):
            if name in expected:
                assert found[name] == pytest.approx(expected[name], abs=slack)
        assert found["u"] == pytest.approx(expected["u"], abs=expected["tolerance"]["u"])
        for name, value in expected.items():
            if name.startswith("printed"):
                assert found.get(name) == value, (key, name)
            if name.startswith(("accept", "reject")) and value is not None:
                assert found[name] == pytest.approx(value, abs=expected["tolerance"]["limits"])
        assert found["verdict"] == expected["verdict"]
        assert found["warn_U_over_quarter"] is expected["warn_U_over_quarter"]
        if key != ("DC_2", None, "first"):  # A-0232 alone; the last set feeds what comes after
            assert found["feeds_report"] is expected["feeds_report"]
        assert (found["stock"] is None) is (expected["stock"] is None)
        assert found["readings"]
    assert told == {}


def test_the_folder_holds_reports_sheets_root_and_ledger_and_no_other_pdf(out: Path) -> None:
    made = ["A-0231.pdf", "A-0232.pdf", "A-0235.pdf", "A-0240.pdf"]
    made += ["I1-batch.pdf", "I2-batch.pdf", "I3-batch.pdf"]
    assert sorted(p.name for p in out.glob("*.pdf")) == made
    every = {p.name for p in out.rglob("*.pdf")}
    assert every == set(made)
    assert (out / "shop-root.pem").is_file()
    assert (out / "shop" / "ledger.sqlite").is_file()


def test_a_german_shop_has_the_first_report_in_german_with_the_same_figures(out: Path) -> None:
    german = (out / "german" / "A-0231.pdf").read_bytes()
    root = verifying.read_root(out / "german" / "shop-root.pem")
    found = verify(german, [root], datetime.now(UTC))
    assert found.ok
    assert found.header is not None
    assert found.header.language == "de"
    text = "\n".join("\n".join(page) for page in pdf.text_of(german))
    assert ENGLISH.findall(text) == []
    assert "Prüfbericht" in text
    english = "\n".join("\n".join(p) for p in pdf.text_of((out / "A-0231.pdf").read_bytes()))
    for figure in ("4.9023", "4.8998", "4.9052", "97.05", "0.0053"):
        assert figure in english
        assert figure.replace(".", ",") in text


def test_the_german_recording_is_the_english_one_but_for_what_is_typed() -> None:
    paths = (folder / "recordings" / "i1.jsonl" for folder in (FIXTURES, FIXTURES / "german"))
    lines = [[json.loads(line) for line in p.read_text("utf-8").splitlines()] for p in paths]
    typed = {"state", "how", "voids"}
    english, german = (
        [{k: v for k, v in each.items() if k not in typed} for each in one] for one in lines
    )
    assert english == german


def test_the_amendment_replaces_the_report_and_is_released_under_the_concession(
    out: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    root, ledger = verifying.read_root(out / "shop-root.pem"), out / "shop" / "ledger.sqlite"
    now = datetime.now(UTC)
    old, new = (
        verifying.against_store(verify((out / f"{n}.pdf").read_bytes(), [root], now), ledger)
        for n in ("A-0232", "A-0235")
    )
    assert old.ok
    assert old.replaced_by == "A-0235"
    assert new.ok
    assert (new.verdict, new.released) == ("neither shown", True)
    assert [s.reason for s in new.signed if s.decision] == ["CON-7"]
    text = " ".join(" ".join(page) for page in pdf.text_of((out / "A-0235.pdf").read_bytes()))
    for said in ("A-0232", "CON-7", "10.9709", "10.9741", "3.2 µm", "4.3 µm", "Neither shown."):
        assert said in text, said


@pytest.mark.parametrize(
    ("number", "reports", "counts"),
    [
        ("I1", ["A-0231"], [("1", "released")]),
        ("I2", ["A-0232", "A-0235"], [("1", "under concession"), ("1", "report replaced")]),
        ("I3", ["A-0240"], [("1", "released")]),
    ],
)
def test_each_job_has_its_batch_sheet_that_names_the_reports_as_they_lie_there(
    out: Path, number: str, reports: list[str], counts: list[tuple[str, str]]
) -> None:
    root = verifying.read_root(out / "shop-root.pem")
    found = batch_verify.verify(
        (out / f"{number}-batch.pdf").read_bytes(), [root], datetime.now(UTC)
    )
    assert found.findings == ()
    assert found.reports == {
        n: hashlib.sha256((out / f"{n}.pdf").read_bytes()).hexdigest() for n in reports
    }
    assert found.said is not None
    assert [(c.number, c.word) for c in found.said.counts] == counts


def test_a_folder_that_holds_something_else_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(Exception, match="something else"):
        demo.run(FIXTURES, tmp_path)
    assert (tmp_path / "mine.txt").read_text("utf-8") == "mine"
