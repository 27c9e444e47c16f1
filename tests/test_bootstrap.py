"""The two commands' first step: what it says is missing, and that no half environment stays."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import pytest

import bootstrap


@pytest.fixture
def project(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with locks, in which nothing is installed."""
    (tmp_path / "requirements").mkdir()
    for purpose in bootstrap.PURPOSES:
        (tmp_path / "requirements" / f"{purpose}.lock").write_text(purpose, encoding="utf-8")
    (tmp_path / "pyproject.toml").write_text("", encoding="utf-8")
    monkeypatch.setattr(bootstrap, "ROOT", tmp_path)
    monkeypatch.setattr(bootstrap, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(bootstrap, "BIN", tmp_path / ".venv" / "bin")
    monkeypatch.setattr(bootstrap, "REQUIREMENTS", tmp_path / "requirements")
    return tmp_path


class Commands:
    """Notes what would be run; the word ``failing`` makes a command fail."""

    def __init__(self, project: Path, failing: str | None = None) -> None:
        self.project, self.failing, self.said = project, failing, list[str]()

    def __call__(self, *words: str | Path) -> int:
        line = " ".join(map(str, words))
        self.said.append(line)
        if "venv --clear" in line:
            (self.project / ".venv").mkdir(exist_ok=True)
        return 1 if self.failing and self.failing in line else 0


def prepare(
    project: Path, purpose: str, monkeypatch: pytest.MonkeyPatch, failing: str | None = None
) -> list[str]:
    commands = Commands(project, failing)
    monkeypatch.setattr(bootstrap, "run", commands)
    try:
        bootstrap.prepare(purpose)
    except bootstrap.MissingError:
        assert failing
    return commands.said


def test_an_old_python_is_told_the_one_line() -> None:
    with pytest.raises(bootstrap.MissingError, match=r"3\.11 or newer .* this is 3\.9 .*PYTHON="):
        bootstrap.check_machine((3, 9), has_ensurepip=True)


def test_a_bare_debian_is_told_the_one_line() -> None:
    with pytest.raises(bootstrap.MissingError, match="apt-get install python3-venv") as caught:
        bootstrap.check_machine((3, 11), has_ensurepip=False)
    assert "\n" not in str(caught.value)


def test_an_old_python_can_read_the_script_at_all() -> None:
    text = Path(bootstrap.__file__).read_text(encoding="utf-8")
    ast.parse(text, feature_version=(3, 8))


def test_a_machine_that_has_everything_is_told_nothing() -> None:
    bootstrap.check_machine((3, 11), has_ensurepip=True)
    bootstrap.check_machine((3, 14), has_ensurepip=True)


def test_a_first_run_installs_with_hashes_and_without_building(
    project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    venv, lock, itself = prepare(project, "run", monkeypatch)
    assert venv.startswith(f"{sys.executable} -m venv --clear")
    assert "--require-hashes --only-binary :all:" in lock
    assert lock.endswith("run.lock")
    assert "--no-deps --no-build-isolation" in itself


def test_a_second_run_installs_nothing(project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    prepare(project, "run", monkeypatch)
    assert prepare(project, "run", monkeypatch) == []


def test_the_tests_environment_is_enough_for_the_demo(
    project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    prepare(project, "test", monkeypatch)
    assert prepare(project, "run", monkeypatch) == []


def test_the_tests_add_to_the_demos_environment(
    project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    prepare(project, "run", monkeypatch)
    said = prepare(project, "test", monkeypatch)
    assert not any("venv --clear" in line for line in said)
    assert said[0].endswith("test.lock")


@pytest.mark.parametrize("changed", ["requirements/run.lock", "pyproject.toml"])
def test_a_changed_lock_or_project_is_installed_anew(
    project: Path, monkeypatch: pytest.MonkeyPatch, changed: str
) -> None:
    prepare(project, "run", monkeypatch)
    (project / changed).write_text("something else", encoding="utf-8")
    assert len(prepare(project, "run", monkeypatch)) == 3


@pytest.mark.parametrize(
    ("before", "failing"),
    [
        (None, "venv --clear"),
        (None, "--require-hashes"),
        (None, "--editable"),
        ("run", "--require-hashes"),
        ("run", "--editable"),
    ],
)
def test_an_installation_that_fails_half_way_starts_over(
    project: Path, monkeypatch: pytest.MonkeyPatch, before: str | None, failing: str
) -> None:
    if before:
        prepare(project, before, monkeypatch)
    prepare(project, "test", monkeypatch, failing)
    assert not any(bootstrap.holds(purpose) for purpose in bootstrap.PURPOSES)
    assert "venv --clear" in prepare(project, "test", monkeypatch)[0]


def test_nothing_from_outside_gets_into_a_childs_imports(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONPATH", "elsewhere")
    given = bootstrap.environment()
    assert "PYTHONPATH" not in given
    assert given["PYTHONUTF8"] == "1"
