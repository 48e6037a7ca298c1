"""Every fault that can be has words, and words for what to do."""

from __future__ import annotations

from timerd.bench.keeper import FAULTS
from timerd.bench.reports import KEEPER_GONE
from timerd.sheet.fault_words import CLEAR, LIGHT_MAY_BE_ON, fault_words


def test_every_fault_has_words_of_its_own_and_says_what_to_do() -> None:
    known = [*FAULTS, KEEPER_GONE]
    told = [fault_words(why) for why in known]
    assert all(words.what != why for words, why in zip(told, known, strict=True))
    assert len({words.what for words in told}) == len(known)
    for words in (*told, fault_words("something new")):
        assert "switch the lamp off at the wall" in words.do[0] and words.do[1] == CLEAR
    assert fault_words("something new").what == "something new"


def test_where_the_lamp_cannot_be_seen_from_here_it_is_said_that_light_may_be_on() -> None:
    for why in ("line not low", KEEPER_GONE, "something new"):
        assert fault_words(why).do[0] == LIGHT_MAY_BE_ON
