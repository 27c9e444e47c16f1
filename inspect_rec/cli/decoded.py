"""What a decoded line says, in lines for programs and for people."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterable, Iterator
from decimal import Decimal
from itertools import islice
from typing import TYPE_CHECKING, Any

from drivers.decoder import Alarm
from inspect_rec.cli import asking
from inspect_rec.reading import Sighting
from inspect_rec.units import Unit, to_mm

if TYPE_CHECKING:
    from drivers.layout import Layout
    from drivers.recorded import At
    from drivers.runs import Run

_AT, _FIGURE = 28, 13
"""Columns of an instant and of a figure."""
_AT_ONCE = 1000
Items = Iterable[tuple["At", "Sighting | Alarm | Run"]]


def together(lines: Iterator[str]) -> Iterator[str]:
    """Lines in pieces of many: each piece that is printed is a call of the system."""
    while some := list(islice(lines, _AT_ONCE)):
        yield "\n".join(some)


def as_json(items: Items, layout: Layout, *, timed: bool) -> Iterator[str]:
    """An object a line for each reading and each alarm."""
    del timed
    for at, item in items:
        if isinstance(item, Alarm):
            alarm = {"at": at, "alarm": item.code.value, "said": item.said}
            yield json.dumps(alarm, ensure_ascii=False)
        elif isinstance(item, Sighting):
            axes = {r.channel: in_mm(r.value, r.unit) for r in item.readings}
            yield json.dumps(_said(at, axes, item, layout), ensure_ascii=False)
        else:
            # All but the figures is the same in all lines of a run.
            said = json.dumps(_said(at, {}, item, layout), ensure_ascii=False)
            before, after = said.split("{}", 1)
            names = [json.dumps(channel) for channel in item.channels]
            for figures in _figures(item, layout):
                axes_ = ", ".join([f'{n}: "{v}"' for n, v in zip(names, figures, strict=True)])
                yield f"{before}{{{axes_}}}{after}"


def _said(at: At, axes: dict[str, str], item: Sighting | Run, layout: Layout) -> dict[str, Any]:
    lone = item if isinstance(item, Sighting) else None
    # What the frame says of X, or a layout that says diameter once for all.
    mode = "diameter" if layout.figures.mode == "diameter" else None
    return {
        "at": at,
        "axes": axes,
        "unit_sent": layout.figures.unit.value,
        "mode_sent": (lone.mode if lone else None) or mode,
        "key": lone is not None and lone.key,
        "count": None if lone is None else lone.count,
        "suspect": item.suspect,
    }


def in_mm(value: Decimal, unit: Unit) -> str:
    """In mm, exact; what is no length as it is shown."""
    return format(to_mm(value, unit) if unit in (Unit.MM, Unit.INCH) else value, "f")


def _figures(run: Run, layout: Layout) -> Iterator[tuple[str, ...]]:
    """The figures of a run, line by line."""
    columns = []
    for channel, values, places in zip(run.channels, run.values, run.places, strict=True):
        # An inch is 254 tenths of a millimetre.
        inch = layout.figures.unit_of(channel) is Unit.INCH
        factor, more = (254, 1) if inch else (1, 0)
        columns.append([_text(n * factor, k + more) for n, k in zip(values, places, strict=True)])
    return zip(*columns, strict=True)


def _text(steps: int, places: int) -> str:
    """A number of steps of the last place as a decimal."""
    digits = str(abs(steps)).rjust(places + 1, "0")
    sign = "-" if steps < 0 else ""
    return f"{sign}{digits[:-places]}.{digits[-places:]}" if places else f"{sign}{digits}"


def table(items: Items, layout: Layout, *, timed: bool) -> Iterator[str]:
    """A line each for a person, of 80 columns."""
    channels = layout.channels
    wide = [max(_FIGURE, len(channel) + 2) for channel in channels]
    head = "".join(channel.rjust(width) for channel, width in zip(channels, wide, strict=True))
    inch = ", sent in inch" if layout.figures.unit is Unit.INCH else ""
    yield f"Layout {layout.id}; lengths in mm{inch}"
    yield f"{'at'.ljust(_AT) if timed else ''}{head}"
    readings, alarms, suspect = 0, 0, None
    for at, item in items:
        if isinstance(item, Alarm):
            alarms += 1
            yield _wrapped(f"! {f'{at}: ' if timed else ''}{item.code}. {item.said}")
            continue
        if item.suspect != suspect:
            suspect = item.suspect
            yield _wrapped(f"? What follows is {f'suspect: {suspect}' if suspect else 'good'}")
        stamp = str(at)[:_AT].ljust(_AT) if timed else ""
        for figures, marks in _rows(item, layout):
            readings += 1
            places = zip(channels, wide, strict=True)
            row = "".join(figures.get(channel, "").rjust(width) for channel, width in places)
            yield f"{stamp}{row}  {marks}".rstrip()
    yield f"{readings} reading{'s' * (readings != 1)}, {alarms} alarm{'s' * (alarms != 1)}."


def _rows(item: Sighting | Run, layout: Layout) -> Iterator[tuple[dict[str, str], str]]:
    """Figures by channel, and what is noted beside them."""
    marks = ["suspect"] if item.suspect else []
    if not isinstance(item, Sighting):
        for figures in _figures(item, layout):
            yield dict(zip(item.channels, figures, strict=True)), " ".join(marks)
        return
    marks = ["key", *marks] if item.key else marks
    marks = marks if item.count is None else [f"#{item.count}", *marks]
    yield {r.channel: in_mm(r.value, r.unit) for r in item.readings}, " ".join(marks)


def _wrapped(text: str) -> str:
    """In lines of 80 columns; bytes that are shown have no blanks and are cut."""
    return textwrap.fill(text, asking.WIDE, subsequent_indent="  ", break_on_hyphens=False)
