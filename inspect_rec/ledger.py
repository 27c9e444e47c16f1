"""Entries, their canonical bytes, and the chain that they form. No I/O, no clock.

An entry is never changed: a mistake is answered by a later entry. Decimals travel as strings;
binary floating point is refused, since two machines may print it differently.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

from inspect_rec.errors import LedgerError

VERSION = 1
NOTHING = "0" * 64
"""What stands for the digest before a station's first entry."""

LARGEST_WHOLE = 2**53 - 1
DEEPEST = 40

_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{6})?Z", re.ASCII)
_DIGEST = re.compile(r"[0-9a-f]{64}")
_AS_GIVEN = json.JSONEncoder(
    ensure_ascii=False, separators=(",", ":"), allow_nan=False, check_circular=False
)
_SORTED = json.JSONEncoder(
    ensure_ascii=False,
    separators=(",", ":"),
    allow_nan=False,
    check_circular=False,
    sort_keys=True,
)
_FIELDS = ("v", "station", "seq", "at", "person", "kind", "body", "previous", "digest")


class Kinds(StrEnum):
    """What an entry can tell. The chain itself holds any kind, so that an older program can check
    what a newer one wrote."""

    JOB_OPENED = "job opened"
    RECEIVED = "received"
    CLAMPED = "clamped"
    UNCLAMPED = "unclamped"
    READING = "reading"
    STRUCK_OUT = "struck out"
    GROUND_AGAIN = "ground again"
    WHEEL_DRESSED = "wheel dressed"
    DATUM_SET_ANEW = "datum set anew"
    DRAWING_REVISION_CHANGED = "drawing revision changed"
    MEASURE_AGAIN = "measure again"
    ALARM = "alarm"
    REPORT_MADE = "report made"
    SIGNED = "signed"
    DECIDED = "decided"
    NUMBER_GIVEN = "number given"
    CONCESSION = "concession"
    WITHDRAWN = "withdrawn"
    SHEET_SIGNED = "batch sheet signed"
    PERSON_ADDED = "person added"
    FILE_READ = "file read"
    PICTURE_KEPT = "picture kept"


APART = frozenset[str](
    {Kinds.REPORT_MADE, Kinds.SIGNED, Kinds.DECIDED, Kinds.NUMBER_GIVEN, Kinds.ALARM}
    | {Kinds.FILE_READ, Kinds.WITHDRAWN, Kinds.SHEET_SIGNED}
)
"""Kinds that tell what became of an inspection, or of a line or file, not what was measured."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One act: who, when, what. ``digest`` covers all other fields."""

    station: str
    seq: int
    at: datetime
    person: str
    kind: str
    body: Mapping[str, Any]
    previous: str
    digest: str


@dataclass(frozen=True, slots=True)
class Head:
    """Where a station's chain ends; ``seq`` 0 and NOTHING before the first entry."""

    station: str
    seq: int
    digest: str


def canonical(value: object) -> bytes:
    """``value`` as RFC 8785 bytes.

    Only objects with text keys, lists, text, whole numbers up to 2**53 - 1, true, false and
    null; raises LedgerError for anything else. Keys are sorted by their UTF-16 code units.
    """
    try:
        if _simple(value, 0):
            return _SORTED.encode(value).encode("utf-8")
        return _AS_GIVEN.encode(_plain(value, 0)).encode("utf-8")
    except UnicodeEncodeError as error:
        raise LedgerError("a text holds half a character", found=repr(error.object)[:60]) from error


def _simple(value: Any, depth: int) -> bool:
    """Whether the encoder's own order of keys is the canonical one and nothing is to be refused.

    True for nearly every entry, and several times faster than ``_plain``, which refuses what
    must be refused and sorts keys beyond ASCII.
    """
    if depth > DEEPEST:
        return False
    kind = type(value)
    # Loops, not all(...): a third of the time, while somebody waits for the reading's tone.
    if kind is dict:
        for key, each in value.items():
            if type(key) is not str or not key.isascii() or not _simple(each, depth + 1):
                return False
        return True
    if kind is list:
        for each in value:  # noqa: SIM110 - see above
            if not _simple(each, depth + 1):
                return False
        return True
    whole = kind is int and -LARGEST_WHOLE <= value <= LARGEST_WHOLE
    return whole or kind is str or kind is bool or value is None


