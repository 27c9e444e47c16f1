"""Forgeries that everybody signed and whose text is right: how pages look, and what lies beside."""

from __future__ import annotations

import re
import zlib
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, String

from inspect_rec.report import pdf, shown
from inspect_rec.report.finding import Code, Finding
from inspect_rec.report.verify import Verification, verify
from tests import signing
from tests.report import forging
from tests.report.photographs import entries, picture, report

WHITE = b"\nq 1 1 1 rg 60 300 300 400 re f Q\n"
Change = Callable[[pikepdf.Pdf], None]


@cache
def honest() -> bytes:
    """A report with a picture, not signed yet."""
    data = picture()
    return report(entries(("edge.jpg", data, {})), {"picture 1 edge.jpg": data}).rendered.pdf


def signed(base: bytes) -> Verification:
    data = signing.released(signing.measured("I1", base=base))
    return verify(data, [signing.shop().certificate], signing.NOW)


def written(change: Change) -> bytes:
    """The report written anew by a library, with a change."""
    return forging.resaved(honest(), change, fix_metadata_version=False)


def found(change: Change) -> tuple[Finding, ...]:
    return signed(written(change)).findings


def test_the_same_report_written_otherwise_is_genuine() -> None:
    checked = signed(written(lambda _: None))
    assert checked.findings == ()
    assert not checked.same_bytes


def drawn(page: int, before: bytes = b"", after: bytes = b"") -> Change:
    """A page with something before and after what is drawn on it."""

    def change(file: pikepdf.Pdf) -> None:
        whole = before + file.pages[page].Contents.read_bytes() + after
        file.pages[page].Contents = file.make_stream(whole)

    return change


def no_picture(file: pikepdf.Pdf) -> None:
    for page in file.pages:
        whole = re.sub(rb"/FormXob\.\w+ Do", b"", page.Contents.read_bytes())
        page.Contents = file.make_stream(whole)


def swapped_digits(file: pikepdf.Pdf) -> None:
    """Each 8 looks like a 9 and each 9 like an 8, and both are read as they were."""
    eight, nine = b"<38> <0038>", b"<39> <0039>"
    fonts: dict[tuple[int, int], pikepdf.Object] = {}
    for page in file.pages:
        whole = re.sub(rb"\(.*\) Tj", _swapped, page.Contents.read_bytes())
        page.Contents = file.make_stream(whole)
        fonts |= {font.objgen: font for font in page.Resources.Font.values()}
    for font in fonts.values():
        read = font.ToUnicode.read_bytes().replace(eight, b"<38> <0039>")
        font.ToUnicode = file.make_stream(read.replace(nine, b"<39> <0038>"))


def _swapped(text: re.Match[bytes]) -> bytes:
    return text[0].translate(bytes.maketrans(b"89", b"98"))


@pytest.mark.parametrize(
    "change",
    [
        drawn(0, after=WHITE),
        drawn(0, after=b"\nq 200 0 0 200 100 500 cm BI /W 1 /H 1 /CS /G /BPC 8 ID \xff EI Q\n"),
        drawn(0, before=b"3 Tr "),
        drawn(0, before=b"0 0 1 1 re W n "),
        no_picture,
        swapped_digits,
    ],
    ids=["white over it", "a white picture", "unseen", "cut off", "no picture", "digits"],
)
def test_a_page_that_reads_right_and_looks_otherwise_is_found(change: Change) -> None:
    findings = found(change)
    assert findings
    assert {f.code for f in findings} == {Code.PRINTED}
    assert all("mm from the top" in f.found for f in findings)


# -- what isn't drawn by a page ------------------------------------------------------


def image(file: pikepdf.Pdf) -> pikepdf.Object:
    return next(i for page in file.pages for i in page.get_images().values())


def dot(file: pikepdf.Pdf) -> pikepdf.Object:
    return file.make_stream(
        b"\0",
        Type=Name.XObject,
        Subtype=Name.Image,
        Width=1,
        Height=1,
        ColorSpace=Name.DeviceGray,
        BitsPerComponent=8,
    )


def masked(file: pikepdf.Pdf) -> None:
    image(file).SMask = dot(file)


def inverted(file: pikepdf.Pdf) -> None:
    image(file).Decode = Array([1, 0, 1, 0, 1, 0])


def otherwise_on_paper(file: pikepdf.Pdf) -> None:
    image(file).Alternates = Array([Dictionary(Image=dot(file), DefaultForPrinting=True)])


