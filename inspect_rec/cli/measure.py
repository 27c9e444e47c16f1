"""Guided measuring in the terminal: line and keys in, entries on disk, the screen out."""

from __future__ import annotations

import json
import re
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TextIO

from drivers import layout as layouts
from drivers import replay, table
from drivers.decoder import Alarm, Code, Decoder
from drivers.layout import Layout
from drivers.settled import State
from drivers.transport import Back, Chunk, Line, Lost
from inspect_rec.capture import REASONS, Capture, Said
from inspect_rec.cli import keys, screen
from inspect_rec.config import Folder, read_text
from inspect_rec.errors import InputError, Mistake
from inspect_rec.store import Store

_DIGIT = re.compile(r"[0-9.,+-]")
_EVERY_S = 0.1
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
    with ExitStack() as stack:
        store = stack.enter_context(Store.open(folder.ledger))
        capture = Capture(store, inspection, person, layout)
        face = _Face(capture, plain=plain)
        face.show(State.LOST)
        if recording is not None:
            _replay(recording, capture, face)
            return
        folder.journal.mkdir(parents=True, exist_ok=True)
        name = f"{datetime.now(UTC):%Y%m%dT%H%M%S}.jsonl"
        journal = stack.enter_context((folder.journal / name).open("a", encoding="utf-8"))
        line = stack.enter_context(Line(address, layout))
        _loop(line, stack.enter_context(keys.opened()), capture, face, journal)


def _layout(name: str) -> Layout:
    known = layouts.packaged()
    if name in known:
        return known[name]
    path = Path(name)
    if path.suffix == ".toml":
        return layouts.parse(read_text(path), path.name)
    raise InputError("no such layout", expected=" | ".join(known), found=name)


class _Face:
    """What the person sees, and the few things that take more than one key."""

    def __init__(self, capture: Capture, *, plain: bool) -> None:
        self.capture, self.plain = capture, plain
        self.said = ""
        self.asked = ""
        self.digits = ""
        self._shown: list[str] = []

    def tell(self, said: Said | None) -> None:
        """An answer: on the screen, or a line that a test can wait for."""
        if said is None:
            return
        self.said = said.words
        if not self.plain:
            return
        entry = said.entry
        if entry is not None and entry.kind == "reading":
            place = json.dumps(entry.body["place"], sort_keys=True)
            print(f"taken {entry.seq} {place}", flush=True)
        else:
            print(f"{'said' if said.ok else 'refused'} {said.words}", flush=True)

    def show(self, state: State) -> None:
        """Draw what changed."""
        if self.plain:
            return
        said = self.asked or self.said
        lines = screen.draw(screen.view(self.capture, state, said))
        if lines == self._shown:
            return
        first = "\x1b[2J\x1b[H" if not self._shown else "\x1b[H"
        self._shown = lines
        sys.stdout.write(first + "\x1b[K\r\n".join(lines) + "\x1b[K")
        sys.stdout.flush()

    def key(self, key: str, at: datetime) -> bool:
        """Act on a key; False to leave."""
        if self.asked:
            self.tell(self._answer(key, at))
            return True
        if key == keys.LEAVE or key in "qQ":
            return False
        self.tell(self._act(key, at))
        return True

    def _act(self, key: str, at: datetime) -> Said | None:
        capture = self.capture
        if key == keys.TAKE:
            self.digits = ""
            return capture.take(at)
        if key == keys.STRIKE:
            return self._strike()
        if _DIGIT.fullmatch(key) and capture.step is not None and capture.step.by_eye:
            self.digits = (self.digits + key)[:12]
            return capture.type(self.digits)
        if key in "gG":
            self.asked = f"Ground again: which {capture.inspection.tool.edge_word}? 0 = all"
        elif key in "dD":
            return capture.event(at, "wheel dressed", {})
        elif key in "zZ":
            body = {"slide": "", "before_mm": "", "after_mm": "", "why": "by key"}
            return capture.event(at, "datum set anew", body)
        elif key in "hH?":
            self.said = " ".join(screen.HELP)
        return None

    def _strike(self) -> Said | None:
        """Typed digits go first; then the last reading, with a reason."""
        if self.digits or self.capture.pending:
            self.digits = ""
            self.capture.type("")
            return Said("Typed figure cleared")
        reasons = "  ".join(f"{n} {r}" for n, r in enumerate(REASONS, 1))
        self.asked = f"Strike out the last, why? {reasons}  (other key: leave it)"
        return None

    def _answer(self, key: str, at: datetime) -> Said | None:
        question, self.asked = self.asked, ""
        if question.startswith("Strike"):
            if key in "1234":
                return self.capture.strike_out(at, REASONS[int(key) - 1])
            return Said("Nothing struck out")
        if not key.isdigit() or int(key) > self.capture.inspection.tool.edges:
            return Said("Nothing ground")
        return self.capture.ground_again(at, int(key), "", "")


