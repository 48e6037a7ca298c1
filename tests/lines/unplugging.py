"""Held bursts of a real keeper's process, and a foot switch that is pulled out in the middle of each."""

from __future__ import annotations

import random
import select
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from lines.foot_switch import A, FootSwitch
from lines.keeper import RealKeeper, bench
from timerd.bench.note import read_note
from timerd.bench.setup import to_keep
from timerd.sheet.profile.benchfile import Bench

PROGRAM = (str(Path(__file__).with_name("usb_keeper.py")),)
CUTS = ["go", "end", "third"]
BURST_S = 1.0
LONGEST_WAIT_S = 0.3


class Pulled(NamedTuple):
    """One burst: how long after the plug the line went low, and what the keeper's report and note make of its length
    beside what the line did (seconds)."""

    after_s: float
    report_off_s: float
    note_off_s: float
    why: str


def keeper_with_switch(run: Path, look_every_s: float | None = None, of: Bench | None = None) -> RealKeeper:
    """A keeper of the bench that comes along for it; the folder of its switches is `run`/input."""
    (run / "input").mkdir(exist_ok=True)
    more = {} if look_every_s is None else {"LOOK_EVERY_S": str(look_every_s)}
    facts = to_keep(bench("by-feel") if of is None else of, simulated=False, book="book", boot="boot")
    return RealKeeper(run, facts, PROGRAM, more)


def hold(keeper: RealKeeper, switch: FootSwitch, seconds: float = BURST_S) -> float:
    """Put the foot down and have the light on while it stays; when it was lit. A busy machine may ask too late."""
    switch.key(A, 1)
    keeper.until("pedal")
    for _ in range(20):
        keeper.expose(at=time.monotonic() + 0.03, seconds=seconds, while_down="go", cut_on=CUTS, cues=[])
        said = keeper.until("lit", "refused")
        if said["is"] == "lit":
            return float(said["at"])
        assert said["why"] == "its time is past", said
    raise AssertionError("this machine is too busy to ask for a light in time")


def pull(keeper: RealKeeper, switch: FootSwitch, dice: random.Random) -> Pulled:
    """One held burst, the plug pulled at a random instant of it, and put in again."""
    known = len(keeper.truth())
    lit = hold(keeper, switch)
    keeper.send({"do": "renew"})
    wait(lit + dice.uniform(0.0, LONGEST_WAIT_S))
    at = switch.unplug()
    dark = keeper.until("dark")
    green = [edge for edge in keeper.truth()[known:] if edge.line == "lamp head-green"]
    assert [edge.lit for edge in green] == [True, False], green
    true_s = green[1].at - green[0].at
    noted = read_note(keeper.run)
    assert noted is not None and noted.lit is not None and noted.dark is not None and noted.burst == keeper.burst
    switch.plug_in()
    keeper.until("plugged in")
    return Pulled(green[1].at - at, dark["at"] - lit - true_s, noted.dark - noted.lit - true_s, dark["why"])


def wait(until: float) -> None:
    """Let the time come: the burst runs meanwhile."""
    while (left := until - time.monotonic()) > 0:
        select.select([], [], [], left)


def pull_often(run: Path, seed: int, times: int, tell: Callable[[Pulled], None], look_every_s: float = 0.05) -> None:
    """So many bursts on one keeper, each pulled at an instant of the seed's choosing. One that was over before this
    process came to pull, on a machine that stood still, is done again."""
    dice = random.Random(seed)
    with keeper_with_switch(run, look_every_s) as keeper:
        switch = FootSwitch(run / "input")
        keeper.until("plugged in")
        done = 0
        while done < times:
            one = pull(keeper, switch, dice)
            if one.after_s >= 0 or one.why not in ("deadline", "lease"):
                tell(one)
                done += 1
        switch.close()
