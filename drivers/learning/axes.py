"""Which figure is which axis, its unit, its scale, radius or diameter: from what was moved. Pure.

Every way to assign the stated moves to the figures that moved is tried; where more than one fits,
the figures' own letters decide, and where they don't, nothing does: it is refused.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import permutations, product

from drivers.learning.evidence import Setting, Undecided, move
from drivers.learning.recording import Move
from drivers.learning.series import Reading, Series, exact, fits
from inspect_rec.units import Unit

_STILL = 0.05
"""Of the least stated move: what went less far stood still."""
_TWICE = 0.7
"""Of the frames, noise apart, show twice in one display what the other shows."""
_SLIDES = ("X", "Z")


@dataclass
class Decision:
    """What was decided. ``channels``: axis by key of the series, "" where it isn't used;
    ``doubled``: the series that shows twice another one's figure, and that one."""

    channels: dict[str, str]
    doubled: dict[str, str]
    unit: Unit
    mode: str
    scale: Decimal
    settings: list[Setting] = field(default_factory=list)


def decide(
    series: Sequence[Series], moves: Sequence[Move], mode_said: str = "", unit_said: str = ""
) -> Decision:
    """Axes of all figures. ``mode_said``, ``unit_said``: what a word in the frame says, "" where
    none does. Raises Undecided."""
    if not moves:
        raise Undecided(
            "nobody said what was moved, so axis, unit and scale aren't known",
            f"{move('X')} with --moved X=+10mm",
        )
    doubled = _doubled(series)
    single = [s for s in series if s.key not in doubled]
    gone = _moved(single, moves)
    readings = list(dict.fromkeys(_readings(gone, moves)))
    if not readings:
        raise _none_fits(gone, moves)
    kept = _narrowed(readings, gone, moves, mode_said, unit_said)
    if len(kept) > 1 and all(m.exact for m in moves):
        kept = exact(kept, gone, moves)
    if len(kept) > 1:
        raise _several(kept, moves)
    return _decided(kept[0], single, doubled, moves, mode_said)


def _doubled(series: Sequence[Series]) -> dict[str, str]:
    """Figures that always show twice another one's."""
    found: dict[str, str] = {}
    for one, other in permutations(series, 2):
        if (
            len(one.values) == len(other.values)
            and len(set(one.values)) > 1
            and all(2 * a == b for a, b in zip(one.values, other.values, strict=True))
        ):
            found[other.key] = one.key
    return found


def twice(one: Sequence[int], other: Sequence[int]) -> list[int]:
    """The rows in which the second shows twice the first; none where that isn't usual."""
    rows = [n for n, (a, b) in enumerate(zip(one, other, strict=True)) if 2 * a == b]
    return rows if len(rows) >= _TWICE * len(one) and len(set(one)) > 1 else []


def _moved(series: Sequence[Series], moves: Sequence[Move]) -> list[Series]:
    """The figures that moved; raises Undecided where none or too few did."""
    furthest = max((abs(s.by) for s in series), default=0)
    sizes = [abs(m.mm) for m in moves]
    share = _STILL * float(min(sizes) / max(sizes))
    gone = [s for s in series if abs(s.by) > max(share * furthest, 3 * s.restless, 1)]
    first = moves[0]
    if not gone:
        raise Undecided("no figure moved", move(first.axis, _by(first)))
    if len(gone) < len(moves):
        still = [m for m in moves if m.axis not in {s.letter for s in gone}]
        other = (still or list(moves))[-1]
        raise Undecided(
            f"{len(moves)} axes were moved and {len(gone)} figure moved",
            move(other.axis, _by(other)),
        )
    return gone


def _by(stated: Move) -> str:
    return "+10 mm" if abs(stated.mm) < 5 else stated.said


