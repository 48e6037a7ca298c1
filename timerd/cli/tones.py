"""The commands of wanted tones: the mix for two tones, the ways for one area."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from timerd.cli.flashing import flash_light
from timerd.cli.parsing import Add
from timerd.cli.values import (
    add_telling,
    curve_of,
    decimals,
    density,
    draw,
    exposure,
    level_words,
    number,
    paper_of,
    picture_path,
    plus_or_minus,
    tell,
)
from timerd.printing.area import Way, ways
from timerd.printing.contrast import Mixed, Spot, for_range, for_tones
from timerd.printing.deviation import Pair, deviation, deviations
from timerd.printing.paper import Curve, iso_range
from timerd.sheet.columns import columns

_OF_TONES = "of the seconds: how far others would be right; of tones and R: how far these seconds may miss"
_ASSUMED = "assumes: a flash in green light, 1 in the paper's unit each second (common practice, no source)"
_SECONDS = "seconds of full light; a lamp's lag is not in them"


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    contrast = add("contrast", _contrast)
    contrast.add_argument("paper", metavar="PAPER", help="a paper's name, or its file")
    for tone in ("highlight", "shadow"):
        contrast.add_argument(f"--{tone}", metavar="D", help=f"wanted density of the {tone}")
        contrast.add_argument(f"--{tone}-light", metavar="X", help="the light there, per second, in the paper's unit")
        contrast.add_argument(f"--{tone}-light-blue", metavar="X", help="the blue light's own reading there")
    contrast.add_argument("--range", metavar="R", help="an ISO range instead of one of the tones")
    add_telling(contrast)

    area = add("area", _area)
    area.add_argument("paper", metavar="PAPER", help="a paper's name, or its file")
    area.add_argument("--green", metavar="G", required=True, help="what the area gets of the green base, in seconds")
    area.add_argument("--blue", metavar="B", required=True, help="what it gets of the blue base, in seconds")
    area.add_argument("--density", metavar="D", required=True, help="the density wanted there")
    area.add_argument("--light", metavar="X", default="1", help="the light there, per second, in the paper's unit (1)")
    area.add_argument("--light-blue", metavar="X", help="the blue light's own reading there")
    area.add_argument("--flash-green", metavar="X", help="what a second of the flash gives in green (1)")
    area.add_argument("--flash-blue", metavar="X", help="what a second of the flash gives in blue (0)")
    add_telling(area)


# -- contrast ------------------------------------------------------------------------------------------------


def _contrast(args: argparse.Namespace) -> int:
    picture = picture_path(args)
    spots = {tone: spot for tone in ("highlight", "shadow") if (spot := _spot(args, tone)) is not None}
    r = number(args.range, "--range", 10.0, 400.0) if args.range is not None else None
    if len(spots) + (r is not None) != 2 or not spots:
        raise ValueError(
            "contrast needs two things: --highlight and --shadow, or --range and one of them, each with its light"
        )
    paper = paper_of(args.paper, args)
    written, curve = curve_of(paper)

    def mixed_on(one: Curve) -> tuple[Mixed, ...]:
        if r is None:
            return for_tones(one, spots["highlight"], spots["shadow"])
        tone = next(iter(spots))
        return (for_range(one, r, spots[tone], "highlight" if tone == "highlight" else "shadow"),)

    found = mixed_on(curve)
    within = [_mixed_within(mixed, curve, written.pairs, mixed_on, spots) for mixed in found]
    told = [{**_mixed_facts(mixed), "within": off} for mixed, off in zip(found, within, strict=True)]
    facts = {
        "paper": paper.paper, "unit": written.unit, **told[0], "otherwise": told[1] if len(told) > 1 else None,
        "level": "one deviation",
    }  # fmt: skip

    def table() -> list[str]:
        lines = [f"{paper.paper}: {_reached_words(found[0], r)}", ""]
        cells = [["", "wanted", *(_beside(("nearest", "or") if len(found) > 1 else ("gets",), ["+-"] * len(found)))]]
        for key, words, wanted, places in (
            ("green_s", "green, s", "", 2), ("blue_s", "blue, s", "", 2),
            *((tone, tone, f"{spot.density:.2f}", 3) for tone, spot in spots.items()),
            ("R", "R", f"{r:.0f}" if r is not None else "", 1),
        ):  # fmt: skip
            numbers = [decimals(one[key], places) for one in told]
            cells.append([words, wanted, *_beside(numbers, [decimals(off[key], places) for off in within])])
        if not found[0].reached:
            cells.append(["gives way", "", *_beside([str(mixed.gives_way) for mixed in found], [""] * len(found))])
        lines += [*columns(cells), "", f"{_SECONDS};", f"light in the paper's unit ({written.unit}) per second;"]
        return [*lines, level_words(written), *([_OF_TONES] if written.deviations else [])]

    tell(args, facts, table)

    if picture is not None:
        from timerd.desk.papershow import contrast_figure

        draw(args, picture, contrast_figure(paper.paper, curve, found, spots))
    return 0


def _spot(args: argparse.Namespace, tone: str) -> Spot | None:
    """A tone's density and its light; None where the tone is not asked for."""
    wanted, light, blue = (getattr(args, f"{tone}{end}") for end in ("", "_light", "_light_blue"))
    if wanted is None:
        if light is not None or blue is not None:
            raise ValueError(f"--{tone}-light goes with --{tone}: which density is wanted there?")
        return None
    if light is None:
        raise ValueError(f"--{tone} needs --{tone}-light: how much light falls there, per second?")
    green_light = exposure(light, f"--{tone}-light", above=True)
    blue_light = exposure(blue, f"--{tone}-light-blue", above=True) if blue is not None else green_light
    return Spot(density(wanted, f"--{tone}"), green_light, blue_light)


