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

from collections.abc import Callable, Mapping
from dataclasses import MISSING, Field, dataclass, field, fields, is_dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from timerd.sheet.codes import codes_of, facts_of
from timerd.sheet.reason import BenchFault, CopyTrouble, InkTrouble, Mind, Reason
from timerd.sheet.refusal import NotSafe, Refusal

_LATER = {"later": True}
"""Of a key that older daemons do not tell."""
_IF_TOLD = {"later": True, "if told": True}
"""Of one that stands there only where it says something."""


@dataclass(frozen=True, slots=True)
class Since:
    """The row of the table that is stood at: how many were before it, and from when on."""

    number: int
    at: float


@dataclass(frozen=True, slots=True)
class StepStands:
    """A step of the sheet at hand: what it was given and is owed (None: no dose is planned), and what ended it."""

    n: int
    given: float = 0.0
    owed: float | None = None
    ended_by: str | None = None


@dataclass(frozen=True, slots=True)
class LeadIn:
    """A light is about to come on: at `at`, for so many `seconds`."""

    burst: int
    light: str
    from_: float
    at: float
    seconds: float


@dataclass(frozen=True, slots=True)
class LightOn:
    """A light burns; without a deadline until a press."""

    burst: int
    light: str
    lit: float
    deadline: float | None


@dataclass(frozen=True, slots=True)
class LightOff:
    """How the last burst ended: the keeper's code."""

    burst: int
    at: float
    why: str


@dataclass(frozen=True, slots=True)
class GoesTo:
    """A press of `go` says that the sheet is there: `trays` or `fixer`."""

    sheet: int
    where: str


@dataclass(frozen=True, slots=True)
class Warming:
    """A lamp that is not warm yet."""

    lamp: str
    until: float


@dataclass(frozen=True, slots=True)
class NotTaken:
    """The press or order that was refused last."""

    number: int
    at: float
    why: Refusal | str


@dataclass(frozen=True, slots=True)
class LastSaid:
    """What was last to be said or sounded: a code."""

    number: int
    what: str
    at: float


@dataclass(frozen=True, slots=True)
class Offered:
    """The sheet that is offered, at its step with what that was given; `aside` says why it was set aside, if it was."""

    sheet: int
    step: int | None = None
    given_lo: float | None = None
    given: float | None = None
    owed: float | None = None
    aside: str | None = None


@dataclass(frozen=True, slots=True)
class Rocking:
    """How a bath is rocked."""

    every_s: float
    for_s: float


@dataclass(frozen=True, slots=True)
class StackStands:
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


@dataclass(frozen=True, slots=True)
class SafelightSeen:
    """What a sheet has seen of the safelight, of what it is allowed."""

    sheet: int
    seconds: float
    safe_s: float | None
    allowed_s: float | None
    margin: str | None
    at_most: bool
    approximate: bool = field(default=False, metadata=_IF_TOLD)


@dataclass(frozen=True, slots=True)
class CueTold:
    """A cue from the trays, as `trays.events.Cue` has it; `text` is what a daemon from before there were codes told."""

    number: int
    what: str
    at: float
    bath: str = field(default="", metadata=_LATER)
    to: str = field(default="", metadata=_LATER)
    seconds: float = field(default=0.0, metadata=_LATER)
    why: Refusal | str | None = field(default=None, metadata=_LATER)
    soft: bool = False
    sheets: tuple[int, ...] = ()
    text: str | None = field(default=None, metadata=_IF_TOLD)


@dataclass(frozen=True, slots=True)
class TraysStand:
    """The trays: the stack that is due next first, and the last cues."""

    stacks: tuple[StackStands, ...] = ()
    by_press: bool = False
    safelight: tuple[SafelightSeen, ...] = ()
    safelight_lit: bool = True
    cues: tuple[CueTold, ...] = ()


@dataclass(frozen=True, slots=True)
class CopyMade:
    """The last copy of the book that this daemon made."""

    file: str
    records: int


@dataclass(frozen=True, slots=True)
class CopiesStand:
    """Where copies go, and what came of them."""

    to: str
    last: CopyMade | None
    wrong: CopyTrouble | str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Status:
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
    unplugged: Mapping[str, str] = field(default_factory=dict, metadata=_LATER)
    worn: str | None = field(default=None, metadata=_LATER)
    not_verified: tuple[str, ...] = field(default=(), metadata=_LATER)
    warming: Warming | None = field(default=None, metadata=_LATER)
    refused: NotTaken | None = None
    said: LastSaid | None = None
    asks: tuple[str, ...] | None = None
    boxed: str | None = None
    shows: str | None = None
    shown: str | None = None
    unfinished: Offered | None = None
    aside: tuple[int, ...] = ()
    damaged: tuple[str, ...] = field(default=(), metadata=_LATER)
    mind: tuple[Mind | str, ...] = field(default=(), metadata=_LATER)
    trays: TraysStand | None = field(default=None, metadata=_LATER)
    copies: CopiesStand | None = field(default=None, metadata=_LATER)

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
    for name, value in _json(status).items():
        if name == _SPOILS:
            told["white_light"] = "safe" if value is None else "not yet"
        told[name] = value
    return told


