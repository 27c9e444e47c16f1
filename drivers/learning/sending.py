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
_FEW = 12
"""Frames of a recording in which a key was pressed."""
_FAULT = re.compile(rb"[A-Za-z][A-Za-z-]*[A-Za-z]|[-?*_=]{2,}(?:\.[-?*_=]+)?")
_PRINTABLE = re.compile(rb"[\x20-\x7e]+")
_LETTERS = re.compile(rb"[A-Za-z]+")
_MOST_WORDS = 8


def sends(instants: Sequence[float], rows: Sequence[tuple[int, ...]], *, timed: bool) -> Setting:
    """Continuously, or on key: by the instants; without them by figures on the way.

    ``instants``: of the frames alike; ``rows``: their figures.
    """
    gaps = [b - a for a, b in pairwise(sorted(set(instants))) if b - a > 0.004]
    if timed and gaps:
        usual = sorted(gaps)[len(gaps) // 2]
        regular = sum(0.5 * usual <= gap <= 2 * usual for gap in gaps) / len(gaps)
        shown = f"a frame every {usual:.2g} s"
        if usual <= _KEY_S and regular >= _REGULAR and len(gaps) > 4:
            words = f"{shown}, {regular:.0%} of them regular"
            return Setting("sends", "continuously", (words,), proved=True)
        return Setting("sends", "on key", (f"{shown}, as a hand presses a key",))
    changes = sum(a != b for a, b in pairwise(rows))
    untimed = "the recording bears no instants"
    if len(rows) > _FEW or changes > 2:
        words = f"{len(rows)} frames, {changes} of them on the way"
        return Setting("sends", "continuously", (words,), (untimed,))
    return Setting("sends", "on key", (f"{len(rows)} frames, none on the way",), (untimed,))


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
