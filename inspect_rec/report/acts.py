"""What was done with a tool besides reading it, an entry in a line each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from inspect_rec.inspection import Inspection
from inspect_rec.ledger import Entry
from report_templates.wording import Words


def told(entry: Entry, inspection: Inspection, w: Words) -> str:
    """What an entry says beyond its kind, in words; figures and names as they were typed."""
    body = entry.body
    say = _SAID.get(entry.kind)
    if say is not None:
        return say(body, inspection, w)
    return _plain(body, inspection, w)


def _struck(body: Mapping[str, Any], _inspection: Inspection, w: Words) -> str:
    number, reason = body["entry"]["seq"], str(body.get("reason", "")) or "–"
    return w["measurements.act_struck"].format(entry=number, reason=reason)


def _ground(body: Mapping[str, Any], inspection: Inspection, w: Words) -> str:
    flute = int(body.get("flute", 0))
    edge = f"{w[f'edge.{inspection.tool.edge_word}']} {flute}" if flute else w["page.all"]
    infeed, how = str(body.get("infeed_mm", "")), str(body.get("how", ""))
    said = [edge, f"{w.figure(infeed)} mm" if infeed else "", w.told("text", how) if how else ""]
    return ", ".join(x for x in said if x)


def _again(body: Mapping[str, Any], inspection: Inspection, w: Words) -> str:
    known = {c.id: c.name for c in inspection.job.characteristic}
    names = ", ".join(known.get(id_, id_) for id_ in body["characteristics"])
    return w["measurements.act_again"].format(
        names=names,
        repeats=body.get("repeats", 0) or "–",
        master=body.get("master", "") or "–",
        why=body.get("why", "") or "–",
    )


def _picture(body: Mapping[str, Any], inspection: Inspection, w: Words) -> str:
    flute, words = int(body["picture"].get("flute", 0)), str(body["picture"].get("words", ""))
    edge = f"{w[f'edge.{inspection.tool.edge_word}']} {flute}" if flute else ""
    digest = f"SHA-256 {body['file']['digest'][:16]}…"
    return ", ".join(x for x in (edge, words, str(body["file"]["name"]), digest) if x)


def _opened(body: Mapping[str, Any], _inspection: Inspection, _w: Words) -> str:
    return str(body["job"])


def _plain(body: Mapping[str, Any], inspection: Inspection, w: Words) -> str:
    """Texts and numbers of a body by their keys, nothing left out but what is nested."""
    said = {
        key: w.told("text", str(value))
        for key, value in body.items()
        if isinstance(value, str | int) and value not in ("", inspection.id)
    }
    if len(said) == 1:
        return next(iter(said.values()))
    return ", ".join(f"{key} {value}" for key, value in said.items())


_SAID = {
    "struck out": _struck,
    "ground again": _ground,
    "measure again": _again,
    "job opened": _opened,
    "picture kept": _picture,
}
