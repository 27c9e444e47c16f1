"""Commands for readouts: what a recorded line says."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from inspect_rec.cli import asking, learning, listening, simulating

if TYPE_CHECKING:
    from drivers.layout import Layout

app = typer.Typer(help="Connect, learn, watch, decode and simulate readouts.", no_args_is_help=True)
simulating.register(app)
listening.register(app)
learning.register(app)
LAYOUT = typer.Option(..., "--layout", metavar="LAYOUT", help="A TOML file, or a packaged name.")


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
    from inspect_rec.cli import decoded as said
    from inspect_rec.config import read_whole

    described = named(layout)
    found = recorded.read(read_whole(recording), recording.name)
    items = recorded.decoded(found, described)
    lines = said.as_json if as_json else said.table
    for text in said.together(lines(items, described, timed=found.timed)):
        typer.echo(text)


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
