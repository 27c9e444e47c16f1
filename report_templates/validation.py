"""The layout of a validation record: verdict and facts, then each computation with its cases.

Head and foot are those of a report. Blocks are placed one under the other; heads repeat, no line
is cut, and a case that is longer than a page goes on with its name on the next.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager

from reportlab.lib.colors import Color
from reportlab.pdfgen.canvas import Canvas

from inspect_rec.report.content import Case, Cases, Compared, Validation, mapped
from report_templates import letter, letter_pages
from report_templates.flow import Flow, fitting
from report_templates.lettering import REGULAR, SEMIBOLD, Fit, fit, printable, width, wrap
from report_templates.pen import HAIR, INK, INK2, OF_VERDICT, Pen
from report_templates.sheet import BOTTOM, COLUMN, GAP, HALF, HIGH, LEFT, LIVE, THIRD, TOP
from report_templates.tags import Element, Tags

Strip = tuple[float, Callable[[Pen, float], None]]
"""Height of what isn't split, and how it is drawn from its top."""

_COLUMNS = ((8.0, 50.0), (60.0, 31.0), (93.0, 14.0), (109.0, 34.0), (145.0, 16.0), (167.0, 9.0))
"""Left and width: quantity, expected, tolerance, got, difference, word."""
_MARK = 163.0
_HEAD, _ROW, _LINE = 5.8, 3.9, 3.1
_TOGETHER = 12
"""Lines of a case that stay on one page."""


def draw(canvas: Canvas, content: Validation) -> Element:
    """All pages; gives the structure of their text."""
    content = mapped(content, printable)
    pages = _paginated(content).pages
    pen = Pen(canvas, HIGH, tags=Tags())
    for number, page in enumerate(pages, 1):
        letter.frame(pen, content, number, len(pages))
        for block in page:
            block(pen)
        pen.turn()
    return pen.tags.root


def _paginated(c: Validation) -> Flow:
    flow = Flow()
    _opening(flow, c)
    _facts(flow, c)
    for text in c.texts:
        letter_pages.texts(flow, ((text, LIVE),))
    for section in c.sections:
        _section(flow, c, section)
    trial = Flow()
    _ending(trial, c)
    if flow.room() < trial.y - TOP:
        flow.next()
    _ending(flow, c)
    return flow


# -- page 1 ----------------------------------------------------------------------


def _opening(flow: Flow, c: Validation) -> None:
    """The verdict on the left, its counts on the right."""
    lines = wrap(c.sentence, REGULAR, 8.5, HALF)
    high = max(24.4 + 4 * len(lines), 6 + 4.4 * len(c.counts)) + GAP

    def draw(pen: Pen, y: float) -> None:
        letter.verdict_rule(pen, c.verdict, y)
        pen.mark(c.verdict, LEFT, y + 5.2, 12)
        with pen.tags.inside("H2"):
            pen.fitted(LEFT + 16.2, y + 10.2, c.finding[0], HALF - 16.2, 19, SEMIBOLD)
            pen.fitted(LEFT + 16.2, y + 16.8, c.finding[1], HALF - 16.2, 11, SEMIBOLD)
        with pen.leaf():
            for n, line in enumerate(lines):
                pen.text(LEFT, y + 24.4 + 4 * n, line, 8.5)
        x, right = COLUMN[2], LEFT + LIVE
        pen.heading(x, y + 5, c.words["counts"])
        with pen.tags.inside("Table"):
            for n, (name, count) in enumerate(c.counts):
                base = y + 10 + 4.4 * n
                with pen.tags.inside("TR"):
                    with pen.tags.inside(Element("TH", rows=1)):
                        pen.text(x, base, name, 8.5)
                    with pen.tags.inside("TD"):
                        pen.text(right, base, count, 8.5, SEMIBOLD, align="right")
                pen.line((x, base + 1.2), (right, base + 1.2), 0.12, HAIR)

    flow.place(high, draw)


def _facts(flow: Flow, c: Validation) -> None:
    def heading(pen: Pen, y: float) -> None:
        pen.rule(y)
        pen.heading(LEFT, y + 4, c.words["what"])

    table = Element("Table")
    strips: list[Strip] = [(6.0, heading)]
    for name, value in c.facts:
        row, head, cell = Element("TR"), Element("TH", rows=1), Element("TD")
        names, values = wrap(name, REGULAR, 7.5, 41), wrap(value, REGULAR, 8.5, LIVE - 45)
        for n in range(max(len(names), len(values))):
            pair = (names[n : n + 1], values[n : n + 1])
            strips.append((4.0, _fact_drawer(table, row, (head, cell), pair)))
    _place(flow, strips)
    flow.y += 4


