"""The machine that runs the table: a loaded plan, pedals, orders and the keeper's reports in; bursts and records out.

What each entry of the table does is in `sheets`, `orders`, `lights` and `showing`, under the entry's own name.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from timerd.sheet import facts as fa
from timerd.sheet import refusal as no
from timerd.sheet.engine import lamps, rows, table
from timerd.sheet.engine.events import (
    NUMBERED,
    Action,
    BenchFails,
    Clear,
    Dark,
    Edge,
    Event,
    Fault,
    FoundDown,
    LampTurned,
    Lit,
    Load,
    Low,
    PluggedIn,
    Refused,
    Rest,
    SafelightEdge,
    Told,
    Unplugged,
    Wake,
)  # fmt: skip
from timerd.sheet.engine.feet import HOLD_S, THIRD, Contact
from timerd.sheet.engine.standing import BOTH_WARNED_S, Standing
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.reason import PedalsOut
from timerd.sheet.record import Progress


class Engine:
    """One bench's engine. `handle` takes what happened and the time now, and returns what to do, in order.

    `progress` is the account of the sheets so far (a fold over the book's records); a sheet in it that was left
    unfinished is offered. `plans` holds the plans of those sheets, as they were when armed; `batch` is a plan of which
    so many sheets are still to be done: it counts as loaded, if it is for this bench.
    """

    def __init__(
        self, bench: Bench, progress: Progress | None = None, plans: dict[int, Plan] | None = None,
        batch: tuple[Plan, int] | None = None,
    ) -> None:  # fmt: skip
        self.standing = Standing(bench, progress, plans, batch)

    def handle(self, event: Event, now: float) -> list[Action]:
        """Take in one event. What comes back is to be done in this order; the list is the caller's."""
        out: list[Action] = []
        self.standing.now, self.standing.out = now, out
        _HANDLERS[type(event)](self, event)
        return out

    def _act(self, move: table.Move, asked: Any, at: float) -> None:
        """What a foot or a command asks for. Once it is taken, what was refused before is told no more; nor is why the
        bench stood as it did, once it stands otherwise."""
        s = self.standing
        s.refusal = None
        state, why = s.state, s.reason
        move(s, asked, at)
        if s.refusal is None and s.state not in (state, rows.FAULT) and s.reason == why:
            s.reason = None

    def _moves(self) -> dict[str, table.Move]:
        return table.TABLE[self.standing.row]

    # -- from events to the table --------------------------------------------------------------------------------

    def _edge(self, event: Edge) -> None:
        s = self.standing
        contact = s.feet.contacts.get(event.pedal)
        if contact is None or contact.down == event.down:
            return
        if s.feet.both_at is not None and s.feet.both_at <= event.at:
            self._wake(Wake(event.at))  # held long enough before this edge, though nobody has looked since
        pressed, let_up, held = _TRIGGERS[contact.pedal]
        if event.down:
            s.seen = event.number
            s.feet.press(contact, event.at, s.visit)
            darkens = s.row in rows.DARKENING
            if darkens:
                s.feet.made_dark(contact, event.at, s.row in rows.OF_A_STEP)
            if not darkens and (why := self._too_soon(contact, event.at)) is not None:
                s.refuse(why, contact)
            elif contact.pedal == THIRD:
                self._third(contact, event.at, darkens)
            elif (move := self._moves().get(pressed)) is not None:
                self._act(move, contact, event.at)
            return
        stale = contact.deaf or contact.both or contact.found_down or contact.visit != s.visit
        if s.feet.let_up(contact, event.at):
            s.worn = contact.name
            s.write(fa.PedalWorn(contact.name), event.at)
            s.say("worn", event.at)
        if s.burst is not None:
            move = self._moves().get(let_up) if contact is s.starter else None
        elif stale:
            return
        else:
            move = self._moves().get(held) if event.at - contact.at >= HOLD_S else None
            move = move or self._moves().get(let_up)
        if move is not None:
            self._act(move, contact, event.at)

    def _too_soon(self, contact: Contact, at: float) -> no.Refusal | None:
        """Why a press that does not darken is not taken; None if it is not too soon."""
        s = self.standing
        pauses = contact.pedal == "go" or (contact.pedal == "end" and s.row == rows.PAUSED)
        if pauses and at < s.by_itself_until:
            return no.TooSoonAfterLight()
        held = s.row == rows.READY_HELD or (s.row == rows.PAUSED and s.step is not None and s.step.pedal != "press")
        quick = held or "go pressed" not in table.TABLE[s.row]
        return no.TooSoonAfterPress() if s.feet.too_soon(contact, at, quick) else None

    def _third(self, contact: Contact, at: float, darkens: bool) -> None:
        """The third pedal does what its bench says, unless it has just made dark."""
        s = self.standing
        contact.deaf = True
        if not darkens and (move := self._moves().get(f"told {s.bench.third}")) is not None:
            self._act(move, contact, at)

    def _told(self, event: Told) -> None:
        s = self.standing
        move = self._moves().get(f"told {event.what}")
        if move is None:
            s.refuse(no.NotNow(event.what, s.row))
        else:
            self._act(move, event if event.what in NUMBERED else None, event.at)

    def _found_down(self, event: FoundDown) -> None:
        s = self.standing
        s.feet.found_down(event.pedal, event.at)

    def _unplugged(self, event: Unplugged) -> None:
        """A pedal was pulled out: that is no let-up that could mean something."""
        s = self.standing
        if (contact := s.feet.contacts.get(event.pedal)) is not None:
            contact.deaf = True
        s.unplugged[event.pedal] = event.why
        if s.row != rows.FAULT:  # a fault's own reason stays
            s.reason = PedalsOut()
        s.write(fa.PedalUnplugged(event.pedal, event.why), event.at)

    def _plugged_in(self, event: PluggedIn) -> None:
        s = self.standing
        s.unplugged.pop(event.pedal, None)
        s.write(fa.PedalPluggedIn(event.pedal), event.at)

    def _lamp_turned(self, event: LampTurned) -> None:
        lamps.turned(self.standing, event)

    def _wake(self, event: Wake) -> None:
        s = self.standing
        if s.warm_told_at is not None and event.at >= s.warm_told_at:
            s.say("lamp warm", s.warm_told_at)
            s.warm_told_at = None
            if isinstance(s.refusal, no.LampWarmsUp):
                s.refusal = None
        if s.warn_at is not None and event.at >= s.warn_at:
            s.say("ten seconds left", s.warn_at)
            s.warn_at = None
        both_at = s.feet.both_at
        if both_at is None:
            return
        move = self._moves().get("both held")
        if event.at >= both_at:
            s.feet.both_acted()
            if move is not None:
                self._act(move, None, both_at)
        elif event.at >= both_at - BOTH_WARNED_S and s.both_warned != both_at:
            s.both_warned = both_at
            if move is not None:
                s.say("both held", event.at)

    def _safelight_edge(self, event: SafelightEdge) -> None:
        s = self.standing
        s.safelight_lit = event.lit
        s.write(fa.SafelightTurned(event.lit), event.at)

    def _reported(self, event: Lit | Dark | Refused | Fault | BenchFails | Low | Rest | Load | Clear) -> None:
        s = self.standing
        if isinstance(event, (Lit, Dark, Refused)) and event.burst != s.burst:
            return
        move = self._moves().get(_TRIGGER_OF[type(event)])
        if move is not None and isinstance(event, (Load, Clear)):
            self._act(move, event, event.at)
        elif move is not None:
            move(s, event, event.at)
        elif isinstance(event, Load):
            s.refuse(no.SheetUnderWay())
        elif isinstance(event, Clear):
            s.refuse(no.NoFault())


_TRIGGERS = {pedal: (f"{pedal} pressed", f"{pedal} let up", f"{pedal} held") for pedal in ("go", "end", THIRD)}
_TRIGGER_OF: dict[type, str] = {
    Lit: "lit", Dark: "dark", Refused: "refused", Fault: "fault", BenchFails: "fault", Low: "low", Rest: "rest",
    Load: "load", Clear: "clear",
}  # fmt: skip
_HANDLERS: dict[type, Callable[[Engine, Any], None]] = {
    Edge: Engine._edge, FoundDown: Engine._found_down, Unplugged: Engine._unplugged, PluggedIn: Engine._plugged_in,
    LampTurned: Engine._lamp_turned, Wake: Engine._wake, SafelightEdge: Engine._safelight_edge, Told: Engine._told,
    **dict.fromkeys(_TRIGGER_OF, Engine._reported),
}  # fmt: skip
