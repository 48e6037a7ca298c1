"""The commands as a user types them: what they print, what they refuse, how they end."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from panel.telling import TOLD

from timerd.cli import main
from timerd.cli.files import shown_path
from timerd.places import shipped
from timerd.wire.control import SentFile

PRINT = """\
print: A test
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {base: soft, light: green, seconds: 4}
"""
FEET = """\
feet:
  - {when: idle, pedal: go, down: 1.2}
  - {when: prompt, after: 1, pedal: go}
  - {when: ready, after: 1, pedal: go}
"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TIMERD_HOME", str(tmp_path / "home"))
    (tmp_path / "a.yaml").write_text(PRINT)
    (tmp_path / "feet.yaml").write_text(FEET)
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *argv: str) -> tuple[int, str, str]:
    status = main(list(argv))
    told = capsys.readouterr()
    assert "Traceback" not in told.err
    return status, told.out, told.err


def test_check_says_that_nothing_is_wrong(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = [str(path) for path in sorted(shipped().glob("*/*.yaml"))]
    status, out, err = run(capsys, "check", *files)
    assert (status, err) == (0, "")
    lines = out.splitlines()
    told = [line for line in lines if not line.startswith("mind: ")]
    assert len(told) == len(files) >= 12
    assert all(line.endswith("nothing wrong") for line in told)


def test_check_says_all_that_is_wrong_in_files_and_between_them(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "b.yaml").write_text(PRINT.replace("green", "gren").replace("seconds: 4", "seconds: 4, then: next"))
    (here / "c.yaml").write_text(PRINT.replace("seconds: 4", "seconds: -4").replace("paper", "papr"))
    status, out, err = run(capsys, "check", "b.yaml", "a.yaml", "c.yaml", "none.yaml")
    assert status == 1 and err == ""
    lines = out.splitlines()
    assert lines[0].startswith("b.yaml:6: steps[0].light: ") and "did you mean 'green'?" in lines[0]
    assert "a.yaml: print, nothing wrong" in lines
    assert any(line.startswith("c.yaml:2: ") and "did you mean 'paper'?" in line for line in lines)
    assert "c.yaml: more may follow: mend these, then its files are held against each other" in lines
    assert sum("more may follow" in line for line in lines) == 1, "of what went together nothing more follows"
    assert "c.yaml:6: steps[0].seconds: must be at least 0.001, is -4" in lines
    assert "none.yaml: " in lines[-1] and "no such file" in lines[-1].lower()
    status, out, _ = run(capsys, "check", "--json", "c.yaml")
    faults = json.loads(out)["faults"]
    assert status == 1 and json.loads(out)["more_may_follow"] is True
    assert {(f["file"], f["line"], f["place"]) for f in faults} == {
        ("c.yaml", 2, ""), ("c.yaml", 6, "steps[0].seconds"),
    }  # fmt: skip


def test_check_tells_of_a_faulty_print_what_its_bench_lacks_too(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One round for the printer: an own fault hides neither a light that is not there nor the bench's own faults."""
    (here / "b.yaml").write_text(PRINT.replace("green", "gren").replace("seconds: 4", "seconds: -4"))
    lines = run(capsys, "check", "b.yaml")[1].splitlines()
    assert lines == [
        "b.yaml:6: steps[0].light: bench 'two-station' has no light 'gren': did you mean 'green'?",
        "b.yaml:6: steps[0].seconds: must be at least 0.001, is -4",
        "b.yaml: more may follow: mend these, then its files are held against each other",
    ]
    (here / "two-station.yaml").write_text("bench: two-station\nstations: {x: {turn: 1}}\n")
    lines = run(capsys, "check", "b.yaml")[1].splitlines()
    assert lines[0] == "b.yaml:6: steps[0].seconds: must be at least 0.001, is -4"
    assert len(lines) > 3 and all(line.startswith("two-station.yaml:") for line in lines[1:-1])
    (here / "b.yaml").write_text(PRINT)
    lines = run(capsys, "check", "b.yaml")[1].splitlines()
    assert lines[-1].startswith("b.yaml: more may follow") and lines[0].startswith("two-station.yaml:")


def test_check_tells_what_is_right_and_yet_worth_a_thought(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (shipped() / "benches" / "two-station.yaml").read_text()
    lines = [line for line in text.splitlines() if not line.startswith("heartbeat:")]
    at = next(n for n, line in enumerate(lines) if "pin: 23" in line)
    lines[at] = lines[at].replace("pin: 23", "pin: 23, kind: shutter")
    (here / "bench.yaml").write_text("\n".join(lines) + "\n")
    mind = [
        "bench.yaml:2: no heartbeat: no interlock darkens the lamps where this computer stands still "
        "(hardware/INTERLOCK.md)",
        f"bench.yaml:{at + 1}: lamps.flasher.kind: shutter changes nothing without stay_pin: light this lamp by hand "
        "beforehand",
    ]
    assert run(capsys, "check", "bench.yaml")[:2] == (
        0, "\n".join(["bench.yaml: bench, nothing wrong", *(f"mind: {line}" for line in mind), ""]),
    )  # fmt: skip
    assert json.loads(run(capsys, "check", "--json", "bench.yaml")[1]) == {
        "faults": [], "more_may_follow": False, "mind": mind,
    }  # fmt: skip


def test_check_takes_a_name_as_every_command_does(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(capsys, "check", "breakwater", "two-station")
    assert (status, err) == (0, "")
    assert out.splitlines() == [
        f"{shipped() / 'prints' / 'breakwater.yaml'}: print, nothing wrong",
        f"{shipped() / 'feet' / 'breakwater.yaml'}: feet, nothing wrong",
        f"{shipped() / 'benches' / 'two-station.yaml'}: bench, nothing wrong",
    ]
    assert run(capsys, "check", "breakwtr") == (1, "breakwtr: No such file or directory\n", "")


def test_bench_and_paper_may_lie_in_the_prints_own_folder(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bench = (shipped() / "benches" / "two-station.yaml").read_text()
    paper = (shipped() / "papers" / "demo-resin-pearl.yaml").read_text()
    (here / "my-bench.yaml").write_text(bench.replace("bench: two-station", "bench: my-bench"))
    (here / "my-paper.yaml").write_text(paper.replace("paper: demo-resin-pearl", "paper: my-paper"))
    text = PRINT.replace("two-station", "my-bench").replace("demo-resin-pearl", "my-paper")
    (here / "a.yaml").write_text(text)
    status, out, err = run(capsys, "plan", "a.yaml", "--json")
    assert (status, err) == (0, "") and (json.loads(out)["bench"], json.loads(out)["paper"]) == ("my-bench", "my-paper")
    (here / "my-bench.yaml").unlink()
    status, _, err = run(capsys, "plan", "a.yaml")
    assert status == 1 and err.count("\n") == 1
    assert "a.yaml:3: bench: there is no bench 'my-bench'" in err and "(looked in ., what comes along)" in err


def test_a_print_is_loaded_with_the_files_that_it_was_planned_with(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A paper of the shipped one's name beside the print is the one meant, in the plan and at the bench."""
    asked: list[Any] = []
    monkeypatch.setattr("timerd.cli.standing.ask_status", lambda _, wish: asked.append(wish) or TOLD)
    paper = (shipped() / "papers" / "demo-resin-pearl.yaml").read_text() + "# my own\n"
    for folder in ("prints", "papers"):
        (here / folder).mkdir()
    (here / "papers" / "demo-resin-pearl.yaml").write_text(paper)
    (here / "prints" / "a.yaml").write_text(PRINT)
    assert run(capsys, "load", "prints/a.yaml")[0] == 0
    assert asked[0].paper == SentFile("papers/demo-resin-pearl.yaml", paper)


def test_a_foot_that_never_comes_leaves_the_timeline_to_see_why(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "feet.yaml").write_text(FEET + "  - {when: fault, pedal: end}\n")
    status, out, err = run(capsys, "rehearse", "a.yaml", "--feet", "feet.yaml")
    lines = [re.sub(r" +", " ", line.strip()) for line in out.splitlines()]
    assert status == 1
    assert lines[0] == "time sheet" and lines[-1] == "0:10.2 1 done"
    assert "0:06.2 1 2 green on" in lines and "0:10.2 1 2 green off: 4.0 s given (dose complete)" in lines
    assert err == ("feet.yaml:5: feet[3].when: 'fault' is never entered: the bench stays in 'done' from 10.200 s on\n")


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (["plan", "no-such-print"], "no-such-print"),
        (["plan", "breakwatr"], "did you mean 'breakwater'?"),
        (["plan", "none.yaml"], "none.yaml: "),
        (["plan", "feet.yaml"], "feet.yaml:"),
        (["rehearse", "a.yaml", "--feet", "nobody"], "nobody"),
        (
            ["rehearse", "a.yaml", "--feet", "never.yaml"],
            "never.yaml:2: feet[0].when: 'paused' is never entered",
        ),
        (["rehearse", "a.yaml", "--feet", "past.yaml"], "past.yaml:3: feet[1].at: 0.5 s is past"),
        (
            ["rehearse", "a.yaml", "--feet", "down.yaml"],
            "down.yaml:3: feet[1].pedal: 'go' is still down at 1.000 s",
        ),
        (
            ["rehearse", "a.yaml", "--feet", "where.yaml"],
            "where.yaml:2: feet[0].station: no 'go' pedal is at 'flashing'",
        ),
        (["check", "."], ".: "),
        (["check", "a\x1b[31m.yaml"], "a\\x1b[31m.yaml: "),
    ],
)
def test_what_cannot_be_done_is_said_in_one_line(
    here: Path, capsys: pytest.CaptureFixture[str], argv: list[str], said: str
) -> None:
    (here / "never.yaml").write_text("feet:\n  - {when: paused, pedal: go}\n")
    (here / "past.yaml").write_text("feet:\n  - {when: idle, after: 3, pedal: go}\n  - {at: 0.5, pedal: go}\n")
    (here / "down.yaml").write_text("feet:\n  - {at: 0, pedal: go, down: 2}\n  - {at: 1, pedal: go}\n")
    (here / "where.yaml").write_text("feet:\n  - {at: 0, pedal: go, station: flashing}\n")
    before = sorted(os.listdir(here))
    status, out, err = run(capsys, *argv)
    told = out + err
    assert status == 1
    wrong = err if out.startswith("  time   sheet\n") else told  # what was played until then is shown
    assert len(wrong.splitlines()) == 1 and said in wrong
    assert "\x1b" not in told
    assert sorted(os.listdir(here)) == before


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (["plann", "quiet-yard"], "timerd: error: argument COMMAND: there is no 'plann': did you mean 'plan'?"),
        (["strip", "bse"], "timerd strip: error: argument KIND: there is no 'bse': did you mean 'base'?"),
        (["schema", "x"], "timerd schema: error: argument kind: there is no 'x' (there: print, bench, paper, bath, "
                          "feet)"),
        (["pl\x1b[31man"], "timerd: error: argument COMMAND: there is no 'pl\\x1b[31man': did you mean 'plan'?"),
    ],
)  # fmt: skip
def test_a_word_that_is_no_command_is_told_with_the_nearest(
    here: Path, capsys: pytest.CaptureFixture[str], argv: list[str], said: str
) -> None:
    with pytest.raises(SystemExit) as ended:
        run(capsys, *argv)
    assert ended.value.code == 2 and capsys.readouterr().err.splitlines()[-1] == said


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "utf-8"])
def test_what_the_users_encoding_does_not_have_is_written_out(encoding: str, here: Path) -> None:
    """It printed "ascii", and nothing else."""
    text = (shipped() / "prints" / "quiet-yard.yaml").read_text().replace("Quiet yard", "Hofgäßchen → still …")
    (here / "yard.yaml").write_text(text)
    done = subprocess.run(
        [sys.executable, "-m", "timerd", "plan", "yard.yaml"], capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": encoding},
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, b"")
    assert "Hofgäßchen → still …".encode(encoding, "backslashreplace") in done.stdout


