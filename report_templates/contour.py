"""All edges on their nominal form, an arc or a contour: deviations magnified square to it.

The edge that decides is blue, with discs and stems; the others are grey and hollow, each with a
mark of its own and its number at the end of its line. A point that lies too far out has a chevron.
"""

from __future__ import annotations

import bisect
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from reportlab.lib.colors import Color

from inspect_rec.report.profile_content import Profile, Profiles, Round
from report_templates import forms
from report_templates.edge_marks import edge_mark
from report_templates.forms import Laid, Place
from report_templates.lettering import REGULAR, SEMIBOLD, width
from report_templates.pen import INK, INK2, LINE, MEASURED, Pen, Point
from report_templates.scale_bars import scale_bars

WIDE = 131.0
"""Three columns of the page, mm."""
_HIGH = 2.5
"""Room of a line of 7 pt, mm."""
_PITCH = 3.1
_SCALES = 9.0
"""Height of the two scale bars, mm."""
_APART = (1.3, 2.6)
"""Marks of the edge that decides and of the others stand at least so far apart, mm."""
_ALONG_S = 0.95


@dataclass(frozen=True, slots=True)
class _Text:
    """A line of 7 pt, its middle at (x, y)."""

    x: float
    y: float
    said: str
    font: str = REGULAR
    colour: Color = INK2

    @property
    def wide(self) -> float:
        return width(self.said, self.font, 7)

    @property
    def box(self) -> tuple[float, float, float, float]:
        half = self.wide / 2
        return self.x - half, self.y - _HIGH / 2, self.x + half, self.y + _HIGH / 2


@dataclass(frozen=True, slots=True)
class _Spot:
    """A point of an edge where it is drawn; ``beyond``: on which side it lies too far out."""

    on: int
    along: float
    um: float
    by: float
    beyond: int
    place: Place

    @property
    def at(self) -> Point:
        return self.place.off(self.by)


