"""The use case of a picture: kept with a tool, and on its report unless that isn't wanted.

Opens nothing and knows no clock; the picture lies beside the ledger before its entry is made.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from inspect_rec.capture.from_file import NAMING_A_FILE, Source
from inspect_rec.errors import InputError
from inspect_rec.inspection import Inspection, fold
from inspect_rec.ledger import Entry, Kinds
from inspect_rec.report.writable import writable
from inspect_rec.store import Store

MOST, MOST_MIB = 8, 20
"""Pictures on one report, and what they may have together: people look at a few, and a report is
sent by mail. Each is in the file twice, drawn and attached."""


@dataclass(frozen=True, slots=True)
class Shown:
    """What a picture is and shows. ``kind``: ``PNG`` or ``JPEG``; ``width``, ``height`` in pixels;
    ``flute`` 0 = of no one edge; ``on_report``: else it is only kept."""

    kind: str
    width: int
    height: int
    flute: int = 0
    words: str = ""
    on_report: bool = True


def fitting(
    store: Store, inspection_id: str, source: Source, flute: int, *, on_report: bool = True
) -> None:
    """Raises InputError for a picture that is with the tool already, names an edge that the tool
    hasn't, or would be one too many on its report; LedgerError where the job isn't open."""
    inspection = fold(store.entries(inspection_id), inspection_id)
    for entry in store.entries(inspection_id, kinds=NAMING_A_FILE):
        if str(entry.body["file"]["digest"]) == source.digest and not _struck(inspection, entry):
            raise InputError(
                "the picture is kept already",
                expected="a picture that isn't with this tool yet",
                found=f"entry {entry.station} {entry.seq}",
                where=source.name,
            )
    tool = inspection.tool
    if not 0 <= flute <= tool.edges:
        raise InputError(
            f"no such {tool.edge_word}", expected=f"1 to {tool.edges}", found=str(flute)
        )
    standing = [p for p in inspection.record.pictures if not p.struck]
    mib = (sum(p.document.size for p in standing) + source.size) / 2**20
    if on_report and (len(standing) >= MOST or mib > MOST_MIB):
        raise InputError(
            "there is no room for another picture on the report",
            expected=f"at most {MOST}, of {MOST_MIB} MiB together",
            found=f"{len(standing) + 1}, {mib:.1f} MiB",
            where=source.name,
            do="Strike one out, save it smaller, or keep this one with --keep-only",
        )


def _struck(inspection: Inspection, entry: Entry) -> bool:
    ref = (entry.station, entry.seq)
    return any(p.ref == ref and p.struck for p in inspection.record.pictures)


def keep(
    store: Store, inspection_id: str, person: str, source: Source, shown: Shown, at: datetime
) -> Entry:
    """The entry of a picture that was put beside the ledger. Raises what ``fitting`` raises."""
    fitting(store, inspection_id, source, shown.flute, on_report=shown.on_report)
    picture = {
        "kind": shown.kind,
        "width": shown.width,
        "height": shown.height,
        **({"flute": shown.flute} if shown.flute else {}),
        **({"words": shown.words} if shown.words else {}),
    }
    body = {"inspection": inspection_id, **source.body(), "picture": picture}
    kind = Kinds.PICTURE_KEPT if shown.on_report else Kinds.FILE_READ
    return store.append(at, person, kind, writable(body))
