"""Commands that take a print, crossed with what a print may have: a fixed part of the table, drawn by a seed.

All of it is `tests/measure/crossing.py`, which prints the table; what is checked is in `crossing.py`.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest
import yaml
from crossing import COMMANDS, FEATURES, NO_PRINT, Case, with_an_argument

from timerd.sheet.profile.printfile import STEPS, kinds_of

EACH = 8
"""Commands that are tried with each feature here: every one of them with four features or more."""


def some(feature: str) -> list[str]:
    names = list(COMMANDS)
    random.Random(16).shuffle(names)
    first = list(FEATURES).index(feature) * EACH
    return [names[(first + i) % len(names)] for i in range(EACH)]


def test_every_command_that_takes_a_print_is_in_the_table() -> None:
    there = with_an_argument()
    crossed = {max((name for name in there if f"{key} ".startswith(f"{name} ")), key=len) for key in COMMANDS}
    assert there.keys() - crossed - NO_PRINT.keys() == set(), "add it to COMMANDS, or to NO_PRINT with what it takes"
    assert crossed & NO_PRINT.keys() == set() and NO_PRINT.keys() - there.keys() == set()
    taking = {name for name, takes in there.items() if {"print", "files", "what", "a"} & {*takes}}
    assert taking & NO_PRINT.keys() == set(), "these take a print"


def test_every_kind_of_step_is_in_the_table() -> None:
    tried = {kind for one in FEATURES.values() for step in one.steps for kind in kinds_of(yaml.safe_load(step))}
    assert tried == set(STEPS)


def test_every_command_is_tried_here_with_several_features() -> None:
    counted = [command for feature in FEATURES for command in some(feature)]
    assert min(counted.count(command) for command in COMMANDS) >= 4


@pytest.mark.parametrize("feature", FEATURES)
def test_a_feature_counts_in_every_command(feature: str, tmp_path: Path) -> None:
    case = Case(feature, tmp_path)
    told = {command: COMMANDS[command](case) for command in some(feature)}
    assert all(told.values()), told
