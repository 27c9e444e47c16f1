"""The layout "letter-1": the pages after the first. Table, profiles, paragraphs, equipment, end.

Blocks are placed one under the other; a page that is full is closed, heads repeat, and nothing
is cut.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from inspect_rec.report.content import Content, Group, Profiles, Row, Text
from report_templates import bars, contour, graphs
from report_templates.pen import (
    HAIR,
    INK2,
    LINE,
    MEASURED,
    OF_VERDICT,
    REGULAR,
    SEMIBOLD,
    Pen,
    width,
    wrap,
)

LEFT, LIVE = 20.0, 176.0
TOP, BOTTOM = 25.0, 277.0
ROW = 5.2
_NAME = 45.0
"""Room for a characteristic's name and its small lines, mm."""
Draw = Callable[[Pen], None]


@dataclass
class _Flow:
    """Pages as they fill."""

    pages: list[list[Draw]] = field(default_factory=lambda: [[]])
    y: float = TOP

    def place(self, high: float, draw: Callable[[Pen, float], None]) -> None:
        """Put a block on this page, or on the next where it doesn't fit."""
        if self.y + high > BOTTOM and self.y > TOP:
            self.next()
        y = self.y
        self.pages[-1].append(lambda pen: draw(pen, y))
        self.y += high

    def next(self) -> None:
        """A new page."""
        self.pages.append([])
        self.y = TOP

    def room(self) -> float:
        """What is left of the page."""
        return BOTTOM - self.y


def paginate(content: Content) -> list[list[Draw]]:
    """What stands on each page after the first."""
    flow = _Flow()
    _table(flow, content)
    flow.y += 1.5
    for profiles in content.profiles:
        _profiles(flow, content, profiles)
    rule, conditions, inout = content.texts[:3]
    _texts(flow, ((rule, 86.0), (conditions, 41.0), (inout, 41.0)))
    _equipment(flow, content)
    method, struck, supplied, statements, *more = content.texts[3:]
    _texts(flow, ((method, 86.0), (struck, 41.0), (statements, 41.0)))
    _texts(flow, ((supplied, 86.0), *((m, 86.0) for m in more)))
    flow.place(8, lambda pen, y: _end(pen, content, y))
    return flow.pages


# -- table -----------------------------------------------------------------------


def _table(flow: _Flow, c: Content) -> None:
    flow.place(6.2, lambda pen, y: _head(pen, c, y))
    for group in c.groups:
        _group(flow, c, group)
    flow.place(0.2, lambda pen, y: pen.rule(y))
    flow.place(7.5, lambda pen, y: _legend(pen, c, y))


def _head(pen: Pen, c: Content, y: float) -> None:
    w = c.words
    pen.rule(y)
    for x, said, align in (
        (6.0, w["page.characteristic"], "left"),
        (55.0, c.graph.edge_word.capitalize() if c.graph else "", "middle"),
        (76.0, w["page.value_mm"], "right"),
        (88.5, w["page.expanded"], "right"),
        (102.0, w["page.deviation"], "right"),
        (155.0, w["page.verdict"], "left"),
    ):
        pen.text(LEFT + x, y + 4, said, 8, SEMIBOLD, align=align)
    low, high = w["page.axis"].split("|")
    pen.text(LEFT + 115, y + 4, low, 7, REGULAR, INK2, "middle")
    pen.text(LEFT + 140, y + 4, high, 7, REGULAR, INK2, "middle")
    pen.line((LEFT, y + 6), (LEFT + LIVE, y + 6), 0.12, HAIR)


def _lines(group: Group) -> list[str]:
    """The small lines under a name; where rows are few, short ones share a line."""
    said: list[str] = []
    room = sum(map(_row_height, group.rows)) - 5.0
    for text in group.lines:
        joined = f"{said[-1]}, {text}" if said else text
        crowded = 3.3 * len(group.lines) > room
        if said and crowded and width(joined, REGULAR, 7) <= _NAME:
            said[-1] = joined
        else:
            said.append(text)
    return [line for text in said for line in wrap(text, REGULAR, 7, _NAME)]


