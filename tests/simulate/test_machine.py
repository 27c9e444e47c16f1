"""The simulated machine errs as its file says, each error by itself, and the same seed the same."""

from __future__ import annotations

import math
import random
from statistics import fmean, pstdev

import pytest

from inspect_rec.errors import InputError
from inspect_rec.methods.base import Instrument, Slides
from inspect_rec.simulate.machine import (
    AXIS,
    BUDGETS,
    MASTER,
    NONE,
    ROUGH,
    TOOL,
    Errors,
    Machine,
    Spot,
    Spread,
    errors,
    influences,
    instrument,
    sets,
    what,
)
from tests import worked

SLIDES = Slides("X", "Z", 1, 1)
READOUT = Instrument("RO-1", half_step=0.5)
RIGHT = Spot("greater", 5.0, -20.0, normal=(1.0, 0.0))
LEFT = Spot("smaller", -5.0, -20.0, normal=(-1.0, 0.0))


def one(name: str, amount: float, distribution: str = "fixed", share: float = 1.0) -> Errors:
    return Errors("one", {name: Spread(amount, distribution, share)})


def width(machine: Machine, body: str = TOOL) -> float:
    right, left = (machine.sight(s, READOUT, SLIDES, body) for s in (RIGHT, LEFT))
    return (right["X"] - left["X"]) - 10


def draws(spread: Spread, n: int = 20_000) -> list[float]:
    of = random.Random(7)
    return [spread.drawn(of) for _ in range(n)]


def test_every_error_of_a_set_says_what_it_is_and_every_one_that_is_said_is_in_a_set() -> None:
    named = {name for each in sets() for name in errors(each).spreads}
    assert named == set(what())
    assert sets() == (BUDGETS, ROUGH)


def test_the_amounts_that_budgets_state_are_those_of_the_worked_shop() -> None:
    """The influences of a new shop file, and the instruments of errors.toml."""
    shop = worked.shop()
    stated = {n: (i.amount, str(i.distribution), i.unit) for n, i in shop.influence.items()}
    assert {n: (i.amount, i.distribution, i.unit) for n, i in influences().items()} == stated
    for each in shop.equipment:
        if each.id.startswith(("RO", "OP", "IN", "CA")):
            known = instrument(each.id)
            for field in ("half_step", "repeat", "expanded", "largest_error"):
                amount = getattr(each, field)
                assert getattr(known, field) == (None if amount is None else float(amount))


def test_a_machine_without_errors_shows_true_places_in_either_sense_of_its_slides() -> None:
    machine = Machine(NONE, "1")
    for slides in (SLIDES, Slides("Z", "X", -1, 1)):
        seen = [machine.sight(s, READOUT, slides, TOOL) for s in (RIGHT, Spot("0", 2.0, -19.0))]
        true = [machine.place(slides, s, z) for s, z in ((5.0, -20.0), (2.0, -19.0))]
        assert seen == true
        assert seen[0][slides.radial] - seen[1][slides.radial] == pytest.approx(3 * slides.outward)


def test_the_same_seed_gives_the_same_readings_and_another_gives_others() -> None:
    def read(seed: str) -> list[dict[str, float]]:
        machine = Machine(errors(ROUGH), seed)
        return [machine.sight(RIGHT, READOUT, SLIDES, TOOL) for _ in range(20)]

    assert read("a") == read("a")
    assert read("a") != read("b")


@pytest.mark.parametrize("name", [BUDGETS, ROUGH])
def test_an_error_that_is_switched_off_is_off(name: str) -> None:
    whole = errors(name)
    assert set(whole.without("light", "tilt").spreads) == set(whole.spreads) - {"light", "tilt"}
    assert set(whole.only("light").spreads) == {"light"}
    quiet = Machine(whole.without(*whole.spreads), "1")
    assert width(quiet) == pytest.approx(0, abs=1e-9)
    with pytest.raises(InputError, match="no such error"):
        whole.without("gravity")
    with pytest.raises(InputError, match="as the budgets assume"):
        errors("gentle")


@pytest.mark.parametrize(
    ("spread", "mean", "deviation"),
    [
        (Spread(2.0, "normal"), 0, 2),
        (Spread(3.0, "rectangular"), 0, 3 / math.sqrt(3)),
        (Spread(3.0, "rectangular one-sided"), 1.5, 3 / math.sqrt(12)),
        (Spread(2.0, "fixed"), 0, 2),
        (Spread(2.0, "skewed"), 0, 2),
        (Spread(2.0, "long tails"), 0, 2),
        (Spread(2.0, "fixed", 0.25), 0, 1),
    ],
)
def test_a_distribution_has_the_mean_and_the_deviation_that_the_file_says(
    spread: Spread, mean: float, deviation: float
) -> None:
    found = draws(spread)
    assert fmean(found) == pytest.approx(mean, abs=5 * deviation / math.sqrt(len(found)))
    # The square of a value with long tails scatters much itself.
    assert pstdev(found) == pytest.approx(deviation, rel=0.06)


