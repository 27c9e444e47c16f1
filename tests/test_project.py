"""The house in order: rules that no linter knows, over the files that git tracks."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import bootstrap

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("inspect_rec", "drivers", "report_templates")
PURE = ("compute", "methods", "plan", "inspection", "ledger")

LONGEST = 400
LONG_FOR_A_REASON: dict[str, str] = {
    "inspect_rec/inspection/results.py": "one inspection worked out, in the order of the work",
    "tests/drivers/learning/recordings.py": "one readout below the other, each a few lines",
    "tests/test_capture.py": "what happens at the machine, to be read side by side",
}
"""Python files over 400 lines, each with a reason that a reader would accept."""

# Put together from pieces, so that this file doesn't find itself.
NOT_FOR_OTHERS = {
    "host of a package registry": re.compile(
        r"pypi\." + r"org|python" + r"hosted\.org|npm" + r"js\.(?:org|com)|crates" + r"\.io"
    ),
    "path of one machine": re.compile(
        r"(?<![\w.$}~-])/(?:work|tmp|root|home|Users)" + r"/[\w.]|[A-Z]:\\" + r"Users\\"
    ),
    "folder outside the project": re.compile(r"\.\./" + r"shared\b"),
}
SAYS_NOTHING = re.compile(r"^_?(?:utils?|helpers?|common|misc|stuff|shared)$|_old$")
SECTIONS = ("Status", "Context", "Decision", "Consequences")


@cache
def tracked() -> tuple[Path, ...]:
    """The files of the project as git lists them, relative to its folder."""
    git = shutil.which("git")
    if git is None or not (ROOT / ".git").exists():
        pytest.skip("git lists no files here")
    said = subprocess.run(
        [git, "ls-files", "-z"], cwd=ROOT, check=True, capture_output=True, encoding="utf-8"
    )
    return tuple(Path(name) for name in said.stdout.split("\0") if (ROOT / name).is_file())


def modules(*tops: str) -> Iterator[Path]:
    """Tracked Python files, of these top folders where some are named."""
    for path in tracked():
        if path.suffix == ".py" and (not tops or path.parts[0] in tops):
            yield path


def table() -> dict[str, Any]:
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


# Length and names


def length_findings(lines: dict[str, int], reasons: dict[str, str]) -> list[str]:
    long = {name for name, count in lines.items() if count > LONGEST}
    return [
        *(f"{name}: {lines[name]} lines, and no reason" for name in sorted(long - set(reasons))),
        *(f"{name}: listed as long, but isn't" for name in sorted(set(reasons) - long)),
        *(f"{name}: an empty reason" for name, why in sorted(reasons.items()) if not why.strip()),
    ]


def test_no_file_is_long_without_a_reason() -> None:
    lines = {
        p.as_posix(): len((ROOT / p).read_text(encoding="utf-8").splitlines()) for p in modules()
    }
    assert length_findings(lines, LONG_FOR_A_REASON) == []


def test_a_long_file_and_a_stale_reason_are_found() -> None:
    found = length_findings({"a.py": 401, "b.py": 400}, {"b.py": "once was long"})
    assert found == ["a.py: 401 lines, and no reason", "b.py: listed as long, but isn't"]


def test_every_module_is_named_by_a_noun_of_the_trade() -> None:
    parts = [(path, Path(part).stem) for path in tracked() for part in path.parts]
    assert [path.as_posix() for path, stem in parts if SAYS_NOTHING.search(stem)] == []


@pytest.mark.parametrize("name", ["utils", "_helpers", "common", "report_old"])
def test_a_name_that_says_nothing_is_found(name: str) -> None:
    assert SAYS_NOTHING.search(name)


# What is nobody else's business


def private_findings(name: str, text: str) -> list[str]:
    return [
        f"{name}:{number}: {what}: {hit.group()}"
        for number, line in enumerate(text.splitlines(), 1)
        for what, pattern in NOT_FOR_OTHERS.items()
        for hit in pattern.finditer(line)
    ]


def test_no_tracked_file_names_a_registry_or_a_machine() -> None:
    found: list[str] = []
    for path in tracked():
        data = (ROOT / path).read_bytes()
        if b"\0" not in data:
            found += private_findings(path.as_posix(), data.decode("utf-8", "replace"))
    assert found == []


@pytest.mark.parametrize(
    "text",
    [
        "https://" + "pypi." + "org/simple",
        "open('/" + "tmp/x.pdf')",
        "cd /" + "work/main",
        "see ../" + "shared/design",
        "C:\\" + "Users\\somebody",
    ],
)
def test_a_registry_or_a_machine_in_a_text_is_found(text: str) -> None:
    assert len(private_findings("a.md", text)) == 1


def test_every_tracked_text_ends_its_lines_plainly() -> None:
    plain = {".py", ".md", ".toml", ".lock", ".in"}
    found = [
        p.as_posix()
        for p in tracked()
        if p.suffix in plain and p.parts[0] != "fixtures" and b"\r" in (ROOT / p).read_bytes()
    ]
    assert found == []


# Modules


def test_every_module_says_what_it_is() -> None:
    found = [
        p.as_posix()
        for p in modules(*PACKAGES)
        if not ast.get_docstring(ast.parse((ROOT / p).read_text(encoding="utf-8")))
    ]
    assert found == []


def test_every_module_has_its_place_in_the_layers() -> None:
    contracts = table()["tool"]["importlinter"]["contracts"]
    layers = next(c["layers"] for c in contracts if c["type"] == "layers")
    placed = {name for layer in layers for name in re.findall(r"[\w.]+", layer)}
    present = {
        f"inspect_rec.{Path(p.parts[1]).stem}"
        for p in modules("inspect_rec")
        if p.parts[1] != "__init__.py"
    }
    assert present - placed == set()


def test_drivers_are_kept_from_all_but_the_ground() -> None:
    contracts = table()["tool"]["importlinter"]["contracts"]
    forbidden = next(c["forbidden_modules"] for c in contracts if c["name"].startswith("Drivers"))
    ground = {"__init__", "errors", "reading", "units"}
    rest = {Path(p.parts[1]).stem for p in modules("inspect_rec")} - ground
    assert {f"inspect_rec.{name}" for name in rest} - set(forbidden) == set()


def clock_findings(name: str, text: str) -> list[str]:
    """Calls that read a clock or open a file."""
    asked = {"now", "utcnow", "today", "open", "read_text", "read_bytes", "write_text"}
    found = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Call):
            called = node.func
            word = called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")
            if word in asked:
                found.append(f"{name}:{node.lineno}: {word}()")
    return found


def test_pure_modules_read_no_clock_and_open_nothing() -> None:
    found: list[str] = []
    for path in modules("inspect_rec"):
        if Path(path.parts[1]).stem in PURE:
            text = (ROOT / path).read_text(encoding="utf-8")
            found += clock_findings(path.as_posix(), text)
    assert found == []


def test_a_clock_and_an_opened_file_are_found() -> None:
    text = "import datetime\nat = datetime.datetime.now()\ntext = open('a').read()\n"
    assert clock_findings("a.py", text) == ["a.py:2: now()", "a.py:3: open()"]


# Documents


def record_findings(name: str, text: str) -> list[str]:
    given = re.findall(r"^## (.+)$", text, re.MULTILINE)
    found = [f"{name}: no section {section}" for section in SECTIONS if section not in given]
    if not re.match(r"# \d+\. \S", text):
        found.append(f"{name}: no title with its number")
    return found


def test_every_decision_record_has_its_sections_and_its_own_number() -> None:
    records = [p for p in tracked() if p.parts[:2] == ("docs", "decisions")]
    assert records
    found = [
        finding
        for path in records
        for finding in record_findings(path.name, (ROOT / path).read_text(encoding="utf-8"))
    ]
    assert found == []
    numbers = [path.name[:4] for path in records]
    assert sorted(numbers) == [f"{n:04}" for n in range(1, len(records) + 1)]


def test_a_record_without_its_consequences_is_found() -> None:
    text = "# 7. Something\n\n## Status\n\n## Context\n\n## Decision\n"
    assert record_findings("0007.md", text) == ["0007.md: no section Consequences"]


def test_the_changelog_has_something_unreleased_or_a_version() -> None:
    text = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    sections = re.split(r"^## ", text, flags=re.MULTILINE)[1:]
    assert sections
    assert sections[0].startswith("[Unreleased]")


def commands(text: str, program: str) -> list[list[str]]:
    """The command lines of a document that start with ``program``, in words; no comments."""
    fenced = re.findall(r"^```\w*\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    lines = "\n".join(fenced).replace("\\\n", " ").splitlines()
    start = re.compile(rf"\s*(?:\S*/|\S*\\)?{program}\s+(.*)")
    found = (start.match(line.split(" #")[0]) for line in lines)
    return [hit.group(1).split() for hit in found if hit]


def test_every_make_target_of_the_documents_exists() -> None:
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    targets = set(" ".join(re.findall(r"^([a-z ]+):", makefile, re.MULTILINE)).split())
    assert targets == set(bootstrap.COMMANDS)
    for document in ("README.md", "DEVELOPERS.md"):
        text = (ROOT / document).read_text(encoding="utf-8")
        named = set(re.findall(r"\bmake (?!it|a|an|the)([a-z]+)\b", text))
        assert named <= targets, document
        scripted = {words[0] for words in commands(text, r"(?:py -3\.11|python3?) bootstrap\.py")}
        assert scripted <= targets, document


def test_the_readme_shows_both_commands_and_the_lines_without_make() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert commands(text, "make")[:2] == [["demo"], ["test"]]
    assert commands(text, r"py -3\.11 bootstrap\.py")[:2] == [["demo"], ["test"]]


@cache
def helped(words: tuple[str, ...]) -> tuple[int, str]:
    start = "import sys; sys.argv[0] = 'inspect-rec'; from inspect_rec.cli import main; main()"
    said = subprocess.run(
        [sys.executable, "-c", start, *words, "--help"],
        cwd=ROOT,
        check=False,
        capture_output=True,
        encoding="utf-8",
        env={**bootstrap.environment(), "COLUMNS": "200", "PYTHONPATH": str(ROOT)},
    )
    return said.returncode, said.stdout


def command_findings(line: Iterable[str]) -> list[str]:
    """Whether a line's command and its options are ones that ``--help`` knows."""
    words = list(line)
    name: tuple[str, ...] = ()
    for word in words:
        # A group lists its commands; a command lists none, and its first word is an argument.
        listed = re.search(rf"^\W*{re.escape(word)}\s", helped(name)[1], re.MULTILINE)
        if word.startswith("-") or not listed:
            break
        name = (*name, word)
    code, text = helped(name)
    if not name or code:
        return [f"{' '.join(words)}: no such command"]
    options = [word.split("=")[0] for word in words if word.startswith("--")]
    return [f"{' '.join(name)}: no option {o}" for o in options if not re.search(rf"{o}\b", text)]


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_every_command_of_the_documents_exists(document: str) -> None:
    lines = commands((ROOT / document).read_text(encoding="utf-8"), "inspect-rec")
    assert lines or document != "README.md"
    assert [finding for line in lines for finding in command_findings(line)] == []


