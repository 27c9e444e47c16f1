"""A tool's life in print: lengths on a line, how many sharpenings are left, its earlier reports."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from itertools import accumulate

from inspect_rec.inspection import Inspection, history
from inspect_rec.inspection.history import Earlier, Forecast
from inspect_rec.inspection.life import LengthLeft
from inspect_rec.report import figures
from inspect_rec.report.content import LifeLine, Table
from inspect_rec.report.earlier import as_said
from inspect_rec.report.record import Header
from report_templates.sheet import LIVE
from report_templates.wording import Words


def line(inspection: Inspection, earlier: Sequence[Earlier], w: Words) -> LifeLine:
    """The tool's lengths on a line, or why there is none."""
    life = inspection.life
    if life is None:
        agreed = inspection.tool.life is not None
        return LifeLine("", w["life.none"], w["life.not_yet" if agreed else "life.no_life"])
    now, arrival = life.now, life.arrival
    done = [
        (_nth(n, w) if n else w["life.new"], _two(x, w), float(x))
        for n, x in history.lengths(life, earlier).items()
    ]
    done.append((w["life.arrival"], _two(arrival, w), float(arrival)))
    if life.left_sharpenings is None:
        count, words_, detail = "–", w["life.unknown"], w["life.nothing_off"]
        to_come = []
    else:
        count = str(life.left_sharpenings)
        none = w["life.no_more"] if life.left_sharpenings == 0 else ""
        words_ = w["life.only_just"] if life.only_just else none
        detail = _detail(life, history.forecast(life, earlier), w)
        if life.left < 0:
            detail = w["life.under"].format(by=_two(-life.left, w))
        to_come = [
            (
                _nth(life.sharpening + n, w),
                _two(now - n * life.removed, w),
                float(now - n * life.removed),
            )
            for n in range(1, min(life.left_sharpenings, 6) + 1)
        ]
    return LifeLine(
        count,
        words_,
        detail,
        tuple(done),
        (_now(life.sharpening, w), _two(now, w), float(now)),
        tuple(to_come),
        (w["life.minimum"], _two(life.minimum, w), float(life.minimum)),
    )


def _detail(life: LengthLeft, forecast: Forecast | None, w: Words) -> str:
    """How much is left, and what a sharpening takes of it."""
    left = _two(life.left, w)
    if forecast is None or forecast.alone:
        return w["life.detail"].format(left=left, step=_two(life.removed, w))
    step = _range(_two(forecast.least_mm, w), _two(forecast.most_mm, w))
    if forecast.fewest == forecast.most:
        return w["life.detail"].format(left=left, step=step)
    count = _range(str(forecast.fewest), str(forecast.most))
    return w["life.detail_range"].format(left=left, count=count, step=step)


def _range(low: str, high: str) -> str:
    return low if low == high else f"{low}–{high}"


def _nth(n: int, w: Words) -> str:
    """A sharpening by its number: 4th."""
    said = w["life.ordinals"].split("|")
    return said[n - 1] if 0 < n <= len(said) else w["life.ordinal"].format(n=n)


def _now(n: int, w: Words) -> str:
    return w["life.now"] if n == 0 else w["life.now_nth"].format(nth=_nth(n, w))


def _two(value: Decimal, w: Words) -> str:
    return figures.plain(value.quantize(Decimal("0.01")), w)


def told(inspection: Inspection, earlier: Sequence[Earlier], w: Words) -> Iterator[str]:
    """What the forecast rests on."""
    life = inspection.life
    found = history.forecast(life, earlier) if life is not None else None
    if life is None or found is None:
        return
    if found.alone:
        yield w["life.alone"]
        return
    yield w["life.rests"].format(
        count=_range(str(found.fewest), str(found.most)),
        step=_range(_two(found.least_mm, w), _two(found.most_mm, w)),
        own=_two(life.removed, w),
    )


# -- earlier reports ---------------------------------------------------------------

_FIRST, _ISSUED, _STATE, _NTH = 24.0, 22.0, 30.0, 20.0
"""Width of the columns for number, day, decision and sharpening, mm."""
_MOST = 4
"""Values for the machine that have room, this report's own first; page 1 has three."""


def table(inspection: Inspection, header: Header, w: Words) -> Table | None:
    """What earlier reports of the tool say, and in the last row this one; None without any."""
    if not header.earlier:
        return None
    life = any(each.length is not None for each in header.earlier)
    own = as_said(inspection, header.number, header.issued.date())
    told = (own, *reversed(header.earlier))
    labels = tuple(dict.fromkeys(label for each in told for label, _ in each.values))[:_MOST]
    heads = (w["earlier.heading"], w["earlier.issued"], w["earlier.state"], *labels)
    heads += (w["earlier.sharpening"], w["earlier.length"], w["earlier.removed"]) if life else ()
    rows = tuple(_row(each, labels, w, life=life) for each in (*header.earlier, own))
    room = LIVE - _FIRST - _ISSUED - _STATE - (_NTH if life else 0)
    wide = room / max(1, len(labels) + (2 if life else 0))
    widths = [_FIRST, _ISSUED, _STATE, *[wide] * len(labels), *([_NTH, wide] if life else [])]
    starts = accumulate(widths[: len(heads) - 1], initial=0.0)
    digests = "; ".join(f"{each.number} {each.digest[:16]}…" for each in header.earlier)
    return Table(heads, rows, tuple(starts), (w["earlier.below"].format(digests=digests),))


def _row(each: Earlier, labels: Sequence[str], w: Words, *, life: bool) -> tuple[str, ...]:
    values = dict(each.values)

    def mm(value: Decimal | None) -> str:
        return "–" if value is None else figures.plain(value, w)

    def length(value: Decimal | None) -> str:
        return "–" if value is None else _two(value, w)

    row = (
        each.number,
        figures.day(each.issued, w),
        w[f"earlier.{each.state}"] if each.state else w["earlier.this"],
        *(mm(values.get(label)) for label in labels),
    )
    if not life:
        return row
    nth = "–"
    if each.sharpening is not None:
        nth = _nth(each.sharpening, w) if each.sharpening else w["life.new"]
    return (*row, nth, length(each.length), length(each.removed))
