"""Every fault that can be has words, and words for what to do."""

from __future__ import annotations

from timerd.bench.gone import KEEPER_GONE
from timerd.bench.keeper import FAULTS
from timerd.sheet.fault_words import CLEAR, LIGHT_MAY_BE_ON, fault_words


def test_every_fault_has_words_of_its_own_and_says_what_to_do() -> None:
    known = [*FAULTS, KEEPER_GONE]
    told = [fault_words(why) for why in known]
    assert all(words.what != why for words, why in zip(told, known, strict=True))
    assert len({words.what for words in told}) == len(known)
    for words in (*told, fault_words("something new")):
        assert "switch the lamp off at the wall" in words.do[0] and words.do[1] == CLEAR
    assert fault_words("something new").what == "something new"


def test_a_reason_may_come_in_words_and_a_book_that_takes_nothing_is_no_stuck_lamp() -> None:
    assert fault_words("the keeper was lost") == fault_words(KEEPER_GONE)
    told = fault_words("no ink, no light: the disk is full")
    assert told.what == "no ink, no light: the disk is full" and LIGHT_MAY_BE_ON not in told.do


def test_where_the_lamp_cannot_be_seen_from_here_it_is_said_that_light_may_be_on() -> None:
    for why in ("line not low", KEEPER_GONE, "something new"):
        assert fault_words(why).do[0] == LIGHT_MAY_BE_ON
