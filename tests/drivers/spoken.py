"""What a decoder says to lines that are written as text, in short."""

from __future__ import annotations

from collections.abc import Iterable
from functools import reduce
from typing import Any

from drivers.decoder import Alarm
from inspect_rec.reading import Sighting
from tests.drivers.cases import LAYOUTS, heard, said

SPREAD = "X31.447Z142.318"


def timed(layout: str, *sent: tuple[float, str]) -> list[Any]:
    """What is said: figures by axis, or the code of an alarm."""
    found = heard(LAYOUTS[layout], [(ms, t.encode("latin-1")) for ms, t in sent], timed=True)
    return short(found)


def bare(layout: str, text: str) -> list[Any]:
    """The same of bytes without instants."""
    return short(heard(LAYOUTS[layout], [(0, text.encode("latin-1"))], timed=False))


def short(items: Iterable[Sighting | Alarm]) -> list[Any]:
    return [each if isinstance(each, str) else each["axes"] for each in said(items)]


def every(ms: float, *texts: str) -> list[tuple[float, str]]:
    return [(n * ms, text) for n, text in enumerate(texts)]


def stx(body: str) -> str:
    return f"\x02{body}\x03{chr(reduce(lambda a, b: a ^ b, body.encode(), 3))}"


PAIR = {"X": "31.447", "Z": "142.318"}
