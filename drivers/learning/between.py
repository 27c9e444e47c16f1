"""What stands between the numbers of a frame, over all frames: what is always there, what changes,
and marks that are rare. Pure.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

TOKEN = re.compile(rb"[A-Za-z\x80-\xff]+|[0-9]+| +|.", re.DOTALL)
MARK = re.compile(rb" *([*#!+@&]|[A-Za-z]{1,5}) *")
"""What a key may add to a frame."""
FEW = 12
"""Frames of which none is left out for being rare."""
_USUAL = 0.04
"""Of the frames say a word that belongs to the layout; what is rarer may be noise or a key."""
_MOST_KINDS = 12


@dataclass
class Word:
    """Something that changes and is no number. ``role``: what it is, once that is known;
    ``meaning``: what each of its texts says; ``before``: what stands before it, and is left out
    with it; ``slot``: of a sign, the figure whose it is."""

    values: list[bytes]
    role: str = ""
    meaning: dict[bytes, str] | None = None
    before: bytes = b""
    slot: int = -1

    @property
    def kinds(self) -> Counter[bytes]:
        """Its texts, and how often each came."""
        return Counter(self.values)


@dataclass(frozen=True, slots=True)
class Blank:
    """Blanks whose number changes."""

    least: int
    most: int


Between = bytes | Word | Blank


@dataclass(frozen=True, slots=True)
class Line:
    """What stands at one place over all frames, cut at what is always there."""

    rows: set[int]
    anchors: list[bytes]
    segments: dict[int, list[bytes]]
    """By row: what stands before each anchor, and behind the last."""
    rare: set[int]
    """Rows with a mark that is rare."""

    def parts(self, order: Sequence[int]) -> list[Between]:
        """Texts, words and blanks, in order."""
        found: list[Between] = []
        for n in range(len(self.anchors) + 1):
            values = [self.segments[row][n] for row in order]
            kinds = set(values)
            if len(kinds) == 1:
                found.append(values[0])
            elif all(not kind.strip(b" ") for kind in kinds):
                sizes = [len(kind) for kind in kinds]
                found.append(Blank(min(sizes), max(sizes)))
            else:
                found.append(Word(values))
            if n < len(self.anchors):
                found.append(self.anchors[n])
        return list(_joined(found))


def _joined(parts: Iterable[Between]) -> Iterable[Between]:
    """Texts that follow each other as one; empty ones left out."""
    held = b""
    for part in parts:
        if isinstance(part, bytes):
            held += part
            continue
        if held:
            yield held
        held = b""
        yield part
    if held:
        yield held


def aligned(cores: list[bytes]) -> Line:
    """What stands at one place over all frames, cut at what most of them have; what is too rare to
    be of the layout is left out, but for one kind of mark."""
    kinds = Counter(cores)
    enough = max(2.0, _USUAL * len(cores)) if len(cores) > FEW else 1.0
    usual = [core for core, n in kinds.most_common(_MOST_KINDS) if n >= enough]
    if not usual:
        return Line(set(), [], {}, set())
    anchors = TOKEN.findall(usual[0])
    for core in usual[1:]:
        anchors = _common(anchors, TOKEN.findall(core))
    cut = {core: _segments(core, anchors) for core in usual}
    plain = _plain(list(cut.values()))
    marks: Counter[bytes] = Counter()
    for core in kinds.keys() - set(usual):
        segments = _segments(core, anchors)
        mark = None if segments is None else _mark(segments, plain)
        if mark is not None and segments is not None:
            marks[mark] += kinds[core]
            cut[core] = segments
    # Two kinds of rare marks: one of them, or both, is noise.
    if len(marks) > 1:
        (best, most), (_, next_) = marks.most_common(2)
        cut = {
            core: seen
            for core, seen in cut.items()
            if core in usual or (most > next_ and _mark(seen or [], plain) == best)
        }
    by_row = {row: seen for row, core in enumerate(cores) if (seen := cut.get(core)) is not None}
    rare = {row for row in by_row if cores[row] not in usual}
    return Line(set(by_row), anchors, by_row, rare)


def _plain(cut: list[list[bytes] | None]) -> list[set[bytes]]:
    """What usually stands in each segment."""
    return [set(each) for each in zip(*[c for c in cut if c is not None], strict=True)]


def _mark(segments: list[bytes], plain: list[set[bytes]]) -> bytes | None:
    """The mark in a rare text that is otherwise usual."""
    odd = [(got, usual) for got, usual in zip(segments, plain, strict=True) if got not in usual]
    if len(odd) != 1:
        return None
    got, usual = odd[0]
    return got if usual == {b""} and MARK.fullmatch(got) else None


def _segments(core: bytes, anchors: list[bytes]) -> list[bytes] | None:
    """What stands before each anchor and behind the last; None where an anchor is missing."""
    found, tokens, at = [], TOKEN.findall(core), 0
    for anchor in anchors:
        try:
            stop = tokens.index(anchor, at)
        except ValueError:
            return None
        found.append(b"".join(tokens[at:stop]))
        at = stop + 1
    found.append(b"".join(tokens[at:]))
    return found


def _common(one: list[bytes], other: list[bytes]) -> list[bytes]:
    """The longest row of tokens that stands in both."""
    table = [[0] * (len(other) + 1) for _ in range(len(one) + 1)]
    for i in range(len(one) - 1, -1, -1):
        for j in range(len(other) - 1, -1, -1):
            equal = one[i] == other[j]
            table[i][j] = (
                table[i + 1][j + 1] + 1 if equal else max(table[i + 1][j], table[i][j + 1])
            )
    found, i, j = [], 0, 0
    while i < len(one) and j < len(other):
        if one[i] == other[j]:
            found.append(one[i])
            i, j = i + 1, j + 1
        elif table[i + 1][j] >= table[i][j + 1]:
            i += 1
        else:
            j += 1
    return found
