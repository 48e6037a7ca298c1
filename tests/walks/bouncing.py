"""Worn contacts: a bench for them, and presses whose contact bounces for 1 to 300 ms, seeded.

A train is what a contact does when a foot comes down on it, or leaves it: it opens and closes for some time before it
rests. Its edges may come so close that the keeper takes them for one, or lie farther apart than the keeper's lock-out.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from timerd.bench.contacts import LOCK_OUT_S
from timerd.printing.light import Response
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from walks.engine_walk import PLAN

BENCH = Bench.model_validate({
    "bench": "worn",
    "stations": {"enlarger": {}},
    "lamps": {"head": {"pin": 17, "station": "enlarger"}, "red-led": {"pin": 24, "station": "enlarger"}},
    "lights": {
        "green": {"lamp": "head", "colour": "green"},
        "red": {"lamp": "red-led", "colour": "red", "paper_safe": True},
    },
    "viewing": "green",
    "safelight": {"pin": 22},
    "pedals": {"go": [{"pin": 5}], "end": [{"pin": 6}], "third": [{"pin": 12}]},
    "third": "view",
})  # fmt: skip

TRAINS = range(200)
WIDEST_S = 0.12
"""No contact stays open, or closed, for longer within a train: from there on it is a foot."""


def plan(kind: str, dose: float = 6.0, lead_in: float = 3.0) -> Plan:
    """A start prompt, a `press` or a `hold` step in green, and another `press` step."""
    at = PLAN.steps[3].set_up
    wait = PLAN.steps[0].model_copy(update={"station": "enlarger", "set_up": at})
    facts: dict[str, Any] = {
        "n": 2, "dose": dose, "seconds": dose, "parts": (dose,), "then_next": False, "lead_in": lead_in, "set_up": at,
        "response": Response(), "longest_s": 300.0,
    }  # fmt: skip
    held = {"kind": "burn", "pedal": "hold", "lead_in": 0.2} if kind == "hold" else {}
    first = PLAN.steps[3].model_copy(update=facts | held)
    last = PLAN.steps[3].model_copy(update=facts | {"n": 3, "dose": 2.0, "seconds": 2.0, "parts": (2.0,)})
    return PLAN.model_copy(update={"bench": BENCH.bench, "steps": (wait, first, last)})


def train(pick: random.Random, longest_s: float, widest_s: float) -> list[float]:
    """When the edges of a train come, counted from its first; an odd number, so that it rests where it began to go."""
    least = min(0.0003, longest_s / 4)
    gaps: list[float] = []
    while (left := longest_s - sum(gaps)) > 2 * least and len(gaps) < 60:
        gaps += [pick.uniform(least, max(least, min(widest_s, left / 2))) for _ in range(2)]
    return [0.0] + [round(sum(gaps[: k + 1]), 6) for k in range(len(gaps))]


@dataclass
class Press:
    """A foot that comes down, stands for `rest` seconds, and leaves; the contact bounces both times."""

    down: list[float]
    rest: float
    up: list[float]

    @property
    def leaves(self) -> float:
        """When the foot leaves, counted from the first edge."""
        return self.down[-1] + self.rest

    @property
    def seconds(self) -> float:
        return self.leaves + self.up[-1]

    @property
    def edges(self) -> list[tuple[float, bool]]:
        """Every edge, counted from the first: when, and whether the contact closes."""
        coming = [(after, k % 2 == 0) for k, after in enumerate(self.down)]
        return coming + [(self.leaves + after, k % 2 == 1) for k, after in enumerate(self.up)]


def press(seed: int, wide: bool, rests: Callable[[random.Random], float]) -> Press:
    """The seed is which of the 200 trains it is, of 1 to 300 ms."""
    pick = random.Random(f"{seed} {wide}")
    longest = 0.001 + 0.299 * seed / (len(TRAINS) - 1)
    widest = WIDEST_S if wide else 0.9 * LOCK_OUT_S
    return Press(train(pick, longest, widest), rests(pick), train(pick, longest, widest))


def any_rest(pick: random.Random) -> float:
    """Short or long: a tap, or a foot that stays on the pedal long enough for a hold."""
    return pick.choice((pick.uniform(0.05, 0.4), pick.uniform(1.1, 2.5)))
