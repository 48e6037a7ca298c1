"""Hostile and random talk to a real keeper's process; every light that comes on is held to what was properly asked for.

Who checks knows nothing of the keeper's code: `proper` says which datagrams ask for a light as the design has it, and
the truth of the lines, written outside the keeper, says which lights there were.
"""

from __future__ import annotations

import json
import random
import select
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from lines.keeper import RealKeeper, TruthEdge, bench, read_truth

from walks.keeper_walk import KeeperWalk

KEYS = {"do", "burst", "light", "at", "seconds", "cut_on", "while_down", "safelight", "seen", "view"}
WRONG: list[tuple[str, Any]] = [
    ("cut_on", []), ("cut_on", ["go"]), ("cut_on", ["end", "tray"]), ("seconds", 0), ("seconds", -1.0), ("burst", 1),
    ("seconds", 300.001), ("seconds", 1e9), ("at", 1.0), ("at", 1e12), ("light", "red"), ("light", "lamp flasher"),
    ("while_down", "tray"), ("while_down", "end"), ("seen", 0), ("burst", 0), ("do", "cut"), ("more", 1),
]  # fmt: skip
"""What makes a good message one that must light nothing, or only if a foot or a number allows it."""
LATE_S = 2.0
"""How late a busy machine may make an edge; how late it is alone is measured elsewhere."""


def proper(datagram: bytes) -> dict[str, Any] | None:
    """The burst that a datagram properly asks for, or None: whole, each key once, of the right type, no longer than the
    lamp may burn, cut by both pedals."""
    try:
        pairs: list[tuple[str, Any]] = json.loads(datagram.decode(), object_pairs_hook=list)
        asked = json.loads(datagram.decode())
    except (ValueError, RecursionError):
        return None
    if not isinstance(asked, dict) or asked.keys() != KEYS or len(pairs) != len(KEYS) or asked["do"] != "expose":
        return None
    numbers = [asked[key] for key in ("burst", "at", "seconds", "seen")]
    if any(isinstance(n, bool) or not isinstance(n, (int, float)) or n != n or abs(n) > 1e15 for n in numbers):
        return None
    if (
        not isinstance(asked["light"], str)
        or asked["light"] not in bench().lights
        or not isinstance(asked["view"], bool)
    ):
        return None
    cuts = asked["cut_on"]
    if not isinstance(cuts, list) or not {"go", "end"} <= {str(name) for name in cuts} or len(datagram) > 4096:
        return None
    if asked["view"] and asked["light"] != bench().viewing:
        return None
    longest = 600.0 if asked["view"] else 300.0
    return asked if 0 < asked["seconds"] <= longest else None


