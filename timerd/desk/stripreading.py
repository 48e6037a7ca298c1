"""The patch that the printer chose on a test strip becomes the value in the right file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from timerd.printing.light import Response
from timerd.printing.strips import chosen_time
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import Place, did_you_mean
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.printfile import BaseStep, Ladder, Print, Strip
from timerd.sheet.profile.reading import Profile

Judged = Literal["wet", "dry"]


@dataclass(frozen=True)
class PatchChosen:
    """What a chosen patch says: the changes to a file, by place, and what the printer should mind."""

    changes: dict[Place, object]
    mind: tuple[str, ...] = ()


def strip_of(print_: Profile[Print]) -> Strip:
    """What a print says of itself as a strip; ValueError where it is none."""
    if print_.value.strip is None:
        raise ValueError(f"{print_.file}: is no test strip: it has no 'strip'")
    return print_.value.strip


def target_kind(strip: Strip) -> Literal["print", "paper"]:
    """Whether the value belongs to a print or to a paper."""
    return "print" if strip.finds == "base" else "paper"


def read_base(
    strip: Strip, chosen: Sequence[float], target: Print, bench: Bench, paper: Paper, judged: Judged | None
) -> PatchChosen:
    """The seconds of the bases that the strip was made for; a patch and a half lies half-way in stops.

    `judged` is how the strip was judged, where that is not how the print is: then the paper's dry-down is put on or
    taken off, so that the print comes out as the strip looked. ValueError where the patches or the print do not fit.
    """
    wanted = len(strip.ladders)
    if len(chosen) != wanted:
        raise ValueError(f"{_NUMBERS[wanted]}; found {len(chosen)} numbers")
    changes: dict[Place, object] = {}
    mind: list[str] = []
    for ladder, patch in zip(strip.ladders, chosen, strict=True):
        response = _response(bench, ladder.light)
        seconds = chosen_time(ladder.seconds, patch, response)
        place = _base_place(target, ladder)
        if judged is not None and judged != target.judged and paper.dry_down:
            factor = 1 - paper.dry_down if judged == "wet" else 1 / (1 - paper.dry_down)
            told = seconds
            seconds = response.seconds(response.dose(seconds) * factor)
            mind.append(
                f"the strip was judged {judged}, the print's seconds are judged {target.judged}: with a dry-down of "
                f"{paper.dry_down * 100:g} % the {told:g} s become {seconds:.2f} s"
            )
        changes[place] = round(seconds, 3)
        mind += _at_the_end(patch, len(ladder.seconds), "patch" if wanted == 1 else ladder.light)
    if judged is None and target.judged == "wet" and paper.dry_down:
        mind.append("the print's seconds are judged wet: if the strip was dry, say --judged dry")
    return PatchChosen(changes, tuple(mind))


def read_threshold(strip: Strip, chosen: Sequence[float], bench: Bench) -> PatchChosen:
    """The dose of the last patch without a tone: the largest flash that leaves none."""
    patch = _whole(chosen, "the last patch without a tone")
    (ladder,) = strip.ladders
    if patch == 0:
        raise ValueError(
            f"even patch 1 has a tone: flash a strip that begins with less than {ladder.seconds[0]:g} s, "
            "or make the flashing light dimmer"
        )
    _among(patch, len(ladder.seconds))
    dose = _response(bench, ladder.light).dose(ladder.seconds[patch - 1])
    mind: tuple[str, ...] = ()
    if patch == len(ladder.seconds):
        mind = ("no patch has a tone: the threshold may lie higher, a strip with more light will tell",)
    return PatchChosen({("threshold", ladder.light): round(dose, 4)}, mind)


def read_dry_down(strip: Strip, chosen: Sequence[float]) -> PatchChosen:
    """The percent of the dried patch that looks like the wet one at 0 %; between two patches, what lies between."""
    patch = _one(chosen, "the dried patch that looks like the wet one at 0 %")
    count = len(strip.percent)
    if not 1 <= patch <= count:
        raise ValueError(f"the strip has patches 1 to {count}; found {patch:g}")
    below = int(patch)
    percent = strip.percent[below - 1]
    if below != patch:
        percent += (strip.percent[below] - percent) * (patch - below)
    mind: tuple[str, ...] = ()
    if patch == 1:
        mind = (f"patch 1 has the most taken off ({percent:g} %): the dry-down may be larger, try more",)
    return PatchChosen({("dry_down",): f"{round(percent, 3):g} %"}, mind)


def read_safelight(strip: Strip, chosen: Sequence[float]) -> PatchChosen:
    """The safe time: half of the shortest minutes that changed the grey, before or after it (K-4: safe is half of what
    can be detected), and never more than the longest that did not.

    Where nothing changed the time to a change is longer than the longest tested, and half of that is safe. A flash
    takes its share of the whole time to a change by itself (`allowed_seconds`): nothing is taken off for it here.
    """
    patch = _whole(chosen, "the last patch whose grey did not change")
    _among(patch, len(strip.minutes))
    if patch == 1:
        raise ValueError(
            f"a change after {strip.minutes[1]:g} min: this safelight is not safe; dimmer, farther, or a new filter, "
            "and test again"
        )
    same = strip.minutes[patch - 1]
    if patch == len(strip.minutes):
        said = f"no patch changed: it takes longer than {same:g} min to show, and half of that is safe (K-4)"
        return PatchChosen({("safelight_s",): same * 30}, (said, "a test with more minutes may find more"))
    return PatchChosen({("safelight_s",): min(same, strip.minutes[patch] / 2) * 60})


def read_strip(
    strip: Strip, chosen: Sequence[float], target: Profile[Any], bench: Bench, paper: Paper, judged: Judged | None
) -> PatchChosen:
    """What the chosen patches of any strip say; see the four kinds."""
    if judged is not None and strip.finds != "base":
        raise ValueError("--judged is for the seconds of a base")
    match strip.finds:
        case "base":
            return read_base(strip, chosen, target.value, bench, paper, judged)
        case "threshold":
            return read_threshold(strip, chosen, bench)
        case "dry-down":
            return read_dry_down(strip, chosen)
        case "safelight":
            return read_safelight(strip, chosen)


_NUMBERS = {1: "say the number of one patch", 2: "say a column and a row"}


def _response(bench: Bench, light: str) -> Response:
    if light not in bench.lights:
        there = did_you_mean(light, bench.lights)
        raise LookupError(f"bench '{bench.bench}' has no light '{light}'{there}")
    return bench.lamp_of(light).response


def _base_place(target: Print, ladder: Ladder) -> Place:
    for i, step in enumerate(target.steps):
        if isinstance(step, BaseStep) and (step.base, step.light) == (ladder.base, ladder.light):
            if step.seconds is None:
                raise ValueError(f"base '{ladder.base}' in {ladder.light} is free: it has no seconds to find")
            return ("steps", i, "seconds")
    there = [f"{step.base}/{step.light}" for step in target.steps if isinstance(step, BaseStep)]
    hint = did_you_mean(f"{ladder.base}/{ladder.light}", there)
    raise LookupError(f"'{target.print}' has no base '{ladder.base}' in {ladder.light}{hint}")


def _at_the_end(patch: float, count: int, what: str) -> list[str]:
    if 1 < patch < count:
        return []
    less = "less" if patch == 1 else "more"
    return [f"{what} {patch:g} is the last on its side: with {less} light it may be better still, a strip will tell"]


def _one(chosen: Sequence[float], what: str) -> float:
    if len(chosen) != 1:
        raise ValueError(f"say the number of one patch, {what}; found {len(chosen)} numbers")
    return chosen[0]


def _whole(chosen: Sequence[float], what: str) -> int:
    patch = _one(chosen, what)
    if patch != int(patch):
        raise ValueError(f"say {what} as a whole number; found {patch:g}")
    return int(patch)


def _among(patch: int, count: int) -> None:
    if not 1 <= patch <= count:
        raise ValueError(f"the strip has patches 1 to {count}; found {patch}")