def test_long_tails_are_longer_and_skewed_draws_are_skewed() -> None:
    def beyond(distribution: str) -> tuple[float, float]:
        found = draws(Spread(1.0, distribution))
        return tuple(sum(s * x > 3 for x in found) / len(found) for s in (1, -1))  # type: ignore[return-value]

    normal = sum(beyond("normal"))
    assert sum(beyond("long tails")) > 3 * normal
    assert beyond("skewed")[0] > 5 * normal
    assert beyond("skewed")[1] == 0


def test_light_adds_at_both_edges_of_a_width_and_cancels_between_tool_and_master() -> None:
    machine = Machine(one("light", 3.0), "1")
    assert abs(width(machine)) == pytest.approx(0.006)
    assert width(machine, MASTER) == pytest.approx(width(machine))
    middle = [machine.sight(s, READOUT, SLIDES, AXIS)["X"] for s in (RIGHT, LEFT)]
    assert sum(middle) / 2 == pytest.approx(machine.place(SLIDES, 0, 0)["X"])


def test_a_persons_bias_acts_on_the_tool_and_not_on_the_master() -> None:
    machine = Machine(one("personal bias", 2.0), "1")
    assert abs(width(machine)) == pytest.approx(0.004)
    assert width(machine, MASTER) == pytest.approx(0)


def test_an_approach_from_the_wrong_side_loses_the_backlash_and_from_the_right_side_does_not() -> (
    None
):
    machine = Machine(one("lost motion", 6.0, share=0), "1")
    wrong = Spot("greater", 5.0, -20.0, from_wrong_side=True)
    right, lost = (machine.sight(s, READOUT, SLIDES, TOOL)["X"] for s in (RIGHT, wrong))
    assert lost - right == pytest.approx(0.006)
    assert width(machine) == pytest.approx(0)


def test_a_tool_that_runs_out_shows_it_once_round() -> None:
    machine = Machine(one("eccentricity", 4.0), "1")
    out = [machine.run_out(a) for a in range(0, 360, 45)]
    assert fmean(out) == pytest.approx(0, abs=1e-12)
    assert math.sqrt(2 * fmean(x * x for x in out)) == pytest.approx(0.004)
    seen = [machine.sight(Spot("edge", 5.0, index=a), READOUT, SLIDES, TOOL)["X"] for a in (0, 180)]
    assert seen[0] - seen[1] == pytest.approx(2 * out[0])


def test_an_edge_out_of_its_plane_reads_short_and_never_long() -> None:
    for seed in range(50):
        machine = Machine(one("edge plane", 1.0, "rectangular"), str(seed))
        spot = Spot("edge", 5.0, plane="edge plane")
        short = machine.sight(spot, READOUT, SLIDES, TOOL)["X"] - machine.place(SLIDES, 5, 0)["X"]
        assert -0.00077 < short <= 0


def test_a_warm_tool_is_long_and_a_warm_scale_shows_it_short() -> None:
    """11.5 and 8 millionths a kelvin, 10 mm, 2 K."""
    tool = Machine(one("tool temperature", 2.0), "1")
    assert abs(width(tool)) == pytest.approx(10 * 11.5e-6 * 2, rel=1e-6)
    assert width(tool, MASTER) == pytest.approx(0, abs=1e-12)
    scale = Machine(one("scale temperature", 2.0), "1")
    assert abs(width(scale)) == pytest.approx(10 * 8e-6 * 2, rel=1e-6)


def test_a_scale_errs_by_length_by_wave_and_by_tilt_at_its_offset() -> None:
    assert abs(width(Machine(one("scale, linear", 0.1), "1"))) == pytest.approx(0.001)
    # 0.1 arc seconds a mm over 10 mm at 80 mm.
    arc = math.radians(0.1 * 10 / 3600) * 80
    assert abs(width(Machine(one("tilt", 0.1), "1"))) == pytest.approx(arc, rel=1e-6)
    # 10 mm are five whole waves.
    assert width(Machine(one("scale, periodic", 1.0), "1")) == pytest.approx(0, abs=1e-9)
    waved = Machine(one("scale, periodic", 1.0), "1")
    off = [
        waved.sight(Spot("", r), READOUT, SLIDES, TOOL)["X"] - waved.place(SLIDES, r, 0)["X"]
        for r in (0.0, 0.5, 1.0, 1.5)
    ]
    assert math.hypot(off[0], off[1]) == pytest.approx(0.001)
    assert off[0] == pytest.approx(-off[2])


