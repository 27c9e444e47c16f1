"""Earlier reports of a tool: found by its mark, named on the next, held against the ledger."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from inspect_rec import cli, ledger, release
from inspect_rec.cli.verifying import against_store
from inspect_rec.config import Folder, Name
from inspect_rec.errors import LedgerError
from inspect_rec.inspection import fold, history
from inspect_rec.inspection.history import Earlier
from inspect_rec.release.conceding import withdraw
from inspect_rec.report import earlier, living, make, pdf, record
from inspect_rec.report.finding import Code
from inspect_rec.report.verify import verify
from inspect_rec.store import Store
from report_templates import words as report_words
from tests import signing, worked

ROOT = signing.shop().certificate
MARK = "QF-0417"
LENGTHS = {"S1": ("98.90", "98.45"), "S2": ("98.35", "97.95"), "S3": ("97.40", "97.05")}
"""Job: length on arrival and after the sharpening; 0.10 and 0.55 wore off in between."""
AT = {"S1": datetime(2026, 3, 2, tzinfo=UTC), "S2": datetime(2026, 7, 6, tzinfo=UTC),
      "S3": datetime(2026, 11, 17, tzinfo=UTC)}  # fmt: skip


class Bench:
    """A shop that sharpened one tool several times."""

    def __init__(self, folder: Folder, store: Store) -> None:
        self.folder, self.store = folder, store

    def open(self, number: str, customer: str = "", kind: str = "", mark: str = MARK) -> str:
        """Job I1 under another number."""
        plan = worked.job("I1")
        tool, nth = plan.tool[0], sorted(LENGTHS).index(number[:2]) + 1
        life = tool.life.model_copy(update={"sharpening": nth}) if tool.life else None
        tool = tool.model_copy(update={"life": life, "mark": mark, "kind": kind or tool.kind})
        head = {"number": number, "customer": customer or plan.job.customer}
        job = plan.model_copy(update={"job": plan.job.model_copy(update=head), "tool": (tool,)})
        (id_,) = release.open_job(self.store, self.folder, job, "G-01", AT[number[:2]])
        return id_

    def measure(self, number: str, **other: str) -> str:
        """The same, measured, with its own lengths."""
        id_, at = self.open(number, **other), AT[number[:2]]
        first, *rest = worked.entries("I1", signing.UPTO["I1"])
        acts = [(at + (e.at - first.at), e.person, e.kind, self._body(e, id_)) for e in rest]
        self.store.append_all(acts)
        return id_

    @staticmethod
    def _body(entry: ledger.Entry, id_: str) -> dict[str, Any]:
        body: dict[str, Any] = {**entry.body, "inspection": id_}
        which = {"length on arrival": 0, "length": 1}.get(body.get("place", {}).get("feature", ""))
        if which is not None:
            value = LENGTHS[id_[:2]][which]
            body["taken"] = [{**taken, "value": value} for taken in body["taken"]]
        return body

    def hand_over(self, id_: str, days: int = 3) -> str:
        at = AT[id_[:2]] + timedelta(days=days)
        who = signing.who(signing.GRINDER)
        return release.hand_over(self.store, self.folder, id_, who, at).number

    def report(self, number: str, **other: str) -> Path:
        """A tool measured, handed over and released."""
        id_ = self.measure(number, **other)
        handed = self.hand_over(id_)
        at, who = AT[number[:2]] + timedelta(days=4), signing.who(signing.INSPECTOR)
        return release.release(self.store, self.folder, handed, who, "released", "", at)

    def found(self, id_: str) -> tuple[Earlier, ...]:
        found = fold(self.store.entries(id_), id_)
        return earlier.of(found, self.store.inspections(), self.store.entries)


def opened(path: Path) -> Folder:
    here = Folder(path)
    here.path.mkdir()
    shutil.copyfile(worked.FOLDER / "shop.toml", here.shop)
    for person in (signing.GRINDER, signing.INSPECTOR):
        here.name_person(person.id, Name(person.name, tuple(person.roles)))
    return here


@pytest.fixture(scope="module")
def twice(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop that sharpened the tool twice, and measured it once more."""
    here = opened(tmp_path_factory.mktemp("twice") / "shop")
    with Store.create(here.ledger, "A", "A-0231") as store:
        bench = Bench(here, store)
        bench.report("S1")
        bench.report("S2")
        bench.measure("S3")
        store.settle()
    return here.path


