"""Statuses as the daemon tells them (the issue's page of the control socket), for tests of what is heard."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any

from timerd.printing.light import Response
from timerd.sheet.plan.value import Cue, Plan, Step
from timerd.sheet.status import Since, Status, status_json, status_of

AT_REST = Status(bench="test", simulated=True, now=100.0, since=Since(1, 100.0))
TOLD = status_json(AT_REST)
"""As it comes over the socket."""
KEYS = {one.name for one in fields(Status)}


def but(told: Status, **facts: Any) -> Status:
    """The same status but for these facts, as they stand in JSON or as the status has them."""
    assert facts.keys() <= KEYS, facts.keys() - KEYS
    if "white_light_spoils" in facts:
        facts["white_light"] = "safe" if facts["white_light_spoils"] is None else "not yet"
    return status_of({**status_json(told), **{name: in_json(fact) for name, fact in facts.items()}})


def in_json(fact: Any) -> Any:
    """A fact as it goes over the socket."""
    made = status_json(replace(AT_REST, reason=fact))["reason"] if is_dataclass(fact) else fact
    return [in_json(one) for one in made] if isinstance(made, tuple) else made


def status(**facts: Any) -> Status:
    """A status at rest but for these facts; doses given are exact unless told otherwise."""
    if "given" in facts:
        facts.setdefault("given_lo", facts["given"])
    return but(AT_REST, **facts)


def lead_in(begun: float, lit: float, seconds: float, burst: int = 7, **facts: Any) -> Status:
    """A light is about to come on."""
    coming = {"burst": burst, "light": "green", "from": begun, "at": lit, "seconds": seconds}
    return status(**{"now": begun, "state": "lead-in", "lead_in": coming, "on_s": 0.0, "given": 0.0, **facts})


def exposing(lit: float, seconds: float, burst: int = 7, **facts: Any) -> Status:
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
