"""Pictures of the tool on its report: as their files are, with what they show, and none other."""

from __future__ import annotations

import io
import re
from typing import Any

import pikepdf
import pypdfium2
import pytest

from inspect_rec.errors import InputError, ReportError
from inspect_rec.inspection import fold
from inspect_rec.report import documents, pdf, picturing, shown
from inspect_rec.report.measurements import Said
from inspect_rec.report.measurements import made as measurement_record
from report_templates import pictures
from report_templates.flow import Flow
from tests.report import photographs
from tests.report.photographs import I1, entries, picture, report
from tests.report.test_look import boxes, over

EDGE: dict[str, Any] = {"flute": 3, "words": "after the last cut"}


def images(data: bytes) -> list[tuple[bytes, bool]]:
    """Raw bytes of every picture on the pages, and whether it has a mask."""
    with pikepdf.open(io.BytesIO(data)) as file:
        found = [image for page in file.pages for image in page.get_images().values()]
        return [(image.read_raw_bytes(), "/SMask" in image) for image in found]


def words(data: bytes) -> str:
    return re.sub(r"\s+", " ", " ".join(" ".join(page) for page in pdf.text_of(data)))


def test_a_picture_stands_on_the_report_as_its_file_is_and_is_attached() -> None:
    data = picture()
    made = report(entries(("edge.jpg", data, EDGE)), {"picture 1 edge.jpg": data})
    assert images(made.rendered.pdf) == [(data, False)]
    files = pdf.attachments(made.rendered.pdf, 10**6)
    assert files["picture 1 edge.jpg"] == data
    said = words(made.rendered.pdf)
    assert "Pictures of the tool" in said
    assert "Flute 3: after the last cut" in said
    assert "edge.jpg, kept 17 Nov 2026" in said


def test_a_report_without_pictures_has_no_word_of_them() -> None:
    made = report(entries(), {})
    assert images(made.rendered.pdf) == []
    assert "Pictures of the tool" not in words(made.rendered.pdf)


@pytest.mark.parametrize("mode", ["RGB", "L"])
@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
def test_every_allowed_kind_is_drawn_without_a_mask(kind: str, mode: str) -> None:
    data = picture(kind, mode=mode)
    name = f"picture 1 a.{kind.lower()}"
    made = report(entries((f"a.{kind.lower()}", data, {})), {name: data}, "de")
    ((_, masked),) = images(made.rendered.pdf)
    assert not masked
    assert "Bild" in words(made.rendered.pdf)


def test_two_pictures_of_one_name_are_two_files() -> None:
    one, two = picture(), picture(size=(80, 60))
    of = entries(("edge.jpg", one, {}), ("edge.jpg", two, {}))
    given = {"picture 1 edge.jpg": one, "picture 2 edge.jpg": two}
    assert documents.named(of, I1).keys() == given.keys()
    assert len(images(report(of, given).rendered.pdf)) == 2


def test_a_picture_that_was_struck_out_is_named_with_the_reason_and_not_drawn() -> None:
    data = picture()
    of = list(entries(("edge.jpg", data, EDGE)))
    ref = {"station": of[-1].station, "seq": of[-1].seq}
    photographs.added(of, "struck out", {"entry": ref, "reason": "another tool"})
    made = report(tuple(of), {})
    assert images(made.rendered.pdf) == []
    assert "Picture edge.jpg (SHA-256 " in words(made.rendered.pdf)
    assert "struck out, another tool." in words(made.rendered.pdf)


def test_bytes_that_are_missing_or_others_make_no_report() -> None:
    of = entries(("edge.jpg", picture(), {}))
    for given in ({}, {"picture 1 edge.jpg": picture(size=(20, 20))}):
        with pytest.raises(ReportError, match="isn't the one that the record names"):
            report(of, given)


def test_a_file_that_is_no_picture_makes_no_report() -> None:
    with pytest.raises(ReportError, match="can't stand on a report"):
        report(entries(("edge.jpg", b"no picture", {})), {"picture 1 edge.jpg": b"no picture"})


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (picture(mode="CMYK"), "CMYK"),
        (picture()[:-60], "whole PNG or JPEG"),
        (picture("PNG", size=(6001, 4)), "6001 pixels"),
        (bytes(10 * 2**20 + 1), "10 MiB"),
    ],
)
def test_what_cant_be_printed_is_refused_and_says_what_to_do(data: bytes, told: str) -> None:
    with pytest.raises(InputError, match=told) as refused:
        picturing.printable(data, "edge.jpg")
    assert "--keep-only" in refused.value.do


# -- the page ----------------------------------------------------------------------


