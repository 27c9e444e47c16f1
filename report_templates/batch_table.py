"""The layout "batch-1": the tools of a batch against each other, a row each.

Columns are as wide as what stands in them; those that don't fit beside the others stand in a
table of their own below, with the tools' marks once more.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reportlab.lib.colors import Color

from inspect_rec.report.batch_content import Cell, Column, Line, Sheet
from inspect_rec.report.content import Bar
from report_templates import bars
from report_templates.flow import Flow
from report_templates.lettering import REGULAR, SEMIBOLD, Fit, fit, width, wrap
from report_templates.pen import HAIR, INK, INK2, MEASURED, OF_VERDICT, WHITE, Pen
from report_templates.sheet import LEFT, LIVE
from report_templates.tags import Element

ROW, SUM = 5.9, 4.4
_GAP = 2.6
_BAR = (25.0, 44.0)
"""Least and greatest width of a bar."""
_MARK, _WORD = (14.0, 34.0), (17.0, 30.0)
_SUMMED = 40.0
"""Room for the words beside largest, mean and smallest."""
_MARKED = 2.8
"""Room before a value for its mark."""


@dataclass(frozen=True, slots=True)
class _Grid:
    """Where the columns of one table stand, from the left edge of the live area."""

    mark: float
    bar: tuple[float, float] | None
    """Left and width."""
    columns: tuple[tuple[int, float], ...]
    """Number of a column, and its right edge."""
    left: float | None
    verdict: tuple[float, float] | None
    """Left and width, with its mark."""
    report: float | None


def draw(flow: Flow, c: Sheet) -> None:
    """All rows, and under them largest, mean and smallest; then what had no room beside it."""
    widths = [_width(c, n) for n in range(len(c.columns))]
    first, taken = _first_grid(c, widths)
    _table(flow, c, first, "")
    rest = list(range(taken, len(c.columns)))
    while rest:
        grid, count = _further_grid(c, rest, widths)
        _table(flow, c, grid, c.words["batch.further"])
        rest = rest[count:]


# -- widths --------------------------------------------------------------------------


def _width(c: Sheet, n: int) -> float:
    """What a column needs: its cells, and each word of its head."""
    column = c.columns[n]
    cells = [line.cells[n] for line in c.lines]
    wide = [_cell_width(cell) for cell in cells]
    wide += [width(x, REGULAR, 8.5) for x in (column.largest, column.mean, column.smallest)]
    wide += [width(word, SEMIBOLD, 7) for word in column.name.split()]
    wide += [_broken(said, REGULAR) for said in (column.limits, column.note) if said]
    return min(max(wide), 40.0)


def _broken(said: str, font: str) -> float:
    """The least width in which a text stands on two lines, without a word in parts."""
    words = said.split(" ")
    parts = [" ".join(words[:n]) for n in range(1, len(words) + 1)]
    parts += [" ".join(words[n:]) for n in range(1, len(words))]
    ways = sorted(width(part, font, 7) + 0.05 for part in parts)
    for wide in ways:
        lines = wrap(said, font, 7, wide)
        if len(lines) <= 2 and " ".join(lines) == said:
            return wide
    return ways[-1]


def _cell_width(cell: Cell) -> float:
    plain = width(cell.text, SEMIBOLD, 8.5)
    return plain + (_MARKED if cell.verdict in _MARKS else 0)


_MARKS = ("neither shown", "does not conform", "refused")
"""Verdicts whose mark stands before a value."""


def _mark_width(c: Sheet) -> float:
    least, most = _MARK
    return min(max(least, *(width(line.mark, SEMIBOLD, 8.5) for line in c.lines)), most) + _GAP


def _first_grid(c: Sheet, widths: Sequence[float]) -> tuple[_Grid, int]:
    """Bar, as many columns as there is room for, and what was decided."""
    mark = _mark_width(c)
    report = max(width(line.report, REGULAR, 8.5) for line in c.lines)
    report = max(report, width(c.words["batch.report"], SEMIBOLD, 8))
    least, most = _WORD
    word = min(max(least, *(width(line.word, REGULAR, 7.5) for line in c.lines)), most)
    verdict = max(5.4 + word, width(c.words["batch.judged"], SEMIBOLD, 8))
    left = 0.0
    if c.has_life:
        left = max(width(c.words["batch.left"], SEMIBOLD, 8), 5.0) + _GAP
    barred = any(line.bar is not None for line in c.lines)
    room = LIVE - mark - left - verdict - _GAP - report - (_BAR[0] + _GAP if barred else 0.0)
    count = 0
    while count < len(widths) and widths[count] + _GAP <= room:
        room -= widths[count] + _GAP
        count += 1
    more = min(room, _BAR[1] - _BAR[0]) if barred else 0.0
    spread = (room - more) / max(count, 1)
    x = mark
    bar = None
    if barred:
        bar = (x, _BAR[0] + more)
        x += bar[1] + _GAP
    columns = []
    for n in range(count):
        x += widths[n] + spread
        columns.append((n, x))
        x += _GAP
    at = LIVE - report - _GAP - verdict
    left_at = at - _GAP if c.has_life else None
    return _Grid(mark, bar, tuple(columns), left_at, (at, verdict), LIVE), count


def _further_grid(c: Sheet, rest: Sequence[int], widths: Sequence[float]) -> tuple[_Grid, int]:
    mark = max(_mark_width(c), _SUMMED)
    x = mark
    columns: list[tuple[int, float]] = []
    for n in rest:
        wide = widths[n] + _GAP
        if columns and x + wide > LIVE:
            break
        x += wide
        columns.append((n, x - _GAP))
    spread = min((LIVE - x) / len(columns), 8.0)
    placed = tuple((n, at + spread * (k + 1)) for k, (n, at) in enumerate(columns))
    return _Grid(mark, None, placed, None, None, None), len(columns)


# -- rows ----------------------------------------------------------------------------


def _table(flow: Flow, c: Sheet, grid: _Grid, title: str) -> None:
    table = Element("Table")
    heads = [_head_of(c.columns[n], _room(grid, k)) for k, (n, _) in enumerate(grid.columns)]
    high = 2.4 + 3.1 * max([2 if grid.bar else 1, *(len(f) for f in heads)])
    lead = 4.6 if title else 0.0

    def head(pen: Pen, y: float) -> None:
        pen.rule(y)
        if title:
            pen.heading(LEFT, y + 4, title)
        with pen.tags.inside(table), pen.tags.inside("TR"):
            _heads(pen, c, grid, heads, y + lead)
        pen.line((LEFT, y + lead + high), (LEFT + LIVE, y + lead + high), 0.12, HAIR)

    def again(pen: Pen, y: float) -> None:
        pen.rule(y)
        with pen.tags.outside():
            _heads(pen, c, grid, heads, y)
        pen.line((LEFT, y + high), (LEFT + LIVE, y + high), 0.12, HAIR)

    if flow.room() < lead + high + 3 * ROW:
        flow.next()
    flow.place(lead + high, head)
    for n, line in enumerate(c.lines):
        # The sums stay with the last rows.
        last = n == len(c.lines) - 1
        if flow.room() < ROW + (_sums_height(c) if last else 0):
            flow.next()
            flow.place(high, again)
        flow.place(ROW, _line_drawer(c, line, grid, table, last=last))
    flow.place(_sums_height(c), lambda pen, y: _sums(pen, c, grid, table, y))
    flow.y += 4


def _room(grid: _Grid, k: int) -> float:
    """Width of the kth column of a table."""
    start = grid.columns[k - 1][1] if k else (sum(grid.bar) if grid.bar else grid.mark - _GAP)
    return grid.columns[k][1] - start - _GAP


def _head_of(column: Column, wide: float) -> list[tuple[Fit, bool]]:
    """The lines of a column's head: its name, then smaller its limits and which edge."""
    name = fit(column.name, wide, 8, SEMIBOLD, 3, 7)
    found = [(Fit(name.font, name.size, (line,)), True) for line in name.lines]
    for text in (column.note, column.limits):
        if text:
            found += [(Fit(REGULAR, 7, (line,)), False) for line in wrap(text, REGULAR, 7, wide)]
    return found


