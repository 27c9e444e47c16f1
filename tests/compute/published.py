"""The published and derived cases of fixtures/published, by their names."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

FILE = Path(__file__).parents[2] / "fixtures" / "published" / "open_checks.json"


@cache
def cases() -> dict[str, dict[str, Any]]:
    """All cases."""
    return {c["id"]: c for c in json.loads(FILE.read_text("utf-8"))["cases"]}


def inputs(case: str) -> dict[str, Any]:
    """What is given."""
    given: dict[str, Any] = cases()[case]["inputs"]
    return given


def expected(case: str, name: str) -> float:
    """One expected number."""
    return float(cases()[case]["expect"][name]["value"])