def test_a_path_is_shown_from_here_but_whole_from_the_root(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert shown_path(here / "a.yaml") == "a.yaml"
    assert shown_path(Path("/never/a.yaml")) == "/never/a.yaml"
    monkeypatch.chdir("/")
    assert shown_path(Path("/var/lib/timerd")) == "/var/lib/timerd"


def test_rehearse_gives_edges_sheets_and_records(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(capsys, "rehearse", "a.yaml", "--feet", "feet.yaml", "--json")
    facts: dict[str, Any] = json.loads(out)
    assert (status, err) == (0, "")
    assert facts["edges"] == [
        {"t": 3.2, "line": "safelight", "on": False},
        {"t": 6.2, "line": "green", "on": True},
        {"t": 10.2, "line": "green", "on": False},
        {"t": 10.2, "line": "safelight", "on": True},
    ]
    assert facts["sheets"] == [
        {
            "sheet": 1,
            "outcome": "complete",
            "steps": [
                {"n": 1, "kind": "wait", "planned": 0.0, "given": 0.0, "bursts": [], "ended_by": "printer"},
                {
                    "n": 2,
                    "kind": "base",
                    "planned": 4.0,
                    "given": 4.0,
                    "bursts": [[6.2, 10.2]],
                    "ended_by": "dose",
                },
            ],
        }
    ]


def test_profiles_of_one_s_own_are_found_beside_the_print_and_at_home(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    prints = here / "home" / "profiles" / "prints"
    papers = here / "home" / "profiles" / "papers"
    prints.mkdir(parents=True)
    papers.mkdir()
    (prints / "mine.yaml").write_text(
        PRINT.replace("demo-resin-pearl", "my-paper").replace("sheet:", "judged: wet\nsheet:")
    )
    (papers / "my-paper.yaml").write_text("paper: my-paper\ndry_down: 10 %\n")
    status, out, _ = run(capsys, "plan", "mine", "--json")
    assert status == 0 and json.loads(out)["steps"][1]["dose"] == pytest.approx(3.6)
    beside = here / "elsewhere" / "prints"
    beside.mkdir(parents=True)
    (beside.parent / "papers").mkdir()
    (beside / "mine.yaml").write_text((prints / "mine.yaml").read_text())
    (beside.parent / "papers" / "my-paper.yaml").write_text("paper: my-paper\ndry_down: 5 %\n")
    status, out, _ = run(capsys, "plan", str(beside / "mine.yaml"), "--json")
    assert status == 0 and json.loads(out)["steps"][1]["dose"] == pytest.approx(3.8)


@pytest.mark.parametrize("kind", ["print", "bench", "paper", "bath", "feet"])
def test_schema(here: Path, capsys: pytest.CaptureFixture[str], kind: str) -> None:
    status, out, _ = run(capsys, "schema", kind)
    schema = json.loads(out)
    assert status == 0 and schema["additionalProperties"] is False
    assert kind in schema["properties"]


def test_demo_shows_two_sheets_and_draws_them(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(capsys, "demo")
    assert (status, err) == (0, "")
    assert "Sheet 1: complete" in out and "Sheet 2: complete" in out
    assert "paused" in out or "by a pedal" in out
    assert out.splitlines()[-3:] == [
        "The timeline as a picture: timerd-demo/timeline.png",
        "The proof of sheet 2, straight print and worked print: timerd-demo/proof.png",
        "The report of sheet 2, for any browser: timerd-demo/sheet-2.html",
    ]
    folder = here / "timerd-demo"
    assert sorted(path.name for path in folder.iterdir()) == ["proof.png", "sheet-2.html", "timeline.png"]
    for picture in ("timeline.png", "proof.png"):
        assert (folder / picture).read_bytes().startswith(b"\x89PNG")
    assert "Sheet 2: complete" in (folder / "sheet-2.html").read_text()
    assert run(capsys, "demo")[0] == 0, "again, over what is there"


def test_demo_without_the_desk_says_what_to_install(here: Path) -> None:
    """In a process of its own, in which neither can be imported: numpy does not bear being taken away and put back."""
    code = "import sys; sys.modules.update({'numpy': None, 'matplotlib.figure': None})\n"
    code += "from timerd.cli import main; sys.exit(main(['demo']))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
    said, report = done.stdout.splitlines()[-2:]
    assert said.startswith("No pictures: ") and "pip install 'timerd[desk]'" in said
    assert report == "The report of sheet 2, for any browser: timerd-demo/sheet-2.html"
    page = (here / "timerd-demo" / "sheet-2.html").read_text()
    assert "numpy is not installed; to get it: pip install" in page and "<img" not in page
    assert [path.name for path in (here / "timerd-demo").iterdir()] == ["sheet-2.html"]


def test_an_outsider_who_wants_it_dark_is_told_what_to_do(
    here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A member of another group, where the service's run folder is closed: it said that no bench was known."""
    none = "no bench is known here: there is nothing that timerd could darken. Look at the lamps all the same\n"
    monkeypatch.setattr("timerd.cli.dark.hurry", lambda: None)  # this process is the tests'
    assert run(capsys, "dark") == (1, "", none)
    monkeypatch.setattr("timerd.cli.dark.closed_service", lambda: Path("/run/timerd"))
    assert run(capsys, "dark") == (
        1, "", "NOT dark: the bench is served in /run/timerd, and this user may not talk to it: say  sudo timerd dark, "
        "or join the group that may. Cover the paper, switch the lamps off at the wall\n",
    )  # fmt: skip
