"""Four readouts at 50 lines a second for an hour, replayed: nothing lost, and memory flat.

Bytes go the way they go at the machine: journal, decoder, two slides joined, what stands still. The
slides come from two readouts of one axis each; an indicator and a thermometer stand beside them.
"""

from __future__ import annotations

import gc
import gzip
import sys
import time
from collections import Counter
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from drivers import layout
from drivers.decoder import Decoder
from drivers.layout import Layout
from drivers.settled import State
from inspect_rec.capture.live import Live
from inspect_rec.reading import Sighting
from inspect_rec.store.journal import Journal
from tests.benchmarks.timing import memory_mib

pytestmark = [
    pytest.mark.benchmark,
    pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc"),
]

AT = datetime(2026, 11, 20, 8, 0, tzinfo=UTC)
SECONDS, A_SECOND = 3600, 50
FLAT = 1.05


def one_axis(name: str, channel: str) -> Layout:
    """A readout of one axis."""
    text = f"""
id = "{name}"
[frame]
terminator = "\\r\\n"
pattern = '(?P<axis>A) (?P<figure>[+-]\\d{{4}}\\.\\d{{3}})'
[axes]
words = {{ "A" = "{channel}" }}
[figures]
unit = "mm"
"""
    return layout.parse(text, name)


LAYOUTS = {
    "RO-X": one_axis("x", "X"),
    "RO-Z": one_axis("z", "Z"),
    "IN-1": one_axis("indicator", "indicator"),
    "TH-1": one_axis("thermometer", "temperature"),
}


def figure(n: int) -> bytes:
    """A slide that moves for a minute and stands for a minute."""
    second, part = divmod(n, A_SECOND)
    minute, in_it = divmod(second, 60)
    steps = minute // 2 * 3000 + (min(3000, in_it * A_SECOND + part) if minute % 2 == 0 else 3000)
    return b"A %+09.3f\r\n" % (steps / 1000)


def test_an_hour_of_four_readouts_loses_nothing_and_holds_no_more_memory(tmp_path: Path) -> None:
    decoders = {name: Decoder(each, name) for name, each in LAYOUTS.items()}
    live = Live("RO-X", LAYOUTS["RO-X"], {n: v for n, v in LAYOUTS.items() if n != "RO-X"})
    shown: Counter[str] = Counter()
    pairs, still, held = 0, 0, []
    begun = time.perf_counter()
    with ExitStack() as stack:
        journals = {n: stack.enter_context(Journal(tmp_path, n)) for n in LAYOUTS}
        for n in range(SECONDS * A_SECOND):
            at = AT + timedelta(seconds=n / A_SECOND)
            line = figure(n)
            for name, decoder in decoders.items():
                assert journals[name].write(line, at) == ""
                for found in decoder.feed(line, at):
                    assert isinstance(found, Sighting), found
                    shown[name] += 1
                    both = live.complete(found, name)
                    if both is not None:
                        pairs += 1
                        live.hear(both)
            still += live.state(at) is State.STILL
            if (n + 1) % (SECONDS * A_SECOND // 6) == 0:
                gc.collect()
                held.append(memory_mib())
    taken = time.perf_counter() - begun
    lines = SECONDS * A_SECOND
    print(f"\n{4 * lines} lines in {taken:.0f} s: {SECONDS / taken:.0f} times as fast as they came")
    print("MiB held after each ten minutes:", "  ".join(f"{mib:.0f}" for mib in held))
    # The first file of the journal is packed within the first twenty minutes.
    growth = held[-1] / held[1]
    print(f"last / second {growth:.3f}; stood still {still / lines:.0%} of the time")
    assert shown == dict.fromkeys(LAYOUTS, lines)
    assert pairs >= lines - 1
    assert still > lines / 3
    assert growth < FLAT
    assert kept(tmp_path, "RO-Z") == lines


def kept(folder: Path, source: str) -> int:
    """Lines in the journal of a readout."""
    count = 0
    for path in folder.glob(f"{source}-*"):
        opened = gzip.open if path.suffix == ".gz" else open
        with opened(path, "rb") as file:
            count += sum(1 for _ in file)
    return count
