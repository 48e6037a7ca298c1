"""Facts as text: what is only about known is told so, and nothing else is."""

from __future__ import annotations

import pytest

from timerd.sheet.facts import fact_of
from timerd.sheet.telling.happened import of_a_sheet

OUT = {
    "bath": "fixer-1", "batch": 2, "celsius": 20.0, "actual_s": 181.0, "planned_s": 180.0, "late_s": 1.0, "by": "press",
}  # fmt: skip


@pytest.mark.parametrize(("more", "told"), [
    ({}, "181.0 s of 180.0, 1.0 s late"),
    ({"approximate": False}, "181.0 s of 180.0, 1.0 s late"),
    ({"approximate": True}, "about 181.0 s of 180.0, 1.0 s late"),
])  # fmt: skip
def test_a_time_from_before_a_restart_is_told_as_about(more: dict[str, bool], told: str) -> None:
    assert of_a_sheet(fact_of("out of bath", {**OUT, **more})[0]) == f"fixer-1, batch 2, 20 °C: {told}"
