"""A request to load: read, checked and worked out anew; whatever is wrong with it is one error, and never a crash."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import pytest
from golden import Golden
from hypothesis import given, settings
from hypothesis import strategies as st
from panel.telling import TOLD
from sheet.books import keep
from sheet.printed_sheets import records_of
from walks.numbers_walk import WORST, Tried, requests, try_one

from timerd.cli import main
from timerd.daemon.loading import loading, repeating
from timerd.places import MOST_BYTES, shipped
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import Profile, read
from timerd.wire.control import MOST_SHEETS, LoadAgain, LoadPrint, SaidNo, request_of


def bench(name: str = "two-station") -> Profile[Bench]:
    return read((shipped() / "benches" / f"{name}.yaml").read_bytes(), f"{name}.yaml", "bench")


BENCH = bench()
TEXTS = {
    "print": (shipped() / "prints" / "breakwater.yaml").read_text(),
    "paper": (shipped() / "papers" / "demo-fibre-glossy.yaml").read_text(),
}


def request(**more: Any) -> dict[str, Any]:
    files = {kind: {"name": f"{kind}.yaml", "text": text} for kind, text in TEXTS.items()}
    return {"do": "load", **files, **more}


def parsed(asked: dict[str, Any]) -> LoadPrint:
    """A request as a daemon reads it."""
    found = request_of(json.dumps(asked).encode())
    if isinstance(found, SaidNo):
        raise ValueError(found.why)
    assert isinstance(found, LoadPrint)
    return found


def load(asked: dict[str, Any], on: Profile[Bench] = BENCH) -> tuple[Plan, int]:
    return loading(parsed(asked), on)


def wrong(asked: dict[str, Any], on: Profile[Bench] = BENCH) -> str:
    with pytest.raises(ValueError) as caught:
        load(asked, on)
    return str(caught.value)


def test_the_plan_is_what_the_commands_make_of_the_same_files() -> None:
    plan, sheets = load(request(sheets=3), BENCH)
    print_ = read(TEXTS["print"].encode(), "print.yaml", "print")
    paper = read(TEXTS["paper"].encode(), "paper.yaml", "paper")
    assert (plan, sheets) == (make_plan(print_, BENCH, paper), 3)
    assert load(request(), BENCH) == (plan, 1)
    assert load(request(and_more={"plan": {"steps": []}}), BENCH) == (plan, 1), "nobody's word for a plan"


def test_faults_have_the_name_that_was_given_and_their_line() -> None:
    asked = request(print={"name": "mine/tide.yaml", "text": TEXTS["print"].replace("seconds: 9.5", "seconds: -9.5")})
    (line,) = wrong(asked).splitlines()
    at = 1 + TEXTS["print"][: TEXTS["print"].index("seconds: 9.5")].count("\n")
    assert line.startswith(f"mine/tide.yaml:{at}: ") and "-9.5" in line


def test_a_name_is_made_fit_to_be_shown() -> None:
    names = {
        "a\x1b[2Jb\nc\u202ed": "a[2Jbcd",
        "\x00\x07": "print",
        "": "print",
        "x" * 999: "x" * 200,
        "\ud800": "print",
    }
    for name, shown in names.items():
        said = wrong(request(print={"name": name, "text": "prints: x"}))
        assert said.startswith(f"{shown}:1: ")
        assert all(c.isprintable() or c == "\n" for c in said)


def test_texts_that_are_no_text_or_too_long_are_faults() -> None:
    for text in ("\ud800", "\x00", "a: &b [*b]", "!!python/object:os.system x", "[" * 5000, "", "x" * (MOST_BYTES + 1)):
        said = wrong(request(print={"name": "print.yaml", "text": text}))
        assert said.startswith("print.yaml:") and all(c.isprintable() or c == "\n" for c in said)


def test_the_bench_must_be_the_one_that_is_served(golden: Golden) -> None:
    golden(wrong(request(), bench("warm-lamp")))


def test_the_paper_must_be_the_one_that_the_print_is_on(golden: Golden) -> None:
    pearl = (shipped() / "papers" / "demo-resin-pearl.yaml").read_text()
    for name in ("pearl.yaml", "papers/demo-resin-pearl.yaml", "demo-fibre-glossy/pearl.yaml"):
        golden(wrong(request(paper={"name": name, "text": pearl})))


def test_a_paper_goes_by_its_files_name_whatever_it_calls_itself() -> None:
    """A copy of a paper's file under another name, and the print is on that."""
    mine = TEXTS["print"].replace("paper: demo-fibre-glossy", "paper: box-of-march")
    plan, _ = load(
        request(
            print={"name": "p.yaml", "text": mine},
            paper={"name": "my papers/box-of-march.yaml", "text": TEXTS["paper"].replace("8 %", "20 %")},
        ),
        BENCH,
    )
    assert plan.steps[3].dry_down == 0.2


def test_what_does_not_go_together_is_told_at_the_prints_line() -> None:
    said = wrong(request(print={"name": "p.yaml", "text": TEXTS["print"].replace("light: blue", "light: bleu")}))
    assert all(line.startswith("p.yaml:") for line in said.splitlines()) and "bleu" in said


