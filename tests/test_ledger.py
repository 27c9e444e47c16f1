"""Entries and chains: one canonical form, and the first entry that doesn't hold is named."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from pathlib import Path

import pytest
import rfc8785
from cryptography.hazmat.primitives import hashes
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec import ledger
from inspect_rec.errors import LedgerError
from inspect_rec.ledger import Entry
from tests import worked
from tests.compute.published import cases

RECORDS = Path(__file__).parents[1] / "fixtures" / "records"

texts = st.text(st.characters(exclude_categories=["Cs"]))
# ASCII keys take the short way, all others the long one.
keys = st.text(st.characters(max_codepoint=127), max_size=8) | texts
values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | texts,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(keys, inner, max_size=4),
    max_leaves=20,
)


@given(values)
def test_canonical_bytes_are_those_of_an_independent_implementation(value: object) -> None:
    assert ledger.canonical(value) == rfc8785.dumps(value)  # type: ignore[arg-type]


@given(st.dictionaries(keys, values, max_size=4), st.datetimes(timezones=st.just(UTC)), texts)
def test_an_entry_written_in_one_go_is_the_entry_in_its_canonical_form(
    body: dict[str, object], at: datetime, person: str
) -> None:
    head = ledger.Head("A", 6, "a" * 64)
    entry, text = ledger.write(head, at, person, ',"kind":', body | {"a": 1, "kind": 2})
    assert text == rfc8785.dumps(ledger.to_json(entry))
    assert ledger.parse(text) == entry
    ledger.check(entry)


def test_keys_stand_in_the_order_of_their_utf_16_units() -> None:
    """RFC 8785 section 3.2.3: U+1F600 begins with 0xD83D and stands before U+FB33."""
    assert ledger.canonical({"\ufb33": 1, "\U0001f600": 2}) == (
        '{"\U0001f600":2,"\ufb33":1}'.encode()
    )


@pytest.mark.parametrize("name", ["jcs-rfc-sample", "jcs-reading-record"])
def test_the_samples_of_rfc_8785_come_out_but_for_the_binary_numbers_that_are_refused(
    name: str,
) -> None:
    """RFC 8785 sections 3.2.2 to 3.2.4. A binary number goes in as a marked text, so that all but
    the writing of such numbers is ours."""
    text, wanted = cases()[name]["inputs"]["json_text"], cases()[name]["expect"]
    published = bytes.fromhex(wanted["canonical_utf8_hex"]["value"])
    with pytest.raises(LedgerError, match="binary number"):
        ledger.read_json(text.encode(), "a sample")
    with pytest.raises(LedgerError, match="float"):
        ledger.canonical(json.loads(text))
    marked = json.loads(text, parse_float=lambda t: f"#{rfc8785.dumps(float(t)).decode()}")
    ours = re.sub(rb'"#([^"]*)"', rb"\1", ledger.canonical(marked))
    assert ours == published
    assert ours == rfc8785.dumps(json.loads(text))
    assert sha256(ours) == wanted["sha256_hex"]["value"]


def sha256(data: bytes) -> str:
    """By another library than the ledger's."""
    found = hashes.Hash(hashes.SHA256())
    found.update(data)
    return found.finalize().hex()


@pytest.mark.parametrize("name", ["sha256-abc", "sha256-448-bit"])
def test_the_digest_is_the_sha_256_of_fips_180_4(name: str) -> None:
    case = cases()[name]
    data, wanted = case["inputs"]["ascii_text"].encode(), case["expect"]["sha256_hex"]["value"]
    assert hashlib.sha256(data).hexdigest() == wanted
    assert sha256(data) == wanted
    entry = ledger.make(
        ledger.Head("A", 0, ledger.NOTHING),
        datetime(2026, 11, 17, tzinfo=UTC),
        "G-01",
        ledger.Kinds.READING,
        {"text": data.decode()},
    )
    bare = {k: v for k, v in ledger.to_json(entry).items() if k != "digest"}
    assert entry.digest == sha256(rfc8785.dumps(bare))


