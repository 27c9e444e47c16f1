"""Commands for readouts: what a recorded line says."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from inspect_rec.cli import asking, learning, listening, simulating

if TYPE_CHECKING:
    from drivers.decoder import Alarm
    from drivers.layout import Layout
    from drivers.recorded import At
    from inspect_rec.reading import Reading, Sighting

app = typer.Typer(help="Connect, learn, watch, decode and simulate readouts.", no_args_is_help=True)
simulating.register(app)
listening.register(app)
learning.register(app)
LAYOUT = typer.Option(..., "--layout", metavar="LAYOUT", help="A TOML file, or a packaged name.")

_AT, _FIGURE = 28, 13
"""Columns of an instant and of a figure."""


@app.command()
def decode(
    recording: Path = typer.Argument(
        ..., metavar="RECORDING", help="The bytes, or JSON Lines with at and hex."
    ),
    layout: str = LAYOUT,
    as_json: bool = asking.AS_JSON,
) -> None:
    """Say what a recorded line holds: each reading, and each alarm.

    Figures are those of the display, in mm; nothing is halved. Bytes without instants are held to
    the widest of what a readout can do in time.

    Example: inspect-rec readout decode --layout "two-axis line" line.jsonl
    """
    from drivers import recorded
    from inspect_rec.config import read_whole

    described = named(layout)
    found = recorded.read(read_whole(recording), recording.name)
    items = recorded.decoded(found, described)
    lines = _as_json(items, described) if as_json else _table(items, described, timed=found.timed)
    for line in lines:
        typer.echo(line)


def named(name: str) -> Layout:
    """A packaged layout by its id or the name of its file, or one from a TOML file."""
    from drivers.layout import packaged, parse
    from inspect_rec.config import read_text
    from inspect_rec.errors import InputError

    path, known = Path(name), packaged()
    for each, layout in known.items():
        if name in (each, each.replace(" ", "-")):
            return layout
    if path.suffix.lower() != ".toml" and not path.is_file():
        expected = f"a TOML file | {' | '.join(known)}"
        raise InputError("no such layout", expected=expected, found=name)
    return parse(read_text(path), path.name)


def _as_json(items: Iterator[tuple[At, Sighting | Alarm]], layout: Layout) -> Iterator[str]:
    from drivers.decoder import Alarm

    for at, item in items:
        said: dict[str, Any]
        if isinstance(item, Alarm):
            said = {"at": at, "alarm": item.code.value, "said": item.said}
        else:
            said = {
                "at": at,
                "axes": {reading.channel: _figure(reading) for reading in item.readings},
                "unit_sent": layout.figures.unit.value,
                "mode_sent": _mode(item, layout),
                "key": item.key,
                "count": item.count,
                "suspect": item.suspect,
            }
        yield json.dumps(said, ensure_ascii=False)


def _figure(reading: Reading) -> str:
    """In mm, exact; what is no length as it is shown."""
    from inspect_rec.units import Unit, to_mm

    lengths = (Unit.MM, Unit.INCH)
    value = to_mm(reading.value, reading.unit) if reading.unit in lengths else reading.value
    return format(value, "f")


def _mode(sighting: Sighting, layout: Layout) -> str | None:
    """What the frame says of X, or of a layout that says diameter once for all."""
    return sighting.mode or ("diameter" if layout.figures.mode == "diameter" else None)


def _table(
    items: Iterator[tuple[At, Sighting | Alarm]], layout: Layout, *, timed: bool
) -> Iterator[str]:
    """For people: a line each, of 80 columns."""
    from drivers.decoder import Alarm

    channels = layout.channels
    places = {channel: max(_FIGURE, len(channel) + 2) for channel in channels}
    head = "".join(channel.rjust(places[channel]) for channel in channels)
    unit = layout.figures.unit
    yield f"Layout {layout.id}; lengths in mm{', sent in inch' if unit == 'in' else ''}"
    yield f"{'at'.ljust(_AT) if timed else ''}{head}"
    readings, alarms, suspect = 0, 0, None
    for at, item in items:
        stamp = str(at)[:_AT].ljust(_AT) if timed else ""
        if isinstance(item, Alarm):
            alarms += 1
            yield _wrapped(f"! {f'{at}: ' if timed else ''}{item.code}. {item.said}")
            continue
        readings += 1
        if item.suspect != suspect:
            suspect = item.suspect
            yield asking.wrapped(
                f"? What follows is {f'suspect: {suspect}' if suspect else 'good'}"
            )
        shown = {reading.channel: _figure(reading) for reading in item.readings}
        figures = "".join(shown.get(c, "").rjust(places[c]) for c in channels)
        marks = [] if item.count is None else [f"#{item.count}"]
        marks += [word for word, said in (("key", item.key), ("suspect", item.suspect)) if said]
        yield f"{stamp}{figures}  {' '.join(marks)}".rstrip()
    yield f"{readings} reading{'s' * (readings != 1)}, {alarms} alarm{'s' * (alarms != 1)}."


def _wrapped(text: str) -> str:
    """In lines of 80 columns; bytes that are shown have no blanks and are cut."""
    return textwrap.fill(text, asking.WIDE, subsequent_indent="  ", break_on_hyphens=False)
