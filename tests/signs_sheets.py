"""A program that signs the sheet of a job so many times: says file and SHA-256 of each. Refused, it
tries again.

Run as ``python -m tests.signs_sheets SHOP JOB HOW MANY``.
"""

from __future__ import annotations

import hashlib
import sys
from datetime import UTC, datetime
from pathlib import Path

from inspect_rec.config import Folder
from inspect_rec.errors import RefusedError
from inspect_rec.people import Issued, signer
from inspect_rec.release.sheet import sign_sheet
from inspect_rec.store import Store
from tests import signing

AT = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)


def main(path: Path, job: str, count: int) -> None:
    """Sign ``count`` sheets."""
    here, id_ = Folder(path), signing.INSPECTOR.id
    issued = Issued(here.key(id_).read_bytes(), here.certificate(id_).read_bytes())
    who = signer(issued, signing.PASSPHRASE, here.certificate("root").read_bytes())
    with Store.open(here.ledger) as store:
        while count:
            try:
                made = sign_sheet(store, here, job, who, AT)
            except RefusedError:
                continue
            print(made.name, hashlib.sha256(made.read_bytes()).hexdigest(), flush=True)
            count -= 1


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]))
