"""The report command: of a print and of a sheet in a real book, where its files go, and what it says when it cannot."""

from __future__ import annotations

import stat
from datetime import datetime
from pathlib import Path

import pytest
from desk.report_subjects import demo, print_subject
from golden import Golden
from outside import need
from records import wrote

from timerd.book.store import Book
from timerd.cli import main
from timerd.desk.report.browser import browser


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to work in, with a home beside it and no browser."""
    monkeypatch.setenv("TIMERD_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("PATH", str(tmp_path / "bin"))
    folder = tmp_path / "here"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def book(here: Path) -> Path:
    """The demo's two sheets in a book, the first with a note and a rating."""
    book = Book(here.parent / "home", "2026-03-01T20:00:00+00:00", 0)
    records = [record for record in demo().records if record.sheet]
    later = records[-1].at + 60
    records += [
        wrote("note", later, 1, facts={"text": "<b>Thin</b> haze\x07"}),
        wrote("rated", later, 1, facts={"rating": 3}),
    ]
    book.append(records, {1: print_subject("breakwater").plan, 2: print_subject("breakwater").plan})
    book.close()
    return here


def run(capsys: pytest.CaptureFixture[str], *argv: str) -> tuple[int, list[str], str]:
    status = main(["report", *argv])
    told = capsys.readouterr()
    return status, told.out.splitlines(), told.err


ARMED = datetime.fromisoformat("2026-03-01T20:00:02+00:00").astimezone().strftime("%Y-%m-%d %H:%M:%S")
NO_PDF = "no PDF: there is no browser here that makes one (Debian: chromium); print the page from any browser"


def test_a_print_as_planned(golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    golden(run(capsys, "breakwater", "--out", "a/b"))
    page = (here / "a/b/print-breakwater.html").read_text()
    assert "As planned; nothing" in page and "data:image/png;base64," in page
    assert [path.name for path in (here / "a/b").iterdir()] == ["print-breakwater.html"]


def test_a_sheet_of_the_book(golden: Golden, book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    golden(run(capsys, "1", "--out", ".")[:2])
    page = (book / "sheet-1.html").read_text()
    assert "Sheet 1: complete" in page and "3 of 5" in page and ARMED in page
    assert "&lt;b&gt;Thin&lt;/b&gt; haze\\x07" in page and "<b>" not in page
    golden(run(capsys, "01", "--out", ".")[2])
    golden(run(capsys, "3", "--out", "."))
    assert [path.name for path in book.iterdir()] == ["sheet-1.html"]


def test_it_opens_in_red_when_asked(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(capsys, "quiet-yard", "--out", ".", "--red")
    assert '<input type="checkbox" id="red" checked="">' in (here / "print-quiet-yard.html").read_text()
    run(capsys, "quiet-yard", "--out", ".", "--force")
    assert '<input type="checkbox" id="red">' in (here / "print-quiet-yard.html").read_text()


def test_a_file_of_any_name_gets_a_plain_one(golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (Path(__file__).parents[1] / "profiles/prints/quiet-yard.yaml").read_text()
    name = 'it\'s "the" <yard>;\u202e $(x) \x1b[31m.yaml'
    (here / name).write_text(text)
    status, out, _ = run(capsys, f"./{name}", "--out", ".")
    golden((status, out[0]))
    (here / "\u05e9.yaml").write_text(text)
    assert run(capsys, "./\u05e9.yaml", "--out", ".")[1][0].startswith("print-unnamed.html")


def test_what_cannot_be_done_is_one_line_and_leaves_nothing(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "file").write_text("")
    for argv in (
        ("nowhere", "--out", "."), ("1", "--out", "."), ("breakwater", "--out", "file"),
        ("breakwater", "--out", ".", "--densities", "0.1", "1.5"), ("breakwater", "--out", ".", "--negative", "no.png"),
        ("breakwater", "--out", ".", "--negative", "no.png", "--densities", "0.1", "1.5"),
    ):  # fmt: skip
        status, out, err = run(capsys, *argv)
        assert status == 1 and out == [] and len(err.splitlines()) == 1, argv
    assert [path.name for path in here.iterdir()] == ["file"]


def test_a_paper_or_bench_that_is_gone_leaves_its_part_out(
    book: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from timerd import places

    monkeypatch.setattr(places, "shipped", lambda: book / "nothing")
    assert run(capsys, "2", "--out", ".")[0] == 0
    page = (book / "sheet-2.html").read_text()
    assert page.count("there is no file of paper &#x27;demo-fibre-glossy&#x27; here") == 2


# -- the PDF -----------------------------------------------------------------------------------------------------


def test_a_browser_that_is_found_makes_a_pdf(
    golden: Golden, here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.undo()
    monkeypatch.setenv("TIMERD_HOME", str(here.parent / "home"))
    need(browser() is not None, "a browser", "apt install chromium")
    out = here / "it's #1?"
    status, told, err = run(capsys, "quiet-yard", "--out", str(out))
    assert (status, len(told), err) == (0, 2, "")
    golden(told[1])
    assert (out / "print-quiet-yard.pdf").read_bytes().startswith(b"%PDF")
    assert sorted(path.name for path in out.iterdir()) == ["print-quiet-yard.html", "print-quiet-yard.pdf"]


@pytest.mark.parametrize("does", ["exit 1", "exit 0", "echo broken >&2; kill -9 $$"])
def test_a_browser_that_fails_leaves_the_page(
    golden: Golden, here: Path, capsys: pytest.CaptureFixture[str], does: str
) -> None:
    fake = here.parent / "bin" / "chromium"
    fake.parent.mkdir()
    fake.write_text(f"#!/bin/sh\n{does}\n")
    fake.chmod(fake.stat().st_mode | stat.S_IXUSR)
    status, out, err = run(capsys, "quiet-yard", "--out", ".")
    golden((status, out))
    golden(err)
    assert [path.name for path in here.iterdir()] == ["print-quiet-yard.html"]
