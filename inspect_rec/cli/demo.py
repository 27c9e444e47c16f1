"""The demo: three worked jobs as recorded bytes through a real connection to signed reports.

Plays an invented shop. Nothing is shortened: bytes go through pyserial, the decoder, the ledger
on disk, the methods, the report, two signatures, and a verification of each file.
"""

from __future__ import annotations

import json
import shutil
import time
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from drivers import replay
from drivers.decoder import Decoder
from drivers.layout import packaged
from drivers.lines import Pollable
from drivers.opening import opened
from drivers.transport import Chunk
from inspect_rec.capture import Capture
from inspect_rec.cli import summary
from inspect_rec.config import Folder, Name, read_text, write_whole
from inspect_rec.errors import InputError, InspectRecError
from inspect_rec.inspection import fold
from inspect_rec.people import Issued, Person, Role, Signer, new_person, new_root, signer
from inspect_rec.release import hand_over, open_job, release
from inspect_rec.release.conceding import Granted, concede
from inspect_rec.release.sheet import sign_sheet
from inspect_rec.simulate.readout import SimulatedReadout
from inspect_rec.store import Store

PASSPHRASE = "for the demo only"  # noqa: S105 - protects nothing but made-up persons
MARKER = ".inspect-rec-demo"
PERSONS = (
    Person("G-01", "Marten Oakes", (Role.GRINDS, Role.MEASURES)),
    Person("Q-01", "Tomasz Wren", (Role.RELEASES,)),
)
JOBS = ("i1", "i2", "i3")
AGAIN = ("DC_2",)
ORDER = {"characteristics": list(AGAIN), "repeats": 9, "master": "PIN-11"}
"""The order that follows on a report that isn't released: a pin of its size, nine sightings."""

GIVEN = {
    "A-0233": "given outside the demo",
    "A-0234": "given outside the demo",
    "A-0236": "given outside the demo",
    "A-0237": "given outside the demo",
    "A-0238": "given outside the demo",
    "A-0239": "given outside the demo",
}
_SINCE = datetime(2026, 1, 1, tzinfo=UTC)


def run(fixtures: Path, out: Path) -> int:
    """Play the demo into ``out``; gives 0 when every report verifies."""
    started = time.monotonic()
    if not (fixtures / "worked" / "shop.toml").is_file():
        raise InputError(
            "the demo's files aren't here",
            expected="worked/shop.toml",
            where=str(fixtures),
            do="Run it in a clone of the project, or name the folder with --fixtures",
        )
    _fresh(out)
    folder = Folder(out / "shop")
    signers = _set_up(folder, fixtures, out)
    shop = folder.read_shop().shop
    tools: dict[str, Any] = {}
    with Store.create(folder.ledger, shop.station, shop.first_number) as store:
        for name in JOBS:
            player = _Player(store, folder, fixtures, name, signers, out)
            player.play()
            player.sum_up()
            tools[player.mark] = player.told()
    write_whole(
        out / "summary.json",
        json.dumps({"tools": tools}, ensure_ascii=False, indent=1).encode() + b"\n",
    )
    ok = _verify(out, folder) and _in_german(fixtures, out)
    _farewell(out, time.monotonic() - started)
    return 0 if ok else 1


def _in_german(fixtures: Path, out: Path) -> bool:
    """The first job once more, as a German shop types it, in a folder and a ledger of its own."""
    fixtures, out = fixtures / "german", out / "german"
    folder = Folder(out / "shop")
    print(f"\nIn German, in {out}:")
    signers = _set_up(folder, fixtures, out)
    write_whole(folder.station, b'copies = "../copies"\nlanguage = "de"\n')
    shop = folder.read_shop().shop
    with Store.create(folder.ledger, shop.station, shop.first_number) as store:
        player = _Player(store, folder, fixtures, JOBS[0], signers, out)
        player.play()
        player.sum_up()
    return _verify(out, folder)


def _fresh(out: Path) -> None:
    """An empty folder; one that the demo didn't make is left alone."""
    if out.exists() and any(out.iterdir()):
        if not (out / MARKER).is_file():
            raise InputError(
                "the folder holds something else", where=str(out), do="Name another with --out"
            )
        shutil.rmtree(out)
    out.mkdir(parents=True, exist_ok=True)
    (out / MARKER).write_text("made by inspect-rec demo\n", encoding="utf-8")


def _set_up(folder: Folder, fixtures: Path, out: Path) -> Mapping[str, Signer]:
    """The invented shop: its files, its root, its persons."""
    folder.path.mkdir(parents=True)
    shutil.copyfile(fixtures / "worked" / "shop.toml", folder.shop)
    write_whole(folder.station, b'copies = "../copies"\n')
    name = folder.read_shop().shop.name
    root = new_root(name, PASSPHRASE, _SINCE)
    write_whole(out / "shop-root.pem", root.certificate)
    _keep(folder, "root", root)
    signers = {}
    for person in PERSONS:
        issued = new_person(person, name, PASSPHRASE, root, PASSPHRASE, _SINCE)
        _keep(folder, person.id, issued)
        folder.name_person(person.id, Name(person.name, tuple(person.roles)))
        signers[person.id] = signer(issued, PASSPHRASE, root.certificate)
    return signers


