"""The one codec: bytes as they always were, what is wrong told by its place, and nothing else taken for a value."""

from __future__ import annotations

import json
import types
from collections.abc import Callable
from dataclasses import fields, replace
from typing import Annotated, Any, Union, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st
from panel.screens import all_scenes

from timerd.sheet import facts as fa
from timerd.sheet import reason as of
from timerd.sheet import status as ss
from timerd.sheet.record import Record
from timerd.sheet.refusal import CODES, LampWarmsUp, NotSafe, OtherDown, Refusal, refusal_of
from timerd.wire import control as co
from timerd.wire import keeper as ke
from timerd.wire.codec import Coded, Malformed, Value, as_json, encoded, json_object, read_as

FILE, JSON = co.SentFile("a.yaml", "é: 1\n"), '{"name": "a.yaml", "text": "é: 1\\n"}'
ASKED: list[tuple[co.Request, str]] = [
    (co.AskStatus(), '{"do": "status"}'), (co.Follow(), '{"do": "follow"}'), (co.AskPlan(), '{"do": "plan"}'),
    (co.AskBench(), '{"do": "bench"}'), (co.MakeDark(), '{"do": "dark"}'), (co.ClearFault(), '{"do": "clear"}'),
    (co.LoadPrint(2, True, FILE, FILE),
     f'{{"do": "load", "sheets": 2, "by_step": true, "print": {JSON}, "paper": {JSON}}}'),
    (co.LoadPrint(2, False, FILE, FILE, FILE),
     f'{{"do": "load", "sheets": 2, "by_step": false, "print": {JSON}, "paper": {JSON}, "bath": {JSON}}}'),
    (co.LoadAgain(7, 3), '{"do": "load", "repeat": 7, "sheets": 3}'),
    (co.Order("set aside"), '{"do": "tell", "what": "set aside"}'),
    (co.Order("owe", 4), '{"do": "tell", "what": "owe", "n": 4}'),
    (co.AddNote(3, "too light"), '{"do": "note", "sheet": 3, "text": "too light"}'),
    (co.AddNote(3, "", "b00c"), '{"do": "note", "sheet": 3, "text": "", "book": "b00c"}'),
    (co.AddRating(3, 5, "b00c"), '{"do": "rate", "sheet": 3, "rating": 5, "book": "b00c"}'),
    (co.StartBaths(), '{"do": "bath", "what": "start"}'),
    (co.LeaveBaths(3), '{"do": "bath", "what": "leave", "sheet": 3}'),
    (co.HasTemperature("stop", 20.5), '{"do": "bath", "what": "temperature", "bath": "stop", "celsius": 20.5}'),
    (co.FillBath("stop", FILE), f'{{"do": "bath", "what": "new", "bath": "stop", "line": {JSON}}}'),
    (co.FillBath("stop", FILE, 0.5), f'{{"do": "bath", "what": "new", "bath": "stop", "line": {JSON}, "litres": 0.5}}'),
    (co.MoveBath("fixer", "fixer 2"), '{"do": "bath", "what": "new", "bath": "fixer", "from": "fixer 2"}'),
]  # fmt: skip
ANSWERED: list[tuple[co.Answer, str]] = [
    (co.StatusTold({"ok": True, "is": "status", "state": "é"}), r'{"ok": true, "is": "status", "state": "\u00e9"}'),
    (co.PlanTold("a1", {"print": "x"}), '{"ok": true, "is": "plan", "id": "a1", "plan": {"print": "x"}}'),
    (co.PlanTold(None, None), '{"ok": true, "is": "plan", "id": null, "plan": null}'),
    (co.BenchTold({"bench": "x"}), '{"ok": true, "is": "bench", "bench": {"bench": "x"}}'),
    (co.OnDisk(), '{"ok": true, "is": "written"}'),
    (co.SaidNo("cover the paper", co.No.LINE_HIGH), '{"ok": false, "code": "line high", "why": "cover the paper"}'),
]
TOLD: list[tuple[ke.Message, str]] = [
    (ke.Expose(3, "green", 13.25, 4.0, ("go", "end"), "go", ke.SafelightDark(10, ("pedal", "deadline")), 7, False),
     '{"do": "expose", "burst": 3, "light": "green", "at": 13.25, "seconds": 4.0, "cut_on": ["go", "end"], '
     '"while_down": "go", "safelight": {"dark": 10, "stays": ["pedal", "deadline"]}, "seen": 7, "view": false}'),
    (ke.Expose(4, "white", 1.0, 600.0, (), None, None, 0, True, (ke.Pulses(-0.5, 1.0, 3, 0.08),)),
     '{"do": "expose", "burst": 4, "light": "white", "at": 1.0, "seconds": 600.0, "cut_on": [], "while_down": null, '
     '"safelight": null, "seen": 0, "view": true, "cues": [[-0.5, 1.0, 3, 0.08]]}'),
    (ke.Renew(), '{"do": "renew"}'), (ke.Renew(12.5), '{"do": "renew", "until": 12.5}'),
    (ke.stay_on("blue", "green"), '{"do": "stay", "on": ["stay blue", "stay green"]}'),
    (ke.stay_on(), '{"do": "stay", "on": []}'), (ke.Cut(), '{"do": "cut"}'), (ke.ClearLines(), '{"do": "clear"}'),
]  # fmt: skip
REPORTED: list[tuple[Any, str]] = [
    (ke.HasLines("real time", "LGPIOFactory", 0),
     '{"is": "keeping", "scheduling": "real time", "factory": "LGPIOFactory", "chip": 0}'),
    (ke.HasLines("", "x", None), '{"is": "keeping", "scheduling": "", "factory": "x", "chip": null}'),
    (ke.LacksLines("the pins: gone"), '{"is": "no lines", "why": "the pins: gone"}'), (ke.Here(), '{"is": "here"}'),
    (ke.Edge("go", True, 1.5, 9), '{"is": "pedal", "pedal": "go", "down": true, "at": 1.5, "number": 9}'),
    (ke.FoundDown("end", 1.5), '{"is": "found down", "pedal": "end", "at": 1.5}'),
    (ke.Unplugged("end", "is unplugged", 1.5),
     '{"is": "unplugged", "pedal": "end", "why": "is unplugged", "at": 1.5}'),
    (ke.PluggedIn("end", 1.5), '{"is": "plugged in", "pedal": "end", "at": 1.5}'),
    (ke.LampTurned("stay blue", True, 1.5), '{"is": "stay", "line": "stay blue", "on": true, "at": 1.5}'),
    (ke.Lit(3, 1.5), '{"is": "lit", "burst": 3, "at": 1.5}'),
    (ke.Dark(3, 1.5, "deadline"), '{"is": "dark", "burst": 3, "at": 1.5, "why": "deadline"}'),
    (ke.Dark(3, 1.5, "pedal", 1.25), '{"is": "dark", "burst": 3, "at": 1.5, "why": "pedal", "lo": 1.25}'),
    (ke.Refused(3, "no such light", 1.5), '{"is": "refused", "burst": 3, "why": "no such light", "at": 1.5}'),
    (ke.Fault("bad message", 1.5), '{"is": "fault", "why": "bad message", "at": 1.5}'),
    (ke.Fault("line not low", 1.5, ("a",)), '{"is": "fault", "why": "line not low", "at": 1.5, "high": ["a"]}'),
    (ke.Low(1.5), '{"is": "low", "at": 1.5}'), (ke.Rest(1.5, False), '{"is": "rest", "at": 1.5, "low": false}'),
    (ke.SafelightEdge(True, 1.5), '{"is": "safelight", "lit": true, "at": 1.5}'),
]  # fmt: skip
WHOLE = ss.Status(
    bench="pier", simulated=True, scheduling="NOT real time", ink=of.NoInk("the disk is full"), now=9.5, state="fault",
    since=ss.Since(3, 8.0), print="Pier", plan="a1", sheet=4, sheets_left=2, step=2, given=1.0, given_lo=0.5, owed=7.0,
    on_s=1.0, lead_in=ss.LeadIn(3, "green", 8.0, 9.0, 7.0), white_light_spoils=NotSafe(4, "is out"),
    goes_to=(ss.GoesTo(3, "fixer"),), reason=of.WentDark("lease"), unplugged={"go": "is unplugged"}, worn="end",
    not_verified=("head",), warming=ss.Warming("head", 12.0), refused=ss.NotTaken(1, 9.0, OtherDown("end")),
    said=ss.LastSaid(2, "owed", 9.0), asks=("paper out",), boxed="asked", shows="viewing light", shown="red",
    aside=(1, 2), damaged=("sheet 1: record 3 is missing",), copies=ss.CopiesStand("/media", None, of.NotCopied("no")),
    mind=(of.SheetDamaged(1), of.RecordDamaged(), of.NewBox("a", "b")),
)  # fmt: skip
STANDS = (
    '{"ok": true, "is": "status", "bench": "pier", "simulated": true, "scheduling": "NOT real time", "ink": {"why": '
    '"no ink", "wrong": "the disk is full"}, "now": 9.5, "state": "fault", "since": {"number": 3, "at": 8.0}, "print": '
    '"Pier", "plan": "a1", "sheet": 4, "sheets_left": 2, "step": 2, "given": 1.0, "given_lo": 0.5, "owed": 7.0, '
    '"on_s": 1.0, "steps": null, "lead_in": {"burst": 3, "light": "green", "from": 8.0, "at": 9.0, "seconds": 7.0}, '
    '"burst": null, "dark": null, "white_light": "not yet", "white_light_spoils": {"why": "not safe", "spoils": 4, '
    '"where": "is out"}, "goes_to": [{"sheet": 3, "where": "fixer"}], "reason": {"why": "went dark", "how": "lease"}, '
    '"unplugged": {"go": "is unplugged"}, "worn": "end", "not_verified": ["head"], "warming": {"lamp": "head", '
    '"until": 12.0}, "refused": {"number": 1, "at": 9.0, "why": "other down", "other": "end"}, "said": {"number": 2, '
    '"what": "owed", "at": 9.0}, "asks": ["paper out"], "boxed": "asked", "shows": "viewing light", "shown": "red", '
    '"unfinished": null, "aside": [1, 2], "damaged": ["sheet 1: record 3 is missing"], "mind": [{"why": "sheet '
    'damaged", "which": 1}, {"why": "record damaged"}, {"why": "new box", "paper": "a", "box": "b"}], "trays": null, '
    '"copies": {"to": "/media", "last": null, "wrong": {"why": "not copied", "wrong": "no"}}}'
)
Write, Read = Callable[[Any], bytes], Callable[[bytes], Any]


