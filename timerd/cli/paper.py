"""The commands of a paper's curve: fit it, count it from two patches, tell its range, draw it."""

from __future__ import annotations

import argparse
import math
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from timerd.cli.files import read_file, shown_path
from timerd.cli.fittold import fit_facts, fit_table, speeds
from timerd.cli.parsing import Add
from timerd.cli.values import (
    add_telling,
    curve_of,
    decimals,
    density,
    desk,
    draw,
    exposure,
    level_words,
    not_there,
    number,
    paper_of,
    picture_path,
    plus_or_minus,
    tell,
)
from timerd.desk.keeping import write_new
from timerd.desk.paperfacts import curve_value, paper_text
from timerd.desk.readings import read_readings, read_unit
from timerd.places import read_bytes
from timerd.printing.deviation import Pair, deviations
from timerd.printing.paper import SPEED_POINT, Curve, IsoRange, grade, iso_range, mix_words
from timerd.printing.patches import count_patches, ends_off, one_part
from timerd.printing.stops import parse_stops
from timerd.sheet.columns import columns
from timerd.sheet.profile.reading import read

_COUNTED_DMIN, _COUNTED_DMAX = 0.06, 2.1


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    fit = add("fit", _fit)
    fit.add_argument(
        "readings", metavar="READINGS.csv", help="columns green, blue, density; wedge and unit may be there"
    )
    fit.add_argument("--unit", help="what exposures are counted in: lux seconds, seconds (unless said) or relative")
    fit.add_argument(
        "--out", metavar="PAPER.yaml", help="where the curve goes: a new file, or with --force one there is"
    )
    add_telling(fit)

    count = add("count", _count)
    count.add_argument("--first-tone", metavar="S", required=True, help="seconds of the first patch with a tone")
    count.add_argument(
        "--first-black", metavar="S", required=True, help="seconds of the first patch that is full black"
    )
    count.add_argument("--step", metavar="STOPS", default="1/2", help="stops from patch to patch (%(default)s)")
    count.add_argument("--light", choices=("green", "blue"), default="green", help="the strip's light (%(default)s)")
    count.add_argument("--dmin", metavar="D", default=str(_COUNTED_DMIN), help="density of the white (%(default)s)")
    count.add_argument("--dmax", metavar="D", default=str(_COUNTED_DMAX), help="density of the black (%(default)s)")
    count.add_argument("--out", metavar="PAPER.yaml", help="where the rough curve goes")
    add_telling(count)

    range_ = add("range", _range)
    range_.add_argument("paper", metavar="PAPER", help="a paper's name, or its file")
    range_.add_argument("--green", metavar="G", required=True, help="exposure in green; only the ratio counts")
    range_.add_argument("--blue", metavar="B", required=True, help="exposure in blue")
    add_telling(range_)

    show = add("show", _show)
    show.add_argument("paper", metavar="PAPER", help="a paper's name, or its file")
    add_telling(show)


# -- fit -----------------------------------------------------------------------------------------------------


def _fit(args: argparse.Namespace) -> int:
    picture, out = picture_path(args), _out_path(args)
    path = Path(args.readings)
    readings = read_readings(read_bytes(path), shown_path(path), read_unit(args.unit) if args.unit else None)
    with desk():
        from timerd.desk.fitting import CannotFit, fit

    try:
        found = fit(readings.rows)
    except CannotFit as reason:
        raise ValueError(f"{shown_path(path)}: {reason}") from None
    value = curve_value(found, readings.unit)
    facts = fit_facts(found, readings.unit, value)
    if out is not None:
        _write_paper(out, value, f"timerd paper fit {path.name}", args.force)
    tell(args, facts, lambda: fit_table(found, readings.unit, shown_path(path)))
    if out is not None and not args.json:
        print(f"\nwritten: {out}")

    if picture is not None:
        from timerd.desk.papershow import fit_figure

        draw(args, picture, fit_figure(found, readings.unit, path.name))
    return 0


def _out_path(args: argparse.Namespace) -> Path | None:
    if args.out is None:
        return None
    path = Path(args.out)
    not_there(path, args.force)
    _name_of(path)
    return path


def _name_of(path: Path) -> str:
    """A paper is called as its file."""
    if path.suffix not in (".yaml", ".yml") or not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", path.stem, re.ASCII):
        raise ValueError(
            f"--out: a paper's file is its name in small letters, digits and hyphens, then .yaml; is '{path.name[:60]}'"
        )
    return path.stem


