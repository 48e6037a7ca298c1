"""Sheets carried out: each line as documented, read back by others' readers, and harmless whatever stands in it."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from records import wrote
from walks.book_walk import book_walk
from walks.engine_walk import PLAN

from timerd.book.carrying import COLUMNS, KEYS, csv_lines, export, json_lines, sheet_facts
from timerd.book.reading import Reader
from timerd.book.store import Book
from timerd.sheet.facts import DaemonStarted
from timerd.sheet.history import Dated, History, history
from timerd.sheet.plan.value import LIGHTS, Plan
from timerd.sheet.record import Record

WALK = book_walk(104, 4)
HOSTILE = '=HYPERLINK("http://x";"y")\x1b[31m\r\n+1, "quoted" \u202etxet\0'


def of(plan: Plan, *more: Record, sheet: int = 1) -> History:
    steps = [[s.n, s.kind, s.dose if s.kind in LIGHTS else 0.0, s.kind in LIGHTS] for s in plan.steps]
    armed = wrote("armed", 10.0, sheet, facts={"print": plan.print, "steps": steps, "scheduling": "real time"})
    found = history(
        plan, [Dated(record, 1_772_395_200.0 + record.at) for record in (armed, *more)], [DaemonStarted("0.1.0")]
    )
    assert found is not None
    return found


def walked() -> list[History]:
    found = [
        history(plan, [Dated(record, 1e9 + record.at) for record in WALK.records if record.sheet == n])
        for n, plan in WALK.plans.items()
    ]
    return [one for one in found if one is not None]


def table(histories: list[History]) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO("".join(csv_lines(histories)), newline="")))


def test_one_line_of_each_in_full() -> None:
    off = {"lit": 20.0, "dark": 20.5, "why": "pedal", "given": 0.4, "given_lo": 0.3}
    found = of(
        PLAN, wrote("lit", 20.0, 1, 2, 5, {"light": "flash", "lit": 20.0, "seconds": 1.0, "most": 0.9}),
        wrote("dark", 20.5, 1, 2, 5, off), wrote("refused", 21.0, 1, 2, facts={"pedal": "go", "why": "too soon"}),
        wrote("ended", 22.0, 1, 2, facts={"by": "printer"}), wrote("note", 30.0, 1, facts={"text": "thin"}),
        wrote("note", 31.0, 1, facts={"text": "wall"}), wrote("rated", 32.0, 1, facts={"rating": 2}),
    )  # fmt: skip
    rows = table([found])
    assert len(rows) == len(PLAN.steps) and all(row.keys() == COLUMNS.keys() for row in rows)
    assert rows[1] == {
        "sheet": "1", "armed": "2026-03-01T20:00:10+00:00", "print": "A walk", "negative": "", "paper": "demo",
        "bench": "walk", "outcome": "unfinished", "rating": "2", "notes": "thin | wall", "step": "2", "kind": "flash",
        "name": "flash/2/flash", "area": "", "light": "flash", "planned_s": "0.9", "given_s": "0.4",
        "given_lo_s": "0.3", "dose_off": "-1.169925001", "stops_off": "", "bursts": "1", "on_s": "0.5",
        "lit": "2026-03-01T20:00:20+00:00", "ended_by": "printer",
    }  # fmt: skip
    assert [rows[0][name] for name in ("kind", "planned_s", "given_s", "bursts", "lit")] == ["wait", "", "", "", ""]
    (line,) = json_lines([found])
    facts = json.loads(line)
    assert facts.keys() == KEYS.keys() and facts == json.loads(json.dumps(sheet_facts(found)))
    assert facts["bursts"] == [{
        "burst": 5, "step": 2, "lit": "2026-03-01T20:00:20+00:00", "seconds": 0.5, "given": 0.4, "given_lo": 0.3,
        "why": "pedal",
    }]  # fmt: skip
    assert facts["happened"] == [
        {"what": "refused", "at": "2026-03-01T20:00:21+00:00", "step": 2, "pedal": "go", "words": "too soon"},
        {"what": "ended", "at": "2026-03-01T20:00:22+00:00", "step": 2, "pedal": None, "words": "printer"},
    ]
    assert facts["notes"] == [
        {"at": "2026-03-01T20:00:30+00:00", "text": "thin"}, {"at": "2026-03-01T20:00:31+00:00", "text": "wall"},
    ]  # fmt: skip
    assert (facts["rating"], facts["scheduling"], facts["versions"]) == (2, "real time", ["0.1.0"])
    assert facts["steps"][1]["dose_off"] == -1.169925001 and facts["steps"][1]["given_hi"] == 0.4
    assert facts["steps"][1]["stops_off"] is None, "what a flash takes from a tone is in no dose"


def test_both_forms_say_the_same_of_every_sheet() -> None:
    histories = walked()
    rows = table(histories)
    told: list[dict[str, Any]] = [json.loads(line) for line in json_lines(histories)]
    assert [sheet["sheet"] for sheet in told] == sorted(WALK.progress.sheets)
    flat = [(sheet, step) for sheet in told for step in sheet["steps"]]
    assert len(flat) == len(rows) > 30
    for row, (sheet, step) in zip(rows, flat, strict=True):
        assert (row["sheet"], row["outcome"], row["step"]) == (str(sheet["sheet"]), sheet["outcome"], str(step["n"]))
        light = row["light"] != ""
        assert row["given_s"] == (str(step["given"]) if light else "")
        assert row["bursts"] == (str(sum(burst["step"] == step["n"] for burst in sheet["bursts"])) if light else "")
        assert row["ended_by"] == (step["ended_by"] or "")


def hostile() -> History:
    plan = PLAN.model_copy(update={"print": HOSTILE, "paper": "@SUM(A1)", "negative": "-1+1"})
    return of(plan, wrote("note", 30.0, 1, facts={"text": HOSTILE}), wrote("note", 31.0, 1, facts={"text": "=1"}))


def test_nothing_in_a_csv_is_obeyed() -> None:
    text = "".join(csv_lines([hostile()]))
    assert all(c.isprintable() for c in text.replace("\r\n", "")), "no control character, no mark that turns text round"
    assert text.count("\r\n") == text.count("\n") == 1 + len(PLAN.steps), "a row is a line"
    row = table([hostile()])[0]
    assert row["print"] == '\'=HYPERLINK("http://x";"y")\\x1b[31m\\r\\n+1, "quoted" \\u202etxet\\x00'
    assert (row["paper"], row["negative"]) == ("'@SUM(A1)", "'-1+1")
    assert row["notes"].startswith("'=HYPER")
    (line,) = json_lines([hostile()])
    assert line.isascii() and line.count("\n") == 1 and all(c.isprintable() for c in line[:-1])
    assert json.loads(line)["print"] == HOSTILE, "as it was, to the letter"


@given(st.text(max_size=30))
def test_no_text_begins_a_formula(text: str) -> None:
    """What a spreadsheet takes for one, by OWASP's page on CSV injection: a first = + - @, tab or return; wide ones."""
    plan = PLAN.model_copy(update={"print": text})
    (row, *_) = table([of(plan)])
    shown = row["print"]
    assert not re.match(r"\s*[=+\-@\t\r\n＝＋－＠]", shown)
    assert all(c.isprintable() for c in shown)


