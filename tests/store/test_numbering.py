"""What is given once is given once, whoever asks: the store refuses the second inside its write."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from inspect_rec.errors import RefusedError
from inspect_rec.store import Store

AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)
ONCE: dict[str, tuple[str, dict[str, Any], dict[str, Any]]] = {
    "sheet": ("batch sheet signed", {"job": "I1", "revision": 0}, {"job": "I10"}),
    "report": (
        "report made",
        {"inspection": "I1/QF-0417", "revision": 0, "number": "A-0231"},
        {"inspection": "I1/QF-0418", "number": "A-0233"},
    ),
    "decision": (
        "decided",
        {"inspection": "I1/QF-0417", "number": "A-0231", "decision": "released"},
        {"number": "A-0232"},
    ),
}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.create(tmp_path / "ledger.sqlite", "A", "A-0231") as made:
        yield made


@pytest.mark.parametrize("what", ONCE)
def test_it_is_given_once_and_another_goes_on(store: Store, what: str) -> None:
    kind, body, other = ONCE[what]
    again = body | ({"number": "A-0232"} if what == "report" else {})
    store.append(AT, "Q-01", kind, body)
    head = store.head()
    with pytest.raises(RefusedError, match="another program was faster"):
        store.append(AT, "Q-01", kind, again)
    assert store.head() == head
    store.append(AT, "Q-01", kind, again | other)
    if "revision" in body:
        store.append(AT, "Q-01", kind, again | {"revision": 1})
    store.check()


def test_not_twice_in_one_transaction_either(store: Store) -> None:
    kind, body, _ = ONCE["sheet"]
    with pytest.raises(RefusedError):
        store.append_all([(AT, "Q-01", kind, body), (AT, "Q-02", kind, body)])
    assert list(store.entries()) == []


def test_a_ledger_that_has_one_twice_from_before_is_read_and_goes_on(store: Store) -> None:
    kind, body, _ = ONCE["sheet"]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("inspect_rec.store.numbering._ONCE", {})
        for _ in range(2):
            store.append(AT, "Q-01", kind, body)
    store.check()
    store.rebuild()
    with pytest.raises(RefusedError):
        store.append(AT, "Q-01", kind, body)
    store.append(AT, "Q-01", kind, body | {"revision": 2})


def test_of_programs_that_write_at_once_each_revision_has_one(store: Store) -> None:
    """Four connections want the same ten revisions while readings come in between."""
    begin, refused = threading.Barrier(5), list[int]()

    def wants() -> None:
        with Store.open(store.path) as own:
            begin.wait()
            for revision in range(10):
                try:
                    own.append(
                        AT, "Q-01", "batch sheet signed", {"job": "I1", "revision": revision}
                    )
                except RefusedError:
                    refused.append(revision)

    def measures() -> None:
        with Store.open(store.path) as own:
            begin.wait()
            for n in range(40):
                own.append(AT, "G-01", "reading", {"inspection": "I1/QF-0418", "n": n})

    threads = [threading.Thread(target=wants) for _ in range(4)]
    threads.append(threading.Thread(target=measures))
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    given = [e.body["revision"] for e in store.entries(kinds=("batch sheet signed",))]
    assert sorted(given) == list(range(10))
    assert sorted(refused) == sorted(3 * list(range(10)))
    assert len(list(store.entries(kinds=("reading",)))) == 40
    store.check()
