"""The revisions of a signed file: where each ends, how they hang together, what each changed.

A file that is signed twice has three: the base as it was made, the form with the first
signature, the second signature. Each may touch just what it needs, and every reader must see
the same three: so only the plain layout of ISO 32000 is taken, without compressed tables.
Gives back what is wrong; never judges who signed.
"""

from __future__ import annotations

import io
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any

import pikepdf

from inspect_rec.report.cms import Flaw

_END = re.compile(rb"startxref\r?\n(\d{1,10})\r?\n%%EOF\r?\n?")
_TRAILER = {"/Root", "/Size", "/ID", "/Prev"}
_FORM = {"/Fields", "/SigFlags"}
_FIELD = {"/FT", "/T", "/Type", "/Subtype", "/F", "/Rect", "/P", "/AP", "/V"}
_SHOWN = 0b1000_0100
"""Flags of an annotation: print, locked (ISO 32000-1, table 165); hidden isn't among them."""
_VALUE = {"/Type", "/Filter", "/SubFilter", "/Contents", "/ByteRange"}
_VALUE |= {"/M", "/Name", "/Reason", "/Location"}

Grown = Mapping[tuple[int, int], frozenset[str]]
"""Objects that a revision may replace, and the keys that may differ then."""


def ends(data: bytes) -> list[tuple[int, int]]:
    """Of each revision, oldest first: where it ends, and where its table of objects stands."""
    return [(found.end(), int(found[1])) for found in _END.finditer(data)]


def layout(data: bytes, tables: list[int]) -> Iterator[Flaw]:
    """Whether the revisions follow each other without a gap. ``tables``: where a reader that
    went back from the last table to the first found them, oldest first."""
    found = ends(data)
    if [table for _, table in found] != tables:
        yield f"{len(found)} revisions, one after the other", f"tables at {tables}"
    begin = 0
    for end, table in found:
        if not begin < table < end or data[table : table + 4] != b"xref":
            yield "a plain table of objects in each revision", f"none at {table}"
        begin = end
    if not found:
        yield "an end of the file", "none"
    elif found[-1][0] != len(data):
        yield "nothing after the end of the file", f"{len(data) - found[-1][0]} bytes more"


def changes(data: bytes, names: tuple[str, ...]) -> Iterator[Flaw]:
    """What the signatures' revisions changed that isn't theirs. ``names``: the signed fields,
    in their order."""
    files = [_open(data[:end]) for end, _ in ends(data)]
    try:
        allowed: Grown = _around(files[0])
        for number, (old, new) in enumerate(pairwise(files)):
            yield from _trailer(old, new)
            yield from _objects(old, new, allowed)
            rest = names[number + 1 : number + 2]
            allowed = {w.objgen: frozenset({"/AP", "/V"}) for w in _widgets(new, rest)}
    finally:
        for file in files:
            file.close()


def _open(data: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(data), attempt_recovery=False)


def _around(base: pikepdf.Pdf) -> Grown:
    """What the first signature's revision hangs the form on."""
    allowed: dict[tuple[int, int], frozenset[str]] = {
        base.Root.objgen: frozenset({"/AcroForm", "/Perms"})
    }
    for page in base.pages:
        allowed[page.obj.objgen] = frozenset({"/Annots"})
    return allowed


def _widgets(file: pikepdf.Pdf, names: tuple[str, ...]) -> list[Any]:
    form = file.Root.get("/AcroForm", pikepdf.Dictionary())
    return [each for each in form.get("/Fields", []) if str(each.get("/T", "")) in names]


def _trailer(old: pikepdf.Pdf, new: pikepdf.Pdf) -> Iterator[Flaw]:
    if new.Root.objgen != old.Root.objgen:
        yield "the same root in each revision", "another"
    strange = set(new.trailer.keys()) - _TRAILER
    if strange:
        yield f"a trailer of {', '.join(sorted(_TRAILER))}", ", ".join(sorted(strange))


def _objects(old: pikepdf.Pdf, new: pikepdf.Pdf, allowed: Grown) -> Iterator[Flaw]:
    """Every object is still what it was, but for what the revision may touch."""
    for thing in old.objects:
        grown = allowed.get(thing.objgen, frozenset())
        if _plain(thing, grown) != _plain(new.get_object(thing.objgen), grown):
            yield f"object {thing.objgen[0]} as it was before", "another"


