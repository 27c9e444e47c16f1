"""The screen at the machine, 80 by 24: what to do now, large; live figures, larger; verdict and
stock as soon as they are known. Pure: a view in, lines out. It never stores and never decides.
"""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from drivers.decoder import Code
from drivers.settled import State
from inspect_rec.capture import Capture
from inspect_rec.cli import big, sentence
from inspect_rec.compute.conformity import Verdict
from inspect_rec.inspection import Inspection, Step
from inspect_rec.inspection.kept import CLOSURE, GROUND, TEMPERATURE
from inspect_rec.report import figures

WIDE, HIGH = 80, 24
KEYS = "Space take   Backspace strike out   G ground again   H help   Q leave"
HELP = (
    "C clamped anew   D wheel dressed   Z zero set anew   digits: figure read by eye",
    "A figure is on disk before it says so: leave or lose power, it goes on here.",
    "Never sight, touch or clean at a turning wheel. Law and machine's manual first.",
)
_STATE = {
    State.LIVE: "Moving",
    State.STILL: "Still: take",
    State.STALE: "Waiting",
    State.LOST: "No figure",
}
_UNIT = {"temperature": "°C", "angle": "°", "indicator": "mm", "length": "mm"}
_ALARM = {
    Code.LOST: "Line lost",
    Code.SILENT: "Line silent",
    Code.UNIT: "Wrong unit",
    Code.MODE: "Wrong mode",
    Code.ZERO: "Zero was reset",
    Code.IMPLAUSIBLE: "Figure jumped",
}
"""Alarms that take the prompt's place: without them gone no figure can be taken."""
_PLURAL = {"tooth": "teeth"}


@dataclass(frozen=True, slots=True)
class View:
    """Everything that the screen shows."""

    head: tuple[str, str]
    first: str
    second: str
    how: str
    """More about it, in the place of the second figure where there is one figure only."""
    big: tuple[str, ...]
    labels: tuple[str, ...]
    state: str
    last: str
    strip: str
    notes: tuple[str, ...]
    keys: str = KEYS


def view(
    capture: Capture, state: State, said: str, *, asked: str = "", help_: bool = False
) -> View:
    """The view of a capture as it is now.

    ``said``: the last answer or alarm; ``asked``: a question that waits, and says so in the place
    of the keys; ``help_``: the other keys in the place of the notes.
    """
    inspection, step = capture.inspection, capture.step
    alarm = capture.alarm
    first, second = prompt(step, inspection)
    if alarm is not None and alarm.code in _ALARM and _needs_slides(step):
        kept = len(inspection.standing)
        first, second = _ALARM[alarm.code], f"{alarm.said}. Kept: {kept} readings"
        said = "" if said == alarm.said else said
    shown, labels = _figures(capture, step)
    told = sentence.told(inspection, capture.taken())
    word = _state(capture, step, state)
    notes = HELP if help_ else (asked or _unless(said, "Taken", told), *told)
    return View(
        (f"{inspection.tool.mark}  {inspection.tool.kind}", f"{inspection.id}  {capture.person}"),
        first,
        second,
        _how(step),
        shown,
        labels,
        word,
        _last(capture, WIDE - len(word) - 2),
        _strip(inspection),
        tuple(n for n in notes if n),
        "Answer with the keys above; Q: not now" if asked else KEYS,
    )


def _unless(said: str, plain: str, told: tuple[str, ...]) -> str:
    """Said, unless a verdict says more; the line of the last reading says it anyway."""
    return "" if said == plain and told else said


def _needs_slides(step: Step | None) -> bool:
    return step is not None and step.kind == "read" and not step.by_eye


# -- what to do now ----------------------------------------------------------


def prompt(step: Step | None, inspection: Inspection) -> tuple[str, str]:
    """What to do now, in a few large words, and how."""
    if step is None:
        return "All taken", "Hand it over: inspect-rec handover " + inspection.id
    if step.kind == "clamp":
        return f"Clamp {step.object}", "Wheel stopped? Then press the key."
    if step.kind == "unclamp":
        return "Unclamp", f"Wheel stopped? Take {step.object} out, mind the edges, press the key."
    return _first(step, inspection), _second(step, inspection)


