"""Recordings of readouts that never were, from seeds. Independent of the decoder: it writes bytes.

A ``Readout`` writes frames of what its slides show; ``recorded`` moves a slide and writes down
what comes: half a frame at the start, noise, pieces, instants.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from decimal import ROUND_HALF_EVEN, Decimal

INCH = Decimal("25.4")
Positions = dict[str, Decimal]
"""Where slides are: mm by axis, X as a radius."""


@dataclass
class Style:
    """How a figure is written."""

    places: int = 3
    point: str = "."
    sign: str = "minus only"
    """"plus", "minus only", "blank" (for plus), "after" (+ or -), "after blank", "apart"."""
    fill: str = ""
    """"0" or " ": up to ``wide`` bytes, sign apart from it for noughts; "": nothing."""
    wide: int = 0
    nought: bool = True
    """Whether a nought stands before the point of what is below 1."""

    def shown(self, value: Decimal) -> Decimal:
        return value.quantize(Decimal(1).scaleb(-self.places), ROUND_HALF_EVEN) + 0

    def write(self, value: Decimal) -> bytes:
        digits = f"{abs(value):.{self.places}f}"
        if self.point == "none":
            digits = digits.replace(".", "").lstrip("0") or "0"
        elif not self.nought and digits.startswith("0."):
            digits = digits[1:]
        digits = digits.replace(".", self.point)
        if self.fill == "0":
            digits = digits.rjust(self.wide, "0")
        minus = value < 0
        if self.sign.startswith("after"):
            plus = " " if self.sign == "after blank" else "+"
            return (digits + ("-" if minus else plus)).encode()
        if self.sign == "apart":
            return (("-" if minus else " ") + digits.rjust(self.wide)).encode()
        plus = {"plus": "+", "blank": " "}.get(self.sign, "")
        text = ("-" if minus else plus) + digits
        return (text.rjust(self.wide) if self.fill == " " else text).encode()


Write = Callable[[dict[str, Decimal], int, bool], list[bytes]]


@dataclass
class Readout:
    """Writes what comes at one instant: one frame, or one an axis."""

    name: str
    axes: tuple[str, ...]
    style: Style
    write: Write
    """(figures as shown, number of the frame, by key) -> frames."""
    unit: str = "mm"
    mode: str = "radius"
    on_key: bool = False
    timed: bool = False
    """Whether it can't be learned without instants."""
    marks_key: bool = False

    def shown(self, at: Positions) -> dict[str, Decimal]:
        found = {}
        for axis in self.axes:
            value = at[axis] * (2 if axis == "X" and self.mode == "diameter" else 1)
            found[axis] = self.style.shown(value / INCH if self.unit == "in" else value)
        return found


@dataclass
class Recorded:
    """What was written down. ``frames``: (instant of the last byte, figures) of all whole frames,
    undamaged."""

    pieces: list[tuple[float, bytes]]
    moved: list[str]
    frames: list[tuple[float, dict[str, Decimal]]] = field(default_factory=list)
    keys: int = 0

    @property
    def data(self) -> bytes:
        return b"".join(piece for _, piece in self.pieces)

    @property
    def json_lines(self) -> bytes:
        lines = (f'{{"at": {at:.4f}, "hex": "{piece.hex()}"}}\n' for at, piece in self.pieces)
        return "".join(lines).encode()


def path(
    rng: random.Random, start: Positions, by: Positions, still: int, on_the_way: int
) -> Iterator[tuple[Positions, bool]]:
    """Positions with whether something moves: still, on the way axis by axis, still."""
    now = dict(start)
    for _ in range(still):
        yield dict(now), False
    for axis, far in by.items():
        cuts = sorted(rng.uniform(0.02, 0.98) for _ in range(on_the_way))
        for part in cuts:
            yield {**now, axis: start[axis] + far * Decimal(f"{part:.6f}")}, True
        now[axis] = start[axis] + far
        for _ in range(still):
            yield dict(now), False


