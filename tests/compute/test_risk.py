"""Risks of a decision: closed forms, trials with a fixed seed, the bivariate normal, and order."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.compute import conformity, rules
from inspect_rec.compute.conformity import Limits, conformance_probability
from inspect_rec.compute.risk import (
    Floats,
    Global,
    Process,
    global_risk,
    probability_within,
    specific,
)
from inspect_rec.compute.rules import Kind, Rule
from inspect_rec.errors import ComputeError
from tests.compute.published import cases, inputs

D = Decimal
BORE = Limits(D("6.30"), D("6.35"))
FORM = Limits(None, D("0.010"), natural_zero=True)
numbers = st.decimals(-10, 10, places=6)
widths = st.decimals("0.001", 5, places=6)
uncertain = st.decimals("0.000001", 1, places=6)


def guarded(limits: Limits, u: str, factor: str) -> conformity.Zones:
    return conformity.zones(limits, D(u), D(factor))


# -- one value ---------------------------------------------------------------


def test_the_probabilities_of_jcgm_106() -> None:
    """JCGM 106:2012, clause 7: burst pressure 0.99, breakdown voltage 0.92 (from memory)."""
    for case, unit, which in (
        ("jcgm106-lower-limit", "kPa", "lower"),
        ("jcgm106-upper-limit", "V", "upper"),
    ):
        given, want = inputs(case), cases()[case]["expect"]["probability"]
        limit = D(repr(given[f"{which}_limit_{unit}"]))
        limits = Limits(limit, None) if which == "lower" else Limits(None, limit)
        y, u = (D(repr(given[f"{name}_{unit}"])) for name in ("y", "u"))
        assert probability_within(y, limits, u) == pytest.approx(want["value"], abs=want["tol"])


@given(numbers, numbers, widths, uncertain)
def test_a_normal_value_has_the_probability_of_conformity(
    value: Decimal, lower: Decimal, width: Decimal, u: Decimal
) -> None:
    limits = Limits(lower, lower + width)
    expected = conformance_probability(value, limits, u)
    assert probability_within(value, limits, u) == pytest.approx(expected, rel=1e-9, abs=1e-300)


@pytest.mark.parametrize(
    ("dof", "t", "within"),
    [(1, "12.706", 0.95), (5, "2.571", 0.95), (9, "2.262", 0.95), (5, "2.015", 0.90)],
)
def test_few_degrees_of_freedom_spread_the_value_as_student(
    dof: int, t: str, within: float
) -> None:
    """Two-sided points of Student's t, of any table (from memory)."""
    limits = Limits(-D(t), D(t))
    assert probability_within(D(0), limits, D(1), dof) == pytest.approx(within, abs=5e-5)
    assert probability_within(D(0), limits, D(1)) > within


def test_one_degree_of_freedom_is_cauchys_with_its_closed_form() -> None:
    found = probability_within(D("6.34"), Limits(None, D("6.35")), D("0.004"), 1)
    assert found == pytest.approx(0.5 + math.atan(2.5) / math.pi, rel=1e-12)


@pytest.mark.parametrize("u", ["0.001", "0.004", "0.02"])
def test_at_a_natural_zero_half_the_normal_is_cut_off(u: str) -> None:
    """Half normal: erf(T / (u sqrt 2))."""
    expected = math.erf(float(D("0.010") / D(u)) / math.sqrt(2))
    assert probability_within(D(0), FORM, D(u)) == pytest.approx(expected, rel=1e-12)


def test_near_a_natural_zero_the_probability_is_that_of_the_trials_above_it() -> None:
    drawn = np.random.default_rng(106).normal(0.004, 0.005, 1_000_000)
    possible = drawn[drawn >= 0]
    expected = float(np.mean(possible <= 0.010))
    spread = math.sqrt(expected * (1 - expected) / possible.size)
    found = probability_within(D("0.004"), FORM, D("0.005"))
    assert found == pytest.approx(expected, abs=4 * spread)
    # Uncut it would be 0.885 - 0.212: far outside of what the trials allow.
    assert abs(
        found - conformance_probability(D("0.004"), Limits(D(0), FORM.upper), D("0.005"))
    ) > (100 * spread)


