"""What a drawing of a form has below it: a bar for each of its two scales, and its axes."""

from __future__ import annotations

from collections.abc import Mapping

from report_templates.forms import Laid
from report_templates.lettering import REGULAR, SEMIBOLD
from report_templates.pen import INK2, Pen


def _figure(scale: float, words: Mapping[str, str]) -> str:
    return f"{scale:.10g}".replace(".", words["figures.decimal"])


def bar(scale: float, usual: float) -> float:
    """The length that a scale bar stands for, mm: the usual one where it is 4 to 24 long on paper,
    otherwise the largest of 1, 2, 5 times a power of ten that is at most 12 long."""
    if 4 <= usual * scale <= 24:
        return usual
    steps = [n * 10.0**k for k in range(-7, 6) for n in (1, 2, 5)]
    return max(s for s in steps if s * scale <= 12)


def scale_bars(pen: Pen, laid: Laid, left: float, y: float, words: Mapping[str, str]) -> None:
    """A bar for each of the two scales, and where x and y lead where they are those of slides."""
    x = left + 14.0
    if laid.form.axes:
        _axes(pen, laid, left + 3, y)
    form, deviation = bar(laid.scale, 1.0), bar(laid.times, 0.01)
    for long, bold, said in (
        (
            form * laid.scale,
            f"{_figure(form, words)} mm",
            words["page.form_scale"].format(scale=_figure(laid.scale, words)),
        ),
        (
            deviation * laid.times,
            f"{_figure(deviation * 1000, words)} µm",
            words["page.deviation_scale"].format(scale=_figure(laid.times, words)),
        ),
    ):
        pen.line((x, y), (x + long, y), 0.35)
        for end in (x, x + long):
            pen.line((end, y - 0.8), (end, y + 0.8), 0.35)
        x += long + 2
        x += pen.text(x, y + 0.9, bold, 7, SEMIBOLD) + 1.5
        x += pen.text(x, y + 0.9, said, 7, REGULAR, INK2) + 8


def _axes(pen: Pen, laid: Laid, x: float, y: float) -> None:
    """Two arrows from one corner: to the right and up, or up and to the left."""
    first, second = laid.form.axes
    right, up = (second, first) if laid.turned else (first, second)
    corner = (x + (5.0 if laid.turned else 0.0), y + 1.0)
    way = -1 if laid.turned else 1
    for end, wings in (
        ((corner[0] + 5 * way, corner[1]), ((-1.2 * way, -0.5), (-1.2 * way, 0.5))),
        ((corner[0], corner[1] - 5), ((-0.5, 1.2), (0.5, 1.2))),
    ):
        pen.line(corner, end, 0.15, INK2)
        pen.path(
            [
                (end[0] + wings[0][0], end[1] + wings[0][1]),
                end,
                (end[0] + wings[1][0], end[1] + wings[1][1]),
            ],
            0.15,
            INK2,
        )
    pen.text(corner[0] + 3.0 * way, corner[1] - 0.8, right, 7, REGULAR, INK2, "middle")
    pen.text(corner[0] - 1.8 * way, corner[1] - 3.4, up, 7, REGULAR, INK2, "middle")
