"""Two axes of two lines as one sighting, only where they belong to one instant."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

from drivers.joined import Joined
from inspect_rec.reading import Reading, Sighting
from inspect_rec.units import Unit

AT = datetime(2026, 11, 27, 8, 0, tzinfo=UTC)


def one(channel: str, value: str, ms: int, *, key: bool = False) -> Sighting:
    at, raw = AT + timedelta(milliseconds=ms), f"{channel} {value}".encode()
    reading = Reading(channel, Decimal(value), Unit.MM, at, "RO-1", raw)
    return Sighting(at, (reading,), raw, key)


def figures(sighting: Sighting | None) -> dict[str, str] | None:
    return None if sighting is None else {r.channel: str(r.value) for r in sighting.readings}


def test_two_axes_within_the_window_are_one_sighting() -> None:
    joined = Joined(("X", "Z"), within_ms=200)
    assert joined.hear(one("X", "31.447", 0)) is None
    found = joined.hear(one("Z", "142.318", 200))
    assert figures(found) == {"X": "31.447", "Z": "142.318"}
    assert found is not None
    assert found.at == AT + timedelta(milliseconds=200)
    assert found.raw == b"X 31.447Z 142.318"


def test_figures_further_apart_in_time_are_none() -> None:
    joined = Joined(("X", "Z"), within_ms=200)
    joined.hear(one("X", "31.447", 0))
    assert joined.hear(one("Z", "142.318", 201)) is None
    assert figures(joined.hear(one("X", "31.448", 300))) == {"X": "31.448", "Z": "142.318"}


def test_a_figure_is_never_older_than_the_last_of_its_axis() -> None:
    joined = Joined(("X", "Z"), within_ms=200)
    joined.hear(one("X", "1.000", 0))
    joined.hear(one("X", "2.000", 50))
    assert figures(joined.hear(one("Z", "9.000", 60))) == {"X": "2.000", "Z": "9.000"}


def test_after_a_loss_nothing_from_before_is_used() -> None:
    joined = Joined(("X", "Z"))
    joined.hear(one("X", "1.000", 0))
    joined.lose()
    assert joined.hear(one("Z", "9.000", 10)) is None


def test_what_is_complete_alone_is_handed_on_as_it_is() -> None:
    both = Sighting(AT, one("X", "1", 0).readings + one("Z", "2", 0).readings, b"X 1 Z 2", key=True)
    assert Joined(("X", "Z")).hear(both) is both


def test_the_key_of_the_last_line_is_the_sightings_key() -> None:
    joined = Joined(("X", "Z"))
    joined.hear(one("X", "1.000", 0))
    found = joined.hear(one("Z", "9.000", 10, key=True))
    assert found is not None
    assert found.key
