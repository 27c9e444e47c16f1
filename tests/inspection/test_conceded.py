"""Concessions cover what was known when they were granted, and never change a verdict."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from inspect_rec.compute.conformity import Verdict
from inspect_rec.inspection import Inspection, fold
from inspect_rec.inspection.conceded import before, concession, under_concession
from inspect_rec.ledger import Entry
from tests import worked

ID = worked.inspection_id("I2")


def measured() -> tuple[Entry, ...]:
    """Job I2 as it was re-measured, before its customer's concession."""
    entries = worked.entries("I2")
    n = next(n for n, e in enumerate(entries) if e.kind == "concession")
    return entries[:n]


def conceded(**more: Any) -> Inspection:
    return fold((*measured(), granted(measured()[-1], **more)), ID)


def granted(last: Entry, **more: Any) -> Entry:
    body = {"inspection": ID, "number": "CON-7", "characteristics": ["DC_2"], "flutes": []} | more
    at, seq = last.at + timedelta(minutes=1), last.seq + 1
    return replace(last, at=at, seq=seq, kind="concession", person="Q-01", body=body)


def test_a_concession_covers_its_characteristic_and_leaves_the_verdict() -> None:
    found = conceded()
    result = found.result("DC_2")
    assert result is not None
    assert result.verdict is Verdict.NEITHER_SHOWN
    assert found.verdict is Verdict.NEITHER_SHOWN
    covering = concession(found, result)
    assert covering is not None
    assert covering.number == "CON-7"
    assert under_concession(found) == (covering,)


def test_what_conforms_needs_no_concession_and_has_none() -> None:
    found = conceded(characteristics=["DC_1", "DC_2"])
    result = found.result("DC_1")
    assert result is not None
    assert concession(found, result) is None


@pytest.mark.parametrize("other", [["DC_1"], []])
def test_a_concession_for_something_else_covers_nothing(other: list[str]) -> None:
    assert under_concession(conceded(characteristics=other)) == ()


def test_what_was_measured_after_the_concession_is_not_covered() -> None:
    entries = list(measured())
    last = max(n for n, e in enumerate(entries) if e.kind == "reading")
    readings = [n for n, e in enumerate(entries[:last]) if e.kind == "reading"]
    n = next(n for n in reversed(readings) if entries[n].body["place"]["feature"] == "DC_2")
    early = granted(entries[n - 1])
    shifted = [replace(e, seq=e.seq + 1) for e in entries[n:]]
    found = fold((*entries[:n], early, *shifted), ID)
    result = found.result("DC_2")
    assert result is not None
    assert concession(found, result) is None


def test_nothing_is_under_concession_while_something_is_missing_or_conforms_alone() -> None:
    part = measured()[: len(measured()) // 3]
    assert under_concession(fold((*part, granted(part[-1])), ID)) == ()
    assert under_concession(fold(worked.entries("I1"), worked.inspection_id("I1"))) == ()


def test_a_flute_that_is_not_named_is_not_covered() -> None:
    upto = next(n for n, e in enumerate(worked.entries("I1")) if e.kind == "ground again")
    entries = worked.entries("I1")[:upto]
    identity = worked.inspection_id("I1")
    body = {"inspection": identity, "characteristics": ["R"], "flutes": [2]}
    found = fold((*entries, granted(entries[-1], **body)), identity)
    high = found.result("R", 3)
    assert high is not None
    assert high.verdict is Verdict.DOES_NOT_CONFORM
    assert concession(found, high) is None
    named = fold((*entries, granted(entries[-1], **body | {"flutes": [3]})), identity)
    assert concession(named, high) is not None


def test_the_first_measurement_stays_beside_the_second_and_the_two_agree() -> None:
    """Worked job I2: 10.9709, then 10.9741; 3.2 um apart, 4.3 allowed."""
    (found,) = before(conceded())
    assert found.result.characteristic.id == "DC_2"
    assert float(found.result.value) == pytest.approx(10.9709, abs=5e-5)
    assert found.now is not None
    assert float(found.now.value) == pytest.approx(10.9741, abs=5e-5)
    assert found.difference == pytest.approx(0.0032, abs=5e-5)
    assert found.limit == pytest.approx(0.0043, abs=5e-5)


def test_without_an_order_to_measure_again_there_is_nothing_before() -> None:
    assert before(fold(worked.entries("I1"), worked.inspection_id("I1"))) == ()


def test_the_worked_jobs_concession_covers_its_diameter() -> None:
    found = fold(worked.entries("I2"), ID)
    assert [c.number for c in under_concession(found)] == ["CON-7"]
    assert under_concession(fold(measured(), ID)) == ()