def _fact_drawer(
    table: Element,
    row: Element,
    cells: tuple[Element, Element],
    pair: tuple[list[str], list[str]],
) -> Callable[[Pen, float], None]:
    def draw(pen: Pen, y: float) -> None:
        with pen.tags.inside(table), pen.tags.inside(row):
            with pen.tags.inside(cells[0]):
                for line in pair[0]:
                    pen.text(LEFT, y + 3, line, 7.5, REGULAR, INK2)
            with pen.tags.inside(cells[1]):
                for line in pair[1]:
                    pen.text(LEFT + 45, y + 3, line, 8.5)

    return draw


def _place(flow: Flow, strips: Sequence[Strip], again: Strip | None = None) -> None:
    """Strips one under the other, on one page where they fit on one; ``again`` heads a page on
    which they go on."""
    whole, room = sum(high for high, _ in strips), BOTTOM - TOP
    if flow.room() < whole <= room - (again[0] if again else 0):
        _next(flow, again)
    for high, draw in strips:
        if high > flow.room():
            _next(flow, again)
        flow.place(high, draw)


def _next(flow: Flow, again: Strip | None) -> None:
    flow.next()
    if again:
        flow.place(*again)


# -- a computation ---------------------------------------------------------------


def _section(flow: Flow, c: Validation, section: Cases) -> None:
    table = Element("Table")

    def head(pen: Pen, y: float) -> None:
        with _within(pen, table, Element("TR")):
            _head(pen, c, y)

    def again(pen: Pen, y: float) -> None:
        with pen.tags.outside():
            _head(pen, c, y)

    compared = any(case.rows for case in section.cases)
    opening = [*_told(section), *([(_HEAD, head)] if compared else [])]
    first = _strips(section.cases[0], table)
    if flow.room() < _high([*opening, *first[:_TOGETHER]]) <= BOTTOM - TOP:
        flow.next()
    _place(flow, opening)
    for case in section.cases:
        _case(flow, c, case, table, (_HEAD, again) if compared else None)
    flow.y += 5


def _told(section: Cases) -> list[Strip]:
    """The heading of a computation, and the paragraphs under it line by line."""
    found: list[Strip] = [(1.6, lambda pen, y: pen.rule(y))]
    heading = (Element("H2"),)
    lines = wrap(section.heading, SEMIBOLD, 10, LIVE)
    found += [(4.4, _line_drawer(heading, said, 10, SEMIBOLD)) for said in lines]
    for paragraph in section.paragraphs:
        within, lines = (Element("P"),), wrap(paragraph, REGULAR, 7.5, LIVE)
        found += [(3.4, _line_drawer(within, said, 7.5)) for said in lines]
    return [*found, (1.6, lambda _pen, _y: None)]


def _line_drawer(
    within: Sequence[Element],
    said: str,
    size: float,
    font: str = REGULAR,
    colour: Color = INK,
    x: float = 0.0,
) -> Callable[[Pen, float], None]:
    """One line of text inside its elements, the outermost first."""

    def draw(pen: Pen, y: float) -> None:
        with _within(pen, *within):
            pen.text(LEFT + x, y + 0.33 * size, said, size, font, colour)

    return draw


@contextmanager
def _within(pen: Pen, *elements: Element) -> Iterator[None]:
    with ExitStack() as stack:
        for element in elements:
            stack.enter_context(pen.tags.inside(element))
        yield


def _head(pen: Pen, c: Validation, y: float) -> None:
    pen.line((LEFT, y), (LEFT + LIVE, y), 0.12, HAIR)
    names = ("case", "quantity", "expected", "tolerance", "got", "difference", "met_head")
    places = (0.0, *(x for x, _ in _COLUMNS[:-1]), _MARK)
    for x, name in zip(places, names, strict=True):
        with pen.tags.inside("TH"):
            pen.text(LEFT + x, y + 3.6, c.words[name], 7.5, SEMIBOLD)
    pen.line((LEFT, y + 5.2), (LEFT + LIVE, y + 5.2), 0.12, HAIR)


# -- a case ----------------------------------------------------------------------


def _case(flow: Flow, c: Validation, case: Case, table: Element, again: Strip | None) -> None:
    """Not split where it is short; what is longer goes on under its name."""
    strips = _strips(case, table)
    if flow.room() < _high(strips) and (
        len(strips) <= _TOGETHER or flow.room() < _high(strips[:_TOGETHER])
    ):
        _next(flow, again)
    said = wrap(c.words["continued"].format(id=case.id), SEMIBOLD, 8, LIVE)[-1]

    def named(pen: Pen, y: float) -> None:
        with pen.tags.outside():
            pen.text(LEFT, y + 3, said, 8, SEMIBOLD)

    while strips:
        taken = fitting([high for high, _ in strips], flow.room())
        for strip in strips[:taken]:
            flow.place(*strip)
        strips = strips[taken:]
        if strips:
            _next(flow, again)
            flow.place(_LINE + 1, named)
    flow.place(1.2, lambda pen, y: pen.line((LEFT, y + 0.6), (LEFT + LIVE, y + 0.6), 0.12, HAIR))


