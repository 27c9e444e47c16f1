"""What frames of text are made of: numbers, words that change, and what always stands there. Pure.

Knows nothing of axes and moves: which number is which figure is said elsewhere.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from drivers.learning.between import FEW, MARK, TOKEN, Word, aligned
from drivers.learning.figures import (
    NUMBERS,
    SHORTEST,
    WIDE,
    Number,
    Written,
    counts,
    places_of,
    sign_after,
    sign_before,
)
from drivers.learning.signs import Part, beside, signs_after, unclear, well_signed

CHECK = b"\xfe"
"""Stands for a frame's check, which is taken out before its text is looked at."""
CLOCK, DATE = b"\xfd", b"\xfc"
"""Stand for the readout's own time and date, which are let in and not used."""
_STAMPS = (
    (CLOCK, re.compile(rb"(?<!\d)[0-2]\d:[0-5]\d:[0-5]\d(?!\d)")),
    (DATE, re.compile(rb"(?<!\d)\d{4}-\d\d-\d\d(?!\d)|(?<!\d)\d\d[./-]\d\d[./-]\d{4}(?!\d)")),
)
_ONE_LENGTH = 0.85
_BLANKS = re.compile(rb"[ +-]+")
_LED = re.compile(rb"0[0-9]")
_FLAG = re.compile(rb"([;, ]*U(?:NIT)?[=:])([01])\Z")
_MANY_PLACES = 5
_PART = re.compile(rb"\d[.,]\Z")
"""Before a number: it isn't whole."""
_WIDE = 4
"""Digits of the narrowest figure without a point."""


@dataclass
class Text:
    """Frames of text alike. ``rows``: which of the bodies; ``parts``: what each is made of;
    ``unclear``: a sign that may be a mark between two figures."""

    point: str
    rows: list[int]
    parts: list[Part]
    unclear: bool = False

    @property
    def numbers(self) -> list[Number]:
        """Its numbers, in the order of the frame."""
        return [part for part in self.parts if isinstance(part, Number)]

    @property
    def figures(self) -> list[Number]:
        """Those that may be figures of an axis."""
        return [n for n in self.numbers if n.kind == "figure"]

    @property
    def words(self) -> list[Word]:
        """What changes and is no number."""
        return [part for part in self.parts if isinstance(part, Word)]

    def kept(self, keep: Sequence[int]) -> Text:
        """The same of some of its rows."""
        parts: list[Part] = []
        for part in self.parts:
            if isinstance(part, Number):
                parts.append(replace(part, written=[part.written[n] for n in keep]))
            elif isinstance(part, Word):
                parts.append(replace(part, values=[part.values[n] for n in keep]))
            else:
                parts.append(part)
        return replace(self, rows=[self.rows[n] for n in keep], parts=parts)

    def label(self, slot: int) -> bytes:
        """The word that stands before a figure; behind, where none stands before the first and one
        behind each."""
        first = self._names(self.figures[0].slot, -1)
        if not first and all(self._names(f.slot, 1) for f in self.figures):
            return self._names(slot, 1)[0]
        found = self._names(slot, -1)
        return found[-1] if found else b""

    def _names(self, slot: int, by: int) -> list[bytes]:
        at = next(n for n, p in enumerate(self.parts) if isinstance(p, Number) and p.slot == slot)
        part = self.parts[at + by] if 0 <= at + by < len(self.parts) else b""
        return [t for t in TOKEN.findall(part) if _is_name(t)] if isinstance(part, bytes) else []


def _is_name(token: bytes) -> bool:
    known = (b"mm", b"in", b"inch", b"r", b"rad", b"dia", b"abs", b"inc")
    return token.isalpha() and token.lower() not in known