def recorded(
    readout: Readout,
    rng: random.Random,
    by: Positions | None = None,
    *,
    start: Positions | None = None,
    noise: float = 0.0,
    half: bool = False,
    cut_short: bool = False,
    split: float = 0.0,
    still: int = 0,
) -> Recorded:
    """A recording in which slides were moved by ``by`` mm. ``noise``: share of damaged frames;
    ``split``: share of frames that come in two pieces."""
    by = {"X": Decimal(10)} if by is None else by
    start = start or {
        axis: Decimal(rng.randint(-60_000, 160_000)) / 1000 for axis in ("X", "Z", "Y", "indicator")
    }
    still = still or (rng.randint(1, 3) if readout.on_key else rng.randint(12, 40))
    ways = 0 if readout.on_key else rng.randint(8, 30)
    found = Recorded([], [f"{axis}={far:+}mm" for axis, far in by.items()])
    at, every = 100.0, rng.choice((0.05, 0.1, 0.2, 0.5))
    steps = list(path(rng, start, by, still, ways))
    # A hand presses a key at most twice a second.
    presses = range(3, len(steps), max(4, int(0.6 / every)))
    keyed = set(rng.sample(presses, min(3, len(presses)))) if readout.marks_key else set()
    for n, (position, _) in enumerate(steps):
        figures = readout.shown(position)
        at += rng.uniform(1.2, 6) if readout.on_key else every * rng.uniform(0.95, 1.05)
        frames = readout.write(figures, n, n in keyed)
        found.keys += n in keyed
        for k, frame in enumerate(frames):
            shown = {readout.axes[k]: figures[readout.axes[k]]} if len(frames) > 1 else figures
            came = at + 0.02 * k
            hurt = bool(noise) and rng.random() < noise
            sent = damaged(frame, rng) if hurt else frame
            if split and len(sent) > 3 and rng.random() < split:
                middle = rng.randrange(1, len(sent))
                found.pieces += [(came, sent[:middle]), (came + 0.006, sent[middle:])]
                came += 0.006
            else:
                found.pieces.append((came, sent))
            if not hurt:
                found.frames.append((came, shown))
    if half:
        first_at, first = found.pieces[0]
        found.pieces[0] = (first_at, first[rng.randrange(1, max(2, len(first) - 1)) :])
    if cut_short:
        last_at, last = found.pieces[-1]
        found.pieces[-1] = (last_at, last[: rng.randrange(1, max(2, len(last)))])
    return found


def damaged(frame: bytes, rng: random.Random) -> bytes:
    """A frame with a byte lost, changed, or added."""
    at, byte = rng.randrange(len(frame)), bytes([rng.randrange(256)])
    return rng.choice(
        (
            frame[:at] + frame[at + 1 :],
            frame[:at] + byte + frame[at + 1 :],
            frame[:at] + byte + frame[at:],
        )
    )


def xor(data: bytes) -> int:
    found = 0
    for byte in data:
        found ^= byte
    return found


def crc16(data: bytes, polynomial: int = 0xA001, start: int = 0xFFFF) -> int:
    """CRC-16, lowest bit first; Modbus's parameters by default."""
    found = start
    for byte in data:
        found ^= byte
        for _ in range(8):
            found = (found >> 1) ^ (polynomial if found & 1 else 0)
    return found


# -- the twelve invented layouts -----------------------------------------------------------------


def one(rng: random.Random) -> Readout:
    """One axis a line, its word, its unit."""
    unit, words = rng.choice(("mm", "in")), (b"ACROSS", b"ALONG")
    style = Style(4 if unit == "mm" else rng.choice((4, 5)), sign="plus")

    def write(f: dict[str, Decimal], n: int, key: bool) -> list[bytes]:
        pairs = zip(words, f.values(), strict=True)
        return [b"%s %s %s\r\n" % (w, style.write(v), unit.encode()) for w, v in pairs]

    return Readout("1", ("X", "Z"), style, write, unit, rng.choice(("radius", "diameter")))


def two(rng: random.Random) -> Readout:
    """Names that are no axes, a flag for the unit."""
    unit = rng.choice(("mm", "in"))
    style = Style(3 if unit == "mm" else 5)

    def write(f: dict[str, Decimal], n: int, key: bool) -> list[bytes]:
        a, b = map(style.write, f.values())
        return [b"A=%s;B=%s;U=%d\n" % (a, b, unit == "in")]

    return Readout("2", ("X", "Z"), style, write, unit, rng.choice(("radius", "diameter")))