def _mixed_facts(mixed: Mixed) -> dict[str, Any]:
    return {
        "green_s": mixed.green_s, "blue_s": mixed.blue_s, "R": mixed.r, "reached": mixed.reached,
        "gives_way": mixed.gives_way, "highlight": mixed.highlight, "shadow": mixed.shadow,
    }  # fmt: skip


def _mixed_within(
    mixed: Mixed, curve: Curve, pairs: Sequence[Pair], mixed_on: Callable[[Curve], tuple[Mixed, ...]],
    spots: Mapping[str, Spot],
) -> dict[str, float | None]:  # fmt: skip
    """One deviation of the seconds that would be right, and of the tones and the R that the seconds told will give.

    Where another tone gives way on a curve that is a little off, it is the mix with the same tone that counts.
    """

    def seconds(one: Curve) -> tuple[float, float]:
        there = mixed_on(one)
        alike = next((other for other in there if other.gives_way == mixed.gives_way), there[0])
        return alike.green_s, alike.blue_s

    def gets(one: Curve) -> tuple[float | None, ...]:
        spot = next(iter(spots.values()))
        try:
            r = iso_range(one, mixed.green_s * spot.green, mixed.blue_s * spot.blue).r
        except ValueError:
            r = None
        return (*(one.density(mixed.green_s * s.green, mixed.blue_s * s.blue) for s in spots.values()), r)

    names = ("green_s", "blue_s", *spots, "R")
    return dict(zip(names, (*deviations(seconds, curve, pairs), *deviations(gets, curve, pairs)), strict=True))


def _beside(values: Sequence[str], within: Sequence[str]) -> Iterator[str]:
    """Each value, and behind it how sure it is."""
    for value, off in zip(values, within, strict=True):
        yield from (value, off)


def _reached_words(mixed: Mixed, r: float | None) -> str:
    if mixed.reached:
        return "both tones are reached" if r is None else "range and tone are reached"
    if mixed.gives_way == "range":
        return "no mix that was read has this range with the tone: the nearest one"
    return f"no mix that was read reaches both tones: in the nearest the {mixed.gives_way} gives way"


# -- area ----------------------------------------------------------------------------------------------------


