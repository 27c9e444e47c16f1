"""The stated uncertainty holds on the simulated machine as often as it says; where not, it is said.

The figures of docs/coverage.md are measured on 10,000 tools; here some hundred check each method.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

import inspect_rec
from inspect_rec.compute.conformity import Verdict
from inspect_rec.errors import InputError
from inspect_rec.simulate import page
from inspect_rec.simulate.coverage import AT_LIMIT, LEVEL, Coverage, cases, coverage, least
from inspect_rec.simulate.machine import BUDGETS, NONE, ROUGH, errors

PAGE = Path(__file__).parents[2] / "docs" / "coverage.md"
TOOLS = 200
TRUSTED = [case for case in cases() if case not in page.reasons()]


def found(method: str, case: str = "", **more: float) -> Coverage:
    return coverage(method, case, errors(BUDGETS), TOOLS, "test", **more)


@pytest.mark.parametrize(("method", "case"), TRUSTED)
def test_an_uncertainty_covers_the_truth_as_often_as_it_states(method: str, case: str) -> None:
    of = found(method, case)
    assert of.covered >= least(len(of.values))
    assert of.at_limit(Verdict.CONFORMS) <= 1 - least(len(of.values), 1 - AT_LIMIT)


@pytest.mark.parametrize(
    ("method", "case"),
    [
        ("middle off the axis", ""),
        ("edge to axis", ""),
        ("width by two sightings", ""),
        ("height difference by indicator", ""),
        ("lip symmetry from the lips", ""),
    ],
)
def test_half_an_uncertainty_is_caught(method: str, case: str) -> None:
    of = found(method, case, of_u=0.5)
    assert of.covered < least(len(of.values))
    assert of.at_limit(Verdict.CONFORMS) > 2 * AT_LIMIT


def test_what_covers_less_with_rougher_errors_is_seen_to() -> None:
    rough = coverage("middle off the axis", "", errors(ROUGH), TOOLS, "test")
    assert rough.covered < least(TOOLS)
    assert rough.covered < found("middle off the axis").covered


def test_without_errors_all_is_covered_and_no_verdict_is_wrong() -> None:
    of = coverage("edge to axis", "", NONE, 100, "test")
    assert of.covered == 1
    assert of.rms < 1e-9
    assert of.at_limit(Verdict.CONFORMS) == of.at_limit(Verdict.DOES_NOT_CONFORM) == 0
    assert of.judged(inside=True, verdict=Verdict.DOES_NOT_CONFORM) == 0
    assert of.judged(inside=False, verdict=Verdict.CONFORMS) == 0
    # The guard band still is there: 2 g of a tolerance of 4 U = 8 u.
    shown = of.judged(inside=True, verdict=Verdict.NEITHER_SHOWN)
    assert shown == pytest.approx(2 * 1.645 / 8, abs=0.15)


def test_wrong_verdicts_stay_under_what_the_rule_promises_of_the_worst_tools() -> None:
    of = found("edge to axis")
    assert of.judged(inside=False, verdict=Verdict.CONFORMS) <= AT_LIMIT
    assert of.judged(inside=True, verdict=Verdict.DOES_NOT_CONFORM) <= AT_LIMIT


def test_chance_leaves_less_room_to_more_tools_and_is_the_binomial_one() -> None:
    """Of 300 with 95.45 % fewer than 271 are covered once in 10,000 times."""
    from scipy.stats import binom

    for n in (50, 300, 1000):
        k = round(least(n) * n)
        assert binom.cdf(k, n, LEVEL) >= 1e-4 > binom.cdf(k - 1, n, LEVEL)
    assert least(300) < least(3000) < least(30_000) < LEVEL


def test_a_method_or_a_tool_that_isnt_there_is_refused() -> None:
    with pytest.raises(InputError, match="no such method"):
        found("width by guess")
    with pytest.raises(InputError, match="no such known tool"):
        found("edge to axis", "of a spoon")


# The page


@cache
def rows(name: str) -> dict[tuple[str, str], tuple[str, ...]]:
    """Cells of the page's table under that heading, by method and tool."""
    return dict(page.rows(PAGE.read_text(encoding="utf-8"), name))


