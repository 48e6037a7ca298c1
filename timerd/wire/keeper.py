"""What the keeper is told, and what it reports: one JSON object a datagram, taken whole or not at all.

The engine asks for lights by these messages and is given these reports as they are: between a foot and a line nothing
has two forms. Times are monotonic seconds of this machine.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Any, NamedTuple, get_args

from timerd.wire.codec import Codec, Value, left_out

LONGEST_MESSAGE = 4096
MOST_PULSES = 20_000
STAY = "stay "
"""What the name of the line begins with that keeps a lamp on behind its shutter."""


# -- what it is told when it starts ------------------------------------------------------------------------------


class Setup(Value):
    """A bench's lines and limits.

    `lights` gives each light its line (a lamp), `longest_s` each line its limit in seconds, `views` the lights that
    may be shown to look at, for at most `view_s`; `pedals` are the contacts, those at the trays left out of
    `darkens`. `stay` gives each shutter's line the line of its lamp, which stays on behind it; `cues` says whether
    there is a cue line; `senses` gives the lines of lamps that something sees the name of that input.
    """

    lights: Mapping[str, str]
    longest_s: Mapping[str, float]
    pedals: tuple[str, ...]
    darkens: frozenset[str]
    views: frozenset[str] = frozenset()
    view_s: float = 600.0
    safelight: bool = True
    stay: Mapping[str, str] = field(default_factory=dict)
    cues: bool = False
    senses: Mapping[str, str] = field(default_factory=dict)


class KeepBench(Value):
    """All that a keeper is told when it starts: a bench's rules, which pin or key each line and contact is on, and
    whether they are simulated. `book` and `boot` go into its note, so that a later reader knows whose bursts it speaks
    of, and whether its times are of the present boot. `chip` is known once it has the lines."""

    rules: Setup
    wiring: Mapping[str, Any]
    simulated: bool
    book: str
    boot: str
    chip: int | None = left_out(None)


# -- what it is told ---------------------------------------------------------------------------------------------


class Pulses(NamedTuple):
    """So many `times` a pulse of `seconds`, `every` so many seconds; the first `at` from light on (below 0: before)."""

    at: float
    every: float
    times: int
    seconds: float


class SafelightDark(Value):
    """The safelight goes `dark` at that time, and is not put on after a burst's end that is named in `stays`."""

    dark: float
    stays: tuple[str, ...]


class Expose(Value):
    """A burst asked for: which light, from when, for how long, and what cuts it.

    `while_down` is the contact that must stay down; `safelight` None leaves that as it is. `seen` is the last press
    that the engine knew. `view` is for a light to look at, with its own limit. `cues` are the pulses of the cue line,
    where there is one.
    """

    burst: int
    light: str
    at: float
    seconds: float
    cut_on: tuple[str, ...]
    while_down: str | None
    safelight: SafelightDark | None
    seen: int
    view: bool
    cues: tuple[Pulses, ...] = left_out(())


class Renew(Value):
    """The daemon is alive; a light may burn on, but not past `until` where that is said."""

    until: float | None = left_out(None)


class StayOn(Value, word="stay"):
    """Exactly these stay lines are to be `on`: the lamps behind shutters."""

    on: tuple[str, ...]


class Cut(Value):
    """To rest: lights out, safelight on."""


class ClearLines(Value, word="clear"):
    """To rest, and forget the fault if every line reads low."""


Message = Expose | Renew | StayOn | Cut | ClearLines


def stay_on(*lamps: str) -> StayOn:
    """Exactly these lamps are to be on behind their shutters."""
    return StayOn(tuple(f"{STAY}{lamp}" for lamp in lamps))


def _can_be_pulsed(message: Message) -> bool:
    """Whether the cue line's pulses are no more than a person could count."""
    cues = message.cues if isinstance(message, Expose) else ()
    return sum(row.times for row in cues) <= MOST_PULSES and all(
        row.every >= 0 and 0 < row.seconds < 1e4 for row in cues
    )


TO_KEEPER: Codec[Message] = Codec("do", get_args(Message), LONGEST_MESSAGE, _can_be_pulsed)


# -- what it reports ---------------------------------------------------------------------------------------------


class HasLines(Value, word="keeping"):
    """The keeper has the lines. `chip` is the number of the chip that they are on, where it is known."""

    scheduling: str
    factory: str
    chip: int | None


class LacksLines(Value, word="no lines"):
    """It could not get them, and ends."""

    why: str


class Here(Value):
    """The answer to any message."""


class Edge(Value, word="pedal"):
    """A pedal went down or came up: the keeper's debounced edge, with its own time and number."""

    pedal: str
    down: bool
    at: float
    number: int


class FoundDown(Value):
    """A pedal was down already when the keeper started: it starts nothing until it has been let up."""

    pedal: str
    at: float


class Unplugged(Value):
    """A pedal is there no more, and `why`, in words: its contact counts as up."""

    pedal: str
    why: str
    at: float


class PluggedIn(Value):
    """A pedal is there again."""

    pedal: str
    at: float


class LampTurned(Value, word="stay"):
    """A lamp that stays on behind its shutter came on, or went off: what its stay line does."""

    line: str
    on: bool
    at: float

    @property
    def lamp(self) -> str:
        return self.line.removeprefix(STAY)


class Lit(Value):
    burst: int
    at: float


class Dark(Value):
    """The only thing that ends a burst, whatever asked for it. Where nobody saw it, that was between `lo` and `at`."""

    burst: int
    at: float
    why: str
    lo: float | None = left_out(None)


class Refused(Value):
    """The keeper did not take a burst: why, as a code, and `what` it was."""

    burst: int
    why: str
    at: float
    what: str | None = left_out(None)


class Fault(Value):
    """The keeper has darkened everything and will light nothing until the fault is cleared. `high` are the lines that
    do not go low, where that is it."""

    why: str
    at: float
    high: tuple[str, ...] = left_out(())


class Low(Value):
    """A line that would not go low reads low at last."""

    at: float


class Rest(Value):
    """The keeper's answer to a cut with nothing burning: whether every line reads low."""

    at: float
    low: bool


class SafelightEdge(Value, word="safelight"):
    lit: bool
    at: float


Report = (
    Edge | FoundDown | Unplugged | PluggedIn | LampTurned | Lit | Dark | Refused | Fault | Low | Rest | SafelightEdge
)
"""What happened at the bench."""

FROM_KEEPER: Codec[HasLines | LacksLines | Here | Report] = Codec("is", [HasLines, LacksLines, Here, *get_args(Report)])
