"""A drawing in the ASCII form of DXF: straight pieces and arcs in a plane, strictly.

A reader of its own, since these five entities are a few pages of a public format, and a library
for all of DXF takes as long to load as a report to make, and lets NaN and infinity through.
Source: DXF Reference, group codes of LINE, ARC, CIRCLE, LWPOLYLINE, POLYLINE (from memory,
checked against drawings that ezdxf 1.4.5 wrote). Whatever else a drawing holds is named, never
skipped unseen.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from inspect_rec.errors import InputError, Mistake
from inspect_rec.units import Unit

LARGEST = 16 * 1024 * 1024
"""Bytes of a drawing."""
MOST_PIECES = 10_000
MOST_LEFT = 1000
"""Things left out that are named one by one."""
FARTHEST = 10**6
"""Coordinates and radii."""
_STRAIGHT = 1e-6
"""An arc that rises less than this above its chord is a straight piece."""

Point = tuple[float, float]
Pair = tuple[int, str, int]
"""Group code, value, line of the file."""

_CODE = re.compile(r"[ \t\r]*(-?[0-9]{1,4})[ \t\r]*")
_NUMBER = re.compile(
    r"[ \t\r]*[+-]?([0-9]{1,20}\.?[0-9]{0,20}|\.[0-9]{1,20})([eE][+-]?[0-9]{1,3})?[ \t\r]*"
)
_WHOLE = re.compile(r"[ \t\r]*[+-]?[0-9]{1,9}[ \t\r]*")
_UNITS = {1: Unit.INCH, 4: Unit.MM}
"""$INSUNITS."""
_OTHER_UNITS = {2: "feet", 5: "cm", 6: "m", 8: "microinches", 9: "mils", 13: "um"}
_CLOSED, _NO_PLAIN_POLYLINE, _FRAME_POINT = 1, 2 | 4 | 8 | 16 | 32 | 64, 16


@dataclass(frozen=True, slots=True)
class Piece:
    """A straight piece or an arc, on its way from ``start`` to ``end``, in the drawing's unit."""

    start: Point
    end: Point
    sweep: float = 0.0
    """Of an arc: the angle in rad, positive anticlockwise; 0 of a straight piece."""
    centre: Point = (0.0, 0.0)
    line: int = 0
    """Of the file, where its entity begins."""

    @property
    def radius(self) -> float:
        """Of an arc."""
        return math.dist(self.centre, self.start)

    def reversed(self) -> Piece:
        """The same the other way."""
        return Piece(self.end, self.start, -self.sweep, self.centre, self.line)


@dataclass(frozen=True, slots=True)
class Drawing:
    """What a drawing holds. ``left``: everything that is no piece in its plane and layer."""

    unit: Unit | None
    pieces: tuple[Piece, ...]
    left: tuple[Mistake, ...]


class _EntityError(ValueError):
    """An entity is no piece of a plane; the words say what was expected."""


class _Entity:
    """An entity: its kind, and its values by group code."""

    def __init__(self, pairs: Sequence[Pair]) -> None:
        self.kind, self.line = pairs[0][1].strip(), pairs[0][2]
        self.pairs = pairs[1:]

    def number(self, code: int, default: float | None = None) -> float:
        """The figure of a group."""
        return _figure(self._value(code), default)

    def whole(self, code: int, default: int = 0) -> int:
        """A whole number of a group."""
        value = self._value(code)
        if value is None:
            return default
        if not _WHOLE.fullmatch(value):
            raise _EntityError(f"a whole number in group {code}")
        return int(value)

    def text(self, code: int) -> str:
        """A text of a group."""
        return (self._value(code) or "").strip()

    def point(self, code: int) -> Point:
        """A point whose first group is ``code``."""
        return self.number(code), self.number(code + 10)

    def _value(self, code: int) -> str | None:
        return next((value for its, value, _ in self.pairs if its == code), None)

    def flat(self) -> None:
        """Raises _EntityError unless it lies in the plane that is seen from above."""
        if self.whole(67):
            raise _EntityError("an entity of the model, not of a sheet of paper")
        if self.whole(60):
            raise _EntityError("a visible entity")
        way = [self.number(code, default) for code, default in ((210, 0), (220, 0), (230, 1))]
        if way != [0, 0, 1] or self.number(30, 0) != self.number(31, self.number(30, 0)):
            raise _EntityError("an entity in the plane of the drawing")


def _figure(value: str | None, default: float | None = None) -> float:
    if value is None and default is not None:
        return default
    if value is None or not _NUMBER.fullmatch(value) or abs(found := float(value)) > FARTHEST:
        raise _EntityError(f"a figure of at most {FARTHEST}, found {str(value)[:20]!r}")
    return found


