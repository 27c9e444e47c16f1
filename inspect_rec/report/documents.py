"""Documents that belong to a report's entries, attached to it: of a customer's concession, and
pictures of the tool.

An entry holds a document's name, size and SHA-256; the bytes lie beside the ledger and go into the
report, so that whoever has the report has them, too.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping

from inspect_rec.errors import ReportError
from inspect_rec.inspection.kept import Document, Picture, Record, record
from inspect_rec.ledger import Entry
from inspect_rec.report.pdf import Attachment

LARGEST = 10 * 1024 * 1024
"""Bytes of one document."""
_MIME = {
    ".pdf": "application/pdf",
    ".png": "image/png",
    ".jpg": "image/jpeg",
    ".jpeg": "image/jpeg",
    ".txt": "text/plain",
}
_OTHER = "application/octet-stream"


def named(entries: tuple[Entry, ...], inspection: str) -> dict[str, Document]:
    """The documents of a tool's concessions, and its pictures that weren't struck out, by the names
    under which they are attached."""
    found = record(entries, inspection)
    return {
        **{
            _safe(f"concession {c.number} {c.document.name}"): c.document
            for c in found.concessions
            if c.document is not None
        },
        **{name: p.document for name, p in pictures(found).items()},
    }


def pictures(found: Record) -> dict[str, Picture]:
    """The pictures that stand on a tool's report, by the names under which they are attached."""
    standing = (p for p in found.pictures if not p.struck)
    return {_safe(f"picture {n} {p.document.name}"): p for n, p in enumerate(standing, 1)}


def _safe(name: str) -> str:
    return re.sub(r"[^\w. -]", "_", name)[:120]


def checked(document: Document, data: bytes | None) -> bytes:
    """The bytes, if they are the document's."""
    if data is None or hashlib.sha256(data).hexdigest() != document.sha256:
        found = "nothing" if data is None else hashlib.sha256(data).hexdigest()
        raise ReportError(
            f"a document isn't the one that the record names: {document.name}",
            expected=f"SHA-256 {document.sha256}",
            found=found,
        )
    return data


def attached(
    entries: tuple[Entry, ...], inspection: str, given: Mapping[str, bytes]
) -> dict[str, Attachment]:
    """The documents as attachments. Raises ReportError for one that is missing or another."""
    found = {}
    for name, document in named(entries, inspection).items():
        suffix = re.search(r"\.\w+$", name.lower())
        mime = _MIME.get(suffix[0], _OTHER) if suffix else _OTHER
        data = checked(document, given.get(name))
        about = "picture of the tool" if document.picture else "document of a concession"
        found[name] = Attachment(data, mime, "Supplement", about)
    return found
