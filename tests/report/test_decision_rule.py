"""The decision rule of a job in the words of its report, with its risk."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest

from inspect_rec.ledger import Entry
from inspect_rec.report import make
from inspect_rec.report.content import Content
from report_templates import bars, graphs
from tests import signing, worked
from tests.inspection.test_fold import again

SIMPLE = (
    ("kind", "simple acceptance"),
    ("largest_ratio", "0.4"),
    ("largest_expanded_mm", "0.05"),
)
TUR = (("kind", "simple acceptance"), ("least_tur", "1.25"), ("largest_expanded_mm", "0.05"))
CUSTOMER = (("kind", "customer proves"),)
SUPPLIER = (("kind", "supplier proves"), ("factor", "2"))
SHARE = (("kind", "share of U"), ("share", "0.5"))


@cache
def made(number: str, rule: tuple[tuple[str, str], ...]) -> make.Made:
    """The report of a worked job under another rule."""

    def chosen(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        if entry.kind == "job opened":
            plan = dict(body["plan"])
            body["plan"] = plan | {"job": dict(plan["job"]) | {"rule": dict(rule)}}
        return body

    entries = tuple(again(worked.entries(number, signing.UPTO[number]), chosen))
    return make.make(entries, signing.header(number, entries))


def rule_of(content: Content) -> str:
    text = next(t for t in content.texts if t.heading == "Decision rule")
    return " ".join(text.paragraphs)


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        (SUPPLIER, ("at least g = 2 u", "at most 2.3 %", "may not be released", "ISO 14253-1")),
        (
            CUSTOMER,
            (
                "The customer proves",
                "g = 1.645 u",
                "in truth inside is then at most 5 %",
                "the customer carries the doubt",
                "up to 95 %",
            ),
        ),
        (
            SIMPLE,
            (
                "Simple acceptance, as agreed",
                "g = 0",
                "U is at most 40 % of the limits' width",
                "stands alone U is at most 0.05 mm",
                "up to 50 %",
                "U over the limits' width: ball radius 17.8 %, variation of R 35.6 %",
            ),
        ),
        (TUR, ("at least 1.25 times 2 U (test uncertainty ratio)", "up to 50 %")),
        (SHARE, ("By contract", "g = 0.5 U", "at most 16 %")),
    ],
)
def test_the_report_says_the_rule_its_factor_and_its_risk(
    rule: tuple[tuple[str, str], ...], words: tuple[str, ...]
) -> None:
    said = rule_of(made("I1", rule).said)
    for part in words:
        assert part in said
    assert "{" not in said


def test_what_conforms_says_by_which_rule() -> None:
    lines = {rule: made("I1", rule).said.verdict.lines[0] for rule in (SIMPLE, SHARE, SUPPLIER)}
    assert "lie within the limits of drawing" in lines[SIMPLE]
    assert "simple acceptance, as agreed, with up to 50 % risk" in lines[SIMPLE]
    assert "shown" not in lines[SIMPLE]
    assert "at most 16 % risk of a wrong pass: limits are narrowed by 0.5 U" in lines[SHARE]
    assert "at most 2.3 % risk of a wrong pass: limits are narrowed by 2 u" in lines[SUPPLIER]


def test_what_is_neither_shown_is_not_rejected_where_the_customer_proves() -> None:
    verdict = made("I2", CUSTOMER).said.verdict
    assert (verdict.finding, verdict.permits) == ("Neither shown.", "Not to be rejected.")
    assert "not shown to be outside, so not rejected" in verdict.lines[0]
    assert "your concession" not in verdict.lines[0]
    assert not made("I2", CUSTOMER).said.releasable


def test_the_zone_that_is_printed_is_the_one_of_the_rule() -> None:
    zones = {rule: made("I2", rule).said.groups[1].lines[1] for rule in (CUSTOMER, SIMPLE)}
    assert zones[CUSTOMER] == "accepted 10.9696 – 11.0034, g 3.4 µm"
    assert zones[SIMPLE] == "accepted 10.9730 – 11.0000, g 0.0 µm"


def test_under_simple_acceptance_what_lies_outside_is_beyond_and_nothing_is_shown() -> None:
    verdict = made("I2", SIMPLE).said.verdict
    assert verdict.lines[0].startswith("Step diameter (DC_2) is 10.9709 mm: beyond 10.973 mm.")
    assert verdict.finding == "Does not conform."


def test_what_is_too_uncertain_for_simple_acceptance_says_what_was_agreed() -> None:
    strict = (("kind", "simple acceptance"), ("largest_ratio", "0.3"))
    content = made("I1", (*strict, ("largest_expanded_mm", "0.05"))).said
    assert content.verdict.finding == "No verdict."
    variation = next(g for g in content.groups if g.name == "Variation of R")
    assert variation.rows[0].note.startswith("simple acceptance is agreed up to U = 30 %")
    assert "accepted ≤ 10.0 µm" in " ".join(variation.lines)


class Drawn:
    """A pen that keeps what it is told."""

    def __init__(self) -> None:
        self.hatched = 0
        self.written: list[str] = []

    def __getattr__(self, name: str) -> Any:
        return lambda *_args, **_more: None

    def hatch(self, _x: float, _y: float, wide: float, high: float) -> None:
        self.hatched += wide > 0 and high > 0

    def text(self, _x: float, _y: float, said: str, *_args: Any, **_more: Any) -> float:
        self.written.append(said)
        return 0.0


def test_without_a_guard_band_no_band_is_drawn_and_no_zone_is_called_neither() -> None:
    found = {}
    for rule in (SIMPLE, SHARE):
        content, pen = made("I1", rule).said, Drawn()
        assert content.graph is not None
        assert content.verdict.deciding is not None
        assert content.verdict.deciding.bar is not None
        zones = content.words["page.zones"]
        bars.deciding(pen, content.verdict.deciding.bar, 0, 0, zones, "")  # type: ignore[arg-type]
        graphs.flutes(pen, content.graph, 0, 0)  # type: ignore[arg-type]
        found[rule] = (pen.hatched, "neither" in pen.written, "conforms" in pen.written)
    assert found == {SIMPLE: (0, False, True), SHARE: (4, True, True)}