ANYTHING = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=30)
    | st.sampled_from(list(TEXTS.values())),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["name", "text", "x"]), inner, max_size=3)
    ),
    max_leaves=8,
)


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(st.sampled_from(["print", "paper", "sheets", "plan"]), ANYTHING, max_size=4))
def test_any_request_is_a_plan_or_an_error_in_words(asked: dict[str, Any]) -> None:
    if request_of(json.dumps({"do": "load", **asked}).encode()) is None:
        return  # a number that is none in JSON
    try:
        plan, sheets = load({"do": "load", **asked})
    except ValueError as error:
        assert str(error) and all(c.isprintable() or c == "\n" for c in str(error))
    else:
        assert plan.bench == "two-station" and 1 <= sheets <= MOST_SHEETS


def test_whatever_number_is_sent_it_is_a_plan_that_can_be_run_or_an_error_in_words() -> None:
    """A part of tests/measure/attacks.py: of its numbers 13 ended the daemon, by exceptions that nobody expected."""
    found = Tried()
    for what, asked, on in requests(WORST, 303):
        try_one(what, asked, on, found)
    assert found.wrong == [] and found.tried > 5 and set(found.came) == {"refused", "played to done"}


def test_the_load_command_sends_the_paper_that_the_plan_was_made_of(
    golden: Golden, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A paper is sought by its file's name; what it calls itself may be the name of another file."""
    papers = tmp_path / "profiles" / "papers"
    papers.mkdir(parents=True)
    mine = TEXTS["paper"].replace("8 %", "20 %")
    (papers / "box-of-march.yaml").write_text(mine)
    print_ = tmp_path / "tide.yaml"
    print_.write_text(TEXTS["print"].replace("paper: demo-fibre-glossy", "paper: box-of-march"))
    sent: list[LoadPrint] = []

    def ask(folder: Path, asked: LoadPrint) -> dict[str, Any]:
        sent.append(asked)
        return TOLD

    monkeypatch.setattr("timerd.cli.standing.ask_status", ask)
    assert main(["--home", str(tmp_path), "load", str(print_), "--sheets", "2"]) == 0
    golden(capsys.readouterr().out)
    (asked,) = sent
    assert (asked.sheets, asked.paper.text) == (2, mine)
    assert loading(asked, BENCH)[0].steps[3].dry_down == 0.2


def test_four_times_the_mistakes_take_about_four_times_as_long() -> None:
    """While a text is read nothing else is done: it must not take the square of its length."""

    def seconds(text: str) -> float:
        start = time.process_time()
        with pytest.raises(ValueError):
            load(request(print={"name": "x", "text": text}), BENCH)
        return time.process_time() - start

    for rows in (
        [f"k{n}: 1\n" for n in range(4_000)],
        ["steps:\n", *[f"  - {{bass: soft{n}, lite: gren}}\n" for n in range(1_000)]],
        ["areas:\n", *[f"  hazee{n}: [[0, 0], [1, 0], [1, 1]]\n" for n in range(1_000)]],
    ):
        quarter = min(seconds("".join(rows[: len(rows) // 4])) for _ in range(3))
        assert seconds("".join(rows)) < 9 * quarter


# -- a sheet of the book, to be repeated -----------------------------------------------------------------------------


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A book with a sheet run by its plan (1), with a burn ended early and another skipped (2), abandoned (3)."""
    plan, _ = load(request(), BENCH)
    given = {6: [9.0, 3.5], 8: 0.0}
    keep(
        tmp_path, (plan, records_of(plan, sheet=1)), (plan, records_of(plan, given, sheet=2, at=500)),
        (plan, records_of(plan, {4: 5.0}, sheet=3, at=900, last="abandoned")),
    )  # fmt: skip
    return tmp_path


def test_a_sheet_is_given_again_as_the_book_has_it(home: Path) -> None:
    plan, _ = load(request(), BENCH)
    assert repeating(LoadAgain(1, 3), BENCH, home) == (plan, 3)
    again, sheets = repeating(LoadAgain(2), BENCH, home)
    assert sheets == 1
    doses = {step.name: step.dose for step in again.steps if step.dose is not None}
    planned = {step.name: step.dose for step in plan.steps if step.dose is not None}
    assert planned.pop("burn/sky/blue") and planned.pop("burn/haze/green") != 12.5
    assert doses == planned | {"burn/haze/green": 12.5}


@pytest.mark.parametrize(
    ("sheet", "words"),
    [
        (77, "there is no sheet 77 in the book"),
        (
            3,
            "sheet 3 was not finished (abandoned, at step 5): only a whole sheet is repeated; load its print",
        ),
    ],
)
def test_what_cannot_be_repeated_is_told(home: Path, sheet: int, words: str) -> None:
    with pytest.raises(ValueError) as caught:
        repeating(LoadAgain(sheet), BENCH, home)
    assert str(caught.value).startswith(words)


def test_a_sheet_of_another_bench_is_not_repeated(golden: Golden, home: Path) -> None:
    with golden.raises(ValueError):
        repeating(LoadAgain(1), bench("one-lamp"), home)
