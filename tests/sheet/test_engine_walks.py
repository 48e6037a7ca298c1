"""Random evenings and any bytes at all: the fixed, seeded part of what tests/measure/engine_speed.py runs whole."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from walks.engine_walk import BENCH, PLAN, EngineWalk, walk

from timerd.sheet.engine.machine import Engine


@pytest.mark.parametrize("block", range(10))
def test_random_evenings(block: int) -> None:
    evenings = [walk(seed, 300) for seed in range(10 * block, 10 * block + 10)]
    kinds = {record.kind for evening in evenings for record in evening.bench.records}
    assert {"lit", "dark", "ended", "abandoned", "taken up", "refused", "fault", "done"} <= kinds
    assert sum(evening.double_taps for evening in evenings) > 20


@settings(max_examples=400, deadline=None)
@given(st.binary(max_size=400), st.booleans())
def test_any_bytes_as_feet_and_faults(data: bytes, hostile: bool) -> None:
    evening = EngineWalk(hostile)
    for what, amount in list(pairwise(data))[::2]:
        evening.step(what, amount)
    evening.finish()


def test_a_batch_goes_on_only_on_its_own_bench() -> None:
    standing = Engine(BENCH, batch=(PLAN, 2)).standing
    assert (standing.loaded, standing.sheets_left, standing.row) == (PLAN, 2, "idle")
    other = Engine(BENCH, batch=(PLAN.model_copy(update={"bench": "another"}), 2)).standing
    assert (other.loaded, other.sheets_left) == (None, 0)
