"""Concessions, amendments and withdrawals as acts: recorded, held to what they cover, told."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from inspect_rec import release
from inspect_rec.config import Folder, Name
from inspect_rec.errors import InputError, ReportError
from inspect_rec.release.conceding import Granted, concede, withdraw, withdrawn
from inspect_rec.report import pdf
from inspect_rec.report.finding import Code
from inspect_rec.report.verify import verify
from inspect_rec.store import Store
from tests import signing, worked

I2 = worked.inspection_id("I2")
AT = datetime(2026, 11, 20, 11, 0, tzinfo=UTC)
ROOT = signing.shop().certificate


class Bench:
    """A shop in which job I2 was re-measured, and its first report not released."""

    def __init__(self, folder: Folder, store: Store) -> None:
        self.folder, self.store = folder, store

    def hand_over(self, minutes: int, why: str = "") -> str:
        who, at = signing.who(signing.GRINDER), AT + timedelta(minutes=minutes)
        return release.hand_over(self.store, self.folder, I2, who, at, why).number

    def release(self, number: str, decision: str, reason: str, minutes: int) -> Path:
        who, at = signing.who(signing.INSPECTOR), AT + timedelta(minutes=minutes)
        return release.release(self.store, self.folder, number, who, decision, reason, at)

    def concede(self, **more: Any) -> None:
        given = {"number": "CON-7", "characteristics": ("DC_2",)} | more
        concede(self.store, self.folder, I2, "Q-01", Granted(**given), AT + timedelta(minutes=3))


@pytest.fixture(scope="module")
def decided(tmp_path_factory: pytest.TempPathFactory) -> Path:
    here = Folder(tmp_path_factory.mktemp("decided") / "shop")
    here.path.mkdir()
    shutil.copyfile(worked.FOLDER / "shop.toml", here.shop)
    for person in (signing.GRINDER, signing.INSPECTOR):
        here.name_person(person.id, Name(person.name, tuple(person.roles)))
    with Store.create(here.ledger, "A", "A-0231") as store:
        release.open_job(store, here, worked.job("I2"), "G-01", datetime(2026, 11, 16, tzinfo=UTC))
        entries = worked.entries("I2")
        end = next(n for n, e in enumerate(entries) if e.kind == "concession")
        kept = [e for e in entries[1:end] if e.kind != "report"]
        store.append_all([(e.at, e.person, e.kind, e.body) for e in kept])
        bench = Bench(here, store)
        assert bench.hand_over(0) == "A-0231"
        bench.release("A-0231", "not released", "DC_2 neither shown", 1)
        store.settle()
    return here.path


@pytest.fixture
def bench(decided: Path, tmp_path: Path) -> Iterator[Bench]:
    shutil.copytree(decided, tmp_path / "shop")
    here = Folder(tmp_path / "shop")
    with Store.open(here.ledger) as store:
        yield Bench(here, store)


def test_an_amendment_of_a_decided_report_says_why(bench: Bench) -> None:
    bench.concede()
    with pytest.raises(ReportError, match="--why"):
        bench.hand_over(5)
    number = bench.hand_over(5, "the customer concedes")
    data = bench.folder.report(number).read_bytes()
    found = verify(data, [ROOT], AT + timedelta(hours=1))
    assert found.header is not None
    assert (found.header.replaces, found.header.why) == ("A-0231", "the customer concedes")
    text = " ".join(
        " ".join(page) for page in pdf.text_of(bench.folder.report(number).read_bytes())
    )
    assert "the customer concedes" in text


def test_what_is_not_shown_to_conform_is_released_under_a_concession_alone(bench: Bench) -> None:
    bench.store.append(AT, "G-01", "received", {"inspection": I2, "state": "seen again"})
    number = bench.hand_over(2, "seen again")
    with pytest.raises(ReportError, match="concession"):
        bench.release(number, "released", "", 3)
    bench.concede()
    number = bench.hand_over(5, "the customer concedes")
    path = bench.release(number, "released", "", 6)
    found = verify(path.read_bytes(), [ROOT], AT + timedelta(hours=1))
    assert found.ok, found.findings
    assert (found.verdict, found.released) == ("neither shown", True)
    assert [s.reason for s in found.signed if s.decision] == ["CON-7"]


def test_the_document_is_kept_attached_and_held_to_its_digest(bench: Bench, tmp_path: Path) -> None:
    letter = tmp_path / "letter.txt"
    letter.write_bytes(b"We take DC_2 as it is.")
    bench.concede(document=letter)
    letter.unlink()
    number = bench.hand_over(5, "the customer concedes")
    data = bench.folder.report(number).read_bytes()
    assert pdf.attachments(data, 10**7)["concession CON-7 letter.txt"] == b"We take DC_2 as it is."
    found = verify(data, [ROOT], AT + timedelta(hours=1))
    assert [f.code for f in found.findings] == [Code.SIGNATURE_MISSING]
    (kept,) = (bench.folder.path / "documents").iterdir()
    kept.write_bytes(b"We take everything.")
    bench.store.append(AT, "G-01", "received", {"inspection": I2, "state": "seen again"})
    with pytest.raises(ReportError, match=r"letter\.txt"):
        bench.hand_over(7, "seen again")


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"characteristics": ("DC_9",)}, "no such characteristic"),
        ({"characteristics": ("DC_1",)}, "covers nothing"),
        ({"characteristics": ()}, "covers nothing"),
        ({"number": " "}, "reference"),
        ({"number": "CON\n7"}, "reference"),
    ],
)
def test_a_concession_that_says_nothing_is_refused_and_not_recorded(
    bench: Bench, more: dict[str, Any], said: str
) -> None:
    before = bench.store.head()
    with pytest.raises(InputError, match=said):
        bench.concede(**more)
    assert bench.store.head() == before


def test_a_withdrawn_report_stays_and_whoever_asks_is_told(bench: Bench) -> None:
    data = bench.folder.report("A-0231").read_bytes()
    assert withdrawn(bench.store, "A-0231") is None
    withdraw(bench.store, "A-0231", "Q-01", AT, "wrong tool in the tube")
    assert withdrawn(bench.store, "A-0231") == "wrong tool in the tube"
    assert bench.folder.report("A-0231").read_bytes() == data
    with pytest.raises(ReportError, match="withdrawn already"):
        withdraw(bench.store, "A-0231", "Q-01", AT, "again")
    with pytest.raises(ReportError, match="no such report"):
        withdraw(bench.store, "A-0999", "Q-01", AT, "none")
    assert bench.store.next_number() == "A-0232"
