"""Hand over and release: one number a report, two persons, and a stop at any instant."""

from __future__ import annotations

import io
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from inspect_rec import release
from inspect_rec.config import Folder, Name
from inspect_rec.errors import PersonError, RefusedError, ReportError, StoreError
from inspect_rec.people import Person, Role, Signer
from inspect_rec.release import handing, keeping
from inspect_rec.report import make, sign
from inspect_rec.report.verify import verify
from inspect_rec.store import Store
from tests import signing, worked

AT = datetime(2026, 11, 24, 8, 0, tzinfo=UTC)
I1 = "I1/QF-0417"


@dataclass
class Bench:
    """A shop's folder with a store in which I1 is measured, and its signers."""

    folder: Folder
    store: Store

    def hand_over(self, at: datetime = AT, who: Signer | None = None) -> release.HandedOver:
        who = who or signing.who(signing.GRINDER)
        return release.hand_over(self.store, self.folder, I1, who, at)

    def release(self, number: str = "A-0231", **more: Any) -> Path:
        given: dict[str, Any] = {
            "who": signing.who(signing.INSPECTOR),
            "decision": "released",
            "reason": "",
            "at": AT + timedelta(minutes=5),
        } | more
        return release.release(self.store, self.folder, number, **given)

    def kinds(self) -> list[str]:
        apart = ("report made", "signed", "decided", "number given")
        return [e.kind for e in self.store.entries(kinds=apart)]


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder, made once and copied for each test."""
    here = Folder(tmp_path_factory.mktemp("measured") / "shop")
    here.path.mkdir()
    shutil.copyfile(worked.FOLDER / "shop.toml", here.shop)
    for person in (signing.GRINDER, signing.INSPECTOR):
        here.name_person(person.id, Name(person.name, tuple(person.roles)))
    with Store.create(here.ledger, "A", "A-0231") as store:
        release.open_job(store, here, worked.job("I1"), "G-01", datetime(2026, 11, 16, tzinfo=UTC))
        later = worked.entries("I1", signing.UPTO["I1"])[1:]
        store.append_all([(e.at, e.person, e.kind, e.body) for e in later])
        store.settle()
    return here.path


@pytest.fixture
def bench(measured: Path, tmp_path: Path) -> Iterator[Bench]:
    shutil.copytree(measured, tmp_path / "shop")
    here = Folder(tmp_path / "shop")
    with Store.open(here.ledger) as store:
        yield Bench(here, store)


def test_a_report_is_made_signed_twice_and_genuine(bench: Bench) -> None:
    handed = bench.hand_over()
    assert (handed.number, handed.path) == ("A-0231", bench.folder.report("A-0231"))
    path = bench.release()
    found = verify(path.read_bytes(), [signing.shop().certificate], AT + timedelta(hours=1))
    assert found.findings == ()
    assert (found.number, found.verdict, found.released) == ("A-0231", "conforms", True)
    assert bench.kinds() == ["report made", "signed", "signed", "decided"]
    assert [p.name for p in bench.folder.reports.iterdir()] == ["A-0231.pdf"]


def test_a_customers_id_stands_in_the_ledger_and_the_name_does_not(bench: Bench) -> None:
    assert bench.folder.customers()["C-1"].name == "Quillfen Moulds"
    raw = bench.folder.ledger.read_bytes()
    assert b"Quillfen" not in raw
    assert b'"C-1"' in raw


def test_an_id_that_the_ledger_knows_is_not_given_to_another_customer(bench: Bench) -> None:
    bench.folder.names.write_text("", encoding="utf-8")
    job = worked.job("I2")
    release.open_job(bench.store, bench.folder, job, "G-01", AT)
    assert bench.folder.customers() == {"C-2": Name(job.job.customer)}


# One number a report


def test_a_number_that_another_program_takes_meanwhile_is_not_used_twice(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = make.make
    taken = iter(["A-0231", "A-0232"])

    def slow(*args: Any) -> Any:
        with Store.open(bench.folder.ledger) as other:
            if number := next(taken, None):
                other.append(AT, "Q-01", "number given", {"number": number, "why": "by hand"})
        return plain(*args)

    monkeypatch.setattr(handing, "make", slow)
    handed = bench.hand_over()
    assert handed.number == "A-0233"
    assert not bench.folder.report("A-0231").exists()
    found = verify(bench.release("A-0233").read_bytes(), [signing.shop().certificate], AT)
    assert found.number == "A-0233"


def test_the_same_readings_are_not_handed_over_twice(bench: Bench) -> None:
    bench.hand_over()
    with pytest.raises(ReportError, match="A-0231"):
        bench.hand_over()
    assert bench.kinds() == ["report made", "signed"]


def test_a_tool_that_another_program_hands_over_meanwhile_gets_one_report(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain, grinder = handing.header_of, signing.who(signing.GRINDER)

    def slow(*args: Any) -> Any:
        """After the entries were read, and before a number is asked for."""
        with monkeypatch.context() as patch, Store.open(bench.folder.ledger) as other:
            patch.setattr(handing, "header_of", plain)
            release.hand_over(other, bench.folder, I1, grinder, AT)
        monkeypatch.setattr(handing, "header_of", plain)
        return plain(*args)

    monkeypatch.setattr(handing, "header_of", slow)
    with pytest.raises(ReportError, match=r"handed over already.*A-0231"):
        bench.hand_over()
    assert bench.kinds() == ["report made", "signed"]
    assert [p.name for p in bench.folder.reports.iterdir()] == ["A-0231.pdf"]
    assert bench.store.next_number() == "A-0232"


def test_of_two_who_decide_on_a_report_at_once_one_does(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.hand_over()
    plain, inspector = sign.release_sign, signing.who(signing.INSPECTOR)

    def slow(*args: Any) -> bytes:
        monkeypatch.setattr(sign, "release_sign", plain)
        with Store.open(bench.folder.ledger) as other:
            release.release(other, bench.folder, "A-0231", inspector, "not released", "worn", AT)
        return plain(*args)

    monkeypatch.setattr(sign, "release_sign", slow)
    with pytest.raises(RefusedError, match="decided once for each number"):
        bench.release()
    assert bench.kinds() == ["report made", "signed", "signed", "decided"]
    data = release.finish(bench.store, bench.folder, "A-0231").read_bytes()
    found = verify(data, [signing.shop().certificate], AT + timedelta(hours=1))
    assert [s.decision for s in found.signed] == [None, "not released"]
    assert [p.name for p in bench.folder.reports.iterdir()] == ["A-0231.pdf"]


def test_a_report_after_a_touch_names_the_one_that_it_replaces(bench: Bench) -> None:
    bench.hand_over()
    bench.store.append(AT, "G-01", "received", {"inspection": I1, "state": "seen again"})
    later = bench.hand_over(AT + timedelta(hours=1))
    assert later.number == "A-0232"
    assert release.replaced_by(bench.store, "A-0231") == "A-0232"
    made = keeping.report_made(bench.store, "A-0232")
    assert (made.body["revision"], made.body["replaces"]) == (1, "A-0231")
    path = bench.release("A-0232", at=AT + timedelta(hours=2))
    now = AT + timedelta(hours=3)
    found = verify(path.read_bytes(), [signing.shop().certificate], now)
    assert found.findings == ()
    assert found.header is not None
    assert (found.header.revision, found.header.replaces) == (1, "A-0231")


# Who may


def test_who_measured_may_not_release(bench: Bench) -> None:
    both = Person("G-01", "Marten Oakes", (Role.MEASURES, Role.RELEASES))
    who = signing.shop().signer(both)
    bench.hand_over(who=who)
    with pytest.raises(PersonError, match="who measured may not release"):
        bench.release(who=who)
    assert bench.kinds() == ["report made", "signed"]


def test_a_role_is_needed_for_either_signature(bench: Bench) -> None:
    with pytest.raises(PersonError, match="measures"):
        bench.hand_over(who=signing.who(signing.INSPECTOR))
    bench.hand_over()
    with pytest.raises(PersonError, match="releases"):
        bench.release(who=signing.who(signing.GRINDER))


def test_a_certificate_that_ran_out_signs_nothing(bench: Bench) -> None:
    old = signing.shop().signer(signing.GRINDER, datetime(2024, 1, 1, tzinfo=UTC), 1)
    with pytest.raises(PersonError, match="isn't valid"):
        bench.hand_over(who=old)
    assert bench.kinds() == []


# What may be decided


def test_a_touched_tool_makes_its_report_stale_and_says_by_what(bench: Bench) -> None:
    bench.hand_over()
    cut = {"inspection": I1, "flute": 2, "infeed_mm": "0.010"}
    entry = bench.store.append(AT, "G-01", "ground again", cut)
    with pytest.raises(ReportError, match=f"ground again, entry A {entry.seq}"):
        bench.release()
    assert "decided" not in bench.kinds()


@pytest.mark.parametrize(
    ("decision", "reason"),
    [("not released", ""), ("not released", "two\nlines"), ("maybe", ""), ("", "")],
)
def test_a_decision_is_one_of_two_and_no_without_a_reason(
    bench: Bench, decision: str, reason: str
) -> None:
    bench.hand_over()
    with pytest.raises(ReportError):
        bench.release(decision=decision, reason=reason)
    assert "decided" not in bench.kinds()


def test_a_report_is_decided_once(bench: Bench) -> None:
    bench.hand_over()
    path = bench.release(decision="not released", reason="the customer waits")
    before = path.read_bytes()
    with pytest.raises(ReportError, match="decided already"):
        bench.release()
    assert path.read_bytes() == before


def test_a_tool_that_is_not_measured_to_its_end_has_no_report(bench: Bench) -> None:
    cut = {"inspection": I1, "flute": 2, "infeed_mm": "0.010"}
    bench.store.append(AT, "G-01", "ground again", cut)
    with pytest.raises(ReportError, match="measured to its end"):
        bench.hand_over()
    assert not bench.folder.reports.exists()


def test_an_unknown_number_is_said(bench: Bench) -> None:
    with pytest.raises(ReportError, match="no such report"):
        bench.release("A-0999")


# A stop at any instant, a spoilt file, a missing disk


def test_a_file_that_was_changed_is_not_signed(bench: Bench) -> None:
    path = bench.hand_over().path
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(bytes(data))
    with pytest.raises(ReportError, match="isn't the one that was signed last"):
        bench.release()
    assert path.read_bytes() == bytes(data)


def test_nobody_releases_pages_that_are_not_those_of_the_readings(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who measured lays white over a value, and signs that with a good key."""
    plain = make.make

    def covered(*given: Any) -> make.Made:
        made = plain(*given)
        with pikepdf.open(io.BytesIO(made.rendered.pdf)) as file:
            white = file.pages[0].Contents.read_bytes() + b"\nq 1 g 60 300 300 400 re f Q\n"
            file.pages[0].Contents = file.make_stream(white)
            out = io.BytesIO()
            file.save(out, fix_metadata_version=False)
        return replace(made, rendered=replace(made.rendered, pdf=out.getvalue()))

    monkeypatch.setattr(handing, "make", covered)
    bench.hand_over()
    with pytest.raises(ReportError, match=r"page 1: as it is drawn again"):
        bench.release()
    assert bench.kinds() == ["report made", "signed"]


