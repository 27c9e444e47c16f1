"""A report says of the scatter of sightings whether it is assumed or the shop's own."""

from __future__ import annotations

from typing import Any

import pytest

from inspect_rec.ledger import Entry
from inspect_rec.report import make
from tests import signing, worked
from tests.inspection.test_fold import again
from tests.inspection.test_once_more import chained, with_slip
from tests.inspection.test_studied import ENOUGH, PAIRS, shop, table


def rule_of(groups: list[list[float]]) -> str:
    """What page 1 of a worked job says under its rule, from a shop with a study of its own."""
    study = shop(table(groups)) if groups else worked.shop()

    def chosen(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        if entry.kind == "job opened":
            body["shop"] = study.model_dump(mode="json", by_alias=True)
        return body

    entries = tuple(again(worked.entries("I1", signing.UPTO["I1"]), chosen))
    texts = make.make(entries, signing.header("I1", entries)).said.texts
    return " ".join(next(t for t in texts if t.heading == "Decision rule").paragraphs)


OWN = "Crosshair: own study of 2026-11-20: s = "
BELOW = "Below 20 effective degrees of freedom"


@pytest.mark.parametrize(
    ("groups", "assumed", "said", "few"),
    [
        ([], True, "", False),
        (PAIRS, True, "1.07 µm, 4 groups, 4 degrees of freedom; 16 more needed before", False),
        (ENOUGH, False, "1.07 µm, 20 groups, 20 degrees of freedom.", False),
        ([[10.0, 10.010], [10.0, 10.009]], False, "6.73 µm, 2 groups, 2 degrees of", True),
    ],
    ids=["no study", "too few", "enough", "too few, but more than was assumed"],
)
def test_the_rule_says_where_the_scatter_of_a_sighting_comes_from(
    groups: list[list[float]], assumed: bool, said: str, few: bool
) -> None:
    words = rule_of(groups)
    names = words.partition("Assumed, not from a study of this shop: ")[2].partition(".")[0]
    assert ("crosshair" in names) is assumed
    assert (OWN + said in words) is bool(groups)
    assert (OWN in words) is bool(groups)
    assert (BELOW in words) is few


def test_repeats_that_differed_are_told_with_their_scatter_and_that_all_count() -> None:
    """A slip on DC_1 that nobody struck out, and the one more that was asked for."""
    upto = signing.UPTO["I2"] + 2  # the two sightings more
    entries = chained(with_slip()[:upto])
    texts = make.make(entries, signing.header("I2", entries)).said.texts
    said = {t.heading: " ".join(t.paragraphs) for t in texts}
    assert (
        "Repeats differed and one more was sighted; all of them count: DC_1."
        in (said["Struck out and ground away"])
    )
    assert (
        "Repeats of DC_1, greater, differ by 0.011 mm, usual up to 0.008 mm: their own"
        in (said["Decision rule"])
    )
