"""The screen at the machine, 80 by 24: what to do now, large; live figures, larger; verdict and
stock as soon as they are known. Pure: a view in, lines out."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from drivers.settled import State
from inspect_rec.capture import Capture
from inspect_rec.cli import big, summary
from inspect_rec.compute.conformity import Verdict
from inspect_rec.inspection import Inspection, Step
from inspect_rec.inspection.kept import CLOSURE, GROUND, TEMPERATURE
from inspect_rec.report import figures

WIDE, HIGH = 80, 24
_STATE = {
    State.LIVE: "Moving",
    State.STILL: "Still: take",
    State.STALE: "Waiting",
    State.LOST: "No figure",
}
_UNIT = {"temperature": "°C", "angle": "°", "indicator": "mm", "length": "mm"}
HELP = (
    "Space takes  Backspace strikes out the last  G ground again  D wheel dressed",
    "Z datum set anew  digits are typed where a figure is read by eye  Q leaves",
)


@dataclass(frozen=True, slots=True)
class View:
    """Everything that the screen shows."""

    head: tuple[str, str]
    first: str
    second: str
    big: tuple[str, ...]
    labels: tuple[str, ...]
    state: str
    last: str
    strip: str
    notes: tuple[str, ...]
    keys: str


def prompt(step: Step | None, inspection: Inspection) -> tuple[str, str]:
    """What to do now, in a few large words, and how."""
    if step is None:
        return "All taken", "Hand it over: inspect-rec handover " + inspection.id
    if step.kind == "clamp":
        return f"Clamp {step.object}", "Then press the key. Wheel stopped?"
    if step.kind == "unclamp":
        return "Unclamp", f"Take {step.object} out, then press the key. Mind the edges."
    place, feature = step.place, step.feature
    assert place is not None  # noqa: S101 - a step that reads has both
    assert feature is not None  # noqa: S101
    return _first(step, inspection), _second(step, inspection)


def _first(step: Step, inspection: Inspection) -> str:
    place, feature = step.place, step.feature
    assert place is not None  # noqa: S101
    assert feature is not None  # noqa: S101
    word = inspection.tool.edge_word
    if place.feature == TEMPERATURE:
        return f"{place.mark} temp."
    if place.flute:
        of = f"{word} {place.flute} of {inspection.tool.edges}"
        return f"{word} 1 again" if place.when == CLOSURE else of
    if feature.master:
        return f"Master {feature.master}"
    return feature.name or feature.id


def _second(step: Step, inspection: Inspection) -> str:
    place, feature = step.place, step.feature
    assert place is not None  # noqa: S101
    assert feature is not None  # noqa: S101
    parts = []
    if place.when.startswith(GROUND):
        parts.append("after grinding")
    elif place.when in ("before", "after") and not feature.master:
        parts.append(place.when)
    parts.append(_mark(step))
    if feature.repeats > 1:
        parts.append(f"{place.repeat} of {feature.repeats}")
    if step.index_deg is not None:
        parts.append(f"index {figures.short(step.index_deg.quantize(Decimal('0.1')))}°")
    said = ", ".join(p for p in parts if p)
    if step.by_eye:
        how = feature.how or "type the figure, press the key"
        return f"{said}. Read {feature.instrument}: {how}"
    approach = feature.approach or inspection.record.set_up.approach
    return f"{said}. Come {approach}" if approach else said


def _mark(step: Step) -> str:
    place, feature = step.place, step.feature
    assert place is not None  # noqa: S101
    assert feature is not None  # noqa: S101
    if feature.points:
        return f"{feature.name or feature.id}, point {place.mark} of {feature.points}"
    if place.mark in ("greater", "smaller"):
        return f"{feature.name or feature.id}, side where the slide shows {place.mark}"
    return f"{feature.name or feature.id}, {place.mark}"


def view(capture: Capture, state: State, said: str) -> View:
    """The view of a capture as it is now. ``said``: the last answer or alarm."""
    inspection, step = capture.inspection, capture.step
    first, second = prompt(step, inspection)
    shown, labels = _figures(capture, step)
    kept = sorted(inspection.standing.values(), key=lambda k: k.ref)
    last = ""
    if kept:
        place = kept[-1].place
        flute = f"{inspection.tool.edge_word} {place.flute}, " if place.flute else ""
        at = f"{kept[-1].at:%H:%M:%S}"
        last = f"Last taken: {place.feature}, {flute}{place.mark} – on disk {at}"
    return View(
        (f"{inspection.tool.mark}  {inspection.tool.kind}", f"{inspection.id}  {capture.person}"),
        first,
        second,
        shown,
        labels,
        _state(capture, step, state),
        last,
        _strip(inspection),
        (said, *_stock(inspection))[:3],
        HELP[0],
    )


def _figures(capture: Capture, step: Step | None) -> tuple[tuple[str, ...], tuple[str, ...]]:
    if step is not None and step.by_eye and step.feature is not None:
        unit = _UNIT[step.feature.channel.value]
        return (capture.pending or "_",), (unit,)
    live = capture.figures
    if live is None:
        return ("--.---", "--.---"), ("X", "Z")
    shown = {r.channel: f"{r.value:.3f}" for r in live.readings}
    return tuple(shown.values()), tuple(shown)


def _state(capture: Capture, step: Step | None, state: State) -> str:
    if step is None:
        return ""
    if step.kind != "read":
        return "Key: done"
    if step.by_eye:
        return "Key: that's right" if capture.pending else "Type the figure"
    if capture.layout.on_key:
        return "Press the readout's key"
    return _STATE[state]


def _strip(inspection: Inspection) -> str:
    """A slot an edge: its verdict, or a dash; then what is still open."""
    slots = []
    for n in range(1, inspection.tool.edges + 1):
        verdicts = [r.verdict for r in inspection.results if r.flute == n]
        worst = next((v for v in _ORDER if v in verdicts), None)
        slots.append(f"{n} {_SHORT[worst]}")
    if inspection.tool.edges > 6:
        done = sum(1 for s in slots if not s.endswith("–"))
        slots = [f"{done} of {inspection.tool.edges} {inspection.tool.edge_word}s"]
    return "   ".join([*slots, f"{len(inspection.open)} readings to go"])


_ORDER = (Verdict.DOES_NOT_CONFORM, Verdict.REFUSED, Verdict.NEITHER_SHOWN, Verdict.CONFORMS)
_SHORT = {
    Verdict.CONFORMS: "conforms",
    Verdict.DOES_NOT_CONFORM: "does not",
    Verdict.NEITHER_SHOWN: "neither",
    Verdict.REFUSED: "refused",
    None: "–",
}


def _stock(inspection: Inspection) -> list[str]:
    """What is left to grind; what doesn't conform first."""
    found = [
        r for r in inspection.results if r.stock is not None and r.stock.state != "none needed"
    ]
    # A variation says what its flutes say, with the tighter limits: it speaks for them.
    spoken = {r.stock.flute for r in found if r.method.varies and r.stock is not None}
    told = [r for r in found if r.method.varies or r.flute not in spoken]
    lines: list[str] = []
    for r in told:
        if r.stock is not None:
            head = f"{r.characteristic.id} {r.verdict.value}"
            said = [s.strip() for s in summary.stock_words(r.stock, inspection.tool.edge_word)]
            lines.append(f"{head}: {', '.join(said)}")
    return lines


