"""A folder into which other programs put files: when one is complete, and what it is called after.

Looks at names, sizes and times that the caller found; opens nothing and knows no clock. A file is
complete once its size and its time of writing have stood still for as long as is stated.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

TAKEN, REFUSED = "taken", "refused"
"""Folders within the watched one."""
_UNFINISHED = re.compile(r"[.~].*|.*\.(part|tmp|crdownload)", re.IGNORECASE | re.DOTALL)
"""Names that programs give to what isn't finished, and to their own notes."""
_LONGEST_STEM = 100


@dataclass(frozen=True, slots=True)
class Seen:
    """What a look at a file gave."""

    size: int
    written_ns: int


class Watched:
    """The files of one folder over time."""

    def __init__(self, still_s: float) -> None:
        """``still_s``: for so long nothing of a file may change before it is taken."""
        if not 0 < still_s <= 3600:
            raise ValueError("a file has to stand still for more than 0 s, and up to an hour")
        self._still_s = still_s
        self._since: dict[str, tuple[Seen, float]] = {}

    def look(self, found: Mapping[str, Seen], at_s: float) -> list[str]:
        """The files that are complete, by name; ``at_s`` is any clock that only goes on."""
        known, self._since = self._since, {}
        complete = []
        for name, seen in found.items():
            if _UNFINISHED.fullmatch(name):
                continue
            before, since = known.get(name, (seen, at_s))
            if before != seen:
                since = at_s
            self._since[name] = seen, since
            if seen.size and at_s - since >= self._still_s:
                complete.append(name)
        return sorted(complete)

    @property
    def waiting(self) -> frozenset[str]:
        """The files that may still be taken."""
        return frozenset(name for name, (seen, _) in self._since.items() if seen.size)


def name_after(name: str, digest: str) -> str:
    """The name of a file that was dealt with: its own, and the digest of what it held, so that
    another of the same name doesn't take its place."""
    stem, dot, suffix = name.rpartition(".")
    if not stem or len(suffix) > 10:
        stem, dot, suffix = name, "", ""
    return f"{stem[:_LONGEST_STEM]}-{digest}{dot}{suffix}"
