"""Signs that stand before the word of their axis, as in "-X0031.447". Pure.

Such a sign belongs to the figure behind the word. Where only one was ever seen it may as well be a
mark between two figures: that isn't guessed.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

from drivers.learning.between import Word
from drivers.learning.figures import Number
from drivers.learning.signs import Part, beside
from drivers.learning.text import Text

_NAME = re.compile(rb" *[A-Za-z]{1,8}[ =:]*")
_SIGNED = re.compile(rb"([+-])( *[A-Za-z]{1,8}[ =:]*)")
_ALONE = re.compile(rb"( *)([+ -])")
_PERHAPS = re.compile(rb"(.*[^A-Za-z]|)([+-])( *[A-Za-z]{1,8}[ =:]*)", re.DOTALL)

Signs = tuple[list[Part], list[bytes], Part]
"""What stands before the sign, the sign in each frame, and the word behind it."""


def parted(text: Text) -> None:
    """Give each figure the sign that stands before its word; say where one may be such a sign."""
    for figure in text.figures:
        _give(text, figure, _changing)
    if any(word.role == "sign" for word in text.words):
        # Where the sign of one figure stands, that of another does, too.
        for figure in text.figures:
            _give(text, figure, _constant)
        text.unclear = beside(text.parts)
    else:
        text.unclear |= any(_may_be(text, figure) for figure in text.figures)


def _give(text: Text, figure: Number, way: Callable[[list[Part], int], Signs | None]) -> None:
    at = _at(text, figure)
    found = way(text.parts[:at], len(text.rows)) if figure.signs == {b""} else None
    if found is None:
        return
    left, signs, name = found
    written = zip(figure.written, signs, strict=True)
    ahead = [replace(each, sign=sign, ahead=True) for each, sign in written]
    own = replace(figure, written=ahead, either=False)
    parts: list[Part] = [*left, Word(signs, "sign", slot=figure.slot), name, own]
    text.parts = [*parts, *text.parts[at + 1 :]]


def _at(text: Text, figure: Number) -> int:
    return next(n for n, part in enumerate(text.parts) if part is figure)


def _changing(before: list[Part], _: int) -> Signs | None:
    """A sign that changes, alone before a name, or the first of words such as -X and +Z."""
    last = before[-1] if before else b""
    if isinstance(last, Word) and not last.role:
        found = [_SIGNED.fullmatch(value) for value in last.values]
        pairs = [(each[1], each[2]) for each in found if each is not None]
        names = [name for _, name in pairs]
        if len(pairs) < len(found):
            return None
        word: Part = names[0] if len(set(names)) == 1 else Word(names)
        return before[:-1], [sign for sign, _ in pairs], word
    word_, name_ = before[-2:] if len(before) > 1 else (b"", b"")
    if not isinstance(word_, Word) or word_.role or not isinstance(name_, bytes):
        return None
    alone = [_ALONE.fullmatch(value) for value in word_.values]
    pairs = [(each[1], each[2]) for each in alone if each is not None]
    one = len(pairs) == len(alone) and len({blanks for blanks, _ in pairs}) == 1
    if not one or not _NAME.fullmatch(name_):
        return None
    signs = [sign for _, sign in pairs]
    blanks = [pairs[0][0]] if pairs[0][0] else []
    return ([*before[:-2], *blanks], signs, name_) if b"-" in signs else None


def _constant(before: list[Part], frames: int) -> Signs | None:
    """A sign that is always the same, before a name."""
    last = before[-1] if before else b""
    found = _PERHAPS.fullmatch(last) if isinstance(last, bytes) else None
    if found is None:
        return None
    left = [found[1]] if found[1] else []
    return [*before[:-1], *left], [found[2]] * frames, found[3]


def _may_be(text: Text, figure: Number) -> bool:
    """Whether a sign that never changes stands before a figure's name."""
    at = _at(text, figure)
    if figure.signs != {b""}:
        return False
    ends = [b""]
    for part in text.parts[max(0, at - 2) : at]:
        kinds = [part] if isinstance(part, bytes) else [b"0"]
        if isinstance(part, Word) and not part.role:
            kinds = list(part.kinds)
        ends = [end + kind for end in ends for kind in kinds]
    return any(_PERHAPS.fullmatch(end) for end in ends)