def _readings(gone: Sequence[Series], moves: Sequence[Move]) -> Iterator[Reading]:
    for some in permutations(gone, len(moves)):
        ways = [list(fits(s, m)) for s, m in zip(some, moves, strict=True)]
        for combined in product(*ways):
            units = {unit for unit, _, _ in combined}
            # Decimals that are shown may differ; what is implied is one setting of the layout.
            scales = {
                scale for s, (_, _, scale) in zip(some, combined, strict=True) if s.places is None
            }
            if len(units) > 1 or len(scales) > 1:
                continue
            scale = scales.pop() if scales else combined[0][2]
            modes = [mode for m, (_, mode, _) in zip(moves, combined, strict=True) if m.axis == "X"]
            axes = tuple(sorted((s.key, m.axis) for s, m in zip(some, moves, strict=True)))
            yield Reading(axes, units.pop(), modes[0] if modes else "", scale)


def _none_fits(gone: Sequence[Series], moves: Sequence[Move]) -> Undecided:
    shown = ", ".join(f"{s.named} by {_shown(s)}" for s in gone[:4])
    said = ", ".join(str(m) for m in moves)
    return Undecided(
        f"no unit and no mode make {said} of what the figures went ({shown})",
        move(moves[0].axis, "+10 mm", alone=len(moves) > 1 or len(gone) > 1),
    )


def _shown(series: Series) -> str:
    return f"{Decimal(series.by).scaleb(-(series.places or 0)):+}"


def _narrowed(
    readings: Sequence[Reading],
    gone: Sequence[Series],
    moves: Sequence[Move],
    mode_said: str,
    unit_said: str,
) -> list[Reading]:
    """What the figures' own letters and the frame's own words leave."""
    kept = list(readings)
    letters = {s.key: s.letter for s in gone}
    lettered = [r for r in kept if all(letters[key] in ("", axis) for key, axis in r.axes)]
    if len(gone) > len(moves):
        # A figure moved that nobody speaks of: only letters tell them apart.
        kept = [r for r in lettered if all(letters[key] == axis for key, axis in r.axes)]
        if not kept:
            more = [a for a in _SLIDES if a not in {m.axis for m in moves}]
            raise Undecided(
                f"{len(gone)} figures moved, and a move of {len(moves)} was stated",
                move(moves[0].axis, _by(moves[0]), alone=True) if more else move("X", alone=True),
            )
    elif lettered:
        kept = lettered
    elif len(moves) == 1:
        (key, axis) = kept[0].axes[0]
        raise Undecided(
            f"{axis} was moved, and the figure that moved bears the letter {letters[key]}",
            move(letters[key]),
        )
    kept = [r for r in kept if unit_said in ("", r.unit.value)] or kept
    kept = [r for r in kept if not r.mode or mode_said in ("", r.mode)] or kept
    return _plainest(kept)


def _plainest(readings: list[Reading]) -> list[Reading]:
    """Steps of one, as 0.001, before steps of two and five where both would do; but half a step
    in radius and a whole one in diameter are both usual, so neither goes before the other."""
    usual = [r for r in readings if r.scale.as_tuple().digits == (1,)]
    if not usual:
        return readings
    fives = [
        r
        for r in readings
        if r.scale.as_tuple().digits == (5,) and r.mode == "radius" and _only_diameter(usual)
    ]
    return [*usual, *fives]


def _only_diameter(readings: Sequence[Reading]) -> bool:
    return all(r.mode == "diameter" for r in readings)


def _several(readings: Sequence[Reading], moves: Sequence[Move]) -> Undecided:
    if len({r.axes for r in readings}) > 1:
        axis = moves[-1].axis
        return Undecided(
            "the figures could be the axes in more than one way",
            move(axis, "+5 mm", alone=True),
        )
    ways = " or ".join(
        f"{r.unit} {r.mode} in steps of {r.scale}".replace("  ", " ") for r in readings
    )
    why = f"two readings are left: {ways}"
    if len({r.unit for r in readings}) > 1:
        axis = moves[0].axis
        return Undecided(why, move(axis, "+20.00 mm, exactly and stated to a hundredth,"))
    other = next((a for a in ("Z", "X") if a not in {m.axis for m in moves}), "X")
    return Undecided(why, move(other, "+5 mm"))