def _notes(row: Row) -> list[str]:
    return wrap(row.note, REGULAR, 6.5, 66) if row.note else []


def _row_height(row: Row) -> float:
    return ROW + 2.7 * len(_notes(row))


def _group(flow: _Flow, c: Content, group: Group) -> None:
    """A group of up to 12 rows isn't split; of a longer one at least 3 stay together."""
    rows = list(group.rows)
    first = True
    while rows:
        lines = _lines(group) if first else [c.words["page.continued"]]
        text = 5.0 + 3.3 * len(lines)
        whole = max(sum(map(_row_height, rows)), text) + 1.9
        if whole > flow.room() and (len(group.rows) <= 12 or flow.room() < max(3 * ROW, text) + 2):
            flow.next()
            flow.place(6.2, lambda pen, y: _head(pen, c, y))
        taken = _fitting(rows, flow.room() - 1.9)
        part, rows = rows[:taken], rows[taken:]
        high = max(sum(map(_row_height, part)), text) + 1.9
        flow.place(high, _group_drawer(group, lines, part))
        first = False


def _fitting(rows: Sequence[Row], room: float) -> int:
    """How many rows fit, leaving at least 3 for the next page."""
    high, count = 0.0, 0
    for row in rows:
        high += _row_height(row)
        if high > room:
            break
        count += 1
    if 0 < len(rows) - count < 3:
        count = max(1, len(rows) - 3)
    return max(1, count)


def _group_drawer(group: Group, lines: list[str], rows: list[Row]) -> Callable[[Pen, float], None]:
    def draw(pen: Pen, y: float) -> None:
        pen.number(group.number, LEFT + 2, y + 3.4)
        pen.fitted(LEFT + 6, y + 4.2, group.name, _NAME, 8.5, SEMIBOLD)
        for n, line in enumerate(lines):
            pen.text(LEFT + 6, y + 7.7 + 3.3 * n, line, 7, REGULAR, INK2)
        top = y + 0.8
        for row in rows:
            _row(pen, row, top)
            top += _row_height(row)
        high = max(sum(map(_row_height, rows)), 5.0 + 3.3 * len(lines)) + 1.9
        pen.line((LEFT, y + high), (LEFT + LIVE, y + high), 0.12, HAIR)

    return draw


def _row(pen: Pen, row: Row, y: float) -> None:
    base = y + 3.6
    pen.text(LEFT + 55, base, row.edge, 8.5, REGULAR, align="middle")
    _value(pen, row, base)
    pen.ending(LEFT + 88.5, base, row.expanded, 11.5)
    pen.ending(LEFT + 102, base, row.deviation, 12.3)
    if row.bar is not None:
        bars.draw(pen, row.bar, LEFT + 102.5, y + ROW / 2, 50, ROW, 0.85)
    pen.mark(row.verdict, LEFT + 155, y + 0.85, 3.5)
    pen.text(LEFT + 160.4, base, row.word, 7.5)
    for n, note in enumerate(_notes(row)):
        pen.text(LEFT + 108, y + ROW + 1.4 + 2.7 * n, note, 6.5, REGULAR, INK2)


def _value(pen: Pen, row: Row, base: float) -> None:
    """Aligned on the decimal sign; a unit other than mm follows; a range is fitted in."""
    colour = OF_VERDICT.get(row.verdict, INK2)
    unit = row.unit if row.unit == "°" else f" {row.unit}" if row.unit else ""
    if " " in row.value:
        pen.fitted(LEFT + 57.8, base, row.value + unit, 20.6, 8, SEMIBOLD, colour)
        return
    whole, dot, part = row.value.partition(".")
    pen.text(LEFT + 68.5, base, whole, 8.5, SEMIBOLD, colour, "right")
    wide = pen.text(LEFT + 68.5, base, dot + part, 8.5, SEMIBOLD, colour)
    if unit:
        degree = unit == "°"
        font, size = (SEMIBOLD, 8.5) if degree else (REGULAR, 7.5)
        pen.text(LEFT + 68.5 + wide, base, unit, size, font, colour)


