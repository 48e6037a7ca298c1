"""A kill or stop of each kind at seeded random instants; all thousand are in tests/measure/kills.py."""

from __future__ import annotations

from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from served.killing import WAYS, killing

BENCHES = 2
KILLS = 5
"""On each of two benches at once: processes under test are mostly waiting for the light."""


def test_no_kill_leaves_a_light_on_or_loses_a_record_or_a_dose(tmp_path: Path, disk: Path) -> None:
    def one(seed: int) -> list[str]:
        return [killed.way for killed in killing(tmp_path / str(seed), seed, KILLS, disk)]

    with ThreadPoolExecutor(BENCHES) as pool:
        ways = Counter(way for found in pool.map(one, range(0, BENCHES * KILLS, KILLS)) for way in found)
    assert ways.total() == BENCHES * KILLS
    assert set(ways) == set(WAYS)
