"""The layout "letter-1": where it was measured. The sketch, and the list of features beside it."""

from __future__ import annotations

from reportlab.lib.colors import Color

from inspect_rec.report.content import Content, Feature
from report_templates import sketches
from report_templates.lettering import CONDENSED, REGULAR, SEMIBOLD, fit, width
from report_templates.pen import HAIR, INK, INK2, OF_VERDICT, Pen
from report_templates.sheet import COLUMN, HALF, LEFT, PAPERS
from report_templates.tags import Element


def draw(pen: Pen, c: Content, y: float) -> None:
    """Both halves of the block, its rule at ``y``."""
    pen.rule(y)
    pen.heading(LEFT, y + 4, c.words["page.where"])
    pen.text(LEFT + HALF, y + 4, c.words["page.not_to_scale"], 7, REGULAR, INK2, "right")
    with pen.tags.inside("P"):
        # Where the gap is narrow, the number under an end view would touch the next rule.
        sketches.draw(pen, c, LEFT, y + (8.5 if PAPERS[c.paper].gap > 6 else 7.1))
    with pen.tags.inside("Table"):
        end = _features(pen, c, y)
    if c.features_more:
        pen.text(COLUMN[2] + 6, end + 3.4, c.features_more, 7, REGULAR, INK2)


def _features(pen: Pen, c: Content, y: float) -> float:
    """The list of features beside the sketch, with the sketch's numbers; gives its end."""
    x = COLUMN[2]
    with pen.tags.inside("TR"):
        for at, key, align in (
            (6.0, "page.feature", "left"),
            (57.5, "page.measured_mm", "right"),
            (60.5, "page.limits", "left"),
        ):
            with pen.tags.inside("TH"):
                pen.text(x + at, y + 4, c.words[key], 8, SEMIBOLD, align=align)
    tall = [max(len(f.values), len(f.limits), 1) > 1 for f in c.features]
    room = 51.0 - (3.6 if c.features_more else 0)
    pitch = min(10.2, room / max(len(c.features), 1))
    top = y + 5.8
    for f, double in zip(c.features, tall, strict=True):
        pen.line((x, top), (x + HALF, top), 0.12, HAIR)
        with pen.tags.inside("TR"):
            _feature(pen, f, x, top, pitch, c.words["page.to"], double=double)
        top += pitch
    pen.line((x, top), (x + HALF, top), 0.12, HAIR)
    return top


def _feature(
    pen: Pen, f: Feature, x: float, top: float, pitch: float, to: str, *, double: bool
) -> None:
    """One line of the list; values and limits in two lines where there is a range."""
    middle = top + pitch / 2
    with pen.tags.inside(Element("TH", rows=1)):
        pen.number(f.number, x + 2, middle)
        _feature_name(pen, f, x, middle, roomy=pitch >= 7.6)
    roomy = pitch >= 7.6
    colour = OF_VERDICT.get(f.verdict, INK2)
    size = 8.5 if pitch >= 5.4 else 7.5
    gap = 3.9 if roomy else 2.6
    if double and not roomy:
        size = 7.0
    with pen.tags.inside("TD"):
        start = middle + 1.1 - (gap / 2 if len(f.values) > 1 else 0)
        for n, value in enumerate(f.values):
            base = start + gap * n
            if not any(map(str.isdigit, value)):
                pen.fitted(x + 58.5, base, value, 18, size, REGULAR, INK2, align="right")
                continue
            _decimal(pen, x + 48.6, base, value, to if n else "", size, colour)
    with pen.tags.inside("TD"):
        start = middle + 1.1 - (gap / 2 if len(f.limits) > 1 else 0)
        for n, limit in enumerate(f.limits):
            pen.fitted(x + 60.5, start + gap * n, limit, 20.5, size)
    pen.mark(f.verdict, x + HALF - 3.5, middle - 1.75, 3.5, under=f.under)


def _feature_name(pen: Pen, f: Feature, x: float, middle: float, *, roomy: bool) -> None:
    name = fit(f.name, 34, 8.5, lines=2, wrapped=7)
    if len(name.lines) > 1:
        pen.fitted(x + 6, middle - 0.3, f.name, 34, 8.5, REGULAR, INK, 2, 2.6, wrapped=7)
    elif roomy:
        pen.fitted(x + 6, middle - 0.4, f.name, 34)
        detail = _short(f.detail, 34, CONDENSED)
        pen.fitted(x + 6, middle + 3, detail, 34, 7, REGULAR, INK2)
    else:
        pen.fitted(x + 6, middle + 1.1, f.name, 34)
        wide = width(name.lines[0], name.font, name.size) + 1.5
        detail = _short(f.detail, 34 - wide, REGULAR)
        pen.text(x + 6 + wide, middle + 1.1, detail, 7, REGULAR, INK2)


def _short(detail: str, room: float, font: str) -> str:
    """As many of the parts between commas as fit; page 2 has them all."""
    parts = detail.split(", ")
    while parts and width(", ".join(parts), font, 7) > room:
        parts.pop()
    return ", ".join(parts)


def _decimal(
    pen: Pen, x: float, y: float, figure: str, before: str, size: float, colour: Color
) -> None:
    """A figure with its decimal sign at ``x``; a word before it stays in regular grey."""
    left = x - pen.before_decimal(figure, size, SEMIBOLD)
    if before:
        pen.text(left - 1, y, before, 7, REGULAR, INK2, "right")
    pen.text(left, y, figure, size, SEMIBOLD, colour)
