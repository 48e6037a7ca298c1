"""Lamps that stay on behind a shutter: asked for when a print is loaded, and waited for until they are warm."""

from __future__ import annotations

import math
from collections.abc import Iterable

from timerd.sheet.engine.events import LampTurned
from timerd.sheet.engine.feet import Contact
from timerd.sheet.engine.standing import Standing
from timerd.sheet.facts import LampStaysOn
from timerd.sheet.plan.value import Plan
from timerd.sheet.refusal import LampWarmsUp
from timerd.wire.keeper import stay_on


def lamps_of(*plans: Plan) -> list[str | None]:
    """The lamps that the steps of these plans are lit by."""
    return [step.lamp for plan in plans for step in plan.steps]


def keep_on(s: Standing, names: Iterable[str | None]) -> list[str]:
    """Have those of these lamps on that stay on, beside those that are; their names."""
    lamps = s.bench.lamps
    wanted = sorted({name for name in names if name is not None and name in lamps and lamps[name].stay_pin is not None})
    if not s.lamps_on.keys() >= set(wanted):
        s.out.append(stay_on(*sorted({*s.lamps_on, *wanted})))
    return wanted


def still_cold(s: Standing, names: Iterable[str | None], contact: Contact | None) -> bool:
    """Whether one of these lamps is not warm yet: nothing starts then. That it is warm is told when it is."""
    if not s.stays:
        return False
    wanted = keep_on(s, names)
    warm_at = max((s.lamps_on.get(name, s.now) + s.bench.lamps[name].warm_up_s for name in wanted), default=s.now)
    if warm_at <= s.now:
        return False
    s.refuse(LampWarmsUp(math.ceil(warm_at - s.now - 1e-6)), contact)
    return True


def turned(s: Standing, event: LampTurned) -> None:
    """The keeper has turned a lamp on or off."""
    if event.on:
        s.lamps_on[event.lamp] = event.at
        if (warm_up_s := s.bench.lamps[event.lamp].warm_up_s) > 0:
            s.warm_told_at = max(event.at + warm_up_s, s.warm_told_at or 0.0)
    else:
        s.lamps_on.pop(event.lamp, None)
        s.warm_told_at = None
    s.write(LampStaysOn(event.lamp, event.on), event.at)
