"""The acceptance of a bench: a real keeper on simulated lines, and feet that do what the course says, or do not."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
import yaml
from golden import Golden
from served import LIMIT_S, Served, bursts, stand_still

from timerd.bench.note import Note, Noted, read_note
from timerd.bench.pretended import TRUTH, PretendedFoot
from timerd.daemon.acceptance import course as course_module
from timerd.daemon.acceptance import kept as kept_module
from timerd.daemon.acceptance.course import Course, Item, NobodyThere
from timerd.daemon.acceptance.kept import Burn, Kept, PressMade
from timerd.daemon.acceptance.sheet import new_sheet, sheet
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import read

ROOT = Path(__file__).parents[2]
GREEN = "light green (lamp head-green, GPIO17)"


def bench(name: str = "two-station", was: str = "", now: str = "") -> Bench:
    text = (ROOT / "profiles" / "benches" / f"{name}.yaml").read_text()
    assert was in text
    value: Bench = read(text.replace(was, now).encode(), "bench.yaml", "bench").value
    return value


@pytest.fixture(autouse=True)
def short(monkeypatch: pytest.MonkeyPatch) -> None:
    """Short lights, and limits that a busy machine keeps; tests/measure/edge_timing.py and kills.py have figures."""
    monkeypatch.setattr(course_module, "LIGHT_S", 0.15)
    monkeypatch.setattr(course_module, "FOOT_S", LIMIT_S)
    monkeypatch.setattr(course_module, "EYES_S", LIMIT_S)
    monkeypatch.setattr(course_module, "DARK_WITHIN_S", 1.0)
    monkeypatch.setattr(course_module, "LAST_OFF_S", LIMIT_S)
    monkeypatch.setattr(kept_module, "STOPPED_S", 0.3)
    monkeypatch.setattr(course_module, "STOPPED_S", 0.3)


class Feet:
    """Does what the course says; `instead` has another answer for lines that it is found in."""

    def __init__(self, run: Path, instead: dict[str, Any] | None = None) -> None:
        self.run = run
        self.instead = instead or {}
        self.said: list[str] = []
        self._then: str | None = None

    def __call__(self, words: str) -> None:
        self.said.append(words)
        for part, act in self.instead.items():
            if part in words:
                if act is not None:
                    act(self)
                return
        if found := re.search(r"press (\S+), and let it up", words):
            self.tap(found[1])
        elif "(go: yes" in words:
            self.tap("go")
        elif words.endswith("is lit"):
            if self._then is not None:
                self.tap(self._then)
        elif ": press go" in words:
            cut = re.search(r"then (\S+) while", words)
            self._then = cut[1] if cut is not None else None
            self.tap("go")

    def tap(self, contact: str, seconds: float = 0.05) -> None:
        foot = PretendedFoot(self.run)
        foot.put(contact, True)
        stand_still(seconds)
        foot.put(contact, False)
        foot.close()


def gone_through(tmp_path: Path, what: Bench, instead: dict[str, Any] | None = None) -> tuple[list[Item], Feet]:
    feet = Feet(tmp_path, instead)
    with Kept(what, tmp_path, simulated=True) as kept:
        return list(Course(kept, feet).items()), feet


def edges(run: Path) -> list[dict[str, Any]]:
    return [yaml.safe_load(line) for line in (run / TRUTH).read_text().splitlines()]


def test_every_pedal_and_light_is_tried_and_each_light_follows_a_press(golden: Golden, tmp_path: Path) -> None:
    items, _ = gone_through(tmp_path, bench())
    golden([(item.what, item.result) for item in items])
    found = bursts(edges(tmp_path))
    assert [line.removeprefix("lamp ") for line, _, _ in found] == [
        "head-green", "head-blue", "flasher", *["head-green"] * 5,
    ]  # fmt: skip
    lengths = [dark - lit for _, lit, dark in found if dark is not None]
    assert [*lengths[:3], lengths[5]] == [pytest.approx(0.15, abs=0.1)] * 4 and max(
        lengths
    ) < course_module.CUT_WITHIN_S
    safelight = [edge["on"] for edge in edges(tmp_path) if edge["line"] == "safelight"]
    assert safelight == [False, True], "dark in its own turn alone"
    assert all(re.match(r"lit for 0\.[12]\d\d s of 0\.15 s by the clock; ", item.found) for item in items[3:6])


def test_without_the_printer_s_feet_nothing_is_lit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(course_module, "FOOT_S", 0.1)
    monkeypatch.setattr(course_module, "EYES_S", 0.1)

    def never(words: str) -> None:
        pass

    with (
        Kept(bench(), tmp_path, simulated=True) as kept,
        pytest.raises(NobodyThere, match=r"nobody answered for 0.1 s"),
    ):
        list(Course(kept, never).items())
    assert bursts(edges(tmp_path)) == []


def end(feet: Feet) -> None:
    feet.tap("end")


def wrong_then_right(feet: Feet) -> None:
    feet.instead = {}
    feet.tap("end")


def test_what_is_not_as_it_should_be_is_written_down(golden: Golden, tmp_path: Path) -> None:
    items, _ = gone_through(tmp_path, bench(), {
        "Is all dark": end, f"{GREEN}: press go": end, "head-blue lit, and": end,
        "then end while": lambda feet: feet.tap("go"), "come back?": end, "is it dark?": end, "out at once": end,
    })  # fmt: skip
    golden({item.what: (item.result, item.found.rpartition(", ")[2]) for item in items if item.result != "passed"})
    assert {line for line, _, _ in bursts(edges(tmp_path))[:1]} == {"lamp head-blue"}, "green was left out"


class Measured:
    """A bench of which every eye says yes: what it measured alone is to be judged."""

    def __init__(self, **measured: Any) -> None:
        self.bench = bench()
        self._measured = {"last_off": (0.1, ()), "stopped": (), "late": 0.001, "safelight": (False, True)} | measured
        self._asked: tuple[str, bool] = ("go", False)
        self._presses = 0

    def press(self, since: float, within_s: float) -> PressMade:
        return self.start(since, within_s)._replace(seconds=0.1)

    def start(self, since: float, within_s: float) -> PressMade:
        self._presses += 1
        return PressMade("go", since, self._presses, None)

    def ask(self, light: str, press: PressMade, seconds: float, safelight: bool = False) -> None:
        self._asked = "go", safelight

    def lit(self) -> float:
        return 10.0

    def dark(self, lit: float | None, within_s: float) -> Burn:
        if self._asked[1]:
            return Burn("deadline", None, None, lit, 12.0, self._measured["safelight"])
        return Burn("pedal", "go", 11.0, lit, 11.0 + self._measured["late"], ())

    def kill(self) -> tuple[float, tuple[str, ...]]:
        return self._measured["last_off"]

    def stop(self) -> tuple[str, ...]:
        return self._measured["stopped"]


@pytest.mark.parametrize(
    ("measured", "failed"),
    [
        ({}, set()),
        ({"late": 0.006}, {"pedal go darkens"}),
        ({"safelight": ()}, {"safelight"}),
        ({"safelight": (False,)}, {"safelight"}),
        ({"last_off": (1.01, ())}, {"the keeper is killed"}),
        ({"last_off": (0.1, ("lamp head-green",))}, {"the keeper is killed"}),
        ({"stopped": ("lamp head-green",)}, {"cut-off"}),
    ],
)
def test_no_eye_passes_what_the_lines_tell_otherwise(
    measured: dict[str, Any], failed: set[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.undo()  # the limits as they are
    course = Course(Measured(**measured), lambda words: None)  # type: ignore[arg-type]
    judged = (course._darkens("go", "green"), course._safelight("green"), course._killed("green"),
              course._cut_off("green"))  # fmt: skip
    assert {item.what for item in judged if item.result == "failed"} == failed
    assert {item.result for item in judged} <= {"passed", "failed"}


def test_a_pedal_that_is_not_itself_and_a_bench_without_a_heartbeat_are_told(tmp_path: Path) -> None:
    feet = Feet(tmp_path, {"pedal go: press": wrong_then_right})
    with Kept(bench(was="heartbeat: {pin: 26}", now=""), tmp_path, simulated=True) as kept:
        course = Course(kept, feet)
        pedal, cut_off = next(iter(course.items())), course._cut_off("green")
    assert (pedal.what, pedal.result) == ("pedal go", "failed")
    assert re.fullmatch(r"down for 0\.\d\d s; before it came end", pedal.found)
    assert cut_off.result == "left out" and "NO HEARTBEAT" in cut_off.found


def test_a_pedal_that_nobody_presses_is_not_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(course_module, "FOOT_S", 0.1)
    with Kept(bench(), tmp_path, simulated=True) as kept:
        course = Course(kept, Feet(tmp_path, {"press go, and": None}))
        assert next(course.items()) == Item("pedal go", "failed", "not seen")


def test_with_one_pedal_no_is_a_go_that_is_held(tmp_path: Path) -> None:
    two = bench("one-lamp")
    one = two.model_copy(update={"pedals": two.pedals.model_copy(update={"end": []})})
    feet = Feet(tmp_path, {"Is all dark": lambda feet: feet.tap("go", 1.05)})
    with Kept(one, tmp_path, simulated=True) as kept:
        items = Course(kept, feet).items()
        assert [next(items).result for _ in range(3)] == ["passed", "failed", "passed"]
    assert "(go: yes, go held for 1 s: no)" in feet.said[1]


def test_a_press_from_before_the_question_is_no_answer(tmp_path: Path) -> None:
    """Nor does it light anything."""
    feet = Feet(tmp_path)
    with Kept(bench(), tmp_path, simulated=True) as kept:
        feet.tap("go")
        assert kept.start(time.monotonic(), 0.1) is None
        feet.tap("go")
        assert kept.press(0.0, 1.0) is not None


# -- beside a service ----------------------------------------------------------------------------------------------


def test_the_service_s_last_note_is_left_as_it_was(tmp_path: Path) -> None:
    noted = Noted("a book", "a boot", 7, 100.0, 101.0, 103.5, "pedal")
    Note(tmp_path).write(noted)
    feet = Feet(tmp_path)
    with Kept(bench(), tmp_path, simulated=True) as kept:
        feet.tap("go")
        press = kept.press(0.0, 1.0)
        assert press is not None
        kept.ask("green", press, 0.05)
        kept.dark(kept.lit(), 2.0)
        assert (during := read_note(tmp_path)) is not None and during.book != "a book"
    assert read_note(tmp_path) == noted


def test_beside_a_daemon_it_is_refused(golden: Golden, served: Served) -> None:
    served.start()
    told = served.timerd("bench", "test", "--bench", "two-station", "--simulated")
    assert (told.returncode, told.stdout) == (1, "")
    golden(told.stderr)


STOPPING = """
import sys
from pathlib import Path
from timerd.daemon.acceptance import kept
from timerd.sheet.profile.reading import read
kept.STOPPED_S, kept.LET_GO_S = 60.0, -59.0
bench = read(Path(sys.argv[1]).read_bytes(), "bench", "bench").value
with kept.Kept(bench, Path(sys.argv[2]), True) as one:
    print("ready", flush=True)
    one.ask("green", one.start(0.0, 20.0), 100.0)
    one.lit()
    print("lit", flush=True)
    one.stop()
