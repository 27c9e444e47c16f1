"""Where a sign may stand, and what noise, blanks and noughts beside figures don't show."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from drivers.decoder import Alarm, Decoder
from drivers.learning.evidence import Undecided
from drivers.learning.learn import learn
from drivers.learning.proposal import Proposal
from drivers.learning.recording import moves, read

WAY = [31.447] * 10 + [31.447 + n + 0.0013 * (n % 3) for n in range(1, 10)] + [41.447] * 10
Z = 142.318


def found(lines: list[str], *moved: str) -> Proposal:
    data = "".join(lines).encode("latin-1")
    return learn(read(data, "recording"), moves(moved or ["X=+10mm"]))


def decoded(proposal: Proposal, line: str) -> dict[str, str] | None:
    """What a line shows that comes twice; None where it is refused."""
    decoder, at = Decoder(proposal.layout, "RO-1"), datetime(2026, 11, 17, tzinfo=UTC)
    items = [*decoder.feed(2 * line.encode("latin-1"), at), *decoder.close(at)]
    if any(isinstance(item, Alarm) for item in items):
        return None
    readings = [r for item in items if not isinstance(item, Alarm) for r in item.readings]
    return {r.channel: str(r.value) for r in readings}


def test_a_nought_that_noise_put_before_one_figure_fills_up_no_other() -> None:
    lines = [f"A {x:9.3f} B {Z:9.3f}\r\n" for x in WAY]
    lines[4] = lines[4].replace("31.447", "01.447")
    made = found(lines)
    assert decoded(made, f"A {1.5:9.3f} B {Z:9.3f}\r\n") == {"X": "1.500", "Z": "142.318"}


def ahead(form: str, x: float, z: float) -> str:
    signs = ["-" if value < 0 else "+" for value in (x, z)]
    return form.format(*signs, abs(x), abs(z))


@pytest.mark.parametrize(
    "form",
    [
        "{0}X{2:09.3f}{1}Z{3:09.3f}\r\n",
        "{0} A={2:.3f}, {1} B={3:.3f}\r\n",
        "{0}X{2:.3f}\r\n{1}Z{3:.3f}\r\n",
    ],
)
def test_a_sign_before_the_word_of_its_axis_is_the_figures(form: str) -> None:
    made = found([ahead(form, x - 36, -Z) for x in WAY])
    assert decoded(made, ahead(form, -1.5, 2.25)) == {"X": "-1.500", "Z": "2.250"}


@pytest.mark.parametrize("form", ["-X{:09.3f}\r\n", "+X{:.3f} 4\r\n", "7 - X={:.3f}\r\n"])
def test_a_sign_before_a_word_that_never_changed_may_be_a_mark(form: str) -> None:
    with pytest.raises(Undecided, match="may be its own or a mark"):
        found([form.format(x) for x in WAY])


def test_a_blank_behind_every_figure_is_the_place_of_a_minus_that_nobody_saw() -> None:
    made = found([f"{x:9.3f}  {Z:9.3f} \r\n" for x in WAY])
    for line in ("   31.447-    42.318 \r\n", "  -31.447    42.318 \r\n"):
        shown = decoded(made, line)
        assert shown is not None
        assert shown["X"] == "-31.447"
    assert decoded(made, "   31.447-42.318 \r\n") is None


@pytest.mark.parametrize("z", [25.4, -25.4])
def test_a_sign_in_the_one_blank_between_two_figures_may_be_of_either(z: float) -> None:
    def after(value: float) -> str:
        return f"{abs(round(1000 * value))}{'-' if value < 0 else ' '}"

    for ways in (WAY, [x - 36 for x in WAY], [x - 99 for x in WAY]):
        lines = [f"\x02{after(x)}{after(z)}\x03" for x in ways]
        if z > 0:
            with pytest.raises(Undecided, match="may be its own or a mark"):
                found(lines)
        else:
            assert decoded(found(lines), f"\x02{after(-1.5)}{after(25.4)}\x03") == {
                "X": "-1.500",
                "Z": "25.400",
            }


@pytest.mark.parametrize("z", [-25.4, 25.4])
def test_a_minus_may_take_the_place_of_a_nought(z: float) -> None:
    made = found([f"{x - 36:09.3f} {z:09.3f}\r" for x in WAY])
    assert decoded(made, "00001.500 -0002.250\r") == {"X": "1.500", "Z": "-2.250"}
    assert decoded(made, "-0001.500 00002.250\r") == {"X": "-1.500", "Z": "2.250"}
    assert decoded(made, "0001.500 -0002.250\r") is None


def test_noughts_before_an_implied_point_fill_up_no_longer_figure() -> None:
    def after(value: float) -> str:
        return f"{abs(round(1000 * value)):04d}{'-' if value < 0 else ' '}"

    def both(x: float, z: float) -> str:
        return f"\x02{after(x)}{after(z)}\x03"

    made = found([both(x - 36, 3 * x - 110) for x in WAY], "X=+10mm", "Z=+30mm")
    assert decoded(made, both(123.456, 0.012)) == {"X": "123.456", "Z": "0.012"}
