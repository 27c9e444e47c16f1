"""Batch sheets at the face: verified, held against a store and against reports beside them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from cryptography import x509

from inspect_rec.cli import verifying
from inspect_rec.errors import InspectRecError
from inspect_rec.ledger import Entry, Kinds
from inspect_rec.report import batch_verify
from inspect_rec.report.batch_verify import SheetVerification
from inspect_rec.report.finding import Code, Finding
from inspect_rec.report.verify import verify
from inspect_rec.store import Store

_TELLING = {Kinds.REPORT_MADE, Kinds.DECIDED, Kinds.WITHDRAWN, Kinds.SHEET_SIGNED}
_TELLING |= {Kinds.GROUND_AGAIN, Kinds.CONCESSION, Kinds.MEASURE_AGAIN, Kinds.JOB_OPENED}
"""Kinds of entries after which a sheet no longer tells of its job as it is."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What ``verify`` answers for one file, for a person and for a program. ``names``: of a
    sheet, SHA-256 by number of each report that it names."""

    number: str | None
    ok: bool
    words: str
    told: dict[str, Any]
    digest: str
    names: Mapping[str, str] = field(default_factory=dict)
    sheet: bool = False


def answer(
    data: bytes, roots: Sequence[x509.Certificate], at: datetime, store: Path | None, name: str
) -> Answer:
    """A report or a batch sheet, whichever the file is; held against ``store`` where one is
    given."""
    digest = hashlib.sha256(data).hexdigest()
    if batch_verify.is_sheet(data):
        sheet = batch_verify.verify(data, roots, at)
        sheet = sheet if store is None else against_store(sheet, store)
        words, told = as_words(sheet, name), as_json(sheet)
        names = sheet.reports if sheet.ok else {}
        return Answer(sheet.number, sheet.ok, words, told, digest, names, sheet=True)
    report = verify(data, roots, at)
    report = report if store is None else verifying.against_store(report, store)
    words, told = verifying.as_words(report, name), verifying.as_json(report)
    return Answer(report.number, report.ok, words, told, digest)


def side_by_side(answers: Iterable[Answer]) -> list[Answer]:
    """Reports held against the sheets that name them, where both are given: a report that a sheet
    names with another SHA-256 isn't the one that was decided; that none names it is said."""
    found = list(answers)
    sheets = [each for each in found if each.names]
    for sheet in sheets:
        found = [_beside(each, sheet) for each in found]
    named = {number for sheet in sheets for number in sheet.names}
    told = " or ".join(str(sheet.number) for sheet in sheets)
    return [
        replace(each, words=f"{each.words}\n  not named in {told}")
        if sheets and not each.sheet and each.number not in named
        else each
        for each in found
    ]


def _beside(each: Answer, sheet: Answer) -> Answer:
    wanted = sheet.names.get(each.number or "")
    if wanted is None or each.sheet:
        return each
    if wanted == each.digest:
        return replace(each, words=f"{each.words}\n  named in {sheet.number}, with its SHA-256")
    wrong = Finding(Code.SHEET, f"SHA-256 {wanted}, named in {sheet.number}", each.digest)
    told = each.told | {"ok": False, "findings": [*each.told["findings"], _as_json(wrong)]}
    words = each.words.replace("genuine, complete and recomputed", "NOT the one of its batch", 1)
    return replace(each, ok=False, told=told, words=f"{words}\n{_as_words(wrong)}")


def against_store(found: SheetVerification, path: Path) -> SheetVerification:
    """The sheet held against a store: shortened, rewritten, other entries, and what came since."""
    header = found.header
    if header is None:
        return found
    findings, since = list(found.findings), []
    try:
        with Store.open(path) as store:
            findings += [
                Finding(Code.STORE, misfit.expected, f"{misfit.code}: {misfit.found}")
                for misfit in store.check_against(header.head)
            ]
            kept = {(e.station, e.seq): e for e in store.entries(job=header.inspection)}
    except InspectRecError as error:
        findings.append(Finding(Code.STORE, "a store that can be read", str(error)))
        return replace(found, findings=tuple(findings))
    for entry in found.entries:
        own = kept.pop((entry.station, entry.seq), None)
        if own is None or own.digest != entry.digest:
            where = f"entry {entry.station} {entry.seq}"
            findings.append(Finding(Code.STORE, f"{where} as in the sheet", "another"))
    since = [_since(e) for e in kept.values() if e.kind in _TELLING and not _own(e, found)]
    return replace(found, findings=tuple(findings), since=tuple(since))


def _own(entry: Entry, found: SheetVerification) -> bool:
    """The entry that tells of this very sheet."""
    revision = found.header.revision if found.header else None
    return entry.kind == Kinds.SHEET_SIGNED and entry.body.get("revision") == revision


def _since(entry: Entry) -> str:
    what = entry.body.get("number") or entry.body.get("inspection") or entry.body.get("job")
    return f"{entry.kind}, {what}, entry {entry.station} {entry.seq}"


def as_json(found: SheetVerification) -> dict[str, Any]:
    """The answer of ``verify --json`` for a batch sheet."""
    return {
        "ok": found.ok,
        "number": found.number,
        "job": found.header.inspection if found.header else None,
        "revision": found.header.revision if found.header else None,
        "reports": dict(found.reports),
        "since": list(found.since),
        "findings": [_as_json(f) for f in found.findings],
    }


def as_words(found: SheetVerification, name: str) -> str:
    """The answer for a person."""
    state = "genuine, complete and recomputed" if found.ok else "NOT shown to be genuine"
    lines = [f"{name}: {state}"]
    if found.header:
        lines.append(f"  batch sheet  {found.number}, revision {found.header.revision}")
        lines.append(f"  reports      {len(found.reports)}")
    if found.said:
        lines += [f"  {c.number} {c.word}" for c in found.said.counts]
    lines += [f"  {s.role}: {s.name} ({s.person}), key {s.key}" for s in found.signed]
    if found.same_bytes is not None:
        same = "byte for byte" if found.same_bytes else "by figures and by looks, not byte for byte"
        lines.append(f"  the pages were made again from the entries inside, {same}")
    lines += [f"  since then: {said}" for said in found.since]
    return "\n".join([*lines, *map(_as_words, found.findings)])


def _as_json(f: Finding) -> dict[str, str]:
    return {"code": f.code.value, "expected": f.expected, "found": f.found}


def _as_words(f: Finding) -> str:
    return f"  ! {f.code.value}: expected {f.expected}, found {f.found}"