@pytest.mark.parametrize(
    "value", [1.5, float("nan"), Decimal("1.5"), {1: "a"}, 2**53, b"x", "\ud800", {"a": {1, 2}}]
)
def test_what_has_no_one_form_is_refused(value: object) -> None:
    with pytest.raises(LedgerError):
        ledger.canonical(value)


def test_endless_nesting_is_refused() -> None:
    deep: list[object] = []
    for _ in range(500):
        deep = [deep]
    with pytest.raises(LedgerError, match="deep"):
        ledger.canonical(deep)
    deep.append(deep)
    with pytest.raises(LedgerError, match="deep"):
        ledger.canonical({"a": deep})


@given(st.datetimes(timezones=st.just(UTC)))
def test_an_instant_comes_back_as_it_was(at: datetime) -> None:
    assert ledger.parse_instant(ledger.instant(at)) == at


@pytest.mark.parametrize(
    "text",
    ["2026-11-17", "2026-11-17T08:00:00", "2026-11-17T08:00:00+01:00", "2026-11-17T08:00:00.5Z",
     "2026-11-17T08:00:00.000000Z", "2026-02-30T08:00:00Z", "\u0662026-11-17T08:00:00Z", 5, None],
)  # fmt: skip
def test_an_instant_has_one_form(text: object) -> None:
    with pytest.raises(LedgerError):
        ledger.parse_instant(text)


def test_an_instant_without_a_zone_is_refused_and_another_zone_becomes_utc() -> None:
    with pytest.raises(LedgerError, match="zone"):
        ledger.instant(datetime(2026, 11, 17, 8, 0))  # noqa: DTZ001 - that is the mistake
    east = datetime(2026, 11, 17, 9, 0, 0, 500, timezone(timedelta(hours=1)))
    assert ledger.instant(east) == "2026-11-17T08:00:00.000500Z"


def chain() -> list[Entry]:
    return list(worked.entries("I2", 20))


def test_a_whole_chain_holds_and_survives_its_bytes() -> None:
    entries = chain()
    ledger.check_chain(entries)
    again = [ledger.parse(ledger.canonical(ledger.to_json(e))) for e in entries]
    assert again == entries


def body_changed(entries: list[Entry]) -> list[Entry]:
    entries[6] = replace(entries[6], body={**entries[6].body, "stage": "final"})
    return entries


def swapped(entries: list[Entry]) -> list[Entry]:
    entries[5], entries[6] = entries[6], entries[5]
    return entries


def missing(entries: list[Entry]) -> list[Entry]:
    return entries[:5] + entries[6:]


def previous_edited(entries: list[Entry]) -> list[Entry]:
    entries[5] = replace(entries[5], previous="0" * 64)
    return entries


def rewritten(entries: list[Entry]) -> list[Entry]:
    """One entry made anew, with a digest that fits: the next one tells."""
    old = entries[5]
    head = ledger.Head(old.station, old.seq - 1, old.previous)
    entries[5] = ledger.make(head, old.at, old.person, old.kind, {**old.body, "source": "RO-2"})
    return entries


@pytest.mark.parametrize(
    ("change", "first"),
    [(body_changed, 7), (swapped, 7), (missing, 7), (previous_edited, 6), (rewritten, 7)],
    ids=lambda c: getattr(c, "__name__", ""),
)
def test_the_first_entry_that_does_not_hold_is_named(
    change: Callable[[list[Entry]], list[Entry]], first: int
) -> None:
    with pytest.raises(LedgerError) as caught:
        ledger.check_chain(change(chain()))
    assert caught.value.where == f"A {first}"


