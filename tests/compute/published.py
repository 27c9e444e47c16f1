"""The published and derived cases of fixtures/published, by their names."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parents[2] / "fixtures" / "published"
FILE, FURTHER = FOLDER / "open_checks.json", FOLDER / "further_checks.json"


def _read(file: Path) -> dict[str, dict[str, Any]]:
    return {c["id"]: c for c in json.loads(file.read_text("utf-8"))["cases"]}


@cache
def cases() -> dict[str, dict[str, Any]]:
    """All cases of the first file."""
    return _read(FILE)


@cache
def every() -> dict[str, dict[str, Any]]:
    """The cases of both files; an id stands in one of them."""
    further = _read(FURTHER)
    assert not set(further) & set(cases())
    return cases() | further


def inputs(case: str) -> dict[str, Any]:
    """What is given."""
    given: dict[str, Any] = cases()[case]["inputs"]
    return given


def expected(case: str, name: str) -> float:
    """One expected number."""
    return float(cases()[case]["expect"][name]["value"])