def _status(raw: bytes) -> ss.Status:
    return ss.status_of(json_object(raw))


def _record(raw: bytes) -> Record:
    told = json_object(raw)
    return Record.read(told.pop("kind"), 1.5, facts=told)


WAYS: dict[str, tuple[Write, Read, list[Any], set[Any]]] = {
    "asked": (lambda one: co.request_line(one)[:-1], co.request_of, ASKED, set(get_args(co.Request))),
    "answered": (lambda one: co.answer_line(one)[:-1], co.answer_of, ANSWERED, set(get_args(co.Answer))),
    "told": (ke.TO_KEEPER.encode, ke.TO_KEEPER.decode, TOLD, set(get_args(ke.Message))),
    "reported": (
        ke.FROM_KEEPER.encode, ke.FROM_KEEPER.decode, REPORTED,
        {ke.HasLines, ke.LacksLines, ke.Here, *get_args(ke.Report)},
    ),
    "stands": (lambda one: encoded(ss.status_json(one)), _status, [(WHOLE, STANDS)], {ss.Status}),
}  # fmt: skip


@pytest.mark.parametrize("way", WAYS)
def test_the_bytes_are_as_they_were_and_are_read_as_what_they_say(way: str) -> None:
    """As they were sent before either end had a type; between the daemon and its keeper a key more is refused."""
    write, read, all_of, kinds = WAYS[way]
    for value, raw in all_of:
        assert write(value) == raw.encode() and read(raw.encode()) == value
        more = raw[:-1].encode() + b', "of a later version": [1]}'
        if way in ("told", "reported"):
            with pytest.raises(Malformed, match="'of a later version' is not known in it"):
                read(more)
        elif not isinstance(value, co.StatusTold):
            assert read(more) == value
    assert {type(value) for value, _ in all_of} == kinds


