"""The commands that make test strips, and the one that turns the patch chosen into a value."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

from timerd.cli import amounts
from timerd.cli.files import find_named, print_path, read_file, read_profile, shown_path, worked
from timerd.cli.oneline import one_line
from timerd.cli.parsing import Add, Run
from timerd.cli.placing import change, out_options, place_new
from timerd.cli.sheetsize import sheet_size
from timerd.desk.strip import (
    Exposure,
    MadeStrip,
    Setting,
    Steps,
    base_strip,
    dry_down_strip,
    safelight_strip,
    threshold_strip,
)
from timerd.desk.stripreading import read_strip, strip_of, target_kind
from timerd.desk.striptable import strip_table
from timerd.sheet.plan.names import position
from timerd.sheet.profile.faults import written_place
from timerd.sheet.profile.printfile import BaseStep
from timerd.sheet.profile.reading import read

_KEPT = ("negative", "lens_mm", "aperture", "magnification", "head_height_mm")


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""

    def kind(name: str, run: Run) -> argparse.ArgumentParser:
        sub = add(name, run)
        sub.add_argument("--json", action="store_true", help="the strip as JSON")
        return sub

    base = kind("base", _base)
    base.add_argument("print", metavar="PRINT", help="the print, by name or file")
    base.add_argument("--base", metavar="NAME", help="which base, by its name or its light (if there is more than one)")
    base.add_argument("--over", metavar="NAME", action="append", default=[],
        help="a base that is chosen already and goes under all patches (may be repeated)")  # fmt: skip
    base.add_argument("--speed", metavar="N",
        help="how many seconds of the light below one second of this light is worth in the highlight")  # fmt: skip
    _ladder(base, "")
    _layout(base)

    grid = kind("grid", _grid)
    grid.add_argument("print", metavar="PRINT", help="the print, by name or file")
    grid.add_argument("--base", metavar="NAME", help="the base in columns, from the left (the print's first)")
    grid.add_argument("--against", metavar="NAME", help="the base in rows, from the top (the next in another light)")
    grid.add_argument("--speed", metavar="N",
        help="how many seconds of the columns' light one of the rows' is worth in the highlight")  # fmt: skip
    _ladder(grid, "")
    _ladder(grid, "against-")
    _layout(grid, end=False)

    flash = kind("flash", _flash)
    flash.add_argument("paper", metavar="PAPER", help="the paper, by name or file")
    flash.add_argument("--bench", metavar="BENCH", required=True, help="the bench, by name or file")
    flash.add_argument("--light", metavar="LIGHT", required=True, help="the flashing light")
    _ladder(flash, "", needed=True)
    _layout(flash)

    dry = kind("dry-down", _dry_down)
    dry.add_argument("print", metavar="PRINT", help="a print whose bases suit its negative, by name or file")
    dry.add_argument("--percent", metavar="LIST", default="12,8,4,0",
        help="how much less each patch gets, falling to 0 (%(default)s)")  # fmt: skip
    _layout(dry)

    safe = kind("safelight", _safelight)
    safe.add_argument("paper", metavar="PAPER", help="the paper, by name or file")
    safe.add_argument("--bench", metavar="BENCH", required=True, help="the bench, by name or file")
    safe.add_argument("--light", metavar="LIGHT", required=True, help="the light of the grey")
    safe.add_argument("--grey", metavar="SECONDS", required=True, help="the exposure that gives a light grey")
    safe.add_argument("--minutes", metavar="LIST", default="0,1,3,7",
        help="under the safelight, rising from 0 (%(default)s)")  # fmt: skip
    _layout(safe, by=False)

    read = kind("read", _read)
    read.add_argument("strip", metavar="STRIP", help="the strip's file, or its name")
    read.add_argument("patch", metavar="PATCH", nargs="+",
        help="the patch chosen, 3.5 for half-way between 3 and 4; of a grid its column and its row")  # fmt: skip
    read.add_argument("--judged", choices=("wet", "dry"), help="how the strip was judged, if not as the print is")
    read.add_argument("--into", metavar="FILE", help="the print's or paper's file, where its name does not lead to it")
    out_options(read, "write a new file and leave the old one as it is")


def _ladder(sub: argparse.ArgumentParser, prefix: str, needed: bool = False) -> None:
    which = " of the rows" if prefix else ""
    middle = "" if needed else " (if not said, the base's own come in the middle)"
    first = f"the first patch{which}{middle}"
    sub.add_argument(f"--{prefix}first", metavar="SECONDS", required=needed, help=first)
    sub.add_argument(
        f"--{prefix}step", metavar="STOPS", default="1/3", help=f"from patch to patch{which} (%(default)s)"
    )
    sub.add_argument(f"--{prefix}count", metavar="N", default="6", help=f"how many{which} (%(default)s)")


def _layout(sub: argparse.ArgumentParser, by: bool = True, end: bool = True) -> None:
    if by:
        sub.add_argument("--by", choices=("patch", "uncover"), default="patch",
            help="each patch its own exposure, or one more uncovered before each burst (%(default)s)")  # fmt: skip
    if end:
        sub.add_argument("--from", dest="end", choices=("left", "right", "top", "bottom"),
            help="where patch 1 lies (left; on a long narrow sheet top, so that the patches lie along it)")  # fmt: skip
    sub.add_argument("--sheet", metavar="SIZE", help="the piece of paper, as in 4x5 in or 10x12 cm")
    sub.add_argument("--baths", metavar="LINE", help="the bath line it goes through (a print's own, if not said)")
    out_options(sub, "where the strip's file goes; without it nothing is written")


# -- making ------------------------------------------------------------------------------------------------------


def _base(args: argparse.Namespace) -> int:
    setting, bases = _print_setting(args)
    chosen = _named(bases, args.base, "--base")
    under = [_named(bases, name, "--over") for name in args.over]
    if chosen in under:
        raise ValueError(f"--over: {_words(chosen)} is the base that the strip is to find")
    made = base_strip(setting, [_steps(args, "", chosen, setting)], under, _speed(args))
    return _told(made, args)


def _grid(args: argparse.Namespace) -> int:
    setting, bases = _print_setting(args)
    first = _named(bases, args.base, "--base") if args.base is not None else bases[0]
    others = [base for base in bases if base.light != first.light]
    if not others:
        raise ValueError(f"{args.print}: all its bases are in {first.light}: a grid needs a base in another light")
    second = _named(bases, args.against, "--against") if args.against is not None else others[0]
    if second.light == first.light:
        raise ValueError(f"--against: {_words(second)} is in the light of the columns: a grid needs two lights")
    asked = [_steps(args, "", first, setting), _steps(args, "against_", second, setting)]
    return _told(base_strip(setting, asked, [], _speed(args)), args)


def _flash(args: argparse.Namespace) -> int:
    setting = _paper_setting(args)
    setting.response(args.light)
    first, step, count = _rungs(args, "")
    assert first is not None
    return _told(threshold_strip(setting, Steps(args.light, first, step, count)), args)


def _dry_down(args: argparse.Namespace) -> int:
    setting, bases = _print_setting(args)
    percent = amounts.numbers("--percent", args.percent, "percents, as in 12,8,4,0", 50)
    return _told(dry_down_strip(setting, bases, percent), args)


def _safelight(args: argparse.Namespace) -> int:
    setting = _paper_setting(args)
    setting.response(args.light)
    minutes = amounts.numbers("--minutes", args.minutes, "minutes, as in 0,1,3,7", 60)
    grey = Exposure("grey", args.light, amounts.seconds("--grey", args.grey))
    return _told(safelight_strip(setting, grey, minutes), args)


def _print_setting(args: argparse.Namespace) -> tuple[Setting, list[Exposure]]:
    """What a strip for a print is made on, and the bases of that print; the print must work out as it is."""
    made = worked(args.print, args)
    path, print_ = made.path, made.print.value
    baths = args.baths if args.baths is not None else getattr(print_.steps[-1], "develop", None)
    setting = Setting(
        title=print_.print,
        print_name=path.stem,
        bench_name=print_.bench,
        paper_name=print_.paper,
        bench=made.bench,
        paper=made.paper,
        sheet=print_.sheet if args.sheet is None else sheet_size("--sheet", args.sheet),
        kept={key: value for key in _KEPT if (value := getattr(print_, key)) is not None},
        **_baths(baths, args, None if args.baths is not None else path.parent),
        **_ends(args),
    )
    bases = [
        Exposure(step.base, step.light, step.seconds)
        for step in print_.steps if isinstance(step, BaseStep) and step.seconds is not None
    ]  # fmt: skip
    if not bases:
        raise ValueError(f"{shown_path(path)}: has no base in seconds to make a strip for")
    return setting, bases


def _paper_setting(args: argparse.Namespace) -> Setting:
    bench, paper = read_profile("bench", args.bench, args), read_profile("paper", args.paper, args)
    return Setting(
        title=paper.value.paper,
        bench_name=Path(args.bench).stem,
        paper_name=Path(args.paper).stem,
        bench=bench,
        paper=paper,
        sheet=sheet_size("--sheet", args.sheet or "5x7 in"),
        **_baths(args.baths, args, None),
        **_ends(args),
    )


def _baths(line: str | None, args: argparse.Namespace, beside: Path | None) -> dict[str, Any]:
    """The line that a strip ends in, by its name in the strip's file."""
    if line is None:
        return {}
    return {"baths_name": Path(line).stem, "baths": read_profile("bath", line, args, beside)}