@pytest.fixture
def bench(twice: Path, tmp_path: Path) -> Iterator[Bench]:
    shutil.copytree(twice, tmp_path / "shop")
    here = Folder(tmp_path / "shop")
    with Store.open(here.ledger) as store:
        yield Bench(here, store)


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Bench]:
    here = opened(tmp_path / "shop")
    with Store.create(here.ledger, "A", "A-0231") as store:
        yield Bench(here, store)


def words(data: bytes) -> str:
    return re.sub(r"\s+", " ", " ".join(" ".join(page) for page in pdf.text_of(data)))


# -- found ---------------------------------------------------------------------------


def test_earlier_reports_are_found_with_what_they_say_oldest_first(bench: Bench) -> None:
    first, second = bench.found("S3/QF-0417")
    assert (first.number, second.number) == ("A-0231", "A-0232")
    assert first.issued == date(2026, 3, 5)
    assert first.state == "released"
    values = {label: str(value) for label, value in first.values}
    assert values == {"R": "4.905", "D": "9.810", "L": "98.45"}
    assert (first.sharpening, first.length, first.removed) == (1, Decimal("98.45"), Decimal("0.45"))
    assert (second.length, second.removed) == (Decimal("97.95"), Decimal("0.40"))
    file = bench.folder.report("A-0231").read_bytes()
    assert first.digest == hashlib.sha256(file).hexdigest()


def test_a_first_report_has_none_before_it(bench: Bench) -> None:
    assert bench.found("S1/QF-0417") == ()
    assert len(bench.found("S2/QF-0417")) == 1


@pytest.mark.parametrize(
    "other",
    [{"customer": "Somebody Else"}, {"kind": "end mill"}, {"mark": "XQF-0417"}],
    ids=["customer", "kind", "mark"],
)
def test_another_customers_another_kinds_or_another_marks_tool_is_none(
    empty: Bench, other: Mapping[str, str]
) -> None:
    empty.report("S1", **other)
    assert empty.found(empty.measure("S2")) == ()


def test_one_that_nobody_decided_or_that_was_withdrawn_is_none(empty: Bench) -> None:
    empty.hand_over(empty.measure("S1"))
    empty.report("S2")
    withdraw(empty.store, "A-0232", "Q-01", AT["S2"] + timedelta(days=9), "wrong tool in the tube")
    assert empty.found(empty.measure("S3")) == ()


def test_one_that_was_replaced_counts_as_the_one_that_replaces_it(empty: Bench) -> None:
    empty.report("S1")
    body = {"inspection": "S1/QF-0417", "state": "seen again"}
    empty.store.append(AT["S1"] + timedelta(days=5), "G-01", "received", body)
    at, who = AT["S1"] + timedelta(days=6), signing.who(signing.GRINDER)
    again = release.hand_over(empty.store, empty.folder, "S1/QF-0417", who, at, "seen again")
    inspector = signing.who(signing.INSPECTOR)
    release.release(empty.store, empty.folder, again.number, inspector, "released", "", at)
    (found,) = empty.found(empty.measure("S2"))
    assert found.number == "A-0232"


def test_the_grinder_is_told_of_them_when_the_tool_comes_back(bench: Bench) -> None:
    shop = ("--shop", str(bench.folder.path))
    came = ["receive", "S3/QF-0417", "--state", "worn", "--person", "G-01", *shop]
    said = CliRunner().invoke(cli.app, came).stdout
    assert said.splitlines()[1:] == [
        "  earlier: A-0232 of 9 Jul 2026, released: R 4.905; D 9.810; L 97.95; length",
        "    97.95, 0.4 taken off",
        "  earlier: A-0231 of 5 Mar 2026, released: R 4.905; D 9.810; L 98.45; length",
        "    98.45, 0.45 taken off",
    ]
    assert (
        "earlier: A-0232 of" in CliRunner().invoke(cli.app, ["state", "S3/QF-0417", *shop]).stdout
    )
    told = CliRunner().invoke(cli.app, ["state", "S3/QF-0417", "--json", *shop]).stdout
    assert [each["number"] for each in json.loads(told)["earlier"]] == ["A-0231", "A-0232"]


