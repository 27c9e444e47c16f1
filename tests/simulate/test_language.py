"""Texts of a pattern: each is matched and says what it should; every length is found."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.pattern import compiled
from inspect_rec.simulate.language import Language

NAMES = ("x", "z", "unit", "key", "status")


def language(text: str, longest: int = 32) -> tuple[Language, re.Pattern[bytes]]:
    pattern = compiled(text, longest, (3, 3), ".", NAMES)
    return Language(pattern, longest), pattern


def test_a_group_says_the_first_text_that_fits_it() -> None:
    spoken, _ = language(r"X(?P<x>[+-]\d{4}\.\d{3})")
    said = [b"1.000", b"+001.000", b"+0001.000", b"+1001.000"]
    assert list(spoken.texts({"x": said}, frozenset({"x"}))) == [b"X+0001.000"]


def test_a_group_that_has_nothing_to_say_is_left_out() -> None:
    spoken, _ = language(r"(?P<x>\d\.\d{3})(?P<unit> mm| in)?(?P<key> \*)?")
    x = frozenset({"x"})
    one = {"x": [b"1.000"]}
    assert list(spoken.texts(one, x)) == [b"1.000"]
    assert list(spoken.texts(one | {"key": None}, x | {"key"})) == [b"1.000 *"]
    said = one | {"key": None, "unit": [b" mm"]}
    assert next(spoken.texts(said, x | {"key"})) == b"1.000 *"
    assert next(spoken.texts(said, x | {"key", "unit"})) == b"1.000 mm *"
    assert list(spoken.texts(one | {"unit": [b"m"]}, x | {"unit"})) == []


def test_a_group_that_must_take_part_and_may_not_leaves_no_text() -> None:
    spoken, _ = language(r"(?P<x>\d\.\d{3})(?P<key>\*)")
    assert list(spoken.texts({"x": [b"1.000"]}, frozenset({"x"}))) == []


def test_every_length_is_found_once_the_fewest_bytes_first() -> None:
    spoken, _ = language(r"X {0,3}(?P<x>\d{1,2}\.\d{3})")
    found = list(spoken.texts({"x": [b"1.000", b"01.000"]}, frozenset({"x"})))
    assert found[0] == b"X1.000"
    assert sorted(map(len, found)) == [6, 7, 8, 9, 10]


def test_of_one_length_the_text_that_stands_first_is_taken() -> None:
    spoken, _ = language(r"X {0,3}(?P<x>\d{1,2}\.\d{3})")
    found = spoken.texts({"x": [b"1.000", b"01.000"]}, frozenset({"x"}))
    assert next(text for text in found if len(text) == 8) == b"X  1.000"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (r"\x02(?P<x>\d\.\d{3})", b"\x021.000"),
        (r"\x41{2}[^ -~](?P<x>\d\.\d{3})", b"AA\x001.000"),
        (r"[]x](?P<x>\d\.\d{3})", b"]1.000"),
        (r"\(\+\.(?P<x>\d\.\d{3})\\", b"(+.1.000\\"),
        (r"(a|(?:b))(?P<x>\d\.\d{3})", b"a1.000"),
        (r"a{0}.b{2,}(?P<x>\d\.\d{3})", b" bb1.000"),
        (r"(?:ab?){2}\s+(?P<x>\d\.\d{3})", b"aa 1.000"),
        (r"é?(?P<x>\d\.\d{3})", b"1.000"),
    ],
)
def test_every_sign_of_the_language_is_known(text: str, expected: bytes) -> None:
    spoken, pattern = language(text)
    found = next(spoken.texts({"x": [b"1.000"]}, frozenset({"x"})))
    assert found == expected
    assert pattern.fullmatch(found)


def test_what_a_group_may_say_is_listed_each_way() -> None:
    spoken, _ = language(r"(?P<x>\d\.\d{3})(?P<status>OK|E[12]|N?)")
    assert list(spoken.examples("status")) == [b"OK", b"E1", b"E2", b"", b"N"]
    spoken, _ = language(r"(?P<x>\d\.\d{3})(?P<status>.{4})")
    assert len(list(spoken.examples("status", 50))) == 50


_ATOMS = st.sampled_from(["a", r"\d", "[+-]", r"\.", ".", "[^a]", r"\s", r"\x07"])
_COUNTS = st.sampled_from(["", "?", "{2}", "{0,3}", "{1,2}"])
_GROUPED = st.recursive(
    st.tuples(_ATOMS, _COUNTS).map("".join),
    lambda inner: st.one_of(
        st.lists(inner, min_size=1, max_size=3).map("".join),
        st.tuples(inner, inner).map(lambda two: f"(?:{two[0]}|{two[1]})"),
        inner.map(lambda one: f"(?:{one})?"),
    ),
    max_leaves=5,
)


@given(_GROUPED, _GROUPED, st.binary(max_size=2))
@settings(max_examples=300, deadline=None)
def test_every_text_is_one_that_the_pattern_matches(before: str, after: str, fill: bytes) -> None:
    spoken, pattern = language(f"{before}(?P<x>[+-]\\d{{4}}\\.\\d{{3}}){after}", 40)
    found = list(spoken.texts({"x": [b"+0012.345"]}, frozenset({"x"}), fill))
    assert found
    for text in found:
        assert pattern.fullmatch(text), text
        assert b"+0012.345" in text
    assert len({len(text) for text in found}) == len(found)
