"""Before and after the reports: a job opened, the ledger copied away."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from inspect_rec.config import Folder
from inspect_rec.errors import StoreError
from inspect_rec.plan import JobFile
from inspect_rec.report.writable import writable
from inspect_rec.store import Store


def open_job(store: Store, folder: Folder, job: JobFile, person: str, at: datetime) -> list[str]:
    """Open a job, or open it anew after a change; gives its inspections.

    Raises InputError for a text with a sign that no font of the report has.
    """
    opened = store.entries(kinds=("job opened",))
    taken = {str(e.body["plan"]["job"]["customer"]) for e in opened}
    plan = job.model_dump(mode="json", by_alias=True)
    plan["job"]["customer"] = folder.customer_id(job.job.customer, taken)
    body = {
        "job": job.job.number,
        "plan": plan,
        "shop": folder.read_shop().model_dump(mode="json", by_alias=True),
    }
    writable({**body, "customer": job.job.customer})
    store.append(at, person, "job opened", body)
    return [f"{job.job.number}/{tool.mark}" for tool in job.tool]


def copy_away(store: Store, folder: Folder, at: datetime, number: str) -> Path | None:
    """Copy the ledger into the second folder, where one is set.

    Raises StoreError where that fails; the report stands all the same, and the error says so.
    """
    copies = folder.settings().copies
    if not copies:
        return None
    try:
        return store.copy_to(Path(copies), at)
    except (StoreError, OSError) as error:
        raise StoreError(
            f"{number} is signed and kept, but the ledger's copy failed",
            found=str(error),
            where=copies,
            do="See to the second folder, then: inspect-rec ledger copy FOLDER",
        ) from error
