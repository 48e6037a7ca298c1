"""What the engine hears in a dead keeper's place: from the keeper's note, and from what the last off found. Pure."""

from __future__ import annotations

from timerd.bench.keeper import LINE_NOT_LOW
from timerd.bench.note import Noted
from timerd.sheet.engine import events as ev
from timerd.sheet.engine.standing import Standing
from timerd.wire.keeper import STAY

KEEPER_GONE = "keeper gone"
"""Why everything is dark when the keeper has died: told in its place, since it cannot."""


def instead_of_the_keeper(standing: Standing, noted: Noted | None, dark: float, high: bool) -> list[ev.Event]:
    """How a dead keeper's last burst ended, and that no foot is seen down, nor any pedal known to be unplugged.

    `noted` is the keeper's note, completed by the last off; `dark` when all was dark, `high` whether a line is not.
    """
    heard: list[ev.Event] = []
    if noted is not None and noted.burst != standing.burst:
        noted = None
    if noted is not None and noted.lit is not None and standing.lit_at is None:
        heard.append(ev.Lit(noted.burst, noted.lit))
    heard += [ev.Fault(KEEPER_GONE, dark), ev.SafelightEdge(True, dark)]
    heard += [ev.LampTurned(f"{STAY}{lamp}", False, dark) for lamp in standing.lamps_on]
    if standing.burst is not None:
        at, lo = (noted.dark or dark, noted.dark_lo) if noted is not None else (dark, standing.lit_at)
        heard.append(ev.Dark(standing.burst, at, LINE_NOT_LOW if high else KEEPER_GONE, lo))
    heard += [ev.Edge(name, False, dark, 0) for name, contact in standing.feet.contacts.items() if contact.down]
    heard += [ev.PluggedIn(name, dark) for name in standing.unplugged]
    return heard
