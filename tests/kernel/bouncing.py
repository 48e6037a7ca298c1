"""A real keeper on the chip's lines, the engine in this process, and feet on worn contacts. For `inside/` alone.

Each press is held to the kernel's own trace of the lamp's line: it means one thing, and no light burns but the one.
"""

from __future__ import annotations

import json
import select
import threading
import time
from collections.abc import Sequence
from pathlib import Path

from lines.keeper import RENEW_S, RealKeeper
from served import stand_still
from walks.bouncing import BENCH, Press, plan, press

from kernel.bench import Wired
from kernel.chip import Chip
from timerd.bench.contacts import LOCK_OUT_S
from timerd.sheet.engine import events as ev
from timerd.sheet.engine import rows
from timerd.sheet.engine.lights import HELD_LEAD_IN_S
from timerd.sheet.engine.machine import Engine
from timerd.sheet.record import Record
from timerd.wire.keeper import FROM_KEEPER, TO_KEEPER

LAMP = "lamp head"
CLEAR_S = 0.75
"""From here on a press is no longer too soon."""
LONGEST_S, WIDEST_S = 0.34, 0.18
"""A train that took longer, or in which the contact rested for longer, is none: the machine stood still meanwhile."""
SLOW = {"lease", "late", "its time is past", "go was pressed since"}
"""What came of a press only because this process stood still."""
TIMES = 20
"""So often a train is tried until it is one."""
LATE_S = 2.0


class Foot(threading.Thread):
    """One press, on a thread of its own; each of its edges came between `came` and `done`."""

    def __init__(self, wired: Wired, pedal: str, press: Press) -> None:
        super().__init__()
        self._wired, self._pedal, self._press = wired, pedal, press
        self.came: list[float] = []
        self.done: list[float] = []

    def run(self) -> None:
        begun = time.monotonic()
        for after, closes in self._press.edges:
            stand_still(begun + after - time.monotonic())
            self.came.append(time.monotonic())
            self._wired.foot(self._pedal, closes)
            self.done.append(time.monotonic())

    @property
    def left(self) -> float:
        """When the foot began to leave."""
        return self.came[len(self._press.down)]

    def is_a_train(self, held: bool) -> bool:
        """Whether the edges came as a contact's bounce does. Where it holds a light, bounce that is wider than the
        lock-out must be over before that comes: after that nobody can tell it from a foot."""
        down = len(self._press.down)
        widest = longest = 0.0
        for came, done in ((self.came[:down], self.done[:down]), (self.came[down:], self.done[down:])):
            widest = max([widest, *(later - at for at, later in zip(came, done[1:], strict=False))])
            longest = max(longest, done[-1] - came[0])
        too_late = held and widest >= LOCK_OUT_S and self.done[down - 1] - self.came[0] >= HELD_LEAD_IN_S
        return longest <= LONGEST_S and widest <= WIDEST_S and not too_late


