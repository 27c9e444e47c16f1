"""The measurement record of a tool, for the shop's own file: every raw reading and all of every
budget, those that don't count with the reason.

It is no report and nobody signs it. The same entries give the same bytes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from inspect_rec import ledger
from inspect_rec.inspection import Check, Inspection, Result
from inspect_rec.inspection.kept import TEMPERATURE, Kept, Place, Ref
from inspect_rec.report import budgets, figures, pdf, record
from inspect_rec.report.acts import told as act_told
from inspect_rec.report.adding import head_of
from inspect_rec.report.content import Grid, Line, Measurements, Part
from inspect_rec.report.letterhead import Letterhead
from inspect_rec.report.resulting import value_text
from inspect_rec.report.spoken import spoken
from report_templates import measurements as drawing
from report_templates import sheet, words
from report_templates.wording import Words


@dataclass(frozen=True, slots=True)
class Said:
    """How a record is written: in which language, by which program, under which letterhead; and the
    names of persons and customers by id, where the shop still keeps them."""

    language: str
    program: str
    names: Mapping[str, str]
    letterhead: Letterhead | None = None


def made(inspection: Inspection, said: Said) -> bytes:
    """The record as PDF/A-3b, with every reading attached as a table."""
    content = of(inspection, said)
    attached = pdf.Attachment(
        record.to_csv(inspection), "text/csv", "Data", "raw readings as a table"
    )
    return pdf.pages(
        lambda canvas: drawing.draw(canvas, content),
        f"{content.title} {inspection.id}",
        said.language,
        {record.READINGS: attached},
        ledger.instant(_last(inspection)),
        sheet.PAPERS[content.paper],
    )


def of(inspection: Inspection, said: Said) -> Measurements:
    """Everything that the measurement record of one tool says."""
    w = words(said.language)
    inspection = spoken(inspection, w)
    shop, number = inspection.shop.shop, inspection.id.replace("{", "{{").replace("}", "}}")
    at = figures.moment(_last(inspection), w)
    page = {"page": "{page}", "pages": "{pages}"}
    return Measurements(
        language=said.language,
        title=w["measurements.title"],
        number=inspection.id,
        head_left=(shop.name, " · ".join(x for x in (shop.address, shop.place) if x)),
        head_right=w["measurements.head_right"].format(at=at, **page),
        facts=tuple(_facts(inspection, said, w)),
        parts=tuple(_parts(inspection, w)),
        foot=(w["measurements.foot"], w["page.digest"].format(digest=inspection.digest)),
        foot_right=w["measurements.foot_right"].format(number=number, **page),
        words={key: w[f"measurements.{key}"] for key in ("what", "end")},
        **head_of(said.letterhead),
    )


def _last(inspection: Inspection) -> datetime:
    return max(e.at for e in inspection.record.entries)


def stamp(at: datetime) -> str:
    """An instant to the second, UTC, so that rows can be put in order by eye."""
    return f"{at.astimezone(UTC):%Y-%m-%d %H:%M:%S}"


# -- head ------------------------------------------------------------------------


def _facts(inspection: Inspection, said: Said, w: Words) -> Iterator[tuple[str, str]]:
    job, found, tool = inspection.job.job, inspection.record, inspection.tool
    entries = found.entries
    none = w["texts.none"]
    yield w["measurements.tool"], ", ".join(x for x in (tool.mark, tool.title or tool.kind) if x)
    yield w["page.customer"], said.names.get(job.customer, job.customer)
    yield w["page.drawing"], " ".join(x for x in (job.drawing, found.revision) if x) or none
    yield w["page.plan"], " ".join(x for x in (job.plan, job.plan_revision) if x) or none
    yield w["measurements.verdict"], w[f"verdict.{inspection.verdict.value}"]
    yield w["measurements.not_measured"], "; ".join(inspection.missing) or none
    first, last = entries[0], entries[-1]
    yield (
        w["measurements.entries"],
        w["measurements.entries_text"].format(
            n=w.whole(len(entries)),
            first=f"{first.station} {first.seq}",
            last=f"{last.station} {last.seq}",
        ),
    )
    ids = dict.fromkeys(e.person for e in entries)
    named = (f"{id_} {said.names[id_]}" if id_ in said.names else id_ for id_ in ids)
    yield w["measurements.persons"], "; ".join(named)
    yield w["measurements.equipment"], "; ".join(f"{e.id} {e.what}" for e in inspection.used)
    yield w["measurements.program"], f"inspect_rec {said.program}"


def _parts(inspection: Inspection, w: Words) -> Iterator[Part]:
    yield _readings(inspection, w)
    yield _suspects(inspection, w)
    yield _acts(inspection, w)
    yield _temperatures(inspection, w)
    yield _checks(inspection, w)
    yield _closures(inspection, w)
    by_id: dict[str, list[Result]] = {}
    for r in inspection.results:
        by_id.setdefault(r.characteristic.id, []).append(r)
    for results in by_id.values():
        yield _characteristic(results, inspection, w)


# -- readings --------------------------------------------------------------------


_READINGS = (11.0, 27.0, 12.0, 19.0, 50.0, 37.0, 20.0)


def place_of(place: Place, inspection: Inspection, w: Words) -> str:
    """Where a reading belongs: ball radius arc, flute 3, mark 2, sighting 1, before."""
    said = [w["measurements.temperature"] if place.feature == TEMPERATURE else place.feature]
    said[0] = w.told("text", said[0])
    if place.flute:
        said.append(f"{w[f'edge.{inspection.tool.edge_word}']} {place.flute}")
    if place.mark:
        said.append(w.told("text", place.mark))
    if place.repeat > 1:
        said.append(w["measurements.sighting"].format(n=place.repeat))
    if place.when:
        said.append(_when(place.when, w))
    if place.round:
        said.append(w["measurements.round"].format(n=place.round))
    return ", ".join(said)


def _when(when: str, w: Words) -> str:
    name, _, number = when.rpartition(" ")
    if number.isdigit():
        return f"{w[f'when.{name}']} {number}"
    return w[f"when.{when}"]


def _readings(inspection: Inspection, w: Words) -> Part:
    found = inspection.record
    units = {
        (e.station, e.seq): {t["channel"]: t["unit"] for t in e.body["taken"]}
        for e in found.entries
        if e.kind == "reading"
    }
    struck = {s.reading.ref: s for s in found.struck}

    def line(kept: Kept) -> Line:
        void, notes = found.void.get(kept.ref, ""), []
        if taken_back := struck.get(kept.ref):
            why = {"reason": taken_back.reason or "–", "person": taken_back.person}
            notes.append(w["measurements.struck"].format(at=stamp(taken_back.at), **why))
        if kept.suspect:
            notes.append(w["measurements.suspect"].format(why=w.told("reason", kept.suspect)))
        if kept.once_more:
            notes.append(w["measurements.once_more"])
        by_eye = w["measurements.by_eye"] if kept.by_eye else ""
        cells = (
            entry(kept.ref, inspection),
            stamp(kept.at),
            kept.person,
            ", ".join(x for x in (kept.source, by_eye) if x),
            place_of(kept.place, inspection, w),
            _shown(kept.shown, units[kept.ref], w),
            w[f"void.{void}"] if void else w["measurements.counts"],
        )
        return Line(cells, ". ".join(notes), off=bool(void))

    heads = ("entry", "instant", "person", "source", "place", "shown", "counts_head")
    n, off = len(found.readings), len(found.void)
    told = w["measurements.readings_text"].format(n=w.whole(n), off=w.whole(off))
    lines = tuple(map(line, found.readings))
    return Part(w["measurements.readings"], (told,), (_grid(heads, _READINGS, lines, w),))


def _grid(
    heads: Sequence[str], widths: tuple[float, ...], lines: tuple[Line, ...], w: Words
) -> Grid:
    return Grid(tuple(w[f"measurements.{head}"] for head in heads), widths, lines)


def entry(ref: Ref, inspection: Inspection) -> str:
    """An entry's number; its station too where there are several."""
    several = len({e.station for e in inspection.record.entries}) > 1
    return f"{ref[0]} {ref[1]}" if several else str(ref[1])


