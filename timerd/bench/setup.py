"""What the keeper is told of a bench, once: its lines, its limits and its pedals."""

from __future__ import annotations

from timerd.bench.keeper import Setup
from timerd.sheet.engine.feet import TRAYS, contacts
from timerd.sheet.profile.benchfile import Bench


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
