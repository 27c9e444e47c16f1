"""Decision rules: whose guard band, who carries the doubt, at which risk; never across a limit."""

from __future__ import annotations

import math
from decimal import Decimal
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.compute import conformity
from inspect_rec.compute.conformity import Limits, Verdict, conformance_probability
from inspect_rec.compute.rules import Kind, Rule, judge, judge_range, percent, zones
from inspect_rec.errors import ComputeError
from inspect_rec.units import printed

D = Decimal
SUPPLIER, CUSTOMER = Rule(), Rule(Kind.CUSTOMER)
SIMPLE = Rule(Kind.SIMPLE, largest_ratio=D("0.25"), largest_expanded=D("0.05"))
HALF = Rule(Kind.SHARE, share=D("0.5"))
RULES = (SUPPLIER, CUSTOMER, SIMPLE, HALF)
BORE = Limits(D("6.30"), D("6.35"))
FORM = Limits(None, D("0.010"), natural_zero=True)
LENGTH = Limits(D(96), None)
U16 = D("0.0016")

numbers = st.decimals(-10, 10, places=6)
widths = st.decimals("0.001", 5, places=6)
uncertain = st.decimals("0.000001", 1, places=6)
rules = st.sampled_from(RULES)


def verdicts(rule: Rule, limits: Limits, u: str, *values: str) -> list[Verdict]:
    return [judge(D(v), limits, D(u), rule).verdict for v in values]


GOOD, BAD, OPEN = Verdict.CONFORMS, Verdict.DOES_NOT_CONFORM, Verdict.NEITHER_SHOWN


def test_the_end_of_the_acceptance_zone_is_accepted_in_exact_decimals() -> None:
    """Binary floating point says that 6.347368 <= 6.35 - 1.645 * 0.0016 is false."""
    assert not 6.347368 <= 6.35 - 1.645 * 0.0016
    assert verdicts(SUPPLIER, BORE, "0.0016", "6.347368", "6.347369") == [GOOD, OPEN]
    assert verdicts(SUPPLIER, BORE, "0.0016", "6.352632", "6.352633") == [OPEN, BAD]


def test_without_agreement_the_supplier_proves_as_ever() -> None:
    for value in ("6.29", "6.299", "6.3017", "6.32", "6.347368", "6.352633"):
        expected = conformity.judge(D(value), BORE, U16, D("1.645"))
        assert judge(D(value), BORE, U16, Rule()).judgement == expected


def test_older_texts_with_two_u_narrow_more() -> None:
    older = Rule(factor=D(2))
    assert verdicts(older, BORE, "0.0016", "6.3468", "6.346801") == [GOOD, OPEN]
    assert older.risk().wrong_acceptance == pytest.approx(0.02275, abs=1e-5)


def test_a_buyer_rejects_only_what_is_shown_not_to_conform() -> None:
    found = [judge(D(v), BORE, U16, CUSTOMER) for v in ("6.347368", "6.352632", "6.352633")]
    assert [(r.verdict, r.accepted) for r in found] == [(GOOD, True), (OPEN, True), (BAD, False)]
    zone = zones(BORE, U16, CUSTOMER)
    assert (zone.accept_low, zone.accept_high) == (D("6.297368"), D("6.352632"))
    assert (zone.shown_low, zone.shown_high) == (D("6.302632"), D("6.347368"))
    assert found[1].judgement.zones == zone


def test_the_middle_is_carried_by_who_must_prove() -> None:
    middle = D("6.350")
    assert [judge(middle, BORE, U16, r).accepted for r in RULES] == [False, True, True, False]
    for rule, words in ((SUPPLIER, "the supplier carries"), (CUSTOMER, "the customer carries")):
        found = judge(middle, BORE, U16, rule)
        assert found.verdict is OPEN
        assert words in found.sentence("mm")


