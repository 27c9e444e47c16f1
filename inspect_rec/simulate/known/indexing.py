"""Known tools of what is read tooth by tooth at its index."""

from __future__ import annotations

import math
import random
from itertools import pairwise

from inspect_rec.simulate.known import Known, Stated, exact, known
from inspect_rec.simulate.known.angles import step_check
from inspect_rec.simulate.machine import Machine, Spot


def _spacing(errors: list[float], which: str) -> float:
    """Largest step between neighbours, the last and the first included, or the whole spread."""
    if which == "total":
        return max(errors) - min(errors)
    return max(abs(b - a) for a, b in pairwise([*errors, errors[0]]))


def _offset(machine: Machine, degrees: float, radius: float, tooth: int) -> float:
    """Where a face stands that is ``degrees`` ahead of its index, mm; index and arbor as off as
    the shop states."""
    seen = degrees - machine.setting("index angle", tooth)
    return math.radians(seen) * radius + machine.setting("indexing", tooth)


def _teeth(of: random.Random, machine: Machine, which: str, *, equal: bool) -> Known:
    teeth, radius = of.choice((3, 4, 6, 8)), of.uniform(5, 30)
    errors = [of.uniform(-0.3, 0.3) for _ in range(teeth)]
    touched = radius + machine.setting("radius of the edge")
    nominal = [360 * n / teeth + (0 if equal else of.uniform(-3, 3)) for n in range(teeth)]
    repeats = of.choice((1, 2, 3))
    spots = tuple(
        Spot(
            "face" if equal else str(n + 1),
            figure=_offset(machine, error, touched, n),
            flute=n + 1 if equal else None,
        )
        for n, error in enumerate(errors)
        for _ in range(repeats)
    )
    blocks, mastered = step_check(machine)
    asked: dict[str, Stated] = {"radius_mm": exact(radius), "which": which}
    if not equal:
        asked |= {"angles_deg": tuple(exact(a) for a in nominal), "plus": "ahead"}
    return Known(
        (_spacing(errors, which),),
        {"teeth": spots, "master": blocks},
        asked,
        masters={"master": mastered},
        index={} if equal else {"teeth": tuple(float(exact(a)) for a in nominal)},
        natural_zero=True,
    )


@known("spacing, equal pitch", "adjacent")
def equal_adjacent(of: random.Random, machine: Machine) -> Known:
    """Three to eight teeth, each off by up to 0.3 deg."""
    return _teeth(of, machine, "adjacent", equal=True)


@known("spacing, equal pitch", "total")
def equal_total(of: random.Random, machine: Machine) -> Known:
    """The same teeth, largest less smallest."""
    return _teeth(of, machine, "total", equal=True)


@known("spacing, unequal pitch")
def unequal(of: random.Random, machine: Machine) -> Known:
    """Teeth at a pitch that is unequal by up to 6 deg."""
    return _teeth(of, machine, "total", equal=False)


@known("variation of the edges by indicator")
def edges(of: random.Random, machine: Machine) -> Known:
    """Three to eight edges on an arbor, that differ by up to 0.03 mm."""
    flutes = of.choice((3, 4, 6, 8))
    heights = [of.uniform(0, 0.03) for _ in range(flutes)]
    spots = tuple(
        Spot(
            "edge",
            figure=height + machine.setting("indexing", n) + machine.run_out(360 * n / flutes),
            flute=n + 1,
        )
        for n, height in enumerate(heights)
        for _ in range(2)
    )
    blocks, mastered = step_check(machine)
    return Known(
        (max(heights) - min(heights),),
        {"edges": spots, "master": blocks},
        masters={"master": mastered},
        natural_zero=True,
    )
