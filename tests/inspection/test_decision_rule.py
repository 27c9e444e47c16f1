"""Whole jobs under each decision rule that a job file may choose, from job file to verdict."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from inspect_rec import jobfile
from inspect_rec.compute.conformity import Verdict
from inspect_rec.inspection import Inspection, Result
from inspect_rec.ledger import Entry
from tests import worked
from tests.inspection.test_fold import folded

D = Decimal


def ruled(number: str, *lines: str) -> Inspection:
    """A worked job, its job file with a [job.rule] of these lines."""
    text = (worked.FOLDER / f"{number.lower()}.toml").read_text(encoding="utf-8")
    text = text.replace("\n[[tool]]", "\n".join(["", "[job.rule]", *lines, "", "[[tool]]"]), 1)
    plan = jobfile.parse_job(text, worked.shop()).model_dump(mode="json", by_alias=True)

    def chosen(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        if entry.kind == "job opened":
            body["plan"] = {
                **plan,
                "job": {**plan["job"], "customer": body["plan"]["job"]["customer"]},
            }
        return body

    return folded(number, chosen)


def of(inspection: Inspection, characteristic: str, flute: int | None = None) -> Result:
    found = inspection.result(characteristic, flute)
    assert found is not None
    return found


def accepted(result: Result) -> tuple[Decimal | None, Decimal | None]:
    assert result.zones is not None
    return result.zones.accept_low, result.zones.accept_high


# The step diameter DC_2 of job 2: 10.973 to 11.000, found 10.974133 with u 0.001513.


def test_a_supplier_who_proves_with_2_u_has_a_wider_guard_band() -> None:
    found = ruled("I2", 'kind = "supplier proves"', "factor = 2")
    step = of(found, "DC_2")
    assert accepted(step) == (D("10.973") + 2 * step.u, D("11.000") - 2 * step.u)
    assert (step.verdict, found.verdict) == (Verdict.NEITHER_SHOWN, Verdict.NEITHER_SHOWN)


def test_where_the_customer_proves_more_is_accepted_but_nothing_more_is_shown() -> None:
    found, usual = ruled("I2", 'kind = "customer proves"'), folded("I2", lambda e: dict(e.body))
    step = of(found, "DC_2")
    g = D("1.645") * step.u
    assert accepted(step) == (D("10.973") - g, D("11.000") + g)
    assert [r.verdict for r in found.results] == [r.verdict for r in usual.results]
    assert [r.stock for r in found.results] == [r.stock for r in usual.results]
    assert step.stock is not None
    assert step.stock.state == "past saving by grinding"


def test_under_simple_acceptance_the_same_step_conforms() -> None:
    found = ruled("I2", 'kind = "simple acceptance"', "largest_ratio = 0.3")
    step = of(found, "DC_2")
    assert accepted(step) == (D("10.973"), D("11.000"))
    assert (step.verdict, found.verdict) == (Verdict.CONFORMS, Verdict.CONFORMS)
    assert step.ratio == step.U / D("0.027")


@pytest.mark.parametrize(
    ("bound", "refused"),
    [
        # U over the width: lip_symmetry 0.2576, lip_height 0.2132, DC_1 0.1865 and less.
        ("largest_ratio = 0.25", {"lip_symmetry"}),
        ("largest_ratio = 0.2", {"lip_symmetry", "lip_height"}),
        ("least_tur = 2", {"lip_symmetry"}),
        ("least_tur = 2.5", {"lip_symmetry", "lip_height"}),
    ],
)
def test_simple_acceptance_has_no_verdict_where_u_is_too_large(
    bound: str, refused: set[str]
) -> None:
    found = ruled("I2", 'kind = "simple acceptance"', bound)
    said = {
        r.characteristic.id: r.judgement.reason
        for r in found.results
        if r.verdict is Verdict.REFUSED
    }
    assert set(said) == refused
    assert "here U is 0.1288 of 0.5" in said["lip_symmetry"]
    assert found.verdict is Verdict.REFUSED


def test_a_share_of_u_by_contract_moves_the_limits_by_it() -> None:
    found = ruled("I2", 'kind = "share of U"', "share = 0.5")
    step = of(found, "DC_2")
    assert accepted(step) == (D("10.973") + step.u, D("11.000") - step.u)
    assert step.verdict is Verdict.NEITHER_SHOWN
    smaller = of(ruled("I2", 'kind = "share of U"', "share = 0.25"), "DC_2")
    assert smaller.verdict is Verdict.CONFORMS


def test_a_length_that_has_only_a_minimum_is_simply_accepted_up_to_its_own_u() -> None:
    lines = ('kind = "simple acceptance"', "largest_ratio = 0.4")
    length = of(ruled("I1", *lines, "largest_expanded_mm = 0.05"), "length")
    assert length.verdict is Verdict.CONFORMS
    length = of(ruled("I1", *lines, "largest_expanded_mm = 0.04"), "length")
    assert length.verdict is Verdict.REFUSED
    assert "up to U = 0.04, here U is 0.040414" in length.judgement.reason
