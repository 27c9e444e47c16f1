"""Learn a layout: from a recording, or while it listens and asks. Writes only when it is sure.

What the recording can't decide ends with exit code 3 and the one thing to do that would.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from inspect_rec.cli import asking

if TYPE_CHECKING:
    from drivers.learning.evidence import Setting, Undecided
    from drivers.learning.proposal import Known, Proposal
    from drivers.learning.recording import Move, Recording

UNDECIDED = 3
"""Exit code: the recording leaves more than one reading."""


def register(app: typer.Typer) -> None:
    """Enter the command."""
    app.command()(learn)


def learn(
    recording: Path | None = typer.Argument(
        None, metavar="[RECORDING]", help="Bare bytes, or JSON Lines with at and hex."
    ),
    moved: list[str] = typer.Option(
        [], "--moved", metavar="X=+10mm", help="What was moved meanwhile; once an axis."
    ),
    out: Path | None = typer.Option(None, "--out", metavar="FILE", help="Write the layout there."),
    port: str = typer.Option(
        "", "--port", metavar="ADDRESS", help="Listen there and ask, instead of a recording."
    ),
    asked: str = typer.Option(
        "", "--asked", metavar="TEXT", help=r"What asks for a reading, such as '%1\r'."
    ),
    as_json: bool = asking.AS_JSON,
) -> None:
    r"""Learn what a readout sends, from a recording or a port.

    Hold still, move one slide by a known way, hold still. Each setting comes with what speaks for
    and against it. Exit code 3: it can't be decided; the one move that decides is named.

    Example: inspect-rec readout learn line.jsonl --moved X=+10mm --out my.toml
    """
    from drivers.learning.evidence import Undecided
    from drivers.learning.recording import moves
    from inspect_rec.errors import InputError

    if (recording is None) == (not port):
        raise InputError("learn from one of both", expected="a recording or --port ADDRESS")
    if out is not None and out.exists():
        raise InputError("the file is there already", where=str(out), do="Name another one")
    stated = moves(moved)
    try:
        if recording is not None:
            found = _from_file(recording, stated, _known(asked))
        else:
            from inspect_rec.cli.teaching import taught

            found = taught(port, stated, _known(asked))
    except Undecided as undecided:
        _undecided(undecided, as_json=as_json)
        raise typer.Exit(UNDECIDED) from None
    _decided(found, out, as_json=as_json)


def _from_file(path: Path, stated: tuple[Move, ...], known: Known) -> Proposal:
    from drivers.learning.learn import learn as learned
    from drivers.learning.recording import read
    from inspect_rec.config import read_whole

    held: Recording = read(read_whole(path), path.name)
    return learned(held, stated, known)


def _known(asked: str) -> Known:
    from drivers.learning.proposal import Known
    from inspect_rec.errors import InputError

    try:
        request = asked.encode("latin-1").decode("unicode_escape").encode("latin-1")
    except (UnicodeError, ValueError) as error:
        expected = r"characters of one byte each, such as '%1\r' or '\x02R'"
        raise InputError("--asked can't be read", expected=expected, found=asked[:40]) from error
    return Known(asked=request)


def _decided(found: Proposal, out: Path | None, *, as_json: bool) -> None:
    if out is not None:
        from inspect_rec.config import write_whole

        write_whole(out, found.toml.encode())
    if as_json:
        typer.echo(json.dumps(found.body(), ensure_ascii=False))
    elif out is None:
        typer.echo(found.toml, nl=False)
    else:
        for setting in found.settings:
            asking.say(line(setting))
        asking.say(f"Written to {out}; it decodes the whole recording.")


def _undecided(undecided: Undecided, *, as_json: bool) -> None:
    if as_json:
        settings = [setting.body() for setting in undecided.settings]
        body = {"layout": None, "settings": settings, "why": undecided.why}
        typer.echo(json.dumps({**body, "decides": undecided.decides}, ensure_ascii=False))
        return
    for setting in undecided.settings:
        asking.say(line(setting))
    asking.say(f"Not decided: {undecided.why}.")
    asking.say(f"What decides: {undecided.decides}.")
    asking.say("A recording may hold several moves, one after the other: state each with --moved.")


def line(setting: Setting) -> str:
    """A setting with its evidence."""
    proof = "proved" if setting.proved else "not proved"
    against = f"; against: {'; '.join(setting.against)}" if setting.against else ""
    words = "; ".join(setting.for_) or "the usual one"
    return f"{setting.setting}: {setting.value} ({proof}). {words}{against}"
