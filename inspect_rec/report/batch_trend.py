"""How a value goes over the tools of a batch, in the order in which they were measured."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from inspect_rec.ledger import Entry, Kinds
from inspect_rec.report import figures
from inspect_rec.report.batch_columns import Wanted
from inspect_rec.report.batch_content import Point, Trend
from report_templates.wording import Words

LEAST = 2
"""Tools from which on there is a trend."""


@dataclass(frozen=True, slots=True)
class Dot:
    """A tool's value, when it was measured, and whether the tool was released."""

    mark: str
    at: datetime
    value: Decimal
    guard: Decimal | None
    """None where there is no verdict."""
    verdict: str
    text: str
    given_out: bool


def trend(
    main: Wanted | None,
    dots: Iterable[Dot],
    dressings: Sequence[datetime],
    w: Words,
) -> Trend:
    """The dots as a trend against their limits; the line doesn't lead over a dressing, nor
    to a tool that isn't released."""
    if main is None:
        return Trend(w["batch.trend_none"], w["batch.no_limits"])
    c = main.characteristic
    title = w["batch.trend"].format(name=main.name(w), unit=figures.unit_of(c))
    found = sorted(dots, key=lambda d: (d.at, d.mark))
    if len(found) < LEAST:
        return Trend(title, w["batch.too_few"])
    labels = tails([d.mark for d in found])
    points: list[Point] = []
    before: Dot | None = None
    for dot, label in zip(found, labels, strict=True):
        between = [] if before is None else [at for at in dressings if before.at <= at < dot.at]
        joined = before is not None and before.given_out and dot.given_out and not between
        dressed = w["batch.dressed"].format(at=figures.moment(between[-1], w)) if between else ""
        points.append(
            Point(
                label,
                float(dot.value),
                dot.text,
                float(dot.guard or 0),
                dot.verdict,
                joined,
                dressed,
            )
        )
        before = dot
    middle = c.nominal if c.lower is not None and c.upper is not None else None
    texts = tuple(
        "" if x is None else figures.limit_text(c, x, w) for x in (c.upper, middle, c.lower)
    )
    return Trend(
        title,
        "",
        tuple(points),
        None if c.lower is None else float(c.lower),
        None if c.upper is None else float(c.upper),
        c.natural_zero,
        texts,  # type: ignore[arg-type]
    )


def dressings(entries: Iterable[Entry]) -> list[datetime]:
    """When the wheel was dressed."""
    return sorted(e.at for e in entries if e.kind == Kinds.WHEEL_DRESSED)


def tails(marks: Sequence[str]) -> list[str]:
    """What marks differ in, from a number's first digit or a sign's end on: 0412 of QF-0412."""
    if len(marks) < LEAST:
        return list(marks)
    first, last = min(marks), max(marks)
    same = next(
        (n for n, (a, b) in enumerate(zip(first, last, strict=False)) if a != b),
        min(len(first), len(last)),
    )
    while same and first[same - 1].isalnum():
        same -= 1
    return [mark[same:] or mark for mark in marks]
