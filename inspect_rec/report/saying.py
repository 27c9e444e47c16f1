"""From an inspection and the report's own head to what the report says. Draws nothing."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_EVEN, Decimal

from inspect_rec.compute.conformity import Verdict
from inspect_rec.inspection import Inspection, Result
from inspect_rec.plan import Characteristic
from inspect_rec.report import figures, telling
from inspect_rec.report.content import (
    Bar,
    Content,
    Deciding,
    Feature,
    FluteGraph,
    Group,
    LifeLine,
    Offset,
    Profile,
    Profiles,
    Row,
    SignatureBlock,
    VerdictBlock,
)
from inspect_rec.report.figures import Words, shown, spread
from inspect_rec.report.record import Header
from report_templates import words

MOST_FEATURES = 9


def of(inspection: Inspection, header: Header) -> Content:
    """Everything that the report of one tool says."""
    w = words(header.language)
    tool, job, shop = inspection.tool, inspection.job.job, inspection.shop.shop
    numbers = {c.id: n for n, c in enumerate(inspection.job.characteristic, 1)}
    releasable = inspection.verdict is Verdict.CONFORMS
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
            issued=figures.day(header.issued.date()),
            page="{page}",
            pages="{pages}",
        ),
        mark=tool.mark,
        tool=(
            tool.title or tool.kind,
            " · ".join(x for x in (tool.material, tool.coating, tool.condition) if x),
        ),
        facts=_facts(inspection, header, w),
        verdict=_verdict(inspection, numbers, w),
        offsets_title=w["page.offsets" if releasable else "page.offsets_not"],
        offsets=_offsets(inspection, w),
        releasable=releasable,
        graph=_graph(inspection, w),
        sketch=tool.kind,
        edges=tool.edges,
        hand=tool.hand,
        features=features,
        features_more=more,
        life=_life(inspection, w),
        signatures=_signatures(header, w),
        groups=_groups(inspection, numbers, w),
        profiles=_profiles(inspection, numbers, w),
        texts=telling.texts(inspection, header, numbers, w),
        equipment=telling.equipment(inspection, w),
        foot=(w["page.foot"], w["page.digest"].format(digest=inspection.digest)),
        words=dict(w),
    )


def _facts(inspection: Inspection, header: Header, w: Words) -> tuple[tuple[str, str], ...]:
    job, record = inspection.job.job, inspection.record
    finals = [r.at for r in record.readings if r.stage == "final" and r.ref not in record.void]

    def revised(name: str, revision: str) -> str:
        return w["page.revision"].format(name=name, revision=revision) if revision else name

    customer = header.customers.get(job.customer, job.customer)
    return (
        (w["page.customer"], customer),
        (w["page.received"], figures.day(job.received)),
        (w["page.order"], job.order or "–"),
        (w["page.measured"], figures.moment(max(finals)) if finals else "–"),
        (w["page.drawing"], revised(job.drawing, record.revision)),
        (w["page.plan"], revised(job.plan, job.plan_revision) if job.plan else "–"),
    )


def bar(r: Result) -> Bar | None:
    """The result in its tolerance, for drawing; None where there are no limits."""
    c, zones = r.characteristic, r.zones
    if zones is None or c.info:
        return None
    return Bar(
        lower=None if c.lower is None else float(c.lower),
        upper=None if c.upper is None else float(c.upper),
        nominal=None if c.nominal is None or c.natural_zero else float(c.nominal),
        zero=c.natural_zero,
        guard=float(zones.guard),
        low=float(r.values[0]),
        high=float(r.values[-1]),
        whisker=float(r.U),
        verdict=r.verdict.value,
        lower_text="" if c.lower is None else figures.limit_text(c, c.lower),
        upper_text="" if c.upper is None else figures.limit_text(c, c.upper),
        accepted=figures.accepted(r),
    )


def named(r: Result, inspection: Inspection) -> str:
    """A result by name: ball radius RE, flute 3."""
    c = r.characteristic
    name = c.name[0].upper() + c.name[1:] + (f" {c.symbol}" if c.symbol else "")
    return name if r.flute is None else f"{name}, {inspection.tool.edge_word} {r.flute}"


def value_text(r: Result) -> str:
    """The value as printed, or both ends of a profile."""
    c = r.characteristic
    return " to ".join(_signed(c, v, shown(c, v, exact=True)) for v in r.values)


def _signed(c: Characteristic, value: Decimal, text: str) -> str:
    """A deviation that may lie on both sides bears its sign."""
    both = c.nominal == 0 and c.lower is not None
    return f"+{text}" if both and value > 0 else text


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
    return VerdictBlock(
        verdict.value,
        w[f"finding.{verdict.value}"],
        w[f"permits.{permits}"],
        (telling.verdict_lines(inspection, judged, deciding, w),),
        _deciding_block(inspection, judged, deciding, numbers, w),
    )


def _deciding(judged: Sequence[Result], verdict: Verdict) -> Result | None:
    """Furthest out of what decides; of what conforms, closest to its acceptance limit."""
    if verdict is Verdict.CONFORMS:
        with_width = [r for r in judged if r.characteristic.width and r.zones]
        return min(with_width or judged, key=_margin, default=None)
    same = [r for r in judged if r.verdict is verdict]
    return min(same, key=_margin, default=None)


def _margin(r: Result) -> float:
    """Distance to the nearest acceptance limit over the width of the tolerance."""
    zones, width = r.zones, r.characteristic.width
    if zones is None or not width:
        return 1e9
    room = []
    if zones.accept_low is not None:
        room.append(r.values[0] - zones.accept_low)
    if zones.accept_high is not None:
        room.append(zones.accept_high - r.values[-1])
    return float(min(room) / width)


def _deciding_block(
    inspection: Inspection,
    judged: Sequence[Result],
    deciding: Result | None,
    numbers: dict[str, int],
    w: Words,
) -> Deciding | None:
    if deciding is None:
        return None
    c = deciding.characteristic
    others = sum(1 for r in judged if r.verdict is deciding.verdict) - 1
    conforms = inspection.verdict is Verdict.CONFORMS
    return Deciding(
        w["decides.closest" if conforms else "decides.decides"],
        numbers[c.id],
        named(deciding, inspection),
        value_text(deciding),
        figures.unit_of(c),
        bar(deciding),
        "" if conforms or not others else w["decides.more"].format(n=others),
    )


# -- page 1 ------------------------------------------------------------------


def _offsets(inspection: Inspection, w: Words) -> tuple[Offset, ...]:
    found = []
    for offset in inspection.tool.offsets[:3]:
        results = [r for r in inspection.results if r.characteristic.id == offset.of]
        if not results:
            found.append(Offset(offset.label, "", "", (offset.words or w["page.not_measured"],)))
            continue
        pick = max if offset.pick == "largest" else min
        chosen = pick(results, key=lambda r: r.value) if offset.pick != "value" else results[0]
        c = chosen.characteristic
        digits = Decimal("0.01") if (c.places or 3) == 2 else Decimal("0.001")
        value = (chosen.value * offset.factor).quantize(digits, ROUND_HALF_EVEN)
        expanded = chosen.U * offset.factor
        note = offset.words
        if offset.pick != "value":
            note = f"{note} ({inspection.tool.edge_word} {chosen.flute})"
        step = Decimal("0.0001") if expanded < Decimal("0.01") else Decimal("0.01")
        u_text = f"U {expanded.quantize(step)}, k = {_k(chosen.k)}"
        found.append(Offset(offset.label, figures.plain(value), "mm", (note, u_text)))
    return tuple(found)


def _k(k: Decimal) -> str:
    return figures.short(k.quantize(Decimal("0.01")))


def _graph(inspection: Inspection, w: Words) -> FluteGraph | None:
    c = next((c for c in inspection.job.characteristic if c.id == inspection.tool.variation), None)
    result = inspection.result(c.id) if c else None
    if c is None or result is None:
        return None
    parts = [r for r in inspection.results if c.of and r.characteristic.id == c.of]
    name = c.name[0].upper() + c.name[1:]
    mm_value = result.shown(result.value)
    head = {
        "title": w["page.variation"].format(name=name),
        "value": figures.plain(mm_value),
        "allowed": w["page.allowed"].format(unit="mm", limit=figures.plain(c.upper or Decimal(0))),
        "verdict": result.verdict.value,
        "spread": spread(c, result.value),
        "edge_word": inspection.tool.edge_word,
    }
    if parts:
        one = parts[0].characteristic
        zones = parts[0].zones
        limits = tuple(
            "" if x is None else figures.plain(x) for x in (one.upper, one.nominal, one.lower)
        )
        return FluteGraph(
            **head,
            labels=tuple(str(r.flute) for r in parts),
            values=tuple(float(r.value) for r in parts),
            whiskers=tuple(float(r.U) for r in parts),
            verdicts=tuple(r.verdict.value for r in parts),
            lower=None if one.lower is None else float(one.lower),
            upper=None if one.upper is None else float(one.upper),
            guard=float(zones.guard) if zones else 0.0,
            limit_texts=limits,  # type: ignore[arg-type]
        )
    places = result.outcome.detail.get("places_mm", ())
    values = tuple(places) if isinstance(places, tuple) else ()
    lowest = min(values, default=0.0)
    return FluteGraph(
        **head,
        labels=tuple(str(n) for n in range(1, len(values) + 1)),
        values=tuple(v - lowest for v in values),
        whiskers=tuple(float(result.U) for _ in values),
        verdicts=tuple(result.verdict.value for _ in values),
        lower=None,
        upper=None if c.upper is None else float(c.upper),
        guard=float(result.zones.guard) if result.zones else 0.0,
        limit_texts=("" if c.upper is None else figures.plain(c.upper), "", "0"),
    )


def _features(
    inspection: Inspection, numbers: dict[str, int], w: Words
) -> tuple[tuple[Feature, ...], str]:
    found = []
    for c in inspection.job.characteristic:
        results = [r for r in inspection.results if r.characteristic.id == c.id]
        if c.info:
            continue
        found.append((_worst(results), numbers[c.id], _feature(c, results, numbers, inspection, w)))
    if len(found) <= MOST_FEATURES:
        return tuple(f for _, _, f in found), ""
    kept = sorted(sorted(found, key=lambda x: (x[0], x[1]))[:MOST_FEATURES], key=lambda x: x[1])
    more = w["page.more_features"].format(n=len(found) - MOST_FEATURES)
    return tuple(f for _, _, f in kept), more


_ORDER = (Verdict.DOES_NOT_CONFORM, Verdict.REFUSED, Verdict.NEITHER_SHOWN, Verdict.CONFORMS)


def _worst(results: Sequence[Result]) -> tuple[int, float]:
    if not results:
        return (0, 0.0)
    return min((_ORDER.index(r.verdict), _margin(r)) for r in results)


def _feature(
    c: Characteristic,
    results: Sequence[Result],
    numbers: dict[str, int],
    inspection: Inspection,
    w: Words,
) -> Feature:
    name = c.name[0].upper() + c.name[1:]
    detail = ", ".join(x for x in (c.symbol, c.plane) if x)
    if not results:
        return Feature(c.id, numbers[c.id], name, detail, (w["page.not_measured"],), (), "open")
    del inspection
    worst = min(results, key=lambda r: _ORDER.index(r.verdict))
    low = min(v for r in results for v in r.values)
    high = max(v for r in results for v in r.values)
    ends = (low,) if low == high else (low, high)
    unit = figures.unit_end(c)
    values = tuple(_signed(c, v, shown(c, v, exact=True)) + unit for v in ends)
    if c.lower is not None and c.upper is not None and len(values) > 1 and c.upper != -c.lower:
        limits = tuple(figures.limit_text(c, x) + unit for x in (c.lower, c.upper))
    else:
        limits = (figures.limits_text(c),)
    return Feature(c.id, numbers[c.id], name, detail, values, limits, worst.verdict.value)


def _life(inspection: Inspection, w: Words) -> LifeLine:
    life = inspection.life
    if life is None:
        return LifeLine("", w["life.none"], w["life.no_life"])
    now, arrival = life.now, life.arrival
    done = [
        (f"{n}." if n else "new", figures.plain(x), float(x)) for n, x in enumerate(life.earlier)
    ]
    done.append((w["life.arrival"], _two(arrival), float(arrival)))
    if life.left_sharpenings is None:
        count, words_, detail = "–", w["life.unknown"], w["life.nothing_off"]
        to_come = []
    else:
        count = str(life.left_sharpenings)
        words_ = w["life.only_just"] if life.only_just else ""
        detail = w["life.detail"].format(left=_two(life.left), step=_two(life.removed))
        to_come = [
            (
                w["life.to_come"].format(n=n),
                _two(now - n * life.removed),
                float(now - n * life.removed),
            )
            for n in range(1, min(life.left_sharpenings, 6) + 1)
        ]
    return LifeLine(
        count,
        words_,
        detail,
        tuple(done),
        (w["life.now"], _two(now), float(now)),
        tuple(to_come),
        (_two(life.minimum), float(life.minimum)),
    )


def _two(value: Decimal) -> str:
    return figures.plain(value.quantize(Decimal("0.01")))


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
        name = c.name[0].upper() + c.name[1:] + (f" {c.symbol}" if c.symbol else "")
        if results:
            rows = tuple(_row(r, w) for r in results)
        else:
            rows = (Row("all", w["page.not_measured"], "", "–", "–", None, "open", ""),)
        found.append(Group(numbers[c.id], name, _group_lines(c, results, w), rows))
    return tuple(found)


def _group_lines(c: Characteristic, results: Sequence[Result], w: Words) -> tuple[str, ...]:
    limits = figures.limits_text(c)
    if c.nominal is not None and c.lower is not None and c.upper is not None and c.nominal != 0:
        up, down = c.upper - c.nominal, c.nominal - c.lower
        size = figures.plain(c.nominal) + ("°" if c.deg else "")
        about = f" ±{figures.plain(up)}{'°' if c.deg else ''}" if up == down else ""
        about = about or (f" {c.limits_from}" if c.limits_from else "")
        limits = f"{size}{about} ({limits})"
    lines = [limits]
    if results and results[0].zones is not None and not c.info:
        g = spread(c, results[0].zones.guard)
        lines.append(w["page.accepted"].format(zone=figures.accepted(results[0])) + f", g {g}")
    if c.plane:
        lines.append(c.plane)
    return tuple(line for line in lines if line)


def _row(r: Result, w: Words) -> Row:
    c = r.characteristic
    deviation = "–"
    if c.nominal is not None and not c.natural_zero and len(r.values) == 1 and c.nominal != 0:
        deviation = spread(c, r.value - c.nominal, signed=True)
    value = value_text(r)
    if c.info:
        return Row(_edge(r), value, "", "–", "–", None, "info", w["verdict.info"])
    refused = r.verdict is Verdict.REFUSED
    return Row(
        _edge(r),
        value,
        "" if c.printed_in == "mm" else figures.unit_of(c),
        spread(c, r.U),
        deviation,
        bar(r),
        r.verdict.value,
        w[f"short.{r.verdict.value}"],
        r.judgement.reason if refused else "",
    )


def _edge(r: Result) -> str:
    return "all" if r.flute is None else str(r.flute)


# -- profiles ----------------------------------------------------------------


def _profiles(inspection: Inspection, numbers: dict[str, int], w: Words) -> tuple[Profiles, ...]:
    found = []
    for c in inspection.job.characteristic:
        results = [r for r in inspection.results if r.characteristic.id == c.id]
        if results and c.method == "profile, radius held":
            found.append(_contour(c, results, numbers[c.id], inspection, w))
        elif results and c.method == "arc, centre on the axis":
            found.append(_arcs(c, results, inspection, w))
    return tuple(found)


def _tuple(r: Result, key: str) -> tuple[float, ...]:
    value = r.outcome.detail.get(key, ())
    return value if isinstance(value, tuple) else ()


def _number(r: Result, key: str) -> float:
    value = r.outcome.detail.get(key, 0.0)
    return value if isinstance(value, float) else 0.0


def _arcs(
    c: Characteristic, results: Sequence[Result], inspection: Inspection, w: Words
) -> Profiles:
    nominal, zone = float(c.nominal or 0), float((c.width or Decimal("0.02")) / 2) * 1000
    word = inspection.tool.edge_word
    edges = tuple(
        Profile(
            f"{word[0].upper()}{word[1:]} {r.flute}",
            f"R {shown(c, r.value, exact=True)}",
            tuple(
                (angle, (d - nominal) * 1000)
                for angle, d in zip(_tuple(r, "angles_deg"), _tuple(r, "distances_mm"), strict=True)
            ),
            zone,
            float(r.zones.guard) * 1000 if r.zones else 0.0,
        )
        for r in results
    )
    return Profiles(w["texts.profile_caption"].format(edge_word=word), edges)


def _contour(
    c: Characteristic, results: Sequence[Result], number: int, inspection: Inspection, w: Words
) -> Profiles:
    zone = float(c.upper or 0) * 1000
    word = inspection.tool.edge_word
    worst = min(results, key=_margin)
    radius = c.parameters["radius_mm"]
    edges = tuple(
        Profile(
            f"{word[0].upper()}{word[1:]} {r.flute}",
            f"{value_text(r)} µm",
            tuple(
                (angle, d * 1000)
                for angle, d in zip(
                    _tuple(r, "angles_deg"), _tuple(r, "deviations_mm"), strict=True
                )
            ),
            zone,
            float(r.zones.guard) * 1000 if r.zones else 0.0,
            r is worst,
        )
        for r in results
    )
    span = max(_number(r, "span_deg") for r in results)
    return Profiles(
        w["texts.contour_caption"],
        edges,
        contour=True,
        number=number,
        title=c.name[0].upper() + c.name[1:],
        subtitle=w["texts.contour_sub"].format(
            span=f"{span:.0f}", zone=figures.short(c.upper or Decimal(0)), radius=radius
        ),
        radius_mm=float(str(radius)),
        convex=c.parameters.get("form") == "convex",
    )