def _area(args: argparse.Namespace) -> int:
    picture = picture_path(args)
    light = exposure(args.light, "--light", above=True)
    light_blue = exposure(args.light_blue, "--light-blue", above=True) if args.light_blue is not None else light
    green, blue = exposure(args.green, "--green") * light, exposure(args.blue, "--blue") * light_blue
    wanted = density(args.density, "--density")
    flash, assumed = flash_light(args, default=(1.0, 0.0))
    paper = paper_of(args.paper, args)
    written, curve = curve_of(paper)

    def ways_on(one: Curve) -> tuple[Way, ...]:
        return ways(one, green, blue, wanted, *flash, reciprocity=paper.reciprocity)

    found = ways_on(curve)
    base = curve.density(green, blue)
    base_contrast = curve.contrast(green, blue)
    base_within = deviation(lambda one: one.density(green, blue), curve, written.pairs)
    within = [_way_within(i, curve, written.pairs, ways_on, light, light_blue) for i in range(len(found))]
    facts = {
        "paper": paper.paper, "unit": written.unit, "level": "one deviation",
        "base": {"density": base, "contrast": base_contrast, "within": base_within},
        "ways": [
            {**_way_facts(way, light, light_blue), "within": off} for way, off in zip(found, within, strict=True)
        ],
    }  # fmt: skip

    def table() -> list[str]:
        gives = f"density {base:.2f}{plus_or_minus(base_within, 3)}"
        lines = [f"{paper.paper}: the base gives {gives} here, local contrast {base_contrast:.2f};"]
        lines += [f"wanted: density {wanted:.2f}", ""]
        cells = [["by", "green, s", "blue, s", "flash, s", "stops", "+-", "contrast"]]
        notes = []
        for way, off in zip(found, within, strict=True):
            told = _way_facts(way, light, light_blue)
            numbers = [decimals(told[key], 2) for key in ("green_s", "blue_s", "flash_s", "stops", "contrast")]
            numbers.insert(4, decimals(off["stops"], 2))
            cells.append([way.by, *(numbers if way.reached else ["-"] * 6)])
            if not way.reached:
                notes.append(f"{way.by} does not get there: {way.why}")
            if way.over_low_point:
                notes.append("flash: over the low point by itself: where the image gives no light it leaves a tone")
        lines += [*columns(cells), "", *notes]
        if any(way.reached and min(way.green or 0.0, way.blue or 0.0) < 0.0 for way in found):
            lines.append("below 0: held back from the base")
        if paper.reciprocity != 1:
            lines.append(f"reciprocity {paper.reciprocity:g} of the paper counted in the seconds of burns")
        lines += [f"{_SECONDS};", "contrast: density per decade of image light;", level_words(written)]
        return lines + ([_ASSUMED] if assumed else [])

    tell(args, facts, table)

    if picture is not None:
        from timerd.desk.papershow import area_figure

        draw(args, picture, area_figure(paper.paper, curve, (green, blue), wanted, found, flash, paper.reciprocity))
    return 0


def _way_facts(way: Way, light: float, light_blue: float) -> dict[str, Any]:
    """A way with seconds in place of exposures; the flash has a light of its own."""
    return {
        "by": way.by,
        "green_s": way.green / light if way.green is not None else None,
        "blue_s": way.blue / light_blue if way.blue is not None else None,
        "flash_s": way.flash, "stops": way.stops, "contrast": way.contrast, "reached": way.reached,
        "why": way.why, "leaves_a_tone": way.over_low_point if way.reached else None,
    }  # fmt: skip


def _way_within(
    i: int, curve: Curve, pairs: Sequence[Pair], ways_on: Callable[[Curve], tuple[Way, ...]], light: float,
    light_blue: float,
) -> dict[str, float | None]:  # fmt: skip
    """One deviation of what the way at this place gives."""
    keys = ("green_s", "blue_s", "flash_s", "stops", "contrast")

    def gives(one: Curve) -> tuple[float | None, ...]:
        told = _way_facts(ways_on(one)[i], light, light_blue)
        return tuple(told[key] for key in keys)

    return dict(zip(keys, deviations(gives, curve, pairs), strict=True))
