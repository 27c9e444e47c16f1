"""Every command: one imperative sentence, an example, errors with their code and advice."""

from __future__ import annotations

import json
import re
import shlex
import shutil
from pathlib import Path

import pikepdf
import pytest
import typer
from cryptography import x509
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    load_pem_private_key,
    pkcs12,
)
from typer.testing import CliRunner

from inspect_rec import cli, config
from inspect_rec.cli import asking, reference
from inspect_rec.errors import InputError, InspectRecError, PersonError, ReportError
from inspect_rec.people import Issued, Person, Role, new_person, new_root
from inspect_rec.store import Store
from tests import signing, worked
from tests.report import forging

RUN = CliRunner()
ROOT = typer.main.get_command(cli.app)
ALL = dict(reference.commands(ROOT))
DOCUMENT = Path(__file__).parents[2] / "docs" / "commands.md"


@pytest.mark.parametrize("path", ALL, ids=" ".join)
def test_every_command_says_in_one_short_sentence_what_it_does(path: tuple[str, ...]) -> None:
    first = (ALL[path].help or "").split("\n\n")[0]
    assert first[0].isupper()
    assert first.endswith(".")
    assert len(first) <= 62, "a list of commands would cut it short"


@pytest.mark.parametrize("path", ALL, ids=" ".join)
def test_every_example_stands_on_one_line_and_is_one_that_the_command_takes(
    path: tuple[str, ...],
) -> None:
    lines = [line.strip() for line in reference.help_of(ROOT, path).splitlines()]
    (example,) = [line for line in lines if line.startswith("Example: ")]
    program, *words = shlex.split(example.removeprefix("Example: "))
    assert program == "inspect-rec"
    assert tuple(words[: len(path)]) == path
    command = ALL[path]
    command.make_context(path[-1], words[len(path) :])  # raises for what it doesn't take


@pytest.mark.parametrize("path", ALL, ids=" ".join)
def test_help_fits_80_columns_and_is_what_the_document_shows(path: tuple[str, ...]) -> None:
    # Two less than the terminal's 80, as the program leaves them outside of tests.
    said = RUN.invoke(
        cli.app, [*path, "--help"], prog_name="inspect-rec", terminal_width=78
    ).output.rstrip()
    assert max(map(len, said.splitlines())) <= 80
    assert said == reference.help_of(ROOT, path)


def test_a_list_of_commands_is_cut_short_nowhere() -> None:
    groups = [(), *{path[:1] for path in ALL if len(path) > 1}]
    for words in groups:
        said = RUN.invoke(cli.app, [*words, "--help"], env={"COLUMNS": "80"}).output
        assert "..." not in said.split("Commands:")[1]


def test_the_command_reference_is_current() -> None:
    assert DOCUMENT.read_text(encoding="utf-8") == reference.text()


def test_no_passphrase_is_ever_typed_on_the_command_line() -> None:
    asked = [
        option
        for command in ALL.values()
        for parameter in command.params
        for option in parameter.opts
        if "pass" in option
    ]
    assert asked
    assert all(option.endswith("-file") for option in asked)


# Errors


def test_every_family_of_errors_has_its_exit_code() -> None:
    families = set(InspectRecError.__subclasses__())
    assert families == set(cli.EXIT)
    codes = [*cli.EXIT.values(), cli.FAULT]
    assert len(set(codes)) == len(codes)
    assert not {0, 1} & set(codes)


