"""Acts on a tool beside its readings, each an entry: clamped, ground again, dressed, received."""

from __future__ import annotations

import re
from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from inspect_rec.inspection import Inspection
from inspect_rec.ledger import Entry

TYPED = re.compile(r"[+-]?[0-9]{1,5}([.,][0-9]{1,5})?")
"""A figure that a person types."""
_LARGEST_CUT_MM = Decimal(20)


@dataclass(frozen=True, slots=True)
class Said:
    """What an act led to, in words; ``entry`` is on disk when there is one."""

    words: str
    entry: Entry | None = None
    ok: bool = True


class Acts(ABC):
    """The acts; how an entry gets onto the disk is the capture's."""

    _asked_wheel = False
    """Whether the program asked if an edge was ground, since the slide went to the wheel."""

    @property
    @abstractmethod
    def inspection(self) -> Inspection:
        """Everything that the entries say."""

    @abstractmethod
    def event(self, at: datetime, kind: str, body: Mapping[str, Any]) -> Said:
        """Any act on this tool as an entry."""

    def ground_again(
        self, at: datetime, flute: int, infeed_mm: str, how: str, noticed: str = ""
    ) -> Said:
        """A cut was taken: what was final on that flute (0 = all) doesn't stand any more.

        ``noticed``: how it came to be recorded; without it by key, or by key after the slide
        went to the wheel.
        """
        edges, word = self.inspection.tool.edges, self.inspection.tool.edge_word
        if not 0 <= flute <= edges:
            return Said(f"There is no {word} {flute}: expected 1 to {edges}, or 0 = all", ok=False)
        infeed_mm = infeed_mm.strip().replace(",", ".")
        if infeed_mm and (
            not TYPED.fullmatch(infeed_mm) or not 0 < Decimal(infeed_mm) <= _LARGEST_CUT_MM
        ):
            return Said(f"{infeed_mm} mm can't be an infeed: type it in mm, as 0.012", ok=False)
        by_key = "by key, asked when the slide was at the wheel" if self._asked_wheel else "by key"
        body = {"flute": flute, "infeed_mm": infeed_mm, "how": how, "noticed": noticed or by_key}
        said = self.event(at, "ground again", body)
        self._asked_wheel = False
        what = f"{word} {flute} is" if flute else f"all {edges} edges are"
        return Said(f"Ground again: {what} to be measured anew", said.entry)

    def clamped(self, at: datetime, thing: str) -> Said:
        """Something was clamped: the tool by its mark, or a piece of equipment by its id."""
        return self.event(at, "clamped", {"object": thing})

    def unclamped(self, at: datetime, thing: str) -> Said:
        """Something was taken out."""
        return self.event(at, "unclamped", {"object": thing})

    def wheel_dressed(self, at: datetime, why: str = "") -> Said:
        """The wheel was dressed."""
        return self.event(at, "wheel dressed", {"why": why} if why else {})

    def received(self, at: datetime, state: str) -> Said:
        """The state in which the tool arrived, in words."""
        record = self.inspection.record
        body = {"job": record.job.job.number, "tool": record.mark, "state": state}
        return self.event(at, "received", body)

    def revision_changed(self, at: datetime, to: str) -> Said:
        """The drawing has a new revision: no verdict until its job file is opened."""
        record = self.inspection.record
        body = {"job": record.job.job.number, "from": record.revision, "to": to}
        return self.event(at, "drawing revision changed", body)

    def measure_again(
        self, at: datetime, characteristics: list[str], repeats: int, master: str, why: str
    ) -> Said:
        """An order to measure again."""
        body = {"characteristics": characteristics, "repeats": repeats, "master": master}
        return self.event(at, "measure again", body | {"why": why})