_UNITS = {"mm": " mm", "in": " in", "deg": "°", "degC": " °C", "um": " µm"}


def _shown(shown: Mapping[str, str], units: Mapping[str, str], w: Words) -> str:
    """As the readout showed it, digit by digit; a unit that all share stands once, at the end."""
    ends = {c: _UNITS.get(units[c], f" {units[c]}") for c in shown}
    once = len(set(ends.values())) == 1
    said = [
        (f"{c}\u00a0" if len(shown) > 1 or len(c) == 1 else "")
        + w.figure(value)
        + ("" if once else ends[c])
        for c, value in shown.items()
    ]
    return ", ".join(said) + (next(iter(ends.values())) if once else "")


def _suspects(inspection: Inspection, w: Words) -> Part:
    found = [k for k in inspection.record.readings if k.suspect]
    lines = tuple(
        Line(
            (
                entry(k.ref, inspection),
                place_of(k.place, inspection, w),
                w.told("reason", k.suspect),
                w[f"measurements.{'gone' if k.ref in inspection.record.void else 'counts'}"],
            )
        )
        for k in found
    )
    if not lines:
        return Part(w["measurements.suspects"], (w["measurements.suspects_none"],))
    heads = ("entry", "place", "why", "counts_head")
    grid = _grid(heads, (12.0, 60.0, 80.0, 24.0), lines, w)
    return Part(w["measurements.suspects"], (w["measurements.suspects_text"],), (grid,))


def _acts(inspection: Inspection, w: Words) -> Part:
    lines = tuple(
        Line(
            (
                entry((e.station, e.seq), inspection),
                stamp(e.at),
                e.person,
                w.get(f"act.{e.kind}", e.kind),
                act_told(e, inspection, w),
            )
        )
        for e in inspection.record.entries
        if e.kind != "reading"
    )
    heads = ("entry", "instant", "person", "act", "what_of_it")
    grid = _grid(heads, (12.0, 29.0, 13.0, 34.0, 88.0), lines, w)
    return Part(w["measurements.acts"], (w["measurements.acts_text"],), (grid,))


