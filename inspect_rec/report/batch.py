"""A job's batch sheet: its tools against each other, what was decided on each, every report named.

A function of the job's entries and of the sheet's own head, so that whoever holds the file can
make it again. A verdict is a tool's own: nothing here averages one. Draws nothing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial

from inspect_rec import ledger
from inspect_rec.compute.conformity import Verdict
from inspect_rec.errors import ReportError
from inspect_rec.inspection import Inspection, Result
from inspect_rec.inspection.conceded import under_concession
from inspect_rec.ledger import Entry, Kinds
from inspect_rec.people import Person
from inspect_rec.plan import JobFile, ShopFile
from inspect_rec.report import (
    batch_columns,
    batch_counts,
    batch_told,
    batch_trend,
    figures,
    pdf,
    record,
    standing,
)
from inspect_rec.report.adding import head_of
from inspect_rec.report.batch_columns import Taken, Wanted
from inspect_rec.report.batch_content import Column, Line, Named, Sheet
from inspect_rec.report.batch_trend import Dot
from inspect_rec.report.content import Bar, SignatureBlock
from inspect_rec.report.fields import RELEASED_BY, Box
from inspect_rec.report.make import known
from inspect_rec.report.record import Header
from inspect_rec.report.resulting import bar, chosen, margin, value_text
from inspect_rec.report.spoken import spoken
from inspect_rec.report.standing import Standing, State
from report_templates import batch as template
from report_templates import letter, sheet, stamps, words
from report_templates.wording import Words

FORMAT = "inspect_rec batch sheet"
RECORD, DIGESTS = "batch.json", "reports.sha256"
LEAST = 2
"""Released tools from which on there is a largest, a mean and a smallest."""
LARGEST = 64 * 1024 * 1024
"""Bytes of a sheet's record: some hundreds of tools of a hundred readings each."""


@dataclass(frozen=True, slots=True)
class Made:
    """An unsigned sheet and what it says."""

    rendered: pdf.Rendered
    said: Sheet


@dataclass(frozen=True, slots=True)
class _Tool:
    """What the sheet needs of one tool, so that the rest of it needn't be kept."""

    standing: Standing
    taken: tuple[Taken | None, ...]
    bar: Bar | None = None
    dot: Dot | None = None
    left: str = ""
    verdict: str = "open"
    under: bool = False
    measured: datetime | None = None
    exceptions: tuple[str, ...] = ()


def number_of(job: str) -> str:
    """What a job's sheet is called; it takes no number of the reports' series."""
    return f"{job}-batch"


def revision_of(entries: Iterable[Entry], job: str) -> int:
    """How many sheets of the job were signed before."""
    return sum(e.kind == Kinds.SHEET_SIGNED and e.body.get("job") == job for e in entries)


def make(entries: tuple[Entry, ...], header: Header) -> Made:
    """The sheet of a job, whole but for its signature.

    ``entries``: all of the job, oldest first; ``header.inspection``: the job. Raises ReportError
    for a layout or language that isn't here, where no report of the job is decided, and where the
    entries are too many for one file; and what ``standing.of`` raises.
    """
    known(header, template.NAME)
    data = record.to_bytes(header, entries, FORMAT)
    if len(data) > LARGEST:
        raise ReportError(
            "the batch is too large for one sheet",
            expected=f"entries of at most {LARGEST // 1024**2} MiB",
            found=f"{len(data) // 1024**2} MiB",
            do="Open its tools as several jobs",
        )
    said = of(entries, header)
    attachments = {
        RECORD: pdf.Attachment(data, "application/json", "Source", "entries of the job"),
        DIGESTS: pdf.Attachment(
            digests(said.reports), "text/plain", "Data", "SHA-256 of each report's signed file"
        ),
    }
    paper = sheet.PAPERS[said.paper]
    data = pdf.pages(
        partial(template.draw, content=said),
        f"{said.title} {said.number}",
        said.language,
        attachments,
        ledger.instant(header.issued),
        paper,
    )
    box = Box(*letter.boxes(paper)[RELEASED_BY])
    return Made(pdf.Rendered(data, {RELEASED_BY: box}), said)


def block(who: Person, key: str, at: str, header: Header) -> bytes:
    """The visible block of the sheet's signature. ``at``: instant as printed."""
    w = words(header.language)
    stamp = stamps.Stamp(
        who.name,
        (at, w["signature.key"].format(key=key)),
        w["signature.released"],
        w["batch.meaning"],
        more=w["signature.more"],
    )
    return pdf.block(stamp, RELEASED_BY, header.language, header.paper)


def digests(reports: Iterable[Named]) -> bytes:
    """Digests of the reports that are decided, as sha256sum writes and checks them."""
    return "".join(f"{r.digest}  {r.number}.pdf\n" for r in reports if r.digest).encode()


