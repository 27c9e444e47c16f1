"""Scripts: one command a line, in time, with every mistake at its line."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.errors import InputError, InspectRecError
from inspect_rec.simulate import script
from inspect_rec.simulate.display import Display
from inspect_rec.simulate.script import Command, Player, Step, command, parse
from tests.simulate.layouts import described

LAYOUTS = described()
TWO = LAYOUTS["two-axis line"]
D = Decimal


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("x +0.010", Command("turn", channel="X", figure=D("0.010"))),
        ("X  -1 over 2", Command("turn", channel="X", figure=D(-1), over_s=2.0)),
        ("z 142.318", Command("go", channel="Z", figure=D("142.318"))),
        ("z to -5", Command("go", channel="Z", figure=D(-5))),
        ("z to +5 over 0.5", Command("go", channel="Z", figure=D(5), over_s=0.5)),
        ("key", Command("plain", "key")),
        ("zero x", Command("zero", channel="X")),
        ("set z -12.5", Command("set", channel="Z", figure=D("-12.5"))),
        ("unit in", Command("switch", "in")),
        ("mode diameter", Command("switch", "diameter")),
        ("half", Command("fault", "half frame")),
        ('fault "zero x"', Command("fault", "zero X")),
        ("fault blank z for 2.5", Command("fault", "blank Z", over_s=2.5)),
        ('fault "silence" for 3', Command("fault", "silence", over_s=3.0)),
        ("backlash x 0.010", Command("hand", "backlash", "X", D("0.010"))),
        ("rate 20", Command("rate", figure=D(20))),
        ("plug in", Command("plain", "plug in")),
    ],
)
def test_a_command_says_what_it_does(text: str, expected: Command) -> None:
    assert command(text, TWO) == expected


@pytest.mark.parametrize(
    "text", ["", "x", "x fast", "x 1 2", "y 5", "zero", "unit cm", "rate -1", "jump", "x 1 over"]
)
def test_what_is_no_command_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="expected"):
        command(text, TWO)


@given(st.text(max_size=30))
def test_any_text_is_a_command_or_refused(text: str) -> None:
    try:
        found = command(text, TWO)
    except InspectRecError as error:
        found = None
        expected = error.expected
    assert found is not None or expected


def test_every_command_that_is_listed_is_one() -> None:
    for how, what in script.KNOWN:
        assert len(how) <= 24
        assert len(f"  {how:24} {what}") <= 79
        for one in how.split("   "):
            before = "x 1" if "over" in one else "fault silence"
            whole = one.replace("...", before).replace("NAME", "silence")
            assert command(whole, TWO).kind


def test_a_script_is_one_command_a_line_with_its_instant() -> None:
    text = """
    # on to the pin
    at 2.5 x 31.447 over 1.0

    key        # taken
    wait 0.5
    fault "zero x"
    """
    assert parse(text, "pin.txt", TWO) == (
        Step(Command("go", channel="X", figure=D("31.447"), over_s=1.0), 2.5),
        Step(Command("plain", "key")),
        Step(Command("wait", over_s=0.5)),
        Step(Command("fault", "zero X")),
    )


def test_every_mistake_is_named_with_its_line() -> None:
    text = "x 1\njump\nat 5 key\nat 4 key\nfault counter gap\ny 3\n"
    with pytest.raises(InputError) as caught:
        parse(text, "s.txt", TWO)
    assert [m.where for m in caught.value.mistakes] == [f"s.txt:{n}" for n in (2, 4, 5, 6)]
    said = str(caught.value)
    assert "not before that of a line above, 5" in said
    assert "counter" in said


def instants(text: str, seconds: float = 20.0) -> list[float]:
    """When the keys of a script are pressed."""
    player = Player(Display(TWO, rate=1), parse(text, "s", TWO))
    sent = [*player.advance(0.0), *player.advance(seconds)]
    found = [at for at, data in sent if data.endswith(b" *\r\n")]
    assert player.said == []
    return found


def test_a_step_comes_when_the_hand_has_let_go_or_at_its_instant() -> None:
    assert instants("key\nx 5 over 1.5\nkey\nwait 0.25\nkey\nat 7.5 key\nkey") == [
        0.0,
        1.5,
        1.75,
        7.5,
        7.5,
    ]
    assert instants("speed x 2\nx 5\nkey") == [2.5]


def test_both_slides_can_go_at_once_and_the_next_step_waits_for_the_later() -> None:
    assert instants("at 1 x 5 over 1\nat 1 z 9 over 3\nkey") == [4.0]


def test_in_whatever_steps_time_goes_by_the_same_is_sent() -> None:
    text = "noise x 0.002\nx 31.447 over 1.0\nkey\nat 3 fault silence for 1\nat 5 z -3\nkey"
    whole = Player(Display(TWO, seed=3), parse(text, "s", TWO))
    whole.advance(0.0)
    pieces = Player(Display(TWO, seed=3), parse(text, "s", TWO))
    found = pieces.advance(0.0)
    for n in range(1, 801):
        found += pieces.advance(n / 100)
    assert [at for at, _ in found][1:]
    assert found[-60:] == whole.advance(8.0)[-60:]


def test_quit_ends_a_script_and_what_comes_behind_it() -> None:
    player = Player(Display(TWO), parse("at 1 quit\nat 2 key", "s", TWO))
    player.advance(0.0)
    found = player.advance(5.0)
    assert player.over
    assert max(at for at, _ in found) <= 1.0


def test_what_a_readout_can_not_do_is_said_and_the_script_goes_on() -> None:
    layout = LAYOUTS["sum within the line"]
    player = Player(Display(layout), parse("key\nspeed x 0\nx 3\nz 1 over 1", "s", layout))
    player.advance(0.0)
    player.advance(5.0)
    assert len(player.said) == 2
    assert "no print key" in player.said[0]
    assert "speed above 0" in player.said[1]
    assert player.left == 0
    assert player.display.shown(5.0)["Z"] == 1


def test_it_is_known_when_something_is_due() -> None:
    player = Player(Display(LAYOUTS["instruments"]), parse("at 3 key", "s", LAYOUTS["instruments"]))
    assert player.next_s(1.0) == 3.0
    player.advance(4.0)
    assert player.next_s(4.0) is None
    assert Player(Display(TWO)).next_s(2.0) == 2.0
