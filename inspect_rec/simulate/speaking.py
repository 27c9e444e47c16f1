"""A frame of any layout from figures: the inverse of ``drivers.fields``, from the layout alone.

Each frame is read back as the drivers read it before it is handed out, so that figures which the
layout can't show are refused and never altered. Pure: no port, no clock.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import islice

from drivers.decoder import Alarm, Decoder
from drivers.fields import Checked, Fields
from drivers.framing import framer
from drivers.layout import Layout
from drivers.parts import CHANNELS, FIGURE
from drivers.pattern import count_base
from drivers.shown import Code, Shown, Wrong
from inspect_rec.errors import ReadoutError
from inspect_rec.simulate import numbering
from inspect_rec.simulate.language import Language
from inspect_rec.units import Unit

_AT = datetime(2026, 1, 1, tzinfo=UTC)
_LATER = _AT + timedelta(minutes=1)
_TRIES = 300
"""Bodies that are read back before a layout is said not to show it."""
_FILLS = (b"", b"0", b"A", b"_")
_WIDEST = 40
"""Digits before the point that are tried."""


@dataclass(frozen=True, slots=True)
class Said:
    """What a frame is to say. ``figures``: channel -> figure as shown; ``unit``, ``mode``,
    ``counting``: None for those of the layout, said only where it always says them."""

    figures: Mapping[str, Decimal]
    key: bool = False
    count: int | None = None
    unit: Unit | None = None
    mode: str | None = None
    counting: str | None = None
    good: bool = True
    beat: int = 0
    blank: frozenset[str] = field(default_factory=frozenset)
    """Channels whose display is dark: blanks stand in the place of their figures."""

    @property
    def words(self) -> Mapping[str, str]:
        """Its unit, mode and counting, where they are to be said."""
        unit = None if self.unit is None else self.unit.value
        said = {"unit": unit, "mode": self.mode, "counting": self.counting}
        return {name: word for name, word in said.items() if word is not None}


class Speaker:
    """Writes the frames of one layout."""

    def __init__(self, layout: Layout) -> None:
        self._layout, self._fields = layout, Fields(layout)
        self._checked = None if layout.check is None else Checked(layout.check)
        self._language = (
            None if layout.pattern is None else Language(layout.pattern, layout.frame.longest)
        )

    def frames(self, said: Said) -> tuple[bytes, ...]:
        """The frames that say it: one, or of a layout of one axis a frame one for each.

        Raises ReadoutError for what a frame of the layout can't show.
        """
        layout = self._layout
        axes = layout.figures.axes
        missing = [c for c in layout.channels if c not in said.figures]
        alien = [c for c in said.figures if c not in layout.channels]
        if alien or (missing and not axes) or not said.figures:
            raise self._cannot(said, f"figures of {', '.join(layout.channels)}")
        if not all(value.is_finite() for value in said.figures.values()):
            raise self._cannot(said, f"figures of {', '.join(layout.channels)}")
        if not axes:
            return (self._frame(said),)
        found, count = [], said.count
        for channel in layout.channels:
            if channel in said.figures and channel not in said.blank:
                found.append(self._frame(replace(said, count=count), channel))
                count = None if count is None else self.next(count)
        return tuple(found)

    def step(self, channel: str) -> Decimal:
        """The least that a channel's figure can differ by."""
        for each in self._layout.fields:
            if CHANNELS.get(each.name) == channel and not each.scale_from:
                return each.scale
        return Decimal(1).scaleb(-self._layout.figures.decimals)

    def next(self, count: int) -> int:
        """The number that follows."""
        figures = self._layout.figures
        return count + 1 if count < figures.count_to else figures.count_from

    def fault(self, word: bytes | None = None, count: int | None = None) -> tuple[bytes, bool]:
        """A frame with a fault's word, of the layout's the first, and whether it bears ``count``.

        Raises ReadoutError where the layout has none, or has no place for it.
        """
        layout = self._layout
        figures = dict.fromkeys(layout.channels, Decimal(0))
        number = layout.figures.count_from if count is None else count
        plain = self.frames(Said(figures, count=number))[0]
        for word_ in (word,) if word is not None else layout.figures.faults:
            for whole in self._faulty(word_, plain):
                if self._alarms(whole, plain):
                    return whole, False
        if word is None and "status" in layout.names:
            return self.frames(Said(figures, count=number, good=False))[0], True
        raise ReadoutError(
            "this readout has no words for a fault",
            expected="faults in [figures], or a status, in its layout",
            found=f"layout {layout.id}",
        )

    def _faulty(self, word: bytes, plain: bytes) -> list[bytes]:
        """The word in a whole frame's place, and in that of its figures: there first where it is
        of dashes and the like, as a display shows them."""
        frame, pattern = self._layout.frame, self._layout.pattern
        if pattern is None:
            return []
        size = frame.length - len(frame.header) if frame.length else frame.width
        whole = [word.ljust(size), word.rjust(size), word]
        start, stop = len(frame.header), len(plain) - len(frame.terminator) - frame.trailer
        body = plain[start:stop]
        match = pattern.fullmatch(body)
        assert match is not None  # noqa: S101 - it was read back
        spans = [match.span(n) for n in match.groupdict() if n in CHANNELS or n == FIGURE]
        within = [body[:one] + word.rjust(end - one) + body[end:] for one, end in spans]
        lettered = any(chr(byte).isalpha() for byte in word)
        bodies = [*whole, *within] if lettered else [*within, *whole]
        return [self._whole(each) for each in bodies]

    def _alarms(self, whole: bytes, plain: bytes) -> bool:
        """Whether a decoder takes it for a fault's word, before a plain frame."""
        decoder = Decoder(self._layout, "", timed=False)
        found = decoder.feed(whole + plain, _AT)
        return any(isinstance(item, Alarm) and item.code is Code.FAULT for item in found)

    # -- one frame -----------------------------------------------------------------------

    def _frame(self, said: Said, channel: str = "") -> bytes:
        shown = {channel: said.figures[channel]} if channel else dict(said.figures)
        plain = replace(said, blank=frozenset())
        for whole in self._written(plain, channel):
            if self._says(whole, plain, shown):
                return self._darkened(whole, said) if said.blank else whole
        raise self._cannot(said, self._able())

    def _written(self, said: Said, channel: str) -> Iterator[bytes]:
        """Frames that may say it; each is still to be read back."""
        if self._language is None:
            for content in numbering.contents(self._layout, said.figures, _numbers(said)):
                if (whole := self._ended(content)) is not None:
                    yield whole
            return
        wanted, needed = self._wanted(said, channel)
        frame = self._layout.frame
        size = frame.length - len(frame.header) if frame.length else frame.width
        for fill in _FILLS:
            bodies = self._language.texts(wanted, needed, fill)
            fit = (body for body in bodies if not size or len(body) == size)
            yield from (self._whole(body) for body in islice(fit, _TRIES))

    def _whole(self, body: bytes) -> bytes:
        return self._ended(self._layout.frame.header + body) or b""

    def _ended(self, content: bytes) -> bytes | None:
        """Header and body, with terminator, trailer and check; None where no check has room."""
        frame, check = self._layout.frame, self._layout.check
        whole = bytearray(content + frame.terminator + bytes(frame.trailer))
        if self._checked is not None and check is not None:
            size = len(self._checked.written(0))
            at = check.at if check.at >= 0 else len(whole) + check.at
            if at < 0 or at + size > len(whole):
                return None
            value = self._checked.of(bytes(whole[slice(check.from_, check.to)]))
            whole[at : at + size] = self._checked.written(value)
        return bytes(whole)

    def _says(self, whole: bytes, said: Said, figures: Mapping[str, Decimal]) -> bool:
        """Whether the drivers read it so."""
        cut = framer(self._layout)
        pieces = [*cut.feed(whole, _AT), *cut.idle(_LATER)]
        if len(pieces) != 1 or pieces[0].body is None or pieces[0].whole != whole:
            return False
        read = self._fields.read(whole, pieces[0].body)
        code = self._alien(said)
        if isinstance(read, Wrong):
            return read.code is code
        assert isinstance(read, Shown)  # noqa: S101 - the one or the other
        key = said.key or self._layout.on_key
        count = said.count if "count" in self._layout.names else None
        good = code is None and read.key is key and read.count == count
        return good and dict(read.figures) == dict(figures)

    def _alien(self, said: Said) -> Code | None:
        """The alarm that words other than the layout's are."""
        figures = self._layout.figures
        if not said.good:
            return Code.FAULT
        if said.unit not in (None, figures.unit):
            return Code.UNIT
        others = said.mode not in (None, figures.mode) or said.counting == "incremental"
        return Code.MODE if others else None

    def _darkened(self, whole: bytes, said: Said) -> bytes:
        """The frame with blanks in the place of those figures, and its check anew."""
        frame, pattern = self._layout.frame, self._layout.pattern
        start, stop = len(frame.header), len(whole) - len(frame.terminator) - frame.trailer
        dark = bytearray(whole[:stop])
        if pattern is None:
            numbering.darken(dark, self._layout, said.blank)
        else:
            match = pattern.fullmatch(whole[start:stop])
            assert match is not None  # noqa: S101 - it was read back
            for name in match.groupdict():
                if CHANNELS.get(name.partition("_")[0]) in said.blank:
                    one, end = match.span(name)
                    dark[start + one : start + end] = b" " * (end - one)
        return self._ended(bytes(dark)) or whole

    # -- what the groups of a pattern say --------------------------------------------------

    @property
    def _hexadecimal(self) -> bool:
        pattern = self._layout.pattern
        return pattern is not None and count_base(pattern) == 16

    def _wanted(
        self, said: Said, channel: str
    ) -> tuple[dict[str, list[bytes] | None], frozenset[str]]:
        """What each group is to say, and which must take part."""
        layout, names = self._layout, self._layout.names
        wanted: dict[str, list[bytes] | None] = {}
        needed: set[str] = set()
        channels = {FIGURE: channel} if channel else CHANNELS
        for name in (n for n in channels if n in names):
            value = said.figures[channels[name]]
            sign = "sign" if name == FIGURE else f"{name}_sign"
            apart = sign in names
            wanted[name] = self._figure(abs(value) if apart else value)
            wanted[f"{name}_doubled"] = self._figure(2 * value)
            wanted[sign] = self._sign(negative=value < 0)
            needed |= {name} | ({sign} if apart and value < 0 else set())
        if channel:
            wanted["axis"] = [w for w, c in layout.figures.axes.items() if c == channel]
            needed.add("axis")
        self._worded(said, wanted, needed)
        if said.key and not layout.on_key:
            wanted["key"] = None
            needed.add("key")
        if "count" in names and said.count is not None:
            forms = ("X", "x") if self._hexadecimal else ("d",)
            wanted["count"] = [
                f"{said.count:0{width}{form}}".encode() for form in forms for width in range(1, 12)
            ]
            needed.add("count")
        return wanted, frozenset(needed)

    def _worded(self, said: Said, wanted: dict[str, list[bytes] | None], needed: set[str]) -> None:
        figures = self._layout.figures
        units = {word: unit.value for word, unit in figures.unit_words.items()}
        for name, own, meant in (
            ("unit", figures.unit.value, units),
            ("mode", figures.mode, figures.mode_words),
            ("counting", "absolute", figures.counting_words),
        ):
            word = said.words.get(name)
            wanted[name] = [w for w, m in meant.items() if m == (word or own)]
            if word is not None:
                needed.add(name)
        wanted["status"] = list(figures.good)
        if not said.good:
            needed.add("status")
            if self._language is not None and "status" in self._layout.names:
                may = self._language.examples("status")
                wanted["status"] = [word for word in may if word not in figures.good]

    def _figure(self, value: Decimal) -> list[bytes]:
        """The texts of a figure, the plainest first; none where it has too many places."""
        figures = self._layout.figures
        exponent = value.as_tuple().exponent
        own = -exponent if isinstance(exponent, int) else figures.decimals
        every = range(figures.decimals, figures.fewest - 1, -1)
        found = []
        for places in sorted(every, key=lambda places: places != own):
            steps = abs(value).scaleb(places)
            if steps != steps.to_integral_value():
                continue
            digits = f"{steps:f}".partition(".")[0].rjust(places + 1, "0")
            if figures.point == "none":
                digits = digits.lstrip("0") or "0"
                head, tail = digits, ""
            else:
                head = digits[: len(digits) - places]
                tail = figures.point + digits[len(digits) - places :] if places else ""
            signs = ("-",) if value < 0 else ("", "+", " ")
            heads = [head.rjust(width, "0") for width in range(len(head), _WIDEST)]
            if head == "0" and tail:
                heads.append("")
            found += [(sign + h + tail).encode() for h in heads for sign in signs]
        return found

    def _sign(self, *, negative: bool) -> list[bytes]:
        minus = self._layout.figures.minus
        return [minus] if negative else [s for s in (b"+", b" ", b"", b"-") if s != minus]

    # -- what can't be said ----------------------------------------------------------------

    def _able(self) -> str:
        figures = self._layout.figures
        names = {"unit", "mode", "counting", "key", "count"} & self._layout.names
        beside = f"; beside them {', '.join(sorted(names))}" if names else ""
        most = f"at most {figures.decimals} decimals and the digits that its frame has room for"
        return f"figures of {', '.join(self._layout.channels)} with {most}{beside}"

    def _cannot(self, said: Said, expected: str) -> ReadoutError:
        shown = [f"{channel} {value}" for channel, value in said.figures.items()]
        shown += said.words.values()
        shown += ["by key"] if said.key else []
        return ReadoutError(
            "the simulated readout can't show this",
            expected=expected,
            found=f"{', '.join(shown) or 'no figure'}, layout {self._layout.id}",
        )


def _numbers(said: Said) -> numbering.Meant:
    status = "good" if said.good else "fault"
    key = "key" if said.key else "live"
    return numbering.Meant({**said.words, "status": status, "key": key}, said.count or 0, said.beat)
