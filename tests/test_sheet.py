"""The batch sheet in a shop: who signs it, where it lies, what ledger and verify tell of it."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from typer.testing import CliRunner

from inspect_rec import cli, release
from inspect_rec.cli import sheets
from inspect_rec.config import Folder, write_whole
from inspect_rec.errors import InputError, LedgerError, PersonError, RefusedError, ReportError
from inspect_rec.people import new_person
from inspect_rec.release import batch, conceding, sheet
from inspect_rec.report import batch as report_batch
from inspect_rec.report import batch_verify, sign, verify
from inspect_rec.store import Store
from tests import batches, signing

RUN = CliRunner()
AT = datetime(2026, 11, 24, 8, 0, tzinfo=UTC)
LATER = AT + timedelta(days=1)
NOW = AT + timedelta(days=10)
JOB = batches.JOB


@pytest.fixture(scope="module")
def decided(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A batch of two, handed over and decided by the real use case, with keys for the face."""
    path = tmp_path_factory.mktemp("sheet")
    here = batches.shop(path, 2)
    root, who = signing.shop().root, signing.who(signing.INSPECTOR)
    write_whole(here.certificate("root"), root.certificate)
    for person in (signing.GRINDER, signing.INSPECTOR):
        issued = new_person(
            person, signing.shop().name, signing.PASSPHRASE, root, signing.PASSPHRASE,
            datetime(2026, 1, 1, tzinfo=UTC),
        )  # fmt: skip
        write_whole(here.certificate(person.id), issued.certificate)
        write_whole(here.key(person.id), issued.key, private=True)
    (here.path / "secret").write_text(signing.PASSPHRASE, encoding="utf-8")
    with Store.open(here.ledger) as store:
        to_do = batch.survey(store, here, JOB).to_do
        grinder, clock = signing.who(signing.GRINDER), batches.clock(AT)
        assert len(list(batch.hand_over_all(store, here, to_do, grinder, clock, workers=0))) == 2
        for number, decision, reason in (
            ("A-0231", "released", ""),
            ("A-0232", "not released", "a second look"),
        ):
            release.release(store, here, number, who, decision, reason, AT + timedelta(hours=1))
        store.settle()
    return here.path


class Bench:
    def __init__(self, folder: Folder, store: Store) -> None:
        self.folder, self.store = folder, store

    def sign(self, at: datetime = LATER, job: str = JOB, **more: Any) -> Path:
        given = {"who": signing.who(signing.INSPECTOR)} | more
        return sheet.sign_sheet(self.store, self.folder, job, at=at, **given)

    def answer(self, path: Path, *, store: bool = True) -> sheets.Answer:
        root = signing.shop().certificate
        ledger = self.folder.ledger if store else None
        return sheets.answer(path.read_bytes(), [root], NOW, ledger, path.name)


@pytest.fixture
def bench(decided: Path, tmp_path: Path) -> Iterator[Bench]:
    shutil.copytree(decided, tmp_path / "shop")
    here = Folder(tmp_path / "shop")
    with Store.open(here.ledger) as store:
        yield Bench(here, store)


def test_a_sheet_is_signed_and_the_ledger_tells_of_it(bench: Bench) -> None:
    path = bench.sign()
    assert path == bench.folder.reports / "B1-batch.pdf"
    (entry,) = bench.store.entries(kinds=("batch sheet signed",))
    assert entry.body["digest"] == hashlib.sha256(path.read_bytes()).hexdigest()
    assert (entry.person, entry.body["job"], entry.body["revision"]) == ("Q-01", JOB, 0)
    found = batch_verify.verify(path.read_bytes(), [signing.shop().certificate], NOW)
    assert found.findings == ()
    assert found.reports == {
        n: hashlib.sha256(bench.folder.report(n).read_bytes()).hexdigest()
        for n in ("A-0231", "A-0232")
    }


def test_it_takes_no_number_of_the_reports(bench: Bench) -> None:
    before = bench.store.next_number()
    bench.sign()
    assert bench.store.next_number() == before == "A-0233"
    assert not batch.survey(bench.store, bench.folder, JOB).to_do


