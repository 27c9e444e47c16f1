"""The layout "letter-1": page 1, where each thing has its fixed place on every report.

Sizes in mm from the top left; a block with nothing to say stays and says why.
"""

from __future__ import annotations

import math
from contextlib import nullcontext

from reportlab.lib.colors import Color
from reportlab.pdfgen.canvas import Canvas

from inspect_rec.report.batch_content import Sheet
from inspect_rec.report.content import (
    Content,
    Measurements,
    Offset,
    SignatureBlock,
    Validation,
    mapped,
)
from report_templates import bars, graphs, letter_features, letter_pages, letterhead
from report_templates.lettering import (
    MM,
    REGULAR,
    SEMIBOLD,
    Fit,
    fit,
    printable,
    shortened,
    width,
    wrap,
)
from report_templates.pen import HAIR, INK, INK2, MEASURED, OF_VERDICT, Nowhere, Pen
from report_templates.sheet import A4, COLUMN, FIELD, HALF, LEFT, LIVE, PAPERS, THIRD, Paper
from report_templates.tags import Element, Tags

NAME = "letter-1"
_SECOND, _THIRD = LEFT + THIRD + 4, LEFT + 2 * (THIRD + 4)

Framed = Content | Measurements | Sheet | Validation
"""What has a report's head and foot."""
Box = tuple[int, float, float, float, float]
"""Page from 0, then left, bottom, right, top in points."""


def draw(canvas: Canvas, content: Content) -> Element:
    """All pages; gives the structure of their text."""
    content = mapped(content, printable)
    see, high = content.words["page.see"], PAPERS[content.paper].high
    trial = Pen(Nowhere(), high, see)
    frame(trial, content, 1, 1)
    _first(trial, content)
    plan = letter_pages.paginate(content, tuple(dict.fromkeys(trial.left_out)))
    pages = 1 + len(plan)
    pen = Pen(canvas, high, see, Tags())
    frame(pen, content, 1, pages)
    _first(pen, content)
    pen.turn()
    for number, page in enumerate(plan, 2):
        frame(pen, content, number, pages)
        for block in page:
            block(pen)
        pen.turn()
    return pen.tags.root


def boxes(paper: Paper = A4) -> dict[str, Box]:
    """Where the two signature fields stand: inside the brackets, and the whole last third.

    Whole points, rounded outward: readers round a field's box, and its block would shift.
    """

    def box(x: float, top: float, wide: float, high: float) -> Box:
        left, bottom = math.floor(x * MM), math.floor((paper.high - top - high) * MM)
        return 0, left, bottom, math.ceil((x + wide) * MM), math.ceil((paper.high - top) * MM)

    top, field = paper.sign_top - 2.4, paper.sign_top + 10.5
    return {
        "measured_by": box(_SECOND, field, *FIELD),
        "released_by": box(_THIRD - 0.4, top, THIRD + 0.8, 10.5 + 2.4 + FIELD[1] + 0.4),
    }


def origin(field: str, paper: Paper = A4) -> tuple[float, float]:
    """Where the third of a field begins, mm from the top left of the field's own box."""
    _, left, _, _, top = boxes(paper)[field]
    third = _SECOND if field == "measured_by" else _THIRD
    return third - left / MM, paper.sign_top - (paper.high - top / MM)


def frame(pen: Pen, c: Framed, page: int, pages: int) -> None:
    """Head and foot of every page; the first head is read as the title."""
    with nullcontext() if page == 1 else pen.tags.outside():
        _head(pen, c, page, pages)
    with pen.tags.outside():
        _foot(pen, c, page, pages)


