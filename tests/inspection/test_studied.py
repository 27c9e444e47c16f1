"""A shop's own studies: when they replace what was assumed, and what is said until they do."""

from __future__ import annotations

import json
import math
from decimal import Decimal
from typing import Any

import pytest

from inspect_rec import jobfile, plan
from inspect_rec.errors import InputError
from inspect_rec.inspection import Inspection, fold, studied
from inspect_rec.ledger import Entry, Head, make
from tests import worked

SHOP = (worked.FOLDER / "shop.toml").read_text(encoding="utf-8")
PAIRS = [[10.000, 10.002], [10.001, 10.001], [9.999, 10.000], [10.003, 10.001]]
"""Four groups, 4 degrees of freedom: s^2 = (2 + 0 + 0.5 + 2) / 4 um^2, so s = 1.0607 um."""
S_UM = math.sqrt((2 + 0 + 0.5 + 2) / 4)
ENOUGH = PAIRS * 5
UNLIKE = [*PAIRS * 4, [10.000, 10.012], *PAIRS]


def table(
    groups: Any, influence: str = "crosshair", instrument: str = "", on: str = "2026-11-20"
) -> str:
    """A table of the shop file."""
    said = [f'influence = "{influence}"', f"on = {on}", 'by = "G-01"']
    if instrument:
        said.append(f'instrument = "{instrument}"')
    rows = "".join(f"    {json.dumps(group)},\n" for group in groups)
    return "\n".join(["", "[[study]]", *said, f"groups = [\n{rows}]", ""])


def shop(*tables: str) -> plan.ShopFile:
    return jobfile.parse_shop(SHOP + "".join(tables))


