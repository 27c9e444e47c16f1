"""Rows of a file into the open places of a tool: the right place, all on disk or none, once."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from drivers import mapping
from drivers.rows import File, Row
from drivers.table import Table
from inspect_rec.capture import from_file
from inspect_rec.capture.from_file import FromFile, Intake, Source
from inspect_rec.errors import InputError, LedgerError, StoreError
from inspect_rec.inspection import Place, fold
from inspect_rec.store import Store
from tests import filed, worked

AT = datetime(2026, 11, 18, 9, 0, tzinfo=UTC)
NOW = datetime(2026, 11, 20, 12, 0, tzinfo=UTC)
"""After all readings of the job."""
I2 = worked.inspection_id("I2")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.create(tmp_path / "ledger.sqlite", "A", "A-0231") as opened:
        opened.append(AT, "G-01", "job opened", worked.opened("I2"))
        yield opened


def take(store: Store, text: str, stated: str = filed.MAPPING, inspection: str = I2) -> Intake:
    digest = hashlib.sha256(text.encode()).hexdigest()
    about = File("log.csv", "RO-1", digest, AT)
    table = Table(io.BytesIO(text.encode()), mapping.parse(stated, "m.toml"), about)
    source = Source("log.csv", digest, len(text), "table", "m.toml", "1" * 64)
    return FromFile(store, inspection, "G-01", source).take(table, table.mistakes, NOW)


def readings(store: Store) -> list[dict[str, Any]]:
    return [dict(e.body) for e in store.entries(kinds=["reading"])]


LINES = list(filed.rows("I2"))
TEMPERATURES, SIGHTINGS = LINES[:3], LINES[3:]


def text(*lines: str) -> str:
    return "\n".join([filed.HEAD, *lines, ""])


def warm(store: Store) -> None:
    """Temperatures taken, pin clamped."""
    assert len(take(store, text(*TEMPERATURES)).taken) == 3
    assert filed.clamp(store)


def test_a_whole_job_comes_from_one_table_that_is_imported_after_each_clamping(
    store: Store,
) -> None:
    whole = filed.table("I2")
    for _ in range(60):
        found = take(store, whole)
        if not filed.clamp(store):
            break
    assert [m.expected for m in found.refused][:1] == ["no row from here on: everything is taken"]
    planned = [
        worked.body("I2", r) for r in worked.jobs()["I2"]["readings"] if r["what"] != "event"
    ]
    first = [b for b in planned if "round" not in b["place"]]
    taken = readings(store)
    assert [Place.of(b["place"]) for b in taken] == [Place.of(b["place"]) for b in first]
    assert [b["taken"] for b in taken] == [b["taken"] for b in first]
    assert [b["taken_at"] for b in taken] == [b["taken_at"] for b in first]
    assert {b["source"] for b in taken} == {b["source"] for b in first}
    assert not any(b["by_eye"] for b in taken)
    store.check()


def test_the_entry_names_file_mapping_and_rows(store: Store) -> None:
    found = take(store, text(*TEMPERATURES, "x"))
    assert found.entry is not None
    body = found.entry.body
    assert body["file"]["name"] == "log.csv"
    assert body["mapping"] == {"name": "m.toml", "digest": "1" * 64}
    assert [row["row"] for row in body["rows"]] == [2, 3, 4]
    assert (body["refused_in_all"], body["refused"][0]["where"]) == (1, "log.csv:5")
    rows = [b["row"] for b in readings(store)]
    assert [r["digest"] for r in rows] == [r["digest"] for r in body["rows"]]
    assert {r["file"] for r in rows} == {body["file"]["digest"]}
    assert list(from_file.said(found.entry)) == [
        f"log.csv:5: expected 12 cells, found {found.refused[0].found}"
    ]


def test_a_row_that_names_another_place_is_refused(store: Store) -> None:
    warm(store)
    wanted = fold(store.entries(I2), I2).next
    assert wanted is not None
    assert wanted.place is not None
    first = SIGHTINGS[0].split(";")
    for column, other in ((1, "tip"), (2, "2"), (3, "sideways"), (4, "7")):
        cells = [*first]
        cells[column] = other
        found = take(store, text(";".join(cells)))
        assert found.taken == []
        assert other in found.refused[0].found
        assert found.refused[0].where == "log.csv:2"
    assert len(readings(store)) == 3
    assert [p for _, p, _ in take(store, text(SIGHTINGS[0])).taken] == [wanted.place]


def test_rows_below_a_wrong_one_are_never_taken_for_its_place(store: Store) -> None:
    warm(store)
    bad = SIGHTINGS[0].replace(".", ":", 3)
    found = take(store, text(bad, *SIGHTINGS[1:4]))
    assert found.taken == []
    assert [m.where.rpartition(":")[2] for m in found.refused][-3:] == ["3", "4", "5"]
    unnamed = [";".join([c[0], "", "", "", "", *c[5:]]) for c in (s.split(";") for s in SIGHTINGS)]
    found = take(store, text(bad, unnamed[1]))
    assert found.taken == []
    assert "below a row that wasn't taken" in found.refused[-1].expected
    found = take(store, text(bad, SIGHTINGS[0]))
    assert [row.number for row, *_ in found.taken] == [3], "it names the place that is asked for"


def test_rows_that_name_nothing_are_taken_in_their_order(store: Store) -> None:
    warm(store)
    unnamed = [";".join([c[0], "", "", "", "", *c[5:]]) for c in (s.split(";") for s in SIGHTINGS)]
    found = take(store, text(*unnamed[:4]))
    assert found.refused == []
    expected = [Place.of(worked.place("I2", r)) for r in worked.jobs()["I2"]["readings"]
                if r["what"] == "sighting"][:4]  # fmt: skip
    assert [place for _, place, _ in found.taken] == expected


def test_what_was_taken_is_never_taken_again(store: Store) -> None:
    first = take(store, text(*TEMPERATURES[:2]))
    assert len(first.taken) == 2
    with pytest.raises(InputError, match="taken before"):
        take(store, text(*TEMPERATURES[:2]))
    grown = take(store, text(*TEMPERATURES))
    assert ([r.number for r in grown.known], [r.number for r, *_ in grown.taken]) == ([2, 3], [4])
    assert filed.clamp(store)
    twice = take(store, text(SIGHTINGS[0], SIGHTINGS[0]))
    assert ([r.number for r in twice.known], [r.number for r, *_ in twice.taken]) == ([3], [2])
    known = from_file.known(store.entries())
    assert len(known.files) == 3
    assert len(known.rows) == 4
    assert {r["row"]["digest"] for r in readings(store)} == known.rows


UNTIMED = (
    filed.MAPPING.replace('at = "time"\n', "").replace("RFC 3339", "file written")
    .replace('feature = "feature"\nflute = "edge"\nmark = "mark"\nrepeat = "repeat"\n', "")
)  # fmt: skip


def test_rows_without_instants_are_taken_all_or_none_and_their_file_once(store: Store) -> None:
    with pytest.raises(InputError, match="all or none") as caught:
        take(store, text(*TEMPERATURES, SIGHTINGS[0]), UNTIMED)
    assert caught.value.mistakes[0].expected.startswith("first: clamp")
    with pytest.raises(InputError, match="all or none"):
        take(store, text(*TEMPERATURES, "x"), UNTIMED)
    assert readings(store) == []
    assert len(take(store, text(*TEMPERATURES), UNTIMED).taken) == 3
    assert {b["taken_at"] for b in readings(store)} == {"2026-11-18T09:00:00Z"}
    with pytest.raises(InputError, match="taken before"):
        take(store, text(*TEMPERATURES), UNTIMED)


@pytest.mark.parametrize(
    ("cells", "expected"),
    [
        ("temperature;;;;;;0.001;;;;", "temperature for"),
        ("temperature;;;;;;;;;61;", "-10 to 60 degC"),
        ("temperature;;;;31;142;;;;;", "temperature for"),
    ],
)
def test_a_row_without_the_figure_that_the_place_takes_is_refused(
    store: Store, cells: str, expected: str
) -> None:
    found = take(store, text(f"2026-11-18T09:00:00Z;{cells}"))
    assert found.taken == []
    assert expected in found.refused[0].expected


def test_slides_are_needed_where_slides_are_asked_for(store: Store) -> None:
    warm(store)
    found = take(store, text("2026-11-18T09:00:00Z;;;;;;;;;;20.5;"))
    assert "X and Z for" in found.refused[0].expected


def test_a_length_in_inches_is_held_against_the_limits_in_mm(tmp_path: Path) -> None:
    stated = filed.MAPPING.replace('lengths = "mm"', 'lengths = "in"')
    with Store.create(tmp_path / "l.sqlite", "A", "A-0231") as store:
        store.append(AT, "G-01", "job opened", worked.opened("I1"))
        inspection = worked.inspection_id("I1")
        far = "2026-11-18T09:00:00Z;;;;;;;;;39.5;;"
        assert "0 to 1000 mm" in take(store, text(far), stated, inspection).refused[0].expected
        good = far.replace("39.5", "3.8346")
        assert take(store, text(good), stated, inspection).refused == []
        (kept,) = fold(store.entries(inspection), inspection).standing.values()
    assert str(kept.figures["length"]) == "97.39884"


def test_beyond_the_last_place_one_row_says_it_and_no_more_is_read(store: Store) -> None:
    whole = filed.table("I2")
    take(store, whole)
    while filed.clamp(store):
        take(store, whole)
    late = [f"2026-11-30T09:00:{n:02}Z;;;;;1;2;;;;;" for n in range(30)]
    found = take(store, text(*late))
    assert [m.where for m in found.refused] == ["log.csv:2"]
    assert found.entry is None


def test_nothing_is_stored_where_the_chain_went_on_meanwhile(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = FromFile._take

    def slow(self: FromFile, row: Row, at: datetime) -> tuple[Row, Place, str]:
        if row.number == 3:
            store.append(AT + timedelta(seconds=1), "G-02", "alarm", {"inspection": I2})
        return made(self, row, at)

    monkeypatch.setattr(FromFile, "_take", slow)
    with pytest.raises(StoreError, match="went on"):
        take(store, text(*TEMPERATURES))
    assert readings(store) == []
    monkeypatch.undo()
    assert len(take(store, text(*TEMPERATURES)).taken) == 3


def test_a_job_that_is_not_open_is_said(store: Store) -> None:
    with pytest.raises(LedgerError, match="no entry opened"):
        take(store, text(*TEMPERATURES), inspection="I9/X")


def test_what_looks_wrong_at_its_place_is_said(store: Store) -> None:
    warm(store)
    found = take(store, text(SIGHTINGS[0], SIGHTINGS[1]))
    assert [said for *_, said in found.taken] == ["", ""]
    swapped = SIGHTINGS[3].split(";")
    swapped[5] = SIGHTINGS[2].split(";")[5]
    before = SIGHTINGS[2].split(";")
    before[5] = SIGHTINGS[3].split(";")[5]
    found = take(store, text(";".join(before), ";".join(swapped)))
    assert "side where" in found.taken[-1][2]


def test_a_row_of_the_future_is_refused_and_the_zone_asked_for(store: Store) -> None:
    """Such as instants of a summer's clock, read as UTC."""
    later = TEMPERATURES[0].replace("18T09:01:18Z", "20T12:05:01Z")
    found = take(store, text(later))
    assert found.taken == []
    (why,) = found.refused
    assert why.expected == "an instant before now, 2026-11-20T12:00:00Z"
    assert why.found.startswith("2026-11-20T12:05:01Z")
    soon = TEMPERATURES[0].replace("18T09:01:18Z", "20T12:05:00Z")
    assert len(take(store, text(soon)).taken) == 1
