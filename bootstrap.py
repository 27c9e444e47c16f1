"""Makes ``.venv`` from the lock once, then runs one of the project's commands in it.

Standard library alone, and syntax that an old Python still parses, so that it can say what is
missing. It must never install anything that the lock has no hash for, and never leave a half
made environment that a later run would trust.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
REQUIREMENTS = ROOT / "requirements"
OLDEST = (3, 11)
PURPOSES = ("run", "test")  # the locks; what "test" installs is enough for "run"
LEFT_BEHIND = (
    ".venv",
    "demo-out",
    "look-out",
    ".mypy_cache",
    ".ruff_cache",
    ".pytest_cache",
    ".hypothesis",
    ".import_linter_cache",
    ".coverage",
    ".benchmarks",
)


class MissingError(Exception):
    """This machine lacks something; the message is the one line that helps."""


def check_machine(version: tuple[int, int], *, has_ensurepip: bool) -> None:
    """Raises MissingError unless Python is new enough and can make an environment."""
    if version < OLDEST:
        found = ".".join(map(str, version))
        raise MissingError(
            f"Python 3.11 or newer is needed, this is {found} ({sys.executable}). "
            "Install it and say: make demo PYTHON=python3.11"
        )
    if not has_ensurepip:
        # Bare Debian keeps ensurepip in a package of its own.
        raise MissingError("This Python can't make environments: sudo apt-get install python3-venv")


def digest(purpose: str) -> str:
    """What an environment stands for: the lock, the project's table, this Python, this place."""
    said = hashlib.sha256()
    for path in (REQUIREMENTS / f"{purpose}.lock", ROOT / "pyproject.toml"):
        said.update(path.read_bytes() + b"\0")
    said.update(f"{sys.version}\0{sys.base_prefix}\0{ROOT}".encode())
    return said.hexdigest()


def mark(purpose: str) -> Path:
    """The file that says: installed completely, for this digest."""
    return VENV / f"installed-{purpose}.sha256"


def holds(purpose: str) -> bool:
    """Whether the environment is complete for ``purpose`` and up to date."""
    path = mark(purpose)
    return path.is_file() and path.read_text(encoding="ascii") == digest(purpose)


def environment() -> dict[str, str]:
    """The variables for every child: nothing from outside gets in, text is UTF-8 everywhere."""
    given = {k: v for k, v in os.environ.items() if k not in {"PYTHONPATH", "PYTHONHOME"}}
    return {**given, "PYTHONUTF8": "1", "PYTHONNOUSERSITE": "1"}


def run(*words: str | Path) -> int:
    """Runs one command in the project's folder and gives its exit code."""
    print("+", *(_short(word) for word in words), flush=True)
    return subprocess.run(
        [str(word) for word in words], cwd=ROOT, env=environment(), check=False
    ).returncode


def _short(word: str | Path) -> str:
    path = Path(word)
    return str(path.relative_to(ROOT)) if path.is_absolute() and ROOT in path.parents else str(word)


def prepare(purpose: str) -> None:
    """Brings into ``.venv`` what the lock of ``purpose`` lists, and the project itself."""
    if holds(purpose):
        return
    anew = not any(holds(p) for p in PURPOSES)
    # No mark stands while pip works: if it fails half way, the next run starts over.
    for path in map(mark, PURPOSES):
        path.unlink(missing_ok=True)
    if anew:
        _must(run(sys.executable, "-m", "venv", "--clear", VENV))
    python = BIN / ("python.exe" if os.name == "nt" else "python")
    pip = (python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check")
    lock = REQUIREMENTS / f"{purpose}.lock"
    # Wheels only: building an sdist would fetch its build tools without a hash.
    _must(run(*pip, "--require-hashes", "--only-binary", ":all:", "--requirement", lock))
    _must(run(*pip, "--no-deps", "--no-build-isolation", "--editable", "."))
    for done in PURPOSES[: PURPOSES.index(purpose) + 1]:
        mark(done).write_text(digest(done), encoding="ascii", newline="\n")


def _must(code: int) -> None:
    if code:
        raise MissingError(f"Installing stopped (exit code {code}); the next run starts over.")


def tool(name: str) -> Path:
    """A command of the environment."""
    return BIN / (f"{name}.exe" if os.name == "nt" else name)


def demo(more: list[str]) -> int:
    """The three worked jobs, from recorded bytes to signed reports in demo-out/."""
    prepare("run")
    return run(tool("inspect-rec"), "demo", *(more or ["--out", "demo-out"]))


def lint(_more: list[str]) -> int:
    """Ruff, mypy and the import contracts; all of them, whatever the first one says."""
    prepare("test")
    codes = [run(tool("ruff"), "check", "."), run(tool("mypy")), run(tool("lint-imports"))]
    return max(codes, key=abs)


def test(more: list[str]) -> int:
    """Lint, then the tests with their coverage; the benchmarks are not among them."""
    linted = lint([])
    # All of them in as many processes as there are processors, a file each; a choice in one.
    shared = () if more else ("-n", "auto", "--dist", "loadscope")
    tested = run(tool("pytest"), "--cov", "--cov-report=term", *shared, *more)
    for name, code in (("lint", linted), ("tests", tested)):
        print(f"{name}: {'good' if code == 0 else f'FAILED (exit code {code})'}")
    return linted or tested


def bench(more: list[str]) -> int:
    """Times against peers in the same run; prints ratios."""
    prepare("test")
    return run(tool("pytest"), "-m", "benchmark", "-s", *more)


def lock(_more: list[str]) -> int:
    """Cuts both locks anew; needs uv, which users don't."""
    common = (
        *("uv", "pip", "compile", "--quiet", "--universal", "--generate-hashes"),
        *("--python-version", "3.11", "--no-emit-index-url", "--no-header"),
        *("pyproject.toml", "requirements/build.in"),
    )
    run_lock, test_lock = "requirements/run.lock", "requirements/test.lock"
    return run(*common, "--upgrade", "--output-file", run_lock) or run(
        *common,
        "--upgrade",
        "--extra",
        "test",
        "--constraint",
        run_lock,
        "--output-file",
        test_lock,
    )


def clean(_more: list[str]) -> int:
    """Takes away the environment, demo-out/ and the caches."""
    for path in [ROOT / name for name in LEFT_BEHIND]:
        shutil.rmtree(path) if path.is_dir() else path.unlink(missing_ok=True)
    for path in list(ROOT.rglob("__pycache__")):
        shutil.rmtree(path)
    return 0


COMMANDS = {f.__name__: f for f in (demo, test, lint, bench, lock, clean)}


def main(words: list[str]) -> int:
    """Reads the command line; gives the exit code."""
    parser = argparse.ArgumentParser(prog="bootstrap.py", description=__doc__.splitlines()[0])
    listed = "; ".join(f"{name}: {f.__doc__}" for name, f in COMMANDS.items())
    parser.add_argument("command", choices=list(COMMANDS), help=listed)
    given, more = parser.parse_known_args(words)
    try:
        check_machine(
            sys.version_info[:2], has_ensurepip=importlib.util.find_spec("ensurepip") is not None
        )
        return COMMANDS[given.command](more)
    except MissingError as error:
        print(error, file=sys.stderr)
        return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