def filled(hint: Any) -> Any:
    """Something of a type."""
    origin, inner = get_origin(hint), get_args(hint)
    if origin is Annotated:
        return "arm" if "arm" in inner[1].words else filled(inner[0])
    if origin in (types.UnionType, Union):
        return filled(next(kind for kind in inner if kind is not types.NoneType))
    if origin in (tuple, frozenset):
        return origin([filled(inner[0])])
    if origin is not None:
        return {"key": filled(inner[1])}
    if issubclass(hint, Value):
        return made(hint)
    plain = {str: "a word", int: 7, float: 7.5, bool: True, Any: {"any": [1]}}
    return plain[hint] if hint in plain else hint(*map(filled, get_type_hints(hint, include_extras=True).values()))


def made(kind: type[Value]) -> Any:
    hints = get_type_hints(kind, include_extras=True)
    return kind(**{one.name: filled(hints[one.name]) for one in fields(kind)})  # type: ignore[arg-type]


def values_of(module: Any) -> list[Any]:
    own = (one for one in vars(module).values() if isinstance(one, type) and one.__module__ == module.__name__)
    return [one for one in own if issubclass(one, Value) and one not in (fa.Fact, fa.Unknown, co.SaidNo)]


@pytest.mark.parametrize("kind", [kind for module in (fa, ss, co, ke) for kind in values_of(module)])
def test_every_value_comes_back_as_it_went_and_is_missed_by_its_place(kind: type[Value]) -> None:
    value = made(kind)
    told = json.loads(encoded(as_json(value)))
    assert read_as(kind, told) == value
    for key in told:
        less = {name: one for name, one in told.items() if name != key}
        try:
            assert read_as(kind, less) != value, "it may be missing"
        except Malformed as wrong:
            assert str(wrong) == f"'{key}' is missing in it"
    for key, one in told.items():
        if not isinstance(one, dict) and kind is not fa.BathMixed and key not in ("why", "other"):
            with pytest.raises(Malformed, match=f"^{key}: "):
                read_as(kind, {**told, key: {}})