def points(bodies: Sequence[bytes]) -> list[str]:
    """How figures may show their point, the likeliest first."""
    n = len(bodies)
    if sum(re.search(rb"\d?\.\d", body) is not None for body in bodies) >= 0.5 * n:
        return ["."]
    places = Counter(len(m[1]) for b in bodies for m in re.finditer(rb"\d,(\d+)", b))
    if sum(places.values()) < 0.5 * n:
        return ["none"]
    # Behind a comma may also stand the next figure, which has more digits than a figure has places.
    return [","] if places.most_common(1)[0][0] < _MANY_PLACES else [",", "none"]


def analyse(bodies: Sequence[bytes], point: str) -> Text | None:
    """What these bodies are made of; None where no number stands in most of them."""
    flags = [_FLAG.search(body) for body in bodies]
    flagged = sum(map(bool, flags))
    if not 1 < flagged < len(bodies) - 1:
        return _analysed(bodies, point)
    # A flag for the unit that not every frame has.
    bare = [b if f is None else b[: f.start()] for b, f in zip(bodies, flags, strict=True)]
    found = _analysed(bare, point)
    if found is not None:
        said = [flags[row] for row in found.rows]
        values = [b"" if f is None else f[2] for f in said]
        before = Counter(f[1] for f in said if f is not None)
        sometimes = values.count(b"") > 1 and len(set(values)) == 2
        if len(before) == 1 and sometimes:
            found.parts.append(Word(values, "flag", before=next(iter(before))))
            return found
    return _analysed(bodies, point)


def _analysed(bodies: Sequence[bytes], point: str) -> Text | None:
    known = list(dict.fromkeys(bodies))
    stamps = [(m, r) for m, r in _STAMPS if sum(map(bool, map(r.search, known))) > len(known) / 2]
    pieces = {body: NUMBERS[point].split(_stamped(body, stamps)) for body in known}
    split = [pieces[body] for body in bodies]
    rows = _alike(split, point)
    if not rows:
        return None
    numbers = [[split[row][slot] for row in rows] for slot in range(1, len(split[rows[0]]), 2)]
    kinds = [_kind(digits, point, split, rows, n) for n, digits in enumerate(numbers)]
    if "figure" not in kinds:
        return None
    between = [_between(split[row], kinds) for row in rows]
    if any(_PART.search(gap) for gap in between[0][:-1]):
        return None
    return _signed(between, numbers, kinds, point, rows)


def _stamped(body: bytes, stamps: Sequence[tuple[bytes, re.Pattern[bytes]]]) -> bytes:
    for mark, stamp in stamps:
        body = stamp.sub(mark, body)
    return body


def _alike(split: Sequence[Sequence[bytes]], point: str) -> list[int]:
    """Rows with the usual number of numbers, each with its usual places, in a usual form."""
    sizes = Counter(len(each) for each in split if len(each) > 1)
    if not sizes:
        return []
    size = sizes.most_common(1)[0][0]
    rows = [n for n, each in enumerate(split) if len(each) == size]
    for slot in range(1, size, 2):
        places = Counter(places_of(split[n][slot], point) for n in rows)
        usual = places.most_common(1)[0][0]
        rows = [n for n in rows if places_of(split[n][slot], point) == usual]
    return _usual(split, rows) if len(rows) > FEW else rows


