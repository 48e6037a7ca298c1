"""Moves that ask for a sheet's light or take in what the keeper says of it: lead-in, lit, dark, fault."""

from __future__ import annotations

from timerd.sheet import facts as fa
from timerd.sheet import refusal as no
from timerd.sheet.beats import Burst
from timerd.sheet.engine import rows
from timerd.sheet.engine.events import BenchFails, Clear, ClearLines, Cut, Dark, Expose, Fault, Lit, Low, Refused, Rest
from timerd.sheet.engine.feet import TAP_S, TOO_SOON_S, Contact
from timerd.sheet.engine.lamps import still_cold
from timerd.sheet.engine.sheets import begin_step, ready
from timerd.sheet.engine.standing import Standing
from timerd.sheet.plan.value import Step
from timerd.sheet.progress import StepProgress
from timerd.sheet.pulses import pulses
from timerd.sheet.reason import BenchFault, WentDark, fault_of
from timerd.wire.keeper import Pulses, SafelightDark

LATE_S = 0.25
"""A start that reaches the engine later than this after its edge is refused."""
HELD_LEAD_IN_S = 0.2
"""From foot to light where a light is held, and the shortest lead-in there is."""
FREE_WARNED_S = 10.0
"""A free burn is warned of its limit so long before."""

PAUSING = frozenset({"deadline", "pedal", "unplugged", "lease", "asked", "refused", "disk"})
"""Reasons for going dark that leave the sheet in hand; any other is a fault."""


def start(s: Standing, contact: Contact, at: float) -> None:
    _, step, _ = s.hands()
    if contact.station not in (None, step.station):
        s.refuse(no.OtherStation(contact.station, step.station), contact)
    elif s.now - at > LATE_S:
        s.refuse(no.Late(), contact)
    elif s.sheet is not None and not s.sheet.out:
        s.refuse(no.NoSheetOut(), contact)
    elif s.sheet is not None and s.sheet.swung is not None:
        s.refuse(no.FilterUnderLens(s.sheet.swung), contact)
    elif not s.other_is_down(contact) and not still_cold(s, [step.lamp], contact):
        lead_in(s, contact, at)


def lead_in(s: Standing, contact: Contact | None, at: float) -> None:
    _, step, progress = s.hands()
    held = step.pedal != "press"
    again = s.row == rows.PAUSED and held and not step.lead_in_again
    lead_in = HELD_LEAD_IN_S if again else step.lead_in
    assert step.light is not None and lead_in is not None
    last = True
    if step.dose is None:
        seconds = step.longest_s
    else:
        part = next((part for part in step.parts if progress.owed_until(part) > 0), step.parts[-1])
        last = part == step.parts[-1]
        seconds = step.response.seconds(progress.owed_until(part))
    stays = stays_dark(s, step, last)
    safelight = s.bench.safelight
    dark_from = {"lead-in": at, "light": at + lead_in, "never": None}[safelight.dark_from]
    expose(s,
        step.light, at + lead_in, seconds, contact if held else None,
        SafelightDark(dark_from, stays) if dark_from is not None and safelight.switchable else None,
        told=(step, progress, at),
    )  # fmt: skip
    s.starter = contact
    s.reason = None
    s.enter(rows.LEAD_IN_HELD if held else rows.LEAD_IN, at)


def stays_dark(s: Standing, step: Step, last: bool) -> tuple[str, ...]:
    """After which ends of a burst the safelight is not put on: the lifts of a held step, and as the file says."""
    if step.pedal == "free":
        return "pedal", "deadline"
    stays = ("pedal",) if step.pedal == "hold" or not s.bench.safelight.on_when_paused else ()
    return (*stays, "deadline") if last and step.then_next and s.bench.safelight.dark_from == "lead-in" else stays


def expose(s: Standing, light: str, at: float, seconds: float, holder: Contact | None,
    safelight: SafelightDark | None, view: bool = False, told: tuple[Step, StepProgress, float] | None = None,
) -> None:  # fmt: skip
    s.last_burst += 1
    s.burst, s.lit_at, s.deadline, s.seconds = s.last_burst, None, None, seconds
    s.out.append(Expose(
        s.burst, light, at, seconds, tuple(s.feet.contacts), holder.name if holder is not None else None, safelight,
        s.seen, view, felt(s, told, at, seconds) if s.bench.cue_line is not None else (),
    ))  # fmt: skip


def felt(s: Standing, told: tuple[Step, StepProgress, float] | None, at: float, seconds: float) -> tuple[Pulses, ...]:
    """The cue line's pulses of a burst that is to be lit at a time: of a step with its progress, and from when its
    lead-in counts; of a light to look at otherwise."""
    every = s.bench.sound.beat
    if told is None:
        return pulses(Burst(0, at, at, at + seconds), None, 0.0, 0.0, every)
    step, progress, since = told
    on_s = sum(off - on for on, off in progress.bursts)
    return pulses(Burst(0, since, at, at + seconds), step, on_s, progress.given, every)


def keeper_cuts(s: Standing, contact: Contact, at: float) -> None:
    """Nothing to ask for: the keeper has cut at the edge itself, and `dark` is on its way."""
    contact.deaf = contact.down


def no_press_after_all(s: Standing, contact: Contact, at: float) -> None:
    if at - contact.at < TAP_S:
        s.tapped = True
        s.out.append(Cut())


def cut(s: Standing, contact: None, at: float) -> None:
    s.out.append(Cut())


