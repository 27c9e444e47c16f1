"""Every command: one imperative sentence, an example, errors with their code and advice."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from inspect_rec import cli
from inspect_rec.errors import InspectRecError
from tests import signing, worked

RUN = CliRunner()
ROOT = typer.main.get_command(cli.app)


Path_ = tuple[str, ...]


def commands(group: Any, path: Path_ = ()) -> Iterator[tuple[Path_, Any]]:
    """All commands with their words; a group has commands of its own."""
    if not hasattr(group, "commands"):
        yield path, group
        return
    for name, command in group.commands.items():
        yield from commands(command, (*path, name))


ALL = dict(commands(ROOT))


@pytest.mark.parametrize("path", ALL, ids=" ".join)
def test_every_command_says_what_it_does_and_shows_an_example(path: tuple[str, ...]) -> None:
    text = ALL[path].help or ""
    assert text.splitlines()[0].rstrip().endswith((".", ":", ";")), text
    assert text[0].isupper()
    assert f"Example: inspect-rec {' '.join(path)}" in text


@pytest.mark.parametrize("path", ALL, ids=" ".join)
def test_help_fits_80_columns(path: tuple[str, ...]) -> None:
    said = RUN.invoke(cli.app, [*path, "--help"], env={"COLUMNS": "80"}, terminal_width=80)
    assert said.exit_code == 0
    assert max(map(len, said.output.splitlines())) <= 80


def test_every_family_of_errors_has_its_exit_code() -> None:
    families = set(InspectRecError.__subclasses__())
    assert families == set(cli.EXIT)
    assert len(set(cli.EXIT.values())) == len(cli.EXIT)
    assert not {0, 1} & set(cli.EXIT.values())


def test_an_error_is_one_clear_line_with_advice_and_no_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.argv", ["inspect-rec", "state", "--shop", str(tmp_path)])
    with pytest.raises(SystemExit) as caught:
        cli.main()
    said = capsys.readouterr().err
    assert caught.value.code == 2
    assert "there is no shop here" in said
    assert "inspect-rec shop new" in said
    assert "Traceback" not in said


@pytest.fixture
def files(tmp_path: Path) -> Path:
    (tmp_path / "root.pem").write_bytes(signing.shop().root.certificate)
    (tmp_path / "good.pdf").write_bytes(signing.report("I2"))
    (tmp_path / "cut.pdf").write_bytes(signing.measured("I2"))
    return tmp_path


def test_verify_says_genuine_with_code_0_whatever_the_decision(files: Path) -> None:
    said = RUN.invoke(
        cli.app, ["verify", str(files / "good.pdf"), "--trust", str(files / "root.pem"), "--json"]
    )
    assert said.exit_code == 0, said.output
    told = json.loads(said.output)
    assert told == {
        "ok": True,
        "number": "A-0232",
        "verdict": "neither shown",
        "released": False,
        "replaced_by": None,
        "findings": [],
    }


@pytest.mark.parametrize(
    ("name", "root", "code"),
    [("good.pdf", False, "untrusted"), ("cut.pdf", True, "signature missing")],
)
def test_verify_says_what_is_wrong_with_code_1(
    files: Path, name: str, root: bool, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(files)
    words = ["verify", str(files / name), "--json"]
    words += ["--trust", str(files / "root.pem")] if root else []
    said = RUN.invoke(cli.app, words)
    assert said.exit_code == 1
    findings = json.loads(said.output)["findings"]
    assert code in {f["code"] for f in findings}
    assert all(f["expected"] and f["found"] for f in findings)


def test_job_check_names_every_mistake_and_records_nothing(tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    shop.mkdir()
    (shop / "shop.toml").write_bytes((worked.FOLDER / "shop.toml").read_bytes())
    good = RUN.invoke(
        cli.app, ["job", "check", str(worked.FOLDER / "i1.toml"), "--shop", str(shop)]
    )
    assert good.exit_code == 0
    assert "4.890" in good.output
    bad = tmp_path / "bad.toml"
    text = (worked.FOLDER / "i1.toml").read_text("utf-8").replace("edges = 4", "edges = 0")
    bad.write_text(text.replace("points = 9", "points = 2"), encoding="utf-8")
    said = RUN.invoke(cli.app, ["job", "check", str(bad), "--shop", str(shop)])
    assert said.exception is not None
    assert str(said.exception).count("bad.toml:") >= 3
    assert not (shop / "ledger.sqlite").exists()