def _usual(split: Sequence[Sequence[bytes]], rows: list[int]) -> list[int]:
    """Rows of a form that more than one has, a mark apart; of one length, where figures are filled
    up to it."""
    lone = _lone(split, rows)
    rows = [n for n in rows if n not in lone]
    forms = {n: tuple(_BLANKS.sub(b" ", gap) for gap in split[n][::2]) for n in rows}
    often = Counter(forms.values())
    bare = {form: tuple(MARK.sub(b"", gap) for gap in form) for form in often}
    usual = Counter[tuple[bytes, ...]]()
    for form, n in often.items():
        usual[bare[form]] += n
    rows = [n for n in rows if often[forms[n]] > 1 or usual[bare[forms[n]]] > 2]
    lengths = Counter(sum(map(len, split[n])) for n in rows)
    if not lengths:
        return []
    length, most = lengths.most_common(1)[0]
    # Noughts that fill a shorter number than others are only those before an implied point.
    wide = [Counter(len(split[n][slot]) for n in rows) for slot in range(1, len(split[rows[0]]), 2)]
    widest = [max(size for size, n in sizes.items() if n > 1 or len(rows) <= FEW) for sizes in wide]
    filled = any(
        gap.endswith(b"  ") or (_LED.match(digits) and len(digits) == most_ >= SHORTEST)
        for n in rows[:50]
        for gap, digits, most_ in zip(split[n][::2], split[n][1::2], widest, strict=False)
    )
    if filled and most >= _ONE_LENGTH * len(rows):
        # What has a mark is longer.
        return [n for n in rows if sum(map(len, split[n])) == length or _marked(split[n])]
    return rows


def _lone(split: Sequence[Sequence[bytes]], rows: Sequence[int]) -> set[int]:
    """Rows in which alone a number has a sign or none, or noughts fill it up or don't: they are
    damaged."""
    found: set[int] = set()
    for slot in range(1, len(split[rows[0]]) if rows else 0, 2):
        led = {n: bool(_LED.match(split[n][slot])) for n in rows}
        signed = {n: split[n][slot - 1].rstrip(b" ")[-1:] in (b"+", b"-") for n in rows}
        for flags in (led, signed):
            times = Counter(flags.values())
            found |= {n for n, flag in flags.items() if times[flag] == 1}
    return found


def _marked(pieces: Sequence[bytes]) -> bool:
    return MARK.fullmatch(pieces[-1]) is not None


def _kind(
    digits: Sequence[bytes], point: str, split: Sequence[Sequence[bytes]], rows: list[int], n: int
) -> str:
    """figure, count, digits, or text: part of what stands there anyway."""
    texts = set(digits)
    if places_of(digits[0], point):
        return "figure"
    widest = max(map(len, texts))
    values = [int(d) for d in digits]
    if counts(values) and (len(values) > 2 or widest < _WIDE):
        return "count"
    signed = any(split[row][2 * n][-1:] in (b"+", b"-") for row in rows)
    if point == "none" and (widest >= _WIDE or signed):
        return "figure"
    return "text" if len(texts) <= 6 and widest <= 3 else "digits"


def _between(pieces: Sequence[bytes], kinds: Sequence[str]) -> list[bytes]:
    """What stands between the numbers that are values."""
    found = [pieces[0]]
    for n, kind in enumerate(kinds):
        if kind == "text":
            found[-1] += pieces[2 * n + 1] + pieces[2 * n + 2]
        else:
            found.append(pieces[2 * n + 2])
    return found


def _signed(
    between: list[list[bytes]],
    numbers: Sequence[Sequence[bytes]],
    kinds: Sequence[str],
    point: str,
    rows: list[int],
) -> Text | None:
    slots = [n for n, kind in enumerate(kinds) if kind != "text"]
    figures = [k for k, slot in enumerate(slots) if kinds[slot] == "figure"]
    digits = [numbers[slots[k]] for k in figures]
    filled = all(_filled(each) for each in digits)
    well = well_signed(between, figures)
    if len(well) < len(rows) and signs_after([between[n] for n in well], figures, filled=filled):
        return _signed(
            [between[n] for n in well],
            [[each[n] for n in well] for each in numbers],
            kinds,
            point,
            [rows[n] for n in well],
        )
    after = signs_after(between, figures, filled=filled)
    written: list[list[Written]] = [[] for _ in slots]
    cores: list[list[bytes]] = []
    for gaps, row in zip(between, range(len(rows)), strict=True):
        left = list(gaps)
        for k, slot in enumerate(slots):
            left[k], each = _one(left, k, figure=k in figures, after=after)
            written[k].append(replace(each, digits=numbers[slot][row]))
        cores.append(left)
    may_be = not after and unclear(between, figures)
    lines = [aligned([core[k] for core in cores]) for k in range(len(slots) + 1)]
    kept = set.intersection(*[line.rows for line in lines])
    # A frame has one place for the mark of its key.
    marked = max(lines, key=lambda line: len(line.rare))
    for line in lines:
        kept -= line.rare if line is not marked else set()
    if not kept:
        return None
    order = sorted(kept)
    parts: list[Part] = []
    for k, line in enumerate(lines):
        parts += line.parts(order)
        if k < len(slots):
            slot = slots[k]
            some = [written[k][n] for n in order]
            places = places_of(numbers[slot][order[0]], point)
            next_ = bool(parts) and isinstance(parts[-1], Number)
            parts.append(Number(slot, kinds[slot], some, point, places, beside=next_))
    found = Text(point, [rows[n] for n in order], parts, may_be or beside(parts))
    _written_alike(found.figures)
    return found


