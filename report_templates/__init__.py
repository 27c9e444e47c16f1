"""How a report looks: one layout a file, words per language, fonts. Knows no readings."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources


@cache
def languages() -> frozenset[str]:
    """Languages that have words."""
    folder = resources.files(__package__) / "words"
    return frozenset(f.name.removesuffix(".toml") for f in folder.iterdir())


@cache
def words(language: str) -> Mapping[str, str]:
    """The words of a language, "table.key" -> text. Raises KeyError for one without words."""
    if language not in languages():
        raise KeyError(language)
    text = (resources.files(__package__) / "words" / f"{language}.toml").read_text(encoding="utf-8")
    tables = tomllib.loads(text)
    return {f"{table}.{key}": said for table, keys in tables.items() for key, said in keys.items()}
