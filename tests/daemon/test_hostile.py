"""A fixed part of tests/measure/socket_messages.py: hostile talk at a real daemon's socket changes nothing."""

from __future__ import annotations

from served import Served
from served.hostile import PAPER, TWELVE, Hostile, resident_kib, talk

from timerd.bench.pretended import PretendedFoot


def test_hostile_talk_lights_nothing_changes_nothing_and_costs_nothing(served: Served) -> None:
    served.start()
    served.load(TWELVE, PAPER)
    hostile = Hostile(served, seed=7)
    talk(served, hostile, 600, 200)
    served.arm()
    warm = None
    for _ in range(2):
        talk(served, hostile, 300, 150)
        assert served.daemon is not None
        now = resident_kib(served.daemon.pid), resident_kib(served.keeper_pid)
        assert warm is None or all(b - a < 2048 for a, b in zip(warm, now, strict=True))
        warm = now
    foot = PretendedFoot(served.run)
    foot.put("go", True)
    served.state("exposing")
    assert served.lit_lamps() == {"lamp flasher"}, "a lamp that is lit is seen where none was"
    foot.put("go", False)
    foot.close()
    assert served.stop() == ""