def note(file: pikepdf.Pdf) -> None:
    """Under the signatures: part of the file that both signed."""
    square = Dictionary(
        Type=Name.Annot, Subtype=Name.Square, Rect=Array([60, 300, 360, 700]), IC=Array([1, 1, 1])
    )
    file.pages[0].Annots = Array([file.make_indirect(square)])


def cropped(file: pikepdf.Pdf) -> None:
    file.pages[0].CropBox = Array([0, 400, 595, 842])


def lower(file: pikepdf.Pdf) -> None:
    file.pages[0].MediaBox[3] = 400


def headline(file: pikepdf.Pdf) -> None:
    file.Root.Outlines = Dictionary(Type=Name.Outlines, Count=0)


def other_words(file: pikepdf.Pdf) -> None:
    file.Root.StructTreeRoot.K.ActualText = String("conforms")


def other_title(file: pikepdf.Pdf) -> None:
    whole = file.Root.Metadata.read_bytes().replace(b"A-0231", b"A-0999")
    file.Root.Metadata.write(whole)


def other_file_in_the_list(file: pikepdf.Pdf) -> None:
    other = Dictionary(Type=Name.Filespec, F=String("record.json"), UF=String("record.json"))
    file.Root.AF[0] = file.make_indirect(other)


def other_file_by_another_name(file: pikepdf.Pdf) -> None:
    file.Root.Names.EmbeddedFiles.Names[1].EF.UF = file.make_stream(b"{}")


def swelling(file: pikepdf.Pdf) -> None:
    """A small stream that a reader would unpack to a thousand times its size."""
    stream = file.Root.AF[0].EF.F
    stream.write(zlib.compress(stream.read_bytes() + bytes(10**7)), filter=Name.FlateDecode)


@pytest.mark.parametrize(
    ("change", "where"),
    [
        (masked, "/SMask"),
        (inverted, "/Decode"),
        (otherwise_on_paper, "/Alternates"),
        (note, "/Annots"),
        (cropped, "/CropBox"),
        (lower, "400"),
        (headline, "/Outlines"),
        (other_words, "/ActualText"),
        (other_title, "others"),
        (other_file_in_the_list, "another"),
        (other_file_by_another_name, "another"),
    ],
    ids=lambda value: getattr(value, "__name__", value),
)
def test_what_the_file_holds_beside_its_text_is_held_against_the_same_file_made_again(
    change: Change, where: str
) -> None:
    findings = found(change)
    assert {f.code for f in findings} == {Code.PRINTED}
    assert any(where in f.found for f in findings)


def test_a_stream_that_swells_is_found_and_not_unpacked() -> None:
    (first, *_) = shown.held(written(swelling), honest())
    assert first[0].endswith(": the same bytes")


def test_a_page_that_would_take_for_ever_to_draw_is_found_and_not_drawn() -> None:
    fills = b"0 0 m 500 800 l 0 800 l 500 0 l f\n" * 60_000
    (one,) = found(drawn(0, after=b"\nq " + fills + b"Q"))
    assert one.expected == "the file /Pages /Kids 1: the contents of a page"


# -- the blocks of the signatures ----------------------------------------------------


def test_a_block_that_covers_a_value_is_found() -> None:
    """Who measured says where the blocks stand, and signs that."""
    rendered = signing.made("I1").rendered
    box = rendered.boxes["measured_by"]
    over = replace(box, y0=box.y0 + 300, y1=box.y1 + 300)
    boxes = {**rendered.boxes, "measured_by": over}
    data = signing.released(signing.measured("I1", boxes=boxes))
    (one,) = verify(data, [signing.shop().certificate], signing.NOW).findings
    assert (one.code, one.expected) == (Code.PRINTED, "page 1: as it is drawn again")


def test_a_block_that_reads_right_and_looks_otherwise_is_found(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def struck(drawn: bytes) -> bytes:
        line = b"\nq 1 0 0 RG 0 26 m 160 26 l S Q\n"
        return forging.resaved(drawn, lambda file: line_over(file, line))

    def line_over(file: pikepdf.Pdf, line: bytes) -> None:
        whole = file.pages[0].Contents.read_bytes() + line
        file.pages[0].Contents = file.make_stream(whole)

    honest_stamp = pdf.measured_stamp
    monkeypatch.setattr(pdf, "measured_stamp", lambda *a, **k: struck(honest_stamp(*a, **k)))
    data = signing.measured("I1")
    monkeypatch.undo()
    data = signing.released(data)
    (one,) = verify(data, [signing.shop().certificate], signing.NOW).findings
    assert (one.code, one.expected) == (Code.PRINTED, "page 1: as it is drawn again")
