"""A TOML text as exact values, with the line on which each key stands. Opens nothing.

The standard library's parser takes quadratic time on long dotted keys and recurses on nesting,
so size and depth are limited before it runs.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from inspect_rec.errors import InputError, Mistake

LARGEST = 512 * 1024
_DEEPEST = 12
_HEADER = re.compile(r"\s*(\[\[?)\s*([^\[\]#]+?)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(r"\s*([A-Za-z0-9_-]+|\"[^\"]*\")((?:\s*\.\s*(?:[A-Za-z0-9_-]+|\"[^\"]*\"))*)\s*=")

Place = tuple[str | int, ...]


@dataclass(frozen=True)
class TomlText:
    """Values of a TOML text, and the lines of their keys."""

    name: str
    values: Mapping[str, Any]
    lines: Mapping[Place, int]

    def where(self, place: Sequence[str | int]) -> str:
        """``file:line`` of the key at ``place``, or of the nearest table above it."""
        key = tuple(place)
        while key and key not in self.lines:
            key = key[:-1]
        return f"{self.name}:{self.lines.get(key, 1)}"


def read(text: str, name: str) -> TomlText:
    """Parse ``text``; numbers become exact Decimals.

    Raises InputError with the line, for what is no TOML, too large or too deep.
    """
    if len(text) > LARGEST:
        raise InputError(
            "the file is too large",
            expected=f"at most {LARGEST // 1024} KiB",
            found=f"{len(text) // 1024} KiB",
            where=name,
        )
    for number, line in enumerate(text.splitlines(), 1):
        if line.count("[") + line.count("{") > 64 or _dots(line) > _DEEPEST:
            raise InputError("nested too deeply", where=f"{name}:{number}")
    if max(_depths(text), default=0) > _DEEPEST:
        raise InputError("nested too deeply", where=name)
    try:
        values = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        at = re.search(r"at line (\d+)", str(error))
        where = f"{name}:{at.group(1) if at else len(text.splitlines())}"
        raise InputError(
            "this isn't TOML", [Mistake(where, "a TOML line", str(error))], where=name
        ) from error
    except (RecursionError, ValueError, ArithmeticError) as error:
        raise InputError("this isn't TOML", found=str(error)[:80], where=name) from error
    return TomlText(name, values, _lines(text))


def _dots(line: str) -> int:
    key = line.split("=", 1)[0].split("#", 1)[0]
    return key.count(".")


def _depths(text: str) -> list[int]:
    depth, seen = 0, [0]
    for char in text:
        if char in "[{":
            depth += 1
            seen.append(depth)
        elif char in "]}" and depth:
            depth -= 1
    return [max(seen)]


def _lines(text: str) -> dict[Place, int]:
    """Line of each key by its place; arrays of tables count from 0."""
    found: dict[Place, int] = {}
    count: dict[Place, int] = {}
    table: Place = ()
    for number, line in enumerate(text.splitlines(), 1):
        if header := _HEADER.match(line):
            table = _table(header[2].split("."), count, array=header[1] == "[[")
            found.setdefault(table, number)
        elif key := _KEY.match(line):
            place: Place = table
            for part in (key[1] + key[2]).split("."):
                place = (*place, part.strip().strip('"'))
                found.setdefault(place, number)
    return found


def _table(parts: list[str], count: dict[Place, int], *, array: bool) -> Place:
    place: Place = ()
    for n, part in enumerate(parts):
        place = (*place, part.strip().strip('"'))
        last = n == len(parts) - 1
        if array and last:
            count[place] = count.get(place, -1) + 1
        if place in count:
            place = (*place, count[place])
    return place


def texts(value: object, place: Place = ()) -> Iterator[tuple[Place, str]]:
    """Every text in parsed values, with its place."""
    if isinstance(value, str):
        yield place, value
    elif isinstance(value, Mapping):
        for key, each in value.items():
            yield from texts(each, (*place, str(key)))
    elif isinstance(value, list):
        for n, each in enumerate(value):
            yield from texts(each, (*place, n))