def _loop(line: Line, pressed: keys.Keys, capture: Capture, face: _Face, journal: TextIO) -> None:
    decoder = Decoder(capture.layout, capture.inspection.record.set_up.readout)
    while True:
        found = line.poll(_EVERY_S)
        at = datetime.now(UTC)
        for item in _items(found, decoder, at, journal):
            face.tell(capture.hear(item))
        while (key := pressed.next()) is not None:
            if not face.key(key, datetime.now(UTC)):
                return
        face.show(capture.live(at))
        if capture.step is None and face.plain:
            print("done", flush=True)
            return


def _items(
    found: Chunk | Lost | Back | None, decoder: Decoder, at: datetime, journal: TextIO
) -> Iterator[Any]:
    """What came: bytes are in the journal before they are decoded."""
    if isinstance(found, Chunk):
        stamp = found.at.isoformat().replace("+00:00", "Z")
        journal.write(json.dumps({"at": stamp, "hex": found.data.hex()}) + "\n")
        journal.flush()
        yield from decoder.feed(found.data, found.at)
    elif isinstance(found, Lost):
        yield decoder.lost(found.at)
    elif isinstance(found, Back):
        yield Alarm(Code.BACK, "The readout's line is back", b"", found.at)
    elif (alarm := decoder.silent(at)) is not None:
        yield alarm


def _replay(path: Path, capture: Capture, face: _Face) -> None:
    """A recording, or a CSV of sightings, instead of line and keys, as fast as the disk is."""
    source = capture.inspection.record.set_up.readout
    if path.suffix.lower() == ".csv":
        sightings, bad = table.read(read_text(path), path.name, source)
        _stop_at(bad, path)
        for sighting in sightings:
            face.tell(capture.hear(sighting))
    else:
        lines, bad = replay.read(read_text(path), path.name)
        _stop_at(bad, path)
        decoder = Decoder(capture.layout, source)
        started = time.monotonic()
        for each in lines:
            _replay_line(each, capture, decoder, face)
            if time.monotonic() - started > _EVERY_S:
                started = time.monotonic()
                face.show(capture.live(each.at))
    face.show(State.LOST)
    print("done" if face.plain else "\nThe recording is at its end.", flush=True)


def _stop_at(bad: list[Mistake], path: Path) -> None:
    """A file with bad lines is played not at all, so that no reading takes another's place."""
    if bad:
        raise InputError("the file has bad lines; nothing was taken", bad, where=path.name)


def _replay_line(each: replay.Played, capture: Capture, decoder: Decoder, face: _Face) -> None:
    at, more = each.at, each.more
    if each.data:
        for item in decoder.feed(each.data, at):
            face.tell(capture.hear(item))
    elif each.act == "take":
        face.tell(capture.take(at))
    elif each.act == "type":
        face.tell(capture.type(str(more["text"])))
    elif each.act == "ground again":
        infeed, how = str(more.get("infeed_mm", "")), str(more.get("how", ""))
        face.tell(capture.ground_again(at, int(more["flute"]), infeed, how))
    elif each.act in ("clamped", "unclamped"):
        thing = str(more["object"]).split(" on ")[0]
        face.tell(capture.event(at, each.act, {"object": thing}))
