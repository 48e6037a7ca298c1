"""The picture of an edition is what is drawn.

`PYTHONPATH=tests python tests/desk/test_edition_picture.py` draws it anew: look at it.
"""

from __future__ import annotations

import os
import tempfile
import time
from pathlib import Path

import numpy
import pytest
from PIL import Image
from sheet.books import keep
from sheet.printed_sheets import records_of
from sheet.test_given import of_shipped

from timerd.cli import main

KEPT = Path(__file__).parents[1] / "pictures" / "edition.png"
DIFFERS = 64
"""Levels of grey: another version of what draws may smooth its edges otherwise."""
MOST_DIFFERING = 0.02
DRIFT = (0.0, 0.0, 0.04, 0.07, 0.065, 0.10, 0.13, 0.135, 0.165, 0.195, 0.185, 0.22)
"""How much more green base each sheet was given, in stops: twelve sheets in two evenings, seven and five."""


def drawn(folder: Path) -> Path:
    """The picture of an invented edition: the base climbs, one burn is ended early, another is skipped."""
    plan, _ = of_shipped("breakwater")
    by_name = {step.name: step for step in plan.steps}
    soft, haze, sand = (by_name[name] for name in ("base/soft/green", "burn/haze/green", "burn/wet sand/blue"))
    sheets = []
    for k, more in enumerate(DRIFT):
        given = {soft.n: (soft.dose or 0.0) * 2.0**more} if more else {}
        given |= {haze.n: (haze.dose or 0.0) * 0.8} if k == 5 else {sand.n: 0.0} if k == 8 else {}
        evening, minute = (4, 14 * k) if k < 7 else (5, 14 * (k - 7))
        wall = f"2026-03-{evening:02}T{18 + minute // 60}:{minute % 60:02}:00+00:00"
        sheets.append((plan, records_of(plan, given, sheet=k + 1, at=1000.0 * k, wall=wall)))
    keep(folder / "home", *sheets)
    picture = folder / "edition.png"
    assert main(["--home", str(folder / "home"), "edition", "breakwater", "--picture", str(picture)]) == 0
    return picture


def grey(path: Path) -> numpy.ndarray:
    with Image.open(path) as image:
        return numpy.asarray(image.convert("L"), dtype=int)


def drawn_by(path: Path) -> str:
    with Image.open(path) as image:
        return str(image.info.get("Software"))


def test_the_readmes_edition_is_what_is_drawn(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    picture = drawn(tmp_path)
    monkeypatch.undo()
    time.tzset()
    assert "12 sheets beside the plan" in capsys.readouterr().out
    kept, now = grey(KEPT), grey(picture)
    assert kept.shape == now.shape
    apart = float(numpy.mean(abs(kept - now) > DIFFERS))
    assert apart == 0.0 if drawn_by(KEPT) == drawn_by(picture) else apart <= MOST_DIFFERING


if __name__ == "__main__":
    os.environ["TZ"] = "UTC"
    time.tzset()
    with tempfile.TemporaryDirectory() as folder:
        KEPT.write_bytes(drawn(Path(folder)).read_bytes())
