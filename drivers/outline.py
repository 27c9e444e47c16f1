"""A drawing's pieces to a nominal contour, in the words of the method "profile, contour".

DXF x is X, y is Z. The pieces of one chain are put in order from the point where the mapping says
that the contour begins, so that the body lies on the right hand of its way; nothing about that is
assumed. What isn't in the chain is named beside it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from drivers.drawing import Drawing, Piece, Point, read
from drivers.mapping import Mapping
from inspect_rec.errors import InputError, Mistake
from inspect_rec.units import INCH_MM, Unit

_WIDEST = math.radians(120)
"""A wider arc is stated in equal parts: the method takes at most half a turn, and its centre is
better held by ends that lie less far apart."""


@dataclass(frozen=True, slots=True)
class Outline:
    """A nominal contour in mm. ``elements``: from X Z, line X Z, arc X Z R convex or concave."""

    elements: tuple[str, ...]
    left: tuple[Mistake, ...]
    """Everything in the drawing that isn't in the contour."""
    gap_mm: float
    """The largest distance between ends that were taken for one point."""
    closed: bool


def contour(data: bytes, mapping: Mapping, name: str) -> Outline:
    """The contour that a DXF drawing holds; the unit is that of $INSUNITS or of the mapping.

    Raises InputError where the unit, or where it begins, isn't said, or said in two ways; where
    pieces branch; and for what is no drawing.
    """
    drawing = read(data, name, mapping.layer)
    scale = float(INCH_MM) if _unit(drawing, mapping, name) is Unit.INCH else 1.0
    join_mm = float(mapping.join_mm)
    stated = mapping.begin
    begin = (float(stated.x) * scale, float(stated.z) * scale) if stated else None
    left, pieces = list(drawing.left), []
    for each in drawing.pieces:
        piece = _broken(_scaled(each, scale), begin, join_mm)
        long_mm = piece.radius * abs(piece.sweep) or math.dist(piece.start, piece.end)
        if long_mm > join_mm:
            pieces.append(piece)
        else:
            left.append(_left(name, piece, f"a piece longer than {join_mm} mm", "a shorter one"))
    if not pieces:
        of = [] if left else [Mistake(name, "lines and arcs", "none")]
        raise InputError("the drawing holds no contour", [*left, *of][:100], where=name)
    chains = _Chains(pieces, join_mm, name)
    chosen = _chosen(chains.found, mapping, begin, scale, name)
    for other in (*chains.found[:chosen], *chains.found[chosen + 1 :]):
        left += [_left(name, each, "a piece of the contour", "one apart from it") for each in other]
    chain = chains.found[chosen]
    ordered = _begun(chain, begin or (0.0, 0.0), mapping, name)
    closed = _is_closed(chain, join_mm)
    if closed:
        ordered[-1] = replace(ordered[-1], end=ordered[0].start)
    return Outline(tuple(_stated(ordered)), tuple(sorted(left, key=_line_of)), chains.gap, closed)


def _unit(drawing: Drawing, mapping: Mapping, name: str) -> Unit:
    stated = mapping.units.get("lengths")
    if stated is None and drawing.unit is None:
        raise InputError(
            "the drawing says no unit",
            expected="mm or in",
            found="no $INSUNITS",
            where=name,
            do='State it in the mapping: [units] lengths = "mm"',
        )
    if stated is not None and drawing.unit not in (None, stated):
        raise InputError(
            "the drawing's unit is another than stated",
            expected=stated,
            found=f"$INSUNITS for {drawing.unit}",
            where=name,
        )
    return stated or drawing.unit or Unit.MM


def _scaled(piece: Piece, by: float) -> Piece:
    def grown(point: Point) -> Point:
        return point[0] * by, point[1] * by

    return replace(
        piece, start=grown(piece.start), end=grown(piece.end), centre=grown(piece.centre)
    )


def _broken(piece: Piece, begin: Point | None, join_mm: float) -> Piece:
    """A whole circle begins where the contour does, if it goes through that point."""
    whole = piece.sweep and piece.start == piece.end
    if begin is None or not whole:
        return piece
    through = abs(math.dist(begin, piece.centre) - piece.radius) <= join_mm
    return replace(piece, start=begin, end=begin) if through else piece


def _left(name: str, piece: Piece, expected: str, found: str) -> Mistake:
    return Mistake(f"{name}:{piece.line}", expected, found)


def _line_of(mistake: Mistake) -> int:
    return int(mistake.where.rpartition(":")[2])