def bright(data: bytes) -> tuple[str, ...]:
    """Which quarters of the one picture on the pages are bright, as PDFium draws them."""
    document = pypdfium2.PdfDocument(data)
    for n in range(len(document)):
        page = document[n]
        for thing in page.get_objects(max_depth=1):
            if isinstance(thing, pypdfium2.PdfImage):
                left, bottom, right, top = thing.get_bounds()
                high = page.get_height()
                drawn = page.render(scale=2).to_pil().convert("L")
                found = []
                for name, x, y in (
                    ("upper left", 0.25, 0.75),
                    ("upper right", 0.75, 0.75),
                    ("lower left", 0.25, 0.25),
                    ("lower right", 0.75, 0.25),
                ):
                    at = left + x * (right - left), high - bottom - y * (top - bottom)
                    if drawn.getpixel((round(2 * at[0]), round(2 * at[1]))) > 128:
                        found.append(name)
                return tuple(found)
    return ()


@pytest.mark.parametrize(
    ("turn", "quarter"),
    [(1, "upper left"), (3, "lower right"), (6, "upper right"), (8, "lower left")],
)
def test_a_picture_is_turned_as_its_camera_says(turn: int, quarter: str) -> None:
    data = picture(turn=turn)
    made = report(entries(("edge.jpg", data, {})), {"picture 1 edge.jpg": data})
    assert bright(made.rendered.pdf) == (quarter,)


@pytest.mark.parametrize("size", [(64, 48), (48, 64), (500, 5), (5, 500), (1, 1)])
def test_a_picture_keeps_its_sides_and_stays_in_its_room(size: tuple[int, int]) -> None:
    wide, high = pictures.room(size, 86, 64.5)
    assert wide <= 86 + 1e-9
    assert high <= 64.5 + 1e-9
    assert wide / high == pytest.approx(size[0] / size[1])


@pytest.mark.parametrize("language", ["en", "de"])
def test_eight_pictures_with_long_words_flow_over_pages_and_nothing_lies_over_anything(
    language: str,
) -> None:
    told = "two chips near the corner, seen from the side of the secondary clearance " * 2
    many = [picture(size=(64 + n, 48)) for n in range(8)]
    of = entries(*((f"edge {n}.jpg", d, {"flute": 3, "words": told}) for n, d in enumerate(many)))
    given = {f"picture {n} edge {n - 1}.jpg": d for n, d in enumerate(many, 1)}
    made = report(of, given, language)
    assert len(images(made.rendered.pdf)) == 8
    for page in boxes(made.rendered.pdf)[1:]:
        for n, a in enumerate(page):
            assert [b for b in page[n + 1 :] if over(a, b)] == [], a


def test_the_heading_stays_with_the_first_pictures() -> None:
    flow = Flow()
    flow.place(flow.whole - 60, lambda _pen, _y: None)
    made = report(entries(("a.jpg", picture(), {})), {"picture 1 a.jpg": picture()})
    pictures.block(flow, made.said.pictures, made.said.words)
    assert [len(page) for page in flow.pages] == [1, 1]


# -- held against what must be there -------------------------------------------------


def findings(data: bytes, again: bytes) -> list[str]:
    return [expected for expected, _ in shown.held(data, again)]


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
def test_one_other_pixel_on_the_page_is_found(kind: str) -> None:
    data = picture(kind)
    name = f"picture 1 a.{kind.lower()}"
    good = report(entries((f"a.{kind.lower()}", data, {})), {name: data}).rendered.pdf
    assert findings(good, good) == []
    with pikepdf.open(io.BytesIO(good)) as file:
        (image,) = (i for page in file.pages for i in page.get_images().values())
        if kind == "JPEG":
            other = picture(size=(64, 48), mode="RGB", turn=3)
            image.write(other, filter=pikepdf.Name.DCTDecode)
        else:
            pixels = bytearray(image.read_bytes())
            pixels[7] ^= 1
            image.write(bytes(pixels))
        out = io.BytesIO()
        file.save(out, fix_metadata_version=False)
    (found,) = findings(out.getvalue(), good)
    assert found.endswith(": the same bytes")


def test_a_picture_more_is_found() -> None:
    data = picture("PNG")
    good = report(entries(("a.png", data, {})), {"picture 1 a.png": data}).rendered.pdf
    with pikepdf.open(io.BytesIO(good)) as file:
        image = next(i for page in file.pages for i in page.get_images().values())
        more = file.make_stream(bytes(10**7), Width=3, Height=3, ColorSpace=image.ColorSpace)
        more.BitsPerComponent, more.Subtype = 8, pikepdf.Name.Image
        file.pages[0].Resources.XObject = pikepdf.Dictionary(More=more)
        out = io.BytesIO()
        file.save(out, fix_metadata_version=False)
    (found,) = findings(out.getvalue(), good)
    assert found == "the file /Pages /Kids 1 /Resources: nothing more"


def test_the_measurement_record_names_the_picture_with_its_digest() -> None:
    data = picture()
    inspection = fold(entries(("edge.jpg", data, EDGE)), I1)
    said = words(measurement_record(inspection, Said("en", "0.1.0", {})))
    assert "flute 3, after the last cut, edge.jpg, SHA-256 " in said
