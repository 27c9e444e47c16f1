"""The layout "letter-1": the pages after the first. Profiles, paragraphs, equipment, end.

Blocks are placed one under the other; a page that is full is closed, heads repeat, and nothing
is cut.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from inspect_rec.report.content import Content, Profile, Profiles, Text
from report_templates import contour, graphs, letter_table, pictures, table
from report_templates.flow import Draw, Flow
from report_templates.lettering import REGULAR, SEMIBOLD, width, wrap
from report_templates.pen import HAIR, INK2, LINE, MEASURED, Pen
from report_templates.sheet import HALF, LEFT, LIVE, PAPERS

END = 5.5
"""Height of the mark after which nothing follows, mm."""


def paginate(content: Content, left_out: Sequence[str] = ()) -> list[list[Draw]]:
    """What stands on each page after the first; first of all what page 1 had no room for."""
    flow = Flow(bottom=PAPERS[content.paper].bottom)
    if left_out:
        texts(flow, ((Text(content.words["page.in_full"], tuple(left_out)), LIVE),))
    letter_table.draw(flow, content)
    flow.y += 1.5
    blocks = _blocks(flow, content)
    for name in (*content.order, *(name for name in blocks if name not in content.order)):
        blocks[name]()
    flow.close(END, lambda pen, y: end(pen, content.words["page.end"], y))
    return flow.pages


def _blocks(flow: Flow, c: Content) -> dict[str, Callable[[], None]]:
    """What stands below the table, by name, in the usual order. The table isn't among them: page 1
    says of it that it is on page 2."""
    rule, conditions, inout, method, struck, supplied, statements, *more = c.texts

    def profiles() -> None:
        for each in c.profiles:
            _profiles(flow, c, each)

    def amendment() -> None:
        if c.amendment is not None:
            texts(flow, ((c.amendment, LIVE),))

    def earlier() -> None:
        if c.earlier is not None:
            table.draw(flow, c.earlier)

    def own() -> None:
        for n in range(0, len(c.own), 2):
            texts(flow, tuple((text, HALF) for text in c.own[n : n + 2]))

    return {
        "profiles": profiles,
        "pictures": lambda: pictures.block(flow, c.pictures, c.words),
        "amendment": amendment,
        "rule": lambda: texts(flow, ((rule, HALF), (conditions, 41.0), (inout, 41.0))),
        "equipment": lambda: table.draw(flow, c.equipment),
        "earlier": earlier,
        "method": lambda: texts(flow, ((method, HALF), (struck, 41.0), (statements, 41.0))),
        "supplied": lambda: texts(flow, ((supplied, HALF), *((m, HALF) for m in more))),
        "own statements": own,
    }


# -- profiles --------------------------------------------------------------------


def _profiles(flow: Flow, c: Content, p: Profiles) -> None:
    if p.contour:
        flow.place(contour.height(p) + 12, lambda pen, y: _contour(pen, c, p, y))
    edges = _that_matter(p.edges)
    for n in range(0, len(edges), 4):
        row = edges[n : n + 4]
        flow.place(34.5, _profile_row(row))
    lines = wrap(p.caption, REGULAR, 7, LIVE)
    flow.place(2.8 + 3.2 * len(lines), lambda pen, y: _caption(pen, lines, y))


def _that_matter(edges: Sequence[Profile]) -> Sequence[Profile]:
    """Up to eight edges; of more the four that matter: first, lowest, highest, largest form."""
    if len(edges) <= 8:
        return edges

    def mean(p: Profile) -> float:
        return sum(v for _, v in p.points) / len(p.points)

    def form(p: Profile) -> float:
        return max(v for _, v in p.points) - min(v for _, v in p.points)

    ways: tuple[Callable[[Profile], float], ...] = (
        lambda p: -edges.index(p),
        lambda p: -mean(p),
        mean,
        form,
    )
    chosen: list[int] = []
    for way in ways:
        order = sorted(range(len(edges)), key=lambda n: way(edges[n]), reverse=True)
        chosen.append(next(n for n in order if n not in chosen))
    return [edges[n] for n in sorted(chosen)]


def _caption(pen: Pen, lines: Sequence[str], y: float) -> None:
    with pen.leaf():
        for n, line in enumerate(lines):
            pen.text(LEFT, y + 2.4 + 3.2 * n, line, 7, REGULAR, INK2)


def _profile_row(row: Sequence[Profile]) -> Callable[[Pen, float], None]:
    def draw(pen: Pen, y: float) -> None:
        for k, one in enumerate(row):
            graphs.profile(pen, one, LEFT + 45 * k, y)

    return draw


def _contour(pen: Pen, c: Content, p: Profiles, y: float) -> None:
    pen.rule(y)
    pen.number(p.number, LEFT + 2, y + 3.6)
    pen.fitted(LEFT + 6, y + 4.6, p.title, LIVE - 6, 10, SEMIBOLD)
    pen.fitted(LEFT + 6, y + 8.8, p.subtitle, 127, 7, REGULAR, INK2)
    with pen.tags.inside("P"):
        contour.draw(pen, p, LEFT, y + 12, c.words)
    x, top = LEFT + 135, y + 8
    for one in _that_matter(p.edges):
        pen.line((x, top), (LEFT + LIVE, top), 0.12, HAIR)
        pen.text(x, top + 4, one.title, 8, SEMIBOLD if one.decides else REGULAR)
        pen.text(LEFT + LIVE, top + 4, one.value, 8, SEMIBOLD, MEASURED, "right")
        top += 6
    pen.line((x, top), (LEFT + LIVE, top), 0.12, HAIR)


# -- paragraphs and tables -------------------------------------------------------


_BETWEEN = 0.9
"""Air between two paragraphs, mm."""


def texts(flow: Flow, blocks: Sequence[tuple[Text, float]]) -> None:
    """Paragraphs side by side; one that is longer than what is left goes on below by itself."""
    high = max(_height(text, wide) for text, wide in blocks) + 4
    if high > flow.whole:
        for text, _ in blocks:
            _long(flow, text)
        return

    def draw(pen: Pen, y: float) -> None:
        x = LEFT
        for text, wide in blocks:
            pen.rule(y, x, wide)
            pen.heading(x, y + 4, text.heading, wide=wide)
            base = y + 8
            for paragraph in text.paragraphs:
                base = pen.paragraph(x, base, paragraph, wide) + _BETWEEN
            x += wide + 4

    flow.place(high, draw)


def _height(text: Text, wide: float) -> float:
    lines = sum(len(wrap(p, REGULAR, 7.5, wide)) for p in text.paragraphs)
    return 8 + 3.4 * lines + _BETWEEN * (len(text.paragraphs) - 1)


def _long(flow: Flow, text: Text) -> None:
    def heading(pen: Pen, y: float) -> None:
        pen.rule(y)
        pen.heading(LEFT, y + 4, text.heading)

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


def end(pen: Pen, said: str, y: float) -> None:
    """The mark after which nothing follows."""
    half = width(said, REGULAR, 7) / 2 + 6
    middle = LEFT + LIVE / 2
    pen.line((LEFT, y + 4), (middle - half, y + 4), 0.12, LINE)
    pen.text(middle, y + 4.9, said, 7, REGULAR, INK2, "middle")
    pen.line((middle + half, y + 4), (LEFT + LIVE, y + 4), 0.12, LINE)
