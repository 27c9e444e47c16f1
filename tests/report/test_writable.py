"""What can't be printed is refused when it is typed, not when a report is made of it."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.layout import packaged
from inspect_rec import release
from inspect_rec.capture import Capture
from inspect_rec.config import Folder
from inspect_rec.errors import InputError
from inspect_rec.report.writable import writable
from inspect_rec.store import Store
from report_templates import lettering
from tests import worked
from tests.test_customer_language import here, store  # noqa: F401 - fixtures

AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)


@given(st.text(st.characters(max_codepoint=0x17F, exclude_categories=("Cc", "Cf")), max_size=40))
def test_what_passes_unseen_every_font_has(text: str) -> None:
    lettering.fonts()
    assert writable({"reason": text}) == {"reason": text}
    assert lettering.printable(text) is not None


@pytest.mark.parametrize("text", ["Жуков", "山田の要望", "마모 0,2 mm", "⌀ 8,5", "Späne"])
def test_texts_in_scripts_that_print_go_into_an_entry(text: str) -> None:
    assert writable({"a": {"b": [1, text]}})


@pytest.mark.parametrize(
    ("text", "name"), [("مرحبا", "ARABIC"), ("ok 🙂", "SMILING"), ("שלום", "HEBREW")]
)
def test_a_sign_that_no_font_has_is_refused_wherever_it_stands(text: str, name: str) -> None:
    with pytest.raises(InputError, match=name):
        writable({"plan": {"tool": [{"title": text}]}})


def test_an_act_at_the_machine_with_such_a_sign_is_refused_and_nothing_is_stored(
    store: Store,  # noqa: F811
) -> None:
    capture = Capture(store, "I1/QF-0417", "G-01", packaged()["two-axis line"])
    before = store.head()
    with pytest.raises(InputError, match="HEBREW"):
        capture.received(AT, "בלוי")
    assert store.head() == before
    assert capture.received(AT, "verschlissen, Späne").ok
    assert store.head().seq == before.seq + 1


def test_a_job_with_such_a_sign_is_not_opened(
    here: Folder,  # noqa: F811
    store: Store,  # noqa: F811
) -> None:
    job = worked.job("I1")
    tool = job.tool[0].model_copy(update={"title": "כרסום כדורי"})
    with pytest.raises(InputError, match="HEBREW"):
        release.open_job(store, here, job.model_copy(update={"tool": (tool,)}), "G-01", AT)
