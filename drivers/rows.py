"""A row of a file: its cells to exact figures, units, an instant and a place, or its mistakes.

Cells are text. A cell that begins with ``=``, ``+``, ``-`` or ``@`` is text, too, unless it is a
figure of its column: nothing here is ever computed. Each mistake names its cell as spreadsheets
call it.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping as Mapped
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal

from drivers.mapping import CHANNELS, LENGTHS, WORDS, Column, Mapping, column_letters
from inspect_rec.errors import InputError, Mistake
from inspect_rec.reading import Reading, Sighting
from inspect_rec.units import Unit

LONGEST_CELL = 1000
"""Characters of a cell."""
_LONGEST_WORD = 60
_DIGITS = r"[+-]?[0-9]{1,6}"
FIGURE = {
    ".": re.compile(rf"{_DIGITS}(\.[0-9]{{1,6}})?"),
    ",": re.compile(rf"{_DIGITS}(,[0-9]{{1,6}})?"),
}
"""A figure with the decimal sign that is stated."""
_COUNT = re.compile("[0-9]{1,4}")
_HEAD_UNIT = re.compile(
    r".*[\[(/,]\s*(mm|cm|m|[µμu]m|in|inch|inches|mils?|deg|°|rad|(?:deg|°) ?[CF]|K)\s*[\])]?"
    r"|.*_(mm|inch)",
    re.IGNORECASE,
)
"""A unit at the end of a column's name: X [mm], X (in), Länge/mm, x_mm."""
_WORDS = {"inch": "in", "inches": "in", "°": "deg", "°c": "degc"}
_NEVER = datetime.min.replace(tzinfo=UTC)
_FITS: Mapped[str, tuple[Unit, ...]] = dict.fromkeys(LENGTHS, (Unit.MM, Unit.INCH)) | {
    "angle": (Unit.DEGREE,),
    "temperature": (Unit.CELSIUS,),
}


@dataclass(frozen=True, slots=True)
class Row:
    """A good row of a file, exact. What it doesn't say of its place is empty, or None."""

    number: int
    """As the spreadsheet counts, from 1."""
    sighting: Sighting
    digest: str
    """SHA-256 over its cells; of a row without an instant of its own over the file and its
    number, since nothing else tells it from another."""
    timed: bool
    """Whether it has an instant of its own."""
    feature: str = ""
    flute: int | None = None
    mark: str = ""
    repeat: int | None = None


@dataclass(frozen=True, slots=True)
class File:
    """What all rows of a file have in common."""

    name: str
    source: str
    """Id of the readout in the equipment register."""
    digest: str = ""
    """SHA-256 of the whole file."""
    written: datetime | None = None
    """When it was last written; needed where its rows have no instants."""
    codec: str = "utf-8"
    growing: bool = False
    """Whether another program still writes to it: of its last line a part may be missing."""


@dataclass(frozen=True, slots=True)
class Wrong:
    """A cell that isn't what its column holds. ``column`` counts from 0; -1 is the whole row."""

    column: int
    expected: str
    found: str


class RowError(ValueError):
    """Everything that is wrong with one row."""

    def __init__(self, *wrong: Wrong) -> None:
        self.wrong = wrong
        super().__init__("; ".join(each.expected for each in wrong))


class HalfError(RowError):
    """A line without its end in a file that grows: 31.4 may become 31.447."""

    def __init__(self, line: str) -> None:
        expected = "a line with its end, since another program still writes to the file"
        super().__init__(Wrong(-1, expected, repr(line[:40])))


