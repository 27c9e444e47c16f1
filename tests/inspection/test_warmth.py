"""Whole jobs corrected to 20 degC, and whole jobs with a bias between the checks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

import pytest

from inspect_rec import jobfile, ledger
from inspect_rec.compute.conformity import Verdict
from inspect_rec.errors import InputError
from inspect_rec.inspection import Inspection, Result, fold
from inspect_rec.ledger import Entry, Head
from inspect_rec.methods.thermal import CORRECTION
from tests import worked
from tests.inspection.test_fold import folded

CARBIDE, STEEL, GLASS = Decimal(5), Decimal("11.5"), Decimal(8)
WHERE = 'where = ["air", "tool", "scale", "master"]'
I2 = (worked.FOLDER / "i2.toml").read_text(encoding="utf-8")
I2_ID = worked.inspection_id("I2")
Degrees = Callable[[str, str, int], str | None]
"""Place of the thermometer, when, round -> what it shows; None where it wasn't read."""


def corrected(*more: str, text: str = I2) -> str:
    """A job file whose lengths are corrected, with all that it needs."""
    lines = (
        WHERE,
        "largest_step = 10",
        "correct = true",
        "tool_expansion = 5",
        "scale_expansion = 8",
        *more,
    )
    kept = "\n".join(line for line in text.splitlines() if not line.startswith("correction ="))
    head = '[temperature]\ninstrument = "TH-1"'
    assert head in kept
    return kept.replace(head, "\n".join([head, *lines]), 1) + "\n"


def warmer(place: str, when: str, round_: int) -> str | None:
    """7 K on the tool, 6 K on the pins, 5 K on the scale, the whole time."""
    del when, round_
    return {"air": "26.0", "tool": "27.0", "scale": "25.0", "master": "26.0"}[place]


def expanded(figure: str, coefficient: Decimal, away: int) -> str:
    """What the warm scale shows where it would show ``figure`` at 20 degC."""
    body, scale = 1 + coefficient * away / 10**6, 1 + GLASS * 5 / 10**6
    return format((Decimal(figure) * body / scale).quantize(Decimal("1e-9")), "f")


def entries(degrees: Degrees, *, sighted_warm: bool = True, text: str = "") -> list[Entry]:
    """Job I2 measured in a warm shop: its thermometer, and what its slides show then."""
    plan = jobfile.parse_job(text or corrected(), worked.shop()).model_dump(
        mode="json", by_alias=True
    )
    head, found = Head("A", 0, ledger.NOTHING), []

    def add(entry: Entry, body: Mapping[str, Any]) -> None:
        nonlocal head
        found.append(ledger.make(head, entry.at, entry.person, entry.kind, dict(body)))
        head = Head(found[-1].station, found[-1].seq, found[-1].digest)

    for entry in worked.entries("I2"):
        body = dict(entry.body)
        place = body.get("place", {})
        if entry.kind == "job opened":
            body["plan"] = plan
            add(entry, body)
        elif place.get("feature") == "temperature":
            for mark in (place["mark"], *(("master",) if place["mark"] == "scale" else ())):
                shown = degrees(mark, place["when"], place.get("round", 0))
                if shown is not None:
                    taken = [{**body["taken"][0], "value": shown}]
                    add(entry, {**body, "place": {**place, "mark": mark}, "taken": taken})
        elif entry.kind == "reading" and not body["by_eye"] and sighted_warm:
            pin = place["feature"] == "master pin"
            what = (STEEL, 6) if pin else (CARBIDE, 7)
            body["taken"] = [{**t, "value": expanded(t["value"], *what)} for t in body["taken"]]
            add(entry, body)
        else:
            add(entry, body)
    return found


def of(inspection: Inspection, characteristic: str) -> Result:
    found = inspection.result(characteristic)
    assert found is not None
    return found


LENGTHS = ("DC_1", "DC_2", "SDL", "chisel")


