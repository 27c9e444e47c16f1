"""Counters in hexadecimal, which are found before figures are looked for. Pure.

Their letters would be words that change; so each is written as a decimal number first.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from drivers.learning.figures import counts

_NUMBER = re.compile(rb"(?<![0-9A-Fa-f.,+-])(?:[0-9A-F]{2,6}|[0-9a-f]{2,6})(?![0-9A-Fa-f.])")
_LETTER = re.compile(rb"[A-Fa-f]")
_FEWEST = 6
_MOST_DAMAGED = 0.2
_WIDE = 10
"""Digits of the decimal number that stands for one."""


@dataclass(frozen=True, slots=True)
class Plain:
    """Bodies with their counter as a decimal number. ``digits``: what lets the counter in as it
    stands, "" where there is none."""

    bodies: Sequence[bytes]
    digits: str = ""


def plain(bodies: Sequence[bytes]) -> Plain:
    """The same bodies where no counter in hexadecimal stands in most of them."""
    found = [list(_NUMBER.finditer(body)) for body in bodies]
    sizes = Counter(len(each) for each in found if each)
    usual = sizes.most_common(1)[0][0] if sizes else 0
    rows = [n for n, each in enumerate(found) if usual and len(each) == usual]
    if len(rows) < max(_FEWEST, (1 - _MOST_DAMAGED) * len(bodies)):
        return Plain(bodies)
    for column in range(usual):
        texts = [found[n][column].group() for n in rows]
        letters = b"".join(texts)
        one = len({len(text) for text in texts}) == 1 and _LETTER.search(letters)
        if not one or not counts([int(text, 16) for text in texts]):
            continue
        made = list(bodies)
        for n, text in zip(rows, texts, strict=True):
            start, end = found[n][column].span()
            made[n] = bodies[n][:start] + b"%0*d" % (_WIDE, int(text, 16)) + bodies[n][end:]
        wide, signs = len(texts[0]), "A-F" if letters.upper() == letters else "a-f"
        return Plain(made, f"[0-9{signs}]{{{wide}}}")
    return Plain(bodies)


def most(digits: str) -> int:
    """The highest number of so many digits."""
    wide = int(digits[digits.index("{") + 1 : -1])
    return (1 << 4 * wide) - 1