def test_far_from_its_natural_zero_a_value_is_as_any_other() -> None:
    found = probability_within(D("0.009"), FORM, D("0.0005"))
    assert found == pytest.approx(conformance_probability(D("0.009"), FORM, D("0.0005")), rel=1e-12)


def test_without_uncertainty_a_value_lies_within_or_not() -> None:
    ends = ("6.299999", "6.30", "6.35", "6.350001")
    assert [probability_within(D(v), BORE, D(0)) for v in ends] == [0, 1, 1, 0]
    assert [probability_within(D(v), FORM, D(0)) for v in ("0", "0.010", "0.0101")] == [1, 1, 0]


# -- one decision ------------------------------------------------------------


def test_what_is_accepted_at_the_end_of_its_zone_bears_the_risk_of_the_rule() -> None:
    u = D("0.0016")
    for rule in (Rule(), Rule(Kind.CUSTOMER), Rule(Kind.SIMPLE, least_tur=D(4))):
        zone = rules.zones(BORE, u, rule)
        assert zone.accept_high is not None
        last = specific(zone.accept_high, BORE, zone, u)
        first = specific(zone.accept_high + D("0.000001"), BORE, zone, u)
        assert (last.accepted, first.accepted) == (True, False)
        assert last.risk == pytest.approx(rule.risk().wrong_acceptance, rel=1e-6)
        assert first.risk == pytest.approx(1 - rule.risk().wrong_acceptance, abs=1e-3)


def test_small_risks_keep_their_digits() -> None:
    """1 - Phi(10) = 7.6199e-24 (tables of the normal tail, from memory); 1 less that is 1."""
    limits, u = Limits(None, D(10)), D(1)
    found = specific(D(0), limits, conformity.zones(limits, u, D(2)), u)
    assert found.accepted
    assert found.risk == pytest.approx(7.6199e-24, rel=1e-4)


def test_fewer_degrees_of_freedom_raise_the_risk_of_what_is_accepted() -> None:
    zone = guarded(BORE, "0.0016", "1.645")
    found = [
        specific(D("6.347"), BORE, zone, D("0.0016"), dof).risk for dof in (3, 8, 50, math.inf)
    ]
    assert found == sorted(found, reverse=True)
    assert found[0] > 2 * found[-1]


# -- a process ---------------------------------------------------------------


def test_the_risks_of_the_resistors() -> None:
    """Inputs after the example of JCGM 106:2012, clause 9, from memory; results computed apart."""
    given, want = inputs("jcgm106-global-risk-normal"), cases()["jcgm106-global-risk-normal"]
    low, high = (D(repr(x)) for x in given["tolerance_ohm"])
    limits = Limits(low, high)
    process = Process(given["prior_mean_ohm"], given["prior_std_ohm"])
    for name, factor in (("simple", "0"), ("guarded", "2")):
        u = D(repr(given["u_measurement_ohm"]))
        zone = conformity.zones(limits, u, D(factor))
        assert [float(zone.accept_low or 0), float(zone.accept_high or 0)] == (
            given[f"acceptance_{name}_ohm"]
        )
        found = global_risk(process, limits, zone, float(u))
        for which, value in (
            (f"consumer_risk_{name}", found.consumer),
            (f"producer_risk_{name}", found.producer),
            ("fraction_conforming", found.conforming),
        ):
            expected = want["expect"][which]
            assert value == pytest.approx(expected["value"], abs=expected["tol"]), which


@pytest.mark.parametrize("u", [0.001, 0.1, 1.0, 7.0, 300.0])
def test_at_the_mean_of_the_process_both_risks_have_a_closed_form(u: float) -> None:
    """Sheppard: of a bivariate normal, a quadrant off the diagonal holds atan(u/s) / 2 pi."""
    limits = Limits(None, D(5))
    found = global_risk(Process(5.0, 1.0), limits, conformity.zones(limits, D(1), D(0)), u)
    expected = math.atan(u) / (2 * math.pi)
    assert found.consumer == pytest.approx(expected, rel=1e-11)
    assert found.producer == pytest.approx(expected, rel=1e-11)


