"""What is read beside the daemon's loop: begun and ended in the loop, one after the other, whatever comes of it."""

from __future__ import annotations

import json
import select
import threading
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from attacks.clients import SLOW, load_of
from records import wrote

from timerd.control import Long
from timerd.daemon.asking import Asking
from timerd.daemon.reading import MOST_WAITING, TOO_MANY, ReadBeside
from timerd.places import shipped
from timerd.sheet.engine import events as ev
from timerd.sheet.engine.rows import DONE, IDLE, PROMPT
from timerd.sheet.profile.reading import read
from timerd.wire.control import FillBath, No, SaidNo, SentFile, StartBaths, StatusTold, request_of

LIMIT_S = 20.0
STANDS = StatusTold({"ok": True})
BENCH = read((shipped() / "benches" / "two-station.yaml").read_bytes(), "bench.yaml", "bench")
TIDE = (shipped() / "prints" / "quiet-yard.yaml").read_text()


def hear(reading: Any) -> None:
    """What the loop does when the bell rings."""
    assert select.select([reading], [], [], LIMIT_S)[0], "nothing was read"
    reading.heard()


def test_nothing_waits_for_what_is_read_and_it_is_passed_on_in_the_loop() -> None:
    reading, may_end, found = ReadBeside(), threading.Event(), []
    where: list[int] = []

    def slow() -> str:
        where.append(threading.get_ident())
        assert may_end.wait(LIMIT_S)
        return "read"

    def then(what: Any) -> None:
        where.append(threading.get_ident())
        found.append(what)

    assert reading.take(slow, then, lambda: None)
    assert reading.take(lambda: "another", then, lambda: None)
    assert not select.select([reading], [], [], 0)[0] and found == []
    may_end.set()
    hear(reading)
    assert found == ["read"], "one after the other"
    hear(reading)
    assert found == ["read", "another"]
    assert where[0] != where[1] == where[2] == threading.get_ident()
    assert not select.select([reading], [], [], 0)[0]


@pytest.mark.parametrize("kind", [ValueError, OverflowError, RecursionError, MemoryError])
def test_whatever_is_raised_is_passed_on(kind: type[Exception]) -> None:
    reading, found = ReadBeside(), []

    def fails() -> None:
        raise kind("no")

    assert reading.take(fails, found.append, lambda: None)
    hear(reading)
    assert [type(one) for one in found] == [kind]


def test_whether_it_may_be_read_is_asked_when_its_turn_comes() -> None:
    reading, found = ReadBeside(), []
    no: list[SaidNo | None] = [None]
    for n in range(3):
        assert reading.take(lambda n=n: n, found.append, lambda: no[0])
    no[0] = SaidNo("a light is on")
    hear(reading)
    assert found[0] == 0 and [str(one) for one in found[1:]] == ["a light is on"] * 2


def test_so_much_may_wait_and_no_more() -> None:
    reading, may_end, found = ReadBeside(), threading.Event(), []
    assert reading.take(lambda: may_end.wait(LIMIT_S), found.append, lambda: None)
    taken = [reading.take(lambda: 1, found.append, lambda: None) for _ in range(MOST_WAITING + 1)]
    assert taken == [True] * MOST_WAITING + [False]
    may_end.set()
    while len(found) <= MOST_WAITING:
        hear(reading)
    assert found == [True] + [1] * MOST_WAITING


# -- what clients ask that takes long --------------------------------------------------------------------------------


class Loop:
    """The daemon about an `Asking`: what the engine was given, and what clients were told."""

    def __init__(self) -> None:
        self.standing = SimpleNamespace(burst=None, state=IDLE)
        self.ink = SimpleNamespace(failed=None)
        self.told: list[tuple[Any, Any]] = []
        self.events: list[Any] = []
        clients = SimpleNamespace(send=lambda client, answer: self.told.append((client, answer)))
        self.asking = Asking(self.standing, self.ink, clients, self.events.append, lambda: STANDS)  # type: ignore[arg-type]

    def load(self, client: str, request: Any) -> Any:
        return self.asking.load(client, request, BENCH, Path("/nowhere"))  # type: ignore[arg-type]


def parsed(text: str) -> Any:
    return request_of(json.dumps(load_of(text)).encode())