def _high(strips: Sequence[Strip]) -> float:
    return sum(high for high, _ in strips)


def _strips(case: Case, table: Element) -> list[Strip]:
    """Name and origin of a case, its quantities, and what else is said of it."""
    if not case.rows:
        return _named(case, (Element("P"),))
    rows = [Element("TR") for _ in case.rows]
    name = (table, rows[0], Element("TH", rows=len(rows)))
    found = _named(case, name)
    last = Element("TD")
    for n, (row, element) in enumerate(zip(case.rows, rows, strict=True), 1):
        word = last if n == len(rows) else Element("TD")
        found.append(_row(row, (table, element), word))
    for note in case.notes:
        for said in wrap(note, REGULAR, 7, LIVE - _COLUMNS[0][0]):
            within = (table, rows[-1], last)
            drawer = _line_drawer(within, said, 7, REGULAR, INK2, _COLUMNS[0][0])
            found.append((_LINE, drawer))
    return found


def _named(case: Case, within: Sequence[Element]) -> list[Strip]:
    """The name, with what is said about it on the same line where there is room."""
    lines = wrap(case.id, SEMIBOLD, 8, LIVE)
    found = [(4.0, _line_drawer(within, said, 8, SEMIBOLD)) for said in lines]
    x = width(lines[-1], SEMIBOLD, 8) + 3
    if x + width(case.about, REGULAR, 7) <= LIVE:
        beside = _line_drawer(within, case.about, 7, REGULAR, INK2, x)
        above = found.pop()[1]

        def both(pen: Pen, y: float) -> None:
            above(pen, y)
            beside(pen, y + 0.33)

        return [*found, (4.0, both)]
    x = _COLUMNS[0][0]
    about = wrap(case.about, REGULAR, 7, LIVE - x)
    return [
        *found,
        *((_LINE, _line_drawer(within, said, 7, REGULAR, INK2, x)) for said in about),
    ]


def _row(row: Compared, within: Sequence[Element], word: Element) -> Strip:
    """A quantity, its two values side by side so that they can be compared digit by digit."""
    said = (row.quantity, row.expected, row.tolerance, row.got, row.difference, row.word)
    off = row.verdict == "does not conform"
    cells = [
        fit(text, wide, 7.5, SEMIBOLD if off and n > 3 else REGULAR, 40, 7)
        for n, (text, (_, wide)) in enumerate(zip(said, _COLUMNS, strict=True))
    ]
    high = _ROW + _LINE * (max(len(cell.lines) for cell in cells) - 1)

    def draw(pen: Pen, y: float) -> None:
        with _within(pen, *within):
            for n, ((x, _), cell) in enumerate(zip(_COLUMNS, cells, strict=True)):
                colour = OF_VERDICT["does not conform"] if off and n > 3 else INK
                element = word if n == len(cells) - 1 else Element("TD")
                with pen.tags.inside(element):
                    _cell(pen, cell, LEFT + x, y + 2.8, colour)
        if row.verdict:
            pen.mark(row.verdict, LEFT + _MARK, y + 0.3, 2.9)

    return high, draw


def _cell(pen: Pen, cell: Fit, x: float, y: float, colour: Color) -> None:
    for n, said in enumerate(cell.lines):
        pen.text(x, y + _LINE * n, said, cell.size, cell.font, colour)


# -- the end -----------------------------------------------------------------------


def _ending(flow: Flow, c: Validation) -> None:
    for n in range(0, len(c.statements), 2):
        letter_pages.texts(flow, tuple((text, HALF) for text in c.statements[n : n + 2]))
    flow.place(36, lambda pen, y: _by_hand(pen, c, y))


def _by_hand(pen: Pen, c: Validation, y: float) -> None:
    """What a person fills in, and the end."""
    pen.rule(y)
    pen.heading(LEFT, y + 4, c.words["by_hand"])
    said, fields = c.by_hand
    pen.text(LEFT, y + 7.6, said, 7, REGULAR, INK2)
    for n, name in enumerate(fields):
        x = LEFT + n * (THIRD + 4)
        pen.text(x, y + 12.4, name, 7)
        letter.brackets(pen, x, y + 13.6)
    letter_pages.end(pen, c.words["end"], y + 33)
