"""Any print that has a plan: parts give the dose, hands are enough, no cue leaves its burst, totals add up."""

import json
import math
from collections import defaultdict
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st
from sheet.plan_files import print_of, read_or_none

from timerd.sheet.plan.value import LIGHTS, Plan
from timerd.sheet.plan.view import WIDTH, plan_facts, plan_table
from timerd.sheet.words import step_speech

AREAS = st.sampled_from(["wall", "sky", "chimney"])
STOPS = st.sampled_from(["1/12", "1/6", "1/3", "1/2", "0.4", "3/4", "1", "1 1/4", "2"])
HELD_STOPS = st.sampled_from(["1/12", "1/6", "1/3", "0.4", "1/2", "1"])
SECONDS = st.integers(1, 400).map(lambda tenths: tenths / 10)
LIGHT = st.sampled_from(["green", "blue"])
PEDAL = st.sampled_from(["press", "hold"])

BENCH = """\
bench: any
stations: {easel: {}}
lamps:
  one: {pin: 17, station: easel, LAMP1}
  two: {pin: 27, station: easel, LAMP2}
lights:
  green: {lamp: one, colour: green}
  blue: {lamp: two, colour: blue}
pedals: {go: [{pin: 5}], end: [{pin: 6}]}
"""
LAMP = st.one_of(
    st.just("lag_s: 0"),
    st.integers(0, 400).map(lambda ms: f"lag_s: {ms / 1000}"),
    st.tuples(st.integers(1, 400), st.integers(0, 400)).map(lambda ms: f"rise_ms: {ms[0]}, fall_ms: {ms[1]}"),
)


@st.composite
def dodge(draw):
    where = draw(st.sampled_from(["", ", apart: true", f", start: {draw(st.integers(0, 40)) / 10}"]))
    return f"{{area: {draw(AREAS)}, stops: {draw(HELD_STOPS)}{where}}}"


@st.composite
def step(draw, names):
    dodges = ", ".join(draw(st.lists(dodge(), max_size=3)))
    common = f"light: {draw(LIGHT)}, pedal: {draw(PEDAL)}, dodge: [{dodges}]"
    if draw(st.booleans()):
        return f"{{base: base {next(names)}, seconds: {draw(SECONDS)}, {common}}}"
    amount = draw(st.one_of(STOPS.map("stops: {}".format), SECONDS.map("seconds: {}".format)))
    left = f", leave: [{{area: {draw(AREAS)}, stops: {draw(st.sampled_from(['0', '1/24']))}}}]"
    leave = draw(st.sampled_from(["", left]))
    return f"{{burn: {draw(st.one_of(AREAS, st.just('all')))}, {amount}, {common}{leave}}}"


@st.composite
def texts(draw):
    names = iter(range(1000))
    bases = [f"{{base: first, light: {light}, seconds: {draw(SECONDS)}}}" for light in ("green", "blue")]
    steps = bases + [draw(step(names)) for _ in range(draw(st.integers(0, 6)))]
    bench = BENCH.replace("LAMP1", draw(LAMP)).replace("LAMP2", draw(LAMP))
    paper = f"paper: any\nreciprocity: {draw(st.sampled_from([1, 0.9]))}\ndry_down: {draw(st.integers(0, 12))} %\n"
    hands = draw(st.integers(1, 3))
    judged = draw(st.sampled_from(["wet", "dry"]))
    return print_of(*steps, more=f"judged: {judged}\nhands: {hands}"), bench, paper


@settings(max_examples=150, deadline=None)
@given(texts())
def test_any_plan_holds_together(files):
    plan = read_or_none(*files)
    if plan is None:
        return
    hands = int(files[0].split("hands: ")[1].split("\n")[0])
    for planned in plan.steps:
        assert planned.n == plan.steps.index(planned) + 1
        if planned.kind in LIGHTS:
            _parts_give_the_dose(planned)
            _cues_stay_in_their_parts(planned)
            _hands_are_enough(planned, hands)
    _totals_are_sums(plan, 0.9 if "reciprocity: 0.9" in files[2] else 1)
    assert len({planned.name for planned in plan.steps}) == len(plan.steps)
    assert Plan.model_validate_json(plan.model_dump_json()) == plan
    assert json.loads(json.dumps(plan_facts(plan)))["steps"][0]["kind"] == "wait"
    assert max(map(len, plan_table(plan).splitlines())) <= WIDTH
    assert all(step_speech(planned) for planned in plan.steps)


def _parts_give_the_dose(planned):
    bursts = [stop - start for start, stop in zip((0, *planned.parts), planned.parts, strict=False)]
    assert all(burst > 0 for burst in bursts)
    assert math.isclose(sum(bursts), planned.dose)
    assert planned.parts[-1] == planned.dose
    given = sum(planned.response.dose(planned.response.seconds(burst)) for burst in bursts)
    assert math.isclose(given, planned.dose, rel_tol=1e-9)
    assert len(planned.parts) == max(1, sum(c.apart for c in planned.dodges) + _has_shared(planned))


def _has_shared(planned):
    return all(c.start > 1e-9 for c in planned.dodges if c.apart)


def _cues_stay_in_their_parts(planned):
    bounds = list(zip((0, *planned.parts), planned.parts, strict=False))
    for cue in planned.dodges:
        assert 0 <= cue.start < cue.stop <= planned.dose
        if cue.apart:
            assert (cue.start, cue.stop) in bounds
        else:
            assert cue.stop <= planned.parts[0]


def _hands_are_enough(planned, hands):
    for cue in planned.dodges:
        held = [c for c in planned.dodges if c.start <= cue.start + 1e-9 < c.stop - 1e-9]
        assert len(held) <= hands
        assert len({c.area for c in held}) == len(held)


OVER = {"wall": {"wall"}, "sky": {"sky"}, "chimney": {"chimney", "sky"}}
"""What lies over most of each area: the chimney stands in the sky, and is the smaller part of it."""


def _totals_are_sums(plan, reciprocity):
    got, base = defaultdict(float), defaultdict(float)
    for planned in plan.steps:
        if planned.kind not in ("base", "burn"):
            continue
        base[planned.light] += planned.dose if planned.kind == "base" else 0
        for area, over in OVER.items():
            if planned.kind == "base" or planned.area in {"all", *over}:
                got[area, planned.light] += _past_cards(planned, over)
        got["all", planned.light] += planned.dose if planned.kind == "base" or planned.area == "all" else 0
    names = {
        (area, planned.light)
        for planned in plan.steps
        for area in [*([planned.area] if planned.kind == "burn" else []), *(cue.area for cue in planned.dodges)]
    }
    wanted = {key for key, dose in got.items() if key in names or not math.isclose(dose, base[key[1]])}
    named = {area for area, _ in names}
    assert {(t.area, t.light) for t in plan.totals} == {
        key for key in wanted if key[0] in named and got[key] > 1e-9 * base[key[1]]
    }
    for t in plan.totals:
        ratio = got[t.area, t.light] / base[t.light]
        assert math.isclose(t.base + t.added - t.held_back, got[t.area, t.light], rel_tol=1e-9)
        assert math.isclose(t.stops, math.log(ratio) / math.log(2) * reciprocity, rel_tol=1e-9, abs_tol=1e-9)


def _past_cards(planned, over):
    """What of a step's dose comes past the cards, moment by moment."""
    marks = sorted({0.0, planned.dose, *(t for cue in planned.dodges for t in (cue.start, cue.stop))})
    return sum(
        end - begin
        for begin, end in pairwise(marks)
        if not any(cue.area in over and cue.start <= begin and end <= cue.stop for cue in planned.dodges)
    )
