"""A test strip as a print that runs on the bench: its exposures, its cards in words, and what its patches promise."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Literal

from timerd.desk.keeping import written
from timerd.desk.stripcards import End, StripMove, cut_words, lies_from, moves, safelight_words
from timerd.printing.light import Response
from timerd.printing.strips import StripBurst, by_patch, by_uncovering, dried_times, patch_times, shift_stops
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import LIGHTS
from timerd.sheet.profile.bathfile import BathLine
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import Place, did_you_mean
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.reading import Profile, read

By = Literal["patch", "uncover"]


@dataclass(frozen=True)
class Setting:
    """What a strip is made for and on: names as the file will have them, the files behind them, the sheet in mm.

    `kept` are the keys of the print that the strip keeps: its negative, aperture, magnification. `baths` is the line
    that the strip goes through at the end, so that its trays are timed and its paper counted. `end` is where patch 1
    lies, if that was said.
    """

    title: str
    bench_name: str
    paper_name: str
    bench: Profile[Bench]
    paper: Profile[Paper]
    sheet: tuple[float, float]
    end: End | None = None
    by: By = "patch"
    print_name: str | None = None
    kept: Mapping[str, object] = field(default_factory=dict)
    baths_name: str | None = None
    baths: Profile[BathLine] | None = None

    @property
    def from_end(self) -> End:
        """Where patch 1 lies: where it was said, else so that no patch is a sliver."""
        return lies_from(self.sheet) if self.end is None else self.end

    def response(self, light: str) -> Response:
        """How the lamp of a light answers; LookupError where the bench has no such light."""
        lights = self.bench.value.lights
        if light not in lights:
            there = did_you_mean(light, lights)
            raise LookupError(f"bench '{self.bench_name}' has no light '{light}'{there}")
        return self.bench.value.lamp_of(light).response


@dataclass(frozen=True)
class Exposure:
    """A base as the print has it: its name, light and seconds."""

    base: str
    light: str
    seconds: float


@dataclass(frozen=True)
class Steps:
    """The patches asked for in one light: the first one's seconds, the step in stops, how many."""

    light: str
    first_s: float
    step: Fraction
    count: int
    base: str | None = None


@dataclass(frozen=True)
class MadeStrip:
    """A strip's file as text, what it promises, and what the printer should mind. `facts` is plain data."""

    text: str
    facts: dict[str, Any]


def base_strip(setting: Setting, asked: Sequence[Steps], over: Sequence[Exposure], speed: float | None) -> MadeStrip:
    """A strip that finds a base's seconds; with two ladders one goes against the other on one sheet.

    `over` are bases that every patch gets first. `speed` is how many seconds of the light below one second of the
    strip's light is worth in the highlights; with it `highlight_shift_stops` has what each patch (each row's, for each
    column) adds to the highlight over the light below.
    ValueError, LookupError or ProfileError where the strip cannot be made or cannot run.
    """
    whats: tuple[str, ...] = ("patch",) if len(asked) == 1 else ("column", "row")
    ends: tuple[End, ...] = (setting.from_end,) if len(asked) == 1 else ("left", "top")
    steps = [_step("base", e.base, e.light, e.seconds, "the whole sheet lies open") for e in over]
    areas: dict[str, object] = {}
    ladders: list[dict[str, Any]] = []
    told = []
    for what, end, rungs in zip(whats, ends, asked, strict=True):
        times, exposed = _exposed(setting, rungs, what, end, "base", areas)
        steps += exposed
        ladders.append({"light": rungs.light, "base": rungs.base, "seconds": list(times)})
        told.append(_ladder_facts(setting, rungs, times, what))
    steps[0]["note"] = cut_words(ends, whats)
    columns = [[Exposure("", asked[0].light, t)] for t in ladders[0]["seconds"]] if len(asked) == 2 else [list(over)]
    shifts = [_shifts(setting, asked[-1], ladders[-1]["seconds"], under, speed) for under in columns]
    mind = []
    if columns != [[]] and shifts[0] is None:
        below = " and ".join(dict.fromkeys(e.light for e in columns[0]))
        mind.append(
            f"what {asked[-1].light} adds to the highlight is not known: say --speed, how many seconds of {below} one "
            f"second of {asked[-1].light} is worth there, or put speed_ratio of both lights into the paper's file"
        )
    facts = {"ladders": told, "highlight_shift_stops": None if shifts[0] is None else shifts}
    table = {"finds": "base", "print": setting.print_name, "ladders": ladders}
    return _made(setting, table, areas, steps, facts, mind)


