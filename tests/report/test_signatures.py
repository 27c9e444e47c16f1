"""The check of signatures: each way to tamper with a signed file is found, by its code."""

from __future__ import annotations

import io
import random
import re
from types import SimpleNamespace
from typing import Any

import pikepdf
import pytest
from cryptography.hazmat.primitives.asymmetric import rsa
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign import fields

from inspect_rec.people import Person, Role
from inspect_rec.report import revisions, sign, signatures
from inspect_rec.report.finding import Code
from tests.report import forging, small
from tests.report.small import checked, codes, said

# -- good files ---------------------------------------------------------------------


def test_both_signers_are_read_and_the_base_comes_back_byte_for_byte() -> None:
    found = checked(small.report())
    assert found.findings == ()
    assert found.base == small.base()
    first, second = found.signed
    assert (first.role, first.person, first.name) == ("measured by", "G-01", "Marten Oakes")
    assert first.roles == (Role.GRINDS, Role.MEASURES)
    assert (first.at, second.at) == (small.MEASURED_AT, small.RELEASED_AT)
    assert (first.released, second.released) == (None, True)
    assert all(each.intact and each.trusted for each in found.signed)


def test_each_visible_block_is_pointed_at() -> None:
    found = checked(small.report())
    with pikepdf.open(io.BytesIO(small.report())) as file:
        for each in found.signed:
            box = small.BOXES[each.field]
            assert (each.page, each.box) == (0, (box.x0, box.y0, box.x1, box.y1))
            assert file.get_object((each.appearance, 0)).Subtype == "/Form"


def test_a_tool_that_is_not_released_is_as_genuine() -> None:
    found = checked(small.released(decision="not released", reason="DC_2 neither shown"))
    assert found.findings == ()
    assert (found.signed[1].released, found.signed[1].reason) == (False, "DC_2 neither shown")


def test_an_rsa_key_made_elsewhere_signs_as_well() -> None:
    who = forging.certified(rsa.generate_private_key(65537, 2048))
    assert codes(forging.released_with(who=who)) == set()


def test_one_person_who_signed_both_is_told_for_the_caller_to_judge() -> None:
    both = small.who(Person("G-01", "Marten Oakes", (Role.MEASURES, Role.RELEASES)))
    found = checked(small.released(small.measured(both), both))
    assert found.findings == ()
    assert [each.person for each in found.signed] == ["G-01", "G-01"]


# -- after the last signature -------------------------------------------------------


@pytest.mark.parametrize(
    "change",
    [
        forging.one_more_page,
        forging.one_more_attachment,
        forging.other_metadata,
        forging.other_content,
        forging.other_stamp,
        forging.unused_object,
    ],
)
def test_an_update_after_the_signatures_is_found(change: forging.Change) -> None:
    assert Code.CHANGED_AFTER in codes(forging.updated(small.report(), change))


@pytest.mark.parametrize("junk", [b"\n", b" ", b"junk", b"%%EOF\n", b"startxref\n0\n%%EOF\n"])
def test_junk_after_the_end_is_found(junk: bytes) -> None:
    assert codes(small.report() + junk) & {Code.CHANGED_AFTER, Code.SIGNATURE_BROKEN}


def test_a_byte_of_the_base_that_changed_breaks_both_signatures() -> None:
    data = small.report()
    at = data.index(b"stream\n") + 20
    found = said(forging.flipped(data, at))
    assert "measured by: bytes as signed: other bytes" in found
    assert "released by: bytes as signed: other bytes" in found


def test_the_last_signature_covers_the_whole_file_or_it_is_found() -> None:
    data = forging.updated(small.report(), forging.unused_object)
    assert "released by covers the whole file: ENTIRE_REVISION" in said(data)


