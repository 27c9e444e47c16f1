"""From an inspection and the report's own head to what the report says. Draws nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from inspect_rec.compute.conformity import Verdict
from inspect_rec.inspection import Inspection, Result
from inspect_rec.inspection.conceded import concession, under_concession
from inspect_rec.plan import Characteristic
from inspect_rec.report import figures, living, plots, profiles, telling
from inspect_rec.report.adding import added
from inspect_rec.report.content import (
    Content,
    Deciding,
    Feature,
    Group,
    Offset,
    Row,
    SignatureBlock,
    VerdictBlock,
)
from inspect_rec.report.figures import shown, spread
from inspect_rec.report.record import Header
from inspect_rec.report.resulting import (
    bar,
    chosen,
    leaves_room,
    margin,
    named,
    offset_value,
    signed,
    value_text,
    why,
)
from inspect_rec.report.spoken import spoken
from report_templates import words
from report_templates.wording import Words

MOST_FEATURES = 9


def of(inspection: Inspection, header: Header) -> Content:
    """Everything that the report of one tool says."""
    w = words(header.language)
    inspection = spoken(inspection, w)
    tool, job, shop = inspection.tool, inspection.job.job, inspection.shop.shop
    numbers = {c.id: n for n, c in enumerate(inspection.job.characteristic, 1)}
    releasable = inspection.verdict is Verdict.CONFORMS or bool(under_concession(inspection))
    replaces = w["page.replaces"].format(number=header.replaces) if header.replaces else ""
    features, more = _features(inspection, numbers, w)
    return Content(
        language=header.language,
        title=job.title,
        number=header.number,
        head_left=(shop.name, " · ".join(x for x in (shop.address, shop.place) if x)),
        head_right=replaces
        + w["page.head_right"].format(
            revision=header.revision,
            issued=figures.day(header.issued.date(), w),
            page="{page}",
            pages="{pages}",
        ),
        mark=tool.mark,
        tool=(
            tool.title or tool.kind,
            figures.capital(
                " · ".join(x for x in (tool.material, tool.coating, tool.condition) if x)
            ),
        ),
        facts=_facts(inspection, header, w),
        verdict=_verdict(inspection, numbers, w),
        offsets_title=w["page.offsets" if releasable else "page.offsets_not"],
        offsets=_offsets(inspection, w),
        releasable=releasable,
        graph=plots.graph(inspection, w),
        no_graph=_no_graph(inspection, w),
        sketch=tool.kind,
        edges=tool.edges,
        edge_word=w[f"edge.{tool.edge_word}"],
        edges_word=w[f"edges.{tool.edge_word}"],
        hand=tool.hand,
        features=features,
        features_more=more,
        life=living.line(inspection, header.earlier, w),
        signatures=_signatures(header, w),
        groups=_groups(inspection, numbers, w),
        profiles=profiles.of(inspection, numbers, w),
        amendment=telling.amendment(inspection, header, numbers, w),
        texts=telling.texts(inspection, header, numbers, w),
        equipment=telling.equipment(inspection, w),
        earlier=living.table(inspection, header, w),
        foot=(w["page.foot"], w["page.digest"].format(digest=inspection.digest)),
        foot_right=w["page.foot_right"].format(
            number=header.number, revision=header.revision, page="{page}", pages="{pages}"
        ),
        words=dict(w),
        **added(header, w),
    )


def _facts(inspection: Inspection, header: Header, w: Words) -> tuple[tuple[str, str], ...]:
    job, record = inspection.job.job, inspection.record
    finals = [r.at for r in record.readings if r.stage == "final" and r.ref not in record.void]

    def revised(name: str, revision: str) -> str:
        return w["page.revision"].format(name=name, revision=revision) if revision else name

    # The first words of the state; page 2 has all of them.
    state = record.state.split(";")[0].split(",")[0].strip()
    customer = header.customers.get(job.customer, job.customer)
    return (
        (w["page.customer"], customer),
        (w["page.received"], ", ".join(x for x in (figures.day(job.received, w), state) if x)),
        (w["page.order"], job.order or "–"),
        (w["page.measured"], figures.moment(max(finals), w) if finals else "–"),
        (w["page.drawing"], revised(job.drawing, record.revision)),
        (w["page.plan"], revised(job.plan, job.plan_revision) if job.plan else "–"),
    )


# -- verdict -----------------------------------------------------------------


def _verdict(inspection: Inspection, numbers: dict[str, int], w: Words) -> VerdictBlock:
    verdict = inspection.verdict
    judged = [r for r in inspection.results if not r.characteristic.info]
    deciding = _deciding(judged, verdict)
    permits = verdict.value
    if verdict is Verdict.DOES_NOT_CONFORM:
        lost = any(
            r.stock is not None and r.stock.state == "past saving by grinding"
            for r in judged
            if r.verdict is verdict
        )
        permits = "scrap" if lost else "wheel"
    if verdict is Verdict.NEITHER_SHOWN and telling.customer_proves(inspection):
        permits = "kept"
    may = w[f"permits.{permits}"]
    if covering := under_concession(inspection):
        numbers_ = ", ".join(c.number for c in covering)
        may = w["permits.conceded"].format(numbers=numbers_)
    return VerdictBlock(
        verdict.value,
        w[f"finding.{verdict.value}"],
        may,
        (telling.verdict_lines(inspection, judged, deciding, w),),
        _deciding_block(inspection, judged, deciding, numbers, w),
        deciding is not None and deciding.judgement.side == "under",
    )


def _deciding(judged: Sequence[Result], verdict: Verdict) -> Result | None:
    """Furthest out of what decides; of what conforms, closest to its acceptance limit."""
    if verdict is Verdict.CONFORMS:
        with_width = [r for r in judged if r.characteristic.width and r.zones]
        return min(with_width or judged, key=margin, default=None)
    same = [r for r in judged if r.verdict is verdict]
    return min(same, key=margin, default=None)


def _deciding_block(
    inspection: Inspection,
    judged: Sequence[Result],
    deciding: Result | None,
    numbers: dict[str, int],
    w: Words,
) -> Deciding | None:
    if deciding is None:
        return _open_block(inspection, numbers, w)
    c = deciding.characteristic
    others = sum(1 for r in judged if r.verdict is deciding.verdict) - 1
    conforms = inspection.verdict is Verdict.CONFORMS
    return Deciding(
        w["decides.closest" if conforms else "decides.decides"],
        numbers[c.id],
        named(deciding, inspection, w),
        value_text(deciding, w),
        figures.unit_of(c),
        bar(deciding, w),
        "" if conforms or not others else w["decides.more"].format(n=others),
        why(deciding, w),
    )


def _open_block(inspection: Inspection, numbers: dict[str, int], w: Words) -> Deciding | None:
    """What isn't measured decides that there is no verdict."""
    have = {r.characteristic.id for r in inspection.results}
    left = [c for c in inspection.job.characteristic if c.id not in have]
    if not left:
        return None
    more = w["decides.more"].format(n=len(left) - 1) if len(left) > 1 else ""
    c = left[0]
    name = figures.capital(c.name) + (f" {c.symbol}" if c.symbol else "")
    label = w["decides.decides"]
    return Deciding(label, numbers[c.id], name, "", "", None, more, w["page.not_measured"])


