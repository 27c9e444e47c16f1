"""One characteristic on its nominal form: what arcs and contours have in common."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from inspect_rec.inspection import Inspection, Result
from inspect_rec.plan import Characteristic
from inspect_rec.report import figures
from inspect_rec.report.profile_content import Form, Profile, Profiles
from inspect_rec.report.resulting import margin, value_text
from report_templates.wording import Words


def places_of(r: Result) -> tuple[float, ...] | None:
    """What a result holds of its points, or None."""
    held = r.outcome.detail
    value = held.get("along_mm", held.get("angles_deg"))
    return value if isinstance(value, tuple) and value else None


def several(r: Result, key: str) -> tuple[float, ...]:
    """Figures of an outcome's detail, none where it lacks them."""
    value = r.outcome.detail.get(key, ())
    return value if isinstance(value, tuple) else ()


def single(r: Result, key: str) -> float:
    """A figure of an outcome's detail, nought where it lacks it."""
    value = r.outcome.detail.get(key, 0.0)
    return value if isinstance(value, float) else 0.0


class Drawn(ABC):
    """What all drawings share: the edges, the limits, what is said beside them."""

    nominal = Decimal(0)
    """What the limits are counted from."""

    def __init__(
        self, c: Characteristic, results: Sequence[Result], inspection: Inspection
    ) -> None:
        self.c, self.results, self.inspection = c, results, inspection

    @abstractmethod
    def points(self, r: Result) -> Sequence[tuple[float, float]]:
        """How far along the form the points lie, deg or mm, and the deviations, um."""

    @abstractmethod
    def said(self, number: int, w: Words) -> Profiles:
        """The drawing."""

    def limits(self) -> tuple[Decimal | None, Decimal | None]:
        """Limits of the deviation, um."""
        c = self.c
        lower, upper = (
            None if x is None else (x - self.nominal).scaleb(3) for x in (c.lower, c.upper)
        )
        return (None, None) if c.info else (lower, upper)

    def edges(self, w: Words) -> tuple[Profile, ...]:
        """Each result with its points; the one nearest to a limit, or furthest beyond it, decides,
        and without limits the one that lies furthest off."""
        word = figures.capital(w[f"edge.{self.inspection.tool.edge_word}"])
        lower, upper = self.limits()
        found = []

        def room(r: Result) -> tuple[float, float]:
            return margin(r), -max(abs(d) for _, d in self.points(r))

        worst = min(self.results, key=room)
        for r in self.results:
            label = w["page.all"] if r.flute is None else str(r.flute)
            found.append(
                Profile(
                    title=f"{word} {label}" if r.flute is not None else figures.capital(label),
                    label=label,
                    value=self.value(r, w),
                    points=tuple(self.points(r)),
                    on=self.on(r),
                    lower=None if lower is None else float(lower),
                    upper=None if upper is None else float(upper),
                    limit_texts=(_signed(lower, w), _signed(upper, w)),
                    guard=float(r.zones.guard) * 1000 if r.zones else 0.0,
                    decides=r is worst,
                    verdict=r.verdict.value,
                )
            )
        return tuple(found)

    def value(self, r: Result, w: Words) -> str:
        """The value as it stands over the small graph, in µm as its limits there."""
        c = self.c.model_copy(update={"printed_in": "um"})
        return figures.with_unit(c, value_text(replace(r, characteristic=c), w))

    def on(self, r: Result) -> tuple[int, ...]:
        """The piece of the form to which each point belongs."""
        return (0,) * len(places_of(r) or ())

    def zone(self, w: Words) -> str:
        """The limits in words."""
        if self.c.info or not (said := figures.limits_text(self.c, w)):
            return w["page.no_limits"]
        return w["form.zone"].format(limits=said)

    def profiles(self, number: int, w: Words, subtitle: str, caption: str, form: Form) -> Profiles:
        """The drawing of this characteristic."""
        tool = self.inspection.tool
        return Profiles(
            number=number,
            title=figures.capital(self.c.name) + (f" {self.c.symbol}" if self.c.symbol else ""),
            subtitle=subtitle,
            caption=w[f"form.{caption}"].format(edge_word=w[f"edge.{tool.edge_word}"]),
            form=form,
            edges=self.edges(w),
        )


def _signed(um: Decimal | None, w: Words) -> str:
    """A limit of a deviation as it stands at its line: +10, 0, −10."""
    if um is None:
        return ""
    return ("+" if um > 0 else "") + figures.short(um + 0, w)


def fitted(c: Characteristic, w: Words) -> str:
    """What the best fit was free to move."""
    stated = c.parameters.get("freedoms")
    free = stated if isinstance(stated, tuple) else ()
    shifts = [str(f) for f in free if f in {"X", "Z"}]
    both = w["form.and"].format(a="X", b="Z") if len(shifts) == 2 else "".join(shifts)
    if "rotation" in free:
        return w["form.fit_turned" if shifts else "form.fit_turned_only"].format(free=both)
    return w["form.fit" if shifts else "form.fit_nothing"].format(free=both)
