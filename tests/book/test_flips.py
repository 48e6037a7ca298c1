"""A few single bits of a book flipped: what is served is what was written. tests/measure/flipped_bits.py flips 800."""

from __future__ import annotations

from pathlib import Path

import pytest
from walks.flips import Truth, flips, judged, write
from whole import first

FLIPS = 6


@pytest.fixture(scope="module", params=["with checksums", "without"])
def book(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Truth, bool]:
    old = request.param == "without"
    return write(tmp_path_factory.mktemp("whole"), old), old


@pytest.mark.parametrize("seed", first(range(4), 1))
def test_a_flipped_bit_is_served_right_or_refused_in_words(book: tuple[Truth, bool], tmp_path: Path, seed: int) -> None:
    truth, old = book
    wrong = {}
    started = set()
    for flip in flips(truth, seed, FLIPS):
        found = judged(tmp_path / "flipped", truth, flip, old)
        started.add(found.start)
        if found.wrong:
            wrong[flip] = found.wrong
    assert wrong == {}
    assert "traceback" not in started and any(start.startswith("served") for start in started)
