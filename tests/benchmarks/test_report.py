"""A report's pages drawn, against platypus with the same words and the same lines.

The peer is what a user would take: platypus tables and paragraphs for the words, a Drawing for
the lines, with the same embedded fonts. Its words and shapes are those of the report itself,
recorded while it is drawn, so both files hold the same content; that is checked before anything
is timed. PDF/A and attachments are timed apart.
"""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Sequence
from itertools import groupby
from typing import Any
from xml.sax.saxutils import escape

import pytest
from reportlab.graphics.shapes import Circle, Drawing, Line, Path, Rect
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, PageBreak, Paragraph, SimpleDocTemplate, Table

from inspect_rec.report import pdf, record
from inspect_rec.report.content import Content
from report_templates import letter, lettering, sheet
from tests import signing
from tests.benchmarks.timing import interleaved

pytestmark = pytest.mark.benchmark

A4 = (sheet.WIDE * lettering.MM, sheet.HIGH * lettering.MM)


class _PathTape:
    """A path as it is drawn."""

    def __init__(self) -> None:
        self.points: list[tuple[str, tuple[float, ...]]] = []

    def moveTo(self, *at: float) -> None:  # noqa: N802 - a canvas's own names
        self.points.append(("moveTo", at))

    def lineTo(self, *at: float) -> None:  # noqa: N802
        self.points.append(("lineTo", at))

    def rect(self, *at: float) -> None:
        self.points.append(("rect", at))

    def close(self) -> None:
        self.points.append(("closePath", ()))


class _Tape:
    """A canvas that keeps what is drawn on each page: words and shapes."""

    def __init__(self) -> None:
        self.pages: list[tuple[list[tuple[float, float, str, str, float]], list[Any]]] = []
        self.stroke: Any = None
        self.fill: Any = None
        self.thick, self.dash, self.font = 1.0, None, ("", 1.0)
        self.showPage()

    def showPage(self) -> None:  # noqa: N802
        self.pages.append(([], []))

    def setFillColor(self, colour: Any) -> None:  # noqa: N802
        self.fill = colour

    def setStrokeColor(self, colour: Any) -> None:  # noqa: N802
        self.stroke = colour

    def setLineWidth(self, thick: float) -> None:  # noqa: N802
        self.thick = thick

    def setFont(self, name: str, size: float) -> None:  # noqa: N802
        self.font = (name, size)

    def setDash(self, dash: Any = None) -> None:  # noqa: N802
        self.dash = dash

    def drawString(self, x: float, y: float, said: str) -> None:  # noqa: N802
        self.pages[-1][0].append((y, x, said, *self.font))

    def line(self, *at: float) -> None:
        self._shape(Line, at, fill=False)

    def lines(self, many: Sequence[tuple[float, ...]]) -> None:
        for at in many:
            self.line(*at)

    def circle(self, x: float, y: float, r: float, *, stroke: int, fill: int) -> None:
        self._shape(Circle, (x, y, r), fill=bool(fill), stroke=bool(stroke))

    def rect(self, x: float, y: float, w: float, h: float, *, stroke: int, fill: int) -> None:
        self._shape(Rect, (x, y, w, h), fill=bool(fill), stroke=bool(stroke))

    def beginPath(self) -> _PathTape:  # noqa: N802
        return _PathTape()

    def drawPath(self, path: _PathTape, *, stroke: int, fill: int) -> None:  # noqa: N802
        self._shape(Path, tuple(path.points), fill=bool(fill), stroke=bool(stroke))

    def clipPath(self, *_: Any, **__: Any) -> None:  # noqa: N802 - the stripes' window
        return

    def _shape(self, kind: Any, at: tuple[Any, ...], *, fill: bool, stroke: bool = True) -> None:
        looks: dict[str, Any] = {
            "strokeColor": self.stroke if stroke else None,
            "strokeWidth": self.thick,
            "strokeDashArray": self.dash,
        }
        if kind is not Line:
            looks["fillColor"] = self.fill if fill else None
        self.pages[-1][1].append((kind, at, looks))

    def __getattr__(self, _name: str) -> Any:
        return lambda *_args, **_named: None


