"""A log of 100 MB to typed columns, its corrupt lines found and named, against pandas and polars.

The peers read texts, then turn them to instants and binary numbers; here figures stay exact and a
corrupt line is named by its cell. Rows and corrupt lines are compared before anything is timed.
polars isn't among the dependencies: it takes part where it is installed. Ratios alone are claimed.
"""

from __future__ import annotations

import importlib.util
import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import accumulate
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from drivers import mapping
from drivers.rows import File, row_of
from drivers.table import Table
from tests.benchmarks.timing import interleaved

pytestmark = pytest.mark.benchmark

LINES, CORRUPT, ROUNDS = 2_500_000, 250, 7
TIME = "%Y-%m-%dT%H:%M:%S.%f"
STATED = f"""kind = "table"
[file]
separator = ","
head = 0
cells = 3
[columns]
at = 1
mark = 2
length = 3
[at]
form = "{TIME}"
zone = "UTC"
[units]
lengths = "mm"
"""
Answer = tuple[int, int, list[int]]
"""Good rows, the sum of their figures in the fourth decimal place, numbers of the corrupt lines."""


def log(path: Path, seed: int = 3) -> None:
    """Instant, channel, value; some lines with a wrong sign, an end too early, or signs before."""
    draw = random.Random(seed)
    start = datetime(2026, 3, 1, 8, tzinfo=UTC)
    after = accumulate(draw.choices(range(1, 80), k=LINES))
    lines = []
    for ms in after:
        at = (start + timedelta(milliseconds=ms)).isoformat(timespec="milliseconds")[:23]
        value = draw.randrange(-(10**8) + 1, 10**8)
        whole, rest = divmod(abs(value), 10**4)
        lines.append(f"{at},CH{draw.randrange(1, 25):02},{'+-'[value < 0]}{whole:04}.{rest:04}\n")
    for kind, n in enumerate(draw.sample(range(LINES), CORRUPT)):
        text = lines[n]
        lines[n] = (text[:31] + "?" + text[32:], text[:17] + "\n", "~~" + text)[kind % 3]
    path.write_text("".join(lines), encoding="ascii", newline="")


def ours(path: Path, given: mapping.Mapping) -> Answer:
    """As the program reads it."""
    count = total = 0
    with path.open("rb") as stream:
        table = Table(stream, given, File(path.name, "RO-1"))
        for block in table.blocks():
            count += len(block)
            total += int(block.figures["length"].sum())
    return count, total // 100, sorted({row_of(m) for m in table.mistakes})


def with_pandas(path: Path) -> Answer:
    """read_csv, to_datetime, to_numeric."""
    names = ["when", "channel", "value"]
    read = pd.read_csv(path, header=None, names=names, dtype=str)
    when = pd.to_datetime(read["when"], format=TIME, errors="coerce")
    value = pd.to_numeric(read["value"], errors="coerce")
    bad = when.isna() | value.isna() | read["channel"].isna()
    columns = {"when": when, "channel": read["channel"].astype("category"), "value": value}
    good = pd.DataFrame(columns)[~bad]
    return len(good), round(good["value"].sum() * 1e4), (np.flatnonzero(bad) + 1).tolist()


def with_polars(path: Path) -> Answer:
    """read_csv as texts, then casts, with all its threads."""
    pl: Any = importlib.import_module("polars")
    read = pl.read_csv(
        path,
        has_header=False,
        new_columns=["when", "channel", "value"],
        schema_overrides=[pl.String] * 3,
        truncate_ragged_lines=True,
    )
    when = pl.col("when").str.to_datetime("%Y-%m-%dT%H:%M:%S%.3f", strict=False, time_unit="ms")
    out = read.select(when, "channel", pl.col("value").cast(pl.Float64, strict=False))
    bad = out.select(pl.any_horizontal(pl.all().is_null())).to_series()
    good = out.filter(~bad)
    return len(good), round(good["value"].sum() * 1e4), (bad.arg_true() + 1).to_list()


def test_a_log_of_100_mb(tmp_path: Path) -> None:
    path = tmp_path / "readings.log"
    log(path)
    given = mapping.parse(STATED, "m.toml")
    routes: dict[str, Callable[[], Answer]] = {
        "inspect_rec": lambda: ours(path, given),
        "pandas": lambda: with_pandas(path),
    }
    if importlib.util.find_spec("polars") is not None:
        routes["polars"] = lambda: with_polars(path)
    count, total, corrupt = ours(path, given)
    assert len(corrupt) == CORRUPT
    for name, route in routes.items():
        got = route()
        assert (got[0], got[2]) == (count, corrupt), name
        # Binary numbers: their sum is off by what they are rounded.
        assert abs(got[1] - total) < 1000, name
    timed = interleaved(routes, per=LINES, rounds=ROUNDS)
    goal = "goal: pandas at least 8, polars at least 1.5"
    print(timed.table(f"a line of a log of 100 MB, {CORRUPT} corrupt ({goal})", "inspect_rec"))
