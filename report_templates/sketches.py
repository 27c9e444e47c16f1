"""Line sketches of tools, not to scale: where each characteristic was measured.

Tip to the left, axis level; side view above, end view from the tip below, edge 1 on top. One
drawing a kind; a kind without one has its end view only.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from inspect_rec.report.content import Content
from report_templates.pen import INK, INK2, LINE, REGULAR, SEMIBOLD, WHITE, Pen, Point

Numbers = dict[str, int]
"""Characteristic of the kind's catalogue -> its number; one that isn't there isn't numbered."""


def draw(pen: Pen, content: Content, left: float, top: float) -> None:
    """The sketch of the content's kind in a field of 86 by 50 mm."""
    sketch = _KINDS.get(content.sketch)
    numbers = {f.id: f.number for f in content.features}
    if sketch is None:
        end_view(pen, left + 24, top + 24, 14, content.edges)
        pen.text(left + 48, top + 24, content.words["page.no_sketch"], 7, REGULAR, INK2)
        return
    sketch(pen, content, left, top, numbers)


def _seen(pen: Pen, content: Content, x: float, y: float) -> None:
    plural = {"flute": "flutes", "tooth": "teeth", "lip": "lips", "edge": "edges"}
    word = next(
        (p for s, p in plural.items() if content.graph and s == content.graph.edge_word), "edges"
    )
    for n, line in enumerate(content.words["page.seen"].format(edge_word=word).split("|")):
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


def _axis(pen: Pen, x0: float, x1: float, y: float) -> None:
    pen.line((x0, y), (x1, y), 0.12, LINE, (3, 0.8, 0.4, 0.8))


def _shank(pen: Pen, x0: float, x1: float, y: float, r: float) -> None:
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


def _helix(
    pen: Pen, r_at: Callable[[float], float], x0: float, x1: float, y: float, edges: int, hand: str
) -> None:
    """Edges and lands on the front half, y = r(x) sin(2 pi x / lead + phase)."""
    lead = 1.7 * (x1 - x0)
    turn = -1 if hand == "left" else 1
    for edge in range(edges):
        for phase, thick in ((0.0, 0.3), (0.35, 0.13)):
            run: list[Point] = []
            steps = 60
            for k in range(steps + 1):
                x = x0 + (x1 - x0) * k / steps
                angle = turn * 2 * math.pi * (x - x0) / lead + 2 * math.pi * edge / edges + phase
                if math.cos(angle) >= 0:
                    run.append((x, y - r_at(x) * math.sin(angle)))
                elif len(run) > 1:
                    pen.path(run, thick)
                    run = []
                else:
                    run = []
            if len(run) > 1:
                pen.path(run, thick)


def end_view(pen: Pen, cx: float, cy: float, r: float, edges: int, first_deg: float = 90) -> None:
    """Seen from the tip: edges in cutting order, 1 first; true number of edges up to 8."""
    pen.disc(cx, cy, r, None, 0.12, LINE)
    shown = min(edges, 8)
    for n in range(shown):
        a = math.radians(first_deg - 360 * n / shown)
        step = 2 * math.pi / shown

        def at(share: float, turn: float, a: float = a) -> Point:
            return cx + r * share * math.cos(a + turn), cy - r * share * math.sin(a + turn)

        pen.path(
            [
                at(0.12, 0),
                at(1, 0),
                at(0.97, 0.28 * min(step, 1.6)),
                at(0.62, 0.42 * step),
                at(0.3, 0.85 * step),
            ],
            0.3,
        )
        x, y = at(1 + 2.6 / r, 0)
        pen.text(x, y + 0.9, str(n + 1), 7.5, SEMIBOLD, align="middle")
    if edges > shown:
        pen.text(cx, cy + 0.9, f"{edges}", 7, REGULAR, INK2, "middle")


def length_line(pen: Pen, n: int, x0: float, x1: float, y: float) -> None:
    """A dimension line with its number on it."""
    pen.line((x0, y), (x1, y), 0.12, INK2)
    for tip, way in ((x0, 1), (x1, -1)):
        pen.path(
            [(tip + way * 1.1, y - 0.4), (tip, y), (tip + way * 1.1, y + 0.4)],
            0,
            fill=INK2,
            closed=True,
        )
        pen.line((tip, y - 5), (tip, y + 1), 0.12, INK2)
    pen.number(n, (x0 + x1) / 2, y)