def three(rng: random.Random) -> Readout:
    """Implied decimals, STX, ETX and the exclusive or behind it."""
    unit = rng.choice(("mm", "in"))
    places = 3 if unit == "mm" else rng.choice((4, 5))
    style = Style(places, "none", "plus", "0", 3 + places)

    def write(f: dict[str, Decimal], n: int, key: bool) -> list[bytes]:
        body = b"".join(map(style.write, f.values())) + b"\x03"
        return [b"\x02%s%c" % (body, xor(body))]

    return Readout("3", ("X", "Z"), style, write, unit, rng.choice(("radius", "diameter")))


def four(rng: random.Random) -> Readout:
    """Two columns, decimal commas."""
    style = Style(3, ",", fill=" ", wide=rng.choice((8, 9, 10)))

    def write(f: dict[str, Decimal], n: int, key: bool) -> list[bytes]:
        return [b"".join(map(style.write, f.values())) + b"\r"]

    return Readout("4", ("X", "Z"), style, write, mode=rng.choice(("radius", "diameter")))


def five(rng: random.Random) -> Readout:
    """Four implied decimals, sign behind, then the letter of the axis; nothing ends a frame."""
    style = Style(4, "none", rng.choice(("after", "after blank")), "0", 7)

    def write(f: dict[str, Decimal], n: int, key: bool) -> list[bytes]:
        return [style.write(v) + w for v, w in zip(f.values(), (b"Q", b"R"), strict=True)]

    return Readout(
        "5", ("X", "Z"), style, write, mode=rng.choice(("radius", "diameter")), timed=True
    )


def six(rng: random.Random) -> Readout:
    """Two displays of one axis."""
    style = Style(rng.choice((3, 4)))

    def write(f: dict[str, Decimal], n: int, key: bool) -> list[bytes]:
        return [b"[R]%s[/D]%s\n" % (style.write(f["X"]), style.write(2 * f["X"]))]

    return Readout("6", ("X",), style, write)


def seven(rng: random.Random) -> Readout:
    """A counter, and I for inch."""
    unit, wraps = rng.choice(("mm", "in")), rng.choice((100, 1000, 10**6))
    style = Style(3 if unit == "mm" else 4)
    first = rng.randrange(90)

    def write(f: dict[str, Decimal], n: int, key: bool) -> list[bytes]:
        count = (first + n) % wraps
        return [b"#%d:X%s%s\r\n" % (count, style.write(f["X"]), b"I" if unit == "in" else b"")]

    return Readout("7", ("X",), style, write, unit, rng.choice(("radius", "diameter")))


def eight(rng: random.Random) -> Readout:
    """No terminator: a pause."""
    style = Style(3)

    def write(f: dict[str, Decimal], n: int, key: bool) -> list[bytes]:
        return [b"X%sZ%s" % (style.write(f["X"]), style.write(f["Z"]))]

    return Readout("8", ("X", "Z"), style, write, timed=True)


def nine(rng: random.Random) -> Readout:
    """Answers with a status."""
    style = Style(3)

    def write(f: dict[str, Decimal], n: int, key: bool) -> list[bytes]:
        return [b"%s,%s,OK\r" % tuple(map(style.write, f.values()))]

    return Readout("9", ("X", "Z"), style, write, mode=rng.choice(("radius", "diameter")))


def ten(rng: random.Random) -> Readout:
    """Figures with blanks between; the contact adds a star."""
    style = Style(4)

    def write(f: dict[str, Decimal], n: int, key: bool) -> list[bytes]:
        (value,) = f.values()
        return [b"%s%s " % (style.write(value), b"*" if key else b"")]

    return Readout("10", ("X",), style, write, marks_key=True)


def eleven(rng: random.Random) -> Readout:
    """Typed as on a keyboard, on the readout's key."""
    style = Style(3, rng.choice((".", ",")))

    def write(f: dict[str, Decimal], n: int, key: bool) -> list[bytes]:
        return [b"%s\t%s\r" % tuple(map(style.write, f.values()))]

    return Readout("11", ("X", "Z"), style, write, on_key=True)


def twelve(rng: random.Random) -> Readout:
    """Modbus: 32 bits in two registers, the scale in the third."""
    swapped, places = rng.random() < 0.5, rng.choice((3, 4))
    style = Style(places)

    def write(f: dict[str, Decimal], n: int, key: bool) -> list[bytes]:
        value = int(f["X"].scaleb(places)).to_bytes(4, "big", signed=True)
        words = value[2:] + value[:2] if swapped else value
        body = b"\x01\x03\x06" + words + (10 if places == 3 else 1).to_bytes(2, "big")
        return [body + crc16(body).to_bytes(2, "little")]

    return Readout("12", ("X",), style, write)