def _ends(args: argparse.Namespace) -> dict[str, Any]:
    return {key: getattr(args, key) for key in ("end", "by") if hasattr(args, key)}


def _named(bases: list[Exposure], name: str | None, option: str) -> Exposure:
    """A base of the print by its name, its light, or both: `soft`, `green`, `soft/green`."""
    if name is None:
        if len(bases) == 1:
            return bases[0]
        raise ValueError(f"{option}: say which base: {', '.join(f'{base.base}/{base.light}' for base in bases)}")
    try:
        return bases[position([f"{base.base}/{base.light}" for base in bases], name, "base")]
    except LookupError as error:
        raise ValueError(f"{option}: {one_line(error)}") from None


def _words(base: Exposure) -> str:
    return f"'{base.base}' in {base.light}"


def _rungs(args: argparse.Namespace, prefix: str) -> tuple[float | None, Any, int]:
    option = f"--{prefix.replace('_', '-')}"
    first = getattr(args, f"{prefix}first")
    return (
        None if first is None else amounts.seconds(f"{option}first", first),
        amounts.stops(f"{option}step", getattr(args, f"{prefix}step")),
        amounts.whole(f"{option}count", getattr(args, f"{prefix}count"), 2, 24),
    )


def _steps(args: argparse.Namespace, prefix: str, base: Exposure, setting: Setting) -> Steps:
    """The ladder asked for; where no first time is said, the base's own seconds come in its middle."""
    first, step, count = _rungs(args, prefix)
    if first is None:
        lamp = setting.response(base.light)
        fewer = float(step * (count // 2)) / setting.paper.value.reciprocity
        first = round(lamp.seconds(lamp.dose(base.seconds) * 2.0**-fewer), 2)
    return Steps(base.light, first, step, count, base.base)


def _speed(args: argparse.Namespace) -> float | None:
    return amounts.given("--speed", args.speed, "a number, as in 0.8", 1000)


def _told(made: MadeStrip, args: argparse.Namespace) -> int:
    """Write the file, if one is asked for, and say what the strip is."""
    facts = made.facts
    if args.out is not None:
        facts = {**facts, "mind": [*facts["mind"], *_lost(made.text, Path(args.out), args)]}
        facts["file"] = place_new(made.text, "print", args.out, args.force)
    else:
        facts = {**facts, "file": None}
    if args.json:
        print(json.dumps(facts, indent=2))
    else:
        print(strip_table(facts))
        print(f"written: {facts['file']}" if facts["file"] else "nothing is written: say --out FILE")
    return 0


def _lost(text: str, out: Path, args: argparse.Namespace) -> list[str]:
    """Names that do not lead anywhere from where the strip is put."""
    print_ = read(text.encode(), "strip", "print").value
    said = []
    named = {"bench": print_.bench, "paper": print_.paper, "bath": getattr(print_.steps[-1], "develop", None)}
    for kind, name in named.items():
        try:
            if name is not None:
                find_named(kind, name, out, args)
        except LookupError:
            line = "bath line" if kind == "bath" else kind
            said.append(f"the {line} '{name}' is not found from there: put the strip beside its print")
    return said


# -- reading -----------------------------------------------------------------------------------------------------


def _read(args: argparse.Namespace) -> int:
    path = print_path(args.strip, args)
    print_ = read_file("print", path)
    strip = strip_of(print_)
    chosen = [_patch(text) for text in args.patch]
    kind = target_kind(strip)
    name = strip.print if kind == "print" else print_.value.paper
    target = Path(args.into) if args.into is not None else _target(kind, str(name), path, args)
    profile = read_file(kind, target)
    bench = read_file("bench", find_named("bench", print_.value.bench, path, args)).value
    on = target if kind == "paper" else find_named("paper", print_.value.paper, path, args)
    paper = profile.value if kind == "paper" else read_file("paper", on).value
    reading = read_strip(strip, chosen, profile, bench, paper, args.judged)
    file = change(target, kind, reading.changes, args.out, args.force)
    changes = [{"key": _key(place), "was": _was(profile.value, place), "is": v} for place, v in reading.changes.items()]
    if args.json:
        print(json.dumps({"file": file, "changes": changes, "mind": list(reading.mind)}, indent=2))
        return 0
    for one in changes:
        was, now = (f"{v:g}" if isinstance(v, float) else v for v in (one["was"], one["is"]))
        print(f"{file}: {one['key']} is {now}, was {was or 'nothing'}")
    for said in reading.mind:
        print(f"  - {said}")
    return 0


def _patch(text: str) -> float:
    return 0.0 if text.strip() == "0" else amounts.number("PATCH", text, "a patch's number, as in 3 or 3.5", 24)


def _target(kind: str, name: str, strip: Path, args: argparse.Namespace) -> Path:
    beside = strip.parent / f"{name}.yaml"
    here = kind == "print" and beside.name == f"{name}.yaml" and beside.is_file()
    return beside if here else find_named(kind, name, strip, args)


def _key(place: tuple[str | int, ...]) -> str:
    return written_place(place)


def _was(value: Any, place: tuple[str | int, ...]) -> Any:
    """What stood at a place, as a person would write it; None where nothing did."""
    for part in place:
        if isinstance(part, int) or isinstance(value, dict):
            value = value[part] if isinstance(part, int) or part in value else None
        else:
            value = getattr(value, part) if part in value.model_fields_set else None
        if value is None:
            return None
    return f"{value * 100:g} %" if place == ("dry_down",) else value
