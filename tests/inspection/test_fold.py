"""What the fold makes of strike-outs, cuts, missing and untrustworthy readings."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from inspect_rec import ledger
from inspect_rec.compute.conformity import Verdict
from inspect_rec.errors import LedgerError
from inspect_rec.inspection import Inspection, fold
from inspect_rec.ledger import Entry, Head
from tests import worked


def again(
    entries: tuple[Entry, ...], change: Callable[[Entry], dict[str, Any] | None]
) -> list[Entry]:
    """The same acts with other bodies (None leaves one out), chained anew."""
    head, found = Head("A", 0, ledger.NOTHING), []
    for entry in entries:
        body = change(entry)
        if body is not None:
            made = ledger.make(head, entry.at, entry.person, entry.kind, body)
            found.append(made)
            head = Head(made.station, made.seq, made.digest)
    return found


def then(entries: tuple[Entry, ...], kind: str, body: dict[str, Any]) -> tuple[Entry, ...]:
    """One more act."""
    last = entries[-1]
    head = Head(last.station, last.seq, last.digest)
    whole = {"inspection": last.body["inspection"]} | body
    return (*entries, ledger.make(head, last.at + timedelta(minutes=1), "G-01", kind, whole))


def folded(number: str, change: Callable[[Entry], dict[str, Any] | None]) -> Inspection:
    return fold(again(worked.entries(number), change), worked.inspection_id(number))


def test_the_tool_of_job_one_conforms_and_nothing_is_open() -> None:
    found = fold(worked.entries("I1"), worked.inspection_id("I1"))
    assert found.verdict is Verdict.CONFORMS
    assert found.next is None
    assert not found.missing


def test_a_tool_that_the_job_has_not_is_said_with_those_that_it_has() -> None:
    with pytest.raises(LedgerError, match=r"no such tool: expected QF-0417, found QF-0418"):
        fold(worked.entries("I1", 114)[:1], "I1/QF-0418")


def test_a_cut_voids_its_flute_and_what_was_computed_over_all_but_not_the_others() -> None:
    found = fold(worked.entries("I1", 68), worked.inspection_id("I1"))
    have = {(r.characteristic.id, r.flute) for r in found.results}
    assert {("R", 1), ("R", 2), ("R", 4)} <= have
    assert not {("R", 3), ("R_variation", None), ("tip_spread", None)} & have
    assert found.next is not None
    assert found.next.place is not None
    assert found.next.place.when == "after grinding 1"


def test_a_struck_out_reading_is_kept_but_does_not_count() -> None:
    entries = worked.entries("I1", 39)
    last = entries[-1]
    struck = then(
        entries,
        "struck out",
        {"entry": {"station": last.station, "seq": last.seq}, "reason": "film on edge"},
    )
    before, after = (fold(e, worked.inspection_id("I1")) for e in (entries, struck))
    assert before.result("R", 1) is not None
    assert after.result("R", 1) is None
    assert after.record.struck[0].reason == "film on edge"
    assert len(after.record.readings) == len(before.record.readings)
    assert after.next is not None
    assert after.next.place == after.record.struck[0].reading.place


def test_a_drifted_master_refuses_every_verdict_that_rests_on_the_slides() -> None:
    def knocked(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        place = body.get("place", {})
        if place.get("feature") == "master pin" and place.get("when") == "after":
            x = body["taken"][0]
            if place["mark"] == "greater":
                body["taken"] = [{**x, "value": "20.014"}, *body["taken"][1:]]
        return body

    found = folded("I2", knocked)
    one = found.result("DC_1")
    by_indicator = found.result("lip_height")
    assert one is not None
    assert by_indicator is not None
    assert one.verdict is Verdict.REFUSED
    assert "drifted" in one.judgement.reason
    assert by_indicator.verdict is Verdict.CONFORMS


def test_a_failed_closure_refuses_what_it_vouches_for() -> None:
    def turned(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        if body.get("place", {}).get("when") == "closure" and not body["by_eye"]:
            body["taken"] = [
                {**t, "value": str(Decimal(t["value"]) + Decimal("0.02"))} for t in body["taken"]
            ]
        return body

    found = folded("I1", turned)
    assert {r.verdict for r in found.results if r.characteristic.id == "R"} == {Verdict.REFUSED}


@pytest.mark.parametrize("warm", ["26.0", "17.5"])
def test_a_warm_or_cold_tool_has_no_verdict(warm: str) -> None:
    def heated(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        place = body.get("place", {})
        if place.get("feature") == "temperature" and place.get("mark") == "tool":
            body["taken"] = [{**body["taken"][0], "value": warm}]
        return body

    found = folded("I1", heated)
    assert found.verdict is Verdict.REFUSED
    assert all("°C" in r.judgement.reason for r in found.results)


def test_overdue_equipment_has_no_verdict() -> None:
    def expired(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        if entry.kind == "job opened":
            shop = dict(body["shop"])
            shop["equipment"] = [
                {**e, "due": "2026-11-01"} if e["id"] == "RO-1" else e for e in shop["equipment"]
            ]
            body["shop"] = shop
        return body

    found = folded("I1", expired)
    assert found.verdict is Verdict.REFUSED
    assert "RO-1 was due on 2026-11-01" in (found.results[0].judgement.reason)


def test_a_changed_drawing_revision_refuses_until_the_job_is_opened_anew() -> None:
    entries = then(
        worked.entries("I1"), "drawing revision changed", {"job": "I1", "from": "B", "to": "C"}
    )
    assert fold(entries, worked.inspection_id("I1")).verdict is Verdict.REFUSED


@pytest.mark.parametrize("number", ["I1", "I2", "I3"])
def test_inch_and_diameter_mode_give_the_same_results_to_the_last_digit(number: str) -> None:
    def inch(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        if entry.kind == "reading" and not body["by_eye"]:
            body["taken"] = [
                {**t, "value": str(Decimal(t["value"]) / Decimal("25.4")), "unit": "in"}
                for t in body["taken"]
            ]
        return body

    def diameter(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        if entry.kind == "job opened":
            plan = dict(body["plan"])
            plan["set_up"] = {
                **(plan.get("set_up") or body["shop"]["set_up"]),
                "mode": "diameter",
            }
            body["plan"] = plan
        if entry.kind == "reading" and not body["by_eye"]:
            radial = worked.job(number).set_up or worked.shop().set_up
            body["taken"] = [
                {**t, "value": str(Decimal(t["value"]) * 2)} if t["channel"] == radial.radial else t
                for t in body["taken"]
            ]
        return body

    plain = fold(worked.entries(number), worked.inspection_id(number))
    for changed in (inch, diameter):
        other = folded(number, changed)
        for one, same in zip(plain.results, other.results, strict=True):
            assert (same.values, same.u, same.verdict) == (one.values, one.u, one.verdict)
            if changed is inch:
                assert same.stock == one.stock


def test_a_verdict_needs_its_land_and_freedoms_stated() -> None:
    def silent(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        if entry.kind == "job opened":
            plan = dict(body["plan"])
            plan["characteristic"] = [
                {**c, "with": {}} if c["id"] == "clearance" else c for c in plan["characteristic"]
            ]
            body["plan"] = plan
        return body

    found = folded("I1", silent)
    assert found.verdict is Verdict.REFUSED
    assert len(found.missing) == found.tool.edges
    assert all("needs land" in said for said in found.missing)


def test_the_flute_that_is_past_saving_is_named_as_such() -> None:
    def small(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        place = body.get("place", {})
        if place.get("feature") == "DC_1" and place.get("mark") == "greater":
            x = body["taken"][0]
            body["taken"] = [{**x, "value": "19.230"}, *body["taken"][1:]]
        return body

    result = folded("I2", small).result("DC_1")
    assert result is not None
    assert result.verdict is Verdict.DOES_NOT_CONFORM
    assert result.stock is not None
    assert result.stock.state == "past saving by grinding"


def test_an_oversize_diameter_is_half_as_much_infeed() -> None:
    def large(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        place = body.get("place", {})
        if place.get("feature") == "DC_1" and place.get("mark") == "greater":
            x = body["taken"][0]
            body["taken"] = [{**x, "value": "19.290"}, *body["taken"][1:]]
        return body

    result = folded("I2", large).result("DC_1")
    assert result is not None
    stock, zones = result.stock, result.zones
    assert stock is not None
    assert zones is not None
    assert stock.least is not None
    assert stock.most is not None
    assert stock.aim is not None
    assert float(stock.least) == pytest.approx(
        float(result.value - (zones.accept_high or 0)) / 2, abs=1e-6
    )
    assert stock.least < stock.aim < stock.most