def _land(pen: Pen, x: float, y: float, number: int) -> None:
    """A land behind its edge, with the clearance angle."""
    pen.path([(x - 3, y + 10), (x - 4, y + 5), (x, y), (x + 11, y + 2.2), (x + 14, y + 10)], 0.3)
    pen.line((x, y), (x + 16, y), 0.12, INK2, (0.8, 0.6))
    pen.path(
        [
            (x + 13 * math.cos(math.radians(a)), y + 13 * math.sin(math.radians(a)))
            for a in range(12)
        ],
        0.12,
        INK2,
    )
    pen.disc(x, y, 0.45, INK)
    balloon(pen, number, (x + 19.5, y + 2.4), (x + 13, y + 1.3))


def _ball_nose(pen: Pen, c: Content, left: float, top: float, n: Numbers) -> None:
    y, r, x0 = top + 12.0, 9.0, left + 6.0
    ball = [
        (x0 + r - r * math.cos(math.radians(a)), y - r * math.sin(math.radians(a)))
        for a in range(-90, 91, 3)
    ]
    end = left + 48.0
    pen.path([(end, y + r), *ball, (end, y - r)], 0.35)
    pen.line((end, y - r), (end, y + r), 0.12)

    def radius(x: float) -> float:
        return math.sqrt(max(0.0, r * r - (x0 + r - x) ** 2)) if x < x0 + r else r

    _helix(pen, radius, x0, end, y, min(c.edges, 8), c.hand)
    pen.line((end, y - r), (end + 3, y - r + 0.4))
    pen.line((end, y + r), (end + 3, y + r - 0.4))
    _shank(pen, end + 3, left + 80, y, r - 0.4)
    _axis(pen, left + 1, left + 85, y)
    on = x0 + r - r * math.cos(math.radians(50)), y - r * math.sin(math.radians(50))
    end_view(pen, left + 18, top + 41, 8, c.edges)
    _seen(pen, c, left + 30, top + 31)
    _numbered(
        n,
        {
            "R": lambda k: balloon(pen, k, (left + 3, top + 1), on),
            "R_variation": lambda k: balloon(
                pen, k, (left + 31, top + 46), (left + 25.5, top + 43)
            ),
            "tip_spread": lambda k: balloon(pen, k, (left + 2.5, y + 9.5), (x0, y)),
            "clearance": lambda k: _land(pen, left + 60, top + 37, k),
            "length": lambda k: length_line(pen, k, x0, left + 80, y + r + 4.5),
        },
    )


def _numbered(n: Numbers, places: dict[str, Callable[[int], None]]) -> None:
    for name, place in places.items():
        if name in n:
            place(n[name])


