"""Binary figures: every place, size and form in which a slide's way can be seen. Pure.

A figure goes smoothly while its slide moves, and its lowest byte changes; what is left of all
places, orders and forms after that are readings of the same bytes. Those that give the same
figures are one; those that don't are told apart by a move through nought, or not at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby, pairwise
from statistics import median_low

from drivers.binary import number_of
from drivers.parts import Field

_SIZES = (4, 3, 2)
_STRIDE, _DETOUR = 3, 1.5
"""How much further a figure goes than every third of its values shows."""
_BUSY = 0.25
"""Of the changes of a frame in which the lowest byte of the one figure that moves changes."""
_STEPS = 3
_SEVERAL = 5
_REST = 0.1
"""Of the whole way at least is gone beside the two widest steps."""
_JUMP = 0.85
"""Of the whole way at most is one step, where several are seen."""
_DECIMAL = 20
"""Values of a lowest byte, all of decimal digits, that are no chance: 0.4 to that power."""
FORMS = ("two's complement", "sign and magnitude", "bcd")


@dataclass(frozen=True)
class Place:
    """One way to read a figure. ``sign_at``: offset of a byte that says its sign, -1 for none;
    ``minus``: what that byte says for minus."""

    at: int
    size: int
    order: str
    as_: str
    values: tuple[int, ...] = field(compare=False, repr=False)
    sign_at: int = -1
    minus: int = 0

    @property
    def covers(self) -> range:
        """Its offsets."""
        return range(self.at, self.at + self.size)

    @property
    def lowest(self) -> int:
        """Offset of its lowest byte."""
        return {"big": self.at + self.size - 1, "little": self.at}.get(self.order, self.at + 1)

    @property
    def by(self) -> int:
        """How far it went."""
        n = min(5, len(self.values) // 3) if len(self.values) > 8 else 1
        return median_low(self.values[-n:]) - median_low(self.values[:n])


def places(
    wholes: Sequence[bytes], constant: dict[int, int], taken: Sequence[int], moved: int
) -> list[list[Place]]:
    """Readings of all figures that moved: those with the same values together, the widest first.
    ``constant``: bytes that never change; ``taken``: offsets of check and counter;
    ``moved``: how many slides moved."""
    found = [p for p in _all(wholes, constant, set(taken), moved) if _smooth(p)]
    found = _decimal(found, wholes)
    alike: dict[tuple[int, ...], list[Place]] = {}
    for place in found:
        alike.setdefault(place.values, []).append(place)
    return [sorted(group, key=lambda p: -p.size) for group in alike.values()]


def _decimal(found: list[Place], wholes: Sequence[bytes]) -> list[Place]:
    """Of bytes that hold decimal digits whatever the figure is, the readings as those alone: as
    binary figures six in ten would hold others."""
    lowest = {p.lowest for p in found if p.as_ == "bcd"}
    sure = {at for at in lowest if len({whole[at] for whole in wholes}) >= _DECIMAL}
    return [p for p in found if p.as_ == "bcd" or p.lowest not in sure]


def read(wholes: Sequence[bytes], at: int, size: int, order: str, as_: str) -> tuple[int, ...]:
    """The values of a place; empty where some aren't numbers."""
    made, known = Field("x", at, size, order, as_), {}
    values = []
    for whole in wholes:
        raw = whole[at : at + size]
        if raw not in known:
            known[raw] = number_of(raw, made)
        value = known[raw]
        if value is None:
            return ()
        values.append(value)
    return tuple(values)


def _all(
    wholes: Sequence[bytes], constant: dict[int, int], taken: set[int], moved: int
) -> Iterator[Place]:
    length = len(wholes[0])
    *changes, all_ = _changes(wholes, taken)
    busy = [n >= max(1, _BUSY * all_ / max(1, moved)) for n in changes]
    for size in _SIZES:
        for at in range(length - size + 1):
            if taken & set(range(at, at + size)):
                continue
            for order in ("big", "little", "swapped words")[: 3 if size == 4 else 2]:
                seen: set[tuple[int, ...]] = set()
                for as_ in FORMS if order != "swapped words" else FORMS[:1]:
                    place = Place(at, size, order, as_, ())
                    if not busy[place.lowest]:
                        continue
                    values = read(wholes, at, size, order, as_)
                    if values and values not in seen:
                        seen.add(values)
                        yield Place(at, size, order, as_, values)
                        yield from _signed(wholes, place, values, constant, taken)


