"""The commands about the book as a user types them: what they print, refuse and write, and that it is harmless."""

from __future__ import annotations

import csv
import json
import os
import resource
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from golden import Golden
from records import wrote
from walks.engine_walk import PLAN
from walks.old_book import changeable, without_checksums

from timerd.book.reading import TO_DO
from timerd.book.store import Book
from timerd.cli import main
from timerd.sheet.plan.value import LIGHTS, Plan
from timerd.sheet.record import Record

HOSTILE = "=1+1 \x1b[2J\n \u202egnp.exe"


def armed(sheet: int, day: int, plan: Plan) -> Record:
    steps = [[s.n, s.kind, s.dose if s.kind in LIGHTS else 0.0, s.kind in LIGHTS] for s in plan.steps]
    wall = f"2026-{day // 28 + 1:02}-{day % 28 + 1:02}T20:00:00+00:00"
    facts = {"print": plan.print, "steps": steps, "wall": wall, "scheduling": "real time"}
    return wrote("armed", 1000.0 * sheet, sheet, facts=facts)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """60 sheets, one a day: every third of a print with a hostile name; one of them was paused, and ended early."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TIMERD_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    book = Book(tmp_path / "home", "2026-01-01T00:00:00+00:00", 1)
    book.append([wrote("started", 1.0, facts={"version": "0.1.0"})], {})
    plans = {n: PLAN.model_copy(update={"print": HOSTILE if n % 3 == 0 else f"Tides {n % 3}"}) for n in range(1, 61)}
    for n, plan in plans.items():
        records = [armed(n, n - 1, plan), wrote("sheet out", 1000.0 * n + 1, n)]
        if n == 2:
            at = 2000.0
            for burst, lit, dark, why in ((1, 10.0, 13.0, "pedal"), (2, 20.0, 21.5, "pedal")):
                told = {"light": "green", "lit": at + lit, "seconds": 6.0, "most": 6.0}
                given = PLAN.steps[3].response.dose(dark - lit)
                off = {"lit": at + lit, "dark": at + dark, "why": why, "given": given}
                records += [wrote("lit", at + lit, n, 4, burst, told), wrote("dark", at + dark, n, 4, burst, off)]
            records.append(wrote("refused", at + 22, n, 4, facts={"pedal": "go", "why": "too soon"}))
            records.append(wrote("ended", at + 23, n, 4, facts={"by": "printer"}))
        records += [wrote("done", 1000.0 * n + 60, n), wrote("stop bath", 1000.0 * n + 61, n)]
        book.append(records, {n: plan})
    book.close()
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *argv: str) -> tuple[int, str, str]:
    status = main(list(argv))
    told = capsys.readouterr()
    assert "Traceback" not in told.err
    assert all(c.isprintable() or c == "\n" for c in told.out + told.err), "nothing that a terminal would obey"
    return status, told.out, told.err


def listed(capsys: pytest.CaptureFixture[str], *argv: str) -> list[int]:
    status, out, err = run(capsys, "sheets", *argv)
    assert (status, err) == (0, "")
    return [int(line.split()[0]) for line in out.splitlines() if line.split()[0].isdigit()]


def test_the_last_fifty_unless_asked(golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert listed(capsys) == list(range(11, 61))
    assert listed(capsys, "--all") == list(range(1, 61))
    assert listed(capsys, "--print", "tides 1") == list(range(1, 61, 3))
    assert listed(capsys, "--since", "2026-02-20T12:00+00:00") == list(range(48, 61))
    assert listed(capsys, "--since", "2026-02-20T12:00+00:00", "--print", "tides") == [
        n for n in range(48, 61) if n % 3
    ]  # fmt: skip
    _, out, _ = run(capsys, "sheets")
    golden(out.splitlines()[0])
    assert "=1+1 \\x1b[2J\\n \\u202egnp.exe" in out
    golden(run(capsys, "sheets", "--print", "no such")[1])
    out = run(capsys, "sheets", "--print", "Tides 2", "--json")[1]
    assert [sheet["sheet"] for sheet in json.loads(out)] == list(range(2, 61, 3))


def test_a_print_is_chosen_by_its_file_too(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = "print: Tides 1\npaper: demo-resin-pearl\nbench: two-station\nsheet: 8x10 in\n"
    (here / "mine.yaml").write_text(text + "steps:\n  - {base: soft, light: green, seconds: 4}\n")
    assert listed(capsys, "--print", "mine.yaml") == list(range(1, 61, 3))


@pytest.fixture
def utc(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Times are shown in the machine's own time zone: here it is UTC."""
    before = os.environ.get("TZ")
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    yield
    monkeypatch.undo()
    assert os.environ.get("TZ") == before
    time.tzset()