def _step_drill(pen: Pen, c: Content, left: float, top: float, n: Numbers) -> None:
    y, r1, r2 = top + 12.0, 6.6, 9.0
    tip, corner, step, end = left + 6.0, left + 9.3, left + 36.0, left + 54.0
    outline = [
        (step + r2 - r1, -r2),
        (step, -r1),
        (corner, -r1),
        (tip, 0),
        (corner, r1),
        (step, r1),
        (step + r2 - r1, r2),
    ]
    pen.path([(end, y - r2), *[(x, y + dy) for x, dy in outline], (end, y + r2)], 0.35)
    for x, r in ((corner, r1), (end, r2)):
        pen.line((x, y - r), (x, y + r), 0.12)

    def radius(x: float) -> float:
        if x < corner:
            return r1 * (x - tip) / (corner - tip)
        return r1 if x < step else min(r2, r1 + x - step)

    _helix(pen, radius, corner, end, y, 2, c.hand)
    _shank(pen, end, left + 80, y, r2)
    _axis(pen, left + 1, left + 85, y)
    cx, cy, r = left + 18, top + 42, 7.5
    pen.disc(cx, cy, r, None, 0.12, LINE)
    for side in (1, -1):
        pen.line((cx - side * r, cy + side * 0.9), (cx + side * 0.7, cy + side * 0.9), 0.3)
        arc = [
            (
                cx - side * (r - 0.4 - 1.6 * t / 9) * math.cos(t / 9 * 1.9),
                cy - side * (r - 2.5 * t / 9) * math.sin(t / 9 * 1.9),
            )
            for t in range(10)
        ]
        pen.path(arc, 0.2)
        pen.text(
            cx + side * (r + 2.4), cy + 0.9, "1" if side > 0 else "2", 7.5, SEMIBOLD, align="middle"
        )
    pen.line((cx - 0.7, cy - 0.9), (cx + 0.7, cy + 0.9), 0.4)
    _seen(pen, c, left + 52, top + 41)
    lips = [n[k] for k in ("lip_symmetry", "lip_height") if k in n]
    chisel = [n[k] for k in ("chisel", "chisel_offset") if k in n]
    if lips:
        balloon(pen, lips, (left + 36, top + 49), (cx + 4, cy + 1))
    if chisel:
        balloon(pen, chisel, (left + 36, top + 34), (cx, cy))
    _numbered(
        n,
        {
            "DC_1": lambda k: balloon(pen, k, (left + 20, top - 0.5), (left + 23, y - r1)),
            "DC_2": lambda k: balloon(pen, k, (left + 47, top - 0.5), (left + 48, y - r2)),
            "SIG": lambda k: balloon(pen, k, (left + 2.5, y - 9), (tip + 1.4, y - 2.8)),
            "SDL": lambda k: length_line(pen, k, corner, step, y + r2 + 3.5),
            "STA": lambda k: balloon(pen, k, (left + 34, top - 0.5), (step + 1.2, y - r1 - 1.2)),
        },
    )


def _form_cutter(pen: Pen, c: Content, left: float, top: float, n: Numbers) -> None:
    x0, y0, w, h, r = left + 8.0, top + 3.0, 34.0, 19.0, 11.0
    mid = x0 + w / 2
    arc = [
        (mid - r * math.cos(math.radians(a)), y0 + r * math.sin(math.radians(a)))
        for a in range(12, 169, 4)
    ]
    pen.path(
        [
            (x0, y0 + h),
            (x0, y0),
            (arc[0][0], y0),
            *arc,
            (arc[-1][0], y0),
            (x0 + w, y0),
            (x0 + w, y0 + h),
        ],
        0.35,
    )
    wave = [(x0 + w * t / 16, y0 + h + 0.8 * math.sin(math.pi * t / 4)) for t in range(17)]
    pen.path(wave, 0.2)
    pen.text(x0 + w + 6, y0 + h - 1, "face", 7, REGULAR, INK2)
    cx, cy, big = left + 22, top + 40, 9.0
    pen.disc(cx, cy, 3, WHITE, 0.3)
    shown = min(c.edges, 8)
    for k in range(shown):
        a = math.radians(90 - 360 * k / shown)
        back = 2 * math.pi / shown

        def at(share: float, turn: float, a: float = a) -> Point:
            return cx + big * share * math.cos(a + turn), cy - big * share * math.sin(a + turn)

        pen.path(
            [
                at(0.55, 0),
                at(1, 0),
                *[at(1 - 0.05 * t, 0.1 * t * back) for t in range(1, 8)],
                at(0.55, back * 0.95),
            ],
            0.3,
        )
        x, y = at(1.26, 0)
        pen.text(x, y + 0.9, str(k + 1), 7.5, SEMIBOLD, align="middle")
    _seen(pen, c, left + 40, top + 33)
    _numbered(
        n,
        {
            "R": lambda k: balloon(pen, k, (left + 3, top + 9), arc[6]),
            "profile": lambda k: balloon(pen, k, (mid, y0 + 1.2), arc[len(arc) // 2]),
            "R_variation": lambda k: balloon(pen, k, (left + 49, top + 7), arc[-5]),
            "radial_spread": lambda k: balloon(pen, k, (left + 6, top + 47), (cx - 5.5, cy + 6)),
            "face": lambda k: balloon(pen, k, (left + 36, top + 48), (cx + 0.2, cy - 7)),
        },
    )


_KINDS: dict[str, Callable[[Pen, Content, float, float, Numbers], None]] = {
    "ball nose end mill": _ball_nose,
    "step drill": _step_drill,
    "form cutter": _form_cutter,
}
