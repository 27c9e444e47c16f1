"""Settings with what speaks for and against them, and what a recording can't decide. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting of a layout. ``proved``: the recording leaves no other reading of it."""

    setting: str
    value: str
    for_: tuple[str, ...] = ()
    against: tuple[str, ...] = ()
    proved: bool = False

    def body(self) -> dict[str, object]:
        """As it is written in JSON."""
        return {
            "setting": self.setting,
            "value": self.value,
            "for": list(self.for_),
            "against": list(self.against),
            "proved": self.proved,
        }


@dataclass
class Undecided(Exception):  # noqa: N818 - no error: a recording that leaves two readings
    """The recording leaves more than one reading. ``why`` in words; ``decides``: the one thing to
    do that decides, in the imperative; ``settings``: what was found all the same."""

    why: str
    decides: str
    settings: list[Setting] = field(default_factory=list)

    def __str__(self) -> str:
        return f"{self.why}: {self.decides}"


def move(axis: str, by: str = "+10 mm", *, alone: bool = False) -> str:
    """What to do so that an axis is known."""
    return f"move {axis} by {by}{' alone' if alone else ''} and record again"
