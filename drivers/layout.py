"""A readout's layout, described by data: port, frames, fields, words, check, rules.

A layout is one TOML file (docs/describe-a-layout.md); no code knows any one readout. Mistakes in it
are reported all at once, each with its line. Knows nothing of the application but units and errors.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from importlib import resources

from drivers import stated
from drivers.described import Table
from drivers.parts import (
    CHANNELS,
    FIGURE,
    WORDS,
    Asks,
    Check,
    Field,
    Figures,
    Frame,
    Modbus,
    Port,
    Rules,
)
from drivers.pattern import PatternError, Shape, compiled, shape
from inspect_rec.errors import InputError

_LARGEST, _LONGEST_LINE = 16 * 1024, 1000
"""Characters: the parser takes quadratic time on a long dotted key, and is kept from it."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Everything that is known of a readout before its first byte. ``pattern`` of a text layout and
    the ``shape`` of its lines, ``fields`` of a binary one."""

    id: str
    port: Port
    frame: Frame
    figures: Figures
    rules: Rules
    pattern: re.Pattern[bytes] | None = None
    shape: Shape | None = None
    fields: tuple[Field, ...] = ()
    check: Check | None = None
    asks: Asks | None = None
    modbus: Modbus | None = None
    note: str = ""

    @property
    def on_key(self) -> bool:
        """Whether the readout sends on its own key only: then there is no live figure."""
        return self.rules.sends == "on key"

    @property
    def silent_s(self) -> float | None:
        """Seconds without a byte after which something is wrong; None where silence means
        nothing."""
        if self.on_key:
            return None
        asked = self.asks or self.modbus
        due_s = 0 if asked is None else (asked.every_ms + asked.answer_ms) / 1000
        return max(self.rules.silent_s, due_s)

    @property
    def channels(self) -> tuple[str, ...]:
        """The channels whose figures it sends, in the order of their names."""
        if self.figures.axes:
            return tuple(sorted(set(self.figures.axes.values())))
        return tuple(channel for name, channel in CHANNELS.items() if name in self.names)

    @property
    def names(self) -> frozenset[str]:
        """Its groups or fields."""
        if self.pattern is not None:
            return frozenset(self.pattern.groupindex)
        return frozenset(each.name for each in self.fields)


_DIGITS = tuple(bytes([n]) for n in b"0123456789+- ")
_TABLES = ("port", "asks", "modbus", "frame", "axes", "figures", "check", "rules")
_SEVERAL = "field"


def parse(text: str, name: str) -> Layout:
    """A layout from its TOML text; raises InputError with every mistake and its line."""
    if len(text) > _LARGEST or max(map(len, text.splitlines()), default=0) > _LONGEST_LINE:
        raise InputError("the layout is too large", where=name)
    try:
        values = tomllib.loads(text, parse_float=Decimal)
    except (ValueError, RecursionError, ArithmeticError) as error:
        raise InputError("the layout is no TOML", found=str(error)[:100], where=name) from error
    top = Table("", text, name, values)
    tables = {key: Table(key, text, name, values.get(key, {})) for key in _TABLES}
    top.taken.update((*_TABLES, _SEVERAL))
    for key in _TABLES:
        if not isinstance(values.get(key, {}), Mapping):
            top.wrong(key, "a table")
    listed = values.get(_SEVERAL, [])
    if not isinstance(listed, list) or not all(isinstance(each, Mapping) for each in listed):
        top.wrong(_SEVERAL, "tables in double brackets")
        listed = []
    fields = [Table(_SEVERAL, text, name, each, n) for n, each in enumerate(listed[:64])]
    layout = _layout(top, tables, fields)
    mistakes = [m for t in (top, *tables.values(), *fields) for m in t.found()]
    if mistakes or layout is None:
        raise InputError("the layout has mistakes", mistakes, where=name)
    return layout


def _layout(top: Table, tables: Mapping[str, Table], listed: list[Table]) -> Layout | None:
    frame, words = stated.frame(tables["frame"], binary=bool(listed)), tables["figures"]
    figures = stated.figures(words, tables["axes"])
    fields = tuple(stated.field(each) for each in listed)
    pattern = None if listed else _pattern(tables["frame"], frame, figures)
    names = frozenset(pattern.groupindex) if pattern else frozenset(f.name for f in fields)
    text = pattern.pattern.decode("latin-1") if pattern else ""
    made = Layout(
        id=top.text_("id", longest=60),
        note=top.text_("note", "", longest=900),
        port=stated.port(tables["port"]),
        asks=stated.asks(tables["asks"]),
        modbus=stated.modbus(tables["modbus"]),
        check=stated.check(tables["check"]),
        # Without a pattern nobody knows which channels it should have had.
        rules=stated.rules(tables["rules"], names or frozenset(CHANNELS), figures),
        frame=frame,
        figures=figures,
        pattern=pattern,
        shape=shape(text, frame.longest, figures.point) if pattern else None,
        fields=fields,
    )
    if pattern is not None:
        _words_belong(words, tables["axes"], tables["frame"], names, figures)
    elif listed:
        _fields_belong(made, listed)
    else:
        return None
    _is_found(made, tables["frame"])
    return made


def _words_belong(
    given: Table, axes: Table, frame: Table, names: frozenset[str], figures: Figures
) -> None:
    """Each group has its words, and words have their group."""
    for group, words, own in (
        ("unit", figures.unit_words, figures.unit),
        ("mode", figures.mode_words, figures.mode),
        ("counting", figures.counting_words, "absolute"),
    ):
        if (group in names) != (own in words.values()):
            expected = f"a meaning for what group {group} says, {own} among them"
            given.wrong(f"{group}_words", expected)
    if ("status" in names) != bool(figures.good):
        given.wrong("good", "the words of the group status that say that all is well")
    if ("axis" in names) != bool(figures.axes):
        axes.wrong("words", "the words of the group axis, each with its channel")
    if ("axis" in names) != (FIGURE in names) or not (names & {*CHANNELS, FIGURE}):
        frame.wrong("pattern", "named groups x and z, or axis and figure")
    for name in names - {*CHANNELS, *WORDS, FIGURE, "sign"}:
        of, _, tail = name.rpartition("_")
        if tail not in ("sign", "doubled") or of not in names or of == FIGURE:
            frame.wrong("pattern", "groups that docs/describe-a-layout.md names")
    if ("sign" in names) and FIGURE not in names:
        frame.wrong("pattern", "sign beside the group figure; x_sign beside x")


def _fields_belong(layout: Layout, listed: list[Table]) -> None:
    """Each field stands once, within its frame, and leans on fields that are there."""
    names = [each.name for each in layout.fields]
    for each, given in zip(layout.fields, listed, strict=True):
        of, _, tail = each.name.rpartition("_")
        if names.count(each.name) > 1 and each.name != "fixed":
            given.wrong("name", "another name for each field but fixed")
        elif tail in ("sign", "doubled") and of not in names:
            given.wrong("name", f"a field {of} beside it")
        if layout.frame.length and each.at + each.size > layout.frame.length:
            given.wrong("at", f"a place within the frame's {layout.frame.length} bytes")
        if each.mask >> 8 * each.size:
            given.wrong("mask", "bits within its bytes")
        if each.order == "swapped words" and each.size % 2:
            given.wrong("order", "a whole number of 16-bit words")
        if each.scale_from and each.scale_from not in names:
            given.wrong("scale_from", "the name of a field that says what a step is worth")
        if (each.name in stated.MEANT or tail == "sign") and not each.words:
            given.wrong("words", "what its numbers mean")
    if not {*names} & {*CHANNELS}:
        listed[0].wrong("name", "x, z or another figure in one of the fields")


def _is_found(layout: Layout, given: Table) -> None:
    """Where nothing marks a frame's beginning, one that is cut in two could pass as another."""
    frame, shape = layout.frame, layout.shape
    if layout.modbus is not None:
        if shape or frame.header or frame.length != 2 * layout.modbus.count:
            given.wrong("length", f"{2 * layout.modbus.count}, two bytes a register, no header")
        return
    if shape is None:
        digits = (
            all(each.as_ == "text" for each in layout.fields) and frame.header[:1] not in _DIGITS
        )
        if layout.check is None and not (digits and frame.header):
            given.wrong("length", "a check in a binary frame: its header may stand within a figure")
        if frame.terminator and not frame.width:
            given.wrong("width", "bytes between header and end, which may stand within a figure")
        return
    inside = set(frame.header) <= set(shape.alphabet)
    if frame.length and not layout.check and inside and not (shape.begins or shape.ends):
        given.wrong("length", "a header, a check, or a sign that only begins or ends a frame")
    if frame.header and frame.terminator and not layout.check and inside and not frame.width:
        given.wrong("header", "bytes that can't stand within a line, or the line's width")
    size = frame.length - len(frame.header) if frame.length else frame.width
    if size and not shape.least <= size <= shape.most:
        key = "length" if frame.length else "width"
        given.wrong(key, f"the pattern's {shape.least} to {shape.most} bytes and the header")


def _pattern(given: Table, frame: Frame, figures: Figures) -> re.Pattern[bytes] | None:
    """The pattern of one frame's body."""
    text = given.text_("pattern")
    if not text:
        return None
    try:
        places = figures.fewest, figures.decimals
        return compiled(text, frame.longest, places, figures.point, tuple(_groups()))
    except PatternError as error:
        given.wrong("pattern", str(error))
        return None


def _groups() -> Iterator[str]:
    for name in (*CHANNELS, FIGURE):
        yield from (name, f"{name}_sign", f"{name}_doubled")
    yield from (*WORDS, "sign")


def packaged() -> Mapping[str, Layout]:
    """The layouts that come with the program, by id."""
    folder = resources.files("drivers") / "layouts"
    found = (
        parse(f.read_text(encoding="utf-8"), f.name)
        for f in sorted(folder.iterdir(), key=lambda f: f.name)
        if f.name.endswith(".toml")
    )
    return {layout.id: layout for layout in found}
