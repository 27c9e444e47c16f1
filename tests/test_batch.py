"""Handing over a whole job: one number a report and none left out, whatever happens on the way."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from inspect_rec import release
from inspect_rec.config import Folder
from inspect_rec.errors import LedgerError, PersonError, ReportError
from inspect_rec.release import batch
from inspect_rec.release.batch import Left
from inspect_rec.release.handing import HandedOver, sign
from inspect_rec.report import drawing
from inspect_rec.report.make import make
from inspect_rec.report.verify import verify
from inspect_rec.store import Store
from tests import batches, signing

AT = datetime(2026, 11, 24, 8, 0, tzinfo=UTC)
COUNT, DONE = 5, 4
"""Tools of the job, and how many of them are measured."""


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return batches.shop(tmp_path_factory.mktemp("batch"), COUNT, done=DONE).path


class Bench:
    """A shop's folder with a job whose tools are measured, all but the last."""

    def __init__(self, folder: Folder, store: Store) -> None:
        self.folder, self.store = folder, store
        self.now = batches.clock(AT)

    def to_do(self) -> tuple[str, ...]:
        return batch.survey(self.store, self.folder, batches.JOB).to_do

    def hand_over(self, workers: int = 0, **more: Any) -> list[HandedOver | Left]:
        given: dict[str, Any] = {"who": signing.who(signing.GRINDER), "now": self.now} | more
        return list(
            batch.hand_over_all(self.store, self.folder, self.to_do(), workers=workers, **given)
        )

    def made(self) -> dict[str, str]:
        """Number to tool, as the ledger says."""
        entries = self.store.entries(kinds=("report made",))
        return {e.body["number"]: e.body["inspection"] for e in entries}


@pytest.fixture
def bench(measured: Path, tmp_path: Path) -> Iterator[Bench]:
    shutil.copytree(measured, tmp_path / "shop")
    here = Folder(tmp_path / "shop")
    with Store.open(here.ledger) as store:
        yield Bench(here, store)


IN_ORDER = {f"A-{231 + n:04d}": i for n, i in enumerate(batches.inspections(DONE))}


def check_reports(bench: Bench) -> None:
    """Each report is the one of its tool and genuine; only its release is still to come."""
    root, later = signing.shop().certificate, AT + timedelta(hours=1)
    for number, inspection in bench.made().items():
        said = verify(bench.folder.report(number).read_bytes(), [root], later)
        assert [f.code.value for f in said.findings] == ["signature missing"]
        assert said.header is not None
        assert (said.header.number, said.header.inspection) == (number, inspection)


@contextmanager
def drawn_ahead(_workers: int) -> Iterator[tuple[batch.Drawing, int]]:
    """Three reports under way at once, drawn in this process as soon as they are asked for."""

    def draw(found: Any) -> batch.Drawn:
        try:
            rendered = drawing.draw(*batch._parts(found))
        except ReportError as error:
            raised = error

            def refuse() -> Any:
                raise raised

            return refuse
        return lambda: rendered

    yield draw, 3


