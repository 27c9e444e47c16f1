"""Repeats that differ at the machine: one more is asked for, at once and after a kill."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from inspect_rec.inspection import fold
from inspect_rec.store import Store
from tests import worked
from tests.test_capture import AT, capture, ready, seen


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.create(tmp_path / "ledger.sqlite", "A", "A-0231") as opened:
        opened.append(AT, "G-01", "job opened", worked.opened("I2"))
        yield opened


def test_repeats_that_differ_are_sighted_once_more_at_once_and_all_are_kept(store: Store) -> None:
    """The third width of the pin is 11 um larger; three good ones differ by 10.1 um at most."""
    found = ready(store)
    figures = ("20.003", "10.000", "20.004", "10.001", "20.015", "10.001", "20.004", "10.001")
    words = []
    for n, x in enumerate(figures):
        said = found.hear(seen(x, "113.000", 6.0 + n, key=True))
        assert said is not None
        words.append(said.words)
        step = found.step
        assert step is not None
        assert step.place is not None
        repeat, mark = divmod(n + 1, 2)
        if n < 7:
            wanted = ("master pin", repeat + 1, ("greater", "smaller")[mark])
            assert (step.place.feature, step.place.repeat, step.place.mark) == wanted
    assert set(words[:5]) == {"Taken"}
    apart = "by 0.011 mm, usual up to 0.010 mm"
    assert words[5] == f"Taken. Repeats differ {apart}: sight once more, or strike out a slip"
    assert words[6] == "Taken"
    assert words[7].startswith("Taken. Repeats still differ by 0.011 mm")
    last = found.step
    assert last is not None
    assert last.place is not None
    assert last.place.feature != "master pin"
    bodies = [e.body for e in store.entries() if e.kind == "reading" and not e.body["by_eye"]]
    assert [b.get("once_more", False) for b in bodies] == [False] * 5 + [True] * 3
    again = fold(store.entries(found.id), found.id)
    assert sum(p.feature == "master pin" for p in again.standing) == 8


def test_a_program_that_was_killed_asks_once_more_all_the_same(store: Store) -> None:
    """What is asked for stands in the entry of the reading itself, not in one after it."""
    found = ready(store)
    for n, x in enumerate(("20.003", "10.000", "20.004", "10.001", "20.015", "10.001")):
        found.hear(seen(x, "113.000", 6.0 + n, key=True))
    step = capture(store).step
    assert step is not None
    assert step.place is not None
    assert step.place.repeat == 4