def lit(s: Standing, event: Lit, at: float) -> None:
    sheet, step, _ = s.hands()
    s.lit_at, s.deadline = at, at + s.seconds
    if step.dose is None:
        s.warn_at = max(at, s.deadline - FREE_WARNED_S)
    most = step.response.dose(s.seconds)
    since_flash_s = s.progress.since(sheet.flashed_at, at) if step.kind != "flash" else None
    s.write(fa.BurstLit(step.light or "", at, s.seconds, most, since_flash_s), at, step.n, event.burst)
    s.enter(rows.EXPOSING if step.pedal == "press" else rows.EXPOSING_HELD, at)


def burst_refused(s: Standing, event: Refused, at: float) -> None:
    dark(s, Dark(event.burst, at, "refused"), at)
    s.refuse(event.why)


def burst_over(s: Standing, why: str, at: float) -> None:
    if s.lit_at is not None and why != "pedal":
        s.by_itself_until = at + TOO_SOON_S
    s.burst = s.lit_at = s.deadline = s.starter = s.warn_at = s.shown = None
    s.tapped = False


def give(s: Standing, event: Dark, at: float) -> bool:
    """Write down what the burst gave; False when it was called off before the light."""
    _, step, _ = s.hands()
    lit, seconds, tapped = s.lit_at, s.seconds, s.tapped
    burst_over(s, event.why, at)
    if lit is None:
        s.write(fa.BurstCalledOff("tap" if tapped and event.why == "asked" else event.why), at, step.n, event.burst)
        return False
    given = step.response.dose(max(0.0, at - lit))
    if event.why == "deadline" and abs(at - lit - seconds) < 1e-9:
        given = step.response.dose(seconds)  # the sum of two times must not cost the dose its last digits
    given_lo = None if event.lo is None else step.response.dose(max(0.0, event.lo - lit))
    s.write(fa.BurstDark(lit, at, event.why, given, given_lo), at, step.n, event.burst)
    if event.why == "line not low":
        s.unverified = (step.n, event.burst, lit, given)
    return True


def dark(s: Standing, event: Dark, at: float) -> None:
    _, step, progress = s.hands()
    tapped = s.tapped
    was_lit = give(s, event, at)
    if event.why not in PAUSING:
        fail_with(s, fault_of({"why": event.why}), at)
        return
    if event.why not in ("deadline", "pedal", "unplugged"):  # which pedal it was has been told
        s.reason = WentDark("tap" if tapped else event.why)
    if not was_lit:
        if progress.given > 0:
            s.enter(rows.PAUSED, at)
        else:
            ready(s, step, at)
    elif step.dose is not None and progress.owed == 0:
        s.write(fa.StepEnded("dose"), at, step.n)
        as_planned = s.sheet is not None and s.sheet.at_hand == step.n + 1
        if begin_step(s, at, by_itself=step.then_next and as_planned and event.why == "deadline"):
            lead_in(s, None, at)
    elif any(abs(progress.given - part) <= progress.owed_slack for part in step.parts):
        ready(s, step, at)
    else:
        s.enter(rows.PAUSED, at)


def fail(s: Standing, event: Fault | BenchFails, at: float) -> None:
    fail_with(s, _fault(event), at)


def _fault(event: Fault | BenchFails) -> BenchFault | str:
    return event.fault if isinstance(event, BenchFails) else fault_of({"why": event.why})


def fail_again(s: Standing, event: Fault | BenchFails, at: float) -> None:
    """Another fault in a fault: the newest is told, and what was asked to be cleared was not this one."""
    s.clear_asked = False
    if (fault := _fault(event)) != s.reason:
        s.reason = fault
        s.write(fa.FaultCame(fault), at, s.sheet.at_hand if s.sheet is not None else 0)


def fail_with(s: Standing, why: BenchFault | str, at: float) -> None:
    s.reason = why
    s.clear_asked = False
    s.write(fa.FaultCame(why), at, s.sheet.at_hand if s.sheet is not None else 0)
    s.enter(rows.FAULT, at)


def dark_in_fault(s: Standing, event: Dark | Refused, at: float) -> None:
    """The burst that the fault ended, told after it."""
    if s.shown is None and s.sheet is not None:
        give(s, event if isinstance(event, Dark) else Dark(event.burst, at, event.why), at)
        return
    shown, was_lit = s.shown, s.lit_at is not None
    burst_over(s, event.why, at)
    if was_lit:
        s.write(fa.LightShown(False, shown), at, burst=event.burst)


def line_low(s: Standing, event: Low, at: float) -> None:
    """The light that was not verified dark is dark now: it may have burned all the while."""
    if s.unverified is not None and s.sheet is not None:
        n, burst, lit, given = s.unverified
        step = s.plans[s.sheet.sheet].steps[n - 1]
        s.write(fa.LineLow(max(0.0, step.response.dose(at - lit) - given)), at, n, burst)
    s.unverified = None


def ask_clear(s: Standing, asked: Clear | None, at: float) -> None:
    s.clear_asked = True
    s.out.append(ClearLines())


def clear(s: Standing, event: Rest, at: float) -> None:
    if not s.clear_asked:
        return  # the answer to an older cut
    s.clear_asked = False
    if not event.low:
        s.say("fault", at)
        return
    s.unverified = None
    burst_over(s, "pedal", at)
    s.write(fa.FaultCleared(), at)
    s.reason = None
    s.to_idle(at)
