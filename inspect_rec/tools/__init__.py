"""Tool kinds as data: which characteristics, by which method, which way grinding moves them.

One TOML file a kind, beside this module. What a job file says of a characteristic goes before
what its kind says. Limits are never taken from here: a drawing states them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from importlib import resources
from typing import Any


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of tool. ``characteristics``: id -> defaults as they would stand in a job file;
    ``usual``: id -> usual tolerance in words with where that comes from."""

    name: str
    characteristics: Mapping[str, Mapping[str, Any]]
    usual: Mapping[str, str]


@cache
def catalogue() -> Mapping[str, Kind]:
    """All kinds by name."""
    files = [f for f in resources.files(__package__).iterdir() if f.name.endswith(".toml")]
    kinds = (_kind(f.read_text(encoding="utf-8")) for f in sorted(files, key=lambda f: f.name))
    return {kind.name: kind for kind in kinds}


def _kind(text: str) -> Kind:
    values = tomllib.loads(text, parse_float=Decimal)
    usual = {
        id_: str(c.pop("usual")) for id_, c in values["characteristic"].items() if "usual" in c
    }
    return Kind(values["kind"], values["characteristic"], usual)


def completed(job: Mapping[str, Any], kinds: Mapping[str, Kind]) -> dict[str, Any]:
    """A job file's values with the characteristics of its tools' kinds filled in."""
    tools = job.get("tool")
    named = (
        [t.get("kind") for t in tools if isinstance(t, Mapping)] if isinstance(tools, list) else []
    )
    defaults: dict[str, Mapping[str, Any]] = {}
    for name in named:
        kind = kinds.get(name) if isinstance(name, str) else None
        if kind:
            defaults |= kind.characteristics
    given = job.get("characteristic")
    if not isinstance(given, list):
        return dict(job)
    filled = [
        {**defaults.get(c.get("id", ""), {}), **c} if isinstance(c, Mapping) else c for c in given
    ]
    return {**job, "characteristic": filled}