def test_a_command_and_an_option_that_do_not_exist_are_found() -> None:
    assert command_findings(["grind", "everything"]) == ["grind everything: no such command"]
    assert command_findings(["verify", "a.pdf", "--never"]) == ["verify: no option --never"]


# The programs that tests call

PACKAGE_OF = {
    "certutil": "libnss3-tools",
    "git": "git",
    "java": "openjdk-17-jdk-headless",
    "openssl": "openssl",
    "pdfdetach": "poppler-utils",
    "pdffonts": "poppler-utils",
    "pdfinfo": "poppler-utils",
    "pdfsig": "poppler-utils",
    "pdftoppm": "poppler-utils",
    "pdftotext": "poppler-utils",
    "sha256sum": "coreutils",
    "qpdf": "qpdf",
    "ser2net": "ser2net",
    "socat": "socat",
    "strace": "strace",
    "unshare": "util-linux",
}
"""Program → the Debian package that brings it."""


def needed_programs(text: str) -> set[str]:
    """The names in calls of ``needs(...)``."""
    return {
        str(word.value)
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "needs"
        for word in node.args
        if isinstance(word, ast.Constant)
    }


def test_the_ci_script_installs_every_program_that_a_test_needs() -> None:
    needed: set[str] = set()
    for path in modules("tests"):
        needed |= needed_programs((ROOT / path).read_text(encoding="utf-8"))
    assert needed - set(PACKAGE_OF) == set()
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    listed = script.partition("needed=(")[2].partition("\n)")[0]
    installed = set(re.sub(r"#.*", "", listed).split())
    assert {PACKAGE_OF[program] for program in needed} <= installed