def _decided(
    reading: Reading,
    series: Sequence[Series],
    doubled: dict[str, str],
    moves: Sequence[Move],
    mode_said: str,
) -> Decision:
    axes = dict(reading.axes)
    stated = {m.axis: m for m in moves}
    made = Decision(dict(axes), doubled, reading.unit, reading.mode, reading.scale)
    for each in series:
        if each.key in axes:
            made.settings.append(_proved(each, axes[each.key], stated[axes[each.key]], reading))
    _rest(made, [s for s in series if s.key not in axes], series)
    made.settings += _unit_and_mode(reading, series, axes, stated)
    if "X" in made.channels.values() and not made.mode:
        if not mode_said:
            raise Undecided(
                "X wasn't moved, so radius or diameter isn't known", move("X"), made.settings
            )
        made.mode = mode_said
        word = f"the frame says {mode_said} itself"
        made.settings.append(Setting("mode", mode_said, (word,), ("X wasn't moved",)))
    made.mode = made.mode or "radius"
    return made


def _proved(series: Series, axis: str, stated: Move, reading: Reading) -> Setting:
    by = series.by * series.worth(reading.scale)
    words = [f"{series.named} went by {by:+} {reading.unit} while {stated} was moved"]
    if series.letter == axis:
        words.append(f"its own letter is {axis}")
    against = []
    if (series.by > 0) != (stated.mm > 0):
        against.append(
            f"it counts the other way than the move was stated: {axis} is as the readout shows it"
        )
    if series.letter not in ("", axis):
        against.append(f"its own letter is {series.letter}")
    return Setting(f"axis {axis}", series.named, tuple(words), tuple(against), proved=True)


def _rest(made: Decision, still: Sequence[Series], all_: Sequence[Series]) -> None:
    """The axes that weren't moved: by their own letter, or the other one of two."""
    taken = set(made.channels.values())
    lettered = any(s.letter == made.channels.get(s.key) for s in all_ if s.letter)
    for each in still:
        channel, words = "", ""
        if each.letter and each.letter not in taken:
            channel, words = each.letter, f"its own letter is {each.letter}"
        elif each.letter or (lettered and each.label):
            words = "no axis bears its word: it is let in and not used"
        elif len(all_) == 2 and (known := taken & set(_SLIDES)):
            channel = next(a for a in _SLIDES if a not in known)
            words = f"the frame has two axes and the other is {known.pop()}"
        else:
            missing = next((a for a in ("Z", "X") if a not in taken), "Y")
            raise Undecided(
                f"{each.named} stood still, and it bears no axis's letter",
                move(missing, "+5 mm"),
                made.settings,
            )
        made.channels[each.key] = channel
        taken.add(channel)
        name = f"axis {channel}" if channel else f"{each.named}"
        value = each.named if channel else "not used"
        against = ("not proved by a move",) if channel else ()
        made.settings.append(Setting(name, value, (words,), against))


def _unit_and_mode(
    reading: Reading,
    series: Sequence[Series],
    axes: dict[str, str],
    stated: dict[str, Move],
) -> Iterator[Setting]:
    by_key = {s.key: s for s in series}
    shown = [
        f"{stated[axis]} shows as {by_key[key].by * by_key[key].worth(reading.scale):+}"
        for key, axis in axes.items()
    ]
    yield Setting("unit", reading.unit.value, tuple(shown), proved=True)
    if reading.mode:
        yield Setting("mode", reading.mode, tuple(s for s in shown if s[0] == "X"), proved=True)
    name = "scale" if any(s.free for s in series) else "decimals"
    value = reading.scale if name == "scale" else -reading.scale.adjusted()
    implied = any(s.places is None for s in series)
    words = tuple(shown) if implied else ("the figures show their point",)
    yield Setting(name, str(value), words, proved=True)
