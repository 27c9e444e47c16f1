"""What is left to grind: how much, on which side and flute, on which slide, which way.

A length of metal is positive toward the tool's own metal: a value that grinding makes smaller is
counted as it is, one that grinding makes larger with its sign turned. (trade B2, B3: derived.)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING

from inspect_rec.compute.conformity import Verdict
from inspect_rec.compute.infeed import of_flank, of_swivelled
from inspect_rec.plan import Characteristic, Moves
from inspect_rec.units import quantise, to_step

if TYPE_CHECKING:
    from inspect_rec.inspection.results import Result

TO_GRIND, PAST_SAVING, NONE_NEEDED = "to grind", "past saving by grinding", "none needed"


@dataclass(frozen=True, slots=True)
class Stock:
    """What is left to grind, as an infeed on its slide in mm (of an angle: the turn in deg).

    ``least``: just into the acceptance zone; ``aim``; ``most``: beyond it lies scrap. In steps of
    the readout: ``step_least`` rounded up, ``step_most`` down, ``step_aim`` to the nearest.
    """

    state: str
    side: str
    flute: int | None = None
    least: Decimal | None = None
    aim: Decimal | None = None
    most: Decimal | None = None
    step_least: Decimal | None = None
    step_aim: Decimal | None = None
    step_most: Decimal | None = None
    aim_level: str = ""
    slide: str = ""
    hand_wheel: str = ""
    note: str = ""
    by_size: tuple[Decimal, Decimal | None] | None = None
    """Least and most by this characteristic alone, where a variation narrows them."""


def with_stock(
    results: Sequence[Result], step: Decimal, edge_word: str, diameters_on: str = ""
) -> tuple[Result, ...]:
    """The results, each with what is left to grind. ``diameters_on``: slide whose readout counts
    the diameter; an infeed on it is what the slide moves, not what the readout shows."""
    single = [replace(r, stock=_single(r, step)) for r in results]
    for n, result in enumerate(single):
        if result.method.varies:
            single = _vary(single, n, step, edge_word)
        elif _places(result) and result.characteristic.grinding.slide:
            single[n] = replace(result, stock=_spread(result, step, edge_word))
    return tuple(_twice(r) if r.stock and r.stock.slide == diameters_on else r for r in single)


def _twice(r: Result) -> Result:
    stock = r.stock
    if stock is None or stock.step_aim is None:
        return r
    shows = f"the readout counts the diameter and shows {2 * stock.step_aim}"
    words = f"{stock.hand_wheel or stock.slide} ({shows})"
    return replace(r, stock=replace(stock, hand_wheel=words))


def _places(r: Result) -> tuple[float, ...]:
    """Of a method that compares places of all flutes: those places, mm; else empty."""
    places = r.outcome.detail.get("places_mm") if r.method.over_flutes else None
    return places if isinstance(places, tuple) else ()


def _sign(c: Characteristic) -> int:
    return -1 if c.grinding.moves is Moves.LARGER else 1


def _metal(r: Result) -> Decimal:
    return r.value * _sign(r.characteristic)


def _zone(r: Result) -> tuple[Decimal | None, Decimal | None]:
    """Where conformity is shown (most metal gone, most metal left), counted as metal."""
    assert r.zones is not None  # noqa: S101 - callers look first
    low, high = r.zones.shown_low, r.zones.shown_high
    if _sign(r.characteristic) > 0:
        return low, high
    return (None if high is None else -high), (None if low is None else -low)


def infeed(c: Characteristic, value: Decimal, per_value: float) -> Decimal:
    """Infeed on the slide for metal that shows as ``value`` in the characteristic."""
    flank, swivel = c.grinding.flank, c.grinding.swivel
    if per_value == 1.0 and flank is None and swivel is None:
        return value
    found = float(value) * per_value
    if flank is not None:
        found = of_flank(found, float(flank))
    if swivel is not None:
        found = of_swivelled(found, float(swivel))
    return quantise(found, c.unit)


def _single(r: Result, step: Decimal) -> Stock | None:
    """By size alone: nothing for what conforms, or for what grinding doesn't move."""
    c = r.characteristic
    if r.verdict in (Verdict.CONFORMS, Verdict.REFUSED) or r.zones is None:
        return None
    if c.grinding.moves is Moves.NONE or r.method.varies or _places(r):
        return None
    if c.grinding.moves is Moves.EITHER:
        return Stock(TO_GRIND, _side(r), r.flute, slide=c.grinding.slide, note=c.grinding.words)
    gone, left = _zone(r)
    metal = _metal(r)
    if left is None or metal <= left:
        return Stock(
            PAST_SAVING,
            _side(r),
            r.flute,
            note=c.grinding.words
            or "grinding moves it further away; better measurement, concession or re-size",
        )
    aim = metal - (left if gone is None else (gone + left) / 2)
    most = None if gone is None else metal - gone
    level = "acceptance limit" if gone is None else "middle of the zone"
    return _to_grind(r, metal - left, aim, most, step, level, f"{_side(r)}: rework")


