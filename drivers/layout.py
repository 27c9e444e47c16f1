"""A readout's line layout, described by data: port settings, frame pattern, unit, mode, rules.

A layout is one TOML file; no code knows any one readout. Mistakes in it are reported all at
once, each with its line. Knows nothing of the application but readings, units and errors.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from importlib import resources
from typing import Any

from inspect_rec.errors import InputError, Mistake
from inspect_rec.units import Unit

_LARGEST = 64 * 1024


@dataclass(frozen=True, slots=True)
class Port:
    """Settings of a serial port."""

    baud: int = 9600
    bytesize: int = 8
    parity: str = "N"
    stopbits: int = 1


@dataclass(frozen=True, slots=True)
class Layout:
    """Everything that is known of a readout before its first byte."""

    id: str
    port: Port
    terminator: bytes
    pattern: re.Pattern[bytes]
    longest: int
    unit: Unit
    unit_words: Mapping[bytes, Unit]
    mode: str
    mode_words: Mapping[bytes, str]
    decimals: int
    sends: str
    settled_reads: int
    settled_apart_ms: int
    lockout_ms: int
    silent_s: float
    least: Decimal
    most: Decimal
    fastest_mm_per_s: Decimal

    @property
    def on_key(self) -> bool:
        """Whether the readout sends on its own key only: then there is no live figure."""
        return self.sends == "on key"


class _Table:
    """Values of one table of the file, each checked as it is taken."""

    def __init__(self, name: str, text: str, file: str, values: object) -> None:
        self.name, self.text, self.file = name, text, file
        self.values: Mapping[str, Any] = values if isinstance(values, Mapping) else {}
        self.mistakes: list[Mistake] = []
        self.taken: set[str] = set()

    def where(self, key: str) -> str:
        """File and line of a key, or of the table."""
        table = ""
        for number, line in enumerate(self.text.splitlines(), 1):
            bare = line.strip()
            if bare.startswith("["):
                table = bare.strip("[] ")
            elif table == self.name and re.match(rf"{re.escape(key)}\s*=", bare):
                return f"{self.file}:{number}"
        return f"{self.file} [{self.name}]" if self.name else self.file

    def wrong(self, key: str, expected: str) -> None:
        """Note a mistake."""
        found = repr(self.values.get(key, "nothing"))[:60]
        self.mistakes.append(Mistake(self.where(key), f"{key} = {expected}", found))

    def text_(self, key: str, default: str | None = None, among: tuple[str, ...] = ()) -> str:
        """A text, one of ``among`` where that is stated."""
        value = self._take(key, default)
        if not isinstance(value, str) or not value or (among and value not in among):
            self.wrong(key, " or ".join(map(repr, among)) or "a text")
            return default or (among[0] if among else "")
        return value

    def whole(self, key: str, default: int, least: int, most: int) -> int:
        """A whole number within bounds."""
        value = self._take(key, default)
        if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
            self.wrong(key, f"a whole number from {least} to {most}")
            return default
        return value

    def number(self, key: str, default: str) -> Decimal:
        """An exact number."""
        value = self._take(key, Decimal(default))
        if isinstance(value, bool) or not isinstance(value, int | Decimal):
            self.wrong(key, "a number")
            return Decimal(default)
        return Decimal(value)

    def words(self, key: str) -> Mapping[str, str]:
        """A table of texts."""
        value = self._take(key, {})
        if not isinstance(value, Mapping) or not all(isinstance(v, str) for v in value.values()):
            self.wrong(key, "a table of texts")
            return {}
        return value

    def _take(self, key: str, default: object) -> object:
        self.taken.add(key)
        return self.values.get(key, default)

    def left(self) -> list[Mistake]:
        """Keys that nobody knows."""
        return [
            Mistake(self.where(key), "no such key", repr(key))
            for key in self.values
            if key not in self.taken and not isinstance(self.values[key], Mapping)
        ]


def parse(text: str, name: str) -> Layout:
    """A layout from its TOML text; raises InputError with every mistake and its line."""
    if len(text) > _LARGEST:
        raise InputError("the layout is too large", where=name)
    try:
        values = tomllib.loads(text, parse_float=Decimal)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise InputError("the layout is no TOML", found=str(error)[:100], where=name) from error
    tables = {
        key: _Table(key, text, name, values.get(key, {}))
        for key in ("port", "frame", "figures", "rules")
    }
    top = _Table("", text, name, values)
    layout = _layout(top, **tables)
    mistakes = [m for t in (top, *tables.values()) for m in (*t.mistakes, *t.left())]
    if mistakes or layout is None:
        raise InputError("the layout has mistakes", mistakes, where=name)
    return layout


def _layout(
    top: _Table, port: _Table, frame: _Table, figures: _Table, rules: _Table
) -> Layout | None:
    pattern = _pattern(frame)
    unit = Unit(figures.text_("unit", "mm", ("mm", "in")))
    units = {
        word.encode("latin-1", "replace"): Unit(said)
        for word, said in figures.words("unit_words").items()
        if said in ("mm", "in")
    }
    modes = {
        word.encode("latin-1", "replace"): said
        for word, said in figures.words("mode_words").items()
    }
    made = {
        "id": top.text_("id"),
        "port": Port(
            port.whole("baud", 9600, 110, 921600),
            port.whole("bytesize", 8, 7, 8),
            port.text_("parity", "N", ("N", "E", "O")),
            port.whole("stopbits", 1, 1, 2),
        ),
        "terminator": frame.text_("terminator", "\r\n").encode("latin-1", "replace"),
        "longest": frame.whole("longest", 64, 4, 4096),
        "mode": figures.text_("mode", "radius", ("radius", "diameter")),
        "decimals": figures.whole("decimals", 3, 0, 6),
        "sends": rules.text_("sends", "continuously", ("continuously", "on key")),
        "settled_reads": rules.whole("settled_reads", 2, 2, 20),
        "settled_apart_ms": rules.whole("settled_apart_ms", 300, 100, 5000),
        "lockout_ms": rules.whole("lockout_ms", 300, 0, 2000),
        "silent_s": float(rules.number("silent_s", "2.0")),
        "least": rules.number("least", "-2000"),
        "most": rules.number("most", "2000"),
        "fastest_mm_per_s": rules.number("fastest_mm_per_s", "500"),
    }
    if pattern is None:
        return None
    return Layout(
        pattern=pattern,
        unit=unit,
        unit_words=units,
        mode_words=modes,
        **made,  # type: ignore[arg-type]
    )


def _pattern(frame: _Table) -> re.Pattern[bytes] | None:
    """The pattern of one complete line, without its terminator."""
    text = frame.text_("pattern")
    try:
        pattern = re.compile(text.encode("latin-1"))
    except (re.error, UnicodeEncodeError, RecursionError) as error:
        frame.wrong("pattern", f"a regular expression ({error})")
        return None
    known = {"x", "z", "key", "unit", "mode"}
    if not {"x", "z"} & set(pattern.groupindex) or set(pattern.groupindex) - known:
        frame.wrong("pattern", "named groups x and z, and if need be key, unit, mode")
        return None
    if re.search(r"[+*}]\)?[+*{]", text):
        frame.wrong("pattern", "no repeat of a repeat, which may take for ever")
        return None
    return pattern


def packaged() -> Mapping[str, Layout]:
    """The layouts that come with the program, by id."""
    folder = resources.files("drivers") / "layouts"
    found = (
        parse(f.read_text(encoding="utf-8"), f.name)
        for f in sorted(folder.iterdir(), key=lambda f: f.name)
        if f.name.endswith(".toml")
    )
    return {layout.id: layout for layout in found}