@pytest.mark.parametrize("code", [one for union in (of.Reason, of.Mind, of.InkTrouble) for one in get_args(union)])
def test_every_code_comes_back_as_it_went(code: type[Coded]) -> None:
    """In a record beside other facts, and in the status under its own name."""
    value = made(code)
    told = json.loads(json.dumps({"number": 4, "at": 1.5, "pedal": "go", **as_json(value)}))
    if isinstance(value, Refusal | of.BenchFault):
        kind = "refused" if isinstance(value, Refusal) else "fault"
        record = Record.read(kind, 1.5, facts=told)
        assert (record.fact.why, record.facts) == (value, told)  # type: ignore[attr-defined]
    key = "ink" if isinstance(value, of.InkTrouble) else "reason"
    if isinstance(value, of.Mind):
        assert _status(encoded({**json.loads(STANDS), "mind": [told]})).mind == (value,)
    else:
        assert getattr(_status(encoded({**json.loads(STANDS), key: told})), key) == value


KEPT = """
other down, other station, not now, not safe, no such light, lamp warms up, filter under lens, sheet under way,
no fault, no print, no sheet left, no sheet out, sheet not out, nothing to set aside, nothing to take up,
nothing set aside, nothing to give up, sheet not offered, sheet at trays, sheet over, sheet of other bench,
other unfinished, no such step, step by itself, step over, step without light, step owed, step complete,
no sheet at trays, too soon after light, too soon after press, too soon at trays, late,
viewing light on, keeper refuses
"""
"""As they stand in books: a code may come, and none may go or be another."""


