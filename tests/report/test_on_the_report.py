"""What docs/on-the-report.md says that a report says stands on one."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from inspect_rec.report import pdf
from tests import signing

PAGE = Path(__file__).parents[2] / "docs" / "on-the-report.md"
ROW = re.compile(r"^\| ([^|]+) \| ([^|]+) \| ([^|]+) \| ([^|]+) \|$", re.MULTILINE)


def rows() -> list[tuple[str, str]]:
    """What, and a text that must stand on the pages; of a row with several texts each."""
    found = ROW.findall(PAGE.read_text(encoding="utf-8"))
    return [
        (what, text)
        for what, _, _, texts in found
        if not what.startswith(("what", "-"))
        for text in re.findall(r"`([^`]+)`", texts)
    ]


@cache
def said() -> str:
    """Pages and visible signatures, as one line."""
    data = signing.report("I1")
    stamps = [pdf.text_of_appearance(data, f) for f in ("measured_by", "released_by")]
    return re.sub(r"\s+", " ", " ".join(" ".join(page) for page in (*pdf.text_of(data), *stamps)))


def test_every_row_names_what_it_reads_like() -> None:
    assert len({what for what, _ in rows()}) > 30
    assert all(
        re.findall(r"`[^`]+`", texts) for *_, texts in ROW.findall(PAGE.read_text("utf-8"))[2:]
    )


@pytest.mark.parametrize(("what", "text"), rows())
def test_it_stands_on_the_report(what: str, text: str) -> None:
    assert text in said(), what


def test_a_text_that_isnt_there_is_missed() -> None:
    assert "end of the report" not in said()
