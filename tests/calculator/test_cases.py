"""Files of cases: what is off is off, what is refused is refused, nothing passes by silence."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from inspect_rec.calculator import cases as running
from inspect_rec.errors import InputError
from tests.compute.published import FILES, every

CHORD: dict[str, Any] = {
    "id": "chord",
    "calc": "chord-rise",
    "inputs": {"chord_mm": 4.0, "rise_mm": 0.35},
    "expect": {"radius_mm": {"value": 5.889285714285714, "tol": 1e-9}},
}


def changed(**more: Any) -> dict[str, Any]:
    return copy.deepcopy(CHORD) | more


def expecting(value: Any, tol: float = 1e-9) -> dict[str, Any]:
    return changed(expect={"radius_mm": {"value": value, "tol": tol}})


def test_a_case_that_is_met_tells_the_difference() -> None:
    found = running.run(CHORD)
    assert found.ok
    told = found.told()
    assert told["ok"] is True
    assert told["error"] is None
    assert abs(told["diff"]["radius_mm"]) < 1e-12


def test_got_less_expected_has_its_sign() -> None:
    found = running.run(expecting(5.0))
    assert not found.ok
    assert found.told()["diff"]["radius_mm"] == pytest.approx(0.889285714)


@pytest.mark.parametrize("expect", [None, {}, {"radius_mm": None}, {"radius_mm": {"value": None}}])
def test_a_case_without_expectation_gives_the_same_values_and_no_verdict(expect: Any) -> None:
    found = running.run(changed(expect=expect)).told()
    assert found["got"] == running.run(CHORD).got
    assert "ok" not in found
    assert "diff" not in found
    assert found["error"] is None


def test_a_case_whose_expectation_is_missing_is_computed_all_the_same() -> None:
    case = changed()
    del case["expect"]
    assert running.run(case).told() == {
        "id": "chord",
        "got": running.run(CHORD).got,
        "error": None,
    }


def test_a_refusal_is_told_and_ok_only_where_it_is_expected() -> None:
    refused = running.run(changed(inputs={"chord_mm": -1, "rise_mm": 1}, expect={"error": True}))
    assert refused.ok
    assert refused.got is None
    assert "no such chord" in str(refused.error)
    assert not running.run(changed(expect={"error": True})).ok
    assert not running.run(changed(inputs={"chord_mm": -1, "rise_mm": 1})).ok


def test_a_quantity_that_does_not_come_is_off() -> None:
    found = running.run(changed(expect={"roundness_mm": {"value": 0.0, "tol": 10.0}}))
    assert not found.ok
    assert found.told()["diff"] == {"roundness_mm": None}


def test_an_unknown_computation_is_off_even_without_expectation() -> None:
    found = running.run(changed(calc="chord-rice", expect=None))
    assert not found.ok
    assert "chord-rise" in str(found.error)
    assert not running.run(changed(calc="chord-rice", expect={"error": True})).ok


def test_a_test_only_case_is_listed_as_skipped() -> None:
    told = running.run(changed(calc=None)).told()
    assert told == {"id": "chord", "got": None, "error": None, "skipped": "test only"}


@pytest.mark.parametrize("wrong", ["5.889285714285714", True, [5.889285714285714], {}])
def test_a_value_of_another_kind_is_off(wrong: Any) -> None:
    assert not running.run(expecting(wrong, tol=100.0)).ok


def test_truth_is_not_taken_for_one() -> None:
    case = {
        "id": "outlier",
        "calc": "grubbs-test",
        "inputs": {"readings": [1, 2, 1, 2, 50.0]},
        "expect": {"outlier": {"value": 1, "tol": 0}},
    }
    assert not running.run(case).ok
    case["expect"] = {"outlier": {"value": True, "tol": 0}}
    assert running.run(case).ok


def test_a_tolerance_of_zero_means_equal() -> None:
    exact = {
        "id": "reamer",
        "calc": "reamer-limits",
        "inputs": {"nominal_mm": 10, "hole_class": "H7"},
        "expect": {"upper_deviation_um": {"value": 12, "tol": 0}},
    }
    assert running.run(exact).ok
    exact["expect"] = {"upper_deviation_um": {"value": 12.000001, "tol": 0}}
    assert not running.run(exact).ok


def test_every_entry_of_a_list_is_held_to_the_tolerance() -> None:
    case = {
        "id": "z",
        "calc": "normal-quantile",
        "inputs": {"p": [0.5, 0.975]},
        "expect": {"z": {"value": [0.0, 1.96], "tol": 1e-4}},
    }
    assert running.run(case).ok
    case["expect"] = {"z": {"value": [0.0, 1.97], "tol": 1e-4}}
    assert not running.run(case).ok
    case["expect"] = {"z": {"value": [0.0], "tol": 1e-4}}
    assert not running.run(case).ok


@pytest.mark.parametrize("case", every().values(), ids=lambda c: c["id"])
def test_a_published_value_that_were_another_would_be_seen(case: dict[str, Any]) -> None:
    """Moved by a thousand tolerances each number is found off: no case passes by itself."""
    for name, each in case["expect"].items():
        if case["calc"] is None or name == "error":
            continue
        value = each["value"]
        if not isinstance(value, int | float) or isinstance(value, bool):
            continue
        moved = copy.deepcopy(case)
        moved["expect"][name]["value"] = value + 1000 * (each["tol"] or 1e-3) + abs(value) * 1e-9
        assert not running.run(moved).ok


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "JSON"),
        ("[]", "cases"),
        ('{"cases": {}}', "cases"),
        ('{"cases": [1]}', "cases"),
        ('{"cases": [{"id": "a"}]}', "case 1 says too little"),
        ('{"cases": [{"inputs": {}}]}', "case 1 says too little"),
        ('{"cases": [{"id": "a", "inputs": {}}, {"id": "a", "inputs": {}}]}', "two cases"),
        ('{"cases": [{"id": "a", "inputs": {"x": NaN}}]}', "NaN"),
        ("[" * 100_000, "nested too deep"),
        ('{"cases": [{"id": "a", "inputs": {"r_mm": 1, "r_mm": 2}}]}', "'r_mm' stands twice"),
        ('{"cases": [{"id": "a", "calc": ["circle"], "inputs": {}}]}', "case a computes"),
        ('{"cases": [{"id": "a", "calc": {}, "inputs": {}}]}', "case a computes"),
        *(
            (f'{{"cases": [{{"id": "a", "inputs": {{}}, "expect": {expect}}}]}}', "case a expects")
            for expect in (
                "[]",
                '{"r": 1}',
                '{"r": {"value": 1, "tol": "small"}}',
                '{"r": {"value": 1, "tol": -1}}',
                '{"r": {"value": 1' + "0" * 400 + "}}",
                '{"r": {"value": [[1e999]]}}',
                '{"error": 1}',
            )
        ),
    ],
)
def test_what_is_no_file_of_cases_is_refused(text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        running.read(text, "mine.json")


def test_a_byte_order_mark_before_the_cases_is_no_mistake() -> None:
    assert running.read("\ufeff" + json.dumps({"cases": [CHORD]}), "mine.json") == [CHORD]


def test_a_computation_that_is_not_known_names_those_like_it_and_methods_too() -> None:
    assert "swept-diameter" in str(running.run(changed(calc="swept-diametre")).error)


def test_what_a_case_tells_of_its_source_is_kept_as_it_was_written() -> None:
    ran = running.run(changed(source=None, provenance=["a", None]))
    assert (ran.source, ran.provenance) == ("", '["a", null]')


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_all_published_cases_are_read(file: Path) -> None:
    found = running.read(file.read_text("utf-8"), file.name)
    assert len(found) == len(json.loads(file.read_text("utf-8"))["cases"])
