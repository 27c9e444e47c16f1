"""The layout "letter-1": the pages after the first. Profiles, paragraphs, equipment, end.

Blocks are placed one under the other; a page that is full is closed, heads repeat, and nothing
is cut.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from inspect_rec.report.content import Content, Text
from report_templates import letter_profiles, letter_table, pictures, table
from report_templates.flow import Draw, Flow
from report_templates.lettering import REGULAR, width, wrap
from report_templates.pen import INK2, LINE, Pen
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
            letter_profiles.profiles(flow, c, each)

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