def _legend(pen: Pen, c: Content, y: float) -> None:
    w, x, base = c.words, LEFT, y + 4.4
    x += pen.text(x, base, w["page.bar"], 7, SEMIBOLD) + 4
    pen.hatch(x, base - 2.2, 7, 2.6)
    pen.line((x + 3.5, base - 2.9), (x + 3.5, base + 1.1), 0.35)
    x += 8.5
    x += pen.text(x, base, w["page.bar_limit"], 7, REGULAR, INK2) + 5
    pen.line((x, base - 0.9), (x + 8, base - 0.9), 0.25, MEASURED)
    for end in (x, x + 8):
        pen.line((end, base - 1.5), (end, base - 0.3), 0.25, MEASURED)
    pen.disc(x + 4, base - 0.9, 0.85, MEASURED)
    x += 9.5
    x += pen.text(x, base, w["page.bar_value"], 7, REGULAR, INK2) + 5
    for verdict in ("neither shown", "does not conform"):
        pen.value_mark(verdict, x + 1, base - 0.9, 0.95)
        x += 3.4
        x += pen.text(x, base, w[f"verdict.{verdict}"], 7, REGULAR, INK2) + 5


# -- profiles --------------------------------------------------------------------


def _profiles(flow: _Flow, c: Content, p: Profiles) -> None:
    if p.contour:
        flow.place(contour.height(p) + 12, lambda pen, y: _contour(pen, c, p, y))
    edges = p.edges if len(p.edges) <= 8 else p.edges[:4]
    for n in range(0, len(edges), 4):
        row = edges[n : n + 4]
        flow.place(34.5, _profile_row(row))
    lines = wrap(p.caption, REGULAR, 7, LIVE)
    flow.place(2.8 + 3.2 * len(lines), lambda pen, y: _caption(pen, lines, y))


def _caption(pen: Pen, lines: Sequence[str], y: float) -> None:
    for n, line in enumerate(lines):
        pen.text(LEFT, y + 2.4 + 3.2 * n, line, 7, REGULAR, INK2)


def _profile_row(row: Sequence[object]) -> Callable[[Pen, float], None]:
    def draw(pen: Pen, y: float) -> None:
        for k, one in enumerate(row):
            graphs.profile(pen, one, LEFT + 45 * k, y)  # type: ignore[arg-type]

    return draw


def _contour(pen: Pen, c: Content, p: Profiles, y: float) -> None:
    pen.rule(y)
    pen.number(p.number, LEFT + 2, y + 3.6)
    pen.text(LEFT + 6, y + 4.6, p.title, 10, SEMIBOLD)
    pen.text(LEFT + 6, y + 8.8, p.subtitle, 7, REGULAR, INK2)
    contour.draw(pen, p, LEFT, y + 12, c.words)
    x, top = LEFT + 135, y + 8
    for one in p.edges[:8]:
        pen.line((x, top), (LEFT + LIVE, top), 0.12, HAIR)
        pen.text(x, top + 4, one.title, 8, SEMIBOLD if one.decides else REGULAR)
        pen.text(LEFT + LIVE, top + 4, one.value, 8, SEMIBOLD, MEASURED, "right")
        top += 6
    pen.line((x, top), (LEFT + LIVE, top), 0.12, HAIR)


# -- paragraphs and tables -------------------------------------------------------


_BETWEEN = 0.9
"""Air between two paragraphs, mm."""


def _texts(flow: _Flow, blocks: Sequence[tuple[Text, float]]) -> None:
    """Paragraphs side by side; one that is longer than what is left goes on below by itself."""
    high = max(_height(text, wide) for text, wide in blocks) + 4
    if high > BOTTOM - TOP:
        for text, _ in blocks:
            _long(flow, text)
        return

    def draw(pen: Pen, y: float) -> None:
        x = LEFT
        for text, wide in blocks:
            pen.rule(y, x, wide)
            pen.text(x, y + 4, text.heading, 8, SEMIBOLD)
            base = y + 8
            for paragraph in text.paragraphs:
                base = pen.paragraph(x, base, paragraph, wide) + _BETWEEN
            x += wide + 4

    flow.place(high, draw)


