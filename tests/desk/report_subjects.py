"""What reports are made of in the tests: prints, the demo's sheet with its pauses and notes, and the same with hostile
text in every place where text can come from."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import cycle
from pathlib import Path

from records import wrote

from timerd.bench.rehearsal import Rehearsed, rehearse
from timerd.desk.report.subject import Subject
from timerd.places import find, read_bytes
from timerd.sheet.facts import DaemonStarted
from timerd.sheet.history import Dated, history
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import Cue, Plan, Step
from timerd.sheet.profile.reading import Profile, read
from timerd.sheet.record import Record

ROOT = Path(__file__).parents[2]
ARMED = "2026-03-01 20:30:00"

HOSTILE = {
    "element": "<img src=x onerror=hit()><script>hit()</script>",
    "end": "</title></style></svg></bdi></p><h1>hit</h1>",
    "entity": "&lt;b&gt; &amp; &#60;i&#62; & <!--",
    "attribute": '" onload="hit()" x=\'',
    "control": "bell\a, escape\x1b[31m, nul\0, \x7f",
    "direction": "\u202ederutrever\u202c \u2066isolated\u2069 \u200f",
    "right to left": "\u05e9\u05dc\u05d5\u05dd 12 \u05d9\u05dd",
    "formula": '=HYPERLINK("http://nowhere.invalid","1+1")',
    "style": "{} } * { display: none } @import url(http://nowhere.invalid);",
    "long": "Wattenmeer" * 30,
    "half": "half a character: \ud800",
}
"""Texts that a page must show and never obey, by what they try."""


def profile(kind: str, name: str) -> Profile:
    path = find(kind, name, None, Path("/nowhere"))
    return read(read_bytes(path), path.name, kind)


@cache
def print_subject(name: str) -> Subject:
    """A print that comes along, as planned."""
    print_ = profile("print", name)
    paper, bench = profile("paper", print_.value.paper), profile("bench", print_.value.bench)
    return Subject(make_plan(print_, bench, paper), paper=paper.value, bench=bench.value)


@cache
def demo() -> Rehearsed:
    plan = print_subject("breakwater").plan
    return rehearse(plan, profile("bench", plan.bench).value, profile("feet", "breakwater"))


def sheet_subject(number: int = 1, notes: tuple[str, ...] = ("Haze still a little thin.\nNext: +1/6.",)) -> Subject:
    """A sheet of the demo, armed at a known time, with notes and a rating."""
    print_ = print_subject("breakwater")
    return of_records(print_, [record for record in demo().records if record.sheet == number], notes)


def of_records(print_: Subject, records: list[Record], notes: tuple[str, ...] = ()) -> Subject:
    last = records[-1]
    records = [
        *records,
        *(wrote("note", last.at + 60 + i, last.sheet, facts={"text": text}) for i, text in enumerate(notes)),
        wrote("rated", last.at + 90, last.sheet, facts={"rating": 4}),
    ]
    dated = [Dated(record, 1_772_396_000.0 + record.at) for record in records]
    told = history(print_.plan, dated, [DaemonStarted("0.1.0", scheduling="real time")])
    return Subject(print_.plan, told, dated, ARMED, tuple(ARMED for _ in notes), print_.paper, print_.bench)


def with_proof(subject: Subject) -> Subject:
    """The same with a proof of the invented scene, small."""
    from timerd.desk.proof.making import make_proof

    assert subject.bench is not None and subject.paper is not None
    sheet = subject.history.progress if subject.history is not None else None
    return replace(subject, proof=make_proof(subject.plan, subject.bench, subject.paper, sheet=sheet, width=240))


def with_texts(texts: list[str]) -> Subject:
    """The demo's first sheet with these texts, in turn, in every place where somebody may write one."""
    left = cycle(texts)
    plain = print_subject("breakwater")
    plan = plain.plan
    areas = {area.name: f"{area.name} {next(left)}" for area in plan.sheet.areas} if plan.sheet is not None else {}

    def cue(one: Cue) -> Cue:
        area = areas.get(one.area, one.area)
        return one.model_copy(update={"area": area, "card": next(left), "note": next(left)})

    def step(one: Step) -> Step:
        return one.model_copy(
            update={
                "area": areas.get(one.area or "", one.area), "card": next(left), "note": next(left),
                "asks": tuple(next(left) for _ in one.asks), "dodges": tuple(map(cue, one.dodges)),
            }
        )  # fmt: skip

    sheet = plan.sheet
    assert sheet is not None
    changed: Plan = plan.model_copy(
        update={
            "print": next(left), "negative": next(left), "paper": next(left), "bench": next(left),
            "steps": tuple(map(step, plan.steps)), "cautions": tuple(next(left) for _ in texts),
            "totals": tuple(one.model_copy(update={"area": areas.get(one.area, one.area)}) for one in plan.totals),
            "sheet": sheet.model_copy(
                update={"areas": tuple(one.model_copy(update={"name": areas[one.name]}) for one in sheet.areas)}
            ),
        }
    )  # fmt: skip
    records = [record for record in demo().records if record.sheet == 1]
    whys = cycle(texts)
    records = [
        record._replace(fact=replace(record.fact, why=next(whys)))
        if record.kind == "dark" and record.facts["why"] != "deadline" else record
        for record in records
    ]  # fmt: skip
    subject = Subject(changed, paper=plain.paper, bench=plain.bench)
    return of_records(subject, records, tuple(texts))
