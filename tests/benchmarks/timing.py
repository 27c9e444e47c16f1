"""Routes to the same work, timed in turns in one run; what counts is the ratio, never the time.

Nothing here fails a test for being slow: machines are shared. Answers are compared by the
caller before anything is timed.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from statistics import median

ROUNDS = 9


@dataclass(frozen=True, slots=True)
class Timed:
    """Medians and spreads of several routes; ``per`` is how many pieces one call does."""

    micros: Mapping[str, tuple[float, ...]]
    """µs a piece of each round, by route."""

    def ratio(self, route: str, peer: str) -> float:
        """Median over the rounds of route / peer in the same round, which cancels a slow moment."""
        pairs = zip(self.micros[route], self.micros[peer], strict=True)
        return median(ours / theirs for ours, theirs in pairs)

    def table(self, title: str, peer: str) -> str:
        """A line a route: median, least and most µs a piece, and the ratio to ``peer``."""
        width = max(map(len, self.micros))
        lines = [f"\n{title}", f"{'':{width}}   median     least      most   µs each    ratio"]
        for name, taken in self.micros.items():
            lines.append(
                f"{name:{width}} {median(taken):8.2f}  {min(taken):8.2f}  {max(taken):8.2f}"
                f"            {self.ratio(name, peer):8.3f}"
            )
        return "\n".join(lines)


def interleaved(
    routes: Mapping[str, Callable[[], object]], per: int = 1, rounds: int = ROUNDS
) -> Timed:
    """Each round calls every route once, another one first each time; one round before that
    warms up and isn't counted. Needs at least seven rounds."""
    if rounds < 7:
        raise ValueError(f"a median of {rounds} rounds says little: at least 7")
    names = list(routes)
    micros: dict[str, list[float]] = {name: [] for name in names}
    for turn in range(-1, rounds):
        shift = turn % len(names)
        for name in names[shift:] + names[:shift]:
            begin = time.perf_counter()
            routes[name]()
            taken = (time.perf_counter() - begin) * 1e6 / per
            if turn >= 0:
                micros[name].append(taken)
    return Timed({name: tuple(taken) for name, taken in micros.items()})


def memory_mib() -> float:
    """What this process holds now (Linux)."""
    import resource  # Windows has none

    pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
    return pages * resource.getpagesize() / 2**20
