"""The commands that make the next sheet of what is in the book: adopt, compare, revise, edition; repeat's refusals."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from golden import Golden
from sheet.books import keep
from sheet.printed_sheets import records_of
from sheet.test_given import of_shipped

from timerd.cli import main
from timerd.places import shipped
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.reading import read

YARD = "quiet-yard"


def wall(minute: int) -> str:
    return f"2026-03-04T{18 + minute // 60}:{minute % 60:02}:00+00:00"


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Sheets 1 to 5 of the yard: by plan, more base, burn ended early, abandoned, a power cut; 6 with a free burn."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TIMERD_HOME", str(tmp_path / "home"))
    yard, _ = of_shipped(YARD)
    ferry, _ = of_shipped("ferry-steps")
    free = next(step.n for step in ferry.steps if step.pedal == "free")
    given: list[dict[str, Any]] = [
        {}, {"given": {2: 9.0 * 2**0.1}}, {"given": {3: [3.0, 1.5]}}, {"given": {2: 4.0}, "last": "abandoned"},
        {"given": {2: 9.0}, "least": {2: 8.0}},
    ]  # fmt: skip
    sheets = [
        (yard, records_of(yard, sheet=n, at=1000.0 * n, wall=wall(30 * n), **more)) for n, more in enumerate(given, 1)
    ]
    keep(tmp_path / "home", *sheets, (ferry, records_of(ferry, {free: 14.0}, sheet=6, at=9000, wall=wall(240))))
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *argv: str) -> tuple[int, str, str]:
    code = main(list(argv))
    told = capsys.readouterr()
    return code, told.out, told.err


def facts(capsys: pytest.CaptureFixture[str], *argv: str) -> dict[str, Any]:
    code, out, err = run(capsys, *argv, "--json")
    assert code == 0, err
    found: dict[str, Any] = json.loads(out)
    return found


# -- adopt -----------------------------------------------------------------------------------------------------------


def test_adopt_writes_a_print_that_plans_and_never_over_another(
    golden: Golden, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = run(capsys, "adopt", "3", "--out", "third.yaml")
    assert code == 0 and out.endswith("written: third.yaml\n")
    text = (home / "third.yaml").read_text()
    assert "  - {burn: wall, light: green, stops: 7/12, card: straight edge}  # planned were 5/6 stop\n" in text
    assert run(capsys, "check", "third.yaml")[0] == 0
    code, out, err = run(capsys, "adopt", "1", "--out", "third.yaml")
    golden((code, err))
    assert (home / "third.yaml").read_text() == text
    assert run(capsys, "adopt", "1", "--out", "third.yaml", "--force")[0] == 0
    assert "stops: 5/6," in (home / "third.yaml").read_text()


def test_adopt_without_out_writes_nothing(golden: Golden, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = set(home.iterdir())
    _, out, _ = run(capsys, "adopt", "1")
    assert set(home.iterdir()) == before
    golden(out)


def test_adopt_from_the_print_keeps_what_the_book_does_not_have(
    golden: Golden, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = facts(capsys, "adopt", "6", "--from", "ferry-steps", "--out", "fog-2.yaml")
    assert [step["written"] for step in found["steps"]][-1] == "11/12 stop"
    assert found["steps"][-1]["stops"] == pytest.approx(0.9538, abs=1e-4)
    text = (home / "fog-2.yaml").read_text()
    golden(text)
    assert any("burn fog, green: -0.037 stop off what was given" in said for said in found["mind"])


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (["4"], "sheet 4 was not finished (abandoned, at step 3): only a whole sheet is adopted"),
        (["99"], "there is no sheet 99 in the book: there are 1 to 6"),
        (["1", "--from", "breakwater"], "its steps are not those that sheet 1 was made with"),
        (["1", "--from", YARD, "--judged", "wet"], "--judged goes without --from"),
    ],
)
def test_what_cannot_be_adopted_is_one_line(
    home: Path, capsys: pytest.CaptureFixture[str], argv: list[str], words: str
) -> None:
    code, out, err = run(capsys, "adopt", *argv, "--out", "x.yaml")
    assert code == 1 and out == "" and words in err and err.count("\n") == 1
    assert not (home / "x.yaml").exists()


def test_a_paper_that_is_gone_is_told(golden: Golden, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    yard, _ = of_shipped(YARD)
    gone = yard.model_copy(update={"paper": "long-gone"})
    keep(home / "home", (gone, records_of(gone, sheet=7, at=9900)))
    _, _, err = run(capsys, "adopt", "7", "--out", "x.yaml")
    golden((err, err))


# -- compare ---------------------------------------------------------------------------------------------------------


def test_compare_tells_sheets_from_prints(golden: Golden, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = facts(capsys, "compare", YARD, "2")
    assert (found["a"]["sheet"], found["b"]["sheet"]) == (None, 2)
    base, burn = found["steps"]
    assert base["stops"] == pytest.approx(0.1) and burn["stops"] < 0 and burn["a"]["dose"] == burn["b"]["dose"]
    assert {(row["area"], row["light"]) for row in found["areas"]} == {(None, "green"), ("wall", "green")}
    golden(found["no_range"]["a"])


def test_compare_tells_the_range_where_the_paper_is_known(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = facts(capsys, "compare", "ferry-steps", "6")
    ranges = {row["area"]: (row["a"], row["b"]) for row in found["ranges"]}
    assert ranges[None][0] == ranges[None][1] == pytest.approx(92, abs=1)
    assert ranges["fog"][0] is None and ranges["fog"][1] > ranges[None][1], "softer where green was added"


def test_compare_reads_well(golden: Golden, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "compare", "3", "5")
    assert code == 0
    assert out.splitlines()[:5] == [
        "A: Quiet yard (sheet 3)", "B: Quiet yard (sheet 5)", "",
        "step                           A             B  stops apart",
        "base plain, green         9.00 s        9.00 s         same",
    ]  # fmt: skip
    assert "  - B: step 2: 8.0 to 9.0 s were given, the most is taken" in out
    out = run(capsys, "compare", "1", "4")[1]
    assert "burn wall, green   5/6 (7.04 s)       -       only A\n" in out
    assert "  - B: was not finished (abandoned, at step 3): what it got so far counts\n" in out
    golden(run(capsys, "compare", "1", "77"))


# -- revise ----------------------------------------------------------------------------------------------------------


def test_revise_writes_the_next_version_beside_the_print(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    prints = home / "home" / "profiles" / "prints"
    prints.mkdir(parents=True)
    (prints / "yard.yaml").write_text((shipped() / "prints" / f"{YARD}.yaml").read_text())
    code, out, _ = run(capsys, "revise", "yard", "--base", "-1/6", "--burn", "wall=+1/3")
    assert code == 0 and out.endswith("yard-2.yaml\n")
    second = read((prints / "yard-2.yaml").read_bytes(), "second", "print").value
    assert (second.origin, second.steps[0].seconds, str(second.steps[1].stops)) == ("yard", 8.018, "7/6")
    run(capsys, "revise", "yard-2", "--burn", "wall/green=-1/12")
    assert read((prints / "yard-3.yaml").read_bytes(), "third", "print").value.origin == "yard-2"
    run(capsys, "revise", "yard", "--base", "green=+1/12")
    assert (prints / "yard-4.yaml").exists(), "the next number that is free"
    assert (prints / "yard.yaml").read_text() == (shipped() / "prints" / f"{YARD}.yaml").read_text()


def test_revise_of_a_shipped_print_needs_a_place(
    golden: Golden, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = sorted((shipped() / "prints").iterdir())
    _, out, _ = run(capsys, "revise", YARD, "--base", "+1/6")
    golden(out)
    assert sorted((shipped() / "prints").iterdir()) == before
    assert facts(capsys, "revise", YARD, "--base=+1/6", "--out", "mine.yaml")["file"] == "mine.yaml"
    assert run(capsys, "check", "mine.yaml")[0] == 0


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (["--burn", "+1/3"], "--burn: say which and how much, as in haze=+1/3; found '+1/3'"),
        (["--base", "green=a lot"], "--base: write stops as 1/3, 1 1/4 or 0.5; found 'a lot'"),
        (["--base", "-9"], "seconds"),
        ([], "nothing is to be changed: say --base"),
    ],
)
def test_what_cannot_be_revised_is_told(
    home: Path, capsys: pytest.CaptureFixture[str], argv: list[str], words: str
) -> None:
    code, out, err = run(capsys, "revise", YARD, *argv, "--out", "x.yaml")
    if argv == ["--base", "-9"]:  # 0.018 s: short, and the lamp can give it
        assert code == 0
        return
    assert code == 1 and out == "" and words in err
    assert not (home / "x.yaml").exists()


# -- edition ---------------------------------------------------------------------------------------------------------


def test_edition_lays_the_whole_sheets_beside_the_plan(
    golden: Golden, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = facts(capsys, "edition", YARD)
    assert [one["sheet"] for one in found["sheets"]] == [1, 2, 3]
    golden(found["left_out"])
    base = found["steps"][0]
    assert base["off"] == [0.0, pytest.approx(0.1), 0.0] and base["spread"] == pytest.approx(0.1)
    (drift,) = found["drifts"]
    assert drift["sheets"] == [1, 2, 3] and drift["hours"] == 1.0 and drift["an_hour"] == pytest.approx(0.0)


def test_edition_draws_a_picture_and_not_over_another(
    golden: Golden, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = run(capsys, "edition", YARD, "--picture", "yard.png")
    assert code == 0 and "left out: sheet 4, not finished (abandoned)" in out and out.endswith("drawn: yard.png\n")
    assert (home / "yard.png").read_bytes().startswith(b"\x89PNG")
    assert run(capsys, "edition", YARD, "--picture", "yard.png")[0] == 1
    golden(run(capsys, "edition", "lantern-room"))


def test_a_title_of_mathematics_and_hidden_letters_is_drawn_as_text() -> None:
    from timerd.desk.editionshow import edition_figure
    from timerd.sheet.edition import Printed, edition

    plan, _ = of_shipped(YARD)
    evil = plan.model_copy(update={"print": "$\\frac{$ \u202e<b>\x1b[31m", "steps": tuple(
        step.model_copy(update={"area": "$\\x{$\u2067", "name": f"{step.kind}/a/b"}) for step in plan.steps
    )})  # fmt: skip
    figure = edition_figure(edition(evil, [Printed(1, None, evil)]))
    figure.canvas.draw()
    texts = [text.get_text() for text in figure.findobj(match=lambda one: hasattr(one, "get_text"))]
    assert any("\\frac" in text for text in texts)
    assert not any(hidden in text for text in texts for hidden in "\u202e\u2067\x1b")


def test_hostile_names_from_the_book_are_harmless_on_the_terminal(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    yard, _ = of_shipped(YARD)
    evil = yard.model_copy(update={"print": "\x1b[2J=HYPERLINK() \u202e<script>"})
    keep(home / "home", (evil, records_of(evil, {3: 1.0}, sheet=7, at=9900, wall=wall(300))))
    _, out, _ = run(capsys, "compare", "7", "1")
    assert "\x1b" not in out and "\u202e" not in out and "<script>" in out
    code, out, err = run(capsys, "adopt", "7", "--out", "evil.yaml")
    assert (code, out) == (1, "") and "cannot be adopted so: " in err, "hidden letters are refused in a file"
    assert "\x1b" not in err and "\u202e" not in err
    assert not (home / "evil.yaml").exists()


WITHOUT_DESK = """
import sys
class Missing:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in ("numpy", "scipy", "matplotlib", "PIL"):
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)
sys.meta_path.insert(0, Missing())
from timerd.cli import main
commands = "adopt 3,compare 1 3,revise quiet-yard --base +1/6,edition quiet-yard,edition quiet-yard --picture x.png"
print([main(command.split()) for command in commands.split(",")])
"""


def test_all_but_the_picture_works_without_the_desk_extra(golden: Golden, home: Path) -> None:
    done = subprocess.run([sys.executable, "-c", WITHOUT_DESK], capture_output=True, text=True)
    assert done.stdout.splitlines()[-1] == "[0, 0, 0, 0, 1]"
    golden(done.stderr)


# -- repeat ----------------------------------------------------------------------------------------------------------


def test_repeat_needs_a_daemon(
    golden: Golden, home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(home))
    code, out, err = run(capsys, "repeat", "1")
    assert (code, out) == (1, "")
    golden(err)


def test_plans_of_the_book_are_whole(home: Path) -> None:
    """The sheets above are read back as they were written: the ground that all of this stands on."""
    from timerd.book.reading import Reader

    reader = Reader(home / "home")
    plan, _ = of_shipped(YARD)
    assert reader.plan(1) == plan and isinstance(reader.plan(6), Plan)
    reader.close()
