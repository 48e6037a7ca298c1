"""Worn contacts on the real character device: trains of 1 to 300 ms. All 200 of them: tests/measure/bounce.py."""

from __future__ import annotations

from pathlib import Path

from kernel.bouncing import play
from kernel.chip import Chip
from walks.bouncing import TRAINS

SEEDS = TRAINS[7::25]


def test_bounce_trains_mean_one_thing(chip: Chip, tmp_path: Path) -> None:
    assert play(chip, tmp_path, SEEDS) == len(SEEDS) == 8