def _first(step: Step, inspection: Inspection) -> str:
    """The most telling words that fit in large letters."""
    place, feature = step.place, step.feature
    assert place is not None  # noqa: S101 - a step that reads has both
    assert feature is not None  # noqa: S101
    if place.feature == TEMPERATURE:
        return f"{place.mark} temperature"
    edges, word = inspection.tool.edges, inspection.tool.edge_word
    head = f"Master {feature.master}" if feature.master else feature.name or feature.id
    short = head
    if place.flute:
        head, short = f"{word} {place.flute} of {edges}", f"{word} {place.flute}/{edges}"
    if place.when == CLOSURE:
        head = short = f"{word} 1 again"
    mark = f"point {place.mark}/{feature.points}" if feature.points else place.mark
    said = (f"{head} {mark}", f"{short} {mark}", head, mark)
    return next((s for s in said if _fits(s)), head)


def _fits(text: str) -> bool:
    return big.knows(text) and max(map(len, big.words(text)), default=0) <= WIDE


def _second(step: Step, inspection: Inspection) -> str:
    """The same in a sentence, and how it is done; safety first at the first mark of an edge."""
    place, feature = step.place, step.feature
    assert place is not None  # noqa: S101
    assert feature is not None  # noqa: S101
    said = [_where(step, inspection)]
    if place.feature != TEMPERATURE and place.repeat == 1 and place.mark == _opens(step):
        said.insert(0, "Wheel stopped?")
    if step.by_eye:
        return " ".join((*said, f"Read {feature.instrument}, type the figure, press the key."))
    approach = feature.approach or inspection.record.set_up.approach
    return " ".join(s for s in (*said, f"Come {approach}" if approach else "") if s)


def _how(step: Step | None) -> str:
    if step is None or step.feature is None or not step.by_eye:
        return ""
    return step.feature.how[:1].upper() + step.feature.how[1:]


def _opens(step: Step) -> str:
    """The mark that is taken first on an edge; of a closure the one that there is."""
    assert step.place is not None  # noqa: S101
    assert step.feature is not None  # noqa: S101
    if step.place.when == CLOSURE and step.feature.closure != "all":
        return step.feature.closure
    return step.feature.labels[0]


def _where(step: Step, inspection: Inspection) -> str:
    place, feature = step.place, step.feature
    assert place is not None  # noqa: S101
    assert feature is not None  # noqa: S101
    said = [feature.name or feature.id]
    if place.flute:
        said.append(f"{inspection.tool.edge_word} {place.flute} of {inspection.tool.edges}")
    if feature.points:
        said.append(f"point {place.mark} of {feature.points}")
    elif place.mark in ("greater", "smaller"):
        said.append(f"side where {inspection.record.set_up.radial} is {place.mark}")
    else:
        said.append(place.mark)
    if place.repeat > feature.repeats:
        said.append("once more, since the repeats differ")
    elif feature.repeats > 1:
        said.append(f"{place.repeat} of {feature.repeats}")
    if step.index_deg is not None:
        said.append(f"index {figures.short(step.index_deg.quantize(Decimal('0.1')))}°")
    if place.when.startswith(GROUND):
        said.append("after grinding")
    elif place.when == CLOSURE:
        said.append("once more: has anything moved?")
    elif place.when:
        said.append(place.when)
    text = ", ".join(said)
    return text[:1].upper() + text[1:] + ("" if text.endswith("?") else ".")


# -- figures and what was taken ----------------------------------------------


def _figures(capture: Capture, step: Step | None) -> tuple[tuple[str, ...], tuple[str, ...]]:
    if step is not None and step.by_eye and step.feature is not None:
        unit, offered = _UNIT[step.feature.channel.value], capture.offered
        if offered is not None:
            return (format(offered.value, "f"),), (unit,)
        return (capture.pending or "_",), (unit,)
    live = capture.figures
    if live is None:
        return ("--.---", "--.---"), ("X", "Z")
    shown = {r.channel: format(r.value, "f") for r in live.readings}
    return tuple(shown.values()), tuple(shown)


def _state(capture: Capture, step: Step | None, state: State) -> str:
    if step is None or step.kind != "read":
        return "" if step is None else "Key: done"
    if step.by_eye:
        if capture.offered is not None:
            return "Key once it stands still, or type"
        return "Key: that's right" if capture.pending else "Type the figure"
    if capture.alarm is not None:
        return _STATE[State.LOST]
    if capture.layout.on_key:
        return "Press the readout's key"
    return _STATE[state]


