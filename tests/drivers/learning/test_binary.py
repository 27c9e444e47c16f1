"""Binary figures: what tells their size, their scale and decimal digits from other readings."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest

from drivers.learning.evidence import Undecided
from drivers.learning.learn import learn
from drivers.learning.proposal import Proposal
from drivers.learning.recording import moves, read


def way(start: int, *ends: int) -> list[int]:
    """Steps that stand at the start, go to each end in nine steps, and stand there."""
    found = [start] * 20
    for end in ends:
        found += [start + (end - start) * n // 9 for n in range(1, 9)] + [end] * 20
        start = end
    return found


def two(value: int) -> bytes:
    return value.to_bytes(2, "little", signed=True)


def four(value: int) -> bytes:
    return value.to_bytes(4, "little", signed=True)


def digits(value: int) -> bytes:
    return bytes([value < 0]) + bytes.fromhex(f"{abs(value):08d}")


def frames(xs: Sequence[int], zs: Sequence[int], as_: Callable[[int], bytes]) -> bytes:
    bodies = [b"\xa5\x5a" + as_(x) + as_(z) for x, z in zip(xs, zs, strict=True)]
    return b"".join(body + bytes([sum(body) % 256]) for body in bodies)


def found(data: bytes, *moved: str) -> Proposal:
    return learn(read(data, "recording"), moves(moved))


def refused(data: bytes, *moved: str) -> Undecided:
    with pytest.raises(Undecided) as caught:
        found(data, *moved)
    return caught.value


FIVES = frames(way(-900, 1100, 1100), way(-1600, -1600, 1200), two)


def test_a_way_stated_exactly_tells_steps_of_five_micrometres_from_inches() -> None:
    fields = found(FIVES, "X=+10.000mm", "Z=+14.000mm").layout.fields
    assert [str(f.scale) for f in fields if f.name in ("x", "z")] == ["0.005", "0.005"]


@pytest.mark.parametrize("moved", [("X=+10mm", "Z=+14mm"), ("X=+10.05mm", "Z=+14.05mm")])
def test_a_way_stated_roughly_or_off_both_leaves_the_steps_open(moved: tuple[str, str]) -> None:
    assert "exactly and stated to a hundredth" in refused(FIVES, *moved).decides


def test_the_move_through_nought_that_is_asked_for_is_of_the_axis_in_doubt() -> None:
    data = frames(way(-4799, 5201, 5201), way(38552, 38552, 45552), four)
    assert refused(data, "X=+10.000mm", "Z=+7.000mm").decides.startswith("move Z through nought")


def test_bytes_that_only_ever_hold_decimal_digits_are_decimal() -> None:
    data = frames(way(-4807, 5207, 5207), way(-9013, -9013, 15036), digits)
    fields = found(data, "X=+10.014mm", "Z=+24.049mm").layout.fields
    assert {f.as_ for f in fields if f.name in ("x", "z")} == {"bcd"}
