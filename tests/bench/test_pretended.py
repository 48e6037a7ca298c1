"""The simulated bench's lines and feet: levels that outlive their process, and feet that may say anything."""

from __future__ import annotations

import json
import os
import time
from pathlib import Path

import pytest
from lines.keeper import read_truth

from timerd.bench.note import Note
from timerd.bench.pretended import FEET, TRUTH, PretendedFoot, PretendedLines, PretendedPedals

OUTPUTS = {"lamp green": {}, "safelight": {}, "heartbeat": {}}


def test_only_changes_are_written_each_with_its_time(tmp_path: Path) -> None:
    lines = PretendedLines(OUTPUTS, tmp_path)
    begin = time.monotonic()
    for line, lit in (("lamp green", False), ("safelight", True), ("lamp green", True), ("lamp green", True),
                      ("safelight", False), ("lamp green", False)):  # fmt: skip
        lines.write(line, lit)
    edges = read_truth(tmp_path)
    assert [edge[1:] for edge in edges] == [("lamp green", True), ("safelight", False), ("lamp green", False)]
    times = [edge.at for edge in edges]
    assert times == sorted(times) and begin - 1e-6 <= times[0] and times[-1] <= time.monotonic() + 1e-6
    assert lines.read() == {"lamp green": False, "safelight": False}


def test_the_truth_is_json_a_line_whatever_a_lamp_is_called(tmp_path: Path) -> None:
    odd = 'lamp "grün" \\'
    PretendedLines({odd: {}}, tmp_path).write(odd, True)
    assert [json.loads(line)["line"] for line in (tmp_path / TRUTH).read_text().splitlines()] == [odd]


def test_lines_are_found_as_they_were_left(tmp_path: Path) -> None:
    left = PretendedLines(OUTPUTS, tmp_path)
    left.write("lamp green", True)
    left.write("safelight", False)
    found = PretendedLines(OUTPUTS, tmp_path)
    assert found.read() == {"lamp green": True, "safelight": False}
    found.close()
    assert PretendedLines(OUTPUTS, tmp_path).read() == {"lamp green": False, "safelight": True}
    assert PretendedLines({"lamp blue": {}}, tmp_path).read() == {"lamp blue": False}, "another bench's lines are not"


def test_feet_that_say_what_is_no_edge_are_not_listened_to(tmp_path: Path) -> None:
    pedals = PretendedPedals(["go", "end flashing"], tmp_path)
    now = time.monotonic()
    pipe = os.open(tmp_path / FEET, os.O_WRONLY | os.O_NONBLOCK)
    for junk in (b"\n", b"go\n", b"go down\n", b"go down now\n", b"go sideways 1.0\n", b"other down 1.0\n",
                 b"go down 1e9\n", b"go down -1.0\n", b"go down nan\n", b"\xff\xfe down 1.0\n", b"x" * 5000 + b"\n",
                 "go down ١.٠\n".encode(), b"go  down 1.0\n", b'{"pedal": "go"}\n'):  # fmt: skip
        os.write(pipe, junk)
    os.write(pipe, b"go down %.9f\nend flashing up 1.5\ngo up 999999999999.0\ngo do" % now)
    heard = pedals.heard()
    os.write(pipe, b"wn 2.0\n")
    heard += pedals.heard() + pedals.heard()
    os.close(pipe)
    late = heard.pop(2)
    assert heard == [("go", True, pytest.approx(now, abs=1e-8)), ("end flashing", False, 1.5), ("go", True, 2.0)]
    assert late[:2] == ("go", False) and now <= late[2] <= time.monotonic(), "nothing is said to be yet to come"
    pedals.close()


def test_a_foot_is_on_a_contact_until_it_is_lifted(tmp_path: Path) -> None:
    with pytest.raises(OSError):
        PretendedFoot(tmp_path)
    pedals = PretendedPedals(["go"], tmp_path)
    foot = PretendedFoot(tmp_path)
    foot.put("go", True)
    foot.put("go", True, 3.0)
    assert pedals.down("go")
    foot.put("go", False)
    foot.put("go", False)
    assert not pedals.down("go")
    assert [edge[:2] for edge in pedals.heard()] == [("go", True), ("go", True), ("go", False), ("go", False)]
    foot.close()
    pedals.close()


def test_the_notes_room_is_taken_when_it_is_made(tmp_path: Path) -> None:
    """A hole in the file would be filled at the first burst: on a full disk the keeper would be killed by that."""
    Note(tmp_path)
    assert (tmp_path / "note").stat().st_blocks * 512 >= 1024
    (tmp_path / "note").unlink()
    with (tmp_path / "note").open("wb") as sparse:
        sparse.truncate(1024)
    Note(tmp_path)
    assert (tmp_path / "note").stat().st_blocks * 512 >= 1024
