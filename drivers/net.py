"""A pattern as a net: places that match one byte each, and which place may follow which. Pure.

From it is known which bytes begin and end a line, and whether half of a line can pass as a whole
one. (Places and what follows them: the construction of Glushkov, from memory.)
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

_MOST_PLACES = 4096
_MOST_LOOKED_AT = 400
"""Places up to which halves are looked for; beyond, there may be some."""


class PatternError(ValueError):
    """A pattern that is refused; the message says what was expected."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the pattern: ways to try it, the least and most bytes that it matches, and its
    places in the net: where it may begin and end (a bit each), from ``start`` up to ``stop``."""

    ways: int
    least: int
    most: int
    first: int = 0
    last: int = 0
    start: int = 0
    stop: int = 0


class Net:
    """Places and their followers."""

    def __init__(self) -> None:
        self._fits: list[int] = []
        self._next: list[int] = []

    def nothing(self) -> Part:
        """A part that matches nothing."""
        here = len(self._fits)
        return Part(1, 0, 0, start=here, stop=here)

    def byte(self, fits: int) -> Part:
        """A part that matches one byte of a set."""
        here = len(self._fits)
        if here >= _MOST_PLACES:
            raise PatternError("a shorter line")
        self._fits.append(fits)
        self._next.append(0)
        return Part(1, 1, 1, 1 << here, 1 << here, here, here + 1)

    def then(self, one: Part, other: Part, ways: int) -> Part:
        """One part and the other behind it."""
        for place in _bits(one.last):
            self._next[place] |= other.first
        return Part(
            ways,
            one.least + other.least,
            one.most + other.most,
            one.first | (0 if one.least else other.first),
            other.last | (0 if other.least else one.last),
            one.start,
            other.stop,
        )

    @staticmethod
    def or_(one: Part, other: Part, ways: int) -> Part:
        """One part or the other."""
        least, most = min(one.least, other.least), max(one.most, other.most)
        first, last = one.first | other.first, one.last | other.last
        return Part(ways, least, most, first, last, one.start, other.stop)

    def times(self, part: Part, least: int, most: int, ways: int) -> Part:
        """A part so many times, one behind the other."""
        if not most:
            return self.nothing()
        size = part.stop - part.start
        if len(self._fits) + (most - 1) * size > _MOST_PLACES:
            raise PatternError("a shorter line")
        fits, next_ = self._fits[part.start : part.stop], self._next[part.start : part.stop]
        found = self._perhaps(part, not least)
        for n in range(1, most):
            by = len(self._fits) - part.start
            self._fits += fits
            self._next += [follow << by for follow in next_]
            again = Part(
                1, part.least, part.most, part.first << by, part.last << by, part.start + by
            )
            found = self.then(found, self._perhaps(again, n >= least), 1)
        total = len(self._fits)
        return Part(ways, found.least, found.most, found.first, found.last, part.start, total)

    @staticmethod
    def _perhaps(part: Part, left_out: bool) -> Part:  # noqa: FBT001 - of this module only
        least = 0 if left_out else part.least
        return Part(1, least, part.most, part.first, part.last, part.start, part.stop)

    def bytes_at(self, places: int) -> int:
        """The bytes that these places match, a bit each."""
        found = 0
        for place in _bits(places):
            found |= self._fits[place]
        return found

    def behind(self) -> int:
        """Places that follow another."""
        found = 0
        for follow in self._next:
            found |= follow
        return found

    def before(self) -> int:
        """Places that another follows."""
        return sum(1 << place for place, follow in enumerate(self._next) if follow)

    def halves(self, first: int, last: int) -> bool:
        """Whether a line without its beginning can be a line, too: a line is gone through, and from
        one of its later places on a second one that ends with it."""
        if len(self._fits) > _MOST_LOOKED_AT:
            return True
        alike = [
            sum(1 << n for n, other in enumerate(self._fits) if other & fits) for fits in self._fits
        ]
        reached = [0] * len(self._fits)
        later = self._reach(first)
        # Where the second line stands -> where the whole one may stand at the same byte.
        waiting = [(place, later & alike[place]) for place in _bits(first)]
        while waiting:
            place, whole = waiting.pop()
            new = whole & ~reached[place]
            if not new:
                continue
            reached[place] |= new
            if new & last and last >> place & 1:
                return True
            follow = 0
            for each in _bits(new):
                follow |= self._next[each]
            waiting += [(each, follow & alike[each]) for each in _bits(self._next[place])]
        return False

    def _reach(self, first: int) -> int:
        """Places behind at least one other."""
        found, new = 0, first
        while new:
            follow = 0
            for each in _bits(new):
                follow |= self._next[each]
            new = follow & ~found
            found |= follow
        return found


def _bits(mask: int) -> Iterator[int]:
    """Numbers of the bits that are set."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low
