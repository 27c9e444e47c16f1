"""Guided measuring in the terminal: line and keys in, entries on disk, the screen out.

Reads the clock and the line, and writes raw bytes to the journal before they are decoded; what is
taken and what is said is the capture's business. Never writes to a readout.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from drivers import layout as layouts
from drivers import replay, table
from drivers.decoder import Alarm, Decoder
from drivers.layout import Layout
from drivers.lines import Lines
from drivers.opening import is_standard_input, opened
from drivers.settled import State
from drivers.transport import Back, Chunk, Lost
from inspect_rec.capture import Capture, Said
from inspect_rec.cli import keys, screen
from inspect_rec.cli.console import Console
from inspect_rec.config import Folder, read_text
from inspect_rec.errors import InputError, Mistake
from inspect_rec.reading import Sighting
from inspect_rec.store import Store
from inspect_rec.store.journal import Journal

_EVERY_S = 0.05
"""Between two looks at the live figure."""


def run(
    folder: Folder,
    inspection: str,
    person: str,
    *,
    recording: Path | None = None,
    readout: str | None = None,
    plain: bool = False,
) -> None:
    """Measure until everything is taken or the person leaves."""
    settings = folder.settings()
    layout = _layout(settings.layout)
    address = readout or settings.readout
    if recording is None and not address:
        raise InputError(
            "no readout is named",
            expected="readout = its address",
            where=str(folder.station),
            do="Name it there, or with --readout; or play a --recording",
        )
    others = {also.source: _layout(also.layout) for also in settings.also}
    with ExitStack() as stack:
        store = stack.enter_context(Store.open(folder.ledger))
        capture = Capture(store, inspection, person, layout, others)
        console = stack.enter_context(Console(capture, plain=plain))
        console.said = _back(capture)
        console.show(State.LOST)
        if recording is not None:
            _replay(recording, capture, console)
            return
        main = capture.inspection.record.set_up.readout
        addresses = {main: address} | {also.source: also.address for also in settings.also}
        layouts_ = {main: layout, **others}
        heard = {
            source: _Heard(
                Decoder(layouts_[source], source),
                stack.enter_context(Journal(folder.journal, source)),
                "" if source == main else source,
            )
            for source in addresses
        }
        lines = [
            (source, opened(address, layouts_[source])) for source, address in addresses.items()
        ]
        news = stack.enter_context(Lines(lines))
        console.ready()
        piped = not any(is_standard_input(address) for address in addresses.values())
        pressed = stack.enter_context(keys.opened(piped=piped))
        with suppress(KeyboardInterrupt):  # everything is on disk: it is a way to leave
            _loop(news, pressed, capture, console, heard)


@dataclass(frozen=True, slots=True)
class _Heard:
    """One readout: its decoder, its journal, and its name for the capture (empty: the slides')."""

    decoder: Decoder
    journal: Journal
    name: str


def _back(capture: Capture) -> str:
    """Where it goes on after it was left, or after the power was lost."""
    if capture.taken() is None or capture.step is None:
        return ""
    first, _ = screen.prompt(capture.step, capture.inspection)
    kept = len(capture.inspection.standing)
    return f"Back at: {first}. {kept} reading{'s are' if kept > 1 else ' is'} kept"


def _layout(name: str) -> Layout:
    known = layouts.packaged()
    if name in known:
        return known[name]
    path = Path(name)
    if path.suffix == ".toml":
        return layouts.parse(read_text(path), path.name)
    raise InputError("no such layout", expected=" | ".join(known), found=name)


def _loop(
    lines: Lines,
    pressed: keys.Keys,
    capture: Capture,
    console: Console,
    heard: Mapping[str, _Heard],
) -> None:
    while True:
        news = lines.poll(_EVERY_S)
        at = datetime.now(UTC)
        if news is not None:
            each = heard[news.source]
            if isinstance(news.what, Chunk) and (
                wrong := each.journal.write(news.what.data, news.what.at)
            ):
                # Figures go on: an entry holds the bytes of its own reading.
                console.tell(Said(wrong, ok=False))
            for item in _items(news.what, each.decoder):
                console.hear(item, each.name)
        for each in heard.values():
            # Where other news wait it isn't known yet that nothing came.
            for item in each.decoder.idle(at) if news is None else ():
                console.hear(item, each.name)
            if (alarm := each.decoder.silent(at)) is not None:
                console.hear(alarm, each.name)
        while (key := pressed.next()) is not None:
            if not console.key(key, datetime.now(UTC)):
                return
        console.show(capture.live(at))
        if capture.step is None and console.plain:
            print("done", flush=True)
            return


def _items(found: Chunk | Lost | Back, decoder: Decoder) -> Iterator[Sighting | Alarm]:
    """What the line's news means."""
    if isinstance(found, Chunk):
        yield from decoder.feed(found.data, found.at)
    elif isinstance(found, Lost):
        yield decoder.lost(found.at, found.why)
    else:
        yield decoder.back(found.at)


def _replay(path: Path, capture: Capture, console: Console) -> None:
    """A recording, or a CSV of sightings, instead of line and keys, as fast as the disk is."""
    source = capture.inspection.record.set_up.readout
    if path.suffix.lower() == ".csv":
        sightings, bad = table.read(read_text(path), path.name, source)
        _stop_at(bad, path)
        for sighting in sightings:
            console.hear(sighting)
    else:
        lines, bad = replay.read(read_text(path), path.name)
        _stop_at(bad, path)
        decoder = Decoder(capture.layout, source)
        started = time.monotonic()
        for each in lines:
            _replay_line(each, capture, decoder, console)
            if time.monotonic() - started > _EVERY_S:
                started = time.monotonic()
                console.show(capture.live(each.at))
    console.tell(Said("The recording is at its end"))
    console.show(State.LOST)
    if console.plain:
        print("done", flush=True)


def _stop_at(bad: list[Mistake], path: Path) -> None:
    """A file with bad lines is played not at all, so that no reading takes another's place."""
    if bad:
        raise InputError("the file has bad lines; nothing was taken", bad, where=path.name)


def _replay_line(each: replay.Played, capture: Capture, decoder: Decoder, console: Console) -> None:
    at, more = each.at, each.more
    for item in decoder.idle(at) if each.act else ():
        console.hear(item)
    if each.data:
        for item in decoder.feed(each.data, at):
            console.hear(item)
    elif each.act == "take":
        console.tell(capture.take(at))
    elif each.act == "type":
        console.tell(capture.type(str(more["text"])))
    elif each.act == "ground again":
        infeed, how = str(more.get("infeed_mm", "")), str(more.get("how", ""))
        console.tell(capture.ground_again(at, int(more["flute"]), infeed, how))
    elif each.act in ("clamped", "unclamped"):
        thing = str(more["object"]).split(" on ")[0]
        console.tell(capture.event(at, each.act, {"object": thing}))