def of(entries: tuple[Entry, ...], header: Header) -> Sheet:
    """Everything that the sheet says."""
    w, job = words(header.language), header.inspection
    plan = standing.job_of(entries, job)
    columns = tuple(batch_columns.wanted(plan))
    main = next((c for c in columns if not c.characteristic.info), None)
    tools = [_tool(each, columns, main, w) for each in standing.of(entries, job)]
    _some_decided(tools, job)
    kept = batch_columns.kept(columns, [t.taken for t in tools])
    given_out = [t for t in tools if t.standing.state.given_out]
    standings = [t.standing for t in tools]
    said = [said for t in tools for said in t.exceptions]
    has_life = any(tool.life for tool in plan.tool)
    page = {"page": "{page}", "pages": "{pages}", "revision": header.revision}
    return Sheet(
        language=header.language,
        title=w["batch.title"],
        number=header.number,
        head_left=_shop(entries, job),
        head_right=w["page.head_right"].format(issued=figures.day(header.issued.date(), w), **page),
        heading=_heading(plan, len(tools), w),
        tool=_kinds(plan, w),
        facts=_facts(plan, header, tools, w),
        counts=tuple(batch_counts.counts(((t.standing, t.verdict, t.under) for t in tools), w)),
        axis=_axis(main, tools, plan.tool[0].edge_word, w),
        columns=tuple(_column(n, columns[n], tools, w) for n in kept),
        lines=tuple(_line(t, kept, w) for t in tools),
        summed=_summed(len(given_out), w),
        has_life=has_life,
        trend=batch_trend.trend(
            main, [t.dot for t in tools if t.dot], batch_trend.dressings(entries), w
        ),
        exceptions=batch_told.said([*said, *batch_told.without_report(standings, w)], w),
        reports=tuple(batch_counts.reports(standings, w)),
        texts=batch_told.texts(header, len(given_out), (RECORD, DIGESTS), w, has_life=has_life),
        signatures=_signatures(standings, header, w),
        foot=(w["batch.foot"], w["batch.digest"].format(digest=_digest(entries))),
        foot_right=w["page.foot_right"].format(number=header.number, **page),
        words=dict(w),
        **head_of(header.letterhead),
    )


def _digest(entries: Iterable[Entry]) -> str:
    """SHA-256 over the RFC 8785 list of the digests of all entries."""
    return hashlib.sha256(ledger.canonical([e.digest for e in entries])).hexdigest()


# -- one tool ------------------------------------------------------------------------


def _tool(tool: Standing, columns: Sequence[Wanted], main: Wanted | None, w: Words) -> _Tool:
    if tool.inspection is None:
        told = tuple(batch_told.exceptions(tool, None, w))
        return _Tool(tool, (None,) * len(columns), exceptions=told)
    _rightly(tool)
    found = spoken(tool.inspection, w)
    results = [r for r in found.results if main and r.characteristic.id == main.characteristic.id]
    worst = [r for r in found.results if r.verdict is found.verdict and not r.characteristic.info]
    life = found.life
    return _Tool(
        standing=replace(tool, inspection=None),
        taken=tuple(c.of(found, w) for c in columns),
        bar=_bar(results, w),
        dot=_dot(tool, found, main, results, w),
        left="" if life is None or life.left_sharpenings is None else str(life.left_sharpenings),
        verdict=found.verdict.value,
        under=bool(worst) and min(worst, key=margin).judgement.side == "under",
        measured=standing.finished_at(found),
        exceptions=tuple(batch_told.exceptions(tool, found, w)),
    )


def _rightly(tool: Standing) -> None:
    """Nothing is released but what conforms, or what the named concessions cover."""
    found, report = tool.inspection, tool.report
    if found is None or report is None or not tool.state.given_out:
        return
    covering = ", ".join(c.number for c in under_concession(found))
    expected = "" if found.verdict is Verdict.CONFORMS else covering
    if (found.verdict is not Verdict.CONFORMS and not covering) or report.reason != expected:
        raise ReportError(
            f"{report.number} was released for another reason than its readings give",
            expected=covering or "a tool that conforms",
            found=f"{found.verdict.value}, {report.reason or 'without a concession'}",
        )


def _bar(results: Sequence[Result], w: Words) -> Bar | None:
    """From the lowest to the highest edge; drawn as the verdict of the worst."""
    if not results:
        return None
    worst = min(results, key=margin)
    found = bar(worst, w)
    if found is None:
        return None
    values = [float(v) for r in results for v in r.values]
    return replace(found, low=min(values), high=max(values), whisker=0.0)


def _dot(
    tool: Standing, found: Inspection, main: Wanted | None, results: Sequence[Result], w: Words
) -> Dot | None:
    """The value that a machine needs, or that of the worst edge."""
    if main is None or not results:
        return None
    one = chosen(main.offset, results) if main.offset else min(results, key=margin)
    return Dot(
        mark=tool.mark,
        at=standing.finished_at(found),
        value=one.value,
        guard=one.zones.guard if one.zones else None,
        verdict=one.verdict.value,
        text=value_text(one, w),
        given_out=tool.state.given_out,
    )


def _some_decided(tools: Sequence[_Tool], job: str) -> None:
    if any(r.decided for t in tools for r in t.standing.reports):
        return
    raise ReportError(
        f"no report of job {job} is decided yet",
        expected="a report that was released, or not",
        found="none",
        do="Hand over and release first; a sheet sums up what was decided",
    )


