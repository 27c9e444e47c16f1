"""Verification at the face: roots from files, the store beside the report, words and JSON."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from cryptography import x509

from inspect_rec.errors import InputError, InspectRecError
from inspect_rec.ledger import Kinds
from inspect_rec.release import replaced_by, stale
from inspect_rec.release.conceding import withdrawn
from inspect_rec.report.finding import Code, Finding
from inspect_rec.report.record import Header
from inspect_rec.report.verify import Verification
from inspect_rec.store import Store


def read_root(path: Path) -> x509.Certificate:
    """A root's certificate, PEM or DER."""
    try:
        data = path.read_bytes()
        if b"-----BEGIN" in data:
            return x509.load_pem_x509_certificate(data)
        return x509.load_der_x509_certificate(data)
    except FileNotFoundError as error:
        raise InputError("there is no such file", where=str(path)) from error
    except (OSError, ValueError) as error:
        raise InputError(
            "this is no certificate", found=str(error)[:80], where=str(path)
        ) from error


def against_store(found: Verification, path: Path) -> Verification:
    """The report held against a store: shortened, rewritten, other entries, replaced by."""
    header = found.header
    if header is None:
        return found
    findings = list(found.findings)
    try:
        with Store.open(path) as store:
            findings += [
                Finding(Code.STORE, misfit.expected, f"{misfit.code}: {misfit.found}")
                for misfit in store.check_against(header.head)
            ]
            entries = tuple(store.entries(header.inspection))
            kept = {(e.station, e.seq): e.digest for e in entries}
            for entry in found.entries:
                if kept.get((entry.station, entry.seq)) != entry.digest:
                    where = f"entry {entry.station} {entry.seq}"
                    findings.append(Finding(Code.STORE, f"{where} as in the report", "another"))
            findings += _earlier(header, store)
            later = replaced_by(store, header.number)
            gone = withdrawn(store, header.number)
            after = stale(entries, found.inspection.digest) if found.inspection else None
    except InspectRecError as error:
        findings.append(Finding(Code.STORE, "a store that can be read", str(error)))
        later, after, gone = None, None, None
    touched = after.found if after else None
    return replace(
        found, findings=tuple(findings), replaced_by=later, withdrawn=gone, touched=touched
    )


def _earlier(header: Header, store: Store) -> Iterator[Finding]:
    """Earlier reports that this one names, each signed as the store tells."""
    for each in header.earlier:
        made = store.numbered(each.number)
        id_ = "" if made is None else str(made.body.get("inspection", ""))
        signed = {
            str(e.body["digest"])
            for e in store.entries(id_, kinds=(Kinds.SIGNED,))
            if e.body["number"] == each.number
        }
        if each.digest not in signed:
            said = f"{each.number} with SHA-256 {each.digest[:16]}…"
            yield Finding(Code.STORE, said, "another" if signed else "no such report")


def as_json(found: Verification) -> dict[str, Any]:
    """The answer of ``verify --json``."""
    return {
        "ok": found.ok,
        "number": found.number,
        "verdict": found.verdict,
        "released": found.released,
        "replaced_by": found.replaced_by,
        "withdrawn": found.withdrawn,
        "findings": [
            {"code": f.code.value, "expected": f.expected, "found": f.found} for f in found.findings
        ],
    }


def as_words(found: Verification, name: str) -> str:
    """The answer for a person."""
    state = "genuine, complete and recomputed" if found.ok else "NOT shown to be genuine"
    lines = [f"{name}: {state}"]
    if found.number:
        revision = found.header.revision if found.header else 0
        lines.append(f"  report   {found.number}, revision {revision}")
        lines.append(f"  verdict  {found.verdict}")
    for s in found.signed:
        told = "" if s.decision is None else f": {s.decision}{f', {s.reason}' if s.reason else ''}"
        lines.append(f"  {s.role}: {s.name} ({s.person}), key {s.key}{told}")
    if found.same_bytes is not None:
        same = "byte for byte" if found.same_bytes else "by figures and by looks, not byte for byte"
        lines.append(f"  the pages were made again from the readings inside, {same}")
    if found.touched:
        lines.append(f"  the tool was touched after this report: {found.touched}")
    if found.withdrawn:
        lines.append(f"  WITHDRAWN: {found.withdrawn}")
    if found.replaced_by:
        lines.append(f"  replaced by {found.replaced_by}")
    lines += [f"  ! {f.code.value}: expected {f.expected}, found {f.found}" for f in found.findings]
    return "\n".join(lines)
