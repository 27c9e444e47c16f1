"""A tool's life by its length: taken off, left, and how many sharpenings remain."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from inspect_rec.inspection.kept import Place, Record
from inspect_rec.inspection.results import Result


@dataclass(frozen=True, slots=True)
class LengthLeft:
    """Lengths in mm. ``left_sharpenings`` counts those whose length can be shown to be enough;
    ``only_just`` tells that one more would stay at or above the minimum without proof."""

    sharpening: int
    earlier: tuple[Decimal, ...]
    arrival: Decimal
    now: Decimal
    minimum: Decimal
    accepted: Decimal
    removed: Decimal
    left: Decimal
    left_sharpenings: int | None
    only_just: bool


def length_left(record: Record, results: tuple[Result, ...]) -> LengthLeft | None:
    """The life of a tool that states one and whose length was measured; None otherwise."""
    life = record.job.tool_of(record.mark).life
    if life is None:
        return None
    now = next((r for r in results if r.characteristic.id == life.length), None)
    arrival = record.standing().get(Place(life.arrival, mark="tip"))
    if now is None or now.zones is None or arrival is None:
        return None
    minimum, accepted = now.characteristic.lower, now.zones.shown_low
    if minimum is None or accepted is None:
        return None
    before = next(iter(arrival.figures.values()))
    removed = before - now.value
    count, only_just = None, False
    if removed > 0:
        count = max(0, int((now.value - accepted) / removed))
        only_just = now.value - (count + 1) * removed >= minimum
    return LengthLeft(
        life.sharpening,
        life.earlier,
        before,
        now.value,
        minimum,
        accepted,
        removed,
        now.value - minimum,
        count,
        only_just,
    )
