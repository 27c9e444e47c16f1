"""The real program at a real line, killed again and again: it goes on at the same step, and at the
end the results are those of a measurement that nothing disturbed."""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

from inspect_rec.config import Folder, Name
from inspect_rec.inspection import Inspection, Place, fold
from inspect_rec.ledger import check_chain
from inspect_rec.simulate.readout import SimulatedReadout
from inspect_rec.store import Store
from tests import worked

ROOT = Path(__file__).parents[2]
KILLS = 12
MARK = "I1/QF-0417"


class Program:
    """The program in a process of its own, its output read line by line."""

    def __init__(self, folder: Folder, readout: SimulatedReadout) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "inspect_rec", "measure", MARK, "--person", "G-01", "--plain",
             "--readout", readout.url, "--shop", str(folder.path)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT,
        )  # fmt: skip

    def kill(self) -> str:
        self.process.kill()
        out, _ = self.process.communicate()
        return out.decode()

    def press(self, keys: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(keys.encode())
        self.process.stdin.flush()

    def answer(self) -> str:
        assert self.process.stdout is not None
        return self.process.stdout.readline().decode().strip()


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    found = Folder(tmp_path / "shop")
    found.path.mkdir()
    shutil.copyfile(worked.FOLDER / "shop.toml", found.shop)
    packaged = resources.files("drivers") / "layouts" / "two-axis-line.toml"
    quick = packaged.read_text("utf-8").replace("lockout_ms = 300", "lockout_ms = 0")
    quick = quick.replace('sends = "continuously"', 'sends = "on key"')
    layout = tmp_path / "quick.toml"
    layout.write_text(quick, encoding="utf-8")
    found.station.write_text(f'layout = "{layout.as_posix()}"\n', encoding="utf-8")
    found.name_person("G-01", Name("Marten Oakes", ("measures",)))
    shop = found.read_shop().shop
    with Store.create(found.ledger, shop.station, shop.first_number) as store:
        store.append(datetime.now(UTC), "G-01", "job opened", worked.opened("I1"))
    return found


def now(folder: Folder) -> Inspection:
    with Store.open(folder.ledger) as store:
        return fold(store.entries(MARK), MARK)


def do(program: Program, readout: SimulatedReadout, step: Any, acts: dict[Any, Any]) -> str:
    """Do what the program waits for; gives its answer."""
    if step.kind != "read":
        program.press(" ")
        return program.answer()
    act = acts[step.place]
    if step.by_eye:
        program.press(act["type"])
        for _ in act["type"]:
            program.answer()
        program.press(" ")
        return program.answer()
    readout.send(act["send"])
    return program.answer()


def planned() -> dict[Any, Any]:
    """Place -> figure, for a job without the cut: flute 3 as it was after it."""
    found: dict[Any, Any] = {}
    for reading in worked.jobs()["I1"]["readings"]:
        if reading["what"] == "event" or reading.get("when") == "after grinding":
            continue
        body = worked.body("I1", reading)
        place = Place.of(body["place"])
        shown = body["taken"]
        if body["by_eye"]:
            found[place] = {"type": shown[0]["value"]}
        else:
            x, z = (float(t["value"]) for t in shown)
            found[place] = {"send": f"X{x:+09.3f} Z{z:+09.3f} *\r\n".encode()}
    return found


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL")
def test_killed_twelve_times_it_ends_where_an_undisturbed_one_does(folder: Folder) -> None:
    acts, draw = planned(), random.Random(7)
    shown: set[int] = set()
    taken_before = -1
    with SimulatedReadout() as readout:
        for round_ in range(KILLS + 1):
            inspection = now(folder)
            assert len(inspection.standing) >= taken_before
            program = Program(folder, readout)
            readout.meet()
            budget = draw.randrange(3, 9) if round_ < KILLS else 10_000
            while budget and (step := inspection.next) is not None:
                said = do(program, readout, step, acts)
                assert not said.startswith("refused"), said
                if said.startswith("taken"):
                    shown.add(int(said.split()[1]))
                inspection = now(folder)
                budget -= 1
            out = program.kill()
            shown |= {int(s.split()[1]) for s in out.splitlines() if s.startswith("taken")}
            with Store.open(folder.ledger) as store:
                entries = list(store.entries())
            check_chain(entries)
            kept = {e.seq for e in entries if e.kind == "reading"}
            assert shown <= kept
            taken_before = len(now(folder).standing)
            if inspection.next is None:
                break
    final = now(folder)
    assert final.next is None
    straight = fold(worked.entries("I1"), worked.inspection_id("I1"))
    assert [(r.characteristic.id, r.flute, r.values) for r in final.results] == [
        (r.characteristic.id, r.flute, r.values) for r in straight.results
    ]
