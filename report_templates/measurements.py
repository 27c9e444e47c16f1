"""The layout of a measurement record: facts, then one part under the other, all of it in tables.

Head and foot are those of a report. A row is never split, a table's head repeats on each page.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from reportlab.lib.colors import Color
from reportlab.pdfgen.canvas import Canvas

from inspect_rec.report.content import Grid, Line, Measurements, Part, mapped
from report_templates import letter, letter_pages
from report_templates.flow import Flow
from report_templates.lettering import REGULAR, SEMIBOLD, printable, wrap
from report_templates.pen import HAIR, INK, INK2, Pen
from report_templates.sheet import LEFT, LIVE, PAPERS
from report_templates.tags import Element, Tags

_SIZE, _PITCH, _AIR = 7.0, 3.0, 1.1
_BETWEEN = 2.0
"""Between two columns, mm."""


def draw(canvas: Canvas, content: Measurements) -> Element:
    """All pages; gives the structure of their text."""
    content = mapped(content, printable)
    paper = PAPERS[content.paper]
    flow = Flow(bottom=paper.bottom)
    _facts(flow, content)
    for part in content.parts:
        _part(flow, part)
    flow.close(letter_pages.END, lambda pen, y: letter_pages.end(pen, content.words["end"], y))
    pen = Pen(canvas, paper.high, tags=Tags())
    for number, page in enumerate(flow.pages, 1):
        letter.frame(pen, content, number, len(flow.pages))
        for block in page:
            block(pen)
        pen.turn()
    return pen.tags.root


def _facts(flow: Flow, c: Measurements) -> None:
    widths = (36.0, LIVE - 36.0)
    lines = tuple(Line(fact) for fact in c.facts)
    _part(flow, Part(c.words["what"], (), (Grid((), widths, lines),)))


def _part(flow: Flow, part: Part) -> None:
    said = [line for p in part.paragraphs for line in wrap(p, REGULAR, 7.5, LIVE)]
    high = 6.0 + 3.4 * len(said)

    def heading(pen: Pen, y: float) -> None:
        pen.rule(y)
        pen.heading(LEFT, y + 4, part.heading, 10)
        for n, line in enumerate(said):
            pen.text(LEFT, y + 8.2 + 3.4 * n, line, 7.5)

    first = _opening(part.grids[0]) if part.grids else 0.0
    if flow.room() < high + first <= flow.whole:
        flow.next()
    flow.place(high, heading)
    for grid in part.grids:
        _grid(flow, grid)
    flow.y += 4


def _opening(grid: Grid) -> float:
    """Head and first rows, which stay together with what is over them."""
    return _head_high(grid) + sum(_high(grid, line) for line in grid.lines[:3])


def _grid(flow: Flow, grid: Grid) -> None:
    if flow.room() < _opening(grid) <= flow.whole:
        flow.next()
    table, head = Element("Table"), _head_high(grid)

    def drawn(pen: Pen, y: float) -> None:
        _head(pen, grid, table, y)

    def again(pen: Pen, y: float) -> None:
        with pen.tags.outside():
            _head(pen, grid, table, y)

    if head:
        flow.place(head, drawn)
    for line in grid.lines:
        high = _high(grid, line)
        if high > flow.room():
            flow.next()
            if head:
                flow.place(head, again)
        flow.place(high, _line_drawer(grid, line, table, high))
    flow.y += 1.5


def _head_high(grid: Grid) -> float:
    return (4.6 if grid.title else 0.0) + (4.8 if grid.heads else 0.0)


def _head(pen: Pen, grid: Grid, table: Element, y: float) -> None:
    if grid.title:
        with pen.tags.inside("P"):
            pen.fitted(LEFT, y + 3.4, grid.title, LIVE, 8, SEMIBOLD)
        y += 4.6
    if not grid.heads:
        return
    with pen.tags.inside(table), pen.tags.inside("TR"):
        for x, wide, said in _columns(grid, grid.heads):
            with pen.tags.inside("TH"):
                pen.fitted(x, y + 3.2, said, wide, _SIZE, SEMIBOLD)
    pen.line((LEFT, y + 4.6), (LEFT + LIVE, y + 4.6), 0.12, HAIR)


def _columns(grid: Grid, cells: Sequence[str]) -> list[tuple[float, float, str]]:
    found, x = [], LEFT
    for wide, said in zip(grid.widths, cells, strict=True):
        found.append((x, wide - _BETWEEN, said))
        x += wide
    return found


def _wrapped(grid: Grid, line: Line) -> list[tuple[float, list[str]]]:
    return [(x, wrap(said, REGULAR, _SIZE, w)) for x, w, said in _columns(grid, line.cells)]


def _note(grid: Grid, line: Line) -> list[str]:
    return wrap(line.note, REGULAR, 6.5, LIVE - grid.widths[0]) if line.note else []


def _high(grid: Grid, line: Line) -> float:
    rows = max(len(lines) for _, lines in _wrapped(grid, line))
    return _PITCH * rows + 2.7 * len(_note(grid, line)) + _AIR


def _line_drawer(
    grid: Grid, line: Line, table: Element, high: float
) -> Callable[[Pen, float], None]:
    cells, note = _wrapped(grid, line), _note(grid, line)
    colour: Color = INK2 if line.off else INK
    rows = max(len(lines) for _, lines in cells)

    def draw(pen: Pen, y: float) -> None:
        with pen.tags.inside(table), pen.tags.inside("TR"):
            for n, (x, lines) in enumerate(cells):
                last = n == len(cells) - 1
                with pen.tags.inside(Element("TH", rows=1) if n == 0 else Element("TD")):
                    for k, said in enumerate(lines):
                        pen.text(x, y + 2.8 + _PITCH * k, said, _SIZE, REGULAR, colour)
                    if last:
                        top = y + 2.5 + _PITCH * rows
                        for k, said in enumerate(note):
                            left = LEFT + grid.widths[0]
                            pen.text(left, top + 2.7 * k, said, 6.5, REGULAR, INK2)
        pen.line((LEFT, y + high), (LEFT + LIVE, y + high), 0.12, HAIR)

    return draw
