"""Strips on the simulated bench: what each patch really got, from the lines' edges, against what is promised."""

from __future__ import annotations

import math
from fractions import Fraction
from functools import cache
from typing import Any, get_args

import pytest
from bench.test_doses import LAMPS, light_of
from golden import Golden

from timerd.bench.rehearsal import Rehearsed, rehearse
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
from timerd.desk.stripcards import End
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import LIGHTS, Plan
from timerd.sheet.profile.printfile import Print
from timerd.sheet.profile.reading import read
from timerd.sheet.words import step_speech

BENCH = """\
bench: trial
stations: {{enlarger: {{}}, flashing: {{}}}}
lamps:
  head-green: {{pin: 17, station: enlarger{lamp}}}
  head-blue: {{pin: 27, station: enlarger{lamp}}}
  flasher: {{pin: 23, station: flashing{lamp}}}
lights:
  green: {{lamp: head-green, colour: green}}
  blue: {{lamp: head-blue, colour: blue}}
  flash: {{lamp: flasher, colour: white}}
safelight: {{pin: 22}}
pedals: {{go: [{{pin: 5}}], end: [{{pin: 6}}]}}
"""
SHORT = Fraction(1, 3)


def setting(lamp: str = "LED", paper: str = "paper: trial\n", **more: Any) -> Setting:
    facts = "".join(f", {key}: {value}" for key, value in LAMPS[lamp].items())
    return Setting(
        title="Trial", bench_name="trial", paper_name="trial", sheet=(127.0, 178.0), print_name="low-tide",
        bench=read(BENCH.format(lamp=facts).encode(), "b.yaml", "bench"), paper=read(paper.encode(), "p.yaml", "paper"),
        **more,
    )  # fmt: skip


@cache
def light(seconds: float, lamp: str) -> float:
    """The light of one burst from cold, summed in small steps."""
    return light_of(seconds, LAMPS[lamp])


def played(made: MadeStrip, on: Setting, pause: bool = False) -> tuple[Print, Plan, Rehearsed]:
    """The strip's own file, played by feet that press when they are asked; with `pause` each light is paused once."""
    print_ = read(made.text.encode(), "strip.yaml", "print")
    plan = make_plan(print_, on.bench, on.paper)
    feet = ["{when: idle, pedal: go, down: 1.2}"]
    for step in plan.steps:
        if step.kind in LIGHTS:
            feet.append("{when: ready, after: 1, pedal: go}")
            if pause and (step.seconds or 0) > 0.6:
                feet += [
                    f"{{when: exposing, after: {step.seconds / 2}, pedal: end}}",
                    "{when: paused, after: 2, pedal: go}",
                ]
        else:
            feet.append(f"{{when: prompt, after: {step.seconds or 1}, pedal: go}}")
    text = "feet:\n" + "".join(f"  - {foot}\n" for foot in feet)
    return print_.value, plan, rehearse(plan, on.bench.value, read(text.encode(), "feet.yaml", "feet"))


def reached(print_: Print, name: str, point: tuple[float, float]) -> bool:
    """Whether a step reaches a place on the sheet: by the outline of its name, or everywhere."""
    outline = print_.areas.get(name, [[0, 0], [1, 1]])
    across, down = [x for x, _ in outline], [y for _, y in outline]
    return min(across) < point[0] < max(across) and min(down) < point[1] < max(down)


def given(print_: Print, plan: Plan, done: Rehearsed, lamp: str, point: tuple[float, float]) -> dict[str, float]:
    """The light that a place got of each light: every burst summed in small steps, from the lines' edges alone."""
    edges = [edge for edge in done.edges if edge.line != "safelight"]
    spans = [(on.at, off.at, on.line) for on, off in zip(edges[::2], edges[1::2], strict=True)]
    assert all(on.lit and not off.lit and on.line == off.line for on, off in zip(edges[::2], edges[1::2], strict=True))
    steps = {record.burst: record.step for record in done.records if record.kind == "lit"}
    assert len(steps) == len(spans)
    got: dict[str, float] = {}
    for (on, off, line), n in zip(spans, steps.values(), strict=True):
        step = plan.steps[n - 1]
        assert step.light == line
        if reached(print_, str(step.area), point):
            got[line] = got.get(line, 0.0) + light(off - on, lamp)
    return got


