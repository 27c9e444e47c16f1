"""The command for files: what one holds, its rows into a tool's open places, or a watched folder.

Reads files and the clock; what a file means is the drivers' business, what is taken the capture's.
"""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

import typer

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
WRONG = 2
"""Exit code where a row is wrong, or wasn't taken."""


@dataclass(frozen=True, slots=True)
class Opened:
    """A file that is open, as it was when it was looked at."""

    stream: BinaryIO
    name: str
    size: int
    written: datetime
    digest: str
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
            yield Opened(stream, path.name, about.st_size, written, digest, about)
    except OSError as error:
        raise InputError("the file can't be read", found=str(error), where=str(path)) from error


def command(
    file: Path | None = typer.Argument(None, metavar="[FILE]", help="Or --watch a folder."),
    mapping: Path | None = typer.Option(
        None, "--mapping", metavar="FILE", help="Says what its columns are; a picture needs none."
    ),
    inspection: str = typer.Option(
        "", "--inspection", metavar="JOB/TOOL", help="Take the rows for it; else only show them."
    ),
    person: str = typer.Option("", "--person", metavar="ID", help="Who does this, such as G-01."),
    watch: Path | None = typer.Option(
        None, "--watch", metavar="FOLDER", help="Take each file that is put there, once."
    ),
    still: float = typer.Option(
        2.0, "--still", metavar="SECONDS", help="A file is complete when it stood still so long."
    ),
    flute: int = typer.Option(
        0, "--flute", min=0, metavar="NUMBER", help="Which a picture shows.", show_default=False
    ),
    words: str = typer.Option(
        "", "--words", metavar="TEXT", help="What a picture shows.", show_default=False
    ),
    keep_only: bool = typer.Option(
        False, "--keep-only", help="Keep a picture with the tool, not on its report."
    ),
    once: bool = typer.Option(
        False, "--once", help="Leave the folder when no file waits in it any more."
    ),
    shop: str | None = asking.SHOP,
    as_json: bool = asking.AS_JSON,
) -> None:
    """Show what a file holds, or take its rows for a tool.

    Tables (CSV), spreadsheets (XLSX), points, drawings (DXF), pictures; docs/read-files.md says
    how a mapping is written. Exit code 2 if a row is wrong or wasn't taken.

    Example: inspect-rec import log.csv --mapping log.toml
    """
    if (file is None) is (watch is None):
        raise InputError(
            "one of both is needed",
            expected="FILE or --watch FOLDER",
            found="both" if file else "none",
        )
    if bool(inspection) is not bool(person) or (watch is not None and not inspection):
        raise InputError(
            "somebody has to answer for what is taken",
            expected="--inspection JOB/TOOL and --person ID",
            found=f"{inspection or 'no tool'}, {person or 'nobody'}",
        )
    given = _mapping(mapping)
    if watch is not None:
        if given is None:
            raise InputError("a folder's files need a mapping", expected="--mapping FILE")
        from inspect_rec.cli import watching

        folder = asking.shop(shop)
        who = asking.known_person(folder, person)
        taker = Taker(folder, inspection, who, given, About(flute, words, not keep_only))
        watching.run(watch, folder, taker, still_s=still, once=once)
        return
    with opened(file or Path()) as found:
        if inspection:
            folder = asking.shop(shop)
            who = asking.known_person(folder, person)
            taker = Taker(folder, inspection, who, given, About(flute, words, not keep_only))
            told = taker.take(found)
        else:
            told = _shown(found, given)
            found.unchanged()
    imported.say(told, as_json=as_json)
    if told.get("mistakes"):
        raise typer.Exit(WRONG)


@dataclass(frozen=True, slots=True)
class Given:
    """A mapping with its digest."""

    mapping: Mapping
    digest: str


def _mapping(path: Path | None) -> Given | None:
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

    about = File(found.name, source, found.digest, found.written)
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


def _shown(found: Opened, given: Given | None) -> dict[str, Any]:
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