def status_of(told: Mapping[str, Any]) -> Status:
    """The status that came over the socket. Raises ValueError, with the place, for what is missing or no such value;
    keys of later versions are passed over.

    >>> told = status_json(Status(now=2.0, since=Since(3, 1.5), sheets_left=4))
    >>> status_of({**told, "from the future": 1}).sheets_left
    4
    >>> status_of({**told, "since": {"number": "three", "at": 1.5}})
    Traceback (most recent call last):
    ValueError: since: number: not a whole number: 'three'
    """
    if told.get("white_light") not in ("safe", "not yet"):
        raise ValueError(f"white_light: neither safe nor not yet: {told.get('white_light')!r}")
    spoils = told.get(_SPOILS)
    if told["white_light"] == "not yet" and spoils is None:  # a daemon from before there were codes
        spoils = told.get("white_light_words", "not yet")
    found: Status = _reader(Status)({**told, _SPOILS: spoils})
    return found


_CODED = frozenset(codes_of(get_args(Reason | Mind | InkTrouble)).values())


def _json(value: Any) -> Any:
    if type(value) in _CODED:
        return facts_of(value)
    if is_dataclass(value):
        told: dict[str, Any] = {}
        for one in fields(value):
            inner = getattr(value, one.name)
            if one.name == "why" and inner is not None:
                told |= facts_of(inner)
            elif not ("if told" in one.metadata and inner == one.default):
                told[one.name.rstrip("_")] = _json(inner)
        return told
    if isinstance(value, tuple):
        return [_json(inner) for inner in value]
    return dict(value) if isinstance(value, Mapping) else value


_Reader = Callable[[Any], Any]
_WORDS = {bool: "true or false", int: "a whole number", float: "a number", str: "text"}


@cache
def _reader(hint: Any) -> _Reader:
    """What reads a value of this type."""
    if get_origin(hint) in (Union, UnionType):
        return _of_several(get_args(hint))
    if get_origin(hint) is tuple:
        return _of_list(_reader(get_args(hint)[0]))
    if is_dataclass(hint):
        return _of_keys(hint)
    return _of_texts if get_origin(hint) is Mapping else _of_plain(hint)


def _of_plain(kind: Any) -> _Reader:
    taken = (int, float) if kind is float else (kind,)

    def read(value: Any) -> Any:
        if type(value) not in taken:
            raise ValueError(f"not {_WORDS[kind]}: {value!r}")
        return value

    return read


def _of_texts(value: Any) -> dict[str, str]:
    if not isinstance(value, dict) or not all(type(inner) is str for inner in value.values()):
        raise ValueError(f"not texts by name: {value!r}")
    return value


def _of_list(read_one: _Reader) -> _Reader:
    def read(value: Any) -> Any:
        if not isinstance(value, list):
            raise ValueError(f"not a list: {value!r}")
        return tuple(read_one(inner) for inner in value)

    return read


def _of_several(kinds: tuple[Any, ...]) -> _Reader:
    """One of several: nothing, text, a coded class by its code, or else what there is one of."""
    codes = codes_of(kind for kind in kinds if kind in _CODED)
    plain = [_reader(kind) for kind in kinds if kind not in (*_CODED, NoneType, str)]

    def read(value: Any) -> Any:
        if (value is None and NoneType in kinds) or (type(value) is str and str in kinds):
            return value
        if codes and isinstance(value, dict) and type(value.get("why")) is str:
            kind = codes.get(value["why"])
            return value["why"] if kind is None else _reader(kind)(value)
        if not plain:
            raise ValueError(f"neither code nor text: {value!r}")
        return plain[0](value)

    return read


def _of_keys(kind: Any) -> _Reader:
    hints = get_type_hints(kind)
    parts = [(one, one.name.rstrip("_"), _reader(hints[one.name])) for one in fields(kind)]

    def read(value: Any) -> Any:
        if not isinstance(value, dict):
            raise ValueError(f"not an object: {value!r}")
        found = {}
        for one, name, read_one in parts:
            if name not in value:
                if "later" not in one.metadata:
                    raise ValueError(f"{name} is missing")
                found[one.name] = _default(one)
                continue
            coded = name == "why" and value["why"] is not None and hints["why"] is not str
            try:
                found[one.name] = read_one(value if coded else value[name])
            except ValueError as error:
                raise ValueError(f"{name}: {error}") from None
        return kind(**found)

    return read


def _default(one: Field[Any]) -> Any:
    return one.default if one.default_factory is MISSING else one.default_factory()