def test_a_sheet_signed_again_is_the_next_revision_and_the_first_stays(bench: Bench) -> None:
    first = bench.sign()
    data = first.read_bytes()
    second = bench.sign(LATER + timedelta(hours=1))
    assert second.name == "B1-batch-1.pdf"
    assert first.read_bytes() == data
    found = batch_verify.verify(second.read_bytes(), [signing.shop().certificate], NOW)
    assert found.findings == ()
    assert found.header is not None
    assert (found.header.number, found.header.revision) == ("B1-batch", 1)
    assert sheet.finish_sheets(bench.store, bench.folder, JOB) == [first, second]


def test_only_who_releases_and_only_what_is_decided(bench: Bench) -> None:
    with pytest.raises(PersonError, match="releases"):
        bench.sign(who=signing.who(signing.GRINDER))
    with pytest.raises(LedgerError, match="no entry opened the job B2"):
        bench.sign(job="B2")
    assert list(bench.store.entries(kinds=("batch sheet signed",))) == []


class Stopped(BaseException):
    """The machine went off."""


@pytest.mark.parametrize("when", ["before the entry", "after the entry"])
def test_a_stop_between_file_and_entry_loses_nothing(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, when: str
) -> None:
    plain = Store.append_all

    def stops(store: Store, drafts: Any) -> Any:
        if when == "after the entry":
            plain(store, drafts)
        raise Stopped

    with monkeypatch.context() as patch:
        patch.setattr(Store, "append_all", stops)
        with pytest.raises(Stopped):
            bench.sign()
    path = bench.folder.reports / "B1-batch.pdf"
    assert not path.exists()
    if when == "after the entry":
        assert sheet.finish_sheets(bench.store, bench.folder, JOB) == [path]
    else:
        assert sheet.finish_sheets(bench.store, bench.folder, JOB) == []
        assert bench.sign() == path
    assert bench.answer(path).ok


# -- two programs at once -------------------------------------------------------------


def _of_another_tool(store: Store, count: int) -> None:
    for n in range(count):
        store.append(LATER, "G-01", "alarm", {"inspection": f"{JOB}/QF-0413", "n": n})


