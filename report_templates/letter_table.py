"""The layout "letter-1": the table of results, its heads repeated, and how to read a bar."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from inspect_rec.report.content import Content, Group, Row
from report_templates import bars
from report_templates.flow import Flow, fitting
from report_templates.lettering import CONDENSED_SEMIBOLD, REGULAR, SEMIBOLD, Fit, fit, width, wrap
from report_templates.pen import HAIR, INK2, MEASURED, OF_VERDICT, Pen
from report_templates.sheet import LEFT, LIVE
from report_templates.tags import Element

ROW = 5.2
_NAME = 45.0
"""Room for a characteristic's name and its small lines, mm."""


def draw(flow: Flow, c: Content) -> None:
    """All characteristics with their results, then the legend."""
    table = Element("Table")

    def head(pen: Pen, y: float) -> None:
        with pen.tags.inside(table), pen.tags.inside("TR"):
            _head(pen, c, y)

    flow.place(6.2, head)
    for group in c.groups:
        _group(flow, c, group, table)
    flow.place(0.2, lambda pen, y: pen.rule(y))
    flow.place(7.5, lambda pen, y: _legend(pen, c, y))


def _head(pen: Pen, c: Content, y: float) -> None:
    w = c.words
    pen.rule(y)
    for x, said, align in (
        (6.0, w["page.characteristic"], "left"),
        (55.0, c.edge_word[:1].upper() + c.edge_word[1:], "middle"),
        (76.0, w["page.value_mm"], "right"),
        (88.5, w["page.expanded"], "right"),
        (102.0, w["page.deviation"], "right"),
        (155.0, w["page.verdict"], "left"),
    ):
        with pen.tags.inside("TH"):
            pen.text(LEFT + x, y + 4, said, 8, SEMIBOLD, align=align)
    low, high = w["page.axis"].split("|")
    with pen.tags.outside():
        pen.text(LEFT + 115, y + 4, low, 7, REGULAR, INK2, "middle")
        pen.text(LEFT + 140, y + 4, high, 7, REGULAR, INK2, "middle")


def _head_again(pen: Pen, c: Content, y: float) -> None:
    with pen.tags.outside():
        _head(pen, c, y)
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


def _name(group: Group) -> Fit:
    """The name on one line, or condensed over as many as it takes."""
    found = fit(group.name, _NAME, 8.5, SEMIBOLD, 1, 8.5)
    if found.whole:
        return found
    narrow = CONDENSED_SEMIBOLD
    return Fit(narrow, 8.5, tuple(wrap(group.name, narrow, 8.5, _NAME)))


def _text_height(group: Group, lines: Sequence[str]) -> float:
    return 1.4 + 3.6 * len(_name(group).lines) + 3.3 * len(lines)


def _notes(row: Row) -> list[str]:
    return wrap(row.note, REGULAR, 6.5, 66) if row.note else []


def _row_height(row: Row) -> float:
    return ROW + 2.7 * len(_notes(row))


def _group(flow: Flow, c: Content, group: Group, table: Element) -> None:
    """A group of up to 12 rows isn't split; of a longer one at least 3 stay together."""
    rows = list(group.rows)
    first = True
    while rows:
        lines = _lines(group) if first else [c.words["page.continued"]]
        text = _text_height(group, lines)
        whole = max(sum(map(_row_height, rows)), text) + 1.9
        if whole > flow.room() and (len(group.rows) <= 12 or flow.room() < max(3 * ROW, text) + 2):
            flow.next()
            flow.place(6.2, lambda pen, y: _head_again(pen, c, y))
        taken = fitting([_row_height(row) for row in rows], flow.room() - 1.9)
        part, rows = rows[:taken], rows[taken:]
        high = max(sum(map(_row_height, part)), text) + 1.9
        flow.place(high, _group_drawer(group, lines, part, table, first=first))
        first = False


def _group_drawer(
    group: Group, lines: list[str], rows: list[Row], table: Element, *, first: bool
) -> Callable[[Pen, float], None]:
    """Draws a group, or what of it stands on one page. Its name heads all its rows."""
    high = max(sum(map(_row_height, rows)), _text_height(group, lines)) + 1.9

    def draw(pen: Pen, y: float) -> None:
        top = y + 0.8
        with pen.tags.inside(table):
            for n, row in enumerate(rows):
                with pen.tags.inside("TR"):
                    if n == 0:
                        _named(pen, group, lines, y, first=first)
                    _row(pen, row, top)
                top += _row_height(row)
        pen.line((LEFT, y + high), (LEFT + LIVE, y + high), 0.12, HAIR)

    return draw


def _named(pen: Pen, group: Group, lines: Sequence[str], y: float, *, first: bool) -> None:
    """Number and name of a group with the small lines under it; on a later page once more for
    the eye alone."""
    name = _name(group)
    cell = pen.tags.inside(Element("TH", rows=len(group.rows))) if first else pen.tags.outside()
    with cell:
        pen.number(group.number, LEFT + 2, y + 3.4)
        for n, line in enumerate(name.lines):
            pen.text(LEFT + 6, y + 4.2 + 3.6 * n, line, name.size, name.font)
        for n, line in enumerate(lines):
            base = y + 4.1 + 3.6 * len(name.lines) + 3.3 * n
            pen.text(LEFT + 6, base, line, 7, REGULAR, INK2)


def _row(pen: Pen, row: Row, y: float) -> None:
    base, cell = y + 3.6, pen.tags.inside
    with cell("TD"):
        pen.text(LEFT + 55, base, row.edge, 8.5, REGULAR, align="middle")
    with cell("TD"):
        _value(pen, row, base)
    with cell("TD"):
        pen.fitted(LEFT + 88.5, base, row.expanded, 11.5, align="right")
    with cell("TD"):
        pen.fitted(LEFT + 102, base, row.deviation, 12.3, align="right")
    if row.bar is not None:
        bars.draw(pen, row.bar, LEFT + 102.5, y + ROW / 2, 50, ROW, 0.85)
    pen.mark(row.verdict, LEFT + 155, y + 0.85, 3.5, under=row.under)
    with cell("TD"):
        room = LIVE - 160.4
        up = 1.2 if len(fit(row.word, room, 7.5, lines=2, wrapped=7).lines) > 1 else 0
        pen.fitted(LEFT + 160.4, base - up, row.word, room, 7.5, lines=2, pitch=2.5, wrapped=7)
        for n, note in enumerate(_notes(row)):
            pen.text(LEFT + 108, y + ROW + 1.4 + 2.7 * n, note, 6.5, REGULAR, INK2)


def _value(pen: Pen, row: Row, base: float) -> None:
    """Aligned on the decimal sign; a unit other than mm follows; a range is fitted in."""
    colour = OF_VERDICT.get(row.verdict, INK2)
    unit = row.unit if row.unit == "°" else f" {row.unit}" if row.unit else ""
    if " " in row.value:
        pen.fitted(LEFT + 57.8, base, row.value + unit, 20.6, 8, SEMIBOLD, colour)
        return
    degree = unit if unit == "°" else ""
    end = pen.decimal(LEFT + 68.5, base, row.value + degree, 8.5, SEMIBOLD, colour)
    if unit and not degree:
        pen.text(end, base, unit, 7.5, REGULAR, colour)


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