def _heads(
    pen: Pen, c: Sheet, grid: _Grid, heads: Sequence[Sequence[tuple[Fit, bool]]], y: float
) -> None:
    w, cell = c.words, pen.tags.inside
    with cell("TH"):
        pen.text(LEFT, y + 4, w["batch.tool"], 8, SEMIBOLD)
    if grid.bar is not None:
        with cell("TH"):
            _axis(pen, c, grid.bar, y)
    for (_, right), lines in zip(grid.columns, heads, strict=True):
        with cell("TH"):
            for n, (found, strong) in enumerate(lines):
                colour = INK if strong else INK2
                base = y + 4 + 3.1 * n
                pen.text(
                    LEFT + right, base, found.lines[0], found.size, found.font, colour, "right"
                )
    for at, name, align in (
        (grid.left, "left", "right"),
        (grid.verdict[0] if grid.verdict else None, "judged", "left"),
        (grid.report, "report", "right"),
    ):
        if at is not None:
            with cell("TH"):
                pen.text(LEFT + at, y + 4, w[f"batch.{name}"], 8, SEMIBOLD, align=align)


def _axis(pen: Pen, c: Sheet, bar: tuple[float, float], y: float) -> None:
    """Over the bars: what they show, and the limits where they stand."""
    left, wide = bar
    name, lower, upper = c.axis
    pen.fitted(LEFT + left + wide / 2, y + 4, name, wide, 8, SEMIBOLD, align="middle")
    example = next((line.bar for line in c.lines if line.bar is not None), None)
    if example is None:
        return
    scale = bars.scale(example, LEFT + left, wide)
    for limit, text in ((example.lower, lower), (example.upper, upper)):
        if limit is not None and text:
            pen.text(scale.at(limit), y + 7.1, text, 7, REGULAR, INK2, "middle")


