"""The command of a flash: its dose and seconds, and what it does to the range; what light a flash gives."""

from __future__ import annotations

import argparse

from timerd.cli.files import read_profile
from timerd.cli.parsing import Add
from timerd.cli.values import (
    add_telling,
    curve_of,
    decimals,
    draw,
    exposure,
    fraction,
    number,
    paper_of,
    picture_path,
    tell,
)
from timerd.printing.contrast import Spot, for_range
from timerd.printing.flash import effective_range, flashed_range, threshold_of_ht
from timerd.printing.paper import Curve, iso_range
from timerd.printing.safelight import allowed_seconds
from timerd.sheet.profile.paperfile import Paper


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    flash = add("flash", _flash)
    flash.add_argument("paper", metavar="PAPER", help="a paper's name, or its file")
    flash.add_argument("--fraction", metavar="F", required=True, help="of the threshold, as 0.6 or 60 %%")
    flash.add_argument("--range", metavar="R", help="the print's ISO range without a flash")
    flash.add_argument("--green", metavar="G", help="the print's mix instead: seconds of green")
    flash.add_argument("--blue", metavar="B", help="and seconds of blue")
    flash.add_argument("--light", metavar="LIGHT", help="the flashing light, if there are several")
    flash.add_argument("--flash-green", metavar="X", help="what a second of the flash gives in green")
    flash.add_argument("--flash-blue", metavar="X", help="what it gives in blue")
    flash.add_argument("--bench", metavar="BENCH", help="the bench, for seconds with its lamp's lag")
    add_telling(flash)


def flash_light(args: argparse.Namespace, default: tuple[float, float]) -> tuple[tuple[float, float], bool]:
    """What a second of the flash gives in green and blue, and whether that is assumed."""
    if args.flash_green is None and args.flash_blue is None:
        return default, True
    green = exposure(args.flash_green, "--flash-green") if args.flash_green is not None else 0.0
    blue = exposure(args.flash_blue, "--flash-blue") if args.flash_blue is not None else 0.0
    if not green + blue > 0.0:
        raise ValueError("--flash-green and --flash-blue: a flash gives light in one of them")
    return (green, blue), False


def _flash(args: argparse.Namespace) -> int:
    picture = picture_path(args)
    share = fraction(args.fraction, "--fraction")
    paper = paper_of(args.paper, args)
    light = _flashing_light(paper, args.light)
    threshold = paper.threshold[light]
    dose = share * threshold
    seconds = _seconds_on(args, light, dose)
    curve = curve_of(paper)[1] if paper.curve is not None else None
    said: list[str] = []
    of_ht, flash = share, (0.0, 0.0)
    if curve is not None:
        known = args.flash_green is not None or args.flash_blue is not None or light in ("green", "blue")
        mix, assumed = flash_light(args, default=(0.0, 1.0) if light == "blue" else (1.0, 0.0))
        curve.known(*mix)
        ht = curve.multiple(curve.low_point, *mix)
        if known:
            of_ht = dose / ht
        else:
            of_ht = share * threshold_of_ht(curve, *mix)
            said.append("the threshold is taken as an eye's first tone, 0.02 over white (from memory)")
            said += ["a flash in green light (common practice, no source)"] if assumed else []
        flash = (of_ht * ht * mix[0], of_ht * ht * mix[1])
    else:
        said.append("the paper has no curve: the threshold is taken for HT, so R after is an upper limit")
    if of_ht >= 1.0:
        raise ValueError(
            f"--fraction: {share * 100:.0f} % of the threshold is {of_ht * 100:.0f} % of HT: "
            "it leaves a tone; flash less"
        )
    image, before, mix_said = _image_mix(args, curve)
    said += mix_said
    after = effective_range(before, of_ht) if before is not None else None
    model = flashed_range(curve, *image, *flash) if curve is not None and image is not None else None
    allowed = allowed_seconds(paper.safelight_s, share) if paper.safelight_s is not None else None
    facts = {
        "paper": paper.paper, "light": light, "fraction": share, "threshold": threshold, "dose": dose,
        "seconds": seconds, "fraction_of_ht": of_ht if curve is not None else None,
        "R_before": before, "R_after": after, "R_model": model, "safelight_s": allowed,
        "assumes": said,
    }  # fmt: skip

    def table() -> list[str]:
        head = f"{paper.paper}, flash in light '{light}': {share * 100:.0f} % of the threshold of {threshold:g} s"
        cells = [["dose", f"{dose:.2f}", "s of full light"], ["seconds on", f"{seconds:.2f}", "s"]]
        cells.append(["R before", decimals(before, 1), ""])
        cells.append(["R after", decimals(after, 1), "by the closed form"])
        cells.append(["R after", decimals(model, 1), "by the paper's curve"])
        if allowed is not None and paper.safelight_s is not None:
            words = f"s of {paper.safelight_s:g} s tested: flash and safelight draw on one margin"
            cells.append(["safelight", f"{allowed:.0f}", words])
        lines = [head, "", *(f"{a:<11}{b:>7}  {c}".rstrip() for a, b, c in cells), ""]
        if share >= 1.0:
            lines.append("over the threshold: it leaves a tone of its own")
        if allowed == 0.0:
            lines.append("safelight: flashed beyond: no margin left")
        return lines + [f"assumes: {one}" for one in said]

    if picture is not None and (curve is None or image is None):
        raise ValueError("--picture: needs the paper's curve, and a mix of it: there is nothing to draw")
    tell(args, facts, table)

    if picture is not None and curve is not None and image is not None:
        from timerd.desk.papershow import flash_figure

        draw(args, picture, flash_figure(paper.paper, curve, image, flash, f"{share * 100:.0f} % of the threshold"))
    return 0