# -- files ---------------------------------------------------------------------------------------------------------


def test_a_file_is_whole_or_not_there_and_never_written_over(tmp_path: Path) -> None:
    for name in ("a.csv", "a.jsonl"):
        export(walked(), tmp_path / name)
    assert (tmp_path / "a.csv").read_bytes().decode() == "".join(csv_lines(walked()))
    assert (tmp_path / "a.jsonl").read_text() == "".join(json_lines(walked()))
    before = (tmp_path / "a.csv").read_bytes()
    with pytest.raises(FileExistsError, match="is there already"):
        export(walked(), tmp_path / "a.csv")

    def broken() -> Any:
        yield walked()[0]
        raise ValueError("a sheet that cannot be read")

    with pytest.raises(ValueError, match="cannot be read"):
        export(broken(), tmp_path / "b.csv")
    with pytest.raises(OSError, match="No such file"):
        export(walked(), tmp_path / "none" / "b.csv")
    assert sorted(file.name for file in tmp_path.iterdir()) == ["a.csv", "a.jsonl"]
    assert (tmp_path / "a.csv").read_bytes() == before


def test_a_backup_is_the_book_as_it_was_and_a_book_again(tmp_path: Path) -> None:
    home = tmp_path / "home"
    book = Book(home, "then", 1)
    book.append(WALK.records, WALK.plans)
    reader = Reader(home)
    copy = tmp_path / "again" / "book.sqlite"
    copy.parent.mkdir()
    reader.backup(copy)
    book.append([wrote("note", 1.0, 1, facts={"text": "written after the backup"})], {})
    assert sorted(file.name for file in copy.parent.iterdir()) == ["book.sqlite"]
    other = Reader(copy.parent)
    assert other.id == reader.id and other.sheets() == reader.sheets()
    for sheet in (0, *other.sheets()):
        expected = [record for record in reader.records(sheet) if record.facts.get("text") is None]
        assert other.records(sheet) == expected
    with pytest.raises(FileExistsError, match="is there already"):
        reader.backup(copy)
    for one in (other, reader, book):
        one.close()
    gone_on = Book(copy.parent, "later", 2)
    gone_on.append([wrote("note", 2.0, 1, facts={"text": "gone on with"})], {})
    gone_on.close()