def _line_drawer(
    c: Sheet, line: Line, grid: _Grid, table: Element, *, last: bool
) -> Callable[[Pen, float], None]:
    def draw(pen: Pen, y: float) -> None:
        with pen.tags.inside(table), pen.tags.inside("TR"):
            _line(pen, c, line, grid, y)
        if not last:
            pen.line((LEFT, y + ROW), (LEFT + LIVE, y + ROW), 0.12, HAIR)
        if grid.bar is not None and line.bar is not None:
            left, wide = grid.bar
            _range(pen, line.bar, LEFT + left, y + ROW / 2, wide)

    return draw


def _line(pen: Pen, c: Sheet, line: Line, grid: _Grid, y: float) -> None:
    base, cell = y + 4, pen.tags.inside
    with cell(Element("TH", rows=1)):
        _two(pen, LEFT, base, line.mark, grid.mark - _GAP, 8.5, SEMIBOLD)
    if grid.bar is not None:
        with cell("TD"):
            pass
    for k, (n, right) in enumerate(grid.columns):
        with cell("TD"):
            look = _looks(line, c.columns[n])
            _cell(pen, line.cells[n], look, LEFT + right, base, _room(grid, k))
    if grid.left is not None:
        with cell("TD"):
            pen.text(LEFT + grid.left, base, line.left, 8.5, SEMIBOLD, align="right")
    if grid.verdict is None or grid.report is None:
        return
    at, wide = grid.verdict
    pen.mark(line.verdict, LEFT + at, y + 1.2, 3.5, under=line.under)
    with cell("TD"):
        _two(pen, LEFT + at + 5.4, base, line.word, wide - 5.4)
    with cell("TD"):
        pen.text(LEFT + grid.report, base, line.report, 8.5, align="right")


def _two(
    pen: Pen, x: float, base: float, said: str, room: float, size: float = 7.5, font: str = REGULAR
) -> None:
    """A word, over two lines where it is long."""
    up = 1.3 if len(fit(said, room, size, font, 2, 7).lines) > 1 else 0
    pen.fitted(x, base - up, said, room, size, font, INK, 2, 2.5, wrapped=7)


