"""What a report says: the worked jobs' figures, the sentences of each state, nothing from outside.

Expected figures are those of the worked jobs' own table (fixtures/worked, section "expect", and
the trade's notes on it), typed here by hand from that table.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from decimal import Decimal

import pytest

from inspect_rec.errors import ReportError
from inspect_rec.plan import Characteristic
from inspect_rec.report import figures, make, record, resulting, saying, telling
from inspect_rec.report.content import Content
from report_templates import words
from tests import signing, worked
from tests.report import samples

STATES = ("I1", "I2", "I3", "I1 before rework", "I3 before rework", "I1 begun", "I2 half")


def said(number: str) -> Content:
    return signing.made(number).said


def group(content: Content, name: str) -> dict[str, str]:
    """Values of a characteristic by edge, as printed."""
    found = next(g for g in content.groups if g.name.startswith(name))
    return {r.edge: r.value for r in found.rows}


def lines(content: Content, name: str) -> str:
    return " | ".join(next(g for g in content.groups if g.name.startswith(name)).lines)


# -- the worked jobs -----------------------------------------------------------------


def test_the_ball_nose_prints_the_figures_of_the_worked_job() -> None:
    c = said("I1")
    radii = {"1": "4.9023", "2": "4.8998", "3": "4.9052", "4": "4.9050"}
    clearances = {"1": "10.73", "2": "10.60", "3": "10.51", "4": "10.86"}
    assert group(c, "Ball radius") == radii
    assert group(c, "Variation of R") == {"all": "5.3"}
    assert group(c, "Spread of the tips") == {"all": "3.8"}
    assert group(c, "Primary clearance") == clearances
    assert group(c, "Overall length") == {"all": "97.05"}
    assert "accepted 4.8929 – 4.9071, g 2.9 µm" in lines(c, "Ball radius")
    assert "accepted 9.83° – 11.17°, g 0.33°" in lines(c, "Primary clearance")
    assert "accepted ≤ 7.1 µm" in lines(c, "Variation of R")
    assert "accepted ≥ 96.03" in lines(c, "Overall length")


def test_the_step_drill_prints_the_figures_of_the_worked_job() -> None:
    c = said("I2")
    expected = {
        "Pilot diameter": "8.4919",
        "Step diameter": "10.9709",
        "Point angle": "130.39",
        "Difference of the half angles": "0.303",
        "Lip height difference": "0.0140",
        "Step length": "23.956",
        "Step angle": "90.10",
        "Chisel edge": "0.612",
        "Chisel edge off the axis": "0.0100",
    }
    for name, value in expected.items():
        assert group(c, name)["all"] == value, name
    assert "accepted 129.11° – 130.89°" in lines(c, "Point angle")
    assert "accepted 0.507 – 0.693" in lines(c, "Chisel edge")


def test_the_form_cutter_prints_the_figures_of_the_worked_job() -> None:
    c = said("I3")
    radii = {"1": "3.0050", "2": "3.0056", "3": "3.0075", "4": "3.0049"}
    profiles = {"1": "−5.0 to +1.8", "2": "−4.5 to +1.8", "3": "−7.6 to +3.3", "4": "−4.4 to +2.9"}
    assert group(c, "Concave radius") == radii
    assert group(c, "Profile deviation") == profiles
    assert group(c, "Variation of R") == {"all": "2.6"}
    assert group(c, "Spread of the radial places") == {"all": "5.9"}
    assert "accepted 2.9922 – 3.0078, g 2.2 µm" in lines(c, "Concave radius")
    assert "accepted ±12.2 µm" in lines(c, "Profile deviation")


def test_values_for_the_machine_are_those_of_the_largest_flute_as_it_cuts() -> None:
    offsets = {o.label: (o.value, o.notes[0]) for o in said("I1").offsets}
    assert offsets == {
        "R": ("4.905", "largest flute (3), as it cuts"),
        "D": ("9.810", "2 × R, flute 3"),
        "L": ("97.05", "tip to shank end"),
    }


def test_a_value_for_the_machine_is_never_rounded_onto_or_over_a_limit() -> None:
    inspection = signing.made("I1").inspection
    results = tuple(
        replace(r, values=(Decimal("4.90996"),)) if r.characteristic.id == "R" else r
        for r in inspection.results
    )
    offsets = saying._offsets(replace(inspection, results=results), words("en"))
    assert offsets[0].value == "4.90996"


# -- the verdict in words ------------------------------------------------------------


@pytest.mark.parametrize(
    ("state", "finding", "permits"),
    [
        ("I1", "Conforms.", "May be released."),
        ("I2", "Neither shown.", "Not to be released."),
        ("I3", "Conforms.", "May be released."),
        ("I1 before rework", "Does not conform.", "Back to the wheel."),
        ("I3 before rework", "Does not conform.", "Back to the wheel."),
        ("I1 begun", "No verdict.", "Not to be released."),
        ("I2 half", "No verdict.", "Not to be released."),
    ],
)
def test_each_state_has_its_two_sentences(state: str, finding: str, permits: str) -> None:
    verdict = samples.contents()[state].verdict
    assert (verdict.finding, verdict.permits) == (finding, permits)
    assert samples.contents()[state].releasable is (permits == "May be released.")


def test_the_verdict_says_how_many_against_what_and_at_which_risk() -> None:
    (text,) = said("I1").verdict.lines
    assert "All 5 required characteristics of all 4 flutes" in text
    assert "drawing QM-D-118\u00a0B" in text
    assert "at most 5 % risk" in text
    assert "1.645 u (ISO 14253-1)" in text


def test_what_is_neither_shown_says_how_far_it_lies_and_what_is_open() -> None:
    (text,) = said("I2").verdict.lines
    assert "8 of 9 characteristics are shown to conform" in text
    assert "Step diameter (DC_2) lies 2.1 µm under its lower limit" in text
    assert "within 3.4 µm of a limit nothing is proved" in text
    assert "Open: finer measurement, your concession, re-sizing." in text


def test_what_does_not_conform_says_by_how_much_and_what_is_left_to_grind() -> None:
    (text,) = samples.contents()["I3 before rework"].verdict.lines
    assert text.startswith("Variation of R is 14.4 µm: further than 2.8 µm beyond 10 µm")
    assert "Left to grind on tooth 4: 0.012 mm." in text


def test_limits_narrower_than_the_uncertainty_have_no_bar_and_no_zone_and_say_why() -> None:
    content = samples.too_uncertain()
    variation = next(g for g in content.groups if g.name == "Variation of R")
    assert variation.rows[0].bar is None
    assert variation.rows[0].note == "uncertainty too large for these limits"
    assert "nothing accepted, g 2.9 µm" in variation.lines
    assert content.life.detail == "0.15 mm under the minimum"
    assert (content.life.count, content.life.words) == ("0", "none can be shown")
    assert (content.verdict.permits, content.verdict.under) == ("Past saving.", True)


def test_what_is_not_measured_is_said_by_its_name() -> None:
    (text,) = samples.contents()["I2 half"].verdict.lines
    assert text.startswith("Not measured: point angle, difference of the half angles")
    assert "lip_height" not in text


def test_the_result_closest_to_a_limit_is_shown_where_all_conform() -> None:
    deciding = said("I1").verdict.deciding
    assert deciding is not None
    assert (deciding.label, deciding.number) == ("Closest to a limit", 1)
    assert (deciding.name, deciding.value) == ("Ball radius RE, flute 3", "4.9052")


def test_of_what_does_not_conform_the_furthest_out_decides_and_the_rest_is_counted() -> None:
    content = samples.contents()["I1 before rework"]
    assert content.verdict.deciding is not None
    assert content.verdict.deciding.label == "Decides the verdict"
    assert content.verdict.deciding.value == "17.5"
    assert content.verdict.deciding.more == "and 2 more, page 2"


def test_a_lower_limit_alone_is_compared_over_four_times_its_uncertainty() -> None:
    length = signing.made("I1").inspection.result("length")
    assert length is not None
    assert length.zones is not None
    assert length.zones.accept_low is not None
    room = length.value - length.zones.accept_low
    assert resulting.margin(length) == pytest.approx(float(room / (4 * length.U)))


# -- figures -------------------------------------------------------------------------


def characteristic(printed_in: str = "mm") -> Characteristic:
    ids = {"mm": "R", "um": "R_variation", "deg": "clearance"}
    return next(c for c in worked.job("I1").characteristic if c.id == ids[printed_in])


@pytest.mark.parametrize(
    ("unit", "amount", "signed", "text"),
    [
        ("mm", "0.00357", False, "3.6 µm"),
        ("mm", "0.0123", True, "+12 µm"),
        ("mm", "-0.0291", True, "−29 µm"),
        ("mm", "0.00996", False, "10 µm"),
        ("mm", "0.00003", True, "0.0 µm"),
        ("mm", "-0.00003", True, "0.0 µm"),
        ("deg", "0.398", False, "0.40°"),
        ("deg", "-0.2", True, "−0.20°"),
    ],
)
def test_uncertainties_and_deviations_have_two_figures(
    unit: str, amount: str, signed: bool, text: str
) -> None:
    assert figures.spread(characteristic(unit), Decimal(amount), signed=signed) == text


@pytest.mark.parametrize(
    ("factor", "text"), [("1.645", "5 %"), ("2", "2 %"), ("1", "16 %"), ("3", "0.1 %")]
)
def test_the_risk_follows_from_the_factor(factor: str, text: str) -> None:
    assert figures.risk(Decimal(factor)) == text


def strings(thing: object) -> Iterator[str]:
    """Every text of a content, words of the layout apart."""
    if isinstance(thing, str):
        yield thing
    elif isinstance(thing, tuple):
        for part in thing:
            yield from strings(part)
    elif is_dataclass(thing):
        for f in fields(thing):
            if f.name not in ("words", "verdicts", "id"):
                yield from strings(getattr(thing, f.name))


@pytest.mark.parametrize("state", STATES)
def test_a_minus_is_a_minus_in_print(state: str) -> None:
    bad = [
        text
        for text in strings(samples.contents()[state])
        if re.search(r"(?:^|[ (±])-\d", text) or " - " in text
    ]
    assert bad == []


@pytest.mark.parametrize("state", STATES)
def test_no_text_is_left_unfilled_and_none_is_empty_by_mistake(state: str) -> None:
    content = samples.contents()[state]
    later = (content.head_right, content.foot_right)
    texts = [text for text in strings(content) if text not in later]
    assert [text for text in texts if "{" in text or "None" in text or "nan" in text] == []
    assert all(r.value and r.word for g in content.groups for r in g.rows)
    assert all(value for _, value in content.facts)


# -- from the record and nothing else --------------------------------------------------


@pytest.mark.parametrize("number", ["I1", "I2", "I3"])
def test_the_record_in_the_file_says_the_same_again(number: str) -> None:
    entries = worked.entries(number, signing.UPTO[number])
    kept = record.to_bytes(signing.header(number, entries), entries)
    header, again = record.from_bytes(kept)
    from inspect_rec.inspection import fold

    assert saying.of(fold(again, header.inspection), header) == said(number)


@pytest.mark.parametrize(("key", "value"), [("layout", "letter-0"), ("language", "../words/en")])
def test_a_layout_or_language_that_is_not_here_is_said(key: str, value: str) -> None:
    entries = worked.entries("I1", signing.UPTO["I1"])
    plain = signing.header("I1", entries)
    header = replace(plain, layout=value) if key == "layout" else replace(plain, language=value)
    with pytest.raises(ReportError, match=key):
        make.make(entries, header)


def test_without_its_name_a_customer_is_printed_by_id() -> None:
    made = signing.made("I1")
    entries = worked.entries("I1", signing.UPTO["I1"])
    header = replace(signing.header("I1", entries), customers={}, persons={})
    content = saying.of(made.inspection, header)
    assert dict(content.facts)["Customer"] == "C-1"
    assert content.signatures[0].name == "G-01"


def test_every_state_on_arrival_and_every_cut_is_told() -> None:
    texts = {t.heading: " ".join(t.paragraphs) for t in said("I1").texts}
    assert "worn at the tip, no chips" in texts["Tool in and out"]
    assert "Flute 3, 07:55 UTC: ground again by 0.012" in texts["Struck out and ground away"]
    assert "Closure on flute 1" in texts["Method"]
    assert "Read by eye" in texts["Method"]
    assert "36 %" in texts["Decision rule"]
    assert "Assumed, not from a study of this shop: crosshair" in texts["Decision rule"]


def test_the_life_of_a_tool_counts_what_can_be_proved() -> None:
    life = said("I1").life
    assert (life.count, life.words) == ("2", "one more only just")
    assert life.now == ("now, 3rd", "97.05", 97.05)
    assert [(name, text) for name, text, _ in life.to_come] == [("4th", "96.70"), ("5th", "96.35")]
    assert life.minimum == ("minimum", "96.00", 96.0)


def test_a_length_that_is_not_measured_yet_is_not_called_unagreed() -> None:
    assert "not measured yet" in samples.contents()["I1 begun"].life.detail
    assert "No minimum length is agreed" in said("I2").life.detail


def test_missing_edges_have_rows_of_their_own() -> None:
    made = signing.made("I1")
    results = tuple(
        r for r in made.inspection.results if (r.characteristic.id, r.flute) != ("R", 3)
    )
    inspection = replace(made.inspection, results=results)
    entries = worked.entries("I1", signing.UPTO["I1"])
    content = saying.of(inspection, signing.header("I1", entries))
    assert group(content, "Ball radius")["3"] == "–"
    assert next(f for f in content.features if f.id == "R").verdict == "open"
    assert telling.missing(inspection, words("en")) == ("ball radius (flute 3)",)


def test_angles_of_a_contour_count_from_its_middle_and_of_a_ball_from_its_tip() -> None:
    for contour in said("I3").profiles:
        first, *_, last = (round(a) for a, _ in contour.edges[0].points)
        assert (first, last) == (-78, 78)
    ball = said("I1").profiles[0]
    first, *_, last = (round(a) for a, _ in ball.edges[0].points)
    assert (first, last) == (5, 85)