def test_a_tool_measured_in_a_warm_shop_has_the_sizes_it_has_at_20_degrees() -> None:
    cold = fold(worked.entries("I2"), I2_ID)
    warm = fold(entries(warmer), I2_ID)
    for name in LENGTHS:
        # First order leaves (11.5e-6 * 6)^2 of 20 mm; results are quantised to 1 nm.
        assert of(warm, name).value == pytest.approx(of(cold, name).value, abs=Decimal("0.000002"))
    for name in ("SIG", "lip_symmetry", "lip_height", "STA"):
        assert of(warm, name).values == of(cold, name).values
        assert CORRECTION not in of(warm, name).outcome.detail
    assert warm.verdict is cold.verdict


def test_the_correction_is_that_of_tool_and_scale_and_shows_in_the_budget() -> None:
    found = of(fold(entries(warmer), I2_ID), "SDL")
    length = float(found.value)
    expected = length * (float(GLASS) * 5 - float(CARBIDE) * 7) * 1e-3
    assert found.outcome.detail[CORRECTION] == pytest.approx(expected, rel=1e-4)
    rows = {c.name: c for c in found.budget.components}
    # PIN, half step and U of the thermometer are those of the shop file.
    assert rows["thermometer, calibration"].amount == pytest.approx(0.2)
    assert rows["temperature of the tool"].amount == pytest.approx(0.5)
    assert rows["expansion of the tool"].assumed


def test_the_bias_of_a_pin_is_that_of_its_length_as_warm_as_it_was() -> None:
    cold, warm = fold(worked.entries("I2"), I2_ID), fold(entries(warmer), I2_ID)
    for before, after in zip(cold.checks, warm.checks, strict=True):
        assert after.before == pytest.approx(before.before, abs=1e-3)
        assert after.drift == pytest.approx(before.drift, abs=1e-3)


def test_the_middle_of_the_readings_next_to_it_counts_and_how_far_they_lie_apart() -> None:
    def cooling(place: str, when: str, round_: int) -> str | None:
        if place == "tool" and round_ == 0:
            return {"before": "28.0", "after": "27.0"}[when]
        return warmer(place, when, round_)

    steady, found = (of(fold(entries(d), I2_ID), "DC_1") for d in (warmer, cooling))
    moved = next(c for c in found.budget.components if c.name == "temperature of the tool, moving")
    assert moved.amount == pytest.approx(0.5)
    assert not moved.common
    # Half a kelvin more is taken off.
    off = float(found.value) * float(CARBIDE) * 0.5e-6
    assert float(steady.value - found.value) == pytest.approx(off, abs=2e-6)


@pytest.mark.parametrize("gone", ["tool", "scale", "master"])
def test_a_missing_temperature_refuses_what_would_need_it(gone: str) -> None:
    def without(place: str, when: str, round_: int) -> str | None:
        return None if place == gone else warmer(place, when, round_)

    found = fold(entries(without), I2_ID)
    name = "PIN-10" if gone == "master" else f"the {gone}"
    one = of(found, "DC_1")
    assert one.verdict is Verdict.REFUSED
    assert f"the temperature of {name} is missing: not corrected" in one.judgement.reason
    # A length against no master doesn't need the pin's.
    step = of(found, "SDL")
    assert ("not corrected" in step.judgement.reason) is (gone != "master")
    assert "not corrected" not in of(found, "lip_height").judgement.reason


def test_a_tool_beyond_the_largest_step_is_refused_corrected_or_not() -> None:
    text = corrected().replace("largest_step = 10", "largest_step = 6")
    found = of(fold(entries(warmer, text=text), I2_ID), "DC_1")
    assert found.verdict is Verdict.REFUSED
    assert "the tool is at 27.0 °C" in found.judgement.reason


