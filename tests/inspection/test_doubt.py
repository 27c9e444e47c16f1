"""A slip at the machine is doubted; a measured value, however bad, is not."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from inspect_rec import ledger
from inspect_rec.inspection import Place
from inspect_rec.inspection.doubt import doubt
from inspect_rec.inspection.kept import record
from inspect_rec.ledger import Entry, Head
from tests import worked


def after(entries: tuple[Entry, ...], kind: str, body: dict[str, Any]) -> tuple[Entry, ...]:
    """The entries, and one more."""
    last = entries[-1]
    head = Head(last.station, last.seq, last.digest)
    at = last.at + timedelta(seconds=20)
    return (*entries, ledger.make(head, at, "G-01", kind, body))


def taken(entries: tuple[Entry, ...], place: Place, x: str, z: str) -> tuple[Entry, ...]:
    """The entries, and a sighting at a place."""
    body = worked.body("I1", worked.jobs()["I1"]["readings"][35])
    figures = [{"channel": c, "value": v, "unit": "mm"} for c, v in (("X", x), ("Z", z))]
    return after(entries, "reading", body | {"place": place.body(), "taken": figures})


def said(entries: tuple[Entry, ...], place: Place) -> str:
    return doubt(record(entries, "I1/QF-0417"), place)


def shown(n: int) -> tuple[str, str]:
    """Figures of a reading of the worked job."""
    reading = next(r for r in worked.jobs()["I1"]["readings"] if r["n"] == n)
    return f"{reading['x_mm']:.3f}", f"{reading['z_mm']:.3f}"


@pytest.mark.parametrize("number", ["I1", "I2", "I3"])
def test_no_reading_of_a_worked_job_is_doubted(number: str) -> None:
    """Flute 3 and tooth 4 that don't conform are measured values, not slips."""
    entries = worked.entries(number)
    for count, entry in enumerate(entries, 1):
        if entry.kind == "reading":
            found = record(entries[:count], worked.inspection_id(number))
            assert doubt(found, Place.of(entry.body["place"])) == "", entry.seq


SIXTH = Place("profile arc", 2, "6")


@pytest.mark.parametrize(
    ("like", "doubted"),
    [
        (44, "Hardly moved since point 5"),
        (42, "It lies back toward point 4"),
        (46, "mm from where point 6 lay on flute 1"),
        (36, ""),
    ],
    ids=["taken twice", "backward", "one point left out", "as flute 1 lies"],
)
def test_a_point_out_of_its_place_is_doubted(like: int, doubted: str) -> None:
    """Flute 2 of the ball nose up to its point 5, then a point from elsewhere as point 6."""
    words = said(taken(worked.entries("I1", 44), SIXTH, *shown(like)), SIXTH)
    assert doubted in words
    assert bool(doubted) == bool(words)


def test_what_was_clamped_anew_may_lie_elsewhere() -> None:
    clamped = {"inspection": "I1/QF-0417", "object": "QF-0417"}
    entries = after(worked.entries("I1", 44), "clamped", clamped)
    assert said(taken(entries, SIXTH, *shown(46)), SIXTH) == ""


def test_a_point_that_was_struck_out_is_no_measure_for_the_next() -> None:
    entries = taken(worked.entries("I1", 35), Place("profile arc", 1, "6"), "50.000", "100.000")
    struck = {"station": entries[-1].station, "seq": entries[-1].seq}
    entries = after(
        entries,
        "struck out",
        {"inspection": "I1/QF-0417", "entry": struck, "reason": "knocked"},
    )
    place = Place("profile arc", 1, "6")
    assert said(taken(entries, place, *shown(36)), place) == ""


@pytest.mark.parametrize(
    ("mark", "x", "doubted"),
    [("smaller", "26.0", False), ("smaller", "36.449", True), ("smaller", "36.5", True)],
    ids=["less", "the same", "more"],
)
def test_smaller_must_be_less_than_greater(mark: str, x: str, doubted: bool) -> None:
    place = Place("master axis", 0, mark, 1, "before")
    words = said(taken(worked.entries("I1", 7), place, x, "130.250"), place)
    assert words == ("Is this the side where X is smaller?" if doubted else "")


def test_another_diameter_than_at_the_last_index_is_doubted() -> None:
    place = Place("master axis", 0, "greater", 2, "before")
    words = said(taken(worked.entries("I1", 8), place, "35.900", "130.250"), place)
    assert words == '0.55 mm from where "greater" lay: is this the right place?'