def task(method: str, case: str, name: str, tools: int, old: tuple[str, ...] = ()) -> page.Task:
    return page.Task(method, case, name, tools, page.SEED, old)


def test_the_page_has_a_line_for_every_known_tool_of_every_method() -> None:
    for name in (BUDGETS, ROUGH):
        assert list(rows(name)) == cases()
        assert all(len(cells) == len(page.COLUMNS) for cells in rows(name).values())
        for cells in rows(name).values():
            assert all(re.fullmatch(r"[+-]?\d+\.\d\d|nan", cell) for cell in cells[3:-1])


def test_the_page_says_version_seed_and_number_of_tools() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert f"Version {inspect_rec.__version__}, seed {page.SEED}, 10 000 known tools" in text


@pytest.mark.parametrize(("method", "case"), cases())
def test_the_page_is_what_the_program_does(method: str, case: str) -> None:
    """Of each line the first hundred tools; a line that differs has to be measured again."""
    for name in (BUDGETS, ROUGH):
        again = coverage(method, case, errors(name), page.FIRST, page.SEED)
        assert rows(name)[method, case][-1] == page.first(again)


def test_a_line_of_the_page_comes_out_the_same_again() -> None:
    """The quickest method, all 10,000 tools."""
    for name in (BUDGETS, ROUGH):
        again = page.one(task("length by caliper", "", name, page.TOOLS))
        assert again.cells == rows(name)["length by caliper", ""]


def test_a_line_stays_while_its_first_tools_do_and_is_measured_again_when_they_dont() -> None:
    new = page.one(task("length by caliper", "", BUDGETS, 200))
    marked = (*new.cells[:4], "12.34", *new.cells[5:])
    kept = page.one(task("length by caliper", "", BUDGETS, 200, marked))
    assert (kept.cells, kept.covered, kept.judged) == (marked, 0.1234, 200)
    changed = (*marked[:-1], "0; 1.0000; 2.0000")
    assert page.one(task("length by caliper", "", BUDGETS, 200, changed)) == new


def test_what_falls_short_on_the_page_has_its_reason_and_nothing_else_has() -> None:
    short = {
        key
        for key, cells in rows(BUDGETS).items()
        if page.is_short(float(cells[4]) / 100, round(page.TOOLS * (1 - float(cells[3]) / 100)))
    }
    assert short == set(page.reasons())
    over = {
        key
        for key, cells in rows(BUDGETS).items()
        if page.is_over(float(cells[8]) / 100, round(page.TOOLS * (1 - float(cells[3]) / 100)))
    }
    assert over == set(page.reasons("accepted"))
    text = PAGE.read_text(encoding="utf-8")
    said = [*page.reasons().values(), *page.reasons("accepted").values()]
    assert all(why in text for why in said)
    assert "not known yet" not in text


def test_a_small_page_is_made_whole_and_made_again_keeps_its_lines(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    some = [("length by caliper", ""), ("form of an arc", "")]
    monkeypatch.setattr(page, "cases", lambda: some)
    text = page.text(tools=1000, workers=1)
    assert text.count("| length by caliper | – | µm |") == 2
    assert text.count("| form of an arc |") == 3
    assert "sighting" in text.split(page.OFF_HEADING)[1]
    line = next(each for each in text.splitlines() if each.startswith("| length by caliper"))
    marked = text.replace(line, line.replace("| 0.00 |", "| 0.50 |", 1))
    marked = marked.replace("| sighting ", "| sighting, as it was ")
    assert marked != text
    assert page.text(tools=1000, workers=1, old=marked) == marked
    # A page of other tools is no page to keep lines of.
    assert page.text(tools=1000, seed="2", workers=1, old=marked) != marked