class _Chains:
    """Pieces joined where their ends are one point. Raises InputError where more than two meet."""

    def __init__(self, pieces: Sequence[Piece], join_mm: float, name: str) -> None:
        self.join_mm, self.gap = join_mm, 0.0
        self._near: dict[tuple[int, int], list[int]] = {}
        self._nodes: list[Point] = []
        self._at: list[list[int]] = []
        self._pieces = list(pieces)
        ends = [(self._node(p.start), self._node(p.end)) for p in pieces]
        for n, (start, end) in enumerate(ends):
            self._at[start].append(n)
            self._at[end].append(n)
        branches = [
            _left(
                name, self._pieces[at[2]], "at most two pieces that meet in a point", str(len(at))
            )
            for at in self._at
            if len(at) > 2
        ]
        if branches:
            raise InputError("the contour branches", branches[:100], where=name)
        self._ends = ends
        self.found = list(self._walked())

    def _node(self, point: Point) -> int:
        """The number of a point; one that lies within ``join_mm`` of another is that."""
        # A cell is as wide as the distance, so what is near lies in it or beside it.
        x, z = (math.floor(c / self.join_mm) for c in point)
        for cell in ((x + i, z + j) for i in (0, -1, 1) for j in (0, -1, 1)):
            for node in self._near.get(cell, ()):
                if (apart := math.dist(self._nodes[node], point)) <= self.join_mm:
                    self.gap = max(self.gap, apart)
                    return node
        self._nodes.append(point)
        self._at.append([])
        self._near.setdefault((x, z), []).append(len(self._nodes) - 1)
        return len(self._nodes) - 1

    def _walked(self) -> Iterator[list[Piece]]:
        """Each chain in order, an open one from one of its ends."""
        free = set(range(len(self._pieces)))
        loose = [(node, at[0]) for node, at in enumerate(self._at) if len(at) == 1]
        anywhere = [(start, n) for n, (start, _) in enumerate(self._ends)]
        for first, n in (*loose, *anywhere):
            chain: list[Piece] = []
            node, following = first, n if n in free else None
            while following is not None:
                free.discard(following)
                start, end = self._ends[following]
                piece, forward = self._pieces[following], start == node
                chain.append(piece if forward else piece.reversed())
                node = end if forward else start
                following = next((m for m in self._at[node] if m in free), None)
            if chain:
                yield chain


# -- where it begins -----------------------------------------------------------


def _is_closed(chain: Sequence[Piece], join_mm: float) -> bool:
    return math.dist(chain[0].start, chain[-1].end) <= join_mm


def _chosen(
    chains: Sequence[Sequence[Piece]],
    mapping: Mapping,
    begin: Point | None,
    scale: float,
    name: str,
) -> int:
    """The number of the chain that begins where it is stated; InputError lists where one may."""
    join_mm = float(mapping.join_mm)
    offered: list[Point] = []
    for n, chain in enumerate(chains):
        corners = [piece.start for piece in chain]
        if not _is_closed(chain, join_mm):
            corners = [chain[0].start, chain[-1].end]
        if begin is not None and any(math.dist(begin, c) <= join_mm for c in corners):
            return n
        offered += corners
    places = ", ".join(f"[{_number(x / scale)}, {_number(z / scale)}]" for x, z in offered[:8])
    raise InputError(
        "it isn't said where the contour begins" if begin is None else "no contour begins there",
        expected=f"one of {places}{' and more' if len(offered) > 8 else ''}",
        found=f"{len(chains)} chain{'s' if len(chains) > 1 else ''} of lines and arcs",
        where=name,
        do="State it in the mapping, so that the body is on the right hand of its way: "
        "[contour] begin = [X, Z]",
    )


def _begun(chain: list[Piece], begin: Point, mapping: Mapping, name: str) -> list[Piece]:
    """The chain from where it begins, the body on the right hand."""
    join_mm = float(mapping.join_mm)
    closed = _is_closed(chain, join_mm)
    if closed is not bool(mapping.body):
        raise InputError(
            "the contour closes" if closed else "the contour doesn't close",
            expected='body = "inside" or "outside"' if closed else "no body",
            found=mapping.body or "nothing",
            where=name,
            do="State it in the mapping, [contour] body, for a contour that closes",
        )
    back = [piece.reversed() for piece in reversed(chain)]
    if not closed:
        return chain if math.dist(begin, chain[0].start) <= join_mm else back
    # On the right hand of a way that turns to the right lies what it encloses.
    way = chain if (_area(chain) < 0) is (mapping.body == "inside") else back
    first = next(n for n, piece in enumerate(way) if math.dist(begin, piece.start) <= join_mm)
    return [*way[first:], *way[:first]]


def _area(chain: Sequence[Piece]) -> float:
    """What a closed chain encloses, positive anticlockwise: chords, and a segment for each arc."""
    area = 0.0
    for p in chain:
        area += (p.start[0] * p.end[1] - p.end[0] * p.start[1]) / 2
        if p.sweep:
            area += p.radius**2 * (p.sweep - math.sin(p.sweep)) / 2
    return area


# -- how it is stated ----------------------------------------------------------


def _number(value: float) -> str:
    """To 1 nm (in inches, a millionth), without an exponent."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _stated(chain: Sequence[Piece]) -> Iterator[str]:
    yield f"from {_number(chain[0].start[0])} {_number(chain[0].start[1])}"
    for piece in chain:
        if not piece.sweep:
            yield f"line {_number(piece.end[0])} {_number(piece.end[1])}"
            continue
        parts = math.ceil(abs(piece.sweep) / _WIDEST - 1e-9)
        begin = math.atan2(piece.start[1] - piece.centre[1], piece.start[0] - piece.centre[0])
        how = f"{_number(piece.radius)} {'convex' if piece.sweep < 0 else 'concave'}"
        for part in range(1, parts):
            angle = begin + piece.sweep * part / parts
            x = piece.centre[0] + piece.radius * math.cos(angle)
            z = piece.centre[1] + piece.radius * math.sin(angle)
            yield f"arc {_number(x)} {_number(z)} {how}"
        yield f"arc {_number(piece.end[0])} {_number(piece.end[1])} {how}"
