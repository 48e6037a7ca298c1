"""`timerd proof` as a user types it."""

from __future__ import annotations

import io
import json
import os
import pty
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from golden import Golden
from papers_off import spread, with_few_deviations, without_deviations
from PIL import Image

from timerd.bench.rehearsal import rehearse
from timerd.book.store import Book
from timerd.cli import main, parser
from timerd.cli.files import read_profile, worked
from timerd.places import shipped

SMALL = ("--width", "100")


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TIMERD_HOME", str(tmp_path / "home"))
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *argv: str) -> tuple[int, str, str]:
    status = main(["proof", *argv])
    told = capsys.readouterr()
    return status, told.out, told.err


def scan(path: Path, width: int = 240, height: int = 308) -> Path:
    values = np.random.default_rng(2).integers(0, 65535, (height, width)).astype(np.uint16)
    Image.fromarray(values).save(path, "PNG")
    return path


def put_breakwater(home: Path) -> None:
    """Two sheets of the demo's print, in a book."""
    args = parser().parse_args(["plan", "breakwater"])
    made = worked("breakwater", args)
    plan, bench = made.plan, made.bench.value
    records = rehearse(plan, bench, read_profile("feet", "breakwater", args)).records
    home.mkdir(exist_ok=True)
    book = Book(home, "2026-01-02T03:04:05+00:00", 1)
    book.append(records, {record.sheet: plan for record in records if record.kind == "armed"})
    book.close()


