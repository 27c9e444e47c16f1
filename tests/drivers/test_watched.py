"""A watched folder: complete is what stands still, and a name says what it held."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.watched import Seen, Watched, name_after

ONE, MORE = Seen(10, 1), Seen(20, 2)


def test_a_file_is_complete_when_it_has_stood_still_long_enough() -> None:
    folder = Watched(2)
    assert folder.look({"a.csv": ONE}, 0) == []
    assert folder.look({"a.csv": ONE}, 1.9) == []
    assert folder.look({"a.csv": MORE}, 2) == []
    assert folder.look({"a.csv": MORE}, 3.9) == []
    assert folder.look({"a.csv": MORE, "b.csv": ONE}, 4) == ["a.csv"]
    assert folder.waiting


@pytest.mark.parametrize("changed", [Seen(10, 2), Seen(11, 1)])
def test_a_change_of_its_size_or_its_time_alone_makes_it_wait_again(changed: Seen) -> None:
    folder = Watched(2)
    folder.look({"a.csv": ONE}, 0)
    assert folder.look({"a.csv": changed}, 5) == []
    assert folder.look({"a.csv": changed}, 7) == ["a.csv"]


def test_a_file_that_went_away_and_came_back_waits_again() -> None:
    folder = Watched(2)
    folder.look({"a.csv": ONE}, 0)
    folder.look({}, 1)
    assert not folder.waiting
    assert folder.look({"a.csv": ONE}, 3) == []


@pytest.mark.parametrize(
    "name", [".a.csv", "~$a.xlsx", "a.csv.part", "a.TMP", "..", "a.crdownload"]
)
def test_what_programs_call_unfinished_is_left_alone(name: str) -> None:
    folder = Watched(1)
    folder.look({name: ONE}, 0)
    assert folder.look({name: ONE}, 9) == []
    assert not folder.waiting


def test_an_empty_file_is_not_complete() -> None:
    folder = Watched(1)
    folder.look({"a.csv": Seen(0, 1)}, 0)
    assert folder.look({"a.csv": Seen(0, 1)}, 9) == []


@pytest.mark.parametrize("still_s", [0, -1, 3601, float("nan")])
def test_how_long_it_stands_still_is_a_time(still_s: float) -> None:
    with pytest.raises(ValueError, match="stand still"):
        Watched(still_s)


def test_the_name_after_holds_the_digest() -> None:
    digest = "0123456789abcdef" * 4
    assert name_after("log.csv", digest) == f"log-{digest}.csv"
    assert name_after("log", digest) == f"log-{digest}"
    assert name_after("a.b.csv", digest) == f"a.b-{digest}.csv"


@given(st.text(st.characters(exclude_characters="/\0"), min_size=1, max_size=200))
def test_the_name_after_is_no_path_and_no_hidden_file_of_another_name(name: str) -> None:
    after = name_after(name, "0" * 64)
    assert "/" not in after
    assert len(after) <= 100 + 1 + 64 + 11
    assert after[0] == name[0]
