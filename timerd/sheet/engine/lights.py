"""Moves that ask for light or take in what the keeper says of it: lead-in, lit, dark, viewing, fault."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from timerd.sheet.engine import table
from timerd.sheet.engine.events import Cut, Dark, Expose, Fault, Lit, Low, Refused, Rest
from timerd.sheet.engine.feet import TAP_S, Contact
from timerd.sheet.engine.sheets import begin_step, ready
from timerd.sheet.plan.value import Step

if TYPE_CHECKING:
    from timerd.sheet.engine.machine import Engine

TOO_SOON_S = 0.7
"""After a light went out by itself a press of `go` in this time was meant to pause, and starts nothing."""
LATE_S = 0.25
"""A start that reaches the engine later than this after its edge is refused."""
HELD_LEAD_IN_S = 0.2
"""From foot to light where a light is held, and the shortest lead-in there is."""
FREE_WARNED_S = 10.0
"""A free burn is warned of its limit so long before."""

_PAUSING = frozenset({"deadline", "pedal", "lease", "asked", "refused"})
"""Reasons for going dark that leave the sheet in hand; any other is a fault."""


def view(e: Engine, contact: Contact, at: float) -> None:
    safe, words = e.white_light
    if e.other_is_down(contact):
        return
    if e.bench.viewing is None:
        e.refuse("this bench has no viewing light", contact)
    elif not safe:
        e.refuse(f"white light {words}", contact)
    elif e.now - at > LATE_S:
        e.refuse("late", contact)
    else:
        expose(e, e.bench.viewing, at + HELD_LEAD_IN_S, e.bench.view_s, None, None, view=True)
        e.enter(table.VIEWING, at)


def view_lit(e: Engine, event: Lit, at: float) -> None:
    e.lit_at = at
    e.write("viewing", at, burst=event.burst, lit=True)


def view_goes_off(e: Engine, contact: Contact, at: float) -> None:
    e.starter = contact


def view_dark(e: Engine, event: Dark, at: float) -> None:
    went_off, was_lit = e.starter, e.lit_at is not None
    burst_over(e, event.why, at)
    if was_lit:
        e.write("viewing", at, burst=event.burst, lit=False)
    if event.why not in _PAUSING:
        fail_with(e, event.why, at)
        return
    e.enter(e.idle_row(), at)
    if went_off is not None and went_off.pedal == "go" and went_off.down:
        went_off.visit = e.visit  # the same press may still arm: the viewing light has gone off first


def view_refused(e: Engine, event: Refused, at: float) -> None:
    burst_over(e, "refused", at)
    e.refuse(event.why)
    e.enter(e.idle_row(), at)


def start(e: Engine, contact: Contact, at: float) -> None:
    _, step, _ = e.hands()
    if contact.station not in (None, step.station):
        e.refuse(f"this pedal serves the {contact.station}; the sheet is at the {step.station}", contact)
    elif e.now - at > LATE_S:
        e.refuse("late", contact)
    elif not e.other_is_down(contact):
        lead_in(e, contact, at)


def lead_in(e: Engine, contact: Contact | None, at: float) -> None:
    _, step, progress = e.hands()
    held = step.pedal != "press"
    again = e.row == table.PAUSED and held and not step.lead_in_again
    lead_in = HELD_LEAD_IN_S if again else step.lead_in
    assert step.light is not None and lead_in is not None
    last = True
    if step.dose is None:
        seconds = step.longest_s
    else:
        part = next((part for part in step.parts if progress.owed_until(part) > 0), step.parts[-1])
        last = part == step.parts[-1]
        seconds = step.response.seconds(progress.owed_until(part))
    stays = stays_dark(e, step, last)
    safelight = e.bench.safelight
    dark_from = {"lead-in": at, "light": at + lead_in, "never": None}[safelight.dark_from]
    expose(e,
        step.light, at + lead_in, seconds, contact if held else None,
        {"dark": dark_from, "stays": stays} if dark_from is not None and safelight.switchable else None,
    )  # fmt: skip
    e.starter = contact
    e.reason = None
    e.enter(table.LEAD_IN_HELD if held else table.LEAD_IN, at)


def stays_dark(e: Engine, step: Step, last: bool) -> list[str]:
    """After which ends of a burst the safelight is not put on: the lifts of a held step, and as the file says."""
    if step.pedal == "free":
        return ["pedal", "deadline"]
    stays = ["pedal"] if step.pedal == "hold" or not e.bench.safelight.on_when_paused else []
    if last and step.then_next and e.bench.safelight.dark_from == "lead-in":
        stays.append("deadline")
    return stays


def expose(e: Engine, light: str, at: float, seconds: float, holder: Contact | None, safelight: dict[str, Any] | None,
    view: bool = False,
) -> None:  # fmt: skip
    e.last_burst += 1
    e.burst, e.lit_at, e.deadline, e.seconds = e.last_burst, None, None, seconds
    message = {
        "do": "expose", "burst": e.burst, "light": light, "at": at, "seconds": seconds,
        "cut_on": list(e.feet.contacts), "while_down": holder.name if holder is not None else None,
        "safelight": safelight, "seen": e.seen, "view": view,
    }  # fmt: skip
    e.out.append(Expose(message))


def keeper_cuts(e: Engine, contact: Contact, at: float) -> None:
    """Nothing to ask for: the keeper has cut at the edge itself, and `dark` is on its way."""
    contact.deaf = contact.down


def no_press_after_all(e: Engine, contact: Contact, at: float) -> None:
    if at - contact.at < TAP_S:
        e.out.append(Cut())


def cut(e: Engine, contact: None, at: float) -> None:
    e.out.append(Cut())


def lit(e: Engine, event: Lit, at: float) -> None:
    _, step, _ = e.hands()
    e.lit_at, e.deadline = at, at + e.seconds
    if step.dose is None:
        e.warn_at = max(at, e.deadline - FREE_WARNED_S)
    e.write("lit", at, step.n, event.burst, light=step.light, lit=at)
    e.enter(table.EXPOSING if step.pedal == "press" else table.EXPOSING_HELD, at)


def burst_refused(e: Engine, event: Refused, at: float) -> None:
    dark(e, Dark(event.burst, at, "refused"), at)
    e.refuse(event.why)


def burst_over(e: Engine, why: str, at: float) -> None:
    e.burst = e.lit_at = e.deadline = e.starter = e.warn_at = None
    if why == "deadline":
        e.by_itself_until = at + TOO_SOON_S


def give(e: Engine, event: Dark, at: float) -> bool:
    """Write down what the burst gave; False when it was called off before the light."""
    _, step, _ = e.hands()
    lit, seconds = e.lit_at, e.seconds
    burst_over(e, event.why, at)
    if lit is None:
        e.write("called off", at, step.n, event.burst, why=event.why)
        return False
    given = step.response.dose(max(0.0, at - lit))
    if event.why == "deadline" and abs(at - lit - seconds) < 1e-9:
        given = step.response.dose(seconds)  # the sum of two times must not cost the dose its last digits
    e.write("dark", at, step.n, event.burst, lit=lit, dark=at, why=event.why, given=given)
    if event.why == "line not low":
        e.unverified = (step.n, event.burst, lit, given)
    return True


def dark(e: Engine, event: Dark, at: float) -> None:
    _, step, progress = e.hands()
    was_lit = give(e, event, at)
    if event.why not in _PAUSING:
        fail_with(e, event.why, at)
        return
    if event.why not in ("deadline", "pedal"):
        e.reason = event.why
    if not was_lit:
        if progress.given > 0:
            e.enter(table.PAUSED, at)
        else:
            ready(e, step, at)
    elif step.dose is not None and progress.owed == 0:
        e.write("ended", at, step.n, by="dose")
        if begin_step(e, at, by_itself=step.then_next and event.why == "deadline"):
            lead_in(e, None, at)
    elif any(abs(progress.given - part) <= progress.owed_slack for part in step.parts):
        ready(e, step, at)
    else:
        e.enter(table.PAUSED, at)


def fail(e: Engine, event: Fault, at: float) -> None:
    fail_with(e, event.why, at)


def fail_with(e: Engine, why: str, at: float) -> None:
    e.reason = why
    e.write("fault", at, e.sheet.at_hand if e.sheet is not None else 0, why=why)
    e.enter(table.FAULT, at)


def dark_in_fault(e: Engine, event: Dark, at: float) -> None:
    if e.sheet is None:
        burst_over(e, event.why, at)
    else:
        give(e, event, at)


def line_low(e: Engine, event: Low, at: float) -> None:
    """The light that was not verified dark is dark now: it may have burned all the while."""
    if e.unverified is not None and e.sheet is not None:
        n, burst, lit, given = e.unverified
        step = e.plans[e.sheet.sheet].steps[n - 1]
        e.write("line low", at, n, burst, more=max(0.0, step.response.dose(at - lit) - given))
    e.unverified = None


def ask_clear(e: Engine, contact: None, at: float) -> None:
    e.clear_asked = True
    e.out.append(Cut())


def clear(e: Engine, event: Rest, at: float) -> None:
    if not e.clear_asked:
        return  # the answer to an older cut
    e.clear_asked = False
    if not event.low:
        e.say("fault", at)
        return
    e.unverified = None
    e.write("cleared", at)
    e.reason = None
    e.to_idle(at)