def _plain(value: object, depth: int) -> object:
    if depth > DEEPEST:
        raise LedgerError("an entry is nested too deeply")
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, int):
        if abs(value) > LARGEST_WHOLE:
            raise LedgerError("a whole number is too large", found=str(value))
        return value
    if isinstance(value, Mapping):
        if not all(isinstance(key, str) for key in value):
            raise LedgerError("an object has a key that is no text", found=repr(list(value))[:80])
        return {
            key: _plain(value[key], depth + 1)
            for key in sorted(value, key=lambda text: text.encode("utf-16-be", "surrogatepass"))
        }
    if isinstance(value, list | tuple):
        return [_plain(each, depth + 1) for each in value]
    raise LedgerError(
        "a value can't stand in an entry",
        expected="text, whole number, true, false, null, list or object",
        found=f"{type(value).__name__} {value!r:.60}",
        do="Write decimals as text",
    )


def instant(at: datetime) -> str:
    """An instant as RFC 3339 in UTC, microseconds only where they aren't zero."""
    if at.tzinfo is None:
        raise LedgerError("an instant has no time zone", found=at.isoformat())
    return at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def parse_instant(text: object) -> datetime:
    """An instant back; raises LedgerError for any other form."""
    if isinstance(text, str) and _INSTANT.fullmatch(text) and not text.endswith(".000000Z"):
        try:
            return datetime.fromisoformat(text)
        except ValueError as error:
            raise LedgerError("no such instant", found=text) from error
    raise LedgerError("no instant", expected="2026-11-17T08:01:00Z", found=repr(text)[:60])


def make(head: Head, at: datetime, person: str, kind: str, body: Mapping[str, Any]) -> Entry:
    """The entry that follows ``head``."""
    return write(head, at, person, kind, body)[0]


def write(
    head: Head, at: datetime, person: str, kind: str, body: Mapping[str, Any]
) -> tuple[Entry, bytes]:
    """The entry that follows ``head``, and its canonical bytes.

    The digest's place is before "kind", the last key of that name: only texts and numbers follow
    it, and within a text a quote is escaped. So the bytes are made once.
    """
    bare = _bare(head.station, head.seq + 1, at, person, kind, body, head.digest)
    text = canonical(bare)
    digest = hashlib.sha256(text).hexdigest()
    utc = at.astimezone(UTC)
    entry = Entry(head.station, head.seq + 1, utc, person, kind, body, head.digest, digest)
    place = text.rindex(b',"kind":')
    return entry, b'%s,"digest":"%s"%s' % (text[:place], digest.encode(), text[place:])


def _bare(
    station: str,
    seq: int,
    at: datetime,
    person: str,
    kind: str,
    body: Mapping[str, Any],
    previous: str,
) -> dict[str, Any]:
    return {
        "v": VERSION,
        "station": station,
        "seq": seq,
        "at": instant(at),
        "person": person,
        "kind": kind,
        "body": body,
        "previous": previous,
    }


def to_json(entry: Entry) -> dict[str, Any]:
    """An entry as a JSON object."""
    e = entry
    bare = _bare(e.station, e.seq, e.at, e.person, e.kind, e.body, e.previous)
    return {**bare, "digest": e.digest}


