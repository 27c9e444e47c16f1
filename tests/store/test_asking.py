"""What a store is asked: entries of a job, what is open, where chains end, the next number; and
two processes that ask and write at once."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec import ledger
from inspect_rec.errors import LedgerError, StoreError
from inspect_rec.ledger import Head
from inspect_rec.store import Store

ROOT = Path(__file__).parents[2]
PACED = """
import datetime, pathlib, random, sys, time
from inspect_rec.store import Store

draw = random.Random(int(sys.argv[3]))
with Store.open(pathlib.Path(sys.argv[1])) as store:
    print("here", flush=True)
    for n in range(int(sys.argv[2])):
        entry = store.append(datetime.datetime.now(datetime.UTC), "G-01", "alarm", {"n": n})
        print(entry.seq, entry.digest)
        time.sleep(draw.random() * 0.004)  # SQLite lets one that never pauses go on alone
"""
AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.create(tmp_path / "ledger.sqlite", "A", "A-0231") as opened:
        yield opened


BODIES: list[tuple[str, dict[str, Any]]] = [
    ("job opened", {"job": "I1"}),
    ("job opened", {"job": "I10"}),
    ("reading", {"inspection": "I1/QF-0417"}),
    ("reading", {"inspection": "I10/QF-0417"}),
    ("reading", {"inspection": "I1/QF-0418"}),
    ("drawing revision changed", {"job": "I1", "inspection": "I1/QF-0418"}),
    ("alarm", {"code": "line lost"}),
    ("report made", {"inspection": "I1/QF-0417", "number": "A-0231"}),
]


@pytest.mark.parametrize(
    ("asked", "wanted"),
    [
        ({}, [1, 2, 3, 4, 5, 6, 7, 8]),
        ({"inspection": "I1/QF-0417"}, [1, 3, 8]),
        ({"inspection": "I1/QF-0418"}, [1, 5, 6]),  # the revision of another tool isn't its own
        ({"job": "I1"}, [1, 3, 5, 6, 8]),
        ({"job": "I10"}, [2, 4]),
        ({"job": "I"}, []),
        ({"after": 6}, [7, 8]),
        ({"job": "I1", "after": 3, "kinds": ["reading"]}, [5]),
        ({"kinds": ["alarm", "report made"]}, [7, 8]),
        ({"kinds": []}, []),
    ],
    ids=str,
)
def test_entries_are_those_that_were_asked_for(
    store: Store, asked: dict[str, Any], wanted: list[int]
) -> None:
    store.append_all([(AT, "G-01", kind, body) for kind, body in BODIES])
    assert [entry.seq for entry in store.entries(**asked)] == wanted


def test_an_inspection_is_open_from_its_first_entry_to_its_decision_and_again_when_touched(
    store: Store,
) -> None:
    def then(kind: str, inspection: str) -> list[str]:
        store.append(AT, "G-01", kind, {"inspection": inspection})
        return store.open_inspections()

    assert then("received", "I1/A") == ["I1/A"]
    assert then("received", "I1/B") == ["I1/A", "I1/B"]
    assert then("reading", "I1/A") == ["I1/B", "I1/A"]
    assert then("decided", "I1/A") == ["I1/B"]
    assert then("measure again", "I1/A") == ["I1/B", "I1/A"]
    store.rebuild()
    assert store.open_inspections() == ["I1/B", "I1/A"]


touches = st.tuples(
    st.integers(0, 1),
    st.lists(
        st.tuples(st.sampled_from(["reading", "decided"]), st.sampled_from(["I/A", "I/B", None])),
        min_size=1,
        max_size=4,
    ),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(touches, max_size=12))
def test_what_is_open_is_the_same_however_it_was_written_and_after_a_rebuild(
    acts: list[tuple[int, list[tuple[str, str | None]]]],
) -> None:
    """Two connections take turns; each group is one transaction. Held against a plain fold."""
    with tempfile.TemporaryDirectory() as folder, ExitStack() as stack:
        path = Path(folder) / "ledger.sqlite"
        one = stack.enter_context(Store.create(path, "A", "A-0231"))
        stores = [one, stack.enter_context(Store.open(path))]
        latest: dict[str, str] = {}
        for which, group in acts:
            stores[which].append_all(
                [(AT, "G-01", kind, {"inspection": name} if name else {}) for kind, name in group]
            )
            for kind, name in group:
                if name:
                    latest.pop(name, None)
                    latest[name] = kind
        still = [name for name, kind in latest.items() if kind != "decided"]
        assert (one.inspections(), one.open_inspections()) == (list(latest), still)
        one.rebuild()
        assert (one.inspections(), one.open_inspections()) == (list(latest), still)


def test_projections_that_were_destroyed_come_back(store: Store) -> None:
    store.append_all([(AT, "G-01", kind, body) for kind, body in BODIES])
    before = (store.inspections(), store.open_inspections(), store.next_number())
    store._db.execute("DROP TABLE last")
    store._db.execute("UPDATE number SET number = 'A-0999'")
    store.rebuild()
    assert (store.inspections(), store.open_inspections(), store.next_number()) == before


def test_each_station_has_its_own_end(store: Store) -> None:
    """A second station's entries come in by joining; here by hand."""
    assert store.heads() == []
    own = store.append(AT, "G-01", "alarm", {})
    entry, text = ledger.write(Head("B", 0, ledger.NOTHING), AT, "G-02", "alarm", {})
    store._db.execute("INSERT INTO entry VALUES ('B', 1, NULL, NULL, 'alarm', ?)", (text,))
    assert store.heads() == [Head("A", 1, own.digest), Head("B", 1, entry.digest)]
    assert store.append(AT, "G-01", "alarm", {}).seq == 2
    store.check()


