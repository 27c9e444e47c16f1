"""Patterns are let in only where no bytes can keep them busy and their figures are figures."""

from __future__ import annotations

import re
import time
from functools import cache
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.pattern import MOST_WAYS, PatternError, compiled, shape

FIGURE = r"[+-]?\d{1,4}\.\d{3}"
NAMES = ("x", "z", "key", "unit", "mode")
GOOD = rf"X(?P<x>{FIGURE}) Z(?P<z>{FIGURE})"


@pytest.mark.parametrize(
    "pattern",
    [
        GOOD,
        GOOD + r"(?P<unit> mm| in)?(?P<key> \*)?",
        r"\x02(?P<x>[+-][0-9]{4}\.[0-9]{3})\t(?P<z>\d\.\d{3})(?:;U=[01])?",
        rf"(?P<mode>R|D) {GOOD}\s{{0,3}}",
        r"A=(?P<x>-?\d{1,5}\.\d{3});B=(?P<z>-?\d{1,5}\.\d{3});".replace("-?", "[-]?"),
    ],
)
def test_a_pattern_of_bounded_counts_is_let_in(pattern: str) -> None:
    assert compiled(pattern, 64, 3, ".", NAMES).pattern == pattern.encode()


@pytest.mark.parametrize(
    ("defect", "pattern"),
    [
        ("repeat of a repeat", GOOD + r"(a+)+b"),
        ("repeat of a choice", GOOD + r"(a|a)*b"),
        ("many repeats in a row", GOOD + r"a*a*a*b"),
        ("many options in a row", GOOD + r"a?" * 20),
        ("long counts in a row", GOOD + r"a{0,60}a{0,60}a{0,60}b"),
        ("possessive", GOOD + r"a++"),
        ("look ahead", GOOD + r"(?=a)"),
        ("back reference", GOOD + r"(a)\1"),
        ("named back reference", GOOD + r"(?P=x)"),
        ("flags", r"(?i)" + GOOD),
        ("anchors", "^" + GOOD + "$"),
        ("a word boundary", GOOD + r"\b"),
        ("not closed", GOOD + "("),
        ("closed twice", GOOD + ")"),
        ("a set not closed", GOOD + "[a"),
        ("a set in a set", GOOD + "[[a]"),
        ("deep", GOOD + "(" * 200 + ")" * 200),
        ("a name that isn't known", GOOD + r"(?P<y>.)"),
        ("a figure that some lines lack", rf"(?P<x>{FIGURE})?(?P<z>\d\.\d{{3}})"),
        ("one figure or another", rf"(?P<x>{FIGURE})|(?P<z>{FIGURE})"),
        ("a figure twice", rf"(?:(?P<x>{FIGURE}) ){{2}}(?P<z>\d\.\d{{3}})"),
        ("a name twice", GOOD + r"(?P<x>\d{1}\.\d{3})"),
        ("other decimals", r"X(?P<x>\d\.\d{4}) Z(?P<z>\d\.\d{4})"),
        ("a figure that may be a word", r"X(?P<x>.{1,9}) Z(?P<z>\d\.\d{3})"),
        ("a figure without digits", r"X(?P<x>\.\d{3}) Z(?P<z>\d\.\d{3})"),
        ("underscores in a figure", r"X(?P<x>[\d_]{1,4}\.\d{3}) Z(?P<z>\d\.\d{3})"),
        ("characters that are no byte", GOOD + "€"),
        ("an escape that isn't whole", GOOD + r"\x4"),
        ("counts the wrong way round", GOOD + r"a{3,2}"),
    ],
)
def test_any_other_pattern_is_refused(defect: str, pattern: str) -> None:
    with pytest.raises(PatternError):
        compiled(pattern, 64, 3, ".", NAMES)


@given(st.text(alphabet=r"ab.\dXZ()[]{}?*+|,123<>:P=^$-", max_size=40))
@settings(max_examples=500, deadline=None)
def test_any_text_is_compiled_or_refused_and_what_is_let_in_ends_soon(text: str) -> None:
    try:
        pattern = compiled(GOOD + text, 64, 3, ".", NAMES)
    except PatternError:
        return
    line = b"X+0001.000 Z+0001.000" + b"a" * 43
    started = time.process_time()
    pattern.fullmatch(line)
    assert time.process_time() - started < 1.0


def test_the_count_of_ways_bounds_what_the_worst_line_costs() -> None:
    """A choice of two equal ways, repeated, doubles the work each time: the textbook case."""
    fixed = r"X(?P<x>\d\.\d{3}) Z(?P<z>\d\.\d{3})"
    pattern = compiled(fixed + "(?:a|a){16}b", 64, 3, ".", NAMES)
    started = time.process_time()
    assert pattern.fullmatch(b"X1.000 Z1.000" + b"a" * 16) is None
    assert time.process_time() - started < 1.0
    with pytest.raises(PatternError, match=re.escape(str(MOST_WAYS))):
        compiled(fixed + "(?:a|a){17}b", 64, 3, ".", NAMES)


ATOMS = st.sampled_from(["a", "b", "ab", "[ab]", "c?", "(?:ab|b)", "a{1,3}", "(?:ba){0,2}", "c"])


@given(st.lists(ATOMS, min_size=1, max_size=4).map("".join) | st.just("a|ba") | st.just("ab|cab"))
@settings(max_examples=150, deadline=None)
def test_what_lines_have_in_common_is_what_all_of_them_show(text: str) -> None:
    """Against all words of three letters, up to seven long, that the pattern matches."""
    found = shape(text, 7)
    if found.most > 7:
        return
    whole = [w for n in range(8) for w in words(n) if re.fullmatch(text, w)]
    assert (min(map(len, whole)), max(map(len, whole))) == (found.least, found.most)
    if found.least:
        assert found.halves == any(w[n:] in set(whole) for w in whole for n in range(1, len(w)))
    assert set(found.alphabet.decode()) == {letter for word in whole for letter in word}
    first, later = {w[:1] for w in whole}, {letter for w in whole for letter in w[1:]}
    last, sooner = {w[-1:] for w in whole}, {letter for w in whole for letter in w[:-1]}
    assert set(found.begins.decode()) == (first if not first & later and "" not in first else set())
    assert set(found.ends.decode()) == (last if not last & sooner and "" not in last else set())


@cache
def words(length: int) -> tuple[str, ...]:
    return tuple("".join(letters) for letters in product("abc", repeat=length))


@pytest.mark.parametrize(
    ("pattern", "halves"),
    [
        (r"-?\d{1,4}\.\d{3}", True),
        (r"[+-]\d{4}\.\d{3}", False),
        (r"X-?\d{1,4}\.\d{3}", False),
        (r"\[R\]\d{1,4}\.\d{3}\[/D\]\d{1,4}\.\d{3}", False),
        (r"(?:X )?\d\.\d{3}", True),
        (r"X?X\d\.\d{3}", True),
        (r"(?:mm|in) \d{3}\.\d{3}", False),
        (r"\d{1,2}:X\d\.\d{3}", True),
    ],
)
def test_whether_half_a_line_can_be_a_line_is_known(pattern: str, halves: bool) -> None:
    assert shape(pattern, 64).halves is halves


def test_a_pattern_of_very_many_places_is_refused_or_taken_to_have_halves() -> None:
    with pytest.raises(PatternError, match="shorter"):
        compiled(r"(?:.{1000}){9}" + GOOD, 1024, 3, ".", NAMES)
    assert shape(r"X.{500}", 1024).halves