def test_simple_acceptance_has_no_middle_and_both_limits_belong_to_it() -> None:
    values = ("6.299999", "6.30", "6.35", "6.350001")
    assert verdicts(SIMPLE, BORE, "0.0016", *values) == [BAD, GOOD, GOOD, BAD]
    assert zones(BORE, U16, SIMPLE).guard == 0


@pytest.mark.parametrize(
    ("bound", "u", "words"),
    [
        # T = 0.05, U = 2 u.
        ({"largest_ratio": D("0.25")}, "0.00625", ""),
        (
            {"largest_ratio": D("0.25")},
            "0.006251",
            "U = 25 % of the tolerance, here U is 0.012502 of 0.05",
        ),
        ({"largest_ratio": D("0.25")}, "0.0075", "here U is 0.015 of 0.05"),
        ({"least_tur": D(3)}, "0.004166", ""),
        ({"least_tur": D(3)}, "0.004167", "3 times 2 U up, here U is 0.008334 of 0.05"),
        ({"least_tur": D(4)}, "0.0050", "4 times 2 U up, here U is 0.01 of 0.05"),
    ],
)
def test_simple_acceptance_is_refused_where_u_is_above_what_was_agreed(
    bound: dict[str, Decimal], u: str, words: str
) -> None:
    found = judge(D("6.32"), BORE, D(u), Rule(Kind.SIMPLE, **bound))
    assert found.verdict is (Verdict.REFUSED if words else GOOD)
    assert words in found.judgement.reason
    assert found.ratio == 2 * D(u) / D("0.05")


def test_simple_acceptance_of_a_limit_alone_needs_a_largest_u() -> None:
    assert verdicts(SIMPLE, LENGTH, "0.025", "96", "95.999999") == [GOOD, BAD]
    beyond = judge(D(97), LENGTH, D("0.0251"), SIMPLE)
    assert beyond.verdict is Verdict.REFUSED
    assert "up to U = 0.05, here U is 0.0502" in beyond.judgement.reason
    nothing = judge(D(97), LENGTH, D("0.001"), Rule(Kind.SIMPLE, least_tur=D(4)))
    assert (nothing.verdict, nothing.ratio) == (Verdict.REFUSED, None)
    assert "agree on a largest U" in nothing.judgement.reason


def test_a_share_of_u_narrows_by_that_share() -> None:
    assert zones(BORE, U16, HALF).guard == U16
    assert verdicts(HALF, BORE, "0.0016", "6.3484", "6.348401", "6.351601") == [GOOD, OPEN, BAD]


@pytest.mark.parametrize(
    ("rule", "g", "accepted"),
    [
        (SUPPLIER, "0.001645", "0.008355"),
        (CUSTOMER, "0.001645", "0.011645"),
        (SIMPLE, "0", "0.010"),
        (HALF, "0.001", "0.009"),
    ],
)
def test_above_a_natural_zero_each_rule_has_one_end(rule: Rule, g: str, accepted: str) -> None:
    zone = zones(FORM, D("0.001"), rule)
    assert (zone.guard, zone.accept_low, zone.accept_high) == (D(g), None, D(accepted))
    values = (D(0), D(accepted), D(accepted) + D("0.000001"))
    found = [judge(v, FORM, D("0.001"), rule).accepted for v in values]
    assert found == [True, True, False]


def test_of_a_profile_the_worse_end_counts_under_each_rule() -> None:
    limits = Limits(D("-0.015"), D("0.015"))
    found = [judge_range(D("-0.0155"), D("0.001"), limits, D("0.0017"), r).judgement for r in RULES]
    assert [(j.verdict, j.side) for j in found] == [
        (OPEN, "under"),
        (OPEN, "under"),
        (BAD, "under"),
        (OPEN, "under"),
    ]


@given(numbers, numbers, widths, uncertain, st.sampled_from((SUPPLIER, CUSTOMER, HALF)))
def test_where_nothing_could_be_shown_to_conform_there_is_no_verdict(
    value: Decimal, lower: Decimal, width: Decimal, u: Decimal, rule: Rule
) -> None:
    found = judge(value, Limits(lower, lower + width), u, rule)
    assert (found.verdict is Verdict.REFUSED) is (2 * rule.multiple() * u >= width)
    if found.verdict is Verdict.REFUSED:
        assert not found.accepted


