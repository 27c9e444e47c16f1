"""The layout "letter-1": profiles. All edges on the nominal form, then each laid flat."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from inspect_rec.report.content import Content
from inspect_rec.report.profile_content import Profile, Profiles
from report_templates import graphs
from report_templates.contour import Drawing
from report_templates.edge_marks import R, edge_mark
from report_templates.flow import Flow
from report_templates.lettering import REGULAR, SEMIBOLD, fit, width, wrap
from report_templates.pen import HAIR, INK2, MEASURED, OF_VERDICT, Pen
from report_templates.sheet import LEFT, LIVE

_SUBTITLE = 3.4
"""Between two lines of the subtitle, mm."""
_FACT = 6.0
"""Height of an edge in the list beside the drawing, mm."""
MOST = 8
"""So many edges are drawn; of more the four that matter."""


def profiles(flow: Flow, c: Content, p: Profiles) -> None:
    """The drawing, the small graphs, and what they show."""
    edges = that_matter(p.edges)
    drawing = Drawing(p, edges, c.words)
    found = fit(p.subtitle, LIVE - 6, 7, REGULAR, 2)
    head = 8.8 + _SUBTITLE * len(found.lines)
    flow.place(
        head + max(drawing.height, 4 + _FACT * len(edges)) + 3,
        lambda pen, y: _form(pen, p, drawing, y, head),
    )
    for n in range(0, len(edges), 4):
        flow.place(34.5, _row(p, edges[n : n + 4]))
    caption = p.caption
    if len(edges) < len(p.edges):
        of_many = c.words["form.of_many"]
        said = of_many.format(shown=len(edges), n=len(p.edges), edges=c.edges_word)
        caption = f"{caption} {said}"
    lines = wrap(caption, REGULAR, 7, LIVE)
    flow.place(2.8 + 3.2 * len(lines), lambda pen, y: _caption(pen, lines, y))


def that_matter(edges: Sequence[Profile]) -> Sequence[Profile]:
    """Up to eight edges; of more the four that matter: lowest, highest, largest form, and the one
    that decides, or the first where that one is among them."""
    if len(edges) <= MOST:
        return edges

    def mean(p: Profile) -> float:
        return sum(v for _, v in p.points) / len(p.points)

    def form(p: Profile) -> float:
        return max(v for _, v in p.points) - min(v for _, v in p.points)

    ways: tuple[Callable[[Profile], float], ...] = (lambda p: -mean(p), mean, form)
    chosen: list[int] = []
    for way in ways:
        order = sorted(range(len(edges)), key=lambda n: way(edges[n]), reverse=True)
        chosen.append(next(n for n in order if n not in chosen))
    first = sorted(range(len(edges)), key=lambda n: not edges[n].decides)
    chosen.append(next(n for n in (*first[:1], *range(len(edges))) if n not in chosen))
    return [edges[n] for n in sorted(chosen)]


def _form(pen: Pen, p: Profiles, drawing: Drawing, y: float, head: float) -> None:
    pen.rule(y)
    pen.number(p.number, LEFT + 2, y + 3.6)
    pen.fitted(LEFT + 6, y + 4.6, p.title, LIVE - 6, 10, SEMIBOLD)
    pen.fitted(LEFT + 6, y + 8.8, p.subtitle, LIVE - 6, 7, REGULAR, INK2, 2, _SUBTITLE)
    with pen.tags.inside("P"):
        drawing.draw(pen, LEFT, y + head)
    x, top = LEFT + 135, y + head
    for n, one in enumerate(drawing.edges):
        pen.line((x, top), (LEFT + LIVE, top), 0.12, HAIR)
        if one.decides:
            pen.disc(x + R, top + 3.1, 0.75, MEASURED)
        else:
            edge_mark(pen, n, x + R, top + 3.1)
        font = SEMIBOLD if one.decides else REGULAR
        room = LEFT + LIVE - x - 4.4 - width(one.title, font, 8)
        pen.text(x + 3.2, top + 4, one.title, 8, font)
        value, colour = fit(one.value, room, 8, SEMIBOLD), OF_VERDICT.get(one.verdict, INK2)
        pen.text(LEFT + LIVE, top + 4, one.value, value.size, value.font, colour, "right")
        top += _FACT
    pen.line((x, top), (LEFT + LIVE, top), 0.12, HAIR)


def _row(p: Profiles, row: Sequence[Profile]) -> Callable[[Pen, float], None]:
    def draw(pen: Pen, y: float) -> None:
        for k, one in enumerate(row):
            graphs.profile(pen, p.form, one, LEFT + 45 * k, y)

    return draw


def _caption(pen: Pen, lines: Sequence[str], y: float) -> None:
    with pen.leaf():
        for n, line in enumerate(lines):
            pen.text(LEFT, y + 2.4 + 3.2 * n, line, 7, REGULAR, INK2)
