"""A readout's layout, described by data: port, frames, fields, words, check, rules.

A layout is one TOML file (docs/describe-a-layout.md); no code knows any one readout. Mistakes in it
are reported all at once, each with its line. Knows nothing of the application but units and errors.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from importlib import resources

from drivers.checksum import CRC16, Crc16
from drivers.described import Table
from drivers.pattern import PatternError, compiled
from inspect_rec.errors import InputError
from inspect_rec.units import Unit

_LARGEST, _LONGEST_LINE = 16 * 1024, 1000
"""Characters: the parser takes quadratic time on a long dotted key, and is kept from it."""

CHANNELS = {
    "x": "X",
    "y": "Y",
    "z": "Z",
    "indicator": "indicator",
    "angle": "angle",
    "temperature": "temperature",
}
"""Groups and fields that are figures, and the channels that they are of."""
WORDS = ("unit", "mode", "counting", "status", "key", "count", "axis")
"""Groups and fields that are no figures."""
FIGURE = "figure"


@dataclass(frozen=True, slots=True)
class Port:
    """Settings of a serial port."""

    baud: int = 9600
    bytesize: int = 8
    parity: str = "N"
    stopbits: int = 1


@dataclass(frozen=True, slots=True)
class Asks:
    """How a readout that answers is asked for a reading."""

    request: bytes
    every_ms: int = 200
    answer_ms: int = 500


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a reading begins and ends; exactly one of terminator, length and pause."""

    header: bytes = b""
    terminator: bytes = b""
    trailer: int = 0
    length: int = 0
    pause_ms: int = 0
    longest: int = 64


