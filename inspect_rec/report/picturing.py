"""Pictures of the tool that stand on its report, with what is said of each."""

from __future__ import annotations

from collections.abc import Mapping

from inspect_rec.errors import InputError, ReportError
from inspect_rec.inspection import Inspection
from inspect_rec.report import documents, figures, images
from inspect_rec.report.content import Picture
from report_templates.wording import Words

LONGEST_SIDE = 6000
"""Pixels: more than a bench camera has; each is unpacked in memory to be drawn."""


def printable(data: bytes, name: str) -> None:
    """Raises InputError for a picture that can't stand on a report."""

    def refused(expected: str, found: str) -> InputError:
        return InputError(
            "the picture can't stand on a report",
            expected=expected,
            found=found,
            where=name,
            do="Save it anew as JPEG in RGB, or keep it beside with --keep-only",
        )

    if len(data) > documents.LARGEST:
        most = f"at most {documents.LARGEST // 2**20} MiB"
        raise refused(most, f"{len(data) / 2**20:.1f} MiB")
    images.look(data, LONGEST_SIDE, refused)


def of(inspection: Inspection, given: Mapping[str, bytes], w: Words) -> tuple[Picture, ...]:
    """The pictures with their captions. ``given``: their bytes by the names under which they are
    attached; raises ReportError for one that is missing, another, or no picture."""
    found = []
    for name, picture in documents.pictures(inspection.record).items():
        data = documents.checked(picture.document, given.get(name))
        try:
            printable(data, name)
        except InputError as error:
            raise ReportError(error.what, expected=error.expected, found=error.found) from error
        edge = f"{w[f'edge.{inspection.tool.edge_word}']} {picture.flute}" if picture.flute else ""
        title = ": ".join(x for x in (edge, picture.words) if x) or w["pictures.untitled"]
        about = w["pictures.about"].format(
            name=picture.document.name, at=figures.moment(picture.at, w), person=picture.person
        )
        found.append(Picture(data, figures.capital(title), about))
    return tuple(found)
