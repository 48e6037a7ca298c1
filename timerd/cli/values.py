"""What commands of the paper share: numbers typed by hand, a paper's curve, what the desk needs, pictures."""

from __future__ import annotations

import argparse
import errno
import json
import math
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from timerd.cli.files import read_profile
from timerd.printing.paper import Curve
from timerd.sheet.profile.curvefile import PaperCurve
from timerd.sheet.profile.paperfile import Paper

LEVEL = "plus or minus: one deviation, which holds two times of three; twice as much, 19 times of 20"
"""What every plus or minus of a paper's curve means: tests/measure/paper_coverage.py counts how often it holds."""

_NUMBER = re.compile(r"[+-]?(?:[0-9]{1,20}(?:\.[0-9]{0,30})?|\.[0-9]{1,30})(?:[eE][+-]?[0-9]{1,2})?", re.ASCII)
_ENDS = (".png", ".svg")


def number(text: str, name: str, least: float, most: float, above: bool = False) -> float:
    """A number typed by hand, from least to most (or above least); ValueError in one line otherwise."""
    if _NUMBER.fullmatch(text.strip()) is None:
        hint = f": write {text.strip().replace(',', '.')}" if _NUMBER.fullmatch(text.strip().replace(",", ".")) else ""
        raise ValueError(f"{name}: must be a number, is '{text[:40]}'{hint}")
    value = float(text)
    if not (least < value if above else least <= value) or value > most:
        raise ValueError(f"{name}: must be {'above' if above else 'at least'} {least:g}, at most {most:g}, is {text}")
    return value


def exposure(text: str, name: str, above: bool = False) -> float:
    """An exposure, or a light's strength: 0 or more."""
    return number(text, name, 0.0, 1e9, above)


def density(text: str, name: str) -> float:
    """A reflection density: over 0, up to 4."""
    return number(text, name, 0.0, 4.0, above=True)


def fraction(text: str, name: str) -> float:
    """A fraction as 0.6 or 60 %; over 0."""
    percent = text.strip().endswith("%")
    return number(text.strip().removesuffix("%"), name, 0.0, 1e4, above=True) / (100.0 if percent else 1.0)


def paper_of(name: str, args: argparse.Namespace) -> Paper:
    """A paper by its name or its file."""
    paper: Paper = read_profile("paper", name, args).value
    return paper


def curve_of(paper: Paper) -> tuple[PaperCurve, Curve]:
    """A paper's curve as it is written and to reckon with; LookupError where it has none."""
    if paper.curve is None:
        raise LookupError(
            f"paper '{paper.paper}' has no curve: read a step wedge on it, then timerd paper fit READINGS.csv"
        )
    return paper.curve, paper.curve.curve


def level_words(written: PaperCurve) -> str:
    """What the plus or minus of a paper's curve means, or why there is none."""
    if written.deviations:
        return LEVEL
    return "plus or minus: not in the paper's file: fit its readings again, timerd paper fit"


def plus_or_minus(within: float | None, places: int) -> str:
    """A deviation behind its value, nothing where it is not known.

    >>> plus_or_minus(1.04, 1)
    ' +- 1.0'
    """
    return f" +- {within:.{places}f}" if within is not None else ""


@contextmanager
def desk() -> Iterator[None]:
    """Around what needs the `desk` extra: says what to install where it is not there."""
    try:
        yield
    except ImportError as error:
        raise LookupError(f"{error.name} is not installed. To get it: pip install 'timerd[desk]'") from None


def add_telling(parser: argparse.ArgumentParser, picture: bool = True) -> None:
    """The options of every command that tells numbers and may draw them."""
    parser.add_argument("--json", action="store_true", help="the numbers as JSON")
    if picture:
        parser.add_argument("--picture", metavar="FILE", help="draw it too, as .png or .svg")
        parser.add_argument("--force", action="store_true", help="write over a file that is there")


def tell(args: argparse.Namespace, facts: dict[str, Any], table: Callable[[], list[str]]) -> None:
    """Print the facts as JSON, or else as a table to read."""
    print(json.dumps(facts, indent=2) if args.json else "\n".join(table()))


def picture_path(args: argparse.Namespace) -> Path | None:
    """Where the picture goes, checked before anything is worked out or written."""
    if args.picture is None:
        return None
    path = Path(args.picture)
    if path.suffix.lower() not in _ENDS:
        raise ValueError(f"--picture: a picture is a .png or an .svg file, is '{args.picture[:60]}'")
    not_there(path, args.force)
    if not path.parent.is_dir():
        raise FileNotFoundError(errno.ENOENT, "No such file or directory", str(path))
    with desk():
        import timerd.desk.papershow  # noqa: F401
    return path


def not_there(path: Path, force: bool) -> None:
    """Refuse a file that would be written over."""
    if path.exists() and not force:
        raise FileExistsError(errno.EEXIST, "is there already: choose another name, or add --force", str(path))


def draw(args: argparse.Namespace, path: Path, figure: Any) -> None:
    """Put the picture (a Figure of `papershow`) into its file, and say where it is."""
    from timerd.desk.papershow import save

    save(figure, path)
    if not args.json:
        print(f"drawn: {path}")


def decimals(value: float | None, places: int) -> str:
    """A number with so many places, or a dash for none."""
    return "-" if value is None or math.isnan(value) else f"{value:.{places}f}"
