"""A layout of binary frames: fields, what was moved, and the file. Pure; raises Undecided."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from itertools import combinations, pairwise, permutations

from drivers.learning import axes, bits, checks, line, numbers, sending, series
from drivers.learning.bits import Byte
from drivers.learning.blocks import Blocks
from drivers.learning.evidence import Setting, Undecided
from drivers.learning.frames import named
from drivers.learning.numbers import Place
from drivers.learning.proposal import Draft, Expected, Known, Proposal, held, port_rows
from drivers.learning.recording import Move, Recording
from drivers.learning.series import Series
from drivers.parts import CHANNELS
from inspect_rec.units import Unit, to_mm

_FURTHEST_MM = 2000
"""What is further can't be a slide of a grinder; the layout's own rule is the same."""
_MOST_HEADER = 8
_NOUGHT = "through nought, so that its sign changes, by a stated amount, and record again"
_ORDER = list(CHANNELS.values())


def proposed(blocks: Blocks, recording: Recording, moves: Sequence[Move], known: Known) -> Proposal:
    """The layout that decodes the recording. Raises Undecided."""
    made = _Made(blocks, recording, moves)
    settings = made.settings(known)
    return held(iter([made.draft(settings, known)]), recording, made.expected(), settings)


class _Made:
    """What is found out on the way to the file."""

    def __init__(self, blocks: Blocks, recording: Recording, moves: Sequence[Move]) -> None:
        self.blocks, self.recording, self._moves = blocks, recording, moves
        self.wholes, self.constant = blocks.wholes, blocks.constant
        self.counter = bits.counter(self.wholes, self.constant, blocks.checked)
        self.taken = [*blocks.checked]
        if self.counter:
            self.taken += range(self.counter.at, self.counter.at + self.counter.size)
        groups = self._moved()
        self.series = [
            Series(str(n + 1), b"", group[0].values, None, free=True)
            for n, group in enumerate(groups)
        ]
        self.decision = axes.decide(self.series, moves, "radius" if self._no_x() else "")
        self.places = {
            self.decision.channels[s.key]: place
            for s, place in zip(self.series, self._sized(groups), strict=True)
        }
        self._overlap()
        self._signed()
        self._unproved: list[str] = []
        self._other()
        self.others = self._others()

    def _no_x(self) -> bool:
        return all(move.axis != "X" for move in self._moves)

    # -- figures -----------------------------------------------------------------------------

    def _moved(self) -> list[list[Place]]:
        """The figures that went as the slides did; raises Undecided where bytes can be read as
        more than one."""
        groups = numbers.places(self.wholes, self.constant, self.taken, len(self._moves))
        groups = numbers.extended(groups, self.constant)
        groups = [g for g in groups if any(list(self._fits(g[0], m)) for m in self._moves)]
        firsts = [g[0] for g in groups]
        groups = [g for g in groups if not numbers.cut(g[0], firsts)]
        joint = self._together(groups)
        if not joint:
            raise Undecided(
                "no bytes of the frame went as the slide did",
                f"move {self._moves[0].axis} by +10 mm slowly, alone, and record again"
                if self._moves
                else "move X by +10 mm and record again with --moved X=+10mm",
            )
        if len(joint) > len(self._moves):
            ways = "; ".join(self._way(group[0]) for group in joint[:3])
            raise Undecided(
                f"the bytes can be read as a figure in more than one way ({ways})",
                f"move {self._doubted(joint)} {_NOUGHT}",
            )
        return joint

    def _doubted(self, joint: Sequence[list[Place]]) -> str:
        """The axes whose bytes can be read in more than one way."""
        alone: list[Place] = []
        shared: list[Place] = []
        for group in joint:
            others = [o for o in joint if o is not group]
            covers = set(group[-1].covers)
            beside = any(covers & set(o[-1].covers) for o in others)
            (shared if beside else alone).append(group[0])
        sure = {m.axis for m in self._moves for p in alone if list(self._fits(p, m))}
        open_ = {m.axis for m in self._moves for p in shared if list(self._fits(p, m))}
        return " and ".join(sorted(open_ - sure or open_)) or self._moves[0].axis

    def _together(self, groups: Sequence[list[Place]]) -> list[list[Place]]:
        """The readings that make all stated moves in one unit and scale, of bytes of their own;
        where steps of a power of ten do, no others."""
        ways: dict[bool, set[int]] = {True: set(), False: set()}
        for some in permutations(range(len(groups)), len(self._moves)):
            firsts = [groups[n][-1] for n in some]
            if any(set(a.covers) & set(b.covers) for a, b in combinations(firsts, 2)):
                continue
            fits = [set(self._fits(p, m)) for p, m in zip(firsts, self._moves, strict=True)]
            for _, scale in set.intersection(*fits) if fits else ():
                ways[scale.as_tuple().digits == (1,)].update(some)
        return [groups[n] for n in sorted(ways[True] or ways[False])]

    def _fits(self, place: Place, move: Move) -> Iterator[tuple[Unit, Decimal]]:
        one = Series("1", b"", place.values, None, free=True)
        furthest = max(abs(min(place.values)), abs(max(place.values)))
        for unit, _, scale in series.fits(one, move):
            if to_mm(furthest * scale, unit) <= _FURTHEST_MM:
                yield unit, scale

    @staticmethod
    def _way(place: Place) -> str:
        bytes_ = f"bytes {place.at} to {place.at + place.size - 1}"
        return f"{bytes_} {place.order}, {place.as_}, from {place.values[0]}"

    def _sized(self, groups: Sequence[Sequence[Place]]) -> list[Place]:
        """Of each figure's sizes the widest that leaves the others theirs."""
        lowest = [group[0].lowest for group in groups]
        stride = abs(lowest[0] - lowest[1]) if len(lowest) == 2 else 4
        return [next((p for p in group if p.size <= stride), group[-1]) for group in groups]

    def _overlap(self) -> None:
        spans = [place.covers for place in self.places.values()]
        for n, one in enumerate(spans):
            if any(set(one) & set(other) for other in spans[n + 1 :]):
                raise Undecided(
                    "the same bytes make two figures", f"move {self._moves[0].axis} {_NOUGHT}"
                )

    def _signed(self) -> None:
        """Decimal digits bear no sign: where none was seen beside them they may be negative."""
        for channel, place in self.places.items():
            if place.as_ == "bcd" and place.sign_at < 0:
                raise Undecided(
                    f"the digits of {channel} bear no sign, and none was seen beside them",
                    f"move {channel} {_NOUGHT}",
                )

    def _other(self) -> None:
        """The axis that stood still, where just one place is left for it."""
        if len(self.places) != 1:
            return
        ((channel, place),) = self.places.items()
        missing = {"X": "Z", "Z": "X"}.get(channel)
        if missing is None:
            return
        size, end = place.size, place.at + place.size
        after = self._free(range(end, self.blocks.length))
        before = self._free(range(place.at - 1, -1, -1))
        if after > size or (after == size and self._at(end, place) == 0):
            raise self._stood(missing, f"{after} bytes behind it stood still", channel)
        found = [end] if after == size else []
        if before >= size and self._at(place.at - size, place):
            found.append(place.at - size)
        if not found:
            return
        if len(found) > 1 or missing == "X":
            raise self._stood(missing, "an axis that stood still may be beside it", channel)
        values = numbers.read(self.wholes, found[0], size, place.order, place.as_)
        self.places[missing] = Place(found[0], size, place.order, place.as_, values)
        bytes_ = f"bytes {found[0]} to {found[0] + size - 1}"
        words = f"{bytes_}, as wide as {channel}, is all that is left"
        self.decision.settings.append(
            Setting(f"axis {missing}", bytes_, (words,), ("not proved by a move",))
        )

    @staticmethod
    def _stood(missing: str, why: str, channel: str) -> Undecided:
        return Undecided(
            f"{channel} is known, and {why}", f"move {missing} by +5 mm and record again"
        )

    def _free(self, offsets: Sequence[int]) -> int:
        """How many bytes from the first on belong to nothing that is known."""
        n = 0
        for at in offsets:
            if at in self.taken:
                break
            n += 1
        return n

    def _at(self, at: int, like: Place) -> int:
        """A figure that stood still, in steps; 0 where it can't be one."""
        if set(range(at, at + like.size)) & set(self.taken):
            return 0
        values = numbers.read(self.wholes, at, like.size, like.order, like.as_)
        scale, unit = self.decision.scale, self.decision.unit
        if not values or max(values) - min(values) > 20:
            return 0
        return values[0] if to_mm(abs(values[0]) * scale, unit) <= _FURTHEST_MM else 0

    # -- what is no figure -------------------------------------------------------------------

    @property
    def _covered(self) -> set[int]:
        found = {*self.taken}
        for place in self.places.values():
            found |= {*place.covers, place.sign_at}
        return found

    @property
    def header(self) -> bytes:
        """Bytes that never change and stand before all that does."""
        first = min(at for at in self._covered if at >= 0)
        free = [self.constant[at] for at in range(first) if at in self.constant]
        return bytes(free[:_MOST_HEADER]) if len(free) == first else b""

    def _others(self) -> list[Byte]:
        found = [self.counter] if self.counter else []
        idle = {*self._covered, *self._upper()}
        free = [n for n in range(len(self.header), self.blocks.length) if n not in idle]
        rows = list(zip(*[p.values for p in self.places.values()], strict=True))
        moving = [False, *(a != b for a, b in pairwise(rows))]
        for at in free:
            if at not in self.constant:
                found += bits.status(self.wholes, at, moving)
        return found + bits.constant(self.constant, [n for n in free if n in self.constant])

    def _upper(self) -> list[int]:
        """A byte of nought beside a counter of one byte: it may be its upper one, and go on."""
        if self.counter is None or self.counter.size > 1:
            return []
        order = next(iter(self.places.values())).order
        at = self.counter.at + (1 if order == "little" else -1)
        return [at] if self.constant.get(at) == 0 and at not in self._covered else []

    # -- file ----------------------------------------------------------------------------------

    def expected(self) -> Expected:
        """What the decoder must make of the recording."""
        scale = self.decision.scale
        order = sorted(self.places, key=_ORDER.index)
        figures = {}
        for row, whole in enumerate(self.wholes):
            figures[whole] = tuple((c, self.places[c].values[row] * scale) for c in order)
        return Expected(figures, len(self.wholes))

    def settings(self, known: Known) -> list[Setting]:
        """All settings with their evidence."""
        blocks, found = self.blocks, self.blocks.check
        words = f"it holds on {found.held} of {found.of} frames"
        return [
            Setting("frame", f"{blocks.length} bytes", blocks.said, proved=True),
            port_rows(known)[1],
            *self.decision.settings,
            *(self._field(channel) for channel in self.places),
            Setting("check", found.check.kind, (words,), proved=True),
            *(Setting(b.name, f"byte {b.at}", (b.said,)) for b in self.others),
            self._sends(known),
        ]

    def _field(self, channel: str) -> Setting:
        place = self.places[channel]
        value = f"bytes {place.at} to {place.at + place.size - 1}, {place.order}, {place.as_}"
        top = place.at if place.order == "big" else place.at + place.size - 1
        known = min(place.values) < 0 < max(place.values) and top not in self.constant
        words = ("it went as the slide did and its lowest byte changes",)
        if channel not in {m.axis for m in self._moves}:
            words = ("read as the axis that moved",)
        against = () if known else ("how a negative figure looks wasn't seen on its way",)
        return Setting(f"field {channel}", value, words, against, proved=known)

    def _sends(self, known: Known) -> Setting:
        if known.asked:
            words = (f"it was asked with {named(known.asked)}",)
            return Setting("sends", "when asked", words, proved=True)
        rows = list(zip(*[p.values for p in self.places.values()], strict=True))
        instants = [cut.at for cut in self.blocks.cuts]
        return sending.sends(instants, rows, timed=self.recording.timed)

    def draft(self, settings: list[Setting], known: Known) -> Draft:
        """The layout file."""
        decision, blocks = self.decision, self.blocks
        frame = [("length", str(blocks.length), "frame")]
        if self.header:
            header = line.quoted(self.header.decode("latin-1"))
            frame.insert(0, ("header", header, "frame"))
        asked = known.asked.decode("latin-1")
        figures = [
            ("unit", line.quoted(decision.unit.value), "unit"),
            ("mode", line.quoted(decision.mode), "mode"),
        ]
        if self.counter and self.counter.name == "count":
            last = str(256**self.counter.size - 1)
            figures += [("count_from", "0", "count"), ("count_to", last, "count")]
        tables = {
            "port": port_rows(known)[0],
            "asks": [("request", line.quoted(asked), "sends")] if asked else [],
            "frame": frame,
            "figures": figures,
            "check": [("", row, "check") for row in checks.toml(blocks.check.check)],
            "rules": [("sends", line.quoted(self._sends(known).value), "sends")],
        }
        said = ", ".join(map(str, self._moves))
        note = f"Learned from {len(self.wholes)} frames; moved meanwhile: {said}"
        channels = " and ".join(sorted(self.places))
        return Draft(f"{channels}, learned", note, tables, settings, list(self._fields()))

    def _fields(self) -> Iterator[list[str]]:
        scale = line.quoted(f"{self.decision.scale:f}")
        for channel, place in self.places.items():
            name = line.group_of(channel)
            lines = [f"order = {line.quoted(place.order)}", f"as = {line.quoted(place.as_)}"]
            yield [*_placed(name, place.at, place.size), *lines, f"scale = {scale}"]
            if place.sign_at >= 0:
                plus = next(
                    w[place.sign_at] for w in self.wholes if w[place.sign_at] != place.minus
                )
                words = f'words = {{ "{plus}" = "plus", "{place.minus}" = "minus" }}'
                yield [*_placed(f"{name}_sign", place.sign_at, 1), 'as = "unsigned"', words]
        for each in self.others:
            yield [*_placed(each.name, each.at, each.size), *each.lines]


def _placed(name: str, at: int, size: int) -> list[str]:
    return [f"name = {line.quoted(name)}", f"at = {at}", f"bytes = {size}"]
