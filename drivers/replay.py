"""A recording: bytes of a readout with their instants, and what the person did. JSON Lines.

``{"at": RFC 3339, "hex": "582b..."}`` are bytes as they came, ``{"at": ..., "act": "take"}`` is
an act. Bad lines are handed back beside the good ones, with their numbers; none is skipped
unseen.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from inspect_rec.errors import InputError, Mistake

LARGEST = 64 * 1024 * 1024
LONGEST_LINE = 256 * 1024
"""Characters of a line: a chunk of 64 KiB as hex, and an act with its words, fit in."""
_INSTANT = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ][0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?"
    r"([Zz]|[+-][0-9]{2}:[0-9]{2})"
)


@dataclass(frozen=True, slots=True)
class Played:
    """One line of a recording: bytes, or an act with what belongs to it."""

    at: datetime
    data: bytes
    act: str
    more: Mapping[str, Any]


def read(text: str, name: str) -> tuple[list[Played], list[Mistake]]:
    """All lines of a recording in order, and the bad ones.

    Raises InputError for a recording that is too large to be one.
    """
    if len(text) > LARGEST:
        raise InputError("the recording is too large", found=f"{len(text)} characters", where=name)
    good: list[Played] = []
    bad: list[Mistake] = []
    # Not splitlines: a text within the quotes may hold other signs that end a line.
    for number, line in enumerate(text.split("\n"), 1):
        if not line.strip():
            continue
        try:
            good.append(_line(line))
        except (ValueError, TypeError, KeyError, ArithmeticError, RecursionError) as error:
            expected = '{"at": RFC 3339, "hex": ...} or {"at": ..., "act": ...}'
            bad.append(Mistake(f"{name}:{number}", expected, f"{line[:40]!r} ({error})"))
    return good, bad


def _line(line: str) -> Played:
    if len(line) > LONGEST_LINE:
        raise ValueError("the line is too long")
    each = json.loads(line, object_pairs_hook=once, parse_constant=no_constant, parse_float=Decimal)
    if not isinstance(each, dict):
        raise TypeError("no object")
    at = instant(each.pop("at"))
    data = bytes.fromhex(each.pop("hex", ""))
    act = each.pop("act", "")
    if bool(data) == bool(act) or not isinstance(act, str):
        raise ValueError("either bytes or an act")
    return Played(at, data, act, each)


def instant(text: str) -> datetime:
    """An RFC 3339 instant, in UTC; raises ValueError, TypeError or OverflowError."""
    if not _INSTANT.fullmatch(text):
        raise ValueError("the instant is not RFC 3339 with its time zone")
    return datetime.fromisoformat(text).astimezone(UTC)


def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object whose keys stand once; raises ValueError where one stands twice."""
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice")
    return found


def no_constant(text: str) -> float:
    """NaN and infinities, which JSON has none of: raises ValueError."""
    raise ValueError(f"{text} is no number")
