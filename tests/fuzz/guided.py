"""Coverage-guided fuzzing of what reads foreign bytes: ``python -m tests.fuzz.guided TARGET RUNS``.

Needs atheris (Linux), which is in no lock: install it beside the tests' tools. A mistake of the
input is an InspectRecError; anything else, and a run of more than ten seconds, stops with the bytes
that did it. Targets: those of ``TARGETS``.
"""

from __future__ import annotations

import io
import re
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["drivers", "inspect_rec"]):
    from drivers import layout, mapping, outline
    from drivers.decoder import Decoder
    from drivers.rows import File
    from drivers.table import Table
    from inspect_rec import jobfile
    from inspect_rec.errors import InspectRecError

from tests import worked

FIXTURES = Path(__file__).parents[2] / "fixtures"
AT = datetime(2026, 11, 17, 9, tzinfo=UTC)
LAYOUTS = tuple(sorted(layout.packaged().values(), key=lambda each: each.id))
CSV = mapping.parse(
    'kind = "table"\n[file]\nseparator = ";"\ndecimal = ","\n[columns]\nx = "X"\nz = "Z"\n'
    'feature = "F"\n[at]\nform = "file written"\n[units]\nlengths = "mm"\n',
    "m.toml",
)
DRAWING = mapping.parse('kind = "contour"\n[contour]\nbegin = [0, 0]\n', "m.toml")


def decoder(data: bytes) -> None:
    """The first byte chooses the layout and the size of the pieces."""
    if not data:
        return
    made = Decoder(LAYOUTS[data[0] % len(LAYOUTS)], "RO-1")
    size = 1 + data[0] // len(LAYOUTS)
    for n in range(1, len(data), size):
        made.feed(data[n : n + size], AT)
    made.close(AT)


def layout_file(data: bytes) -> None:
    """A layout that is accepted decodes something, too."""
    made = Decoder(layout.parse(data.decode("utf-8", "replace"), "layout.toml"), "RO-1")
    made.feed(data, AT)


def job_file(data: bytes) -> None:
    """Against the shop of the worked jobs."""
    jobfile.parse_job(data.decode("utf-8", "replace"), worked.shop(), "job.toml")


def csv(data: bytes) -> None:
    """Cells that are wrong are listed, and no reason to stop."""
    found = Table(io.BytesIO(data), CSV, File("log.csv", "RO-1", "0" * 64))
    list(found)


def dxf(data: bytes) -> None:
    """A drawing to a contour."""
    outline.contour(data, DRAWING, "a.dxf")


def files(pattern: str) -> Iterator[bytes]:
    """What the fixtures hold of that kind, to begin with."""
    for path in sorted(FIXTURES.glob(pattern)):
        yield path.read_bytes()[:_LARGEST]


def frames() -> Iterator[bytes]:
    """The good recordings of each layout, behind the byte that chooses it."""
    for n, each in enumerate(LAYOUTS):
        yield bytes([n]) + b"".join(bytes.fromhex(sample) for sample in _recorded(each.id))


def _recorded(name: str) -> Iterator[str]:
    file = name.replace(" ", "-")
    for path in FIXTURES.glob(f"readouts/{file}.golden.jsonl"):
        for line in path.read_text(encoding="utf-8").splitlines()[:40]:
            yield from re.findall(r'"hex": ?"([0-9a-f]+)"', line)


def tables() -> Iterator[bytes]:
    """Tables as another program writes them."""
    yield b"X;Z;F\r\n31,4470;-142,318;DC_1\r\n31,4480;-142,310;DC_2\r\n"
    yield '"X";"Z";"F"\n"1.234,5";"=1+1";"Ø"\n'.encode()


_LARGEST = 8192
TARGETS: dict[str, tuple[Callable[[bytes], None], Callable[[], Iterator[bytes]]]] = {
    "decoder": (decoder, frames),
    "layout": (layout_file, lambda: files("../drivers/layouts/*.toml")),
    "job": (job_file, lambda: files("worked/i*.toml")),
    "csv": (csv, tables),
    "dxf": (dxf, lambda: files("drawings/*.dxf")),
}


def main() -> None:
    """Runs one target."""
    name, runs = sys.argv[1:3]
    target, seeds = TARGETS[name]

    def once(data: bytes) -> None:
        with suppress(InspectRecError):
            target(data)

    with tempfile.TemporaryDirectory() as folder:
        for n, seed in enumerate(seeds()):
            (Path(folder) / str(n)).write_bytes(seed)
        options = [f"-runs={runs}", "-timeout=10", f"-max_len={_LARGEST}", "-print_final_stats=1"]
        atheris.Setup([sys.argv[0], *options, folder], once)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
