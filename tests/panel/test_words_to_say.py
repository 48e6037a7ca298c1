"""What is spoken: of each state, of each change, and that what a plan needs is known beforehand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from golden import Golden
from panel.telling import but, dodge, exposing, lead_in, plan, status, step

from timerd.panel.words_to_say import aloud, change_words, number_words, present_words, words_needed
from timerd.places import find, read_bytes
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.profile.reading import read
from timerd.sheet.reason import LineNotLow, WentDark
from timerd.sheet.refusal import NotSafe, OtherDown
from timerd.sheet.status import NotTaken, Status

BURN = step(
    17.8, n=3, kind="burn", area="haze", stops=1.25, stops_written="1 1/4", pedal="hold", card="L cut, keep it moving"
)
APART = step(
    12.0, parts=(10.0, 12.0), area="soft", dodges=(dodge("wet sand", 10.0, 12.0, apart=True, card="bent edge"),)
)
DEVELOP = Step(n=4, kind="develop", name="develop/fibre-two-bath")
PLAN = plan(APART, BURN, DEVELOP)
PRINT = {"print": "Quiet yard", "plan": "a1"}
OUT = {"white_light_spoils": NotSafe(3, "is out")}
SHEET = {**PRINT, **OUT, "sheet": 3, "sheets_left": 1}
OFFER = {"sheet": 2, "step": 3, "given_lo": 8.5, "given": 9.1, "owed": 8.7, "aside": None}


def told(**facts: Any) -> Status:
    return status(**{**SHEET, **facts})


@pytest.mark.parametrize(
    "state",
    [
        status(),
        status(**PRINT, sheets_left=2),
        status(**PRINT, **OUT),
        status(**PRINT, **OUT, goes_to=[{"sheet": 2, "where": "trays"}, {"sheet": 3, "where": "fixer"}]),
        exposing(1.0, 9.0, **PRINT, state="idle", given=None),
        status(**PRINT, unfinished=OFFER),
        status(**PRINT, unfinished={**OFFER, "given_lo": 9.1}),
        status(**PRINT, unfinished={"sheet": 2, "step": 1, "given_lo": 0.0, "given": 0.0, "owed": 0.0, "aside": None}),
        status(
            **PRINT,
            unfinished={"sheet": 2, "step": None, "given_lo": None, "given": None, "owed": None, "aside": None},
        ),
        status(**PRINT, unfinished={**OFFER, "given_lo": 9.1, "aside": "asked"}),
        status(**PRINT, shows="viewing light"),
        told(state="ready", step=3, given=0.0, shows="paper-safe light"),
        told(state="paused", step=3, given=1.0, shown="red"),
        told(state="prompt", step=1),
        told(state="prompt", step=3, asks=["take sheet 3 out of its box", "lens at f/8", "paper out"]),
        told(state="ready", step=3, given=0.0),
        told(state="ready", step=2, given=0.0),
        told(state="ready", step=2, given=10.0),
        lead_in(1.0, 4.0, 9.0, **SHEET, step=3),
        exposing(1.0, 9.0, **SHEET, now=3.0, step=3),
        told(state="paused", step=3, given=12.8, owed=5.0),
        told(state="paused", step=3, given=12.8, owed=5.0, reason=WentDark("lease")),
        told(state="paused", step=3, given=12.0, given_lo=10.0, owed=5.8),
        told(state="paused", step=3, given=12.0, owed=None),
        told(state="done", step=4, given=None, goes_to=[{"sheet": 3, "where": "fixer"}]),
        told(state="done", step=4, given=None),
        told(state="done", step=4, given=None, white_light_spoils=None, sheets_left=0),
        told(state="abandoned"),
        told(state="fault", reason=LineNotLow()),
        told(state="fault", reason="something new"),
    ],
)
def test_each_state_is_spoken(golden: Golden, state: Status) -> None:
    golden(present_words(state, PLAN))


def test_without_the_plan_what_can_be_said_is_said(golden: Golden) -> None:
    for state in ("prompt", "ready", "lead-in", "exposing", "paused", "done", "fault"):
        assert present_words(told(state=state, step=3, given=1.0, owed=1.0), None)
        assert present_words(told(state=state, step=9, given=1.0, owed=1.0), PLAN), "a plan that does not fit"
    golden(present_words(status(unfinished=OFFER), None))


def since(number: int) -> dict[str, Any]:
    return {"number": number, "at": 50.0}


def said(number: int, what: str) -> dict[str, Any]:
    return {"number": number, "what": what, "at": 50.0}


READY = told(state="ready", step=3, given=0.0)
EXPOSING = exposing(40.0, 17.8, **SHEET, step=3)
PAUSED = told(state="paused", step=3, given=12.8, owed=5.0, since=since(2))


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (None, PAUSED),
        (None, EXPOSING),
        (None, lead_in(1.0, 4.0, 9.0)),
        (EXPOSING, PAUSED),
        (READY, lead_in(1.0, 4.0, 9.0, **SHEET, step=3, since=since(2))),
        (lead_in(1.0, 4.0, 9.0, **SHEET, step=3), but(EXPOSING, since=since(3))),
        (lead_in(1.0, 4.0, 9.0, **SHEET, step=3), but(READY, since=since(3))),
        (lead_in(1.0, 4.0, 9.0, **SHEET, step=3), but(READY, since=since(3), reason=WentDark("tap"))),
        (exposing(1.0, 9.0, **SHEET, step=2), but(READY, since=since(3))),
        (READY, but(READY, now=200.0)),
        (READY, but(READY, refused={"number": 1, "at": 9.0, "why": "go is down"})),
        (
            lead_in(1.0, 4.0, 9.0, **SHEET, step=3),
            but(READY, since=since(3), refused={"number": 1, "at": 9.0, "why": "end was pressed since"}),
        ),
        (READY, but(READY, said=said(1, "step"))),
        (READY, but(READY, said=said(1, "both held"))),
        (PAUSED, but(PAUSED, said=said(1, "owed"))),
        (PAUSED, but(PAUSED, reason=OtherDown("go"), refused=NotTaken(1, 9.0, OtherDown("go")))),
        (
            but(PAUSED, reason=OtherDown("go"), refused=NotTaken(1, 9.0, OtherDown("go"))),
            but(PAUSED, reason=OtherDown("go"), refused=NotTaken(1, 9.0, OtherDown("go")), said=said(1, "owed")),
        ),
        (but(PAUSED, reason=WentDark("lease")), but(PAUSED, reason=WentDark("lease"), said=said(1, "owed"))),
        (READY, but(READY, worn="go", said=said(1, "worn"))),
        (
            lead_in(1.0, 4.0, 9.0, **SHEET, step=3),
            but(READY, since=since(3), reason=WentDark("tap"), worn="go", said=said(1, "worn")),
        ),
        (status(), status(said=said(1, "both held"))),
        (told(state="fault"), told(state="fault", said=said(1, "both held"))),
        (EXPOSING, but(EXPOSING, said=said(1, "ten seconds left"))),
        (told(state="done"), told(state="done", said=said(1, "in the fixer"))),
        (
            told(state="abandoned", step=3, given=9.1, owed=8.7),
            told(state="abandoned", step=3, given=9.1, owed=8.7, said=said(1, "given")),
        ),
        (status(unfinished=OFFER), status(unfinished=OFFER, said=said(1, "given"))),
        (status(), status(**PRINT, sheets_left=2)),
        (
            told(state="ready", step=3, given=0.0),
            status(**PRINT, sheets_left=2, since=since(2), said=said(1, "set aside")),
        ),
        (
            told(state="ready", step=3, given=0.0),
            told(state="ready", step=3, given=0.0, since=since(2), shows="paper-safe light", said=said(1, "to show")),
        ),
        (status(), exposing(1.0, 9.0, state="idle", since=since(2))),
        (exposing(1.0, 9.0, state="idle"), status(since=since(2))),
        (status(since=since(2)), status(since=since(3))),
    ],
)
def test_each_change_is_spoken_once(golden: Golden, before: Status | None, after: Status) -> None:
    golden(change_words(before, after, PLAN))
    assert change_words(after, after, PLAN) is None


def test_what_a_plan_needs_is_known_beforehand(golden: Golden) -> None:
    needed = words_needed(PLAN)
    golden(list(needed.items())[:4])
    assert {number_words(n): 0.7 for n in range(1, 24)}.items() <= needed.items()
    assert number_words(24) not in needed, "the longest burst is 17.8 s"
    assert words_needed(plan(step(None, longest_s=200.0)))["three minutes"] == 1.6
    for part in (present_words(READY, PLAN), "in", "out", "lens at f 8, paper out", "ten seconds left"):
        assert part in needed


def shipped_plan(name: str) -> Plan:
    nowhere = Path("/nowhere")
    path = find("print", name, None, nowhere)
    print_ = read(read_bytes(path), path.name, "print")
    bench, paper = (
        read(read_bytes(find(kind, getattr(print_.value, kind), path.parent, nowhere)), kind, kind)
        for kind in ("bench", "paper")
    )
    return make_plan(print_, bench, paper)


@pytest.mark.parametrize("name", ["breakwater", "ferry-steps", "lantern-room", "quiet-yard"])
def test_every_ready_of_a_shipped_print_is_among_them(name: str) -> None:
    of = shipped_plan(name)
    needed = set(words_needed(of))
    for one in of.steps:
        for given in (0.0, *one.parts[:-1]):
            state = {"wait": "prompt", "carry": "prompt", "filter": "prompt", "develop": "done"}.get(one.kind, "ready")
            words = present_words(told(state=state, step=one.n, given=given, sheet=1), of)
            assert words.removeprefix("sheet 1, ") in needed or state == "done", words


def test_text_is_put_so_that_a_voice_reads_it_right() -> None:
    assert aloud("edges 15 mm, f/5.6") == "edges 15 millimetres, f 5.6"
    assert aloud("a\nb\x00c\x1b[31m [[h@l'oU]] <voice>") == "a b c 31m h@l'oU voice"
    assert len(aloud("x" * 5000)) == 1000
