"""The file: the same bytes again, PDF/A-3b by its structure, attachments, fonts, stamps."""

from __future__ import annotations

import hashlib
import io
import json
import re
import struct
import subprocess
import zlib
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pikepdf
import pypdfium2
import pytest
from pikepdf import Array, Dictionary, Name, Stream, String

from inspect_rec.errors import ReportError
from inspect_rec.people import Role, key_id
from inspect_rec.report import figures, make, pdf, record, sign, verify
from inspect_rec.report.finding import Code
from report_templates import letter, stamps
from tests import signing, worked
from tests.programs import needs
from tests.report import samples

NUMBERS = ("I1", "I2", "I3")
RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
PDFAID = "{http://www.aiim.org/pdfa/ns/id/}"


def opened(data: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(data))


def base(number: str = "I1") -> bytes:
    return signing.made(number).rendered.pdf


@pytest.mark.parametrize("name", ["I1", "I2", "I3", "longest", "emptiest"])
def test_the_same_content_gives_the_same_bytes(name: str) -> None:
    content = samples.contents()[name]
    first = pdf.render(content, {}, samples.ISSUED).pdf
    assert pdf.render(content, {}, samples.ISSUED).pdf == first
    assert hashlib.sha256(samples.rendered(name)).digest() == hashlib.sha256(first).digest()


def test_another_word_gives_other_bytes() -> None:
    assert samples.rendered("I1") != samples.rendered("I2")


# -- PDF/A-3b, by structure (ISO 19005-3, clauses from memory) ---------------------------


@pytest.mark.parametrize("number", NUMBERS)
def test_metadata_names_the_part_and_each_description_has_one_namespace(number: str) -> None:
    with opened(base(number)) as file:
        text = bytes(file.Root.Metadata.read_bytes())
        assert "/Filter" not in file.Root.Metadata
    tree = ElementTree.fromstring(text[text.index(b"<x:xmpmeta") : text.rindex(b"<?xpacket")])
    descriptions = tree.findall(f".//{RDF}Description")
    assert descriptions
    for description in descriptions:
        spaces = {child.tag.split("}")[0] for child in description}
        assert len(spaces) == 1
    assert [e.text for e in tree.iter(f"{PDFAID}part")] == ["3"]
    assert [e.text for e in tree.iter(f"{PDFAID}conformance")] == ["B"]


@pytest.mark.parametrize("number", NUMBERS)
def test_the_output_intent_is_an_icc_profile_of_version_2_for_rgb(number: str) -> None:
    with opened(base(number)) as file:
        (intent,) = file.Root.OutputIntents
        assert Name("/GTS_PDFA1") == intent.S
        profile = bytes(intent.DestOutputProfile.read_bytes())
        assert int(intent.DestOutputProfile.N) == 3
    assert struct.unpack(">I", profile[:4]) == (len(profile),)
    assert profile[8] == 2
    assert profile[12:20] == b"mntrRGB "
    assert profile[36:40] == b"acsp"


@pytest.mark.parametrize("number", NUMBERS)
def test_there_is_no_info_no_script_no_transparency_and_the_language_is_said(number: str) -> None:
    with opened(base(number)) as file:
        assert "/Info" not in file.trailer
        assert str(file.Root.Lang) == "en"
        assert file.Root.ViewerPreferences.DisplayDocTitle
        assert "/OpenAction" not in file.Root
        assert "/AA" not in file.Root
        assert "/ID" in file.trailer
        for thing in file.objects:
            if isinstance(thing, Dictionary) and thing.get("/Type") == Name.ExtGState:
                assert float(thing.get("/ca", 1)) == 1
                assert float(thing.get("/CA", 1)) == 1
            if isinstance(thing, Stream):
                assert "/LZWDecode" not in str(thing.get("/Filter", ""))
                assert "/ASCII85Decode" not in str(thing.get("/Filter", ""))


@pytest.mark.parametrize("name", ["I1", "longest", "emptiest"])
def test_every_font_is_one_of_ours_and_embedded(name: str) -> None:
    with opened(samples.rendered(name)) as file:
        fonts = [font for page in file.pages for font in page.Resources.get("/Font", {}).values()]
        assert fonts
        for font in fonts:
            assert re.fullmatch(r"/[A-Z]{6}\+TallowSans-\w+", str(font.BaseFont))
            assert "/FontFile2" in font.FontDescriptor
            assert "/ToUnicode" in font


