"""How the bench stands, for a client to draw and sound by itself."""

from __future__ import annotations

import zlib
from typing import Any

from timerd.sheet.engine import events as ev
from timerd.sheet.engine.standing import Standing
from timerd.sheet.engine.table import IDLE_TO_SHOW, LEAD_IN, PAUSED_TO_SHOW, PROMPT, READY_TO_SHOW, STATE_OF
from timerd.sheet.facts import PressRefused
from timerd.sheet.plan.boxes import hint
from timerd.sheet.plan.value import Plan
from timerd.sheet.progress import SheetProgress, StepProgress
from timerd.sheet.record import Record
from timerd.sheet.refusal import facts_of
from timerd.sheet.telling import reason_words, white_light_words

TO_SHOW = {IDLE_TO_SHOW: "viewing light", READY_TO_SHOW: "paper-safe light", PAUSED_TO_SHOW: "paper-safe light"}
"""What the next press of `go` shows, in the rows in which it does."""


class Account:
    """Follows what the engine did, for what its standing alone does not say: what was last said, refused and given."""

    def __init__(self, standing: Standing) -> None:
        self._standing = standing
        self._entered_at = 0.0
        self._asked: dict[str, Any] = {}
        self._light: str | None = None
        self._dark: dict[str, Any] | None = None
        self._refused: dict[str, Any] | None = None
        self._refusals = 0
        self._said: dict[str, Any] | None = None
        self._plan: tuple[Plan, str] | None = None

    def take(self, event: ev.Event, actions: list[ev.Action]) -> None:
        """An event that the engine was given, and what came of it."""
        if isinstance(event, ev.Dark):
            self._dark = {"burst": event.burst, "at": event.at, "why": event.why}
        for action in actions:
            if isinstance(action, ev.Entered):
                self._entered_at = action.at
            elif isinstance(action, ev.Say):
                number = 1 if self._said is None else self._said["number"] + 1
                self._said = {"number": number, "what": action.what, "at": action.at}
            elif isinstance(action, ev.Expose):
                self._asked = dict(action.message)
            elif isinstance(action, Record) and isinstance(action.fact, PressRefused):
                self._refusals += 1
                self._refused = {"number": self._refusals, "at": action.at, **facts_of(action.fact.why)}
        if self._standing.refusal is None:
            self._refused = None

    @property
    def plan(self) -> Plan | None:
        """The plan of the sheet at hand or offered, else the one that is loaded."""
        standing = self._standing
        sheet = standing.sheet or standing.offer
        return standing.plans[sheet.sheet] if sheet is not None else standing.loaded

    @property
    def plan_id(self) -> str | None:
        """What tells that plan from another."""
        plan = self.plan
        if plan is None:
            return None
        if self._plan is None or self._plan[0] is not plan:
            self._plan = plan, f"{zlib.crc32(plan.model_dump_json().encode()):08x}"
        return self._plan[1]

    def status(self, now: float) -> dict[str, Any]:
        """What `timerd status --json` tells, but for what is the daemon's own to say.

        Times are monotonic seconds, doses seconds of full light; `step` is n in the plan.
        """
        s = self._standing
        spoils = s.white_light_spoils
        plan = self.plan
        step = s.step
        progress = s.sheet.steps[step.n] if s.sheet is not None and step is not None else None
        return {
            "now": now,
            "state": s.state,
            "since": {"number": s.visit, "at": self._entered_at},
            "print": plan.print if plan is not None else None,
            "plan": self.plan_id,
            "sheet": s.sheet.sheet if s.sheet is not None else None,
            "sheets_left": s.sheets_left,
            "step": step.n if step is not None else None,
            **_doses(progress),
            "steps": [_step(step) for step in s.sheet.steps.values()] if s.sheet is not None else None,
            **self._light_now(),
            "dark": self._dark,
            "white_light": "safe" if spoils is None else "not yet",
            "white_light_words": white_light_words(spoils),
            "goes_to": [{"sheet": number, "where": where} for number, where in s.goes_to.items()],
            "reason": reason_words(s.reason) if s.reason is not None else None,
            "unplugged": dict(s.unplugged),
            "worn": s.worn,
            "not_verified": [name for name, lamp in s.bench.lamps.items() if lamp.sense is None],
            "warming": _warming(s, now),
            "refused": self._refused,
            "said": self._said,
            "asks": list(s.asking) if s.state == PROMPT else None,
            "boxed": s.sheet.boxed if s.sheet is not None else None,
            "shows": TO_SHOW.get(s.row),
            "shown": s.shown if s.lit_at is not None else None,
            "unfinished": _offer(s.offer) if s.sheet is None else None,
            "aside": list(s.progress.aside),
            "damaged": list(s.progress.damaged.words.values()),
            "mind": [_damaged(sheet) for sheet in sorted(s.progress.damaged.words)] + _of_the_box(s),
        }

    def _light_now(self) -> dict[str, Any]:
        s, asked = self._standing, self._asked
        burst = lead_in = None
        if s.lit_at is not None:
            burst = {"burst": s.burst, "light": asked["light"], "lit": s.lit_at, "deadline": s.deadline}
        elif STATE_OF[s.row] == LEAD_IN:
            lead_in = {
                "burst": s.burst, "light": asked["light"], "from": self._entered_at, "at": asked["at"],
                "seconds": asked["seconds"],
            }  # fmt: skip
        return {"lead_in": lead_in, "burst": burst}


def _damaged(sheet: int) -> str:
    """A sheet that the book is damaged of, as it is shown and spoken."""
    what = f"sheet {sheet} is damaged in the book: it is not offered" if sheet else "a record of no sheet is damaged"
    return f"{what}. see book check"


def _of_the_box(s: Standing) -> list[str]:
    """Until the first sheet of a box that was not open before is begun: what to try with it."""
    words = hint(s.loaded) if s.loaded is not None and s.sheets_left and s.sheet is None else None
    return [] if words is None else [words]


def _warming(s: Standing, now: float) -> dict[str, Any] | None:
    return None if (warming := s.warming(now)) is None else {"lamp": warming[0], "until": warming[1]}


def _doses(step: StepProgress | None) -> dict[str, Any]:
    if step is None:
        return {"given": None, "given_lo": None, "owed": None, "on_s": None}
    on_s = sum((off - on for on, off in step.bursts), 0.0)
    return {"given": step.given, "given_lo": step.given_lo, "owed": _owed(step), "on_s": on_s}


def _owed(step: StepProgress) -> float | None:
    """What is still to be given, without the burst that burns now; None where no dose is planned."""
    if step.planned is None:
        return None
    return step.owed if step.under_way <= 0 else max(0.0, step.planned - step.given)


def _step(step: StepProgress) -> dict[str, Any]:
    return {"n": step.n, "given": step.given, "owed": _owed(step), "ended_by": step.ended_by}


def _offer(sheet: SheetProgress | None) -> dict[str, Any] | None:
    if sheet is None:
        return None
    step = sheet.steps.get(sheet.at_hand)
    return {
        "sheet": sheet.sheet,
        "step": sheet.at_hand if step is not None else None,
        "given_lo": step.given_lo if step is not None else None,
        "given": step.given if step is not None else None,
        "owed": _owed(step) if step is not None else None,
        "aside": sheet.boxed,
    }
