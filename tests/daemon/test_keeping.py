"""Starting a keeper: how long is waited for it, and what is said where that cannot be."""

from __future__ import annotations

import re
import socket
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from lines.keeper import bench

from timerd.bench.setup import to_keep
from timerd.daemon import keeping
from timerd.daemon.keeping import Keeping, NoKeeper, first_keeper
from timerd.wire.keeper import Here, Low

UNIT = (Path(__file__).parents[2] / "firmware" / "raspberrypi" / "timerd.service").read_text()

NOTHING = replace(to_keep(bench(), simulated=True, book="book", boot="boot"), wiring={})


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
    for start in (lambda: first_keeper(NOTHING, tmp_path), lambda: Keeping(NOTHING, tmp_path)):
        with pytest.raises(NoKeeper):  # it is told too little of its bench
            start()
    first, again = within
    assert 40.0 <= first <= unit_s("TimeoutStartSec") - 10.0, "before the service manager gives up"
    assert again + keeping._OFF_WITHIN_S < unit_s("WatchdogSec"), "the daemon is deaf meanwhile"


@pytest.mark.parametrize("said", [b"{}", b'{"is": "lit"}', b'{"is": "no lines", "why": "gone"}', b"\xff"])
def test_a_keeper_that_says_what_is_no_report_is_there_no_more(tmp_path: Path, said: bytes) -> None:
    """What it said before is heard; it is ended then, as one that has died, by whoever asked."""
    kept = Keeping(to_keep(bench(), simulated=True, book="book", boot="boot"), tmp_path)
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    ours.setblocking(False)
    with theirs, ours:
        for datagram in (b'{"is": "here"}', b'{"is": "low", "at": 1.5}', said, b'{"is": "here"}'):
            theirs.send(datagram)
        pipe, kept._pipe = kept._pipe, ours
        assert kept.reports() == ([Here(), Low(1.5)], False)
    kept._pipe = pipe
    assert kept.end()


def test_a_run_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "bench.json").mkdir()
    with pytest.raises(NoKeeper) as wrong:
        Keeping(NOTHING, tmp_path)
    assert str(wrong.value) == (
        f"{tmp_path / 'bench.json'}: cannot be written: Is a directory: mend that, or give --home DIR"
    )
    assert not (tmp_path / "bench.new").exists()