def _height(text: Text, wide: float) -> float:
    lines = sum(len(wrap(p, REGULAR, 7.5, wide)) for p in text.paragraphs)
    return 8 + 3.4 * lines + _BETWEEN * (len(text.paragraphs) - 1)


def _long(flow: _Flow, text: Text) -> None:
    def heading(pen: Pen, y: float) -> None:
        pen.rule(y)
        pen.text(LEFT, y + 4, text.heading, 8, SEMIBOLD)

    flow.place(12, heading)
    flow.y -= 4.6
    for paragraph in text.paragraphs:
        for line in wrap(paragraph, REGULAR, 7.5, LIVE):
            flow.place(3.4, _line_drawer(line))
    flow.y += 3


def _line_drawer(line: str) -> Callable[[Pen, float], None]:
    def draw(pen: Pen, y: float) -> None:
        pen.text(LEFT, y + 2.6, line, 7.5)

    return draw


_COLUMNS = {5: (0.0, 14.0, 118.0, 139.0, 158.0), 6: (0.0, 14.0, 98.0, 115.0, 134.0, 153.0)}
"""Where the columns of a table begin, by how many there are."""


def _equipment(flow: _Flow, c: Content) -> None:
    """Kept together where it fits on a page: a heading with one row tells little."""
    table = c.equipment
    columns = _COLUMNS[len(table.heads)]
    rows = [_cells(row, columns) for row in table.rows]
    below = [wrap(said, REGULAR, 7.5, LIVE) for said in table.below]
    whole = 6.2 + sum(map(_cells_height, rows)) + sum(3.6 * len(lines) for lines in below)
    if flow.room() < whole <= BOTTOM - TOP:
        flow.next()

    def head(pen: Pen, y: float) -> None:
        _table_head(pen, table.heads, columns, y)

    flow.place(6.2, head)
    for cells in rows:
        high = _cells_height(cells)
        if high > flow.room():
            flow.next()
            flow.place(6.2, head)
        flow.place(high, _cell_drawer(cells, columns, high))
    for lines in below:
        flow.place(3.6 * len(lines), _check_drawer(lines))
    flow.y += 4


def _cells(row: Sequence[str], columns: Sequence[float]) -> list[list[str]]:
    ends = (*columns[1:], LIVE)
    return [
        wrap(cell, REGULAR, 7.5, b - a - 2) for cell, a, b in zip(row, columns, ends, strict=True)
    ]


def _cells_height(cells: Sequence[Sequence[str]]) -> float:
    return 3.3 * max(map(len, cells)) + 1.6


def _table_head(pen: Pen, heads: Sequence[str], columns: Sequence[float], y: float) -> None:
    pen.rule(y)
    for x, head in zip(columns, heads, strict=True):
        pen.text(LEFT + x, y + 4, head, 8, SEMIBOLD)
    pen.line((LEFT, y + 6), (LEFT + LIVE, y + 6), 0.12, HAIR)


def _cell_drawer(
    cells: list[list[str]], columns: Sequence[float], high: float
) -> Callable[[Pen, float], None]:
    def draw(pen: Pen, y: float) -> None:
        for x, lines in zip(columns, cells, strict=True):
            for n, line in enumerate(lines):
                pen.text(LEFT + x, y + 3.5 + 3.3 * n, line, 7.5)
        pen.line((LEFT, y + high), (LEFT + LIVE, y + high), 0.12, HAIR)

    return draw


def _check_drawer(lines: list[str]) -> Callable[[Pen, float], None]:
    def draw(pen: Pen, y: float) -> None:
        for n, line in enumerate(lines):
            pen.text(LEFT, y + 3.6 + 3.6 * n, line, 7.5)

    return draw


def _end(pen: Pen, c: Content, y: float) -> None:
    said = c.words["page.end"]
    half = width(said, REGULAR, 7) / 2 + 6
    middle = LEFT + LIVE / 2
    pen.line((LEFT, y + 4), (middle - half, y + 4), 0.12, LINE)
    pen.text(middle, y + 4.9, said, 7, REGULAR, INK2, "middle")
    pen.line((middle + half, y + 4), (LEFT + LIVE, y + 4), 0.12, LINE)
