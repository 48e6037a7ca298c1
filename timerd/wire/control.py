"""What clients ask at the control socket, and what they are answered: one JSON object a line, each read at one place.

A request lights nothing. Keys that are not known here are a later version's, and passed over; of the others each has
its type and its range, or the client is told in words. Pure.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, TypeVar

from timerd.wire.codec import Malformed, as_json, encoded, json_object, left_out, read_as

MOST_SHEETS = 1000
MOST_N = 1_000_000
COLDEST_C, WARMEST_C = 5.0, 50.0
ORDERS = (
    "say", "arm", "skip", "end", "abandon", "step", "owe", "set aside", "take up", "give up", "tray", "view", "rest",
)  # fmt: skip
"""What the engine can be told to do."""
NUMBERED = ("step", "owe", "take up", "give up")
"""Orders that name a step, or a sheet."""


# -- what is asked -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class AskStatus:
    """How the bench stands."""


@dataclass(frozen=True, slots=True)
class Follow:
    """The same, now and whenever it changes."""


@dataclass(frozen=True, slots=True)
class AskPlan:
    """The plan of the sheet at hand or offered, or the one that is loaded."""


@dataclass(frozen=True, slots=True)
class AskBench:
    """The bench that is served."""


@dataclass(frozen=True, slots=True)
class MakeDark:
    """Everything dark, now."""


@dataclass(frozen=True, slots=True)
class ClearFault:
    """Clear the fault, if every line reads low."""


@dataclass(frozen=True, slots=True)
class SentFile:
    """A profile's text, and what it is called."""

    name: str
    text: str


@dataclass(frozen=True, slots=True)
class LoadPrint:
    """Put a print on the bench: its file, its paper's, and its bath line's where it names one."""

    sheets: int
    by_step: bool
    print: SentFile
    paper: SentFile
    bath: SentFile | None = left_out(None)  # noqa: RUF009


@dataclass(frozen=True, slots=True)
class LoadAgain:
    """Give once more what a sheet of the daemon's own book was given."""

    repeat: int
    sheets: int = 1


@dataclass(frozen=True, slots=True)
class Order:
    """Tell the engine one of ORDERS; `n` is a step's or a sheet's number."""

    what: str
    n: int | None = left_out(None)


@dataclass(frozen=True, slots=True)
class AddNote:
    """Write a note to a sheet, in the daemon's book; `book`, where given, must be that one."""

    sheet: int
    text: str
    book: str | None = left_out(None)


@dataclass(frozen=True, slots=True)
class AddRating:
    """Rate a sheet, from 1 to 5."""

    sheet: int
    rating: int
    book: str | None = left_out(None)


@dataclass(frozen=True, slots=True)
class StartBaths:
    """The sheets that wait for it go into their first bath."""


@dataclass(frozen=True, slots=True)
class LeaveBaths:
    """A sheet is out of the baths."""

    sheet: int


@dataclass(frozen=True, slots=True)
class HasTemperature:
    """A bath has so many degrees Celsius."""

    bath: str
    celsius: float


@dataclass(frozen=True, slots=True)
class FillBath:
    """A bath is mixed anew, as its line's file says; `litres`, where given, is how much of it."""

    bath: str
    line: SentFile
    litres: float | None = left_out(None)


@dataclass(frozen=True, slots=True)
class MoveBath:
    """The bath `from_` takes the place of the one before it."""

    bath: str
    from_: str


OfBaths = StartBaths | LeaveBaths | HasTemperature | FillBath | MoveBath
Request = (
    AskStatus | Follow | AskPlan | AskBench | MakeDark | ClearFault | LoadPrint | LoadAgain | Order | AddNote
    | AddRating | OfBaths
)  # fmt: skip
_VERBS: dict[type, dict[str, str]] = {
    AskStatus: {"do": "status"}, Follow: {"do": "follow"}, AskPlan: {"do": "plan"}, AskBench: {"do": "bench"},
    MakeDark: {"do": "dark"}, ClearFault: {"do": "clear"}, LoadPrint: {"do": "load"}, LoadAgain: {"do": "load"},
    Order: {"do": "tell"}, AddNote: {"do": "note"}, AddRating: {"do": "rate"},
    StartBaths: {"do": "bath", "what": "start"}, LeaveBaths: {"do": "bath", "what": "leave"},
    HasTemperature: {"do": "bath", "what": "temperature"}, FillBath: {"do": "bath", "what": "new"},
    MoveBath: {"do": "bath", "what": "new"},
}  # fmt: skip
Asked = TypeVar("Asked", bound=Request)
VERBS = frozenset(verb["do"] for verb in _VERBS.values())
_PLAIN: dict[str, Request] = {
    "status": AskStatus(), "follow": Follow(), "plan": AskPlan(), "bench": AskBench(), "dark": MakeDark(),
    "clear": ClearFault(),
}  # fmt: skip


