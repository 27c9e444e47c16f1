"""What comes after a report: a customer's concession with its document, a withdrawal, what replaces
which. Each is an entry; no report is ever changed."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from inspect_rec.config import Folder, read_whole, write_whole
from inspect_rec.errors import InputError, ReportError
from inspect_rec.inspection import fold
from inspect_rec.inspection.conceded import needs_one
from inspect_rec.ledger import Entry
from inspect_rec.report import documents
from inspect_rec.store import Store


@dataclass(frozen=True, slots=True)
class Granted:
    """What a customer concedes: under which reference, for which results, in which words."""

    number: str
    characteristics: tuple[str, ...]
    flutes: tuple[int, ...] = ()
    """Empty = all."""
    words: str = ""
    granted_by: str = ""
    document: Path | None = None


def concede(
    store: Store, folder: Folder, inspection_id: str, person: str, granted: Granted, at: datetime
) -> Entry:
    """Record that the customer takes results as they are, with the document that says so.

    Raises InputError where it names no characteristic of the tool, or nothing that isn't shown to
    conform; the verdicts stay as they are.
    """
    inspection = fold(store.entries(inspection_id), inspection_id)
    known = [c.id for c in inspection.job.characteristic]
    for each in granted.characteristics:
        if each not in known:
            raise InputError("no such characteristic", expected=", ".join(known), found=each)
    need = [r for r in inspection.results if needs_one(r)]
    if not any(
        r.characteristic.id in granted.characteristics
        and (not granted.flutes or r.flute is None or r.flute in granted.flutes)
        for r in need
    ):
        raise InputError(
            "the concession covers nothing that isn't shown to conform",
            expected=", ".join(dict.fromkeys(r.characteristic.id for r in need)) or "nothing",
            found=", ".join(granted.characteristics) or "nothing",
        )
    body: dict[str, Any] = {
        "inspection": inspection_id,
        "number": _line(granted.number, "the customer's reference"),
        "characteristics": list(granted.characteristics),
        "flutes": list(granted.flutes),
        "words": granted.words,
        "granted_by": granted.granted_by,
    }
    if granted.document is not None:
        body["document"] = _kept(folder, granted.document)
    return store.append(at, person, "concession", body)


def _line(text: str, what: str) -> str:
    if not text.strip() or not text.isprintable():
        raise InputError(f"{what} is missing", expected="a line of text", found=repr(text))
    return text.strip()


def _kept(folder: Folder, path: Path) -> dict[str, Any]:
    """The document beside the ledger, under its digest, and what an entry says of it."""
    data = read_whole(path)
    if len(data) > documents.LARGEST:
        raise InputError(
            "the document is too large",
            expected=f"at most {documents.LARGEST} bytes",
            found=str(len(data)),
            where=path.name,
        )
    digest = hashlib.sha256(data).hexdigest()
    kept = folder.document(digest)
    if not kept.is_file():
        kept.parent.mkdir(parents=True, exist_ok=True)
        write_whole(kept, data)
    return {"name": path.name, "sha256": digest, "size": len(data)}


def documents_of(
    folder: Folder, entries: tuple[Entry, ...], inspection_id: str
) -> dict[str, bytes]:
    """The documents and pictures of a tool, by the names under which they are attached. Raises
    ReportError for one that isn't there any more or isn't the one."""
    found = {}
    for name, document in documents.named(entries, inspection_id).items():
        path = folder.document(document.sha256)
        if document.picture:
            path = folder.picture(document.sha256, document.picture)
        data = read_whole(path) if path.is_file() else None
        found[name] = documents.checked(document, data)
    return found


def withdraw(store: Store, number: str, person: str, at: datetime, why: str) -> Entry:
    """Record that a report isn't to be relied on any more. It stays, and verifies as what it is;
    who holds it against the ledger is told."""
    entry = store.numbered(number)
    if entry is None or entry.kind != "report made":
        raise ReportError("the ledger knows no such report", found=number)
    if withdrawn(store, number) is not None:
        raise ReportError("the report is withdrawn already", found=number)
    body = {
        "inspection": entry.body["inspection"],
        "number": number,
        "why": _line(why, "the reason of a withdrawal"),
    }
    return store.append(at, person, "withdrawn", body)


def withdrawn(store: Store, number: str) -> str | None:
    """Why a report was withdrawn; None where it wasn't."""
    for entry in store.entries(kinds=("withdrawn",)):
        if entry.body.get("number") == number:
            return str(entry.body["why"])
    return None


def replaced_by(store: Store, number: str) -> str | None:
    """The report that replaces another, if there is one."""
    for entry in store.entries(kinds=("report made",)):
        if entry.body.get("replaces") == number:
            return str(entry.body["number"])
    return None
