"""The report as a file: drawn, made PDF/A-3b, its record attached; and what a file says, read back.

The same content and attachments give the same bytes. Everything that rewrites the file happens
here, before any signature.
"""

from __future__ import annotations

import hashlib
import io
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

import pikepdf
import pypdfium2
from pikepdf import Array, Dictionary, Name, Stream, String
from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas

from inspect_rec.errors import ReportError
from inspect_rec.people import Person
from inspect_rec.report import figures
from inspect_rec.report.content import Content
from inspect_rec.report.fields import MEASURED_BY, RELEASED_BY, Box
from inspect_rec.report.record import Header
from report_templates import letter, lettering, sheet, srgb, stamps, words
from report_templates.tags import Element

if TYPE_CHECKING:
    # Pages are drawn without the libraries that check signatures.
    from inspect_rec.report.signatures import Signed

Text = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file inside the report; ``relation`` is its AFRelationship (ISO 19005-3)."""

    data: bytes
    mime: str
    relation: str
    description: str


@dataclass(frozen=True, slots=True)
class Rendered:
    """The unsigned report, and where its signature fields stand."""

    pdf: bytes
    boxes: Mapping[str, Box]


def render(content: Content, attachments: Mapping[str, Attachment], issued: str) -> Rendered:
    """Draw the report and make it PDF/A-3b. ``issued``: RFC 3339, for the metadata."""
    title, paper = f"{content.title} {content.number}", sheet.PAPERS[content.paper]
    data = pages(
        lambda canvas: letter.draw(canvas, content),
        title,
        content.language,
        attachments,
        issued,
        paper,
    )
    return Rendered(data, {name: Box(*box) for name, box in letter.boxes(paper).items()})


def pages(
    draw: Callable[[Canvas], Element],
    title: str,
    language: str,
    attachments: Mapping[str, Attachment],
    issued: str,
    paper: sheet.Paper = sheet.A4,
) -> bytes:
    """What ``draw`` draws as PDF/A-3b; ``draw`` gives the structure of it."""
    drawn = io.BytesIO()
    canvas = _canvas(drawn, (paper.wide * lettering.MM, paper.high * lettering.MM), language)
    structure = draw(canvas)
    canvas.save()
    return _archival(drawn.getvalue(), title, language, attachments, issued, structure)


def _canvas(out: io.BytesIO, size: tuple[float, float], language: str) -> Canvas:
    lettering.fonts()
    # Streams as ASCII are a habit of old mail: a quarter larger, and slow to write.
    rl_config.useA85 = 0
    return Canvas(
        out,
        pagesize=size,
        invariant=1,
        initialFontName=lettering.REGULAR,
        initialFontSize=8.5,
        lang=language,
        pageCompression=1,
    )


def _archival(
    drawn: bytes,
    title: str,
    language: str,
    attachments: Mapping[str, Attachment],
    issued: str,
    structure: Element,
) -> bytes:
    with pikepdf.open(io.BytesIO(drawn)) as file:
        root = file.Root
        root.Lang = String(language)
        root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
        intent = Stream(file, srgb.profile(), N=3, Alternate=Name.DeviceRGB)
        root.OutputIntents = Array(
            [
                Dictionary(
                    Type=Name.OutputIntent,
                    S=Name("/GTS_PDFA1"),
                    OutputConditionIdentifier=String("sRGB IEC61966-2.1"),
                    Info=String("sRGB IEC61966-2.1"),
                    DestOutputProfile=file.make_indirect(intent),
                )
            ]
        )
        root.Metadata = file.make_indirect(_xmp(file, title, issued))
        if attachments:
            _attach(file, attachments, issued)
        _structure(file, structure)
        if "/Info" in file.trailer:
            del file.trailer["/Info"]
        out = io.BytesIO()
        file.save(
            out,
            deterministic_id=True,
            fix_metadata_version=False,
            min_version="1.7",
            object_stream_mode=pikepdf.ObjectStreamMode.disable,
        )
    return out.getvalue()


_XMP = """<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/"><pdfaid:part>3</pdfaid:part><pdfaid:conformance>B</pdfaid:conformance></rdf:Description>
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:format>application/pdf</dc:format><dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title></rdf:Description>
<rdf:Description rdf:about="" xmlns:xmp="http://ns.adobe.com/xap/1.0/"><xmp:CreateDate>{issued}</xmp:CreateDate><xmp:ModifyDate>{issued}</xmp:ModifyDate><xmp:CreatorTool>inspect_rec</xmp:CreatorTool></rdf:Description>
</rdf:RDF></x:xmpmeta>
<?xpacket end="r"?>"""  # noqa: E501 - one description a line


def _xmp(file: pikepdf.Pdf, title: str, issued: str) -> Stream:
    text = _XMP.format(title=escape(title), issued=escape(issued)).encode()
    return Stream(file, text, Type=Name.Metadata, Subtype=Name.XML)


def _attach(file: pikepdf.Pdf, attachments: Mapping[str, Attachment], issued: str) -> None:
    digits = "".join(ch for ch in issued if ch.isdigit())[:14]
    names, specs = Array(), Array()
    for name in sorted(attachments):
        a = attachments[name]
        stream = Stream(
            file,
            zlib.compress(a.data, 9),
            Type=Name.EmbeddedFile,
            Subtype=Name("/" + a.mime),
            Filter=Name.FlateDecode,
            Params=Dictionary(
                Size=len(a.data),
                ModDate=String(f"D:{digits}Z"),
                CheckSum=String(hashlib.md5(a.data, usedforsecurity=False).digest()),
            ),
        )
        embedded = file.make_indirect(stream)
        spec = file.make_indirect(
            Dictionary(
                Type=Name.Filespec,
                F=String(name),
                UF=String(name),
                Desc=String(a.description),
                AFRelationship=Name("/" + a.relation),
                EF=Dictionary(F=embedded, UF=embedded),
            )
        )
        names.extend([String(name), spec])
        specs.append(spec)
    file.Root.Names = Dictionary(EmbeddedFiles=Dictionary(Names=names))
    file.Root.AF = specs


def _structure(file: pikepdf.Pdf, document: Element) -> None:
    """The tree of headings, paragraphs and tables (ISO 32000-1, 14.7), and from each piece of
    text on a page to its element."""
    pages = [page.obj for page in file.pages]
    owners: list[list[pikepdf.Object]] = [[] for _ in pages]
    root = file.make_indirect(Dictionary(Type=Name.StructTreeRoot))
    root.K = _element(file, document, root, pages, owners)
    numbers: list[Any] = []
    for n, (page, found) in enumerate(zip(pages, owners, strict=True)):
        page.StructParents = n
        page.Tabs = Name.S
        numbers.extend([n, file.make_indirect(Array(found))])
    root.ParentTree = file.make_indirect(Dictionary(Nums=Array(numbers)))
    root.ParentTreeNextKey = len(pages)
    file.Root.StructTreeRoot = root
    file.Root.MarkInfo = Dictionary(Marked=True)


def _element(
    file: pikepdf.Pdf,
    element: Element,
    parent: pikepdf.Object,
    pages: Sequence[pikepdf.Object],
    owners: list[list[pikepdf.Object]],
) -> pikepdf.Object:
    found = file.make_indirect(
        Dictionary(Type=Name.StructElem, S=Name("/" + element.role), P=parent)
    )
    kids = Array()
    for kid in element.kids:
        if isinstance(kid, Element):
            kids.append(_element(file, kid, found, pages, owners))
            continue
        page, number = kid
        kids.append(Dictionary(Type=Name.MCR, Pg=pages[page], MCID=number))
        # Pieces are numbered as they are drawn, so each takes the next place of its page.
        owners[page].extend([found] * (number + 1 - len(owners[page])))
        owners[page][number] = found
    found.K = kids
    if element.role == "TH":
        scope = Name.Row if element.rows else Name.Column
        found.A = Dictionary(O=Name.Table, Scope=scope, RowSpan=max(element.rows, 1))
    return found


def attachments(data: bytes, largest: int) -> dict[str, bytes]:
    """The files inside a report, none larger than ``largest`` when unpacked.

    Raises ReportError for names twice, too large files, unknown packing and a locked report.
    """
    found: dict[str, bytes] = {}
    with _unlocked(data) as file:
        names = file.Root.get("/Names", Dictionary()).get("/EmbeddedFiles", Dictionary())
        flat = list(names.get("/Names", Array()))
        if "/Kids" in names or len(flat) % 2 or len(flat) > 64:
            raise ReportError("the attachments aren't in one plain list")
        for name, spec in zip(flat[::2], flat[1::2], strict=True):
            key = str(name)
            if key in found or str(spec.get("/UF", "")) != key or str(spec.get("/F", "")) != key:
                raise ReportError("an attachment has two names, or stands twice", found=key[:60])
            found[key] = _unpacked(spec.EF.F, largest)
    return found


def _unlocked(data: bytes) -> pikepdf.Pdf:
    try:
        return pikepdf.open(io.BytesIO(data))
    except pikepdf.PasswordError as error:
        raise ReportError(
            "the report is locked", expected="a file that anybody may read", found="a password"
        ) from error


def _unpacked(stream: pikepdf.Object, largest: int) -> bytes:
    raw = bytes(stream.read_raw_bytes())
    packing = stream.get("/Filter")
    if packing is None:
        return raw
    if packing != Name.FlateDecode or "/DecodeParms" in stream:
        raise ReportError("an attachment is packed in an unknown way", found=str(packing)[:60])
    try:
        unpacking = zlib.decompressobj()
        whole = unpacking.decompress(raw, largest + 1)
    except zlib.error as error:
        raise ReportError("an attachment can't be unpacked", found=str(error)) from error
    if len(whole) > largest:
        raise ReportError("an attachment is too large", expected=f"at most {largest} bytes")
    return whole


# -- stamps ----------------------------------------------------------------------


def measured_stamp(
    person: Person, key: str, at: str, language: str, paper: str = sheet.A4.name
) -> bytes:
    """The visible block of the first signature. ``at``: instant as printed."""
    w = words(language)
    stamp = stamps.Stamp(person.name, (at, w["signature.key"].format(key=key)))
    return block(stamp, MEASURED_BY, language, paper)


def released_stamp(
    person: Person,
    key: str,
    at: str,
    language: str,
    decision: str,
    reason: str,
    *,
    measured_too: bool = False,
    paper: str = sheet.A4.name,
) -> bytes:
    """The visible block of the second signature: role and meaning hang on the decision.
    ``measured_too``: the same person signed "measured by", and the block says so."""
    w = words(language)
    kind = "released" if decision == "released" else "not_released"
    same = w["signature.measured_too"] if measured_too else ""
    conceded = decision == "released" and reason
    why = w["signature.conceded"].format(numbers=reason) if conceded else reason
    lines = (at, w["signature.key"].format(key=key), *(said for said in (same, why) if said))
    stamp = stamps.Stamp(
        person.name,
        lines,
        w[f"signature.{kind}"],
        w[f"signature.{kind}_meaning"],
        decision == "released",
        w["signature.more"],
    )
    return block(stamp, RELEASED_BY, language, paper)


def block(stamp: stamps.Stamp, field: str, language: str, name: str) -> bytes:
    """The visible block of a signature, on a page of its own; ``name``: of the paper."""
    out, paper = io.BytesIO(), sheet.PAPERS[name]
    canvas = _canvas(out, stamps.size(field, paper), language)
    stamps.draw(canvas, stamp, field, paper)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def stamp_of(signed: Signed, header: Header, *, measured_too: bool = False) -> bytes:
    """The visible block that a signature must bear, drawn again from what was signed."""
    person = Person(signed.person, signed.name, signed.roles)
    at = figures.moment(signed.at, words(header.language))
    if signed.decision is None:
        return measured_stamp(person, signed.key, at, header.language, header.paper)
    return released_stamp(
        person,
        signed.key,
        at,
        header.language,
        signed.decision,
        signed.reason,
        measured_too=measured_too,
        paper=header.paper,
    )


# -- reading back ----------------------------------------------------------------


def text_of(data: bytes) -> tuple[Text, ...]:
    """Per page the lines of text that stand on it, as PDFium reads them (annotations apart)."""
    try:
        document = pypdfium2.PdfDocument(data)
    except pypdfium2.PdfiumError as error:
        raise ReportError("the pages can't be read", found=str(error)) from error
    try:
        return tuple(_lines(document[n]) for n in range(len(document)))
    finally:
        document.close()


def _lines(page: pypdfium2.PdfPage) -> Text:
    text_page = page.get_textpage()
    try:
        return tuple(text_page.get_text_range().split("\r\n"))
    finally:
        text_page.close()
        page.close()


def text_of_appearance(data: bytes, field: str, paper: str = sheet.A4.name) -> Text:
    """The text that a signature's visible block shows; ``paper``: the report's."""
    with pikepdf.open(io.BytesIO(data)) as file, pikepdf.new() as page:
        widget = next(
            (
                w
                for p in file.pages
                for w in p.get("/Annots", Array())
                if str(w.get("/T", "")) == field
            ),
            None,
        )
        if widget is None or "/AP" not in widget:
            return ()
        page.add_blank_page(page_size=stamps.size(field, sheet.PAPERS[paper]))
        form = page.copy_foreign(widget.AP.N)
        page.pages[0].Resources = Dictionary(XObject=Dictionary(S=form))
        page.pages[0].Contents = Stream(page, b"/S Do")
        out = io.BytesIO()
        page.save(out)
    return text_of(out.getvalue())[0]