def test_slides_out_of_square_shift_a_place_by_where_it_is_along_the_tool() -> None:
    machine = Machine(one("squareness", 0.1), "1")
    near, far = (machine.sight(Spot("", 5.0, z), READOUT, SLIDES, TOOL)["X"] for z in (0.0, -10.0))
    assert abs(far - near) == pytest.approx(10 * math.radians(0.1))


def test_drift_goes_on_while_time_goes_by() -> None:
    machine = Machine(one("drift", 3.0), "1")
    first = machine.sight(RIGHT, READOUT, SLIDES, TOOL)["X"]
    machine.wait(3600 - 15)
    assert abs(machine.sight(RIGHT, READOUT, SLIDES, TOOL)["X"] - first) == pytest.approx(0.003)


def test_a_readout_shows_whole_steps() -> None:
    machine = Machine(one("readout step", 1.0), "1")
    for k in range(20):
        seen = machine.sight(Spot("", 1 + k * 0.00037), READOUT, SLIDES, TOOL)["X"]
        assert seen * 1000 == pytest.approx(round(seen * 1000), abs=1e-6)
        assert abs(seen - machine.place(SLIDES, 1 + k * 0.00037, 0)["X"]) <= 0.0005 + 1e-9


def test_an_indicator_waves_hangs_and_reads_too_much_on_a_lever() -> None:
    on = instrument("IN-1")
    spot = Spot("", figure=0.1)
    assert Machine(NONE, "1").indicate(spot, on) == 0.1
    lever = Machine(one("indicator lever", 10.0), "1").indicate(spot, on)
    assert lever == pytest.approx(0.1 / math.cos(math.radians(10)))
    down = Spot("", figure=0.1, down=True)
    hangs = Machine(one("indicator hysteresis", 0.5), "1")
    assert abs(hangs.indicate(down, on) - 0.1) == pytest.approx(0.0005)
    assert hangs.indicate(spot, on) == 0.1
    waves = [
        Machine(one("indicator error", 1.0), "1").indicate(Spot("", figure=h / 1000), on) - h / 1000
        for h in range(100)
    ]
    # U = 2 µm, k = 2: an amplitude of 1 times u is 1 µm.
    assert max(waves) == pytest.approx(0.001, rel=0.01)
    assert min(waves) == pytest.approx(-0.001, rel=0.01)


def test_a_protractor_and_a_caliper_show_their_steps_and_their_errors() -> None:
    optics, caliper = instrument("OP-1"), instrument("CA-1")
    stepped = Machine(one("reticle step", 1.0), "1")
    assert stepped.protract(Spot("", figure=45.13), optics) == pytest.approx(45.1)
    turned = Machine(one("image plane", 0.08), "1")
    assert abs(turned.protract(Spot("", figure=45.0, leg_mm=2), optics) - 45) == pytest.approx(0.08)
    assert turned.protract(Spot("45", figure=45.0), optics) == 45.0
    wrong = Machine(one("caliper", 1.0), "1").lay_up(Spot("", figure=90.0), caliper)
    assert abs(wrong - 90) == pytest.approx(0.03)
    rounded = Machine(one("caliper step", 1.0), "1").lay_up(Spot("", figure=90.013), caliper)
    assert rounded == pytest.approx(90.01)


def test_a_setting_is_off_by_what_the_shop_states_of_it_and_stays_so() -> None:
    stated = Errors("one", {"settings": Spread(1.0, "as stated")})
    rolled = [Machine(stated, str(n)).setting("angle rolled") for n in range(4000)]
    assert 0.095 < max(rolled) <= 0.1
    assert pstdev(rolled) == pytest.approx(0.1 / math.sqrt(3), rel=0.05)
    # What is stated in µm comes in mm.
    edge = [Machine(stated, str(n)).setting("edge") for n in range(4000)]
    assert pstdev(edge) == pytest.approx(0.0005, rel=0.05)
    machine = Machine(stated, "1")
    assert machine.setting("angle rolled") == machine.setting("angle rolled")
    assert machine.setting("angle rolled", 1) != machine.setting("angle rolled", 2)
    assert Machine(NONE, "1").setting("angle rolled") == 0
