"""What a shop types on its first day, line by line, in a folder of its own."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

from typer.testing import CliRunner

from inspect_rec import cli
from tests import worked

RUN = CliRunner()
RECORDING = Path(__file__).parents[2] / "fixtures" / "recordings" / "i1.jsonl"


def test_from_an_empty_folder_to_a_verified_report(tmp_path: Path) -> None:
    shop, secret = tmp_path / "shop", tmp_path / "secret"
    secret.write_text("a long passphrase\n", encoding="utf-8")
    at = ["--shop", str(shop)]
    key = ["--passphrase-file", str(secret)]

    def types(*words: str, code: int = 0) -> str:
        said = RUN.invoke(cli.app, list(words))
        assert said.exit_code == code, (words, said.output, said.exception)
        return said.output

    types("shop", "new", str(shop), "--name", "Tallow Lane Tool Grinding", *key)
    left = RUN.invoke(cli.app, ["shop", "check", *at])
    assert "isn't filled in yet" in str(left.exception)
    shutil.copyfile(worked.FOLDER / "shop.toml", shop / "shop.toml")
    (shop / "station.toml").write_text(f'copies = "{(tmp_path / "c").as_posix()}"\n', "utf-8")
    assert "12 pieces" in types("shop", "check", *at)
    person = ["--root-passphrase-file", str(secret), *key, *at]
    grinds = ["--role", "grinds", "--role", "measures"]
    types("person", "add", "G-01", "--name", "Marten Oakes", *grinds, *person)
    types("person", "add", "Q-01", "--name", "Tomasz Wren", "--role", "releases", *person)
    types("job", "check", str(worked.FOLDER / "i1.toml"), *at)
    types("job", "open", str(worked.FOLDER / "i1.toml"), "--person", "G-01", *at)
    said = types("state", "I1/QF-0417", *at)
    assert "next: " in said
    assert "not measured yet: R, flute 1" in said
    types("receive", "I1/QF-0417", "--state", "worn, no chips", "--person", "G-01", *at)
    types(
        "measure", "I1/QF-0417", "--person", "G-01", "--recording", str(RECORDING), "--plain", *at
    )
    told = json.loads(types("state", "I1/QF-0417", "--json", *at))
    assert told["verdict"] == "conforms"
    assert told["open_steps"] == 0
    assert "A-0001" in types("handover", "I1/QF-0417", "--person", "G-01", *key, *at)
    assert "A-0001: waits for release" in types("state", "I1/QF-0417", *at)
    types("release", "A-0001", "--person", "Q-01", *key, *at)
    assert "A-0001: released by Q-01" in types("state", *at)
    report = shop / "reports" / "A-0001.pdf"
    root = shop / "keys" / "root.cert.pem"
    types("verify", str(report), "--trust", str(root), "--store", str(shop / "ledger.sqlite"))
    types("ledger", "check", "--report", str(report), *at)
    copies = sorted((tmp_path / "c").iterdir(), key=lambda p: p.stat().st_mtime)
    lost = tmp_path / "again"
    shutil.copytree(shop, lost)
    for name in ("ledger.sqlite", "ledger.sqlite-wal", "ledger.sqlite-shm"):
        (lost / name).unlink(missing_ok=True)
    types("ledger", "restore", str(copies[-1]), "--shop", str(lost))
    types("verify", str(report), "--trust", str(root), "--store", str(lost / "ledger.sqlite"))
    exported = types("ledger", "export", "I1/QF-0417", *at).splitlines()
    assert len(exported) == len(set(exported)) > 100


def test_a_touched_tool_makes_its_report_stale(tmp_path: Path) -> None:
    shop, secret = tmp_path / "shop", tmp_path / "secret"
    secret.write_text("a long passphrase\n", encoding="utf-8")
    at, key = ["--shop", str(shop)], ["--passphrase-file", str(secret)]
    person = ["--root-passphrase-file", str(secret), *key, *at]

    def types(*words: str) -> None:
        said = RUN.invoke(cli.app, list(words))
        assert said.exit_code == 0, (words, said.output, said.exception)

    types("shop", "new", str(shop), "--name", "Tallow Lane Tool Grinding", *key)
    shutil.copyfile(worked.FOLDER / "shop.toml", shop / "shop.toml")
    types("person", "add", "G-01", "--name", "M", "--role", "measures", *person)
    types("person", "add", "Q-01", "--name", "T", "--role", "releases", *person)
    types("job", "open", str(worked.FOLDER / "i1.toml"), "--person", "G-01", *at)
    types(
        "measure", "I1/QF-0417", "--person", "G-01", "--recording", str(RECORDING), "--plain", *at
    )
    types("handover", "I1/QF-0417", "--person", "G-01", *key, *at)
    own = RUN.invoke(cli.app, ["release", "A-0001", "--person", "G-01", *key, *at])
    assert "releases" in str(own.exception)
    types("ground", "I1/QF-0417", "--flute", "2", "--person", "G-01", *at)
    said = RUN.invoke(cli.app, ["release", "A-0001", "--person", "Q-01", *key, *at])
    assert "stale" in str(said.exception)
    paths = [str(shop / "reports" / "A-0001.pdf"), "--store", str(shop / "ledger.sqlite")]
    told = RUN.invoke(cli.app, ["verify", *paths, *at]).output
    assert "the tool was touched after this report: ground again, entry A" in told
    assert "stale, the tool was touched since" in RUN.invoke(cli.app, ["state", *at]).output
    left = RUN.invoke(cli.app, ["handover", "I1/QF-0417", "--person", "G-01", *key, *at])
    assert "measured to its end" in str(left.exception)
