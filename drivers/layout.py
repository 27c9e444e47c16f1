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

from drivers.pattern import PatternError, compiled
from inspect_rec.errors import InputError, Mistake
from inspect_rec.units import Unit

_LARGEST, _LONGEST_LINE = 16 * 1024, 1000
"""Characters: the parser takes quadratic time on a long dotted key, and is kept from it."""
_MANY = 50
"""Unknown keys that are named; with more of them the file is another one."""


@dataclass(frozen=True, slots=True)
class Port:
    """Settings of a serial port."""

    baud: int = 9600
    bytesize: int = 8
    parity: str = "N"
    stopbits: int = 1


@dataclass(frozen=True, slots=True)
class Layout:
    """Everything that is known of a readout before its first byte.

    ``x``, ``z``: least and most figure of a slide, as shown; ``unit_words``, ``mode_words``: what
    the groups ``unit`` and ``mode`` of the pattern may say, and what it means.
    """

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
    x: tuple[Decimal, Decimal]
    z: tuple[Decimal, Decimal]
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
        self.mistakes: dict[str, Mistake] = {}
        self.taken: set[str] = set()

    def where(self, key: str) -> str:
        """File and line of a key, or of the table."""
        table = ""
        for number, line in enumerate(self.text.splitlines(), 1):
            bare = line.strip()
            if bare.startswith("["):
                table = bare.split("#")[0].strip("[] ")
                if not self.name and table == key:
                    return f"{self.file}:{number}"
            elif table == self.name and re.match(rf"{re.escape(key)}\s*=", bare):
                return f"{self.file}:{number}"
        return f"{self.file} [{self.name}]" if self.name else self.file

    def wrong(self, key: str, expected: str) -> None:
        """Note a mistake, the first of each key."""
        found = repr(self.values.get(key, "nothing"))[:60]
        self.mistakes.setdefault(key, Mistake(self.where(key), f"{key} = {expected}", found))

    def text_(
        self, key: str, default: str | None = None, among: tuple[str, ...] = (), longest: int = 500
    ) -> str:
        """A text, one of ``among`` where that is stated."""
        value = self._take(key, default)
        good = isinstance(value, str) and 0 < len(value) <= longest
        if not good or (among and value not in among):
            self.wrong(key, " or ".join(map(repr, among)) or f"a text of 1 to {longest} characters")
            return default or (among[0] if among else "")
        return str(value)

    def bytes_(self, key: str, default: str, longest: int) -> bytes:
        """A text that stands for bytes, one each."""
        text = self.text_(key, default, longest=longest)
        if not _is_bytes(text):
            self.wrong(key, "characters that are one byte each")
            return default.encode("latin-1")
        return text.encode("latin-1")

    def whole(self, key: str, default: int, least: int, most: int) -> int:
        """A whole number within bounds."""
        value = self._take(key, default)
        if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
            self.wrong(key, f"a whole number from {least} to {most}")
            return default
        return value

    def number(self, key: str, default: str, least: str, most: str) -> Decimal:
        """An exact number within bounds."""
        value = _exact(self._take(key, Decimal(default)))
        if value is None or not Decimal(least) <= value <= Decimal(most):
            self.wrong(key, f"a number from {least} to {most}")
            return Decimal(default)
        return value

    def span(self, key: str, default: tuple[int, int]) -> tuple[Decimal, Decimal]:
        """Least and most of something."""
        value = self._take(key, list(default))
        ends = [_exact(v) for v in value] if isinstance(value, list) else []
        if len(ends) == 2 and ends[0] is not None and ends[1] is not None and ends[0] < ends[1]:
            return ends[0], ends[1]
        self.wrong(key, "the least and the most figure, such as [-2000, 2000]")
        return Decimal(default[0]), Decimal(default[1])

    def words(self, key: str, among: tuple[str, ...]) -> Mapping[bytes, str]:
        """What a line says -> what it means, one of ``among``."""
        value = self._take(key, {})
        good = isinstance(value, Mapping) and all(
            word and _is_bytes(word) and said in among for word, said in value.items()
        )
        if not good:
            self.wrong(key, f"words of the line, each with its meaning: {' or '.join(among)}")
            return {}
        return {word.encode("latin-1"): said for word, said in dict(value).items()}  # type: ignore[call-overload]

    def _take(self, key: str, default: object) -> object:
        self.taken.add(key)
        return self.values.get(key, default)

    def left(self) -> list[Mistake]:
        """Keys that nobody knows."""
        unknown = [key for key in self.values if key not in self.taken]
        expected = f"one of {', '.join(sorted(self.taken))}"
        return [Mistake(self.where(key), expected, repr(key)[:60]) for key in unknown[:_MANY]]


