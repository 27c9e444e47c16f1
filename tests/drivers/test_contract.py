"""Every layout and every module of the drivers is found, and held to the same contract."""

from __future__ import annotations

import importlib
import json
import pkgutil
from datetime import UTC, datetime
from importlib import resources
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drivers
from drivers.decoder import Alarm, Decoder
from drivers.layout import Layout, packaged
from inspect_rec.reading import Sighting

READOUTS = Path(__file__).parents[2] / "fixtures" / "readouts"
LAYOUTS = sorted(packaged().values(), key=lambda layout: layout.id)
AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)
every_layout = pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.id)


def examples(layout: Layout, kind: str) -> list[dict[str, Any]]:
    path = READOUTS / f"{layout.id.replace(' ', '-')}.{kind}.jsonl"
    return [json.loads(line) for line in path.read_text("utf-8").splitlines()]


def decoded(layout: Layout, chunks: list[bytes]) -> list[Sighting | Alarm]:
    decoder = Decoder(layout, "RO-1")
    return [item for chunk in chunks for item in decoder.feed(chunk, AT)]


def test_every_module_can_be_imported_and_says_what_it_is() -> None:
    names = [m.name for m in pkgutil.walk_packages(drivers.__path__, "drivers.")]
    assert len(names) >= 7
    for name in names:
        assert importlib.import_module(name).__doc__, name


def test_every_layout_file_has_an_id_of_its_own() -> None:
    files = list((resources.files("drivers") / "layouts").iterdir())
    assert len(files) == len(LAYOUTS) > 0


@every_layout
def test_a_layout_has_good_and_broken_examples_with_names_of_their_own(layout: Layout) -> None:
    names = [case["name"] for kind in ("golden", "broken") for case in examples(layout, kind)]
    assert len(set(names)) == len(names)
    assert len(examples(layout, "golden")) >= 3
    assert len(examples(layout, "broken")) >= 10


@every_layout
def test_good_examples_are_figures_and_broken_ones_are_alarms(layout: Layout) -> None:
    for case in examples(layout, "golden"):
        (found,) = decoded(layout, [bytes.fromhex(case["hex"])])
        assert isinstance(found, Sighting), case["name"]
        assert [str(r.value) for r in found.readings] == [case["x"], case["z"]], case["name"]
    for case in examples(layout, "broken"):
        (alarm,) = decoded(layout, [bytes.fromhex(case["hex"])])
        assert isinstance(alarm, Alarm), case["name"]
        assert alarm.code.value == case["code"], case["name"]


@every_layout
@given(data=st.data())
@settings(max_examples=150, deadline=None)
def test_any_chunking_gives_the_same(layout: Layout, data: st.DataObject) -> None:
    lines = [bytes.fromhex(c["hex"]) for k in ("golden", "broken") for c in examples(layout, k)]
    pieces = data.draw(st.lists(st.sampled_from(lines) | st.binary(max_size=150), max_size=8))
    stream = b"".join(pieces)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=12)))
    chunks = [stream[a:b] for a, b in pairwise([0, *cuts, len(stream)])]
    assert decoded(layout, chunks) == decoded(layout, [stream])
    bytewise = [stream[n : n + 1] for n in range(len(stream))]
    assert decoded(layout, bytewise) == decoded(layout, [stream])