def read(data: bytes, name: str, layer: str = "") -> Drawing:
    """The pieces of a drawing, of one layer where it is stated.

    Raises InputError for what is no ASCII DXF, or too large.
    """
    if len(data) > LARGEST:
        raise InputError("the drawing is too large", where=name)
    if b"\0" in data:
        raise _no_drawing(name, 1, "binary bytes", "Save it as ASCII DXF")
    unit: Unit | None = None
    pieces: list[Piece] = []
    left: list[Mistake] = []
    for section, entities in _sections(
        _pairs(data.decode("utf-8", "backslashreplace"), name), name
    ):
        if section == "HEADER":
            unit = _unit(entities, name)
        elif section == "ENTITIES":
            for entity in _grouped(entities):
                _taken(entity, name, layer, pieces, left)
    return Drawing(unit, tuple(pieces), tuple(left))


def _no_drawing(name: str, line: int, found: str, do: str = "") -> InputError:
    return InputError(
        "the file is no drawing in DXF",
        expected="a group code, then its value, a line each",
        found=found,
        where=f"{name}:{line}",
        do=do,
    )


def _pairs(text: str, name: str) -> Iterator[Pair]:
    lines = text.split("\n")
    if not lines[-1].strip():
        lines.pop()
    for n in range(0, len(lines), 2):
        code = _CODE.fullmatch(lines[n])
        if code is None or n + 1 == len(lines):
            raise _no_drawing(name, n + 1, repr(lines[n][:40]))
        # 999 is a comment.
        if int(code[1]) != 999:
            yield int(code[1]), lines[n + 1].removesuffix("\r"), n + 1


def _sections(pairs: Iterator[Pair], name: str) -> Iterator[tuple[str, list[list[Pair]]]]:
    """Each section's name, and what it holds, cut where a group 0 (in the header a 9) begins."""
    for code, value, line in pairs:
        if (code, value.strip()) == (0, "EOF"):
            return
        if (code, value.strip()) != (0, "SECTION"):
            raise _no_drawing(name, line, f"{code} {value[:40]!r} outside a section")
        _, section, _ = next(pairs, (0, "", 0))
        held: list[list[Pair]] = []
        for pair in pairs:
            if (pair[0], pair[1].strip()) == (0, "ENDSEC"):
                break
            if pair[0] == (9 if section.strip() == "HEADER" else 0):
                held.append([])
            elif not held:
                raise _no_drawing(name, pair[2], f"{pair[0]} {pair[1][:40]!r}")
            held[-1].append(pair)
        else:
            raise _no_drawing(name, line, "a section without its end")
        yield section.strip(), held
    raise _no_drawing(name, 1, "no end of the file, 0 EOF")


def _unit(variables: list[list[Pair]], name: str) -> Unit | None:
    """What $INSUNITS says; None where it says that there is none."""
    for pairs in variables:
        if pairs[0][1].strip() != "$INSUNITS":
            continue
        said = pairs[1][1].strip() if len(pairs) > 1 and pairs[1][0] == 70 else ""
        code = int(said) if _WHOLE.fullmatch(said) else -1
        if code not in (0, *_UNITS):
            raise InputError(
                "the drawing's unit is another",
                expected="$INSUNITS 4 (mm) or 1 (in)",
                found=f"{said[:10]} {_OTHER_UNITS.get(code, '')}".strip(),
                where=f"{name}:{pairs[0][2]}",
            )
        return _UNITS.get(code)
    return None


def _grouped(entities: list[list[Pair]]) -> Iterator[list[_Entity]]:
    """Each entity, a POLYLINE together with its vertices up to SEQEND."""
    group: list[_Entity] = []
    for pairs in entities:
        entity = _Entity(pairs)
        if group and entity.kind in ("VERTEX", "SEQEND"):
            if entity.kind == "VERTEX":
                group.append(entity)
                continue
        elif not group and entity.kind == "SEQEND":
            continue  # of inserts with attributes
        elif not group and entity.kind != "POLYLINE":
            yield [entity]
            continue
        if group:
            yield group
            group = []
        if entity.kind == "POLYLINE":
            group = [entity]
        elif entity.kind != "SEQEND":
            yield [entity]
    if group:
        yield group