# -- what vouches for the readings -----------------------------------------------


def _temperatures(inspection: Inspection, w: Words) -> Part:
    lines = tuple(
        Line(
            (
                stamp(t.at),
                ", ".join(x for x in (_when(t.when, w) if t.when else "", _round(t.round, w)) if x),
                "; ".join(
                    f"{w.told('text', name)} {figures.plain(value, w)} °C"
                    for name, value in t.degC.items()
                ),
            )
        )
        for t in inspection.temperatures
    )
    said = () if lines else (w["measurements.temperatures_none"],)
    grid = _grid(("instant", "when", "shown"), (36.0, 50.0, 90.0), lines, w)
    return Part(w["measurements.temperatures"], said, (grid,) if lines else ())


def _round(number: int, w: Words) -> str:
    return w["measurements.round"].format(n=number) if number else ""


def _checks(inspection: Inspection, w: Words) -> Part:
    lines = tuple(_check(c, w) for c in inspection.checks)
    said = w["measurements.checks_text" if lines else "measurements.checks_none"]
    heads = ("place", "master", "before", "after", "drift", "allowed", "allowed_off", "found")
    grid = _grid(heads, (36.0, 18.0, 19.0, 19.0, 19.0, 19.0, 22.0, 24.0), lines, w)
    return Part(w["measurements.checks"], (said,), (grid,) if lines else ())


def _check(c: Check, w: Words) -> Line:
    def amount(value: float | None, *, sign: bool = True) -> str:
        return "–" if value is None else budgets.amount(value, c.unit, w, sign=sign)

    state = "good" if c.good else "not_good" if c.refusals else "check_open"
    cells = (
        ", ".join(x for x in (w.told("text", c.feature), _round(c.round, w)) if x),
        c.equipment,
        amount(c.before),
        amount(c.after),
        amount(c.drift),
        amount(c.limit, sign=False),
        amount(c.deviation_limit, sign=False),
        w[f"measurements.{state}"],
    )
    return Line(cells, "; ".join(w.told("reason", why) for why in c.refusals))


def _closures(inspection: Inspection, w: Words) -> Part:
    lines = tuple(
        Line(
            (
                ", ".join(x for x in (w.told("text", c.feature), _round(c.round, w)) if x),
                budgets.amount(c.difference, c.unit, w, sign=True),
                budgets.amount(c.limit, c.unit, w),
                w["measurements.good" if c.ok else "measurements.not_good"],
            )
        )
        for c in inspection.closures
    )
    word = w[f"edge.{inspection.tool.edge_word}"]
    said = w["measurements.closures_text" if lines else "measurements.closures_none"]
    grid = _grid(("place", "difference", "allowed", "found"), (80.0, 36.0, 36.0, 24.0), lines, w)
    grids = (grid,) if lines else ()
    return Part(w["measurements.closures"], (said.format(edge_word=figures.capital(word)),), grids)


# -- results ---------------------------------------------------------------------


def _characteristic(results: Sequence[Result], inspection: Inspection, w: Words) -> Part:
    """All results of one characteristic, then each budget that differs, once."""
    c, how = results[0].characteristic, results[0].method
    name = figures.capital(c.name) + (f" {c.symbol}" if c.symbol else "")
    limits = figures.limits_text(c, w) or w["texts.none"]
    told = w["measurements.method"].format(
        method=w.told("method", how.name), version=how.version, formula=how.formula
    )
    lines = tuple(_result(r, inspection, w) for r in results)
    heads = ("edge", "value", "u", "U", "k", "dof", "verdict", "from_entries")
    grid = _grid(heads, (22.0, 29.0, 17.0, 17.0, 13.0, 12.0, 28.0, 38.0), lines, w)
    limited = w["measurements.limits"].format(limits=limits)
    return Part(name, (limited, told), (grid, *budgets.grids(results, inspection, w)))


def _result(r: Result, inspection: Inspection, w: Words) -> Line:
    c = r.characteristic
    cells = (
        budgets.edge(r, inspection, w),
        figures.with_unit(c, value_text(r, w)),
        figures.spread(c, r.u, w),
        figures.spread(c, r.U, w),
        figures.plain(r.k, w),
        budgets.dof(r.dof, w),
        w["verdict.info"] if c.info else w[f"verdict.{r.verdict.value}"],
        runs(r.refs, inspection),
    )
    return Line(cells, r.judgement.reason)


def runs(refs: Iterable[Ref], inspection: Inspection) -> str:
    """Entries by their numbers, those that follow one another as a range: 12–30, 42."""
    found: list[list[Ref]] = []
    for ref in sorted(set(refs)):
        if found and found[-1][-1][0] == ref[0] and found[-1][-1][1] + 1 == ref[1]:
            found[-1].append(ref)
        else:
            found.append([ref])
    return ", ".join(
        entry(run[0], inspection) + (f"–{run[-1][1]}" if len(run) > 1 else "") for run in found
    )
