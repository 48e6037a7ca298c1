"""Burns in a list of lights through every command that makes a print of a print: doses by the plan that comes out."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from papers_off import unsure_of_nothing
from sheet.printed_sheets import sheet_of
from sheet.test_given import bench_of
from whole import first

from timerd.desk.adopt import adopted, adopted_into
from timerd.desk.enlarge import Asked, enlarged
from timerd.desk.keeping import edited
from timerd.desk.moving import move
from timerd.places import shipped
from timerd.printing.exposure import exposure
from timerd.sheet.given import as_given
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import LIGHTS, Plan, Step
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.reading import Profile, read

# A filament, a lag and slow relays; one lamp of two filters put in by hand.
SLOW = """\
bench: slow
stations: {easel: {}}
lamps:
  filament: {pin: 17, station: easel, rise_ms: 120, fall_ms: 60}
  lagging: {pin: 27, station: easel, lag_s: 0.15}
lights:
  green: {lamp: filament, colour: green}
  blue: {lamp: lagging, colour: blue}
pedals: {go: [{pin: 5}], end: [{pin: 6}]}
"""
BY_HAND = """\
bench: by-hand
stations: {easel: {}}
lamps:
  head: {pin: 17, station: easel, rise_ms: 90, fall_ms: 90, relay_on_ms: 8, relay_off_ms: 5}
lights:
  green: {lamp: head, colour: green, filter: by hand}
  blue: {lamp: head, colour: blue, filter: by hand}
pedals: {go: [{pin: 5}], end: [{pin: 6}]}
"""
HEAD = """\
print: In two lights
paper: old
bench: some
sheet: 8x10 in
aperture: 8
{judged}
areas: {{wall: [[0, 0.5], [1, 1], [0, 1]], sky: [[0, 0], [1, 0], [1, 0.4]]}}
steps:
  - {{base: soft, light: green, seconds: 12}}
  - {{base: soft, light: blue, seconds: 7}}
  - {{base: more, light: green, seconds: 3}}
  - {{burn: sky, light: [green, blue], {burn}}}  # both
"""
BURNS = {
    "stops": "stops: 1 1/6",
    "percent": "percent: 45",
    "seconds": "seconds: 9",
    "over": "stops: 3/4, over: soft",
    "percent over": "percent: 60, over: soft",
    "seconds over": "seconds: 9, over: soft",
    "leave": "stops: 1, leave: [{area: wall, stops: 1/3}]",
    "leave in percent": "percent: 80, leave: [{area: wall, stops: 1/3}]",
    "leave in seconds": "seconds: 14, leave: [{area: wall, stops: 1/3}]",
    "leave over": "stops: 1, over: soft, leave: [{area: wall, stops: 1/3}]",
    "dodge": "stops: 1, dodge: [{area: wall, stops: 1/2}]",
    "dodge in seconds": "seconds: 9, dodge: [{area: wall, stops: 1/2, apart: true}]",
    "another aperture": "stops: 1, aperture: 11, leave: [{area: wall, stops: 1/3}]",
    "a density": "seconds: 9, density: 0.3",
    "held": "stops: 1, pedal: hold",
    "the other way round": "light: [blue, green], seconds: 9",
}
WHERE = [(SLOW, "judged: wet", 0.9), (BY_HAND, "judged: dry", 1.0)]
WITHIN = 1 / 400 + 1e-9
"""Stops: what `adopt` promises."""


def paper_of(name: str, p: float) -> Paper:
    path: Path = shipped() / "papers" / f"{name}.yaml"
    paper: Paper = read(path.read_bytes(), name, "paper").value
    return unsure_of_nothing(paper).model_copy(update={"reciprocity": p})


def text_of(burn: str, judged: str) -> str:
    text = HEAD.format(judged=judged, burn=BURNS[burn])
    return text.replace("light: [green, blue], light:", "light:")


def profile(value: Any, kind: Any) -> Profile[Any]:
    return Profile(value, kind, kind, {})


def plan_of(text: str, bench: str, paper: Paper) -> Plan:
    return make_plan(
        read(text.encode(), "p.yaml", "print"), read(bench.encode(), "b.yaml", "bench"), profile(paper, "paper")
    )


def lit(plan: Plan) -> list[Step]:
    return [step for step in plan.steps if step.kind in LIGHTS]


def held(step: Step) -> list[float]:
    return [cue.seconds for cue in step.dodges]


@pytest.mark.parametrize("burn", list(BURNS))
@pytest.mark.parametrize(("bench", "judged", "p"), WHERE)
def test_enlarged_every_light_of_a_mix_grows_by_one_factor(burn: str, bench: str, judged: str, p: float) -> None:
    """At another magnification all doses and what cards hold back; at another aperture all but a step of its own."""
    paper, text = paper_of("demo-fibre-glossy", p), text_of(burn, judged)
    old = plan_of(text, bench, paper)
    for asked, factor in (
        (Asked(magnification=(2.0, 4.0)), 25 / 9),
        (Asked(magnification=(4.0, 3.0)), 16 / 25),
        (Asked(aperture=(None, 16.0)), 4.0),
    ):
        new = enlarged(read(text.encode(), "p", "print").value, "p", bench_of(bench), paper, asked)
        for was, now in zip(lit(old), lit(plan_of(edited(text, new.changes), bench, paper)), strict=True):
            own = was.aperture is not None and asked.aperture != (None, None)
            grown = 1.0 if own else factor ** (1 / p)
            assert now.dose == pytest.approx((was.dose or 0.0) * grown, rel=1e-9), was.name
            assert held(now) == pytest.approx([dose * grown for dose in held(was)], rel=1e-9), was.name


@pytest.mark.parametrize("burn", list(BURNS))
@pytest.mark.parametrize(("bench", "judged", "p"), WHERE)
@pytest.mark.parametrize("parts", first([(0.0, 1.0), (0.5, 0.7), (1.0, 1.0), (1.0, 0.0)], 2), ids=str)
def test_adopted_every_light_of_a_mix_is_given_again(
    burn: str, bench: str, judged: str, p: float, parts: tuple[float, float]
) -> None:
    """Given whole, skipped or ended in one light or in both; from the book alone and into the print's own file."""
    paper, text = paper_of("demo-fibre-glossy", p), text_of(burn, judged)
    plan = plan_of(text, bench, paper)
    burns = [step for step in plan.steps if step.kind == "burn"]
    sheet = sheet_of(plan, {s.n: (s.dose or 0) * part for s, part in zip(burns, parts, strict=True) if part != 1.0})
    given = {step.name: step for step in lit(as_given(plan, sheet)) if step.dose}
    own = read(text.encode(), "own", "print").value
    for made in (adopted(plan, sheet, bench_of(bench)), adopted_into(own, text, plan, sheet, bench_of(bench), paper)):
        again = {step.name: step for step in lit(plan_of(made.text, bench, paper))}
        assert set(again) == set(given), made.text
        for name, step in given.items():
            over = max(s.dose or 0.0 for s in given.values() if (s.kind, s.light) == ("base", step.light)) * step.scale
            for was, now in ((step.dose, again[name].dose), *zip(held(step), held(again[name]), strict=True)):
                assert abs(math.log2((over + (now or 0.0)) / (over + (was or 0.0)))) * p <= WITHIN, (name, made.text)


