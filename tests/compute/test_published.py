"""Every published case that asks for a computation gives the published value."""

from __future__ import annotations

from typing import Any

import pytest

from inspect_rec.calculator import cases as running
from tests.compute.published import cases

CASES = [case for case in cases().values() if case["calc"]]


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_the_published_value_comes_out(case: dict[str, Any]) -> None:
    found = running.run(case)
    assert found.ok, found
