"""How the bench stands, for whoever shows, sounds or tells it: codes and numbers. The words are in `telling`.

Times are monotonic seconds of the daemon's machine, doses seconds of full light; a step is its n in the plan. A key is
added here and filled by the daemon, and nowhere else: made-up statuses take its default.

`timerd status --json` (and each line of `--follow --json`): an object with, among others, `state`, `sheet`, `step` (n
in the plan), `given` and `owed` (doses of the step at hand, without the burst that burns now; `given_lo` lower after
a power cut), `on_s` (its seconds on so far), `steps`, `lead_in: {from, at, seconds} | null`, `burst: {light, lit,
deadline} | null`, `dark: {at, why} | null` (how the last burst ended), `white_light` (`safe` or `not yet`) and
`white_light_spoils` (which sheet, and `where` that is), `goes_to` (the sheets of which a press of `go` at done or in
idle says that they are at the `trays` or in the `fixer`), `boxed` (why the sheet at hand lies in its box, until it is
out), `reason`, `refused` and `said` (each with a number that grows, so that the same one twice is told twice;
`refused` until the next press or command that is taken), `unfinished` (the sheet on offer), `trays` (`stacks`, the
one due next first, each with `sheets`, `bath`, `to`, `what` is due and `at` when; `cues`, the last 16, numbered, each
`what` with its `bath`, `to` and `seconds`; `safelight`, a sum for each sheet that is out), `damaged` (what is wrong
in the book, a line each), `mind` (what is shown and said in idle: of that, of paper from a new box, and of `copies:
{to, last, wrong} | null`), `unplugged` (pedals, each with why), `worn` (the contact that was last told to be worn),
`warming: {lamp, until} | null`, `not_verified` (lamps without a sense input), `scheduling`, `ink` (why the book takes
nothing, if so), `now`. Whatever is a reason is a code under `why` with its fields beside it: `{"why": "went dark",
"how": "lease"}`; `sheet/telling` has the words. Times are monotonic seconds of this machine. `{"do": "plan"}` gives
the plan itself whenever `plan` (its id) changes.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from timerd.sheet.reason import BenchFault, CopyTrouble, InkTrouble, Mind, Reason
from timerd.sheet.refusal import NotSafe, Refusal
from timerd.wire.codec import Malformed, Value, as_json, later, left_out, may_lack, read_as


class Since(Value):
    """The row of the table that is stood at: how many were before it, and from when on."""

    number: int
    at: float


class StepStands(Value):
    """A step of the sheet at hand: what it was given and is owed (None: no dose is planned), and what ended it."""

    n: int
    given: float = 0.0
    owed: float | None = None
    ended_by: str | None = None


class LeadIn(Value):
    """A light is about to come on: at `at`, for so many `seconds`."""

    burst: int
    light: str
    from_: float
    at: float
    seconds: float


class LightOn(Value):
    """A light burns; without a deadline until a press."""

    burst: int
    light: str
    lit: float
    deadline: float | None


class LightOff(Value):
    """How the last burst ended: the keeper's code."""

    burst: int
    at: float
    why: str


class GoesTo(Value):
    """A press of `go` says that the sheet is there: `trays` or `fixer`."""

    sheet: int
    where: str


class Warming(Value):
    """A lamp that is not warm yet."""

    lamp: str
    until: float


class NotTaken(Value):
    """The press or order that was refused last."""

    number: int
    at: float
    why: Refusal | str


class LastSaid(Value):
    """What was last to be said or sounded: a code."""

    number: int
    what: str
    at: float


class Offered(Value):
    """The sheet that is offered, at its step with what that was given; `aside` says why it was set aside, if it was."""

    sheet: int
    step: int | None = None
    given_lo: float | None = None
    given: float | None = None
    owed: float | None = None
    aside: str | None = None


class Rocking(Value):
    """How a bath is rocked."""

    every_s: float
    for_s: float


class StackStands(Value):
    """Sheets that move together, in `bath`, next `to`: `what` is due (`into`, `drain`, `move`, `boxed`), and when."""

    sheets: tuple[int, ...]
    bath: str | None
    to: str | None
    since: float
    what: str
    at: float | None
    move_at: float | None
    celsius: float | None
    agitate: Rocking | None
    waits_for_press: bool
    approximate: bool