def test_the_codes_are_those_that_stand_in_books() -> None:
    assert set(CODES) == {code.strip() for code in KEPT.replace("\n", " ").split(",")}
    assert not CODES.keys() & of.FAULTS.keys(), "no code is two things"


@pytest.mark.parametrize("name", all_scenes())
def test_every_made_up_status_comes_back_as_it_went(name: str) -> None:
    status = all_scenes()[name].status
    assert _status(encoded(ss.status_json(status))) == status


NO_FILE = (None, "text", 7, [], {}, {"name": "x"}, {"text": "x"}, {"name": 1, "text": "x"}, {"name": "x", "text": 7})
NO_COUNT = (0, -1, 10**30, 1.0, "2", True, None, [1], {})
NO_NUMBER = ("1", True, None, [1], 10**30)
NO_NAME = ("", "\x1b", "x" * 41, 7, None)
ORDERS = "say, arm, skip, end, abandon, step, owe, set aside, take up, give up, tray, view, rest"
LOAD, BATH = {"do": "load", "print": json.loads(JSON), "paper": json.loads(JSON)}, {"do": "bath", "bath": "stop"}
TO_DO = "bath: what is to be done: new, temperature, start or leave?"
OF_1000000 = "n: must be a whole number from 1 to 1000000"
LIT = {"kind": "lit", "light": "x", "lit": 1, "seconds": 2, "most": 1}
SMALL: dict[str, Any] = json.loads(STANDS)
WRONG: list[tuple[dict[str, Any], str, tuple[Any, ...], str]] = [
    (LOAD, "sheets", (*NO_COUNT, 1001), "sheets: must be a whole number from 1 to 1000"),
    (LOAD, "by_step", (0, "yes", None, []), "by_step: no yes or no"),
    *((LOAD, file, NO_FILE, f"{file}: ") for file in ("print", "paper")), (LOAD, "bath", NO_FILE[1:], "bath: "),
    (LOAD, "repeat", NO_COUNT, "repeat: must be a whole number from 1 to 1000000"),
    ({"do": "tell"}, "what", ("cut", None, 7, ["arm"], {}), f"what: must be one of {ORDERS}"),
    ({"do": "tell", "what": "owe"}, "n", (0, -1, 10**30, 1.0, "2", True, [1]), OF_1000000),
    ({"do": "tell", "what": "owe"}, "n", (None,), "owe: needs n: which step?"),
    ({"do": "note", "text": "x"}, "sheet", (*NO_NUMBER, -1), "sheet: no whole number"),
    ({"do": "note", "sheet": 1}, "text", (None, 7, ["x"]), "text: no text"),
    ({"do": "rate", "sheet": 1}, "rating", NO_NUMBER, "rating: no whole number"),
    ({"do": "rate", "sheet": 1, "rating": 2}, "book", (7, []), "book: no text"),
    ({"do": "bath", "what": "leave"}, "sheet", NO_NUMBER, "sheet: no whole number"),
    (BATH | {"what": "temperature", "celsius": 20}, "bath", NO_NAME, "bath: needs the name of a bath"),
    (BATH | {"what": "temperature"}, "celsius", (*NO_NUMBER, 4.9, 50.1), "celsius: must be from 5 to 50"),
    (BATH | {"what": "new", "line": LOAD["print"]}, "litres", (NO_NUMBER[0], 0, 1001),
     "litres: must be from 0.01 to 1000"),
    (BATH | {"what": "new"}, "line", NO_FILE, "line: "), (BATH | {"what": "new"}, "from", NO_NAME, "from: needs the"),
    (BATH, "what", (None, 7, "cut", ["new"]), TO_DO),
    (SMALL, "now", ("soon", True, None, 1e15), "now: no number"), (SMALL, "simulated", (1,), "simulated: no yes or no"),
    (SMALL, "sheet", (True, 1.5), "sheet: no whole number"), (SMALL, "since", (None, 3), "since: no table"),
    (SMALL, "since", ({"number": "three", "at": 1.5},), "since: number: no whole number"),
    (SMALL, "burst", ({"burst": 1, "light": "green", "lit": 1.0},), "burst: 'deadline' is missing in it"),
    (SMALL, "goes_to", ({},), "goes_to: no list"), (SMALL, "unplugged", ({"go": 1},), "unplugged: no text"),
    (SMALL, "reason", (3, []), "reason: neither code nor text"), (SMALL, "reason", ({},), "reason: 'why' is missing"),
    (SMALL, "reason", ({"why": "other down", "other": 3},), "reason: other: no text"),
    (SMALL, "refused", ({"number": 1, "at": 1.0, "why": 7},), "refused: why: neither code nor text"),
    (SMALL, "white_light", ("perhaps", None), "white_light: neither safe nor not yet"),
    (LIT, "seconds", (True, None, "1", [1]), "seconds: no number"), (LIT, "light", (None, 7), "light: no text"),
    ({"kind": "dark", "lit": 1, "dark": 2, "why": "x"}, "gjven", (1,), "'given' is missing in it"),
    (SMALL, "reason", ({"why": None},), "reason: why: neither code nor text"),
    ({"kind": "refused", "pedal": "go"}, "why", (None, 7, []), "why: neither code nor text"),
    ({"kind": "fault"}, "whx", ("x",), "'why' is missing in it"),
    ({"kind": "armed"}, "steps", ([[1, "base", 1.0]],), "steps: no list of 4"),
    ({"kind": "armed"}, "steps", ([[1, "base", 1.0, 1]],), "steps: no yes or no"),
]  # fmt: skip


