"""Sense inputs on the real character device: a wire from outside says what is seen."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from kernel.bench import Wired
from kernel.chip import Chip
from lines.keeper import RealKeeper, bench

HEAD = "sense 12"
GREEN = "lamp head-green"
LATE_S = 2.0


@pytest.fixture
def wired(chip: Chip) -> Wired:
    return Wired(chip, bench("seen-lamps"))


def test_a_lamp_that_is_not_seen(wired: Wired, tmp_path: Path) -> None:
    with RealKeeper(tmp_path, wired.facts) as keeper:
        assert keeper.first["is"] == "keeping", keeper.first
        keeper.expose(seconds=60.0)
        lit = keeper.until("lit")
        fault, dark = keeper.until("fault"), keeper.until("dark")
        assert (fault["why"], dark["why"], dark["lo"]) == (
            "light not seen",
            "light not seen",
            pytest.approx(lit["at"], abs=0.05),
        )
        (on, _), (off, is_on) = wired.changes()[GREEN]
        assert not is_on and 0.2 <= off - on <= 0.2 + LATE_S


def test_a_lamp_that_is_seen_and_then_dies(wired: Wired, tmp_path: Path) -> None:
    with RealKeeper(tmp_path, wired.facts) as keeper:
        keeper.expose(seconds=60.0)
        keeper.until("lit")
        wired.foot(HEAD, True)
        begin = time.monotonic()
        with pytest.raises(AssertionError, match=r"^no .* within"):
            keeper.until("fault", within_s=0.6)
        assert time.monotonic() - begin >= 0.6
        before = time.monotonic()
        wired.foot(HEAD, False)
        after = time.monotonic()
        dark = keeper.until("dark")
        assert dark["why"] == "light not seen" and before <= dark["lo"] <= after
        assert before + 0.25 <= dark["at"] <= after + 0.25 + LATE_S


def test_light_that_nobody_asked_for(wired: Wired, tmp_path: Path) -> None:
    with RealKeeper(tmp_path, wired.facts) as keeper:
        before = time.monotonic()
        wired.foot(HEAD, True)
        fault = keeper.until("fault")
        assert fault["why"] == "light seen" and before + 0.2 <= fault["at"] <= before + 0.2 + LATE_S
        keeper.send({"do": "clear"})
        assert keeper.until("rest")["low"] is False
        wired.foot(HEAD, False)
        keeper.expose()
        assert keeper.until("refused")["what"] == "light seen"
    assert wired.changes() == {}