def long(text: str) -> Long:
    return Long(json.dumps(load_of(text)).encode())


def test_a_long_load_is_read_and_goes_to_the_engine_in_its_turn() -> None:
    loop = Loop()
    assert loop.load("one", long(TIDE + "#" * 20_000)) is None
    assert (loop.events, loop.told) == ([], [])
    hear(loop.asking)
    (event,) = loop.events
    assert (event.plan.print, event.sheets) == ("Quiet yard", 1) and loop.told == [], "told once it is done"
    loop.asking.done(event, [])
    assert loop.told == [("one", STANDS)]
    loop.asking.done(event, [])
    assert len(loop.told) == 1


def test_what_the_engine_refuses_or_never_gets_is_told() -> None:
    loop = Loop()
    for client in ("one", "two"):
        loop.load(client, parsed(TIDE))
        hear(loop.asking)
    loop.asking.done(loop.events[0], [wrote("refused", 0.0, facts={"why": "a sheet is out"})])
    loop.ink.failed = "the disk is full"
    loop.asking.dropped(loop.events[1])
    assert loop.told == [
        ("one", SaidNo("a sheet is out", No.NOT_NOW)),
        ("two", SaidNo("no ink, no light: the disk is full", No.NO_INK)),
    ]


@pytest.mark.parametrize(
    ("changed", "code", "why"),
    [
        ({"burst": 7}, "light on", "a light is on: nothing is loaded"),
        ({"state": PROMPT}, "under way", "a sheet is under way (prompt): nothing is loaded"),
    ],
)
def test_what_began_meanwhile_is_not_loaded_over(changed: dict[str, Any], code: str, why: str) -> None:
    loop = Loop()
    assert loop.load("one", parsed(TIDE)) is None and loop.load("two", parsed(TIDE)) is None
    vars(loop.standing).update(changed)
    hear(loop.asking)
    assert loop.events == []
    no = SaidNo(why, No(code))
    assert loop.told == [("one", no), ("two", no)]
    assert loop.load("three", parsed(TIDE)) == no, "nothing is read for it"
    vars(loop.standing).update(burst=None, state=DONE)
    assert loop.load("three", parsed(TIDE)) is None


def test_what_cannot_be_read_is_told_in_words() -> None:
    loop = Loop()
    no_json = Long(b'{"do": "load", "x": [' + b"[" * 20_000)
    wrong = [long(SLOW), no_json, Long(b'{"do": "load", "print": 7}'), Long(b'{"do": "load"}')]
    for request in wrong:
        assert loop.load("one", request) is None
    for _ in wrong:
        hear(loop.asking)
    said = [answer.why for _, answer in loop.told]
    assert "200 at most, has 5000" in said[0] and said[1].startswith("not understood: ")
    assert said[2:] == ["print: no table", "'print' is missing in it"] and loop.events == []


def test_more_than_can_wait_is_refused() -> None:
    loop = Loop()
    answers = [loop.load(str(n), long(SLOW)) for n in range(MOST_WAITING + 2)]
    assert answers == [None] * (MOST_WAITING + 1) + [SaidNo(TOO_MANY, No.BUSY)]
    vars(loop.standing).update(state=PROMPT)
    hear(loop.asking)
    assert len(loop.told) == MOST_WAITING + 1, "no file more is read for nothing"


def test_a_baths_line_is_read_beside_the_loop_too() -> None:
    loop, done = Loop(), []
    line = (shipped() / "baths" / "resin-single.yaml").read_text()
    name = read(line.encode(), "x", "bath").value.baths[0].name
    request = FillBath(name, SentFile("x", line))
    assert loop.asking.bath("one", request, done.append) is None  # type: ignore[arg-type]
    assert done == []
    hear(loop.asking)
    assert len(done) == 1 and loop.told == [("one", STANDS)]
    assert loop.asking.bath("one", StartBaths(), done.append) == STANDS  # type: ignore[arg-type]

    def breaks(event: Any) -> None:
        raise OverflowError("no")

    loop.asking.bath("two", request, breaks)  # type: ignore[arg-type]
    hear(loop.asking)
    assert loop.told[-1][1].why.startswith("timerd itself failed at this (OverflowError in test_reading.py")
    assert isinstance(loop.events, list) and not any(isinstance(one, ev.Load) for one in loop.events)
