"""What goes to a customer with the report, made from what the report itself holds."""

from __future__ import annotations

from pathlib import Path

from inspect_rec.config import Folder, write_whole
from inspect_rec.inspection import Inspection
from inspect_rec.report import adding, measurements
from inspect_rec.report.record import Header


def beside(folder: Folder, header: Header, inspection: Inspection) -> Path | None:
    """The measurement record beside the report, where its customer gets it; else None."""
    if adding.MEASUREMENT_RECORD not in header.copies:
        return None
    names = {id_: each.name for id_, each in header.persons.items()} | dict(header.customers)
    said = measurements.Said(header.language, header.program, names, header.letterhead)
    path = folder.reports / adding.file_name(header.number)
    write_whole(path, measurements.made(inspection, said))
    return path