def middle(patch: int, count: int, end: str, white: int = 0) -> tuple[float, float]:
    """The middle of a patch, counted from the end where the first one lies."""
    along = (patch - 0.5 + white) / (count + white)
    if end in ("right", "bottom"):
        along = 1 - along
    return (along, 0.4) if end in ("left", "right") else (0.4, along)


def near(dose: float) -> Any:
    """Within 1/2000 stop."""
    return pytest.approx(dose, rel=2 ** (1 / 2000) - 1)


@pytest.mark.parametrize("lamp", LAMPS)
@pytest.mark.parametrize("by", ["patch", "uncover"])
@pytest.mark.parametrize("end", get_args(End))
def test_every_patch_gets_one_whole_exposure(lamp: str, by: Any, end: Any) -> None:
    """From 8 s in thirds: the ladder (SOURCES: ladders), each the dose of one burst of its seconds."""
    on = setting(lamp, by=by, end=end)
    made = base_strip(on, [Steps("green", 8.0, SHORT, 6, "soft")], [], None)
    done = played(made, on, pause=True)
    patches = made.facts["ladders"][0]["patches"]
    doses = [given(*done, lamp, middle(k, 6, end))["green"] for k in range(1, 7)]
    assert doses == [near(light(patch["seconds"], lamp)) for patch in patches]
    assert doses == [near(patch["dose"]) for patch in patches]
    if not LAMPS[lamp]:
        assert [patch["seconds"] for patch in patches] == [8, 10.1, 12.7, 16, 20.2, 25.4]
    for k, dose in enumerate(doses):  # a time rounded to a tenth is within 1/100 stop here
        assert math.log2(dose / doses[0]) == pytest.approx(k / 3, abs=0.01)
        assert patches[k]["stops"] == pytest.approx(math.log2(dose / doses[0]), abs=1e-3)


@pytest.mark.parametrize("lamp", LAMPS)
def test_blue_over_the_chosen_green(lamp: str) -> None:
    """All patches get the green; what blue adds to the highlight is log2(1 + speed * blue / green)."""
    on = setting(lamp, by="uncover")
    made = base_strip(on, [Steps("blue", 2.0, Fraction(1, 2), 5, "hard")], [Exposure("soft", "green", 14.0)], 0.5)
    done = played(made, on)
    under = light(14.0, lamp)
    for k, patch in enumerate(made.facts["ladders"][0]["patches"], 1):
        got = given(*done, lamp, middle(k, 5, "left"))
        assert got == {"green": near(under), "blue": near(patch["dose"])}
        shift = made.facts["highlight_shift_stops"][0][k - 1]
        assert shift == pytest.approx(math.log2(1 + 0.5 * got["blue"] / got["green"]), abs=1e-3)


def test_the_shift_comes_from_the_paper_or_it_is_said_that_it_is_not_known(golden: Golden) -> None:
    asked = [Steps("blue", 2.0, Fraction(1), 2, "hard")], [Exposure("soft", "green", 4.0)]
    known = base_strip(setting(paper="paper: trial\nspeed_ratio: {green: 2, blue: 1}\n"), *asked, None)
    assert known.facts["highlight_shift_stops"] == [[pytest.approx(math.log2(1.25)), pytest.approx(math.log2(1.5))]]
    unknown = base_strip(setting(), *asked, None)
    assert unknown.facts["highlight_shift_stops"] is None
    golden(unknown.facts["mind"][0])


