"""The paragraphs of a report: what the verdict rests on, rule, conditions, method, statements."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from inspect_rec.compute.conformity import Verdict
from inspect_rec.compute.rules import Kind, percent
from inspect_rec.inspection import Check, Inspection, Result, repeats, studied
from inspect_rec.plan import Job
from inspect_rec.report import amending, correction, figures, living, taken_back
from inspect_rec.report.content import Table, Text
from inspect_rec.report.figures import shown, spread, with_unit
from inspect_rec.report.record import Header
from inspect_rec.report.resulting import edge_word, why
from inspect_rec.units import Unit
from report_templates.wording import Words

_RULES = {Kind.CUSTOMER: "customer", Kind.SIMPLE: "simple", Kind.SHARE: "share"}


def verdict_lines(
    inspection: Inspection, judged: Sequence[Result], deciding: Result | None, w: Words
) -> str:
    """What the verdict rests on, or what is open and what can be done."""
    job, record = inspection.job.job, inspection.record
    # A revision stays on the line of its drawing.
    drawing = "\u00a0".join(x for x in (job.drawing, record.revision) if x)
    wanted = [c for c in inspection.job.characteristic if not c.info]
    good = sum(_all_conform(c.id, judged) for c in wanted)
    words_ = {
        "n": len(wanted),
        "good": good,
        "drawing": drawing,
        "edges": inspection.tool.edges,
        "edge_word": w[f"edges.{inspection.tool.edge_word}"],
        **_agreed(job, w),
    }
    if inspection.verdict is Verdict.CONFORMS:
        many = any(c.per == "flute" for c in wanted)
        said_all = "lines.conforms_all" if many else "lines.conforms_one"
        return _by_rule(said_all, inspection, w).format(**words_)
    if covering := amending.covering(inspection):
        return w["lines.conceded"].format(numbers=covering, **words_)
    said = [] if deciding is None else [_open(inspection, deciding, w, words_)]
    if left := missing(inspection, w):
        said.append(w["lines.missing"].format(names=", ".join(left)))
    return " ".join(said)


def customer_proves(inspection: Inspection) -> bool:
    """Whether what is neither shown falls to the customer."""
    return inspection.job.job.decision(Unit.MM).kind is Kind.CUSTOMER


def _by_rule(key: str, inspection: Inspection, w: Words) -> str:
    """The words for the decision rule of the job, or the usual ones where it has none."""
    return w.get(f"{key}_{_RULES.get(inspection.job.job.decision(Unit.MM).kind)}", w[key])


def _agreed(job: Job, w: Words) -> dict[str, str]:
    """Figures of the decision rule: its factor, its risks, and what bounds U."""
    rule = job.decision(Unit.MM)
    risk = rule.risk()
    bound = ""
    if rule.largest_ratio is not None:
        bound = w["texts.bound_ratio"].format(bound=figures.short(rule.largest_ratio * 100, w))
    elif rule.least_tur is not None:
        bound = w["texts.bound_tur"].format(bound=figures.short(rule.least_tur, w))
    alone = [
        f"{figures.short(largest, w)}{end}"
        for unit, end in ((Unit.MM, " mm"), (Unit.DEGREE, "°"))
        if (largest := job.decision(unit).largest_expanded) is not None
    ]
    if alone:
        bound += w["texts.bound_alone"].format(bound=", ".join(alone))
    return {
        "k": figures.short(rule.share or rule.factor or Decimal(0), w),
        "risk": _percent(risk.wrong_rejection, w)
        if job.rule
        else figures.risk(job.guard_factor, w),
        "accepting": _percent(risk.wrong_acceptance, w),
        "bound": bound,
    }


def missing(inspection: Inspection, w: Words) -> tuple[str, ...]:
    """What isn't measured yet, by the names of the characteristics and their edges."""
    found = []
    for c in inspection.job.characteristic:
        have = {r.flute for r in inspection.results if r.characteristic.id == c.id}
        if not have:
            found.append(c.name)
        elif c.per == "flute":
            left = [str(n) for n in range(1, inspection.tool.edges + 1) if n not in have]
            if left:
                found.append(f"{c.name} ({edge_word(inspection, w)} {', '.join(left)})")
    return tuple(found)


