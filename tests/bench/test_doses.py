"""What the lines did, held against what was planned: the light of every burst, added up without the tool's own sums."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from timerd.bench.simulated import SimulatedBench
from timerd.printing.light import Response
from timerd.sheet.engine import events as ev
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.session import Session

LAMPS = {
    "LED": {},
    "filament, 120 ms up and 60 ms down": {"rise_ms": 120, "fall_ms": 60},
    "a measured lag of 133 ms": {"lag_s": 0.1333},
    "an LED on a relay that is slow to close": {"relay_on_ms": 15, "relay_off_ms": 5},
    "a filament on a relay that is slow to open": {
        "rise_ms": 120, "fall_ms": 60, "relay_on_ms": 6, "relay_off_ms": 14,
    },
}  # fmt: skip


def light_of(on: float, lamp: dict[str, float]) -> float:
    """The light of one burst from cold, by summing a first-order rise and the fall after it in small steps.

    `on` is how long the line was on; the current begins and ends so much later than it.
    """
    if "lag_s" in lamp:
        return max(0.0, on - lamp["lag_s"])
    begins, ends = lamp.get("relay_on_ms", 0) / 1000, on + lamp.get("relay_off_ms", 0) / 1000
    on = max(0.0, ends - begins)
    if "rise_ms" not in lamp or not on:
        return on
    rise, fall = lamp["rise_ms"] / 1000, lamp["fall_ms"] / 1000
    steps = 4000
    step = on / steps
    lit = sum(1 - math.exp(-(k + 0.5) * step / rise) for k in range(steps)) * step
    level = 1 - math.exp(-on / rise)
    tail = 10 * fall / steps
    return lit + level * sum(math.exp(-(k + 0.5) * tail / fall) for k in range(steps)) * tail


def bench_with(lamp: dict[str, float]) -> Bench:
    return Bench.model_validate({
        "bench": "doses", "stations": {"enlarger": {}}, "lamps": {"head": {"pin": 17, "station": "enlarger", **lamp}},
        "lights": {"green": {"lamp": "head", "colour": "green"}}, "safelight": {"pin": 22},
        "pedals": {"go": [{"pin": 5}], "end": [{"pin": 6}]},
    })  # fmt: skip


def plan_of(dose: float, response: Response, pedal: str) -> Plan:
    base = Step.model_validate({
        "n": 2, "kind": "base", "name": "base/soft/green", "station": "enlarger", "light": "green", "dose": dose,
        "seconds": response.seconds(dose), "pedal": pedal, "lead_in": 0.2, "parts": (dose,), "response": response,
    })  # fmt: skip
    start = Step(n=1, kind="wait", name="wait", station="enlarger")
    return Plan(
        print="Doses", negative=None, paper="demo", bench="doses", steps=(start, base), cautions=(), totals=(),
        lamp_seconds=0.0,
    )  # fmt: skip


def press(bench: SimulatedBench, seconds: float) -> None:
    bench.raw_edge("go", True)
    bench.advance(bench.now + seconds)
    bench.raw_edge("go", False)
    bench.advance(bench.now + 0.05)


@settings(max_examples=60, deadline=None)
@given(
    lamp=st.sampled_from(list(LAMPS)),
    dose=st.floats(0.5, 40.0),
    pauses=st.lists(st.floats(0.05, 15.0), max_size=8),
    held=st.booleans(),
)
def test_any_pauses_give_the_planned_dose(lamp: str, dose: float, pauses: list[float], held: bool) -> None:
    bench_file = bench_with(LAMPS[lamp])
    response = bench_file.lamps["head"].response
    bench = SimulatedBench(Session(bench_file))
    bench.event(ev.Load(plan_of(dose, response, "hold" if held else "press"), 1, 0.0))
    press(bench, 1.2)
    bench.advance(bench.now + 0.8)
    press(bench, 0.15)
    for pause in pauses:
        if bench.session.standing.state == "done":
            break
        bench.advance(bench.now + 0.8)
        if held:
            press(bench, 0.2 + pause)
        else:
            press(bench, 0.1)
            bench.advance(bench.now + pause)
            if bench.session.standing.state == "exposing":
                press(bench, 0.1)
    while bench.session.standing.state != "done":
        bench.advance(bench.now + 1.0)
        if bench.session.standing.state in ("ready", "paused"):
            press(bench, 60.0 if held else 0.1)
    edges = [edge for edge in bench.lines.edges if edge.line == "green"]
    bursts = [off.at - on.at for on, off in zip(edges[::2], edges[1::2], strict=True)]
    given_dose = sum(light_of(seconds, LAMPS[lamp]) for seconds in bursts)
    assert abs(math.log2(given_dose / dose)) < 1 / 500
    step = bench.session.standing.progress.sheets[1].steps[2]
    assert step.given == pytest.approx(given_dose, rel=1e-4)
    assert len(step.bursts) == len(bursts)