def threshold_strip(setting: Setting, asked: Steps) -> MadeStrip:
    """A strip of flashes without an image, with an end that stays white: it finds the paper's threshold in a light."""
    areas: dict[str, object] = {}
    times, steps = _exposed(setting, asked, "patch", setting.from_end, "flash", areas, white=True)
    steps[0]["note"] = cut_words((setting.from_end,), ("patch",), white=True)
    table = {"finds": "threshold", "ladders": [{"light": asked.light, "seconds": list(times)}]}
    mind = [
        "no negative in the light: the flash has no image",
        "read: the last patch that is as white as the end that stayed covered, dry, in good light",
    ]
    facts = {"ladders": [_ladder_facts(setting, asked, times, "patch")]}
    return _made(setting, table, areas, steps, facts, mind)


def dry_down_strip(setting: Setting, bases: Sequence[Exposure], percent: Sequence[float]) -> MadeStrip:
    """Patches with so many percent less of every base, the last with none: one half is dried, the other kept wet."""
    if sorted(percent, reverse=True) != list(percent) or percent[-1:] != [0]:
        raise ValueError("the percents of a dry-down test fall, and end with 0: the patch that is kept wet")
    steps: list[dict[str, object]] = []
    areas: dict[str, object] = {}
    patches: list[dict[str, Any]] = [{"patch": k, "percent": p, "exposures": []} for k, p in enumerate(percent, 1)]
    same_light = len({e.light for e in bases}) < len(bases)
    for e in bases:
        response = setting.response(e.light)
        times = dried_times(e.seconds, percent, response)
        for made in moves(_bursts(setting, times, response), setting.from_end, setting.by, "patch"):
            name = f"{e.base} {made.name}" if same_light else made.name
            areas[name] = made.outline
            steps.append(_step("base", name, e.light, made.seconds, made.card))
        for patch, seconds in zip(patches, times, strict=True):
            patch["exposures"].append({"light": e.light, "seconds": seconds, "dose": response.dose(seconds)})
    steps[0]["note"] = cut_words((setting.from_end,), ("patch",))
    table = {"finds": "dry-down", "print": setting.print_name, "percent": list(percent)}
    mind = [
        "when it is washed, cut it in two along its length: keep one half in water, dry the other as your prints dry",
        f"read: the dried patch that looks like patch {len(percent)} of the wet half (0 %)",
    ]
    return _made(setting, table, areas, steps, {"patches": patches}, mind)


def safelight_strip(setting: Setting, grey: Exposure, minutes: Sequence[float]) -> MadeStrip:
    """A light grey under the safelight before, after, and not at all; the lowest third gets the safelight alone.

    After K-4, How Safe Is Your Safelight? (Kodak, 2006), with its steps of 0, 1, 3 and 7 minutes unless told.
    """
    if list(minutes[:1]) != [0]:
        raise ValueError("the minutes of a safelight test begin with 0: the patch that is not safelit")
    waits = by_uncovering([m * 60 for m in minutes], Response())
    made = moves(waits, setting.from_end, "uncover", "patch")
    before, both, after = safelight_words(setting.from_end)
    steps: list[dict[str, object]] = [{"safelight": _tidy(m.seconds), "card": f"{before}: {m.card}"} for m in made]
    steps.append(_step("base", grey.base, grey.light, grey.seconds, both))
    steps += [{"safelight": _tidy(m.seconds), "card": f"{after}: {m.card}"} for m in made]
    steps[0]["note"] = cut_words((setting.from_end,), ("patch",))
    table = {"finds": "safelight", "minutes": list(minutes)}
    mind = [
        "safelight fixed and clean, ten minutes for the eyes first, the sheet where the safelight falls brightest",
        "the bench waits for the foot after each time under the safelight: time the minutes by a clock",
        "the grey must be light, a density of 0.15 to 0.40 over the paper's white; process it in the dark",
        "do not flash it: what a flash takes of the safe time is counted by itself, and would count twice",
        "read: the last patch whose grey, before and after, is the same as patch 1's",
    ]
    if not setting.bench.value.safelight.switchable or setting.bench.value.safelight.dark_from == "never":
        mind.insert(0, "this bench does not switch the safelight: put it out by hand while the grey is exposed")
    patches = [{"patch": k, "minutes": m} for k, m in enumerate(minutes, 1)]
    return _made(setting, table, {}, steps, {"patches": patches}, mind)


# -- parts -------------------------------------------------------------------------------------------------------


def _bursts(setting: Setting, times: Sequence[float], response: Response) -> tuple[StripBurst, ...]:
    return by_patch(times) if setting.by == "patch" else by_uncovering(times, response)