def _percent(probability: float, w: Words) -> str:
    return figures.figure(percent(probability), w)


def _all_conform(characteristic: str, judged: Sequence[Result]) -> bool:
    found = [r for r in judged if r.characteristic.id == characteristic]
    return bool(found) and all(r.verdict is Verdict.CONFORMS for r in found)


def _open(inspection: Inspection, r: Result, w: Words, words_: dict[str, object]) -> str:
    c = r.characteristic
    name = c.name[0].upper() + c.name[1:] + (f" ({c.symbol})" if c.symbol else "")
    if r.flute is not None:
        name = f"{name}, {edge_word(inspection, w)} {r.flute}"
    if r.verdict is Verdict.REFUSED or r.zones is None:
        return w["lines.refused"].format(name=name, reason=why(r, w))
    under = r.judgement.side == "under"
    limit = c.lower if under else c.upper
    limit = limit if limit is not None else Decimal(0)
    value = r.values[0] if under else r.values[-1]
    if r.verdict is Verdict.NEITHER_SHOWN:
        inside = (value >= limit) if under else (value <= limit)
        where = {
            (True, False): "under_lower",
            (True, True): "above_lower",
            (False, False): "above_upper",
            (False, True): "under_upper",
        }[under, inside]
        return _by_rule("lines.neither", inspection, w).format(
            name=name,
            far=spread(c, abs(value - limit), w),
            where=w[f"lines.{where}"],
            g=spread(c, r.zones.guard, w),
            **words_,
        )
    said = _by_rule("lines.outside", inspection, w).format(
        name=name,
        value=with_unit(c, shown(c, value, w, exact=True)),
        g=spread(c, r.zones.guard, w),
        limit=with_unit(c, figures.limit_text(c, limit, w)),
        **words_,
    )
    stock = r.stock
    if stock is None or stock.step_aim is None or stock.state != "to grind":
        return said
    where = f"{edge_word(inspection, w)} {stock.flute}" if stock.flute else w["lines.all_edges"]
    aim = f"{figures.plain(stock.step_aim, w)}{'°' if c.deg else ' mm'}"
    return f"{said} {w['lines.stock'].format(aim=aim, where=where)}"


def texts(
    inspection: Inspection, header: Header, numbers: dict[str, int], w: Words
) -> tuple[Text, ...]:
    """The paragraphs under the table, each under its heading."""
    return (
        Text(w["texts.rule"], tuple(_rule(inspection, w))),
        Text(w["texts.conditions"], tuple(_conditions(inspection, w))),
        Text(w["texts.inout"], tuple(_in_and_out(inspection, header, w))),
        Text(w["texts.method"], tuple(_method(inspection, numbers, w))),
        Text(w["texts.struck"], tuple(taken_back.told(inspection, w))),
        Text(w["texts.supplied"], tuple(_supplied(inspection, header, w))),
        Text(w["texts.statements"], tuple(_statements(inspection, header, w))),
        *(
            (Text(w["texts.next_time"], (inspection.job.job.next_time,)),)
            if inspection.job.job.next_time
            else ()
        ),
    )


def amendment(
    inspection: Inspection, header: Header, numbers: dict[str, int], w: Words
) -> Text | None:
    """What the report changes against an earlier one; None where there is nothing to say."""
    said = tuple(amending.told(inspection, header, numbers, w))
    return Text(w["texts.amendment"], said) if said else None


