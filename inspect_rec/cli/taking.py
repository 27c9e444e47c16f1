"""Files for the command: what one holds, its rows into a tool's open places, a picture kept.

Reads files and the clock; what a file means is the drivers' business, what is taken the capture's.
"""

from __future__ import annotations

import hashlib
import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from inspect_rec.cli import asking, imported
from inspect_rec.errors import InputError, Mistake

if TYPE_CHECKING:
    from drivers.mapping import Mapping
    from drivers.outline import Outline
    from drivers.picture import Picture
    from drivers.points import Points
    from drivers.rows import Row
    from drivers.spreadsheet import Spreadsheet
    from drivers.table import Table
    from inspect_rec.capture.from_file import Intake, Source
    from inspect_rec.config import Folder
    from inspect_rec.store import Store

    Rows = Table | Spreadsheet | Points

LARGEST = 256 * 1024 * 1024
"""Bytes of any file."""


@dataclass(frozen=True, slots=True)
class Opened:
    """A file that is open, as it was when it was looked at."""

    stream: BinaryIO
    name: str
    size: int
    written: datetime
    digest: str
    growing: bool
    """Whether another program has it open for writing."""
    _before: os.stat_result

    def unchanged(self) -> None:
        """Raises InputError where somebody wrote to it since."""
        now = os.fstat(self.stream.fileno())
        if (now.st_size, now.st_mtime_ns) != (self._before.st_size, self._before.st_mtime_ns):
            raise InputError(
                "the file changed while it was read",
                where=self.name,
                do="Import it once it is whole",
            )


@contextmanager
def opened(path: Path) -> Iterator[Opened]:
    """A file with its digest; InputError where it can't be read, is none, or is too large."""
    try:
        with path.open("rb") as stream:
            about = os.fstat(stream.fileno())
            if not stat.S_ISREG(about.st_mode) or about.st_size > LARGEST:
                expected = f"a file of at most {LARGEST // 2**20} MiB"
                found = f"{about.st_size // 2**20} MiB"
                raise InputError(
                    "it can't be imported", expected=expected, found=found, where=path.name
                )
            digest = hashlib.file_digest(stream, "sha256").hexdigest()
            stream.seek(0)
            written = datetime.fromtimestamp(about.st_mtime, UTC)
            growing = is_open_for_writing(path)
            yield Opened(stream, path.name, about.st_size, written, digest, growing, about)
    except OSError as error:
        raise InputError("the file can't be read", found=str(error), where=str(path)) from error


def is_open_for_writing(path: Path) -> bool:
    """Whether another program has the file open for writing, as far as the system tells: Linux by
    a lease, Windows by refusing to open it; elsewhere nobody knows, and standing still counts."""
    if sys.platform == "win32":
        try:
            with path.open("r+b"):
                return False
        except PermissionError:
            return True
    if sys.platform == "linux":
        import fcntl

        with path.open("rb") as file:
            try:
                fcntl.fcntl(file, fcntl.F_SETLEASE, fcntl.F_RDLCK)
                fcntl.fcntl(file, fcntl.F_SETLEASE, fcntl.F_UNLCK)
            except BlockingIOError:
                return True
            except OSError:  # another's file, or a file system without leases
                return False
    return False


@dataclass(frozen=True, slots=True)
class Given:
    """A mapping with its digest."""

    mapping: Mapping
    digest: str


def mapping_of(path: Path | None) -> Given | None:
    """The mapping file with its digest; None without one. InputError for one with mistakes."""
    if path is None:
        return None
    from drivers.mapping import parse
    from inspect_rec.config import read_text

    text = read_text(path)
    return Given(parse(text, path.name), hashlib.sha256(text.encode()).hexdigest())


# -- what a file holds ---------------------------------------------------------


def _kind(found: Opened, given: Given | None) -> str:
    """What the mapping says that it is; a picture says it itself."""
    from drivers.picture import is_picture

    begin = found.stream.read(16)
    found.stream.seek(0)
    if is_picture(begin):
        return "picture"
    if given is None:
        raise InputError(
            "nobody says what is in the file", expected="--mapping FILE", where=found.name
        )
    return given.mapping.kind


def _rows(found: Opened, mapping: Mapping, source: str = "") -> Rows:
    from drivers.mapping import POINTS, SPREADSHEET
    from drivers.rows import File

    about = File(found.name, source, found.digest, found.written, growing=found.growing)
    if mapping.kind == SPREADSHEET:
        from drivers.spreadsheet import Spreadsheet

        return Spreadsheet(found.stream.read(), mapping, about)
    if mapping.kind == POINTS:
        from drivers.points import Points

        return Points(found.stream, mapping, about)
    from drivers.table import Table

    return Table(found.stream, mapping, about)


def _contour(found: Opened, mapping: Mapping) -> Outline:
    """The contour of a drawing, which the method must be able to read."""
    from drivers.outline import contour
    from inspect_rec.methods.contours import contour_of

    outline = contour(found.stream.read(), mapping, found.name)
    contour_of(outline.elements)
    return outline


def _picture(found: Opened) -> Picture:
    from drivers import picture

    return picture.read(found.stream.read(picture.LARGEST + 1), found.name)


