"""Drawing in millimetres from the top left: text, rules, hatches, marks.

Lines, sizes and colours of the house; nothing here knows what a report says.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from typing import Any

from reportlab.lib.colors import Color, HexColor

from report_templates.lettering import (
    MM,
    REGULAR,
    SEMIBOLD,
    fit,
    runs,
    shortened,
    width,
    wrap,
)
from report_templates.tags import Tags

INK, INK2 = HexColor("#000000"), HexColor("#454C52")
LINE, HAIR = HexColor("#8E9499"), HexColor("#C9CDD0")
MEASURED, NEITHER, DOES_NOT = HexColor("#0B4A94"), HexColor("#6E4200"), HexColor("#9C1A12")
WHITE = HexColor("#FFFFFF")

OF_VERDICT = {"conforms": MEASURED, "neither shown": NEITHER, "does not conform": DOES_NOT}

Point = tuple[float, float]


class Nowhere:
    """Takes every call of a canvas and draws nothing: for a trial of what fits."""

    def __getattr__(self, _name: str) -> Callable[..., Nowhere]:
        return lambda *_args, **_named: self


class Pen:
    """A page in millimetres, y downward from the top."""

    def __init__(
        self, canvas: Any, high_mm: float, see: str = "…", tags: Tags | None = None
    ) -> None:
        """``see`` ends a text that doesn't fit; the whole of it goes to ``left_out``."""
        self.canvas, self.high, self.see = canvas, high_mm, see
        self.left_out: list[str] = []
        self.tags = tags or Tags(live=False)
        self._artifact = False

    def turn(self) -> None:
        """The next page."""
        self._marked(artifact=False)
        self.canvas.showPage()
        self.tags.turn()

    def _marked(self, *, artifact: bool) -> None:
        """Lines stand between marks of their own, apart from the text."""
        if artifact != self._artifact and self.tags.live:
            self.canvas.addLiteral("/Artifact BMC" if artifact else "EMC")
            self._artifact = artifact

    def xy(self, x: float, y: float) -> Point:
        """Points of the page from mm."""
        return x * MM, (self.high - y) * MM

    # -- text ----------------------------------------------------------------

    def text(
        self,
        x: float,
        y: float,
        said: str,
        size: float = 8.5,
        font: str = REGULAR,
        colour: Color = INK,
        align: str = "left",
    ) -> float:
        """One line with its baseline at ``y``; gives its width."""
        wide = width(said, font, size)
        left = {"left": x, "right": x - wide, "middle": x - wide / 2}[align]
        self.canvas.setFillColor(colour)
        piece = self.tags.piece()
        if piece is None:
            self._marked(artifact=True)
            self._set(left, y, said, size, font)
            return wide
        self._marked(artifact=False)
        role, number = piece
        self.canvas.addLiteral(f"/{role} <</MCID {number}>> BDC")
        self._set(left, y, said, size, font)
        self.canvas.addLiteral("EMC")
        return wide

    def _set(self, left: float, y: float, said: str, size: float, font: str) -> None:
        for piece, each in runs(said, font):
            self.canvas.setFont(each, size)
            self.canvas.drawString(*self.xy(left, y), piece)
            left += width(piece, each, size)

    def before_decimal(self, figure: str, size: float, font: str) -> float:
        """Width of what stands before the decimal sign, or before the unit where there is none."""
        digits = figure[: len(figure) - len(figure.lstrip("+−±0123456789"))]
        return width(digits, font, size)

    def decimal(
        self, x: float, y: float, figure: str, size: float, font: str, colour: Color
    ) -> float:
        """A figure with its decimal sign at ``x``; gives the place of its end."""
        left = x - self.before_decimal(figure, size, font)
        return left + self.text(left, y, figure, size, font, colour)

    def fitted(  # noqa: PLR0913, PLR0917 - as text, and the room there is
        self,
        x: float,
        y: float,
        said: str,
        wide: float,
        size: float = 8.5,
        font: str = REGULAR,
        colour: Color = INK,
        lines: int = 1,
        pitch: float = 4.0,
        *,
        wrapped: float | None = None,
        align: str = "left",
    ) -> int:
        """Text in the room there is, as ``lettering.fit`` finds it; gives the number of lines.
        Nothing is cut in silence: what doesn't fit ends with ``see`` and is kept."""
        found = fit(said, wide, size, font, lines, wrapped)
        if not found.whole:
            self.left_out.append(said)
            found = shortened(found, wide, self.see)
        with self.leaf():
            for n, line in enumerate(found.lines):
                self.text(x, y + n * pitch, line, found.size, found.font, colour, align)
        return len(found.lines)

    def leaf(self) -> AbstractContextManager[None]:
        """Several lines that are one paragraph, unless a heading or a cell is open already."""
        return nullcontext() if self.tags.in_leaf else self.tags.inside("P")

    def heading(
        self, x: float, y: float, said: str, size: float = 8, wide: float | None = None
    ) -> None:
        """The heading of a block; condensed where it is wider than ``wide``."""
        with self.tags.inside("H2"):
            found = fit(said, wide, size, SEMIBOLD) if wide else None
            if found is not None and found.whole:
                self.text(x, y, said, found.size, found.font)
            else:
                self.text(x, y, said, size, SEMIBOLD)

    def paragraph(
        self,
        x: float,
        y: float,
        said: str,
        wide: float,
        size: float = 7.5,
        pitch: float = 3.4,
        colour: Color = INK,
    ) -> float:
        """A paragraph from the baseline ``y``; gives the baseline after it."""
        with self.leaf():
            for line in wrap(said, REGULAR, size, wide):
                self.text(x, y, line, size, REGULAR, colour)
                y += pitch
        return y

    # -- lines ---------------------------------------------------------------

    def line(
        self,
        a: Point,
        b: Point,
        thick: float = 0.35,
        colour: Color = INK,
        dash: Sequence[float] = (),
    ) -> None:
        """A straight line; thickness and dashes in mm."""
        self._stroke(thick, colour, dash)
        self.canvas.line(*self.xy(*a), *self.xy(*b))
        self.canvas.setDash()

    def path(
        self,
        points: Sequence[Point],
        thick: float = 0.35,
        colour: Color = INK,
        *,
        fill: Color | None = None,
        closed: bool = False,
        dash: Sequence[float] = (),
    ) -> None:
        """A line through points; thickness 0 draws no outline."""
        self._stroke(thick, colour, dash)
        path = self.canvas.beginPath()
        path.moveTo(*self.xy(*points[0]))
        for point in points[1:]:
            path.lineTo(*self.xy(*point))
        if closed:
            path.close()
        if fill is not None:
            self.canvas.setFillColor(fill)
        self.canvas.drawPath(path, stroke=int(thick > 0), fill=int(fill is not None))
        self.canvas.setDash()

    def disc(
        self,
        x: float,
        y: float,
        r: float,
        fill: Color | None,
        thick: float = 0.0,
        colour: Color = INK,
    ) -> None:
        """A disc or a ring."""
        self._stroke(thick, colour, ())
        if fill is not None:
            self.canvas.setFillColor(fill)
        self.canvas.circle(
            *self.xy(x, y), r * MM, stroke=int(thick > 0), fill=int(fill is not None)
        )

    def box(self, x: float, y: float, wide: float, high: float, fill: Color) -> None:
        """A filled rectangle from its top left."""
        self._marked(artifact=True)
        self.canvas.setFillColor(fill)
        self.canvas.rect(*self.xy(x, y + high), wide * MM, high * MM, stroke=0, fill=1)

    def picture(
        self, image: object, x: float, y: float, wide: float, high: float, turn: int = 0
    ) -> None:
        """A picture from its top left, turned to the right by quarters, deg."""
        self._marked(artifact=True)
        w, h = (high, wide) if turn % 180 else (wide, high)
        self.canvas.saveState()
        self.canvas.translate(*self.xy(x + wide / 2, y + high / 2))
        self.canvas.rotate(-turn)
        self.canvas.drawImage(image, -w / 2 * MM, -h / 2 * MM, w * MM, h * MM)
        self.canvas.restoreState()

    def _stroke(self, thick: float, colour: Color, dash: Sequence[float]) -> None:
        self._marked(artifact=True)
        self.canvas.setLineWidth(thick * MM)
        self.canvas.setStrokeColor(colour)
        self.canvas.setLineCap(0)
        if dash:
            self.canvas.setDash([d * MM for d in dash])

    def rule(self, y: float, x: float = 20, wide: float = 176, thick: float = 0.35) -> None:
        """The rule over a block."""
        self.line((x, y), (x + wide, y), thick)

    def hatch(
        self, x: float, y: float, wide: float, high: float, pitch: float = 0.75, thick: float = 0.09
    ) -> None:
        """Strokes at 45 degrees in a rectangle; their phase is the page's, so neighbours meet."""
        self._stroke(thick, INK, ())
        step = pitch * math.sqrt(2)
        first = math.ceil((x + y) / step)
        last = math.floor((x + wide + y + high) / step)
        strokes = []
        for n in range(first, last + 1):
            c = n * step
            x0, x1 = max(x, c - y - high), min(x + wide, c - y)
            if x1 > x0:
                strokes.append((*self.xy(x0, c - x0), *self.xy(x1, c - x1)))
        self.canvas.lines(strokes)

    def stripes(self, y: float, x: float, wide: float, high: float) -> None:
        """The rule of what isn't to be released: diagonal strokes."""
        lean, pitch, thick = high * 0.7, 1.5, 0.62
        canvas = self.canvas
        self._marked(artifact=True)
        canvas.saveState()
        window = canvas.beginPath()
        window.rect(*self.xy(x, y + high), wide * MM, high * MM)
        canvas.clipPath(window, stroke=0, fill=0)
        for n in range(-math.ceil(lean / pitch), math.ceil(wide / pitch) + 1):
            left = x + n * pitch
            stroke = [
                (left, y + high),
                (left + thick, y + high),
                (left + thick + lean, y),
                (left + lean, y),
            ]
            self.path(stroke, 0, fill=INK, closed=True)
        canvas.restoreState()

    # -- marks ---------------------------------------------------------------

    def mark(self, verdict: str, x: float, y: float, size: float, *, under: bool = False) -> None:
        """The mark of a verdict, its top left at (x, y), on a grid of 24."""
        s = size / 24
        if verdict == "conforms":
            self._conforms(x, y, s)
        elif verdict == "does not conform":
            self._does_not(x, y, s, under=under)
        elif verdict == "neither shown":
            self._neither(x, y, s)
        elif verdict == "refused":
            self._refused(x, y, s)
        elif verdict == "open":
            self._open(x, y, s)
        else:
            middle = x + size / 2, y + size / 2
            self.line((middle[0] - 1, middle[1]), (middle[0] + 1, middle[1]), 0.25, LINE)

    def _bar(self, x: float, y: float, s: float, top: float, bottom: float, a: float = 1) -> None:
        self.box(x + a * s, y + top * s, (24 - 2 * a) * s, (bottom - top) * s, INK)

    def _conforms(self, x: float, y: float, s: float) -> None:
        self._bar(x, y, s, 1, 4.4)
        self._bar(x, y, s, 19.6, 23)
        self.disc(x + 12 * s, y + 12 * s, 6.6 * s, INK)

    def _does_not(self, x: float, y: float, s: float, *, under: bool = False) -> None:
        def at(px: float, py: float) -> Point:
            return x + px * s, y + (24 - py if under else py) * s

        self.path([at(12, 0), at(19.6, 7.6), at(12, 15.2), at(4.4, 7.6)], 0, fill=INK, closed=True)
        for top, bottom in ((15.6, 18.8), (20.8, 24)):
            ends = (24 - bottom, 24 - top) if under else (top, bottom)
            self._bar(x, y, s, *ends)

    def _neither(self, x: float, y: float, s: float) -> None:
        roof = [(5.2, 8.4), (12, 1.7), (18.8, 8.4)]
        self.path([(x + px * s, y + py * s) for px, py in roof], 2.6 * s)
        self._bar(x, y, s, 8.4, 11.6)
        self._bar(x, y, s, 20.8, 24)
        self.half(x + 12 * s, y + 12.6 * s, 7.2 * s, INK)

    def half(self, x: float, y: float, r: float, fill: Color) -> None:
        """A half disc hanging under its diameter."""
        arc = [
            (x + r * math.cos(math.pi * n / 24), y + r * math.sin(math.pi * n / 24))
            for n in range(25)
        ]
        self.path(arc, 0, fill=fill, closed=True)

    def _refused(self, x: float, y: float, s: float) -> None:
        a, b = 4.2 * s, 19.8 * s
        self.path(
            [(x + a, y + a), (x + b, y + a), (x + b, y + b), (x + a, y + b)], 3.2 * s, closed=True
        )
        self.line((x + 4 * s, y + 20 * s), (x + 20 * s, y + 4 * s), 3.2 * s)

    def _open(self, x: float, y: float, s: float) -> None:
        self._bar(x, y, s, 1.6, 3.8)
        self._bar(x, y, s, 20.2, 22.4)

    def value_mark(self, verdict: str, x: float, y: float, r: float) -> None:
        """A value drawn as its verdict: disc, half roof half disc, diamond."""
        colour = OF_VERDICT.get(verdict, INK2)
        if verdict == "does not conform":
            d = 1.4 * r
            self.path([(x, y - d), (x + d, y), (x, y + d), (x - d, y)], 0, fill=colour, closed=True)
        elif verdict == "neither shown":
            self.path([(x - r, y), (x, y - r), (x + r, y)], 0.25, colour, fill=WHITE, closed=True)
            self.half(x, y, r, colour)
        else:
            self.disc(x, y, r, colour)

    def number(self, n: int, x: float, y: float) -> None:
        """A number in a ring, its centre at (x, y)."""
        self.disc(x, y, 2.0, WHITE, 0.22)
        self.text(x, y + 0.95, str(n), 7.5 if n < 10 else 6.5, SEMIBOLD, align="middle")
