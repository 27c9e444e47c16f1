"""Spreadsheets (XLSX, ECMA-376) as sources of rows: values only, in limits that hold before they
are parsed.

No macro, formula, link, comment or picture is read. A number is kept in the file as a binary
double; the shortest decimal that means the same double is the figure that was typed. A DTD, two
members of one name, or a sheet whose cells aren't in order refuse the file: a reader that is more
lenient would take one of two values, unseen.
"""

from __future__ import annotations

import io
import re
import warnings
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, time
from decimal import Decimal
from typing import Any
from xml.parsers import expat

from drivers.mapping import WIDEST, Mapping, column_letters
from drivers.rows import Columns, File, Row, RowError, mistakes
from inspect_rec.errors import InputError, Mistake

LARGEST = 32 * 1024 * 1024
"""Bytes of a file."""
MOST_MEMBERS, LARGEST_UNPACKED = 1000, 128 * 1024 * 1024
MOST_ROWS, MOST_CELLS, MOST_ELEMENTS, DEEPEST = 200_000, 1_000_000, 4_000_000, 32
MOST_OTHERS = 100_000
"""Elements that are neither rows nor cells nor texts."""
_READ = re.compile(r"[^/]+\.xml|_rels/[^/]+\.rels|xl/[^/]+\.xml|xl/_rels/[^/]+|xl/worksheets/[^/]+")
_MACROS = re.compile("vbaproject|macrosheets")
_CELL = re.compile("([A-Z]{1,3})([1-9][0-9]{0,6})")
_LIGHT = frozenset({"row", "c", "v", "is", "t", "f", "si", "r", "rPr"})


class Spreadsheet:
    """The rows of one sheet, in their order; ``mistakes`` grows while they are read."""

    def __init__(self, data: bytes, mapping: Mapping, file: File) -> None:
        """Raises InputError for what is no spreadsheet, is beyond the limits, or lacks the sheet
        or a column."""
        self.mapping, self.file, self.mistakes = mapping, file, list[Mistake]()
        self._rows = _cells(_cleaned(data, file.name), mapping.sheet, mapping.decimal, file.name)

    def __iter__(self) -> Iterator[Row]:
        """Good rows; the bad ones are among the mistakes."""
        columns = None if self.mapping.head else Columns(self.mapping)
        for number, cells in self._rows:
            if number == self.mapping.head:
                columns = Columns(self.mapping, cells, f"{self.file.name}:{number}")
            elif columns is not None and number not in self.mapping.skip and any(cells):
                raw = "\t".join(cells).encode("utf-8", "replace")
                try:
                    yield columns.row(number, cells, raw, self.file)
                except RowError as error:
                    self.mistakes += mistakes(self.file.name, number, error)
        if columns is None:
            Columns(self.mapping, (), f"{self.file.name}:{self.mapping.head}")


def _cleaned(data: bytes, name: str) -> io.BytesIO:
    """The members that hold values, unpacked and looked through, in an archive of their own."""
    if len(data) > LARGEST:
        raise _refused(name, f"at most {LARGEST // 2**20} MiB", f"{len(data) // 2**20} MiB")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = _members(archive, name)
    except (zipfile.BadZipFile, zlib.error, OSError, ValueError, RuntimeError, EOFError) as error:
        raise _refused(name, "an XLSX file", str(error)[:80] or "none") from error
    except NotImplementedError as error:
        raise _refused(name, "members packed by deflate", str(error)[:80]) from error
    clean = io.BytesIO()
    with zipfile.ZipFile(clean, "w") as archive:
        for path, member in members.items():
            archive.writestr(path, member)
    clean.seek(0)
    return clean


def _members(archive: zipfile.ZipFile, name: str) -> dict[str, bytes]:
    infos = archive.infolist()
    if len(infos) > MOST_MEMBERS:
        raise _refused(name, f"at most {MOST_MEMBERS} members", str(len(infos)))
    names = [info.filename.lower() for info in infos]
    if len(set(names)) < len(names):
        raise _refused(name, "members with a name each", "two of one name")
    if macros := [n for n in names if _MACROS.search(n)]:
        raise _refused(name, "no macros", macros[0][:60], "Save it as .xlsx, without them")
    size, found = sum(info.file_size for info in infos), {}
    if size > LARGEST_UNPACKED:
        expected = f"at most {LARGEST_UNPACKED // 2**20} MiB unpacked"
        raise _refused(name, expected, f"{size // 2**20} MiB")
    for info in infos:
        if _READ.fullmatch(info.filename):
            # Reading stops at the size that was counted, whatever the member holds beyond it.
            found[info.filename] = archive.read(info)
            _looked_through(found[info.filename], info.filename, name)
    return found


def _refused(name: str, expected: str, found: str, do: str = "") -> InputError:
    return InputError(
        "the spreadsheet can't be read", expected=expected, found=found, where=name, do=do
    )


