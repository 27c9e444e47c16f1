"""A layout from a recording: the one way in. Pure; raises Undecided for what isn't shown.

Frames first, then what they are made of, then what was moved; the layout is handed on only when
the program's own decoder makes of the recording what was found in it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from drivers.fields import Checked
from drivers.learning import binary, blocks, checks, hexadecimal, parity
from drivers.learning.evidence import Undecided
from drivers.learning.frames import TEXT, Framing, form, framings
from drivers.learning.proposal import Known, Proposal
from drivers.learning.recording import Move, Recording
from drivers.learning.sentence import Sentence, proposed
from drivers.learning.text import CHECK, analyse, points

_ALIKE = 0.7
"""Of the frames must be alike, or the recording is too noisy, or cut otherwise."""
_FEWEST = 2
_TEXT = 0.8
"""Of the bytes are text's, the check apart, or it is none."""
_TAIL = 5
_HELD = 0.85
"""Of frames of a usual form bear a check that holds; damage mostly shows in their form."""
_MANY = 6
_SURE = 12
_KINDS = 3
"""Different bytes without which nothing is said."""
_PARITIES = {"E": "even", "O": "odd", "M": "mark"}


def learn(recording: Recording, moves: Sequence[Move], known: Known | None = None) -> Proposal:
    """The layout of a readout. Raises Undecided, with the one thing to do that would decide."""
    known = known or Known()
    found = parity.of(recording.data)
    if found:
        raise Undecided(
            f"the bytes are text of 7 bits with {_PARITIES[found]} parity, read as 8 bits",
            f'set bytesize = 7 and parity = "{found}" at the port and record again',
        )
    text = sum(b in TEXT for b in recording.data) >= _TEXT * len(recording.data)
    several = len(set(recording.data)) > _KINDS
    structure = _structure(recording) if text and several else None
    if structure is None:
        found_blocks = blocks.find(recording) if several else None
        if found_blocks is not None:
            return binary.proposed(found_blocks, recording, moves, known)
        if not text and (length := blocks.unchecked(recording)):
            raise Undecided(
                f"the bytes repeat with {length} bytes and bear no check that is known, so where a "
                "frame begins and whether it is whole can't be told",
                "set the readout to send a check, or text, and record again; the registers of a "
                "Modbus device are described by hand",
            )
        raise Undecided(
            "no frames alike were found in these bytes",
            "check baud, bytesize and parity, and record again: hold still, move X by +10 mm, "
            "hold still",
        )
    undecided: Undecided | None = None
    for each in structure:
        try:
            return proposed(each, recording, moves, known)
        except Undecided as found_:
            undecided = undecided or found_
    assert undecided is not None  # noqa: S101 - a structure has at least one reading
    raise undecided


def _structure(recording: Recording) -> list[Sentence] | None:
    """The likeliest framing whose frames are alike, with each reading of its point."""
    for framing in framings(recording):
        check = _check(framing, recording)
        if check is None and framing.tail and len(framing.cuts) <= _SURE:
            # Of few frames a figure that one byte made odd looks like an unknown check.
            continue
        if framing.checked and check is None:
            continue
        bodies = list(_masked(framing, check, recording))
        if framing.aligned and len(bodies) > _MANY:
            # The first may be half a frame, and the last burst, and look like whole ones.
            bodies[0] = b""
            if framing.pause_ms:
                bodies[-1] = b""
        found = []
        for point in points(bodies):
            counted = hexadecimal.plain(bodies)
            text = analyse(counted.bodies, point)
            whole = len(bodies) - (0 if framing.length else 1)
            if text is not None and len(text.rows) >= max(_FEWEST, _ALIKE * whole):
                for number in text.numbers:
                    number.hexadecimal = counted.digits if number.kind == "count" else ""
                found.append(Sentence(framing, check, bodies, text))
        if found:
            return found
    return None


def _check(framing: Framing, recording: Recording) -> checks.Found | None:
    """The check of the frames that look alike, in or behind the body."""
    # Without the bytes in which a check may stand, which differ from frame to frame.
    forms = [form(c.body[:-_TAIL] if len(c.body) > 2 * _TAIL else c.body) for c in framing.cuts]
    usual = {f for f, n in Counter(forms).most_common(8) if n > 1}
    wholes = [
        recording.data[cut.start : cut.end]
        for cut, shape in zip(framing.cuts, forms, strict=True)
        if shape in usual and recording.data[cut.start :].startswith(framing.header)
    ]
    behind = len(framing.terminator)
    spots = (0,) if framing.trailer else (behind, behind + 1)
    end = len(framing.terminator) + framing.trailer
    return checks.find(wholes, len(framing.header), end, spots, least=_HELD)


def _masked(framing: Framing, check: checks.Found | None, recording: Recording) -> Iterator[bytes]:
    """Bodies whose check is replaced by one sign; nothing of those whose check is wrong."""
    end = len(framing.terminator) + framing.trailer
    behind, size = 0, framing.tail
    if check is not None:
        behind, size = -check.check.at - end - check.size, check.size
    checked = None if check is None else Checked(check.check)
    for cut in framing.cuts:
        body = cut.body
        whole = recording.data[cut.start : cut.end]
        if checked is not None and not checked.holds(whole[max(0, whole.find(framing.header)) :]):
            yield b""
            continue
        if size and behind >= 0 and len(body) >= size + behind:
            at = len(body) - behind
            body = body[: at - size] + CHECK + body[at:]
        yield body


__all__ = ["Known", "learn"]