@pytest.mark.parametrize("lamp", LAMPS)
@pytest.mark.parametrize("by", ["patch", "uncover"])
def test_green_against_blue_on_one_sheet(lamp: str, by: Any) -> None:
    on = setting(lamp, by=by)
    made = base_strip(on, [Steps("green", 6.0, SHORT, 3, "soft"), Steps("blue", 5.0, SHORT, 4, "hard")], [], 0.4)
    done = played(made, on)
    columns, rows = (ladder["patches"] for ladder in made.facts["ladders"])
    for column in columns:
        for row in rows:
            place = middle(column["patch"], 3, "left")[0], middle(row["patch"], 4, "top")[1]
            assert given(*done, lamp, place) == {"green": near(column["dose"]), "blue": near(row["dose"])}
            shift = made.facts["highlight_shift_stops"][column["patch"] - 1][row["patch"] - 1]
            assert shift == pytest.approx(math.log2(1 + 0.4 * row["dose"] / column["dose"]))


@pytest.mark.parametrize("lamp", LAMPS)
@pytest.mark.parametrize("by", ["patch", "uncover"])
@pytest.mark.parametrize("end", ["left", "bottom"])
def test_a_threshold_strip_keeps_an_end_white(lamp: str, by: Any, end: Any) -> None:
    on = setting(lamp, by=by, end=end)
    made = threshold_strip(on, Steps("flash", 0.5, SHORT, 6))
    done = played(made, on)
    for k, patch in enumerate(made.facts["ladders"][0]["patches"], 1):
        assert given(*done, lamp, middle(k, 6, end, white=1)) == {"flash": near(patch["dose"])}
    assert given(*done, lamp, middle(0, 6, end, white=1)) == {}


@pytest.mark.parametrize("lamp", LAMPS)
@pytest.mark.parametrize("by", ["patch", "uncover"])
def test_a_dry_down_test(lamp: str, by: Any) -> None:
    """SOURCES: dry-down. 0, 4, 8 and 12 % less; hundredths of a second leave each within 1/500 stop."""
    on = setting(lamp, by=by)
    bases = [Exposure("soft", "green", 14.0), Exposure("hard", "blue", 9.5), Exposure("softer", "green", 8.0)]
    made = dry_down_strip(on, bases, [12, 8, 4, 0])
    done = played(made, on)
    for k, less in enumerate((0.88, 0.92, 0.96, 1.0), 1):
        got = given(*done, lamp, middle(k, 4, "left"))
        green = light(14.0, lamp) + light(8.0, lamp)
        whole = {"green": green, "blue": light(9.5, lamp)}
        assert {light: math.log2(dose / whole[light]) for light, dose in got.items()} == {
            light: pytest.approx(math.log2(less), abs=1 / 500) for light in ("green", "blue")
        }


@pytest.mark.parametrize("end", get_args(End))
def test_a_safelight_test(golden: Golden, end: Any) -> None:
    """K-4 (Kodak, 2006): 0, 1, 3 and 7 minutes before and after a grey that the safelight does not see."""
    on = setting(end=end)
    made = safelight_strip(on, Exposure("grey", "green", 1.5), [0, 1, 3, 7])
    _, plan, done = played(made, on)
    waits = [step.seconds for step in plan.steps if step.kind == "safelight"]
    assert waits == [240, 120, 60] * 2
    told = [step.card or "" for step in plan.steps if step.kind == "safelight"]
    assert [words.split(": ")[1] for words in told[:3]] == [words.split(": ")[1] for words in told[3:]]
    golden([words.split(": ")[1] for words in told[:3]])
    entered = [at for state, at in done.entered if state == "prompt"]
    passed = [record.at for record in done.records if record.kind == "passed"]
    assert [b - a for a, b in zip(entered, passed, strict=True)][1:] == pytest.approx(waits)
    (dark, lit), (on_, off) = (
        [edge.at for edge in done.edges if edge.line == line] for line in ("safelight", "green")
    )  # fmt: skip
    assert passed[3] < dark < on_ < off <= lit <= entered[4]
    assert off - on_ == pytest.approx(1.5)


