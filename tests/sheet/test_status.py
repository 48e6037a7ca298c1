"""The status on its way over the socket: whole there and back, strict in reading, and open to other versions."""

from __future__ import annotations

import json
from dataclasses import fields
from typing import Any, get_args

import pytest
from panel.screens import all_scenes

from timerd.sheet import reason as of
from timerd.sheet.codes import facts_of
from timerd.sheet.refusal import CODES, NotSafe, OtherDown
from timerd.sheet.status import (
    CopiesStand,
    CopyMade,
    GoesTo,
    LastSaid,
    LeadIn,
    NotTaken,
    Since,
    Status,
    Warming,
    status_json,
    status_of,
)

WHOLE = Status(
    bench="pier", simulated=True, scheduling="NOT real time", ink=of.NoInk("the disk is full"), now=9.5, state="fault",
    since=Since(3, 8.0), print="Pier", plan="a1", sheet=4, sheets_left=2, step=2, given=1.0, given_lo=0.5, owed=7.0,
    on_s=1.0, lead_in=LeadIn(3, "green", 8.0, 9.0, 7.0), white_light_spoils=NotSafe(4, "is out"),
    goes_to=(GoesTo(3, "fixer"),), reason=of.WentDark("lease"), unplugged={"go": "is unplugged"}, worn="end",
    not_verified=("head",), warming=Warming("head", 12.0), refused=NotTaken(1, 9.0, OtherDown("end")),
    said=LastSaid(2, "owed", 9.0), asks=("paper out",), boxed="asked", shows="viewing light", shown="red", aside=(1, 2),
    damaged=("sheet 1: record 3 is missing",), mind=(of.SheetDamaged(1), of.RecordDamaged(), of.NewBox("a", "b")),
    copies=CopiesStand("/media", CopyMade("book.sqlite", 40), of.NotCopied("no folder")),
)  # fmt: skip
TOLD: dict[str, Any] = json.loads(json.dumps(status_json(WHOLE)))


def read(**facts: Any) -> Status:
    return status_of({**TOLD, **facts})


def test_every_key_is_told_in_its_order_and_comes_back_as_it_went() -> None:
    assert status_of(TOLD) == WHOLE
    known = [
        "ok", "is", "bench", "simulated", "scheduling", "ink", "now", "state", "since", "print", "plan", "sheet",
        "sheets_left", "step", "given", "given_lo", "owed", "on_s", "steps", "lead_in", "burst", "dark", "white_light",
        "white_light_spoils", "goes_to", "reason", "unplugged", "worn", "not_verified", "warming", "refused", "said",
        "asks", "boxed", "shows", "shown", "unfinished", "aside", "damaged", "mind", "trays", "copies",
    ]  # fmt: skip
    assert [key for key in TOLD if key in known] == known
    assert TOLD["lead_in"] == {"burst": 3, "light": "green", "from": 8.0, "at": 9.0, "seconds": 7.0}
    assert TOLD["refused"] == {"number": 1, "at": 9.0, "why": "other down", "other": "end"}
    assert TOLD["white_light_spoils"] == {"why": "not safe", "spoils": 4, "where": "is out"}


@pytest.mark.parametrize("name", all_scenes())
def test_every_made_up_status_comes_back_as_it_went(name: str) -> None:
    status = all_scenes()[name].status
    assert status_of(json.loads(json.dumps(status_json(status)))) == status


@pytest.mark.parametrize("kind", [kind for union in (of.Reason, of.Mind, of.InkTrouble) for kind in get_args(union)])
def test_every_code_comes_back_as_it_went(kind: Any) -> None:
    filled = {"int": 7, "str": "a word", "str | None": None, "int | None": 3}
    made = kind(**{field.name: filled[str(field.type)] for field in fields(kind)})
    if kind in get_args(of.Mind):
        assert read(mind=[facts_of(made)]).mind == (made,)
    else:
        key = "ink" if kind in get_args(of.InkTrouble) else "reason"
        assert getattr(read(**{key: facts_of(made)}), key) == made


def test_no_code_is_two_things() -> None:
    assert not CODES.keys() & of.FAULTS.keys()


@pytest.mark.parametrize(
    ("facts", "wrong"),
    [
        ({"now": "soon"}, "now: not a number: 'soon'"),
        ({"simulated": 1}, "simulated: not true or false: 1"),
        ({"sheet": True}, "sheet: not a whole number: True"),
        ({"since": None}, "since: not an object: None"),
        ({"burst": {"burst": 1, "light": "green", "lit": 1.0}}, "burst: deadline is missing"),
        ({"goes_to": {}}, "goes_to: not a list: {}"),
        ({"unplugged": {"go": 1}}, "unplugged: not texts by name: {'go': 1}"),
        ({"reason": 3}, "reason: neither code nor text: 3"),
        ({"reason": {"why": "other down"}}, "reason: other is missing"),
        ({"refused": {"number": 1, "at": 1.0, "why": 7}}, "refused: why: neither code nor text"),
        ({"white_light": "perhaps"}, "white_light: neither safe nor not yet: 'perhaps'"),
    ],
)
def test_what_is_no_status_is_told_by_its_place(facts: dict[str, Any], wrong: str) -> None:
    with pytest.raises(ValueError) as told:
        read(**facts)
    assert str(told.value).startswith(wrong)


@pytest.mark.parametrize("key", [key for key in TOLD if key not in ("ok", "is")])
def test_a_key_that_is_not_there_is_missed_unless_it_came_later(key: str) -> None:
    later = {"unplugged", "worn", "not_verified", "warming", "damaged", "mind", "trays", "copies", "white_light_spoils"}
    short = {name: value for name, value in TOLD.items() if name != key}
    if key in later:
        assert status_of(short).now == 9.5
    else:
        with pytest.raises(ValueError, match=f"^{key}"):
            status_of(short)


def test_other_versions_are_understood_as_far_as_may_be() -> None:
    """Keys and codes of a later daemon; what an older one told in English."""
    assert read(cloud=3, since={"number": 3, "at": 8.0, "moon": 1}) == WHOLE
    assert read(reason={"why": "it is Sunday", "which": 3}).reason == "it is Sunday"
    old = {**TOLD, "white_light_words": "not yet: sheet 4 is out", "reason": "the keeper was lost", "mind": ["see it"]}
    del old["white_light_spoils"]
    told = status_of(old)
    assert (told.white_light_spoils, told.reason, told.mind) == (
        "not yet: sheet 4 is out", "the keeper was lost", ("see it",)
    )  # fmt: skip
    assert not told.white_safe and status_of({**old, "white_light": "safe"}).white_safe
