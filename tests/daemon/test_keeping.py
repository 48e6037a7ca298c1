"""Starting a keeper: how long is waited for it, and what is said where that cannot be."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from timerd.daemon import keeping
from timerd.daemon.keeping import Keeping, NoKeeper, first_keeper

UNIT = (Path(__file__).parents[2] / "firmware" / "raspberrypi" / "timerd.service").read_text()


def unit_s(key: str) -> float:
    found = re.search(rf"^{key}=([0-9]+)$", UNIT, re.MULTILINE)
    assert found is not None
    return float(found[1])


def test_a_cold_machine_may_take_its_time_and_a_running_one_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first start on a machine that had just been switched on gave up after 10 s."""
    within: list[float] = []
    waits = keeping.socket.socket.settimeout

    def settimeout(self: Any, seconds: float) -> None:
        within.append(seconds)
        waits(self, seconds)

    monkeypatch.setattr(keeping.socket.socket, "settimeout", settimeout)
    for start in (lambda: first_keeper({"simulated": True}, tmp_path), lambda: Keeping({"simulated": True}, tmp_path)):
        with pytest.raises(NoKeeper):  # it is told too little of its bench
            start()
    first, again = within
    assert 40.0 <= first <= unit_s("TimeoutStartSec") - 10.0, "before the service manager gives up"
    assert again + keeping._OFF_WITHIN_S < unit_s("WatchdogSec"), "the daemon is deaf meanwhile"


def test_a_run_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "bench.json").mkdir()
    with pytest.raises(NoKeeper) as told:
        Keeping({}, tmp_path)
    assert str(told.value) == (
        f"{tmp_path / 'bench.json'}: cannot be written: Is a directory: mend that, or give --home DIR"
    )
    assert not (tmp_path / "bench.new").exists()