def _write_paper(path: Path, value: dict[str, Any], found_by: str, force: bool) -> None:
    """Into a new file, or for `force` into the one that is there, of which nothing but the curve changes."""
    old = None
    if force and path.exists():
        read_file("paper", path)  # a file with faults is not written into
        old = read_bytes(path).decode()
    text = paper_text(_name_of(path), value, found_by, old)
    read(text.encode(), shown_path(path), "paper")
    write_new(path, text, force)


# -- count ---------------------------------------------------------------------------------------------------


def _count(args: argparse.Namespace) -> int:
    picture, out = picture_path(args), _out_path(args)
    tone, black = exposure(args.first_tone, "--first-tone"), exposure(args.first_black, "--first-black")
    dmin, dmax = number(args.dmin, "--dmin", 0.0, 2.0), density(args.dmax, "--dmax")
    step = float(parse_stops(args.step))
    counted = count_patches(tone, black, step)
    part = one_part(counted, dmax - dmin)
    off = ends_off(tone, black, step, dmax - dmin)
    slope_within = part.slope * math.hypot(*(one.slopes[0] for one in off))
    green, blue = (part.green, 0.0) if args.light == "green" else (0.0, part.blue)
    lit, dark = [0.0, black * 4.0], [0.0, 0.0]  # from the white of the paper to well past the black
    value: dict[str, Any] = {
        "unit": "seconds", "by": "patches", "readings": 2, "dmin": dmin, "slope": round(part.slope, 4),
        "blue": float(f"{blue:.5g}"), "within": {"slope": round(slope_within, 4)},
        "parts": [{"density": round(dmax - dmin, 4), "green": float(f"{green:.5g}")}],
        "mixes": [{"green": lit, "blue": dark} if args.light == "green" else {"green": dark, "blue": lit}],
        "deviations": [
            [0.0, round(one.slopes[0], 4), round(one.blues[0], 4) if blue else 0.0, 0.0,
             round(one.greens[0], 4) if green else 0.0, *[0.0] * 6]
            for one in off
        ],
    }  # fmt: skip
    curve = Curve(dmin, (part,))
    found = iso_range(curve, *((1.0, 0.0) if args.light == "green" else (0.0, 1.0)))
    grade_words = f"between R {counted.r - counted.within:.0f} and {counted.r + counted.within:.0f}"
    facts = {
        "R": counted.r, "R_within": counted.within, "R_iso": found.r_iso, "light": args.light,
        "speed_relative": found.speed, "curve": value,
    }  # fmt: skip
    if out is not None:
        _write_paper(out, value, "counted by eye from two patches: rough", args.force)

    def table() -> list[str]:
        return [
            f"R {counted.r:.0f} in {args.light}, {grade_words}: each end is right within one patch",
            f"a rough curve of one part: slope {part.slope:.3g} per decade, first tone near {counted.ht:.3g} s",
            f"assumes: white {dmin:g}, black {dmax:g} (glossy papers lie at 2.0 to 2.3, matt ones at 1.5 to 1.7);",
            "an eye's ends lie a little outside those of ISO 6846, so the true R is rather less;",
            f"told for {args.light} alone: a densitometer and a wedge in five mixes tell the rest",
        ]

    tell(args, facts, table)
    if out is not None and not args.json:
        print(f"written: {out}")

    if picture is not None:
        from timerd.desk.papershow import range_figure

        in_one = (1.0, 0.0) if green else (0.0, 1.0)
        draw(args, picture, range_figure("counted from two patches", curve, found, in_one, "seconds"))
    return 0


# -- range and show ------------------------------------------------------------------------------------------


