"""Index angles that a method reads belong to the marks, whatever is repeated."""

from __future__ import annotations

from decimal import Decimal

from inspect_rec import jobfile
from inspect_rec.inspection.kept import Record, Round
from inspect_rec.inspection.sequence import Sequence
from tests import worked

LEAD = """
[[feature]]
id = "flute"
marks = ["10", "20", "30"]
index = [0, 12.5, 25]
repeats = 3

[[characteristic]]
id = "lead"
name = "lead"
nominal = 288
plus_minus = 3
method = "lead from travel and turn"
feature = { flute = "flute" }
with = { diameter_mm = 10, hand = "right", index_sense = "counter-clockwise" }
"""


def record(*rounds: Round) -> Record:
    text = (worked.FOLDER / "i3.toml").read_text(encoding="utf-8") + LEAD
    job = jobfile.parse_job(text, worked.shop(), "job.toml")
    return Record("I3/HC-9", job, worked.shop(), rounds=list(rounds))


def angles(found: Record, feature: str, round_: int) -> list[tuple[str, Decimal | None]]:
    steps = Sequence(found).steps()
    return [
        (s.place.mark, s.index_deg)
        for s in steps
        if s.place and s.place.feature == feature and s.place.round == round_
    ]


def test_a_flute_is_read_at_the_angle_of_each_mark_and_an_axis_at_that_of_each_repeat() -> None:
    each = [("10", Decimal(0)), ("20", Decimal("12.5")), ("30", Decimal(25))]
    assert angles(record(), "flute", 0) == 3 * each
    axis = angles(record(), "axis", 0)
    assert axis == [(m, Decimal(a)) for a in (0, 120, 240) for m in ("greater", "smaller")]


def test_a_flute_measured_again_more_often_keeps_its_angles() -> None:
    again = Round(1, ("lead", "radial_spread"), 2, "", "")
    found = record(again)
    assert [a for _, a in angles(found, "flute", 1)] == [0, Decimal("12.5"), 25] * 2
    feature = Sequence(found).feature("flute", 1)
    assert feature is not None
    assert len(feature.index) == len(feature.labels)
