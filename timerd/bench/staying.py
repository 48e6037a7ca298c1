"""Lamps that stay on behind a shutter: which are on, and when they go off by themselves. Pure: the time is handed in.

A lamp behind a closed shutter is no light, but it is hot: it stays on no longer than somebody is at the bench.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

STAY_S = 1800.0
"""A lamp goes off by itself when no pedal has moved and no light has burned for so long."""


class Staying:
    """The stay lines of a bench. `of` gives each shutter's line the line of its lamp."""

    def __init__(self, of: Mapping[str, str]) -> None:
        self._of = dict(of)
        self._on: set[str] = set()
        self._until = 0.0

    @property
    def on(self) -> frozenset[str]:
        """The lines that are on."""
        return frozenset(self._on)

    @property
    def lines(self) -> frozenset[str]:
        """All of them."""
        return frozenset(self._of.values())

    @property
    def off_at(self) -> float | None:
        """When those that are on go off, if nothing happens before."""
        return self._until if self._on else None

    def dark_behind(self, shutter: str) -> bool:
        """Whether the lamp behind a shutter is off; never so where no shutter is."""
        return shutter in self._of and self._of[shutter] not in self._on

    def used(self, now: float) -> None:
        """Somebody is at the bench, or a light burns."""
        self._until = now + STAY_S

    def turn(self, on: Iterable[str], now: float) -> list[tuple[str, bool]]:
        """Have exactly these on; what changes, and to what."""
        wanted = set(on)
        self.used(now)
        changes = [(line, line in wanted) for line in sorted(self.lines) if (line in wanted) != (line in self._on)]
        self._on = wanted
        return changes