def _rule(inspection: Inspection, w: Words) -> Iterable[str]:
    job = inspection.job.job
    yield _by_rule("texts.rule_text", inspection, w).format(**_agreed(job, w))
    if job.decision(Unit.MM).kind is Kind.SIMPLE:
        ratios: dict[str, Decimal] = {}
        for r in inspection.results:
            if r.ratio is not None:
                name = r.characteristic.name
                ratios[name] = max(r.ratio, ratios.get(name, r.ratio))
        said = [
            f"{name} {figures.figure(f'{float(ratio) * 100:.1f}', w)} %"
            for name, ratio in ratios.items()
        ]
        yield w["texts.rule_ratio"].format(names=figures.once(said) or w["texts.none"])
    warned = [
        f"{r.characteristic.name} ({float(r.ratio) * 100:.0f} %)"
        for r in inspection.results
        if r.warn and r.ratio is not None
    ]
    if warned:
        yield w["texts.rule_warn"].format(names=figures.once(warned))
    few = [r.characteristic.name for r in inspection.results if r.k != 2]
    if few:
        yield w["texts.dof"].format(names=figures.once(few))
    # Over the flutes nothing is assumed that isn't assumed of each: those are named already.
    assumed = [
        w.told("row", component.name.split(",")[0].split(":")[0])
        for r in inspection.results
        if not r.method.varies and not r.method.over_flutes
        for component in r.budget.components
        if component.assumed
    ]
    if assumed:
        yield w["texts.assumed"].format(names=figures.once(assumed))
    rows = [c for r in inspection.results for c in r.budget.components]
    used = {c.study for c in rows}
    for name, known in studied.known(inspection.shop).items():
        if name in used:
            what, note = w.told("row", name), w.told("note", known.note)
            yield w["texts.studied"].format(name=figures.capital(what), note=note)
    for note in dict.fromkeys(c.note for c in rows if c.note.startswith(repeats.OWN)):
        yield f"{figures.capital(w.told('note', note))}."


def _conditions(inspection: Inspection, w: Words) -> Iterable[str]:
    for t in inspection.temperatures:
        when = "after_grinding" if t.when.startswith("after grinding") else t.when
        again = f" ({w['texts.again']})" if t.round else ""
        values = ", ".join(
            f"{w.told('text', place)} {figures.plain(value, w)}" for place, value in t.degC.items()
        )
        yield w["texts.temperature"].format(when=w[f"texts.{when}"] + again, values=values)
    job = inspection.job.job
    if job.waiting_min:
        yield w["texts.waiting"].format(minutes=job.waiting_min)
    if job.correction:
        yield f"{figures.capital(job.correction)}."
    yield from correction.sentences(inspection, w)


def _in_and_out(inspection: Inspection, header: Header, w: Words) -> Iterable[str]:
    tool, unknown = inspection.tool, w["texts.not_stated"]
    edges = "edges" if tool.edges > 1 else "edge"
    kind = w["texts.tool"].format(
        kind=w.told("text", tool.kind),
        edges=tool.edges,
        edge_word=w[f"{edges}.{tool.edge_word}"],
        hand=w[f"texts.{tool.hand}_hand"],
        material=tool.material or unknown,
        coating=tool.coating or unknown,
    )
    yield figures.capital(kind)
    if inspection.record.state:
        yield w["texts.arrived"].format(state=inspection.record.state)
    life = inspection.life
    if life is not None:
        yield w["texts.life_inout"].format(
            before=figures.plain(life.arrival, w),
            now=figures.short(life.now, w),
            removed=figures.short(life.removed, w),
        )
    yield from living.told(inspection, header.earlier, w)
    if inspection.tool.condition:
        yield w["texts.out"].format(condition=inspection.tool.condition)