# -- page 1 ------------------------------------------------------------------


def _no_graph(inspection: Inspection, w: Words) -> tuple[str, str]:
    if inspection.tool.edges == 1:
        return w["page.one_edge"], w["page.one_edge_why"]
    name = next(
        (c.name for c in inspection.job.characteristic if c.id == inspection.tool.variation), ""
    )
    if not name:
        return w["page.no_variation"], w["page.not_on_plan"]
    return figures.capital(name), w["page.not_measured"]


def _offsets(inspection: Inspection, w: Words) -> tuple[Offset, ...]:
    found = []
    for offset in inspection.tool.offsets[:3]:
        results = [r for r in inspection.results if r.characteristic.id == offset.of]
        if not results:
            found.append(Offset(offset.label, "", "", (offset.words or w["page.not_measured"],)))
            continue
        one = chosen(offset, results)
        value = offset_value(offset, one)
        expanded = one.U * offset.factor
        note = offset.words
        if offset.pick != "value":
            note = _which(note, w[f"edge.{inspection.tool.edge_word}"], one.flute)
        step = Decimal("0.0001") if expanded < Decimal("0.01") else Decimal("0.01")
        u_text = w["figures.uncertainty"].format(
            u=figures.plain(expanded.quantize(step), w),
            k=figures.short(one.k.quantize(Decimal("0.01")), w),
        )
        found.append(Offset(offset.label, figures.plain(value, w), "mm", (note, u_text)))
    return tuple(found)


def _which(note: str, edge_word: str, edge: int | None) -> str:
    """The note with the number of the edge: largest flute (3), as it cuts."""
    if edge_word in note:
        return note.replace(edge_word, f"{edge_word} ({edge})", 1)
    return ", ".join(x for x in (note, f"{edge_word} {edge}") if x)


def _features(
    inspection: Inspection, numbers: dict[str, int], w: Words
) -> tuple[tuple[Feature, ...], str]:
    found = []
    for c in inspection.job.characteristic:
        results = [r for r in inspection.results if r.characteristic.id == c.id]
        if c.info:
            continue
        whole = c.per != "flute" or len(results) == inspection.tool.edges
        feature = _feature(c, results, numbers, w)
        if not whole and feature.verdict in ("conforms", "neither shown"):
            feature = replace(feature, verdict="open")
        found.append((_worst(results), numbers[c.id], feature))
    if len(found) <= MOST_FEATURES:
        return tuple(f for _, _, f in found), ""
    kept = sorted(sorted(found, key=lambda x: (x[0], x[1]))[:MOST_FEATURES], key=lambda x: x[1])
    more = w["page.more_features"].format(n=len(found) - MOST_FEATURES)
    return tuple(f for _, _, f in kept), more


