"""Whether figures can be true: what is an alarm, what isn't, and what follows."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.layout import packaged, parse
from drivers.plausible import Plausible
from drivers.shown import Code, Wrong
from tests.drivers.cases import after

LAYOUT = packaged()["two-axis line"]
INCH = parse(
    "id = \"i\"\n[frame]\npattern = '(?P<x>\\d{1,2}\\.\\d{4}) (?P<z>\\d{1,2}\\.\\d{4})'\n"
    '[figures]\nunit = "in"\ndecimals = 4\n',
    "i.toml",
)
Shown = tuple[str, str]


def doubts(
    shown: Sequence[Shown], ms: float = 100, *, timed: bool = True, inch: bool = False
) -> list[Code | str | None]:
    """What is said of each pair of figures: an alarm, or "suspect", or nothing."""
    plausible = Plausible(INCH if inch else LAYOUT, timed=timed)
    found: list[Code | str | None] = []
    for n, (x, z) in enumerate(shown):
        wrong = plausible.doubt((("X", Decimal(x)), ("Z", Decimal(z))), after(n * ms))
        found.append(wrong.code if wrong else "suspect" if plausible.suspect else None)
    return found


REST: Shown = ("31.447", "142.318")


@pytest.mark.parametrize(
    ("then", "said"),
    [
        (("0.000", "142.318"), Code.ZERO),
        (("-0.010", "142.318"), Code.ZERO),
        (("0.011", "142.318"), None),
        (("31.447", "0.003"), Code.ZERO),
        (("0.000", "0.000"), Code.ZERO),
        (("0.000", "142.320"), Code.ZERO),
        (("62.894", "142.318"), Code.MODE),
        (("15.7235", "142.318"), Code.MODE),
        (("31.447", "71.159"), Code.MODE),
        (("1.238", "5.603"), Code.UNIT),
        (("12.381", "56.031"), Code.UNIT),
        (("142.318", "31.447"), Code.SWAPPED),
        (("142.300", "31.400"), Code.SWAPPED),
        (("33.000", "142.318"), None),
        (("931.447", "142.318"), Code.IMPLAUSIBLE),
        (("31.447", "-2000.001"), Code.IMPLAUSIBLE),
    ],
)
def test_what_a_slide_at_rest_shows_next(then: Shown, said: Code | None) -> None:
    ms = 100 if said is not Code.SWAPPED else 250
    assert doubts([REST] * 3 + [then], ms)[3] == said


def test_a_slide_that_goes_from_one_round_figure_to_its_double_was_moved() -> None:
    assert doubts([("10.000", "0.000")] * 3 + [("20.000", "0.000")]) == [None] * 4
    assert doubts([("20.000", "0.000")] * 3 + [("10.000", "0.000")]) == [None] * 4
    assert doubts([("10.001", "0.000")] * 3 + [("20.002", "0.000")])[3] is Code.MODE


def test_a_display_in_inch_that_becomes_mm_is_found_too() -> None:
    shown = [("1.2381", "5.6031")] * 3
    assert doubts([*shown, ("31.4470", "142.3180")], 500, inch=True)[3] is Code.UNIT
    assert doubts([*shown, ("0.0000", "5.6031")], inch=True)[3] is Code.ZERO
    assert doubts([*shown, ("3.0000", "5.6031")], inch=True)[3] is None
    assert doubts([*shown, ("3.3000", "5.6031")], inch=True)[3] is Code.IMPLAUSIBLE


def test_a_slide_that_flickers_is_at_rest() -> None:
    flicker = [("31.447", "142.318"), ("31.448", "142.317")] * 3
    assert doubts([*flicker, ("0.001", "142.318")])[6] is Code.ZERO


def test_a_slide_on_its_way_to_nought_is_no_reset_and_one_that_is_set_on_its_way_is() -> None:
    way = [(f"{40 - 5 * n}.000", "142.318") for n in range(8)]
    assert doubts([*way, ("0.000", "142.318")]) == [None] * 9
    slow = [(f"{40 - n / 10:.3f}", "142.318") for n in range(5)]
    assert doubts([*slow, ("0.000", "142.318")])[5] is Code.ZERO


def test_a_new_place_that_no_hand_reached_is_suspect_and_a_lone_outlier_is_not() -> None:
    out = ("931.447", "142.318")
    assert doubts([REST, out, REST, REST]) == [None, Code.IMPLAUSIBLE, None, None]
    assert doubts([REST, out, out, out]) == [None, Code.IMPLAUSIBLE, "suspect", "suspect"]
    zero = ("0.000", "142.318")
    assert doubts([REST, REST, zero, REST]) == [None, None, Code.ZERO, None]
    assert doubts([REST, REST, zero, zero]) == [None, None, Code.ZERO, "suspect"]
    wild = [("931.447", "142.318"), ("-500.000", "142.318"), ("1500.000", "142.318")]
    assert doubts([REST, *wild, REST])[1:] == [*[Code.IMPLAUSIBLE] * 3, None]


def test_a_second_reset_is_found_while_the_first_is_still_suspect() -> None:
    zero, moved = ("0.000", "142.318"), ("5.000", "142.318")
    shown = [REST, REST, zero, zero, moved, moved, zero, zero]
    said = doubts(shown, 250)
    assert said == [None, None, Code.ZERO, *["suspect"] * 3, Code.ZERO, "suspect"]


def test_what_is_kept_while_the_line_is_lost_is_where_the_slides_stood() -> None:
    plausible = Plausible(LAYOUT)
    pair = (("X", Decimal("31.447")), ("Z", Decimal("142.318")))
    assert plausible.doubt(pair, after(0)) is None
    plausible.lost()
    far = (("X", Decimal("-31.447")), ("Z", Decimal(900)))
    assert plausible.doubt(far, after(10)) is None
    plausible.lost()
    zero = (("X", Decimal("0.000")), ("Z", Decimal(900)))
    wrong = plausible.doubt(zero, after(20))
    assert isinstance(wrong, Wrong)
    assert wrong.code is Code.ZERO
    assert plausible.doubt(zero, after(30)) is None
    assert plausible.suspect == wrong.said


def test_angles_and_indicators_are_no_slides() -> None:
    plausible = Plausible(LAYOUT)
    for n, value in enumerate(("3.200", "3.200", "0.000", "180.000")):
        assert plausible.doubt((("indicator", Decimal(value)),), after(n)) is None


def test_without_instants_a_hand_has_half_a_second() -> None:
    assert doubts([REST, ("281.447", "142.318")], timed=False) == [None, None]
    assert doubts([REST, ("281.448", "142.318")], timed=False) == [None, Code.IMPLAUSIBLE]


@given(
    st.lists(st.tuples(st.integers(-400, 400), st.integers(-400, 400)), min_size=3, max_size=40),
    st.sampled_from([50, 100, 250, 500]),
)
@settings(deadline=None)
def test_a_hand_that_turns_handwheels_never_leads_to_an_alarm(
    turns: list[tuple[int, int]], ms: int
) -> None:
    """Speeds change by 0.4 mm from read to read, as a hand on a wheel of a few mm a turn."""
    x, z, vx, vz = 50_000, 150_000, 0, 0
    shown = []
    for ax, az in turns:
        vx, vz = vx + ax, vz + az
        x, z = x + vx, z + vz
        shown.append((f"{x / 1000:.3f}", f"{z / 1000:.3f}"))
    assert set(doubts(shown, ms)) <= {None}


@pytest.mark.parametrize(
    ("then", "said"), [("58.895", Code.MODE), ("1.160", Code.UNIT), ("58.905", None)]
)
def test_figures_in_wide_steps_are_held_to_those(then: str, said: Code | None) -> None:
    layout = parse(
        'id = "s"\n[frame]\nheader = "\\u00A5"\nlength = 4\n[check]\nkind = "sum"\n'
        '[[field]]\nname = "x"\nat = 1\nbytes = 2\nscale = "0.005"\n',
        "s.toml",
    )
    plausible = Plausible(layout)
    for n in range(3):
        assert plausible.doubt((("X", Decimal("29.445")),), after(100 * n)) is None
    wrong = plausible.doubt((("X", Decimal(then)),), after(300))
    assert (wrong.code if wrong else None) is said


@pytest.mark.parametrize(("mode", "said"), [("diameter", Code.SWAPPED), ("radius", None)])
def test_swapped_cables_show_a_diameter_of_the_other_slide(mode: str, said: Code | None) -> None:
    layout = parse(
        "id = \"d\"\n[frame]\npattern = '(?P<x>\\d{1,3}\\.\\d{3}) (?P<z>\\d{1,3}\\.\\d{3})'\n"
        f'[figures]\nmode = "{mode}"\n',
        "d.toml",
    )
    plausible = Plausible(layout)
    for n in range(3):
        plausible.doubt((("X", Decimal("62.894")), ("Z", Decimal("50.318"))), after(100 * n))
    then = (("X", Decimal("100.636")), ("Z", Decimal("31.447")))
    wrong = plausible.doubt(then, after(300))
    assert (wrong.code if wrong else None) is said