@pytest.mark.parametrize(("told", "key", "values", "words"), WRONG, ids=lambda value: str(value)[:30])
def test_what_is_wrong_is_told_by_its_place(told: dict[str, Any], key: str, values: Any, words: str) -> None:
    for value in values:
        raw = json.dumps({**told, key: value}).encode()
        if "do" in told:
            no = co.request_of(raw)
            assert isinstance(no, co.SaidNo) and no.why.startswith(words) and no.code == co.No.WRONG, value
            continue
        with pytest.raises(Malformed) as wrong:
            (_record if "kind" in told else _status)(raw)
        assert str(wrong.value).startswith(words), value


LATER = {"unplugged", "worn", "not_verified", "warming", "damaged", "mind", "trays", "copies", "white_light_spoils"}


@pytest.mark.parametrize("key", [key for key in SMALL if key not in ("ok", "is")])
def test_a_key_of_the_status_is_missed_unless_it_came_later(key: str) -> None:
    short = {name: value for name, value in SMALL.items() if name != key}
    if key in LATER:
        assert ss.status_of(short).now == 9.5
    else:
        with pytest.raises(Malformed, match=f"^('{key}'|white_light)"):
            ss.status_of(short)


def test_other_versions_are_understood_as_far_as_may_be() -> None:
    """Keys and codes of a later one; what an older one told in English; what a record has beside is carried."""
    assert ss.status_of({**SMALL, "cloud": 3, "since": {"number": 3, "at": 8.0, "moon": 1}}) == WHOLE
    for why, text in (({"why": "it is Sunday", "which": 3}, "it is Sunday"), ({"why": "other down"}, "other down")):
        assert ss.status_of({**SMALL, "reason": why}).reason == refusal_of(why) == text, "it lacks a field, or is new"
    old = {**SMALL, "white_light_words": "not yet: sheet 4 is out", "reason": "the keeper was lost", "mind": ["see it"]}
    del old["white_light_spoils"]
    told = ss.status_of(old)
    spoils = "not yet: sheet 4 is out"
    assert (told.white_light_spoils, told.reason, told.mind) == (spoils, "the keeper was lost", ("see it",))
    assert not told.white_safe and ss.status_of({**old, "white_light": "safe"}).white_safe
    for facts in (
        {"pedal": "go", "why": "other down", "other": "end", "moon": 1}, {"pedal": None, "why": "moon", "which": [3]},
        {"bath": "a", "batch": 1, "moves": 0, "per_litre": {"RC": 9}, "litres": 1, "keeps_h": None,
         "followed_by": None, "cycles": 1, "moon": 1},
    ):  # fmt: skip
        record = Record.read("batch" if "bath" in facts else "refused", 1.5, facts=facts)
        assert record.facts == facts and record.more == {k: facts[k] for k in ("moon", "which") if k in facts}