def _last(capture: Capture, room: int) -> str:
    """The last reading that is on disk, and since when by the clock on the wall."""
    reading = capture.taken()
    if reading is None:
        return ""
    tail = f" – on disk {reading.at.astimezone():%H:%M:%S}"
    return _cut(f"Last taken: {capture.named(reading)}", room - len(tail)) + tail


# -- verdicts and stock ------------------------------------------------------


def _strip(inspection: Inspection) -> str:
    """A slot an edge with what is known of it, then what is still open."""
    word, edges = inspection.tool.edge_word, inspection.tool.edges
    slots = [_slot(inspection, n) for n in range(1, edges + 1)]
    left = f"{len(inspection.open)} to go"
    if edges > 6:
        count = Counter(slots)
        slots = [f"{edges} {_PLURAL.get(word, word + 's')}: "]
        slots[0] += ", ".join(f"{n} {said}" for said, n in count.items())
    else:
        slots = [f"{n} {said}" for n, said in enumerate(slots, 1)]
    said = ("   ".join([*slots, left]), "  ".join([*slots, left]), " ".join([*slots, left]))
    return next((s for s in said if len(s) <= WIDE), said[-1])


def _slot(inspection: Inspection, flute: int) -> str:
    of = [r for r in inspection.results if r.flute == flute and not r.characteristic.info]
    worst = next((r for v in sentence.WORST for r in of if r.verdict is v), None)
    if worst is None:
        return "open"
    return {
        Verdict.CONFORMS: "conforms",
        Verdict.DOES_NOT_CONFORM: worst.judgement.side or "does not",
        Verdict.NEITHER_SHOWN: "neither",
        Verdict.REFUSED: "refused",
    }[worst.verdict]


# -- lines -------------------------------------------------------------------


def draw(v: View, wide: int = WIDE, high: int = HIGH) -> list[str]:
    """Exactly ``high`` lines of at most ``wide`` columns; places don't move, figures give way
    last. What doesn't fit ends in a sign that more follows, and nothing wraps."""
    lines = [_spread(*v.head, wide), "─" * wide, *_large(v.first, wide)]
    lines += _block(_wrapped(v.second, wide, 2), 2)
    figures_ = [_figure(*each, wide) for each in zip(v.labels, v.big, strict=True)]
    below = figures_[1] if len(figures_) > 1 else _wrapped(v.how, wide, 5)
    lines += [*figures_[0], "", *_block(below, 5)]
    lines += [_spread(v.state, v.last, wide), _cut(v.strip, wide)]
    room = max(high - len(lines) - 1, 0)
    lines += _block(_notes(v.notes, wide, room), room)
    return [*lines[: high - 1], _cut(v.keys, wide)]


def _block(lines: list[str], high: int) -> list[str]:
    return [*lines, *[""] * (high - len(lines))]


def _large(text: str, wide: int) -> list[str]:
    if big.knows(text):
        lines = big.words(text)
        if max(map(len, lines), default=0) <= wide:
            return lines
    return ["", _cut(text.upper(), wide), ""]


def _figure(label: str, shown: str, wide: int) -> list[str]:
    rows = big.figure(shown) if big.knows(shown) else [""] * 5
    lines = [f"{label if n == 2 else '':>3}   {row}".rstrip() for n, row in enumerate(rows)]
    if not big.knows(shown) or max(map(len, lines)) > wide:
        return ["", "", _cut(f"{label:>3}   {shown}", wide), "", ""]
    return lines


def _notes(notes: Iterable[str], wide: int, room: int) -> list[str]:
    lines = [line for note in notes for line in _wrapped(note, wide, room)]
    if len(lines) > room > 0:
        lines = [*lines[: room - 1], _more(lines[room - 1], wide)]
    return lines[:room]


def _wrapped(text: str, wide: int, most: int) -> list[str]:
    lines = textwrap.wrap(text, wide)
    if len(lines) > most > 0:
        lines = [*lines[: most - 1], _more(lines[most - 1], wide)]
    return lines[:most]


def _more(line: str, wide: int) -> str:
    return line[: wide - 1].rstrip() + "…"


def _cut(text: str, wide: int) -> str:
    return text if len(text) <= wide else _more(text, wide)


def _spread(left: str, right: str, wide: int) -> str:
    left = _cut(left, wide - len(right) - 1) if len(right) < wide - 1 else ""
    return f"{left}{' ' * (wide - len(left) - len(right))}{_cut(right, wide)}".rstrip()
