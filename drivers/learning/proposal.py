"""A layout file with its evidence, and whether it decodes its own recording. Pure."""

from __future__ import annotations

import textwrap
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

from drivers.decoder import Alarm, Code, Decoder
from drivers.layout import Layout, parse
from drivers.learning.evidence import Setting, Undecided
from drivers.learning.line import quoted
from drivers.learning.recording import Recording
from drivers.parts import Port
from inspect_rec.errors import InputError
from inspect_rec.reading import Sighting

_WIDE = 96
_OF_PATTERN = ("axis", "minus", "key", "mark")
_START = datetime(2000, 1, 1, tzinfo=UTC)
_BLOCK = 4096
_EARNED = (Code.IMPLAUSIBLE, Code.ZERO, Code.SWAPPED, Code.DOUBLED, Code.UNIT, Code.MODE)
"""Alarms that a good frame may earn by what its figures do."""
_MOST_EARNED = 0.05
_GARBAGE = 0.3
"""Of the bytes at most are no frame of the layout; with more the recording is too poor."""


@dataclass(frozen=True, slots=True)
class Known:
    """What is known beside the recording. ``port``: settings with which it was heard, ``heard``:
    how they were found; ``asked``: the bytes that ask for a reading, where one asks."""

    port: Port = field(default_factory=Port)
    heard: str = ""
    asked: bytes = b""


@dataclass
class Draft:
    """What is known of a layout: lines of each table, by key, and the settings behind them."""

    id: str
    note: str
    tables: dict[str, list[tuple[str, str, str]]]
    """By table: (key, value as TOML, name of the setting that bears it)."""
    settings: list[Setting]
    fields: list[list[str]] = field(default_factory=list)

    def toml(self) -> str:
        """The layout file: each line under its evidence."""
        lines = [*_comment(self.note), f"id = {quoted(self.id)}", f"note = {quoted(self.note)}"]
        said: set[str] = set()
        for table, rows in self.tables.items():
            if not rows:
                continue
            lines += ["", f"[{table}]"]
            for key, value, setting in rows:
                if setting not in said:
                    names = [s.setting for s in self.settings if _bears(setting, s.setting)]
                    for name in dict.fromkeys(names):
                        lines += self._evidence(name)
                    said |= {setting, *names}
                lines.append(f"{key} = {value}" if key else value)
        for each in self.fields:
            lines += ["", "[[field]]", *each]
        left = [s.setting for s in self.settings if s.setting not in said]
        if left:
            lines += ["", "# What else was found:"]
            for name in left:
                lines += self._evidence(name)
        return "\n".join(lines) + "\n"

    def _evidence(self, name: str) -> list[str]:
        found = []
        for each in self.settings:
            if each.setting == name:
                proof = "" if each.proved else " (not proved)"
                words = "; ".join(each.for_) or "the usual one"
                against = f"; against: {'; '.join(each.against)}" if each.against else ""
                found += _comment(f"{each.setting} = {each.value}{proof}: {words}{against}")
        return found


def _bears(row: str, setting: str) -> bool:
    """Whether a line of the file rests on a setting: the pattern on all that it is made of."""
    return setting == row or (row == "pattern" and setting.split(maxsplit=1)[0] in _OF_PATTERN)


def _comment(text: str) -> list[str]:
    shown = text.encode("unicode_escape").decode("ascii")
    return [f"# {line}" for line in textwrap.wrap(shown, _WIDE, break_on_hyphens=False)]


@dataclass(frozen=True)
class Proposal:
    """A layout that decodes its recording. ``toml`` is the file, ``settings`` the evidence."""

    toml: str
    layout: Layout
    settings: tuple[Setting, ...]

    def body(self) -> dict[str, object]:
        """As it is written in JSON."""
        return {
            "layout": tomllib.loads(self.toml),
            "settings": [s.body() for s in self.settings],
            "decides": None,
        }