def shown(found: Opened, given: Given | None) -> dict[str, Any]:
    """What would be taken, and every mistake."""
    kind = _kind(found, given)
    told: dict[str, Any] = {"file": found.name, "what": kind, "digest": found.digest}
    if kind == "picture":
        picture = _picture(found)
        return told | {"kind": picture.kind, "width": picture.width, "height": picture.height}
    if given is None:  # pragma: no cover - _kind has refused it
        return told
    if kind == "contour":
        outline = _contour(found, given.mapping)
        left = [_mistake(m) for m in outline.left]
        more = {"elements": list(outline.elements), "gap_mm": outline.gap_mm, "left": left}
        return told | more
    rows = _rows(found, given.mapping)
    each = iter(rows)
    first = [_row(row) for row in islice(each, 100 * imported.SHOWN)]
    count = len(first) + _left(rows, each)
    return told | {"count": count, "rows": first, "mistakes": list(map(_mistake, rows.mistakes))}


def _left(rows: Rows, each: Iterator[Row]) -> int:
    """How many good rows follow; of a table they are read together."""
    from drivers.table import Table

    if isinstance(rows, Table):
        return sum(map(len, rows.blocks()))
    return sum(1 for _ in each)


# -- taking --------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class About:
    """What the person says of a picture."""

    flute: int = 0
    words: str = ""
    on_report: bool = True


@dataclass(frozen=True, slots=True)
class Taker:
    """Takes files for one tool."""

    folder: Folder
    inspection: str
    person: str
    given: Given | None
    about: About = About()

    def take(self, found: Opened) -> dict[str, Any]:
        """Take a file's good rows, or keep a picture; InputError where nothing of it is new."""
        from inspect_rec.capture.from_file import FromFile
        from inspect_rec.store import Store

        kind = _kind(found, self.given)
        source = self.source(found, kind)
        told: dict[str, Any] = {"file": found.name, "what": kind, "digest": found.digest}
        with Store.open(self.folder.ledger) as store:
            if kind == "picture":
                return told | keep_picture(store, self, source, found, asking.now())
            if self.given is None or kind == "contour":
                raise InputError(
                    "a drawing is no reading",
                    where=found.name,
                    do="Import it without --inspection, and put its elements into the job file",
                )
            if found.growing and self.given.mapping.form is None:
                raise InputError(
                    "another program still writes to the file, and its rows have no instants",
                    where=found.name,
                    do="Close it there, and import it once it is whole",
                )
            use = FromFile(store, self.inspection, self.person, source)
            rows = _rows(found, self.given.mapping)
            intake = use.take(self._whole(rows, found), rows.mistakes, asking.now())
        return told | _told(intake)

    def _whole(self, rows: Rows, found: Opened) -> Iterator[Row]:
        """The rows of a file that nobody writes to meanwhile."""
        yield from rows
        found.unchanged()

    def source(self, found: Opened, kind: str) -> Source:
        """What an entry says of the file."""
        from inspect_rec.capture.from_file import Source

        stated = (self.given.mapping.name, self.given.digest) if self.given else ("", "")
        return Source(found.name, found.digest, found.size, kind, *stated)


def keep_picture(
    store: Store, taker: Taker, source: Source, found: Opened, at: datetime
) -> dict[str, Any]:
    """A picture beside the ledger, by its digest, before the entry that names it."""
    from inspect_rec.capture import pictures
    from inspect_rec.config import write_whole
    from inspect_rec.report import picturing

    picture, about = _picture(found), taker.about
    pictures.fitting(store, taker.inspection, source, about.flute, on_report=about.on_report)
    found.stream.seek(0)
    data = found.stream.read()
    if hashlib.sha256(data).hexdigest() != source.digest:
        found.unchanged()
    if about.on_report:
        picturing.printable(data, found.name)
    write_whole(taker.folder.picture(source.digest, picture.kind), data)
    size = picture.kind, picture.width, picture.height
    shown = pictures.Shown(*size, about.flute, about.words, about.on_report)
    entry = pictures.keep(store, taker.inspection, taker.person, source, shown, at)
    of_file = dict(zip(("kind", "width", "height"), size, strict=True))
    return {**of_file, "on_report": about.on_report, "entry": entry.seq}


def _told(intake: Intake) -> dict[str, Any]:
    rows = [
        _row(row) | {"place": place.body(), "doubt": doubt} for row, place, doubt in intake.taken
    ]
    return {
        "count": len(rows),
        "rows": rows,
        "known": len(intake.known),
        "mistakes": list(map(_mistake, intake.refused)),
        "entry": intake.entry.seq if intake.entry else None,
    }


def _mistake(mistake: Mistake) -> dict[str, str]:
    return {"where": mistake.where, "expected": mistake.expected, "found": mistake.found}


def _row(row: Row) -> dict[str, Any]:
    from inspect_rec import ledger

    figures = [
        {"channel": r.channel, "value": format(r.value, "f"), "unit": r.unit.value}
        for r in row.sighting.readings
    ]
    said = {"feature": row.feature, "flute": row.flute, "mark": row.mark, "repeat": row.repeat}
    names = {key: value for key, value in said.items() if value not in ("", None)}
    at = ledger.instant(row.sighting.at)
    return {"row": row.number, "at": at, "figures": figures, **names}