def test_any_head_that_the_chain_once_had_is_found_in_it(store: Store) -> None:
    heads = [store.head()]
    for n in range(4):
        store.append(AT, "G-01", "alarm", {"n": n})
        heads.append(store.head())
    assert [store.check_against(head) for head in heads] == [[]] * 5
    assert [m.code for m in store.check_against(Head("B", 1, "a" * 64))] == ["chain shortened"]


@pytest.mark.parametrize(
    "number",
    ["A-231", "A-00231", "a-0231", "A-0231 ", "A-02x1", "A_0231", "\u0661-0231", "A-\u0660231",
     "AB-0231", "", 231, None],
)  # fmt: skip
@pytest.mark.parametrize("kind", ["report made", "number given"])
def test_what_is_no_number_takes_none(store: Store, kind: str, number: object) -> None:
    with pytest.raises(StoreError, match=r"no report number.*A-0231"):
        store.append(AT, "G-01", kind, {"number": number})
    assert list(store.entries()) == []
    assert store.next_number() == "A-0231"


def test_a_number_given_twice_is_refused_with_the_entry_that_has_it(store: Store) -> None:
    store.append(AT, "G-01", "number given", {"number": "A-0231"})
    with pytest.raises(StoreError, match=r"A-0231, which entry A 1 has taken") as caught:
        store.append(AT, "G-01", "report made", {"number": "A-0231"})
    assert "A-0232" in caught.value.expected


def test_other_entries_may_name_a_number_without_taking_it(store: Store) -> None:
    store.append(AT, "G-01", "signed", {"number": "A-0231"})
    store.append(AT, "G-01", "decided", {"number": "A-0231"})
    assert store.next_number() == "A-0231"


def test_a_gap_is_filled_first_and_the_series_grows_a_digit(tmp_path: Path) -> None:
    with Store.create(tmp_path / "ledger.sqlite", "A", "A-9998") as store:
        store.append(AT, "G-01", "number given", {"number": "A-9999"})
        store.append(AT, "G-01", "number given", {"number": "B-9998"})  # another's series
        assert store.next_number() == "A-9998"
        store.append(AT, "G-01", "report made", {"number": "A-9998"})
        assert store.next_number() == "A-10000"
        store.append(AT, "G-01", "report made", {"number": "A-10000"})
        assert store.next_number() == "A-10001"


@pytest.mark.parametrize("key", ["inspection", "job"])
def test_what_an_entry_is_found_by_is_text(store: Store, key: str) -> None:
    with pytest.raises(LedgerError, match=f"{key} is no text"):
        store.append(AT, "G-01", "received", {key: 5})
    assert list(store.entries()) == []


def test_two_processes_append_at_once_and_the_chain_holds(store: Store) -> None:
    each = 100
    store._db.execute("BEGIN IMMEDIATE")  # until both stand at the line
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", PACED, str(store.path), str(each), str(seed)],
            cwd=ROOT, stdout=subprocess.PIPE, text=True,
        )
        for seed in range(2)
    ]  # fmt: skip
    for writer in writers:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "here\n"
    store._db.execute("COMMIT")
    said = [writer.communicate(timeout=60)[0].splitlines() for writer in writers]
    assert [writer.returncode for writer in writers] == [0, 0]
    shown = {
        int(seq): (digest, n)
        for n, lines in enumerate(said)
        for seq, digest in map(str.split, lines)
    }
    entries = list(store.entries())
    assert len(entries) == 2 * each
    assert [shown[entry.seq][0] for entry in entries] == [entry.digest for entry in entries]
    by = [shown[entry.seq][1] for entry in entries]
    assert sum(one != next_one for one, next_one in pairwise(by)) > each / 5
    store.check()


def test_a_reader_in_the_middle_of_its_reading_keeps_nobody_from_writing(store: Store) -> None:
    store.append_all([(AT, "G-01", "alarm", {"n": n}) for n in range(50)])
    with Store.open(store.path) as reader:
        reader._db.execute("BEGIN")
        assert reader.head().seq == 50
        store.append(AT, "G-01", "alarm", {"n": 50})
        assert reader.head().seq == 50  # it goes on seeing what it began with
        reader._db.execute("COMMIT")
        assert reader.head().seq == 51