_ORDER = (Verdict.DOES_NOT_CONFORM, Verdict.REFUSED, Verdict.NEITHER_SHOWN, Verdict.CONFORMS)


def _worst(results: Sequence[Result]) -> tuple[int, float]:
    if not results:
        return (0, 0.0)
    return min((_ORDER.index(r.verdict), margin(r)) for r in results)


def _feature(
    c: Characteristic,
    results: Sequence[Result],
    numbers: dict[str, int],
    w: Words,
) -> Feature:
    name = figures.capital(c.name)
    detail = ", ".join(x for x in (c.symbol, c.plane) if x)
    if not results:
        said = (w["page.not_measured"],)
        return Feature(
            c.id, numbers[c.id], name, detail, said, (figures.limits_text(c, w),), "open"
        )
    worst = min(results, key=lambda r: _ORDER.index(r.verdict))
    low = min(v for r in results for v in r.values)
    high = max(v for r in results for v in r.values)
    ends = (low,) if low == high else (low, high)
    unit = figures.unit_end(c)
    values = tuple(signed(c, v, shown(c, v, w, exact=True)) + unit for v in ends)
    if c.lower is not None and c.upper is not None and len(values) > 1 and c.upper != -c.lower:
        limits = tuple(figures.limit_text(c, x, w) + unit for x in (c.lower, c.upper))
    else:
        limits = (figures.limits_text(c, w),)
    under = worst.judgement.side == "under"
    return Feature(c.id, numbers[c.id], name, detail, values, limits, worst.verdict.value, under)


def _signatures(header: Header, w: Words) -> tuple[SignatureBlock, ...]:
    return (
        SignatureBlock(
            w["signature.ground"],
            w["signature.ground_meaning"],
            header.person(header.ground_by),
            (w["signature.ground_note"],),
        ),
        SignatureBlock(
            w["signature.measured"], w["signature.measured_meaning"], "", (), "measured_by"
        ),
        SignatureBlock("", "", "", (), "released_by"),
    )


# -- table -------------------------------------------------------------------


def _groups(inspection: Inspection, numbers: dict[str, int], w: Words) -> tuple[Group, ...]:
    found = []
    for c in inspection.job.characteristic:
        results = [r for r in inspection.results if r.characteristic.id == c.id]
        name = figures.capital(c.name) + (f" {c.symbol}" if c.symbol else "")
        by_edge = {r.flute: r for r in results}
        edges: Sequence[int | None] = (None,)
        if results and c.per == "flute":
            edges = range(1, inspection.tool.edges + 1)
        rows = tuple(_row(by_edge[e], w) if e in by_edge else _open_row(e, w) for e in edges)
        found.append(Group(numbers[c.id], name, _group_lines(c, results, inspection, w), rows))
    return tuple(found)


def _group_lines(
    c: Characteristic, results: Sequence[Result], inspection: Inspection, w: Words
) -> tuple[str, ...]:
    limits = figures.limits_text(c, w)
    if c.nominal is not None and c.lower is not None and c.upper is not None and c.nominal != 0:
        up, down = c.upper - c.nominal, c.nominal - c.lower
        size = figures.plain(c.nominal, w) + ("°" if c.deg else "")
        about = f" ±{figures.plain(up, w)}{'°' if c.deg else ''}" if up == down else ""
        about = about or (f" {c.limits_from}" if c.limits_from else "")
        limits = f"{size}{about} ({limits})"
    lines = [limits]
    if results and results[0].zones is not None and not c.info:
        g = spread(c, results[0].zones.guard, w)
        said = w["page.accepted"].format(zone=figures.accepted(results[0], w))
        lines.append(f"{said if leaves_room(results[0]) else w['page.no_zone']}, g {g}")
    if c.plane:
        lines.append(c.plane)
    for r in results:
        covering = concession(inspection, r)
        if covering is not None:
            edge = "" if r.flute is None else f"{_edge(r.flute, w)}: "
            lines.append(edge + w["page.conceded"].format(number=covering.number))
    return tuple(line for line in lines if line)


def _row(r: Result, w: Words) -> Row:
    c = r.characteristic
    deviation = "–"
    if c.nominal is not None and not c.natural_zero and len(r.values) == 1 and c.nominal != 0:
        deviation = spread(c, r.value - c.nominal, w, signed=True)
    value = value_text(r, w)
    if c.info:
        return Row(_edge(r.flute, w), value, "", "–", "–", None, "info", w["verdict.info"])
    refused = r.verdict is Verdict.REFUSED
    return Row(
        _edge(r.flute, w),
        value,
        "" if c.printed_in == "mm" else figures.unit_of(c),
        spread(c, r.U, w),
        deviation,
        bar(r, w),
        r.verdict.value,
        w[f"short.{r.verdict.value}"],
        why(r, w) if refused else "",
        r.judgement.side == "under",
    )


def _open_row(edge: int | None, w: Words) -> Row:
    return Row(_edge(edge, w), "–", "", "–", "–", None, "open", w["verdict.open"])


def _edge(edge: int | None, w: Words) -> str:
    return w["page.all"] if edge is None else str(edge)
