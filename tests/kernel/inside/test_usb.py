"""USB foot switches as the kernel gives them: their keys, the plug pulled and put in, and that no other reads them."""

from __future__ import annotations

import os
import re
import select
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from firmware.machine import SOURCE
from kernel.bench import Wired
from kernel.chip import Chip
from kernel.foot_switch import A, B, FootSwitch
from lines.keeper import RealKeeper, bench

GREEN = "lamp head-green"
PEDALS = ["go", "end", "third"]
GROUP = 12345
AS_A_MEMBER = """
import ctypes, os, sys
os.setgroups([int(sys.argv[1])])
for right in range(64):  # what root has beside its name
    ctypes.CDLL(None).prctl(24, right, 0, 0, 0)
os.execv(sys.executable, [sys.executable, *sys.argv[2:]])
"""
WRITES_A_KEY = """
import os, struct, sys
device = os.open(sys.argv[1], os.O_WRONLY)
for kind, number, value in ((1, int(sys.argv[2]), 1), (0, 0, 0)):
    os.write(device, struct.pack("@llHHi", 0, 0, kind, number, value))
"""


@pytest.fixture
def wired(chip: Chip) -> Wired:
    """A bench whose lamps are on the chip's lines and whose pedals are keys."""
    return Wired(chip, bench("by-feel"))


@pytest.fixture
def switch() -> Iterator[FootSwitch]:
    switch = FootSwitch()
    yield switch
    switch.unplug()


def test_keys_are_pedals(switch: FootSwitch, wired: Wired, tmp_path: Path) -> None:
    with RealKeeper(tmp_path, wired.facts) as keeper:
        assert keeper.first["is"] == "keeping", keeper.first
        keeper.expose(seconds=60.0, cut_on=PEDALS)
        keeper.until("lit")
        before = time.monotonic()
        switch.key(B, True)
        after = time.monotonic()
        press, dark = keeper.until("pedal"), keeper.until("dark")
        assert (press["pedal"], press["down"], dark["why"]) == ("end", True, "pedal")
        assert before <= press["at"] <= after, "stamped by the kernel, as it happened"
        switch.key(B, False)
        while keeper.until("pedal")["down"]:
            pass
        assert [r["pedal"] for r in keeper.reports if r["is"] == "pedal"] == ["end", "end"]
    assert [lit for _, lit in wired.changes()[GREEN]] == [True, False]


def test_a_foot_that_is_down_at_the_start(switch: FootSwitch, wired: Wired, tmp_path: Path) -> None:
    switch.key(A, True)
    with RealKeeper(tmp_path, wired.facts) as keeper:
        assert keeper.until("found down")["pedal"] == "go"
        switch.key(A, False)
        assert keeper.until("pedal")["down"] is False


def test_what_a_foot_types_goes_to_nobody_else(switch: FootSwitch, wired: Wired, tmp_path: Path) -> None:
    (event,) = Path("/dev/input").glob("event*")
    other = os.open(event, os.O_RDONLY | os.O_NONBLOCK)
    switch.key(A, True)
    switch.key(A, False)
    assert select.select([other], [], [], 5)[0], "without a keeper it types"
    while select.select([other], [], [], 0)[0]:
        os.read(other, 4096)
    with RealKeeper(tmp_path, wired.facts) as keeper:
        switch.key(A, True)
        assert keeper.until("pedal")["pedal"] == "go"
        assert not select.select([other], [], [], 0)[0]
    os.close(other)


def test_a_held_light_goes_out_with_the_plug_and_comes_again_with_it(wired: Wired, tmp_path: Path) -> None:
    """The kernel lets every key go of a device that is pulled out: it may be dark for that, before it is unplugged."""
    switch = FootSwitch()
    with RealKeeper(tmp_path, wired.facts) as keeper:
        switch.key(A, True)
        keeper.until("pedal")
        keeper.expose(seconds=60.0, cut_on=PEDALS, while_down="go")
        keeper.until("lit")
        pulled = time.monotonic()
        switch.unplug()
        dark = keeper.until("dark")
        assert dark["why"] in ("pedal", "unplugged")
        (_, _), (off, lit) = wired.changes()[GREEN]
        assert not lit and pulled <= off <= dark["at"]
        keeper.until("unplugged")
        switch = FootSwitch()
        assert {keeper.until("plugged in")["pedal"] for _ in PEDALS} == set(PEDALS)
        keeper.expose(cut_on=PEDALS)
        assert keeper.until("dark")["why"] == "deadline"
        switch.unplug()


def test_without_a_switch_nothing_is_lit(wired: Wired, tmp_path: Path) -> None:
    with RealKeeper(tmp_path, wired.facts) as keeper:
        told = [keeper.until("unplugged") for _ in PEDALS]
        assert {(r["pedal"], r["why"]) for r in told} == {(name, "is unplugged") for name in PEDALS}
        keeper.expose(cut_on=PEDALS)
        assert keeper.until("refused")["why"] == "no pedal left"
    assert wired.changes() == {}


def test_a_member_of_its_group_hears_the_switch_and_is_no_foot_on_it(
    switch: FootSwitch, wired: Wired, tmp_path: Path
) -> None:
    """By the mode of the installer's rule: the keeper is in the group, and so is whoever operates the bench."""
    mode = re.search(r'#PEDAL .*MODE="(0[0-7]+)"', (SOURCE / "udev.rules").read_text())
    assert mode is not None
    (event,) = Path("/dev/input").glob("event*")
    os.chown(event, 1, GROUP)
    os.chmod(event, int(mode[1], 8))
    keeper_as_member = ("-c", AS_A_MEMBER, str(GROUP), "-m", "timerd.bench.loop")
    with RealKeeper(tmp_path, wired.facts, program=keeper_as_member) as keeper:
        assert keeper.first["is"] == "keeping", keeper.first
        writer = [sys.executable, "-c", AS_A_MEMBER, str(GROUP), "-c", WRITES_A_KEY, str(event), str(A)]
        written = subprocess.run(writer, capture_output=True, text=True)
        assert "Permission denied" in written.stderr
        switch.key(B, True)
        assert keeper.until("pedal", "unplugged")["pedal"] == "end", "the first that it heard of, and no unplugging"