@pytest.fixture
def ahead(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(batch, "_drawing", drawn_ahead)


def test_every_measured_tool_gets_its_report_in_the_order_of_the_job(bench: Bench) -> None:
    found = bench.hand_over()
    assert bench.made() == IN_ORDER
    assert [f.number for f in found if isinstance(f, HandedOver)] == list(IN_ORDER)
    (left,) = [f for f in found if isinstance(f, Left)]
    assert left.inspection == batches.inspections(COUNT)[-1]
    assert "isn't measured to its end" in left.why
    check_reports(bench)


def test_two_processes_make_the_same_batch(bench: Bench) -> None:
    bench.hand_over(workers=2)
    assert bench.made() == IN_ORDER
    check_reports(bench)


def test_what_is_handed_over_is_not_handed_over_again(bench: Bench) -> None:
    bench.hand_over()
    before = bench.store.head()
    assert bench.to_do() == tuple(batches.inspections(COUNT)[DONE:])
    assert all(isinstance(f, Left) for f in bench.hand_over())
    assert bench.store.head() == before


def test_a_job_that_nobody_opened_is_said(bench: Bench) -> None:
    with pytest.raises(LedgerError, match="no entry opened the job B2"):
        batch.survey(bench.store, bench.folder, "B2")


def test_a_role_is_needed(bench: Bench) -> None:
    with pytest.raises(PersonError, match="measures"):
        bench.hand_over(who=signing.who(signing.INSPECTOR))
    assert bench.made() == {}


def test_an_amendment_wants_its_reason_and_is_left_to_a_person(bench: Bench) -> None:
    bench.hand_over()
    who = signing.who(signing.INSPECTOR)
    later = AT + timedelta(hours=1)
    release.release(bench.store, bench.folder, "A-0231", who, "not released", "seen", later)
    tool = IN_ORDER["A-0231"]
    bench.store.append(later, "G-01", "received", {"inspection": tool, "state": "seen again"})
    left = {f.inspection: f.why for f in bench.hand_over() if isinstance(f, Left)}
    assert "this report amends A-0231" in left[tool]
    assert len(bench.made()) == DONE


# -- numbers -------------------------------------------------------------------------


def test_a_report_that_cannot_be_drawn_costs_no_number(
    bench: Bench, ahead: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain, spoilt = make, batches.inspections(DONE)[1]

    def spoils(entries: Any, header: Any, documents: Any) -> Any:
        if header.inspection == spoilt:
            raise ReportError("no font of the report has this sign")
        return plain(entries, header, documents)

    monkeypatch.setattr(drawing, "make", spoils)
    found = bench.hand_over()
    left = {f.inspection: f.why for f in found if isinstance(f, Left)}
    assert "no font" in left[spoilt]
    rest = [i for i in batches.inspections(DONE) if i != spoilt]
    assert bench.made() == dict(zip(["A-0231", "A-0232", "A-0233"], rest, strict=True))


def test_a_number_that_another_program_takes_is_not_used_twice(
    bench: Bench, ahead: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain, taken = sign, iter(["", "A-0232", "", "A-0234"])

    def slow(*given: Any) -> Any:
        with Store.open(bench.folder.ledger) as other:
            if number := next(taken, ""):
                other.append(AT, "Q-01", "number given", {"number": number, "why": "by hand"})
        return plain(*given)

    monkeypatch.setattr(batch, "sign", slow)
    bench.hand_over()
    numbers = ["A-0231", "A-0233", "A-0235", "A-0236"]
    assert bench.made() == dict(zip(numbers, batches.inspections(DONE), strict=True))
    every = [f"A-{n:04d}" for n in range(231, 237)]
    assert sorted(batches.numbers(bench.store)) == every
    check_reports(bench)


# -- stopped -------------------------------------------------------------------------


def test_it_stops_between_two_reports_and_goes_on(bench: Bench, ahead: None) -> None:
    asked = iter([False, False, True])
    bench.hand_over(stopped=lambda: next(asked))
    assert list(bench.made()) == ["A-0231", "A-0232"]
    bench.hand_over()
    assert bench.made() == IN_ORDER
    check_reports(bench)


def test_a_tool_that_another_program_hands_over_meanwhile_gets_one_report(
    bench: Bench, ahead: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second, *_ = batches.inspections(DONE)
    grinder = signing.who(signing.GRINDER)

    def meanwhile(*args: Any) -> HandedOver:
        monkeypatch.setattr(batch, "sign", sign)
        with Store.open(bench.folder.ledger) as other:
            release.hand_over(other, bench.folder, second, grinder, AT)
        return sign(*args)

    monkeypatch.setattr(batch, "sign", meanwhile)
    left = [f for f in bench.hand_over() if isinstance(f, Left)]
    assert [each.inspection for each in left] == [second, batches.inspections(COUNT)[-1]]
    assert "another program was faster" in left[0].why
    made = bench.made()
    assert list(made) == list(IN_ORDER)
    assert list(made.values())[:2] == [second, first]
    assert sorted(made.values()) == sorted(IN_ORDER.values())
    check_reports(bench)
    assert not list(bench.folder.reports.glob(".*"))


class Stopped(BaseException):
    """The machine went off."""


@pytest.mark.parametrize("when", ["before the entries", "after the entries"])
def test_a_stop_between_file_and_entries_neither_uses_a_number_twice_nor_skips_it(
    bench: Bench, ahead: None, monkeypatch: pytest.MonkeyPatch, when: str
) -> None:
    plain, left = Store.append_all, 2

    def stops(store: Store, drafts: Any) -> Any:
        nonlocal left
        left -= 1
        if left or when == "after the entries":
            plain(store, drafts)
        if not left:
            raise Stopped

    with monkeypatch.context() as patch:
        patch.setattr(Store, "append_all", stops)
        with pytest.raises(Stopped):
            bench.hand_over()
    there = {p.name for p in bench.folder.reports.glob("A-*.pdf")}
    assert there == {"A-0231.pdf"}
    bench.hand_over()
    assert bench.made() == IN_ORDER
    assert {p.stem for p in bench.folder.reports.glob("A-*.pdf")} == set(IN_ORDER)


def test_the_ledger_is_copied_once_at_the_end_and_after_a_stop(
    bench: Bench, tmp_path: Path
) -> None:
    bench.folder.station.write_text('copies = "../copies"\n', encoding="utf-8")
    asked = iter([False, False, True])
    bench.hand_over(stopped=lambda: next(asked))
    copies = list((tmp_path / "copies").iterdir())
    assert len(copies) == 1
    with Store.open(copies[0]) as copy:
        assert copy.head() == bench.store.head()
