"""Requests and answers at the control socket: their bytes as they always were, and what is said where one is wrong."""

from __future__ import annotations

import json
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timerd.wire.codec import Malformed
from timerd.wire.control import (
    AddNote,
    AddRating,
    Answer,
    AskBench,
    AskPlan,
    AskStatus,
    BenchTold,
    ClearFault,
    FillBath,
    Follow,
    HasTemperature,
    LeaveBaths,
    LoadAgain,
    LoadPrint,
    MakeDark,
    MoveBath,
    No,
    OnDisk,
    Order,
    PlanTold,
    Request,
    SaidNo,
    SentFile,
    StartBaths,
    StatusTold,
    answer_line,
    answer_of,
    checked,
    request_line,
    request_of,
)  # fmt: skip

FILE, JSON = SentFile("a.yaml", "é: 1\n"), '{"name": "a.yaml", "text": "é: 1\\n"}'
ASKED: list[tuple[Request, str]] = [
    (AskStatus(), '{"do": "status"}'),
    (Follow(), '{"do": "follow"}'),
    (AskPlan(), '{"do": "plan"}'),
    (AskBench(), '{"do": "bench"}'),
    (MakeDark(), '{"do": "dark"}'),
    (ClearFault(), '{"do": "clear"}'),
    (
        LoadPrint(2, True, FILE, FILE),
        f'{{"do": "load", "sheets": 2, "by_step": true, "print": {JSON}, "paper": {JSON}}}',
    ),
    (
        LoadPrint(2, False, FILE, FILE, FILE),
        f'{{"do": "load", "sheets": 2, "by_step": false, "print": {JSON}, "paper": {JSON}, "bath": {JSON}}}',
    ),
    (LoadAgain(7, 3), '{"do": "load", "repeat": 7, "sheets": 3}'),
    (Order("set aside"), '{"do": "tell", "what": "set aside"}'),
    (Order("owe", 4), '{"do": "tell", "what": "owe", "n": 4}'),
    (AddNote(3, "too light"), '{"do": "note", "sheet": 3, "text": "too light"}'),
    (AddNote(3, "", "b00c"), '{"do": "note", "sheet": 3, "text": "", "book": "b00c"}'),
    (AddRating(3, 5, "b00c"), '{"do": "rate", "sheet": 3, "rating": 5, "book": "b00c"}'),
    (StartBaths(), '{"do": "bath", "what": "start"}'),
    (LeaveBaths(3), '{"do": "bath", "what": "leave", "sheet": 3}'),
    (HasTemperature("stop", 20.5), '{"do": "bath", "what": "temperature", "bath": "stop", "celsius": 20.5}'),
    (FillBath("stop", FILE), f'{{"do": "bath", "what": "new", "bath": "stop", "line": {JSON}}}'),
    (FillBath("stop", FILE, 0.5), f'{{"do": "bath", "what": "new", "bath": "stop", "line": {JSON}, "litres": 0.5}}'),
    (MoveBath("fixer", "fixer 2"), '{"do": "bath", "what": "new", "bath": "fixer", "from": "fixer 2"}'),
]
ANSWERED: list[tuple[Answer, str]] = [
    (StatusTold({"ok": True, "is": "status", "state": "é"}), r'{"ok": true, "is": "status", "state": "\u00e9"}'),
    (PlanTold("a1", {"print": "x"}), '{"ok": true, "is": "plan", "id": "a1", "plan": {"print": "x"}}'),
    (PlanTold(None, None), '{"ok": true, "is": "plan", "id": null, "plan": null}'),
    (BenchTold({"bench": "x"}), '{"ok": true, "is": "bench", "bench": {"bench": "x"}}'),
    (OnDisk(), '{"ok": true, "is": "written"}'),
    (SaidNo("cover the paper", No.LINE_HIGH), '{"ok": false, "code": "line high", "why": "cover the paper"}'),
]


def test_the_bytes_are_as_they_were_and_are_read_as_what_they_say() -> None:
    for request, line in ASKED:
        assert request_line(request) == line.encode() + b"\n"
        assert request_of(line.encode()) == request
        assert request_of(line[:-1].encode() + b', "of a later version": [1]}') == request
    for answer, line in ANSWERED:
        assert answer_line(answer) == line.encode() + b"\n"
        assert answer_of(line.encode()) == answer
    assert {type(request) for request, _ in ASKED} == set(get_args(Request))
    assert {type(answer) for answer, _ in ANSWERED} == set(get_args(Answer))


