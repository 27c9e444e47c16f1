"""A learned layout, held against a recording of the same readout that it wasn't learned from."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

from drivers.decoder import Alarm, Code, Decoder
from drivers.layout import Layout
from drivers.learning.proposal import Proposal
from tests.drivers.learning.recordings import Readout, Recorded

_START = datetime(2026, 11, 17, tzinfo=UTC)


def decoded(layout: Layout, recorded: Recorded) -> tuple[list[dict[str, Decimal]], list[Alarm]]:
    """Figures in their order, and alarms."""
    decoder, items = Decoder(layout, "RO-1"), []
    for at, data in recorded.pieces:
        items += decoder.feed(data, _START + timedelta(seconds=at))
    items += decoder.close(_START + timedelta(seconds=recorded.pieces[-1][0] + 5))
    sightings = [item for item in items if not isinstance(item, Alarm)]
    figures = [{r.channel: r.value for r in sighting.readings} for sighting in sightings]
    return figures, [item for item in items if isinstance(item, Alarm)]


def lost(
    figures: list[dict[str, Decimal]], truth: list[dict[str, Decimal]]
) -> list[tuple[int, dict[str, Decimal]]]:
    """What was sent and not decoded, with its number; fails where another figure was decoded."""
    left, found = iter(enumerate(truth)), []
    for shown in figures:
        for n, sent in left:
            if sent == shown:
                break
            found.append((n, sent))
        else:
            raise AssertionError(f"{shown} was never sent")
    return [*found, *left]


def holds(found: Proposal, readout: Readout, other: Recorded) -> None:
    """Another recording comes out as its slides stood: every frame, and never another figure.

    The first line may be held to be half of one; where no negative figure was seen when it was
    learned, the first negative ones may be alarms, and never figures.
    """
    layout, proved = found.layout, {s.setting: s.proved for s in found.settings}
    assert layout.figures.unit.value == readout.unit
    if "X" in readout.axes:
        assert layout.figures.mode == readout.mode
    figures, alarms = decoded(layout, other)
    missing = [each for each in lost(figures, [shown for _, shown in other.frames]) if each[0]]
    if not all(proved.get(name, True) for name in ("minus", "field X", "field Z")):
        missing = [(n, sent) for n, sent in missing if min(sent.values()) >= 0]
    jumps = [a for a in alarms if a.code in (Code.IMPLAUSIBLE, Code.ZERO, Code.SWAPPED)]
    assert len(missing) <= len(jumps) <= 3, (missing[:3], alarms[:3])
