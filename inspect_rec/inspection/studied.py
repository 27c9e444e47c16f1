"""A shop's own studies in the place of stated amounts: when they count, and what is said of them.

Rules of the house: a study counts from ENOUGH_DOF degrees of freedom up, its groups scattering
alike. Before, the stated amount stays, unless the study shows that it is too small. No reading of
a study is ever dropped.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from functools import lru_cache

from inspect_rec.compute.studies import Pooled, pooled
from inspect_rec.compute.uncertainty import ENOUGH_DOF, Component, Distribution
from inspect_rec.methods.base import Amount, Known
from inspect_rec.plan import Influence, JobFile, ShopFile, Study

RISK = 0.01
"""Of calling groups unlike that aren't, and again of saying that a reading stands out that
doesn't: what is sound must hardly ever be refused (ISO 5725-2 refuses at 1 %; from memory)."""

_TOO_SMALL = 0.05
"""A stated amount is too small where so much scatter comes from it more seldom than this."""
_SHOWN_UM = Decimal("0.01")

Groups = tuple[tuple[Decimal, ...], ...]


@dataclass(frozen=True, slots=True)
class Studied:
    """What all studies of one influence come to together; readings in mm."""

    name: str
    """The influence; ``repeat of IN-1`` for an instrument."""
    groups: Groups
    on: tuple[datetime.date, ...]

    @property
    def pooled(self) -> Pooled:
        """Pooled standard deviation, degrees of freedom and tests."""
        return _pooled(self.groups)

    @property
    def s_um(self) -> Decimal:
        """The pooled standard deviation, um, rounded up to 0.01 um."""
        return Decimal(repr(self.pooled.s * 1000)).quantize(_SHOWN_UM, ROUND_CEILING)

    @property
    def alike(self) -> bool:
        """Whether the groups may be pooled."""
        return self.pooled.alike is None or self.pooled.alike.alike

    @property
    def counts(self) -> bool:
        """Whether it may take the place of a stated amount."""
        return self.pooled.enough and self.alike

    @property
    def missing(self) -> int:
        """Degrees of freedom that are missing before it counts."""
        return max(0, ENOUGH_DOF - self.pooled.dof)

    def refutes(self, u_um: float) -> bool:
        """Whether a standard deviation of ``u_um`` would hardly ever scatter so much."""
        from scipy.special import chdtrc

        found = self.pooled
        ratio = (float(self.s_um) / u_um) ** 2 if u_um else float("inf")
        return float(chdtrc(found.dof, found.dof * ratio)) < _TOO_SMALL

    def of(self, stated: Amount | None) -> Known:
        """What is known of the influence, its stated amount being in um; None where there is
        none, so that even few degrees of freedom are more."""
        if stated is None:
            return Known(self.s_um, dof=self.pooled.dof, note=str(self), study=self.name)
        u_um = Component("", float(stated.amount), Distribution(stated.distribution)).u
        if not self.counts and not self.refutes(u_um):
            return Known(
                stated.amount,
                stated.distribution,
                stated.assumed,
                note=f"{self}; {self.left}",
                study=self.name,
            )
        over = "" if self.counts else f"; {self.left}, yet {stated.amount} µm is too small"
        note = f"{self}{over}"
        return Known(self.s_um, dof=self.pooled.dof, note=note, study=self.name)

    @property
    def left(self) -> str:
        """What keeps it from counting; empty where it counts."""
        found = self.pooled
        if not found.enough:
            return f"{self.missing} more needed before it counts"
        if self.alike or found.alike is None:
            return ""
        return (
            f"its groups scatter unlike ({found.alike.test}, p = {found.alike.p:.2g}), so it "
            "doesn't count"
        )

    @property
    def advice(self) -> tuple[str, ...]:
        """What is to be done, in words: more repeats, or a look at what stands out."""
        found = self.pooled
        said = [
            f"group {o.group + 1}, reading {o.index + 1} ({o.value:.4f}) stands out by "
            f"{o.deviation * 1000:+.1f} µm; it is kept. Find out why, and say so in `what`"
            for o in found.outliers
        ]
        if not found.enough:
            said.append(
                f"{self.missing} degrees of freedom are missing: a place laid up n times anew "
                "adds n - 1"
            )
        elif self.left:
            said.append(
                f"{self.left}. Find out what was different about the group that scatters most; "
                "if it was another kind of place or person, give it a study of its own, else take "
                "more groups"
            )
        return tuple(said)

    def __str__(self) -> str:
        found = self.pooled
        days = " and ".join(day.isoformat() for day in sorted(set(self.on)))
        groups = f"{found.groups} group{'s' if found.groups > 1 else ''}"
        n = len(found.outliers)
        out = f", {n} reading{'s' if n > 1 else ''} standing out kept" if n else ""
        study = "studies" if len(set(self.on)) > 1 else "study"
        s = f"s = {self.s_um} µm"
        return f"own {study} of {days}: {s}, {groups}, {found.dof} degrees of freedom{out}"


@lru_cache(maxsize=64)
def _pooled(groups: Groups) -> Pooled:
    return pooled([[float(value) for value in group] for group in groups], RISK)


def studies(shop: ShopFile) -> Mapping[str, Studied]:
    """The shop's studies by name, those of one influence pooled."""
    found: dict[str, list[Study]] = {}
    for each in shop.study:
        name = f"repeat of {each.instrument}" if each.instrument else each.influence
        found.setdefault(name, []).append(each)
    return {
        name: Studied(name, tuple(g for s in of for g in s.groups), tuple(s.on for s in of))
        for name, of in found.items()
    }


def known(shop: ShopFile) -> Mapping[str, Known]:
    """What the shop knows by its studies, by name; what no study is of isn't there."""
    repeats = {f"repeat of {e.id}": e.repeat for e in shop.equipment}
    stated: dict[str, Amount] = {
        **shop.influence,
        **{name: Influence(amount=s) for name, s in repeats.items() if s is not None},
    }
    return {name: found.of(stated.get(name)) for name, found in studies(shop).items()}


def influences(shop: ShopFile, job: JobFile | None = None) -> Mapping[str, Amount]:
    """What is known of each influence: by the job itself, else by own study, else as stated."""
    own = {name: each for name, each in known(shop).items() if name in shop.influence}
    return {**shop.influence, **own, **(job.influence if job else {})}