def _side(r: Result) -> str:
    return r.judgement.side or "over"


def _to_grind(
    r: Result,
    least: Decimal,
    aim: Decimal,
    most: Decimal | None,
    step: Decimal,
    level: str,
    side: str,
    flute: int | None = None,
) -> Stock:
    c = r.characteristic
    per = r.method.infeed
    in_least, in_aim = infeed(c, least, per), infeed(c, aim, per)
    in_most = None if most is None else infeed(c, most, per)
    if c.deg:
        step = Decimal("0.1")
    step_aim = to_step(in_aim, step, "nearest")
    return Stock(
        TO_GRIND,
        side,
        r.flute if flute is None else flute,
        in_least,
        in_aim,
        in_most,
        to_step(in_least, step, "up"),
        step_aim,
        None if in_most is None else to_step(in_most, step, "down"),
        level,
        c.grinding.slide,
        c.grinding.hand_wheel.replace("{aim}", format(step_aim, "f")),
        c.grinding.words,
    )


def _vary(results: list[Result], n: int, step: Decimal, word: str) -> list[Result]:
    """A variation that isn't shown to conform: bring the proud flutes down to the level of the
    nearest that conforms, so that least metal puts size and variation right. A flute that is over
    by size alone gets the same aim, so that one that is higher yet never gets a smaller one."""
    spread = results[n]
    c = spread.characteristic
    if spread.verdict is Verdict.REFUSED or spread.zones is None:
        return results
    allowed = spread.zones.shown_high
    parts = [r for r in results if r.characteristic.id == c.of and r.zones is not None]
    if allowed is None or not parts:
        return results
    lowest = min(_metal(r) for r in parts)
    proud = [r for r in parts if _metal(r) > lowest + allowed]
    shown = spread.verdict is Verdict.CONFORMS
    over = [r for r in parts if r in proud or (r.stock is not None and r.stock.aim is not None)]
    found = list(results)
    for rank, part in enumerate(sorted(over, key=_metal, reverse=True)):
        stock = _level(part, parts, proud, allowed, step, word)
        index = next(i for i, r in enumerate(found) if r is part)
        if found[index].stock is not None and stock.aim is not None:
            found[index] = replace(part, stock=_aimed(found[index].stock, stock))
        if rank == 0 and not shown and part in proud:
            found[n] = replace(spread, stock=stock)
    return found


def _aimed(own: Stock | None, group: Stock) -> Stock:
    """A flute's own stock by size, aimed at the level that the variation asks for."""
    assert own is not None  # noqa: S101 - the caller looks first
    if own.state != TO_GRIND or own.least is None:
        return own
    return replace(
        own,
        aim=group.aim,
        step_aim=group.step_aim,
        aim_level=group.aim_level,
        hand_wheel=group.hand_wheel,
    )


def _level(
    part: Result,
    parts: Sequence[Result],
    proud: Sequence[Result],
    allowed: Decimal,
    step: Decimal,
    word: str,
) -> Stock:
    c = part.characteristic
    metal, (gone, left) = _metal(part), _zone(part)
    others = [r for r in parts if r is not part and not any(r is p for p in proud)]
    least = metal - (min(_metal(r) for r in others) + allowed)
    most = metal - (max(_metal(r) for r in others) - allowed)
    if left is not None:
        least = max(least, metal - left)
    if gone is not None:
        most = min(most, metal - gone)
    larger = c.grinding.moves is Moves.LARGER
    side = f"{word} {part.flute} " + (
        f"proud (small {c.name}): rework" if larger else "high: rework"
    )
    if least > most:
        return Stock(
            PAST_SAVING, side, part.flute, note="no level puts both size and variation right"
        )
    levels = sorted(
        (r for r in others if r.verdict is Verdict.CONFORMS and least <= metal - _metal(r) <= most),
        key=_metal,
        reverse=True,
    )
    if levels:
        aim, at = metal - _metal(levels[0]), f"{c.symbol_or_id} of {word} {levels[0].flute}"
    else:
        aim, at = (least + most) / 2, "middle of what is left"
    return _to_grind(part, least, aim, most, step, at, side)


def _spread(r: Result, step: Decimal, word: str) -> Stock | None:
    """Places of all flutes against each other: the highest is the one to grind."""
    places = _places(r)
    if r.verdict is Verdict.REFUSED or r.zones is None:
        return None
    high = max(range(len(places)), key=places.__getitem__) + 1
    side = f"{word} {high} high: rework"
    to_level = infeed(r.characteristic, r.value, 1.0)
    step_aim = to_step(to_level, step, "nearest")
    slide = r.characteristic.grinding.slide
    if r.verdict is Verdict.CONFORMS:
        return Stock(
            NONE_NEEDED,
            side,
            high,
            aim=to_level,
            step_aim=step_aim,
            slide=slide,
            note="for perfection only",
        )
    allowed = r.zones.shown_high or Decimal(0)
    return _to_grind(
        r, r.value - allowed, r.value, r.value + allowed, step, "level of the others", side, high
    )