TWELVE = (one, two, three, four, five, six, seven, eight, nine, ten, eleven, twelve)


# -- others of the same families ---------------------------------------------------------------

_TERMINATORS = (b"\r\n", b"\n", b"\r", b"\x03\r\n", b"\x04", b";", b"\r\n\r\n")


def any_line(rng: random.Random) -> Readout:
    """A line of text as a shop may have it: words, signs, filling, units, counters, checks."""
    unit = rng.choice(("mm", "mm", "in"))
    point = rng.choice((".", ".", ",", "none"))
    sign = rng.choice(("plus", "minus only", "blank", "after", "after blank", "apart"))
    places = rng.choice((2, 3, 4)) if unit == "mm" else rng.choice((4, 5))
    fill = rng.choice(("0", "0", " ", ""))
    if point == "none" or sign == "apart":
        fill = "0" if point == "none" else " "
    if sign in ("blank", "after", "after blank") and fill == " ":
        fill = ""
    style = Style(places, point, sign, fill, 5 + places if fill else 0)
    labels = rng.choice(
        ((b"X", b"Z"), (b"X=", b"Z="), (b"X ", b"Z "), (b"A:", b"B:"), (b"", b""), (b"1>", b"2>"))
    )
    between = rng.choice((b" ", b", ", b"/", b" # ", b"|")) if point != "," else b";"
    said = rng.choice((b"", b" mm" if unit == "mm" else b" in"))
    counted = rng.random() < 0.25
    check = rng.choice(("", "", "", "xor hex", "sum hex", "crc hex"))
    start, end = rng.choice((b"", b"", b"\x02", b"$")), rng.choice(_TERMINATORS)
    if end == b";" and between == b";":
        end = b"\n"

    def write(f: dict[str, Decimal], n: int, key: bool) -> list[bytes]:
        figures = [w + style.write(v) + said for w, v in zip(labels, f.values(), strict=True)]
        body = start + (b"%03d " % (n % 1000) if counted else b"") + between.join(figures)
        if check:
            body += b"*"
            value = {
                "xor hex": lambda: b"%02X" % xor(body),
                "sum hex": lambda: b"%02X" % (sum(body) % 256),
                "crc hex": lambda: b"%04X" % crc16(body),
            }[check]()
            body += value
        return [body + end]

    return Readout("any line", ("X", "Z"), style, write, unit, rng.choice(("radius", "diameter")))


def any_block(rng: random.Random) -> Readout:
    """A binary frame as a shop may have it: header, two numbers, counter, status, check."""
    size, order = rng.choice((3, 4, 4)), rng.choice(("big", "little"))
    form = rng.choice(("two", "two", "magnitude", "bcd"))
    if form == "bcd":
        size = 4
    places = 3 if size == 3 or form == "bcd" else rng.choice((3, 4))
    style = Style(places)
    header = rng.choice((b"\xaa\x55", b"\x02", b"\x01\x03", b"\xfa"))
    counted, key = rng.random() < 0.4, rng.random() < 0.3
    check = rng.choice(("xor", "sum", "negated", "crc"))

    def number(value: Decimal) -> bytes:
        steps = int(value.scaleb(places))
        if form == "two":
            return steps.to_bytes(size, order, signed=True)  # type: ignore[arg-type]
        if form == "bcd":
            digits = bytes.fromhex(f"{abs(steps):08d}")
            return (digits if order == "big" else digits[::-1]) + (b"-" if steps < 0 else b"+")
        top = 1 << (8 * size - 1) if steps < 0 else 0
        return (abs(steps) | top).to_bytes(size, order)  # type: ignore[arg-type]

    def write(f: dict[str, Decimal], n: int, by_key: bool) -> list[bytes]:
        body = header + b"".join(map(number, f.values()))
        body += bytes([n % 256]) * counted + bytes([0x10 | by_key]) * key
        if check == "crc":
            return [body + crc16(body).to_bytes(2, "little")]
        value = {"xor": xor(body), "sum": sum(body), "negated": -sum(body)}[check] % 256
        return [body + bytes([value])]

    return Readout("any block", ("X", "Z"), style, write, marks_key=key)