NO_FILE = (None, "text", 7, [], {}, {"name": "x"}, {"text": "x"}, {"name": 1, "text": "x"}, {"name": "x", "text": 7})
NO_COUNT = (0, -1, 10**30, 1.0, "2", True, None, [1], {})
NO_NUMBER = ("1", True, None, [1], 10**30)
ORDERS = "say, arm, skip, end, abandon, step, owe, set aside, take up, give up, tray, view, rest"
WRONG: list[tuple[str, str, tuple[Any, ...], str]] = [
    ("load", "sheets", (*NO_COUNT, 1001), "sheets: must be a whole number from 1 to 1000"),
    ("load", "by_step", (0, "yes", None, []), "by_step: must be true or false"),
    *(("load", file, NO_FILE, f"load: needs {file}: {{name, text}}") for file in ("print", "paper", "bath")),
    ("load", "repeat", NO_COUNT, "repeat: must be a whole number from 1 to 1000000"),
    ("tell", "what", ("cut", None, 7, ["arm"], {}), f"tell: needs what: one of {ORDERS}"),
    ("tell", "n", (0, -1, 10**30, 1.0, "2", True, [1]), "n: must be a whole number from 1 to 1000000"),
    ("note", "sheet", NO_NUMBER[:-1], "note: needs the number of a sheet"),
    ("note", "text", (None, 7, ["x"]), "a note needs a text"),
    ("rate", "sheet", NO_NUMBER[:-1], "rate: needs the number of a sheet"),
    ("rate", "rating", NO_NUMBER[:-1], "a rating is from 1 to 5"),
    ("leave", "sheet", NO_NUMBER[:-1], "leave: needs the number of a sheet"),
    ("temperature", "bath", ("", "\x1b", "x" * 41, 7, None), "bath: needs the name of a bath"),
    ("temperature", "celsius", (*NO_NUMBER, 4.9, 50.1), "celsius: must be from 5 to 50"),
    ("fill", "litres", (*NO_NUMBER, 0, 1001), "litres: must be from 0.01 to 1000"),
    ("fill", "line", NO_FILE, "load: needs line: {name, text}"),
    ("move", "from", ("", "\x1b", 7, None), "from: needs the name of a bath"),
    ("start", "what", (None, 7, "cut", ["new"]), "bath: what is to be done: new, temperature, start or leave?"),
]
RIGHT = {
    "load": LoadPrint(1, False, FILE, FILE, FILE), "tell": Order("owe", 4), "note": AddNote(1, "x"),
    "rate": AddRating(1, 3), "leave": LeaveBaths(1), "temperature": HasTemperature("stop", 20.0),
    "fill": FillBath("stop", FILE, 1.0), "move": MoveBath("a", "b"), "start": StartBaths(),
}  # fmt: skip


@pytest.mark.parametrize(("right", "key", "values", "words"), WRONG, ids=lambda value: str(value)[:30])
def test_what_is_wrong_is_told_in_words(right: str, key: str, values: tuple[Any, ...], words: str) -> None:
    told = json.loads(request_line(RIGHT[right]))
    for value in values:
        assert request_of(json.dumps({**told, key: value}).encode()) == SaidNo(words, No.WRONG), value
    if key not in ("sheets", "by_step", "bath", "repeat", "n", "litres", "from") or right == "temperature":
        del told[key]
        assert request_of(json.dumps(told).encode()) == SaidNo(words, No.WRONG)


def test_what_may_be_left_out() -> None:
    told = json.loads(request_line(RIGHT["load"]))
    bare = {key: told[key] for key in ("do", "print", "paper")}
    assert request_of(json.dumps(bare).encode()) == LoadPrint(1, False, FILE, FILE)
    assert request_of(b'{"do": "load", "repeat": 2, "sheets": 1000}') == LoadAgain(2, 1000)
    for order in ("take up", "give up", "arm"):
        assert request_of(b'{"do": "tell", "what": "%s", "n": null}' % order.encode()) == Order(order)
    for order in ("step", "owe"):
        wrong = SaidNo(f"{order}: needs n: which step?", No.WRONG)
        assert request_of(b'{"do": "tell", "what": "%s"}' % order.encode()) == wrong


def test_a_command_is_told_what_the_daemon_would_say() -> None:
    for request, _ in ASKED:
        assert checked(request) is request
    with pytest.raises(Malformed, match="celsius: must be from 5 to 50"):
        checked(HasTemperature("stop", 4.0))


@pytest.mark.parametrize("line", ["", "[]", '{"ok": true}', '{"ok": true, "is": "weather"}', '{"ok": true, "is": 7}',
                                  '{"ok": true, "is": "plan", "id": 7, "plan": null}', '{"ok": NaN}'])  # fmt: skip
def test_what_is_no_answer_is_not_taken_for_one(line: str) -> None:
    with pytest.raises(Malformed):
        answer_of(line.encode())


def test_a_no_of_any_version_is_a_no() -> None:
    for line, why, code in (
        ('{"ok": false}', "refused", No.REFUSED), ('{"ok": 1, "is": "status", "why": 7}', "7", No.REFUSED),
        ('{"ok": false, "code": "of a later version", "why": "x"}', "x", No.REFUSED), ("{}", "refused", No.REFUSED),
        ('{"ok": false, "code": "busy", "why": "x", "more": 1}', "x", No.BUSY),
    ):  # fmt: skip
        assert answer_of(line.encode()) == SaidNo(why, code)


@given(st.binary(max_size=200))
def test_any_bytes_are_a_request_or_none(raw: bytes) -> None:
    found = request_of(raw)
    assert found is None or isinstance(found, SaidNo) or request_of(request_line(found)) == found
