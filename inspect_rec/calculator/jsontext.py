"""JSON that people wrote or piped: what could be read in two ways is refused. No I/O."""

from __future__ import annotations

import json
from typing import Any


def read(text: str) -> Any:
    """What a JSON text holds, with or without a byte order mark at its head.

    Raises ValueError for what is no JSON or nested too deep, for NaN and the like, and for a name
    that stands twice in one table: the parser would take the second and say nothing.
    """
    try:
        return json.loads(
            text.removeprefix("\ufeff"), parse_constant=_no_number, object_pairs_hook=_once
        )
    except RecursionError:
        raise ValueError("lists or tables nested too deep") from None


def _no_number(text: str) -> None:
    raise ValueError(f"{text} is no number of JSON")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            raise ValueError(f"{name!r} stands twice in one table")
        found[name] = value
    return found
