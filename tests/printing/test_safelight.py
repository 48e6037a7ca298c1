"""The safelight's allowed time: the published procedure's arithmetic, and the rule for flashed sheets."""

from __future__ import annotations

import pytest

from timerd.printing.safelight import allowed_seconds, margin


def test_flash_and_safelight_draw_on_one_margin() -> None:
    # Our own rule: allowed = max(0, min(t_safe, 2 * t_safe * (0.9 - fraction)))
    assert [round(allowed_seconds(240, f), 6) for f in (0, 0.4, 0.5, 0.8, 0.9, 1.2)] == [240, 240, 192, 48, 0, 0]
    with pytest.raises(ValueError, match="0 or more"):
        allowed_seconds(-1, 0.5)


def test_an_unflashed_sheet_has_half_the_time_to_a_change() -> None:
    """SOURCES: safelight. The safe time is at most half of the time that gives a detectable change. A flash of half the
    threshold spends the other half of that margin and no more: what is left is under the time to a change."""
    for change_s in (120.0, 360.0, 840.0):
        safe_s = change_s / 2
        assert allowed_seconds(safe_s, 0.0) == safe_s
        for tenth in range(13):
            fraction = tenth / 10
            share_of_threshold = fraction + allowed_seconds(safe_s, fraction) / change_s
            assert share_of_threshold <= max(0.9, fraction) + 1e-12  # flash and safelight add, and stay below 1


def test_the_warnings_come_at_70_and_at_100_percent() -> None:
    assert [margin(s, 240.0) for s in (0, 167.9, 168, 239.9, 240, 500)] == ["", "", "near", "near", "over", "over"]
    assert margin(0.0, 0.0) == "none"


def test_a_second_is_a_time_too() -> None:
    assert [margin(seconds, 0.8) for seconds in (0.5, 0.6, 0.8)] == ["", "near", "over"]
