"""What doesn't count, or was done once more: struck out, ground away, sighted again."""

from __future__ import annotations

from collections.abc import Iterator

from inspect_rec.inspection import Inspection
from inspect_rec.report import figures
from inspect_rec.report.resulting import edge_word
from report_templates.wording import Words


def told(inspection: Inspection, w: Words) -> Iterator[str]:
    """A sentence each: readings and pictures struck out, cuts, places sighted once more."""
    record = inspection.record
    if not record.struck:
        yield w["texts.struck_none"]
    for s in record.struck:
        place = s.reading.place
        flute = f", {edge_word(inspection, w)} {place.flute}" if place.flute else ""
        what = f"{w.told('text', place.feature)}{flute}, {w.told('text', place.mark)}"
        yield w["texts.struck_one"].format(what=what, at=f"{s.at:%H:%M} UTC", reason=s.reason)
    for picture in record.pictures:
        if picture.struck:
            name, digest = picture.document.name, picture.document.sha256[:16]
            yield w["texts.struck_picture"].format(name=name, digest=digest, reason=picture.struck)
    for cut in record.cuts:
        key = "texts.cut_one" if cut.flute else "texts.cut_all"
        yield w[key].format(
            edge_word=figures.capital(edge_word(inspection, w)),
            flute=cut.flute,
            at=f"{cut.at:%H:%M} UTC",
            infeed=figures.figure(cut.infeed_mm, w) if cut.infeed_mm else "–",
            how=cut.how or "–",
        )
    again = [k.place for k in inspection.standing.values() if k.once_more]
    if again:
        word = edge_word(inspection, w)
        features = ((w.told("text", p.feature), p.flute) for p in again)
        names = (f"{feature}, {word} {flute}" if flute else feature for feature, flute in features)
        yield w["texts.once_more"].format(names=figures.once(names))
    yield w["texts.struck_all"]