def test_a_code_may_have_a_name_that_stands_beside_it() -> None:
    cue = ss.CueTold(3, "nothing", 1.5, seconds=4, why=LampWarmsUp(4))
    assert read_as(ss.CueTold, as_json(cue)) == cue


def test_what_may_be_left_out() -> None:
    assert co.request_of(json.dumps(LOAD).encode()) == co.LoadPrint(1, False, FILE, FILE)
    assert co.request_of(b'{"do": "load", "repeat": 2}') == co.LoadAgain(2, 1)
    for order in ("take up", "give up", "arm"):
        assert co.request_of(b'{"do": "tell", "what": "%s", "n": null}' % order.encode()) == co.Order(order)


def test_a_command_is_told_what_the_daemon_would_say() -> None:
    for request, _ in ASKED:
        assert co.checked(request) is request
    with pytest.raises(Malformed, match="celsius: must be from 5 to 50"):
        co.checked(co.HasTemperature("stop", 4.0))


def test_a_no_of_any_version_is_a_no() -> None:
    for line, why, code in (
        ('{"ok": false}', "refused", co.No.REFUSED), ('{"ok": 1, "is": "status", "why": 7}', "7", co.No.REFUSED),
        ('{"ok": false, "code": "of a later version", "why": "x"}', "x", co.No.REFUSED),
        ("{}", "refused", co.No.REFUSED), ('{"ok": false, "code": "busy", "why": "x", "more": 1}', "x", co.No.BUSY),
    ):  # fmt: skip
        assert co.answer_of(line.encode()) == co.SaidNo(why, code)


WRONG_VALUES: tuple[Any, ...] = (None, True, 1, 1.5, "go", [], {}, ["go", 3], [[]], -1, 10**20, {"dark": "x"})


@pytest.mark.parametrize("way", ["told", "reported"])
def test_a_value_of_another_type_is_no_message(way: str) -> None:
    """Whatever is taken all the same says what was sent, to the last key."""
    _, read, all_of, _ = WAYS[way]
    tried = refused = 0
    for _, raw in all_of:
        told = json.loads(raw)
        for key, right in told.items():
            for value in WRONG_VALUES:
                tried += 1
                try:
                    read(json.dumps({**told, key: value}).encode())
                except Malformed:
                    refused += 1
                    continue
                alike = isinstance(value, int | float) and isinstance(right, int | float)
                alike = alike and isinstance(value, bool) == isinstance(right, bool)
                assert alike or type(value) is type(right) or None in (value, right), (key, value)
    assert refused > tried / 2


