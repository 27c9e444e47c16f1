"""Binary frames of one length: how long, where one begins, which check they carry. Pure.

A length is seen by what repeats with it. Where a frame begins is shown by pauses, or by a check
that holds at one place only; without either it isn't known, and nothing is made up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from drivers.fields import Checked
from drivers.learning import checks
from drivers.learning.frames import Cut, bursts
from drivers.learning.recording import Recording

_LONGEST = 64
_SHORTEST = 4
_SAMPLE = 4096
_REPEATS = 0.5
"""Of the bytes are the same one frame later, while slides stand still."""
_SEARCHED = 128 * 1024
_FEWEST = 4
_NEARLY = 0.95
_ODD = 2
_NEAR, _TRIED = 0.12, 6
_ONE_LENGTH = 0.8
_SPOTS = (0, 1, 2)


@dataclass(frozen=True, slots=True)
class Blocks:
    """Frames of one length, those whose check holds. ``constant``: bytes that never change, by
    their offset."""

    length: int
    cuts: tuple[Cut, ...]
    wholes: tuple[bytes, ...]
    check: checks.Found
    said: tuple[str, ...]

    @property
    def constant(self) -> dict[int, int]:
        """Bytes that are the same in all frames, by offset."""
        columns = list(zip(*dict.fromkeys(self.wholes), strict=True))
        return {n: column[0] for n, column in enumerate(columns) if len(set(column)) == 1}

    @property
    def checked(self) -> range:
        """The offsets of the check."""
        at = self.length + self.check.check.at
        return range(at, at + self.check.size)


def find(recording: Recording) -> Blocks | None:
    """The frames of a binary recording; None where no length with a check is found."""
    spans = bursts(recording)
    if spans is not None:
        found = _of_bursts(recording, spans)
        if found is not None:
            return found
    for length in _lengths(recording.data):
        phased = _phased(recording.data[:_SEARCHED], length)
        if phased is not None:
            return _walked(recording, length, *phased, ("only there the check holds",))
    return None


def unchecked(recording: Recording) -> int:
    """The length with which the bytes repeat, whatever their check; 0 where they don't."""
    return next(iter(_lengths(recording.data)), 0)


def _of_bursts(recording: Recording, spans: Sequence[tuple[int, int]]) -> Blocks | None:
    lengths = Counter(b - a for a, b in spans)
    length, n = lengths.most_common(1)[0]
    if n < _ONE_LENGTH * len(spans) or not _SHORTEST <= length <= _LONGEST:
        return None
    wholes = [recording.data[a:b] for a, b in spans if b - a == length]
    found = checks.find(wholes, 0, 0, _SPOTS)
    if found is None:
        return None
    first, _ = Counter(whole[:1] for whole in wholes).most_common(1)[0]
    said = f"{n} bursts of bytes are of that length"
    return _walked(recording, length, found, first, (said,))


def _lengths(data: bytes) -> Iterator[int]:
    """Lengths with which the bytes repeat, the likeliest first."""
    some = data[:_SAMPLE]
    shares = {
        n: sum(a == b for a, b in zip(some, some[n:], strict=False)) / (len(some) - n)
        for n in range(_SHORTEST, min(_LONGEST, len(some) // 3) + 1)
    }
    best = max(shares.values(), default=0.0)
    if best >= _REPEATS:
        near = [(n, share) for n, share in shares.items() if share >= best - _NEAR]
        yield from (
            n for n, _ in sorted(near, key=lambda each: (-round(each[1], 1), each[0]))[:_TRIED]
        )


def _phased(data: bytes, length: int) -> tuple[checks.Found, bytes] | None:
    """The check that holds where frames begin, and what they begin with, whatever bytes are lost or
    added between them: all begin with the byte, or two, that the commonest does. A check at the
    very end and with no start value is looked for first: a frame turned round by its header has
    others."""
    rows = [data[n : n + length] for n in range(0, len(data) - length + 1, length)]
    kinds = Counter(rows)
    if len(kinds) < _FEWEST:
        return None
    ((common, _),) = kinds.most_common(1)
    enough = max(_FEWEST, _ONE_LENGTH * len(rows))
    all_ = [
        (
            first := (common + common)[phase:][:size],
            [data[n : n + length] for n in _starts(data, first, length)],
        )
        for size in (2, 1)
        for phase in range(length)
    ]
    turned = [(first, wholes) for first, wholes in all_ if len(wholes) >= enough]
    for spots in (_SPOTS[:1], _SPOTS[1:]):
        for starts in ((False,), (True,)):
            for first, wholes in turned:
                found = checks.find(wholes, 0, 0, spots, starts)
                if found is not None:
                    return found, first
    return None


def _starts(data: bytes, first: bytes, length: int) -> Iterator[int]:
    at = data.find(first)
    while 0 <= at <= len(data) - length:
        yield at
        at = data.find(first, at + length)


def _walked(
    recording: Recording, length: int, check: checks.Found, first: bytes, said: tuple[str, ...]
) -> Blocks | None:
    """All frames that begin as the first and whose check holds, one behind the other."""
    data, checked = recording.data, Checked(check.check)
    n, cuts = 0, []
    known: dict[bytes, bool] = {}
    while n + length <= len(data):
        whole = data[n : n + length]
        if whole not in known:
            known[whole] = whole.startswith(first) and checked.holds(whole)
        if known[whole]:
            cuts.append(Cut(n, n + length, whole, recording.at(n + length)))
            n += length
        else:
            n += 1
    cuts = _headed(cuts)
    if len(cuts) * length < _ONE_LENGTH * len(data) - 2 * length:
        return None
    words = (*said, f"{len(cuts)} frames make {len(cuts) * length} of {len(data)} bytes")
    return Blocks(length, tuple(cuts), tuple(c.body for c in cuts), check, words)


def _headed(cuts: list[Cut]) -> list[Cut]:
    """Without those whose check holds by chance: they differ from nearly all at two places."""
    columns = [Counter(column) for column in zip(*(c.body for c in cuts), strict=True)]
    usual = {
        n: column.most_common(1)[0][0]
        for n, column in enumerate(columns)
        if column.most_common(1)[0][1] >= _NEARLY * len(cuts)
    }
    return [c for c in cuts if sum(c.body[n] != byte for n, byte in usual.items()) < _ODD]
