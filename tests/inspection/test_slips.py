"""A reading that gives no value: it stops its own result, with the reason, and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from inspect_rec.compute.conformity import Verdict
from inspect_rec.inspection.fold import Inspection
from inspect_rec.ledger import Entry
from tests.inspection.test_fold import folded


def slipped(
    number: str, feature: str, value: str, *, flute: int = 0, mark: str = "", when: str = ""
) -> Inspection:
    """The job with all figures of those readings set to ``value``."""

    def changed(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        place = body.get("place", {})
        same = (place.get("feature"), place.get("when", "")) == (feature, when)
        if same and place.get("flute", 0) == flute and mark in ("", place.get("mark")):
            body["taken"] = [{**t, "value": value} for t in body["taken"]]
        return body

    return folded(number, changed)


def others(found: Inspection, besides: tuple[str, ...]) -> set[Verdict]:
    return {r.verdict for r in found.results if r.characteristic.id not in besides}


def test_a_drop_typed_ten_times_too_large_leaves_its_flute_without_a_clearance() -> None:
    found = slipped("I1", "relief drop", "5.2", flute=2, mark="7.0")
    assert found.result("clearance", 2) is None
    assert found.verdict is Verdict.REFUSED
    (said,) = found.missing
    assert said.startswith("clearance, flute 2 (")
    assert "no such drop" in said
    for flute in (1, 3, 4):
        result = found.result("clearance", flute)
        assert result is not None
        assert result.verdict is Verdict.CONFORMS
    assert others(found, ("clearance",)) == {Verdict.CONFORMS}


def test_two_points_of_a_lip_at_one_place_leave_the_point_without_an_angle() -> None:
    found = slipped("I2", "lip", "15.000", flute=1)
    assert [said.split(" (")[0] for said in found.missing] == ["SIG", "lip_symmetry"]
    assert all("leg" in said for said in found.missing)
    assert found.result("DC_1") is not None


@pytest.mark.parametrize("when", ["before", "after"])
def test_a_master_that_gives_no_value_refuses_what_rests_on_it(when: str) -> None:
    found = slipped("I1", "radius master", "15.000", when=when)
    (failed,) = (c for c in found.checks if c.failed)
    assert failed.drift is None
    assert not failed.good
    result = found.result("R", 1)
    assert result is not None
    assert result.verdict is Verdict.REFUSED
    assert "RM-5: too few different points" in result.judgement.reason


def test_an_influence_in_another_unit_is_never_taken_for_one_in_the_right_one() -> None:
    """0.1 um of roll is no angle, and 10 um of radius are 0.01 mm."""

    def stated(name: str, **said: object) -> Inspection:
        def changed(entry: Entry) -> dict[str, Any]:
            body = dict(entry.body)
            if entry.kind == "job opened":
                influence = {**body["shop"]["influence"]}
                influence[name] = {**influence[name], **said}
                body["shop"] = {**body["shop"], "influence": influence}
            return body

        return folded("I1", changed)

    plain = stated("radius of the edge").result("clearance", 1)
    same = stated("radius of the edge", amount="10", unit="um").result("clearance", 1)
    assert plain is not None
    assert same is not None
    assert (same.values, same.u) == (plain.values, plain.u)
    found = stated("angle rolled", unit="um")
    assert found.result("clearance", 1) is None
    assert all('expected unit = "deg", found unit = "um"' in said for said in found.missing)


def test_nothing_of_a_worked_job_fails() -> None:
    keep: Callable[[Entry], dict[str, Any]] = lambda entry: dict(entry.body)  # noqa: E731
    for number in ("I1", "I2", "I3"):
        found = folded(number, keep)
        assert not found.failed
        assert not any(c.failed for c in found.checks)