@given(numbers, numbers, widths, uncertain)
def test_the_stricter_rule_accepts_nothing_that_the_milder_does_not(
    value: Decimal, lower: Decimal, width: Decimal, u: Decimal
) -> None:
    limits = Limits(lower, lower + width)
    strict_to_mild = (Rule(factor=D(2)), SUPPLIER, HALF, CUSTOMER)
    found = [judge(value, limits, u, rule) for rule in strict_to_mild]
    if found[0].verdict is not Verdict.REFUSED:
        accepted = [r.accepted for r in found]
        assert accepted == sorted(accepted)


@given(numbers, numbers, widths, uncertain, rules)
def test_a_value_outside_its_limits_conforms_under_no_rule(
    value: Decimal, lower: Decimal, width: Decimal, u: Decimal, rule: Rule
) -> None:
    found = judge(value, Limits(lower, lower + width), u, rule)
    if not lower <= value <= lower + width:
        assert found.verdict is not GOOD
    else:
        assert found.verdict is not BAD


@given(numbers, widths, uncertain, st.integers(-40, 40), st.integers(0, 4), rules)
def test_print_never_carries_a_value_across_a_limit_or_an_end_of_its_zone(
    lower: Decimal, width: Decimal, u: Decimal, off: int, digits: int, rule: Rule
) -> None:
    """The values lie within 40 nm of an end, where rounding would carry most of them over."""
    limits = Limits(lower, lower + width)
    zone = zones(limits, u, rule)
    both = (zone.accept_low, zone.accept_high)
    ends = [lower, lower + width, *(e for e in both if e is not None)]
    for end in ends:
        value = end + off * D("0.000001")
        shown = printed(value, digits, ends)
        assert [shown.compare(e) for e in ends] == [value.compare(e) for e in ends]


def test_the_risk_at_the_limit_is_what_the_rule_says() -> None:
    beyond = 1 - NormalDist().cdf(1.645)
    assert SUPPLIER.risk().wrong_acceptance == pytest.approx(beyond)
    assert SUPPLIER.risk().wrong_rejection == pytest.approx(beyond)
    assert CUSTOMER.risk().wrong_acceptance == pytest.approx(1 - beyond)
    assert CUSTOMER.risk().wrong_rejection == pytest.approx(beyond)
    assert SIMPLE.risk().wrong_acceptance == SIMPLE.risk().wrong_rejection == 0.5
    assert HALF.risk().wrong_acceptance == pytest.approx(1 - NormalDist().cdf(1))


@given(numbers, widths, uncertain, st.sampled_from((SUPPLIER, CUSTOMER, HALF)))
def test_at_the_ends_of_the_zones_the_value_itself_has_that_risk(
    lower: Decimal, width: Decimal, u: Decimal, rule: Rule
) -> None:
    limits = Limits(None, lower + width)
    zone = zones(limits, u, rule)
    assert zone.accept_high is not None
    assert zone.reject_above is not None
    outside = 1 - conformance_probability(zone.accept_high, limits, u)
    assert outside == pytest.approx(rule.risk().wrong_acceptance, rel=1e-9)
    inside = conformance_probability(zone.reject_above, limits, u)
    assert inside == pytest.approx(rule.risk().wrong_rejection, rel=1e-9)


@pytest.mark.parametrize("dof", [1, 2, 3, 5, 8, 12, 19])
@pytest.mark.parametrize(
    "rule", [SUPPLIER, Rule(factor=D(2)), Rule(factor=D(3)), HALF, Rule(Kind.SHARE, share=D(1))]
)
def test_few_degrees_of_freedom_raise_no_risk_above_the_stated(rule: Rule, dof: int) -> None:
    assert rule.multiple(dof) > rule.multiple()
    assert rule.risk(dof).wrong_acceptance <= rule.risk().wrong_acceptance + 5e-5


