"""Texts that a layout's pattern matches, with what its named groups are to say. Pure.

The part of the language that ``drivers.pattern`` lets in is gone through once; of each length, and
each set of groups that take part, one text is kept, the plainest. So a body of a stated length is
found wherever there is one, without trying.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import islice

Said = Mapping[str, Sequence[bytes] | None]
"""What groups are to say: texts, the first that fits; None: whatever the group matches. A group
that isn't named here takes no part."""

Texts = dict[tuple[int, frozenset[str]], tuple[int, bytes]]
"""By length and groups that take part: the plainest text, and how far from plain it is. A text of a
group that stands further back in its list is less plain."""

_TOKEN = re.compile(r"\[\^?\]?(?:\\.|[^\]\\])*\]|\\x[0-9A-Fa-f]{2}|\\.|[^()|]", re.DOTALL)
_COUNT = re.compile(r"([*+?])|\{(\d+)(?:(,)(\d+)?)?\}")
_GROUP = re.compile(r"\((?:\?P<([a-z_]+)>|\?:)?")
_NONE: frozenset[str] = frozenset()
_PLAINEST = bytes([*b" 0_", *range(33, 127), *range(256)])


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is to be said, in at most how many bytes, and with which byte where any would do."""

    said: Said
    longest: int
    fill: bytes


@dataclass(frozen=True, slots=True)
class _Set:
    """One byte of several."""

    members: bytes

    def texts(self, asked: _Asked) -> Texts:
        return {(1, _NONE): (0, self.best(asked))}

    def best(self, asked: _Asked) -> bytes:
        return next(bytes([b]) for b in asked.fill + _PLAINEST if b in self.members)

    def examples(self) -> Iterator[bytes]:
        return (bytes([b]) for b in dict.fromkeys(_PLAINEST) if b in self.members)


@dataclass(frozen=True, slots=True)
class _Row:
    """One after another."""

    parts: tuple[_Node, ...]

    def texts(self, asked: _Asked) -> Texts:
        found: Texts = {(0, _NONE): (0, b"")}
        for part in self.parts:
            found = _joined(found, part.texts(asked), asked.longest)
        return found

    def examples(self) -> Iterator[bytes]:
        if not self.parts:
            yield b""
            return
        for head in self.parts[0].examples():
            for tail in _Row(self.parts[1:]).examples():
                yield head + tail


@dataclass(frozen=True, slots=True)
class _Either:
    """One or another."""

    ways: tuple[_Node, ...]

    def texts(self, asked: _Asked) -> Texts:
        found: Texts = {}
        for way in self.ways:
            _add(found, way.texts(asked))
        return found

    def examples(self) -> Iterator[bytes]:
        for way in self.ways:
            yield from way.examples()


@dataclass(frozen=True, slots=True)
class _Repeat:
    """Several times; the fewest first."""

    part: _Node
    least: int
    most: int

    def texts(self, asked: _Asked) -> Texts:
        most = min(self.most, asked.longest)
        if isinstance(self.part, _Set):
            best = self.part.best(asked)
            return {(n, _NONE): (0, best * n) for n in range(self.least, most + 1)}
        found: Texts = {}
        so_far: Texts = {(0, _NONE): (0, b"")}
        once = self.part.texts(asked) if most else {}
        for n in range(most + 1):
            if n >= self.least:
                _add(found, so_far)
            so_far = _joined(so_far, once, asked.longest)
            if not so_far:
                break
        return found

    def examples(self) -> Iterator[bytes]:
        for n in range(self.least, self.most + 1):
            yield from _Row((self.part,) * n).examples()


@dataclass(frozen=True, slots=True)
class _Named:
    """A group with a name."""

    name: str
    part: _Node
    inside: re.Pattern[bytes]

    def texts(self, asked: _Asked) -> Texts:
        if self.name not in asked.said:
            return {}
        said = asked.said[self.name]
        if said is None:
            inner = self.part.texts(asked).items()
            return {(n, names | {self.name}): text for (n, names), text in inner}
        found: Texts = {}
        for text in said:
            if self.inside.fullmatch(text):
                found.setdefault((len(text), frozenset({self.name})), (len(found), text))
        return found

    def examples(self) -> Iterator[bytes]:
        return self.part.examples()


_Node = _Set | _Row | _Either | _Repeat | _Named


def _add(found: Texts, more: Texts) -> None:
    for key, text in more.items():
        if key not in found or text[0] < found[key][0]:
            found[key] = text


def _joined(one: Texts, other: Texts, longest: int) -> Texts:
    found: Texts = {}
    for (n, names), (far, head) in one.items():
        for (m, more), (further, tail) in other.items():
            if n + m <= longest:
                _add(found, {(n + m, names | more): (far + further, head + tail)})
    return found


@cache
def _members(token: str) -> bytes:
    """The bytes that one character, escape or set stands for."""
    pattern = re.compile(token.encode("latin-1"))
    return bytes(b for b in range(256) if pattern.fullmatch(bytes([b])))


class Language:
    """What one pattern matches; ``pattern`` is one that ``drivers.pattern`` lets in."""

    def __init__(self, pattern: re.Pattern[bytes], longest: int) -> None:
        self._text, self._at = pattern.pattern.decode("latin-1"), 0
        self._longest = longest
        self._named: dict[str, _Named] = {}
        self._whole = self._either()

    def texts(self, said: Said, needed: frozenset[str], fill: bytes = b"") -> Iterator[bytes]:
        """Texts in which the groups ``needed`` take part, the plainest first; ``fill``: bytes that
        stand first where the pattern leaves open which."""
        found = self._whole.texts(_Asked(said, self._longest, fill))
        fit = [text for (_, names), text in found.items() if names >= needed]
        return (text for _, text in sorted(fit, key=lambda text: text[0]))

    def examples(self, group: str, most: int = 1000) -> Iterator[bytes]:
        """What a group may say, at most so many of it."""
        return islice(self._named[group].examples(), most)

    def _either(self) -> _Node:
        ways = [self._row()]
        while self._text[self._at : self._at + 1] == "|":
            self._at += 1
            ways.append(self._row())
        return ways[0] if len(ways) == 1 else _Either(tuple(ways))

    def _row(self) -> _Node:
        parts: list[_Node] = []
        while self._text[self._at : self._at + 1] not in ("", "|", ")"):
            parts.append(self._repeated(self._one()))
        return parts[0] if len(parts) == 1 else _Row(tuple(parts))

    def _one(self) -> _Node:
        if group := _GROUP.match(self._text, self._at):
            self._at = start = group.end()
            part = self._either()
            inside = self._text[start : self._at]
            self._at += 1
            if group[1] is None:
                return part
            named = _Named(group[1], part, re.compile(inside.encode("latin-1")))
            self._named[group[1]] = named
            return named
        token = _TOKEN.match(self._text, self._at)
        assert token is not None  # noqa: S101 - the layout's parser has let it in
        self._at = token.end()
        return _Set(_members(token.group()))

    def _repeated(self, part: _Node) -> _Node:
        count = _COUNT.match(self._text, self._at)
        if count is None:
            return part
        self._at = count.end()
        if count[1]:
            least, most = {"*": (0, self._longest), "+": (1, self._longest), "?": (0, 1)}[count[1]]
        else:
            least = int(count[2])
            most = int(count[4]) if count[4] else self._longest if count[3] else least
        return _Repeat(part, least, most)
