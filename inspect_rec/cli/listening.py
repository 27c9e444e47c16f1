"""Watch a readout: its live figures and alarms as they come, to see that it is understood."""

from __future__ import annotations

import json
import time
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import typer

from inspect_rec.cli import asking

if TYPE_CHECKING:
    from drivers.decoder import Alarm
    from inspect_rec.reading import Sighting

_EVERY_S = 0.2


def register(app: typer.Typer) -> None:
    """Enter the command."""
    app.command()(watch)


def watch(
    address: str = typer.Argument(
        "", metavar="[ADDRESS]", help="Of the readout; else that of station.toml."
    ),
    layout: str = typer.Option(
        "", "--layout", metavar="LAYOUT", help="A file or packaged name; else that of station.toml."
    ),
    seconds: float = typer.Option(
        0, "--seconds", metavar="N", min=0, help="Stop after so long; 0: at Ctrl-C."
    ),
    shop: str | None = asking.SHOP,
    as_json: bool = asking.AS_JSON,
) -> None:
    """Show live figures and alarms of a readout, and take nothing.

    Nothing is recorded. A figure that stands still is marked; each alarm says what to do.

    Example: inspect-rec readout watch COM3 --layout my-readout.toml
    """
    from drivers.decoder import Decoder
    from drivers.opening import opened
    from drivers.settled import Settled
    from drivers.transport import Back, Chunk
    from inspect_rec.cli.readout import named

    if not (address and layout):
        settings = asking.shop(shop).settings()
        address, layout = address or settings.readout, layout or settings.layout
    described = named(layout)
    decoder, settled = Decoder(described, "readout"), Settled(described)
    until = time.monotonic() + seconds if seconds else None
    told = _Told(as_json=as_json)
    try:
        with opened(address, described) as line:
            while until is None or time.monotonic() < until:
                found, at = line.poll(_EVERY_S), datetime.now(UTC)
                items: list[Sighting | Alarm] = []
                if isinstance(found, Chunk):
                    items = decoder.feed(found.data, found.at)
                elif found is not None:
                    back = isinstance(found, Back)
                    items = [decoder.back(found.at) if back else decoder.lost(found.at)]
                elif (alarm := decoder.silent(at)) is not None:
                    items = [alarm]
                for item in items:
                    told.item(item, settled)
    except KeyboardInterrupt:
        return
    finally:
        told.end()


class _Told:
    """What was shown: one line of figures that stays, and a line each for alarms and keys."""

    def __init__(self, *, as_json: bool) -> None:
        self._json = as_json
        self._open = False

    def item(self, item: Sighting | Alarm, settled: object) -> None:
        """A reading or an alarm."""
        from drivers.decoder import Alarm
        from drivers.settled import Settled, State

        assert isinstance(settled, Settled)  # noqa: S101 - told apart here to start fast
        if isinstance(item, Alarm):
            settled.lose()
            self._line({"alarm": item.code.value, "said": item.said}, f"! {item.said}")
            return
        settled.hear(item)
        still = settled.state(item.at) is State.STILL
        figures = {r.channel: format(r.value, "f") for r in item.readings}
        shown = "   ".join(f"{channel} {figure:>11}" for channel, figure in figures.items())
        state = "key" if item.key else "still" if still else "live"
        told = {"axes": figures, "state": state, "suspect": item.suspect}
        if item.key or self._json:
            self._line(told, f"{shown}   {state}")
        else:
            typer.echo(f"\r{shown}   {state:5}", nl=False)
            self._open = True

    def _line(self, told: Mapping[str, object], words: str) -> None:
        if self._json:
            typer.echo(json.dumps(told, ensure_ascii=False))
            return
        self.end()
        asking.say(words)

    def end(self) -> None:
        """Close the line of figures that stays."""
        if self._open:
            typer.echo("")
        self._open = False