CASES = [
    (Process(6.325, 0.012), BORE, "0.004", Rule()),
    (Process(6.340, 0.008), BORE, "0.004", Rule(Kind.CUSTOMER)),
    (Process(6.340, 0.030), BORE, "0.002", Rule(Kind.SIMPLE, least_tur=D(4))),
    (Process(6.300, 0.004), BORE, "0.006", Rule(Kind.SHARE, share=D("0.5"))),
    (Process(96.05, 0.04), Limits(D(96), None), "0.02", Rule()),
]


@pytest.mark.parametrize(("process", "limits", "u", "rule"), CASES)
def test_the_risks_are_those_of_the_bivariate_normal(
    process: Process, limits: Limits, u: str, rule: Rule
) -> None:
    """Of true and measured value together: within both, by the distribution function."""
    from scipy.stats import multivariate_normal, norm

    zone, s2 = rules.zones(limits, D(u), rule), process.s**2
    both = multivariate_normal([process.mean] * 2, [[s2, s2], [s2, s2 + float(u) ** 2]])
    far = 40 * math.sqrt(s2 + float(u) ** 2)

    def ends(low: Decimal | None, high: Decimal | None) -> tuple[float, float]:
        return (
            process.mean - far if low is None else float(low),
            process.mean + far if high is None else float(high),
        )

    good, taken = ends(limits.lower, limits.upper), ends(zone.accept_low, zone.accept_high)
    rightly = sum(
        (-1) ** (i + j) * both.cdf([good[1 - i], taken[1 - j]]) for i in (0, 1) for j in (0, 1)
    )
    conforming = np.diff(norm.cdf(good, process.mean, process.s))[0]
    accepted = np.diff(norm.cdf(taken, process.mean, math.hypot(process.s, float(u))))[0]
    found = global_risk(process, limits, zone, float(u))
    assert found.conforming == pytest.approx(conforming, abs=1e-10)
    assert found.accepted == pytest.approx(accepted, abs=1e-10)
    assert found.consumer == pytest.approx(accepted - rightly, abs=1e-7)
    assert found.producer == pytest.approx(conforming - rightly, abs=1e-7)


@pytest.mark.parametrize(
    ("process", "limits", "u", "rule"), [*CASES, (Process(0.006, 0.003), FORM, "0.001", Rule())]
)
def test_the_risks_are_those_of_a_million_items(
    process: Process, limits: Limits, u: str, rule: Rule
) -> None:
    generator, n = np.random.default_rng(20121106), 1_000_000
    true = generator.normal(process.mean, process.s, n)
    if limits.natural_zero:
        true = true[true >= 0]
    measured = true + generator.normal(0, float(u), true.size)
    zone = rules.zones(limits, D(u), rule)

    def within(x: Floats, low: Decimal | None, high: Decimal | None) -> npt.NDArray[np.bool_]:
        above = -math.inf if low is None else float(low)
        return (x >= above) & (x <= (math.inf if high is None else float(high)))

    good, taken = (
        within(true, limits.lower, limits.upper),
        within(measured, zone.accept_low, zone.accept_high),
    )
    found = global_risk(process, limits, zone, float(u))
    counted = Global(*(float(np.mean(x)) for x in (taken & ~good, good & ~taken, good, taken)))
    for name in ("consumer", "producer", "conforming", "accepted"):
        p = getattr(counted, name)
        spread = math.sqrt(p * (1 - p) / true.size)
        assert getattr(found, name) == pytest.approx(p, abs=4 * spread), name


means, spreads = st.floats(6.25, 6.40), st.floats(0.0005, 0.05)
measured_with = st.decimals("0.0002", "0.006", places=4)