class Columns:
    """Where the columns of a mapping stand in a file."""

    def __init__(self, mapping: Mapping, head: Sequence[str] = (), where: str = "") -> None:
        """``head``: the cells that name the columns. Raises InputError that lists every column
        that isn't there."""
        self.mapping, self.mistakes = mapping, list[Mistake]()
        self.head, self._where = [cell.strip() for cell in head], where
        self.place = {key: self._find(key, column) for key, column in mapping.columns.items()}
        self.at = [self._find("at", column) for column in mapping.at]
        if self.mistakes:
            raise InputError("the table lacks columns", self.mistakes, where=where)
        self._wrong: list[Wrong] = []
        self.figures = [(key, self.place[key]) for key in CHANNELS if key in self.place]
        self.words = [(key, self.place[key]) for key in WORDS if key in self.place]
        self._agreed()

    def _agreed(self) -> None:
        """Raises InputError where a column's name says another unit than the mapping does."""
        for key, column in self.figures:
            head = self.head[column] if column < len(self.head) else ""
            found, stated = _HEAD_UNIT.fullmatch(head), self.mapping.unit(key)
            word = (found[1] or found[2]).lower().replace(" ", "") if found else ""
            if word and stated is not None and _WORDS.get(word, word) != stated.value.lower():
                self.mistakes.append(
                    Mistake(self._where, f"{key} in {stated.value}, as the mapping states", head)
                )
        if self.mistakes:
            raise InputError("two units are stated", self.mistakes, where=self._where)

    def _find(self, key: str, column: Column) -> int:
        if isinstance(column, int):
            if self.head and column > len(self.head):
                found = f"{len(self.head)} columns"
                self.mistakes.append(Mistake(self._where, f"{key} in column {column}", found))
            return column - 1
        times = self.head.count(column)
        if times == 1:
            return self.head.index(column)
        names = ", ".join(filter(None, self.head))[:120] or "no names"
        found = f"it {times} times" if times else names
        self.mistakes.append(Mistake(self._where, f"one column {column!r}, for {key}", found))
        return 0

    # -- one row -------------------------------------------------------------

    def row(self, number: int, cells: Sequence[str], raw: bytes, file: File) -> Row:
        """The row of these cells; RowError says which of them are wrong."""
        self._wrong = []
        for column, cell in enumerate(cells):
            if len(cell) > LONGEST_CELL:
                self._bad(column, f"at most {LONGEST_CELL} characters", f"{len(cell)}")
        at = self._at(cells, file)
        said = {key: _cell(cells, column) for key, column in self.words}
        sighting = Sighting(at, self._readings(cells, at, raw, file), raw, key=self._key(said))
        row = Row(
            number,
            sighting,
            self._digest(number, cells, file),
            self.mapping.form is not None,
            self._word("feature", said),
            self._count("flute", said),
            self._word("mark", said),
            self._count("repeat", said),
        )
        if self._wrong:
            raise RowError(*sorted(self._wrong, key=lambda each: each.column))
        return row

    def _bad(self, column: int, expected: str, found: str) -> None:
        self._wrong.append(Wrong(column, expected, found))

    def _digest(self, number: int, cells: Sequence[str], file: File) -> str:
        if self.mapping.form is None:
            text = f"{file.digest} {number}"
        else:
            text = "\x1f".join(cell.strip() for cell in cells)
        return hashlib.sha256(text.encode("utf-8")).hexdigest()

    def _at(self, cells: Sequence[str], file: File) -> datetime:
        form = self.mapping.form
        if form is None:
            if file.written is None:
                self._bad(-1, "an instant for the whole file", "none")
            return file.written or _NEVER
        text = " ".join(_cell(cells, column) for column in self.at)
        try:
            return form.read(text)
        except (ValueError, OverflowError) as error:
            self._bad(self.at[0], str(error), repr(text[:40]))
            return _NEVER

    def _readings(
        self, cells: Sequence[str], at: datetime, raw: bytes, file: File
    ) -> tuple[Reading, ...]:
        """One for each figure: at least one, and of the slides both or none."""
        filled = {key: text for key, column in self.figures if (text := _cell(cells, column))}
        slides = [key for key in ("x", "z") if key in self.place]
        lacking = [key for key in slides if key not in filled]
        if not filled or (lacking and lacking != slides):
            self._bad(self.place[lacking[0] if lacking else self.figures[0][0]], "a figure", "''")
        units = self._units(set(filled), _cell(cells, self.place.get("unit", len(cells))))
        return tuple(
            [
                Reading(CHANNELS[key], self._figure(key, text), units[key], at, file.source, raw)
                for key, text in filled.items()
            ]
        )

    def _figure(self, key: str, text: str) -> Decimal:
        sign = self.mapping.decimal
        if not FIGURE[sign].fullmatch(text):
            expected = f"a figure such as 31{sign}447, with at most 6 decimals"
            self._bad(self.place[key], expected, repr(text[:40]))
            return Decimal(0)
        value = Decimal(text.replace(",", "."))
        return value or abs(value)

    def _units(self, filled: set[str], word: str) -> dict[str, Unit]:
        """The unit of each figure, as stated or as its row says. What the row says is the unit of
        its lengths where it has any, else of all of its figures."""
        said = self.mapping.unit_words.get(word)
        units = {key: self.mapping.unit(key) or said for key in filled}
        about = filled & set(LENGTHS) or filled
        wrong = (word and said is None) or any(
            units[key] not in _FITS[key] or (word and units[key] is not said) for key in about
        )
        if wrong:
            fitting = [
                w for w, u in self.mapping.unit_words.items() if about and u in _FITS[min(about)]
            ]
            self._bad(
                self.place.get("unit", -1), f"the unit as {' or '.join(fitting)}", repr(word[:40])
            )
        return {key: unit or Unit.MM for key, unit in units.items()}

    def _key(self, said: Mapped[str, str]) -> bool:
        """Whether the readout's key sent it; without a column every row was."""
        word = said.get("key")
        if word is not None and word not in self.mapping.key_words:
            expected = " or ".join(map(repr, self.mapping.key_words))
            self._bad(self.place["key"], expected, repr(word[:40]))
        return word is None or self.mapping.key_words.get(word, False)

    def _word(self, key: str, said: Mapped[str, str]) -> str:
        text = said.get(key, "")
        if len(text) > _LONGEST_WORD or not text.isprintable():
            expected = f"one line of at most {_LONGEST_WORD} characters"
            self._bad(self.place[key], expected, repr(text[:40]))
        return text

    def _count(self, key: str, said: Mapped[str, str]) -> int | None:
        text = said.get(key, "")
        if not text:
            return None
        if not _COUNT.fullmatch(text):
            self._bad(self.place[key], "a whole number, or nothing", repr(text[:40]))
            return None
        return int(text)


def _cell(cells: Sequence[str], column: int) -> str:
    """A cell without the blanks round it; empty where the row is too short."""
    return cells[column].strip() if column < len(cells) else ""


def mistakes(file: str, row: int, error: RowError) -> list[Mistake]:
    """The mistakes of a row, each cell named as spreadsheets call it."""
    return [
        Mistake(
            f"{file}:{column_letters(each.column + 1)}{row}",  # no letters: the whole row
            each.expected,
            each.found,
        )
        for each in error.wrong
    ]


def row_of(mistake: Mistake) -> int:
    """The number of the row that a mistake names; 0 where it names none."""
    digits = mistake.where.rpartition(":")[2].lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    return int(digits) if digits.isdigit() else 0