def test_a_bench_that_cannot_switch_its_safelight_says_so(golden: Golden) -> None:
    on = setting()
    bench = read(BENCH.format(lamp="").replace("safelight: {pin: 22}\n", "").encode(), "b.yaml", "bench")
    made = safelight_strip(
        Setting(on.title, "trial", "trial", bench, on.paper, on.sheet), Exposure("grey", "green", 1.5), [0, 1, 3]
    )
    golden(made.facts["mind"][0])


def test_the_file_whole(golden: Golden) -> None:
    on = setting(by="uncover", end="right", kept={"negative": "24-117-08", "aperture": 8.0})
    made = base_strip(on, [Steps("green", 8.0, SHORT, 3, "soft")], [], None)
    assert made.text == WHOLE
    plan = make_plan(read(made.text.encode(), "s.yaml", "print"), on.bench, on.paper)
    golden([step_speech(step) for step in plan.steps[1:]])
    slits = base_strip(setting(), [Steps("green", 8.0, SHORT, 3, "soft")], [], None)
    golden([one["card"] for one in slits.facts["exposures"]])
    golden([one["note"] for one in slits.facts["exposures"]])


WHOLE = """\
# A test strip, made by `timerd strip`. Patch 1 has the least light. Its bursts are worked out for the lamps of bench
# 'trial' as they were: make it anew when those change. Once judged: timerd strip read THIS-FILE PATCH
print: 'Trial: green strip'
strip:
  finds: base
  print: low-tide
  ladders:
    - light: green
      base: soft
      seconds: [8, 10.1, 12.7]
paper: trial
bench: trial
sheet: [127, 178]
negative: 24-117-08
aperture: 8
judged: dry  # nothing is taken off here, however the strip is judged
areas:
  patch 3: [[0, 0], [0.3333, 0], [0.3333, 1], [0, 1]]
  patches 2 to 3: [[0, 0], [0.6667, 0], [0.6667, 1], [0, 1]]
  patches 1 to 3: [[0, 0], [1, 0], [1, 1], [0, 1]]
steps:
  - {base: patch 3, light: green, seconds: 2.6, card: 'uncover patch 3 alone, at the left end', note: 'patch 1 lies at \
the right: cut off the top right corner to know it by'}
  - {base: patches 2 to 3, light: green, seconds: 2.1, card: uncover patch 2 too}
  - {base: patches 1 to 3, light: green, seconds: 8, card: 'uncover patch 1 too: all lies open'}
"""


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (lambda: base_strip(setting(), [Steps("red", 8.0, SHORT, 3, "soft")], [], None), "no light 'red'"),
        (lambda: base_strip(setting(), [Steps("green", 200.0, SHORT, 6, "soft")], [], None), "may burn 300 s at once"),
        (lambda: threshold_strip(setting(), Steps("flash", 0.02, SHORT, 6)), "patches would be alike"),
        (lambda: dry_down_strip(setting(), [Exposure("soft", "green", 14.0)], [0, 4, 8]), "fall, and end with 0"),
        (lambda: dry_down_strip(setting(), [Exposure("soft", "green", 14.0)], [0]), "2 patches or more"),
        (lambda: safelight_strip(setting(), Exposure("grey", "green", 1.0), [1, 3]), "begin with 0"),
        (lambda: safelight_strip(setting(), Exposure("grey", "green", 1.0), [0, 3, 1]), "must rise"),
    ],
)
def test_what_is_no_strip_is_refused(made: Any, said: str) -> None:
    with pytest.raises((ValueError, LookupError)) as told:
        made()
    assert said in str(told.value)


def test_reciprocity_stretches_a_strip() -> None:
    """p = 0.9: a doubling takes 2.1601 times the time (SOURCES: reciprocity)."""
    made = base_strip(
        setting(paper="paper: trial\nreciprocity: 0.9\n"), [Steps("green", 10.0, Fraction(1), 2, "x")], [], None
    )
    first, second = made.facts["ladders"][0]["patches"]
    assert (first["seconds"], second["seconds"]) == (10, 21.6)
    assert second["stops"] == pytest.approx(1, abs=2e-3)
