"""What looks wrong about a reading at its place: wrong side, out of order, far from its like.

A doubt is words for the person at the machine, said at once. It never refuses a reading and never
changes one: the limits here are rules of the house for telling a slip from a measured value.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

from inspect_rec.inspection.kept import Kept, Place, Record, figures_of
from inspect_rec.inspection.repeats import slide, spread
from inspect_rec.inspection.results import Evaluator
from inspect_rec.inspection.sequence import Sequence as Steps

_FAR_MM = Decimal("0.5")
"""A mark whose radial figure lies further than this from its like: no spread of grinding is."""
_LEAST_FAR_MM = Decimal("0.1")
_HARDLY = Decimal("0.2")
"""A point nearer to the last than this share of the last step was taken twice."""
_OTHER = {"greater": "smaller", "smaller": "greater"}
_Figures = tuple[Decimal, Decimal]


def doubt(record: Record, place: Place) -> str:
    """What looks wrong about the reading that stands at ``place``; empty where nothing does."""
    kept = record.standing().get(place)
    if kept is None or not {"X", "Z"} <= set(kept.figures):
        return ""
    if place.mark in _OTHER:
        return _side(record, kept) or _far(record, kept, ())
    line = _line(record, place)
    return _order(line) or _far(record, kept, line)


def taken(record: Record, place: Place | None) -> str:
    """What is said of the reading just taken at ``place``."""
    if place is None:
        return "Taken"
    if found := doubt(record, place):
        return f"Taken. {found} Strike it out if not"
    kept = record.standing().get(place)
    said = _differing(record, place) if kept is not None and kept.once_more else ""
    return f"Taken. {said}" if said else "Taken"


def _differing(record: Record, place: Place) -> str:
    """How far the repeats lie apart, before the one more and, once it is whole, with it."""
    steps = Steps(record)
    feature = steps.feature(place.feature, place.round)
    apart = spread(record, steps, place, Evaluator(record, steps).noise.one)
    if feature is None or apart is None or not apart.too_large:
        return ""
    if place.repeat <= feature.repeats:
        return f"Repeats differ by {apart}: sight once more, or strike out a slip"
    whole = len(apart.readings) > feature.repeats
    return f"Repeats still differ by {apart}. All count; strike out a slip" if whole else ""


def one_more(record: Record, place: Place, about: Iterable[Mapping[str, str]]) -> dict[str, bool]:
    """What goes into the entry of a reading that is about to be taken: whether its repeats differ
    so much that one more is asked for, or it is the one that was asked for; else nothing."""
    steps = Steps(record)
    feature = steps.feature(place.feature, place.round)
    if feature is None or feature.repeats < 2 or slide(record, feature) is None:
        return {}
    if place.repeat <= feature.repeats:
        figures = figures_of(about, record.set_up)
        apart = spread(record, steps, place, Evaluator(record, steps).noise.one, figures)
        if apart is None or not apart.too_large:
            return {}
    return {"once_more": True}


def _at(kept: Kept) -> _Figures:
    return kept.figures["X"], kept.figures["Z"]


def _apart(a: _Figures, b: _Figures) -> Decimal:
    return ((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2).sqrt()


def _side(record: Record, kept: Kept) -> str:
    """``greater`` must show more on the radial slide than ``smaller`` beside it."""
    place, radial = kept.place, record.set_up.radial
    beside = [
        other
        for p, other in record.standing().items()
        if p.mark == _OTHER[place.mark]
        and (p.feature, p.flute, p.when, p.round)
        == (place.feature, place.flute, place.when, place.round)
    ]
    if not beside:
        return ""
    more = kept.figures[radial] - max(beside, key=lambda k: k.ref).figures[radial]
    if (more if place.mark == "greater" else -more) > 0:
        return ""
    return f"Is this the side where {radial} is {place.mark}?"


def _line(record: Record, place: Place) -> tuple[Kept, ...]:
    """The points up to this one, where marks are points that follow each other."""
    if not place.mark.isdigit():
        return ()
    standing = record.standing()
    before = (
        Place(place.feature, place.flute, str(n), place.repeat, place.when, place.round)
        for n in range(1, int(place.mark) + 1)
    )
    return tuple(standing[p] for p in before if p in standing)


def _order(line: Sequence[Kept]) -> str:
    """Points follow each other along the edge: neither back nor on the spot."""
    if len(line) < 3:
        return ""
    first, last, new = (_at(k) for k in line[-3:])
    back = sum((a - b) * (c - a) for a, b, c in zip(last, first, new, strict=True)) < 0
    step, before = _apart(new, last), _apart(last, first)
    if step < _HARDLY * before:
        return f"Hardly moved since point {line[-2].place.mark}: is this the next one?"
    if back:
        return f"It lies back toward point {line[-3].place.mark}: is the order right?"
    return ""


def _far(record: Record, kept: Kept, line: Sequence[Kept]) -> str:
    """Far from where the same mark lay before, or lies on another flute, in the same clamping."""
    like = _like(record, kept)
    if like is None:
        return ""
    limit = _FAR_MM
    if line:
        off = _apart(_at(kept), _at(like))
        if len(line) > 1:
            limit = max(_LEAST_FAR_MM, _apart(_at(line[-1]), _at(line[-2])) / 2)
    else:
        radial = record.set_up.radial
        off = abs(kept.figures[radial] - like.figures[radial])
    if off <= limit:
        return ""
    flute = f" on {_word(record)} {like.place.flute}" if like.place.flute else ""
    return f"{off:.2f} mm from where {_mark(like.place)} lay{flute}: is this the right place?"


def _like(record: Record, kept: Kept) -> Kept | None:
    """The last other reading of the same mark since something was clamped or a zero set."""
    moved = ("clamped", "unclamped", "datum set anew")
    since = max(((e.station, e.seq) for e in record.entries if e.kind in moved), default=("", 0))
    place = kept.place
    found = [
        r
        for r in record.readings
        if (r.place.feature, r.place.mark) == (place.feature, place.mark)
        and r.ref not in (kept.ref, *_struck(record))
        and r.ref > since
    ]
    return max(found, key=lambda r: (r.place.flute == place.flute, r.ref), default=None)


def _struck(record: Record) -> list[tuple[str, int]]:
    return [s.reading.ref for s in record.struck]


def _word(record: Record) -> str:
    return record.job.tool_of(record.mark).edge_word


def _mark(place: Place) -> str:
    return f"point {place.mark}" if place.mark.isdigit() else f'"{place.mark}"'