@given(means, spreads, measured_with, st.decimals(-2, 2, places=2), st.decimals("0.1", 2, places=1))
def test_a_wider_guard_band_moves_risk_from_the_consumer_to_the_producer(
    mean: float, s: float, u: Decimal, factor: Decimal, more: Decimal
) -> None:
    """A negative factor widens the zone: the rule of who has to prove non-conformity."""
    process = Process(mean, s)
    narrow, wide = (
        global_risk(process, BORE, conformity.zones(BORE, u, k), float(u))
        for k in (factor + more, factor)
    )
    assert narrow.consumer <= wide.consumer + 1e-15
    assert narrow.producer >= wide.producer - 1e-15
    assert narrow.consumer < wide.consumer or wide.consumer < 1e-12


@given(means, spreads, measured_with, st.sampled_from([r for *_, r in CASES]))
def test_what_is_accepted_is_what_conforms_less_one_risk_and_more_the_other(
    mean: float, s: float, u: Decimal, rule: Rule
) -> None:
    found = global_risk(Process(mean, s), BORE, rules.zones(BORE, u, rule), float(u))
    assert found.accepted == pytest.approx(
        found.conforming - found.producer + found.consumer, abs=1e-13
    )
    assert min(found.consumer, found.producer) >= 0
    assert found.conforming <= 1 + 1e-12


def test_without_uncertainty_only_the_guard_band_costs() -> None:
    from scipy.stats import norm

    process = Process(6.325, 0.02)
    simple = global_risk(process, BORE, guarded(BORE, "0.004", "0"), 0.0)
    assert (simple.consumer, simple.producer) == (0, 0)
    found = global_risk(process, BORE, guarded(BORE, "0.004", "1.645"), 0.0)
    lost = 2 * (norm.cdf(0.025 / 0.02) - norm.cdf((0.025 - 0.00658) / 0.02))
    assert found.consumer == 0
    assert found.producer == pytest.approx(lost, rel=1e-9)


def test_a_process_without_spread_has_the_risk_of_its_one_value() -> None:
    zone = guarded(BORE, "0.002", "0")
    outside = global_risk(Process(6.352, 0.0), BORE, zone, 0.002)
    assert outside.consumer == pytest.approx(0.158655, abs=1e-6)
    assert (outside.producer, outside.conforming) == (0, 0)
    nearly = global_risk(Process(6.352, 1e-9), BORE, zone, 0.002)
    assert nearly.consumer == pytest.approx(outside.consumer, rel=1e-5)


@pytest.mark.parametrize(
    ("process", "limits", "u", "words"),
    [
        (Process(math.nan, 1), BORE, 0.001, "no such process"),
        (Process(6.3, -1), BORE, 0.001, "no such process"),
        (Process(6.3, 1), BORE, math.inf, "no such process"),
        (Process(-0.001, 1), FORM, 0.001, "below its natural zero"),
        (Process(6.3, 1), Limits(D("6.3"), D("6.301")), 0.001, "no acceptance zone"),
    ],
)
def test_what_is_no_process_has_no_risk(
    process: Process, limits: Limits, u: float, words: str
) -> None:
    with pytest.raises(ComputeError, match=words):
        global_risk(process, limits, guarded(limits, "0.001", "1.645"), u)


@pytest.mark.parametrize(
    ("value", "u", "dof", "words"),
    [
        ("NaN", "0.001", 5, "no such measurement"),
        ("0.001", "-0.001", 5, "no such measurement"),
        ("0.001", "0.001", 0, "no such measurement"),
        ("-0.1", "0.001", math.inf, "too far below"),
    ],
)
def test_what_is_no_measurement_has_no_probability(
    value: str, u: str, dof: float, words: str
) -> None:
    with pytest.raises(ComputeError, match=words):
        probability_within(D(value), FORM, D(u), dof)


def test_limits_that_cross_have_no_probability() -> None:
    with pytest.raises(ComputeError, match="limits cross"):
        probability_within(D(1), Limits(D(2), D(1)), D(1))
