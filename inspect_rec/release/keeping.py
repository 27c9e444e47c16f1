"""Where signed files lie, and what the ledger says of them.

A signed file lies on disk, beside its place, before the entry that tells of it, and takes its
place after: whenever the machine stops, either nothing happened, or ``finish`` completes it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path

from inspect_rec.config import Folder, read_whole, write_whole
from inspect_rec.errors import RefusedError, ReportError
from inspect_rec.ledger import Entry
from inspect_rec.people import Signer, key_id
from inspect_rec.store import Store
from inspect_rec.store.sqlite import Draft


def finish(store: Store, folder: Folder, number: str) -> Path:
    """The report's file, signed as often as the ledger says.

    Puts it in its place where the machine stopped between entry and file. Raises ReportError
    where the ledger knows no such report, or the file isn't the one that was signed last.
    """
    made = report_made(store, number)
    last = ""
    for entry in store.entries(str(made.body["inspection"]), kinds=("signed",)):
        if entry.body["number"] == number:
            last = str(entry.body["digest"])
    return in_place(folder.report(number), last)


def in_place(path: Path, digest: str) -> Path:
    """The signed file of that digest at its place, brought there where it still waits beside it.
    Raises ReportError where another file is there, or none."""
    found = sha256(read_whole(path)) if path.is_file() else "no file"
    if found == digest:
        return path
    waiting = _waiting(path, digest)
    if waiting.is_file() and sha256(read_whole(waiting)) == digest:
        waiting.replace(path)
        return path
    raise ReportError(
        "the file isn't the one that was signed last",
        expected=f"SHA-256 {digest}",
        found=found,
        where=str(path),
        do="Bring that file back from a copy",
    )


def report_made(store: Store, number: str) -> Entry:
    """The entry that made a report; ReportError where there is none."""
    entry = store.numbered(number)
    if entry is None or entry.kind != "report made":
        found = number if entry is None else f"{number}: {entry.body.get('why', entry.kind)}"
        raise ReportError("the ledger knows no such report", found=found)
    return entry


def keep(store: Store, path: Path, data: bytes, drafts: Sequence[Draft]) -> Path:
    """File and entries: the entries decide. A file whose entries failed stays beside its place,
    since a failing disk may have kept them all the same; where the store refused them, it goes."""
    waiting = _waiting(path, sha256(data))
    write_whole(waiting, data)
    try:
        store.append_all(drafts)
    except RefusedError:
        waiting.unlink()
        raise
    waiting.replace(path)
    return path


def _waiting(path: Path, digest: str) -> Path:
    return path.with_name(f".{path.stem}-{digest[:12]}.part")


def signed(base: Mapping[str, str], role: str, who: Signer, data: bytes) -> dict[str, str]:
    """Body of the entry that tells of a signature."""
    return {
        **base,
        "role": role.replace("_", " "),
        "key": key_id(who.certificate),
        "digest": sha256(data),
    }


def sha256(data: bytes) -> str:
    """SHA-256 of a file, hexadecimal."""
    return hashlib.sha256(data).hexdigest()
