"""Verification: a genuine report passes, and each forgery is refused with the right finding."""

from __future__ import annotations

import io
import json
import random
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pikepdf
import pytest
from cryptography.hazmat.primitives.serialization import Encoding

from inspect_rec.ledger import Entry
from inspect_rec.people import Person, Role
from inspect_rec.report import batch_verify, pdf, record
from inspect_rec.report.finding import Code
from inspect_rec.report.verify import Verification, verify
from tests import signing, worked
from tests.inspection.test_fold import again
from tests.report import forging

NOW = signing.NOW


def checked(data: bytes) -> Verification:
    return verify(data, [signing.shop().certificate], NOW)


def codes(data: bytes) -> set[Code]:
    found = checked(data)
    assert not found.ok
    return {f.code for f in found.findings}


@pytest.mark.parametrize("number", ["I1", "I2", "I3"])
def test_a_genuine_report_passes_and_says_what_it_is(number: str) -> None:
    found = checked(signing.report(number))
    assert found.findings == ()
    assert found.same_bytes
    assert found.number == signing.NUMBERS[number]
    assert found.released is (number != "I2")
    assert found.verdict == ("neither shown" if number == "I2" else "conforms")


def test_without_a_root_nothing_is_trusted() -> None:
    found = verify(signing.report(), [], NOW)
    assert {f.code for f in found.findings} == {Code.UNTRUSTED}


def test_under_another_root_nothing_is_trusted() -> None:
    other = signing.shop("Another Shop").certificate
    found = verify(signing.report(), [other], NOW)
    assert {f.code for f in found.findings} == {Code.UNTRUSTED}


# -- changes after signing -------------------------------------------------------


def flipped(data: bytes, at: int) -> bytes:
    return data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]


