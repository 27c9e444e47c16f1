"""Where frames may begin and end: terminators, trailers, pauses, lengths, each with evidence.

Hands on every way to cut a recording of text that gives frames which look alike, the likeliest
first. What stands in them is not known here. Pure.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from drivers.learning.recording import Recording

TEXT = frozenset(range(0x20, 0x7F)) | frozenset(b"\t\r\n\x02\x03\x04\x1b")
"""Bytes that a readout that sends text may send."""
_STARTS = b"\x01\x02\x1b"
_MOST_HEADER = 0.8
"""Of the frames begin with a header, noise and a half frame apart."""
ALIKE = 0.6
"""Of all bytes stand in frames that look alike, or it isn't cut so."""
_NEAR = 0.1
"""Ways to cut whose frames are alike to within so much are told apart by what ends them."""
_FORMS = 8
"""Kinds of frames that one readout sends: its axes, signs, and marks."""
_SAMPLE = 600
_LONGEST = 256
"""Bytes of the longest frame that is looked for."""
_NO_SIGN = re.compile(rb"[+ -]+")
_DIGITS = re.compile(rb"\d+")
_HEXADECIMAL = re.compile(
    rb"(?<![0-9A-Za-z.,])(?=[A-F]*\d|[A-F]{2})[0-9A-F]{2,6}(?![0-9A-Za-z.])"
    rb"|(?<![0-9A-Za-z.,])(?=[a-f]*\d|[a-f]{2})[0-9a-f]{2,6}(?![0-9A-Za-z.])"
)
"""A number that may be hexadecimal, alone."""
_FIGURE = re.compile(rb"[A-Za-z]{0,6}[=:]?[+-]?\d+[.,]?\d*[A-Za-z*#]{0,3}")
_ENDS, _BEGINS = b";>]})/|!\"'*&~=_\\", b"@$#%<[({:^"
"""Marks that may end a frame where no control character does, and such as rather begin one."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A frame: its place in the recording, its body, and the instant of its last byte."""

    start: int
    end: int
    body: bytes
    at: float


@dataclass(frozen=True, slots=True)
class Framing:
    """One way to cut a recording. ``said``: what ends a frame; ``tail``: bytes of the check at the
    end of the body that must be taken off before frames look alike."""

    said: str
    cuts: tuple[Cut, ...]
    header: bytes = b""
    terminator: bytes = b""
    trailer: int = 0
    length: int = 0
    pause_ms: int = 0
    tail: int = 0
    alike: float = 0.0
    for_: tuple[str, ...] = ()
    against: tuple[str, ...] = ()
    aligned: bool = True
    """Whether it is known where in the stream a frame begins."""
    checked: bool = False
    """Whether it is only believed with a check that holds."""

    @property
    def whole(self) -> int:
        """Bytes of the longest frame."""
        return max(cut.end - cut.start for cut in self.cuts)


def named(data: bytes) -> str:
    """Bytes as a person reads them."""
    names = {9: "TAB", 10: "LF", 13: "CR", 2: "STX", 3: "ETX", 4: "EOT", 27: "ESC", 32: "blank"}
    return " ".join(names.get(b, chr(b) if 32 < b < 127 else f"0x{b:02X}") for b in data)


def form(body: bytes) -> bytes:
    """What is left of a body without its digits, signs and blanks."""
    return _NO_SIGN.sub(b"", _DIGITS.sub(b"0", _HEXADECIMAL.sub(b"0", body)))