def test_of_two_programs_that_sign_at_once_one_gets_the_revision(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both have read the ledger and signed before either writes."""
    both, plain = threading.Barrier(2), Store.append_all

    def waits(store: Store, drafts: Any, after: Any = None) -> Any:
        if drafts[0][2] == "batch sheet signed":
            both.wait()
        return plain(store, drafts, after)

    def signed(at: datetime) -> Path | str:
        with Store.open(bench.folder.ledger) as store:
            try:
                return Bench(bench.folder, store).sign(at)
            except RefusedError as error:
                return str(error)

    for revision in (0, 1):
        with monkeypatch.context() as patch, ThreadPoolExecutor(2) as pool:
            patch.setattr(Store, "append_all", waits)
            done = list(pool.map(signed, (LATER, LATER + timedelta(seconds=1))))
        _of_another_tool(bench.store, 1)
        (path,) = [each for each in done if isinstance(each, Path)]
        (said,) = [each for each in done if isinstance(each, str)]
        assert path == sheet.path_of(bench.folder, JOB, revision)
        assert f"found {revision}, named by entry" in said
        entry = list(bench.store.entries(kinds=("batch sheet signed",)))[-1]
        assert entry.body["digest"] == hashlib.sha256(path.read_bytes()).hexdigest()
        assert bench.answer(path).ok
    assert len(sheet.finish_sheets(bench.store, bench.folder, JOB)) == 2
    # What the refused one had signed is nowhere: it would be a second file of that revision.
    assert not list(bench.folder.reports.glob(".*"))
    bench.store.check()


def test_what_else_comes_into_the_ledger_meanwhile_keeps_no_sheet_back(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = sign.sheet_sign

    def slow(*args: Any) -> bytes:
        with Store.open(bench.folder.ledger) as other:
            _of_another_tool(other, 3)
        return plain(*args)

    monkeypatch.setattr(sign, "sheet_sign", slow)
    path = bench.sign()
    assert bench.answer(path).ok
    assert bench.answer(path).told["since"] == []


def test_processes_that_sign_one_after_the_other_overwrite_nothing(bench: Bench) -> None:
    """Three programs, each until it has signed twice; whoever is refused tries again."""
    words = [sys.executable, "-m", "tests.signs_sheets", str(bench.folder.path), JOB, "2"]
    at = Path(__file__).parents[1]
    programs = [
        subprocess.Popen(words, stdout=subprocess.PIPE, cwd=at, text=True) for _ in range(3)
    ]
    signed = [line.split() for each in programs for line in each.communicate()[0].splitlines()]
    assert [each.returncode for each in programs] == [0, 0, 0]
    assert len(signed) == 6
    with Store.open(bench.folder.ledger) as store:
        entries = list(store.entries(kinds=("batch sheet signed",)))
        paths = sheet.finish_sheets(store, bench.folder, JOB)
        store.check()
    assert [e.body["revision"] for e in entries] == list(range(6))
    assert [p.name for p in paths] == ["B1-batch.pdf", *(f"B1-batch-{n}.pdf" for n in range(1, 6))]
    kept = {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in paths}
    assert kept == dict(signed)
    assert {p.name for p in bench.folder.reports.iterdir() if "batch" in p.name} == set(kept)


def test_a_sheet_that_was_changed_on_disk_is_said(bench: Bench) -> None:
    path = bench.sign()
    path.write_bytes(path.read_bytes() + b"\n")
    with pytest.raises(ReportError, match="isn't the one that was signed last"):
        sheet.finish_sheets(bench.store, bench.folder, JOB)


# -- held against the ledger, and against reports ------------------------------------


def test_held_against_its_ledger_it_is_whole_and_nothing_came_since(bench: Bench) -> None:
    found = bench.answer(bench.sign())
    assert found.ok
    assert found.told["since"] == []
    assert "made again from the entries inside, byte for byte" in found.words
    assert "1 released" in found.words
    assert "1 not released" in found.words


def test_what_came_since_is_told_and_the_sheet_stays_genuine(bench: Bench) -> None:
    path = bench.sign()
    conceding.withdraw(bench.store, "A-0231", "Q-01", NOW, "wrong tool")
    bench.sign(NOW)
    found = bench.answer(path)
    assert found.ok
    kinds = [said.split(",")[0] for said in found.told["since"]]
    assert kinds == ["withdrawn", "batch sheet signed"]
    assert "since then: withdrawn, A-0231" in found.words


def test_another_ledger_is_found(bench: Bench, tmp_path: Path) -> None:
    path = bench.sign()
    other = batches.shop(tmp_path / "other", 1)
    answer = sheets.answer(
        path.read_bytes(), [signing.shop().certificate], NOW, other.ledger, path.name
    )
    assert not answer.ok
    assert {f["code"] for f in answer.told["findings"]} == {"store"}


def test_reports_beside_their_sheet_are_held_against_its_digests(bench: Bench) -> None:
    paths = [bench.sign(), bench.folder.report("A-0231"), bench.folder.report("A-0232")]
    found = sheets.side_by_side(bench.answer(p) for p in paths)
    assert all(each.ok for each in found)
    assert all("named in B1-batch, with its SHA-256" in each.words for each in found[1:])


def test_a_genuine_report_that_no_sheet_beside_it_names_is_told(bench: Bench) -> None:
    given = [bench.answer(bench.sign()), bench.answer(bench.folder.report("A-0231"))]
    given[0] = replace(given[0], names={"A-0999": "0" * 64})
    sheet, report = sheets.side_by_side(given)
    assert report.ok
    assert report.words.endswith("not named in B1-batch")
    assert "named" not in sheets.side_by_side(given[1:])[0].words
    assert "not named" not in sheet.words


def test_a_genuine_report_that_is_not_the_one_of_the_batch_is_found(bench: Bench) -> None:
    """The same number signed a second time, such as from a copy of the shop: genuine by itself."""
    path = bench.sign()
    again = batches.shop(bench.folder.path / "again", 1)
    with Store.open(again.ledger) as store:
        who, clock = signing.who(signing.GRINDER), batches.clock(AT)
        tool = batches.inspections(1)
        list(batch.hand_over_all(store, again, tool, who, clock, workers=0))
        who = signing.who(signing.INSPECTOR)
        other = release.release(store, again, "A-0231", who, "released", "", LATER)
    assert verify.verify(other.read_bytes(), [signing.shop().certificate], NOW).ok
    found = sheets.side_by_side([bench.answer(path), bench.answer(other, store=False)])
    assert [each.ok for each in found] == [True, False]
    (finding,) = found[1].told["findings"]
    assert finding["code"] == "batch sheet"
    assert "NOT the one of its batch" in found[1].words


# -- at the face ---------------------------------------------------------------------


def typed(bench: Bench, *words: str) -> Any:
    at = ["--shop", str(bench.folder.path)]
    key = ["--passphrase-file", str(bench.folder.path / "secret")]
    return RUN.invoke(cli.app, [*words, *at, *(key if words[0] == "batch" else [])])


def test_the_command_makes_a_sheet_and_a_copy_and_verify_takes_it(
    bench: Bench, tmp_path: Path
) -> None:
    out = tmp_path / "for the customer.pdf"
    said = typed(bench, "batch", JOB, "--person", "Q-01", "--out", str(out))
    assert said.exit_code == 0, said.output
    assert 'B1-batch: signed "released by"' in said.output
    assert out.read_bytes() == (bench.folder.reports / "B1-batch.pdf").read_bytes()
    reports = [str(bench.folder.report(n)) for n in ("A-0231", "A-0232")]
    checked = typed(bench, "verify", str(out), *reports, "--json")
    assert checked.exit_code == 0, checked.output
    sheet_, *others = json.loads(checked.output)
    assert sheet_["ok"]
    assert sheet_["number"] == "B1-batch"
    assert [each["number"] for each in others] == list(sheet_["reports"])
    again = typed(bench, "batch", JOB, "--person", "Q-01", "--out", str(out))
    assert isinstance(again.exception, InputError)


def test_a_ledger_is_held_against_a_sheet_as_against_a_report(bench: Bench, tmp_path: Path) -> None:
    path = bench.sign()
    head = batch_verify.verify(path.read_bytes(), [signing.shop().certificate], NOW).header
    assert head is not None
    held = typed(bench, "ledger", "check", "--report", str(path))
    assert held.exit_code == 0, held.output
    assert f"entry {head.head.station} {head.head.seq}, which the file names" in held.output
    other = batches.shop(tmp_path / "other", 1)
    with Store.open(other.ledger) as store:
        shorter = typed(Bench(other, store), "ledger", "check", "--report", str(path), "--json")
    assert shorter.exit_code == 1
    assert [f["code"] for f in json.loads(shorter.output)["findings"]] == ["chain shortened"]


def test_a_ledger_is_not_held_against_a_sheet_whose_record_was_changed(
    bench: Bench, tmp_path: Path
) -> None:
    with pikepdf.open(bench.sign()) as file:
        files = file.attachments
        data = files[report_batch.RECORD].get_file().read_bytes()
        files[report_batch.RECORD] = pikepdf.AttachedFileSpec(
            file, data.replace(b'"A-0231"', b'"A-0230"', 1)
        )
        file.save(tmp_path / "changed.pdf")
    found = typed(bench, "ledger", "check", "--report", str(tmp_path / "changed.pdf"))
    assert isinstance(found.exception, ReportError)
    assert "batch sheet" in str(found.exception)


def test_the_command_hands_over_what_is_left_and_says_what_came_of_each(
    decided: Path, tmp_path: Path
) -> None:
    here = batches.shop(tmp_path, 3, done=2)
    shutil.copytree(decided / "keys", here.keys)
    shutil.copyfile(decided / "secret", here.path / "secret")
    with Store.open(here.ledger) as store:
        bench = Bench(here, store)
        said = typed(bench, "batch", JOB, "--handover", "--person", "G-01")
    assert said.exit_code == 0, said.output
    lines = said.output.splitlines()
    assert lines[0].startswith("1 of 3  A-0231  QF-0412: ")
    assert lines[1].startswith("2 of 3  A-0232  QF-0413: ")
    assert lines[2].startswith("3 of 3  B1/QF-0414: not handed over. ")
    assert "2 handed over, 1 kept back" in said.output
    with Store.open(here.ledger) as store:
        told = json.loads(
            typed(
                Bench(here, store), "batch", JOB, "--handover", "--person", "G-01", "--json"
            ).output
        )
    assert told["handed_over"] == []
    assert told["done"] == ["B1/QF-0412", "B1/QF-0413"]
    assert [each["inspection"] for each in told["left"]] == ["B1/QF-0414"]