def typed(
    words: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> tuple[int, str]:
    """Exit code and what stands on stderr, through the program's own boundary."""
    monkeypatch.setattr("sys.argv", ["inspect-rec", *words])
    with pytest.raises(SystemExit) as caught:
        cli.main()
    assert isinstance(caught.value.code, int)
    return caught.value.code, capsys.readouterr().err


def test_an_error_is_one_clear_message_with_advice_and_no_traceback(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = typed(["state", "--shop", str(tmp_path)], monkeypatch, capsys)
    assert code == 2
    assert "there is no shop here" in " ".join(said.split())
    assert "inspect-rec shop new" in said
    assert "Traceback" not in said


def test_a_fault_of_the_program_keeps_its_trace_and_says_how_to_report_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def breaks(given: str | None = None) -> None:
        raise KeyError(given)

    monkeypatch.setattr(config, "folder", breaks)
    code, said = typed(["state", "--shop", "no-such"], monkeypatch, capsys)
    assert code == cli.FAULT
    assert "Traceback" in said
    assert "KeyError: 'no-such'" in said
    last = said[said.index("inspect-rec: this is a fault") :]
    assert re.search(r"version\s+[0-9]", last)
    assert max(map(len, last.splitlines())) <= 80


def test_a_wrong_option_is_an_error_of_usage(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = typed(["verify"], monkeypatch, capsys)
    assert code == 2
    assert "Usage: inspect-rec verify" in said


def test_a_message_stands_in_80_columns_and_digests_stay_whole() -> None:
    text = "word " * 40 + "\n  ! " + "a" * 90 + " and " * 20
    said = asking.wrapped(text)
    assert "a" * 90 in said
    assert all(len(line) <= 80 or "a" * 90 in line for line in said.splitlines())
    assert said.split() == text.split()


# The shop and its persons

SECRET = "a long passphrase"


@pytest.fixture
def shop(tmp_path: Path) -> config.Folder:
    """A shop that is set up and filled in."""
    (tmp_path / "secret").write_text(SECRET + "\n", encoding="utf-8")
    here = config.Folder(tmp_path / "shop")
    words = ["shop", "new", str(here.path), "--name", "Tallow Lane", *key(here)]
    assert RUN.invoke(cli.app, words).exit_code == 0
    shutil.copyfile(worked.FOLDER / "shop.toml", here.shop)
    return here


def key(here: config.Folder, option: str = "--passphrase-file") -> list[str]:
    return [option, str(here.path.parent / "secret")]


def add(
    here: config.Folder,
    *more: str,
    id_: str = "G-01",
    name: str = "M",
    role: str = "measures",
) -> BaseException | None:
    words = ["person", "add", id_, "--name", name, "--role", role, "--shop", str(here.path)]
    words += [*key(here), *key(here, "--root-passphrase-file"), *more]
    return RUN.invoke(cli.app, words).exception


def test_a_new_shop_says_what_is_to_be_filled_in_until_it_is(tmp_path: Path) -> None:
    (tmp_path / "secret").write_text(SECRET, encoding="utf-8")
    here = config.Folder(tmp_path / "shop")
    name = 'The "Lane" \\ Grinding – ß'
    words = ["shop", "new", str(here.path), "--name", name, *key(here)]
    assert RUN.invoke(cli.app, words).exit_code == 0
    said = RUN.invoke(cli.app, ["shop", "check", "--shop", str(here.path)])
    assert isinstance(said.exception, InputError)
    text = here.shop.read_text(encoding="utf-8")
    marked = [n for n, line in enumerate(text.splitlines(), 1) if '= "FILL IN' in line]
    assert [m.where for m in said.exception.mistakes] == [f"shop.toml:{n}" for n in marked]
    dates = re.sub(r'(calibrated|due) = "FILL IN.*"', r"\1 = 2026-03-12", text)
    figures = re.sub(r'(expanded|value) = "FILL IN.*"', r"\1 = 1.0", dates)
    here.shop.write_text(re.sub(r'"FILL IN.*"', '"as it is"', figures), encoding="utf-8")
    done = RUN.invoke(cli.app, ["shop", "check", "--shop", str(here.path), "--json"])
    assert done.exit_code == 0, done.exception
    assert json.loads(done.output)["shop"] == name
    again = RUN.invoke(cli.app, words)
    assert "there is a shop already" in str(again.exception)


@pytest.mark.parametrize("more", [["--station", "AB"], ["--first-number", "17"], ["--name", ""]])
def test_a_shop_that_can_not_be_leaves_nothing_behind(tmp_path: Path, more: list[str]) -> None:
    (tmp_path / "secret").write_text(SECRET, encoding="utf-8")
    here = config.Folder(tmp_path / "shop")
    words = ["shop", "new", str(here.path), "--name", "T", *key(here), *more]
    assert isinstance(RUN.invoke(cli.app, words).exception, InputError)
    assert not here.path.exists()


def test_a_person_is_added_with_an_entry_that_holds_no_name(shop: config.Folder) -> None:
    assert add(shop, name="Marten Oakes") is None
    with Store.open(shop.ledger) as store:
        (entry,) = store.entries(kinds=("person added",))
    assert entry.body["person"] == "G-01"
    assert entry.body["roles"] == ["measures"]
    assert "Oakes" not in json.dumps(dict(entry.body))
    assert "there is such a person already" in str(add(shop))
    assert b"ENCRYPTED" in shop.key("G-01").read_bytes()


@pytest.mark.parametrize("id_", ["../G-01", "a/b", "", "root", "x" * 40])
def test_an_id_that_would_lead_elsewhere_is_refused(shop: config.Folder, id_: str) -> None:
    assert isinstance(add(shop, id_=id_), InspectRecError)
    assert sorted(p.name for p in shop.keys.iterdir()) == ["root.cert.pem", "root.key.pem"]


def test_a_wrong_role_and_a_wrong_passphrase_add_nobody(shop: config.Folder) -> None:
    assert "no such role" in str(add(shop, role="rules"))
    (shop.path.parent / "other").write_text("not this one", encoding="utf-8")
    wrong = add(shop, "--root-passphrase-file", str(shop.path.parent / "other"))
    assert isinstance(wrong, PersonError)
    assert shop.persons() == {}


def brought(here: config.Folder, person: Person, root: Issued | None = None) -> Path:
    """A PKCS#12 file with a key for that person."""
    own = Issued(here.key("root").read_bytes(), here.certificate("root").read_bytes())
    made = new_person(person, "T", SECRET, root or own, SECRET, asking.now())
    path = here.path.parent / "brought.p12"
    path.write_bytes(
        pkcs12.serialize_key_and_certificates(
            None,
            load_pem_private_key(made.key, SECRET.encode()),  # type: ignore[arg-type]
            x509.load_pem_x509_certificate(made.certificate),
            None,
            BestAvailableEncryption(SECRET.encode()),
        )
    )
    return path


def test_a_key_made_elsewhere_is_taken_when_its_certificate_says_the_same(
    shop: config.Folder,
) -> None:
    secret = key(shop, "--pkcs12-passphrase-file")
    file = brought(shop, Person("G-01", "M", (Role.MEASURES,)))
    assert "something else" in str(add(shop, "--pkcs12", str(file), *secret, name="N"))
    root = new_root("Elsewhere", SECRET, asking.now())
    foreign = brought(shop, Person("G-01", "M", (Role.MEASURES,)), root)
    assert "under the shop's root" in str(add(shop, "--pkcs12", str(foreign), *secret))
    assert shop.persons() == {}
    file = brought(shop, Person("G-01", "M", (Role.MEASURES,)))
    assert add(shop, "--pkcs12", str(file), *secret) is None
    assert asking.signer(shop, "G-01", shop.path.parent / "secret").person.name == "M"


def test_a_certificate_in_anothers_place_signs_nothing(shop: config.Folder) -> None:
    assert add(shop) is None
    for name in (shop.certificate, shop.key):
        shutil.copyfile(name("G-01"), name("G-02"))
    with pytest.raises(PersonError, match="another person's"):
        asking.signer(shop, "G-02", shop.path.parent / "secret")


# The ledger


def test_a_number_is_accounted_for_once(shop: config.Folder) -> None:
    assert add(shop) is None
    words = ["ledger", "number", "A-0233", "--why", "by hand", "--person", "G-01"]
    words += ["--shop", str(shop.path)]
    assert RUN.invoke(cli.app, words).exit_code == 0
    said = RUN.invoke(cli.app, words)
    assert "the number is given already" in str(said.exception)


def test_a_ledger_is_held_against_reports_only(shop: config.Folder, tmp_path: Path) -> None:
    at = ["--shop", str(shop.path)]
    spoilt = tmp_path / "spoilt.pdf"
    spoilt.write_bytes(b"%PDF-1.7 nothing")
    said = RUN.invoke(cli.app, ["ledger", "check", "--report", str(spoilt), *at])
    assert isinstance(said.exception, ReportError)
    locked = forging.resaved(
        signing.report("I2"), lambda _: None, encryption=pikepdf.Encryption(owner="x", user="y")
    )
    spoilt.write_bytes(locked)
    said = RUN.invoke(cli.app, ["ledger", "check", "--report", str(spoilt), *at])
    assert "the report is locked" in str(said.exception)
    (tmp_path / "other.pdf").write_bytes(signing.report("I2"))
    report = str(tmp_path / "other.pdf")
    other = RUN.invoke(cli.app, ["ledger", "check", "--json", "--report", report, *at])
    assert other.exit_code == 1
    assert json.loads(other.output)["findings"][0]["code"] == "chain shortened"


# Reports and jobs


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
        "withdrawn": None,
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
