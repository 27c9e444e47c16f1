"""The report says what was corrected to 20 degC, with what, and by how much."""

from __future__ import annotations

import re
from functools import cache
from typing import Any

from inspect_rec.ledger import Entry
from inspect_rec.methods.thermal import CORRECTION
from inspect_rec.report import make
from tests import signing, worked
from tests.inspection.test_fold import again
from tests.inspection.test_warmth import corrected, entries, warmer


def conditions(made: make.Made) -> str:
    return " ".join(next(t for t in made.said.texts if t.heading == "Conditions").paragraphs)


@cache
def warm() -> make.Made:
    found = tuple(entries(warmer, text=corrected("tool_expansion_u = 0.3")))
    return make.make(found, signing.header("I2", found))


def test_coefficients_are_named_with_how_well_they_are_known() -> None:
    said = conditions(warm())
    assert "corrected to 20 °C (ISO 1)" in said
    assert "the tool 5 (u 0.3); the scale 8 (from a table, ± 10 % assumed)" in said
    assert "PIN-10 11.5 (from a table, ± 10 % assumed)" in said
    # The indicator's gauge blocks and the angle master enter no length.
    assert "GS-1" not in said


def test_each_correction_is_printed_and_what_has_none_is_named() -> None:
    found = warm()
    said = conditions(found)
    amounts = re.search(r"the largest of each: ([^.]*(?:\.\d[^.]*)*)\.", said)
    assert amounts is not None
    for r in found.inspection.results:
        if CORRECTION in r.outcome.detail:
            amount = round(float(r.outcome.detail[CORRECTION]), 2)  # type: ignore[arg-type]
            text = f"{amount:+.2f}".replace("-", "−") if amount else "0"
            assert f"{r.characteristic.name} {text} µm" in amounts[1]
    without = said.partition("Not corrected: ")[2]
    assert "lip" in without
    assert "point angle" not in without


def test_a_job_that_is_not_corrected_says_what_it_said_before() -> None:
    found = worked.entries("I2", signing.UPTO["I2"])
    said = conditions(make.make(found, signing.header("I2", found)))
    assert "Not corrected to 20 °C: below 0.1 µm" in said
    assert "corrected to 20 °C (ISO 1)" not in said
    assert "bias" not in said


def test_a_bias_between_the_checks_is_said_with_the_values_it_is_in() -> None:
    def asked(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        if entry.kind == "job opened":
            job = dict(body["plan"]["job"]) | {"drift": "interpolated"}
            body["plan"] = dict(body["plan"]) | {"job": job}
        return body

    found = tuple(again(worked.entries("I2", signing.UPTO["I2"]), asked))
    said = conditions(make.make(found, signing.header("I2", found)))
    assert "bias is taken between its two checks" in said
    before = tuple(again(worked.entries("I2", 45), asked))
    early = conditions(make.make(before, signing.header("I2", before)))
    assert "that of the check before alone" in early
    assert "between its two checks" not in early
