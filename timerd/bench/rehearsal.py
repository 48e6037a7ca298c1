"""A rehearsal: a plan played on the simulated bench by scripted feet, in virtual time.

What comes out is the truth of the lines (every edge) and the records beside it, each found without the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

from timerd.bench.simulated import LineEdge, SimulatedBench
from timerd.sheet.engine import events as ev
from timerd.sheet.engine.feet import Contact
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import ProfileError
from timerd.sheet.profile.feetfile import Feet, Foot
from timerd.sheet.profile.reading import Profile
from timerd.sheet.record import Progress, Record
from timerd.sheet.session import Session
from timerd.sheet.trays.events import TrayCue

_BOUNCE_S = 0.0006
"""How far apart a bouncing contact's edges lie: forty of them fit in the lock-out."""


@dataclass(frozen=True)
class Rehearsed:
    """What happened: the lines' edges, the records, the states entered, what was said, the cues at the trays."""

    edges: tuple[LineEdge, ...]
    records: tuple[Record, ...]
    entered: tuple[tuple[str, float], ...]
    said: tuple[tuple[str, float], ...]
    cues: tuple[TrayCue, ...]
    progress: Progress
    seconds: float

    def as_json(self) -> dict[str, Any]:
        """The edges (to 1e-6 s) and sheets as others read them, what was said, and the records they rest on."""
        told = {
            "edges": [{"t": round(e.at, 6), "line": e.line, "on": e.lit} for e in self.edges],
            "sheets": [sheet.as_json() for sheet in self.progress.sheets.values()],
            "said": [{"t": round(at, 6), "what": what} for what, at in self.said],
            "records": [record.as_json() for record in self.records],
        }
        return told | {"cues": [cue.as_json() for cue in self.cues]} if self.cues else told


class Unplayed(ProfileError):
    """An entry of a feet file cannot be played; `so_far` is what happened until then."""

    def __init__(self, why: ProfileError, so_far: Rehearsed) -> None:
        super().__init__(why.faults)
        self.so_far = so_far


def rehearse(plan: Plan, bench: Bench, feet: Profile[Feet]) -> Rehearsed:
    """Play the feet on the plan. Raises Unplayed where an entry cannot be played: a state never entered, a time
    already past, a pedal that is still down or not there."""
    player = _Player(plan, bench, feet)
    try:
        player.play()
    except ProfileError as error:
        raise Unplayed(error, player.so_far()) from None
    return player.so_far()