@pytest.mark.parametrize("burn", list(BURNS))
@pytest.mark.parametrize(("bench", "judged", "p"), WHERE)
def test_moved_every_burn_of_a_mix_ends_where_the_paper_wants_it(burn: str, bench: str, judged: str, p: float) -> None:
    """By the plans of both prints: an area that was brought to the mid tone comes to what the mid tone is mapped to."""
    new_p = 0.85 if p == 1.0 else 1.0
    old, new = paper_of("demo-fibre-glossy", p), paper_of("demo-fibre-matt", new_p)
    assert old.curve is not None and new.curve is not None
    text = text_of(burn, judged)
    moved = move(read(text.encode(), "p", "print").value, bench_of(bench), old, new)
    assert not [said for said in moved.unmatched if "burn" in said]
    plans = plan_of(text, bench, old), plan_of(edited(text, {c.place: c.value for c in moved.changes}), bench, new)
    areas = ("sky", "wall") if "leave" in burn or burn == "another aperture" else ("sky",)
    for area in areas:
        lights = []
        for plan, p_ in zip(plans, (p, new_p), strict=True):
            bases, whole = (dict.fromkeys(("green", "blue"), 0.0) for _ in range(2))
            for step in lit(plan):
                of_base = bases if step.kind == "base" else {}
                got = (step.dose or 0.0) / step.scale - (sum(held(step)) / step.scale if area == "wall" else 0.0)
                for amounts in (of_base, whole):
                    if step.light in amounts:
                        amounts[step.light] += got
            lights.append((bases, {c: exposure(whole[c], bases[c], p_) for c in bases}))
        (base, burnt), (new_base, new_burnt) = lights
        middle = old.curve.dmin + 0.6
        light = old.curve.curve.multiple(middle, burnt["green"], burnt["blue"])
        plain = old.curve.curve.multiple(middle, base["green"], base["blue"])
        wanted = new.curve.curve.density(plain * new_base["green"], plain * new_base["blue"])
        got = new.curve.curve.density(light * new_burnt["green"], light * new_burnt["blue"])
        assert got == pytest.approx(wanted, abs=0.006), (area, moved.changes)
        assert not math.isclose(new_base["green"], base["green"], rel_tol=0.1)