def _head(pen: Pen, c: Framed, page: int, pages: int) -> None:
    right, logo = LEFT + LIVE, b"" if isinstance(c, Validation) else c.logo
    under = c.head_right.format(page=page, pages=pages)
    number = width(c.number, SEMIBOLD, 10.5) + 1.6
    title = number + width(c.title, REGULAR, 10.5)
    with pen.tags.inside("H1"):
        if logo:
            room = LIVE - number - letterhead.WIDE - 4
            pen.fitted(right - number, 15.2, c.title, room, 10.5, align="right")
        else:
            pen.text(right - number, 15.2, c.title, 10.5, align="right")
        pen.text(right, 15.2, c.number, 10.5, SEMIBOLD, align="right")
    name, place = c.head_left
    if logo:
        letterhead.logo(pen, logo)
        place = f"{name} · {place}" if place else name
    else:
        pen.fitted(LEFT, 15.2, name, LIVE - title - 4, 10.5, SEMIBOLD)
    pen.fitted(LEFT, 19.2, place, LIVE - width(under, REGULAR, 7) - 4, 7, REGULAR, INK2)
    pen.text(right, 19.2, under, 7, REGULAR, INK2, "right")
    if not isinstance(c, Validation) and c.head_line:
        letterhead.line(pen, c.head_line)


def _foot(pen: Pen, c: Framed, page: int, pages: int) -> None:
    right, foot = LEFT + LIVE, pen.high - 16
    pen.line((LEFT, foot), (right, foot), 0.12, HAIR)
    pen.text(LEFT, foot + 4, c.foot[0], 7, REGULAR, INK2)
    pen.text(LEFT, foot + 7.4, c.foot[1], 6.5, REGULAR, INK2)
    name, *rest = c.foot_right.format(page=page, pages=pages).partition(" · ")
    said = "".join(rest)
    wide = pen.text(right, foot + 4, said, 7, align="right")
    pen.text(right - wide, foot + 4, name, 7, SEMIBOLD, align="right")


def _first(pen: Pen, c: Content) -> None:
    paper, y = PAPERS[c.paper], 25.0
    _tool(pen, c, y)
    y += 26 + paper.gap
    _verdict(pen, c, y)
    y += 37 + paper.gap
    _offsets(pen, c, y)
    _graph(pen, c, y)
    y += 40.5 + paper.gap
    letter_features.draw(pen, c, y)
    y += 57 + paper.gap
    _life(pen, c, y)
    for n, block in enumerate(c.signatures):
        signature(pen, block, LEFT + n * (THIRD + 4), paper.sign_top)


def _tool(pen: Pen, c: Content, y: float) -> None:
    subject(pen, y, c.words["page.tool"], c.mark, c.tool, c.facts)


