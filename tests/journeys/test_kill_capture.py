"""The real program at a real line, killed at random instants through a whole worked job.

What was shown as taken is in the store, the chain holds, the program goes on at the same step, and
at the end the job's readings and values are those of a measurement that nothing disturbed.
"""

from __future__ import annotations

import json
import random
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Generator, Mapping
from contextlib import closing
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path
from queue import Queue
from typing import Any, Self

import pytest

from inspect_rec.config import Folder, Name
from inspect_rec.inspection import Inspection, Place, Step, fold
from inspect_rec.people import Role
from inspect_rec.simulate.readout import SimulatedReadout
from inspect_rec.store import Store
from tests import worked

ROOT = Path(__file__).parents[2]
MARK = worked.inspection_id("I1")
KILLS = 20
LATEST_S = 0.01
"""About as long as an answer takes, so that kills fall before and after it."""
DRAW = random.Random(20261117)
PATIENCE_S = 20
QUICK = {
    "\nlockout_ms = 300": "\nlockout_ms = 0",
    '\nsends = "continuously"': '\nsends = "on key"',
    "\nfastest_mm_per_s = 500": "\nfastest_mm_per_s = 5000",
}
CUT = "g3\r0.012\r"
"""The keys by which a grinder says that flute 3 was ground again."""


class Program:
    """The program in a process of its own; its lines come in by a thread."""

    def __init__(self, folder: Folder, readout: SimulatedReadout) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "inspect_rec", "measure", MARK, "--person", "G-01", "--plain",
             "--readout", readout.url, "--shop", str(folder.path)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT,
        )  # fmt: skip
        self.readout = readout
        self.said: list[str] = []
        self._lines: Queue[str] = Queue()
        self._reader = threading.Thread(target=self._read)
        self._reader.start()

    def __enter__(self) -> Self:
        self.readout.meet()
        return self

    def __exit__(self, *_: object) -> None:
        self.kill()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.said.append(line.decode().strip())
            self._lines.put(self.said[-1])
        self._lines.put("")

    def press(self, keys: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(keys.encode())
        self.process.stdin.flush()

    def waits(self, *begins: str) -> str:
        """The next line that begins so; fails where the program refuses or ends."""
        while not (line := self._lines.get(timeout=PATIENCE_S)).startswith(begins):
            assert line, f"it ended: {self.process.communicate()[1].decode()}"
            assert not line.startswith(("refused", "alarm")), line
        return line

    def kill(self) -> list[str]:
        """SIGKILL; everything it had shown until then."""
        self.process.kill()
        self._reader.join()
        for stream in (self.process.stdin, self.process.stdout, self.process.stderr):
            assert stream is not None
            stream.close()
        self.process.wait()
        return self.said


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    """A shop with job I1, and a readout that sends on its key, as fast as the program answers."""
    found = Folder(tmp_path / "shop")
    found.path.mkdir()
    shutil.copyfile(worked.FOLDER / "shop.toml", found.shop)
    packaged = resources.files("drivers") / "layouts" / "two-axis-line.toml"
    quick = packaged.read_text("utf-8")
    for slow, fast in QUICK.items():
        assert slow in quick
        quick = quick.replace(slow, fast)
    layout = tmp_path / "quick.toml"
    layout.write_text(quick, encoding="utf-8")
    found.station.write_text(f'layout = "{layout.as_posix()}"\n', encoding="utf-8")
    found.name_person("G-01", Name(name="Marten Oakes", roles=(Role.MEASURES,)))
    shop = found.read_shop().shop
    with Store.create(found.ledger, shop.station, shop.first_number) as store:
        store.append(datetime.now(UTC), "G-01", "job opened", worked.opened("I1"))
    return found


def now(folder: Folder) -> Inspection:
    """As the store says, once its chain was found to hold."""
    with Store.open(folder.ledger) as store:
        store.check()
        return fold(store.entries(MARK), MARK)


def planned() -> Mapping[tuple[int, Place], Mapping[str, Any]]:
    """Cuts so far and place -> the body of the worked job's reading there."""
    found: dict[tuple[int, Place], Mapping[str, Any]] = {}
    cuts = 0
    for reading in worked.jobs()["I1"]["readings"]:
        if reading["what"] == "event":
            cuts += reading["step"] == "ground again"
            continue
        body = worked.body("I1", reading)
        found[cuts, Place.of(body["place"])] = body
    return found


def act(program: Program, step: Step, body: Mapping[str, Any] | None) -> tuple[str, ...]:
    """Do what the next step asks for; gives how the answer begins."""
    if step.kind != "read":
        program.press(" ")
        return ("said Clamped", "said Unclamped")
    if body is None:
        program.press(CUT)
        return ("said Ground again",)
    if body["by_eye"]:
        program.press(body["taken"][0]["value"] + "\r")
    else:
        x, z = (float(t["value"]) for t in body["taken"])
        program.readout.send(f"X{x:+09.3f} Z{z:+09.3f} *\r\n".encode())
    return ("taken",)


def acts(program: Program, folder: Folder) -> Generator[tuple[str, ...]]:
    """All acts from here to the end of the job, each with how its answer begins."""
    plan = planned()
    with Store.open(folder.ledger) as store:
        while (found := fold(store.entries(MARK), MARK)).next is not None:
            place = found.next.place
            body = None if place is None else plan.get((len(found.record.cuts), place))
            yield act(program, found.next, body)


def shown_as_taken(said: list[str]) -> dict[int, Any]:
    """Sequence number -> place, of every line that says taken."""
    lines = [line.split(" ", 2) for line in said if line.startswith("taken ")]
    return {int(seq): json.JSONDecoder().raw_decode(place)[0] for _, seq, place in lines}


def one_round(
    folder: Folder, readout: SimulatedReadout, before: Inspection, last: int | None
) -> tuple[list[str], bool]:
    """Start it, act until act number ``last`` is under way, kill it: what it said, and whether
    it was killed before its last answer."""
    assert before.next is not None
    with Program(folder, readout) as program:
        _, kind, *place = program.waits("ready").split(" ", 2)
        assert kind == before.next.kind
        if before.next.place is not None:
            assert json.loads(place[0]) == before.next.place.body()
        with closing(acts(program, folder)) as steps:
            for n, answer in enumerate(steps, 1):
                if n == last:
                    time.sleep(DRAW.uniform(0, LATEST_S))
                    said = program.kill()
                    return said, not said[-1].startswith(answer)
                program.waits(*answer)
        return program.kill(), False


def test_killed_at_random_instants_it_loses_nothing_and_goes_on(folder: Folder) -> None:
    shown: dict[int, Any] = {}
    unanswered = 0
    with SimulatedReadout() as readout:
        for round_ in range(KILLS + 1):
            last = DRAW.randrange(1, 7) if round_ < KILLS else None
            said, cut_short = one_round(folder, readout, now(folder), last)
            unanswered += cut_short
            shown |= shown_as_taken(said)
            with Store.open(folder.ledger) as store:
                kept = {e.seq: e.body["place"] for e in store.entries(kinds=("reading",))}
            assert shown.items() <= kept.items()
    print(f"{unanswered} of {KILLS} kills came before the answer")
    final, straight = now(folder), fold(worked.entries("I1"), MARK)
    assert final.next is None
    assert len(final.record.cuts) == 1
    assert {p: k.shown for p, k in final.standing.items()} == {
        p: k.shown for p, k in straight.standing.items()
    }
    assert [(r.characteristic.id, r.flute, r.values, r.u) for r in final.results] == [
        (r.characteristic.id, r.flute, r.values, r.u) for r in straight.results
    ]
