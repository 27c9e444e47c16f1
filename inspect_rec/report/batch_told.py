"""The sentences of a batch sheet: what isn't plainly released and why, and what the sheet is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from inspect_rec.compute.conformity import Verdict
from inspect_rec.inspection import Inspection, Result
from inspect_rec.inspection.fold import ORDER
from inspect_rec.report import figures
from inspect_rec.report.content import Text
from inspect_rec.report.figures import with_unit
from inspect_rec.report.record import Header
from inspect_rec.report.resulting import margin, named, value_text, why
from inspect_rec.report.standing import Report, Standing, State, replaced_by
from inspect_rec.report.telling import missing
from report_templates.wording import Words

_MOST = 4
"""Characteristics of a tool that are named one by one."""


def exceptions(tool: Standing, inspection: Inspection | None, w: Words) -> Iterator[str]:
    """A sentence for each thing about a tool that isn't plainly so. ``inspection``: in the
    language of the sheet."""
    report = tool.report
    if report is None:
        return
    words_ = {"mark": tool.mark, "number": report.number}
    results = "" if inspection is None else _open(inspection, w)
    if tool.state is State.NOT_RELEASED:
        yield w["batch.is_not_released"].format(results=results, reason=report.reason, **words_)
    elif tool.state is State.CONCEDED:
        yield w["batch.is_conceded"].format(results=results, numbers=report.reason, **words_)
    elif tool.state is State.UNDECIDED:
        yield w["batch.is_undecided"].format(results=results, **words_)
    elif tool.state is State.WITHDRAWN:
        yield w["batch.is_withdrawn"].format(why=report.withdrawn, **words_)
    if tool.touched:
        yield w["batch.is_touched"].format(**words_)
    for old, new in replaced_by(tool.reports).items():
        yield w["batch.is_replaced"].format(mark=tool.mark, old=old, new=new)


def _open(inspection: Inspection, w: Words) -> str:
    """What isn't shown to conform, of each characteristic the worst, the worst of all first."""
    judged = [r for r in inspection.results if not r.characteristic.info]
    wrong = [r for r in judged if r.verdict is not Verdict.CONFORMS]
    wrong.sort(key=lambda r: (ORDER.index(r.verdict), margin(r)))
    groups: dict[str, list[Result]] = {}
    for r in wrong:
        groups.setdefault(r.characteristic.id, []).append(r)
    said = []
    for first, *others in list(groups.values())[:_MOST]:
        more = f", {w['batch.more'].format(n=len(others))}" if others else ""
        said.append(_result(first, inspection, w) + more)
    if len(groups) > _MOST:
        said.append(w["batch.more"].format(n=len(groups) - _MOST))
    if left := missing(inspection, w):
        said.append(w["lines.missing"].format(names=", ".join(left)).rstrip("."))
    return "; ".join(said) or w["batch.every_conforms"]


def _result(r: Result, inspection: Inspection, w: Words) -> str:
    said = w["batch.result"].format(
        name=named(r, inspection, w),
        value=with_unit(r.characteristic, value_text(r, w)),
        limits=figures.limits_text(r.characteristic, w),
        verdict=w[f"verdict.{r.verdict.value}"],
    )
    return f"{said}: {why(r, w)}" if r.verdict is Verdict.REFUSED else said


def said(sentences: Sequence[str], w: Words) -> Text:
    """Everything that isn't plainly so, or that there is nothing."""
    return Text(w["batch.exceptions"], tuple(sentences) or (w["batch.no_exceptions"],))


def without_report(tools: Sequence[Standing], w: Words) -> Iterator[str]:
    """One sentence for all tools that have none."""
    if marks := [t.mark for t in tools if t.state is State.NO_REPORT]:
        yield w["batch.have_no_report"].format(marks=", ".join(marks))


def decision(report: Report, later: str, w: Words) -> str:
    """What became of a report; ``later``: the one that replaces it."""
    if report.withdrawn:
        said = w["batch.withdrawn"]
    elif report.decided is None:
        said = w["batch.undecided"]
    elif report.decision == "released" and report.reason:
        said = w["batch.decided_conceded"].format(numbers=report.reason)
    else:
        said = w[f"batch.{report.decision}"]
    return f"{said}; {w['batch.replaced_by'].format(number=later)}" if later else said


def texts(
    header: Header, given_out: int, files: tuple[str, str], w: Words, *, has_life: bool
) -> tuple[Text, ...]:
    """What the sheet is, and how its figures are to be read. ``files``: names of the attached
    record and digests."""
    record, digests = files
    head = header.head
    made = w["batch.made_text"].format(
        program=header.program, station=head.station, seq=head.seq, file=record
    )
    return (
        Text(
            w["batch.read"],
            (
                w["batch.read_text"].format(n=w.whole(given_out)),
                *([w["batch.left_text"]] if has_life else []),
                w["batch.digests_text"].format(file=digests),
            ),
        ),
        Text(w["batch.made"], (made, w["batch.counts_text"])),
    )
