"""What goes into the engine and what comes out of it. Times are the keeper's monotonic seconds."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from timerd.sheet.plan.value import Plan
from timerd.sheet.reason import LinesLost, NoInk
from timerd.sheet.record import Record

# -- events: what happened --------------------------------------------------------------------------------------


class Edge(NamedTuple):
    """A pedal went down or came up: the keeper's debounced edge, with its own time and number."""

    pedal: str
    down: bool
    at: float
    number: int


class FoundDown(NamedTuple):
    """A pedal was down already when the keeper started: it starts nothing until it has been let up."""

    pedal: str
    at: float


class Lit(NamedTuple):
    burst: int
    at: float


class Dark(NamedTuple):
    """The only thing that ends a burst, whatever asked for it. Where nobody saw it, that was between `lo` and `at`."""

    burst: int
    at: float
    why: str
    lo: float | None = None


class Refused(NamedTuple):
    """The keeper did not take a burst."""

    burst: int
    why: str
    at: float


class Fault(NamedTuple):
    """The keeper has darkened everything and will light nothing until the fault is cleared."""

    why: str
    at: float


class NothingGoes(NamedTuple):
    """The daemon itself can light nothing any more, until the fault is cleared: there is no ink, or there are no
    lines."""

    why: NoInk | LinesLost
    at: float


class Low(NamedTuple):
    """A line that would not go low reads low at last."""

    at: float


class Rest(NamedTuple):
    """The keeper's answer to a cut in a fault: whether every line reads low."""

    low: bool
    at: float


class Unplugged(NamedTuple):
    """A pedal is there no more, and `why`, in words: its contact counts as up."""

    pedal: str
    why: str
    at: float


class PluggedIn(NamedTuple):
    """A pedal is there again."""

    pedal: str
    at: float


class LampTurned(NamedTuple):
    """A lamp that stays on behind its shutter came on, or went off."""

    lamp: str
    on: bool
    at: float


class SafelightEdge(NamedTuple):
    lit: bool
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


ORDERS = (
    "say", "arm", "skip", "end", "abandon", "step", "owe", "set aside", "take up", "give up", "tray", "view", "rest",
)  # fmt: skip
NUMBERED = ("step", "owe", "take up", "give up")
"""Orders that name a step, or a sheet."""

Pedalled = Edge | FoundDown | Unplugged | PluggedIn
Reported = Lit | Dark | Refused | Fault | NothingGoes | Low | Rest | LampTurned | SafelightEdge
Event = Pedalled | Reported | Wake | Load | Clear | Told

# -- actions: what is to be done ----------------------------------------------------------------------------------


class Expose(NamedTuple):
    """Ask the keeper for a burst; the fields are the message's own."""

    message: Mapping[str, Any]


class StayOn(NamedTuple):
    """Ask the keeper to have exactly these lamps on behind their shutters."""

    lamps: tuple[str, ...]


class Cut(NamedTuple):
    """Ask the keeper for rest: lights out, safelight on."""


class ClearLines(NamedTuple):
    """Ask the keeper for rest, and to forget its fault if every line reads low."""


class Entered(NamedTuple):
    """The engine is in this state from now on, or in it anew with another step at hand."""

    state: str
    at: float


class Say(NamedTuple):
    """Something to be said again, or for the first time: `step`, `owed`, `given`, `fault`, `in the fixer`, `to the
    trays`, `set aside`, `to show`, `both held`, `ten seconds left`, `lamp warm`, `worn`."""

    what: str
    at: float


Action = Record | Expose | StayOn | Cut | ClearLines | Entered | Say
"""A record is to be written down; the rest is to be done."""
