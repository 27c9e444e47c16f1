"""Rows of words under heads that are repeated on each page, and lines below them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from inspect_rec.report.content import Table
from report_templates.flow import Flow
from report_templates.lettering import REGULAR, SEMIBOLD, wrap
from report_templates.pen import HAIR, Pen
from report_templates.sheet import LEFT, LIVE
from report_templates.tags import Element


def draw(flow: Flow, table: Table) -> None:
    """Kept together where it fits on a page: a heading with one row tells little."""
    columns = table.columns
    rows = [_cells(row, columns) for row in table.rows]
    below = [wrap(said, REGULAR, 7.5, LIVE) for said in table.below]
    whole = 6.2 + sum(map(_cells_height, rows)) + sum(3.6 * len(lines) for lines in below)
    if flow.room() < whole <= flow.whole:
        flow.next()

    node = Element("Table")

    def head(pen: Pen, y: float) -> None:
        with pen.tags.inside(node), pen.tags.inside("TR"):
            _table_head(pen, table.heads, columns, y)

    def head_again(pen: Pen, y: float) -> None:
        with pen.tags.outside():
            _table_head(pen, table.heads, columns, y)

    flow.place(6.2, head)
    for cells in rows:
        high = _cells_height(cells)
        if high > flow.room():
            flow.next()
            flow.place(6.2, head_again)
        flow.place(high, _cell_drawer(cells, columns, high, node))
    for lines in below:
        flow.place(3.6 * len(lines), _below_drawer(lines))
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
        with pen.tags.inside("TH"):
            pen.text(LEFT + x, y + 4, head, 8, SEMIBOLD)
    pen.line((LEFT, y + 6), (LEFT + LIVE, y + 6), 0.12, HAIR)


def _cell_drawer(
    cells: list[list[str]], columns: Sequence[float], high: float, node: Element
) -> Callable[[Pen, float], None]:
    def draw(pen: Pen, y: float) -> None:
        with pen.tags.inside(node), pen.tags.inside("TR"):
            for x, lines in zip(columns, cells, strict=True):
                with pen.tags.inside("TD"):
                    for n, line in enumerate(lines):
                        pen.text(LEFT + x, y + 3.5 + 3.3 * n, line, 7.5)
        pen.line((LEFT, y + high), (LEFT + LIVE, y + high), 0.12, HAIR)

    return draw


def _below_drawer(lines: list[str]) -> Callable[[Pen, float], None]:
    def draw(pen: Pen, y: float) -> None:
        with pen.leaf():
            for n, line in enumerate(lines):
                pen.text(LEFT, y + 3.6 + 3.6 * n, line, 7.5)

    return draw