@dataclass(frozen=True)
class Expected:
    """What a decoder must give: figures of each frame alike, by the bytes of its body (``raw``),
    and how many frames of the recording are alike."""

    figures: Mapping[bytes, tuple[tuple[str, Decimal], ...]]
    frames: int


def held(
    drafts: Iterator[Draft],
    recording: Recording,
    expected: Expected,
    settings: list[Setting],
) -> Proposal:
    """The first draft that loads and decodes the recording as expected; raises Undecided with the
    settings, and why the last one doesn't."""
    why = "no layout can hold what was found"
    for draft in drafts:
        text = draft.toml()
        try:
            layout = parse(text, "learned")
        except InputError as error:
            why = "; ".join(f"{m.expected}, found {m.found}" for m in error.mistakes) or str(error)
            continue
        wrong = decodes(layout, recording, expected)
        if not wrong:
            return Proposal(text, layout, tuple(draft.settings))
        why = wrong
    raise Undecided(
        f"the layout that was found doesn't decode the recording ({why})",
        "record again for longer: hold still, move X by +10 mm, hold still",
        settings,
    )


def decodes(layout: Layout, recording: Recording, expected: Expected) -> str:
    """What is wrong with what the layout makes of the recording; "" where all is well."""
    sightings, alarms = _decoded(layout, recording)
    if len(sightings) < 0.97 * expected.frames - 2:
        return f"{len(sightings)} of {expected.frames} frames were decoded"
    known = 0
    for each in sightings:
        figures = expected.figures.get(each.raw)
        if figures is None:
            continue
        known += 1
        if tuple((r.channel, r.value) for r in each.readings) != figures:
            return f"{each.raw!r} was decoded to other figures than they are"
    # The first may be whole, though nothing shows it.
    if known < 0.9 * len(sightings) - 1:
        return f"{len(sightings) - known} frames were decoded that aren't alike"
    earned = [a for a in alarms if a.raw in expected.figures and a.code in _EARNED]
    if len(earned) > max(3, _MOST_EARNED * expected.frames):
        return f"{len(earned)} alarms such as: {earned[0].said}"
    corrupt = sum(len(a.raw) for a in alarms if a.code is Code.CORRUPT)
    if corrupt > _GARBAGE * len(recording.data):
        return f"{corrupt} of {len(recording.data)} bytes belong to no frame"
    return ""


def _decoded(layout: Layout, recording: Recording) -> tuple[list[Sighting], list[Alarm]]:
    decoder = Decoder(layout, "recording", timed=recording.timed)
    items: list[Sighting | Alarm] = []
    at = _START
    for seconds, data in recording.pieces():
        since = seconds - recording.instants[0] if recording.timed else 0.0
        at = _START + timedelta(seconds=since)
        for n in range(0, len(data), _BLOCK):
            items += decoder.feed(data[n : n + _BLOCK], at)
    items += decoder.close(at + timedelta(seconds=5))
    sightings = [item for item in items if isinstance(item, Sighting)]
    return sightings, [item for item in items if isinstance(item, Alarm)]


def port_rows(known: Known) -> tuple[list[tuple[str, str, str]], Setting]:
    """The table of the plug, and how it was found out."""
    port = known.port
    rows = [
        ("baud", str(port.baud), "port"),
        ("bytesize", str(port.bytesize), "port"),
        ("parity", quoted(port.parity), "port"),
        ("stopbits", str(port.stopbits), "port"),
    ]
    value = f"{port.baud} {port.bytesize}{port.parity}{port.stopbits}"
    if known.heard:
        return rows, Setting("port", value, (known.heard,))
    unseen = "a recording of bytes doesn't show the settings of the plug: set those of yours"
    return rows, Setting("port", value, (), (unseen,))


def several(settings: Sequence[Setting]) -> dict[str, Any]:
    """Settings by name, for those who look one up."""
    return {each.setting: each for each in settings}
