"""The keeper's rules on lines that are only remembered, in virtual time, with a daemon that renews."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from timerd.bench.keeper import SAFELIGHT, Keeper
from timerd.bench.limits import Setup
from timerd.bench.settling import settle
from timerd.wire.keeper import FROM_KEEPER, Report


class Remembered:
    """A keeper and its lines. `reports` are as they are sent, `edges` what the lines did, to the microsecond."""

    def __init__(self, setup: Setup, now: float = 10.0, found_down: Iterable[str] = ()) -> None:
        self.now = now
        self.lit = {**dict.fromkeys((*setup.longest_s, *setup.stay.values()), False), SAFELIGHT: True}
        self.stuck: set[str] = set()
        self.edges: list[tuple[float, str, bool]] = []
        self.reports: list[dict[str, Any]] = []
        self.renewing = True
        self.burst = 0
        self.keeper = Keeper(setup, now, found_down)
        self.settle()

    def settle(self) -> None:
        settle(self.keeper, self.write, lambda: self.lit, lambda: self.now, self._report)

    def write(self, line: str, lit: bool) -> None:
        if self.lit[line] != lit and (lit or line not in self.stuck):
            self.lit[line] = lit
            self.edges.append((round(self.now, 6), line, lit))

    def _report(self, report: Report) -> None:
        self.reports.append(json.loads(FROM_KEEPER.encode(report)))

    def until(self, when: float) -> None:
        while True:
            due = self.keeper.next_wake
            renew = self.now + 0.1 if self.renewing and self.keeper.leased else when + 1
            if (following := min(when + 1 if due is None else due, renew)) > when:
                break
            self.now = max(self.now, following)
            if self.renewing and self.keeper.leased:
                self.keeper.receive(b'{"do":"renew"}', self.now)
            self.keeper.wake(self.now, self.now)
            self.settle()
        self.now = when
        self.keeper.wake(when, when)
        self.settle()

    def send(self, message: Mapping[str, Any] | bytes) -> None:
        self.keeper.receive(message if isinstance(message, bytes) else json.dumps(message).encode(), self.now)
        self.settle()

    def expose(self, **changes: Any) -> None:
        """Ask for a light of 4 s in a second, unless `changes` say otherwise."""
        self.burst += 1
        self.send({
            "do": "expose", "burst": self.burst, "light": "green", "at": self.now + 1.0, "seconds": 4.0,
            "cut_on": ["go", "end"], "while_down": None, "safelight": None, "seen": 100, "view": False, **changes,
        })  # fmt: skip

    def pedal(self, name: str, down: bool) -> None:
        self.keeper.edge(name, down, self.now, self.now)
        self.settle()

    def said(self, what: str) -> list[dict[str, Any]]:
        return [report for report in self.reports if report["is"] == what]
