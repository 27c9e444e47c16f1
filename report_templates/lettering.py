"""Type: the four cuts, how wide text is, how it wraps, and how it fits a room. Draws nothing."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources
from io import BytesIO

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

MM = 72 / 25.4
REGULAR, SEMIBOLD = "TallowSans-Regular", "TallowSans-Semibold"
CONDENSED, CONDENSED_SEMIBOLD = "TallowSans-Condensed", "TallowSans-CondensedSemibold"
_NARROW = {REGULAR: CONDENSED, SEMIBOLD: CONDENSED_SEMIBOLD}
SMALLEST = 6.5
_SPACE = re.compile(r"(?<!\d) +| +(?!(?:mm|µm|°C|K|min|u)\b|%)")
"""Where a line may break: not between a figure and its unit."""
_AFTER = re.compile(r"[^-/]+[-/]*|[-/]+")


@cache
def fonts() -> None:
    """Register the four cuts, once."""
    folder = resources.files("report_templates") / "fonts"
    for name in (REGULAR, SEMIBOLD, CONDENSED, CONDENSED_SEMIBOLD):
        data = (folder / f"{name}.ttf").read_bytes()
        pdfmetrics.registerFont(TTFont(name, BytesIO(data)))


def width(text: str, font: str, size: float) -> float:
    """Width of a line of text, mm."""
    return _units(text, font) * size / (1000 * MM)


@cache
def _known() -> frozenset[str]:
    """Signs that every cut has."""
    fonts()
    faces = (pdfmetrics.getFont(font).face.charWidths for font in (*_NARROW, *_NARROW.values()))
    return frozenset.intersection(*(frozenset(map(chr, wide)) for wide in faces))


def printable(said: str) -> str:
    """The text with every sign that a cut lacks as its number, [U+5C71]: never an empty box."""
    known = _known()
    if known.issuperset(said):
        return said
    return "".join(ch if ch in known else f"[U+{ord(ch):04X}]" for ch in said)


@lru_cache(maxsize=8192)
def _units(text: str, font: str) -> float:
    """Width in thousandths of the size; reportlab's own sum takes a third of a report's time."""
    face = pdfmetrics.getFont(font).face
    wide, other = face.charWidths, face.defaultWidth
    return float(sum(wide.get(ord(ch), other) for ch in text))


def wrap(text: str, font: str, size: float, wide: float) -> list[str]:
    """Lines of at most ``wide`` mm; a word that is longer by itself is broken, after a hyphen or
    a slash where it has one."""
    lines: list[str] = []
    line = ""
    for word in filter(None, _SPACE.split(text)):
        tried = f"{line} {word}".strip()
        if width(tried, font, size) <= wide:
            line = tried
            continue
        if line:
            lines.append(line)
        *broken, line = _broken(word, font, size, wide)
        lines += broken
    return [*lines, line] if line or not lines else lines


def _broken(word: str, font: str, size: float, wide: float) -> list[str]:
    """A word in parts that fit."""
    parts = [""]
    for piece in _AFTER.findall(word):
        if width(parts[-1] + piece, font, size) <= wide:
            parts[-1] += piece
            continue
        if parts[-1]:
            parts.append("")
        for ch in piece:
            if parts[-1] and width(parts[-1] + ch, font, size) > wide:
                parts.append("")
            parts[-1] += ch
    return parts


@dataclass(frozen=True, slots=True)
class Fit:
    """Text as it fits a room; ``whole`` is false where not all of it does."""

    font: str
    size: float
    lines: tuple[str, ...]
    whole: bool = True


def fit(
    said: str,
    wide: float,
    size: float,
    font: str = REGULAR,
    lines: int = 1,
    wrapped: float | None = None,
) -> Fit:
    """The largest way in which a text fits: one line, condensed, then ``lines`` lines from size
    ``wrapped`` down to SMALLEST. What still doesn't fit stays at SMALLEST with the lines there
    are."""
    narrow = _NARROW.get(font, font)
    found: list[str] = []
    cut, points = font, size
    for cut, points, most in _ways(font, narrow, size, lines, wrapped or size):
        found = wrap(said, cut, points, wide)
        if len(found) <= most:
            return Fit(cut, points, tuple(found))
    return Fit(cut, points, tuple(found[:lines]), whole=False)


def _ways(
    font: str, narrow: str, size: float, lines: int, wrapped: float
) -> Iterable[tuple[str, float, int]]:
    yield font, size, 1
    points = size
    while points >= max(SMALLEST, wrapped):
        yield narrow, points, 1
        points -= 0.5
    points = wrapped
    while points > SMALLEST:
        yield narrow, points, lines
        points -= 0.5
    yield narrow, SMALLEST, lines


def shortened(found: Fit, wide: float, tail: str) -> Fit:
    """A text that didn't fit, its end replaced by ``tail``."""
    *first, last = found.lines
    kept = last.split()
    while kept and width(f"{' '.join(kept)} {tail}", found.font, found.size) > wide:
        kept.pop()
    return Fit(found.font, found.size, (*first, f"{' '.join(kept)} {tail}".strip()), whole=False)
