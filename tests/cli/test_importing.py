"""Files at the command line: what one holds, what is taken, and a folder that is watched."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from typer.testing import CliRunner, Result

from inspect_rec import cli
from inspect_rec.cli import imported, importing, taking, watching
from inspect_rec.config import Folder
from inspect_rec.errors import InputError, LedgerError, PersonError
from inspect_rec.store import Store
from tests import filed, worked

RUN = CliRunner()
ROOT = Path(__file__).parents[2]
MARK = worked.inspection_id("I2")
LINES = list(filed.rows("I2"))


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return filed.shop(tmp_path)


@pytest.fixture
def mapping(tmp_path: Path) -> Path:
    path = tmp_path / "log.toml"
    path.write_text(filed.MAPPING, encoding="utf-8")
    return path


def written(path: Path, *lines: str) -> Path:
    path.write_text("\n".join([filed.HEAD, *lines, ""]), encoding="utf-8")
    return path


def run(*words: object) -> Result:
    found = RUN.invoke(cli.app, ["import", *map(str, words)], catch_exceptions=True)
    if found.exception is not None and not isinstance(found.exception, SystemExit):
        raise found.exception
    return found


def told(*words: object) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(run(*words, "--json").stdout)
    return found


def readings(folder: Folder) -> list[dict[str, Any]]:
    with Store.open(folder.ledger) as store:
        store.check()
        return [dict(e.body) for e in store.entries(kinds=["reading"])]


# One file


def test_what_would_be_taken_and_every_mistake_is_printed_and_nothing_is_stored(
    folder: Folder, mapping: Path, tmp_path: Path
) -> None:
    file = written(tmp_path / "log.csv", *LINES[:5], "x", LINES[5].replace(".", ":", 4))
    before = folder.ledger.read_bytes()
    found = run(file, "--mapping", mapping)
    assert found.exit_code == importing.WRONG
    assert "  temperature 20.5 degC  temperature, air\n" in found.stdout
    assert "log.csv:7: expected 12 cells, found 1: 'x'" in found.stdout
    assert found.stdout.splitlines()[-1] == "log.csv: 5 rows good, 3 mistakes"
    assert folder.ledger.read_bytes() == before
    same = told(file, "--mapping", mapping)
    assert (same["count"], [m["where"] for m in same["mistakes"]]) == (
        5, ["log.csv:7", "log.csv:F8", "log.csv:G8"],
    )  # fmt: skip
    assert same["rows"][3]["figures"] == [
        {"channel": "X", "value": f"{LINES[3].split(';')[5]}", "unit": "mm"},
        {"channel": "Z", "value": f"{LINES[3].split(';')[6]}", "unit": "mm"},
    ]


def test_of_a_long_table_all_rows_are_counted_and_all_mistakes_named(
    mapping: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(imported, "SHOWN", 2)
    later = "2026-11-18T09:{0:02}:{1:02}Z;edge;1;tip;;1;2;;;;;"
    lines = [later.format(n // 60, n % 60) for n in range(900)]
    lines[100], lines[700] = "x", lines[700].replace(";1;2", ";1;?")
    file = written(tmp_path / "log.csv", *lines)
    found = told(file, "--mapping", mapping)
    assert (found["count"], len(found["rows"])) == (898, 200)
    assert [m["where"] for m in found["mistakes"]] == ["log.csv:102", "log.csv:G702"]
    assert "and 896 more" in run(file, "--mapping", mapping).stdout


def test_good_rows_are_taken_for_the_tool_once(
    folder: Folder, mapping: Path, tmp_path: Path
) -> None:
    file = written(tmp_path / "log.csv", *LINES[:3])
    words = (file, "--mapping", mapping, "--inspection", MARK, "--person", "G-01")
    found = run(*words, "--shop", folder.path)
    assert (found.exit_code, found.stdout.splitlines()[-1]) == (
        0, "log.csv: 3 rows taken, entry 5, 0 mistakes",
    )  # fmt: skip
    assert len(readings(folder)) == 3
    with pytest.raises(InputError, match="taken before"):
        run(*words, "--shop", folder.path)
    written(file, *LINES[:5])
    more = run(*words, "--shop", folder.path)
    assert more.exit_code == importing.WRONG
    assert "first: clamp" in more.stdout
    assert len(readings(folder)) == 3


def test_somebody_has_to_answer_for_what_is_taken(
    folder: Folder, mapping: Path, tmp_path: Path
) -> None:
    file = written(tmp_path / "log.csv", *LINES[:3])
    for words in (
        (file, "--inspection", MARK),
        (file, "--person", "G-01"),
        (file, "--watch", tmp_path),
        (),
        ("--watch", tmp_path, "--mapping", mapping),
        ("--watch", tmp_path, "--inspection", MARK, "--person", "G-01"),
        (file,),
        (tmp_path / "none.csv", "--mapping", mapping),
        (tmp_path, "--mapping", mapping),
    ):
        with pytest.raises(InputError):
            run(*words)
    more = (file, "--mapping", mapping, "--inspection", MARK, "--shop", folder.path)
    with pytest.raises(PersonError):
        run(*more, "--person", "G-77")


def test_a_spreadsheet_and_points_are_shown_too(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["X", "Z"])
    book.active.append([31.447, "x"])
    book.active.append([31.447, 142.318])
    book.save(tmp_path / "log.xlsx")
    stated = '[at]\nform = "file written"\n[units]\nlengths = "mm"\n'
    sheet = tmp_path / "sheet.toml"
    sheet.write_text(f'kind = "spreadsheet"\n[columns]\nx = "X"\nz = 2\n{stated}', encoding="utf-8")
    found = told(tmp_path / "log.xlsx", "--mapping", sheet)
    assert (found["count"], [m["where"] for m in found["mistakes"]]) == (1, ["log.xlsx:B2"])
    points = tmp_path / "points.toml"
    points.write_text(f'kind = "points"\n{stated}', encoding="utf-8")
    (tmp_path / "edge.txt").write_text("# mm\n1 2\n3 4\n", encoding="utf-8")
    assert told(tmp_path / "edge.txt", "--mapping", points)["count"] == 2


def test_a_drawing_gives_the_elements_for_the_job_file(folder: Folder, tmp_path: Path) -> None:
    drawing = ROOT / "fixtures" / "drawings" / "pieces-mm.dxf"
    stated = tmp_path / "contour.toml"
    stated.write_text('kind = "contour"\n[contour]\nbegin = [0, 0]\nlayer = "EDGE"\n', "utf-8")
    found = run(drawing, "--mapping", stated)
    assert found.exit_code == 0
    assert found.stdout.startswith('elements = [\n    "from 0 0",\n    "line 2 0",\n')
    assert "# not in it: pieces-mm.dxf:" in found.stdout
    with pytest.raises(InputError, match="no reading"):
        run(drawing, "--mapping", stated, "--inspection", MARK, "--person", "G-01",
            "--shop", folder.path)  # fmt: skip


def test_a_file_that_is_too_large_is_not_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, mapping: Path
) -> None:
    monkeypatch.setattr(taking, "LARGEST", 100)
    with pytest.raises(InputError, match="can't be imported"):
        run(written(tmp_path / "log.csv", *LINES), "--mapping", mapping)


def test_a_file_that_somebody_writes_to_meanwhile_gives_nothing(
    folder: Folder, mapping: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = written(tmp_path / "log.csv", *LINES[:3])
    rows = taking._rows

    def slow(*words: Any) -> Any:
        with file.open("a", encoding="utf-8") as more:
            more.write("x")
        return rows(*words)

    monkeypatch.setattr(taking, "_rows", slow)
    with pytest.raises(InputError, match="changed while"):
        run(file, "--mapping", mapping, "--inspection", MARK, "--person", "G-01",
            "--shop", folder.path)  # fmt: skip
    assert readings(folder) == []


# A folder


@pytest.fixture
def watched(tmp_path: Path) -> Path:
    path = tmp_path / "in"
    path.mkdir()
    return path


def watch(folder: Folder, mapping: Path, watched: Path) -> str:
    words = ("--watch", watched, "--mapping", mapping, "--inspection", MARK, "--person", "G-01")
    return run(*words, "--shop", folder.path, "--once", "--still", "0.05").stdout


def names(watched: Path) -> dict[str, str]:
    """Where each file lies, by what it was called; texts apart."""
    found = {}
    for path in watched.rglob("*"):
        if path.is_file():
            stem = path.name.split("-")[0] + (".txt" if path.suffix == ".txt" else "")
            found[stem] = path.parent.name
    return found


def test_files_are_taken_once_and_moved_with_their_digest(
    folder: Folder, mapping: Path, watched: Path
) -> None:
    written(watched / "a.csv", *LINES[:2])
    written(watched / "b.csv", LINES[2], "x")
    (watched / "c.csv").write_text("nothing", encoding="utf-8")
    (watched / "d.csv.part").write_text("not yet", encoding="utf-8")
    (watched / "sub").mkdir()
    said = watch(folder, mapping, watched)
    assert "a.csv: taken, entry 4, 2 rows" in said
    assert "b.csv: taken, entry 6, 1 rows, 1 mistakes" in said
    assert "c.csv: refused" in said
    assert names(watched) == {
        "a": "taken", "b": "taken", "b.txt": "taken", "c": "refused", "c.txt": "refused",
        "d.csv.part": "in",
    }  # fmt: skip
    (reason,) = (watched / "taken").glob("b-*.txt")
    assert reason.read_text("utf-8") == "b.csv:3: expected 12 cells, found 1: 'x'\n"
    (why,) = (watched / "refused").glob("c-*.txt")
    assert "lacks columns" in why.read_text("utf-8")
    written(watched / "again.csv", *LINES[:2])
    assert "again.csv: taken, entry 4" in watch(folder, mapping, watched)
    assert len(readings(folder)) == 3
    assert names(watched)["again"] == "taken"


def test_a_file_of_which_nothing_fits_lies_with_its_reason(
    folder: Folder, mapping: Path, watched: Path
) -> None:
    written(watched / "late.csv", LINES[8])
    watch(folder, mapping, watched)
    assert names(watched) == {"late": "refused", "late.txt": "refused"}
    assert readings(folder) == []


@pytest.mark.skipif(sys.platform != "linux", reason="a lease tells it on Linux alone")
def test_a_file_that_another_program_writes_to_is_left_until_it_is_closed(
    folder: Folder, mapping: Path, watched: Path
) -> None:
    taker = taking.Taker(folder, MARK, "G-01", taking.mapping_of(mapping))
    one = watching.Watch(watched, folder, taker)
    file = written(watched / "a.csv", *LINES[:2])
    with file.open("a", encoding="utf-8"):
        assert not one.deal_with(file)
        assert file.exists()
    assert one.deal_with(file)
    assert not file.exists()


def test_there_must_be_a_folder_and_an_open_job(
    folder: Folder, mapping: Path, watched: Path, tmp_path: Path
) -> None:
    more = ("--mapping", mapping, "--person", "G-01", "--shop", folder.path, "--once")
    with pytest.raises(InputError, match="no such folder"):
        run("--watch", tmp_path / "none", "--inspection", MARK, *more)
    with pytest.raises(LedgerError):
        run("--watch", watched, "--inspection", "I9/X", *more)
    with pytest.raises(InputError, match="no time"):
        run("--watch", watched, "--inspection", MARK, *more, "--still", "-1")


class Killed(BaseException):
    """The program is killed here."""


class Dying:
    """Counts the calls that change something on disk, each before and after it is done, and dies
    at one of these instants."""

    def __init__(self, last: int) -> None:
        self.last, self.count = last, 0

    def instant(self) -> None:
        self.count += 1
        if self.count == self.last:
            raise Killed

    def put(self, patch: pytest.MonkeyPatch, owner: type, name: str) -> None:
        made = getattr(owner, name)

        def step(*words: Any, **more: Any) -> Any:
            self.instant()
            found = made(*words, **more)
            self.instant()
            return found

        patch.setattr(owner, name, step)


ALL_DEALT_WITH = {
    "a": "taken", "a.txt": "taken", "b": "refused", "b.txt": "refused", "c": "taken",
}  # fmt: skip


def three(watched: Path) -> None:
    """A file with good rows and a wrong one, one that is no table, and one that goes on."""
    written(watched / "a.csv", *LINES[:2], "x")
    (watched / "b.csv").write_text("nothing", encoding="utf-8")
    written(watched / "c.csv", LINES[2])


def test_killed_between_any_two_steps_each_file_is_taken_once(
    tmp_path: Path, mapping: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    last, alive = 0, False
    while not alive:
        last += 1
        watched = tmp_path / str(last) / "in"
        watched.mkdir(parents=True)
        folder = filed.shop(watched.parent)
        three(watched)
        with monkeypatch.context() as patch:
            dying = Dying(last)
            for owner, name in ((Store, "append_all"), (Path, "replace"), (Path, "mkdir")):
                dying.put(patch, owner, name)
            with contextlib.suppress(Killed):
                watch(folder, mapping, watched)
                alive = True
        watch(folder, mapping, watched)
        assert names(watched) == ALL_DEALT_WITH
        assert [b["taken"][0]["value"] for b in readings(folder)] == ["20.5", "20.6", "20.5"]
    assert last > 20


def test_the_program_killed_at_any_instant_takes_each_file_once(
    folder: Folder, mapping: Path, watched: Path
) -> None:
    words = [sys.executable, "-m", "inspect_rec", "import", "--watch", str(watched),
             "--mapping", str(mapping), "--inspection", MARK, "--person", "G-01",
             "--shop", str(folder.path), "--still", "0.05", "--once"]  # fmt: skip
    three(watched)
    for delay in (0.9, 1.1, 1.2, 1.3):
        with subprocess.Popen(words, stdout=subprocess.DEVNULL, cwd=ROOT) as process:
            time.sleep(delay)
            process.kill()
    watch(folder, mapping, watched)
    assert names(watched) == ALL_DEALT_WITH
    assert len(readings(folder)) == 3


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_links_in_the_folder_lead_nowhere(
    folder: Folder, mapping: Path, watched: Path, tmp_path: Path
) -> None:
    (watched / "a.csv").symlink_to(written(tmp_path / "log.csv", *LINES[:2]))
    watch(folder, mapping, watched)
    assert (watched / "a.csv").is_symlink()
    assert readings(folder) == []
