"""What a frame shows, or what is wrong with it, in words for a grinder. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from drivers.parts import Figures
from inspect_rec.units import Unit


class Code(StrEnum):
    """Kinds of alarm."""

    CORRUPT = "corrupt"
    UNIT = "unit changed"
    MODE = "mode changed"
    FAULT = "fault word"
    IMPLAUSIBLE = "implausible"
    ZERO = "zero reset"
    SWAPPED = "swapped axes"
    COUNT = "lost count"
    DOUBLED = "doubled"
    SILENT = "silent"
    LOST = "line lost"
    BACK = "line back"


@dataclass(slots=True)
class Shown:
    """What a frame shows. ``figures``: (channel, figure as shown, without a negative nought);
    ``mode`` where the frame says it itself; ``beat`` is its heartbeat. Not frozen, since that takes
    twice as long to make; nobody changes it."""

    figures: tuple[tuple[str, Decimal], ...]
    key: bool
    count: int | None = None
    mode: str | None = None
    beat: int | None = None


@dataclass(frozen=True, slots=True)
class Wrong:
    """Why a frame is no reading; ``count`` is its counter all the same, where it is known."""

    code: Code
    said: str
    count: int | None = None


def other(figures: Figures, name: str, word: bytes, count: int | None) -> Wrong:
    """An alarm for a status, unit, mode or counting other than the layout's."""
    if name == "status":
        return fault(word, count)
    if name == "unit":
        unit = {Unit.MM: "mm", Unit.INCH: "inch"}[figures.unit]
        return Wrong(Code.UNIT, f"Readout is not in {unit}: {_BACK}", count)
    how = f"in {figures.mode} mode" if name == "mode" else "counting absolute"
    return Wrong(Code.MODE, f"Readout is not {how}: {_BACK}", count)


_BACK = "set it back. Nothing was converted"


def fault(word: bytes, count: int | None = None) -> Wrong:
    """An alarm for a word that stands in a figure's place."""
    shown = word.decode("ascii", "backslashreplace")
    return Wrong(
        Code.FAULT,
        f"Readout says {shown!r} instead of a figure: look at it. Counts may be lost: sight the "
        "pin again",
        count,
    )