def test_a_sheet_in_full(golden: Golden, here: Path, utc: None, capsys: pytest.CaptureFixture[str]) -> None:
    run(capsys, "note", "2", HOSTILE)
    run(capsys, "rate", "2", "4")
    status, out, err = run(capsys, "sheet", "2")
    assert (status, err) == (0, "")
    parts = out.split("\n\n")
    golden(parts[0].splitlines())
    assert parts[1].splitlines()[0] == "Sheet 2: complete"
    # The base lost 0.454 stop of its own; a burn of all of 2.5 s is planned beside it: log2((4.38 + 2.5) / (6 + 2.5)).
    assert "6.0    4.4    -0.454     -0.305  3.0 + 1.5  printer" in parts[1]
    golden(parts[3].splitlines())
    golden(parts[4].splitlines())
    assert parts[5].splitlines()[0] == "notes" and parts[5].endswith("  =1+1 \\x1b[2J\\n \\u202egnp.exe")
    assert parts[6] == "rated 4 of 5\n"
    facts = json.loads(run(capsys, "sheet", "2", "--json")[1])
    assert (facts["rating"], facts["notes"][0]["text"]) == (4, HOSTILE)
    assert "4 of 5  1 note" in run(capsys, "sheets", "--all")[1].splitlines()[1]


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (["sheet", "61"], "there is no sheet 61 in the book: there are 1 to 60"),
        (["sheet", "9" * 30], "N: write a whole number from 1 to 999999; found '999999999999999999999999999999'"),
        (["note", "61", "x"], "there is no sheet 61 in the book: there are 1 to 60"),
        (["note", "1", " "], "a note needs a text"),
        (["note", "1", "x" * 2001], "a note has 2000 characters at most, this one 2001"),
        (["rate", "1", "6"], "rating: write a whole number from 1 to 5; found '6'"),
        (["sheets", "--since", "yesterday"],
         "--since: write 2026-03-01 or 2026-03-01T20:30; found 'yesterday'"),
        (["book", "export", "a.xls"], "a.xls: its name must end in .csv or .jsonl, to say what to write"),
        (["book", "export", "none/a.csv"], "none/a.csv: No such file or directory"),
        (["book", "export", "there.csv"], "there.csv: is there already: choose another name"),
        (["book", "export", "a.csv", "--only", "5-3"], "--only: write numbers of sheets, as in 3,7-12; found '5-3'"),
        (["book", "backup", "there.csv"], "there.csv: is there already: choose another name"),
        (["book", "backup", "none/a"], "none/a: No such file or directory"),
        (["book", "rescue", "--out", "there.csv"], "there.csv: is there already: choose another name"),
        (["book", "rescue", "none", "--out", "x"], "none: No such file or directory"),
    ],
)  # fmt: skip
def test_what_cannot_be_done_is_one_line_and_changes_nothing(
    here: Path, capsys: pytest.CaptureFixture[str], argv: list[str], said: str
) -> None:
    (here / "there.csv").write_text("mine")
    book = (here / "home" / "book.sqlite").read_bytes()
    assert run(capsys, *argv) == (1, "", f"{said}\n")
    assert sorted(path.name for path in here.iterdir()) == ["home", "there.csv"]
    assert (here / "there.csv").read_text() == "mine" and (here / "home" / "book.sqlite").read_bytes() == book


