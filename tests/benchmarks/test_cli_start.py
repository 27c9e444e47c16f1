"""How long ``--help`` takes, against an empty start of Python in the same run."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

import bootstrap

ROOT = Path(__file__).resolve().parents[2]
START = "import sys; sys.argv[0] = 'inspect-rec'; from inspect_rec.cli import main; main()"
MOST = 8
"""Times an empty start of Python; the words are parsed each time, nothing is kept ready."""


def seconds(*words: str) -> float:
    started = time.perf_counter()
    subprocess.run(
        [sys.executable, *words],
        cwd=ROOT,
        env={**bootstrap.environment(), "PYTHONPATH": str(ROOT)},
        check=True,
        capture_output=True,
    )
    return time.perf_counter() - started


def ratio(words: Sequence[str], rounds: int = 15) -> float:
    """Median of the ratios of runs one after another, so that a busy machine slows both."""
    return statistics.median(
        seconds("-c", START, *words) / seconds("-c", "pass") for _ in range(rounds)
    )


@pytest.mark.benchmark
@pytest.mark.parametrize("words", [["--help"], ["verify", "--help"], ["--version"]], ids=" ".join)
def test_help_answers_within_eight_empty_starts(words: list[str]) -> None:
    seconds("-c", START, *words)
    found = ratio(words)
    print(f"\n{' '.join(words)}: {found:.1f} x an empty start of Python (at most {MOST})")
    assert found <= MOST


HEAVY = ("numpy", "pandas", "scipy", "pyhanko", "reportlab", "pikepdf", "pydantic", "serial")


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys, typer; from inspect_rec.cli import app\n"
        "try: app(['--help'], prog_name='inspect-rec')\n"
        f"except SystemExit: print('HEAVY', [m for m in {HEAVY!r} if m in sys.modules])"
    )
    said = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env={**bootstrap.environment(), "PYTHONPATH": str(ROOT)},
        check=True,
        capture_output=True,
        encoding="utf-8",
    )
    assert "Commands:" in said.stdout
    assert said.stdout.rstrip().endswith("HEAVY []")
