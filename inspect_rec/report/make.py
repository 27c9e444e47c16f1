"""A report from entries: fold, say, draw, attach. The same entries give the same bytes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from inspect_rec import ledger
from inspect_rec.errors import ReportError
from inspect_rec.inspection import Inspection, fold
from inspect_rec.ledger import Entry
from inspect_rec.report import content, documents, pdf, picturing, record, saying
from inspect_rec.report.record import Header
from report_templates import languages, letter, words


@dataclass(frozen=True, slots=True)
class Made:
    """An unsigned report and what it says."""

    rendered: pdf.Rendered
    said: content.Content
    inspection: Inspection


def make(
    entries: tuple[Entry, ...], header: Header, given: Mapping[str, bytes] = MappingProxyType({})
) -> Made:
    """The report of one tool, whole but for its signatures.

    ``entries``: those of the tool and those that opened its job, oldest first. ``given``: the
    documents that belong to its entries, by the names that ``documents.named`` gives them. Raises
    ReportError for a layout or language that isn't here or a document that isn't the one, and
    what ``inspection.fold`` raises.
    """
    known(header, letter.NAME)
    inspection = fold(entries, header.inspection)
    pictures = picturing.of(inspection, given, words(header.language))
    said = replace(saying.of(inspection, header), pictures=pictures)
    attachments = {
        record.RECORD: pdf.Attachment(
            record.to_bytes(header, entries), "application/json", "Source", "raw readings"
        ),
        record.READINGS: pdf.Attachment(
            record.to_csv(inspection), "text/csv", "Data", "raw readings as a table"
        ),
        **documents.attached(entries, header.inspection, given),
    }
    return Made(pdf.render(said, attachments, ledger.instant(header.issued)), said, inspection)


def header_of(data: bytes) -> Header:
    """What a report that is there already says of itself, such as its language and paper. Raises
    what ``record.from_bytes`` raises, and ReportError where there is no record."""
    files = pdf.attachments(data, record.LARGEST)
    if record.RECORD not in files:
        raise ReportError("the report has no record", expected=record.RECORD)
    return record.from_bytes(files[record.RECORD])[0]


def known(header: Header, layout: str) -> None:
    """A report that was laid out otherwise can't be made again: another layout is no forgery,
    but nothing that it prints can be held against its record."""
    if header.layout != layout:
        raise ReportError(
            "a layout that isn't here",
            expected=layout,
            found=repr(header.layout[:40]),
            do="Use the version of the program that made the report, or a later one",
        )
    if header.language not in languages():
        raise ReportError(
            "a language without words",
            expected=" or ".join(sorted(languages())),
            found=repr(header.language[:40]),
            do="Set the language in station.toml to one of these",
        )
