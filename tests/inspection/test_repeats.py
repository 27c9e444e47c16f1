"""Repeats that stand in a ledger, on the recordings of the worked jobs."""

from __future__ import annotations

import math
from datetime import timedelta
from decimal import Decimal
from statistics import pvariance
from typing import Any

import pytest

from inspect_rec import jobfile, ledger
from inspect_rec.inspection import Place, repeats, studied
from inspect_rec.inspection.kept import Record, record
from inspect_rec.inspection.sequence import Sequence
from inspect_rec.ledger import Entry, Head
from tests import worked

NUMBERS = ("I1", "I2", "I3")


def after(entries: tuple[Entry, ...], kind: str, body: dict[str, Any]) -> tuple[Entry, ...]:
    """The entries, and one more."""
    last = entries[-1]
    head = Head(last.station, last.seq, last.digest)
    return (*entries, ledger.make(head, last.at + timedelta(seconds=20), "G-01", kind, body))


def records() -> list[Record]:
    return [record(worked.entries(n), worked.inspection_id(n)) for n in NUMBERS]


def sighted(entries: tuple[Entry, ...], x: str, repeat: int) -> tuple[Entry, ...]:
    """The entries of I2, and one more sighting of the greater side of DC_1."""
    figures = [{"channel": c, "value": v, "unit": "mm"} for c, v in (("X", x), ("Z", "113.000"))]
    place = Place("DC_1", 0, "greater", repeat).body()
    body = worked.body("I2", worked.jobs()["I2"]["readings"][20]) | {"by_eye": False}
    return after(entries, "reading", body | {"place": place, "taken": figures, "source": "RO-1"})


def up_to_last_of(feature: str, mark: str, repeat: int) -> tuple[Entry, ...]:
    entries = worked.entries("I2")
    wanted = Place(feature, 0, mark, repeat).body()
    end = next(n for n, e in enumerate(entries, 1) if e.body.get("place") == wanted)
    return entries[:end]


def test_the_worked_jobs_hold_twelve_groups_whose_scatter_is_the_sum_by_hand() -> None:
    """By another route: straight from the readings of the worked jobs' file."""
    found = repeats.found(records(), "crosshair")
    by_place: dict[tuple[Any, ...], list[float]] = {}
    for r in worked.jobs()["I2"]["readings"]:
        if r["step"] in {"DC_1", "DC_2", "step length", "master pin"} and "x_mm" in r:
            place = worked.place("I2", r)
            if r["step"] == "master pin" and not place.get("round"):
                continue  # at three index angles
            key = (place["feature"], place["mark"], place.get("when"), place.get("round"))
            length = r["step"] == "step length"
            by_place.setdefault(key, []).append(r["z_mm"] if length else r["x_mm"])
    rows = [v for v in by_place.values() if len(v) > 1]
    squares = sum(pvariance(v) * len(v) for v in rows)
    dof = sum(len(v) - 1 for v in rows)
    pooled = studied.Studied("", tuple(g.readings for g in found.groups), ()).pooled
    assert (len(rows), dof) == (len(found.groups), pooled.dof) == (12, 58)
    assert pooled.s == pytest.approx(math.sqrt(squares / dof), rel=1e-9)


def test_what_is_turned_between_its_sightings_is_no_repeat_and_is_counted() -> None:
    found = repeats.found(records(), "crosshair")
    assert {g.place.feature for g in found.groups} == {"DC_1", "DC_2", "step length", "master pin"}
    # I1: 6 of the master's axis before, 6 after, 6 of the axis; I2: 6 and 6; I3: 6.
    assert found.left_out == {repeats.INDEXED: 36}


def test_each_slide_is_read_that_the_feature_is_sighted_along() -> None:
    channels = {g.place.feature: g.channel for g in repeats.found(records(), "crosshair").groups}
    assert channels == {"DC_1": "X", "DC_2": "X", "step length": "Z", "master pin": "X"}


def test_what_was_clamped_anew_between_is_another_group() -> None:
    entries = up_to_last_of("DC_1", "greater", 3)
    one = sighted(entries, "19.251", 4)
    clamped = after(entries, "clamped", {"inspection": "I2/BW-22-B", "object": "BW-22-B"})
    two = sighted(sighted(clamped, "19.266", 4), "19.267", 5)

    def greater(entries: tuple[Entry, ...]) -> list[tuple[Decimal, ...]]:
        groups = repeats.found([record(entries, "I2/BW-22-B")], "crosshair").groups
        return [g.readings for g in groups if g.place.mark == "greater"]

    three = tuple(map(Decimal, ("19.249", "19.250", "19.249")))
    assert greater(one) == [(*three, Decimal("19.251"))]
    assert greater(two) == [three, (Decimal("19.266"), Decimal("19.267"))]


