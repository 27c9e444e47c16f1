"""Line sketches of tools, not to scale: where each characteristic was measured.

Tip to the left, axis level; side view above, end view from the tip below, edge 1 on top. One
module a kind, named like the kind; a kind without one has its end view only, and says so.
"""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from inspect_rec.report.content import Content
from report_templates.lettering import REGULAR
from report_templates.pen import INK2, Pen
from report_templates.sketches.parts import end_view


@cache
def kinds() -> frozenset[str]:
    """The kinds of tool that have a sketch."""
    return frozenset(
        m.name.replace("_", " ") for m in pkgutil.iter_modules(__path__) if m.name != "parts"
    )


def draw(pen: Pen, content: Content, left: float, top: float) -> None:
    """The sketch of the content's kind in a field of 86 by 50 mm."""
    # The kind may come from a stranger's record: only names that are here are imported.
    if content.sketch in kinds():
        name = content.sketch.replace(" ", "_")
        numbers = {f.id: f.number for f in content.features}
        importlib.import_module(f"{__name__}.{name}").draw(pen, content, left, top, numbers)
        return
    end_view(pen, left + 24, top + 24, 14, content.edges)
    pen.text(left + 48, top + 24, content.words["page.no_sketch"], 7, REGULAR, INK2)
