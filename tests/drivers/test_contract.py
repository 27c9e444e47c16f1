"""Every layout and every module of the drivers is found, and held to the same contract."""

from __future__ import annotations

import importlib
import pkgutil
import shutil
import subprocess
import sys
from datetime import timedelta
from importlib import resources
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drivers
from drivers.decoder import Alarm, Decoder
from drivers.layout import Layout
from tests.drivers.cases import (
    AT,
    LAYOUTS,
    READOUTS,
    Chunks,
    Item,
    after,
    cases,
    chunks,
    every_case,
    heard,
    said,
)

every_layout = pytest.mark.parametrize("layout", LAYOUTS.values(), ids=lambda layout: layout.id)


def named(kind: str) -> pytest.MarkDecorator:
    rows = every_case(kind)
    ids = [f"{layout}: {case['name']}" for layout, case in rows]
    return pytest.mark.parametrize(("layout", "case"), rows, ids=ids)


def test_every_module_can_be_imported_and_says_what_it_is() -> None:
    names = [m.name for m in pkgutil.walk_packages(drivers.__path__, "drivers.")]
    assert len(names) >= 7
    for name in names:
        assert importlib.import_module(name).__doc__, name


def test_every_layout_file_has_an_id_of_its_own_and_bears_its_name() -> None:
    files = {f.name for f in (resources.files("drivers") / "layouts").iterdir()}
    assert files == {f"{name.replace(' ', '-')}.toml" for name in LAYOUTS}
    assert len(LAYOUTS) >= 13


@every_layout
def test_a_layout_has_good_and_broken_examples_with_names_of_their_own(layout: Layout) -> None:
    names = [case["name"] for kind in ("golden", "broken") for case in cases(layout.id, kind)]
    assert len(set(names)) == len(names)
    assert len(cases(layout.id, "golden")) >= 3
    assert len(cases(layout.id, "broken")) >= 10


@named("golden")
def test_a_good_line_gives_its_figures_to_the_last_digit(layout: str, case: dict[str, Any]) -> None:
    found = said(heard(LAYOUTS[layout], chunks(case), timed="chunks" in case))
    assert found == case["said"]
    assert not any(isinstance(each, str) for each in found)


@named("broken")
def test_a_broken_line_is_an_alarm_and_the_rest_goes_on(layout: str, case: dict[str, Any]) -> None:
    found = said(heard(LAYOUTS[layout], chunks(case), timed="chunks" in case))
    assert found == case["said"]
    assert any(isinstance(each, str) for each in found)


@every_layout
def test_an_alarm_says_in_words_what_was_seen_and_what_to_do(layout: Layout) -> None:
    told = {
        item.said
        for case in cases(layout.id, "broken")
        for item in heard(layout, chunks(case), timed="chunks" in case)
        if isinstance(item, Alarm)
    }
    to_do = ("heck the", "set it back", "Set it back", "ight the pin", "isn't used")
    assert [each for each in told if not any(words in each for words in to_do)] == []


@every_layout
def test_no_byte_of_a_broken_line_is_lost(layout: Layout) -> None:
    for case in cases(layout.id, "broken"):
        found = heard(layout, chunks(case), timed="chunks" in case)
        raws = list(dict.fromkeys((item.at, item.raw) for item in found))
        kept = b"".join(raw for _, raw in raws)
        sent = b"".join(data for _, data in chunks(case))
        end = layout.frame.terminator if not layout.frame.trailer else b""
        bare = sent.replace(end, b"") if end else sent
        assert set(kept) | set(end) >= set(bare), case["name"]
        if len(found) == 1:
            assert kept == sent.removesuffix(end), case["name"]


def cut(stream: Chunks, cuts: list[int]) -> Chunks:
    """The same bytes at the same instants in other chunks."""
    found: Chunks = []
    for ms, data in stream:
        ends = sorted({0, len(data), *(c % (len(data) + 1) for c in cuts)})
        found += [(ms, data[a:b]) for a, b in pairwise(ends)]
    return found


@every_layout
@given(data=st.data())
@settings(max_examples=80, deadline=None)
def test_any_chunking_gives_the_same(layout: Layout, data: st.DataObject) -> None:
    lines = [each for k in ("golden", "broken") for c in cases(layout.id, k) for each in chunks(c)]
    texts = st.sampled_from([text for _, text in lines])
    drawn = data.draw(st.lists(texts | st.binary(min_size=1, max_size=150), max_size=8))
    gaps = data.draw(st.lists(st.sampled_from([0, 5, 49, 50, 120, 400]), min_size=8, max_size=8))
    stream = [(sum(gaps[: n + 1]), text) for n, text in enumerate(drawn)]
    timed = data.draw(st.booleans())
    whole = heard(layout, stream, timed=timed)
    cuts = data.draw(st.lists(st.integers(0, 200), max_size=12))
    assert heard(layout, cut(stream, cuts), timed=timed) == whole
    assert heard(layout, cut(stream, list(range(200))), timed=timed) == whole


def in_one_go(layout: Layout, stream: bytes) -> list[Item]:
    return heard(layout, [(0, stream)], timed=False)


@every_layout
@given(st.binary(max_size=3000))
@settings(max_examples=60, deadline=None)
def test_garbage_is_no_figure_and_raises_nothing(layout: Layout, data: bytes) -> None:
    for item in in_one_go(layout, data):
        # Eight bytes of anything may be a block of registers; of a line that isn't so.
        assert isinstance(item, Alarm) or layout.modbus is not None


@every_layout
def test_what_is_kept_of_bytes_without_end_stays_small(layout: Layout) -> None:
    decoder = Decoder(layout, "RO-1")
    sent = b"".join(decoder_raw(decoder, b"#" * 1000, n) for n in range(100))
    waiting = decoder.lost(after(2000)).raw
    assert len(waiting) <= 2 * max(layout.frame.longest, layout.frame.length) + 8
    if layout.modbus is None:
        assert len(sent) + len(waiting) >= 100_000


def decoder_raw(decoder: Decoder, data: bytes, n: int) -> bytes:
    return b"".join(item.raw for item in decoder.feed(data, after(n)))


@every_layout
def test_a_readout_that_is_silent_is_told_once_and_one_with_a_key_never(layout: Layout) -> None:
    decoder = Decoder(layout, "RO-1")
    late = [AT + timedelta(seconds=n) for n in range(10)]
    told = [item for at in late for item in (*decoder.idle(at), decoder.silent(at)) if item]
    assert len(told) == (0 if layout.on_key else 1)


def test_the_script_writes_the_same_files_again(tmp_path: Path) -> None:
    for name in ("make_readouts.py", "readout_good.py", "readout_bad.py"):
        shutil.copy(READOUTS.parent / name, tmp_path)
    subprocess.run([sys.executable, str(tmp_path / "make_readouts.py")], check=True)
    made = sorted(p.name for p in (tmp_path / "readouts").iterdir())
    assert made == sorted(p.name for p in READOUTS.iterdir())
    for name in made:
        assert (tmp_path / "readouts" / name).read_bytes() == (READOUTS / name).read_bytes(), name