def subject(
    pen: Pen,
    y: float,
    heading: str,
    mark: str,
    tool: tuple[str, str],
    facts: tuple[tuple[str, str], ...],
) -> None:
    """What a report or sheet is about: ``mark`` large, two lines about the tool, facts beside."""
    pen.rule(y)
    pen.heading(LEFT, y + 4, heading)
    size = next((s for s in (26, 20, 15) if width(mark, SEMIBOLD, s) <= HALF), 15)
    up = 3 if len(fit(mark, HALF, size, SEMIBOLD, 2, 15).lines) > 1 else 0
    pen.fitted(LEFT - 0.3, y + 13.2 - up, mark, HALF, size, SEMIBOLD, INK, 2, 6, wrapped=15)
    lines = pen.fitted(LEFT, y + 19.2, tool[0], HALF, 10, REGULAR, INK, 2, 4, wrapped=9)
    base = y + 24 if lines == 1 else y + 27
    pen.fitted(LEFT, base, tool[1], HALF, 8.5, REGULAR, INK2)
    for n, (name, value) in enumerate(facts):
        x, row = COLUMN[2 + n % 2], y + 4 + 8.4 * (n // 2)
        with pen.tags.inside("P"):
            fact(pen, x, row, name, value, strong=n in (0, 2))


def fact(pen: Pen, x: float, row: float, name: str, value: str, *, strong: bool) -> None:
    """A fact about an order: its name over its value."""
    pen.text(x, row, name, 7, REGULAR, INK2)
    font = SEMIBOLD if strong else REGULAR
    two = len(fit(value, 41, 8.5, font, 2, 7).lines) > 1
    base = row + (3.5 if two else 3.8)
    pen.fitted(x, base, value, 41, 8.5, font, INK, 2, 2.5, wrapped=7)


def _verdict(pen: Pen, c: Content, y: float) -> None:
    v = c.verdict
    verdict_rule(pen, v.verdict, y)
    pen.mark(v.verdict, LEFT, y + 5.2, 12, under=v.under)
    with pen.tags.inside("H2"):
        pen.fitted(LEFT + 16.2, y + 9.4, v.finding, HALF - 15, 19, SEMIBOLD)
        pen.fitted(LEFT + 16.2, y + 17.2, v.permits, HALF - 15, 19, SEMIBOLD)
    _sentence(pen, v.lines[0] if v.lines else "", y + 24.4)
    d = v.deciding
    if d is None:
        return
    x, right = COLUMN[2], LEFT + LIVE
    pen.heading(x, y + 5, d.label, wide=HALF - width(d.more, REGULAR, 7) - 3)
    if d.more:
        pen.text(right, y + 5, d.more, 7, REGULAR, INK2, "right")
    colour = OF_VERDICT.get(v.verdict, INK)
    end = d.unit if d.unit == "°" else f" {d.unit}"
    unit, wide = width(end, REGULAR, 8.5), width(d.value, SEMIBOLD, 11)
    with pen.tags.inside("P"):
        pen.number(d.number, x + 2, y + 9.6)
        pen.fitted(x + 5.4, y + 10.6, d.name, HALF - 5.4 - wide - unit - 2)
        if d.value:
            pen.text(right - unit, y + 10.6, d.value, 11, SEMIBOLD, colour, "right")
            pen.text(right, y + 10.6, end, 8.5, align="right")
    if d.bar is None:
        pen.fitted(
            x, y + 19, d.note or c.words["page.no_limits"], HALF, 8, REGULAR, INK2, 3, wrapped=8
        )
        return
    accepted = c.words["page.accepted"].format(zone=d.bar.accepted)
    with pen.tags.inside("P"):
        bars.deciding(pen, d.bar, x, y + 13.2, c.words["page.zones"], accepted)


def _sentence(pen: Pen, said: str, y: float) -> None:
    """Four lines of 8.5; what is longer goes down to 6.5, then on to page 2."""
    for size, pitch in ((8.5, 4.0), (8.0, 3.7), (7.5, 3.5), (7.0, 3.2), (6.5, 3.0)):
        lines = wrap(said, REGULAR, size, HALF)
        most = int(16.5 / pitch)
        if len(lines) <= most:
            break
    if len(lines) > most:
        pen.left_out.append(said)
        kept = Fit(REGULAR, size, tuple(lines[:most]), whole=False)
        lines = list(shortened(kept, HALF, pen.see).lines)
    with pen.leaf():
        for n, line in enumerate(lines):
            pen.text(LEFT, y + n * pitch, line, size)


def verdict_rule(pen: Pen, verdict: str, y: float) -> None:
    """The rule over the verdict tells the state by itself, at arm's length, in a bad copy."""
    if verdict == "conforms":
        pen.rule(y, thick=1.3)
    elif verdict == "neither shown":
        pen.stripes(y - 1.1, LEFT, LIVE, 2.2)
    elif verdict == "does not conform":
        pen.rule(y - 0.75, thick=0.9)
        pen.rule(y + 0.75, thick=0.9)
    else:
        pen.line((LEFT, y), (LEFT + LIVE, y), 1.3, INK, (4, 2))


def _offsets(pen: Pen, c: Content, y: float) -> None:
    if c.releasable:
        pen.rule(y, LEFT, HALF)
    else:
        pen.stripes(y - 0.7, LEFT, HALF, 1.4)
    pen.heading(LEFT, y + 4.2, c.offsets_title, wide=HALF)
    for n, offset in enumerate(c.offsets):
        with pen.tags.inside("P"):
            _offset(pen, c, offset, y + 13.6 + 10.6 * n)


def _offset(pen: Pen, c: Content, offset: Offset, y: float) -> None:
    pen.text(LEFT, y, offset.label, 11, SEMIBOLD)
    font, colour = (SEMIBOLD, MEASURED) if c.releasable else (REGULAR, INK2)
    if offset.value:
        pen.decimal(LEFT + 26, y, offset.value, 22, font, colour)
        pen.text(LEFT + 44.4, y, offset.unit, 8.5)
    else:
        pen.text(LEFT + 18, y, c.words["page.not_measured"], 11, REGULAR, INK2)
    base = y - 2.6
    for n, note in enumerate(offset.notes):
        most = 2 if n == 0 else 1
        lines = pen.fitted(LEFT + 53, base, note, 33, 7, REGULAR, INK2, most, 2.9, wrapped=7)
        base += 3.4 + 2.9 * (lines - 1)


def _graph(pen: Pen, c: Content, y: float) -> None:
    x = COLUMN[2]
    pen.rule(y, x, HALF)
    g = c.graph
    if g is None:
        title, why = c.no_graph
        pen.heading(x, y + 4.2, title, wide=HALF)
        pen.text(x, y + 12, why, 11, REGULAR, INK2)
        return
    pen.heading(x, y + 4.2, g.title, wide=HALF)
    colour = OF_VERDICT.get(g.verdict, INK2)
    wide = pen.text(x, y + 11.2, g.value, 16, SEMIBOLD, colour)
    pen.text(x + wide + 1.6, y + 11.2, g.allowed, 8.5)
    pen.mark(g.verdict, x + HALF - 4.9, y + 7, 4.9)
    with pen.tags.inside("P"):
        graphs.flutes(pen, g, x, y + 12.8)


def _life(pen: Pen, c: Content, y: float) -> None:
    pen.rule(y)
    pen.heading(LEFT, y + 4, c.words["page.left"], wide=47)
    life = c.life
    if life.now is None:
        pen.text(LEFT, y + 12.6, life.words, 13, REGULAR, INK2)
        for n, line in enumerate(wrap(life.detail, REGULAR, 8.5, 110)):
            pen.text(LEFT + 49, y + 10 + 4 * n, line, 8.5, REGULAR, INK2)
        return
    pen.text(LEFT + 49, y + 4, c.words["page.length_mm"], 7, REGULAR, INK2)
    wide = pen.text(LEFT, y + 14, life.count, 22, SEMIBOLD, MEASURED)
    pen.text(LEFT + wide + 2, y + 14, life.words, 8.5)
    pen.fitted(LEFT, y + 19, life.detail, 44, 7, REGULAR, INK2, lines=1)
    with pen.tags.inside("P"):
        graphs.life(pen, life, LEFT + 59, y + 13, 117)


def brackets(pen: Pen, x: float, y: float, colour: Color = INK, *, dashed: bool = False) -> None:
    """Upright brackets round a signature's field, feet of 3."""
    wide, high = FIELD
    for side, foot in ((x, 3), (x + wide, -3)):
        points = [(side + foot, y), (side, y), (side, y + high), (side + foot, y + high)]
        pen.path(points, 0.4, colour, dash=(1, 0.8) if dashed else ())


def signature(pen: Pen, block: SignatureBlock, x: float, y: float) -> None:
    """A third of the foot; the last is left empty, its signature draws it."""
    if not block.role:
        return
    pen.rule(y, x, THIRD)
    pen.heading(x, y + 4, block.role, wide=THIRD)
    pen.fitted(x, y + 7.6, block.meaning, THIRD, 7, REGULAR, INK2)
    field = y + 10.5
    brackets(pen, x, field, dashed=not block.field)
    lines = 1
    if block.name:
        lines = name_of(pen, block.name, x + 3, field)
    for n, line in enumerate(block.lines):
        base = field + 10.5 + (2 if lines > 1 else 0) + 4 * n
        pen.fitted(x + 3, base, line, THIRD - 6, 7, REGULAR, INK2)


def name_of(pen: Pen, name: str, x: float, field: float, *, high: bool = False) -> int:
    """A name inside its brackets, over two lines where it is long; gives the lines. ``high``:
    as far up as it can stand, for what follows it."""
    wide = THIRD - 6
    two = high or len(fit(name, wide, 11, SEMIBOLD, 2, 9).lines) > 1
    return pen.fitted(
        x, field + (4.6 if two else 6), name, wide, 11, SEMIBOLD, INK, 2, 3.5, wrapped=9
    )
