"""The proof: a print, or what a sheet was given, as a picture beside the straight print; what was done to each area."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from timerd.book.reading import Reader
from timerd.cli.files import read_profile, worked
from timerd.cli.parsing import Add
from timerd.cli.values import LEVEL, add_telling, decimals, desk, exposure, not_there, number, tell
from timerd.desk.keeping import placed
from timerd.places import home
from timerd.sheet.columns import columns
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.progress import SheetProgress
from timerd.sheet.safe import safe

if TYPE_CHECKING:
    from timerd.desk.proof.lights import Easel
    from timerd.desk.proof.making import Proof
    from timerd.desk.proof.negative import Negative
    from timerd.desk.proof.table import AreaTones

_BAR = 30
_DIGITS = 18  # a sheet has no longer number


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    proof = add("proof", _proof)
    proof.add_argument("print", metavar="PRINT|N", help="a print's name, or its file; or a sheet's number")
    scan_options(proof)
    proof.add_argument("--out", metavar="FILE.png", help="the pair as a picture")
    proof.add_argument("--outlines", action="store_true", help="draw the areas' outlines, with their numbers")
    proof.add_argument("--width", metavar="PX", help="the most pixels of each print across (all of a scan)")
    proof.add_argument("--penumbra", metavar="MM", help="how wide the edge of a moving card is on the paper (15)")
    proof.add_argument("--light", metavar="X", default="1", help="light on the easel without negative, a second (1)")
    proof.add_argument("--light-blue", metavar="X", help="the blue light's own")
    proof.add_argument("--flash-green", metavar="X", help="what a second of the flash gives in green")
    proof.add_argument("--flash-blue", metavar="X", help="what it gives in blue")
    proof.add_argument("--force", action="store_true", help="write over a file that is there")
    add_telling(proof, picture=False)


def scan_options(sub: argparse.ArgumentParser) -> None:
    """The options of a command that takes a scan of the negative."""
    sub.add_argument("--negative", metavar="FILE", help="a scan: grey PNG or TIFF of 8 or 16 bits (an invented scene)")
    sub.add_argument("--densities", metavar=("LOW", "HIGH"), nargs=2, help="of the scan's brightest and darkest value")
    sub.add_argument(
        "--values", choices=("density", "light", "srgb"), default="density",
        help="how the scan's values lie between them: evenly in density, or as light came through (%(default)s)",
    )  # fmt: skip


def _proof(args: argparse.Namespace) -> int:
    out = _out(args)
    width = round(number(args.width, "--width", 100, 20000)) if args.width is not None else None
    penumbra = number(args.penumbra, "--penumbra", 1, 200) if args.penumbra is not None else None
    plan, sheet, bench, paper = _subject(args)
    with desk():
        from timerd.desk.proof.making import PENUMBRA_MM, make_proof

        made = make_proof(
            plan, bench, paper, negative_of(args, plan), sheet, _easel(args),
            penumbra or PENUMBRA_MM, width, args.outlines,
        )  # fmt: skip
    if out is not None:
        with placed(out, args.force) as file, _Progress() as progress:
            made.write(file, progress)
    tell(args, _facts(plan, sheet, made, out), lambda: _lines(plan, sheet, made, out))
    return 0


def _out(args: argparse.Namespace) -> Path | None:
    """Where the picture goes, checked before anything is worked out."""
    if args.out is None:
        return None
    out = Path(args.out)
    if out.suffix.lower() != ".png":
        raise ValueError(f"--out: the pair is a PNG: name it so, as in {safe(out.stem or 'proof')}.png")
    not_there(out, args.force)
    return out


def _subject(args: argparse.Namespace) -> tuple[Plan, SheetProgress | None, Bench, Paper]:
    """The plan of a print, or of a sheet with what it was given; its bench and paper as they are now."""
    if not args.print.isdecimal():
        made = worked(args.print, args)
        return made.plan, None, made.bench.value, made.paper.value

    number_ = int(args.print) if len(args.print) <= _DIGITS else 0
    with contextlib.closing(Reader(home(args.home))) as reader:
        sheet, plan = reader.sheet(number_), reader.plan(number_)
    if sheet is None or plan is None:
        raise LookupError(f"there is no sheet {args.print[:_DIGITS]} in the book: timerd sheets lists them")
    bench, paper = (
        read_profile(kind, getattr(plan, kind), args, folder=Path.cwd()).value for kind in ("bench", "paper")
    )
    return plan, sheet, bench, paper


def negative_of(args: argparse.Namespace, plan: Plan) -> Negative | None:
    """The scan that is asked for; None where none is."""
    if args.negative is None:
        if args.densities is not None or args.values != "density":
            raise ValueError("--densities and --values are of a scan: say which, --negative FILE")
        return None
    if args.densities is None:
        raise ValueError("--negative needs --densities LOW HIGH: of its brightest and its darkest value, as 0.15 1.40")
    low, high = (number(text, "--densities", 0.0, 6.0) for text in args.densities)
    if low >= high:
        raise ValueError(f"--densities: the lower one comes first, found {low:g} {high:g}")
    from timerd.desk.proof.making import image_shape
    from timerd.desk.proof.negative import read_scan

    return read_scan(Path(args.negative), low, high, args.values, image_shape(plan))


def _easel(args: argparse.Namespace) -> Easel:
    from timerd.desk.proof.lights import Easel

    green = exposure(args.light, "--light", above=True)
    blue = exposure(args.light_blue, "--light-blue", above=True) if args.light_blue is not None else green
    flash = None
    if args.flash_green is not None or args.flash_blue is not None:
        flash = (
            exposure(args.flash_green or "0", "--flash-green"), exposure(args.flash_blue or "0", "--flash-blue"),
        )  # fmt: skip
    return Easel(green, blue, flash)


class _Progress:
    """A bar on standard error, where that is a terminal; gone when it is done."""

    def __init__(self) -> None:
        self._shown = sys.stderr.isatty()
        self._at = -1

    def __enter__(self) -> Callable[[float], None] | None:
        return self._tell if self._shown else None

    def __exit__(self, *_: object) -> None:
        if self._at >= 0:
            print("\r" + " " * (_BAR + 8) + "\r", end="", file=sys.stderr, flush=True)

    def _tell(self, share: float) -> None:
        percent = round(100 * share)
        if percent != self._at:
            self._at = percent
            bar = "#" * round(_BAR * share)
            print(f"\r[{bar:<{_BAR}}] {percent:3} %", end="", file=sys.stderr, flush=True)


def _facts(plan: Plan, sheet: SheetProgress | None, made: Proof, out: Path | None) -> dict[str, Any]:
    return {
        "print": plan.print, "sheet": sheet.sheet if sheet is not None else None, "paper": plan.paper,
        "negative": made.pair.negative.name,
        "pixels": [made.pair.negative.width, made.pair.negative.height],
        "picture": str(out) if out is not None else None,
        "areas": [_area_facts(area) for area in made.table],
        "mind": list(made.said),
    }  # fmt: skip


def _area_facts(area: AreaTones) -> dict[str, Any]:
    told: dict[str, Any] = {"area": area.area}
    for name in ("straight", "dodges", "burns", "flash", "worked"):
        tone = getattr(area, name)
        told[name] = {"density": tone[0], "contrast": tone[1]} if tone is not None else None
    told["within"] = {"density": area.within[0], "contrast": area.within[1]} if area.within is not None else None
    return told


def _lines(plan: Plan, sheet: SheetProgress | None, made: Proof, out: Path | None) -> list[str]:
    negative = made.pair.negative
    what = "as planned" if sheet is None else f"sheet {sheet.sheet}, as it was given"
    lines = [
        f"{safe(plan.print)}: {what}, on {plan.paper}",
        f"negative: {safe(negative.name)}, {negative.width} x {negative.height} pixels", "",
        *_table("mean density", made.table, 0), "",
        *_table("local contrast", made.table, 1), "",
        "dodges, burns, flash: what each did to it, taken in this order;",
        "local contrast: density per decade of image light",
        *([f"{LEVEL};", "of the worked print, as the paper's curve leaves it open"] if _sure(made) else []),
    ]  # fmt: skip
    lines += ["", "mind:", *(f"  - {safe(text)}" for text in made.said)] if made.said else []
    return lines if out is None else [*lines, "", f"drawn: {safe(str(out))}"]


def _sure(made: Proof) -> bool:
    return any(area.within is not None for area in made.table)


def _table(what: str, areas: tuple[AreaTones, ...], which: int) -> list[str]:
    sure = any(area.within is not None for area in areas)
    cells = [["", what, "straight", "dodges", "burns", "flash", "worked", *(["+-"] if sure else [])]]
    for number_, area in enumerate(areas, 1):
        label = str(number_) if number_ < len(areas) else ""
        ends = [decimals(tone[which] if tone is not None else None, 2) for tone in (area.straight, area.worked)]
        between = [_change(tone[which] if tone is not None else None) for tone in (area.dodges, area.burns, area.flash)]
        within = [decimals(area.within[which] if area.within is not None else None, 3)] if sure else []
        cells.append([label, area.area, ends[0], *between, ends[1], *within])
    return columns(cells, "<<>")


def _change(value: float | None) -> str:
    if value is None:
        return "-"
    return f"{value:+.2f}" if abs(value) >= 0.005 else ""