def _looks(line: Line, column: Column) -> tuple[str, Color]:
    """Cut and colour of a plain value: one for the machine is blue where it may be typed in."""
    if not line.given_out:
        return REGULAR, INK2
    return (SEMIBOLD, MEASURED) if column.offset else (REGULAR, INK)


def _cell(
    pen: Pen, cell: Cell, look: tuple[str, Color], right: float, base: float, room: float
) -> None:
    """A value; one that isn't shown to conform bears its mark."""
    marked = cell.verdict in _MARKS
    font, colour = (SEMIBOLD, OF_VERDICT.get(cell.verdict, INK2)) if marked else look
    pen.fitted(right, base, cell.text, room, 8.5, font, colour, align="right")
    if marked:
        wide = min(width(cell.text, font, 8.5), room)
        pen.value_mark(cell.verdict, right - wide - 1.7, base - 1.05, 0.85)


def _range(pen: Pen, bar: Bar, left: float, middle: float, wide: float) -> None:
    """From the lowest edge to the highest; the end that isn't shown to conform bears its mark."""
    s = bars.scale(bar, left, wide)
    bars.limits(pen, bar, s, middle, ROW)
    colour = OF_VERDICT.get(bar.verdict, INK2)
    a, b = s.clipped(bar.low), s.clipped(bar.high)
    if b - a < 1.2:
        middle_of = (a + b) / 2
        a, b = middle_of - 0.6, middle_of + 0.6
    pen.line((a, middle), (b, middle), 1.7, WHITE)
    pen.line((a, middle), (b, middle), 1.0, colour)
    if bar.verdict not in OF_VERDICT or bar.verdict == "conforms":
        return
    over = bar.upper is not None and (
        bar.lower is None or bar.high - bar.upper > bar.lower - bar.low
    )
    value = bar.high if over else bar.low
    if s.inside(value):
        pen.value_mark(bar.verdict, s.at(value), middle, 0.95)
    else:
        way = -1 if over else 1
        end = s.clipped(value)
        pen.path(
            [(end + way * 1.3, middle - 1.1), (end, middle), (end + way * 1.3, middle + 1.1)],
            0.45,
            colour,
        )


# -- sums ----------------------------------------------------------------------------


def _sums_height(c: Sheet) -> float:
    return (3 if any(c.summed) else 1) * SUM + 1.2


def _sums(pen: Pen, c: Sheet, grid: _Grid, table: Element, y: float) -> None:
    """Largest, mean and smallest of what was released; a verdict has none of them."""
    pen.rule(y)
    if not any(c.summed):
        pen.text(LEFT, y + 3.8, c.words["batch.too_few_released"], 7.5, REGULAR, INK2)
        return
    start = grid.columns[0][1] - _room(grid, 0) if grid.columns else LIVE

    def blank(there: object) -> None:
        if there is not None:
            with pen.tags.inside("TD"):
                pass

    for n, name in enumerate(c.summed):
        base = y + 3.8 + SUM * n
        with pen.tags.inside(table), pen.tags.inside("TR"):
            with pen.tags.inside(Element("TH", rows=1)):
                pen.fitted(LEFT, base, name, start - _GAP, 8, REGULAR, INK2)
            blank(grid.bar)
            for k, (number, right) in enumerate(grid.columns):
                column = c.columns[number]
                said = (column.largest, column.mean, column.smallest)[n] or "–"
                with pen.tags.inside("TD"):
                    pen.fitted(
                        LEFT + right, base, said, _room(grid, k), 8.5, colour=INK2, align="right"
                    )
            blank(grid.left)
            if grid.verdict is not None:
                with pen.tags.inside("TD"):
                    if n == 1:
                        not_averaged = c.words["batch.not_averaged"]
                        pen.text(LEFT + grid.verdict[0], base, not_averaged, 7, REGULAR, INK2)
            blank(grid.report)
