"""Where signs stand, before the digits or behind them, and what may be a mark beside them. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from drivers.learning.between import FEW, Blank, Word
from drivers.learning.figures import Number

_NEARLY = 0.9

Part = bytes | Number | Word | Blank
"""What a frame of text is made of."""


def well_signed(between: Sequence[Sequence[bytes]], figures: Sequence[int]) -> list[int]:
    """Rows in which a sign, or a blank for one, stands behind each figure, where nearly all have
    it: the others are damaged."""
    signs = (b"+", b"-", b" ")
    rows = [n for n, gaps in enumerate(between) if all(gaps[k + 1][:1] in signs for k in figures)]
    enough = len(between) > FEW and len(rows) >= _NEARLY * len(between)
    return rows if enough else list(range(len(between)))


def signs_after(
    between: Sequence[Sequence[bytes]], figures: Sequence[int], *, filled: bool
) -> bool:
    """Whether signs stand behind the digits: there is always one, and none before. ``filled``:
    whether noughts fill the digits up."""
    first, last = figures[0], figures[-1] + 1
    if any(
        gaps[k][k != first :].rstrip(b" ")[-1:] in (b"+", b"-") for gaps in between for k in figures
    ):
        return False
    behind = {gaps[k + 1][:1] for gaps in between for k in figures}
    if behind == {b" "}:
        # A blank stands behind each, also behind the last: it may be a plus.
        if filled:
            return not any(gaps[first][-1:] == b" " for gaps in between)
        clear = all(len(gaps[k]) > 1 for gaps in between for k in figures[1:])
        return clear and _blank_ends(between, figures)
    # Between two figures a sign alone may as well belong to the second.
    shown = any(
        gaps[k + 1][:1] in (b"+", b"-") and (k + 1 == last or len(gaps[k + 1]) > 1)
        for gaps in between
        for k in figures
    )
    return behind <= {b"+", b"-", b" "} and shown


def unclear(between: Sequence[Sequence[bytes]], figures: Sequence[int]) -> bool:
    """A sign alone between two figures, with none before the first: always the same, it may be a
    mark between them; with a blank behind the last figure it may be the first one's."""
    bare = not any(gaps[figures[0]].rstrip(b" ")[-1:] in (b"+", b"-") for gaps in between)
    alone = [{gaps[k] for gaps in between} for k in figures[1:]]
    if bare and _blank_ends(between, figures):
        return any(kinds <= {b" ", b"+", b"-"} for kinds in alone)
    return bare and any(kinds in ({b"-"}, {b"+"}) for kinds in alone)


def _blank_ends(between: Sequence[Sequence[bytes]], figures: Sequence[int]) -> bool:
    """Whether a blank behind the last figure ends each frame."""
    return all(list(gaps[figures[-1] + 1 :]) == [b" "] for gaps in between)


def beside(parts: Sequence[Part]) -> bool:
    """Whether a sign that isn't known as one stands right beside a figure."""
    for at, part in enumerate(parts):
        if not isinstance(part, Number) or part.kind != "figure":
            continue
        before, after = parts[at - 1] if at else b"", parts[at + 1] if parts[at + 1 :] else b""
        for text in _texts(before):
            if text.rstrip(b" ")[-1:] in (b"+", b"-"):
                return True
        for text in _texts(after):
            if text[:1] in (b"+", b"-"):
                return True
    return False


def _texts(part: Part) -> list[bytes]:
    if isinstance(part, bytes):
        return [part]
    return list(part.kinds) if isinstance(part, Word) and part.role != "sign" else []