def test_the_gap_of_a_byte_range_holds_the_signature_itself() -> None:
    data = small.report()
    last = PdfFileReader(io.BytesIO(data)).embedded_signatures[-1]
    run = signatures._Checking(data, [small.trusted()])
    assert list(signatures._forms(run, last, 1)) == []
    last.pkcs7_content = b"another"
    assert list(signatures._forms(run, last, 1)) == [
        ("the CMS in the gap of the byte range", "another")
    ]
    last.byte_range[3] -= 1
    begin = f"a byte range from the start to byte {len(data)}"
    assert begin in [expected for expected, _ in signatures._forms(run, last, 1)]


def test_one_revision_too_many_is_found_even_when_nothing_uses_it() -> None:
    assert "3 revisions: 4" in said(forging.updated(small.report(), forging.unused_object))


def test_the_signatures_in_the_other_order_are_found() -> None:
    data = forging.released_first()
    assert "measured by, then released by: released by, measured by" in said(data)


def test_a_third_signature_is_found() -> None:
    assert Code.EXTRA_SIGNATURE in codes(forging.third(small.report()))


def test_a_file_rolled_back_to_its_first_signature_lacks_the_second() -> None:
    found = checked(small.report_of_one())
    assert [(f.code, f.expected) for f in found.findings] == [
        (Code.SIGNATURE_MISSING, "released by")
    ]
    assert found.base == small.base()


def test_a_file_without_signatures_lacks_both() -> None:
    found = checked(small.base())
    assert [f.expected for f in found.findings] == ["measured by", "released by"]
    assert {f.code for f in found.findings} == {Code.SIGNATURE_MISSING}


@pytest.mark.parametrize("how", [{}, {"linearize": True}, {"qdf": True}])
def test_a_file_that_was_saved_again_is_found(how: dict[str, Any]) -> None:
    def edit(file: pikepdf.Pdf) -> None:
        file.pages[0].contents_add(b"% another value")

    assert Code.SIGNATURE_BROKEN in codes(forging.resaved(small.report(), edit, **how))
    assert Code.SIGNATURE_BROKEN in codes(forging.resaved(small.report(), lambda _: None, **how))


def test_a_swapped_attachment_is_found() -> None:
    def swap(file: pikepdf.Pdf) -> None:
        file.Root.Names.EmbeddedFiles.Names[1].EF.F.write(b"{}")

    assert Code.SIGNATURE_BROKEN in codes(forging.resaved(small.report(), swap))


def test_no_flipped_bit_passes_anywhere() -> None:
    """Most of the samples lie where no digest looks: in the last signature itself."""
    data = small.report()
    begin, end = forging.gap(data)
    draw = random.Random(20261123)
    used = begin + 2 * (4 + int(data[begin + 4 : begin + 8], 16))
    places = [draw.randrange(len(small.base())) for _ in range(25)]
    places += [draw.randrange(len(data)) for _ in range(20)]
    places += [draw.randrange(begin, used) for _ in range(75)]
    places += [draw.randrange(used, end) for _ in range(20)]
    passed = [at for at in places if not checked(forging.flipped(data, at)).findings]
    assert passed == []


# -- between the two signatures, by the second signer -------------------------------


@pytest.mark.parametrize(
    "change",
    [
        forging.other_content,
        forging.other_stamp,
        forging.hidden_stamp,
        forging.note_over_the_page,
        forging.one_more_page,
        forging.one_more_attachment,
        forging.other_metadata,
        forging.text_field,
    ],
)
def test_a_change_between_the_signatures_is_found(change: forging.Change) -> None:
    assert Code.CHANGED_AFTER in codes(forging.released_with(change))


def test_the_library_tells_of_a_change_at_the_first_signature() -> None:
    found = said(forging.released_with(forging.other_content))
    assert "measured by: nothing changed after it: INTACT:TRUSTED,EXTENDED_WITH_OTHER" in found


