"""Screens for the tests: every made-up one, and the same states with every text as long as a file may have it."""

from __future__ import annotations

import argparse
from dataclasses import replace
from functools import cache

from sheet.plan_files import plan_of as plan_of_texts

from timerd.cli.files import worked
from timerd.panel.scenes import PRINTS, Scene, made_up, scenes
from timerd.panel.shown import Shown
from timerd.panel.view import lost, view
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import read
from timerd.sheet.status import CueTold, LeadIn, LightOn, NotTaken, Offered, Status


@cache
def plans() -> dict[str, tuple[Plan, Bench]]:
    """The shipped prints that the scenes are made of."""
    made = {name: worked(name, argparse.Namespace(home=None)) for name in PRINTS}
    return {name: (one.plan, one.bench.value) for name, one in made.items()}


@cache
def all_scenes() -> dict[str, Scene]:
    return made_up(plans())


@cache
def all_shown() -> dict[str, Shown]:
    return scenes(plans())


LIGHT = "green-" + "wide-" * 6 + "open"
AREA = "the low wall behind the third boat house"
STATION = "enlarger-at-the-far-wall-of-the-old-shed"
TEXT = ("a straight edge, well above the paper, moved slowly from the far corner to here" + "x" * 80)[:80]
NOTE = ("keep the card moving, slower at the far end; " * 10)[:400]
BENCH = f"""\
bench: {"b" * 40}
stations: {{{STATION}: {{turn: 90}}, {"f" * 40}: {{turn: 180}}}}
lamps:
  head: {{pin: 17, station: {STATION}, longest_s: 1800}}
  flasher: {{pin: 23, station: {"f" * 40}}}
lights:
  {LIGHT}: {{lamp: head, colour: green, filter: by hand}}
  {"w" * 40}: {{lamp: flasher, colour: white}}
viewing: {LIGHT}
pedals: {{go: [{{pin: 5}}], end: [{{pin: 6}}]}}
"""
MORE = f'card: "{TEXT}", note: "{NOTE}"'
PRINT = f"""\
print: "{TEXT}"
negative: "{TEXT}"
paper: plain
bench: {"b" * 40}
sheet: [3000, 10]
aperture: 5.6
hands: 8
areas:
  {AREA}: [[0, 0], [1, 0], [1, 0.5], [0, 0.5]]
  other: [[0, 0], [1, 0], [1, 0.5]]
  third: [[0, 0], [1, 0], [1, 0.5]]
  fourth: [[0, 0], [1, 0], [1, 0.5]]
steps:
  - {{flash: {AREA}, light: {"w" * 40}, seconds: 123.45, {MORE}}}
  - {{carry: {STATION}, {MORE}}}
  - base: {AREA}
    light: {LIGHT}
    seconds: 1799
    card: "{TEXT}"
    note: "{NOTE}"
    dodge:
      - {{area: {AREA}, stops: 0.123456, start: 0, {MORE}}}
      - {{area: other, stops: 1/3, start: 0, {MORE}}}
      - {{area: third, stops: 1/3, start: 0, {MORE}}}
      - {{area: fourth, stops: 1/3, start: 0, {MORE}}}
  - {{burn: {AREA}, light: {LIGHT}, stops: 0.857143, pedal: hold, {MORE}}}
  - {{burn: {AREA}, light: {LIGHT}, pedal: free, {MORE}}}
  - {{develop: {"d" * 40}}}
"""


@cache
def longest_shown() -> dict[str, Shown]:
    """Every kind of screen with the longest texts."""
    plan = plan_of_texts(PRINT, BENCH)
    bench: Bench = read(BENCH.encode(), "bench.yaml", "bench").value
    shown = {}
    steps = {kind: next(s.n for s in plan.steps if s.kind == kind) for kind in ("filter", "carry", "flash", "base")}
    burn, free = (s.n for s in plan.steps if s.kind == "burn")
    at = {
        "prompt-start": ("prompt", 1), "prompt-carry": ("prompt", steps["carry"]),
        "ready-flash": ("ready", steps["flash"]), "prompt-filter": ("prompt", steps["filter"]),
        "ready-base": ("ready", steps["base"]), "ready-burn": ("ready", burn),
        "paused": ("paused", burn), "paused-free": ("paused", free), "done": ("done", len(plan.steps)),
        "abandoned": ("abandoned", burn), "idle": ("idle", None), "fault-line-not-low": ("fault", burn),
        "lead-in": ("lead-in", steps["base"]), "exposing-base": ("exposing", steps["base"]),
        "exposing-burn": ("exposing", burn), "exposing-free": ("exposing", free),
    }  # fmt: skip
    from timerd.panel.scenes import NOW, status, status_at_trays

    said = CueTold(9, "move", NOW - 1.0, text=NOTE)

    def add(name: str, told: Status, called: bool = False) -> None:
        shown[name] = view(told, plan, bench, NOW, called)

    for name, (state, step) in at.items():
        given = {step: 1.23} if step is not None and state in ("paused", "abandoned") else None
        facts = status(plan, state, step=step, sheet=12345, sheets_left=98, white=12345, given=given)
        light = plan.steps[step - 1].light if step is not None else None
        if state == "exposing":
            facts = replace(facts, burst=LightOn(1, light or "", NOW - 2.0, NOW + 1797.0))
        if state == "lead-in":
            facts = replace(facts, lead_in=LeadIn(1, light or "", NOW - 0.5, NOW + 59.5, 1799.0))
        if state == "fault":
            facts = replace(facts, reason=NOTE)
        if state == "idle":
            facts = replace(facts, scheduling=NOTE)
        add(name, facts)
        add(f"{name}, refused", replace(facts, refused=NotTaken(1, NOW - 0.1, NOTE)))
        add(f"{name}, no ink, the map called", replace(facts, ink=NOTE), called=True)
        add(
            f"{name}, told at the trays",
            replace(facts, trays=replace(status_at_trays(), cues=(said,))),
        )
        add(f"{name}, white light", replace(facts, white_light_spoils=f"not yet: {NOTE}"))
    offer = Offered(12345, burn, 1000.0, 1234.5, 1234.5)
    add("unfinished", status(plan, "idle", sheet=None, white=12345, unfinished=offer))
    view_burst = LightOn(1, LIGHT, NOW - 1, NOW + 3599)
    add("viewing", status(plan, "idle", sheet=None, burst=view_burst))
    shown["lost"] = lost(NOTE)
    return {name: replace(one, edge=2) for name, one in shown.items()}
