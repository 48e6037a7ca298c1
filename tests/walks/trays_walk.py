"""Random bath lines, sheets, presses, temperatures, lights and restarts at the trays; what must never happen.

The times are found again from the records alone: the bath's own seconds are the integral of its speed over the
temperatures that were entered, counted in small steps.
"""

from __future__ import annotations

import bisect
import math
import random
from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from sheet.trays.evening import Evening

from timerd.sheet.profile.bathfile import Bath
from timerd.sheet.record import Record
from timerd.sheet.trays import events as ev
from timerd.sheet.trays.stays import Stays
from timerd.sheet.trays.timeline import HANDS

MOST_SHEETS = 8
APART_S = 5.0
FRESH_S = 30.0
"""What was said longer ago is forgotten."""


def random_line(pick: random.Random) -> dict[str, Any]:
    """A bath line that a file could have."""
    kinds = ["developer"] * pick.choice((1, 1, 1, 2)) + ["stop bath"] * pick.choice((0, 1, 1))
    kinds += ["fixer"] * pick.choice((1, 2)) + pick.choice(([], ["wash"], ["rinse", "hypo clear", "wash"]))
    baths = []
    for i, kind in enumerate(kinds):
        seconds = round(pick.choice((pick.uniform(6, 30), pick.uniform(30, 240))), 1)
        drain = pick.choice((0.0, 0.0, 5.0, round(pick.uniform(2, 20), 1)))
        outside = pick.random() < 0.3 or drain >= seconds
        baths.append({
            "name": f"bath-{i}", "kind": kind, "seconds": seconds, "drain_s": drain,
            "drain": "outside" if outside else "inside", "per_degree": pick.choice((0.0, 0.08, 0.1)),
            "agitate": pick.choice((None, None, {"every_s": 5.0}, {"every_s": 30.0, "for_s": 5.0})),
            "factor": 6.0 if kind == "developer" and pick.random() < 0.3 else None,
            "capacity": pick.choice((None, {"fibre": 3.0})),
        })  # fmt: skip
    return {"bath": "walk", "carry_s": pick.choice((0.0, 10.0)), "cues": pick.choice(("wait", "softly")),
            "develop": pick.choice(("at once", "at once", "together")), "baths": baths}  # fmt: skip


