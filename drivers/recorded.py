"""A recorded line, to be decoded again: bare bytes, or JSON Lines of instants and bytes. Pure.

``{"at": RFC 3339 or seconds, "hex": "582b..."}`` a line; which of the two it is tells its content.
A recording with a bad line is refused whole, each bad line with its number.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from drivers.decoder import Alarm, Decoder
from drivers.layout import Layout
from drivers.replay import instant, no_constant, once
from inspect_rec.errors import InputError, Mistake
from inspect_rec.reading import Sighting

if TYPE_CHECKING:
    from drivers.runs import Run, Runs

LARGEST = 1 << 30
"""Bytes of a recording."""
_BLOCK = 1 << 20
_LONG = 64 * 1024
"""Bytes from which it is worth while to look at many lines together."""
_SHOWN = 20
"""Bad lines that are named."""
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_LINES = re.compile(
    rb'\A(?:\xef\xbb\xbf)?\s*\{[^\n]*"(?:at|hex|act)"|^[ \t]*\{[^\n]*"hex"\s*:', re.MULTILINE
)
_FINER = re.compile(r"(\.[0-9]{6})[0-9]+")
At = str | int | float | None
"""An instant as the recording gives it; None where it gives none."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Bytes that came at one instant; ``given`` is that as the recording writes it."""

    at: datetime
    given: At
    data: bytes


@dataclass(frozen=True, slots=True)
class Recorded:
    """A recording. ``timed``: whether it says when its bytes came."""

    pieces: tuple[Piece, ...]
    timed: bool


def read(raw: bytes, name: str) -> Recorded:
    """A recording from its bytes; raises InputError with every bad line."""
    if len(raw) > LARGEST:
        raise InputError("the recording is too large", found=f"{len(raw)} bytes", where=name)
    if not raw:
        raise InputError("the recording is empty", expected="bytes of a readout", where=name)
    if _LINES.search(raw) is None:
        blocks = (raw[n : n + _BLOCK] for n in range(0, len(raw), _BLOCK))
        return Recorded(tuple(Piece(_EPOCH, None, block) for block in blocks), timed=False)
    pieces: list[Piece] = []
    bad: list[Mistake] = []
    for number, line in enumerate(raw.removeprefix(b"\xef\xbb\xbf").split(b"\n"), 1):
        if not line.strip():
            continue
        try:
            piece = _piece(json.loads(line, object_pairs_hook=once, parse_constant=no_constant))
            if piece is not None and pieces and _kind(piece) != _kind(pieces[0]):
                raise ValueError("instants and seconds in one recording")
        except (ValueError, TypeError, OverflowError, RecursionError) as error:
            found = f"{line[:40].decode('utf-8', 'replace')!r} ({str(error)[:80]})"
            expected = '{"at": RFC 3339 or seconds, "hex": "..."}'
            bad.append(Mistake(f"{name}:{number}", expected, found))
            continue
        if piece is not None:
            pieces.append(piece)
    if bad:
        what = f"the recording has {len(bad)} bad line{'s' if len(bad) > 1 else ''}"
        raise InputError(what, bad[:_SHOWN], where=name)
    if not pieces:
        raise InputError("the recording holds no bytes", expected='lines with "hex"', where=name)
    return Recorded(tuple(pieces), timed=True)


def _kind(piece: Piece) -> type:
    return str if isinstance(piece.given, str) else float


def _piece(each: Any) -> Piece | None:
    """A line's bytes; None for an act of the person, which is no byte."""
    if not isinstance(each, dict):
        raise TypeError("no object")
    if "hex" not in each and "act" in each:
        return None
    if "at" not in each or not isinstance(each.get("hex"), str):
        raise ValueError('"at" or "hex" is missing')
    given = each["at"]
    if isinstance(given, str):
        at = instant(_FINER.sub(r"\1", given))
    elif isinstance(given, int | float) and not isinstance(given, bool):
        at = _EPOCH + timedelta(seconds=given)
    else:
        raise TypeError('"at" is neither an instant nor seconds')
    return Piece(at, given, bytes.fromhex(each["hex"]))


def decoded(recorded: Recorded, layout: Layout) -> Iterator[tuple[At, Sighting | Alarm | Run]]:
    """What a decoder of the layout says to it, each with its instant as given; of long bytes
    without instants in runs, where the layout can be read so."""
    if not recorded.timed and (runs := _runs(recorded, layout)) is not None:
        for piece in recorded.pieces:
            yield from ((None, item) for item in runs.feed(piece.data))
        yield from ((None, item) for item in runs.close())
        return
    decoder, silent_s = Decoder(layout, "", timed=recorded.timed), layout.silent_s
    given: dict[datetime, At] = {}
    last: datetime | None = None
    for piece in recorded.pieces:
        if not piece.data:
            continue
        given[piece.at] = piece.given
        gap_s = 0.0 if last is None else (piece.at - last).total_seconds()
        if silent_s is not None and gap_s > silent_s:
            for item in (*decoder.idle(piece.at), decoder.silent(piece.at)):
                if item is not None:
                    yield given[item.at], item
        last = piece.at
        for item in decoder.feed(piece.data, piece.at):
            yield given[item.at], item
    if last is not None:
        for item in decoder.close(last):
            yield given[item.at], item


def _runs(recorded: Recorded, layout: Layout) -> Runs | None:
    if sum(len(piece.data) for piece in recorded.pieces) < _LONG:
        return None
    from drivers import columns
    from drivers.runs import Runs

    found = columns.of(layout)
    return None if found is None else Runs(layout, found, _EPOCH)
