"""Lines read in columns, and a long line decoded in runs: the same as by the decoder alone."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import columns
from drivers.decoder import Alarm, Decoder
from drivers.layout import Layout, parse
from drivers.runs import Run, Runs
from inspect_rec.reading import Sighting
from tests.drivers.cases import AT, LAYOUTS


def layout(pattern: str, more: str = "decimals = 3", end: str = "\\r\\n") -> Layout:
    text = f"id = 'c'\n[frame]\nterminator = \"{end}\"\npattern = '{pattern}'\n[figures]\n{more}\n"
    return parse(text, "c.toml")


FIXED = layout(r"X(?P<x>[+-]\d{4}\.\d{3})Z(?P<z>[+-]\d{4}\.\d{3})")
LONG = layout(r"(?P<x>[+-]\d{5}\.\d{4});(?P<z>\d{6}\.\d{4})", "decimals = 4")
MIXED = layout(r"X(?P<x>[+-]\d{1,5}\.\d{1,5})Z(?P<z>[+-]\d{1,5}\.\d{1,5})", "decimals = [1, 5]")
COMMA = layout(
    r"\[(?P<x>-?\d{1,4},\d{2})\x09(?P<z>[+]?\d{1,7},\d{2})(?P<key>\*)?(?: (?P<unit>mm|in))?",
    'decimals = 2\npoint = ","\nunit_words = { mm = "mm", in = "in" }',
    "\\n",
)
STREAM = LAYOUTS["starred stream"]
ALL = {"fixed": FIXED, "long": LONG, "mixed": MIXED, "comma": COMMA, "stream": STREAM}
every = pytest.mark.parametrize("name", ALL)


def reader(name: str) -> columns.Columns:
    found = columns.of(ALL[name])
    assert found is not None
    return found


def by_pattern(name: str, data: bytes) -> list[list[tuple[str, Decimal]] | None]:
    """What the pattern says of each whole line: exact figures, or nothing."""
    described = ALL[name]
    assert described.pattern is not None
    found: list[list[tuple[str, Decimal]] | None] = []
    for line in data.split(described.frame.terminator)[:-1]:
        match = described.pattern.fullmatch(line)
        plain = match is not None and not any(
            match[group] for group in ("key", "unit") if group in described.names
        )
        if match is None or not plain or len(line) > described.frame.longest:
            found.append(None)
            continue
        figures = [(c, match[c.lower()].decode().replace(",", ".")) for c in described.channels]
        found.append([(c, Decimal(text)) for c, text in figures])
    return found


def by_columns(name: str, data: bytes) -> list[list[tuple[str, Decimal]] | None]:
    found: list[list[tuple[str, Decimal]] | None] = []
    end = len(ALL[name].frame.terminator)
    while len((block := reader(name).read(data)).stops):
        for n, good in enumerate(block.good.tolist()):
            pairs = zip(reader(name).channels, block.values[:, n], block.places[:, n], strict=True)
            figures = [(c, Decimal(int(v)).scaleb(-int(k))) for c, v, k in pairs]
            found.append(figures if good else None)
        data = data[int(block.stops[-1]) + end :]
    return found


DIGITS = "0123456789"


@st.composite
def figure(draw: st.DrawFn, name: str) -> str:
    signs = {"fixed": "+-", "long": "+-", "mixed": "+-"}.get(name, "-")
    sign = draw(st.sampled_from([*signs, *([] if name in ("fixed", "mixed") else [""])]))
    whole = {"fixed": (4, 4), "long": (5, 6), "mixed": (1, 5)}.get(name, (1, 4))
    places = {"fixed": (3, 3), "long": (4, 4), "mixed": (1, 5), "comma": (2, 2)}.get(name, (4, 4))
    before = draw(st.text(DIGITS, min_size=whole[0], max_size=whole[1]))
    behind = draw(st.text(DIGITS, min_size=places[0], max_size=places[1]))
    return f"{sign}{before}{',' if name == 'comma' else '.'}{behind}"


@st.composite
def line(draw: st.DrawFn, name: str) -> bytes:
    x, z = draw(figure(name)), draw(figure(name))
    forms = {
        "fixed": f"X{x}Z{z}",
        "mixed": f"X{x}Z{z}",
        "long": f"{x};{z.lstrip('+-')}",
        "comma": f"[{x}\t{z}{draw(st.sampled_from(['', '', '*', ' mm', ' in', '* mm']))}",
        "stream": x + draw(st.sampled_from(["", "", "*"])),
    }
    data = forms[name].encode()
    if draw(st.integers(0, 4)) == 0:
        at = draw(st.integers(0, len(data) - 1))
        byte = draw(st.binary(min_size=1, max_size=2))
        data = data[:at] + byte + data[at + draw(st.integers(0, 2)) :]
    return data + ALL[name].frame.terminator


@every
@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_columns_take_the_lines_that_the_pattern_takes_with_the_same_figures(
    name: str, data: st.DataObject
) -> None:
    stream = b"".join(data.draw(st.lists(line(name), max_size=12)))
    stream += data.draw(st.binary(max_size=30))
    assert by_columns(name, stream) == by_pattern(name, stream)


@given(st.sampled_from(sorted(ALL)), st.binary(max_size=400))
@settings(max_examples=60, deadline=None)
def test_any_bytes_are_read_in_columns_as_by_the_pattern(name: str, data: bytes) -> None:
    assert by_columns(name, data) == by_pattern(name, data)


@pytest.mark.parametrize("name", LAYOUTS)
def test_what_has_marks_a_check_or_words_is_left_to_the_decoder(name: str) -> None:
    assert (columns.of(LAYOUTS[name]) is not None) == (name in ("two-axis line", "starred stream"))


@pytest.mark.parametrize(
    "pattern",
    [
        r"X(?P<x>\d{1,8}\.\d{3})",
        r"X(?P<x>\d{0,4}\.\d{3})",
        r"X(?P<x>\d{1,4}\.\d{3,4})",
        r"X+(?P<x>\d{1,4}\.\d{3})",
        r"[XY](?P<x>\d{1,4}\.\d{3})",
        r"(?P<x>\d{1,4}\.\d{3})(?P<x_sign>[+-])",
        r"(?P<angle>[0-9]{1,3}\.\d{3})\s",
    ],
)
def test_a_pattern_that_columns_cannot_follow_is_refused(pattern: str) -> None:
    assert columns.of(layout(pattern)) is None


def flat(items: Iterable[Run | Sighting | Alarm]) -> list[object]:
    """Figures and alarms one by one, runs taken apart."""
    found: list[object] = []
    for item in items:
        if isinstance(item, Alarm):
            found.append((item.code, item.raw))
        elif isinstance(item, Sighting):
            found.append([(r.channel, r.value, str(r.value)) for r in item.readings])
        else:
            found += [[(c, v, str(v)) for c, v in pairs] for pairs in figures_of(item)]
    return found


def figures_of(run: Run) -> Iterable[list[tuple[str, Decimal]]]:
    for n in range(len(run.values[0])):
        rows = zip(run.channels, run.values, run.places, strict=True)
        yield [(c, Decimal(values[n]).scaleb(-places[n])) for c, values, places in rows]


@st.composite
def ways(draw: st.DrawFn) -> bytes:
    """Slides that move slowly, and now and then jump, are set to nought, or say nonsense."""
    x, z, found = 31_447, 142_318, b""
    for _ in range(draw(st.integers(0, 60))):
        what = draw(st.integers(0, 30))
        if what == 0:
            x = draw(st.sampled_from([0, 62_894, -5, 900_000, 31_447]))
        elif what == 1:
            x, z = z, x
        elif what == 2:
            found += draw(st.binary(max_size=40)) + b"\r\n"
        elif what == 3:
            found += f"X{x / 1000:+09.3f} Z{z / 1000:+09.3f} *\r\n".encode()
        x, z = x + draw(st.integers(-900, 900)), z + draw(st.sampled_from([0, 1, -1, 1000, 1001]))
        found += f"X{x / 1000:+09.3f} Z{z / 1000:+09.3f}\r\n".encode()
    return found


@given(ways(), st.lists(st.integers(0, 1500), max_size=4))
@settings(max_examples=60, deadline=None)
def test_runs_say_what_the_decoder_says_line_by_line(data: bytes, cuts: list[int]) -> None:
    described = LAYOUTS["two-axis line"]
    found = columns.of(described)
    assert found is not None
    runs, plain = Runs(described, found, AT), Decoder(described, "", timed=False)
    ends = sorted({0, len(data), *(cut % (len(data) + 1) for cut in cuts)})
    chunks = [data[a:b] for a, b in pairwise(ends)]
    in_runs = [item for chunk in chunks for item in runs.feed(chunk)]
    one_by_one = [item for chunk in chunks for item in plain.feed(chunk, AT)]
    assert flat([*in_runs, *runs.close()]) == flat([*one_by_one, *plain.close(AT)])
    assert runs.decoder.suspect == plain.suspect


def test_a_quiet_line_comes_in_runs() -> None:
    described = LAYOUTS["two-axis line"]
    found = columns.of(described)
    assert found is not None
    data = b"".join(f"X{30 + n / 100:+09.3f} Z+0142.318\r\n".encode() for n in range(1000))
    items = list(Runs(described, found, AT).feed(data))
    assert [type(item) for item in items] == [Sighting, Run]
