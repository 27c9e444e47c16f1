"""Tables of a layout file to the parts of a layout. What isn't right is noted in the table."""

from __future__ import annotations

from collections.abc import Mapping

from drivers import checksum
from drivers.checksum import Crc16
from drivers.described import Table
from drivers.parts import (
    CHANNELS,
    Asks,
    Check,
    Field,
    Figures,
    Frame,
    Modbus,
    Port,
    Rules,
)
from inspect_rec.errors import InputError
from inspect_rec.units import Unit


def port(given: Table) -> Port:
    """Settings of the serial port."""
    return Port(
        given.whole("baud", 9600, 110, 921600),
        given.whole("bytesize", 8, 7, 8),
        given.text_("parity", "N", ("N", "E", "O", "M", "S")),
        given.whole("stopbits", 1, 1, 2),
    )


def asks(given: Table) -> Asks | None:
    """How the readout is asked, where it is."""
    if not given.values:
        return None
    if not given.has("request"):
        given.wrong("request", "the bytes that ask for one reading")
    return Asks(
        given.bytes_("request", "?", 64),
        given.whole("every_ms", 200, 20, 60_000),
        given.whole("answer_ms", 500, 20, 60_000),
    )


def modbus(given: Table) -> Modbus | None:
    """The registers of a Modbus device, where it is one."""
    if not given.values:
        return None
    for key in ("first", "count"):
        if not given.has(key):
            given.wrong(key, "a whole number")
    return Modbus(
        given.whole("first", 0, 0, 65535),
        given.whole("count", 1, 1, 125),
        given.text_("registers", "holding", ("holding", "input")),
        given.whole("unit", 1, 0, 255),
        given.whole("every_ms", 200, 20, 60_000),
        given.whole("answer_ms", 500, 20, 60_000),
    )


def frame(given: Table, *, binary: bool) -> Frame:
    """Where frames begin and end."""
    longest = given.whole("longest", 64, 4, 1024)
    ends = [key for key in ("terminator", "length", "pause_ms") if given.has(key)]
    if len(ends) > 1:
        given.wrong(ends[1], f"nothing beside {ends[0]}")
    made = Frame(
        header=given.bytes_("header", "", 16),
        terminator=given.bytes_("terminator", "" if ends else "\r\n", 4),
        trailer=given.whole("trailer", 0, 0, 8),
        length=given.whole("length", 0, 0, longest),
        pause_ms=given.whole("pause_ms", 0, 0, 10_000),
        width=given.whole("width", 0, 0, longest),
        longest=longest,
    )
    if ends and not (made.terminator or made.length or made.pause_ms):
        given.wrong(ends[0], "bytes that end a frame, or its length, or a pause")
    if made.trailer and not made.terminator:
        given.wrong("trailer", "0 where no terminator stands before it")
    if binary and made.pause_ms:
        given.wrong("pause_ms", "a length or terminator for a binary frame")
    return made


def figures(given: Table, axes: Table) -> Figures:
    """What figures and words mean."""
    unit_words = given.words("unit_words", ("mm", "in"))
    fewest, decimals = given.places("decimals", 3, 6)
    point = given.text_("point", ".", (".", ",", "none"))
    if point == "none" and fewest != decimals:
        given.wrong("decimals", "one number where the point is implied")
    return Figures(
        decimals=decimals,
        fewest=fewest,
        point=point,
        unit=Unit(given.text_("unit", "mm", ("mm", "in"))),
        unit_words={word: Unit(said) for word, said in unit_words.items()},
        mode=given.text_("mode", "radius", ("radius", "diameter")),
        mode_words=given.words("mode_words", ("radius", "diameter")),
        counting_words=given.words("counting_words", ("absolute", "incremental")),
        minus=given.bytes_("minus", "-", 1),
        good=given.several("good"),
        faults=given.several("faults"),
        count_from=given.whole("count_from", 0, 0, 1),
        count_to=given.whole("count_to", 99, 1, 2**32),
        axes=axes.words("words", tuple(dict.fromkeys(CHANNELS.values()))),
    )


MEANT: Mapping[str, tuple[str, ...]] = {
    "unit": ("mm", "in"),
    "mode": ("radius", "diameter"),
    "counting": ("absolute", "incremental"),
    "status": ("good", "fault"),
    "key": ("key", "live"),
    "scale": (),
    "fixed": ("good",),
}
"""Fields whose numbers have a meaning, and what they may mean."""


def field(given: Table) -> Field:
    """A binary field."""
    signs = tuple(f"{name}_sign" for name in CHANNELS)
    doubled = tuple(f"{name}_doubled" for name in CHANNELS)
    name = given.text_(
        "name", None, (*CHANNELS, *signs, *doubled, *MEANT, "count", "heartbeat"), longest=30
    )
    meanings = ("plus", "minus") if name in signs else MEANT.get(name)
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
        scale_from=given.text_("scale_from", "", longest=30),
        mask=given.whole("mask", 0, 0, 2**64 - 1),
        words={} if meanings is None else given.numbered("words", meanings),
    )


def check(given: Table) -> Check | None:
    """The check of a frame, where it carries one."""
    if not given.values:
        return None
    kind = given.text_("kind", None, ("xor", "sum", "negated sum", "crc-16"))
    crc = None
    if kind == "crc-16":
        crc = _named(given) if given.has("crc") else _crc(given)
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


def _named(given: Table) -> Crc16 | None:
    found = checksum.named(given.text_("crc", "", longest=30))
    if found is None:
        given.wrong("crc", " or ".join(map(repr, checksum.CRC16)))
    return found or _crc(given)


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


def rules(given: Table, names: frozenset[str], figures: Figures) -> Rules:
    """What can be true, of the channels that the layout names."""
    channels = set(figures.axes.values()) or {CHANNELS[n] for n in names if n in CHANNELS}
    keys = {key: channel for key, channel in CHANNELS.items() if channel in channels}
    return Rules(
        sends=given.text_("sends", "continuously", ("continuously", "on key", "when asked")),
        settled_reads=given.whole("settled_reads", 2, 2, 20),
        settled_apart_ms=given.whole("settled_apart_ms", 300, 300, 5000),
        lockout_ms=given.whole("lockout_ms", 300, 0, 2000),
        pair_ms=given.whole("pair_ms", 200, 1, 2000),
        silent_s=float(given.number("silent_s", "2.0", "0.5", "60")),
        heartbeat_ms=given.whole("heartbeat_ms", 0, 0, 10_000),
        ranges={channel: given.span(key, (-2000, 2000)) for key, channel in keys.items()},
        fastest_mm_per_s=given.number("fastest_mm_per_s", "500", "1", "5000"),
    )
