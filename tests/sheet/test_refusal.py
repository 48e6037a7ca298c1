"""Reasons as codes: none is lost on its way through a book, each has words, and what is no code is told as it is."""

from __future__ import annotations

import json
from dataclasses import fields
from typing import Any

import pytest
from walks.bouncing import BENCH

from timerd.bench.simulated import SimulatedBench
from timerd.sheet.codes import facts_of
from timerd.sheet.engine import events as ev
from timerd.sheet.engine import rows
from timerd.sheet.refusal import CODES, NoFault, NothingToTakeUp, Refusal, refusal_of
from timerd.sheet.session import Session
from timerd.sheet.telling import refusal_words

KEPT = """
other down, other station, not now, not safe, no such light, lamp warms up, filter under lens, sheet under way,
no fault, no print, no sheet left, no sheet out, sheet not out, nothing to set aside, nothing to take up,
nothing set aside, nothing to give up, sheet not offered, sheet at trays, sheet over, sheet of other bench,
other unfinished, no such step, step by itself, step over, step without light, step owed, step complete,
no sheet at trays, too soon after light, too soon after press, too soon at trays, late,
viewing light on
"""
"""As they stand in books: a code may come, and none may go or be another."""
FILLED: dict[str, Any] = {
    "int": 7, "str": "a word", "str | None": "a place", "int | None": 3,
}  # fmt: skip


def filled(kind: Any) -> Refusal:
    made: Refusal = kind(**{field.name: FILLED[str(field.type)] for field in fields(kind)})
    return made


def test_the_codes_are_those_that_stand_in_books() -> None:
    assert set(CODES) == {code.strip() for code in KEPT.replace("\n", " ").split(",")}


@pytest.mark.parametrize("code", CODES)
def test_a_reason_comes_out_of_a_book_as_it_went_in_and_has_words(code: str) -> None:
    refusal = filled(CODES[code])
    facts = facts_of(refusal)
    assert facts["why"] == code
    again = json.loads(json.dumps({"number": 4, "at": 1.5, "pedal": "go", **facts} | facts))
    assert refusal_of(again) == refusal
    words = refusal_words(refusal)
    for field in fields(CODES[code]):
        value = getattr(refusal, field.name)
        assert str(value) in words or field.name == "how", "all of it is told"
        assert field.name not in ("number", "at", "why", "pedal", "kind", "sheet", "step", "burst"), "stands beside it"


def test_no_two_reasons_have_the_same_words() -> None:
    words = [refusal_words(filled(kind)) for kind in CODES.values()]
    assert len(set(words)) == len(words)


def test_a_field_that_is_not_there_is_told_too() -> None:
    assert refusal_words(NothingToTakeUp(None)) == "there is no sheet to take up"
    assert refusal_of({"why": "nothing to take up"}) == "nothing to take up", "not one of this version's"


@pytest.mark.parametrize("text", ["too soon after the last press", "its time is past", "moon in the seventh house"])
def test_english_of_old_books_and_reasons_of_others_are_shown_as_they_are(text: str) -> None:
    assert refusal_of({"pedal": "go", "why": text}) == text
    assert refusal_words(text) == text


def test_a_third_pedal_that_is_taken_ends_what_was_refused() -> None:
    bench = SimulatedBench(Session(BENCH))
    standing = bench.session.standing
    bench.event(ev.Clear(0.5))
    assert standing.refusal == NoFault()
    bench.at(2.0, lambda: bench.raw_edge("third", True))
    bench.advance(2.1)
    assert (standing.state, standing.refusal) == (rows.STATE_OF[rows.VIEWING], None)