PULSES: list[tuple[Any, bool]] = [
    ([0, 0, ke.MOST_PULSES, 0.1], True), ([0, 0, ke.MOST_PULSES + 1, 0.1], False), ([0, -0.1, 1, 0.1], False),
    ([0, 0, 1, 0], False), ([0, 0, 1, 1e4], False), ([0, 0, 1.5, 0.1], False), ([0, 0, 1], False),
    ([0, 0, 1, 0.1, 0], False), ("go", False), ({}, False),
]  # fmt: skip
NO_MESSAGE = (
    b"", b"[]", b"1", b'"cut"', b'{"do":"cut","do":"cut"}', b'{"do":["cut"]}', b'{"do":"renew","until":NaN}',
    b'{"do":"renew","until":1e999}', b"\xff", b"[" * 3000, b'{"do":"cut"' + b" " * ke.LONGEST_MESSAGE + b"}",
    *(json.dumps({**json.loads(TOLD[0][1]), "cues": [row]}).encode() for row, taken in PULSES if not taken),
)  # fmt: skip
NO_ANSWER = (b"", b"[]", b'{"ok": true}', b'{"ok": true, "is": "weather"}', b'{"ok": true, "is": 7}',
             b'{"ok": true, "is": "plan", "id": 7, "plan": null}', b'{"ok": NaN}')  # fmt: skip


@pytest.mark.parametrize(
    ("read", "raw"), [*((ke.TO_KEEPER.decode, raw) for raw in NO_MESSAGE), *((co.answer_of, raw) for raw in NO_ANSWER)]
)
def test_what_is_none_of_them_is_not_taken_for_one(read: Read, raw: bytes) -> None:
    with pytest.raises(Malformed):
        read(raw)


def test_pulses_are_no_more_than_a_person_could_count() -> None:
    told = {**json.loads(TOLD[0][1]), "cues": [PULSES[0][0]]}
    assert ke.TO_KEEPER.decode(json.dumps(told).encode()) == replace(TOLD[0][0], cues=(ke.Pulses(*PULSES[0][0]),))  # type: ignore[call-arg]


@given(st.binary(max_size=300))
def test_any_bytes_are_a_message_or_are_refused(raw: bytes) -> None:
    for codec in (ke.TO_KEEPER, ke.FROM_KEEPER):
        try:
            message = codec.decode(raw)  # type: ignore[attr-defined]
        except Malformed:
            continue
        assert codec.decode(codec.encode(message)) == message  # type: ignore[attr-defined]
    found = co.request_of(raw)
    assert found is None or isinstance(found, co.SaidNo) or co.request_of(co.request_line(found)) == found


def test_what_a_keeper_is_told_when_it_starts_is_as_it_was() -> None:
    """The order of its keys too; the pin of each line goes through as it is. A rule that is missing, or one that is
    not known, is no start: the keeper would keep another bench than the daemon means."""
    start = ke.KeepBench(
        ke.Setup({"green": "lamp a"}, {"lamp a": 30.0}, ("go", "end"), frozenset({"go", "end"}), frozenset({"green"})),
        {"outputs": {"lamp a": {"pin": 17, "active": "high"}}, "contacts": {}}, True, "b00c", "b007",
    )  # fmt: skip
    raw = (
        b'{"rules": {"lights": {"green": "lamp a"}, "longest_s": {"lamp a": 30.0}, "pedals": ["go", "end"], '
        b'"darkens": ["end", "go"], "views": ["green"], "view_s": 600.0, "safelight": true, "stay": {}, "cues": false, '
        b'"senses": {}}, "wiring": {"outputs": {"lamp a": {"pin": 17, "active": "high"}}, "contacts": {}}, '
        b'"simulated": true, "book": "b00c", "boot": "b007"}'
    )
    assert encoded(as_json(start)) == raw
    told = json.loads(raw)
    assert read_as(ke.KeepBench, told) == start
    assert read_as(ke.KeepBench, {**told, "chip": 3}) == replace(start, chip=3)
    for rule in told["rules"]:
        less = {name: value for name, value in told["rules"].items() if name != rule}
        for rules in (less, {**told["rules"], rule: None}, {**told["rules"], "more": 1}):
            with pytest.raises(Malformed, match=r"^rules: "):
                read_as(ke.KeepBench, {**told, "rules": rules})
