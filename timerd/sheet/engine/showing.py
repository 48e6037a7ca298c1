"""Moves that show a light to look by: the viewing light with no sheet out, the paper-safe one with one in hand.

No dose comes of either. Both go off at any press, and by themselves after the bench's `view_s`.
"""

from __future__ import annotations

from timerd.sheet import facts as fa
from timerd.sheet import refusal as no
from timerd.sheet.engine import rows
from timerd.sheet.engine.events import Dark, Lit, Refused
from timerd.sheet.engine.feet import Contact
from timerd.sheet.engine.lamps import keep_on
from timerd.sheet.engine.lights import HELD_LEAD_IN_S, LATE_S, PAUSING, burst_over, expose, fail_with
from timerd.sheet.engine.sheets import go_on
from timerd.sheet.engine.standing import Standing
from timerd.sheet.reason import WentDark, fault_of
from timerd.wire.keeper import SafelightDark

_TO_SHOW = {rows.IDLE: rows.IDLE_TO_SHOW, rows.READY: rows.READY_TO_SHOW, rows.PAUSED: rows.PAUSED_TO_SHOW}
_SHOWN = {rows.READY: rows.READY_SHOWN, rows.PAUSED: rows.PAUSED_SHOWN}


def view(s: Standing, contact: Contact, at: float) -> None:
    if s.other_is_down(contact):
        return
    if s.bench.viewing is None:
        s.refuse(no.NoSuchLight("viewing", None), contact)
    elif (spoils := s.white_light_spoils) is not None:
        s.refuse(spoils, contact)
    elif s.now - at > LATE_S:
        s.refuse(no.Late(), contact)
    else:
        _ask_to_see(s, s.bench.viewing, at)
        s.enter(rows.VIEWING, at)


def _ask_to_see(s: Standing, light: str, at: float) -> None:
    s.shown = light
    keep_on(s, [s.bench.lights[light].lamp])
    stays = SafelightDark(at, ("pedal", "deadline"))  # a safelight that is dark in a pause is so after it too
    expose(s, light, at + HELD_LEAD_IN_S, s.bench.view_s, None, None if s.safelight_lit else stays, view=True)


def view_lit(s: Standing, event: Lit, at: float) -> None:
    s.lit_at, s.deadline = at, at + s.seconds
    s.write(fa.LightShown(True, s.shown), at, burst=event.burst)


def view_goes_off(s: Standing, contact: Contact, at: float) -> None:
    s.starter = contact


def view_dark(s: Standing, event: Dark, at: float) -> None:
    went_off = s.starter
    if not _seen(s, event, at):
        return
    s.enter(s.idle_row(), at)
    if went_off is not None and went_off.pedal == "go" and went_off.down:
        went_off.visit = s.visit  # the same press may still arm: the viewing light has gone off first


def _seen(s: Standing, event: Dark, at: float) -> bool:
    """A light that was shown is dark: written down if it was lit; whether all is well."""
    light, was_lit = s.shown, s.lit_at is not None
    burst_over(s, event.why, at)
    if was_lit:
        s.write(fa.LightShown(False, light), at, burst=event.burst)
    if event.why not in PAUSING:
        fail_with(s, fault_of({"why": event.why}), at)
        return False
    return True


def view_refused(s: Standing, event: Refused, at: float) -> None:
    burst_over(s, "refused", at)
    s.write(fa.BurstCalledOff("refused"), at, burst=event.burst)
    s.refuse(no.KeeperRefuses(event.why, event.what))
    s.enter(s.idle_row(), at)


# -- shown by the next press, with a sheet in hand or none ------------------------------------------------------------


def to_show(s: Standing, contact: Contact | None, at: float) -> None:
    """The next press of `go` shows the light instead of starting anything; a third pedal shows it at once, if nothing
    has to be swung in first."""
    light = _light(s)
    if light is None:
        where = s.step.station if s.sheet is not None and s.step is not None else None
        s.refuse(no.NoSuchLight("viewing" if s.sheet is None else "paper-safe", where), contact)
        return
    s.back_to = s.row
    if contact is not None and not _by_hand(s, light):
        show(s, contact, at)
    else:
        if _by_hand(s, light):  # from now on it may be under the lens, whatever comes
            _, step, _ = s.hands()
            s.write(fa.ToBeShown(light, swung=True), at, step.n)
        s.say("to show", at)
        s.enter(_TO_SHOW[s.state], at)


def _light(s: Standing) -> str | None:
    """The viewing light, or with a sheet in hand the paper-safe one at the station where that is."""
    if s.sheet is None:
        return s.bench.viewing
    _, step, _ = s.hands()
    return s.bench.paper_safe_at(step.station)


def _by_hand(s: Standing, light: str) -> bool:
    """Whether this light is made by a filter that the printer swings in under the lens."""
    return s.sheet is not None and s.bench.lights[light].filter == "by hand"


def not_shown(s: Standing, contact: Contact | None, at: float) -> None:
    _back(s, at)


def _back(s: Standing, at: float) -> None:
    """To where the bench stood before; a filter that was swung in is asked for out again first."""
    assert s.back_to is not None
    if s.sheet is None:
        s.enter(s.idle_row(), at)
    elif s.sheet.swung is not None:
        go_on(s, at)
    else:
        s.enter(s.back_to, at)


def say_to_show(s: Standing, contact: None, at: float) -> None:
    s.say("to show", at)


def show(s: Standing, contact: Contact, at: float) -> None:
    """Show it, up to the bench's `view_s`; any press puts it off."""
    light = _light(s)
    assert light is not None
    if s.sheet is None:
        waited = s.row
        view(s, contact, at)
        if s.row == waited == rows.IDLE_TO_SHOW:
            _back(s, at)
        return
    _, step, _ = s.hands()
    if contact.pedal == "go" and contact.station not in (None, step.station):
        s.refuse(no.OtherStation(contact.station, step.station), contact)
    elif s.now - at > LATE_S:
        s.refuse(no.Late(), contact)
    elif not s.other_is_down(contact):
        _ask_to_see(s, light, at)
        s.write(fa.ToBeShown(light), at, step.n, s.burst or 0)
        s.enter(_SHOWN[s.state], at)


def shown_dark(s: Standing, event: Dark, at: float) -> None:
    if not _seen(s, event, at):
        return
    if event.why not in ("deadline", "pedal", "unplugged"):
        s.reason = WentDark(event.why)
    _back(s, at)


def show_refused(s: Standing, event: Refused, at: float) -> None:
    burst_over(s, "refused", at)
    s.write(fa.BurstCalledOff("refused"), at, burst=event.burst)
    s.refuse(no.KeeperRefuses(event.why, event.what))
    _back(s, at)
