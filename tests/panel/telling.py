"""Statuses as the daemon tells them (the issue's page of the control socket), for tests of what is heard."""

from __future__ import annotations

from typing import Any

from timerd.printing.light import Response
from timerd.sheet.plan.value import Cue, Plan, Step

AT_REST: dict[str, Any] = {
    "ok": True, "is": "status", "now": 100.0, "state": "idle", "since": {"number": 1, "at": 100.0}, "bench": "test",
    "simulated": True, "scheduling": "", "print": None, "plan": None, "sheet": None, "sheets_left": 0, "step": None,
    "given": None, "given_lo": None, "owed": None, "on_s": None, "steps": None, "lead_in": None, "burst": None,
    "dark": None, "white_light": "safe", "white_light_words": "safe", "reason": None, "refused": None, "said": None,
    "unfinished": None, "ink": None, "asks": None, "shows": None, "shown": None, "aside": [],
    "trays": None, "goes_to": [], "boxed": None, "worn": None,
}  # fmt: skip


def status(**facts: Any) -> dict[str, Any]:
    """A status at rest but for these facts; doses given are exact unless told otherwise."""
    if "given" in facts:
        facts.setdefault("given_lo", facts["given"])
    return {**AT_REST, **facts}


def lead_in(begun: float, lit: float, seconds: float, burst: int = 7, **facts: Any) -> dict[str, Any]:
    """A light is about to come on."""
    coming = {"burst": burst, "light": "green", "from": begun, "at": lit, "seconds": seconds}
    return status(**{"now": begun, "state": "lead-in", "lead_in": coming, "on_s": 0.0, "given": 0.0, **facts})


def exposing(lit: float, seconds: float, burst: int = 7, **facts: Any) -> dict[str, Any]:
    """A light burns."""
    lit_now = {"burst": burst, "light": "green", "lit": lit, "deadline": lit + seconds}
    return status(**{"now": lit, "state": "exposing", "burst": lit_now, "on_s": 0.0, "given": 0.0, **facts})


def dodge(area: str, start: float, stop: float, **facts: Any) -> Cue:
    """A dodge from one dose to another."""
    return Cue(**{"area": area, "start": start, "stop": stop, "stops": 0.25, "stops_written": "1/4", **facts})


def step(dose: float | None, n: int = 2, **facts: Any) -> Step:
    """A base of so much dose on a lamp without lag, at the enlarger."""
    response = facts.get("response", Response())
    made = {
        "n": n, "kind": "base", "name": "base/soft/green", "station": "enlarger", "area": None, "light": "green",
        "lamp": "head", "dose": dose, "seconds": None if dose is None else response.seconds(dose), "pedal": "press",
        "lead_in": 3.0, "parts": () if dose is None else (dose,),
    }  # fmt: skip
    return Step(**{**made, **facts})


def plan(*steps: Step) -> Plan:
    """A plan of these steps, after a start prompt."""
    start = Step(n=1, kind="wait", name="wait", station="enlarger", asks=("lens at f/8", "paper out"))
    return Plan(
        print="Quiet yard", negative=None, paper="pearl", bench="test", steps=(start, *steps), cautions=(), totals=(),
        lamp_seconds=0.0,
    )  # fmt: skip
