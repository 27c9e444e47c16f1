"""The validation record of the calculations: what each case with a known answer gave, for print.

For what ISO/IEC 17025:2017, 7.11.2 asks of a laboratory (from memory). Made from the cases as they
ran and from what the caller states; reads no clock, no file and no platform by itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial

from inspect_rec import __version__, ledger
from inspect_rec.calculator.base import register
from inspect_rec.calculator.cases import HAIR, Ran
from inspect_rec.calculator.measuring import by_slug
from inspect_rec.methods import register as methods
from inspect_rec.report import figures, pdf
from inspect_rec.report.compared import Words, case, count, cut, figure, line
from inspect_rec.report.content import Cases, Text, Validation
from report_templates import validation

_NAMED = 5
"""Cases that the verdict names."""
_STATED = 8
"""Kinds of provenance that are counted by their names."""


@dataclass(frozen=True, slots=True)
class Run:
    """What was run, by whom, on what: all that isn't in the cases themselves."""

    file: str
    digest: str
    """SHA-256 of the case file, hexadecimal."""
    platform: Mapping[str, str]
    at: datetime
    by: str = ""
    shop: str = ""
    version: str = __version__
    language: str = "en"


def made(  # noqa: PLR0913 - what the record states, each once
    cases: Sequence[Ran],
    file: str,
    digest: str,
    platform: Mapping[str, str],
    at: datetime,
    *,
    by: str = "",
    shop: str = "",
    version: str = __version__,
    language: str = "en",
) -> bytes:
    """The record as an unsigned PDF/A-3b; the same arguments give the same bytes.

    ``platform``: name -> value, printed as given; ``at``: an instant with its time zone, else
    LedgerError; ``by`` and ``shop`` may be empty.
    """
    content = said(cases, Run(file, digest, platform, at, by, shop, version, language))
    return pdf.pages(
        partial(validation.draw, content=content),
        f"{content.title} {content.number}",
        language,
        {},
        ledger.instant(at),
    )


def said(cases: Sequence[Ran], run: Run) -> Validation:
    """What the record says."""
    w = Words(run.language)
    at = run.at.astimezone(UTC)
    number = f"VR-{at:%Y%m%d-%H%M%S}"
    tally = _Tally.of(cases)
    verdict, finding, sentence = _verdict(cases, tally, w)
    page = {"page": "{page}", "pages": "{pages}"}
    program = f"inspect_rec {run.version}"
    return Validation(
        language=run.language,
        title=w("title"),
        number=number,
        head_left=_head(program, run),
        head_right=w("head_right", at=figures.moment(at, w.of_report), **page),
        verdict=verdict,
        finding=finding,
        sentence=sentence,
        counts=tally.counts(w),
        facts=_facts(run, program, figures.moment(at, w.of_report), w),
        texts=(_sources(cases, w), _uncovered(cases, w)),
        sections=tuple(_sections(cases, w)),
        statements=_statements(w),
        by_hand=(w("by_hand_text"), tuple(w("by_hand_fields").split("|"))),
        foot=(w("foot"), w("digest", digest=run.digest)),
        foot_right=w("foot_right", number=number, **page),
        words=w.fixed,
    )


def _head(program: str, run: Run) -> tuple[str, str]:
    """Who and what, on the left of every head."""
    shop, file = line(run.shop), line(run.file)
    return (shop, f"{program} · {file}") if shop else (program, file)


# -- page 1 ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Tally:
    """How many cases came out how; each case is counted in one of them."""

    met: int
    refused: int
    not_met: int
    computed: int
    turned: int
    test_only: int

    @classmethod
    def of(cls, cases: Sequence[Ran]) -> _Tally:
        kinds = Counter(map(_kind, cases))
        names = ("met", "refused", "not_met", "computed", "turned", "test_only")
        return cls(*(kinds[name] for name in names))

    @property
    def expecting(self) -> int:
        return self.met + self.refused + self.not_met

    def counts(self, w: Words) -> tuple[tuple[str, str], ...]:
        every = self.expecting + self.computed + self.turned + self.test_only
        return tuple(
            (w(f"count_{name}"), str(number))
            for name, number in (
                ("all", every),
                ("expecting", self.expecting),
                ("met", self.met),
                ("refused", self.refused),
                ("not", self.not_met),
                ("computed", self.computed),
                ("turned", self.turned),
                ("test", self.test_only),
            )
        )


def _kind(ran: Ran) -> str:
    """What became of a case. One that names no computation of this program isn't met, whether
    it expects anything or not."""
    if ran.skipped:
        return "test_only"
    if not ran.ok:
        return "not_met"
    if ran.expected:
        return "refused" if ran.wanted.get("error") is True else "met"
    return "turned" if ran.got is None else "computed"