def alike(bodies: Sequence[bytes], tail: int = 0) -> float:
    """Share of the bytes that stand in frames of a form that more than one has."""
    step = max(1, len(bodies) // _SAMPLE)
    some = bodies[::step] if len(bodies) > 2 * _SAMPLE else bodies
    forms: Counter[bytes] = Counter()
    sizes: Counter[bytes] = Counter()
    for body in some:
        shape = form(body[: len(body) - tail] if tail else body)
        forms[shape] += 1
        sizes[shape] += len(body) + 1
    total = sum(sizes.values())
    usual = [f for f, n in forms.most_common(_FORMS) if n > 1 and b"0" in f]
    return sum(sizes[f] for f in usual) / total if total else 0.0


def framings(recording: Recording) -> Iterator[Framing]:
    """All ways that give frames alike, the likeliest first: control characters, the longest such
    terminator; trailers behind one; what each burst ends with; pauses; marks; one length."""
    for framing in _trailed(recording):
        yield replace(framing, checked=True)
    yield from _best(recording, _terminators(recording.data))
    found = bursts(recording)
    if found is not None:
        last = {recording.data[end - 1 : end] for _, end in found[:-1]}
        if len(last) == 1 and not (mark := last.pop()).isalnum():
            yield from _best(recording, [mark])
        yield from _paused(recording, found)
    if _one_a_piece(recording.data):
        yield from _best(recording, [b" "])
    yield from _trailed(recording)
    ends = [*_ENDS, *(b for b in _BEGINS if recording.data.endswith(bytes([b])))]
    yield from _best(recording, [bytes([b]) for b in ends if b in recording.data])
    yield from _begun(recording)
    yield from _best(recording, [b"\t"])
    yield from _fixed(recording)
    yield from _best(recording, [b" ", b","])
    yield from _repeated(recording)


# -- terminators ----------------------------------------------------------------------------


def _terminators(data: bytes) -> list[bytes]:
    """Control characters that may end a frame, each with the controls that always precede it."""
    found: list[bytes] = []
    for byte in dict.fromkeys(b for b in data if b < 0x20 and b not in b"\t" + _STARTS):
        end = bytes([byte])
        while len(end) < 4:
            pieces = data.split(end)[:-1]
            before = Counter(piece[-1:] for piece in pieces)
            char, n = before.most_common(1)[0]
            # A frame of nothing, such as an empty line, is rather a part of the terminator.
            control = char == b"" or (char[0] < 0x20 and char[0] not in _STARTS)
            if not control or n < max(1, 0.9 * (len(pieces) - 1)) or char == b"":
                break
            end = char + end
        found.append(end)
        if len(end) <= 2:
            found.append(end + end)
    return sorted(dict.fromkeys(found), key=len, reverse=True)


def _best(recording: Recording, terminators: Sequence[bytes]) -> Iterator[Framing]:
    found = [
        made
        for end in terminators
        if end in recording.data and (made := _by_terminator(recording, end)) is not None
    ]
    data, best = recording.data, max((f.alike for f in found), default=0.0)
    yield from sorted(
        found,
        key=lambda f: (
            f.alike < best - _NEAR,
            f.terminator[0] >= 0x20 and not data.endswith(f.terminator),
            -len(f.terminator),
        ),
    )


def _by_terminator(recording: Recording, end: bytes) -> Framing | None:
    data, at = recording.data, 0
    spans: list[tuple[int, int]] = []
    while (stop := data.find(end, at)) >= 0:
        spans.append((at, stop + len(end)))
        at = stop + len(end)
    bodies = [data[a : b - len(end)] for a, b in spans]
    return _judged(recording, spans, bodies, Framing(named(end), (), terminator=end))


def _trailed(recording: Recording) -> Iterator[Framing]:
    """ETX and the like with a check behind it: the next frame begins right behind the check."""
    data = recording.data
    for end in (b"\x03", b"\x04", b"\x17", b"*"):
        if data.count(end) < 2:
            continue
        for trailer in (1, 2, 3, 4):
            spans, at = [], 0
            while (stop := data.find(end, at)) >= 0 and stop + 1 + trailer <= len(data):
                spans.append((at, stop + 1 + trailer))
                at = stop + 1 + trailer
            firsts = Counter(data[a : a + 1] for a, _ in spans[1:])
            if not firsts or firsts.most_common(1)[0][1] < _MOST_HEADER * (len(spans) - 1):
                continue
            header = firsts.most_common(1)[0][0]
            # What always stands last is a terminator and no part of a check.
            ended = len({data[b - 1] for _, b in spans}) == 1 and len(spans) > 2
            if header not in _STARTS + _BEGINS or ended:
                continue
            said = f"{named(end)} and {trailer} byte{'s' if trailer > 1 else ''} of a check"
            bodies = [data[a : b - 1 - trailer] for a, b in spans]
            made = Framing(said, (), terminator=end, trailer=trailer, header=header)
            found = _judged(recording, spans, bodies, made)
            if found is not None:
                yield found


def _judged(
    recording: Recording,
    spans: Sequence[tuple[int, int]],
    bodies: Sequence[bytes],
    made: Framing,
) -> Framing | None:
    """The framing with its evidence, or None where its frames aren't alike."""
    if not spans or max(map(len, bodies)) > 4 * _LONGEST:
        return None
    shares = {tail: alike(bodies, tail) for tail in (0, 1, 2, 4)}
    tail = min((t for t in shares if shares[t] >= max(shares.values()) - 0.15), default=0)
    if shares[tail] < ALIKE:
        return None
    header = made.header or _header(bodies)
    if header not in _STARTS or not header:
        inside = sum(any(b in _STARTS for b in body) for body in bodies)
        ended = sum(body[:1] in (b"\r", b"\n") for body in bodies)
        if max(inside, ended) > 0.5 * len(bodies):
            return None
    instants = _instants(recording, [end for _, end in spans])
    cuts = tuple(
        Cut(a, b, body.removeprefix(header), at)
        for (a, b), body, at in zip(spans, bodies, instants, strict=True)
    )
    share = max(shares.values())
    words = f"{share:.0%} of the bytes stand in frames alike that end so ({len(cuts)} frames)"
    left = len(recording.data) - spans[-1][1]
    against = [] if share > 0.99 else [f"{1 - share:.0%} of the bytes don't"]
    if left:
        against.append(f"bytes left over at the end, half a frame: {left}")
    found = replace(made, cuts=cuts, header=header, tail=tail, alike=share)
    return replace(found, for_=(words,), against=tuple(against))


def _header(bodies: Sequence[bytes]) -> bytes:
    """A control character that every frame begins with."""
    firsts = Counter(body[:1] for body in bodies)
    first, n = firsts.most_common(1)[0]
    if first and first in _STARTS and n >= _MOST_HEADER * (len(bodies) - 1):
        return first
    return b""


def _instants(recording: Recording, ends: Sequence[int]) -> list[float]:
    return [recording.at(end) for end in ends]


# -- pauses ---------------------------------------------------------------------------------


def bursts(recording: Recording) -> list[tuple[int, int]] | None:
    """The stream cut where nothing came for longer; None where the instants show no pauses."""
    if not recording.timed or len(recording.ends) < 3:
        return None
    gaps = [b - a for a, b in pairwise(recording.instants)]
    pause = _pause(gaps)
    spans, start = [], 0
    for end, gap in zip(recording.ends, [*gaps, float("inf")], strict=True):
        if gap > pause:
            spans.append((start, end))
            start = end
    return spans if len(spans) > 1 else None


def _pause(gaps: Sequence[float]) -> float:
    """Seconds: half of the usual gap between bursts. Where bytes come one by one most gaps are
    short and the long ones count."""
    ordered = sorted(gaps)
    jumps = [(b / a, a, b) for a, b in pairwise(ordered) if a > 0 and b >= 0.02 and b / a > 2]
    if jumps:
        _, below, above = max(jumps)
        # One long pause at the end, before the slide was moved, is no pause between frames.
        if sum(g >= above for g in gaps) >= 0.05 * len(gaps) and below < 0.02:
            return float((below * above) ** 0.5)
    return ordered[len(ordered) // 2] / 2


def _paused(recording: Recording, spans: Sequence[tuple[int, int]]) -> Iterator[Framing]:
    data = recording.data
    bodies = [data[a:b] for a, b in spans]
    starts = _instants(recording, [a + 1 for a, _ in spans])
    between = sorted(b - a for a, b in pairwise(starts))
    ms = 1000 * between[len(between) // 20]
    pause = int(min(max(10, ms / 2), 1000))
    made = Framing(f"a pause of {pause} ms", (), pause_ms=pause)
    found = _judged(recording, spans, bodies, made)
    if found is not None:
        words = f"the bytes come in bursts, {len(spans)} of them"
        yield replace(found, for_=(words, *found.for_))


# -- one length, one beginning ----------------------------------------------------------------


def _fixed(recording: Recording) -> Iterator[Framing]:
    """Text without terminator, of one length: the forms of digits repeat with a period."""
    data = recording.data
    shape = data[:6000].translate(bytes.maketrans(b"0123456789-+ ", b"0000000000+++"))
    shares = {
        n: sum(map(_same, shape, shape[n:])) / (len(shape) - n)
        for n in range(4, min(64, len(data) // 2) + 1)
    }
    length = next((n for n, share in shares.items() if share >= 0.97), 0)
    if not length or shape[:length] == shape[:1] * length:
        return
    # Where the first frame begins isn't seen; where all bytes make whole frames it is likely.
    aligned = len(data) % length == 0
    yield from _sliced(recording, length, aligned=aligned)


def _one_a_piece(data: bytes) -> bool:
    """Whether blanks stand between figures, one figure each."""
    pieces = data[:6000].split(b" ")[1:-1]
    return sum(_FIGURE.fullmatch(p) is not None for p in pieces) >= 0.9 * max(1, len(pieces))


def _same(a: int, b: int) -> bool:
    return a == b


def _sliced(recording: Recording, length: int, *, aligned: bool) -> Iterator[Framing]:
    data = recording.data
    spans = [(n, n + length) for n in range(0, len(data) - length + 1, length)]
    made = Framing(f"its length of {length} bytes", (), length=length, aligned=aligned)
    found = _judged(recording, spans, [data[a:b] for a, b in spans], made)
    if found is not None:
        whole = f"the recording is {len(spans)} whole frames of {length} bytes, no byte left over"
        yield replace(found, for_=(*found.for_, whole)) if aligned else found


def _begun(recording: Recording) -> Iterator[Framing]:
    """Text without terminator, whose frames begin with a mark that rather begins than ends one."""
    data = recording.data
    for mark in dict.fromkeys(b for b in _BEGINS + _STARTS if data.count(b) > 1):
        starts = [m.start() for m in re.finditer(re.escape(bytes([mark])), data)]
        spans = list(pairwise([*starts, len(data)]))
        said = f"the next {named(bytes([mark]))}"
        found = _judged(
            recording, spans, [data[a:b] for a, b in spans], Framing(said, (), pause_ms=50)
        )
        if found is not None:
            yield found


def _repeated(recording: Recording) -> Iterator[Framing]:
    """Text without terminator and instants: the word that it begins with begins every frame."""
    data = recording.data
    word = re.match(rb"[^0-9+\-., ]+", data)
    if word is None or data.count(word[0]) < 2:
        return
    starts = [m.start() for m in re.finditer(re.escape(word[0]), data)]
    spans = list(zip(starts, [*starts[1:], len(data)], strict=True))
    made = Framing("the beginning of the next", (), pause_ms=50, aligned=False)
    found = _judged(recording, spans, [data[a:b] for a, b in spans], made)
    if found is not None:
        yield found