@needs("qpdf")
@pytest.mark.parametrize("name", ["I1", "longest", "emptiest"])
def test_qpdf_finds_nothing_wrong_before_any_signature(name: str, tmp_path: Path) -> None:
    path = tmp_path / "base.pdf"
    path.write_bytes(samples.rendered(name))
    done = subprocess.run(["qpdf", "--check", path], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "No syntax or stream encoding errors found" in done.stdout


@needs("pdffonts")
def test_pdffonts_names_embedded_subsets_alone(tmp_path: Path) -> None:
    path = tmp_path / "base.pdf"
    path.write_bytes(samples.rendered("longest"))
    done = subprocess.run(["pdffonts", path], capture_output=True, text=True, check=True)
    rows = done.stdout.splitlines()[2:]
    assert rows
    for row in rows:
        assert re.match(r"[A-Z]{6}\+TallowSans-\w+\s+TrueType", row), row
        assert re.search(r"yes yes yes", row), row


# -- attachments -------------------------------------------------------------------------


@pytest.mark.parametrize("number", NUMBERS)
def test_record_and_readings_are_associated_files_with_their_relation(number: str) -> None:
    with opened(base(number)) as file:
        named = {str(spec.UF): spec for spec in file.Root.AF}
        assert set(named) == {record.RECORD, record.READINGS}
        assert named[record.RECORD].AFRelationship == Name.Source
        assert named[record.READINGS].AFRelationship == Name.Data
        assert named[record.RECORD].EF.F.Subtype == Name("/application/json")
        assert named[record.READINGS].EF.F.Subtype == Name("/text/csv")
        for spec in named.values():
            data = bytes(spec.EF.F.read_bytes())
            assert int(spec.EF.F.Params.Size) == len(data)
            found = bytes(spec.EF.F.Params.CheckSum)
            assert found == hashlib.md5(data, usedforsecurity=False).digest()
            assert str(spec.Desc)
    assert json.loads(pdf.attachments(base(number), record.LARGEST)[record.RECORD])["number"]


def with_files(flat: list[tuple[str, pikepdf.Object]], file: pikepdf.Pdf) -> bytes:
    names: list[object] = [x for name, spec in flat for x in (String(name), spec)]
    file.Root.Names = Dictionary(EmbeddedFiles=Dictionary(Names=Array(names)))
    out = io.BytesIO()
    file.save(out, stream_decode_level=pikepdf.StreamDecodeLevel.none, compress_streams=False)
    return out.getvalue()


def spec(file: pikepdf.Pdf, name: str, raw: bytes, packing: Name | None) -> pikepdf.Object:
    stream = Stream(file, raw)
    if packing is not None:
        stream.Filter = packing
    return file.make_indirect(Dictionary(F=String(name), UF=String(name), EF=Dictionary(F=stream)))


def test_a_file_that_unpacks_beyond_the_limit_is_refused_before_it_fills_the_memory() -> None:
    with pikepdf.new() as file:
        file.add_blank_page()
        bomb = spec(file, "a", zlib.compress(bytes(5_000_000), 9), Name.FlateDecode)
        data = with_files([("a", bomb)], file)
    with pytest.raises(ReportError, match="too large"):
        pdf.attachments(data, 1_000_000)


def test_a_name_that_stands_twice_or_two_names_for_one_file_are_refused() -> None:
    with pikepdf.new() as file:
        file.add_blank_page()
        one = spec(file, "a", b"1", None)
        twice = with_files([("a", one), ("a", spec(file, "a", b"2", None))], file)
    with pytest.raises(ReportError, match="two names, or stands twice"):
        pdf.attachments(twice, 100)
    with pikepdf.new() as file:
        file.add_blank_page()
        other = with_files([("b", spec(file, "a", b"1", None))], file)
    with pytest.raises(ReportError, match="two names, or stands twice"):
        pdf.attachments(other, 100)


def test_a_file_packed_in_an_unknown_way_is_refused() -> None:
    with pikepdf.new() as file:
        file.add_blank_page()
        data = with_files([("a", spec(file, "a", b"3131>", Name.ASCIIHexDecode))], file)
    with pytest.raises(ReportError, match="unknown way"):
        pdf.attachments(data, 100)


# -- stamps ------------------------------------------------------------------------------


def stamp(decision: str, reason: str = "") -> bytes:
    at = figures.moment(signing.RELEASED_AT)
    return pdf.released_stamp(signing.INSPECTOR, "63B8 B81B", at, "en", decision, reason)


@pytest.mark.parametrize("field", ["measured_by", "released_by"])
def test_a_stamp_is_a_page_of_exactly_its_fields_size(field: str) -> None:
    at = figures.moment(signing.MEASURED_AT)
    data = (
        pdf.measured_stamp(signing.GRINDER, "4ABF DAB1", at, "en")
        if field == "measured_by"
        else stamp("released")
    )
    box = signing.made("I1").rendered.boxes[field]
    with opened(data) as file:
        (page,) = file.pages
        x0, y0, x1, y1 = (float(n) for n in page.MediaBox)
        assert (x1 - x0, y1 - y0) == (box.x1 - box.x0, box.y1 - box.y0)
        assert (x1 - x0, y1 - y0) == stamps.size(field)


def test_the_second_stamp_bears_role_meaning_and_decision() -> None:
    (text,) = pdf.text_of(stamp("released"))
    assert text[0] == "Released by"
    assert "I authorise this report and release the tool." in text
    (text,) = pdf.text_of(stamp("not released", "DC_2 neither shown"))
    assert text[0] == "Not released"
    assert "I authorise this report. I do not release the tool." in text
    assert "DC_2 neither shown" in text


def test_a_reason_that_is_too_long_for_its_block_says_where_all_of_it_is() -> None:
    (text,) = pdf.text_of(stamp("not released", "its lower limit isn't reached, " * 12))
    assert "in full in the signature" in " ".join(text)


def test_not_released_looks_other_than_released_even_without_words() -> None:
    def operators(data: bytes) -> int:
        with opened(data) as file:
            found = pikepdf.parse_content_stream(file.pages[0])
            return sum(str(one.operator) in ("f", "f*") for one in found)

    assert operators(stamp("not released")) > operators(stamp("released")) + 30


def test_the_last_third_of_page_1_is_left_empty_for_its_signature() -> None:
    box = signing.made("I1").rendered.boxes["released_by"]
    document = pypdfium2.PdfDocument(base())
    page = document[0]
    text_page = page.get_textpage()
    said = text_page.get_text_bounded(box.x0, box.y0, box.x1, box.y1)
    text_page.close()
    page.close()
    document.close()
    assert said.strip() == ""
    assert box.page == 0


# -- reading back ------------------------------------------------------------------------


def test_text_is_read_page_by_page_and_no_page_is_lost() -> None:
    pages = pdf.text_of(base())
    assert len(pages) == 3
    assert all(f"page {n} of 3" in " ".join(page) for n, page in enumerate(pages, 1))


def test_what_is_no_file_at_all_is_a_report_error() -> None:
    with pytest.raises(ReportError, match="can't be read"):
        pdf.text_of(b"%PDF-1.7 nothing else")


def test_the_visible_block_of_a_signature_is_read_back_as_it_was_drawn() -> None:
    data = signing.report("I2")
    shown = pdf.text_of_appearance(data, "released_by")
    assert shown[0] == "Not released"
    assert "Tomasz Wren" in shown
    assert pdf.text_of_appearance(base(), "no_such_field") == ()


def test_fields_stand_where_the_layout_says() -> None:
    boxes = signing.made("I1").rendered.boxes
    for name, box in letter.boxes().items():
        found = boxes[name]
        assert (found.page, found.x0, found.y0, found.x1, found.y1) == box


def test_one_person_in_both_roles_is_said_in_the_second_block_and_read_back() -> None:
    at = figures.moment(signing.RELEASED_AT)
    person = replace(signing.INSPECTOR, roles=(*signing.INSPECTOR.roles, Role.MEASURES))
    told = pdf.released_stamp(person, "63B8 B81B", at, "en", "released", "", measured_too=True)
    (text,) = pdf.text_of(told)
    assert "The same person measured and decided." in text
    assert "The same person" not in " ".join(pdf.text_of(stamp("released"))[0])
    both = pdf.released_stamp(
        person, "63B8 B81B", at, "en", "not released", "worn, " * 60, measured_too=True
    )
    (text,) = pdf.text_of(both)
    assert "The same person measured and decided." in text
    assert "in full in the signature" in " ".join(text)


def test_one_person_in_both_roles_passes_where_the_job_allows_it_and_the_block_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    plain = worked.opened

    def allowed(number: str, customer: str = "C-1") -> dict[str, Any]:
        body = plain(number, customer)
        body["plan"]["job"]["same_person_may_release"] = True
        return body

    monkeypatch.setattr(worked, "opened", allowed)
    entries = worked.entries("I3", signing.UPTO["I3"])
    made = make.make(entries, signing.header("I3", entries))
    roles = (Role.GRINDS, Role.MEASURES, Role.RELEASES)
    both = signing.shop().signer(replace(signing.GRINDER, roles=roles))
    at = figures.moment(signing.RELEASED_AT)
    key = key_id(both.certificate)
    first = sign.measure_sign(
        made.rendered.pdf,
        both,
        signing.MEASURED_AT,
        dict(made.rendered.boxes),
        pdf.measured_stamp(both.person, key, figures.moment(signing.MEASURED_AT), "en"),
    )
    found = []
    for too in (True, False):
        told = pdf.released_stamp(both.person, key, at, "en", "released", "", measured_too=too)
        second = sign.release_sign(first, both, signing.RELEASED_AT, "released", "", told)
        found.append(verify.verify(second, [signing.shop().certificate], signing.NOW).findings)
    assert found[0] == ()
    assert {f.code for f in found[1]} == {Code.PRINTED}
    assert any("The same person measured and decided." in f.expected for f in found[1])