def test_only_temperatures_since_the_last_cut_and_before_the_next_count() -> None:
    """Job 1: flute 3 is ground again; the tool is warm then, and only flute 3 read warm."""
    text = (worked.FOLDER / "i1.toml").read_text(encoding="utf-8")
    more = 'where = ["air", "tool", "scale"]\nlargest_step = 10\ncorrect = true\n'
    more += "tool_expansion = 11\nscale_expansion = 8"
    kept = "\n".join(line for line in text.splitlines() if not line.startswith("correction ="))
    text = kept.replace('instrument = "TH-1"', f'instrument = "TH-1"\n{more}', 1)
    shop_text = (worked.FOLDER / "shop.toml").read_text(encoding="utf-8")
    shop = jobfile.parse_shop(
        shop_text.replace("largest_error = 30", "largest_error = 30\nexpansion = 11")
    )
    plan = jobfile.parse_job(text, shop).model_dump(mode="json", by_alias=True)

    def heated(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        place = body.get("place", {})
        if entry.kind == "job opened":
            body |= {"plan": plan, "shop": shop.model_dump(mode="json", by_alias=True)}
        if place.get("feature") == "temperature":
            tool = place["mark"] == "tool" and place["when"] != "before"
            body["taken"] = [{**body["taken"][0], "value": "25.0" if tool else "20.0"}]
        return body

    found = folded("I1", heated)
    off = {
        r.flute: r.outcome.detail[CORRECTION] for r in found.results if r.characteristic.id == "R"
    }
    assert off[1] == off[2] == off[4] == 0
    # 4.9 mm, 11 per million and kelvin, 5 K.
    assert off[3] == pytest.approx(-4.9 * 11 * 5 * 1e-3, rel=1e-2)


# -- job files ---------------------------------------------------------------


def mistakes(text: str, shop: str = "") -> list[str]:
    known = jobfile.parse_shop(shop) if shop else worked.shop()
    with pytest.raises(InputError) as caught:
        jobfile.parse_job(text, known, "job.toml")
    return [str(m) for m in caught.value.mistakes]


def line_of(text: str, wanted: str) -> int:
    return text.splitlines().index(wanted) + 1


def test_a_corrected_job_parses_and_comes_back_from_its_entry() -> None:
    job = jobfile.parse_job(corrected("tool_expansion_u = 0.3"), worked.shop())
    body = job.model_dump(mode="json", by_alias=True)
    assert type(job).model_validate(body) == job
    assert job.temperature.tool_expansion_u == Decimal("0.3")


def test_a_job_that_says_nothing_of_correction_and_drift_leaves_no_trace_of_them() -> None:
    body = worked.job("I2").model_dump(mode="json", by_alias=True)
    assert set(body["temperature"]) == {"instrument", "where", "largest_step"}
    assert "drift" not in body["job"]


@pytest.mark.parametrize(
    ("old", "new", "where", "words"),
    [
        ("tool_expansion = 5", "", "[temperature]", "expected tool_expansion = ..."),
        ("tool_expansion = 5", "tool_expansion = 0.000005", None, "millionths for 1 K"),
        ("tool_expansion = 5", "tool_expansion = 115", None, "0.01 to 50"),
        (
            "scale_expansion = 8",
            "scale_expansion = 8\nscale_expansion_u = 9",
            "[temperature]",
            "below it",
        ),
        ("correct = true", "correct = false", "[temperature]", "correct = true beside"),
        ("correct = true", "corect = true", None, "no such key"),
        (WHERE, WHERE.replace('"scale", ', ""), "[temperature]", "'scale' in where"),
        (WHERE, WHERE.replace(', "master"', ""), None, "'master' or 'PIN-10'"),
        ("[[tool]]", 'correction = "none"\n[[tool]]', 'correction = "none"', "the report says how"),
    ],
)
def test_a_correction_that_lacks_something_is_a_mistake_with_its_line(
    old: str, new: str, where: str | None, words: str
) -> None:
    text = corrected().replace(old, new, 1)
    said = mistakes(text)
    line = line_of(text, where or new.splitlines()[-1])
    assert any(s.startswith(f"job.toml:{line}: ") and words in s for s in said), said


@pytest.mark.parametrize(
    ("old", "new", "where", "words"),
    [
        (
            "half_step = 0.05\nexpanded = 0.2\n",
            "",
            'instrument = "TH-1"',
            "expanded = U in K of TH-1",
        ),
        (
            "value = 9.9996\nexpansion = 11.5\n",
            "value = 9.9996\n",
            'master = "PIN-10"',
            "expansion = ... of PIN-10",
        ),
        (
            '"temperature gradient" =',
            '"temperature grade" =',
            "correct = true",
            "temperature gradient",
        ),
    ],
)
def test_what_the_shop_file_lacks_for_a_correction_is_said_at_the_line_that_needs_it(
    old: str, new: str, where: str, words: str
) -> None:
    shop = (worked.FOLDER / "shop.toml").read_text(encoding="utf-8")
    assert old in shop
    text = corrected()
    said = mistakes(text, shop.replace(old, new, 1))
    assert any(s.startswith(f"job.toml:{line_of(text, where)}: ") and words in s for s in said), (
        said
    )


def test_a_caliper_whose_scale_is_of_unknown_make_is_said_at_the_feature_it_reads() -> None:
    text = (worked.FOLDER / "i1.toml").read_text(encoding="utf-8")
    kept = "\n".join(line for line in text.splitlines() if not line.startswith("correction ="))
    more = "correct = true\ntool_expansion = 11\nscale_expansion = 8"
    text = kept.replace('instrument = "TH-1"', f'instrument = "TH-1"\n{more}', 1)
    (said,) = mistakes(text)
    lines = text.splitlines()
    line = lines.index('instrument = "CA-1"', lines.index('id = "length"')) + 1
    assert said.startswith(f"job.toml:{line}: ")
    assert "expansion = ... of CA-1" in said


def test_a_drift_that_is_no_word_for_it_is_a_mistake_with_its_line() -> None:
    text = I2.replace("waiting_min = 15", 'waiting_min = 15\ndrift = "interpolate"', 1)
    (said,) = mistakes(text)
    line = line_of(text, 'drift = "interpolate"')
    assert said.startswith(f"job.toml:{line}: ")
    assert "'half in the budget' or 'interpolated'" in said


# -- drift -------------------------------------------------------------------


def drifting(
    number: str, change: Callable[[Entry, dict[str, Any]], None] | None = None
) -> Inspection:
    text = I2.replace("waiting_min = 15", 'waiting_min = 15\ndrift = "interpolated"', 1)
    plan = jobfile.parse_job(text, worked.shop()).model_dump(mode="json", by_alias=True)

    def asked(entry: Entry) -> dict[str, Any]:
        body = dict(entry.body)
        if entry.kind == "job opened":
            body["plan"] = plan
        if change:
            change(entry, body)
        return body

    return folded(number, asked)


def test_a_bias_between_the_checks_lies_between_them_by_time() -> None:
    usual, found = fold(worked.entries("I2"), I2_ID), drifting("I2")
    check = next(c for c in found.checks if c.feature == "master pin" and c.round == 0)
    assert check.before is not None
    assert check.drift is not None
    one = of(found, "DC_1")
    times = {
        when: [
            k.at.timestamp()
            for p, k in found.standing.items()
            if p.feature == name and p.when == when and p.round == 0
        ]
        for name, when in (("master pin", "before"), ("DC_1", ""), ("master pin", "after"))
    }
    t0, t, t1 = (sum(v) / len(v) for v in (times["before"], times[""], times["after"]))
    share = (t - t0) / (t1 - t0)
    assert 0 < share < 1
    bias = check.before + share * check.drift
    assert one.outcome.detail["bias_mm"] == pytest.approx(bias / 1000, abs=1e-9)
    assert float(of(usual, "DC_1").value - one.value) * 1000 == pytest.approx(
        share * check.drift, abs=2e-3
    )
    assert one.u < of(usual, "DC_1").u


def test_a_drift_beyond_its_limit_is_not_interpolated_but_suspect() -> None:
    def knocked(_: Entry, body: dict[str, Any]) -> None:
        place = body.get("place", {})
        if place.get("feature") == "master pin" and place.get("when") == "after":
            x = body["taken"][0]
            if place["mark"] == "greater":
                body["taken"] = [{**x, "value": "20.014"}, *body["taken"][1:]]

    one = of(drifting("I2", knocked), "DC_1")
    assert one.verdict is Verdict.REFUSED
    assert "drifted" in one.judgement.reason
    assert "check after" not in " ".join(c.name for c in one.budget.components)
