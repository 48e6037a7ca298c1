"""Made-up statuses, one for every state that the screen can be in: for pictures, and for tests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from timerd.panel.shown import Shown
from timerd.panel.view import lost, view
from timerd.sheet.map import own_corner
from timerd.sheet.plan.prompts import take_up_asks
from timerd.sheet.plan.value import LIGHTS, Plan, Step
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.reason import KeeperGone, LineNotLow, NoInk
from timerd.sheet.refusal import NotSafe, TooSoonAfterLight
from timerd.sheet.status import (
    GoesTo,
    LastSaid,
    LeadIn,
    LightOff,
    LightOn,
    NotTaken,
    Offered,
    Rocking,
    Since,
    StackStands,
    Status,
    StepStands,
    TraysStand,
)
from timerd.sheet.trays.events import TrayCue
from timerd.sheet.trayside import cue_told

PRINTS = ("breakwater", "lantern-room", "ferry-steps")
"""The shipped prints that the scenes are made of."""
NOW = 5000.0
_SAID = NOW - 1.0
AT_ONCE = TrayCue("together", _SAID, (3, 4), "developer and fixer 1")
DRAIN = TrayCue("drain", _SAID, (3,), "fixer 1", "fixer 2")
DRAIN_4 = TrayCue("drain", _SAID, (4,), "developer", "stop")
SAFE = TrayCue("safe", _SAID, (3,))
CAUTION = TrayCue("caution", _SAID)
DEVELOPING = NotSafe(4, "in the developer")


@dataclass(frozen=True, slots=True)
class Scene:
    """A status with the plan and bench it belongs to."""

    status: Status
    plan: Plan | None
    bench: Bench
    map_called: bool = False

    @property
    def shown(self) -> Shown:
        """The screen for it."""
        return view(self.status, self.plan, self.bench, NOW, self.map_called)


def scenes(plans: Mapping[str, tuple[Plan, Bench]]) -> dict[str, Shown]:
    """A screen for every state, by a name for its picture; `plans` has those of PRINTS, each with its bench."""
    return {name: scene.shown for name, scene in made_up(plans).items()} | {
        "no-word": lost("No answer at its socket: connection refused.")
    }


def made_up(plans: Mapping[str, tuple[Plan, Bench]]) -> dict[str, Scene]:
    """The statuses behind `scenes`."""
    tide, bench = plans["breakwater"]
    lantern, one_lamp = plans["lantern-room"]
    ferry, warm = plans["ferry-steps"]
    developing = status_at_trays()
    flashing_edge = bench.model_copy(update={"screen": bench.screen.model_copy(update={"flash_edge": True})})
    carried = _flashed_last(tide)

    def scene(state: str, **facts: Any) -> Scene:
        return Scene(status(tide, state, **facts), tide, bench)

    burn, base = 6, 4  # steps of the breakwater's plan
    return {
        "idle-nothing-loaded": Scene(status(None, "idle"), None, bench),
        "idle": scene("idle", sheet=None, sheets_left=3, simulated=True),
        "idle-viewing-light": scene(
            "idle", sheet=None, burst=LightOn(1, "green", NOW - 18.4, NOW + 581.6)
        ),
        "idle-unfinished": scene(
            "idle", sheet=None, white=3,
            unfinished=Offered(3, burn, 8.5, 9.1, _dose(tide, burn) - 9.1),
        ),
        "idle-set-aside": scene(
            "idle", sheet=None, aside=(3,),
            unfinished=Offered(3, burn, 9.1, 9.1, _dose(tide, burn) - 9.1, "asked"),
        ),
        "idle-sheets-in-the-box": scene("idle", sheet=None, sheets_left=7, aside=(1, 2, 3)),
        "idle-to-show": scene("idle", sheet=None, shows="viewing light"),
        "prompt-start": scene("prompt", step=1, white=NotSafe(3, "is armed")),
        "prompt-carry": scene("prompt", step=3, white=3),
        "prompt-carry-to-flash": Scene(status(carried, "prompt", step=3, white=3), carried, bench),
        "prompt-filter": Scene(status(lantern, "prompt", step=_kind(lantern, "filter"), white=3), lantern, one_lamp),
        "prompt-out-of-the-box": scene(
            "prompt", step=base, boxed="asked", white=NotSafe(3, "is taken up"),
            asks=take_up_asks(3, tide.steps[base - 1].set_up, own_corner(0), mapped=True),
        ),
        "prompt-set-up": scene("prompt", step=2, white=3, asks=("carry the sheet to the flashing",)),
        "ready-to-show": scene("ready", step=burn, white=3, shows="paper-safe light"),
        "ready-paper-safe-light": scene(
            "ready", step=burn, white=3, shown="red",
            burst=LightOn(12, "red", NOW - 8.0, NOW + 592.0),
        ),
        "ready-flash": scene("ready", step=2, white=3),
        "ready-base": scene("ready", step=base, white=3),
        "ready-burn": scene("ready", step=burn, white=3),
        "ready-refused": scene(
            "ready", step=burn, white=3,
            refused=NotTaken(4, NOW - 1.2, TooSoonAfterLight()),
        ),
        "lead-in": _burst(tide, bench, "lead-in", base, waited=1.3),
        "exposing-base": _burst(tide, bench, "exposing", base, lit_for=1.1),
        "exposing-burn": _burst(tide, bench, "exposing", burn, lit_for=2.3),
        "exposing-card": _burst(tide, bench, "exposing", 7, lit_for=3.1),
        "exposing-last-seconds": _burst(tide, flashing_edge, "exposing", 9, lit_for=1.7),
        "exposing-free": _burst(ferry, warm, "exposing", _free(ferry), lit_for=7.2),
        "paused": scene("paused", step=burn, given={burn: 4.9}, white=3, dark="pedal"),
        "paused-apart": scene("ready", step=base, given={base: tide.steps[base - 1].parts[0]}, white=3),
        "paused-no-answer": scene("paused", step=burn, given={burn: 11.3}, white=3, dark="lease"),
        "paused-after-a-crash": scene("paused", step=5, given={5: 4.4}, given_lo=3.9, white=3, dark="keeper gone"),
        "paused-free": Scene(
            status(ferry, "paused", step=_free(ferry), given={_free(ferry): 7.1}, white=3, dark="pedal"), ferry, warm
        ),
        "done": scene("done", step=12, white=3, goes_to=(GoesTo(3, "fixer"),)),
        "done-in-the-fixer": scene("done", step=12, sheets_left=0, white=NotSafe(3, "in the fixer")),
        "trays": scene("done", step=12, trays=developing, white=DEVELOPING),
        "trays-at-once": scene("idle", sheet=None, trays=status_at_trays(said=AT_ONCE), white=DEVELOPING),
        "trays-safe": scene("idle", sheet=None, trays=status_at_trays(said=SAFE, developing=False)),
        "trays-not-confirmed": scene(
            "idle", sheet=None, trays=status_at_trays(late=21.0), white=NotSafe(4, "not confirmed"),
            goes_to=(GoesTo(4, "fixer"),),
        ),
        "trays-drain": scene("ready", step=burn, white=5, sheet=5, trays=status_at_trays(said=DRAIN)),
        "trays-while-exposing": _burst(tide, bench, "exposing", burn, lit_for=2.3, white=5, sheet=5, trays=developing),
        "trays-caution": scene("done", step=12, trays=status_at_trays(said=CAUTION), white=DEVELOPING),
        "trays-late": scene("idle", sheet=None, trays=status_at_trays(late=21.0, by_press=True), white=DEVELOPING),
        "trays-late-and-due": scene(
            "idle", sheet=None, trays=status_at_trays(late=21.0, by_press=True, said=DRAIN_4), white=DEVELOPING
        ),
        "abandoned": scene("abandoned", step=burn, given={burn: 4.9}, white=3),
        "both-held": scene("paused", step=burn, given={burn: 4.9}, white=3, dark="pedal",
                           said=LastSaid(7, "both held", NOW - 0.3)),
        "fault-line-not-low": scene("fault", step=burn, given={burn: 9.1}, given_lo=8.5, white=3,
                                    reason=LineNotLow()),
        "fault-keeper-gone": scene("fault", step=burn, white=3, reason=KeeperGone()),
        "no-ink": scene("idle", sheet=None, ink=NoInk("the book's disk is full")),
        "no-word-that-it-is-dark": _burst(tide, bench, "exposing", 7, lit_for=10.2),
        "map": Scene(status(tide, "ready", step=burn, white=3), tide, bench, map_called=True),
        "map-flash": Scene(status(tide, "ready", step=2, white=3), tide, bench, map_called=True),
    }  # fmt: skip


def status(
    plan: Plan | None, state: str, *, step: int | None = None, sheet: int | None = 3, sheets_left: int = 1,
    given: Mapping[int, float] | None = None, given_lo: float | None = None, white: int | NotSafe | None = None,
    dark: str | None = None, **facts: Any,
) -> Status:  # fmt: skip
    """A status as the daemon tells it at NOW. The steps before the one at hand have got all they were to get; `white`
    is the sheet that is out, or which one white light would spoil, and where that is."""
    given = given or {}
    told = None
    if plan is not None and step is not None:
        told = tuple(_step_told(one, step, given.get(one.n, 0.0)) for one in plan.steps)
    here = told[step - 1] if told is not None and step is not None else None
    prompted = plan.steps[step - 1].asks if state == "prompt" and plan is not None and step is not None else None
    made = Status(
        bench=plan.bench if plan is not None else "two-station", scheduling="real time, memory locked", now=NOW,
        state=state, since=Since(20, NOW - 3.0), print=plan.print if plan is not None else None,
        plan="a1b2c3d4" if plan is not None else None, sheet=sheet if plan is not None else None,
        sheets_left=sheets_left if plan is not None else 0, step=step, given=here.given if here is not None else None,
        given_lo=None if here is None else here.given if given_lo is None else given_lo,
        owed=here.owed if here is not None else None, on_s=here.given if here is not None else 0.0, steps=told,
        dark=None if dark is None else LightOff(11, NOW - 3.0, dark),
        white_light_spoils=NotSafe(white, "is out") if isinstance(white, int) else white, asks=prompted,
    )  # fmt: skip
    return replace(made, **facts)


def status_at_trays(
    said: TrayCue | None = None, late: float | None = None, by_press: bool = False, developing: bool = True
) -> TraysStand:
    """Three sheets at the trays, as the daemon tells it at NOW, or without the one in the developer; something said a
    moment ago; the first so many seconds late."""

    def stack(sheet: int, bath: str | None, to: str, what: str, left: float, **facts: Any) -> StackStands:
        return replace(StackStands(
            (sheet,), bath, to, NOW - 38.4, what, NOW + left, NOW + left, 20.0, None, False, False,
        ), **facts)  # fmt: skip

    beat = Rocking(5.0, 0.0)
    drains = 10.0 - 1.0  # told a moment ago: it hangs over its bath, is rocked no more, and goes on after that
    third = stack(3, "fixer 1", "fixer 2", "drain", 12.3, agitate=beat)
    if late is not None or said == DRAIN:
        third = stack(3, "fixer 1", "fixer 2", "move", drains if late is None else -late)
    fourth = stack(4, "developer", "stop", "drain", 71.6, celsius=22.5, agitate=beat)
    if said == DRAIN_4:
        fourth = stack(4, "developer", "stop", "move", drains, celsius=22.5)
    stacks = (third, *[fourth] * developing, stack(2, "wash", "", "move", 250.0, approximate=True))
    return TraysStand(stacks, by_press, cues=() if said is None else (cue_told(said, 9),))


def _step_told(step: Step, here: int, given: float) -> StepStands:
    if step.kind not in LIGHTS:
        return StepStands(step.n, ended_by="printer" if step.n < here else None, owed=0.0)
    if step.n < here:
        return StepStands(step.n, step.dose or 6.0, 0.0, "dose" if step.dose else "printer")
    return StepStands(step.n, given, None if step.dose is None else step.dose - given)


def _burst(
    plan: Plan, bench: Bench, state: str, n: int, lit_for: float = 0.0, waited: float | None = None, **more: Any
) -> Scene:
    """A lead-in that has lasted `waited` seconds, or a light lit for so long."""
    step = plan.steps[n - 1]
    end = (step.parts or (step.dose,))[0]
    seconds = step.longest_s if end is None else step.response.seconds(end)
    facts: dict[str, Any] = {}
    if waited is not None:
        begun = NOW - waited
        facts["lead_in"] = LeadIn(12, step.light or "", begun, begun + (step.lead_in or 0.2), seconds)
    else:
        lit = NOW - lit_for
        facts["burst"] = LightOn(12, step.light or "", lit, lit + seconds)
    return Scene(status(plan, state, step=n, **{"white": 3, **facts, **more}), plan, bench)


def _flashed_last(plan: Plan) -> Plan:
    """The same print with its flash after a base: the sheet is carried to where no image is projected."""
    start, flash, carry, base = (plan.steps[i] for i in (0, 1, 2, 3))
    there = carry.model_copy(
        update={
            "n": 3, "station": flash.station, "name": f"carry/{flash.station}",
            "asks": (f"carry the sheet to the {flash.station}",),
        }
    )  # fmt: skip
    steps = (start, base.model_copy(update={"n": 2}), there, flash.model_copy(update={"n": 4}))
    return plan.model_copy(update={"steps": steps})


def _dose(plan: Plan, n: int) -> float:
    return plan.steps[n - 1].dose or 0.0


def _kind(plan: Plan, kind: str) -> int:
    return next(step.n for step in plan.steps if step.kind == kind)


def _free(plan: Plan) -> int:
    return next(step.n for step in plan.steps if step.pedal == "free")