def taped(content: Content) -> _Tape:
    tape = _Tape()
    letter.draw(tape, content)
    return tape


def _made(kind: Any, at: tuple[Any, ...], looks: dict[str, Any]) -> Any:
    if kind is not Path:
        return kind(*at, **looks)
    path = Path(**looks)
    for name, point in at:
        getattr(path, name)(*point)
    return path


class _Lines(Flowable):  # type: ignore[misc]
    """A page's shapes as a Drawing that takes no room."""

    def __init__(self, shapes: list[Any]) -> None:
        super().__init__()
        self.shapes = shapes

    def wrap(self, *_: Any) -> tuple[float, float]:
        return 0, 0

    def draw(self) -> None:
        drawing = Drawing(*A4)
        for kind, at, looks in self.shapes:
            drawing.add(_made(kind, at, looks))
        drawing.drawOn(self.canv, 0, 0)


def _table(rows: list[list[tuple[float, str, str, float]]]) -> Table:
    looks: list[tuple[Any, ...]] = [("PADDING", (0, 0), (-1, -1), 0)]
    for r, row in enumerate(rows):
        looks += [
            ("FONT", (n, r), (n, r), font, size, size) for n, (_, _, font, size) in enumerate(row)
        ]
    return Table([[said for _, said, _, _ in row] for row in rows], style=looks)


def platypus(tape: _Tape) -> bytes:
    """The same words in tables and paragraphs, the same lines in a drawing; rows that follow each
    other with as many cells are one table."""
    flow: list[Any] = []
    for words, shapes in tape.pages[:-1]:
        flow.append(_Lines(shapes))
        rows: dict[float, list[tuple[float, str, str, float]]] = {}
        for y, x, said, font, size in words:
            rows.setdefault(round(y, 1), []).append((x, said, font, size))
        lines = [sorted(row) for _, row in sorted(rows.items(), reverse=True)]
        for cells, group in groupby(lines, key=len):
            if cells > 1:
                flow.append(_table(list(group)))
                continue
            for ((_, said, font, size),) in group:
                style = ParagraphStyle("p", fontName=font, fontSize=size, leading=size)
                flow.append(Paragraph(escape(said), style))
        flow.append(PageBreak())
    out = io.BytesIO()
    SimpleDocTemplate(
        out,
        pagesize=A4,
        topMargin=2,
        bottomMargin=2,
        invariant=1,
        initialFontName=lettering.REGULAR,
    ).build(flow)
    return out.getvalue()


def drawn(content: Content) -> bytes:
    out = io.BytesIO()
    canvas = pdf._canvas(out, A4, content.language)
    letter.draw(canvas, content)
    canvas.save()
    return out.getvalue()


def signs_of(data: bytes) -> Counter[str]:
    """How often each sign stands on the pages; how they are put into lines differs."""
    return Counter(ch for page in pdf.text_of(data) for line in page for ch in line if ch > " ")


def test_a_report_is_drawn_in_less_time_than_platypus_takes() -> None:
    content = signing.made("I1").said
    tape = taped(content)
    assert signs_of(drawn(content)) == signs_of(platypus(tape))
    files = pdf.attachments(signing.made("I1").rendered.pdf, record.LARGEST)
    attached = {
        name: pdf.Attachment(data, "application/json", "Source", name)
        for name, data in files.items()
    }
    timed = interleaved(
        {
            "platypus, the same words and lines": lambda: platypus(tape),
            "the report's pages": lambda: drawn(content),
            "the same as PDF/A-3b with its record": lambda: pdf.render(
                content, attached, "2026-11-17T08:22:38Z"
            ),
        }
    )
    print(timed.table("a report of three pages", "platypus, the same words and lines"))
    faster = 1 / timed.ratio("the report's pages", "platypus, the same words and lines")
    print(f"{faster:.2f} times as fast as platypus; the goal is 1.3")