def _exposed(
    setting: Setting, asked: Steps, what: str, end: End, kind: str, areas: dict[str, object], white: bool = False
) -> tuple[tuple[float, ...], list[dict[str, object]]]:
    """The times of a ladder's patches, and the steps that give them; their outlines go into `areas`."""
    response = setting.response(asked.light)
    times = patch_times(asked.first_s, asked.step, asked.count, response, setting.paper.value.reciprocity)
    made: list[StripMove] = moves(_bursts(setting, times, response), end, setting.by, what, white)
    areas |= {m.name: m.outline for m in made}
    return times, [_step(kind, m.name, asked.light, m.seconds, m.card) for m in made]


def _step(kind: str, name: str, light: str, seconds: float, card: str) -> dict[str, object]:
    return {kind: name, "light": light, "seconds": _tidy(seconds), "card": card}


def _tidy(seconds: float) -> float:
    """To a microsecond: beyond that no relay and no eye can follow."""
    return round(seconds, 6)


def _shifts(
    setting: Setting, asked: Steps, times: Sequence[float], under: Sequence[Exposure], speed: float | None
) -> list[float] | None:
    lights = {e.light for e in under}
    if len(lights) != 1 or lights == {asked.light}:
        return None
    (below,) = lights
    ratios = setting.paper.value.speed_ratio
    if speed is None:
        if asked.light not in ratios or below not in ratios:
            return None
        speed = ratios[asked.light] / ratios[below]
    dose = sum(setting.response(below).dose(e.seconds) for e in under)
    lamp = setting.response(asked.light)
    return [shift_stops(dose, lamp.dose(t), speed) for t in times]


def _ladder_facts(setting: Setting, asked: Steps, times: Sequence[float], what: str) -> dict[str, Any]:
    lamp = setting.response(asked.light)
    doses = [lamp.dose(t) for t in times]
    patches = [
        {
            "patch": k + 1, "seconds": times[k], "dose": doses[k],
            "stops": math.log2(doses[k] / doses[0]) * setting.paper.value.reciprocity,
        }
        for k in range(len(times))
    ]  # fmt: skip
    return {"what": what, "light": asked.light, "base": asked.base, "patches": patches}


def _made(
    setting: Setting, table: Mapping[str, Any], areas: Mapping[str, object], steps: Sequence[Mapping[str, object]],
    facts: Mapping[str, Any], mind: Sequence[str],
) -> MadeStrip:  # fmt: skip
    """The file, read back by the strict loader and planned before anybody gets it."""
    kind = {"base": "strip", "threshold": "threshold strip", "dry-down": "dry-down test", "safelight": "safelight test"}
    lights = " and ".join(dict.fromkeys(ladder["light"] for ladder in table.get("ladders", ())))
    title = f"{setting.title[:40]}: {lights + ' ' if lights else ''}{kind[table['finds']]}"
    whole: dict[str, Any] = {
        "print": title,
        "strip": {key: value for key, value in table.items() if value is not None},
        "paper": setting.paper_name,
        "bench": setting.bench_name,
        "sheet": [round(side, 3) for side in setting.sheet],
        **setting.kept,
        "judged": "dry",
    }
    if areas:
        whole["areas"] = dict(areas)
    last = [{"develop": setting.baths_name}] if setting.baths_name is not None else []
    whole["steps"] = [*(dict(step) for step in steps), *last]
    notes: dict[Place, str] = {("judged",): "nothing is taken off here, however the strip is judged"}
    text = written(whole, notes, _HEAD.format(bench=setting.bench_name))
    plan = make_plan(read(text.encode(), "strip", "print"), setting.bench, setting.paper, baths=setting.baths)
    if not last:
        mind = [*mind, "no bath line is named (--baths): no clock at the trays, and no bath counts this paper"]
    exposures = [
        {"n": s.n, "light": s.light, "seconds": s.seconds, "card": s.card, "note": s.note}
        for s in plan.steps if s.kind in (*LIGHTS, "safelight")
    ]  # fmt: skip
    return MadeStrip(text, {
        "print": plan.print, "finds": table["finds"], "by": setting.by, **facts, "exposures": exposures,
        "lamp_seconds": plan.lamp_seconds, "mind": [*mind, *plan.cautions],
    })  # fmt: skip


_HEAD = """\
A test strip, made by `timerd strip`. Patch 1 has the least light. Its bursts are worked out for the lamps of bench
'{bench}' as they were: make it anew when those change. Once judged: timerd strip read THIS-FILE PATCH"""
