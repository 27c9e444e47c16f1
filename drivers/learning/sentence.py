"""A layout of text: frames and words and what was moved, put together. Pure; raises Undecided."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import permutations, product

from drivers.learning import ahead, axes, checks, hexadecimal, line, meaning, sending
from drivers.learning.between import Word
from drivers.learning.evidence import Setting, Undecided
from drivers.learning.figures import COUNT_WIDE, Number, wraps
from drivers.learning.frames import Framing, named
from drivers.learning.proposal import Draft, Expected, Known, Proposal, held, port_rows
from drivers.learning.recording import Move, Recording
from drivers.learning.series import Series
from drivers.learning.text import Text
from drivers.parts import CHANNELS, FIGURE

_ORDER = list(CHANNELS.values())
_LETTERS = re.compile(rb"[A-Za-z]+")
_NEEDS = (4, 3, 2)
"""Digits before the point: as many as slides need; fewer where the pattern would get too wide."""
_MORE = 2
"""Decimals more that a figure has in inch, where a word says the unit: let in, and an alarm."""
_LONGEST = 64


@dataclass(frozen=True)
class Sentence:
    """Frames of text alike: how they are cut, their check, and what they are made of."""

    framing: Framing
    check: checks.Found | None
    bodies: list[bytes]
    text: Text


def proposed(
    found: Sentence, recording: Recording, moves: Sequence[Move], known: Known
) -> Proposal:
    """The layout that decodes the recording. Raises Undecided."""
    made = _Made(found, recording, moves)
    settings = made.settings(known)
    expected = made.expected()
    good = [found.bodies[row] for row in made.text.rows]
    alike = set(made.text.rows)
    others = [b for n, b in enumerate(found.bodies) if n not in alike]
    faults = sending.faults(good, others)
    if faults:
        shown = ", ".join(f"{meaning.said(w)} {n} times" for w, n in faults.items())
        words = ("they stand in a frame's place or in a figure's, never in a good frame",)
        settings.append(Setting("faults", shown, words))
    return held(made.drafts(settings, known, list(faults)), recording, expected, settings)


class _Made:
    """What is found out on the way to the file."""

    def __init__(self, found: Sentence, recording: Recording, moves: Sequence[Move]) -> None:
        self.found, self.recording, self.text = found, recording, _without_noise(found.text)
        self._aligned()
        ahead.parted(self.text)
        if self.text.unclear:
            raise Undecided(
                "a sign beside a figure may be its own or a mark",
                "move X and Z through nought, so that their signs change, and record again",
            )
        self._moves = moves
        meaning.fixed(self.text)
        self._found = meaning.changing(self.text)
        self.axis = next((w for w in self.text.words if w.role == "axis"), None)
        self.series = self._series()
        mode, unit = meaning.meant(self.text, "mode"), meaning.meant(self.text, "unit")
        self.decision = axes.decide(self.series, moves, mode, unit)
        self._behind(self.decision.unit.value)
        x_moved = any(move.axis == "X" for move in moves)
        unit_, mode_ = self.decision.unit.value, self.decision.mode
        self._found += meaning.held_against(self.text, unit_, mode_, mode_known=x_moved)
        self._found += meaning.letters(self.text, unit_, mode_, mode_known=x_moved)

    def _aligned(self) -> None:
        """Where nothing ends a frame, a recording of whole frames shows where they begin."""
        framing, rows = self.found.framing, self.text.rows
        whole = framing.aligned or (
            rows[0] == 0 and rows[-1] == len(framing.cuts) - 1 and framing.pause_ms > 0
        )
        if not whole:
            raise Undecided(
                "nothing ends a frame, and the recording doesn't show where one begins",
                "record again as JSON Lines with the instants, from before the first frame",
            )

    def _behind(self, unit: str) -> None:
        """A letter i right behind a figure: inch, or incremental where the unit is none."""
        for at, part in enumerate(self.text.parts[:-1]):
            after = self.text.parts[at + 1]
            if (
                not isinstance(part, Number)
                or part.kind != "figure"
                or not isinstance(after, bytes)
            ):
                continue
            word = _LETTERS.match(after)
            if word is None or word[0].lower() not in (b"i", b"ii"):
                continue
            taken = any(w.role == "unit" for w in self.text.words)
            if unit == "in" and len(word[0]) == 1:
                if not taken:
                    inch = Word([word[0]] * len(self.text.rows), "unit", {word[0]: "in"})
                    rest = after[1:]
                    self.text.parts[at + 1 : at + 2] = [inch, rest] if rest else [inch]
                return
            if word[0] != b"I":
                raise Undecided(
                    f"{meaning.said(word[0])} stands behind a figure in {unit}: it may say "
                    "incremental",
                    "set the readout to absolute counting and record again",
                )

    # -- series ------------------------------------------------------------------------------

    def _series(self) -> list[Series]:
        figures = self.text.figures
        if self.axis is None:
            return [
                Series(str(n + 1), self.text.label(f.slot), tuple(f.values), _places(f))
                for n, f in enumerate(figures)
            ]
        (figure,) = figures
        pairs = list(zip(self.axis.values, figure.values, strict=True))
        return [
            Series(
                kind.decode("latin-1"),
                _bare(kind),
                tuple(v for k, v in pairs if k == kind),
                _places(figure),
            )
            for kind in self.axis.kinds
        ]

    def _shown(self) -> Iterator[tuple[tuple[str, Decimal], ...]]:
        """The figures of each frame alike, as a decoder must give them."""
        scale = self.decision.scale
        if self.axis is not None:
            (figure,) = self.text.figures
            worth = self.series[0].worth(scale)
            for kind, value in zip(self.axis.values, figure.values, strict=True):
                channel = self.decision.channels[kind.decode("latin-1")]
                yield ((channel, value * worth),) if channel else ()
            return
        used = [
            (self.decision.channels.get(s.key, ""), s.values, s.worth(scale)) for s in self.series
        ]
        used = sorted((u for u in used if u[0]), key=lambda u: _ORDER.index(u[0]))
        for row in range(len(self.text.rows)):
            yield tuple((channel, values[row] * worth) for channel, values, worth in used)

    def expected(self) -> Expected:
        """What the decoder must make of the recording."""
        framing = self.found.framing
        tail = 0 if framing.trailer else len(framing.terminator)
        figures = {}
        for row, shown in zip(self.text.rows, self._shown(), strict=True):
            cut = framing.cuts[row]
            whole = self.recording.data[cut.start : cut.end - tail]
            start = 0 if whole.startswith(framing.header) else whole.rfind(framing.header)
            figures[whole[start:]] = shown
        return Expected(figures, len(self.text.rows))

    # -- settings ----------------------------------------------------------------------------

    def settings(self, known: Known) -> list[Setting]:
        """All settings with their evidence."""
        framing, check = self.found.framing, self.found.check
        sure = framing.alike > 0.95
        found = [
            Setting("frame", f"ends with {framing.said}", framing.for_, framing.against, sure),
            port_rows(known)[1],
            *self.decision.settings,
            *self._found,
            self._sends(known.asked),
            self._signs(),
        ]
        if check is not None:
            words = f"it holds on {check.held} of {check.of} frames"
            found.append(Setting("check", check.said, (words,), proved=check.held > 3))
        elif framing.tail:
            words = f"{framing.tail} bytes at the end change with the figures"
            found.append(
                Setting("check", "not understood", (words,), ("they are let in unchecked",))
            )
        return found + self._counter()

    def _sends(self, asked: bytes) -> Setting:
        if asked:
            words = (f"it was asked with {named(asked)}",)
            return Setting("sends", "when asked", words, proved=True)
        cuts, rows = self.found.framing.cuts, self.text.rows
        values = list(zip(*[f.values for f in self.text.figures], strict=True))
        instants = [cuts[n].at for n in rows]
        if self.axis is not None:
            # Lines of two axes come in pairs: those of the one that moved show how often.
            moved = max(self.series, key=lambda s: len(set(s.values)))
            first = moved.key.encode("latin-1")
            kept = [n for n, kind in enumerate(self.axis.values) if kind == first]
            instants, values = [instants[n] for n in kept], [values[n] for n in kept]
        found = sending.sends(instants, values, timed=self.recording.timed)
        marks = [w for w in self.text.words if w.role == "key"]
        if marks and found.value == "on key":
            self._seen_again(marks[0])
            return replace(
                found,
                value="continuously",
                for_=(*found.for_, "frames come without the key's mark"),
                proved=False,
            )
        return found

    def _seen_again(self, mark: Word) -> None:
        """Of a few lines that came as a hand presses a key, a mark on one may be damage."""
        (kind,) = mark.meaning or {b""}
        if mark.kinds[kind] == 1:
            raise Undecided(
                f"{meaning.said(kind)} was seen once, and all lines came as a hand presses a key",
                "press the key three times more, before and behind the move, and record again",
            )

    def _signs(self) -> Setting:
        seen = any(b"-" in f.signs for f in self.text.figures)
        words = "negative figures were seen" if seen else "no negative figure was seen"
        place = "apart from" if any(f.apart for f in self.text.figures) else "right before"
        return Setting("minus", f"{place} the digits", (words,), (), seen)

    def _counter(self) -> list[Setting]:
        counters = [n for n in self.text.numbers if n.kind == "count"]
        for other in counters[1:]:
            other.kind = "digits"
        if not counters:
            return []
        ends = wraps(counters[0].values, self.text.rows)
        words = f"it goes on by one each time, from {counters[0].values[0]}"
        if ends is None:
            against = (
                "where it starts anew wasn't seen: there it may say once that lines were lost",
            )
            return [Setting("count", f"up to {self._count_ends()[1]}", (words,), against)]
        return [
            Setting("count", f"{ends[0]} to {ends[1]}", (words, "it started anew"), proved=True)
        ]

    def _count_ends(self) -> tuple[int, int]:
        counter = next(n for n in self.text.numbers if n.kind == "count")
        wide = counter.whole[1] if counter.zeros else max(COUNT_WIDE, counter.whole[1])
        digits = counter.hexadecimal
        last = hexadecimal.most(digits) if digits else 10**wide - 1
        return wraps(counter.values, self.text.rows) or (0, last)

    # -- file --------------------------------------------------------------------------------

    def drafts(self, settings: list[Setting], known: Known, faults: list[bytes]) -> Iterator[Draft]:
        """The layout file: fixed length and width first, where blanks or noughts fill it up."""
        if not self.found.framing.terminator:
            # Frames of one length have no room for a minus before the digits.
            for each in self.text.figures:
                each.either = False
        lengths = {len(self.found.bodies[row]) for row in self.text.rows}
        filled = all(f.one_width for f in self.text.figures)
        one = filled and len(lengths) == 1
        unit = any(word.role == "unit" for word in self.text.words)
        for need, more in product(_NEEDS, (_MORE, 0) if unit else (0,)):
            for figure in self.text.figures:
                figure.more = more
            for fixed in (True, False) if one else (False,):
                yield self._draft(settings, known, faults, self._frame(need, fixed=fixed))

    def _draft(
        self,
        settings: list[Setting],
        known: Known,
        faults: list[bytes],
        frame: list[tuple[str, str, str]],
    ) -> Draft:
        rows, asked = port_rows(known)[0], known.asked
        tables: dict[str, list[tuple[str, str, str]]] = {
            "port": rows,
            "asks": [("request", line.quoted(asked.decode("latin-1")), "sends")] if asked else [],
            "frame": frame,
            "axes": self._axes(),
            "figures": self._figures(faults),
            "check": [],
            "rules": [("sends", line.quoted(self._sends(asked).value), "sends")],
        }
        if self.found.check is not None:
            tables["check"] = [("", row, "check") for row in checks.toml(self.found.check.check)]
        channels = sorted({c for c in self.decision.channels.values() if c})
        said = ", ".join(map(str, self._moves))
        note = f"Learned from {len(self.found.framing.cuts)} frames; moved meanwhile: {said}"
        return Draft(f"{' and '.join(channels)}, learned", note, tables, settings)

    def _frame(self, need: int, *, fixed: bool) -> list[tuple[str, str, str]]:
        framing, check = self.found.framing, self.found.check
        rows = []
        if framing.header:
            rows.append(("header", line.quoted(framing.header.decode("latin-1")), "frame"))
        if framing.terminator:
            rows.append(("terminator", line.quoted(framing.terminator.decode("latin-1")), "frame"))
            if framing.trailer:
                rows.append(("trailer", str(framing.trailer), "frame"))
            elif fixed:
                cut = framing.cuts[self.text.rows[0]]
                rows.append(("width", str(len(cut.body)), "frame"))
        elif fixed:
            rows.append(("length", str(framing.whole), "frame"))
        else:
            rows.append(("pause_ms", str(framing.pause_ms or 50), "frame"))
        rows.append(("longest", str(max(_LONGEST, 2 * framing.whole)), "frame"))
        size, as_ = (check.size, check.check.as_) if check else (framing.tail or 1, "byte")
        inside = line.check_text(size, as_, lower=self._lower())
        pattern = line.pattern(self.text, self._names(), inside, need)
        return [*rows, ("pattern", line.quoted(pattern), "pattern")]

    def _lower(self) -> bool:
        """Whether a check in hex is written in small letters."""
        check = self.found.check
        if check is None or check.check.as_ != "hex":
            return False
        wholes = [self.recording.data[c.start : c.end] for c in self.found.framing.cuts]
        stands = b"".join(w[len(w) + check.check.at :][: check.size] for w in wholes)
        return any(c in b"abcdef" for c in stands) and not any(c in b"ABCDEF" for c in stands)

    def _names(self) -> dict[int, str]:
        """The group of each figure."""
        if self.axis is not None:
            return {self.text.figures[0].slot: FIGURE}
        found = {}
        for figure, each in zip(self.text.figures, self.series, strict=True):
            name = line.group_of(self.decision.channels.get(each.key, ""))
            if each.key in self.decision.doubled:
                base = self.decision.channels[self.decision.doubled[each.key]]
                name = f"{line.group_of(base)}_doubled"
            found[figure.slot] = name
        return found

    def _axes(self) -> list[tuple[str, str, str]]:
        if self.axis is None:
            return []
        known = {k.encode("latin-1"): v for k, v in self.decision.channels.items()}
        return [("words", line.words_table(replace(self.axis, meaning=known)), "axes")]

    def _figures(self, faults: list[bytes]) -> list[tuple[str, str, str]]:
        decision, text = self.decision, self.text
        places = sorted({f.places for f in text.figures if self._names().get(f.slot)})
        shown = str(places[0]) if len(places) == 1 else f"[{places[0]}, {places[-1]}]"
        if text.point == "none":
            shown = str(-decision.scale.adjusted())
        rows = [
            ("decimals", shown, "decimals"),
            ("point", line.quoted(text.point), "decimals"),
            ("unit", line.quoted(decision.unit.value), "unit"),
            ("mode", line.quoted(decision.mode), "mode"),
        ]
        for word in text.words:
            if word.role in ("unit", "mode", "counting"):
                rows.append((f"{word.role}_words", line.words_table(word), f"{word.role}_words"))
            elif word.role == "status":
                good = [k for k, v in (word.meaning or {}).items() if v == "good"]
                rows.append(("good", line.texts(good), "good"))
        if any(n.kind == "count" for n in text.numbers):
            from_, to = self._count_ends()
            rows += [("count_from", str(from_), "count"), ("count_to", str(to), "count")]
        if faults:
            rows.append(("faults", line.texts(faults), "faults"))
        return rows


def _without_noise(text: Text) -> Text:
    """Without frames whose two displays contradict each other, where they usually don't."""
    for one, other in permutations(text.figures, 2):
        rows = axes.twice(one.values, other.values)
        if rows and len(rows) < len(text.rows):
            return text.kept(rows)
    return text


def _places(figure: Number) -> int | None:
    return None if figure.point == "none" else figure.places


def _bare(kind: bytes) -> bytes:
    """The letters of a word."""
    found = _LETTERS.findall(kind)
    return found[-1] if found else kind.strip()