class TraysWalk:
    """One evening; `friendly` ones have no light, no restart and no press, so that every time must hold."""

    def __init__(self, seed: int) -> None:
        self.pick = random.Random(seed)
        self.friendly = seed % 3 == 0
        self.by_press = not self.friendly and seed % 2 == 0
        self.evening = Evening(random_line(self.pick), self.by_press, end_there=self.pick.random() < 0.5)
        self.baths = [Bath.model_validate(bath) for bath in self.evening.line["baths"]]
        self.burnt: list[tuple[float, bool]] = [(0.0, False)]
        self.restarts: list[float] = []
        self.sent = 0

    def step(self) -> None:
        """One thing happens, some time later."""
        pick, evening = self.pick, self.evening
        at = evening.now + pick.choice((0.0, 0.3, 2.0, 5.0, 9.9, pick.uniform(0, 40), pick.uniform(0, 120)))
        what = pick.randrange(10)
        if what < 3 and self.sent < MOST_SHEETS:
            self.sent += 1
            evening.send(self.sent, at, boxed=evening.line["develop"] == "together")
        elif what == 3:
            evening.temperature(at, pick.choice(self.baths).name, round(pick.uniform(17, 25), 1))
        elif what == 4:
            evening.until(at)
            self._command(at)
        elif what < 7 and not self.friendly:
            self._disturb(at)
        elif self.by_press:
            evening.press(at, pick.choice(("go", "go", "go", "end")))
        else:
            evening.until(at)
        self.check()

    def _command(self, at: float) -> None:
        evening = self.evening
        boxed = [stay for stay in evening.trays.stays.of.values() if stay.boxed]
        if boxed and self.pick.random() < 0.7:
            evening.event(ev.Start(at))
        elif not self.friendly and evening.trays.stays.of and self.pick.random() < 0.1:
            evening.event(ev.TakeOut(self.pick.choice(list(evening.trays.stays.of)), at))

    def _disturb(self, at: float) -> None:
        """A light begins or ends, or the daemon dies and comes back."""
        if self.pick.random() < 0.3:
            self.evening.until(at)
            if self.burnt[-1][1]:
                self._burns(at, False)
            self.restarts.append(at)
            self.evening.restarted(at + self.pick.choice((0.0, 0.05, 3.0, 100.0)))
        else:
            self._burns(at, not self.burnt[-1][1])

    def _burns(self, at: float, burns: bool) -> None:
        self.burnt.append((at, burns))
        self.evening.burns(at, burns)

    def finish(self) -> None:
        """Everything comes to its end: no light, all boxes opened, a press wherever one is waited for."""
        evening = self.evening
        if self.burnt[-1][1]:
            self._burns(evening.now + 1.0, False)
        for _ in range(1000):
            if any(stay.boxed for stay in evening.trays.stays.of.values()):
                evening.event(ev.Start(evening.now))
            if not evening.trays.visits:
                break
            if self.by_press:
                lift = evening.trays.visits[0].lift_at
                evening.press(max(evening.now + 1.0, lift if lift is not None else 0.0))
            else:
                evening.until(evening.trays.wake_at or evening.now)
        assert not evening.trays.visits, "a sheet never left the trays"
        self.check_order()
        self.check_times()
        self.check_together()
        self.check_light()

    # -- what must always be true ----------------------------------------------------------------------------------

    def check(self) -> None:
        """The live account is the fold over the records: so a restart loses nothing."""
        trays = self.evening.trays
        fold = Stays(self.evening.plans, self.by_press, self.evening.records)
        assert {n: asdict(stay) for n, stay in fold.of.items()} == {n: asdict(s) for n, s in trays.stays.of.items()}
        wake = trays.wake_at
        assert wake is None or wake > self.evening.now - 1e-9
        assert sorted(sheet for visit in trays.visits for sheet in visit.sheets) == sorted(trays.stays.of)

    def check_order(self) -> None:
        """No bath is ever skipped: each sheet went into each in turn, out of it, and out of the baths at the end."""
        names = [bath.name for bath in self.baths]
        for sheet in self.evening.plans:
            mine = [record for record in self.evening.records if record.sheet == sheet]
            went = [(r.kind, r.facts["bath"]) for r in mine if r.kind in ("in bath", "out of bath")]
            by_hand = any(r.kind == "out of the baths" and r.facts["by"] == "command" for r in mine)
            wanted = [(kind, name) for name in names for kind in ("in bath", "out of bath")]
            assert went == (wanted[: len(went)] if by_hand else wanted)
            assert len(went) % 2 == 0 and mine[-1].kind == "out of the baths"
            stops = [record for record in mine if record.kind == "stop bath"]
            developers = sum(bath.kind == "developer" for bath in self.baths)
            assert len(stops) == (len(went) > 2 * developers)

    def check_times(self) -> None:
        """Planned times, found again from the temperatures; and actual ones, where nobody was kept from hearing."""
        temperatures: dict[str, list[tuple[float, float]]] = {}
        for record in self.evening.records:
            if record.kind == "temperature":
                temperatures.setdefault(record.facts["bath"], []).append((record.at, record.facts["celsius"]))
        for went_in, came_out, emerged in self._visits():
            bath = next(bath for bath in self.baths if bath.name == went_in.facts["bath"])
            facts = came_out.facts
            assert math.isclose(facts["actual_s"], came_out.at - went_in.at, abs_tol=1e-9)
            assert math.isclose(facts["late_s"], facts["actual_s"] - facts["planned_s"], abs_tol=1e-9)
            outside = bath.drain_s if bath.drain == "outside" else 0.0
            end = went_in.at + facts["planned_s"] - outside
            if emerged is not None:
                assert math.isclose(facts["planned_s"], 6.0 * emerged + outside, abs_tol=1e-6)
            elif facts["by"] != "command":
                told = [(at, celsius) for at, celsius in temperatures.get(bath.name, []) if at <= came_out.at]
                drain_s = max(0.0, bath.drain_s - outside)
                if any(end - 2 * drain_s - 1 < at <= came_out.at for at, _ in told):
                    continue  # entered about when it was lifted: whether before or after is the machine's to say
                worked = _worked(bath, told, went_in.at, end)
                assert abs(worked - bath.seconds) < 0.1, (bath, worked)
            if self.friendly:
                assert abs(facts["late_s"]) <= 0.1, "nothing kept it from its time"

    def _visits(self) -> list[tuple[Record, Record, float | None]]:
        """Each sheet in each bath: its going in, its coming out, and when the image was said to show."""
        open_: dict[int, tuple[Record, float | None]] = {}
        found = []
        for record in self.evening.records:
            if record.kind == "in bath":
                open_[record.sheet] = record, None
            elif record.kind == "bath time" and "emerged_s" in record.facts:
                open_[record.sheet] = open_[record.sheet][0], record.facts["emerged_s"]
            elif record.kind == "out of bath":
                went_in, emerged = open_.pop(record.sheet)
                found.append((went_in, record, emerged))
        return found

    def check_together(self) -> None:
        """Where two sheets needed hands, or one a hand and one rocking, within 5 s: it was said before the second.

        But for a sheet that came to the trays, was moved by a press, or was given another time only after the other one
        was done with.
        """
        cues = self.evening.cues
        needs = sorted((cue.at, cue) for cue in cues if cue.what in HANDS or cue.what == "agitate")
        said = [(cue.at, set(cue.sheets)) for cue in cues if cue.what == "together"]
        during = self._during()
        for i, (a, one) in enumerate(needs):
            for b, other in needs[i + 1 :]:
                if b - a > APART_S:
                    break
                if set(one.sheets) & set(other.sheets) or (one.what == "agitate" and one.bath == other.bath):
                    continue
                over = a if one.what == "agitate" else during(one)[1]
                if over <= max(during(other)[0], self._planned_at(other)) + 1e-9:
                    continue
                if b == a and during(other)[1] <= during(one)[0]:  # the one came at the instant at which the other went
                    continue
                pair = {one.sheets[0], other.sheets[0]}
                rocking = one.what == other.what == "agitate"  # said once for all the time that they lie there
                earliest = max(during(one)[0], during(other)[0]) - FRESH_S if rocking else a - FRESH_S
                assert any(earliest <= at <= b + 1e-9 and pair <= sheets for at, sheets in said), (one, other, said)

    def _planned_at(self, cue: ev.TrayCue) -> float:
        """When the time at which a cue was told was last changed, in a bath of its sheet."""
        changed = (r.at for r in self.evening.records if r.kind == "bath time" and r.sheet == cue.sheets[0])
        return max((at for at in changed if at <= cue.at), default=0.0)

    def _during(self) -> Callable[[ev.TrayCue], tuple[float, float]]:
        """When the visit began and ended in which a cue was told; a cue that ends its visit belongs to that."""
        times: dict[int, list[float]] = {}
        for record in self.evening.records:
            if record.kind in ("to trays", "in bath", "out of the box", "out of the baths"):
                times.setdefault(record.sheet, []).append(record.at)

        def during(cue: ev.TrayCue) -> tuple[float, float]:
            mine = [*times[cue.sheets[0]], math.inf]
            ends_it = cue.what in ("drain", "move") or (cue.what == "into" and not self.by_press)
            before = bisect.bisect_left if ends_it else bisect.bisect_right
            if mine.count(cue.at) > 1:  # it came and went on at once
                return cue.at, cue.at
            i = max(1, before(mine, cue.at))
            return mine[i - 1], mine[i]

        return during

    def check_light(self) -> None:
        """While a light burned no cue was heard, or only softly, as the line says."""
        rule = self.evening.line["cues"]
        for cue in self.evening.cues:
            burning = [burns for at, burns in self.burnt if at < cue.at - 1e-9][-1:] == [True]
            ends_here = any(-1e-9 <= at - cue.at <= 0.1 and not burns for at, burns in self.burnt)  # told then
            if burning and not ends_here:
                assert rule == "softly" and cue.soft, cue


def _worked(bath: Bath, told: list[tuple[float, float]], begin: float, end: float) -> float:
    """How many of its own seconds a bath has worked from `begin` to `end`, in steps of 20 ms."""
    step, at, worked = 0.02, begin, 0.0
    while at < end:
        length = min(step, end - at)
        now = [celsius for when, celsius in told if when <= at + length / 2]
        celsius = now[-1] if now else bath.at_c
        worked += length * math.exp(bath.per_degree * (celsius - bath.at_c))
        at += length
    return worked


def walk(seed: int, steps: int = 60) -> TraysWalk:
    """A seeded walk to its end."""
    evening = TraysWalk(seed)
    for _ in range(steps):
        evening.step()
    evening.finish()
    return evening