def _written_alike(figures: Sequence[Number]) -> None:
    """What one figure shows of how signs are written goes for all of them."""
    signs = frozenset[bytes]().union(*(f.signs for f in figures))
    sizes = {len(w.digits) for f in figures for w in f.written}
    digits = len(sizes) == 1 and min(sizes) >= WIDE and all(f.point == "none" for f in figures)
    kinds = {w for f in figures for w in f.written}
    columns = {1 + w.inner + len(w.digits) for w in kinds if w.inner}
    wide = {w.pad + len(w.sign) + w.inner + len(w.digits) for w in kinds}
    # Of two figures one blank more may make up for one digit less by chance.
    pads = {w.pad + w.inner for w in kinds}
    filled = len(wide) == 1 and len(pads) > 1 and min(pads) > 0
    led = _led(kinds)
    for each in figures:
        each.kin, each.filled, each.wide = signs, filled, digits
        each.padded = max(w.pad for w in kinds) > 0
        each.kin_apart = _apart(each, max(columns)) if columns else -1
        each.either = signs <= {b"", b" "}
        each.led = led


def _led(kinds: Collection[Written]) -> int:
    """Bytes of each figure that noughts fill up, where a minus takes the place of one; else 0."""
    wide = {len(w.sign) + len(w.digits) for w in kinds}
    signs = {w.sign for w in kinds}
    beside = not any(w.inner or w.after for w in kinds)
    filled = any(_LED.match(w.digits) for w in kinds if w.sign)
    return wide.pop() if len(wide) == 1 and signs == {b"", b"-"} and beside and filled else 0


def _apart(figure: Number, column: int) -> int:
    """Blanks before the place of a sign that stands apart; ``column``: bytes from there on."""
    own = [w.pad for w in figure.written if w.inner]
    free = [w.pad + len(w.digits) - column for w in figure.written if not w.sign]
    return max(0, min(own or free, default=0))


def _filled(digits: Sequence[bytes]) -> bool:
    """Whether noughts fill a figure up to one width."""
    one = len({len(each) for each in digits}) == 1
    return one and (digits[0][:1] == b"0" or (digits[0].isdigit() and len(digits[0]) >= WIDE))


def _one(left: list[bytes], k: int, *, figure: bool, after: bool) -> tuple[bytes, Written]:
    """What stands before the ``k``th number without its sign, and how it is signed."""
    core, each = sign_before(left[k])
    if figure and after:
        found = sign_after(left[k + 1])
        if found is not None:
            sign, left[k + 1] = found
            core, each = left[k].rstrip(b" "), replace(each, sign=sign, after=True, inner=0)
            return core, replace(each, pad=len(left[k]) - len(core))
    if not figure and each.sign:
        # A counter has no sign: what stands there is a mark.
        core = left[k].rstrip(b" ")
        return core, Written(len(left[k]) - len(core), b"", 0, b"")
    return core, each
