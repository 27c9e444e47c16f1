"""The record inside a report: the raw entries and the report's own head, and back again.

Everything printed comes from here and nowhere else, so that anybody who holds the file can make
the same pages again. Canonical JSON (RFC 8785): what isn't in that one form is refused.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from inspect_rec import ledger
from inspect_rec.errors import LedgerError, ReportError
from inspect_rec.inspection import Inspection
from inspect_rec.inspection.history import Earlier
from inspect_rec.ledger import Entry, Head
from inspect_rec.report import letterhead
from inspect_rec.report.letterhead import Letterhead

FORMAT, VERSION = "inspect_rec record", 1
RECORD, READINGS = "record.json", "readings.csv"
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", *"\uff1d\uff0b\uff0d\uff20")
"""What begins a formula in some spreadsheet, in full width, too (from memory)."""
_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?")
LARGEST = 20 * 1024 * 1024

_TEXT = ("number", "inspection", "issued", "program", "layout", "language", "ground_by")


@dataclass(frozen=True, slots=True)
class Named:
    """A person or customer as printed."""

    name: str
    roles: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Header:
    """What a report says of itself. Of a batch sheet ``inspection`` is the job."""

    number: str
    revision: int
    replaces: str | None
    inspection: str
    issued: datetime
    head: Head
    program: str
    layout: str
    language: str
    persons: Mapping[str, Named]
    customers: Mapping[str, str]
    ground_by: str
    why: str = ""
    """What changed against the report that this one replaces, and why."""
    letterhead: Letterhead | None = None
    copies: tuple[str, ...] = ()
    """What goes to the customer beside the report."""
    contact: str = ""
    """Whom to ask at the customer's, and how."""
    earlier: tuple[Earlier, ...] = ()
    """Earlier reports of the same tool, oldest first."""

    @property
    def paper(self) -> str:
        """Name of the paper on which it is drawn."""
        return self.letterhead.paper if self.letterhead else "A4"

    def person(self, id_: str) -> str:
        """Name of a person, or the id where no name is kept any more."""
        return self.persons[id_].name if id_ in self.persons else id_


def to_bytes(header: Header, entries: tuple[Entry, ...], form: str = FORMAT) -> bytes:
    """The record as canonical JSON; ``form``: what it is the record of."""
    return ledger.canonical(
        {
            "format": form,
            "version": VERSION,
            "number": header.number,
            "revision": header.revision,
            "replaces": header.replaces,
            "inspection": header.inspection,
            "issued": ledger.instant(header.issued),
            "head": {
                "station": header.head.station,
                "seq": header.head.seq,
                "digest": header.head.digest,
            },
            "program": header.program,
            "layout": header.layout,
            "language": header.language,
            "persons": {
                id_: {"name": p.name, "roles": list(p.roles)} for id_, p in header.persons.items()
            },
            "customers": dict(header.customers),
            "ground_by": header.ground_by,
            **({"why": header.why} if header.why else {}),
            **({"copies": list(header.copies)} if header.copies else {}),
            **({"contact": header.contact} if header.contact else {}),
            **({"earlier": [each.body() for each in header.earlier]} if header.earlier else {}),
            **({"letterhead": header.letterhead.body()} if header.letterhead else {}),
            "entries": [ledger.to_json(e) for e in entries],
        }
    )


def from_bytes(
    data: bytes, form: str = FORMAT, largest: int = LARGEST
) -> tuple[Header, tuple[Entry, ...]]:
    """The record back; raises ReportError for what isn't one, LedgerError for what is no JSON of
    the ledger's kind or for an entry that doesn't hold."""
    if len(data) > largest:
        raise ReportError("the record is too large", expected=f"at most {largest} bytes")
    whole = ledger.read_json(data, "the record")
    if not isinstance(whole, dict) or whole.get("format") != form:
        raise ReportError("this is no record", expected=form, found=repr(whole)[:60])
    if whole.get("version") != VERSION:
        raise ReportError(
            "the record has another version",
            expected=str(VERSION),
            found=repr(whole.get("version")),
            do="Verify it with the program version that it names, or a newer one",
        )
    if ledger.canonical(whole) != data:
        raise ReportError("the record isn't in its one canonical form")
    header = _header(whole)
    entries = tuple(ledger.from_json(each) for each in whole["entries"])
    for entry in entries:
        ledger.check(entry)
    return header, entries


def _header(whole: Mapping[str, Any]) -> Header:
    try:
        text = {key: _text(whole[key]) for key in _TEXT}
        head = whole["head"]
        return Header(
            number=text["number"],
            revision=_whole(whole["revision"]),
            replaces=None if whole["replaces"] is None else _text(whole["replaces"]),
            inspection=text["inspection"],
            issued=ledger.parse_instant(text["issued"]),
            head=Head(_text(head["station"]), _whole(head["seq"]), _text(head["digest"])),
            program=text["program"],
            layout=text["layout"],
            language=text["language"],
            persons={
                _text(id_): Named(_text(p["name"]), tuple(_text(r) for r in p["roles"]))
                for id_, p in whole["persons"].items()
            },
            customers={_text(id_): _text(name) for id_, name in whole["customers"].items()},
            ground_by=text["ground_by"],
            why=_text(whole.get("why", "")),
            copies=tuple(_text(each) for each in whole.get("copies", ())),
            contact=_text(whole.get("contact", "")),
            earlier=tuple(Earlier.of(each) for each in whole.get("earlier", ())),
            letterhead=letterhead.of(whole["letterhead"]) if "letterhead" in whole else None,
        )
    except (KeyError, TypeError, AttributeError, LedgerError, ValueError) as error:
        raise ReportError("the record's head is incomplete", found=repr(error)[:100]) from error


def _text(value: object) -> str:
    if not isinstance(value, str) or len(value) > 200:
        raise TypeError(f"expected a text, found {value!r:.60}")
    return value


def _whole(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise TypeError(f"expected a whole number, found {value!r:.60}")
    return value


_COLUMNS = (
    "station",
    "seq",
    "at",
    "feature",
    "edge",
    "mark",
    "repeat",
    "when",
    "round",
    "stage",
    "channel",
    "value",
    "unit",
    "read by eye",
    "source",
    "person",
    "counts",
    "raw (hex)",
)


def to_csv(inspection: Inspection) -> bytes:
    """Every reading of the tool, those that count and those that don't, one figure a row; with the
    mark by which spreadsheets know UTF-8."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\r\n")
    rows.writerow(_COLUMNS)
    void = inspection.record.void
    for entry in inspection.record.entries:
        if entry.kind != "reading":
            continue
        body, place = entry.body, entry.body["place"]
        counts = void.get((entry.station, entry.seq), "yes")
        for taken in body["taken"]:
            rows.writerow(
                _plain(cell)
                for cell in (
                    entry.station,
                    entry.seq,
                    ledger.instant(entry.at.astimezone(UTC)),
                    place["feature"],
                    place.get("flute", ""),
                    place.get("mark", ""),
                    place.get("repeat", 1),
                    place.get("when", ""),
                    place.get("round", 0),
                    body["stage"],
                    taken["channel"],
                    taken["value"],
                    taken["unit"],
                    "yes" if body["by_eye"] else "no",
                    body["source"],
                    entry.person,
                    counts,
                    body["raw"],
                )
            )
    return out.getvalue().encode("utf-8-sig")


def _plain(cell: object) -> str:
    """A cell that no spreadsheet takes for a formula; numbers keep their sign."""
    text = str(cell)
    return f"'{text}" if text.startswith(_FORMULA) and not _NUMBER.fullmatch(text) else text
