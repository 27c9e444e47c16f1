"""Verdicts in exact decimals: the ends of the zones, refusals, and what may never happen."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.compute.conformity import (
    Limits,
    Verdict,
    conformance_probability,
    judge,
    judge_range,
    warns,
    zones,
)
from inspect_rec.errors import ComputeError
from tests.compute.published import cases, inputs

D = Decimal
K = D("1.645")
numbers = st.decimals(-10, 10, places=6)
widths = st.decimals("0.001", 5, places=6)
uncertain = st.decimals("0.000001", 1, places=6)


def test_the_end_of_the_acceptance_zone_belongs_to_it_exactly() -> None:
    """Binary floating point says that 6.347368 <= 6.35 - 1.645 * 0.0016 is false."""
    limits = Limits(D("6.30"), D("6.35"))
    assert judge(D("6.347368"), limits, D("0.0016"), K).verdict is Verdict.CONFORMS
    assert judge(D("6.347369"), limits, D("0.0016"), K).verdict is Verdict.NEITHER_SHOWN
    assert judge(D("6.352632"), limits, D("0.0016"), K).verdict is Verdict.NEITHER_SHOWN
    assert judge(D("6.352633"), limits, D("0.0016"), K).verdict is Verdict.DOES_NOT_CONFORM


@given(numbers, numbers, widths, uncertain)
def test_a_value_outside_its_limits_never_conforms(
    value: Decimal, lower: Decimal, width: Decimal, u: Decimal
) -> None:
    limits = Limits(lower, lower + width)
    found = judge(value, limits, u, K)
    if not lower <= value <= lower + width:
        assert found.verdict is not Verdict.CONFORMS
    else:
        assert found.verdict is not Verdict.DOES_NOT_CONFORM


@given(numbers, numbers, widths, uncertain)
def test_no_acceptance_zone_means_no_verdict(
    value: Decimal, lower: Decimal, width: Decimal, u: Decimal
) -> None:
    found = judge(value, Limits(lower, lower + width), u, K)
    assert (found.verdict is Verdict.REFUSED) is (2 * K * u >= width)


@given(numbers, numbers, widths, uncertain, st.decimals(1, 5, places=2))
def test_more_uncertainty_never_turns_a_failure_into_a_pass(
    value: Decimal, lower: Decimal, width: Decimal, u: Decimal, more: Decimal
) -> None:
    limits = Limits(lower, lower + width)
    before, after = judge(value, limits, u, K).verdict, judge(value, limits, u * more, K).verdict
    if before is not Verdict.CONFORMS:
        assert after is not Verdict.CONFORMS


@given(numbers, numbers, widths, uncertain)
def test_the_unit_changes_no_verdict(
    value: Decimal, lower: Decimal, width: Decimal, u: Decimal
) -> None:
    mm = judge(value, Limits(lower, lower + width), u, K).verdict
    inch = D("25.4")
    limits = Limits(lower * inch, (lower + width) * inch)
    assert judge(value * inch, limits, u * inch, K).verdict is mm


def test_of_a_profile_the_worse_end_counts() -> None:
    limits = Limits(D("-0.015"), D("0.015"))
    found = judge_range(D("-0.020"), D("0.001"), limits, D("0.0017"), K)
    assert (found.verdict, found.side) == (Verdict.DOES_NOT_CONFORM, "under")
    found = judge_range(D("-0.001"), D("0.014"), limits, D("0.0017"), K)
    assert (found.verdict, found.side) == (Verdict.NEITHER_SHOWN, "over")


def test_one_sided_limits_have_one_guard_band() -> None:
    form = Limits(None, D("0.010"), natural_zero=True)
    assert judge(D(0), form, D("0.001"), K).verdict is Verdict.CONFORMS
    assert judge(D(0), form, D("0.0061"), K).verdict is Verdict.REFUSED
    length = Limits(D(96), None)
    assert judge(D("96.03"), length, D("0.0202"), K).verdict is Verdict.NEITHER_SHOWN
    found = zones(length, D("0.0202"), K)
    assert (found.accept_high, found.shown_high) == (None, None)
    assert found.accept_low == found.shown_low == D("96.033229")


@pytest.mark.parametrize(("u", "warned"), [("0.005", False), ("0.0050001", True)])
def test_a_warning_comes_above_a_quarter_of_the_tolerance(u: str, warned: bool) -> None:
    assert warns(Limits(D("4.89"), D("4.91")), D(u))[1] is warned
    assert warns(Limits(D("4.89"), D("4.91")), D(u))[0] == D(u) / D("0.02")
    assert warns(Limits(D(96), None), D(5)) == (None, False)
    assert warns(Limits(None, D("0.010"), natural_zero=True), D("0.002")) == (D("0.2"), False)
    assert warns(Limits(None, D("0.010"), natural_zero=True), D("0.003")) == (D("0.3"), True)


def test_two_limits_need_two_guard_bands_with_a_natural_zero_too() -> None:
    both = Limits(D(0), D("0.010"), natural_zero=True)
    assert judge(D("0.005"), both, D("0.0031"), K).verdict is Verdict.REFUSED
    assert judge(D("0.005"), both, D("0.0030"), K).verdict is Verdict.CONFORMS


def test_the_probabilities_of_jcgm_106() -> None:
    """JCGM 106:2012, clause 7 (inputs from memory)."""
    for case, unit, which in (
        ("jcgm106-lower-limit", "kPa", "lower"),
        ("jcgm106-upper-limit", "V", "upper"),
    ):
        given, want = inputs(case), cases()[case]["expect"]["probability"]
        limit = D(repr(given[f"{which}_limit_{unit}"]))
        limits = Limits(limit, None) if which == "lower" else Limits(None, limit)
        found = conformance_probability(
            D(repr(given[f"y_{unit}"])), limits, D(repr(given[f"u_{unit}"]))
        )
        assert found == pytest.approx(want["value"], abs=want["tol"])


def test_without_uncertainty_a_value_lies_within_its_limits_or_not() -> None:
    limits = Limits(D(1), D(2))
    found = [conformance_probability(D(y), limits, D(0)) for y in ("0.999", "1", "2", "2.001")]
    assert found == [0, 1, 1, 0]


@given(numbers, numbers, widths, uncertain)
def test_what_conforms_does_so_with_95_per_cent_on_its_side(
    value: Decimal, lower: Decimal, width: Decimal, u: Decimal
) -> None:
    limits = Limits(lower, lower + width)
    found, p = judge(value, limits, u, K), conformance_probability(value, limits, u)
    assert 0 <= p <= 1
    if found.verdict is Verdict.CONFORMS:
        assert p >= 0.9
    if found.verdict is Verdict.DOES_NOT_CONFORM:
        assert p <= 0.0501


@pytest.mark.parametrize(
    ("lowest", "highest", "u", "words"),
    [
        ("NaN", "NaN", "0.001", "no number"),
        ("1", "1", "NaN", "no number"),
        ("1", "Infinity", "0.001", "no number"),
        ("1", "1", "-0.001", "no such uncertainty"),
        ("2", "1", "0.001", "above the highest"),
    ],
)
def test_what_is_no_measurement_is_not_judged(
    lowest: str, highest: str, u: str, words: str
) -> None:
    with pytest.raises(ComputeError, match=words):
        judge_range(D(lowest), D(highest), Limits(D(0), D(2)), D(u), K)