class _Player:
    def __init__(self, plan: Plan, bench: Bench, feet: Profile[Feet]) -> None:
        self.plan = plan
        self.feet = feet
        self.bench = SimulatedBench(Session(bench))
        self.bench.event(ev.Load(plan, feet.value.sheets, 0.0))
        self.pressed_at = 0.0
        self.looked = 0

    def play(self) -> None:
        bench = self.bench
        for i, foot in enumerate(self.feet.value.feet):
            when = self._when(i, foot)
            bench.advance(when)
            self.looked = len(bench.entered)
            self.pressed_at = when
            self._act(i, foot)
        while (due := bench.next_due) is not None:
            bench.advance(due)

    def so_far(self) -> Rehearsed:
        bench = self.bench
        return Rehearsed(
            tuple(bench.lines.edges), tuple(bench.records), tuple(bench.entered), tuple(bench.said),
            tuple(bench.cues), bench.session.standing.progress, bench.now,
        )  # fmt: skip

    def _fault(self, i: int, key: str, message: str) -> ProfileError:
        return ProfileError([self.feet.fault(("feet", i, key), message)])

    def _when(self, i: int, foot: Foot) -> float:
        """When this entry is due; time passes while a state is waited for."""
        if foot.at is not None:
            if foot.at < self.pressed_at:
                raise self._fault(
                    i, "at", f"{foot.at:g} s is past: the entry before it came at {self.pressed_at:.3f} s"
                )
            return foot.at
        looked = self.looked
        while True:
            for state, at in self.bench.entered[looked:]:
                if state == foot.when:
                    return max(at, self.bench.now) + foot.after
            looked = len(self.bench.entered)
            due = self.bench.next_due
            if due is None:
                state, since = self.bench.entered[-1]
                raise self._fault(
                    i, "when", f"'{foot.when}' is never entered: the bench stays in '{state}' from {since:.3f} s on"
                )  # fmt: skip
            self.bench.advance(due)

    def _act(self, i: int, foot: Foot) -> None:
        bench = self.bench
        until = foot.until
        if foot.fault == "line stuck":
            line = self._line(i, foot)
            bench.lines.stuck.add(line)
            bench.at(self._later(i, until), partial(bench.line_free, line))
        elif foot.fault in ("lamp dead", "relay welded"):
            line = self._line(i, foot)
            bench.lamp_fails(line, foot.fault)
            bench.at(self._later(i, until), partial(bench.lamp_mended, line))
        elif foot.fault == "keeper killed":
            bench.kill_keeper()
        elif foot.fault == "pipe cut":
            bench.cut_pipe()
        elif foot.fault == "daemon stopped":
            bench.stop_daemon()
            bench.at(self._later(i, until), bench.resume_daemon)
        elif foot.fault == "pedal unplugged":
            self._unplug(i, foot)
        elif foot.do is not None:
            bench.event(ev.Told(foot.do, bench.now, foot.n))
        else:
            self._press(i, foot)

    def _line(self, i: int, foot: Foot) -> str:
        """The line of the lamp of the light that a fault is about."""
        if foot.light not in self.bench.bench.lights:
            raise self._fault(i, "light", f"the bench has no light '{foot.light}'")
        return f"lamp {self.bench.bench.lights[foot.light].lamp}"

    def _unplug(self, i: int, foot: Foot) -> None:
        bench, contact = self.bench, self._contact(i, foot)
        if contact in bench.unplugged:
            raise self._fault(i, "pedal", f"'{contact}' is unplugged already at {bench.now:.3f} s")
        bench.unplug(contact)
        if foot.until is not None:
            bench.at(self._later(i, foot.until), partial(bench.plug_in, contact))

    def _later(self, i: int, until: float | None) -> float:
        if until is None or until < self.bench.now:
            raise self._fault(i, "until", f"must not be before {self.bench.now:.3f} s, is {until}")
        return until

    def _press(self, i: int, foot: Foot) -> None:
        bench, contact = self.bench, self._contact(i, foot)
        if contact in bench.raw_down:
            raise self._fault(i, "pedal", f"'{contact}' is still down at {bench.now:.3f} s")
        if foot.found_down:
            bench.found_down(contact)
        else:
            self._edges(contact, True, bench.now, foot.bounce)
        self._edges(contact, False, bench.now + foot.down, foot.bounce)

    def _edges(self, contact: str, down: bool, at: float, bounce: int) -> None:
        """The contact changes, and changes back and forth `bounce` times more before it rests."""
        bench = self.bench
        for k in range(bounce + bounce % 2 + 1):
            level = down if k % 2 == 0 else not down
            bench.at(at + k * _BOUNCE_S, partial(bench.raw_edge, contact, level))
        if at <= bench.now:
            bench.advance(bench.now)

    def _contact(self, i: int, foot: Foot) -> str:
        """The pedal meant: at the station named, or one that serves the station where the sheet is."""
        named = [c for c in self._all_contacts() if c.pedal == foot.pedal]
        if foot.station is not None:
            if not (there := [c for c in named if c.station == foot.station]):
                raise self._fault(i, "station", f"no '{foot.pedal}' pedal is at '{foot.station}'")
            return there[0].name
        step = self.bench.session.standing.step or self.plan.steps[0]
        serving = [c for c in named if c.station == step.station] or [c for c in named if c.station is None]
        if not serving:
            raise self._fault(i, "pedal", f"no '{foot.pedal}' pedal serves the station '{step.station}'")
        return serving[0].name

    def _all_contacts(self) -> list[Contact]:
        return list(self.bench.session.standing.feet.contacts.values())