class Stopped(BaseException):
    """The machine went off."""


@pytest.mark.parametrize("when", ["before the entries", "after the entries"])
@pytest.mark.parametrize("act", ["hand over", "release"])
def test_a_stop_between_file_and_entries_loses_nothing(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, act: str, when: str
) -> None:
    if act == "release":
        bench.hand_over()
    before = bench.kinds()
    plain = Store.append_all

    def stops(store: Store, drafts: Any) -> Any:
        if when == "after the entries":
            plain(store, drafts)
        raise Stopped

    with monkeypatch.context() as patch:
        patch.setattr(Store, "append_all", stops)
        with pytest.raises(Stopped):
            bench.hand_over() if act == "hand over" else bench.release()
    if when == "before the entries":
        assert bench.kinds() == before
        _ = bench.hand_over() if act == "hand over" else bench.release()
    elif act == "hand over":
        with pytest.raises(ReportError, match="handed over already"):
            bench.hand_over()
    else:
        assert release.finish(bench.store, bench.folder, "A-0231").is_file()
    if act == "hand over":
        bench.release()
    path = bench.folder.report("A-0231")
    found = verify(path.read_bytes(), [signing.shop().certificate], AT + timedelta(hours=1))
    assert found.findings == ()
    assert bench.kinds() == ["report made", "signed", "signed", "decided"]


def test_the_ledger_is_copied_after_each_signature(bench: Bench, tmp_path: Path) -> None:
    bench.folder.station.write_text('copies = "../copies"\n', encoding="utf-8")
    bench.hand_over()
    bench.release()
    copies = sorted((tmp_path / "copies").iterdir())
    assert len(copies) == 2
    with Store.open(copies[-1]) as copy:
        assert copy.head() == bench.store.head()


def test_a_copy_that_fails_is_said_and_the_report_stands(bench: Bench, tmp_path: Path) -> None:
    (tmp_path / "copies").write_text("a file where the folder should be", encoding="utf-8")
    bench.folder.station.write_text('copies = "../copies"\n', encoding="utf-8")
    with pytest.raises(StoreError, match="A-0231 is signed and kept"):
        bench.hand_over()
    assert bench.kinds() == ["report made", "signed"]
    assert bench.folder.report("A-0231").is_file()
