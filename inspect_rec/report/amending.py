"""What an amendment says: which report it replaces, what changed and why, both measurements, and
the customer's concessions."""

from __future__ import annotations

from collections.abc import Iterator

from inspect_rec.inspection import Inspection
from inspect_rec.inspection.conceded import Before, before, under_concession
from inspect_rec.inspection.kept import Concession
from inspect_rec.report import figures
from inspect_rec.report.figures import shown, spread, with_unit
from inspect_rec.report.record import Header
from report_templates.wording import Words


def told(
    inspection: Inspection, header: Header, numbers: dict[str, int], w: Words
) -> Iterator[str]:
    """The paragraph of an amendment; nothing where it replaces none and nothing was conceded."""
    if header.replaces:
        why = header.why or w["texts.none"]
        yield w["amended.replaces"].format(number=header.replaces, why=why)
    for each in before(inspection):
        yield _twice(each, numbers, w)
    yield from (_granted(c, inspection, w) for c in inspection.record.concessions)


def _twice(each: Before, numbers: dict[str, int], w: Words) -> str:
    r, c = each.result, each.result.characteristic
    value = " – ".join(with_unit(c, shown(c, v, w, exact=True)) for v in r.values)
    said = w["amended.before"].format(
        number=numbers[c.id],
        name=w.told("text", c.name),
        value=value,
        U=spread(c, r.U, w),
        verdict=w[f"short.{r.verdict.value}"],
        why=each.round.why or w["texts.none"],
    )
    if each.difference is None or each.limit is None:
        return said
    key = "amended.agree" if abs(each.difference) <= each.limit else "amended.differ"

    def amount(value: float) -> str:
        text = f"{value:.2f}°" if c.deg else f"{value * 1000:.1f} µm"
        return figures.figure(text, w)

    return f"{said} " + w[key].format(
        difference=amount(abs(each.difference)), limit=amount(each.limit)
    )


def _granted(given: Concession, inspection: Inspection, w: Words) -> str:
    names = [c.name for c in inspection.job.characteristic if c.id in given.characteristics]
    document = w["texts.none"]
    if given.document is not None:
        document = f"{given.document.name} (SHA-256 {given.document.sha256[:16]}…)"
    return w["amended.granted"].format(
        number=given.number,
        names=", ".join(names),
        day=figures.day(given.at.date(), w),
        by=given.granted_by or w["texts.none"],
        words=given.words or w["texts.none"],
        document=document,
    )


def covering(inspection: Inspection) -> str:
    """The concessions under which the tool may be released; empty where it may not."""
    return figures.once(c.number for c in under_concession(inspection))


def concessions(inspection: Inspection, w: Words) -> str:
    """The references of all concessions, for the line that lists them."""
    del w
    return figures.once(c.number for c in inspection.record.concessions)
