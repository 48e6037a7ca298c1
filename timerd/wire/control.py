"""What clients ask at the control socket, and what they are answered: one JSON object a line, each read at one place.

A request lights nothing. Keys that are not known here are a later version's, and passed over; of the others each has
its type and its range, or the client is told in words. Pure.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Annotated, Any, TypeVar, get_args

from timerd.wire.codec import (
    Malformed,
    Only,
    Value,
    as_json,
    by_word,
    encoded,
    json_object,
    later,
    left_out,
    may_lack,
    read_as,
)

MOST_SHEETS = 1000
MOST_N = 1_000_000
COLDEST_C, WARMEST_C = 5.0, 50.0
ORDERS = (
    "say", "arm", "skip", "end", "abandon", "step", "owe", "set aside", "take up", "give up", "tray", "view", "rest",
)  # fmt: skip
"""What the engine can be told to do."""
NUMBERED = ("step", "owe", "take up", "give up")
"""Orders that name a step, or a sheet."""


def _from(least: float, most: float, what: str = "") -> Only:
    return Only(f"must be {what}from {least:.9g} to {most:.9g}", lambda value: least <= value <= most)


_Count = Annotated[int, _from(1, MOST_N, "a whole number ")]
_Sheets = Annotated[int, _from(1, MOST_SHEETS, "a whole number ")]
_Celsius = Annotated[float, _from(COLDEST_C, WARMEST_C)]
_Litres = Annotated[float, _from(0.01, 1000.0)]
_What = Annotated[str, Only(f"must be one of {', '.join(ORDERS)}", lambda what: what in ORDERS)]
_Bath = Annotated[str, Only("needs the name of a bath", lambda name: 0 < len(name) <= 40 and name.isprintable())]


# -- what is asked -----------------------------------------------------------------------------------------------


class AskStatus(Value, word="status"):
    """How the bench stands."""


class Follow(Value):
    """The same, now and whenever it changes."""


class AskPlan(Value, word="plan"):
    """The plan of the sheet at hand or offered, or the one that is loaded."""


class AskBench(Value, word="bench"):
    """The bench that is served."""


class MakeDark(Value, word="dark"):
    """Everything dark, now."""


class ClearFault(Value, word="clear"):
    """Clear the fault, if every line reads low."""


class SentFile(Value):
    """A profile's text, and what it is called."""

    name: str
    text: str


class LoadPrint(Value, word="load"):
    """Put a print on the bench: its file, its paper's, and its bath line's where it names one."""

    sheets: _Sheets = may_lack(1)
    by_step: bool = may_lack(False)
    print: SentFile
    paper: SentFile
    bath: SentFile | None = left_out(None)


class LoadAgain(Value, word="load"):
    """Give once more what a sheet of the daemon's own book was given."""

    repeat: _Count
    sheets: _Sheets = later(1)


class Order(Value, word="tell"):
    """Tell the engine one of ORDERS; `n` is a step's or a sheet's number."""

    what: _What
    n: _Count | None = left_out(None)


class AddNote(Value, word="note"):
    """Write a note to a sheet, in the daemon's book; `book`, where given, must be that one."""

    sheet: int
    text: str
    book: str | None = left_out(None)


class AddRating(Value, word="rate"):
    """Rate a sheet, from 1 to 5."""

    sheet: int
    rating: int
    book: str | None = left_out(None)


class StartBaths(Value, word="start"):
    """The sheets that wait for it go into their first bath."""


class LeaveBaths(Value, word="leave"):
    """A sheet is out of the baths."""

    sheet: int


class HasTemperature(Value, word="temperature"):
    """A bath has so many degrees Celsius."""

    bath: _Bath
    celsius: _Celsius


class FillBath(Value, word="new"):
    """A bath is mixed anew, as its line's file says; `litres`, where given, is how much of it."""

    bath: _Bath
    line: SentFile
    litres: _Litres | None = left_out(None)


