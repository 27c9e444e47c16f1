"""What a report says: plain texts for print and plain numbers for drawing. Draws nothing.

Everything comes from the record (entries and the report's own head), so that whoever holds the
file can make the same content again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, fields, is_dataclass, replace
from typing import Any, TypeVar

from inspect_rec.report.profile_content import Profiles


@dataclass(frozen=True, slots=True)
class Bar:
    """A value in its tolerance, as numbers for drawing, all in the unit of the value.

    ``low`` and ``high``: the value's ends (equal, but for a profile); ``whisker``: U.
    """

    lower: float | None
    upper: float | None
    nominal: float | None
    zero: bool
    guard: float
    low: float
    high: float
    whisker: float
    verdict: str
    lower_text: str = ""
    upper_text: str = ""
    accepted: str = ""


@dataclass(frozen=True, slots=True)
class Deciding:
    """The result that decides the verdict, or the one closest to a limit."""

    label: str
    number: int
    name: str
    value: str
    unit: str
    bar: Bar | None
    more: str = ""
    note: str = ""
    """Why there is no bar."""


@dataclass(frozen=True, slots=True)
class VerdictBlock:
    """The verdict in two sentences, what it rests on, and what decides it."""

    verdict: str
    finding: str
    permits: str
    lines: tuple[str, ...]
    deciding: Deciding | None
    under: bool = False
    """Whether what decides lies under its lower limit."""


@dataclass(frozen=True, slots=True)
class Offset:
    """A value to type into a machine; ``value`` empty where it wasn't measured."""

    label: str
    value: str
    unit: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FluteGraph:
    """Values of the edges against each other, in cutting order, with what they vary."""

    title: str
    value: str
    allowed: str
    verdict: str
    spread: str
    edge_word: str
    labels: tuple[str, ...]
    texts: tuple[str, ...]
    """The values in print, said where one lies beyond the graph."""
    values: tuple[float, ...]
    whiskers: tuple[float, ...]
    verdicts: tuple[str, ...]
    lower: float | None
    upper: float | None
    guard: float
    limit_texts: tuple[str, str, str]


@dataclass(frozen=True, slots=True)
class Feature:
    """A line of page 1's list: one value, or the range over the edges. ``id``: that of the
    kind's catalogue, by which a sketch knows where it was measured."""

    id: str
    number: int
    name: str
    detail: str
    values: tuple[str, ...]
    limits: tuple[str, ...]
    verdict: str
    under: bool = False


@dataclass(frozen=True, slots=True)
class LifeLine:
    """Lengths on a line, new on the left, minimum on the right; each (name, figure, mm)."""

    count: str
    words: str
    detail: str
    done: tuple[tuple[str, str, float], ...] = ()
    now: tuple[str, str, float] | None = None
    to_come: tuple[tuple[str, str, float], ...] = ()
    minimum: tuple[str, str, float] | None = None