def test_the_factor_at_few_degrees_of_freedom_is_students_one_sided_95_per_cent() -> None:
    """Tables of t (from memory): 2.015 at 5, 1.833 at 9; 97.5 per cent: 2.571 at 5."""
    assert SUPPLIER.multiple(5) == D("2.0150")
    assert SUPPLIER.multiple(9.9) == D("1.8331")
    assert Rule(factor=D("1.96")).multiple(5) == D("2.5706")
    assert SUPPLIER.multiple(20) == D("1.645")


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        (SUPPLIER, ("supplier proves", "g = 1.645 u", "at most 5 %", "g = 1.645 u = 0.002632 mm")),
        (
            CUSTOMER,
            ("customer proves", "rejected only", "g = 1.645 u", "at most 5 %", "up to 95 %"),
        ),
        (SIMPLE, ("Simple acceptance", "g = 0,", "at most 25 % of the tol", "50 %", "U is 6.4 %")),
        (Rule(Kind.SIMPLE, least_tur=D(4)), ("at least 4 times 2 U", "up to 50 %")),
        (HALF, ("By contract", "g = 0.5 U", "at most 16 %", "u = 0.0016 mm")),
    ],
)
def test_each_rule_says_itself_its_factor_and_its_risk_in_one_sentence(
    rule: Rule, words: tuple[str, ...]
) -> None:
    said = judge(D("6.32"), BORE, U16, rule).sentence("mm")
    for part in words:
        assert part in said
    assert rule.sentence().count(". ") == 0


@pytest.mark.parametrize(
    ("probability", "text"),
    [
        (0.0500151, "5 %"),
        (0.02275, "2.3 %"),
        (0.1587, "16 %"),
        (0.5, "50 %"),
        (0.95, "95 %"),
        (0.99865, "99.87 %"),
        (0.00135, "0.14 %"),
        (0.0, "0 %"),
        (1.0, "100 %"),
        (1.5, "150 %"),
    ],
)
def test_a_probability_is_said_to_two_figures(probability: float, text: str) -> None:
    assert percent(probability) == text


@pytest.mark.parametrize(
    ("numbers", "words"),
    [
        ({"factor": D(-1)}, "no such factor"),
        ({"factor": D("NaN")}, "no such factor"),
        ({"share": D(1)}, "no use for it: expected factor, found share"),
        ({"kind": Kind.SHARE}, "no guard band is agreed"),
        ({"kind": Kind.SHARE, "share": D(0)}, "expected above 0 to 1, found 0"),
        ({"kind": Kind.SHARE, "share": D("1.1")}, "no such share"),
        ({"kind": Kind.SIMPLE}, "either largest_ratio or least_tur, found neither"),
        ({"kind": Kind.SIMPLE, "largest_ratio": D(1), "least_tur": D(4)}, "found both"),
        ({"kind": Kind.SIMPLE, "largest_ratio": D("Infinity")}, "no such largest_ratio"),
        ({"kind": Kind.SIMPLE, "largest_ratio": D("0.2"), "factor": D(1)}, "found factor"),
        ({"kind": Kind.SIMPLE, "least_tur": D(4), "largest_expanded": D(0)}, "largest_expanded"),
    ],
)
def test_numbers_that_make_no_rule_are_refused(numbers: dict[str, Decimal], words: str) -> None:
    with pytest.raises(ComputeError, match=words):
        Rule(**numbers)  # type: ignore[arg-type]


def test_what_is_no_measurement_is_judged_by_no_rule() -> None:
    for rule in RULES:
        with pytest.raises(ComputeError, match="no number"):
            judge(D("NaN"), BORE, U16, rule)
        with pytest.raises(ComputeError, match="no such uncertainty"):
            judge(D("6.32"), BORE, -U16, rule)
    assert math.isinf(judge(D("6.32"), BORE, U16, SUPPLIER).dof)
