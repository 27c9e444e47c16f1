"""Contents for tests: the worked jobs in every state, the longest that may come, the emptiest."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Any

from inspect_rec import ledger
from inspect_rec.inspection.history import Earlier
from inspect_rec.ledger import Head
from inspect_rec.plan import JobFile
from inspect_rec.report import make, pdf
from inspect_rec.report.content import Content
from report_templates import words
from tests import signing, worked
from tests.report import contoured, photographs

ISSUED = "2026-11-17T08:22:38Z"
VALUES = (("R", "4.907"), ("D", "9.814"), ("L", "97.95"))
NAME = "A very long name of a customer that makes moulds and dies for everybody, Limited"


@cache
def upto(number: str, reading: int) -> make.Made:
    """A report of a job as it stands after so many readings."""
    entries = worked.entries(number, reading)
    return make.make(entries, signing.header(number, entries))


def before_rework(number: str) -> make.Made:
    """The report as it would be before flute 3 (tooth 4) was ground again."""
    readings = worked.jobs()[number]["readings"]
    cut = next(r["n"] for r in readings if r["step"] == "ground again")
    return upto(number, cut - 1)


@cache
def in_language(number: str, language: str, reading: int = 0) -> make.Made:
    """A report of a job in a language, as it stands after so many readings (0: all of them)."""
    entries = worked.entries(number, reading or signing.UPTO[number])
    return make.make(entries, replace(signing.header(number, entries), language=language))


@cache
def longest(language: str = "en") -> Content:
    """24 flutes, 30 characteristics, and every name longer than its room."""
    c, draw, edges = in_language("I1", language).said, random.Random(1), 24
    assert c.graph is not None
    assert c.verdict.deciding is not None
    values = tuple(4.9 + draw.uniform(-0.006, 0.007) for _ in range(edges))
    group, feature = c.groups[0], c.features[0]
    rows = tuple(replace(group.rows[n % 4], edge=str(n + 1)) for n in range(edges))
    name = "Ball radius measured in the plane of the edge"
    where = "a long address in a place with a long name · measured on site, grinding shop 2, room 3"
    return replace(
        c,
        head_left=("The long name of a tool grinding works that grinds nearly anything", where),
        mark="A-TOOL-MARK-OF-29-CHARACTERS-X",
        tool=(
            "Ball nose end mill with a long neck and a corner radius R 4.9, 24 flutes, right hand",
            f"Solid carbide K20-K40, coated · resharpened{', edges honed and flutes polished' * 3}",
        ),
        facts=tuple((label, NAME) for label, _ in c.facts),
        verdict=replace(
            c.verdict,
            lines=(" ".join(f"Sentence {n} of what the verdict rests on." for n in range(20)),),
            deciding=replace(c.verdict.deciding, name=f"{name} RE, flute 13"),
        ),
        offsets=tuple(
            replace(o, notes=("the largest of all the flutes as it cuts", o.notes[-1]))
            for o in c.offsets
        ),
        graph=replace(
            c.graph,
            labels=tuple(str(n + 1) for n in range(edges)),
            texts=tuple(f"{v:.4f}" for v in values),
            values=values,
            whiskers=(0.0036,) * edges,
            verdicts=("conforms",) * edges,
        ),
        edges=edges,
        features=tuple(
            replace(feature, number=n + 1, name="Ball radius at the transition of the shank")
            for n in range(9)
        ),
        features_more=words(language)["page.more_features"].format(n=21),
        signatures=(
            replace(c.signatures[0], name="Maximiliane Hohenstein-Wolkenburg zu Niederbergen"),
            *c.signatures[1:],
        ),
        groups=tuple(
            replace(group, number=n + 1, name=f"{name} {n + 1}", rows=rows) for n in range(30)
        ),
        profiles=tuple(replace(p, edges=p.edges * 6) for p in c.profiles),
        equipment=replace(c.equipment, rows=c.equipment.rows * 8),
    )


@cache
def emptiest(language: str = "en") -> Content:
    """Nothing measured, nothing known."""
    c, w = in_language("I1", language).said, words(language)
    return replace(
        c,
        groups=(),
        features=(),
        graph=None,
        profiles=(),
        offsets=(),
        facts=tuple((label, "–") for label, _ in c.facts),
        life=replace(c.life, now=None, words=w["life.none"], detail=w["life.no_life"]),
        verdict=replace(
            c.verdict, verdict="refused", finding=w["finding.refused"], lines=(), deciding=None
        ),
        equipment=replace(c.equipment, rows=(), below=()),
    )


@cache
def too_uncertain(language: str = "en") -> Content:
    """Limits that the uncertainty leaves no room between, and a length under its minimum."""
    first, *rest = worked.entries("I1", signing.UPTO["I1"])
    job = JobFile.model_validate(first.body["plan"])
    narrow: dict[str, dict[str, Any]] = {
        "R": {"lower": Decimal("4.898"), "upper": Decimal("4.902"), "plus_minus": None},
        "R_variation": {"upper": Decimal("0.002")},
        "length": {"lower": Decimal("97.20")},
    }
    characteristics = tuple(c.model_copy(update=narrow.get(c.id, {})) for c in job.characteristic)
    plan = job.model_copy(update={"characteristic": characteristics})
    body = dict(first.body) | {"plan": plan.model_dump(mode="json", by_alias=True)}
    head = Head(first.station, 0, "0" * 64)
    entries = [ledger.make(head, first.at, first.person, first.kind, body)]
    for e in rest:
        before = entries[-1]
        head = Head(before.station, before.seq, before.digest)
        entries.append(ledger.make(head, e.at, e.person, e.kind, dict(e.body)))
    header = replace(signing.header("I1", tuple(entries)), language=language)
    return make.make(tuple(entries), header).said


def _as_end_mill(content: Content) -> Content:
    ids = ("DC", "edge", "edge_variation", "clearance", "length")
    features = tuple(replace(f, id=i) for f, i in zip(content.features, ids, strict=True))
    return replace(content, sketch="end mill", features=features)


@cache
def foreign() -> Content:
    """Names in Greek, Cyrillic, Chinese signs and kana, alone and mixed, short and too long."""
    c = signing.made("I1").said
    names = ("山田精密工業株式会社", "Ćwikła & Сыновья, Ελλάς", "东莞市精密刀具磨削有限公司")
    long_name = "山田精密工業株式会社「第二工場」切削工具研削課" * 2
    assert c.verdict.deciding is not None
    return replace(
        c,
        mark="QF-山-0417",
        tool=("球头铣刀 R 4.9，4 刃，右旋 — ボールエンドミル", "高速钢 · 再研磨「３回目」"),
        facts=tuple((label, n) for (label, _), n in zip(c.facts, (*names, *names), strict=True)),
        verdict=replace(
            c.verdict,
            lines=("全部 5 项特性均符合图纸 QM-D-118 B 的要求，误判风险不超过 5 %。" * 6,),
            deciding=replace(c.verdict.deciding, name="ボール半径 RE, 刃 3"),
        ),
        signatures=(replace(c.signatures[0], name=long_name), *c.signatures[1:]),
        groups=tuple(replace(g, name=f"ボール半径の測定 {g.name}") for g in c.groups),
        texts=tuple(
            replace(t, paragraphs=(*t.paragraphs, "「測定値」は丸めずに判定します。" * 5))
            for t in c.texts
        ),
    )


@cache
def korean() -> Content:
    """Names and texts in Hangul, alone and with letters, figures and Chinese signs."""
    c = signing.made("I1").said
    names = ("㈜한빛정밀공구", "서울 제2공장 (재연삭)", "大韓精密工業 주식회사")
    assert c.verdict.deciding is not None
    return replace(
        c,
        mark="QF-한-0417",
        tool=("볼 엔드밀 R 4.9, 날 4개, 오른쪽 나선 — 초경합금", "고속도강 · 재연삭 3회"),
        facts=tuple((label, n) for (label, _), n in zip(c.facts, (*names, *names), strict=True)),
        verdict=replace(
            c.verdict,
            lines=(
                "5개 특성 모두 도면 QM-D-118 B의 요구를 만족하며 오판 위험은 5 % 이하입니다. " * 5,
            ),
            deciding=replace(c.verdict.deciding, name="볼 반지름 RE, 날 3"),
        ),
        signatures=(
            replace(c.signatures[0], name="한빛정밀공구 연삭실 김하늘 " * 4),
            replace(c.signatures[1], name="박서준"),
            *c.signatures[2:],
        ),
        groups=tuple(replace(g, name=f"볼 반지름 측정 {g.name}") for g in c.groups),
        texts=tuple(
            replace(t, paragraphs=(*t.paragraphs, "측정값은 반올림하지 않고 판정합니다. " * 5))
            for t in c.texts
        ),
    )


@cache
def known_tool(language: str = "en") -> Content:
    """A tool that was here before, with two pictures."""
    upright, wide = photographs.picture(size=(48, 64)), photographs.picture(size=(80, 50))
    of = photographs.entries(
        ("edge.jpg", upright, {"flute": 3, "words": "after the last cut"}),
        ("tip.jpg", wide, {"words": "two chips near the corner, as it came " * 4}),
    )
    lengths = (("98.45", "0.45"), ("97.95", "0.40"))
    earlier = tuple(
        Earlier(
            f"A-{n:04d}",
            date(2026, 3 if n == 59 else 7, 5),
            str(n % 10) * 64,
            state,
            tuple((label, Decimal(value)) for label, value in VALUES),
            n - 58,
            *map(Decimal, mm),
        )
        for n, state, mm in zip((59, 60), ("released", "conceded"), lengths, strict=True)
    )
    header = replace(photographs.header(of, language), earlier=earlier)
    given = {"picture 1 edge.jpg": upright, "picture 2 tip.jpg": wide}
    return make.make(of, header, given).said


def _german() -> dict[str, Content]:
    found = {}
    for number in ("I1", "I2", "I3"):
        steps = worked.jobs()[number]["readings"]
        cut = next((r["n"] - 1 for r in steps if r["step"] == "ground again"), 40)
        for state, reading in (("", 0), (" before rework", cut), (" begun", 20), (" half", 30)):
            found[f"{number}{state}, German"] = in_language(number, "de", reading).said
    w = words("de")
    return {
        **found,
        "longest, German": longest("de"),
        "known tool, German": known_tool("de"),
        "emptiest, German": emptiest("de"),
        "too uncertain, German": too_uncertain("de"),
        "contour, German": contoured.said("de"),
        "one edge, German": replace(
            in_language("I1", "de").said,
            edges=1,
            graph=None,
            no_graph=(w["page.one_edge"], w["page.one_edge_why"]),
        ),
    }


@cache
def contents() -> dict[str, Content]:
    """All of them by name."""
    return {
        **{number: signing.made(number).said for number in ("I1", "I2", "I3")},
        "I1 before rework": before_rework("I1").said,
        "I3 before rework": before_rework("I3").said,
        "I1 begun": upto("I1", 20).said,
        "I2 half": upto("I2", 30).said,
        "longest": longest(),
        "emptiest": emptiest(),
        "one edge": replace(
            signing.made("I1").said, edges=1, graph=None, no_graph=("One edge", "nothing to vary")
        ),
        "too uncertain": too_uncertain(),
        "contour": contoured.said(),
        "end mill": _as_end_mill(signing.made("I1").said),
        "foreign names": foreign(),
        "Korean names": korean(),
        "known tool": known_tool(),
        **_german(),
        "unknown kind": replace(signing.made("I1").said, sketch="something else", edges=11),
    }


@cache
def rendered(name: str) -> bytes:
    """The file of one of them, without attachments."""
    return pdf.render(contents()[name], {}, ISSUED).pdf
