"""A layout is data; what is wrong in it is said at once, with its line."""

from __future__ import annotations

from importlib import resources

import pytest

from drivers import layout
from inspect_rec.errors import InputError

TEXT = (resources.files("drivers") / "layouts" / "two-axis-line.toml").read_text("utf-8")


def test_every_packaged_layout_is_read_under_its_own_name() -> None:
    found = layout.packaged()
    assert found
    assert all(name == each.id for name, each in found.items())


def test_every_mistake_is_named_with_its_line() -> None:
    text = (
        TEXT.replace("baud = 9600", "baud = 1")
        .replace('parity = "N"', 'parity = "maybe"')
        .replace('sends = "continuously"', 'sends = "often"\nvolume = 11')
    )
    with pytest.raises(InputError) as caught:
        layout.parse(text, "mine.toml")
    said = [str(m) for m in caught.value.mistakes]
    assert len(said) == 4
    for part in ("baud = 1", 'parity = "maybe"', 'sends = "often"', "volume = 11"):
        line = next(n for n, row in enumerate(text.splitlines(), 1) if part in row)
        assert any(s.startswith(f"mine.toml:{line}:") for s in said), (part, said)


@pytest.mark.parametrize(
    "pattern", ["X(", "(?P<y>.)", "(?P<x>(a+)+)b", "(?P<x>[0-9]*)*", "(?P<x>ä€)"]
)
def test_a_pattern_that_is_wrong_or_may_run_for_ever_is_refused(pattern: str) -> None:
    lines = [
        f"pattern = '{pattern}'" if row.startswith("pattern") else row for row in TEXT.splitlines()
    ]
    with pytest.raises(InputError, match="pattern"):
        layout.parse("\n".join(lines), "mine.toml")


def test_what_is_no_toml_or_too_large_is_refused() -> None:
    for text in ("id = ", "x" * 100_000, "a=" + "[" * 5000):
        with pytest.raises(InputError):
            layout.parse(text, "mine.toml")