def _keep(folder: Folder, name: str, issued: Issued) -> None:
    write_whole(folder.certificate(name), issued.certificate)
    write_whole(folder.key(name), issued.key, private=True)


def _give_numbers(store: Store, player: _Player) -> None:
    """Numbers between this report and the next of the worked jobs went elsewhere."""
    at = player.now + timedelta(minutes=1)
    store.append_all(
        [(at, "Q-01", "number given", {"number": n, "why": why}) for n, why in GIVEN.items()]
    )


class _Player:
    """One worked job, from its recording to its signed report."""

    def __init__(
        self,
        store: Store,
        folder: Folder,
        fixtures: Path,
        name: str,
        signers: Mapping[str, Signer],
        out: Path,
    ) -> None:
        from inspect_rec import jobfile

        self.store, self.folder, self.signers, self.out = store, folder, signers, out
        self.fixtures = fixtures
        text = (fixtures / "worked" / f"{name}.toml").read_text(encoding="utf-8")
        self.job = jobfile.parse_job(text, folder.read_shop(), f"{name}.toml")
        path = fixtures / "recordings" / f"{name}.jsonl"
        self.recording, bad = replay.read(read_text(path), path.name)
        if bad:
            raise InputError("the recording has bad lines", bad)
        self.mark = self.job.tool[0].mark
        self.layout = packaged()["two-axis line"]
        self.now = self.recording[0].at
        self.number = self.amended_by = ""
        self.decision = ""
        self.cuts: list[tuple[int, str]] = []

    def play(self) -> None:
        """Every line of the recording, in its order."""
        (inspection,) = open_job(self.store, self.folder, self.job, "G-01", self.now)
        print(f"\n{inspection}  {self.job.tool[0].title}, {self.job.job.customer}")
        capture = Capture(self.store, inspection, "G-01", self.layout)
        self.capture = capture
        decoder = Decoder(self.layout, "RO-1")
        with (
            SimulatedReadout() as readout,
            opened(readout.url, self.layout, lambda: self.now) as line,
        ):
            for each in self.recording:
                self.now = each.at
                if each.data:
                    readout.send(each.data)
                    for item in self._heard(line, decoder, len(each.data)):
                        self._said(self.capture.hear(item))
                else:
                    self._act(each.act, each.more)

    @staticmethod
    def _heard(line: Pollable, decoder: Decoder, count: int) -> Iterator[Any]:
        """What the bytes on their way become; they may arrive in any pieces."""
        came = 0
        until = time.monotonic() + 5
        while came < count:
            found = line.poll(0.2)
            if isinstance(found, Chunk):
                came += len(found.data)
                yield from decoder.feed(found.data, found.at)
            elif time.monotonic() > until:
                raise InspectRecError("the simulated readout doesn't answer")

    def _said(self, said: Any) -> None:
        if said is not None and not said.ok:
            raise InspectRecError("the demo's recording was refused", found=said.words)

    def _act(self, act: str, each: Mapping[str, Any]) -> None:
        capture = self.capture
        if act == "take":
            self._said(capture.take(self.now))
        elif act == "type":
            self._said(capture.type(each["text"]))
        elif act == "ground again":
            self._ground(each)
        elif act == "report":
            self._report(each)
        elif act == "Z display set anew":
            body = {"slide": "Z", "before_mm": str(each["z_before_mm"])}
            after = {"after_mm": str(each["z_after_mm"]), "why": each["why"]}
            self._said(capture.event(self.now, "datum set anew", body | after))
        elif act in ("clamped", "unclamped"):
            thing = str(each["object"]).split(" on ")[0]
            self._said(capture.event(self.now, act, {"object": thing}))
        elif act == "concession":
            granted = Granted(
                str(each["reference"]), AGAIN, (), str(each["about"]), str(each["customer"])
            )
            concede(self.store, self.folder, self.capture.id, "Q-01", granted, self.now)
            self.capture = Capture(self.store, self.capture.id, "G-01", self.layout)
            print(f"  … {granted.granted_by} grants concession {granted.number}: {granted.words}")
        elif act == "received":
            body = {"job": self.job.job.number, "tool": self.mark, "state": each["state"]}
            self._said(capture.event(self.now, act, body))
            self._picture(str(each["state"]))

    def _picture(self, state: str) -> None:
        """The tool as it came, where the job has a picture of it."""
        from inspect_rec.cli.taking import About, Taker, keep_picture, opened

        path = self.fixtures / "worked" / f"{self.job.job.number.lower()}-received.jpg"
        if not path.is_file():
            return
        taker = Taker(self.folder, self.capture.id, "G-01", None, About(0, state))
        with opened(path) as found:
            keep_picture(self.store, taker, taker.source(found, "picture"), found, self.now)
        self.capture = Capture(self.store, self.capture.id, "G-01", self.layout)

    def _ground(self, each: Mapping[str, Any]) -> None:
        """What is left to grind shows before the cut; the cut voids what was final."""
        inspection = self.capture.inspection
        self.cuts.append((self.capture.store.head().seq, "ground again"))
        print(summary.table(inspection))
        word = inspection.tool.edge_word
        print(f"  … {word} {each['flute']} ground again by {each['infeed_mm']}: {each['how']}")
        self._said(
            self.capture.ground_again(
                self.now, int(each["flute"]), str(each["infeed_mm"]), str(each["how"])
            )
        )

    def _report(self, each: Mapping[str, Any]) -> None:
        if not self.number:
            print(summary.table(self.capture.inspection))
        handed = hand_over(
            self.store,
            self.folder,
            self.capture.id,
            self.signers["G-01"],
            self.now,
            str(each.get("why", "")),
        )
        decision = "released" if each["decision"].startswith("released") else "not released"
        reason = str(each.get("reason", ""))
        later = self.now + timedelta(minutes=5)
        path = release(
            self.store,
            self.folder,
            handed.number,
            self.signers["Q-01"],
            decision,
            reason,
            later,
        )
        shutil.copyfile(path, self.out / path.name)
        said = f"{decision}{f', {reason}' if reason else ''}"
        if self.number:
            self.amended_by = handed.number
            said = f"{each['decision']}, replaces {self.number}"
        else:
            self.number, self.decision = handed.number, decision
        print(f"  → {path.name}: {said}")
        if decision == "not released":
            _give_numbers(self.store, self)
            self._measure_again(later, reason)

    def _measure_again(self, at: datetime, why: str) -> None:
        self.cuts.append((self.store.head().seq, "measure again"))
        order = {"inspection": self.capture.id, **ORDER, "why": why}
        self.store.append(at, "Q-01", "measure again", order)
        self.capture = Capture(self.store, self.capture.id, "G-01", self.layout)

    def sum_up(self) -> None:
        """The batch sheet of the job, once its tools are decided."""
        at = self.now + timedelta(minutes=10)
        who = self.signers["Q-01"]
        path = sign_sheet(self.store, self.folder, self.job.job.number, who, at)
        shutil.copyfile(path, self.out / path.name)
        print(f"  → {path.name}: batch sheet of the job")

    def told(self) -> dict[str, Any]:
        """The tool as summary.json tells it: every set of results, the last at the end."""
        entries = list(self.store.entries(self.capture.id))
        stages = [
            fold([e for e in entries if e.seq <= seq], self.capture.id) for seq, _ in self.cuts
        ]
        stages.append(fold(entries, self.capture.id))
        last = stages[-1]
        if self.cuts and self.cuts[-1][1] == "measure again":
            print(f"  … {', '.join(AGAIN)} measured again:")
            print(summary.table(last, only=set(AGAIN)))
        sets = [
            "first",
            *("re-measured" if w == "measure again" else "after rework" for _, w in self.cuts),
        ]
        return {
            "report": self.number,
            "decision": self.decision,
            **({"amended_by": self.amended_by} if self.amended_by else {}),
            "results": summary.results(stages, sets),
        }


