"""Type: the four cuts, how wide text is, how it wraps, and how it fits a room. Draws nothing.

Chinese and Japanese come from a font of their own, and Korean letters from another; each is read
when a text needs it, and a line may mix them. A sign that no font has is refused, never printed as
an empty box.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources
from io import BytesIO
from itertools import groupby

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont, TTFontFace

from inspect_rec.errors import ReportError

MM = 72 / 25.4
REGULAR, SEMIBOLD = "TallowSans-Regular", "TallowSans-Semibold"
CONDENSED, CONDENSED_SEMIBOLD = "TallowSans-Condensed", "TallowSans-CondensedSemibold"
IDEOGRAPHS = "DroidSansFallbackFull"
"""Chinese signs, kana and their punctuation, in one weight."""
HANGUL = "TallowHangul-Regular"
"""Korean syllables, their letters alone and the enclosed ones, in one weight."""
_NARROW = {REGULAR: CONDENSED, SEMIBOLD: CONDENSED_SEMIBOLD}
SMALLEST = 6.5
_SPACE = re.compile(r"(?<!\d) +| +(?!(?:mm|µm|°C|K|min|u)\b|%)")
"""Where a line may break: not between a figure and its unit."""
_AFTER = re.compile(r"[^-/]+[-/]*|[-/]+")
_WRITTEN = str.maketrans({"⌀": "Ø", "∅": "Ø", "℃": "°C"})
"""Signs of the trade in place of which the fonts have another that reads the same."""
_SMALL_KANA = frozenset("ぁぃぅぇぉっゃゅょゎァィゥェォッャュョヮヵヶ")


@cache
def fonts() -> None:
    """Register the four cuts, once."""
    for name in (REGULAR, SEMIBOLD, CONDENSED, CONDENSED_SEMIBOLD):
        _register(name)


def _register(name: str) -> None:
    data = (resources.files("report_templates") / "fonts" / f"{name}.ttf").read_bytes()
    pdfmetrics.registerFont(TTFont(name, BytesIO(data)))


def width(text: str, font: str, size: float) -> float:
    """Width of a line of text, mm."""
    return _units(text, font) * size / (1000 * MM)


@cache
def _known() -> frozenset[str]:
    """Signs that every cut has, those that only steer apart."""
    fonts()
    faces = (pdfmetrics.getFont(font).face.charWidths for font in (*_NARROW, *_NARROW.values()))
    signs = frozenset.intersection(*(frozenset(map(chr, wide)) for wide in faces))
    return frozenset(s for s in signs if unicodedata.category(s)[0] != "C")


@lru_cache(maxsize=8192)
def _fallback(sign: str) -> str | None:
    """The font that has a sign which the cuts lack. Marks that combine, letters that join and
    signs without ink aren't meant. Hangul comes from one font: the other has three syllables."""
    if unicodedata.category(sign)[0] not in "LNPS":
        return None
    font = HANGUL if "HANGUL" in unicodedata.name(sign, "") else IDEOGRAPHS
    return font if ord(sign) in _face(font).charWidths else None


@cache
def _face(font: str) -> TTFontFace:
    """A fallback's widths and outlines, read at the first sign that needs them."""
    _register(font)
    return pdfmetrics.getFont(font).face


def printable(said: str) -> str:
    """The text as it can be printed, in composed form (NFC). Raises ReportError for a sign that
    no font has: it is never an empty box."""
    known = _known()
    if known.issuperset(said):
        return said
    said = unicodedata.normalize("NFC", said).translate(_WRITTEN)
    for sign in said:
        if sign not in known and _fallback(sign) is None:
            name = unicodedata.name(sign, "no name")
            raise ReportError(
                "no font of the report has this sign",
                expected="Latin, Greek or Cyrillic letters, Chinese signs, kana, Hangul",
                found=f"{sign!a} (U+{ord(sign):04X}, {name}) in {said[:60]!r}",
                do="Write it with other signs where it was typed",
            )
    return said


def runs(text: str, font: str) -> Iterator[tuple[str, str]]:
    """The text in pieces, each with the font that has it: the cut, or a fallback."""
    known = _known()
    if known.issuperset(text):
        yield text, font
        return
    for other, signs in groupby(text, lambda s: None if s in known else _fallback(s)):
        yield "".join(signs), other or font


@lru_cache(maxsize=8192)
def _units(text: str, font: str) -> float:
    """Width in thousandths of the size; reportlab's own sum takes a third of a report's time."""
    if not _known().issuperset(text):
        return sum(_in(piece, each) for piece, each in runs(text, font))
    return _in(text, font)


def _in(text: str, font: str) -> float:
    face = pdfmetrics.getFont(font).face
    wide, other = face.charWidths, face.defaultWidth
    return float(sum(wide.get(ord(ch), other) for ch in text))


def _words(text: str) -> Iterator[tuple[str, str]]:
    """Where lines may break: what stands before a word if it stays on its line, and the word.
    Ideographs and kana are words of their own where a line may break between them; Korean words
    stand between spaces, and their endings stay with the figure or letters before them."""
    for word in filter(None, _SPACE.split(text)):
        gap, held, before = " ", "", ""
        for piece, font in runs(word, REGULAR):
            for sign in piece if font == IDEOGRAPHS else (piece,):
                breaks = IDEOGRAPHS in {before, font}
                if held and breaks and not _together(held[-1], sign[0]):
                    yield gap, held
                    gap, held = "", ""
                held += sign
                before = font
        yield gap, held


def _together(before: str, sign: str) -> bool:
    """Whether no line ends between the two: none begins with a sign that closes, a mark or a small
    kana, and none ends with a bracket that opens (JIS X 4051, GB/T 15834; from memory)."""
    closes = unicodedata.category(sign) in {"Pe", "Pf", "Po", "Lm"} or sign in _SMALL_KANA
    return closes or unicodedata.category(before) in {"Ps", "Pi"}


def wrap(text: str, font: str, size: float, wide: float) -> list[str]:
    """Lines of at most ``wide`` mm; a word that is longer by itself is broken, after a hyphen or
    a slash where it has one."""
    lines: list[str] = []
    line = ""
    for gap, word in _words(text):
        tried = f"{line}{gap}{word}".strip()
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
