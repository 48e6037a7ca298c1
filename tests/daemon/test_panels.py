"""Panels beside a sheet, killed and stopped, two at once: no edge is touched. Fifty kills, and a panel that stands
still for a minute, are in tests/measure/panel_kills.py."""

from __future__ import annotations

from pathlib import Path

from served.panels import killing_panels


def test_panels_that_die_and_stand_still_touch_no_light(tmp_path: Path) -> None:
    _, kills = killing_panels(tmp_path, seconds=3, kills=6, seed=4)
    assert kills == 6
