"""Bytes of a binary frame that are no figures: counters, heartbeats, bits of a status. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from drivers.learning.evidence import Undecided

_MOST_RUN = 2
_FEWEST = 4
_BEATS = 0.2
"""Of the frames, at least, go on by one."""
_MOST_LOST = 50
_ODD = 0.25
"""Of the steps at most are lost frames."""
_TOGETHER = 0.8


@dataclass(frozen=True, slots=True)
class Byte:
    """A field that is no figure. ``lines``: what the layout says of it beside its place."""

    name: str
    at: int
    size: int
    lines: tuple[str, ...]
    said: str


def counter(wholes: Sequence[bytes], constant: dict[int, int], checked: range) -> Byte | None:
    """The bytes that go on by one with each frame; a heartbeat goes on less often."""
    for at in range(len(wholes[0])):
        if at in constant or at in checked:
            continue
        values = [whole[at] for whole in wholes]
        ones, rest = _beats(values, 256)
        # The upper byte of a figure goes on by one, too, but stands still with its slide.
        if ones < max(_FEWEST, _BEATS * len(values)) or rest:
            continue
        name = "count" if ones == len(values) - 1 - _lost(values) else "heartbeat"
        for order, first in (("big", at - 1), ("little", at)):
            upper = first if order == "big" else at + 1
            if not 0 <= upper < len(wholes[0]) or upper in constant or upper in checked:
                continue
            both = [int.from_bytes(w[first : first + 2], order) for w in wholes]  # type: ignore[arg-type]
            if not _beats(both, 65536)[1]:
                lines = (f'order = "{order}"', 'as = "unsigned"')
                return Byte(name, first, 2, lines, f"bytes {first} and {first + 1} go on by one")
        said = f"byte {at} goes on by one, {ones} times in {len(values)} frames"
        return Byte(name, at, 1, ('as = "unsigned"',), said)
    return None


def _beats(values: Sequence[int], modulus: int) -> tuple[int, int]:
    """How often a number goes on by one, and how often by what no lost frame explains."""
    steps = [(b - a) % modulus for a, b in pairwise(values)]
    ones = steps.count(1)
    rest = sum(step > _MOST_LOST for step in steps)
    odd = sum(step not in {0, 1} for step in steps)
    return ones, rest + (odd if odd > _ODD * len(steps) else 0)


def _lost(values: Sequence[int]) -> int:
    return sum((b - a) % 256 > 1 for a, b in pairwise(values))


def status(wholes: Sequence[bytes], at: int, moving: Sequence[bool]) -> list[Byte]:
    """The fields of a byte some of whose bits change: a key, or that a slide moves. What stays
    must stay. Raises Undecided for bits that nobody understands. ``moving``: for each frame,
    whether its figures differ from the one before."""
    values = [whole[at] for whole in wholes]
    changing, fixed, found = 0, 0xFF, []
    for bit in range(8):
        rows = [value >> bit & 1 for value in values]
        if len(set(rows)) == 1:
            continue
        mask = 1 << bit
        changing |= mask
        rare = 1 if sum(rows) * 2 < len(rows) else 0
        if _together(rows, moving):
            continue
        if max(_runs(rows, rare)) > _MOST_RUN:
            raise Undecided(
                f"bit {bit} of byte {at} changes and nothing shows what it says",
                "touch nothing on the readout but its print key, move one slide, and record again",
            )
        words = f'words = {{ "{rare}" = "key", "{1 - rare}" = "live" }}'
        times = rows.count(rare)
        lines = ('as = "unsigned"', f"mask = 0x{mask:02X}", words)
        found.append(Byte("key", at, 1, lines, f"bit {bit} of byte {at} is rare: {times} times"))
    fixed &= ~changing
    if fixed:
        number = (values[0] & fixed) >> ((fixed & -fixed).bit_length() - 1)
        words = f'words = {{ "{number}" = "good" }}'
        lines = ('as = "unsigned"', f"mask = 0x{fixed:02X}", words)
        found.append(Byte("fixed", at, 1, lines, f"the other bits of byte {at} never change"))
    return found


def _together(rows: Sequence[int], moving: Sequence[bool]) -> bool:
    """Whether a bit changes with the slide's motion."""
    share = sum(moving) / len(moving)
    if not 0.05 < share < 0.95:
        return False
    # Of a slide that hardly moves a bit that hardly changes says as little as one that never does.
    enough = max(_TOGETHER, 1 - min(share, 1 - share) / 2)
    for shifted in (rows[1:], rows[:-1]):
        same = sum((r == 1) == m for r, m in zip(shifted, moving[1:], strict=True))
        if max(same, len(shifted) - same) >= enough * len(shifted):
            return True
    return False


def _runs(rows: Sequence[int], kind: int) -> list[int]:
    found, n = [0], 0
    for row in rows:
        n = n + 1 if row == kind else 0
        found.append(n)
    return found


def constant(values: dict[int, int], free: Sequence[int]) -> list[Byte]:
    """Bytes that never change, eight at a time: where one does, the frame isn't of the layout."""
    found: list[Byte] = []
    run: list[int] = []
    for at in [*free, -1]:
        if run and (at != run[-1] + 1 or len(run) == 8):
            number = int.from_bytes(bytes(values[n] for n in run), "big")
            words = f'words = {{ "{number}" = "good" }}'
            said = f"bytes {run[0]} to {run[-1]} never change"
            found.append(Byte("fixed", run[0], len(run), ('as = "unsigned"', words), said))
            run = []
        run.append(at)
    return found
