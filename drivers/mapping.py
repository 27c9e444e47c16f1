"""A mapping: which column of a file is what, in which unit and form. One TOML file, stated once.

Nothing is guessed from the file: what isn't stated is a mistake, and all of them are reported at
once, each with its line (docs/read-files.md).
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping as Mapped
from dataclasses import dataclass, field
from decimal import Decimal

from drivers.described import Table
from drivers.instants import DATE_CELL, FILE_WRITTEN, RFC_3339, Form, form
from inspect_rec.errors import InputError
from inspect_rec.units import Unit

_LARGEST, _LONGEST_LINE = 16 * 1024, 1000
"""Characters: the parser takes quadratic time on a long dotted key, and is kept from it."""

TABLE, SPREADSHEET, POINTS, CONTOUR = "table", "spreadsheet", "points", "contour"
KINDS = (TABLE, SPREADSHEET, POINTS, CONTOUR)

LENGTHS = ("x", "z", "indicator", "length")
CHANNELS: Mapped[str, str] = {
    "x": "X",
    "z": "Z",
    "indicator": "indicator",
    "length": "length",
    "angle": "angle",
    "temperature": "temperature",
}
"""Columns of figures, and the channels that they are of."""
WORDS = ("unit", "feature", "flute", "mark", "repeat", "key")
ENCODINGS: Mapped[str, str] = {
    "UTF-8": "utf-8",
    "UTF-16": "utf-16",
    "Windows-1252": "cp1252",
    "Latin-1": "latin-1",
}
SEPARATORS = (",", ";", "\t", "|")
WIDEST = 256
"""Columns of a table."""

Column = int | str
"""A column by its number from 1, or by its name in the head."""


@dataclass(frozen=True, slots=True)
class Begin:
    """Where a contour begins, in its own unit: X, Z."""

    x: Decimal
    z: Decimal


@dataclass(frozen=True, slots=True)
class Mapping:
    """What is stated of a file before it is opened."""

    name: str
    kind: str
    columns: Mapped[str, Column] = field(default_factory=dict)
    """By what it is: a channel of CHANNELS, or one of WORDS."""
    at: tuple[Column, ...] = ()
    """Columns of the instant; several are joined by a blank."""
    form: Form | None = None
    """None: no row has an instant of its own."""
    units: Mapped[str, Unit] = field(default_factory=dict)
    """Stated units: of ``lengths``, ``angle``, ``temperature``."""
    unit_words: Mapped[str, Unit] = field(default_factory=dict)
    key_words: Mapped[str, bool] = field(default_factory=dict)
    encoding: str = ""
    """Python's name; empty: by the mark at the file's begin, else UTF-8."""
    separator: str = ","
    decimal: str = "."
    sheet: str = ""
    head: int = 1
    """Row that names the columns; 0: none does."""
    cells: int = 0
    """Cells of each row, where no head says how many there are."""
    skip: frozenset[int] = frozenset()
    comment: str = ""
    begin: Begin | None = None
    body: str = ""
    """Of a contour that closes: whether the body is ``inside`` or ``outside``."""
    layer: str = ""
    join_mm: Decimal = Decimal("0.001")
    """Ends of a contour's elements no further apart are one."""

    def unit(self, channel: str) -> Unit | None:
        """The stated unit of a column of figures; None where a column says it."""
        return self.units.get("lengths" if channel in LENGTHS else channel)


_TABLES = ("file", "columns", "units", "at", "key", "contour")


def parse(text: str, name: str) -> Mapping:
    """A mapping from its TOML text; raises InputError with every mistake and its line."""
    if len(text) > _LARGEST or max(map(len, text.splitlines()), default=0) > _LONGEST_LINE:
        raise InputError("the mapping is too large", where=name)
    try:
        values = tomllib.loads(text, parse_float=Decimal)
    except (ValueError, RecursionError, ArithmeticError) as error:
        raise InputError("the mapping is no TOML", found=str(error)[:100], where=name) from error
    top = Table("", text, name, values)
    tables = {key: Table(key, text, name, values.get(key, {})) for key in _TABLES}
    top.taken.update(_TABLES)
    for key in _TABLES:
        if not isinstance(values.get(key, {}), Mapped):
            top.wrong(key, "a table")
    made = _mapping(name, top, tables)
    if mistakes := [m for table in (top, *tables.values()) for m in table.found()]:
        raise InputError("the mapping has mistakes", mistakes, where=name)
    return made