class SafelightSeen(Value):
    """What a sheet has seen of the safelight, of what it is allowed."""

    sheet: int
    seconds: float
    safe_s: float | None
    allowed_s: float | None
    margin: str | None
    at_most: bool
    approximate: bool = left_out(False)


class CueTold(Value):
    """A cue from the trays, as `trays.events.Cue` has it; `text` is what a daemon from before there were codes told."""

    number: int
    what: str
    at: float
    bath: str = later("")
    to: str = later("")
    seconds: float = later(0.0)
    why: Refusal | str | None = later(None)
    soft: bool = False
    sheets: tuple[int, ...] = ()
    text: str | None = left_out(None)


class TraysStand(Value):
    """The trays: the stack that is due next first, and the last cues."""

    stacks: tuple[StackStands, ...] = ()
    by_press: bool = False
    safelight: tuple[SafelightSeen, ...] = ()
    safelight_lit: bool = True
    cues: tuple[CueTold, ...] = ()


class CopyMade(Value):
    """The last copy of the book that this daemon made."""

    file: str
    records: int


class CopiesStand(Value):
    """Where copies go, and what came of them."""

    to: str
    last: CopyMade | None
    wrong: CopyTrouble | str | None


class Status(Value, kw_only=True):
    """How the bench stands; this module tells of each key. What is None is not, or is not known."""

    bench: str = ""
    simulated: bool = False
    scheduling: str = ""
    ink: InkTrouble | str | None = None
    now: float
    state: str = "idle"
    since: Since
    print: str | None = None
    plan: str | None = None
    sheet: int | None = None
    sheets_left: int = 0
    step: int | None = None
    given: float | None = None
    given_lo: float | None = None
    owed: float | None = None
    on_s: float | None = None
    steps: tuple[StepStands, ...] | None = None
    lead_in: LeadIn | None = None
    burst: LightOn | None = None
    dark: LightOff | None = None
    white_light_spoils: NotSafe | str | None = None
    goes_to: tuple[GoesTo, ...] = ()
    reason: Reason | str | None = None
    unplugged: Mapping[str, str] = may_lack({}, default_factory=dict)
    worn: str | None = later(None)
    not_verified: tuple[str, ...] = later(())
    warming: Warming | None = later(None)
    refused: NotTaken | None = None
    said: LastSaid | None = None
    asks: tuple[str, ...] | None = None
    boxed: str | None = None
    shows: str | None = None
    shown: str | None = None
    unfinished: Offered | None = None
    aside: tuple[int, ...] = ()
    damaged: tuple[str, ...] = later(())
    mind: tuple[Mind | str, ...] = later(())
    trays: TraysStand | None = later(None)
    copies: CopiesStand | None = later(None)

    @property
    def white_safe(self) -> bool:
        """Whether white light spoils nothing."""
        return self.white_light_spoils is None

    @property
    def fault(self) -> BenchFault | str | None:
        """What is wrong, in the state `fault`; None where that is not told."""
        return self.reason if isinstance(self.reason, BenchFault | str) else None


# -- to and from JSON --------------------------------------------------------------------------------------------------

_SPOILS = "white_light_spoils"


def status_json(status: Status) -> dict[str, Any]:
    """The status as it goes over the socket."""
    told: dict[str, Any] = {"ok": True, "is": "status"}
    for name, value in as_json(status).items():
        if name == _SPOILS:
            told["white_light"] = "safe" if value is None else "not yet"
        told[name] = value
    return told


def status_of(told: Mapping[str, Any]) -> Status:
    """The status that came over the socket. Raises Malformed for what is missing or no such value; keys of later
    versions are passed over.

    >>> told = status_json(Status(now=2.0, since=Since(3, 1.5), sheets_left=4))
    >>> status_of({**told, "from the future": 1}).sheets_left
    4
    >>> status_of({**told, "since": {"number": "three", "at": 1.5}})
    Traceback (most recent call last):
    timerd.wire.codec.Malformed: since: number: no whole number
    """
    if told.get("white_light") not in ("safe", "not yet"):
        raise Malformed("white_light: neither safe nor not yet")
    spoils = told.get(_SPOILS)
    if told["white_light"] == "not yet" and spoils is None:  # a daemon from before there were codes
        spoils = told.get("white_light_words", "not yet")
    return read_as(Status, {**told, _SPOILS: spoils}, exact=False)