def _plain(thing: Any, without: frozenset[str]) -> tuple[bytes, bytes]:
    """An object as text, less some keys, and the raw bytes of a stream."""
    raw = thing.read_raw_bytes() if isinstance(thing, pikepdf.Stream) else b""
    if isinstance(thing, pikepdf.Dictionary | pikepdf.Stream):
        parts = (
            f"{key} ".encode() + _text(value)
            for key, value in sorted(thing.items())
            if key not in without
        )
        return b"\n".join(parts), raw
    return _text(thing), raw


def _text(value: Any) -> bytes:
    return bytes(value.unparse()) if hasattr(value, "unparse") else repr(value).encode()


# -- the form, and nothing beside it ------------------------------------------------


def form(data: bytes, names: tuple[str, ...], signed: int) -> Iterator[Flaw]:
    """The form holds the fields ``names`` and nothing else, the first ``signed`` of them signed,
    and the pages bear no other annotation."""
    begin = ends(data)[0][0]
    with _open(data[:begin]) as base, _open(data) as file:
        root = file.Root
        found = root.get("/AcroForm", pikepdf.Dictionary())
        fields = list(found.get("/Fields", []))
        if set(found.keys()) != _FORM or int(found.get("/SigFlags", 0)) != 3:
            yield "a form with two signatures and nothing else", ", ".join(sorted(found.keys()))
        told = [str(each.get("/T", "")) for each in fields]
        if told != list(names):
            yield ", ".join(names), ", ".join(told)[:200] or "no fields"
        more = _annotations(file) - _annotations(base)
        if more != Counter(each.objgen for each in fields):
            yield f"{len(names)} fields on the pages", f"{more.total()} annotations"
        for number, each in enumerate(fields):
            yield from _field(each, signed=number < signed)
        yield from _certified(root, fields)


def _annotations(file: pikepdf.Pdf) -> Counter[tuple[int, int]]:
    return Counter(each.objgen for page in file.pages for each in page.get("/Annots", []))


def _field(each: Any, *, signed: bool) -> Iterator[Flaw]:
    wanted = _FIELD if signed else _FIELD - {"/V"}
    if set(each.keys()) != wanted or each.FT != "/Sig" or each.Subtype != "/Widget":
        yield "a signature field and nothing else", ", ".join(sorted(each.keys()))
        return
    if int(each.F) != _SHOWN:
        yield "a stamp that is shown and printed", f"flags {int(each.F)}"
    if set(each.AP.keys()) != {"/N"} or not isinstance(each.AP.N, pikepdf.Stream):
        yield "one stamp", ", ".join(sorted(each.AP.keys()))
    if not signed:
        return
    extra = set(each.V.keys()) - _VALUE - {"/Reference"}
    if extra:
        yield "a signature and nothing else", ", ".join(sorted(extra))
    how = str(each.V.get("/Filter", "")), str(each.V.get("/SubFilter", ""))
    if how != ("/Adobe.PPKLite", "/ETSI.CAdES.detached"):
        yield "ETSI.CAdES.detached", " ".join(how)


def _certified(root: Any, fields: list[Any]) -> Iterator[Flaw]:
    """The first signature certifies, with form filling allowed and nothing else."""
    kept = root.get("/Perms", pikepdf.Dictionary())
    first = fields[0].get("/V") if fields else None
    if first is None:
        return
    if set(kept.keys()) != {"/DocMDP"} or kept.DocMDP.objgen != first.objgen:
        yield "the first signature certifies the file", ", ".join(sorted(kept.keys())) or "nothing"
    references = [each.V.get("/Reference", []) for each in fields if "/V" in each]
    if [len(each) for each in references] != [1, 0][: len(references)]:
        yield "a certification by the first signature alone", f"{list(map(len, references))}"
        return
    only = references[0][0]
    if only.get("/TransformMethod") != "/DocMDP" or only.get("/TransformParams").get("/P") != 2:
        yield "form filling allowed and nothing else", "other permissions"