@dataclass(frozen=True, slots=True)
class SignatureBlock:
    """A third of the foot of page 1; ``field``: the signature's field, or none."""

    role: str
    meaning: str
    name: str
    lines: tuple[str, ...]
    field: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One edge's result in the table."""

    edge: str
    value: str
    unit: str
    expanded: str
    deviation: str
    bar: Bar | None
    verdict: str
    word: str
    note: str = ""
    under: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """One characteristic in the table."""

    number: int
    name: str
    lines: tuple[str, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Text:
    """A heading and its paragraphs."""

    heading: str
    paragraphs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture, PNG or JPEG, as its file is; what it shows, and where it comes from."""

    data: bytes
    title: str
    about: str


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of words under heads, in columns that begin there, mm from the left edge; ``below``:
    lines under them."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    columns: tuple[float, ...]
    below: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Content:
    """A report, whole."""

    language: str
    title: str
    number: str
    head_left: tuple[str, str]
    head_right: str
    """What stands under the number, with {page} and {pages}."""
    mark: str
    tool: tuple[str, str]
    facts: tuple[tuple[str, str], ...]
    verdict: VerdictBlock
    offsets_title: str
    offsets: tuple[Offset, ...]
    releasable: bool
    graph: FluteGraph | None
    no_graph: tuple[str, str]
    """What stands in the graph's place where there is none: heading and reason."""
    sketch: str
    edges: int
    edge_word: str
    edges_word: str
    hand: str
    features: tuple[Feature, ...]
    features_more: str
    life: LifeLine
    signatures: tuple[SignatureBlock, ...]
    groups: tuple[Group, ...]
    profiles: tuple[Profiles, ...]
    amendment: Text | None
    """What it changes against the report that it replaces."""
    texts: tuple[Text, ...]
    equipment: Table
    foot: tuple[str, str]
    foot_right: str
    """Number, revision and page on every foot, with {page} and {pages}."""
    words: dict[str, str] = field(default_factory=dict)
    """Fixed words of the layout, in the report's language."""
    paper: str = "A4"
    logo: bytes = b""
    """Picture in the place of the first line of the head; its name is then in the second."""
    head_line: str = ""
    """A third line of the head, of the shop's own."""
    own: tuple[Text, ...] = ()
    """What the shop states on each of its reports."""
    order: tuple[str, ...] = ()
    """Blocks after the table in the order of the shop; those not named follow as always."""
    pictures: tuple[Picture, ...] = ()
    earlier: Table | None = None
    """What earlier reports of the tool say; None where there are none."""


@dataclass(frozen=True, slots=True)
class Compared:
    """One quantity of a case: what was expected, what came out, and the word for it."""

    quantity: str
    expected: str
    tolerance: str
    got: str
    difference: str
    verdict: str
    """Whose mark stands beside the word."""
    word: str


@dataclass(frozen=True, slots=True)
class Case:
    """A case with a known answer, as it ran; ``about``: where its answer comes from. One that
    wasn't run has no rows."""

    id: str
    about: str
    rows: tuple[Compared, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Cases:
    """The cases of one computation, and what it computes."""

    heading: str
    paragraphs: tuple[str, ...]
    cases: tuple[Case, ...]


@dataclass(frozen=True, slots=True)
class Validation:
    """A validation record, whole: head and foot of its pages as a report has them."""

    language: str
    title: str
    number: str
    head_left: tuple[str, str]
    head_right: str
    verdict: str
    """Whose mark stands beside the finding."""
    finding: tuple[str, str]
    sentence: str
    counts: tuple[tuple[str, str], ...]
    facts: tuple[tuple[str, str], ...]
    texts: tuple[Text, ...]
    sections: tuple[Cases, ...]
    statements: tuple[Text, ...]
    by_hand: tuple[str, tuple[str, ...]]
    """What a person confirms, and what is filled in by hand for it."""
    foot: tuple[str, str]
    foot_right: str
    words: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Line:
    """A row of a grid; ``note`` stands under it, ``off``: it doesn't count."""

    cells: tuple[str, ...]
    note: str = ""
    off: bool = False


@dataclass(frozen=True, slots=True)
class Grid:
    """Rows under heads, in columns of these widths, mm."""

    heads: tuple[str, ...]
    widths: tuple[float, ...]
    lines: tuple[Line, ...]
    title: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """A heading, what is said under it, and its grids."""

    heading: str
    paragraphs: tuple[str, ...]
    grids: tuple[Grid, ...] = ()


@dataclass(frozen=True, slots=True)
class Measurements:
    """A measurement record, whole: head and foot of its pages as a report has them."""

    language: str
    title: str
    number: str
    head_left: tuple[str, str]
    head_right: str
    facts: tuple[tuple[str, str], ...]
    parts: tuple[Part, ...]
    foot: tuple[str, str]
    foot_right: str
    words: dict[str, str] = field(default_factory=dict)
    paper: str = "A4"
    logo: bytes = b""
    head_line: str = ""


_Thing = TypeVar("_Thing")


def mapped(thing: _Thing, change: Callable[[str], str]) -> _Thing:
    """The same content with every text changed, words of the layout and all; numbers stay."""
    found: Any = thing
    if isinstance(thing, str):
        found = change(thing)
    elif isinstance(thing, tuple):
        found = tuple(mapped(part, change) for part in thing)
    elif isinstance(thing, dict):
        found = {key: mapped(part, change) for key, part in thing.items()}
    elif is_dataclass(thing) and not isinstance(thing, type):
        parts = {f.name: getattr(thing, f.name) for f in fields(thing)}
        found = replace(thing, **{name: mapped(part, change) for name, part in parts.items()})
    return found  # type: ignore[no-any-return]
