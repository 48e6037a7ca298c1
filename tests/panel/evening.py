"""A rehearsal as the panel hears it: the simulated bench's standing told as statuses, and played through an agenda."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from panel.telling import AT_REST

from timerd.bench.rehearsal import _Player
from timerd.bench.simulated import SimulatedBench
from timerd.panel.agenda import Agenda
from timerd.sheet.engine import events as ev
from timerd.sheet.engine.table import LEAD_IN, STATE_OF
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.feetfile import Feet
from timerd.sheet.profile.reading import Profile
from timerd.sheet.profile.sound import SoundSettings
from timerd.sheet.record import Record, StepProgress


class _Told:
    """Builds the daemon's status from what the engine was given and did."""

    def __init__(self, bench: SimulatedBench) -> None:
        self.standing = bench.engine.standing
        self.since = 0.0
        self.facts: dict[str, Any] = {}
        self.asked: dict[str, Any] = {}

    def take(self, event: ev.Event, actions: list[ev.Action]) -> None:
        if isinstance(event, ev.Dark):
            self.facts["dark"] = {"burst": event.burst, "at": event.at, "why": event.why}
        for action in actions:
            if isinstance(action, ev.Entered):
                self.since = action.at
            elif isinstance(action, ev.Say):
                self._count("said", action.at, what=action.what)
            elif isinstance(action, ev.Expose):
                self.asked = dict(action.message)
            elif isinstance(action, Record) and action.kind == "refused":
                self._count("refused", action.at, why=action.facts["why"])

    def _count(self, kind: str, at: float, **facts: Any) -> None:
        number = self.facts[kind]["number"] + 1 if kind in self.facts else 1
        self.facts[kind] = {"number": number, "at": at, **facts}

    def status(self, now: float) -> dict[str, Any]:
        s = self.standing
        safe, words = s.white_light
        sheet = s.sheet or s.progress.unfinished
        plan = s.plans[sheet.sheet] if sheet is not None else s.loaded
        step = s.step
        told = AT_REST | {
            "now": now, "state": s.state, "since": {"number": s.visit, "at": self.since},
            "print": plan.print if plan is not None else None, "plan": None if plan is None else f"{id(plan)}",
            "sheet": s.sheet.sheet if s.sheet is not None else None, "sheets_left": s.sheets_left,
            "step": step.n if step is not None else None, "reason": s.reason,
            "white_light": "safe" if safe else "not yet", "white_light_words": words, **self.facts,
        }  # fmt: skip
        if s.sheet is not None and step is not None:
            told |= _doses(s.sheet.steps[step.n])
            told["on_s"] = sum(off - on for on, off in s.sheet.steps[step.n].bursts)
        if s.sheet is None and sheet is not None:
            at_hand = sheet.steps.get(sheet.at_hand)
            doses = {"given": None, "given_lo": None, "owed": None} if at_hand is None else _doses(at_hand)
            told["unfinished"] = {"sheet": sheet.sheet, "step": sheet.at_hand if at_hand else None, **doses}
        if s.lit_at is not None:
            told["burst"] = {
                "burst": s.burst, "light": self.asked["light"], "lit": s.lit_at, "deadline": s.deadline,
            }  # fmt: skip
        elif STATE_OF[s.row] == LEAD_IN:
            told["lead_in"] = {
                "burst": s.burst, "light": self.asked["light"], "from": self.since, "at": self.asked["at"],
                "seconds": self.asked["seconds"],
            }  # fmt: skip
        return told


def _doses(step: StepProgress) -> dict[str, Any]:
    owed = None if step.planned is None else step.owed if step.under_way <= 0 else step.planned - step.given
    return {"given": step.given, "given_lo": step.given_lo, "owed": owed}


def told_by(bench: SimulatedBench) -> list[dict[str, Any]]:
    """A list that grows with each event that the bench's engine is given: how the bench stands then."""
    told = _Told(bench)
    found: list[dict[str, Any]] = [told.status(bench.now)]
    handle = bench.engine.handle

    def handled(event: ev.Event, now: float) -> list[ev.Action]:
        actions = handle(event, now)
        told.take(event, actions)
        found.append(told.status(now))
        return actions

    bench.engine.handle = handled  # type: ignore[method-assign]
    return found


def statuses(plan: Plan, bench: Bench, feet: Profile[Feet]) -> list[dict[str, Any]]:
    """Every status of a rehearsal, one after each event."""
    player = _Player(plan, bench, feet)
    found = told_by(player.bench)
    player.play()
    return found


def heard(
    told: list[dict[str, Any]], plan: Plan, settings: SoundSettings, spoken: Callable[[str], float | None]
) -> list[tuple[float, str]]:
    """All that an agenda gives out, each thing at the time that it has: sounds by name, words in quotes."""
    agenda = Agenda(settings, spoken)
    found: list[tuple[float, str]] = []

    def let_pass(until: float) -> None:
        while (due := agenda.next_at) is not None and due <= until:
            for sound in agenda.take(due, due):
                found.append((round(sound.at, 3), sound.sound if sound.words is None else f"'{sound.words}'"))

    for status in told:
        let_pass(status["now"])
        agenda.heard(status, plan)
        if agenda.words is not None:
            found.append((round(status["now"], 3), f"'{agenda.words}'"))
            agenda.words = None
    let_pass(told[-1]["now"] + 60.0)
    return found
