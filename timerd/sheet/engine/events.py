"""What goes into the engine and what comes out of it. Times are the keeper's monotonic seconds.

What the keeper reports goes in as it is, and what it is to be told comes out as it is sent (`timerd.wire.keeper`).
"""

from __future__ import annotations

from typing import NamedTuple

from timerd.sheet.plan.value import Plan
from timerd.sheet.reason import BenchFault
from timerd.sheet.record import Record
from timerd.wire.control import NUMBERED, ORDERS
from timerd.wire.keeper import (
    ClearLines,
    Cut,
    Dark,
    Edge,
    Expose,
    Fault,
    FoundDown,
    LampTurned,
    Lit,
    Low,
    PluggedIn,
    Refused,
    Report,
    Rest,
    SafelightEdge,
    StayOn,
    Unplugged,
)  # fmt: skip

__all__ = [
    "NUMBERED", "ORDERS", "Action", "AskKeeper", "BenchFails", "Clear", "ClearLines", "Cut", "Dark", "Edge", "Entered",
    "Event", "Expose", "Fault", "FoundDown", "LampTurned", "Lit", "Load", "Low", "PluggedIn", "Refused",
    "Rest", "SafelightEdge", "Say", "StayOn", "Told", "Unplugged", "Wake",
]  # fmt: skip

# -- events: what happened --------------------------------------------------------------------------------------


class BenchFails(NamedTuple):
    """The daemon itself has found that nothing may be lit: the book takes nothing, or the lines are not to be had."""

    fault: BenchFault
    at: float


class Wake(NamedTuple):
    """The time asked for by `wake_at` has come."""

    at: float


class Load(NamedTuple):
    """A plan for so many sheets is put on the bench; nothing is armed by it."""

    plan: Plan
    sheets: int
    at: float


class Clear(NamedTuple):
    """Somebody asks by command to clear the fault."""

    at: float


class Told(NamedTuple):
    """Something is asked for by command, or by a third pedal: one of ORDERS. `n` is a step's or a sheet's number.

    Nothing that is told lights anything.
    """

    what: str
    at: float
    n: int | None = None


Event = Report | BenchFails | Wake | Load | Clear | Told

# -- actions: what is to be done ----------------------------------------------------------------------------------


class Entered(NamedTuple):
    """The engine is in this state from now on, or in it anew with another step at hand."""

    state: str
    at: float


class Say(NamedTuple):
    """Something to be said again, or for the first time: `step`, `owed`, `given`, `fault`, `in the fixer`, `to the
    trays`, `set aside`, `to show`, `both held`, `ten seconds left`, `lamp warm`, `worn`."""

    what: str
    at: float


AskKeeper = Expose | StayOn | Cut | ClearLines
"""What the keeper is asked for: a burst; lamps that stay on; rest; rest, and that it forgets its fault."""
Action = Record | AskKeeper | Entered | Say
"""A record is to be written down; the rest is to be done."""