def test_a_needed_program_is_seen() -> None:
    assert needed_programs("@needs('qpdf')\ndef test_a(): ...\n") == {"qpdf"}


# The locks


def locked(purpose: str) -> dict[str, tuple[str, int]]:
    """Name → (version, number of hashes) of a lock."""
    text = (ROOT / "requirements" / f"{purpose}.lock").read_text(encoding="utf-8")
    found: dict[str, tuple[str, int]] = {}
    for block in re.split(r"\n(?=[a-z0-9])", text):
        name, version = re.findall(r"^([a-z0-9.-]+)==([\w.+!]+)", block)[0]
        found[name] = (version, len(re.findall(r"--hash=sha256:[0-9a-f]{64}\b", block)))
    return found


@pytest.mark.parametrize("purpose", bootstrap.PURPOSES)
def test_every_line_of_a_lock_has_its_hashes(purpose: str) -> None:
    assert [name for name, (_, hashes) in locked(purpose).items() if hashes == 0] == []


def test_the_locks_hold_what_the_project_asks_for_and_the_build_backend() -> None:
    project = table()["project"]
    asked = [*project["dependencies"], *table()["build-system"]["requires"]]
    names = {re.findall(r"^[\w-]+", line)[0].lower() for line in asked}
    assert names <= set(locked("run"))
    tested = {re.findall(r"^[\w-]+", line)[0] for line in project["optional-dependencies"]["test"]}
    assert tested <= set(locked("test"))


def test_the_lock_of_the_tests_is_the_lock_of_the_program_and_more() -> None:
    assert locked("run").items() <= locked("test").items()