def _verdict(cases: Sequence[Ran], tally: _Tally, w: Words) -> tuple[str, tuple[str, str], str]:
    """The mark, the finding and its sentence."""
    numbers = {
        "met": tally.met + tally.refused,
        "not_met": tally.not_met,
        "expecting": tally.expecting,
        "figures": sum(_compared(ran) for ran in cases),
    }
    if tally.not_met:
        off = [cut(ran.id, w, 60) for ran in cases if not ran.ok]
        more = [w("more", n=len(off) - _NAMED)] if len(off) > _NAMED else []
        ids = ", ".join([*off[:_NAMED], *more])
        finding = (w("not_all"), w("not_count", **numbers))
        return "does not conform", finding, w("not_sentence", ids=ids, **numbers)
    if tally.expecting:
        finding = (w("met_all"), w("met_count", **numbers))
        return "conforms", finding, w("met_sentence", **numbers)
    return "open", (w("nothing"), w("nothing_count")), w("nothing_sentence")


def _compared(ran: Ran) -> int:
    """How many figures and words of a case were held against what was expected."""
    wanted = [value for name, value in ran.wanted.items() if name != "error"]
    return 0 if ran.got is None else sum(map(count, wanted))


def _facts(run: Run, program: str, at: str, w: Words) -> tuple[tuple[str, str], ...]:
    return (
        (w("program"), program),
        *((w.of_report.told("text", line(n)), line(v)) for n, v in run.platform.items()),
        (w("file"), line(run.file)),
        (w("sha"), line(run.digest)),
        (w("made"), at),
        (w("by"), line(run.by) or w("not_stated")),
        *([(w("shop"), line(run.shop))] if run.shop else []),
    )


def _sources(cases: Sequence[Ran], w: Words) -> Text:
    """How many cases state which provenance."""
    stated = Counter(cut(ran.provenance, w, 40) or w("no_provenance") for ran in cases)
    most = stated.most_common(_STATED)
    if rest := stated.total() - sum(number for _, number in most):
        most.append((w("others"), rest))
    tally = ", ".join(f"{name} {number}" for name, number in most)
    paragraph = w("sources_text", tally=tally) if tally else w("sources_none")
    return Text(w("sources"), (paragraph,))


def _uncovered(cases: Sequence[Ran], w: Words) -> Text:
    """What no judged case asks for."""
    asked = {ran.calc for ran in cases if ran.expected}
    computations = [name for name in register() if name not in asked]
    others = [
        w.of_report.told("method", m.name)
        for m in methods.register().values()
        if not {m.name, m.slug} & asked
    ]
    paragraphs = tuple(
        w(key, names="; ".join(names) or w("none"))
        for key, names in (("uncovered_text", computations), ("uncovered_methods", others))
    )
    return Text(w("uncovered"), paragraphs)


def _statements(w: Words) -> tuple[Text, ...]:
    said = {
        "tolerances": (w("tolerances_text"), w("vouch")),
        "read": (w("read_text"), w("met_text", hair=figure(HAIR, w=w))),
        "holds": (w("holds_text"), w("holds_not")),
        "again": (w("again_text"), w("copy")),
    }
    return tuple(Text(w(heading), paragraphs) for heading, paragraphs in said.items())


# -- computations ----------------------------------------------------------------


def _sections(cases: Sequence[Ran], w: Words) -> Iterator[Cases]:
    """A section a computation, by name; then names that aren't known, then what wasn't run."""
    by_name: dict[str, list[Ran]] = {}
    for ran in cases:
        if not ran.skipped:
            by_name.setdefault(str(ran.calc), []).append(ran)
    told = {name: _told(name, w) for name in by_name}
    for name in sorted(by_name, key=lambda n: (not told[n], n)):
        known = bool(told[name])
        here = tuple(case(each, w, known=known) for each in by_name[name])
        yield Cases(cut(name, w), told[name] or (w("unknown"),), here)
    skipped = tuple(case(each, w) for each in cases if each.skipped)
    if skipped:
        yield Cases(w("test_only"), (w("test_only_text"),), skipped)


def _told(name: str, w: Words) -> tuple[str, ...]:
    """What a computation or a method computes, from where, and what it refuses."""
    entry, method = register().get(name), by_slug(name)
    if entry is not None:
        formula, source, refuses = entry.formula, entry.source, entry.refuses
    elif method is not None:
        formula = w.of_report.told("formula", method.formula)
        source, refuses = method.source, "; ".join(method.refuses)
    else:
        return ()
    parts = (("formula", formula), ("source", source), ("refuses", refuses))
    return tuple(w(key, **{key: line(text).rstrip(".")}) for key, text in parts if text)