def _exact(value: object) -> Decimal | None:
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        return None
    exact = Decimal(value)
    return exact if exact.is_finite() else None


def _is_bytes(text: str) -> bool:
    return all(ord(char) < 256 for char in text)


_TABLES = ("port", "frame", "figures", "rules")


def parse(text: str, name: str) -> Layout:
    """A layout from its TOML text; raises InputError with every mistake and its line."""
    if len(text) > _LARGEST or max(map(len, text.splitlines()), default=0) > _LONGEST_LINE:
        raise InputError("the layout is too large", where=name)
    try:
        values = tomllib.loads(text, parse_float=Decimal)
    except (ValueError, RecursionError, ArithmeticError) as error:
        raise InputError("the layout is no TOML", found=str(error)[:100], where=name) from error
    top = _Table("", text, name, values)
    tables = {key: _Table(key, text, name, values.get(key, {})) for key in _TABLES}
    top.taken.update(_TABLES)
    for key in _TABLES:
        if not isinstance(values.get(key, {}), Mapping):
            top.wrong(key, "a table")
    layout = _layout(top, **tables)
    mistakes = [m for t in (top, *tables.values()) for m in (*t.mistakes.values(), *t.left())]
    if mistakes or layout is None:
        raise InputError("the layout has mistakes", mistakes, where=name)
    return layout


def _layout(
    top: _Table, port: _Table, frame: _Table, figures: _Table, rules: _Table
) -> Layout | None:
    longest = frame.whole("longest", 64, 4, 1024)
    decimals = figures.whole("decimals", 3, 0, 6)
    pattern = _pattern(frame, longest, decimals)
    unit_words = figures.words("unit_words", ("mm", "in"))
    made = {
        "id": top.text_("id", longest=60),
        "port": _port(port),
        "terminator": frame.bytes_("terminator", "\r\n", longest=4),
        "longest": longest,
        "unit": Unit(figures.text_("unit", "mm", ("mm", "in"))),
        "unit_words": {word: Unit(said) for word, said in unit_words.items()},
        "mode": figures.text_("mode", "radius", ("radius", "diameter")),
        "mode_words": figures.words("mode_words", ("radius", "diameter")),
        "decimals": decimals,
    }
    made |= _rules(rules)
    if pattern is None:
        return None
    for group, words in (("unit", made["unit_words"]), ("mode", made["mode_words"])):
        expected = f"a meaning for what group {group} says, {made[group]} among them"
        if (group in pattern.groupindex) != (made[group] in words.values()):  # type: ignore[attr-defined]
            figures.wrong(f"{group}_words", expected)
    return Layout(pattern=pattern, **made)  # type: ignore[arg-type]


def _port(port: _Table) -> Port:
    return Port(
        port.whole("baud", 9600, 110, 921600),
        port.whole("bytesize", 8, 7, 8),
        port.text_("parity", "N", ("N", "E", "O")),
        port.whole("stopbits", 1, 1, 2),
    )


def _rules(rules: _Table) -> dict[str, object]:
    return {
        "sends": rules.text_("sends", "continuously", ("continuously", "on key")),
        "settled_reads": rules.whole("settled_reads", 2, 2, 20),
        "settled_apart_ms": rules.whole("settled_apart_ms", 300, 300, 5000),
        "lockout_ms": rules.whole("lockout_ms", 300, 0, 2000),
        "silent_s": float(rules.number("silent_s", "2.0", "0.5", "60")),
        "x": rules.span("x", (-2000, 2000)),
        "z": rules.span("z", (-2000, 2000)),
        "fastest_mm_per_s": rules.number("fastest_mm_per_s", "500", "1", "5000"),
    }


def _pattern(frame: _Table, longest: int, decimals: int) -> re.Pattern[bytes] | None:
    """The pattern of one complete line, without its terminator."""
    text = frame.text_("pattern")
    if not text:
        return None
    try:
        return compiled(text, longest, decimals)
    except PatternError as error:
        frame.wrong("pattern", str(error))
        return None


def packaged() -> Mapping[str, Layout]:
    """The layouts that come with the program, by id."""
    folder = resources.files("drivers") / "layouts"
    found = (
        parse(f.read_text(encoding="utf-8"), f.name)
        for f in sorted(folder.iterdir(), key=lambda f: f.name)
        if f.name.endswith(".toml")
    )
    return {layout.id: layout for layout in found}