def test_exports_of_any_selection(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, "book", "export", "a.csv", "--print", "tides 2", "--only", "1-20,50")[:2] == (
        0,
        "a.csv: 8 sheets\n",
    )
    with (here / "a.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["sheet"] for row in rows if row["kind"] == "wait"] == [str(n) for n in (*range(2, 21, 3), 50)]
    assert run(capsys, "book", "export", "=a b'.jsonl")[:2] == (0, "=a b'.jsonl: 60 sheets\n")
    told = [json.loads(line) for line in (here / "=a b'.jsonl").read_text().splitlines()]
    assert [sheet["sheet"] for sheet in told] == list(range(1, 61)) and told[2]["print"] == HOSTILE
    assert told[1] == json.loads(run(capsys, "sheet", "2", "--json")[1])
    run(capsys, "book", "export", "h.csv", "--only", "3")
    assert "'=1+1 \\x1b[2J\\n \\u202egnp.exe" in (here / "h.csv").read_text()
    assert run(capsys, "book", "export", "none.csv", "--only", "99")[1] == "none.csv: 0 sheets\n"
    assert (here / "none.csv").read_text().count("\n") == 1, "the header"


def test_backup_check_and_rescue(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "book", "backup", "b.sqlite")
    assert status == 0 and out.startswith("b.sqlite: ") and "looked through" in out
    assert run(capsys, "book", "check")[:2] == (0, "nothing wrong: 247 records, 60 sheets\n")
    path = here / "home" / "book.sqlite"
    raw = path.read_bytes()
    path.write_bytes(raw[: len(raw) * 3 // 4])
    before = path.read_bytes()
    for argv in (["sheets"], ["book", "check"], ["note", "1", "x"], ["book", "backup", "c.sqlite"]):
        status, out, err = run(capsys, *argv)
        assert status == 1 and (out + err).count("\n") == 1 and "book rescue" in out + err
    status, out, err = run(capsys, "book", "rescue", "--out", "saved")
    assert (status, err) == (0, "")
    assert path.read_bytes() == before and str(path) in out.splitlines()[-1] and "was not touched" in out
    there = (
        listed(capsys, "--all") if False else json.loads(run(capsys, "--home", "saved", "sheets", "--all", "--json")[1])
    )
    assert 0 < len(there) <= 60 and {"book.sqlite", "records.jsonl"} <= set(os.listdir(here / "saved"))
    (here / "whole").mkdir()
    os.rename(here / "b.sqlite", here / "whole" / "book.sqlite")
    assert run(capsys, "--home", "whole", "book", "check")[:2] == (0, "nothing wrong: 247 records, 60 sheets\n")


def test_what_is_wrong_in_a_book_is_told_and_the_status_says_so(
    golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    db = sqlite3.connect(here / "home" / "book.sqlite")
    db.execute("DROP TRIGGER no_update_records")
    db.execute("UPDATE records SET facts = replace(facts, '1.4', '9.4') WHERE kind = 'dark'")
    db.commit()
    db.close()
    status, out, err = run(capsys, "book", "check")
    assert (status, err) == (1, "")
    first, *_, last = out.splitlines()
    assert "timerd book rescue" in last
    golden(first)


@pytest.mark.parametrize("old", [False, True])
def test_a_damaged_record_is_told_in_the_same_words_by_all_and_costs_no_other_sheet(
    here: Path, capsys: pytest.CaptureFixture[str], old: bool
) -> None:
    """Of a book from before there were checksums too, as far as what a record says gives it away."""
    path = here / "home" / "book.sqlite"
    if old:
        without_checksums(path)
    with changeable(path) as db:
        db.execute("""UPDATE records SET facts = replace(facts, '"given"', '"gjven"') WHERE number = 11""")
    words = "sheet 2: record 11 is damaged: " + ("'given' is missing in it" if old else "it is not what was written")
    whole = f"{path}: {words}: {TO_DO}\n"
    assert TO_DO.count("timerd book check") == TO_DO.count("rescue") == TO_DO.count("a copy") == 1
    status, out, err = run(capsys, "sheets", "--print", "Tides")
    rows = out.splitlines()
    assert (status, err, len(rows)) == (1, whole, 40)
    assert rows[1].split()[:4] == ["2", "2026-01-02", "20:00", "damaged"] and "complete" in rows[0]
    assert run(capsys, "sheet", "2") == (1, "", whole) and run(capsys, "sheet", "1")[0] == 0
    assert run(capsys, "report", "2", "--out", "r") == (1, "", whole)
    assert run(capsys, "book", "check")[1].splitlines()[0] == words
    status, out, err = run(capsys, "book", "export", "a.jsonl")
    assert (status, out, err) == (1, "a.jsonl: 59 sheets\n", f"not in it: {whole}")
    assert 2 not in {json.loads(line)["sheet"] for line in (here / "a.jsonl").read_text().splitlines()}
    status, out, err = run(capsys, "sheets", "--json", "--all")
    assert (status, err, len(json.loads(out))) == (1, whole, 59)
    status, out, err = run(capsys, "book", "rescue", "--out", "saved")
    assert (status, err) == (0, "") and f"not in it: {words}\n" in out and "a book of 59 sheets" in out
    assert run(capsys, "--home", "saved", "sheet", "2")[0] == 1
    kept = [json.loads(line) for line in (here / "saved" / "records.jsonl").read_text().splitlines()]
    assert any(line["number"] == 11 and "gjven" in line["facts"] for line in kept), "what was found is lost nowhere"
    assert run(capsys, "--home", "saved", "sheet", "1")[0] == 0
    assert run(capsys, "note", "2", "x")[0] == 0, "the book goes on being written, the damaged sheet's remarks too"


@pytest.mark.parametrize("argv", [["note", "1", "x"], ["book", "export", "o/a.csv"], ["book", "backup", "o/a.sqlite"],
    ["book", "rescue", "--out", "o/a"]], ids=lambda argv: argv[-1])  # fmt: skip
def test_a_disk_that_takes_no_more_costs_one_line_and_nothing_else(here: Path, argv: list[str]) -> None:
    """A limit to a file's size in a process of its own stands for the full disk, which a test cannot have."""
    (here / "o").mkdir()
    before = {path: path.read_bytes() for path in (here / "home").iterdir() if path.suffix != ".lock"}
    heard, told = os.pipe()
    child = os.fork()
    if not child:
        try:
            os.dup2(told, 2)
            sys.stderr = os.fdopen(2, "w", closefd=False)
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000))
            status = main(argv)
            sys.stderr.flush()
            os._exit(status)
        finally:
            os._exit(99)
    os.close(told)
    with os.fdopen(heard) as file:
        said = file.read()
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 1, said
    assert said.count("\n") == 1 and "Traceback" not in said, said
    assert list((here / "o").rglob("*")) == []
    after = {path: path.read_bytes() for path in before}
    assert after == before


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become a user who may write nothing")
def test_who_may_only_read_reads_all_and_writes_nothing(
    here: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    reading = [["sheets"], ["sheet", "2"], ["book", "check"]]
    writing = [["note", "2", "x"], ["rate", "2", "1"]]
    shared = Path(tempfile.mkdtemp(prefix="book-"))  # tmp_path is the user's alone
    try:
        shutil.copy(here / "home" / "book.sqlite", shared)
        for argv in reading + writing:  # as root first, so that all modules are there for one who may not read them
            assert main(argv) == 0
        shared.chmod(0o755)
        (shared / "book.sqlite").chmod(0o644)
        before = (shared / "book.sqlite").read_bytes()
        capfd.readouterr()
        monkeypatch.setenv("TIMERD_HOME", str(shared))
        assert [as_nobody(argv) for argv in reading] == [0, 0, 0]
        told = capfd.readouterr()
        assert "nothing wrong: 247 records, 60 sheets" in told.out and told.err == ""
        assert [as_nobody(argv) for argv in writing] == [1, 1]
        said = f"{shared}: the book cannot be kept here: Permission denied: mend that, or give --home DIR\n"
        assert capfd.readouterr() == ("", 2 * said)
        assert (shared / "book.sqlite").read_bytes() == before
        assert [path.name for path in shared.iterdir()] == ["book.sqlite"]
    finally:
        shutil.rmtree(shared)


def as_nobody(argv: list[str]) -> int:
    """The status of a command that a user runs who may do nothing."""
    child = os.fork()
    if not child:
        try:
            os.setgroups([])
            os.setgid(65534)
            os.setuid(65534)
            status = main(argv)
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(status)
        finally:
            os._exit(99)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
