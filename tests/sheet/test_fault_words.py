"""Every fault that can be has words, and words for what to do."""

from __future__ import annotations

from timerd.bench import keeper
from timerd.bench.gone import KEEPER_GONE
from timerd.sheet.reason import FAULTS, KeeperGone, LineNotLow, LinesLost, NoInk, fault_of
from timerd.sheet.telling import CLEAR, LIGHT_MAY_BE_ON, fault_words


def test_every_fault_of_the_keeper_is_one_of_those_with_words() -> None:
    assert {*keeper.FAULTS, KEEPER_GONE, "keeper stopped"} | {"no ink", "lines lost"} == set(FAULTS)
    assert all(type(fault_of({"why": code})) is FAULTS[code] for code in (*keeper.FAULTS, KEEPER_GONE))


def test_every_fault_has_words_of_its_own_and_says_what_to_do() -> None:
    told = [fault_words(fault_of({"why": code, "wrong": "the disk is full"})) for code in FAULTS]
    assert len({words.what for words in told}) == len(FAULTS)
    assert all("off at the wall" in words.do[0] for words in told)
    unknown = fault_words("something new")
    assert unknown == ("something new", (LIGHT_MAY_BE_ON, CLEAR)) and fault_words(None).do == unknown.do


def test_a_book_that_takes_nothing_is_no_stuck_lamp_and_is_not_cleared() -> None:
    told = fault_words(NoInk("the disk is full"))
    assert told.what == "no ink, no light: the disk is full" and not {LIGHT_MAY_BE_ON, CLEAR} & set(told.do)


def test_where_the_lamp_cannot_be_seen_from_here_it_is_said_that_light_may_be_on() -> None:
    for fault in (LineNotLow(), KeeperGone(), LinesLost("no chip"), "something new"):
        assert fault_words(fault).do[0] == LIGHT_MAY_BE_ON
