"""A picture kept with a tool: which edge it shows, on its report or beside it, once, taken back."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from inspect_rec.capture import pictures
from inspect_rec.capture.from_file import Source, known
from inspect_rec.capture.pictures import MOST, Shown, keep
from inspect_rec.errors import InputError
from inspect_rec.inspection import fold
from inspect_rec.ledger import Kinds
from inspect_rec.store import Store
from tests import worked
from tests.test_from_file import store

__all__ = ["store"]

I2 = worked.inspection_id("I2")
AT = datetime(2026, 11, 20, tzinfo=UTC)
FILE = Source("tip.png", "2" * 64, 900, "picture")
SHOWN = Shown("PNG", 640, 480, 2, "after the last cut")


def another(n: int) -> Source:
    return replace(FILE, digest=f"{n:064d}")


def test_its_entry_says_what_it_is_and_shows(store: Store) -> None:
    entry = keep(store, I2, "G-01", FILE, SHOWN, AT)
    assert entry.kind == Kinds.PICTURE_KEPT
    assert entry.body["picture"] == {
        "kind": "PNG",
        "width": 640,
        "height": 480,
        "flute": 2,
        "words": "after the last cut",
    }
    assert "mapping" not in entry.body
    (kept,) = fold(store.entries(I2), I2).record.pictures
    assert (kept.flute, kept.words, kept.document.name) == (2, "after the last cut", "tip.png")


def test_it_is_kept_once(store: Store) -> None:
    keep(store, I2, "G-01", FILE, SHOWN, AT)
    with pytest.raises(InputError, match="kept already"):
        keep(store, I2, "G-01", FILE, SHOWN, AT)
    assert FILE.digest in known(store.entries()).files


def test_one_that_was_struck_out_may_be_kept_again_with_other_words(store: Store) -> None:
    first = keep(store, I2, "G-01", FILE, replace(SHOWN, flute=1), AT)
    body = {"inspection": I2, "entry": {"station": first.station, "seq": first.seq}}
    store.append(AT, "G-01", "struck out", {**body, "reason": "it shows lip 2"})
    keep(store, I2, "G-01", FILE, SHOWN, AT)
    found = fold(store.entries(I2), I2).record.pictures
    assert [(p.flute, p.struck) for p in found] == [(1, "it shows lip 2"), (2, "")]


def test_one_on_the_report_belongs_to_what_is_signed_and_one_beside_it_does_not(
    store: Store,
) -> None:
    before = fold(store.entries(I2), I2).digest
    entry = keep(store, I2, "G-01", FILE, replace(SHOWN, on_report=False), AT)
    assert entry.kind == Kinds.FILE_READ
    found = fold(store.entries(I2), I2)
    assert (found.digest, found.record.pictures) == (before, [])
    keep(store, I2, "G-01", another(7), SHOWN, AT)
    assert fold(store.entries(I2), I2).digest != before


def test_an_edge_that_the_tool_hasnt_is_refused(store: Store) -> None:
    with pytest.raises(InputError, match="no such") as refused:
        keep(store, I2, "G-01", FILE, replace(SHOWN, flute=3), AT)
    assert refused.value.expected == "1 to 2"


def test_a_report_has_room_for_eight_and_others_are_kept_beside_it(store: Store) -> None:
    for n in range(MOST):
        keep(store, I2, "G-01", another(n), SHOWN, AT)
    with pytest.raises(InputError, match="no room for another"):
        keep(store, I2, "G-01", FILE, SHOWN, AT)
    keep(store, I2, "G-01", FILE, replace(SHOWN, on_report=False), AT)
    pictures.fitting(store, I2, another(99), 0, on_report=False)


def test_all_of_a_report_together_stay_small_enough_to_be_sent(store: Store) -> None:
    large = replace(FILE, size=9 * 2**20)
    keep(store, I2, "G-01", replace(large, digest="a" * 64), SHOWN, AT)
    keep(store, I2, "G-01", replace(large, digest="b" * 64), SHOWN, AT)
    with pytest.raises(InputError, match="no room for another") as refused:
        keep(store, I2, "G-01", replace(large, digest="c" * 64), SHOWN, AT)
    assert refused.value.found == "3, 27.0 MiB"


def test_words_that_no_font_has_are_refused(store: Store) -> None:
    with pytest.raises(InputError, match="font"):
        keep(store, I2, "G-01", FILE, replace(SHOWN, words="\U00013000"), AT)
