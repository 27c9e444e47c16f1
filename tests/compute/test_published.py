"""Every published case gives its value: as a computation, or in the test of its subject."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from inspect_rec.calculator import cases as running
from tests.compute.published import FURTHER, cases, every

CASES = [case for case in every().values() if case["calc"]]
TESTS = Path(__file__).parents[1]
PROVENANCES = {"published", "memory", "common practice", "derived"}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_the_published_value_comes_out(case: dict[str, Any]) -> None:
    found = running.run(case)
    assert found.ok, found


def unused(ids: list[str], texts: list[str]) -> list[str]:
    return [id_ for id_ in ids if not any(f'"{id_}"' in text for text in texts)]


def test_every_case_that_asks_for_no_computation_is_used_by_a_test_that_names_it() -> None:
    texts = [path.read_text("utf-8") for path in TESTS.rglob("test_*.py")]
    assert unused([id_ for id_, case in every().items() if not case["calc"]], texts) == []


def test_a_case_that_no_test_names_is_found() -> None:
    assert unused(["line-of-york", "sum-abc"], ['cases()["sum-abc"]', "line-of-york"]) == [
        "line-of-york"
    ]


def test_each_case_says_where_its_value_comes_from() -> None:
    assert {case["provenance"] for case in every().values()} <= PROVENANCES
    assert all(case["source"] and case["method"] for case in every().values())


def test_every_case_of_the_further_ones_asks_for_a_computation_and_expects_something() -> None:
    further = [case for id_, case in every().items() if id_ not in cases()]
    assert further, FURTHER
    assert [c["id"] for c in further if not (c["calc"] and c["inputs"] and c["expect"])] == []


def test_what_a_computation_says_that_it_refuses_is_refused_in_a_case() -> None:
    from inspect_rec.calculator.base import register

    refused = {case["calc"] for case in CASES if case["expect"].get("error")}
    assert [c.name for c in register().values() if c.refuses and c.name not in refused] == []
