"""Structure of a report for readers who can't see it: headings, paragraphs, tables, in order.

Collects what belongs to which element while pages are drawn; writes nothing itself. Lines and
figures of drawings are artifacts: what they show stands as text in the tables.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

LEAVES = frozenset({"P", "H1", "H2", "TH", "TD", "Caption"})
"""Elements that hold text; anything else holds elements."""


@dataclass(eq=False, slots=True)
class Element:
    """One element; its kids are elements, or pieces of text as (page from 0, number there)."""

    role: str
    kids: list[Element | tuple[int, int]] = field(default_factory=list)
    rows: int = 0
    """Rows that a heading cell stands for; 0: it heads a column."""
    placed: bool = False


class Tags:
    """The tree as it grows. ``live`` is false for a trial: then nothing is marked."""

    def __init__(self, *, live: bool = True) -> None:
        self.root = Element("Document")
        self.live = live
        self._open = [self.root]
        self._page = self._pieces = 0
        self._outside = False

    @contextmanager
    def inside(self, what: str | Element) -> Iterator[None]:
        """Within a new element of that role, or within one that was begun on a page before."""
        element = Element(what) if isinstance(what, str) else what
        if self.live and not self._outside and not element.placed:
            self._open[-1].kids.append(element)
            element.placed = True
        self._open.append(element)
        try:
            yield
        finally:
            self._open.pop()

    @contextmanager
    def outside(self) -> Iterator[None]:
        """What repeats on every page, head and foot, is no part of the text."""
        before, self._outside = self._outside, True
        try:
            yield
        finally:
            self._outside = before

    def piece(self) -> tuple[str, int] | None:
        """Role and number of the next piece of text; None for what isn't part of the text."""
        if not self.live or self._outside:
            return None
        element = self._open[-1]
        if element.role not in LEAVES:
            element = Element("P")
            self._open[-1].kids.append(element)
        number = self._pieces
        self._pieces += 1
        element.kids.append((self._page, number))
        return element.role, number

    @property
    def in_leaf(self) -> bool:
        """Whether the open element holds text."""
        return self._open[-1].role in LEAVES

    def turn(self) -> None:
        """The next page."""
        self._page += 1
        self._pieces = 0
