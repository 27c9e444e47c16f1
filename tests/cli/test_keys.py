"""Keys as a terminal sends them."""

from __future__ import annotations

import time

import pytest

from inspect_rec.cli import keys


def pressed(text: str) -> list[str]:
    """What comes out for the characters of a terminal."""
    characters = iter(text)
    source = keys.Keys(lambda: next(characters, ""))
    found: list[str] = []
    until = time.monotonic() + 5
    while found[-1:] != [keys.LEAVE] and time.monotonic() < until:
        found += [key for key in (source.next(),) if key is not None]
    return found[:-1]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (" \r\n\x7f\x08", [keys.TAKE] * 3 + [keys.STRIKE] * 2),
        ("\x1b[D\x1b[C\x1bOQ\x1b[3~\x1b[1;5Dg", [keys.OTHER] * 5 + ["g"]),
        ("\x1bd ", [keys.OTHER, keys.TAKE]),
        ("\x1b", [keys.OTHER]),
        ("\x1b[", [keys.OTHER]),
        ("d", ["d"]),
    ],
    ids=["named", "arrows and the like", "with Alt", "cut off", "cut off later", "letter"],
)
def test_an_arrow_is_no_letter(text: str, expected: list[str]) -> None:
    """Left arrow ends in D, which records that the wheel was dressed."""
    assert pressed(text) == expected