def test_a_wild_repeat_stays_in_and_one_that_a_person_struck_out_does_not() -> None:
    entries = sighted(up_to_last_of("DC_1", "greater", 3), "19.349", 4)
    wild = repeats.found([record(entries, "I2/BW-22-B")], "crosshair")
    assert wild.groups[0].readings[-1] == Decimal("19.349")
    body = {"inspection": "I2/BW-22-B", "reason": "knocked"}
    struck = body | {"entry": {"station": entries[-1].station, "seq": entries[-1].seq}}
    found = repeats.found([record(after(entries, "struck out", struck), "I2/BW-22-B")], "crosshair")
    assert len(found.groups[0].readings) == 3
    assert found.left_out[repeats.STRUCK] == 1


def test_points_of_an_edge_are_left_out_and_counted() -> None:
    text = (worked.FOLDER / "i1.toml").read_text(encoding="utf-8")
    job = jobfile.parse_job(text, worked.shop())
    arc = next(f for f in job.feature if f.id == "profile arc")
    (one,) = (r for r in records() if r.inspection.startswith("I1"))
    assert repeats.slide(one, arc) is None


def test_after_a_study_only_later_repeats_are_found() -> None:
    first = repeats.found(records(), "crosshair").groups[0]
    later = repeats.found(records(), "crosshair", after=first.refs[-1])
    assert not any(set(first.refs) & set(g.refs) for g in later.groups)
    end = max(ref for g in repeats.found(records(), "crosshair").groups for ref in g.refs)
    assert repeats.found(records(), "crosshair", after=end).groups == ()


def test_the_table_is_read_as_the_study_that_was_printed() -> None:
    found = repeats.found(records(), "crosshair")
    text = (worked.FOLDER / "shop.toml").read_text(encoding="utf-8")
    shop = jobfile.parse_shop(text + repeats.table(found.groups, "crosshair"))
    (study,) = shop.study
    assert study.groups == tuple(g.readings for g in found.groups)
    last = max(ref for g in found.groups for ref in g.refs)
    assert (study.until, study.by) == (f"A {last[1]}", "G-01")
    assert study.what == "repeats in the ledger: DC_1, DC_2, step length, master pin"
    assert studied.studies(shop)["crosshair"].counts


def test_an_indicator_and_a_caliper_are_read_by_their_own_channels() -> None:
    text = (worked.FOLDER / "i2.toml").read_text(encoding="utf-8")
    text = text.replace('id = "lip height"', 'id = "lip height"\nrepeats = 2', 1)
    job = jobfile.parse_job(text, worked.shop())
    found = [*worked.entries("I2")]
    opened = found[0]
    body = dict(opened.body) | {"plan": job.model_dump(mode="json", by_alias=True)}
    found[0] = ledger.make(Head("A", 0, "0" * 64), opened.at, "G-01", opened.kind, body)
    place = Place("lip height", 1, "r 3", 2).body()
    first = Place("lip height", 1, "r 3")
    read = (n for n, e in enumerate(found) if e.kind == "reading")
    end = next(n for n in read if Place.of(found[n].body["place"]) == first)
    base = found[end].body
    taken = [{"channel": "indicator", "value": "0.004", "unit": "mm"}]
    entries = after(
        tuple(found[: end + 1]), "reading", dict(base) | {"place": place, "taken": taken}
    )
    one = record(entries, "I2/BW-22-B")
    (group,) = repeats.found([one], "repeat", base["source"]).groups
    assert (group.channel, group.readings[-1]) == ("indicator", Decimal("0.004"))
    assert repeats.found([one], "repeat", "IN-9").groups == ()
    assert repeats.found([one], "laying-up").groups == ()


@pytest.mark.parametrize(("by_mark", "groups"), [(True, 2), (False, 0)])
def test_marks_at_index_angles_of_their_own_are_not_turned_between_repeats(
    by_mark: bool, groups: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The pin at two index angles: one for each mark, or one for each repeat."""
    found = [*worked.entries("I2")]
    opened = found[0]
    plan = dict(opened.body["plan"])
    features = [
        f | {"index": ["0", "180"]} if f["id"] == "DC_1" else f for f in map(dict, plan["feature"])
    ]
    body = dict(opened.body) | {"plan": plan | {"feature": features}}
    found[0] = ledger.make(Head("A", 0, "0" * 64), opened.at, "G-01", opened.kind, body)
    marked = {"DC_1"} if by_mark else set[str]()
    monkeypatch.setattr(Sequence, "by_mark", marked)
    pooled = repeats.found([record(tuple(found), "I2/BW-22-B")], "crosshair")
    assert sum(g.place.feature == "DC_1" for g in pooled.groups) == groups
