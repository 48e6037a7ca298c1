"""The machine that runs the table: a loaded plan, pedals and the keeper's reports in; bursts and records out.

What each entry of the table does is in `sheets` and `lights`, under the entry's own name.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from timerd.sheet.engine import lights, sheets, table
from timerd.sheet.engine.events import (
    Action,
    Cut,
    Dark,
    Edge,
    Entered,
    Event,
    Fault,
    FoundDown,
    Lit,
    Load,
    Low,
    Refused,
    Rest,
    SafelightEdge,
    Say,
    Wake,
)  # fmt: skip
from timerd.sheet.engine.feet import HOLD_S, Contact, Feet
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.record import Progress, Record, SheetProgress, StepProgress

BOTH_WARNED_S = 1.0
"""Both pedals held are warned of so long before they act."""


class Engine:
    """One bench's engine. `handle` takes what happened and the time now, and returns what to do, in order.

    `progress` is the account of the sheets so far (a fold over the book's records); a sheet in it that was left
    unfinished is offered. `plans` holds the plans of those sheets, as they were when armed.
    """

    def __init__(self, bench: Bench, progress: Progress | None = None, plans: dict[int, Plan] | None = None) -> None:
        self.bench = bench
        self.progress = progress or Progress()
        self.plans = dict(plans or {})
        self.feet = Feet(bench)
        self.loaded: Plan | None = None
        self.sheets_left = 0
        self.sheet: SheetProgress | None = None
        self.reason: str | None = None
        self.burst: int | None = None
        self.lit_at: float | None = None
        self.deadline: float | None = None
        self.visit = 0
        self.last_burst = self.progress.last_burst
        self.seconds = 0.0
        self.starter: Contact | None = None
        self.seen = 0
        self.by_itself_until = float("-inf")
        self.unverified: tuple[int, int, float, float] | None = None
        self.clear_asked = False
        self.both_warned: float | None = None
        self.warn_at: float | None = None
        self.safelight_lit = True
        self.out: list[Action] = []
        self.now = 0.0
        self.row = self.idle_row()
        self.moves = _MOVES[self.row]

    # -- what others may ask -------------------------------------------------------------------------------------

    @property
    def state(self) -> str:
        """One of the nine states."""
        return table.STATE_OF[self.row]

    @property
    def wake_at(self) -> float | None:
        """When a `Wake` is due, if nothing happens before: both pedals held, or a warning."""
        both_at, warn_at = self.feet.both_at, self.warn_at
        if both_at is not None:
            both_at -= 0.0 if self.both_warned == both_at else BOTH_WARNED_S
            return both_at if warn_at is None else min(both_at, warn_at)
        return warn_at

    @property
    def step(self) -> Step | None:
        """The step at hand of the sheet on the bench."""
        if self.sheet is None:
            return None
        steps = self.plans[self.sheet.sheet].steps
        n = self.sheet.at_hand
        return steps[n - 1] if n <= len(steps) else None

    @property
    def white_light(self) -> tuple[bool, str]:
        """Whether white light is safe, and the words for it."""
        out = self.progress.sheets_out
        return (False, f"not yet: sheet {out[-1]} is out") if out else (True, "safe")

    def handle(self, event: Event, now: float) -> list[Action]:
        """Take in one event. What comes back is to be done in this order; the list is the caller's."""
        self.now = now
        out: list[Action] = []
        self.out = out
        _HANDLERS[type(event)](self, event)
        return out

    # -- from events to the table --------------------------------------------------------------------------------

    def _edge(self, event: Edge) -> None:
        contact = self.feet.contacts.get(event.pedal)
        if contact is None or contact.down == event.down:
            return
        pressed, let_up, held = _TRIGGERS[contact.pedal]
        if event.down:
            self.seen = event.number
            self.feet.press(contact, event.at, self.visit)
            if event.at < self.by_itself_until and contact.pedal == "go" and self.row not in table.DARKENING:
                self.refuse("too soon after the light went out", contact)
            elif (move := self.moves.get(pressed)) is not None:
                move(self, contact, event.at)
            return
        stale = contact.deaf or contact.both or contact.found_down or contact.visit != self.visit
        self.feet.let_up(contact)
        if self.burst is not None:
            move = self.moves.get(let_up) if contact is self.starter else None
        elif stale:
            return
        else:
            move = self.moves.get(held) if event.at - contact.at >= HOLD_S else None
            move = move or self.moves.get(let_up)
        if move is not None:
            move(self, contact, event.at)

    def _found_down(self, event: FoundDown) -> None:
        self.feet.found_down(event.pedal, event.at)

    def _wake(self, event: Wake) -> None:
        if self.warn_at is not None and event.at >= self.warn_at:
            self.say("ten seconds left", self.warn_at)
            self.warn_at = None
        both_at = self.feet.both_at
        if both_at is None:
            return
        move = self.moves.get("both held")
        if event.at >= both_at:
            self.feet.both_acted()
            if move is not None:
                move(self, None, both_at)
        elif event.at >= both_at - BOTH_WARNED_S and self.both_warned != both_at:
            self.both_warned = both_at
            if move is not None:
                self.say("both held", event.at)

    def _safelight_edge(self, event: SafelightEdge) -> None:
        self.safelight_lit = event.lit
        self.write("safelight", event.at, lit=event.lit)

    def _reported(self, event: Lit | Dark | Refused | Fault | Low | Rest | Load) -> None:
        if isinstance(event, (Lit, Dark, Refused)) and event.burst != self.burst:
            return
        move = self.moves.get(_TRIGGER_OF[type(event)])
        if move is not None:
            move(self, event, event.at)
        elif isinstance(event, Load):
            self.refuse("a sheet is under way: nothing is loaded")

    # -- small things --------------------------------------------------------------------------------------------

    def write(self, kind: str, at: float, step: int = 0, burst: int = 0, **facts: Any) -> None:
        record = Record(kind, at, self.sheet.sheet if self.sheet is not None else 0, step, burst, facts)
        self.progress.apply(record)
        self.out.append(record)

    def refuse(self, why: str, contact: Contact | None = None) -> None:
        """Nothing happens, and the printer is told why. A press that was refused is used up."""
        self.reason = why
        if contact is not None:
            contact.deaf = True
        step = self.sheet.at_hand if self.sheet is not None else 0
        at = self.now if contact is None or not contact.down else contact.at
        self.write("refused", at, step, pedal=contact.name if contact is not None else None, why=why)

    def other_is_down(self, contact: Contact | None) -> bool:
        """Nothing starts while another pedal is down; the refusal names it."""
        other = self.feet.other_down(contact.name if contact is not None else None)
        if other is not None:
            self.refuse(f"{other.name} is down", contact)
        return other is not None

    def enter(self, row: str, at: float, stay_dark: bool = False) -> None:
        said = table.STATE_OF[row] != table.IDLE or table.STATE_OF[self.row] != table.IDLE
        self.row = row
        self.moves = _MOVES[row]
        self.visit += 1
        if said:
            self.out.append(Entered(table.STATE_OF[row], at))
        if not (self.safelight_lit or stay_dark or row in _MAY_BE_DARK):
            self.out.append(Cut())

    def say(self, what: str, at: float) -> None:
        self.out.append(Say(what, at))

    def idle_row(self) -> str:
        return table.IDLE if self.progress.unfinished is None else table.UNFINISHED

    def to_idle(self, at: float) -> None:
        self.sheet = None
        self.enter(self.idle_row(), at)

    def hands(self) -> tuple[SheetProgress, Step, StepProgress]:
        """The sheet, the step at hand and its progress; only asked for where a sheet is under way."""
        sheet = self.sheet
        assert sheet is not None
        n = sheet.at_hand
        return sheet, self.plans[sheet.sheet].steps[n - 1], sheet.steps[n]


_TRIGGERS = {pedal: (f"{pedal} pressed", f"{pedal} let up", f"{pedal} held") for pedal in ("go", "end")}
_TRIGGER_OF: dict[type, str] = {
    Lit: "lit", Dark: "dark", Refused: "refused", Fault: "fault", Low: "low", Rest: "rest", Load: "load",
}  # fmt: skip
_MAY_BE_DARK = frozenset(
    {table.LEAD_IN, table.LEAD_IN_HELD, table.EXPOSING, table.EXPOSING_HELD, table.PAUSED, table.FAULT}
)
_Move = Callable[[Engine, Any, float], None]
_MOVES: dict[str, dict[str, _Move]] = {
    row: {trigger: getattr(lights, name, None) or getattr(sheets, name) for trigger, name in moves.items()}
    for row, moves in table.TABLE.items()
}
_HANDLERS: dict[type, Callable[[Engine, Any], None]] = {
    Edge: Engine._edge, FoundDown: Engine._found_down, Wake: Engine._wake, SafelightEdge: Engine._safelight_edge,
    **dict.fromkeys(_TRIGGER_OF, Engine._reported),
}  # fmt: skip
