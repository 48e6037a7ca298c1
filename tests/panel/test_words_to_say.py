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
    ("state", "words"),
    [
        (status(), "no print is loaded"),
        (status(**PRINT, sheets_left=2), "Quiet yard, two sheets to do"),
        (status(**PRINT, **OUT), "Quiet yard, no sheet to do. white light not yet: sheet 3 is out"),
        (
            status(**PRINT, **OUT, goes_to=[{"sheet": 2, "where": "trays"}, {"sheet": 3, "where": "fixer"}]),
            "Quiet yard, no sheet to do. white light not yet: sheet 3 is out. press go to send sheet 2 to the trays. "
            "press go when sheet 3 is in the fixer",
        ),
        (exposing(1.0, 9.0, **PRINT, state="idle", given=None), "viewing light on"),
        (
            status(**PRINT, unfinished=OFFER),
            "sheet 2 is unfinished: step 3, burn haze, given eight point five to nine point one seconds, "
            "plus or minus 0.05 stops, eight point seven seconds owed. "
            "hold go to take it up, both pedals to give it up",
        ),
        (
            status(**PRINT, unfinished={**OFFER, "given_lo": 9.1}),
            "sheet 2 is unfinished: step 3, burn haze, given nine point one seconds, eight point seven seconds owed. "
            "hold go to take it up, both pedals to give it up",
        ),
        (
            status(
                **PRINT, unfinished={"sheet": 2, "step": 1, "given_lo": 0.0, "given": 0.0, "owed": 0.0, "aside": None}
            ),
            "sheet 2 is unfinished: step 1, start prompt. hold go to take it up, both pedals to give it up",
        ),
        (
            status(
                **PRINT,
                unfinished={"sheet": 2, "step": None, "given_lo": None, "given": None, "owed": None, "aside": None},
            ),
            "sheet 2 is unfinished. hold go to take it up, both pedals to give it up",
        ),
        (
            status(**PRINT, unfinished={**OFFER, "given_lo": 9.1, "aside": "asked"}),
            "sheet 2 is set aside: step 3, burn haze, given nine point one seconds, eight point seven seconds owed. "
            "hold go to take it up, both pedals to give it up",
        ),
        (status(**PRINT, shows="viewing light"), "go shows the viewing light"),
        (told(state="ready", step=3, given=0.0, shows="paper-safe light"), "go shows the paper-safe light"),
        (told(state="paused", step=3, given=1.0, shown="red"), "paper-safe light on"),
        (told(state="prompt", step=1), "sheet 3, lens at f 8, paper out"),
        (
            told(state="prompt", step=3, asks=["take sheet 3 out of its box", "lens at f/8", "paper out"]),
            "take sheet 3 out of its box, lens at f 8, paper out, for burn haze",
        ),
        (
            told(state="ready", step=3, given=0.0),
            "burn, haze, one and a quarter stops, eighteen seconds, L cut, keep it moving",
        ),
        (
            told(state="ready", step=2, given=0.0),
            "base, soft, twelve seconds, dodge wet sand a quarter of a stop, bent edge",
        ),
        (
            told(state="ready", step=2, given=10.0),
            "base soft, two seconds, dodge wet sand a quarter of a stop, bent edge",
        ),
        (lead_in(1.0, 4.0, 9.0, **SHEET, step=3), "burn haze, the light is about to come on"),
        (exposing(1.0, 9.0, **SHEET, now=3.0, step=3), "burn haze, seven seconds left"),
        (told(state="paused", step=3, given=12.8, owed=5.0), "paused, five seconds owed"),
        (
            told(state="paused", step=3, given=12.8, owed=5.0, reason=WentDark("lease")),
            "paused, the program did not answer, five seconds owed",
        ),
        (
            told(state="paused", step=3, given=12.0, given_lo=10.0, owed=5.8),
            "paused, given ten to twelve seconds, plus or minus 0.13 stops, five point eight seconds owed",
        ),
        (told(state="paused", step=3, given=12.0, owed=None), "paused, given twelve seconds"),
        (
            told(state="done", step=4, given=None, goes_to=[{"sheet": 3, "where": "fixer"}]),
            "sheet 3 is done, develop, fibre-two-bath. press go when it is in the fixer. one sheet left",
        ),
        (
            told(state="done", step=4, given=None),
            "sheet 3 is done, develop, fibre-two-bath. one sheet left",
        ),
        (
            told(state="done", step=4, given=None, white_light_spoils=None, sheets_left=0),
            "sheet 3 is done, develop, fibre-two-bath",
        ),
        (told(state="abandoned"), "sheet 3 is abandoned. hold go for the next sheet, end to take it up again"),
        (
            told(state="fault", reason=LineNotLow()),
            "fault. A lamp was switched off and its line does not read low. Light may still be on: cover the paper, "
            "switch the lamp off at the wall. Both pedals for 2 seconds clear the fault once every line reads low; the "
            "sheet is kept.",
        ),
        (
            told(state="fault", reason="something new"),
            "fault. something new. Light may still be on: cover the paper, switch the lamp off at the wall. Both "
            "pedals for 2 seconds clear the fault once every line reads low; the sheet is kept.",
        ),
    ],
)
def test_each_state_is_spoken(state: Status, words: str) -> None:
    assert present_words(state, PLAN) == words


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
    ("before", "after", "words"),
    [
        (None, PAUSED, "paused, five seconds owed"),
        (None, EXPOSING, None),
        (None, lead_in(1.0, 4.0, 9.0), None),
        (EXPOSING, PAUSED, "paused, five seconds owed"),
        (READY, lead_in(1.0, 4.0, 9.0, **SHEET, step=3, since=since(2)), None),
        (lead_in(1.0, 4.0, 9.0, **SHEET, step=3), but(EXPOSING, since=since(3)), None),
        (lead_in(1.0, 4.0, 9.0, **SHEET, step=3), but(READY, since=since(3)), "called off"),
        (
            lead_in(1.0, 4.0, 9.0, **SHEET, step=3),
            but(READY, since=since(3), reason=WentDark("tap")),
            "called off, a tap too short to be a press",
        ),
        (
            exposing(1.0, 9.0, **SHEET, step=2),
            but(READY, since=since(3)),
            "burn, haze, one and a quarter stops, eighteen seconds, L cut, keep it moving",
        ),
        (READY, but(READY, now=200.0), None),
        (READY, but(READY, refused={"number": 1, "at": 9.0, "why": "go is down"}), "go is down"),
        (
            lead_in(1.0, 4.0, 9.0, **SHEET, step=3),
            but(READY, since=since(3), refused={"number": 1, "at": 9.0, "why": "end was pressed since"}),
            "end was pressed since",
        ),
        (READY, but(READY, said=said(1, "step")), present_words(READY, PLAN)),
        (READY, but(READY, said=said(1, "both held")), "keep holding to abandon the sheet"),
        (PAUSED, but(PAUSED, said=said(1, "owed")), "paused, five seconds owed. hold end to end the step here"),
        (
            PAUSED,
            but(PAUSED, reason=OtherDown("go"), refused=NotTaken(1, 9.0, OtherDown("go"))),
            "go is down",
        ),
        (
            but(PAUSED, reason=OtherDown("go"), refused=NotTaken(1, 9.0, OtherDown("go"))),
            but(PAUSED, reason=OtherDown("go"), refused=NotTaken(1, 9.0, OtherDown("go")),
             said=said(1, "owed")),
            "paused, five seconds owed. hold end to end the step here",
        ),
        (
            but(PAUSED, reason=WentDark("lease")),
            but(PAUSED, reason=WentDark("lease"), said=said(1, "owed")),
            "paused, the program did not answer, five seconds owed. hold end to end the step here",
        ),
        (READY, but(READY, worn="go", said=said(1, "worn")), "pedal go: its contact is worn"),
        (
            lead_in(1.0, 4.0, 9.0, **SHEET, step=3),
            but(READY, since=since(3), reason=WentDark("tap"), worn="go",
             said=said(1, "worn")),
            "pedal go: its contact is worn. called off, a tap too short to be a press",
        ),
        (status(), status(said=said(1, "both held")), "keep holding to give the sheet up"),
        (told(state="fault"), told(state="fault", said=said(1, "both held")), "keep holding to clear the fault"),
        (EXPOSING, but(EXPOSING, said=said(1, "ten seconds left")), "ten seconds left"),
        (told(state="done"), told(state="done", said=said(1, "in the fixer")),
         "in the fixer. white light is not safe yet"),
        (
            told(state="abandoned", step=3, given=9.1, owed=8.7),
            told(state="abandoned", step=3, given=9.1, owed=8.7, said=said(1, "given")),
            "sheet 3: step 3, burn haze, given nine point one seconds, eight point seven seconds owed",
        ),
        (
            status(unfinished=OFFER),
            status(unfinished=OFFER, said=said(1, "given")),
            "sheet 2 is unfinished: step 3, burn haze, given eight point five to nine point one seconds, "
            "plus or minus 0.05 stops, eight point seven seconds owed",
        ),
        (status(), status(**PRINT, sheets_left=2), "Quiet yard, two sheets to do"),
        (
            told(state="ready", step=3, given=0.0),
            status(**PRINT, sheets_left=2, since=since(2), said=said(1, "set aside")),
            "in the box. Quiet yard, two sheets to do",
        ),
        (told(state="ready", step=3, given=0.0),
         told(state="ready", step=3, given=0.0, since=since(2), shows="paper-safe light", said=said(1, "to show")),
         "go shows the paper-safe light"),
        (status(), exposing(1.0, 9.0, state="idle", since=since(2)), "viewing light on"),
        (exposing(1.0, 9.0, state="idle"), status(since=since(2)), "no print is loaded"),
        (status(since=since(2)), status(since=since(3)), None),
    ],
)  # fmt: skip
def test_each_change_is_spoken_once(before: Status | None, after: Status, words: str | None) -> None:
    assert change_words(before, after, PLAN) == words
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