# -- with the first signature, by the first signer ----------------------------------


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (forging.other_content, Code.CHANGED_AFTER),
        (forging.other_metadata, Code.CHANGED_AFTER),
        (forging.one_more_page, Code.CHANGED_AFTER),
        (forging.one_more_attachment, Code.CHANGED_AFTER),
        (forging.another_root, Code.CHANGED_AFTER),
        (forging.one_more_key_in_the_trailer, Code.CHANGED_AFTER),
        (forging.note_over_the_page, Code.SIGNATURE_FORM),
        (forging.text_field, Code.SIGNATURE_FORM),
        (forging.hidden_stamp, Code.SIGNATURE_FORM),
        (forging.one_more_key_in_the_field, Code.SIGNATURE_FORM),
        (forging.one_more_key_in_the_form, Code.SIGNATURE_FORM),
    ],
)
def test_a_change_beside_the_first_signature_is_found(change: forging.Change, code: Code) -> None:
    assert code in codes(forging.released_with(data=forging.measured_with(change)))


@pytest.mark.parametrize("unseen", [False, True])
def test_another_file_between_base_and_signatures_is_found(*, unseen: bool) -> None:
    data = forging.written_over(unseen=unseen)
    assert Code.CHANGED_AFTER in codes(data)
    assert "revisions, one after the other: tables at" in said(data)


def test_an_end_that_some_readers_overlook_is_found() -> None:
    data = re.sub(rb"startxref\n(\d+)\n%%EOF", rb"startxref\r\1\r%%EOF", small.base())
    assert "an end of the file: none" in said(data)


def test_each_thing_wrong_in_a_form_has_its_name() -> None:
    data = forging.measured_with(forging.text_field)
    assert "measured_by, released_by: measured_by, released_by, note" in said(data)
    data = forging.measured_with(forging.note_over_the_page)
    assert "2 fields on the pages: 3 annotations" in said(data)
    data = forging.measured_with(forging.one_more_key_in_the_field)
    assert "a signature field and nothing else" in said(data)
    data = forging.measured_with(forging.one_more_key_in_the_form)
    assert "a form with two signatures and nothing else" in said(data)


def test_tables_that_do_not_follow_each_other_are_found() -> None:
    data = small.report()
    tables = [table for _, table in revisions.ends(data)]
    assert list(revisions.layout(data, tables)) == []
    assert list(revisions.layout(data, tables[1:]))
    assert list(revisions.layout(data + b"x", tables)) == [
        ("nothing after the end of the file", "1 bytes more")
    ]
    back = data[: tables[2]] + data[tables[2] :].replace(b"%d" % tables[2], b"%d" % tables[1])
    flaws = list(revisions.layout(back, [*tables[:2], tables[1]]))
    assert flaws == [("a plain table of objects in each revision", f"none at {tables[1]}")]


def test_a_second_drawing_in_a_stamp_is_found() -> None:
    assert "one stamp: /D, /N" in said(forging.measured_with(forging.one_more_stamp))


def test_a_first_signature_that_certifies_nothing_is_found() -> None:
    data = forging.released_with(data=forging.measured_with(certify=False))
    assert "the first signature certifies the file" in said(data)


def test_a_first_signature_that_allows_notes_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    lax = SimpleNamespace(FILL_FORMS=fields.MDPPerm.ANNOTATE)
    monkeypatch.setattr(sign, "MDPPerm", lax)
    data = forging.released_with(data=forging.measured_with())
    assert "form filling allowed and nothing else" in said(data)


def test_a_signature_that_locks_fields_is_found() -> None:
    lock = fields.FieldMDPSpec(fields.FieldMDPAction.INCLUDE, fields=["other"])
    data = forging.released_with(data=forging.measured_with(lock=lock))
    assert "a certification by the first signature alone" in said(data)


def test_one_more_key_in_a_signature_is_found() -> None:
    assert codes(forging.released_otherwise()) == set()
    data = forging.released_otherwise(contact="somebody@example.org")
    assert "a signature and nothing else: /ContactInfo" in said(data)


def test_a_signature_of_another_kind_is_found() -> None:
    data = forging.released_otherwise(kind=fields.SigSeedSubFilter.ADOBE_PKCS7_DETACHED)
    assert "ETSI.CAdES.detached: /Adobe.PPKLite /adbe.pkcs7.detached" in said(data)