def _mapping(name: str, top: Table, tables: Mapped[str, Table]) -> Mapping:
    kind = top.text_("kind", None, KINDS)
    top.text_("note", "", longest=900)
    file, columns, units = tables["file"], tables["columns"], tables["units"]
    if kind == CONTOUR:
        return _contour(name, tables)
    encoding = file.text_("encoding", "", (*ENCODINGS, "")) if file.has("encoding") else ""
    head = 0 if kind == POINTS else file.whole("head", 1, 0, 1000)
    separator, decimal = _signs(file, kind)
    stated = {key: _column(columns, key, head) for key in (*CHANNELS, *WORDS)}
    if kind == POINTS:
        stated |= {"x": stated["x"] or 1, "z": stated["z"] or 2}
    found = {key: column for key, column in stated.items() if column}
    at = _at(columns, head)
    made = Mapping(
        name=name,
        kind=kind,
        columns=found,
        at=at,
        form=_form(tables["at"], columns, kind, at),
        units=_units(units, found, kind),
        unit_words=_unit_words(units),
        key_words=_key_words(tables["key"]),
        encoding=ENCODINGS.get(encoding, ""),
        separator=separator,
        decimal=decimal,
        sheet=file.text_("sheet", "", longest=31) if kind == SPREADSHEET else "",
        head=head,
        cells=_cells(file, kind, head),
        skip=_skip(file),
        comment=file.text_("comment", "#" if kind == POINTS else "", longest=4),
    )
    _hangs_together(columns, made)
    return made


def _signs(file: Table, kind: str) -> tuple[str, str]:
    """Separator and decimal sign; of a spreadsheet the latter is that of cells of text."""
    decimal = file.text_("decimal", ".", (".", ","))
    if kind != TABLE:
        separators = (*SEPARATORS, "blank") if kind == POINTS else ("",)
        default = "blank" if kind == POINTS else ""
        given = file.text_("separator", default, separators)
    else:
        given = file.text_("separator", None, SEPARATORS)
    if given == decimal:
        file.wrong("separator", f"another sign than the decimal sign {decimal!r}")
    return (" " if given == "blank" else given), decimal


def _column(columns: Table, key: str, head: int) -> Column | None:
    """A column by name or number; None where it isn't stated."""
    columns.taken.add(key)
    value = columns.values.get(key)
    if value is None or _is_column(value, head):
        return value
    columns.wrong(key, _wanted(head))
    return None


def _is_column(value: object, head: int) -> bool:
    if isinstance(value, str):
        return head > 0 and 0 < len(value.strip()) <= 200 and value == value.strip()
    return isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= WIDEST


def _wanted(head: int) -> str:
    number = f"a column's number from 1 to {WIDEST}"
    return f"{number}, or its name in row {head}" if head else f"{number}, since no row names it"


def _at(columns: Table, head: int) -> tuple[Column, ...]:
    columns.taken.add("at")
    value = columns.values.get("at", [])
    several = value if isinstance(value, list) else [value]
    if len(several) > 2 or not all(_is_column(each, head) for each in several):
        columns.wrong("at", f"{_wanted(head)}; or two of them, such as date and time")
        return ()
    return tuple(several)


def _form(stated: Table, columns: Table, kind: str, at: tuple[Column, ...]) -> Form | None:
    """How instants are written; None where no row has one."""
    if not at and not stated.values and "at" not in columns.mistakes:
        columns.wrong("at", f'the column of the instant, or [at] form = "{FILE_WRITTEN}"')
        return None
    text = stated.text_("form", FILE_WRITTEN if not at else None, longest=60)
    zone = stated.text_("zone", "", longest=60)
    if (text == FILE_WRITTEN) is bool(at) and "at" not in columns.mistakes:
        stated.wrong("form", "the form of a column at" if at else f'"{FILE_WRITTEN}" without one')
    if text == FILE_WRITTEN or not text:
        return None
    if text == DATE_CELL and kind != SPREADSHEET:
        stated.wrong("form", f"{RFC_3339}, or fields such as %d.%m.%Y %H:%M:%S")
        return None
    try:
        return form(text, zone)
    except ValueError as error:
        stated.wrong("zone" if "zone" in str(error) else "form", str(error))
        return None


