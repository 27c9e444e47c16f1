"""Several lines at a time: nothing lost, nothing mixed up, nobody waits for another."""

from __future__ import annotations

import threading
import time
from collections import Counter
from datetime import UTC, datetime

import pytest

from drivers.lines import Lines, News
from drivers.transport import Back, Chunk, Lost
from inspect_rec.errors import ReadoutError

AT = datetime(2026, 11, 27, 8, 0, tzinfo=UTC)


class Fed:
    """A line that gives what it was given, in order, each poll one."""

    def __init__(self, *news: Chunk | Lost | Back, pause_s: float = 0.0) -> None:
        self.news, self.pause_s, self.open = list(news), pause_s, 0

    def __enter__(self) -> object:
        self.open += 1
        return self

    def __exit__(self, *_: object) -> None:
        self.open -= 1

    def poll(self, timeout_s: float) -> Chunk | Lost | Back | None:
        time.sleep(self.pause_s)
        if self.news:
            return self.news.pop(0)
        time.sleep(timeout_s)
        return None


class Absent(Fed):
    def __enter__(self) -> object:
        raise ReadoutError("the readout's line can't be opened")


def chunks(name: str, n: int) -> list[Chunk]:
    return [Chunk(f"{name}{k}".encode(), AT) for k in range(n)]


def heard(lines: Lines, n: int) -> list[News]:
    found: list[News] = []
    until = time.monotonic() + 10
    while len(found) < n and time.monotonic() < until:
        if (news := lines.poll(0.05)) is not None:
            found.append(news)
    return found


def test_news_of_each_line_come_complete_in_order_and_under_its_name() -> None:
    with Lines([("RO-1", Fed(*chunks("a", 500))), ("IN-1", Fed(*chunks("b", 500)))]) as lines:
        found = heard(lines, 1000)
    assert Counter(news.source for news in found) == {"RO-1": 500, "IN-1": 500}
    for source, name in (("RO-1", "a"), ("IN-1", "b")):
        own = [news.what for news in found if news.source == source]
        assert own == chunks(name, 500)


def test_a_line_that_hangs_holds_up_nobody() -> None:
    slow = Fed(*chunks("a", 1), pause_s=1.0)
    with Lines([("RO-1", slow), ("IN-1", Fed(*chunks("b", 50)))]) as lines:
        began = time.monotonic()
        found = heard(lines, 50)
        assert time.monotonic() - began < 0.9
    assert {news.source for news in found} == {"IN-1"}


def test_a_loss_is_news_like_any_other() -> None:
    lost, back = Lost("gone", AT), Back(AT)
    with Lines([("RO-1", Fed(lost, back))]) as lines:
        assert [news.what for news in heard(lines, 2)] == [lost, back]


def test_nothing_within_the_time_is_none() -> None:
    with Lines([("RO-1", Fed())]) as lines:
        assert lines.poll(0.01) is None


def test_all_lines_are_closed_and_no_thread_is_left() -> None:
    before = threading.active_count()
    one, other = Fed(), Fed()
    with Lines([("RO-1", one), ("IN-1", other)]):
        assert (one.open, other.open) == (1, 1)
    assert (one.open, other.open) == (0, 0)
    assert threading.active_count() == before


def test_a_line_that_is_not_there_leaves_none_open() -> None:
    one = Fed()
    with pytest.raises(ReadoutError), Lines([("RO-1", one), ("IN-1", Absent())]):
        pass
    assert one.open == 0