class MoveBath(Value, word="new"):
    """The bath `from_` takes the place of the one before it."""

    bath: _Bath
    from_: _Bath


OfBaths = StartBaths | LeaveBaths | HasTemperature | FillBath | MoveBath
Request = (
    AskStatus | Follow | AskPlan | AskBench | MakeDark | ClearFault | LoadPrint | LoadAgain | Order | AddNote
    | AddRating | OfBaths
)  # fmt: skip
Asked = TypeVar("Asked", bound=Request)
_KINDS = by_word(set(get_args(Request)) - set(get_args(OfBaths)))
_OF_BATHS = by_word(get_args(OfBaths))
VERBS = frozenset({"bath", *_KINDS})


def request_line(request: Request) -> bytes:
    """A request as it is sent.

    >>> request_line(Order("step", 3))
    b'{"do": "tell", "what": "step", "n": 3}\\n'
    """
    verb = {"do": "bath", "what": request.word} if isinstance(request, OfBaths) else {"do": request.word}
    return encoded({**verb, **as_json(request)}, ascii_only=False) + b"\n"


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
    of = _OF_BATHS.get(str(told.get("what"))) if do == "bath" else _KINDS.get(str(do))
    if of in (LoadPrint, LoadAgain):
        of = LoadAgain if "repeat" in told else LoadPrint
    elif of in (FillBath, MoveBath):
        of = MoveBath if "from" in told else FillBath
    if of is None:
        return SaidNo("bath: what is to be done: new, temperature, start or leave?", No.WRONG) if do == "bath" else None
    try:
        request: Request = read_as(of, told, exact=False)
    except Malformed as wrong:
        return SaidNo(str(wrong), No.WRONG)
    if isinstance(request, Order) and request.what in ("step", "owe") and request.n is None:
        return SaidNo(f"{request.what}: needs n: which step?", No.WRONG)
    return request


def checked(request: Asked) -> Asked:
    """A request, as the daemon would read it. Raises Malformed, in the words that it would be refused with."""
    found = request_of(request_line(request))
    if isinstance(found, SaidNo):
        raise Malformed(found.why)
    return request


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


class SaidNo(Value):
    """The answer that is no: in words, and why as programs know it."""

    why: str
    code: No = No.REFUSED


class StatusTold(Value):
    """How the bench stands, as it is told: with `ok` and `is`, as programs read it."""

    status: Mapping[str, Any]


class PlanTold(Value, word="plan"):
    """A plan by its id; both None where there is none."""

    id: str | None
    plan: Mapping[str, Any] | None


class BenchTold(Value, word="bench"):
    """The bench that is served."""

    bench: Mapping[str, Any]


class OnDisk(Value, word="written"):
    """It is on disk."""


SaidYes = StatusTold | PlanTold | BenchTold | OnDisk
Answer = SaidYes | SaidNo
_ANSWERS = by_word([PlanTold, BenchTold, OnDisk])


def answer_line(answer: Answer) -> bytes:
    """An answer as it is sent.

    >>> answer_line(SaidNo("a light is on", No.LIGHT_ON))
    b'{"ok": false, "code": "light on", "why": "a light is on"}\\n'
    """
    if isinstance(answer, SaidNo):
        return encoded({"ok": False, "code": answer.code, "why": answer.why}) + b"\n"
    if isinstance(answer, StatusTold):
        return encoded(answer.status) + b"\n"
    return encoded({"ok": True, "is": answer.word, **as_json(answer)}) + b"\n"


def answer_of(line: bytes) -> Answer:
    """The answer in a line. Raises Malformed."""
    told = json_object(line)
    if told.get("ok") is not True:
        return SaidNo(str(told.get("why", "refused")), No(str(told.get("code"))))
    kind = told.get("is")
    if kind == "status":
        return StatusTold(told)
    if not isinstance(kind, str) or kind not in _ANSWERS:
        raise Malformed("no known answer")
    answer: Answer = read_as(_ANSWERS[kind], told, exact=False)
    return answer
