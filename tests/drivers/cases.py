"""The recorded lines of the packaged layouts, and what a decoder says to them."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from drivers.decoder import Alarm, Decoder
from drivers.layout import Layout, packaged
from inspect_rec.reading import Sighting

READOUTS = Path(__file__).parents[2] / "fixtures" / "readouts"
LAYOUTS = packaged()
AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)
Item = Sighting | Alarm
Chunks = list[tuple[int, bytes]]


def after(ms: float) -> datetime:
    return AT + timedelta(milliseconds=ms)


@cache
def cases(layout_id: str, kind: str) -> tuple[dict[str, Any], ...]:
    path = READOUTS / f"{layout_id.replace(' ', '-')}.{kind}.jsonl"
    return tuple(json.loads(line) for line in path.read_text("utf-8").splitlines())


def every_case(kind: str) -> list[tuple[str, dict[str, Any]]]:
    return [(name, case) for name in LAYOUTS for case in cases(name, kind)]


def chunks(case: dict[str, Any]) -> Chunks:
    if "hex" in case:
        return [(0, bytes.fromhex(case["hex"]))]
    return [(ms, bytes.fromhex(data)) for ms, data in case["chunks"]]


def heard(layout: Layout, sent: Iterable[tuple[float, bytes]], *, timed: bool) -> list[Item]:
    """All that is said to chunks with their milliseconds, and at their end."""
    decoder = Decoder(layout, "RO-1", timed=timed)
    found, last = [], AT
    for ms, data in sent:
        last = after(ms)
        found += decoder.feed(data, last)
    return [*found, *decoder.close(last)]


def said(items: Iterable[Item]) -> list[Any]:
    """As the recorded cases state it."""
    return [
        item.code.value
        if isinstance(item, Alarm)
        else {
            "axes": {r.channel: format(r.value, "f") for r in item.readings},
            "key": item.key,
            "count": item.count,
            "suspect": item.suspect is not None,
        }
        for item in items
    ]
