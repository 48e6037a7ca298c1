"""What the keeper is told of a bench, once: its rules (lights, limits, pedals) and its wiring."""

from __future__ import annotations

from typing import Any

from timerd.bench.keeper import SAFELIGHT, Setup
from timerd.sheet.engine.feet import TRAYS, contacts
from timerd.sheet.profile.benchfile import Bench

HEARTBEAT = "heartbeat"


def setup(bench: Bench) -> Setup:
    """The keeper's setup for a bench. A lamp's line is called `lamp` and its name, so that no lamp can pass as the
    safelight."""
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
    )


def wiring(bench: Bench) -> dict[str, Any]:
    """Which pin each line is on, and each pedal's contact: `outputs` and `contacts`, as JSON."""
    outputs: dict[str, Any] = {
        f"lamp {name}": {"pin": lamp.pin, "active": lamp.active} for name, lamp in bench.lamps.items()
    }
    if bench.safelight.switchable:
        outputs[SAFELIGHT] = {"pin": bench.safelight.pin, "active": bench.safelight.active}
    if bench.heartbeat is not None:
        outputs[HEARTBEAT] = {"pin": bench.heartbeat.pin, "active": "high"}
    pins = [pin for _, group in bench.pedals.named() for pin in group]
    return {
        "outputs": outputs,
        "contacts": {
            contact.name: {"pin": pin.pin, "pull": pin.pull}
            for contact, pin in zip(contacts(bench), pins, strict=True)
        },
    }  # fmt: skip


def told(bench: Bench, simulated: bool, book: str, boot: str) -> dict[str, Any]:
    """All that a keeper is told when it starts, as JSON. `book` and `boot` go into its note, so that a later reader
    knows whose bursts it speaks of, and whether its times are of the present boot."""
    rules = setup(bench)
    return {
        "rules": {
            "lights": dict(rules.lights), "longest_s": dict(rules.longest_s), "pedals": list(rules.pedals),
            "darkens": sorted(rules.darkens), "views": sorted(rules.views), "view_s": rules.view_s,
            "safelight": rules.safelight,
        },
        "wiring": wiring(bench), "simulated": simulated, "book": book, "boot": boot,
    }  # fmt: skip