def _range(args: argparse.Namespace) -> int:
    picture = picture_path(args)
    green, blue = exposure(args.green, "--green"), exposure(args.blue, "--blue")
    paper = paper_of(args.paper, args)
    written, curve = curve_of(paper)
    found = iso_range(curve, green, blue)
    within = _range_within(curve, written.pairs, green, blue)
    told = speeds(found, written.unit)
    facts = {
        "paper": paper.paper, "green": green, "blue": blue, "unit": written.unit, "R": found.r,
        "R_within": within["r"], "R_iso": found.r_iso,
        "log_ht": found.log_ht, "log_hm": found.log_hm, "log_hs": found.log_hs,
        **{key: value for key, value in told.items() if value is not None},
        "grade": grade(found.r), "by": written.by,
        **{f"{key}_within": within[key] for key in ("log_ht", "log_hm", "log_hs")}, "level": "one deviation",
    }  # fmt: skip

    def table() -> list[str]:
        old = grade(found.r)
        like = f"as the old grade {old}" if old is not None else "outside the old grades"
        speed = told["speed_iso"] if told["speed_iso"] is not None else f"{told['speed_relative']:.4g}, relative"
        cells = [
            ["point", "density", "log H", "plus or minus"],
            ["low (HT)", f"{curve.low_point:.2f}", f"{found.log_ht:.3f}", decimals(within["log_ht"], 3)],
            ["speed (Hm)", f"{curve.dmin + SPEED_POINT:.2f}", f"{found.log_hm:.3f}", decimals(within["log_hm"], 3)],
            ["high (HS)", f"{curve.high_point:.2f}", f"{found.log_hs:.3f}", decimals(within["log_hs"], 3)],
        ]
        lines = [f"{paper.paper}, green {green:g} : blue {blue:g}"]
        r = f"R {found.r:.1f}{plus_or_minus(within['r'], 1)}"
        lines += [f"{r}, reported R{found.r_iso}, {like}", f"speed {speed}", "", *columns(cells)]
        lines.append(f"H in {written.unit}, green and blue together; points after ISO 6846")
        lines.append(level_words(written))
        return lines + (["rough: counted by eye from two patches"] if written.by == "patches" else [])

    tell(args, facts, table)

    if picture is not None:
        from timerd.desk.papershow import range_figure

        draw(args, picture, range_figure(paper.paper, curve, found, (green, blue), written.unit))
    return 0


def _range_within(curve: Curve, pairs: Sequence[Pair], green: float, blue: float) -> dict[str, float | None]:
    """One deviation of R and of the three points' log H."""

    def worked_out(one: Curve) -> tuple[float, ...]:
        found = iso_range(one, green, blue)
        return found.r, found.log_ht, found.log_hm, found.log_hs

    names = ("r", "log_ht", "log_hm", "log_hs")
    return dict(zip(names, deviations(worked_out, curve, pairs), strict=True))


def _show(args: argparse.Namespace) -> int:
    picture = picture_path(args)
    paper = paper_of(args.paper, args)
    written, curve = curve_of(paper)
    lines = _mix_lines(curve, written.pairs)
    facts = {
        "paper": paper.paper, "unit": written.unit, "by": written.by, "readings": written.readings,
        "scatter": written.scatter, "dmin": curve.dmin, "dmax": curve.dmax,
        "parts": [
            {"density": part.density, "slope": part.slope, "green": part.green, "blue": part.blue}
            for part in curve.parts
        ],
        "bend": written.bend, "mixes": [{**mix, **speeds(found, written.unit)} for mix, found in lines],
        "level": "one deviation",
    }  # fmt: skip

    def table() -> list[str]:
        scatter = f", scatter {written.scatter:.3f} in density" if written.scatter is not None else ""
        told = [f"{paper.paper}: Dmin {curve.dmin:.2f}, Dmax {curve.dmax:.2f}, {len(curve.parts)} part(s)"]
        told += [f"by {written.readings} {written.by}, exposures in {written.unit}{scatter}", ""]
        cells = [["in the mix", "R", "plus or minus", "ISO range"]]
        for mix, _ in lines[:12]:
            words = mix_words(mix["green"], mix["blue"])
            iso = f"R{mix['R_iso']}" if mix["R_iso"] is not None else "-"
            cells.append([words, decimals(mix["R"], 1), decimals(mix["R_within"], 1), iso])
        more = [f"and {len(lines) - 12} more mixes"] if len(lines) > 12 else []
        return told + columns(cells) + more + ["", level_words(written)]

    tell(args, facts, table)

    if picture is not None:
        from timerd.desk.papershow import paper_figure

        draw(args, picture, paper_figure(paper.paper, curve, written.unit))
    return 0


def _mix_lines(curve: Curve, pairs: Sequence[Pair]) -> list[tuple[dict[str, Any], IsoRange | None]]:
    """Each mix that was read, with its range where the readings tell it."""
    lines: list[tuple[dict[str, Any], IsoRange | None]] = []
    for mix in curve.mixes:
        try:
            found = iso_range(curve, mix.green[1], mix.blue[1])
        except ValueError:
            found = None
        within = _range_within(curve, pairs, mix.green[1], mix.blue[1])["r"] if found is not None else None
        r, r_iso = (found.r, found.r_iso) if found is not None else (None, None)
        lines.append(({"green": mix.green[1], "blue": mix.blue[1], "R": r, "R_within": within, "R_iso": r_iso}, found))
    return lines
