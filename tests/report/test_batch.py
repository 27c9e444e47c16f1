"""What a batch sheet says: each tool in one group, figures of the released, reports by name."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import timedelta
from decimal import ROUND_HALF_EVEN, Decimal
from functools import cache

import pytest

from inspect_rec.errors import LedgerError, ReportError
from inspect_rec.inspection import fold
from inspect_rec.ledger import Entry
from inspect_rec.report import batch, record, standing
from inspect_rec.report.batch_content import Sheet
from inspect_rec.report.batch_trend import tails
from inspect_rec.report.standing import State
from inspect_rec.store.sqlite import Draft
from tests import batches
from tests.batches import JOB, Ledger

COUNT = 12
HOW = {3: "not released", 5: "replaced", 6: "conceded", 8: "not released", 9: "undecided"}
HOW |= {10: "withdrawn", 11: ""}
NEITHER, OUTSIDE = 0.0035, 0.012
"""How much larger the radius is of a tool that isn't shown to conform, and of one that doesn't."""


def wear(n: int) -> float:
    return {6: NEITHER, 8: OUTSIDE}.get(n, batches.steady(n))


def decide(n: int) -> str:
    return HOW.get(n, "released")


@cache
def mixed() -> Ledger:
    """A batch in which everything happens once."""
    return Ledger(COUNT, wear, decide)


@cache
def said(language: str = "en") -> Sheet:
    return batch.of(tuple(mixed().entries), batches.header(mixed(), language))


def of(found: Ledger) -> Sheet:
    return batch.of(tuple(found.entries), batches.header(found))


def sentences(sheet: Sheet, mark: str) -> list[str]:
    return [each for each in sheet.exceptions.paragraphs if mark in each]


# -- counts --------------------------------------------------------------------------


def test_each_tool_is_counted_in_one_group_with_the_mark_of_its_own_verdict() -> None:
    assert [(c.number, c.word, c.verdict) for c in said().counts] == [
        ("6", "released", "conforms"),
        ("1", "under concession", "neither shown"),
        ("1", "not released", "conforms"),
        ("1", "not released", "does not conform"),
        ("1", "not decided", "conforms"),
        ("1", "withdrawn", "open"),
        ("1", "no report", "open"),
        ("1", "report replaced", "info"),
    ]
    tools = [int(c.number) for c in said().counts if c.verdict != "info"]
    assert sum(tools) == len(said().lines) == COUNT


def test_only_the_report_in_force_counts() -> None:
    (line,) = [line for line in said().lines if line.mark == "QF-0417"]
    assert (line.report, line.word) == ("A-0237", "released")
    named = {r.number: r for r in said().reports if r.mark == "QF-0417"}
    assert named["A-0236"].decision == "not released; replaced by A-0237"
    assert named["A-0237"].decision == "released"
    assert [r.in_force for r in named.values()] == [False, True]
    assert sentences(said(), "QF-0417") == [
        "QF-0417: A-0236 is replaced by A-0237 and counts no more."
    ]


def test_a_withdrawn_report_leaves_the_tool_without_figures() -> None:
    (line,) = [line for line in said().lines if line.mark == "QF-0422"]
    assert {cell.text for cell in line.cells} == {"–"}
    assert line.bar is None
    assert "wrong tool in the tube" in sentences(said(), "QF-0422")[0]
    assert not any(r.in_force for r in said().reports if r.mark == "QF-0422")


def test_what_is_not_released_is_said_with_its_reason_and_its_worst_result() -> None:
    (sentence,) = sentences(said(), "QF-0420")
    largest = by_hand(["QF-0420"])[0].quantize(Decimal("0.0001"), ROUND_HALF_EVEN)
    for part in (
        "A-0240",
        "not released",
        "Ball radius RE, flute 3",
        f"{largest} mm",
        "the radius",
    ):
        assert part in sentence
    assert "does not conform, and 3 more" in sentence


def test_a_concession_is_named_beside_what_it_covers() -> None:
    (sentence,) = sentences(said(), "QF-0418")
    for part in ("CON-7", "Ball radius RE", "neither shown"):
        assert part in sentence


def test_a_tool_touched_after_its_report_is_said_and_shown_as_it_was() -> None:
    found = Ledger(2)
    before = of(found).lines
    cut = {"inspection": f"{JOB}/QF-0412", "flute": 2, "infeed_mm": "0.010"}
    found.add(batches.DECIDED + timedelta(hours=2), "G-01", "ground again", cut)
    sheet = of(found)
    assert sheet.lines == before
    (sentence,) = sentences(sheet, "QF-0412")
    assert "something came to the tool after A-0231" in sentence


def test_a_batch_with_nothing_to_say_says_so() -> None:
    (only,) = of(Ledger(2)).exceptions.paragraphs
    assert only.startswith("Every tool is released")


# -- figures -------------------------------------------------------------------------


def by_hand(marks: Iterable[str]) -> list[Decimal]:
    """Largest radius of each tool, from a fold of its entries alone."""
    found = []
    for mark in marks:
        inspection = fold(mixed().of(f"{JOB}/{mark}"), f"{JOB}/{mark}")
        found.append(max(r.value for r in inspection.results if r.characteristic.id == "R"))
    return found


def rounded(value: Decimal) -> str:
    return str(value.quantize(Decimal("0.001"), ROUND_HALF_EVEN))


def test_largest_mean_and_smallest_are_those_of_the_released_and_no_others() -> None:
    released = [line.mark for line in said().lines if line.given_out]
    assert released == [f"QF-{n:04d}" for n in (412, 413, 414, 416, 417, 418, 419)]
    values = by_hand(released)
    (column,) = [c for c in said().columns if c.name == "R"]
    assert (column.largest, column.mean, column.smallest) == (
        rounded(max(values)),
        rounded(sum(values, Decimal(0)) / len(values)),
        rounded(min(values)),
    )
    outlier = rounded(by_hand(["QF-0420"])[0])
    shown = [line.cells[0].text for line in said().lines]
    assert outlier in shown
    assert outlier != column.largest
    assert said().summed[0] == "largest of the 7 released"


def test_the_mean_of_a_range_is_that_of_all_its_edges() -> None:
    (column,) = [c for c in said().columns if c.name == "α"]
    inspection = fold(mixed().of(f"{JOB}/QF-0412"), f"{JOB}/QF-0412")
    values = [r.value for r in inspection.results if r.characteristic.id == "clearance"]
    # Every tool of this batch has the same clearances.
    mean = (sum(values, Decimal(0)) / len(values)).quantize(Decimal("0.01"), ROUND_HALF_EVEN)
    assert column.mean == str(mean)
    low, high = (f"{v:.2f}" for v in (min(values), max(values)))
    assert (column.smallest, column.largest) == (low, high)
    assert said().lines[0].cells[-1].text == f"{low}–{high}"


def test_no_figure_is_made_of_one_released_tool() -> None:
    found = of(Ledger(3, decide=lambda n: "released" if n == 1 else "not released"))
    assert found.summed == ("", "", "")
    assert "need two released tools" in found.words["batch.too_few_released"]


def test_a_value_for_the_machine_stands_for_its_characteristic_and_a_multiple_for_nothing() -> None:
    assert [c.name for c in said().columns] == [
        "R",
        "L",
        "Variation of R",
        "Spread of the tips",
        "α",
    ]
    assert [c.offset for c in said().columns] == [True, True, False, False, False]


def test_a_cell_bears_the_verdict_of_its_own_characteristic() -> None:
    by_mark = {line.mark: line for line in said().lines}
    assert [cell.verdict for cell in by_mark["QF-0420"].cells][:2] == [
        "does not conform",
        "conforms",
    ]
    assert [cell.verdict for cell in by_mark["QF-0418"].cells][:2] == ["neither shown", "conforms"]
    assert by_mark["QF-0420"].word == "does not; not released"
    assert by_mark["QF-0412"].word == "released"


def test_limits_that_changed_within_a_job_are_not_stated_as_one() -> None:
    found = Ledger(2, decide=lambda n: "" if n else "released")
    plan = dict(found.entries[0].body["plan"])
    wider = [
        {**c, "upper": "4.911", "plus_minus": None} if c["id"] == "R" else c
        for c in plan["characteristic"]
    ]
    body = {**found.entries[0].body, "plan": {**plan, "characteristic": wider}}
    found.add(batches.DECIDED, "G-01", "job opened", body)
    for draft in batches.measured(1, "QF-0413", 0.0):
        found.add(*draft)
    found.report(f"{JOB}/QF-0413", batches.DECIDED + timedelta(hours=1), "released", "")
    sheet = of(found)
    (column,) = [c for c in sheet.columns if c.name == "R"]
    assert column.limits == "limits differ"
    assert sheet.axis[1:] == ("", "")
    assert [line.bar.upper for line in sheet.lines if line.bar] == [4.91, 4.911]


# -- wear ----------------------------------------------------------------------------


def test_the_trend_is_in_the_order_measured_and_breaks_where_it_must() -> None:
    points = said().trend.points
    assert [p.label for p in points] == [f"{n:04d}" for n in range(412, 422)]
    # QF-0415 and QF-0420 aren't released, QF-0421 isn't decided; dressed before QF-0419.
    assert [p.joined for p in points] == [
        False, True, True, False, False, True, True, False, False, False,
    ]  # fmt: skip
    assert [bool(p.dressed) for p in points] == [p.label == "0419" for p in points]
    assert "wheel dressed, 17 Nov 2026" in points[7].dressed
    assert [p.verdict for p in points][6:9] == ["neither shown", "conforms", "does not conform"]
    values = by_hand(f"QF-{p.label}" for p in points)
    assert [p.value for p in points] == [float(v) for v in values]


def test_a_tool_that_was_measured_later_stands_later() -> None:
    def two_days_later(e: Entry) -> Draft:
        first = e.body.get("inspection") == f"{JOB}/QF-0412" and e.at < batches.DECIDED
        return e.at + timedelta(days=2 * first), e.person, e.kind, e.body

    points = of(batches.rewritten(Ledger(3), two_days_later)).trend.points
    assert [p.label for p in points] == ["0413", "0414", "0412"]


def test_one_tool_makes_no_trend_and_the_sheet_says_so() -> None:
    sheet = of(Ledger(1))
    assert sheet.trend.points == ()
    assert "two measured tools" in sheet.trend.why_not
    assert sheet.heading == "1 tool, QM-D-118"


@pytest.mark.parametrize(
    ("marks", "expected"),
    [
        (["QF-0412", "QF-0419"], ["0412", "0419"]),
        (["A", "B"], ["A", "B"]),
        (["T1", "T10", "T2"], ["T1", "T10", "T2"]),
        (["X-1/A", "X-1/B"], ["A", "B"]),
        (["only"], ["only"]),
        (["lot 7-1", "lot 7-12"], ["1", "12"]),
    ],
)
def test_a_label_is_what_marks_differ_in(marks: list[str], expected: list[str]) -> None:
    assert tails(marks) == expected


# -- reports -------------------------------------------------------------------------


def test_every_report_is_named_with_the_digest_of_its_file_as_decided() -> None:
    signed = {
        e.body["number"]: e.body["digest"]
        for e in mixed().entries
        if e.kind == "signed" and e.body["role"] == "released by"
    }
    made = [e.body["number"] for e in mixed().entries if e.kind == "report made"]
    assert [r.number for r in said().reports] == made
    assert {r.number: r.digest for r in said().reports if r.digest} == signed
    assert [r.number for r in said().reports if not r.digest] == ["A-0241"]  # not decided
    lines = batch.digests(said().reports).decode().splitlines()
    assert lines == [f"{digest}  {number}.pdf" for number, digest in signed.items()]


# -- refused -------------------------------------------------------------------------


def test_a_sheet_before_any_decision_is_refused() -> None:
    with pytest.raises(ReportError, match="no report of job B1 is decided yet"):
        of(Ledger(2, decide=lambda n: "undecided"))


def test_a_job_that_nobody_opened_has_no_sheet() -> None:
    with pytest.raises(LedgerError, match="no entry opened the job B2"):
        batch.of(tuple(mixed().entries), replace(batches.header(mixed()), inspection="B2"))


def test_a_release_that_the_readings_do_not_bear_is_refused() -> None:
    with pytest.raises(ReportError, match="A-0231 was released for another reason"):
        of(Ledger(1, wear=lambda n: OUTSIDE))


def test_a_report_whose_readings_are_not_there_is_refused() -> None:
    found = Ledger(1)
    dropped = [e for e in found.entries if e.kind != "reading" or e.seq % 50]
    with pytest.raises(ReportError, match="readings of A-0231 can't be found again"):
        batch.of(tuple(dropped), batches.header(found))


def test_a_batch_too_large_for_a_file_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(batch, "LARGEST", 100_000)
    with pytest.raises(ReportError, match="too large for one sheet"):
        batches.sheet(mixed())


def test_another_layout_is_refused() -> None:
    head = replace(batches.header(mixed()), layout="batch-2")
    with pytest.raises(ReportError, match="layout"):
        batch.make(tuple(mixed().entries), head)


# -- the record ----------------------------------------------------------------------


def test_a_sheet_comes_back_from_its_record_and_a_reports_record_is_another() -> None:
    head, entries = batches.header(mixed()), tuple(mixed().entries)
    data = record.to_bytes(head, entries, batch.FORMAT)
    assert record.from_bytes(data, batch.FORMAT, batch.LARGEST) == (head, entries)
    with pytest.raises(ReportError, match="no record"):
        record.from_bytes(data)


def test_the_same_tool_stands_in_one_state() -> None:
    states = [s.state for s in standing.of(mixed().entries, JOB)]
    assert states == [
        *[State.RELEASED] * 3, State.NOT_RELEASED, State.RELEASED, State.RELEASED, State.CONCEDED,
        State.RELEASED, State.NOT_RELEASED, State.UNDECIDED, State.WITHDRAWN, State.NO_REPORT,
    ]  # fmt: skip