def _method(inspection: Inspection, numbers: dict[str, int], w: Words) -> Iterable[str]:
    job = inspection.job.job
    set_up = inspection.record.set_up
    yield w["texts.method_plan"].format(
        plan=_plan(job, w),
        datum=job.datum or w["texts.none"],
        approach=w.told("text", set_up.approach),
    )
    if set_up.note:
        yield f"{figures.capital(set_up.note)}."
    by_method: dict[tuple[str, int], list[str]] = {}
    for r in inspection.results:
        number = str(numbers[r.characteristic.id])
        found = by_method.setdefault((r.method.formula, r.method.version), [])
        if number not in found:
            found.append(number)
    for (formula, version), which in by_method.items():
        yield w["texts.methods"].format(
            numbers=", ".join(which), formula=formula.replace(" - ", " − "), version=version
        )
    eye = figures.once(
        w.told("text", k.place.feature) for k in inspection.standing.values() if k.by_eye
    )
    if eye:
        yield w["texts.by_eye"].format(names=eye)
    for c in inspection.closures:
        yield w["texts.closure"].format(
            edge_word=edge_word(inspection, w),
            feature=w.told("text", c.feature),
            difference=_signed(c.difference, 1, w),
            limit=figures.figure(f"{c.limit:.1f}", w),
        )


def _plan(job: Job, w: Words) -> str:
    if job.plan and job.plan_revision:
        return w["texts.plan_revision"].format(plan=job.plan, revision=job.plan_revision)
    return job.plan or "–"


def _supplied(inspection: Inspection, header: Header, w: Words) -> Iterable[str]:
    job = inspection.job.job
    none = w["texts.none"]
    yield w["texts.customer"].format(
        customer=header.customers.get(job.customer, job.customer),
        contact=header.contact or w["texts.not_stated"],
    )
    yield w["texts.supplied_text"].format(
        supplied=job.supplied or none,
        not_covered=job.not_covered or none,
        deviations=job.deviations or none,
        concessions=amending.concessions(inspection, w) or none,
    )


def _statements(inspection: Inspection, header: Header, w: Words) -> Iterable[str]:
    yield w["texts.statements_text"].format(
        mark=inspection.tool.mark,
        program=header.program,
        station=header.head.station,
        seq=header.head.seq,
    )
    if inspection.job.job.same_person_may_release:
        yield w["texts.statements_same"]
    yield w["texts.no_claim"]


def _signed(value: float, digits: int, w: Words) -> str:
    """A difference with its sign; nought has none."""
    rounded = round(value, digits) + 0.0
    return figures.figure(f"{rounded:{'+' if rounded else ''}.{digits}f}", w)


def equipment(inspection: Inspection, w: Words) -> Table:
    """Equipment that was used, and the master checks."""
    said = {e.traceable or "–" for e in inspection.used}
    same = said.pop() if len(said) == 1 else None
    rows = tuple(
        (
            e.id,
            f"{e.what}; {e.uncertainty}" if e.uncertainty else e.what,
            e.certificate or "–",
            figures.day(e.calibrated, w),
            figures.day(e.due, w),
            *(() if same else (e.traceable or "–",)),
        )
        for e in inspection.used
    )
    below = (w["texts.all_traceable"].format(traceable=same),) if same else ()
    heads = (
        w["texts.equipment"],
        "",
        w["texts.certificate"],
        w["texts.calibrated"],
        w["texts.due"],
        *(() if same else (w["texts.traceable"],)),
    )
    columns = (0.0, 14.0, 118.0, 139.0, 158.0) if same else (0.0, 14.0, 98.0, 115.0, 134.0, 153.0)
    return Table(heads, rows, columns, (*below, *(_check(c, w) for c in inspection.checks)))


def _check(c: Check, w: Words) -> str:
    unit, digits, gap = ("µm", 1, " ") if c.unit == "um" else ("°", 2, "")

    def told(value: float | None) -> str:
        return "–" if value is None else f"{_signed(value, digits, w)}{gap}{unit}"

    key = "texts.check" if c.drift is not None else "texts.check_open"
    return w[key].format(
        feature=w.told("text", c.feature),
        equipment=c.equipment,
        before=told(c.before),
        after=told(c.after),
        drift=told(c.drift),
        limit=f"{figures.figure(f'{c.limit:.{digits}f}', w)}{gap}{unit}",
    )
