"""Lengths at 20 degC (ISO 1): what expands, how far it was from 20 degC, how well that is known.

With D(1 + a_t t) = (W - b)(1 + a_s s) the sighted width W of a tool and with
L(1 + a_p p) = (W_p - b)(1 + a_s s) that of its master, to first order
D = (W - W_p + L / f_p) f, with f = 1 - a_t t + a_s s of the tool and f_p of the master: of the
scale only its part on D - L is left.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from inspect_rec.compute.geometry import to_20_degrees
from inspect_rec.errors import ComputeError

USUAL_SHARE = 0.1
"""How far a coefficient from a table may be off, rectangular (trade: common practice)."""


@dataclass(frozen=True, slots=True)
class Body:
    """What expands. ``expansion`` and its standard uncertainty ``u`` per million and kelvin, None
    where only a table's value is known; ``away``: K above 20 degC; ``moved``: K between the
    readings of the thermometer next to it, ``away`` being their middle."""

    name: str
    expansion: float
    away: float
    moved: float = 0.0
    u: float | None = None


@dataclass(frozen=True, slots=True)
class Pair:
    """A body and the scale beside it while it was measured; None where there is no scale."""

    body: Body
    scale: Body | None

    def to_20(self, length_mm: float) -> float:
        """The length at 20 degC of what the warm scale shows as ``length_mm``, mm."""
        scale = self.scale or Body("", 0.0, 0.0)
        return to_20_degrees(
            length_mm,
            tool_per_kelvin=self.body.expansion * 1e-6,
            tool_degc=20 + self.body.away,
            scale_per_kelvin=scale.expansion * 1e-6,
            scale_degc=20 + scale.away,
        )

    def shown(self, length_mm: float) -> float:
        """What the warm scale shows of a length that is ``length_mm`` at 20 degC, mm."""
        return length_mm / self.to_20(1.0)

    def lengths(self, length_mm: float) -> list[tuple[Body, float]]:
        """Each body with the length that its expansion moves, mm, minus where it is taken off."""
        found = [(self.body, -length_mm)]
        return found if self.scale is None else [*found, (self.scale, length_mm)]


@dataclass(frozen=True, slots=True)
class Thermal:
    """What takes a length to 20 degC; of what is ``missing`` nothing is guessed."""

    tool: Pair | None
    expanded: float
    """U (k = 2) of the thermometer, K, the same in all its readings."""
    half_step: float | None = None
    """Half the step of the thermometer, K."""
    masters: Mapping[str, Pair] = field(default_factory=dict)
    """Role of a master whose own length enters the value -> that master."""
    missing: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Role of a master, "" for the tool -> why it can't be taken to 20 degC."""

    def lengths(self, length_mm: float, master: str, master_mm: float) -> list[tuple[Body, float]]:
        """All bodies with the lengths that they move, mm; what a master does has the other sign."""
        if self.tool is None:
            raise ComputeError("no temperature of the tool", found=", ".join(self.missing))
        found = self.tool.lengths(length_mm)
        if master:
            found += [(b, -mm) for b, mm in self.masters[master].lengths(master_mm)]
        return found
