"""What the keeper is told: of a bench, once, its rules (lights, limits, pedals) and its wiring."""

from __future__ import annotations

from typing import Any

from timerd.bench.cueing import CUE
from timerd.bench.keeper import SAFELIGHT
from timerd.bench.sensing import SENSE
from timerd.sheet.engine.feet import TRAYS, contacts
from timerd.sheet.profile.benchfile import Bench, Pedal
from timerd.sheet.profile.keys import KEYS
from timerd.wire.keeper import STAY, KeepBench, Setup

HEARTBEAT = "heartbeat"


def setup(bench: Bench) -> Setup:
    """The keeper's setup for a bench. A lamp's line is called `lamp` and its name, so that no lamp can pass as the
    safelight; the line of a lamp that stays on behind its shutter, `stay` and its name."""
    feet = contacts(bench)
    views = {name for name, light in bench.lights.items() if light.paper_safe}
    if bench.viewing is not None:
        views.add(bench.viewing)
    return Setup(
        lights={name: f"lamp {light.lamp}" for name, light in bench.lights.items()},
        longest_s={f"lamp {name}": lamp.longest_s for name, lamp in bench.lamps.items()},
        pedals=tuple(contact.name for contact in feet),
        darkens=frozenset(contact.name for contact in feet if contact.station != TRAYS),
        views=frozenset(views),
        view_s=bench.view_s,
        safelight=bench.safelight.switchable,
        stay={f"lamp {name}": f"{STAY}{name}" for name, lamp in bench.lamps.items() if lamp.stay_pin is not None},
        cues=bench.cue_line is not None,
        senses={
            f"lamp {name}": f"{SENSE}{lamp.sense.pin}" for name, lamp in bench.lamps.items() if lamp.sense is not None
        },
    )


def wiring(bench: Bench) -> dict[str, Any]:
    """Which pin each line is on, and each pedal's contact or sense input: `outputs` and `contacts`, as JSON. A sense
    input is wired as a contact that light closes."""
    outputs: dict[str, Any] = {
        f"lamp {name}": {"pin": lamp.pin, "active": lamp.active} for name, lamp in bench.lamps.items()
    }
    if bench.safelight.switchable:
        outputs[SAFELIGHT] = {"pin": bench.safelight.pin, "active": bench.safelight.active}
    for name, lamp in bench.lamps.items():
        if lamp.stay_pin is not None:
            outputs[f"{STAY}{name}"] = {"pin": lamp.stay_pin, "active": lamp.active}
    if bench.heartbeat is not None:
        outputs[HEARTBEAT] = {"pin": bench.heartbeat.pin, "active": "high"}
    if bench.cue_line is not None:
        outputs[CUE] = {"pin": bench.cue_line.pin, "active": "high"}
    found = [contact for _, group in bench.pedals.named() for contact in group]
    feet = contacts(bench)
    senses = [lamp.sense for lamp in bench.lamps.values() if lamp.sense is not None]
    return {
        "outputs": outputs,
        "contacts": {
            **{foot.name: _wired(contact) for foot, contact in zip(feet, found, strict=True)},
            **{f"{SENSE}{sense.pin}": {"pin": sense.pin, "pull": sense.pull} for sense in senses},
        },
    }


def _wired(contact: Pedal) -> dict[str, Any]:
    if contact.usb is not None and contact.key is not None:
        return {"usb": contact.usb, "key": KEYS[contact.key]}
    return {"pin": contact.pin, "pull": contact.pull}


def to_keep(bench: Bench, simulated: bool, book: str, boot: str) -> KeepBench:
    """What a keeper of this bench is told when it starts, for a book, in a boot of the machine."""
    return KeepBench(setup(bench), wiring(bench), simulated, book, boot)
