"""What sketches share: numbers with their leaders, helix, shank, end view, length lines."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

from inspect_rec.report.content import Content
from report_templates.lettering import REGULAR, SEMIBOLD
from report_templates.pen import INK, INK2, LINE, Pen, Point

Numbers = Mapping[str, int]
"""Characteristic of the kind's catalogue -> its number; one that isn't there isn't numbered."""

MOST_EDGES = 8
"""So many edges are drawn true; of more the number is said."""


def numbered(numbers: Numbers, places: Mapping[str, Callable[[int], None]]) -> None:
    """Each place's number, where the report has that characteristic."""
    for name, place in places.items():
        if name in numbers:
            place(numbers[name])


def seen(pen: Pen, content: Content, x: float, y: float, word: str = "page.seen") -> None:
    """From where the end view is seen, and which edge is the first."""
    edge = content.edges_word
    said = edge if content.edges <= MOST_EDGES else f"{content.edges} {edge}"
    for n, line in enumerate(content.words[word].format(edge_word=said).split("|")):
        pen.text(x, y + 3.2 * n, line, 7, REGULAR, INK2)


def balloon(pen: Pen, n: int | Sequence[int], at: Point, to: Point) -> None:
    """A number (or two side by side) with its leader to a dot on the feature."""
    numbers = [n] if isinstance(n, int) else list(n)
    dx, dy = to[0] - at[0], to[1] - at[1]
    far = math.hypot(dx, dy) or 1.0
    pen.line((at[0] + 2.0 * dx / far, at[1] + 2.0 * dy / far), to, 0.15, INK2)
    pen.disc(*to, 0.45, INK)
    for k, number in enumerate(numbers):
        pen.number(number, at[0] + 4.6 * k, at[1])


def axis(pen: Pen, x0: float, x1: float, y: float) -> None:
    """The tool's axis, dash-dot."""
    pen.line((x0, y), (x1, y), 0.12, LINE, (3, 0.8, 0.4, 0.8))


def arc(centre: Point, r: float, first_deg: float, last_deg: float, steps: int = 24) -> list[Point]:
    """Points of an arc, angles from the right, upward positive."""
    return [
        (centre[0] + r * math.cos(a), centre[1] - r * math.sin(a))
        for k in range(steps + 1)
        for a in (math.radians(first_deg + (last_deg - first_deg) * k / steps),)
    ]


def shank(pen: Pen, x0: float, x1: float, y: float, r: float) -> None:
    """A shank that is cut short: outline, break lines, end."""
    cut = (x0 + x1) / 2
    for side in (-1, 1):
        pen.line((x0, y + side * r), (cut - 1, y + side * r))
        pen.line((cut + 1, y + side * r), (x1 - 0.7, y + side * r))
        pen.line((x1 - 0.7, y + side * r), (x1, y + side * (r - 0.7)))
    pen.line((x1, y - r + 0.7), (x1, y + r - 0.7))
    for shift in (-1, 1):
        wave = [
            (cut + shift + 0.7 * math.sin(2 * math.pi * t / 12), y - r + 2 * r * t / 12)
            for t in range(13)
        ]
        pen.path(wave, 0.2)


def helix(
    pen: Pen,
    r_at: Callable[[float], float],
    x0: float,
    x1: float,
    y: float,
    edges: int,
    hand: str,
    lead: float,
) -> None:
    """Edges (0.3) with the end of their lands (0.13) on the front half, y = r(x) sin(2 pi x / lead
    + phase); a left hand is mirrored, straight flutes are straight."""
    turn = {"left": -1.0, "none": 0.0}.get(hand, 1.0)
    steps = 90
    for edge in range(edges):
        for phase, thick in ((0.0, 0.3), (0.35, 0.13)):
            run: list[Point] = []
            for k in range(steps + 1):
                x = x0 + (x1 - x0) * k / steps
                angle = turn * 2 * math.pi * (x - x0) / lead + 2 * math.pi * edge / edges + phase
                if math.cos(angle) >= 0:
                    run.append((x, y - r_at(x) * math.sin(angle)))
                    continue
                _drawn(pen, run, thick)
                run = []
            _drawn(pen, run, thick)


def _drawn(pen: Pen, run: Sequence[Point], thick: float) -> None:
    if len(run) > 1:
        pen.path(run, thick)


def end_view(pen: Pen, cx: float, cy: float, r: float, edges: int, first_deg: float = 90) -> None:
    """Seen from the tip: edges in cutting order, 1 first; true number of edges up to 8."""
    pen.disc(cx, cy, r, None, 0.12, LINE)
    if edges == 1:
        # A single lip is half a cylinder, its face through the axis, a little relieved behind.
        behind = [
            (cx + 0.96 * (x - cx), cy + 0.96 * (y - cy)) for x, y in arc((cx, cy), r, 112, 270)
        ]
        pen.path([(cx, cy - r), *arc((cx, cy), r, 90, 105, 4), *behind], 0.3, closed=True)
        pen.text(cx, cy - r - 1.7, "1", 7.5, SEMIBOLD, align="middle")
        return
    shown = min(edges, MOST_EDGES)
    step = 2 * math.pi / shown
    for n in range(shown):
        a = math.radians(first_deg - 360 * n / shown)

        def at(share: float, turn: float, a: float = a) -> Point:
            return cx + r * share * math.cos(a + turn), cy - r * share * math.sin(a + turn)

        land = 0.28 * min(step, 1.6)
        outline = [at(0.12, 0), at(1, 0), at(0.97, land), at(0.66, 0.42 * step)]
        gullet = [at(0.45, 0.72 * step), at(0.4, 0.9 * step), at(0.52, step)]
        pen.path([*outline, *gullet], 0.3)
        x, y = at(1 + 2.6 / r, 0)
        pen.text(x, y + 0.9, str(n + 1), 7.5, SEMIBOLD, align="middle")


def length_line(pen: Pen, n: int, x0: float, x1: float, y: float) -> None:
    """A dimension line with its number on it."""
    pen.line((x0, y), (x1, y), 0.12, INK2)
    for tip, way in ((x0, 1), (x1, -1)):
        head = [(tip + way * 1.1, y - 0.4), (tip, y), (tip + way * 1.1, y + 0.4)]
        pen.path(head, 0, fill=INK2, closed=True)
        pen.line((tip, y - 5), (tip, y + 1), 0.12, INK2)
    pen.number(n, (x0 + x1) / 2, y)