@dataclass(frozen=True, slots=True)
class Field:
    """A binary field at its place in the frame."""

    name: str
    at: int
    size: int
    """Bytes."""
    order: str = "big"
    as_: str = "two's complement"
    scale: Decimal = Decimal(1)
    mask: int = 0
    words: Mapping[bytes, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Figures:
    """What figures and words mean. ``decimals``: places, shown or implied."""

    decimals: int = 3
    point: str = "."
    unit: Unit = Unit.MM
    unit_words: Mapping[bytes, Unit] = field(default_factory=dict)
    mode: str = "radius"
    mode_words: Mapping[bytes, str] = field(default_factory=dict)
    counting_words: Mapping[bytes, str] = field(default_factory=dict)
    minus: bytes = b"-"
    good: tuple[bytes, ...] = ()
    faults: tuple[bytes, ...] = ()
    count_from: int = 0
    count_to: int = 99
    axes: Mapping[bytes, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Check:
    """The check that a frame carries: which bytes it covers, where and how it stands."""

    kind: str
    from_: int = 0
    to: int = -1
    at: int = -1
    as_: str = "byte"
    start: int = 0
    modulus: int = 256
    crc: Crc16 | None = None


@dataclass(frozen=True, slots=True)
class Rules:
    """When a figure may be taken, and what can be true of a slide."""

    sends: str = "continuously"
    settled_reads: int = 2
    settled_apart_ms: int = 300
    lockout_ms: int = 300
    pair_ms: int = 200
    silent_s: float = 2.0
    ranges: Mapping[str, tuple[Decimal, Decimal]] = field(default_factory=dict)
    """By channel; of one that isn't named, from -2000 to 2000."""
    fastest_mm_per_s: Decimal = Decimal(500)

    def range(self, channel: str) -> tuple[Decimal, Decimal]:
        """Least and most figure of a channel, as shown."""
        return self.ranges.get(channel, (Decimal(-2000), Decimal(2000)))


@dataclass(frozen=True, slots=True)
class Layout:
    """Everything that is known of a readout before its first byte. ``pattern`` of a text layout,
    ``fields`` of a binary one."""

    id: str
    port: Port
    frame: Frame
    figures: Figures
    rules: Rules
    pattern: re.Pattern[bytes] | None = None
    fields: tuple[Field, ...] = ()
    check: Check | None = None
    asks: Asks | None = None
    note: str = ""

    @property
    def on_key(self) -> bool:
        """Whether the readout sends on its own key only: then there is no live figure."""
        return self.rules.sends == "on key"

    @property
    def channels(self) -> tuple[str, ...]:
        """The channels whose figures it sends, in the order of their names."""
        if self.figures.axes:
            return tuple(sorted(set(self.figures.axes.values())))
        return tuple(CHANNELS[name] for name in self.names if name in CHANNELS)

    @property
    def names(self) -> frozenset[str]:
        """Its groups or fields."""
        if self.pattern is not None:
            return frozenset(self.pattern.groupindex)
        return frozenset(each.name for each in self.fields)


_TABLES = ("port", "asks", "frame", "axes", "figures", "check", "rules")
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
    frame, stated = _frame(tables["frame"], binary=bool(listed)), tables["figures"]
    figures = _figures(stated, tables["axes"])
    fields = tuple(_field(each) for each in listed)
    pattern = None if listed else _pattern(tables["frame"], frame, figures)
    made = {
        "id": top.text_("id", longest=60),
        "note": top.text_("note", "", longest=900),
        "port": _port(tables["port"]),
        "asks": _asks(tables["asks"]),
        "check": _check(tables["check"]),
    }
    names = frozenset(pattern.groupindex) if pattern else frozenset(f.name for f in fields)
    # Without a pattern nobody knows which channels it should have had.
    made["rules"] = _rules(tables["rules"], names or frozenset(CHANNELS), figures)
    if pattern is None and not listed:
        return None
    _hangs_together(stated, tables["axes"], tables["frame"], names, figures)
    return Layout(frame=frame, figures=figures, pattern=pattern, fields=fields, **made)  # type: ignore[arg-type]


def _hangs_together(
    stated: Table, axes: Table, frame: Table, names: frozenset[str], figures: Figures
) -> None:
    """Each group has its words, and words have their group."""
    for group, words, own in (
        ("unit", figures.unit_words, figures.unit),
        ("mode", figures.mode_words, figures.mode),
        ("counting", figures.counting_words, "absolute"),
    ):
        if (group in names) != (own in words.values()):
            expected = f"a meaning for what group {group} says, {own} among them"
            stated.wrong(f"{group}_words", expected)
    if ("status" in names) != bool(figures.good):
        stated.wrong("good", "the words of the group status that say that all is well")
    if ("axis" in names) != bool(figures.axes):
        axes.wrong("words", "the words of the group axis, each with its channel")
    if ("axis" in names) != (FIGURE in names) or not (names & {*CHANNELS, FIGURE}):
        frame.wrong("pattern", "named groups x and z, or axis and figure")
    for name in names - {*CHANNELS, *WORDS, FIGURE, "sign"}:
        of, _, tail = name.rpartition("_")
        if tail not in ("sign", "doubled") or of not in names:
            frame.wrong("pattern", "groups that docs/describe-a-layout.md names")
    if ("sign" in names) and FIGURE not in names:
        frame.wrong("pattern", "sign beside the group figure; x_sign beside x")


def _port(port: Table) -> Port:
    return Port(
        port.whole("baud", 9600, 110, 921600),
        port.whole("bytesize", 8, 7, 8),
        port.text_("parity", "N", ("N", "E", "O", "M", "S")),
        port.whole("stopbits", 1, 1, 2),
    )


def _asks(asks: Table) -> Asks | None:
    if not asks.values:
        return None
    return Asks(
        asks.bytes_("request", "?", 64),
        asks.whole("every_ms", 200, 20, 60_000),
        asks.whole("answer_ms", 500, 20, 60_000),
    )


def _frame(frame: Table, *, binary: bool) -> Frame:
    longest = frame.whole("longest", 64, 4, 1024)
    ends = [key for key in ("terminator", "length", "pause_ms") if frame.has(key)]
    if len(ends) > 1:
        frame.wrong(ends[1], f"nothing beside {ends[0]}")
    made = Frame(
        header=frame.bytes_("header", "", 16),
        terminator=frame.bytes_("terminator", "" if ends else "\r\n", 4),
        trailer=frame.whole("trailer", 0, 0, 8),
        length=frame.whole("length", 0, 0, longest),
        pause_ms=frame.whole("pause_ms", 0, 0, 10_000),
        longest=longest,
    )
    if ends and not (made.terminator or made.length or made.pause_ms):
        frame.wrong(ends[0], "bytes that end a frame, or its length, or a pause")
    if made.trailer and not made.terminator:
        frame.wrong("trailer", "0 where no terminator stands before it")
    if binary and made.pause_ms:
        frame.wrong("pause_ms", "a length or terminator for a binary frame")
    return made


def _figures(stated: Table, axes: Table) -> Figures:
    unit_words = stated.words("unit_words", ("mm", "in"))
    return Figures(
        decimals=stated.whole("decimals", 3, 0, 6),
        point=stated.text_("point", ".", (".", ",", "none")),
        unit=Unit(stated.text_("unit", "mm", ("mm", "in"))),
        unit_words={word: Unit(said) for word, said in unit_words.items()},
        mode=stated.text_("mode", "radius", ("radius", "diameter")),
        mode_words=stated.words("mode_words", ("radius", "diameter")),
        counting_words=stated.words("counting_words", ("absolute", "incremental")),
        minus=stated.bytes_("minus", "-", 1),
        good=stated.several("good"),
        faults=stated.several("faults"),
        count_from=stated.whole("count_from", 0, 0, 1),
        count_to=stated.whole("count_to", 99, 1, 2**32),
        axes=axes.words("words", tuple(dict.fromkeys(CHANNELS.values()))),
    )


def _field(given: Table) -> Field:
    figures = tuple(CHANNELS)
    name = given.text_("name", None, (*figures, *(w for w in WORDS if w != "axis"), "fixed"))
    words = given.words(
        "words", ("mm", "in", "radius", "diameter", "absolute", "incremental", "good", "key")
    )
    return Field(
        name=name,
        at=given.whole("at", 0, 0, 1023),
        size=given.whole("bytes", 1, 1, 8),
        order=given.text_("order", "big", ("big", "little", "swapped words")),
        as_=given.text_(
            "as",
            "two's complement",
            ("two's complement", "unsigned", "sign and magnitude", "bcd", "text"),
        ),
        scale=given.number("scale", "1", "0.000000001", "1000000"),
        mask=given.whole("mask", 0, 0, 2**64 - 1),
        words=words,
    )


def _check(given: Table) -> Check | None:
    if not given.values:
        return None
    kind = given.text_("kind", None, ("xor", "sum", "negated sum", "crc-16"))
    crc = None
    if kind == "crc-16":
        known = given.text_("crc", "", ("", *CRC16)) if given.has("crc") else ""
        crc = CRC16.get(known) or _crc(given)
    return Check(
        kind=kind,
        from_=given.whole("from", 0, -1024, 1024),
        to=given.whole("to", -1 if crc is None else -2, -1024, 1024),
        at=given.whole("at", -1 if crc is None else -2, -1024, 1024),
        as_=given.text_("as", "byte" if crc is None else "low first", _AS),
        start=given.whole("start", 0, 0, 0xFFFF),
        modulus=given.whole("modulus", 256, 2, 65536),
        crc=crc,
    )


_AS = ("byte", "hex", "low first", "high first")


def _crc(given: Table) -> Crc16 | None:
    try:
        return Crc16(
            given.whole("polynomial", 0x8005, 1, 0xFFFF),
            given.whole("start", 0, 0, 0xFFFF),
            given.truth("reflected", default=True),
            given.truth("reflected", default=True),
            given.whole("final", 0, 0, 0xFFFF),
        )
    except InputError as error:
        given.wrong("polynomial", error.expected)
        return None


def _rules(given: Table, names: frozenset[str], figures: Figures) -> Rules:
    channels = set(figures.axes.values()) or {CHANNELS[n] for n in names if n in CHANNELS}
    keys = {key: channel for key, channel in CHANNELS.items() if channel in channels}
    return Rules(
        sends=given.text_("sends", "continuously", ("continuously", "on key", "when asked")),
        settled_reads=given.whole("settled_reads", 2, 2, 20),
        settled_apart_ms=given.whole("settled_apart_ms", 300, 300, 5000),
        lockout_ms=given.whole("lockout_ms", 300, 0, 2000),
        pair_ms=given.whole("pair_ms", 200, 1, 2000),
        silent_s=float(given.number("silent_s", "2.0", "0.5", "60")),
        ranges={channel: given.span(key, (-2000, 2000)) for key, channel in keys.items()},
        fastest_mm_per_s=given.number("fastest_mm_per_s", "500", "1", "5000"),
    )


def _pattern(given: Table, frame: Frame, figures: Figures) -> re.Pattern[bytes] | None:
    """The pattern of one frame's body."""
    text = given.text_("pattern")
    if not text:
        return None
    try:
        return compiled(text, frame.longest, figures.decimals, figures.point, tuple(_groups()))
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