def _signed(
    wholes: Sequence[bytes],
    place: Place,
    values: tuple[int, ...],
    constant: dict[int, int],
    taken: set[int],
) -> Iterator[Place]:
    """The same with a byte elsewhere that says the sign, where one has just two values."""
    if place.as_ == "sign and magnitude" or min(values) < 0:
        return
    found = []
    for at in range(len(wholes[0])):
        if at in constant or at in taken or at in place.covers:
            continue
        kinds = sorted({whole[at] for whole in wholes})
        if len(kinds) != 2:
            continue
        # Minus is the higher one: "-" behind "+" or blank, 1 or 80 hex behind 0, D behind C.
        minus = kinds[1]
        signed = tuple(
            -v if whole[at] == minus else v for v, whole in zip(values, wholes, strict=True)
        )
        as_ = "unsigned" if place.as_ != "bcd" else "bcd"
        made = Place(place.at, place.size, place.order, as_, signed, at, minus)
        if abs(made.by) > abs(replace(made, values=values).by):
            found.append(made)
    # It changes at nought: one that changes elsewhere is another figure's.
    yield from sorted(found, key=lambda p: _way(p.values))[:1]


def _way(values: Sequence[int]) -> int:
    return sum(abs(b - a) for a, b in pairwise(values))


def _smooth(place: Place) -> bool:
    """Whether it goes its way in steps that add up, there or there and back; bytes that don't
    belong together go to and fro, or jump."""
    by, values = abs(place.by), [v for v, _ in groupby(place.values)]
    steps = [abs(b - a) for a, b in pairwise(values)]
    if by <= _STEPS:
        return False
    if len(steps) < _SEVERAL:
        return True
    # Two counts to and fro are a slide that stands still.
    wide = max(_way(values[n::_STRIDE]) for n in range(_STRIDE)) + 2 * len(steps)
    if sum(steps) > _DETOUR * wide or max(steps) > _JUMP * by:
        return False
    # An upper byte that counts twice makes two jumps, and all else is small.
    return len(steps) <= _SEVERAL or sum(sorted(steps)[:-2]) >= _REST * by


def _changes(wholes: Sequence[bytes], taken: set[int]) -> list[int]:
    """How often each byte differs from the frame before; last, how often any does that isn't
    taken."""
    found = [0] * (len(wholes[0]) + 1)
    for one, other in pairwise(wholes):
        if one == other:
            continue
        changed = [n for n, (a, b) in enumerate(zip(one, other, strict=True)) if a != b]
        for n in changed:
            found[n] += 1
        found[-1] += any(n not in taken for n in changed)
    return found


def extended(groups: list[list[Place]], constant: dict[int, int]) -> list[list[Place]]:
    """Without signs and magnitudes whose upper bytes are all ones: those are two's complements."""
    ones = {
        (p.lowest, p.order)
        for group in groups
        for p in group
        if p.as_ == FORMS[0] and constant.get(_top(p)) == 0xFF
    }
    kept = [[p for p in g if p.as_ != FORMS[1] or (p.lowest, p.order) not in ones] for g in groups]
    return [group for group in kept if group]


def _top(place: Place) -> int:
    ends = {"big": place.at, "little": place.at + place.size - 1}
    return ends.get(place.order, place.at + 2)


def cut(place: Place, found: Sequence[Place]) -> bool:
    """Whether it is the upper part of another figure: that has a byte more below."""
    for other in found:
        if place.lowest not in other.covers or other.lowest in place.covers:
            continue
        if abs(other.by) > 50 * abs(place.by):
            return True
    return False