def _flashing_light(paper: Paper, light: str | None) -> str:
    if not paper.threshold:
        raise LookupError(f"paper '{paper.paper}' has no threshold: make a flash strip on it")
    if light is None and len(paper.threshold) == 1:
        return next(iter(paper.threshold))
    if light not in paper.threshold:
        there = ", ".join(paper.threshold)
        asked = f"no threshold in light '{light[:40]}'" if light is not None else "thresholds in several lights"
        raise LookupError(f"paper '{paper.paper}' has {asked}: give --light, one of {there}")
    return light


def _seconds_on(args: argparse.Namespace, light: str, dose: float) -> float:
    """How long the lamp is on for a dose: with its lag where the bench is told."""
    if args.bench is None:
        return dose
    bench = read_profile("bench", args.bench, args).value
    if light not in bench.lights:
        raise LookupError(f"bench '{bench.bench}' has no light '{light}': there are {', '.join(bench.lights)}")
    seconds: float = bench.lamp_of(light).response.seconds(dose)
    return seconds


def _image_mix(
    args: argparse.Namespace, curve: Curve | None
) -> tuple[tuple[float, float] | None, float | None, list[str]]:  # fmt: skip
    """The print's mix on the curve, its range without a flash, and what is assumed of them."""
    r = number(args.range, "--range", 10.0, 400.0) if args.range is not None else None
    if args.green is not None or args.blue is not None:
        if r is not None:
            raise ValueError("--range and --green or --blue: either the range is told or the mix")
        if curve is None:
            raise ValueError("--green and --blue need the paper's curve: give --range instead")
        image = tuple(
            exposure(text, name) if text is not None else 0.0
            for text, name in ((args.green, "--green"), (args.blue, "--blue"))
        )
        return (image[0], image[1]), iso_range(curve, *image).r, []
    if curve is None:
        return None, r, [] if r is not None else ["no range is told: give --range for R before and after"]
    if r is None:
        return (1.0, 1.0), iso_range(curve, 1.0, 1.0).r, ["the image in as much green as blue: give --green and --blue"]
    found = for_range(curve, r, Spot(curve.dmin + 0.6, 1.0, 1.0))
    if not found.reached:
        return None, r, [f"no mix that was read has R {r:g}, the nearest {found.r:.0f}: nothing is told by the curve"]
    return (found.green_s, found.blue_s), r, []
