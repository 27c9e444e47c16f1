"""Files made to hurt whoever reads them: each is a finding, and nothing is ever raised."""

from __future__ import annotations

import re
import zlib
from collections.abc import Callable

import pikepdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pikepdf import Array, Dictionary, Name, String

from inspect_rec.report import signatures
from inspect_rec.report.finding import Code
from tests.report import forging, small
from tests.report.small import checked, codes

# -- what runs, opens, sends or hides -------------------------------------------------


def script() -> Dictionary:
    return Dictionary(S=Name.JavaScript, JS=String("app.alert(1)"))


def opens_a_script(file: pikepdf.Pdf) -> None:
    file.Root.OpenAction = script()


def names_a_script(file: pikepdf.Pdf) -> None:
    file.Root.Names.JavaScript = Dictionary(Names=Array([String("a"), script()]))


def acts_on_a_page(file: pikepdf.Pdf) -> None:
    file.pages[0].AA = Dictionary(O=Dictionary(S=Name.Named, N=Name.Print))


def link(action: Dictionary) -> Callable[[pikepdf.Pdf], None]:
    def add(file: pikepdf.Pdf) -> None:
        annotation = Dictionary(
            Type=Name.Annot, Subtype=Name.Link, Rect=Array([0, 0, 99, 99]), A=action
        )
        file.pages[0].Annots = Array([annotation])

    return add


def form_of_another_kind(file: pikepdf.Pdf) -> None:
    form = file.make_stream(b"<xdp/>")
    file.Root.AcroForm = Dictionary(Fields=Array([]), XFA=form)


def layers(file: pikepdf.Pdf) -> None:
    file.Root.OCProperties = Dictionary(OCGs=Array([]), D=Dictionary())


@pytest.mark.parametrize(
    "change",
    [
        opens_a_script,
        names_a_script,
        acts_on_a_page,
        link(script()),
        link(Dictionary(S=Name.Launch, F=String("calc.exe"))),
        link(Dictionary(S=Name.URI, URI=String("http://example.org"))),
        link(Dictionary(S=Name.GoTo, D=Array([0, Name.Fit]), Next=Array([script()]))),
        link(Dictionary(S=Name.GoToR, F=String("other.pdf"))),
        link(Dictionary(S=Name.SubmitForm, F=String("http://example.org"))),
        form_of_another_kind,
        layers,
    ],
)
def test_what_runs_opens_sends_or_hides_is_found(change: Callable[[pikepdf.Pdf], None]) -> None:
    base = forging.resaved(small.base(), change)
    data = forging.released_with(data=forging.measured_with(data=base))
    assert Code.ACTIVE_CONTENT in codes(data)


# -- what grows or never ends ---------------------------------------------------------


def test_a_file_over_the_limit_is_refused_before_it_is_parsed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(signatures, "LARGEST", len(small.report()) - 1)
    monkeypatch.setattr(signatures, "PdfFileReader", None)
    found = checked(small.report())
    assert [f.code for f in found.findings] == [Code.NOT_A_REPORT]
    assert found.base is None


def test_a_compressed_table_is_refused_before_it_is_parsed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    mode = pikepdf.ObjectStreamMode.generate
    packed = forging.resaved(small.report(), lambda _: None, object_stream_mode=mode)
    unsigned = forging.resaved(small.base(), lambda _: None, object_stream_mode=mode)
    monkeypatch.setattr(signatures, "PdfFileReader", None)
    assert codes(packed) <= {Code.SIGNATURE_BROKEN, Code.NOT_A_REPORT}
    assert codes(unsigned) == {Code.NOT_A_REPORT}


def file_of(body: bytes) -> bytes:
    """The smallest file with one object ``body`` as its root."""
    head = b"%PDF-1.7\n"
    thing = b"1 0 obj\n" + body + b"\nendobj\n"
    table = b"xref\n0 2\n0000000000 65535 f \n%010d 00000 n \n" % len(head)
    trailer = b"trailer\n<< /Root 1 0 R /Size 2 >>\nstartxref\n%d\n%%%%EOF\n"
    return head + thing + table + trailer % (len(head) + len(thing))


def catalog_with(field: bytes) -> bytes:
    return b"<< /Type /Catalog /AcroForm << /Fields [ << " + field + b" >> ] >> >>"


@pytest.mark.parametrize(
    "body",
    [
        b"[" * 100_000,
        b"<< /AcroForm " * 20_000,
        b"<< /Type /Catalog /Pages 1 0 R /AcroForm 1 0 R /Fields [1 0 R] /Kids [1 0 R] >>",
        catalog_with(b"/FT /Sig /T (measured_by) /V 1 0 R"),
        catalog_with(b"/FT /Sig /T (measured_by) /V << /ByteRange 3 >>"),
        b"<< /Length 99999999 /Filter /FlateDecode >>\nstream\n"
        + zlib.compress(b"\0" * 10_000_000)
        + b"\nendstream",
        b"null",
        b"1 0 R",
    ],
    ids=["arrays", "dictionaries", "itself", "value", "no CMS", "bomb", "null", "loop"],
)
def test_a_forged_object_is_a_finding_and_never_an_error(body: bytes) -> None:
    assert checked(file_of(body)).findings


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (rb"/ByteRange \[0 ", b"/ByteRange [9 "),
        (rb"/ByteRange \[0 ", b"/ByteRange (0 "),
        (rb"/ByteRange \[", b"/ByteRangX ["),
        (rb"/Contents <30", b"/Contents <02"),
        (rb"/Contents <", b"/Contentz <"),
        (rb"/Fields \[ ", b"/Fields 3[ "),
        (rb"/DocMDP ", b"/DocMDX "),
        (rb"/M \(D", b"/M (X"),
        (rb"/V \d+ ", b"/V -1 "),
        (rb"/Prev ", b"/Prex "),
        (rb"/Size ", b"/Size-"),
        (rb"startxref\n\d", b"startxref\n9"),
        (rb"\d{10} 00000 n", b"9999999999 00000 n"),
        (rb"0000000000 65535 f", b"0000000017 00000 n"),
        (rb"/Root 1 0 R", b"/Root 9 0 R"),
        (rb"/Parent \d+", b"/Parent 9"),
        (rb"trailer", b"tralier"),
    ],
)
def test_a_forged_key_is_a_finding_and_never_an_error(old: bytes, new: bytes) -> None:
    found = list(re.finditer(old, small.report()))
    assert found
    for each in found:
        begin, end = each.span()
        padded = new.ljust(end - begin, b" ")[: end - begin]
        assert checked(small.report()[:begin] + padded + small.report()[end:]).findings


@pytest.mark.parametrize(
    "data", [b"", b"%PDF-1.7\n", b"\0" * 5000, b"<html>", b"startxref\n9\n%%EOF"]
)
def test_what_is_no_report_is_a_finding(data: bytes) -> None:
    assert checked(data).findings


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_no_piece_cut_out_or_put_twice_passes(data: st.DataObject) -> None:
    whole = small.report()
    begin = data.draw(st.integers(0, len(whole) - 1))
    end = data.draw(st.integers(begin + 1, min(len(whole), begin + 3000)))
    twice = data.draw(st.booleans())
    piece = whole[begin:end] if twice else b""
    assert checked(whole[:begin] + piece * 2 + whole[end:]).findings
