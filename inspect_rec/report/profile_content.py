"""What a report draws of profiles: nominal forms, and the points of each edge on them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Straight:
    """A straight piece of a nominal form, mm; plus lies on the left of its way from start to end.
    ``first`` and ``last``: how far along the form its ends are, mm."""

    first: float
    last: float
    start: tuple[float, float]
    end: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Round:
    """A round piece of a nominal form, mm and deg from x toward y, from ``begin`` to ``end``.
    ``first`` and ``last``: how far along the form that is, mm or deg; ``plus``: away from the
    centre (1) or toward it (-1)."""

    first: float
    last: float
    centre: tuple[float, float]
    radius: float
    begin: float
    end: float
    plus: int = 1


@dataclass(frozen=True, slots=True)
class Form:
    """A nominal form, x to the right and y up, in pieces one after the other.

    ``metal``: on which side of it the metal lies, plus (1) or minus (-1); 0 where that isn't known.
    ``ticks``: places along it with what stands there. ``axes``: names of x and y, where they are
    those of the slides.
    """

    pieces: tuple[Straight | Round, ...]
    metal: int
    ticks: tuple[tuple[float, str], ...] = ()
    axes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Profile:
    """Points of one edge against a nominal form: how far along it, deg or mm, and the deviation
    square to it, um.

    ``on``: the piece of the form to which each point belongs. ``lower`` and ``upper``: limits of
    the deviation, um, None where there is none.
    """

    title: str
    label: str
    value: str
    points: tuple[tuple[float, float], ...]
    on: tuple[int, ...]
    lower: float | None
    upper: float | None
    limit_texts: tuple[str, str]
    guard: float
    decides: bool = False
    verdict: str = "conforms"


@dataclass(frozen=True, slots=True)
class Profiles:
    """All edges on the nominal form of one characteristic, and each laid flat."""

    number: int
    title: str
    subtitle: str
    caption: str
    form: Form
    edges: tuple[Profile, ...]
