"""When a readout sends, all the time or on its key, and what it says instead of a figure. Pure."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from drivers.learning.evidence import Setting

_KEY_S = 1.5
"""Seconds: a readout that sends all the time sends at least every second or so."""
_REGULAR = 0.7
_STEADY = 0.1
"""Of the usual pause: what sends by itself keeps to it, and a hand doesn't."""
_QUICK_S = 0.4
"""Seconds: a hand doesn't press a key so often."""
_MANY = 40
"""Frames of which none is on the way: a key isn't pressed so often."""
_AWAY = 0.02
"""Of the way: what is further from both its ends is on the way."""
_FAULT = re.compile(rb"[A-Za-z][A-Za-z-]*[A-Za-z]|[-?*_=]{2,}(?:\.[-?*_=]+)?")
_PRINTABLE = re.compile(rb"[\x20-\x7e]+")
_LETTERS = re.compile(rb"[A-Za-z]+")
_MOST_WORDS = 8


def sends(instants: Sequence[float], rows: Sequence[tuple[int, ...]], *, timed: bool) -> Setting:
    """Continuously, or on key: by the instants; without them by figures on the way.

    ``instants``: of the frames alike; ``rows``: their figures.
    """
    gaps = [b - a for a, b in pairwise(sorted(set(instants))) if b - a > 0.004]
    on_way = _on_way(rows)
    if timed and gaps:
        usual = sorted(gaps)[len(gaps) // 2]
        regular = sum(0.5 * usual <= gap <= 2 * usual for gap in gaps) / len(gaps)
        steady = sum(abs(gap - usual) <= _STEADY * usual for gap in gaps) / len(gaps)
        by_itself = on_way or steady >= _REGULAR or usual <= _QUICK_S or len(rows) > _MANY
        shown = f"a frame every {usual:.2g} s"
        if usual <= _KEY_S and regular >= _REGULAR and len(gaps) > 4 and by_itself:
            words = f"{shown}, {regular:.0%} of them regular"
            return Setting("sends", "continuously", (words,), proved=True)
        return Setting("sends", "on key", (f"{shown}, as a hand presses a key",))
    untimed = "the recording bears no instants"
    if on_way or len(rows) > _MANY:
        words = f"{len(rows)} frames, {on_way} of them on the way"
        return Setting("sends", "continuously", (words,), (untimed,))
    return Setting("sends", "on key", (f"{len(rows)} frames, none on the way",), (untimed,))


def _on_way(rows: Sequence[tuple[int, ...]]) -> int:
    """Frames between both ends of the longest way."""
    columns = list(zip(*rows, strict=True))
    if not columns:
        return 0
    values = max(columns, key=lambda column: abs(column[-1] - column[0]))
    first, last = values[0], values[-1]
    margin = max(2.0, _AWAY * abs(last - first))
    low, high = min(first, last) + margin, max(first, last) - margin
    between = sum(low < value < high for value in values)
    # One alone may be damaged.
    return between if between > 1 else 0


def faults(good: Sequence[bytes], others: Sequence[bytes]) -> dict[bytes, int]:
    """Words that stand in a frame's place or in a figure's, and how often they came; none of them
    stands in a good frame."""
    usual = list(dict.fromkeys(good))
    known = {word for body in usual for word in _LETTERS.findall(body)}
    literal = b"".join(known)
    found: Counter[bytes] = Counter()
    for body in others:
        if _PRINTABLE.fullmatch(body) is None:
            continue
        for word in _FAULT.findall(body):
            bare = b"".join(_LETTERS.findall(word))
            if len(word) > 1 and (not bare or (len(bare) > 1 and not _part(bare, known, literal))):
                found[word] += 1
    return {
        word: n
        for word, n in found.most_common(_MOST_WORDS)
        if not any(word in body for body in usual)
    }


def _part(word: bytes, known: set[bytes], literal: bytes) -> bool:
    """Whether a word is a piece of one that good frames say, or has one with a piece missing."""
    return word in literal or any(
        len(other) > 1 and (word in other or other in word) for other in known
    )
