"""A report from entries: fold, say, draw, attach. The same entries give the same bytes."""

from __future__ import annotations

from dataclasses import dataclass

from inspect_rec import ledger
from inspect_rec.inspection import Inspection, fold
from inspect_rec.ledger import Entry
from inspect_rec.report import content, pdf, record, saying
from inspect_rec.report.record import Header


@dataclass(frozen=True, slots=True)
class Made:
    """An unsigned report and what it says."""

    rendered: pdf.Rendered
    said: content.Content
    inspection: Inspection


def make(entries: tuple[Entry, ...], header: Header) -> Made:
    """The report of one tool, whole but for its signatures.

    ``entries``: those of the tool and those that opened its job, oldest first. Raises what
    ``inspection.fold`` raises.
    """
    inspection = fold(entries, header.inspection)
    said = saying.of(inspection, header)
    attachments = {
        record.RECORD: pdf.Attachment(
            record.to_bytes(header, entries), "application/json", "Source", "raw readings"
        ),
        record.READINGS: pdf.Attachment(
            record.to_csv(inspection), "text/csv", "Data", "raw readings as a table"
        ),
    }
    return Made(pdf.render(said, attachments, ledger.instant(header.issued)), said, inspection)