class KeeperTalk:
    """A daemon that talks nonsense a good deal of the time, with feet that move, on a seeded dice."""

    def __init__(self, run: Path, seed: int, hostility: float = 0.15) -> None:
        self.random = random.Random(seed)
        self.keeper = RealKeeper(run)
        self.keeper.pipe.setblocking(True)
        self.asked: dict[int, list[dict[str, Any]]] = {}
        self.lit: list[int] = []
        self.messages = 0
        self.hostility = hostility
        self._walk = KeeperWalk(seed)
        self._faulty = self._burning = self._clearing = False
        self._down: set[str] = set()
        self._lamps = {name: f"lamp {light.lamp}" for name, light in bench().lights.items()}

    def send(self, datagram: bytes) -> None:
        self.messages += 1
        if (asked := proper(datagram)) is not None:
            self.asked.setdefault(asked["burst"], []).append(asked)
        self.keeper.send(datagram)
        self.hear(0.0)

    def hear(self, seconds: float) -> bool:
        """Take in what has been said, waiting so long for something to be; whether anything was."""
        while select.select([self.keeper.pipe], [], [], seconds)[0]:
            known = len(self.keeper.reports)
            assert self.keeper.hear(), f"the keeper has ended after {self.messages} messages"
            for said in self.keeper.reports[known:]:  # none where it only answered that it is here
                self._take_in(said)
                seconds = 0.0
        anything = bool(self.keeper.reports)
        del self.keeper.reports[:]
        self.keeper._read = 0
        return anything

    def _take_in(self, said: Mapping[str, Any]) -> None:
        if said["is"] == "lit":
            self.lit.append(said["burst"])
        self._burning = said["is"] == "lit" or (self._burning and said["is"] not in ("dark", "refused"))
        cleared = said["is"] == "rest" and self._clearing
        self._faulty = said["is"] == "fault" or (self._faulty and not cleared)

    def expose(self) -> dict[str, Any]:
        pick, now = self.random, time.monotonic()
        return self.keeper.message(
            light=pick.choice(("green", "blue", "flash")), at=now + pick.uniform(0.004, 0.02),
            seconds=pick.choice((0.001, 0.004, 0.02, 60.0)), view=False,
            safelight=pick.choice((None, {"dark": now, "stays": []}, {"dark": now, "stays": ["pedal"]})),
        )  # fmt: skip

    def hostile(self) -> bytes:
        """What is no message, as the keeper's walk has it; a message with something wrong; one that is spoilt."""
        pick = self.random
        roll = pick.random()
        if roll < 0.2:
            self._walk.burst, self._walk.now = self.keeper.burst, time.monotonic()
            return self._walk.hostile()
        if roll < 0.8:
            key, value = pick.choice(WRONG)
            return json.dumps({**self.expose(), key: value}).encode()
        raw = bytearray(json.dumps(self.expose()).encode())
        for _ in range(pick.choice((1, 1, 2, 20))):
            match pick.randrange(3):
                case 0:
                    raw[pick.randrange(len(raw))] = pick.randrange(256)
                case 1:
                    del raw[pick.randrange(len(raw))]
                case _:
                    raw.insert(pick.randrange(len(raw)), pick.choice(b'{}[]",:0129eE.-+ \\'))
        return bytes(raw)

    def step(self) -> None:
        """One random thing."""
        pick = self.random
        if self._faulty and pick.random() < 0.8:
            self._clearing = True
            self.send(b'{"do":"clear"}')
            self.hear(0.05)
            self._clearing = False
            return
        roll = pick.random()
        if roll < self.hostility:
            self.send(self.hostile() or b" ")
            self.hear(pick.choice((0.0, 0.03)))
        elif roll < 0.3:
            contact = pick.choice(("go", "end"))
            self.keeper.press(contact, contact not in self._down)
            self._down ^= {contact}
            self.hear(pick.choice((0.0, 0.01, 0.06)))
        elif roll < 0.4:
            self.send(b'{"do":"cut"}')
        elif roll < 0.5 or (self._burning and roll < 0.9):
            self.send(b'{"do":"renew"}')
            self.hear(pick.choice((0.0, 0.01)))
        else:
            self._burning = True
            self.send(json.dumps(self.expose()).encode())
            self.hear(pick.choice((0.0, 0.03, 0.03)))

    def finish(self) -> int:
        """Silence, then the end: dark by itself, still sane, ended in order. How many lights there were."""
        run = self.keeper.run
        while self.hear(0.7):
            pass
        edges = read_truth(run)
        lights = self._judged(edges)
        self.keeper.reports.clear()
        self.keeper.send({"do": "cut"})
        assert self.keeper.until("rest")["low"]
        self.keeper.pipe.close()
        assert self.keeper.ended() == 0
        assert read_truth(run) == edges, "nothing came on in the end"
        self.keeper.close()
        return lights

    def _judged(self, edges: list[TruthEdge]) -> int:
        """Each light is that of a burst that was properly asked for, from its time on and no longer than asked; each
        burst is lit once; never two lights; none is left on."""
        lamps = [edge for edge in edges if edge.line != "safelight"]
        assert [edge.lit for edge in lamps] == [True, False] * len(self.lit)
        assert len(set(self.lit)) == len(self.lit), "one burst lit twice"
        for number, on, off in zip(self.lit, lamps[::2], lamps[1::2], strict=True):
            assert on.line == off.line, "two lights"
            assert any(
                self._lamps[asked["light"]] == on.line
                and asked["at"] <= on.at < asked["at"] + LATE_S
                and off.at - on.at < asked["seconds"] + LATE_S
                for asked in self.asked.get(number, [])
            ), f"nobody asked for burst {number}: {on} {off}"
        return len(self.lit)


def memory(pid: int) -> int:
    """The memory that a process holds, in bytes."""
    status = Path(f"/proc/{pid}/status").read_text()
    return 1024 * int(status.split("VmRSS:", 1)[1].split()[0])