def request_line(request: Request) -> bytes:
    """A request as it is sent.

    >>> request_line(Order("step", 3))
    b'{"do": "tell", "what": "step", "n": 3}\\n'
    """
    return encoded({**_VERBS[type(request)], **as_json(request)}, ascii_only=False) + b"\n"


def request_of(line: bytes) -> Request | SaidNo | None:
    """The request in a line; the answer that is no, in words, where something is wrong with it; None where it is none.

    >>> request_of(b'{"do": "tell", "what": "owe"}')
    SaidNo(why='owe: needs n: which step?', code=<No.WRONG: 'wrong'>)
    """
    try:
        told = json_object(line)
    except Malformed:
        return None
    do = told.get("do")
    if not isinstance(do, str) or do not in VERBS:
        return None
    try:
        return _PLAIN[do] if do in _PLAIN else _READ[do](told)
    except Malformed as wrong:
        return SaidNo(str(wrong), No.WRONG)


def checked(request: Asked) -> Asked:
    """A request, as the daemon would read it. Raises Malformed, in the words that it would be refused with."""
    found = request_of(request_line(request))
    if isinstance(found, SaidNo):
        raise Malformed(found.why)
    return request


def _load(told: Mapping[str, Any]) -> LoadPrint | LoadAgain:
    sheets = _count(told, "sheets", MOST_SHEETS, 1)
    if "repeat" in told:
        return LoadAgain(_count(told, "repeat", MOST_N), sheets)
    by_step = told.get("by_step", False)
    if not isinstance(by_step, bool):
        raise Malformed("by_step: must be true or false")
    bath = _file(told, "bath") if "bath" in told else None
    return LoadPrint(sheets, by_step, _file(told, "print"), _file(told, "paper"), bath)


def _order(told: Mapping[str, Any]) -> Order:
    what = told.get("what")
    if what not in ORDERS:
        raise Malformed(f"tell: needs what: one of {', '.join(ORDERS)}")
    n = None if told.get("n") is None else _count(told, "n", MOST_N)
    if n is None and what in ("step", "owe"):
        raise Malformed(f"{what}: needs n: which step?")
    return Order(what, n)


def _note(told: Mapping[str, Any]) -> AddNote:
    text = told.get("text")
    if not isinstance(text, str):
        raise Malformed("a note needs a text")
    return AddNote(_sheet(told, "note"), text, _book(told))


def _rating(told: Mapping[str, Any]) -> AddRating:
    rating = told.get("rating")
    if not isinstance(rating, int) or isinstance(rating, bool):
        raise Malformed("a rating is from 1 to 5")
    return AddRating(_sheet(told, "rate"), rating, _book(told))


def _of_baths(told: Mapping[str, Any]) -> OfBaths:
    match told.get("what"):
        case "start":
            return StartBaths()
        case "leave":
            return LeaveBaths(_sheet(told, "leave"))
        case "temperature":
            celsius = _number(told, "celsius", COLDEST_C, WARMEST_C)
            return HasTemperature(_bath(told, "bath"), celsius)
        case "new" if "from" in told:
            return MoveBath(_bath(told, "bath"), _bath(told, "from"))
        case "new":
            litres = _number(told, "litres", 0.01, 1000.0) if "litres" in told else None
            return FillBath(_bath(told, "bath"), _file(told, "line"), litres)
    raise Malformed("bath: what is to be done: new, temperature, start or leave?")


_READ = {"load": _load, "tell": _order, "note": _note, "rate": _rating, "bath": _of_baths}


def _count(told: Mapping[str, Any], key: str, most: int, usual: int | None = None) -> int:
    value = told.get(key, usual)
    if not isinstance(value, int) or isinstance(value, bool) or not 1 <= value <= most:
        raise Malformed(f"{key}: must be a whole number from 1 to {most}")
    return value


