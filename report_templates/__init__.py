"""How a report looks: one layout a file, words per language, fonts. Knows no readings."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources

from report_templates.wording import TEXTS, Words


@cache
def languages() -> frozenset[str]:
    """Languages that have words."""
    folder = resources.files(__package__) / "words"
    return frozenset(f.name.removesuffix(".toml") for f in folder.iterdir())


@cache
def words(language: str) -> Words:
    """The words of a language. Raises KeyError for one without words."""
    if language not in languages():
        raise KeyError(language)
    text = (resources.files(__package__) / "words" / f"{language}.toml").read_text(encoding="utf-8")
    tables = tomllib.loads(text)
    texts = {table: tables.pop(table) for table in TEXTS if table in tables}
    fixed = {f"{table}.{key}": said for table, keys in tables.items() for key, said in keys.items()}
    return Words(language, fixed, texts)