def _units(units: Table, columns: Mapped[str, Column], kind: str) -> dict[str, Unit]:
    """The stated unit of each kind of figures that the table holds."""
    found: dict[str, Unit] = {}
    for key, among, of in (
        ("lengths", ("mm", "in"), LENGTHS),
        ("angle", ("deg",), ("angle",)),
        ("temperature", ("degC",), ("temperature",)),
    ):
        said = key == "lengths" and ("unit" in columns or kind == POINTS)
        if units.has(key) or (not said and set(of) & set(columns)):
            found[key] = Unit(units.text_(key, None, among))
    if "lengths" in found and "unit" in columns:
        units.wrong("lengths", "nothing beside the column unit, which says it")
    return found


def _unit_words(units: Table) -> dict[str, Unit]:
    words = units.words("words", tuple(Unit))
    given = {word.decode("latin-1"): Unit(said) for word, said in words.items()}
    return given or {unit.value: unit for unit in Unit}


def _key_words(key: Table) -> dict[str, bool]:
    words = dict.fromkeys(_several(key, "yes", "yes"), True)
    for word in _several(key, "no", "no"):
        if word in words:
            key.wrong("no", "words that aren't in yes")
        words[word] = False
    return words


def _several(table: Table, key: str, default: str) -> list[str]:
    value = table.values.get(key, [default])
    table.taken.add(key)
    if not isinstance(value, list) or not all(isinstance(w, str) and len(w) <= 40 for w in value):
        table.wrong(key, f'a list of words, such as ["{default}"]')
        return [default]
    return value


def _cells(file: Table, kind: str, head: int) -> int:
    """How many cells a row has, of a table whose head doesn't say it."""
    if kind != TABLE or (head and not file.has("cells")):
        return 0
    return file.whole("cells", 0, 1, WIDEST)


def _skip(file: Table) -> frozenset[int]:
    value = file.values.get("skip", [])
    file.taken.add("skip")
    numbers = value if isinstance(value, list) else [None]
    if len(numbers) > 1000 or not all(type(n) is int and 1 <= n < 10**8 for n in numbers):
        file.wrong("skip", "the numbers of rows, such as [2, 3]")
        return frozenset()
    return frozenset(numbers)


def _hangs_together(columns: Table, made: Mapping) -> None:
    """There is a figure, and no column is two things."""
    if not set(CHANNELS) & set(made.columns) and not columns.mistakes:
        columns.wrong("x", f"a column of figures: one of {', '.join(CHANNELS)}")
    seen: dict[Column, str] = {}
    everything = [*made.columns.items(), *(("at", column) for column in made.at)]
    for key, column in everything:
        if column in seen:
            columns.wrong(key, f"another column than {seen[column]}")
        seen[column] = key


def _contour(name: str, tables: Mapped[str, Table]) -> Mapping:
    contour, units = tables["contour"], tables["units"]
    stated = units.text_("lengths", None, ("mm", "in")) if units.has("lengths") else ""
    return Mapping(
        name=name,
        kind=CONTOUR,
        units={"lengths": Unit(stated)} if stated else {},
        body=contour.text_("body", "", ("inside", "outside", "")),
        layer=contour.text_("layer", "", longest=255),
        join_mm=contour.number("join_mm", "0.001", "0.000001", "0.1"),
        begin=_begin(contour),
    )


def _begin(contour: Table) -> Begin | None:
    """Where it begins, which says its direction, too: the body is on the right hand of its way."""
    contour.taken.add("begin")
    value = contour.values.get("begin")
    if value is None:
        return None
    numbers = [_number(n) for n in value] if isinstance(value, list) else []
    if len(numbers) != 2 or numbers[0] is None or numbers[1] is None:
        contour.wrong("begin", "X and Z of the point where the contour begins, such as [0, 0]")
        return None
    return Begin(numbers[0], numbers[1])


def _number(value: object) -> Decimal | None:
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        return None
    exact = Decimal(value)
    return exact if exact.is_finite() and abs(exact) < 10**6 else None


def column_letters(number: int) -> str:
    """A column as spreadsheets call it: 1 is A, 27 is AA."""
    letters = ""
    while number > 0:
        number, last = divmod(number - 1, 26)
        letters = chr(ord("A") + last) + letters
    return letters
