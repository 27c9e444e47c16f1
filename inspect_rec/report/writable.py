"""Texts that reports can print, seen to before they go into the ledger: an entry stays as it is,
and what can't be printed would keep every report of its tool from being made."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from inspect_rec.errors import InputError, ReportError

_SURE = "\u0180"
"""Below stand the letters of European languages, which every font of the report has."""


def writable(body: Mapping[str, Any]) -> Mapping[str, Any]:
    """The body of an entry, every text of which can be printed. Raises InputError for a sign that
    no font has, with its name."""
    doubtful = [text for text in _texts(body) if any(sign >= _SURE for sign in text)]
    if doubtful:
        from report_templates.lettering import printable

        for text in doubtful:
            try:
                printable(text)
            except ReportError as error:
                raise InputError(
                    error.what, expected=error.expected, found=error.found, do=error.do
                ) from error
    return body


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for each in value.values():
            yield from _texts(each)
    elif isinstance(value, list | tuple):
        for each in value:
            yield from _texts(each)