def mistakes(*tables: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        shop(*tables)
    return [str(m) for m in caught.value.mistakes]


def with_shop(number: str, found: plan.ShopFile) -> Inspection:
    """A worked job as it comes out of a shop with this file."""
    head, entries = Head("A", 0, "0" * 64), list[Entry]()
    for entry in worked.entries(number):
        body = dict(entry.body)
        if entry.kind == "job opened":
            body["shop"] = found.model_dump(mode="json", by_alias=True)
        new = make(head, entry.at, entry.person, entry.kind, body)
        entries.append(new)
        head = Head(new.station, new.seq, new.digest)
    return fold(entries, worked.inspection_id(number))


def test_pooled_s_and_its_degrees_of_freedom_come_from_the_groups() -> None:
    (found,) = studied.studies(shop(table(PAIRS))).values()
    assert found.pooled.dof == 4
    assert found.pooled.s * 1000 == pytest.approx(S_UM, rel=1e-9)
    assert found.s_um == Decimal("1.07")  # rounded up


def test_studies_of_one_influence_are_pooled_and_those_of_another_are_not() -> None:
    found = studied.studies(
        shop(
            table(PAIRS),
            table(PAIRS * 4, on="2026-12-01"),
            table(PAIRS, "repeat", "IN-1"),
            table(PAIRS, "repeat", "IN-2"),
        )
    )
    assert {name: s.pooled.dof for name, s in found.items()} == {
        "crosshair": 20,
        "repeat of IN-1": 4,
        "repeat of IN-2": 4,
    }
    assert str(found["crosshair"]) == (
        "own studies of 2026-11-20 and 2026-12-01: s = 1.07 µm, 20 groups, 20 degrees of freedom"
    )


def test_from_20_degrees_of_freedom_up_the_study_replaces_what_was_assumed() -> None:
    before, after = worked.shop(), with_shop("I2", shop(table(ENOUGH)))
    assert before.influence["crosshair"].assumed
    result = after.result("DC_2")
    assert result is not None
    rows = {row.name: row for row in result.budget.components}
    row = rows["crosshair on the tool"]
    assert (row.amount, row.dof, row.assumed) == (1.07, 20, False)
    assert row.note == "own study of 2026-11-20: s = 1.07 µm, 20 groups, 20 degrees of freedom"
    assert rows["backlash left over"].assumed
    assert result.budget.coverage_k == 2
    assert 20 < result.budget.dof < math.inf


def test_with_less_the_assumed_value_stays_and_the_row_says_what_is_missing() -> None:
    without = fold(worked.entries("I2"), worked.inspection_id("I2"))
    found = with_shop("I2", shop(table(PAIRS * 4 + PAIRS[:3])))
    for old, new in zip(without.results, found.results, strict=True):
        assert (old.U, old.k, old.dof, old.verdict) == (new.U, new.k, new.dof, new.verdict)
    row = found.results[0].budget.components[0]
    assert (row.amount, row.dof, row.assumed) == (1.5, math.inf, True)
    assert row.note == (
        "own study of 2026-11-20: s = 1.04 µm, 19 groups, 19 degrees of freedom; "
        "1 more needed before it counts"
    )


def test_few_degrees_of_freedom_count_at_once_where_the_assumed_value_is_too_small() -> None:
    """3.6 um with 4 degrees of freedom: 1.5 um would give so much once in 8000 studies."""
    coarse = [[round(10 + 3.4 * (x - 10), 4) for x in group] for group in PAIRS]
    found = with_shop("I2", shop(table(coarse))).result("DC_2")
    assert found is not None
    row = found.budget.components[0]
    assert (row.amount, row.dof, row.assumed) == (3.61, 4, False)
    assert row.note.endswith("16 more needed before it counts, yet 1.5 µm is too small")
    assert found.k > 2


def test_the_degrees_of_freedom_of_a_study_are_not_lent_twice() -> None:
    """Tool and pin rest on one study: with it alone the budget has its degrees of freedom."""
    found = with_shop("I2", shop(table(ENOUGH))).result("DC_2")
    assert found is not None
    own = [row for row in found.budget.components if row.study]
    assert len(own) == 2
    share = sum(row.u**2 for row in own) / found.budget.u**2
    assert found.budget.dof == pytest.approx(20 / share**2)


def test_groups_that_scatter_unlike_do_not_count_and_the_reason_is_said() -> None:
    (found,) = studied.studies(shop(table(UNLIKE))).values()
    assert found.pooled.enough
    assert not found.counts
    assert len(found.pooled.outliers) == 2  # both of the pair, and both are in s
    assert found.s_um > Decimal("1.5")
    assert any(
        "group 17, reading 1 (10.0000) stands out by -6.0 µm; it is kept" in said
        for said in found.advice
    )
    assert any(
        "scatter unlike (Cochran" in said and "give it a study of its own" in said
        for said in found.advice
    )


def test_unlike_groups_that_scatter_less_than_assumed_leave_it_as_it_is() -> None:
    small = [[round(10 + 0.4 * (x - 10), 4) for x in group] for group in UNLIKE]
    (found,) = studied.studies(shop(table(small))).values()
    known = found.of(worked.shop().influence["crosshair"])
    assert (known.amount, known.assumed, known.dof) == (Decimal("1.5"), True, math.inf)
    assert "scatter unlike" in known.note


def test_unlike_groups_that_scatter_more_than_assumed_are_no_reason_to_say_less() -> None:
    large = [[round(10 + 4 * (x - 10), 4) for x in group] for group in UNLIKE]
    (found,) = studied.studies(shop(table(large))).values()
    known = found.of(worked.shop().influence["crosshair"])
    assert known.amount == found.s_um > 4
    assert "so it doesn't count, yet 1.5 µm is too small" in known.note


def test_what_a_job_states_for_itself_goes_before_the_shops_study() -> None:
    job = worked.job("I2")
    own = plan.Influence(amount=Decimal(4))
    job = job.model_copy(update={"influence": {"crosshair": own}})
    assert studied.influences(shop(table(ENOUGH)), job)["crosshair"] is own


def test_an_instrument_is_known_by_a_study_of_its_own() -> None:
    found = with_shop("I2", shop(table(ENOUGH, "repeat", "IN-2"))).result("lip_height")
    assert found is not None
    (row,) = [row for row in found.budget.components if row.of_reading == "repeat"]
    assert (row.amount, row.dof, row.study) == (1.07, 20, "repeat of IN-2")


def test_an_instrument_without_a_stated_repeat_lives_on_few_degrees_of_freedom() -> None:
    found = shop(table(PAIRS, "repeat", "IN-1"))
    bare = [e.model_copy(update={"repeat": None}) for e in found.equipment]
    known = studied.known(found.model_copy(update={"equipment": tuple(bare)}))["repeat of IN-1"]
    assert (known.amount, known.dof) == (Decimal("1.07"), 4)


# -- the shop file -------------------------------------------------------------------


def test_a_shop_file_without_studies_is_kept_as_ever() -> None:
    assert "study" not in worked.shop().model_dump(mode="json", by_alias=True)


def test_a_study_survives_the_way_through_an_entry() -> None:
    found = shop(table(PAIRS), table(PAIRS, "repeat", "IN-1"))
    again = plan.ShopFile.model_validate(found.model_dump(mode="json", by_alias=True))
    assert again == found
    assert studied.studies(again) == studied.studies(found)


def test_all_mistakes_of_studies_are_said_at_once_with_their_lines() -> None:
    text = SHOP + table([[1.0, 2.5], [1.0]], "scale") + table(PAIRS, "repeat")
    text = text.replace('by = "G-01"', 'by = "Marten Oakes"', 1)
    with pytest.raises(InputError) as caught:
        jobfile.parse_shop(text)
    found = [str(m) for m in caught.value.mistakes]
    lines = text.splitlines()

    def at(part: str) -> str:
        return f"shop.toml:{next(n for n, line in enumerate(lines, 1) if part in line)}:"

    for where, words in (
        (at('influence = "scale"'), "'crosshair', 'laying-up'"),
        (at("Marten Oakes"), "ids of persons, such as G-01"),
        (at("groups = ["), "these lie 1.5 apart"),
        (at("groups = ["), "2 readings or more"),
        (f"shop.toml:{len(lines) - 9}:", "and only there"),
    ):
        assert any(m.startswith(where) and words in m for m in found), (where, words, found)
    assert len(found) == 5


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (table(PAIRS, "repeat", "IN-9"), "equipment of the shop file, found 'IN-9'"),
        (table(PAIRS, "laying-up on the screen"), "an influence of this file"),
        (table([[1.0, 1.0], [2.0, 2.0]]), "readings that scatter"),
        (table(PAIRS, "crosshair", "IN-1"), "and only there"),
        (table([]), "at least 1 item"),
    ],
)
def test_a_study_of_nothing_is_a_mistake(given: str, words: str) -> None:
    text = SHOP.replace('"laying-up on the screen" = { amount = 100, assumed = true }\n', "")
    with pytest.raises(InputError) as caught:
        jobfile.parse_shop(text + given)
    (found,) = (str(m) for m in caught.value.mistakes)
    assert words in found


def test_readings_that_never_differ_may_stand_beside_others_that_do() -> None:
    (found,) = studied.studies(shop(table([[1.0, 1.0]]), table(PAIRS))).values()
    assert found.pooled.dof == 5