def test_a_byte_flipped_in_the_first_revision_is_found() -> None:
    data = signing.report()
    assert Code.SIGNATURE_BROKEN in codes(flipped(data, len(signing.made("I1").rendered.pdf) // 2))


def test_no_flipped_byte_passes_anywhere() -> None:
    data = signing.report()
    draw = random.Random(20261117)
    gaps = [m.span() for m in re.finditer(rb"<[0-9A-F]{2000,}>", data)]
    places = draw.sample(range(len(data)), 60)
    places += [draw.randrange(a, b) for a, b in gaps for _ in range(20)]
    passed = [at for at in places if checked(flipped(data, at)).ok]
    assert passed == []


def test_a_root_that_came_along_changed_is_found() -> None:
    data = signing.report()
    root = signing.shop().certificate.public_bytes(Encoding.DER).hex().upper().encode()
    places = [m.start() for m in re.finditer(root, data)]
    assert len(places) == 2
    draw = random.Random(3)
    for at in (places[-1] + draw.randrange(len(root)) for _ in range(25)):
        assert codes(flipped(data, at)) & {Code.SIGNATURE_FORM, Code.SIGNATURE_BROKEN}


def test_bits_hidden_in_the_padding_of_a_signature_are_found() -> None:
    data = signing.report()
    start, end = [m.span() for m in re.finditer(rb"<[0-9A-F]{2000,}>", data)][-1]
    assert data[end - 9 : end - 1] == b"00000000"
    hidden = data[: end - 9] + b"DEADBEEF" + data[end - 1 :]
    assert start < end
    assert Code.SIGNATURE_FORM in codes(hidden)


def test_lower_case_hex_is_found() -> None:
    data = signing.report()
    start, end = [m.span() for m in re.finditer(rb"<[0-9A-F]{2000,}>", data)][-1]
    assert Code.SIGNATURE_FORM in codes(data[:start] + data[start:end].lower() + data[end:])


def resaved(
    data: bytes, change: Callable[[pikepdf.Pdf], None], *, linearize: bool = False
) -> bytes:
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(data)) as file:
        change(file)
        file.save(out, linearize=linearize)
    return out.getvalue()


def appended(data: bytes) -> bytes:
    """An incremental update with an empty page."""
    from pyhanko.pdf_utils import generic
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    writer = IncrementalPdfFileWriter(io.BytesIO(data))
    pages = writer.root["/Pages"]
    page = generic.DictionaryObject(
        {
            generic.pdf_name("/Type"): generic.pdf_name("/Page"),
            generic.pdf_name("/Parent"): writer.root.raw_get("/Pages"),
            generic.pdf_name("/MediaBox"): generic.ArrayObject(
                [generic.NumberObject(n) for n in (0, 0, 595, 842)]
            ),
        }
    )
    pages["/Kids"].append(writer.add_object(page))
    pages[generic.pdf_name("/Count")] = generic.NumberObject(int(pages["/Count"]) + 1)
    writer.mark_update(writer.root.raw_get("/Pages"))
    writer.update_container(pages)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def test_an_appended_page_is_found() -> None:
    assert Code.CHANGED_AFTER in codes(appended(signing.report()))


def test_a_file_that_was_saved_again_is_found() -> None:
    assert Code.SIGNATURE_BROKEN in codes(resaved(signing.report(), lambda _: None))


def test_a_linearized_file_is_found() -> None:
    assert Code.SIGNATURE_BROKEN in codes(resaved(signing.report(), lambda _: None, linearize=True))


@pytest.mark.parametrize("user", ["", "only who knows it may read"])
def test_a_report_that_was_locked_with_a_password_is_found(user: str) -> None:
    """A batch sheet's check reads its attachments in the same way."""
    locked = forging.resaved(
        signing.report(), lambda _: None, encryption=pikepdf.Encryption(owner="x", user=user)
    )
    assert Code.SIGNATURE_BROKEN in codes(locked)
    assert not batch_verify.verify(locked, [signing.shop().certificate], signing.NOW).ok


def test_a_swapped_attachment_is_found() -> None:
    def swap(file: pikepdf.Pdf) -> None:
        spec = file.Root.Names.EmbeddedFiles.Names[1]
        spec.EF.F.write(b"{}")

    assert {Code.SIGNATURE_BROKEN, Code.RECORD} & codes(resaved(signing.report(), swap))


def test_junk_after_the_end_is_found() -> None:
    assert Code.CHANGED_AFTER in codes(signing.report() + b"\njunk\n")


def test_a_file_cut_back_to_its_first_signature_lacks_the_second() -> None:
    assert codes(signing.measured("I1")) == {Code.SIGNATURE_MISSING}


def test_an_unsigned_file_lacks_both() -> None:
    assert Code.SIGNATURE_MISSING in codes(signing.made("I1").rendered.pdf)


@pytest.mark.parametrize(
    "data", [b"", b"%PDF-1.7\n", b"\x00" * 5000, b"<html>", signing.PASSPHRASE.encode()]
)
def test_what_is_no_report_is_a_finding_and_never_an_error(data: bytes) -> None:
    assert codes(data)


def test_every_truncation_is_a_finding_and_never_an_error() -> None:
    data = signing.report()
    for length in range(0, len(data), len(data) // 40):
        assert codes(data[:length])


# -- signed by the wrong persons -------------------------------------------------


def test_a_third_signature_is_found() -> None:
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign import fields, signers

    from inspect_rec.report.sign import _signer

    writer = IncrementalPdfFileWriter(io.BytesIO(signing.report()))
    fields.append_signature_field(writer, fields.SigFieldSpec("third"))
    meta = signers.PdfSignatureMetadata(field_name="third", md_algorithm="sha256")
    third = signing.shop().signer(Person("X-09", "Somebody Else", (Role.RELEASES,)))
    out = signers.PdfSigner(meta, _signer(third)).sign_pdf(writer, bytes_reserved=8192)
    assert Code.EXTRA_SIGNATURE in codes(bytes(out.getbuffer()))


def test_a_person_without_the_role_can_neither_sign_nor_pass() -> None:
    grinder = signing.who(signing.GRINDER)
    with pytest.raises(Exception, match="releases"):
        signing.released(signing.measured("I1"), grinder)


def test_one_person_for_both_is_found_unless_the_job_allows_it() -> None:
    both = signing.shop().signer(Person("G-01", "Marten Oakes", (Role.MEASURES, Role.RELEASES)))
    data = signing.released(signing.measured("I1", both), both)
    assert Code.SIGNER in codes(data)


def test_a_signer_whom_the_record_does_not_name_is_found() -> None:
    stranger = signing.shop().signer(Person("Q-77", "Nobody Known", (Role.RELEASES,)))
    assert Code.SIGNER in codes(signing.released(signing.measured("I1"), stranger))


def test_a_certificate_that_had_run_out_is_found() -> None:
    expired = signing.shop().signer(
        signing.INSPECTOR, since=signing.RELEASED_AT - timedelta(days=800), years=1
    )
    found = checked(signing.released(signing.measured("I1"), expired))
    assert Code.UNTRUSTED in {f.code for f in found.findings}


def test_a_signature_from_the_future_is_found() -> None:
    found = verify(
        signing.report(), [signing.shop().certificate], signing.MEASURED_AT - timedelta(days=1)
    )
    assert Code.SIGNATURE_FORM in {f.code for f in found.findings}


# -- signed by the right persons, and wrong all the same -------------------------


def signed_again(base: bytes) -> bytes:
    """A shop that signs what isn't true: both persons, a changed file."""
    return signing.released(signing.measured("I1", base=base))


def test_a_value_edited_on_the_page_and_signed_is_found() -> None:
    """The page says something else than the readings give, and everybody signed it."""
    honest = signing.made("I1")
    groups = list(honest.said.groups)
    rows = (replace(groups[0].rows[0], value="4.9001"), *groups[0].rows[1:])
    groups[0] = replace(groups[0], rows=rows)
    lie = replace(honest.said, groups=tuple(groups))
    entries = worked.entries("I1", signing.UPTO["I1"])
    head = signing.header("I1", entries)
    attached = {
        record.RECORD: pdf.Attachment(
            record.to_bytes(head, entries), "application/json", "Source", ""
        ),
        record.READINGS: pdf.Attachment(record.to_csv(honest.inspection), "text/csv", "Data", ""),
    }
    base = pdf.render(lie, attached, "2026-11-17T08:22:38Z").pdf
    found = checked(signed_again(base))
    printed = [f for f in found.findings if f.code is Code.PRINTED]
    assert any("4.9023" in f.expected and "4.9001" in f.found for f in printed)
    assert not found.same_bytes


def test_a_reading_edited_in_the_record_and_signed_is_found() -> None:
    honest = signing.made("I1").rendered.pdf

    def edit(file: pikepdf.Pdf) -> None:
        stream = next(
            file.Root.Names.EmbeddedFiles.Names[n + 1].EF.F
            for n in range(0, 4, 2)
            if str(file.Root.Names.EmbeddedFiles.Names[n]) == record.RECORD
        )
        data = stream.read_bytes()
        assert b'"value":"36.345"' in data
        stream.write(data.replace(b'"value":"36.345"', b'"value":"36.335"'))

    found = checked(signed_again(resaved(honest, edit)))
    assert Code.RECORD in {f.code for f in found.findings}


def with_record(head: record.Header, entries: tuple[Entry, ...]) -> bytes:
    """The report with another record inside, signed by both."""

    def change(file: pikepdf.Pdf) -> None:
        (spec,) = (spec for spec in file.Root.AF if str(spec.UF) == record.RECORD)
        spec.EF.F.write(record.to_bytes(head, entries))

    return signed_again(resaved(signing.made("I1").rendered.pdf, change))


def test_a_record_of_a_tool_that_its_job_has_not_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("inspect_rec.report.sign._only_measured", lambda *_: None)
    entries = worked.entries("I1", signing.UPTO["I1"])
    head = replace(signing.header("I1", entries), inspection="I1/NOBODYS")
    said = [f.found for f in checked(with_record(head, entries)).findings]
    assert any("no such tool" in found for found in said)


def no_readout(kind: str, body: dict[str, Any]) -> None:
    if kind == "job opened":
        assert body["shop"]["set_up"]["readout"] == "RO-1"
        body["shop"]["set_up"]["readout"] = "RO-9"


def no_temperature(kind: str, body: dict[str, Any]) -> None:
    if kind == "reading" and body["place"]["feature"] == "temperature":
        body["taken"] = []


@pytest.mark.parametrize("change", [no_readout, no_temperature])
def test_nothing_that_an_entry_lacks_gets_beyond_a_finding(
    change: Callable[[str, dict[str, Any]], None],
) -> None:
    def changed(entry: Entry) -> dict[str, Any]:
        body: dict[str, Any] = json.loads(json.dumps(entry.body))
        change(entry.kind, body)
        return body

    entries = tuple(again(worked.entries("I1", signing.UPTO["I1"]), changed))
    found = checked(with_record(signing.header("I1", entries), entries)).findings
    assert Code.RECORD in {f.code for f in found}


def test_a_stamp_that_says_something_else_than_was_signed_is_found() -> None:
    from inspect_rec.people import key_id
    from inspect_rec.report import figures
    from inspect_rec.report.sign import release_sign

    inspector = signing.who(signing.INSPECTOR)
    stamp = pdf.released_stamp(
        inspector.person,
        key_id(inspector.certificate),
        figures.moment(signing.RELEASED_AT),
        "en",
        "released",
        "",
    )
    data = release_sign(
        signing.measured("I2"), inspector, signing.RELEASED_AT, "not released", "DC_2", stamp
    )
    printed = [f for f in checked(data).findings if f.code is Code.PRINTED]
    assert any("Not released" in f.expected for f in printed)


def test_a_script_in_the_file_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    # Signing refuses such a file, so the second signer does without that check.
    monkeypatch.setattr("inspect_rec.report.sign._only_measured", lambda *_: None)

    def script(file: pikepdf.Pdf) -> None:
        file.Root.OpenAction = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS="app.alert(1)")

    base = resaved(signing.made("I1").rendered.pdf, script)
    assert Code.ACTIVE_CONTENT in codes(signed_again(base))


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("an attachment twice", None),
        ("a bomb", b"\x00" * (record.LARGEST + 10)),
        ("a duplicate key", b'{"format":"x","format":"y"}'),
        ("no number", b'{"a":NaN}'),
        ("too deep", b"[" * 100_000),
    ],
)
def test_a_hostile_attachment_is_a_finding(name: str, data: bytes | None) -> None:
    def hostile(file: pikepdf.Pdf) -> None:
        names = file.Root.Names.EmbeddedFiles.Names
        if data is None:
            names.append(names[0])
            names.append(names[1])
            return
        for n in range(0, 4, 2):
            if str(names[n]) == record.RECORD:
                names[n + 1].EF.F.write(data)

    base = resaved(signing.made("I1").rendered.pdf, hostile)
    assert {Code.ATTACHMENT, Code.RECORD} & codes(signed_again(base)), name