def test_a_print_with_its_picture_and_its_table(golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(capsys, "breakwater", "--out", "pair.png", *SMALL)
    assert (status, err) == (0, "")
    lines = out.splitlines()
    golden(lines[:2])
    assert lines[3].split() == ["mean", "density", "straight", "dodges", "burns", "flash", "worked", "+-"]
    assert "plus or minus: one deviation, which holds two times of three; twice as much, 19 times of 20;" in lines
    assert lines[5].split()[:2] == ["2", "haze"] and lines[-1] == "drawn: pair.png"
    picture = Image.open("pair.png")
    assert picture.mode == "L" and picture.size[0] > 200
    assert [path.name for path in here.iterdir()] == ["pair.png"]


def test_as_json(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "breakwater", "--json", *SMALL)
    facts = json.loads(out)
    assert status == 0 and [area["area"] for area in facts["areas"]][-3:] == ["edges 15 mm", "left 30 mm", "all"]
    haze = facts["areas"][1]
    parts = sum(haze[name]["density"] for name in ("straight", "dodges", "burns", "flash"))
    assert haze["worked"]["density"] == pytest.approx(parts)
    assert facts["picture"] is None and facts["sheet"] is None and len(facts["mind"]) == 2


def test_how_sure_the_worked_print_is(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What each of the paper's deviations does to an area's mean, its file changed by hand; without them no plus or
    minus is told."""

    def areas() -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = json.loads(run(capsys, "jetty", "--json", *SMALL)[1])["areas"]
        return found

    papers, prints = (here / "home" / "profiles" / kind for kind in ("papers", "prints"))
    papers.mkdir(parents=True)
    prints.mkdir()
    glossy, breakwater = (shipped() / kind for kind in ("papers/demo-fibre-glossy.yaml", "prints/breakwater.yaml"))
    (prints / "jetty.yaml").write_text(breakwater.read_text().replace("demo-fibre-glossy", "mine", 1))
    mine = papers / "mine.yaml"
    mine.write_text(with_few_deviations(glossy.read_text()).replace("demo-fibre-glossy", "mine", 1))
    told = [one["within"] for one in areas()]
    wanted = spread(mine, lambda: [one["worked"][key] for key in ("density", "contrast") for one in areas()])
    assert [one["density"] for one in told] + [one["contrast"] for one in told] == pytest.approx(wanted, rel=0.02)
    assert all(0.0005 < one["density"] < 0.02 for one in told)
    mine.write_text(without_deviations(mine.read_text()))
    out = run(capsys, "jetty", *SMALL)[1]
    assert "+-" not in out and "one deviation" not in out and all(one["within"] is None for one in areas())


def test_a_sheet_is_shown_as_it_was_given(golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    put_breakwater(here / "home")
    status, out, err = run(capsys, "2", "--json", *SMALL)
    assert (status, err) == (0, "")
    facts, planned = json.loads(out), json.loads(run(capsys, "breakwater", "--json", *SMALL)[1])
    assert facts["sheet"] == 2
    for given, meant in zip(facts["areas"], planned["areas"], strict=True):
        assert given["worked"]["density"] == pytest.approx(meant["worked"]["density"], abs=1e-3)
    assert run(capsys, "2", *SMALL)[1].startswith("Breakwater, low tide: sheet 2, ")
    golden(run(capsys, "77"))


def test_a_scan_as_the_negative(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    scan(here / 'it\'s \x1b[31m "red".png')
    name = 'it\'s \x1b[31m "red".png'
    status, out, err = run(capsys, "breakwater", "--negative", name, "--densities", "0.15", "1.4", "--out", "o.png")
    assert (status, err) == (0, "")
    assert 'negative: it\'s \\x1b[31m "red".png, 240 x 308 pixels' in out and "\x1b" not in out
    status, out, _ = run(capsys, "breakwater", "--negative", name, "--densities", "0.15", "1.4", *SMALL)
    assert "80 x 102 pixels" in out
    scan(here / "wide.png", 400, 200)
    status, out, _ = run(
        capsys, "breakwater", "--negative", "wide.png", "--densities", "0.15", "1.4", "--values", "light"
    )
    assert "  - the scan has another shape than the image on the sheet: its middle 156 x 200 pixels of 400 x 200" in out


def test_a_paper_beside_the_print_is_the_one_meant(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One of the shipped paper's name, with another curve, gives another picture of the same doses."""
    text = (shipped() / "prints" / "breakwater.yaml").read_text()
    paper = (shipped() / "papers" / "demo-fibre-glossy.yaml").read_text()
    for folder in ("prints", "papers"):
        (here / folder).mkdir()
    (here / "prints" / "mine.yaml").write_text(text)
    with_shipped = json.loads(run(capsys, "prints/mine.yaml", "--json", *SMALL)[1])
    assert with_shipped == json.loads(run(capsys, "breakwater", "--json", *SMALL)[1])
    own_paper, changed = re.subn(r"(?m)^  dmin: [0-9.]+", "  dmin: 0.31", paper)
    assert changed == 1
    (here / "papers" / "demo-fibre-glossy.yaml").write_text(own_paper)
    with_own = json.loads(run(capsys, "prints/mine.yaml", "--json", *SMALL)[1])
    assert all(
        own["worked"]["density"] > area["worked"]["density"] + 0.1
        for own, area in zip(with_own["areas"], with_shipped["areas"], strict=True)
    )


@pytest.mark.parametrize(
    ("argv", "told"),
    [
        (("quiet-yard",), "paper 'demo-resin-pearl' has no curve, so there is no proof: read a step wedge on it"),
        (("nowhere",), "there is no print 'nowhere'"),
        (("breakwater", "--out", "a.jpg"), "--out: the pair is a PNG: name it so, as in a.png"),
        (("breakwater", "--out", "there.png"), "there.png: is there already: choose another name, or add --force"),
        (("breakwater", "--out", "no/a.png", *SMALL), "no/a.png: No such file or directory"),
        (("breakwater", "--width", "9"), "--width: must be at least 100, at most 20000, is 9"),
        (("breakwater", "--penumbra", "0"), "--penumbra: must be at least 1, at most 200, is 0"),
        (("breakwater", "--light", "0"), "--light: must be above 0"),
        (("breakwater", "--densities", "0.1", "1.4"), "--densities and --values are of a scan: say which"),
        (("breakwater", "--values", "srgb"), "--densities and --values are of a scan: say which"),
        (("breakwater", "--negative", "s.png"), "--negative needs --densities LOW HIGH"),
        (("breakwater", "--negative", "s.png", "--densities", "1.4", "0.1"), "--densities: the lower one comes first"),
        (("breakwater", "--negative", "s.png", "--densities", "0.1", "x"), "--densities: must be a number, is 'x'"),
        (("breakwater", "--negative", "none.png", "--densities", "0.1", "1"), "none.png: No such file or directory"),
        (("breakwater", "--negative", "there.png", "--densities", "0.1", "1"), "there.png: is neither a PNG"),
        (("breakwater", "--negative", "\x1b]0;x\x07.png", "--densities", "0.1", "1"), "\\x1b]0;x\\x07.png: No such"),
        (("1",), "there is no book here yet"),
        (("99999999999999999999999",), "there is no book here yet"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_in_one_line_and_nothing_is_written(
    here: Path, capsys: pytest.CaptureFixture[str], argv: tuple[str, ...], told: str
) -> None:
    scan(here / "s.png")
    (here / "there.png").write_text("mine")
    status, out, err = run(capsys, *argv)
    assert (status, out) == (1, "") and told in err and err.count("\n") == 1
    assert sorted(path.name for path in here.iterdir()) == ["s.png", "there.png"]
    assert (here / "there.png").read_text() == "mine"


def test_a_sheet_number_that_no_book_can_have(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    put_breakwater(here / "home")
    for number in ("0", "9" * 30, "9" * 5000):
        status, out, err = run(capsys, number)
        assert (status, out) == (1, "") and err.startswith("there is no sheet") and err.count("\n") == 1


def test_a_full_disk_leaves_what_was_there(
    golden: Golden, here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (here / "a.png").write_text("mine")
    monkeypatch.setattr(os, "fsync", lambda _: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    status, out, err = run(capsys, "breakwater", "--out", "a.png", "--force", *SMALL)
    golden((status, out, err))
    assert (here / "a.png").read_text() == "mine" and len(list(here.iterdir())) == 1


def test_outlines_are_drawn_on_request(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pictures = []
    for name, more in (("plain.png", ()), ("outlined.png", ("--outlines",))):
        assert run(capsys, "breakwater", "--out", name, "--width", "200", *more)[0] == 0
        pictures.append(np.asarray(Image.open(name)).astype(int))
    changed = pictures[0] != pictures[1]
    assert 0.01 < changed.mean() < 0.3
    # The haze's lower edge, from the left at 0.42 to the right at 0.40 of 257 rows: a fine dark line there.
    plain, outlined = (picture[13 + 103 : 13 + 113, 13 + 30] for picture in pictures)
    assert plain.min() > 190 and outlined.min() < 100


def test_the_readmes_pair_is_what_is_drawn(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, "breakwater", "--width", "430", "--out", "pair.png")[0] == 0
    there = np.asarray(Image.open(Path(__file__).parent / "pictures" / "proof.png")).astype(int)
    drawn = np.asarray(Image.open("pair.png")).astype(int)
    assert there.shape == drawn.shape and np.abs(there - drawn).mean() < 0.5


def test_the_bar_is_shown_on_a_terminal_alone(here: Path) -> None:
    command = [sys.executable, "-m", "timerd", "proof", "breakwater", "--out", "a.png", "--force", *SMALL]
    master, slave = pty.openpty()
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=slave, timeout=60)
    os.close(slave)
    told = io.BytesIO()
    while True:
        try:
            part = os.read(master, 4096)
        except OSError:
            break
        if not part:
            break
        told.write(part)
    os.close(master)
    assert done.returncode == 0 and b"100 %" in told.getvalue() and b"[###" in told.getvalue()
    quiet = subprocess.run(command, capture_output=True, timeout=60)
    assert quiet.returncode == 0 and quiet.stderr == b""
