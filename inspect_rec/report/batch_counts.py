"""How many tools of a batch came out how, and every report of it with its digest."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from inspect_rec.compute.conformity import Verdict
from inspect_rec.inspection.fold import ORDER
from inspect_rec.report import figures
from inspect_rec.report.batch_content import Count, Named
from inspect_rec.report.batch_told import decision
from inspect_rec.report.standing import Standing, State, replaced_by
from report_templates.wording import Words

_NAMED = 3
"""Tools that a count names."""
_VERDICTS = [v.value for v in reversed(ORDER)]

Judged = tuple[Standing, str, bool]
"""A tool, its verdict, and whether what decides it lies under its lower limit."""


def counts(tools: Iterable[Judged], w: Words) -> Iterator[Count]:
    """Each group once, what came out well first; a group that nothing is in is left out. A mark is
    that of its tools' own verdict: what came out otherwise is another group."""
    groups: dict[tuple[State, str], list[Judged]] = {}
    for judged in tools:
        groups.setdefault((judged[0].state, judged[1]), []).append(judged)
    replaced = [old for group in groups.values() for t, _, _ in group for old in _replaced(t)]
    states = list(State)
    for (state, verdict), group in sorted(
        groups.items(), key=lambda g: (states.index(g[0][0]), _place(g[0][1]))
    ):
        plain = state is State.RELEASED and verdict == Verdict.CONFORMS
        marks = [t.mark for t, _, _ in group]
        yield Count(
            verdict,
            all(under for _, _, under in group),
            w.whole(len(group)),
            w[f"batch.{state}"],
            w["batch.all_conform"] if plain else _few(marks, w),
        )
    if replaced:
        word = w["batch.reports_replaced" if len(replaced) > 1 else "batch.report_replaced"]
        yield Count(
            "info", under=False, number=w.whole(len(replaced)), word=word, note=_few(replaced, w)
        )


def _place(verdict: str) -> int:
    return _VERDICTS.index(verdict) if verdict in _VERDICTS else len(_VERDICTS)


def _few(names: Sequence[str], w: Words) -> str:
    more = len(names) - _NAMED
    said = ", ".join(names[:_NAMED])
    return f"{said} {w['batch.more'].format(n=w.whole(more))}" if more > 0 else said


def _replaced(tool: Standing) -> Iterable[str]:
    return replaced_by(tool.reports)


def reports(tools: Iterable[Standing], w: Words) -> Iterator[Named]:
    """Every report of the batch, tool by tool; the last of each tool is the one in force, unless
    it was withdrawn."""
    for tool in tools:
        later = replaced_by(tool.reports)
        for report in tool.reports:
            decided = report.decided
            yield Named(
                number=report.number,
                revision=str(report.revision),
                mark=tool.mark,
                decision=decision(report, later.get(report.number, ""), w),
                day="–" if decided is None else figures.day(decided.at.date(), w),
                digest="" if decided is None else report.digest,
                in_force=report is tool.report and tool.state is not State.WITHDRAWN,
            )
