"""The published and derived cases of fixtures/published, by their names."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parents[2] / "fixtures" / "published"
FILE, FURTHER = FOLDER / "open_checks.json", FOLDER / "further_checks.json"
FILES = (FILE, FURTHER, FOLDER / "border_checks.json")


def _read(file: Path) -> dict[str, dict[str, Any]]:
    return {c["id"]: c for c in json.loads(file.read_text("utf-8"))["cases"]}


@cache
def cases() -> dict[str, dict[str, Any]]:
    """All cases of the first file."""
    return _read(FILE)


@cache
def every() -> dict[str, dict[str, Any]]:
    """The cases of all files; an id stands in one of them."""
    found: dict[str, dict[str, Any]] = {}
    for file in FILES:
        more = _read(file)
        assert not set(more) & set(found)
        found |= more
    return found


def inputs(case: str) -> dict[str, Any]:
    """What is given."""
    given: dict[str, Any] = cases()[case]["inputs"]
    return given


def expected(case: str, name: str) -> float:
    """One expected number."""
    return float(cases()[case]["expect"][name]["value"])
