"""A rehearsal as the panel hears it: the simulated bench's standing told as statuses, and played through an agenda."""

from __future__ import annotations

import json
from collections.abc import Callable

from timerd.bench.rehearsal import _Player
from timerd.bench.simulated import SimulatedBench
from timerd.panel.agenda import Agenda
from timerd.sheet.engine import events as ev
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.feetfile import Feet
from timerd.sheet.profile.reading import Profile
from timerd.sheet.profile.sound import SoundSettings
from timerd.sheet.session import Outcome
from timerd.sheet.status import Status, status_json, status_of
from timerd.sheet.trays import events as tr


def told_by(bench: SimulatedBench) -> list[Status]:
    """A list that grows with each event that the bench's engine is given: how the daemon would tell its standing."""
    session = bench.session
    handle = session.handle
    found: list[Status] = []

    def tell(now: float) -> None:
        found.append(status_of(json.loads(json.dumps(status_json(session.status(now))))))

    def handled(event: ev.Event | tr.Event, now: float) -> list[Outcome]:
        outcomes = handle(event, now)
        tell(now)
        return outcomes

    session.handle = handled  # type: ignore[method-assign]
    tell(bench.now)
    return found


def statuses(plan: Plan, bench: Bench, feet: Profile[Feet]) -> list[Status]:
    """Every status of a rehearsal, one after each event."""
    player = _Player(plan, bench, feet)
    found = told_by(player.bench)
    player.play()
    return found


def heard(
    told: list[Status], plan: Plan, settings: SoundSettings, spoken: Callable[[str], float | None]
) -> list[tuple[float, str]]:
    """All that an agenda gives out, each thing at the time that it has: sounds by name, words in quotes."""
    agenda = Agenda(settings, spoken)
    found: list[tuple[float, str]] = []

    def let_pass(until: float) -> None:
        while (due := agenda.next_at) is not None and due <= until:
            for sound in agenda.take(due, due):
                found.append((round(sound.at, 3), sound.sound if sound.words is None else f"'{sound.words}'"))

    for status in told:
        let_pass(status.now)
        agenda.heard(status, plan)
        if agenda.words is not None:
            found.append((round(status.now, 3), f"'{agenda.words}'"))
            agenda.words = None
    let_pass(told[-1].now + 60.0)
    return found
