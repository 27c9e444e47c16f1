"""Tests that need an outside program say which; without it they are skipped by name.

Where CI is true a missing program is a failure: nothing is skipped there unseen.
"""

from __future__ import annotations

import os
import shutil

import pytest


def needs(*names: str) -> pytest.MarkDecorator:
    """Skip unless every program is there; under CI=true fail instead."""
    missing = [name for name in names if shutil.which(name) is None]
    if missing and os.environ.get("CI") == "true":
        raise RuntimeError(f"CI needs {', '.join(missing)}: install it in .ci/run")
    return pytest.mark.skipif(bool(missing), reason=f"needs {', '.join(missing or names)}")