# -- looking through -----------------------------------------------------------


@dataclass
class _Look:
    """What was seen of one member so far."""

    name: str
    member: str
    depth: int = 0
    elements: int = 0
    others: int = 0
    cells: int = 0
    row: int = 0
    column: int = 0
    parser: Any = field(default_factory=lambda: expat.ParserCreate(namespace_separator=" "))

    def wrong(self, expected: str, found: str) -> InputError:
        """The refusal, with the line of the member."""
        where = f"{self.member}, line {self.parser.CurrentLineNumber}"
        return _refused(self.name, expected, f"{found} ({where})")

    def doctype(self, *_: object) -> None:
        """A DTD may hold anything, and a sheet needs none."""
        raise self.wrong("no document type", "one")

    def start(self, tag: str, about: dict[str, str]) -> None:
        """Count an element; rows and cells must be in order, as they are in any sheet."""
        kind = tag.rpartition(" ")[2]
        self.depth += 1
        self.elements += 1
        self.others += kind not in _LIGHT
        if self.depth > DEEPEST or self.elements > MOST_ELEMENTS or self.others > MOST_OTHERS:
            raise self.wrong("a sheet of readings", "elements without number")
        if kind == "row":
            self._row(about.get("r"))
        elif kind == "c":
            self._cell(about.get("r"))

    def end(self, _tag: str) -> None:
        """One level up."""
        self.depth -= 1

    def _row(self, said: str | None) -> None:
        number = self.row + 1 if said is None else _whole(said)
        if not self.row < number <= MOST_ROWS:
            raise self.wrong(f"rows in order, at most {MOST_ROWS}", f"{said} after {self.row}")
        self.row, self.column = number, 0

    def _cell(self, said: str | None) -> None:
        self.cells += 1
        if said is None:
            column, row = self.column + 1, self.row
        else:
            cell = _CELL.fullmatch(said)
            column, row = (_number(cell[1]), int(cell[2])) if cell else (0, 0)
        if not self.column < column <= WIDEST or row != self.row or self.cells > MOST_CELLS:
            expected = f"cells in order, at most {WIDEST} columns and {MOST_CELLS} cells"
            raise self.wrong(expected, f"{said} after {column_letters(self.column)}{self.row}")
        self.column = column


def _whole(text: str) -> int:
    return int(text) if re.fullmatch("[0-9]{1,7}", text) else 0


def _number(letters: str) -> int:
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - ord("A") + 1
    return number


def _looked_through(data: bytes, member: str, name: str) -> None:
    """Raises InputError for a member with a DTD, too deep, too large, or out of order."""
    look = _Look(name, member)
    look.parser.StartDoctypeDeclHandler = look.doctype
    look.parser.StartElementHandler = look.start
    look.parser.EndElementHandler = look.end
    try:
        look.parser.Parse(data, True)  # noqa: FBT003 - it is the last part
    except (expat.ExpatError, ValueError, LookupError) as error:
        # The latter two: an encoding that there isn't, or that has several bytes a sign.
        raise _refused(name, f"XML in {member}", str(error)[:80]) from error


# -- cells ---------------------------------------------------------------------


def _cells(
    clean: io.BytesIO, sheet: str, decimal: str, name: str
) -> Iterator[tuple[int, list[str]]]:
    """Rows of texts with their numbers; blank cells at the end of a row are left out."""
    import openpyxl

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(clean, read_only=True, data_only=True, keep_links=False)
            titles = [each.title for each in book.worksheets]
            known = sheet in titles if sheet else len(titles) == 1
            chosen = book[sheet or titles[0]] if known else None
    except Exception as error:
        raise _unreadable(name, error) from error
    if chosen is None:
        raise InputError(
            "the sheet isn't known",
            expected=repr(sheet) if sheet else "one sheet",
            found=", ".join(titles)[:200] or "none",
            where=name,
            do="State it in the mapping: [file] sheet",
        )
    rows = chosen.iter_rows(min_row=1, max_row=MOST_ROWS, max_col=WIDEST, values_only=True)
    number = 0
    while True:
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                values = next(rows, None)
        except Exception as error:
            raise _unreadable(name, error) from error
        if values is None:
            return
        number += 1
        cells = [_text(value, decimal) for value in values]
        while cells and not cells[-1]:
            cells.pop()
        yield number, cells


def _unreadable(name: str, error: Exception) -> InputError:
    """The library raises whatever its own parts raise on a broken file."""
    return _refused(name, "an XLSX file", f"{type(error).__name__} {error}"[:120])


def _text(value: object, decimal: str) -> str:
    """A cell as text, a number exactly and with the stated decimal sign."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, int | float):
        return format(Decimal(repr(value)), "f").replace(".", decimal)
    if isinstance(value, datetime):
        return value.isoformat(" ")
    if isinstance(value, time):
        return value.isoformat()
    return str(value).strip()