def _taken(
    group: list[_Entity], name: str, layer: str, pieces: list[Piece], left: list[Mistake]
) -> None:
    """Put the entity's pieces to the others, or say why it has none."""
    entity, *vertices = group
    its, kind = entity.text(8), entity.kind[:40]
    try:
        if layer and its != layer:
            raise _EntityError(f"an entity on layer {layer}")
        if entity.kind not in _KINDS:
            raise _EntityError(" or ".join(_KINDS))
        entity.flat()
        pieces += _KINDS[entity.kind](entity, vertices)
    except _EntityError as error:
        left.append(Mistake(f"{name}:{entity.line}", str(error), f"{kind} on layer {its[:60]!r}"))
    for what, most in ((pieces, MOST_PIECES), (left, MOST_LEFT)):
        if len(what) > most:
            said = "pieces" if what is pieces else "things that are no contour"
            expected = f"at most {most} {said}"
            raise InputError(
                "the drawing holds too much",
                left[:20],
                expected=expected,
                found="more",
                where=name,
                do="Save the contour alone, or state its layer",
            )


# -- entities ------------------------------------------------------------------


def _line(entity: _Entity, _: list[_Entity]) -> list[Piece]:
    return [Piece(entity.point(10), entity.point(11), line=entity.line)]


def _radius(entity: _Entity) -> float:
    radius = entity.number(40)
    if radius <= 0:
        raise _EntityError("a radius above 0")
    return radius


def _on(centre: Point, radius: float, degrees: float) -> Point:
    angle = math.radians(degrees % 360)
    return centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)


def _arc(entity: _Entity, _: list[_Entity]) -> list[Piece]:
    """Anticlockwise from group 50 to group 51, in degrees."""
    centre, radius = entity.point(10), _radius(entity)
    begin, end = entity.number(50), entity.number(51)
    sweep = math.radians((end - begin) % 360)
    if not sweep:
        raise _EntityError("an arc of less than a turn")
    return [Piece(_on(centre, radius, begin), _on(centre, radius, end), sweep, centre, entity.line)]


def _circle(entity: _Entity, _: list[_Entity]) -> list[Piece]:
    centre, radius = entity.point(10), _radius(entity)
    start = _on(centre, radius, 0)
    return [Piece(start, start, 2 * math.pi, centre, entity.line)]


def _light(entity: _Entity, _: list[_Entity]) -> list[Piece]:
    """LWPOLYLINE: 10 and 20 begin a vertex, 42 is its bulge."""
    vertices: list[list[float]] = []
    for code, value, _line in entity.pairs:
        if code == 10:
            vertices.append([_figure(value), math.nan, 0.0])
        elif code in (20, 42) and vertices:
            vertices[-1][1 if code == 20 else 2] = _figure(value)
    if entity.whole(90, len(vertices)) != len(vertices) or any(math.isnan(v[1]) for v in vertices):
        raise _EntityError("as many vertices as group 90 says, X and Y each")
    return _polyline(vertices, closed=bool(entity.whole(70) & _CLOSED), line=entity.line)


def _heavy(entity: _Entity, vertices: list[_Entity]) -> list[Piece]:
    """POLYLINE: its vertices are entities of their own."""
    flags = entity.whole(70)
    if flags & _NO_PLAIN_POLYLINE or any(v.whole(70) & _FRAME_POINT for v in vertices):
        raise _EntityError("a polyline of lines and arcs, no fitted curve and no mesh")
    found = [[*vertex.point(10), vertex.number(42, 0)] for vertex in vertices]
    return _polyline(found, closed=bool(flags & _CLOSED), line=entity.line)


def _polyline(vertices: list[list[float]], *, closed: bool, line: int) -> list[Piece]:
    """A piece from each vertex to the next; a bulge is the tangent of a quarter of its sweep."""
    if len(vertices) < 2:
        raise _EntityError("a polyline of 2 vertices or more")
    follow = vertices[1:] + (vertices[:1] if closed else [])
    return [
        _bulged((x, y), (follow_x, follow_y), bulge, line)
        for (x, y, bulge), (follow_x, follow_y, _) in zip(vertices, follow, strict=False)
    ]


def _bulged(start: Point, end: Point, bulge: float, line: int) -> Piece:
    chord = math.dist(start, end)
    if abs(bulge) * chord / 2 < _STRAIGHT:
        return Piece(start, end, line=line)
    # The centre stands off the chord's middle, to the left of an anticlockwise arc's way.
    off = (1 / bulge - bulge) / 4
    dx, dy = end[0] - start[0], end[1] - start[1]
    centre = (start[0] + end[0]) / 2 - off * dy, (start[1] + end[1]) / 2 + off * dx
    if max(map(abs, centre)) > FARTHEST:
        raise _EntityError(f"arcs whose centres lie within {FARTHEST}")
    return Piece(start, end, 4 * math.atan(bulge), centre, line)


_KINDS = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _circle,
    "LWPOLYLINE": _light,
    "POLYLINE": _heavy,
}
