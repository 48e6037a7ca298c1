"""Refusals: each has words of its own that tell all of it, and what is no code is told as it is."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import pytest
from walks.bouncing import BENCH

from timerd.bench.simulated import SimulatedBench
from timerd.sheet.engine import events as ev
from timerd.sheet.engine import rows
from timerd.sheet.refusal import CODES, NoFault, NothingToTakeUp, Refusal, refusal_of
from timerd.sheet.session import Session
from timerd.sheet.telling import refusal_words

FILLED: dict[str, Any] = {"int": 7, "str": "a word", "str | None": "a place", "int | None": 3}


def filled(kind: Any) -> Refusal:
    made: Refusal = kind(**{field.name: FILLED[str(field.type)] for field in fields(kind)})
    return made


def test_all_of_a_refusal_is_told_and_no_two_have_the_same_words() -> None:
    told = [(refusal_words(filled(kind)), kind) for kind in CODES.values()]
    for words, kind in told:
        for field in fields(kind):
            assert str(FILLED[str(field.type)]) in words or field.name == "how"
            assert field.name not in ("number", "at", "why", "pedal", "kind", "sheet", "step", "burst"), "stands beside"
    assert len({words for words, _ in told}) == len(told)
    assert refusal_words(NothingToTakeUp(None)) == "there is no sheet to take up"


@pytest.mark.parametrize("text", ["too soon after the last press", "its time is past", "moon in the seventh house"])
def test_english_of_old_books_and_reasons_of_others_are_shown_as_they_are(text: str) -> None:
    assert refusal_of({"pedal": "go", "why": text}) == refusal_words(text) == text


def test_a_third_pedal_that_is_taken_ends_what_was_refused() -> None:
    bench = SimulatedBench(Session(BENCH))
    standing = bench.session.standing
    bench.event(ev.Clear(0.5))
    assert standing.refusal == NoFault()
    bench.at(2.0, lambda: bench.raw_edge("third", True))
    bench.advance(2.1)
    assert (standing.state, standing.refusal) == (rows.STATE_OF[rows.VIEWING], None)