def from_json(value: object) -> Entry:
    """An entry from its JSON object; raises LedgerError for any other form."""
    if not isinstance(value, Mapping) or set(value) != set(_FIELDS):
        found = sorted(value) if isinstance(value, Mapping) else type(value).__name__
        raise LedgerError("no entry", expected=", ".join(sorted(_FIELDS)), found=str(found)[:120])
    where = f"{value['station']} {value['seq']}"[:40]
    if value["v"] != VERSION or isinstance(value["v"], bool):
        raise LedgerError(
            "an entry of another version",
            expected=str(VERSION),
            found=repr(value["v"])[:20],
            where=where,
            do="Read it with a newer version of this program",
        )
    for key in ("station", "person", "kind"):
        if not isinstance(value[key], str):
            raise LedgerError(f"{key} is no text", found=repr(value[key])[:60], where=where)
    seq = value["seq"]
    if not isinstance(seq, int) or isinstance(seq, bool) or seq < 1:
        raise LedgerError("no sequence number", expected="1, 2, ...", found=repr(seq)[:40])
    for key in ("previous", "digest"):
        if not isinstance(value[key], str) or not _DIGEST.fullmatch(value[key]):
            raise LedgerError(f"{key} is no digest", found=repr(value[key])[:80], where=where)
    if not isinstance(value["body"], Mapping):
        raise LedgerError("an entry has no body", found=repr(value["body"])[:60], where=where)
    return Entry(
        value["station"],
        seq,
        parse_instant(value["at"]),
        value["person"],
        value["kind"],
        value["body"],
        value["previous"],
        value["digest"],
    )


def parse(text: bytes) -> Entry:
    """An entry from its canonical bytes and nothing else."""
    value = read_json(text, "an entry")
    entry = from_json(value)
    if canonical(value) != text:
        raise LedgerError(
            "an entry isn't in its one canonical form", where=f"{entry.station} {entry.seq}"
        )
    return entry


def read_json(text: bytes, what: str) -> Any:
    """JSON whose every key stands once and that holds no binary number; LedgerError for any
    other, which names ``what`` was read."""
    try:
        return json.loads(text, object_pairs_hook=_once, parse_float=_no_float)
    except (ValueError, RecursionError) as error:
        raise LedgerError(f"{what} is no JSON", found=str(error)[:100]) from error


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice")
    return found


def _no_float(text: str) -> float:
    raise ValueError(f"a binary number: {text}")


def check(entry: Entry) -> None:
    """Raises LedgerError where the entry's digest isn't that of its fields."""
    whole = to_json(entry)
    del whole["digest"]
    digest = hashlib.sha256(canonical(whole)).hexdigest()
    if digest != entry.digest:
        raise LedgerError(
            "an entry was changed",
            expected=f"digest {digest}",
            found=entry.digest,
            where=f"{entry.station} {entry.seq}",
        )


def check_chain(entries: Iterable[Entry], head: Head | None = None) -> tuple[Entry, ...]:
    """Raises LedgerError naming the first entry that doesn't hold: changed, out of order, or not
    following the one before. ``head``: where the chain begins; its very start without it.

    Gives back the entries whose instant lies before that of the entry before. They hold: a clock
    that was set back is no forgery.
    """
    latest: datetime | None = None
    back: list[Entry] = []
    for entry in entries:
        where = f"{entry.station} {entry.seq}"
        if head is None:
            head = Head(entry.station, 0, NOTHING)
        if entry.station != head.station or entry.seq != head.seq + 1:
            raise LedgerError(
                "an entry is missing or out of order",
                expected=f"{head.station} {head.seq + 1}",
                found=where,
                where=where,
            )
        if entry.previous != head.digest:
            raise LedgerError(
                "an entry doesn't follow the one before",
                expected=f"previous {head.digest}",
                found=entry.previous,
                where=where,
            )
        check(entry)
        if latest is not None and entry.at < latest:
            back.append(entry)
        latest = entry.at
        head = Head(entry.station, entry.seq, entry.digest)
    return tuple(back)


def inspection_digest(entries: Iterable[Entry]) -> str:
    """SHA-256 over the RFC 8785 list of the digests of the entries of one inspection, without
    those that tell what became of it."""
    digests = [entry.digest for entry in entries if entry.kind not in APART]
    return hashlib.sha256(canonical(digests)).hexdigest()
