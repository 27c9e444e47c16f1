"""The twelve invented layouts are found from recordings of any seed, whole and damaged."""

from __future__ import annotations

import random
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from drivers.learning.learn import learn
from drivers.learning.recording import Recording, moves, read
from tests.drivers.learning import recordings
from tests.drivers.learning.played import holds
from tests.drivers.learning.recordings import Positions, Readout, Recorded, recorded

SEEDS = range(8)
Make = Callable[[random.Random], Readout]
each = pytest.mark.parametrize("make", recordings.TWELVE, ids=lambda make: make.__name__)


def a_move(readout: Readout, rng: random.Random) -> tuple[Positions, Positions]:
    """Where slides stand and how far they go: of binary figures through nought, since nothing else
    shows their bytes."""
    start = {axis: Decimal(rng.randint(-60_000, 160_000)) / 1000 for axis in readout.axes}
    if readout.name == "12":
        start["X"] = Decimal(rng.randint(3_000, 90_000)) / 1000
        return start, {"X": -start["X"] - Decimal(rng.randint(3_000, 30_000)) / 1000}
    by = {readout.axes[0]: Decimal(rng.choice(("10", "5", "-20", "12.5", "25")))}
    if len(readout.axes) > 1 and rng.random() < 0.3:
        by = {"X": Decimal(10), "Z": Decimal(-7)}
    return start, by


def written(found: Recorded, readout: Readout, rng: random.Random) -> Recording:
    """As a file holds it: bare bytes, or JSON Lines where instants are needed."""
    bare = rng.random() < 0.5 and not readout.timed
    return read(found.data if bare else found.json_lines, "recording")


def learned_again(make: Make, seed: int, **damage: Any) -> None:
    rng = random.Random(seed)
    readout = make(rng)
    start, by = a_move(readout, rng)
    first = recorded(readout, rng, by, start=start, **damage)
    found = learn(written(first, readout, rng), moves(first.moved))
    holds(found, readout, recorded(readout, random.Random(seed + 1000)))


@each
@pytest.mark.parametrize("seed", SEEDS)
def test_a_layout_is_found_and_decodes_another_recording(make: Make, seed: int) -> None:
    learned_again(make, seed)


@each
@pytest.mark.parametrize("seed", SEEDS)
def test_frames_in_pieces_are_put_together(make: Make, seed: int) -> None:
    learned_again(make, seed, split=0.3)


@pytest.mark.parametrize("make", [m for m in recordings.TWELVE if m is not recordings.eleven])
@pytest.mark.parametrize("seed", SEEDS)
def test_half_a_frame_at_either_end_changes_nothing(make: Make, seed: int) -> None:
    learned_again(make, seed, half=True, cut_short=True)


@pytest.mark.parametrize("make", [m for m in recordings.TWELVE if m is not recordings.eleven])
@pytest.mark.parametrize("seed", SEEDS)
def test_some_damaged_frames_change_nothing(make: Make, seed: int) -> None:
    learned_again(make, seed, noise=0.02, still=60)