def _number(told: Mapping[str, Any], key: str, least: float, most: float) -> float:
    value = told.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
        raise Malformed(f"{key}: must be from {least:g} to {most:g}")
    return float(value)


def _sheet(told: Mapping[str, Any], what: str) -> int:
    sheet = told.get("sheet")
    if not isinstance(sheet, int) or isinstance(sheet, bool):
        raise Malformed(f"{what}: needs the number of a sheet")
    return sheet


def _bath(told: Mapping[str, Any], key: str) -> str:
    name = told.get(key)
    if not isinstance(name, str) or not 0 < len(name) <= 40 or not name.isprintable():
        raise Malformed(f"{key}: needs the name of a bath")
    return name


def _file(told: Mapping[str, Any], what: str) -> SentFile:
    try:
        file = told[what]
        return read_as(SentFile, {"name": file["name"], "text": file["text"]})
    except (Malformed, LookupError, TypeError):
        raise Malformed(f"load: needs {what}: {{name, text}}") from None


def _book(told: Mapping[str, Any]) -> str | None:
    book = told.get("book")
    return None if book is None else str(book)


# -- what is answered --------------------------------------------------------------------------------------------


class No(StrEnum):
    """Why something is refused. Programs go by this; the words beside it are for people, and may change."""

    NO_DAEMON = "no daemon"
    NO_ANSWER = "no answer"
    HUNG_UP = "hung up"
    NOT_ALLOWED = "not allowed"
    TOO_MANY = "too many clients"
    NOT_UNDERSTOOD = "not understood"
    LINE_HIGH = "line high"
    """A line does not go low: a lamp may be lit."""
    KEEPER_GONE = "keeper gone"
    NO_FAULT = "no fault"
    NO_INK = "no ink"
    BUSY = "busy"
    LIGHT_ON = "light on"
    UNDER_WAY = "under way"
    ANOTHER_BOOK = "another book"
    WRONG = "wrong"
    """There is something wrong with what was sent."""
    NOT_NOW = "not now"
    """The bench stands so that it cannot be done."""
    REFUSED = "refused"
    """For no reason that this version knows."""

    @classmethod
    def _missing_(cls, value: object) -> No:
        return cls.REFUSED


@dataclass(frozen=True, slots=True)
class SaidNo:
    """The answer that is no: in words, and why as programs know it."""

    why: str
    code: No = No.REFUSED


@dataclass(frozen=True, slots=True)
class StatusTold:
    """How the bench stands, as it is told: with `ok` and `is`, as programs read it."""

    status: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class PlanTold:
    """A plan by its id; both None where there is none."""

    id: str | None
    plan: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True)
class BenchTold:
    """The bench that is served."""

    bench: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class OnDisk:
    """It is on disk."""


Answer = StatusTold | PlanTold | BenchTold | OnDisk | SaidNo
_KINDS: dict[str, type[PlanTold | BenchTold | OnDisk]] = {"plan": PlanTold, "bench": BenchTold, "written": OnDisk}
_KIND_OF: dict[type, str] = {of: kind for kind, of in _KINDS.items()}


def answer_line(answer: Answer) -> bytes:
    """An answer as it is sent.

    >>> answer_line(SaidNo("a light is on", No.LIGHT_ON))
    b'{"ok": false, "code": "light on", "why": "a light is on"}\\n'
    """
    if isinstance(answer, SaidNo):
        return encoded({"ok": False, "code": answer.code, "why": answer.why}) + b"\n"
    if isinstance(answer, StatusTold):
        return encoded(answer.status) + b"\n"
    return encoded({"ok": True, "is": _KIND_OF[type(answer)], **as_json(answer)}) + b"\n"


def answer_of(line: bytes) -> Answer:
    """The answer in a line. Raises Malformed."""
    told = json_object(line)
    if told.get("ok") is not True:
        return SaidNo(str(told.get("why", "refused")), No(str(told.get("code"))))
    kind = told.get("is")
    if kind == "status":
        return StatusTold(told)
    if not isinstance(kind, str) or kind not in _KINDS:
        raise Malformed("no known answer")
    return read_as(_KINDS[kind], {key: value for key, value in told.items() if key not in ("ok", "is")})