def test_a_tool_that_isnt_measured_yet_has_them_too(empty: Bench) -> None:
    empty.report("S1")
    id_ = empty.open("S2")
    assert [each.number for each in empty.found(id_)] == ["A-0231"]


# -- on the report -------------------------------------------------------------------


@pytest.fixture(scope="module")
def third(twice: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Folder, bytes]:
    """The third report, released."""
    shutil.copytree(twice, tmp_path_factory.mktemp("third") / "shop", dirs_exist_ok=True)
    here = Folder(tmp_path_factory.getbasetemp() / "third0" / "shop")
    with Store.open(here.ledger) as store:
        bench = Bench(here, store)
        number = bench.hand_over("S3/QF-0417")
        at, who = AT["S3"] + timedelta(days=4), signing.who(signing.INSPECTOR)
        path = release.release(store, here, number, who, "released", "", at)
        store.settle()
    return here, path.read_bytes()


def test_the_report_names_them_with_their_values_and_digests(third: tuple[Folder, bytes]) -> None:
    here, data = third
    said = words(data)
    assert "Earlier reports Issued Decision R D L Sharpening Length Taken off" in said
    assert "A-0231 5 Mar 2026 released 4.905 9.810 98.45 1st 98.45 0.45" in said
    assert "A-0232 9 Jul 2026 released 4.905 9.810 97.95 2nd 97.95 0.40" in said
    assert "A-0233 20 Nov 2026 this report 4.905 9.810 97.05 3rd 97.05 0.35" in said
    for number in ("A-0231", "A-0232"):
        with Store.open(here.ledger) as store:
            entries = store.entries(kinds=("signed",))
            last = [e.body["digest"] for e in entries if e.body["number"] == number][-1]
        assert f"{number} {last[:16]}…" in said


def test_the_forecast_has_a_range_by_what_sharpenings_took_so_far(
    third: tuple[Folder, bytes],
) -> None:
    """0.35 this time; 98.45 to 97.95 and 97.95 to 97.05 took 0.50 and 0.90 with the wear between:
    of 1.02 mm to the accepted length 96.033 that is 2, and 1 by the most of it."""
    said = words(third[1])
    assert "1.05 mm left, 1–2 at 0.35–0.90 mm" in said
    assert "sharpenings took 0.35–0.90 mm of the length so far" in said
    assert "98.45" in said


def test_it_verifies_alone_and_against_the_ledger(third: tuple[Folder, bytes]) -> None:
    here, data = third
    found = verify(data, [ROOT], signing.NOW)
    assert found.ok, found.findings
    assert against_store(found, here.ledger).ok


def test_a_ledger_that_tells_otherwise_of_an_earlier_report_is_a_finding(
    third: tuple[Folder, bytes],
) -> None:
    here, data = third
    found = verify(data, [ROOT], signing.NOW)
    assert found.header is not None
    one, other = found.header.earlier
    forged = replace(
        found.header,
        earlier=(replace(one, digest="0" * 64), replace(other, number="A-0999")),
    )
    told = against_store(replace(found, header=forged), here.ledger)
    assert [(f.code, f.expected, f.found) for f in told.findings] == [
        (Code.STORE, f"A-0231 with SHA-256 {'0' * 16}…", "another"),
        (Code.STORE, f"A-0999 with SHA-256 {other.digest[:16]}…", "no such report"),
    ]


def test_a_first_report_says_that_the_forecast_rests_on_it_alone() -> None:
    said = words(signing.made("I1").rendered.pdf)
    assert "The forecast rests on this sharpening alone." in said
    assert "Earlier reports" not in said


def test_german_says_it_in_german(third: tuple[Folder, bytes]) -> None:
    found = verify(third[1], [ROOT], signing.NOW)
    assert found.header is not None
    made = make.make(found.entries, replace(found.header, language="de"))
    said = words(made.rendered.pdf)
    assert "Frühere Berichte" in said
    assert "A-0231 05.03.2026 freigegeben 4,905 9,810 98,45 1. 98,45 0,45" in said
    assert "noch 1,05 mm, 1–2 je 0,35–0,90 mm" in said