def draw(v: View, wide: int = WIDE, high: int = HIGH) -> list[str]:
    """Exactly ``high`` lines of at most ``wide`` columns; the figures give way last."""
    lines = [_spread(v.head[0], v.head[1], wide), "─" * wide]
    large = big.words(v.first)
    fits = max(map(len, large), default=0) <= wide
    lines += large if fits else ["", v.first.upper(), ""]
    lines += [*_wrapped(v.second, wide)[:2]]
    lines += [""] if len(lines) < 7 else []
    for label, shown in zip(v.labels, v.big, strict=False):
        rows = big.figure(shown)
        lines += [f"{label if n == 2 else '':>3}   {row}" for n, row in enumerate(rows)]
        lines.append("")
    bottom = [_spread(v.state, v.last, wide), v.strip]
    notes = [line for note in v.notes if note for line in _wrapped(note, wide)[:2]]
    room = high - len(bottom) - 1
    free = room - len(lines)
    bottom += notes[: max(free, 0)]
    lines = lines[:room]
    lines += [""] * (high - len(lines) - len(bottom) - 1) + bottom + [v.keys]
    return [line[:wide] for line in lines]


def _spread(left: str, right: str, wide: int) -> str:
    gap = wide - len(left) - len(right)
    return f"{left}{' ' * gap}{right}" if gap > 0 else f"{left} {right}"


def _wrapped(text: str, wide: int) -> list[str]:
    import textwrap

    return textwrap.wrap(text, wide) or [""]