class Worn:
    """A sheet out on a bench whose step at hand is a `press` or a `hold` one, 280 s long."""

    def __init__(self, chip: Chip, run: Path, kind: str) -> None:
        self.wired = Wired(chip, BENCH)
        self.kind = kind
        self.engine = Engine(BENCH)
        self.records: list[Record] = []
        self.keeper = RealKeeper(run, self.wired.facts)
        assert self.keeper.first["is"] == "keeping", self.keeper.first
        self._heard = 0
        self._handle(ev.Load(plan(kind, dose=280.0, lead_in=0.2), 1, time.monotonic()))
        self.foot("go", Press([0.0], 1.2, [0.0]))
        self.hear(CLEAR_S)
        self.foot("go", Press([0.0], 0.1, [0.0]))
        self.hear(CLEAR_S)

    # -- the daemon's part -------------------------------------------------------------------------------------------

    def _handle(self, event: ev.Event) -> None:
        for action in self.engine.handle(event, time.monotonic()):
            if isinstance(action, (ev.Expose, ev.StayOn, ev.Cut, ev.ClearLines)):
                self.keeper.send(TO_KEEPER.encode(action))
            elif isinstance(action, Record):
                self.records.append(action)

    def hear(self, seconds: float, foot: Foot | None = None) -> None:
        """Be the daemon for so long, or for as long as a foot moves and so long after it."""
        until = time.monotonic() + seconds
        renewed = 0.0
        while (now := time.monotonic()) < until or (foot is not None and foot.is_alive()):
            if foot is not None and foot.is_alive():
                until = now + seconds
            if now >= renewed + RENEW_S:
                self.keeper.send({"do": "renew"})
                renewed = now
            if (wake := self.engine.standing.wake_at) is not None and wake <= now:
                self._handle(ev.Wake(now))
            while select.select([self.keeper.pipe], [], [], 0.01)[0]:
                assert self.keeper.hear(), "the keeper has ended"
            while self._heard < len(self.keeper.reports):
                report = FROM_KEEPER.decode(json.dumps(self.keeper.reports[self._heard]).encode())
                self._heard += 1
                self._handle(report)  # type: ignore[arg-type]

    def foot(self, pedal: str, press: Press, after_s: float = 0.1) -> Foot:
        foot = Foot(self.wired, pedal, press)
        foot.start()
        self.hear(after_s, foot)
        foot.join()
        return foot

    # -- one press after another -------------------------------------------------------------------------------------

    def try_train(self, seed: int, wide: bool, pedal: str) -> None:
        """The train of that seed under one press; again where the machine stood still in it. A wide one under a held
        light is half as long."""
        which = seed // 2 if wide and self.kind == "hold" and pedal == "go" else seed
        for _ in range(TIMES):
            if self._meant_one_thing(press(which, wide, lambda pick: pick.uniform(0.4, 0.6)), pedal):
                return
        raise AssertionError(f"train {seed} never came within {LONGEST_S} s: this machine is too busy")

    def _meant_one_thing(self, bouncing: Press, pedal: str) -> bool:
        standing = self.engine.standing
        self.hear(CLEAR_S)
        assert standing.row in (rows.READY, rows.READY_HELD, rows.PAUSED), standing.row
        self.wired.chip.forget_trace()
        begun, follows = len(self.records), self.kind == "hold" and pedal == "go"
        if not follows:  # a light that is to be put out
            if self.kind == "press":
                self.foot("go", Press([0.0], 0.06, [0.0]), 0.3)
            else:
                self.wired.foot("go", True)
                self.hear(0.35)
            lit = standing.row in (rows.EXPOSING, rows.EXPOSING_HELD)
        foot = self.foot(pedal, bouncing, 0.2)
        if not follows and self.kind == "hold":
            self.wired.foot("go", False)
            self.hear(0.1)
        limit = time.monotonic() + LATE_S
        while standing.burst is not None and time.monotonic() < limit:  # what a busy machine hears late
            self.hear(0.05)
        ended = [r for r in self.records[begun:] if r.kind == "ended"]
        assert ended == [], f"one press of {pedal} ended a step: {bouncing}"
        whys = [r.facts["why"] for r in self.records[begun:] if r.kind in ("dark", "called off")]
        whys += [r.facts["why"] for r in self.records[begun:] if r.kind == "refused"]
        if not foot.is_a_train(held=follows) or SLOW & set(whys) or not (follows or lit):
            return False
        self._must_hold(bouncing, foot, self.records[begun:], follows)
        return True

    def _must_hold(self, bouncing: Press, foot: Foot, records: Sequence[Record], follows: bool) -> None:
        told = f"{foot.came}: {[(r.kind, r.at, r.facts) for r in records]}"
        changes = self.wired.changes().get(LAMP, [])
        assert [lit for _, lit in changes] == [True, False], f"lit again, or never: {told}"
        (dark,) = (r for r in records if r.kind == "dark")
        meant = foot.left if follows else foot.came[0]
        assert dark.facts["why"] == "pedal" and meant - 0.001 <= dark.at <= meant + LATE_S
        assert (self.engine.standing.row, self.wired.levels()[LAMP]) == (rows.PAUSED, False), told
        refused = {r.facts["why"] for r in records if r.kind == "refused"}
        # a bounce of a held foot may be over before its light was asked for: then the keeper refuses it
        assert follows or refused <= {"too soon after press"}, f"{refused}: {told}"

    def close(self) -> None:
        self.keeper.close()


CASES = (("press", "go"), ("press", "end"), ("hold", "go"), ("hold", "end"))


def play(chip: Chip, run: Path, seeds: Sequence[int]) -> int:
    """Every seed's train, in turn on either pedal and on either kind of step, half of them wider than the lock-out; how
    many were played."""
    played = 0
    for kind in ("press", "hold"):
        folder = run / kind
        folder.mkdir()
        chip.forget()
        worn = Worn(chip, folder, kind)
        try:
            for n, seed in enumerate(seeds):
                of, pedal = CASES[n % len(CASES)]
                if of == kind:
                    worn.try_train(seed, n % 8 >= 4, pedal)
                    played += 1
        finally:
            worn.close()
    return played
