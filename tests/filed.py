"""The worked jobs as files of another program: a table of all readings, and its mapping."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from inspect_rec.config import Folder, Name
from inspect_rec.inspection import fold
from inspect_rec.people import Role
from inspect_rec.store import Store
from tests import worked

HEAD = "time;feature;edge;mark;repeat;X;Z;indicator;angle;length;temperature;note"
MAPPING = """kind = "table"
[file]
separator = ";"
[columns]
at = "time"
feature = "feature"
flute = "edge"
mark = "mark"
repeat = "repeat"
x = "X"
z = "Z"
indicator = "indicator"
angle = "angle"
length = "length"
temperature = "temperature"
[at]
form = "RFC 3339"
[units]
lengths = "mm"
angle = "deg"
temperature = "degC"
"""


def rows(number: str) -> Iterator[str]:
    """A line for each reading of a worked job, in their order."""
    for reading in worked.jobs()[number]["readings"]:
        if reading["what"] == "event":
            continue
        body = worked.body(number, reading)
        place, figures = body["place"], {t["channel"]: t["value"] for t in body["taken"]}
        named = [str(place.get(key, "")) for key in ("feature", "flute", "mark", "repeat")]
        channels = ("X", "Z", "indicator", "angle", "length", "temperature")
        yield ";".join([body["taken_at"], *named, *(figures.get(c, "") for c in channels), ""])


def table(number: str) -> str:
    """The whole table."""
    return "\n".join([HEAD, *rows(number), ""])


def shop(path: Path, number: str = "I2") -> Folder:
    """A shop's folder with one person and one open job."""
    found = Folder(path / "shop")
    found.path.mkdir()
    shutil.copyfile(worked.FOLDER / "shop.toml", found.shop)
    found.name_person("G-01", Name(name="Marten Oakes", roles=(Role.MEASURES,)))
    its = found.read_shop().shop
    with Store.create(found.ledger, its.station, its.first_number) as store:
        store.append(datetime.now(UTC), "G-01", "job opened", worked.opened(number))
    return found


def clamp(store: Store, number: str = "I2") -> bool:
    """Clamp or take out what the next step asks for; False where it asks for neither."""
    inspection = worked.inspection_id(number)
    step = fold(store.entries(inspection), inspection).next
    if step is None or step.kind == "read":
        return False
    body = {"inspection": inspection, "object": step.object}
    store.append(datetime.now(UTC), "G-01", f"{step.kind}ed", body)
    return True