"""


def test_killed_while_the_keeper_is_stopped_it_leaves_no_light_on(tmp_path: Path) -> None:
    file = ROOT / "profiles" / "benches" / "two-station.yaml"
    command = [sys.executable, "-c", STOPPING, str(file), str(tmp_path)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None and process.stdout.readline() == "ready\n"
    Feet(tmp_path).tap("go")
    assert process.stdout.readline() == "lit\n"
    keeper = int((tmp_path / "keeper.pid").read_text())
    until = time.monotonic() + LIMIT_S
    while "\nState:\tT" not in Path(f"/proc/{keeper}/status").read_text():
        assert time.monotonic() < until
    process.send_signal(signal.SIGKILL)
    process.wait()
    assert bursts(edges(tmp_path))[0][2] is None, "its line is high: that is what the interlock answers"
    while bursts(edges(tmp_path))[0][2] is None:
        assert time.monotonic() < until
        stand_still(0.02)
    process.stdout.close()


# -- the sheet and the command ---------------------------------------------------------------------------------------


def test_a_sheet_s_name_is_never_taken_twice_and_its_text_is_whole(golden: Golden, tmp_path: Path) -> None:
    now = datetime(2031, 5, 4, 20, 15)
    names = []
    for _ in range(3):
        path = new_sheet(tmp_path / "acceptance", "two-station", now)
        path.write_text("")
        names.append(path.name)
    assert names == ["2031-05-04-two-station.yaml", "2031-05-04-two-station-2.yaml", "2031-05-04-two-station-3.yaml"]
    with Kept(bench(), tmp_path / "run", simulated=True) as kept:
        kept.scheduling = "real time, memory locked"
        text = sheet(kept, now, [Item("pedal go", "passed", "down for 0.12 s"), Item("cut-off", "failed", "x: y")], "z")
    path.write_text(text)
    golden(yaml.safe_load(path.read_text()))


@pytest.fixture
def process(tmp_path: Path) -> Iterator[Callable[..., subprocess.Popen[str]]]:
    started = []
    memory = tmp_path / "memory"
    memory.mkdir()

    def start(ignored: bool = False) -> subprocess.Popen[str]:
        way = signal.SIG_IGN if ignored else signal.SIG_DFL
        command = [sys.executable, "-u", "-m", "timerd", "bench", "test", "--bench", "two-station", "--simulated"]
        env = {**os.environ, "TIMERD_HOME": str(tmp_path / "home"), "XDG_RUNTIME_DIR": str(memory)}
        started.append(
            subprocess.Popen(
                command, env=env, stdout=subprocess.PIPE, text=True, cwd=tmp_path,
                preexec_fn=lambda: signal.signal(signal.SIGINT, way),
            )
        )  # fmt: skip
        return started[-1]

    yield start
    for one in started:
        one.kill()
        one.communicate()


@pytest.mark.parametrize(
    ("how", "ignored"), [(signal.SIGINT, False), (signal.SIGINT, True), (signal.SIGTERM, False)],
    ids=["SIGINT", "SIGINT, ignored where it was started (by & or nohup)", "SIGTERM"],
)  # fmt: skip
def test_stopped_by_hand_it_leaves_a_sheet_of_what_was_tried(
    golden: Golden, how: signal.Signals, ignored: bool, tmp_path: Path, process: Callable[..., subprocess.Popen[str]]
) -> None:
    one = process(ignored)
    assert one.stdout is not None
    for line in one.stdout:
        if "press go, and let it up" in line:
            (run,) = (tmp_path / "memory").glob("timerd-*")
            Feet(run).tap("go")
        elif "press end, and" in line:
            one.send_signal(how)
            break
    rest = one.stdout.read()
    assert one.wait(LIMIT_S) == 1
    assert re.search(r"ended early, by hand: 1 of 1 passed; the sheet: home/acceptance/\S+-two-station\.yaml\n$", rest)
    (path,) = (tmp_path / "home" / "acceptance").iterdir()
    golden(yaml.safe_load(path.read_text())["result"])
