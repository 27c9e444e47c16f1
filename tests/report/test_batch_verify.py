"""A batch sheet is genuine as it was signed, and in no other form: every change is found."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache, partial
from typing import Any

import pikepdf
import pytest

from inspect_rec.errors import PersonError, ReportError
from inspect_rec.ledger import Kinds
from inspect_rec.people import Signer, key_id
from inspect_rec.report import batch, batch_verify, figures, pdf, record, sign, signatures
from inspect_rec.report.batch_verify import SheetVerification
from inspect_rec.report.finding import Code
from inspect_rec.report.record import Header
from inspect_rec.report.verify import verify
from report_templates import batch as template
from report_templates import words
from tests import batches, signing
from tests.batches import JOB, Ledger
from tests.report import forging

AT = batches.DECIDED + timedelta(days=1)
NOW = AT + timedelta(days=1)


@cache
def ledger() -> Ledger:
    return Ledger(3, decide=lambda n: "replaced" if n == 1 else "released")


def signed(
    made: batch.Made | None = None,
    who: Signer | None = None,
    head: Header | None = None,
) -> bytes:
    """A sheet signed by who releases."""
    head = head or batches.header(ledger())
    made = made or batch.make(tuple(ledger().entries), head)
    who = who or signing.who(signing.INSPECTOR)
    when = figures.moment(AT, words(head.language))
    block = batch.block(who.person, key_id(who.certificate), when, head)
    return sign.sheet_sign(made.rendered.pdf, who, AT, made.rendered.boxes["released_by"], block)


@cache
def sheet() -> bytes:
    return signed()


def checked(data: bytes, **more: Any) -> SheetVerification:
    given: dict[str, Any] = {"roots": [signing.shop().certificate], "at": NOW} | more
    return batch_verify.verify(data, **given)


def codes(data: bytes) -> set[Code]:
    return {f.code for f in checked(data).findings}


# -- as it was signed ----------------------------------------------------------------


def test_a_sheet_as_it_was_signed_is_genuine_complete_and_made_again() -> None:
    found = checked(sheet())
    assert found.findings == ()
    assert found.ok
    assert found.same_bytes
    assert batch_verify.is_sheet(sheet())
    assert found.number == "B1-batch"
    assert [s.person for s in found.signed] == ["Q-01"]
    assert [s.meaning for s in found.signed] == [sign.SHEET]
    assert list(found.reports) == ["A-0231", "A-0232", "A-0233", "A-0234"]


@pytest.mark.parametrize("language", ["en", "de"])
def test_it_is_genuine_in_every_language(language: str) -> None:
    head = batches.header(ledger(), language)
    assert checked(signed(head=head)).findings == ()


def test_only_who_releases_signs_it() -> None:
    with pytest.raises(PersonError, match="releases"):
        signed(who=signing.who(signing.GRINDER))


def test_a_root_that_is_not_trusted_is_said() -> None:
    other = signing.shop("Another shop").certificate
    assert {f.code for f in checked(sheet(), roots=[other]).findings} >= {Code.UNTRUSTED}
    assert {f.code for f in checked(sheet(), roots=[]).findings} == {Code.UNTRUSTED}


# -- neither is taken for the other --------------------------------------------------


def test_a_report_is_no_sheet_and_a_sheet_no_report() -> None:
    report = signing.report("I1")
    assert not batch_verify.is_sheet(report)
    assert codes(report) >= {Code.EXTRA_SIGNATURE, Code.ATTACHMENT}
    as_report = verify(sheet(), [signing.shop().certificate], NOW)
    assert {f.code for f in as_report.findings} >= {Code.SIGNATURE_MISSING, Code.ATTACHMENT}


def test_a_release_of_a_tool_does_not_sign_a_sheet() -> None:
    made = batch.make(tuple(ledger().entries), batches.header(ledger()))
    who = signing.who(signing.INSPECTOR)
    when = figures.moment(AT, words("en"))
    block = batch.block(who.person, key_id(who.certificate), when, batches.header(ledger()))
    with sign._library():
        writer = sign._writer(made.rendered.pdf)
        sign._field(writer, sign.RELEASED_BY, made.rendered.boxes["released_by"])
        data = sign._sign(writer, sign.RELEASED_BY, who, AT, sign.RELEASED, block, certify=True)
    (finding,) = checked(data).findings
    assert (finding.code, finding.expected) == (Code.SIGNATURE_FORM, sign.SHEET)


def test_a_sheets_words_do_not_release_a_tool() -> None:
    first = signing.measured("I1")
    who = signing.who(signing.INSPECTOR)
    with sign._library():
        data = sign._sign(
            sign._writer(first), sign.RELEASED_BY, who, signing.RELEASED_AT, sign.SHEET,
            pdf.released_stamp(
                who.person, key_id(who.certificate), figures.moment(signing.RELEASED_AT), "en",
                "released", "",
            ),
            certify=False,
        )  # fmt: skip
    found = verify(data, [signing.shop().certificate], NOW)
    assert Code.SIGNATURE_FORM in {f.code for f in found.findings}


def test_a_second_signature_on_a_sheet_is_found() -> None:
    with pytest.raises(ReportError):
        sign.release_sign(sheet(), signing.who(signing.INSPECTOR), AT, "released", "", b"")
    check = signatures.check(sheet(), [signing.shop().certificate], NOW)
    assert {f.code for f in check.findings} >= {Code.SIGNATURE_MISSING, Code.SIGNATURE_FORM}


# -- changed -------------------------------------------------------------------------


@pytest.mark.parametrize("part", range(12))
def test_a_byte_changed_anywhere_is_found(part: int) -> None:
    data = bytearray(sheet())
    at = len(data) * (2 * part + 1) // 24
    data[at] ^= 1
    assert not checked(bytes(data)).ok


def test_an_update_after_the_signature_is_found() -> None:
    assert Code.CHANGED_AFTER in codes(forging.updated(sheet(), forging.unused_object))


def test_pages_that_say_something_else_than_the_record_are_found() -> None:
    """Whoever may sign can't make a sheet that its own entries don't give."""
    made = batch.make(tuple(ledger().entries), batches.header(ledger()))
    (count, *counts) = made.said.counts
    forged = replace(made.said, counts=(replace(count, number="9"), *counts))
    data = forged_sheet(forged, made)
    (finding,) = checked(data).findings
    assert finding.code is Code.PRINTED
    assert "9" in finding.found


def forged_sheet(said: Any, made: batch.Made) -> bytes:
    files = pdf.attachments(made.rendered.pdf, batch.LARGEST)
    kinds = {batch.RECORD: ("application/json", "Source", "entries of the job")}
    kinds[batch.DIGESTS] = ("text/plain", "Data", "SHA-256 of each report's signed file")
    attached = {name: pdf.Attachment(files[name], *kinds[name]) for name in files}
    base = pdf.pages(
        partial(template.draw, content=said), f"{said.title} {said.number}", "en", attached,
        "2026-11-24T08:02:00Z",
    )  # fmt: skip
    rendered = pdf.Rendered(base, made.rendered.boxes)
    return signed(batch.Made(rendered, said))


def with_files(files: dict[str, bytes]) -> bytes:
    """The sheet with other attachments, signed."""
    made = batch.make(tuple(ledger().entries), batches.header(ledger()))
    with pikepdf.open(io.BytesIO(made.rendered.pdf)) as file:
        flat = file.Root.Names.EmbeddedFiles.Names
        for name, spec in zip(list(flat)[::2], list(flat)[1::2], strict=True):
            if str(name) in files:
                spec.EF.F.write(files[str(name)])
        out = io.BytesIO()
        file.save(out, object_stream_mode=pikepdf.ObjectStreamMode.disable)
    return signed(batch.Made(pdf.Rendered(out.getvalue(), made.rendered.boxes), made.said))


def test_a_sheet_that_reads_right_and_looks_otherwise_is_found() -> None:
    made = batch.make(tuple(ledger().entries), batches.header(ledger()))
    with pikepdf.open(io.BytesIO(made.rendered.pdf)) as file:
        whole = file.pages[0].Contents.read_bytes() + b"\nq 1 g 60 300 300 400 re f Q\n"
        file.pages[0].Contents = file.make_stream(whole)
        out = io.BytesIO()
        file.save(out, fix_metadata_version=False)
    data = signed(batch.Made(pdf.Rendered(out.getvalue(), made.rendered.boxes), made.said))
    (finding,) = checked(data).findings
    assert (finding.code, finding.expected) == (Code.PRINTED, "page 1: as it is drawn again")


def test_digests_that_are_not_the_records_are_found() -> None:
    (finding,) = checked(with_files({batch.DIGESTS: b"0" * 64 + b"  A-0231.pdf\n"})).findings
    assert finding.code is Code.ATTACHMENT


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"number": "A-0231"}, Code.RECORD),
        ({"revision": 1}, Code.RECORD),
        ({"why": "because"}, Code.RECORD),
        ({"replaces": "A-0001"}, Code.RECORD),
        ({"layout": "batch-9"}, Code.RECORD),
        ({"persons": {}}, Code.SIGNER),
        ({"issued": datetime(2027, 1, 1, tzinfo=UTC)}, Code.PRINTED),
    ],
)
def test_a_head_of_its_own_making_is_found(change: dict[str, Any], code: Code) -> None:
    head = replace(batches.header(ledger()), **change)
    data = record.to_bytes(head, tuple(ledger().entries), batch.FORMAT)
    assert code in codes(with_files({batch.RECORD: data}))


@pytest.mark.parametrize("dropped", ["reading", "decided", "signed"])
def test_entries_left_out_or_changed_are_found(dropped: str) -> None:
    last = max(n for n, e in enumerate(ledger().entries) if e.kind == dropped)
    entries = [e for n, e in enumerate(ledger().entries) if n != last]
    head = batches.header(ledger())
    data = record.to_bytes(head, tuple(entries), batch.FORMAT)
    assert codes(with_files({batch.RECORD: data})) & {Code.RECORD, Code.PRINTED}
    changed = list(ledger().entries)
    changed[last] = replace(changed[last], person="G-02")
    data = record.to_bytes(head, tuple(changed), batch.FORMAT)
    assert Code.RECORD in codes(with_files({batch.RECORD: data}))


@pytest.mark.parametrize("data", [b"", b"{}", b'{"format":"inspect_rec batch sheet"}', b"\xff"])
def test_a_record_that_is_none_is_found_and_raises_nothing(data: bytes) -> None:
    assert Code.RECORD in codes(with_files({batch.RECORD: data}))


@pytest.mark.parametrize("data", [b"", b"%PDF-1.7", b"/UF (batch.json)", b"\0" * 1000])
def test_what_is_no_pdf_is_found_and_raises_nothing(data: bytes) -> None:
    assert not checked(data).ok


# -- revisions -----------------------------------------------------------------------


def test_a_sheet_that_follows_another_counts_it() -> None:
    later = Ledger(1)
    told = {"job": JOB, "revision": 0, "role": "released by", "key": "", "digest": "", "made": ""}
    later.add(AT, "Q-01", Kinds.SHEET_SIGNED.value, told)
    head = replace(batches.header(later), revision=1, issued=AT)
    made = batch.make(tuple(later.entries), head)
    assert checked(signed(made, head=head)).findings == ()
    assert batch.revision_of(later.entries, JOB) == 1
    assert batch.revision_of(later.entries, "B2") == 0
