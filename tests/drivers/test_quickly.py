"""What is put together by its slots is what its own way makes of it."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

from drivers.quickly import reading, sighting
from inspect_rec.reading import Reading, Sighting
from inspect_rec.units import Unit

AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)


def test_a_reading_put_together_by_its_slots_is_the_same_record() -> None:
    made = reading("X", Decimal("31.447"), Unit.MM, AT, "RO-1", b"X31.447")
    own = Reading("X", Decimal("31.447"), Unit.MM, AT, "RO-1", b"X31.447")
    assert (made, repr(made), hash(made)) == (own, repr(own), hash(own))
    pair = sighting(AT, (made,), b"X31.447", True, 17, "radius", "zero was reset")
    its_own = Sighting(AT, (own,), b"X31.447", True, 17, "radius", "zero was reset")
    assert (pair, repr(pair), hash(pair)) == (its_own, repr(its_own), hash(its_own))
