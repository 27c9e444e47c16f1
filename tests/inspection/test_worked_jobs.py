"""The numbers of the worked jobs come out, to the digits that are printed there.

Source of every expected value: fixtures/worked/worked-jobs.json, made by another program.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from inspect_rec.inspection import Inspection, Result, fold
from inspect_rec.units import printed
from tests import worked

FIRST = {"I1": 67, "I2": 57, "I3": 80}
"""The reading before the first cut (I1, I3) or the order to measure again (I2)."""


def _inspection(number: str, which: str) -> Inspection:
    upto = FIRST[number] if which == "first" else None
    return fold(worked.entries(number, upto), worked.inspection_id(number))


def _cases() -> list[Any]:
    cases = []
    for number, job in worked.jobs().items():
        for expected in job["expect"]["results"]:
            name = f"{number} {expected['characteristic']} {expected['flute']} {expected['set']}"
            cases.append(pytest.param(number, expected, id=name))
    return cases


def _result(number: str, expected: dict[str, Any]) -> Result:
    inspection = _inspection(number, expected["set"])
    result = inspection.result(expected["characteristic"], expected["flute"])
    assert result is not None
    return result


@pytest.mark.parametrize(("number", "expected"), _cases())
def test_value_uncertainty_limits_and_verdict_are_those_of_the_worked_job(
    number: str, expected: dict[str, Any]
) -> None:
    result = _result(number, expected)
    per_unit = 1 if expected["u_unit"] == "deg" else 1000
    tolerance = expected["tolerance"]
    quantum = 6e-5 if per_unit == 1 else 6e-7
    if "value" in expected:
        assert float(result.value) == pytest.approx(expected["value"], abs=quantum)
    else:
        assert float(result.values[0]) == pytest.approx(expected["lowest"], abs=quantum)
        assert float(result.values[1]) == pytest.approx(expected["highest"], abs=quantum)
    assert float(result.u) * per_unit == pytest.approx(expected["u"], abs=tolerance["u"])
    assert result.zones is not None
    for ours, theirs in (
        (result.zones.accept_low, "accept_low"),
        (result.zones.accept_high, "accept_high"),
        (result.zones.reject_below, "reject_below"),
        (result.zones.reject_above, "reject_above"),
    ):
        if expected[theirs] is None:
            assert ours is None
        else:
            assert float(ours or 0) == pytest.approx(expected[theirs], abs=tolerance["limits"])
    assert result.verdict.value == expected["verdict"]
    assert result.warn is expected["warn_U_over_quarter"]


@pytest.mark.parametrize(("number", "expected"), _cases())
def test_printed_digits_are_those_of_the_worked_job(number: str, expected: dict[str, Any]) -> None:
    result = _result(number, expected)
    c = result.characteristic
    shift = 3 if c.printed_in == "um" else 0

    def shown(value: Decimal) -> str:
        return format(value.scaleb(shift), "f").replace("-", "−")

    if "printed" in expected:
        assert shown(result.shown(result.value)) == expected["printed"]
    else:
        assert shown(result.shown(result.values[0])) == expected["printed_lowest"]
        assert shown(result.shown(result.values[1])) == expected["printed_highest"]
    assert result.zones is not None
    for ours, theirs in (
        (result.zones.accept_low, "printed_accept_low"),
        (result.zones.accept_high, "printed_accept_high"),
        (result.zones.reject_below, "printed_reject_below"),
        (result.zones.reject_above, "printed_reject_above"),
    ):
        if expected[theirs] is not None:
            assert ours is not None
            assert shown(printed(ours, c.digits)) == expected[theirs]


@pytest.mark.parametrize(("number", "expected"), _cases())
def test_stock_is_that_of_the_worked_job(number: str, expected: dict[str, Any]) -> None:
    stock = _result(number, expected).stock
    wanted = expected["stock"]
    if wanted is None:
        assert stock is None
        return
    assert stock is not None
    assert stock.state == wanted["state"]
    assert wanted["side"].startswith(stock.side) or stock.side == wanted["side"]
    for key, amount, step in (
        ("least", stock.least, stock.step_least),
        ("aim", stock.aim, stock.step_aim),
        ("most", stock.most, stock.step_most),
        ("to_level", stock.aim, stock.step_aim),
    ):
        if f"{key}_mm" in wanted:
            assert float(amount or 0) == pytest.approx(
                wanted[f"{key}_mm"], abs=wanted["tolerance_mm"]
            )
            assert str(step) == wanted[f"printed_{key}"]
    for key, ours in (("slide", stock.slide), ("hand_wheel", stock.hand_wheel)):
        if key in wanted:
            assert ours == wanted[key]


@pytest.mark.parametrize("number", ["I1", "I2", "I3"])
def test_master_checks_and_closures_are_those_of_the_worked_job(number: str) -> None:
    found = _inspection(number, "last")
    for expected in worked.jobs()[number]["expect"]["checks"]:
        unit = "deg" if "limit_deg" in expected else "um"
        if "equipment" not in expected:
            continue
        check = next(c for c in found.checks if c.equipment == expected["equipment"])
        tolerance = max(expected["tolerance"], 0.002)
        assert check.before == pytest.approx(expected[f"before_{unit}"], abs=tolerance)
        assert check.after == pytest.approx(expected[f"after_{unit}"], abs=tolerance)
        assert check.limit == pytest.approx(expected[f"limit_{unit}"], abs=0.012)
        assert (not check.refusals) is expected["ok"]
        if f"deviation_limit_{unit}" in expected:
            assert check.deviation_limit == pytest.approx(
                expected[f"deviation_limit_{unit}"], abs=0.01
            )
    for which in ("first", "last"):
        closures = {c.feature: c for c in _inspection(number, which).closures}
        for expected in worked.jobs()[number]["expect"]["checks"]:
            if "closure" not in expected["name"] or expected.get("set", "last") not in (
                which,
                "after rework" if which == "last" else "",
            ):
                continue
            feature = {
                "closure": "lip" if number == "I2" else "profile arc",
                "relief closure": "relief drop",
                "lip height closure": "lip height",
                "face height closure": "face height",
            }[expected["name"]]
            closure = closures[feature]
            assert closure.difference == pytest.approx(expected["difference_um"], abs=0.002)
            assert closure.limit == pytest.approx(expected["limit_um"], abs=0.002)
            assert closure.ok is expected["ok"]


@pytest.mark.parametrize("number", ["I1", "I2", "I3"])
def test_the_plan_asks_for_the_readings_in_the_order_in_which_they_were_taken(number: str) -> None:
    for reading in worked.jobs()[number]["readings"]:
        if reading["what"] == "event":
            continue
        before = fold(worked.entries(number, reading["n"] - 1), worked.inspection_id(number))
        assert before.open, reading
        place = before.open[0].place
        assert place is not None
        assert place.body() == worked_place(number, reading), reading["n"]


def worked_place(number: str, reading: dict[str, Any]) -> dict[str, Any]:
    """A place of the file as an entry has it; a repeat of 1 is written out there."""
    return {"repeat": 1} | worked.place(number, reading)