@pytest.mark.parametrize("life", [True, False])
@pytest.mark.parametrize("labels", ["", "R", "RDLABC"])
def test_columns_stay_beside_one_another_whatever_a_report_tells(
    labels: str, *, life: bool
) -> None:
    values = tuple((label, Decimal("4.905")) for label in labels)
    length = Decimal("98.45") if life else None
    told = replace(ONE, values=values, length=length, sharpening=None)
    header = replace(signing.header("I1", worked.entries("I1", 114)), earlier=(told,))
    table = living.table(signing.made("I1").inspection, header, report_words("en"))
    assert table is not None
    assert len(table.columns) == len(table.heads) == len(table.rows[0]) == len(table.rows[1])
    assert all(b - a >= 12 for a, b in pairwise((*table.columns, 176)))


# -- the record ----------------------------------------------------------------------


R = (("R", Decimal("4.905")),)
ONE = Earlier("A-0231", date(2026, 3, 5), "a" * 64, "released", R, 1, Decimal("98.45"))


def test_an_earlier_report_comes_back_from_the_record() -> None:
    assert Earlier.of(ONE.body()) == ONE
    bare = Earlier("A-0231", date(2026, 3, 5), "a" * 64, "not released")
    assert Earlier.of(bare.body()) == bare
    assert "length_mm" not in bare.body()


@pytest.mark.parametrize(
    "change",
    [
        {"digest": "A" * 64},
        {"digest": "a" * 63},
        {"number": 231},
        {"number": "A\n0231"},
        {"issued": "5 Mar 2026"},
        {"values": [["R", "NaN"]]},
        {"values": [["R", "1e9"]]},
        {"values": [["R", 4.905]]},
        {"length_mm": "Infinity"},
        {"sharpening": "first"},
        {"more": 1},
    ],
)
def test_what_isnt_one_is_refused(change: Mapping[str, Any]) -> None:
    with pytest.raises(LedgerError, match="no earlier report"):
        Earlier.of({**ONE.body(), **change})


def test_a_report_without_them_has_no_word_of_them_in_its_record() -> None:
    files = pdf.attachments(signing.made("I1").rendered.pdf, record.LARGEST)
    assert "earlier" not in json.loads(files[record.RECORD])


# -- the forecast --------------------------------------------------------------------


def left(sharpening: int, earlier_mm: tuple[str, ...] = ()) -> Any:
    inspection = fold(worked.entries("I1", signing.UPTO["I1"]), worked.inspection_id("I1"))
    assert inspection.life is not None
    lengths = tuple(map(Decimal, earlier_mm))
    return replace(inspection.life, sharpening=sharpening, earlier=lengths)


def test_lengths_of_the_job_file_count_until_a_report_tells_better() -> None:
    life = left(3, ("99.00", "98.40", "97.90"))
    told = replace(ONE, length=Decimal("98.45"))
    assert history.lengths(life, ()) == dict(enumerate(life.earlier))
    assert history.lengths(life, (told,))[1] == Decimal("98.45")
    later = replace(ONE, sharpening=3, length=Decimal("97.00"))
    assert 3 not in history.lengths(life, (later,))


def test_only_lengths_that_follow_each_other_tell_what_a_sharpening_took() -> None:
    assert history.forecast(left(3), ()) == history.Forecast(
        Decimal("0.35"), Decimal("0.35"), 2, 2, alone=True
    )
    gap = history.forecast(left(3), (ONE,))
    assert gap is not None
    assert gap.alone
    both = history.forecast(left(3, ("99.00", "98.40", "97.90")), ())
    assert both is not None
    assert (both.least_mm, both.most_mm) == (Decimal("0.35"), Decimal("0.85"))
    assert (both.fewest, both.most, both.alone) == (1, 2, False)


def test_a_tool_that_is_below_its_accepted_length_has_none_left() -> None:
    life = replace(left(3), now=Decimal("96.01"), left_sharpenings=0)
    found = history.forecast(life, ())
    assert found is not None
    assert (found.fewest, found.most) == (0, 0)


def test_nothing_taken_off_gives_no_forecast() -> None:
    assert history.forecast(replace(left(3), left_sharpenings=None), ()) is None