def _verify(out: Path, folder: Folder) -> bool:
    """Every report and sheet held against the shop's root and its ledger."""
    from inspect_rec.cli import sheets
    from inspect_rec.cli.verifying import against_store, read_root
    from inspect_rec.report import batch_verify
    from inspect_rec.report.verify import verify

    root = read_root(out / "shop-root.pem")
    print()
    good = True
    for path in sorted(out.glob("*.pdf")):
        data, now = path.read_bytes(), datetime.now(UTC)
        if batch_verify.is_sheet(data):
            sheet = sheets.against_store(batch_verify.verify(data, [root], now), folder.ledger)
            ok, wrong, act = sheet.ok, sheet.findings, f"reports named: {len(sheet.reports)}"
        else:
            found = against_store(verify(data, [root], now), folder.ledger)
            ok, wrong = found.ok, found.findings
            act = f"{found.verdict}, {'released' if found.released else 'not released'}"
            act += f", replaced by {found.replaced_by}" if found.replaced_by else ""
        good = good and ok
        state = "genuine, complete, recomputed" if ok else "; ".join(map(str, wrong))
        print(f"{path.name}  {state}; {act}")
    return good


def _farewell(out: Path, seconds: float) -> None:
    print(
        f"\nLook at {out / 'A-0231.pdf'} with any PDF reader; its paper clip shows the readings."
        f"\nCheck it yourself: inspect-rec verify {out / 'A-0231.pdf'}"
        f" --trust {out / 'shop-root.pem'}"
        f"\nEverything here is invented. ({seconds:.1f} s)"
    )
