"""What a batch sheet says: plain texts for print and plain numbers for drawing. Draws nothing."""

from __future__ import annotations

from dataclasses import dataclass, field

from inspect_rec.report.content import Bar, SignatureBlock, Text


@dataclass(frozen=True, slots=True)
class Count:
    """How many tools came out one way. ``verdict``: whose mark stands beside the word."""

    verdict: str
    under: bool
    number: str
    word: str
    note: str


@dataclass(frozen=True, slots=True)
class Column:
    """A value to type into a machine, or a characteristic: its head, and largest, mean and
    smallest of what was released, empty where nothing was."""

    name: str
    limits: str
    note: str
    offset: bool
    largest: str = ""
    mean: str = ""
    smallest: str = ""


@dataclass(frozen=True, slots=True)
class Cell:
    """A value of one tool, or its range over the edges; a verdict that isn't plain is marked."""

    text: str
    verdict: str = "conforms"


@dataclass(frozen=True, slots=True)
class Line:
    """One tool in the table. ``word``: its verdict and what was decided;
    ``report``: number of the one in force."""

    mark: str
    bar: Bar | None
    cells: tuple[Cell, ...]
    left: str
    verdict: str
    under: bool
    word: str
    report: str
    given_out: bool


@dataclass(frozen=True, slots=True)
class Point:
    """One tool in the trend. ``joined``: whether the line leads here from the one before."""

    label: str
    value: float
    text: str
    guard: float
    verdict: str
    joined: bool
    dressed: str = ""
    """What stands at a dressing of the wheel before this tool."""


@dataclass(frozen=True, slots=True)
class Trend:
    """A value over the tools in the order in which they were measured; no points: why not."""

    title: str
    why_not: str
    points: tuple[Point, ...] = ()
    lower: float | None = None
    upper: float | None = None
    zero: bool = False
    limit_texts: tuple[str, str, str] = ("", "", "")
    """Upper, middle, lower."""


@dataclass(frozen=True, slots=True)
class Named:
    """One report of the batch, and its file as it was decided; without a digest before that."""

    number: str
    revision: str
    mark: str
    decision: str
    day: str
    digest: str
    in_force: bool


@dataclass(frozen=True, slots=True)
class Sheet:
    """A batch sheet, whole: head and foot of its pages as a report has them."""

    language: str
    title: str
    number: str
    head_left: tuple[str, str]
    head_right: str
    heading: str
    tool: tuple[str, str]
    facts: tuple[tuple[str, str], ...]
    counts: tuple[Count, ...]
    axis: tuple[str, str, str]
    """Over the bars: name, lower and upper limit."""
    columns: tuple[Column, ...]
    lines: tuple[Line, ...]
    summed: tuple[str, str, str]
    """Beside largest, mean and smallest."""
    has_life: bool
    trend: Trend
    exceptions: Text
    reports: tuple[Named, ...]
    texts: tuple[Text, ...]
    signatures: tuple[SignatureBlock, ...]
    foot: tuple[str, str]
    foot_right: str
    words: dict[str, str] = field(default_factory=dict)
    paper: str = "A4"
    logo: bytes = b""
    head_line: str = ""
