"""The layout "batch-1" of a batch sheet: counts, the tools against each other, wear, every report.

Sizes in mm from the top left. Page 1 ends with the signature, as that of a report; the rest flows
on, heads repeat, and nothing is cut.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from inspect_rec.report.batch_content import Count, Named, Sheet
from inspect_rec.report.content import Text, mapped
from report_templates import batch_table, batch_trend, letter, letter_pages
from report_templates.flow import Draw, Flow
from report_templates.lettering import REGULAR, SEMIBOLD, fit, printable
from report_templates.pen import HAIR, INK, INK2, Nowhere, Pen
from report_templates.sheet import HALF, LEFT, LIVE, PAPERS, THIRD
from report_templates.tags import Element, Tags

NAME = "batch-1"
_GROUP = 13.6
"""Height of a row of counts."""


@dataclass
class _Pages(Flow):
    """Pages of which the first ends where the signatures begin."""

    later: float = 0.0

    def next(self) -> None:
        """A new page."""
        super().next()
        self.bottom = self.later


def draw(canvas: Canvas, content: Sheet) -> Element:
    """All pages; gives the structure of their text."""
    content = mapped(content, printable)
    high = PAPERS[content.paper].high
    trial = Pen(Nowhere(), high, content.words["batch.see"])
    _put(trial, content, _paginated(content, ()))
    plan = _paginated(content, tuple(dict.fromkeys(trial.left_out)))
    pen = Pen(canvas, high, content.words["batch.see"], Tags())
    _put(pen, content, plan)
    return pen.tags.root


def _put(pen: Pen, c: Sheet, plan: Sequence[Sequence[Draw]]) -> None:
    for number, page in enumerate(plan, 1):
        letter.frame(pen, c, number, len(plan))
        for block in page:
            block(pen)
        if number == 1:
            for n, signature in enumerate(c.signatures):
                letter.signature(pen, signature, LEFT + n * (THIRD + 4), PAPERS[c.paper].sign_top)
        pen.turn()


def _paginated(c: Sheet, left_out: Sequence[str]) -> list[list[Draw]]:
    """What stands on each page; last of all what had no room in its place."""
    paper = PAPERS[c.paper]
    flow = _Pages(bottom=paper.sign_top - 3, later=paper.bottom)
    flow.place(29, lambda pen, y: _batch(pen, c, y))
    _counts(flow, c)
    batch_table.draw(flow, c)
    batch_trend.draw(flow, c)
    letter_pages.texts(flow, ((c.exceptions, LIVE),))
    _reports(flow, c)
    letter_pages.texts(flow, tuple((text, HALF) for text in c.texts))
    if left_out:
        letter_pages.texts(flow, ((Text(c.words["batch.in_full"], tuple(left_out)), LIVE),))
    flow.close(letter_pages.END, lambda pen, y: letter_pages.end(pen, c.words["batch.end"], y))
    return flow.pages


# -- page 1 --------------------------------------------------------------------------


def _batch(pen: Pen, c: Sheet, y: float) -> None:
    letter.subject(pen, y, c.words["batch.batch"], c.heading, c.tool, c.facts)


def _counts(flow: Flow, c: Sheet) -> None:
    """Three groups side by side, each a mark, a number and a word."""
    flow.place(2, lambda pen, y: pen.rule(y))
    for n in range(0, len(c.counts), 3):
        flow.place(_GROUP, _count_drawer(c.counts[n : n + 3]))
    flow.y += 1.5


def _count_drawer(groups: Sequence[Count]) -> Callable[[Pen, float], None]:
    def draw(pen: Pen, y: float) -> None:
        for n, group in enumerate(groups):
            x = LEFT + n * (THIRD + 4)
            pen.mark(group.verdict, x, y + 1.4, 8, under=group.under)
            with pen.tags.inside("P"):
                x += 10.5
                x += pen.text(x, y + 8.2, group.number, 22, SEMIBOLD) + 2
                room = LEFT + n * (THIRD + 4) + THIRD - x
                pen.fitted(x, y + 4.8, group.word, room, 11, SEMIBOLD)
                pen.fitted(x, y + 8.4, group.note, room, 7, REGULAR, INK2, 2, 2.9, wrapped=7)

    return draw


# -- the reports ---------------------------------------------------------------------

_PLACES = (0.0, 16.5, 24.0, 47.5, 68.5, 87.9)
"""Number, revision, tool, decision, day, digest."""
_ROW, _LINE = 4.2, 2.9


def _reports(flow: Flow, c: Sheet) -> None:
    """Every report with its digest, whole: paper can be compared with the file, too."""
    table = Element("Table")

    def head(pen: Pen, y: float) -> None:
        pen.rule(y)
        pen.heading(LEFT, y + 4, c.words["batch.reports"])
        with pen.tags.inside(table), pen.tags.inside("TR"):
            _heads(pen, c, y + 4.4)

    def again(pen: Pen, y: float) -> None:
        with pen.tags.outside():
            pen.rule(y)
            _heads(pen, c, y)

    rows = [_report(report, table) for report in c.reports]
    if flow.room() < 11 + sum(high for high, _ in rows[:3]):
        flow.next()
    flow.place(11, head)
    for high, row in rows:
        if high > flow.room():
            flow.next()
            flow.place(6.4, again)
        flow.place(high, row)
    flow.y += 4


def _heads(pen: Pen, c: Sheet, y: float) -> None:
    names = ("report", "revision", "tool", "decision", "day", "sha")
    for n, (x, name) in enumerate(zip(_PLACES, names, strict=True)):
        with pen.tags.inside("TH"):
            room = _room(n)
            pen.fitted(LEFT + x, y + 4, c.words[f"batch.{name}"], room, 7.5, SEMIBOLD)
    pen.line((LEFT, y + 5.6), (LEFT + LIVE, y + 5.6), 0.12, HAIR)


def _room(n: int) -> float:
    end = _PLACES[n + 1] - 1.5 if n + 1 < len(_PLACES) else LIVE
    return end - _PLACES[n]


def _report(report: Named, table: Element) -> tuple[float, Callable[[Pen, float], None]]:
    digest = report.digest or "–"
    said = (report.number, report.revision, report.mark, report.decision, report.day, digest)
    font = SEMIBOLD if report.in_force else REGULAR
    fonts = (font, REGULAR, REGULAR, REGULAR, REGULAR, REGULAR)
    sizes = (7.5, 7.5, 7.5, 7.5, 7.5, 6.5)
    fits = [
        fit(text, _room(n), size, own, 3, 7)
        for n, (text, own, size) in enumerate(zip(said, fonts, sizes, strict=True))
    ]
    high = _ROW + _LINE * (max(len(f.lines) for f in fits) - 1)

    def draw(pen: Pen, y: float) -> None:
        with pen.tags.inside(table), pen.tags.inside("TR"):
            for n, (text, own, size) in enumerate(zip(said, fonts, sizes, strict=True)):
                with pen.tags.inside("TD"):
                    colour = INK if n == 0 or report.in_force else INK2
                    pen.fitted(
                        LEFT + _PLACES[n],
                        y + 3,
                        text,
                        _room(n),
                        size,
                        own,
                        colour,
                        3,
                        _LINE,
                        wrapped=7,
                    )
        pen.line((LEFT, y + high), (LEFT + LIVE, y + high), 0.12, HAIR)

    return high, draw
