"""Paper from a new box: found by the book when a print is loaded, asked for once, hinted at until it is begun."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from daemon.test_loading import BENCH, TEXTS, parsed, request
from sheet.books import keep
from sheet.printed_sheets import records_of

from timerd.bench.simulated import SimulatedBench
from timerd.book.reading import Reader
from timerd.cli import main
from timerd.daemon.loading import loading, repeating, to_load
from timerd.desk.report.page import report_page
from timerd.desk.report.subject import Subject
from timerd.panel.words_to_say import words_needed
from timerd.sheet.engine import events as ev
from timerd.sheet.engine.machine import Engine
from timerd.sheet.plan.value import Plan
from timerd.sheet.reason import NewBox
from timerd.sheet.session import Session
from timerd.sheet.status import Since, Status, status_json
from timerd.sheet.telling import mind_words
from timerd.wire.control import LoadAgain

NEW = "paper out, from the new box: 12"
BOX = NewBox("demo-fibre-glossy", "the new box: 12")
HINT = "demo-fibre-glossy is from the new box: 12. make a test strip first, and check it by drift"


def of(box: str = "", **more: Any) -> dict[str, Any]:
    """A request for the print on paper with these lines in its file."""
    return request(paper={"name": "demo-fibre-glossy.yaml", "text": TEXTS["paper"] + box}, **more)


def plan_of(box: str = "") -> Plan:
    return loading(parsed(of(box)), BENCH)[0]


def loaded(home: Path, box: str, **more: Any) -> Plan:
    return to_load(parsed(of(box, **more)), BENCH, home)[0]


def asks(plan: Plan) -> list[str]:
    return [ask for ask in plan.steps[0].asks if ask.startswith("paper out")]


def book(home: Path, *boxes: str) -> None:
    plans = [plan_of(box) for box in boxes]
    keep(home, *((plan, records_of(plan, sheet=n, at=500.0 * n)) for n, plan in enumerate(plans, 1)))


@pytest.mark.parametrize(
    ("before", "now", "asked"),
    [
        (["box: '11'\n"], "box: '12'\n", NEW),
        (["box: '11'\n", "box: '12'\n"], "box: '12'\n", "paper out"),
        (["box: '12'\n", "box: '11'\n"], "box: '12'\n", NEW),
        (["box: '11'\nbatch: 4-b\n"], "box: '11'\nbatch: 5-a\n", "paper out, from the new batch: 5-a"),
        (["box: '11'\nbatch: 4-b\n"], "box: '12'\nbatch: 5-a\n", NEW),
        # what was not told then, or is not now, is no new box; it is looked for on the sheet before
        ([""], "box: '12'\n", "paper out"),
        (["batch: 4-b\n"], "box: '12'\n", "paper out"),
        (["box: '11'\n"], "", "paper out"),
        (["box: '11'\n", ""], "box: '12'\n", NEW),
        ([], "box: '12'\n", "paper out"),
    ],
)
def test_the_start_prompt_asks_for_the_new_box(tmp_path: Path, before: list[str], now: str, asked: str) -> None:
    book(tmp_path, *before)
    plan = loaded(tmp_path, now)
    assert asks(plan) == [asked]
    assert (plan.new_box is None) == (asked == "paper out")
    plain = plan_of(now)
    assert plan.steps[1:] == plain.steps[1:] and plan.cautions == plain.cautions, "nothing else of it changes"


def test_another_paper_has_boxes_of_its_own(tmp_path: Path) -> None:
    other = plan_of("box: '11'\n").model_copy(update={"paper": "demo-fibre-matt"})
    keep(tmp_path, (other, records_of(other)))
    assert asks(loaded(tmp_path, "box: '12'\n")) == ["paper out"]


def test_a_sheet_that_is_given_again_says_nothing_of_boxes(tmp_path: Path) -> None:
    """Which box is open when it is repeated nobody says; the last sheet that told its box still counts."""
    book(tmp_path, "box: '11'\n", "box: '12'\n")
    again, _ = repeating(LoadAgain(1), BENCH, tmp_path)
    assert (again.box, again.batch, again.new_box, asks(again)) == (None, None, None, ["paper out"])
    marked = loaded(tmp_path, "box: '13'\n")
    keep(tmp_path, (marked, records_of(marked, sheet=3, at=2000)))
    again, _ = repeating(LoadAgain(3), BENCH, tmp_path)
    assert (again.box, again.new_box, asks(again)) == (None, None, ["paper out"])


def test_a_book_that_knows_no_boxes_is_read_as_ever(tmp_path: Path) -> None:
    """Plans from before have neither key."""
    book(tmp_path, "box: '11'\n")
    old = json.loads(plan_of().model_dump_json())
    for key in ("box", "batch", "new_box"):
        del old[key]
    plan = Plan.model_validate_json(json.dumps(old))
    assert (plan, plan.box) == (plan_of(), None)
    keep(tmp_path, (plan, records_of(plan, sheet=2, at=900)))
    reader = Reader(tmp_path)
    assert reader.last_on("demo-fibre-glossy") == plan_of("box: '11'\n")
    assert reader.last_on("demo-fibre-matt") is None
    reader.close()


def test_only_the_first_sheet_is_asked_for_and_hinted_at(tmp_path: Path) -> None:
    book(tmp_path, "box: '11'\n")
    plan = loaded(tmp_path, "box: '12'\n", sheets=3)
    session = Session(BENCH.value)
    bench = SimulatedBench(session)

    def tell(event: ev.Event) -> Status:
        session.handle(event, bench.now)
        return session.status(bench.now)

    status = tell(ev.Load(plan, 3, 0.0))
    assert status.mind == (BOX,) and mind_words(BOX) == HINT
    needed = words_needed(plan)
    assert any("from the new box" in words for words in needed), "its words are made when it is loaded"
    status = tell(ev.Told("arm", 0.0))
    assert (status.state, status.mind) == ("prompt", ())
    assert [ask for ask in status.asks or () if ask.startswith("paper")] == [NEW]
    tell(ev.Told("abandon", 0.0))
    tell(ev.Told("give up", 0.0))
    status = tell(ev.Told("arm", 0.0))
    assert [ask for ask in status.asks or () if ask.startswith("paper")] == ["paper out"], "it is open now"
    plans = session.standing.plans
    assert [(plans[n].box, plans[n].new_box) for n in (1, 2)] == [("12", "the new box: 12"), ("12", None)]


def test_the_rest_of_a_batch_is_from_the_open_box(tmp_path: Path) -> None:
    """After a crash the rest is loaded by its last sheet's plan, which may be the one that asked for the new box."""
    book(tmp_path, "box: '11'\n")
    standing = Engine(BENCH.value, None, {}, (loaded(tmp_path, "box: '12'\n"), 2)).standing
    assert standing.loaded is not None and asks(standing.loaded) == ["paper out"] and standing.sheets_left == 2


def test_load_says_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    told = Status(now=1.0, since=Since(0, 1.0), mind=(BOX,))
    monkeypatch.setattr("timerd.cli.standing.ask_status", lambda folder, asked: status_json(told))
    assert main(["--home", str(tmp_path), "load", "breakwater"]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "loaded: Breakwater, low tide, 1 sheet. Hold go for 1 s to arm.", f"mind: {HINT}",
    ]  # fmt: skip


def test_the_sheet_and_the_report_and_its_json_have_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    book(tmp_path, "box: '11'\nbatch: 4-b\n")
    marked = loaded(tmp_path, "box: third of four\nbatch: 4-b\n")
    keep(tmp_path, (marked, records_of(marked, sheet=2, at=2000)))
    home = ["--home", str(tmp_path)]
    told = "demo-fibre-glossy, box third of four, batch 4-b (new)"
    assert main([*home, "sheet", "2"]) == 0
    assert f"paper {told}, bench two-station" in capsys.readouterr().out
    assert main([*home, "sheet", "2", "--json"]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert (facts["box"], facts["batch"]) == ("third of four", "4-b")
    assert told in report_page(Subject(marked))