# -- the whole -----------------------------------------------------------------------


def _shop(entries: Iterable[Entry], job: str) -> tuple[str, str]:
    opened = [e for e in entries if e.kind == Kinds.JOB_OPENED and e.body.get("job") == job]
    shop = ShopFile.model_validate(opened[-1].body["shop"]).shop
    return shop.name, " · ".join(x for x in (shop.address, shop.place) if x)


def _heading(plan: JobFile, count: int, w: Words) -> str:
    key = "batch.heading" if count != 1 else "batch.heading_one"
    return w[key].format(n=w.whole(count), drawing=plan.job.drawing)


def _kinds(plan: JobFile, w: Words) -> tuple[str, str]:
    """What the tools are, each kind once, and of what."""
    titles = dict.fromkeys(w.told("text", t.title or t.kind) for t in plan.tool)
    parts = dict.fromkeys(
        " · ".join(
            x for x in (w.told("text", t.material), t.coating, w.told("text", t.condition)) if x
        )
        for t in plan.tool
    )
    return "; ".join(titles), figures.capital("; ".join(parts))


def _facts(
    plan: JobFile, header: Header, tools: Sequence[_Tool], w: Words
) -> tuple[tuple[str, str], ...]:
    job = plan.job
    drawing = job.drawing
    if job.drawing_revision:
        drawing = w["page.revision"].format(name=drawing, revision=job.drawing_revision)
    days = sorted(t.measured.date() for t in tools if t.measured)
    ends = dict.fromkeys(figures.day(day, w) for day in (days[:1] + days[-1:]))
    return (
        (w["page.customer"], header.customers.get(job.customer, job.customer)),
        (w["page.drawing"], drawing),
        (w["page.order"], job.order or "–"),
        (w["page.measured"], " – ".join(ends) or "–"),
    )


def _axis(
    main: Wanted | None, tools: Sequence[_Tool], edge_word: str, w: Words
) -> tuple[str, str, str]:
    """What stands over the bars. Limits that aren't the same for all tools aren't named."""
    if main is None:
        return "", "", ""
    bars = [t.bar for t in tools if t.bar is not None]
    lower, upper = {b.lower_text for b in bars}, {b.upper_text for b in bars}
    same = len(lower) == len(upper) == 1
    ends = (lower.pop(), upper.pop()) if same else ("", "")
    c = main.characteristic
    name = c.symbol or figures.capital(w.told("text", c.name))
    if c.per == "flute":
        name = w["batch.all_edges"].format(name=name, edges=w[f"edges.{edge_word}"])
    return (name, *ends)


def _column(n: int, column: Wanted, tools: Sequence[_Tool], w: Words) -> Column:
    limits = [x.limits for t in tools if (x := t.taken[n]) is not None]
    given_out = [x for t in tools if t.standing.state.given_out and (x := t.taken[n]) is not None]
    return column.head(limits, given_out if len(given_out) >= LEAST else (), w)


def _line(tool: _Tool, kept: Sequence[int], w: Words) -> Line:
    taken = [tool.taken[n] for n in kept]
    state, report = tool.standing.state, tool.standing.report
    return Line(
        mark=tool.standing.mark,
        bar=tool.bar,
        cells=tuple(batch_columns.nothing() if x is None else x.cell for x in taken),
        left=tool.left or "–",
        verdict=tool.verdict,
        under=tool.under,
        word=_word(tool, w),
        report="–" if report is None else report.number,
        given_out=state.given_out,
    )


def _word(tool: _Tool, w: Words) -> str:
    """Verdict and decision; of what is plainly released the decision alone, since its mark says
    the rest."""
    state = tool.standing.state
    word = w[f"batch.{state}"]
    plain = state is State.RELEASED and tool.verdict == Verdict.CONFORMS
    if plain or tool.verdict == "open":
        return word
    return w["batch.both"].format(verdict=w[f"short.{tool.verdict}"], decision=word)


def _summed(count: int, w: Words) -> tuple[str, str, str]:
    if count < LEAST:
        return "", "", ""
    largest = w["batch.largest_of"].format(n=w.whole(count))
    return largest, w["batch.mean"], w["batch.smallest_of"]


def _signatures(tools: Sequence[Standing], header: Header, w: Words) -> tuple[SignatureBlock, ...]:
    """Who signed the reports, by name, and the room for the signature of the sheet."""
    reports = [t.report for t in tools if t.report is not None]
    measured = dict.fromkeys(r.measured_by for r in reports)
    decided = dict.fromkeys(r.decided.person for r in reports if r.decided is not None)
    return (
        *(
            SignatureBlock(
                w[f"batch.{role}_by"],
                w["batch.in_reports"],
                ", ".join(map(header.person, persons)),
                (w["batch.not_here"],),
            )
            for role, persons in (("measured", measured), ("decided", decided))
        ),
        SignatureBlock("", "", "", (), RELEASED_BY),
    )