@pytest.mark.parametrize(
    "text",
    [b"", b"[]", b"{}", b'{"v":1,"v":1}', b'{"a":NaN}', b'{"a":1.0}', b"[" * 10_000, b"\xff"],
)
def test_what_is_no_entry_is_refused(text: bytes) -> None:
    with pytest.raises(LedgerError):
        ledger.parse(text)


def test_an_entry_in_another_form_is_refused() -> None:
    entry = chain()[3]
    spaced = json.dumps(ledger.to_json(entry), indent=1).encode()
    with pytest.raises(LedgerError, match="canonical"):
        ledger.parse(spaced)


def test_a_key_that_stands_twice_is_refused() -> None:
    text = ledger.canonical(ledger.to_json(chain()[3]))
    ledger.parse(text)
    twice = text.replace(b'"kind":', b'"kind":"struck out","kind":')
    with pytest.raises(LedgerError, match="twice"):
        ledger.parse(twice)


@given(st.binary(max_size=300))
def test_garbage_raises_only_the_one_error(data: bytes) -> None:
    with pytest.raises(LedgerError):
        ledger.parse(data)


ENDS = {"v1": (21, "3fd741a89a0c634fbf4dc7e091ac09c75fcc69ab1dd23be9a17d928cf68150ae")}
"""Number and last digest of each released form; written down so that no file is made anew."""


def test_every_released_record_form_is_read_for_ever() -> None:
    files = sorted(RECORDS.glob("v*.jsonl"))
    assert [path.stem for path in files] == sorted(ENDS)
    for path in files:
        entries = [ledger.parse(line) for line in path.read_bytes().splitlines()]
        ledger.check_chain(entries)
        assert (entries[-1].seq, entries[-1].digest) == ENDS[path.stem]


def test_the_inspection_digest_leaves_out_what_became_of_it() -> None:
    entries = chain()
    last = entries[-1]
    head = ledger.Head(last.station, last.seq, last.digest)
    signed = ledger.make(head, last.at, "G-01", "signed", {"inspection": "I2/BW-22-B"})
    cut = ledger.make(head, last.at, "G-01", "ground again", {"inspection": "I2/BW-22-B"})
    before = ledger.inspection_digest(entries)
    assert ledger.inspection_digest([*entries, signed]) == before
    assert ledger.inspection_digest([*entries, cut]) != before


def test_a_clock_that_was_set_back_is_told_and_the_chain_holds() -> None:
    noon = datetime(2026, 11, 17, 12, tzinfo=UTC)
    head, entries = ledger.Head("A", 0, ledger.NOTHING), []
    for minutes in (0, 5, 4, 4, 6):
        entries.append(ledger.make(head, noon + timedelta(minutes=minutes), "G-01", "alarm", {}))
        head = ledger.Head("A", entries[-1].seq, entries[-1].digest)
    assert ledger.check_chain(entries) == (entries[2],)
    assert ledger.check_chain(chain()) == ()


def test_an_entry_is_made_in_utc_wherever_the_clock_stands() -> None:
    east = datetime(2026, 11, 17, 9, tzinfo=timezone(timedelta(hours=1)))
    entry = ledger.make(ledger.Head("A", 0, ledger.NOTHING), east, "G-01", "alarm", {})
    assert entry.at.tzinfo is UTC
    assert ledger.parse(ledger.canonical(ledger.to_json(entry))) == entry


def test_a_kind_is_the_same_entry_as_its_text() -> None:
    head, at = ledger.Head("A", 0, ledger.NOTHING), datetime(2026, 11, 17, tzinfo=UTC)
    named = ledger.make(head, at, "G-01", ledger.Kinds.ALARM, {})
    assert named == ledger.make(head, at, "G-01", "alarm", {})


def test_the_worked_jobs_use_no_kind_without_a_name() -> None:
    kinds = {entry.kind for number in worked.jobs() for entry in worked.entries(number)}
    assert "reading" in kinds
    # "report" is the file's one word for what are three entries: made, signed, decided.
    assert kinds - {"report"} <= set(ledger.Kinds)