class Drawing:
    """A form with its edges and what is written beside them, laid out from the form's zero."""

    def __init__(self, c: Profiles, edges: Sequence[Profile], words: Mapping[str, str]) -> None:
        self.c, self.edges, self.words = c, edges, words
        self.laid = Laid(c.form, edges)
        plus, minus = self.laid.most
        self.size = min(1.0, max(0.6, (plus + minus) / 10))
        """Of the marks, smaller where a zone is narrow."""
        self.spots = {id(p): self._spots(p) for p in edges}
        self.texts: list[_Text] = []
        self.leaders: list[tuple[Point, Point]] = []
        self.ticks: list[tuple[Point, Point]] = []
        if not (self._limits() and self._numbers()):
            self._at_one_place()
        self._figures()
        self._ticks()
        self._sides()
        self.left, self.top, self.right, self.bottom = self._extent()

    @property
    def height(self) -> float:
        """Height with the scales, mm."""
        return self.bottom - self.top + _SCALES

    # -- points --------------------------------------------------------------

    def _spots(self, p: Profile) -> list[_Spot]:
        laid, found = self.laid, []
        plus, minus = laid.most
        for (along, um), on in zip(p.points, p.on, strict=True):
            by = um * laid.times / 1000
            held = min(max(by, -minus), plus)
            beyond = 0 if abs(held - by) < 1e-9 else (1 if by > 0 else -1)
            found.append(_Spot(on, along, um, held, beyond, laid.place(on, along)))
        return found

    # -- what is written -----------------------------------------------------

    def _limits(self) -> bool:
        """The limits at the end of the zone, with the unit at the lowest of them."""
        laid, one = self.laid, self.edges[0]
        rows = [(0.0, "0", REGULAR)]
        for um, text in zip((laid.lower, laid.upper), one.limit_texts, strict=True):
            if um is None:
                continue
            rows = [row for row in rows if row[0] != um]
            rows.append((um * laid.times / 1000, text, SEMIBOLD))
        rows.sort(key=lambda row: row[0])
        first = 0 if rows[0][2] == SEMIBOLD else len(rows) - 1
        rows = [(by, f"{t} µm" if n == first else t, f) for n, (by, t, f) in enumerate(rows)]
        return self._column(
            laid.last,
            1,
            [
                (laid.last.off(by), by, text, font, INK if font == SEMIBOLD else INK2)
                for by, text, font in rows
            ],
            led=False,
        )

    def _numbers(self) -> bool:
        """The number of each edge at the beginning of its line."""
        rows = []
        for p in self.edges:
            spot = self.spots[id(p)][0]
            said, font, colour = (
                (p.title, SEMIBOLD, MEASURED) if p.decides else (p.label, REGULAR, INK2)
            )
            rows.append((spot.at, spot.by, said, font, colour))
        rows.sort(key=lambda row: row[1])
        return self._column(self.laid.first, -1, rows, led=True)

    def _at_one_place(self) -> None:
        """What is written where a form comes back to itself: the limits alone, in one text; the
        edges are told by their marks."""
        self.texts, self.leaders = [], []
        limits = [text for text in self.edges[0].limit_texts if text]
        said = f"{' / '.join(limits or ['0'])} µm"
        nominal = self.laid.nominal
        for n, side in ((n, side) for n in range(-1, -len(nominal), -4) for side in (1, -1)):
            most = self.laid.most[0 if side > 0 else 1]
            text = _Text(*self._clear_of(nominal[n], side, said, most + 1.2), said, SEMIBOLD, INK)
            if self._free(text, side):
                self.texts.append(text)
                return

    def _column(
        self,
        end: Place,
        forth: int,
        rows: Sequence[tuple[Point, float, str, str, Color]],
        *,
        led: bool,
    ) -> bool:
        """Texts beyond an end of the form, in the order of their places beside it: (where it is
        led from, how far beside, text, font, colour). Whether they have room there."""
        tx, ty = (forth * w for w in self.laid.way(end))
        wides = [width(said, font, 7) for _, _, said, font, _ in rows]
        gaps = [
            min(
                ((a + b) / 2 + 1.2) / max(abs(end.nx), 1e-9),
                _PITCH / max(abs(end.ny), 1e-9),
            )
            for a, b in pairwise(wides)
        ]
        places = forms.spread([by for _, by, *_ in rows], [*gaps, 0.0])
        most = max(wides)
        moved = led or any(abs(a - row[1]) > 1.0 for a, row in zip(places, rows, strict=True))
        for (at, by, said, font, colour), beside, wide in zip(rows, places, wides, strict=True):
            level = abs(tx) > _ALONG_S
            half = abs(tx) * (wide if level else most) / 2 + abs(ty) * _HIGH / 2
            x, y = end.off(beside)
            foot = x + 2.6 * moved * tx, y + 2.6 * moved * ty
            if moved:
                self.leaders.append((at if led else end.off(by), foot))
            out = 0.9 + half
            text = _Text(foot[0] + out * tx, foot[1] + out * ty, said, font, colour)
            if not self._room_beyond(end, text):
                return False
            self.texts.append(text)
        return True

    def _room_beyond(self, end: Place, text: _Text) -> bool:
        """Whether a text beyond an end stands clear of the form's other parts."""
        plus, minus = self.laid.most
        near = 2 * (plus + minus) + 6
        rest = [p for p in self.laid.nominal if math.hypot(p.x - end.x, p.y - end.y) > near]
        ends = self.laid.first, self.laid.last
        apart = math.hypot(ends[0].x - ends[1].x, ends[0].y - ends[1].y)
        return apart > near and self._clear(text, rest, max(plus, minus))

    def _figures(self) -> None:
        """The figure of what lies furthest beyond, on the edge that lies there."""
        for side in (1, -1):
            beyond = [(s, p) for p in self.edges for s in self.spots[id(p)] if s.beyond == side]
            if not beyond:
                continue
            spot, p = max(beyond, key=lambda one: abs(one[0].um))
            said = f"{round(spot.um):+d} µm".replace("-", "−")
            colour = MEASURED if p.decides else INK2
            for more in (0.0, 2.0, 4.0, 7.0):
                x, y = self._clear_of(spot.place, side, said, abs(spot.by) + 1.6 + more)
                text = _Text(x, y, said, SEMIBOLD, colour)
                if self._free(text, side):
                    self.texts.append(text)
                    break

    @staticmethod
    def _clear_of(place: Place, side: int, said: str, by: float) -> Point:
        """The middle of a text whose box begins ``by`` beside a place."""
        half = abs(place.nx) * width(said, SEMIBOLD, 7) / 2 + abs(place.ny) * _HIGH / 2
        return place.off(side * (by + half))

    def _free(self, text: _Text, side: int) -> bool:
        """Whether a text stands on nothing: neither on another, nor on the zone."""
        x0, y0, x1, y1 = text.box
        for other in self.texts:
            a0, b0, a1, b1 = other.box
            if min(x1, a1) - max(x0, a0) > -0.6 and min(y1, b1) - max(y0, b0) > -0.2:
                return False
        return self._clear(text, self.laid.nominal, self.laid.most[0 if side > 0 else 1])

    @staticmethod
    def _clear(text: _Text, of: Sequence[Place], by: float) -> bool:
        """Whether a text stands clear of these places, and of what is drawn so far beside them."""
        x0, y0, x1, y1 = text.box
        return all(
            math.hypot(max(x0 - p.x, 0.0, p.x - x1), max(y0 - p.y, 0.0, p.y - y1)) > by + 0.5
            for p in of
        )

    @property
    def _ticked(self) -> int:
        """The side on which the ticks stand."""
        one, *more = self.c.form.pieces
        return -one.plus if isinstance(one, Round) and not more else -1

    def _ticks(self) -> None:
        """What stands along the form: of an arc inside it, of a contour in the metal."""
        laid, form = self.laid, self.c.form
        side = self._ticked
        most = laid.most[0 if side > 0 else 1] + 1.2
        for along, said in form.ticks:
            place = laid.place(laid.on(along), along)
            x, y = self._clear_of(place, side, said, most + 2.2)
            text = _Text(x, y, said)
            if self._free(text, side):
                self.texts.append(text)
                self.ticks.append((place.off(side * most), place.off(side * (most + 1.4))))

    def _sides(self) -> None:
        """Words on the side of the metal and of the air, as near to the middle as may be."""
        if not self.c.form.metal:
            return
        nominal = self.laid.nominal
        order = sorted(range(len(nominal)), key=lambda n: abs(n - len(nominal) // 2))
        for key, side in (("page.metal", self.c.form.metal), ("page.air", -self.c.form.metal)):
            said = self.words[key]
            most = self.laid.most[0 if side > 0 else 1]
            tries = (
                _Text(*self._clear_of(nominal[n], side, said, most + more), said)
                for more in ((9.0, 12.0, 6.0, 3.0) if side == self._ticked else (2.5, 5.5, 9.0))
                for n in order[:: max(1, len(order) // 24)]
            )
            found = next((text for text in tries if self._free(text, side)), None)
            if found is not None:
                self.texts.append(found)

    def _extent(self) -> tuple[float, float, float, float]:
        plus, minus = self.laid.most
        points = [p.off(by) for p in self.laid.nominal for by in (plus + 0.8, -minus - 0.8)]
        boxes = [t.box for t in self.texts]
        xs = [x for x, _ in points] + [x for b in boxes for x in (b[0], b[2])]
        ys = [y for _, y in points] + [y for b in boxes for y in (b[1], b[3])]
        return min(xs), min(ys), max(xs), max(ys)

    # -- drawing -------------------------------------------------------------

    def draw(self, pen: Pen, left: float, top: float) -> None:
        """In a field 131 wide from its top left."""
        dx, dy = left + (WIDE - self.left - self.right) / 2, top - self.top

        def to(point: Point) -> Point:
            return point[0] + dx, point[1] + dy

        self._zone(pen, to)
        for a, b in self.ticks:
            pen.line(to(a), to(b), 0.12, INK2)
        for a, b in self.leaders:
            pen.line(to(a), to(b), 0.12, INK2)
        for n, p in sorted(enumerate(self.edges), key=lambda one: one[1].decides):
            self._edge(pen, p, n, to)
        for t in self.texts:
            x, y = to((t.x, t.y))
            pen.text(x, y + 0.9, t.said, 7, t.font, t.colour, "middle")
        scale_bars(pen, self.laid, left, top + self.height - 3.0, self.words)

    def _zone(self, pen: Pen, to: Callable[[Point], Point]) -> None:
        """Limits, their guard bands as short slanting strokes, the nominal between them."""
        laid, nominal = self.laid, self.laid.nominal
        far = forms.lengths(nominal)
        marks = forms.strokes(far[-1], 0.9) if laid.band else []
        for um in (laid.lower, laid.upper):
            if um is None:
                continue
            for run in laid.beside(um):
                pen.path([to(p) for p in run], 0.35)
            by = um * laid.times / 1000
            for s in marks:
                a = _between(nominal, far, s - 0.45).off(by - laid.band)
                b = _between(nominal, far, s + 0.45).off(by + laid.band)
                ends = (a, by - laid.band), (b, by + laid.band)
                if not any(laid.folds(end, off, forms.SLACK) for end, off in ends):
                    pen.line(to(a), to(b), 0.09)
        dash = (2, 0.6, 0.4, 0.6)
        pen.path([to((p.x, p.y)) for p in nominal], 0.15, LINE, dash=dash)

    def _edge(self, pen: Pen, p: Profile, n: int, to: Callable[[Point], Point]) -> None:
        spots, laid = self.spots[id(p)], self.laid
        line = [to(spots[0].at)]
        for a, b in pairwise(spots):
            between = laid.between((a.on, a.along, a.by), (b.on, b.along, b.by))
            line += [to(point) for point in between[1:]]
        if p.decides:
            for s in spots:
                pen.line(to((s.place.x, s.place.y)), to(s.at), 0.12, MEASURED)
        if len(line) > 1:
            pen.path(line, 0.3 if p.decides else 0.15, MEASURED if p.decides else LINE)
        for s in self._marked(p):
            if s.beyond:
                _chevron(pen, s, to, MEASURED if p.decides else INK2)
            elif p.decides:
                pen.disc(*to(s.at), 0.75 * self.size, MEASURED)
            else:
                edge_mark(pen, n, *to(s.at), self.size)

    def _marked(self, p: Profile) -> list[_Spot]:
        """Points that bear a mark: all, but where they stand too near to each other the highest,
        the lowest, and of the others those that have room."""
        spots, apart = self.spots[id(p)], _APART[0 if p.decides else 1]
        if len(spots) <= 40:
            return spots
        found = [max(spots, key=lambda s: s.um), min(spots, key=lambda s: s.um)]
        for s in spots:
            if all(math.dist(s.at, other.at) >= apart for other in found):
                found.append(s)
        return found


def _between(nominal: Sequence[Place], far: Sequence[float], s: float) -> Place:
    """The place of a line that is nearest to a length along it."""
    n = min(max(bisect.bisect_left(far, s), 1), len(far) - 1)
    a, b, long = nominal[n - 1], nominal[n], far[n] - far[n - 1]
    share = (s - far[n - 1]) / long if long else 0.0
    x, y = a.x + share * (b.x - a.x), a.y + share * (b.y - a.y)
    nx, ny = a.nx + share * (b.nx - a.nx), a.ny + share * (b.ny - a.ny)
    size = math.hypot(nx, ny) or 1.0
    return Place(x, y, nx / size, ny / size)


def _chevron(pen: Pen, s: _Spot, to: Callable[[Point], Point], colour: Color) -> None:
    """A point that lies too far out: it points there."""
    x, y = s.at
    ox, oy = s.beyond * s.place.nx, s.beyond * s.place.ny
    back = x - 1.1 * ox, y - 1.1 * oy
    wings = ((back[0] - 1.1 * oy, back[1] + 1.1 * ox), (back[0] + 1.1 * oy, back[1] - 1.1 * ox))
    pen.path([to(wings[0]), to((x, y)), to(wings[1])], 0.4, colour)
