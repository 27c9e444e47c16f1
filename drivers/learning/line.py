"""The pattern of a line of text, and the lines of a layout file about it. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence

from drivers.learning.between import Blank, Word
from drivers.learning.evidence import Undecided
from drivers.learning.figures import Number
from drivers.learning.meaning import group, named
from drivers.learning.signs import Part
from drivers.learning.text import CHECK, CLOCK, DATE, Text
from drivers.parts import CHANNELS, FIGURE

_NAMES = {channel: name for name, channel in CHANNELS.items()}
_SPECIAL = re.compile(r"[.^$*+?{}\[\]\\|()]")
_TOML = {'"': '\\"', "\\": "\\\\"}


def quoted(text: str) -> str:
    """A TOML string on one line."""
    shown = (
        _TOML.get(c) or (c if c >= " " and not "\x7f" <= c < "\xa0" else f"\\u{ord(c):04X}")
        for c in text
    )
    return f'"{"".join(shown)}"'


def escaped(data: bytes) -> str:
    """Bytes as they stand in a pattern."""
    return "".join(
        _SPECIAL.sub(r"\\\g<0>", chr(b)) if 0x20 <= b < 0x7F else f"\\x{b:02x}" for b in data
    )


def check_text(size: int, as_: str, *, lower: bool) -> str:
    """What stands in the place of a check."""
    signs = "[\\x00-\\xff]" if as_ != "hex" else "[0-9a-f]" if lower else "[0-9A-F]"
    return signs if size == 1 else f"{signs}{{{size}}}"


def pattern(text: Text, names: dict[int, str], check: str, need: int) -> str:
    """The pattern of one frame's body. ``names``: group of each figure's slot, "" for one that
    isn't used; ``check``: what lets its check in; ``need``: digits that figures may need."""
    return "".join(_part(part, names, check, need) for part in text.parts)


def _part(part: Part, names: dict[int, str], check: str, need: int) -> str:
    if isinstance(part, bytes):
        return "".join(_fixed(bytes([b]), check) for b in part)
    if isinstance(part, Blank):
        return f" {{{part.least},{part.most}}}"
    if isinstance(part, Number):
        part.need = need
        if part.kind == "count":
            return part.pattern("count", "")
        name, sign = names.get(part.slot, ""), _sign(part.slot, names)
        if name.endswith("_doubled") and part.apart:
            raise Undecided(
                "the second display's sign stands apart, which no layout can hold",
                "set the readout to send one display and record again",
            )
        return part.pattern(name, sign)
    if part.role == "sign":
        # Where only minus was seen, plus may be a blank.
        plus = {kind.decode() for kind in part.kinds} - {"-"} or {"+", " "}
        inside = "".join([*sorted(plus), "-"])
        sign = _sign(part.slot, names)
        return f"(?P<{sign}>[{inside}])" if sign else f"[{inside}]"
    return _word(part)


def _sign(slot: int, names: dict[int, str]) -> str:
    """The group of the sign of a figure that is used."""
    name = names.get(slot, "")
    return "sign" if name == FIGURE else f"{name}_sign" if name else ""


def _fixed(byte: bytes, check: str) -> str:
    marks = {CHECK: check, CLOCK: r"\d{2}:\d{2}:\d{2}", DATE: r"\d{2,4}[./-]\d{2}[./-]\d{2,4}"}
    return marks.get(byte) or escaped(byte)


def _word(word: Word) -> str:
    # Of a key only its own word is its group.
    own = set(word.meaning or ()) if word.role == "key" else set(word.kinds)
    bare = [kind for kind in word.kinds if not kind.strip(b" ") or kind not in own]
    either = "|".join(escaped(k) for k in group(word) if k not in bare and k.strip(b" "))
    if word.role == "moving":
        inside = "|".join(escaped(k) for k in word.kinds if k)
        return f"(?:{inside}){'?' * (b'' in word.kinds)}"
    named = f"(?P<{word.role}>{either})"
    if not bare:
        return named
    if word.before:
        return f"(?:{escaped(word.before)}{named})?"
    return f"{named}?" if bare == [b""] else f"(?:{escaped(bare[0])}|{named})"


def words_table(word: Word) -> str:
    """The words of a role as an inline table."""
    meaning = named(word)
    inside = ", ".join(
        f"{quoted(k.decode('latin-1'))} = {quoted(v)}" for k, v in meaning.items() if v
    )
    return f"{{ {inside} }}"


def texts(words: Sequence[bytes]) -> str:
    """A list of texts that stand for bytes."""
    return f"[{', '.join(quoted(w.decode('latin-1')) for w in words)}]"


def group_of(channel: str) -> str:
    """The name of a channel's group; "" of what isn't used."""
    return _NAMES.get(channel, "")
