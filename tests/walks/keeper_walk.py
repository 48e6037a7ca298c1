"""Random and hostile messages, pedals and time to the keeper's rules; what must never happen is asserted on the way."""

from __future__ import annotations

import json
import random
from dataclasses import replace

from timerd.bench.cueing import CUE
from timerd.bench.keeper import SAFELIGHT, Keeper
from timerd.bench.limits import CAP_S, Setup
from timerd.bench.settling import settle
from timerd.bench.staying import STAY_S

SETUP = Setup(
    lights={
        "green": "lamp head-green",
        "blue": "lamp head-blue",
        "soft": "lamp head-green",
        "flash": "lamp flasher",
    },
    longest_s={"lamp head-green": 30.0, "lamp head-blue": 5.0, "lamp flasher": 3000.0},
    pedals=("go", "end", "tray"),
    darkens=frozenset({"go", "end"}),
    views=frozenset({"green"}),
    view_s=60.0,
)
FITTED = replace(SETUP, stay={"lamp head-blue": "stay head-blue"}, cues=True)
"""The same bench with its blue lamp on behind a shutter, and a cue line."""


class KeeperWalk:
    """One keeper on remembered lines, driven as its loop would drive it."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        self.now = 100.0
        self.setup = FITTED if seed % 2 else SETUP
        self.unplugged: dict[str, str] = {}
        self.keeper = Keeper(self.setup, self.now)
        others = (*self.setup.stay.values(), CUE)
        self.lit = {**dict.fromkeys((*SETUP.longest_s, *others), False), SAFELIGHT: True}
        self.lit_at = 0.0
        self.limit = 0.0
        self.burst = 0
        self.down = dict.fromkeys(SETUP.pedals, False)
        self.lights = self.messages = 0
        self.hostility = (0.01, 0.05, 0.3)[seed % 3]
        self.settle()

    def write(self, line: str, lit: bool) -> None:
        keeper = self.keeper
        if lit and line in self.setup.stay.values():
            assert keeper.fault is None, "a lamp came on in a fault"
        if lit and line in SETUP.longest_s and not self.lit[line]:
            self.lights += 1
            self.lit_at = self.now
            burst = keeper._burst
            assert burst is not None and burst.line == line, "lit without a burst"
            stay = self.setup.stay.get(line)
            assert stay is None or self.lit[stay], "a shutter opened before a lamp that is off"
            self.limit = min(CAP_S, max(SETUP.longest_s[line], SETUP.view_s if line == "lamp head-green" else 0))
        self.lit[line] = lit
        lamps = [name for name, level in self.lit.items() if level and name in SETUP.longest_s]
        assert len(lamps) <= 1, f"two lights: {lamps}"

    def settle(self) -> None:
        """Do what came out, read back, and hold the lines to what must always be true."""
        keeper = self.keeper
        settle(keeper, self.write, lambda: self.lit, lambda: self.now, lambda _: None)
        if self.burning:
            assert self.now - self.lit_at <= self.limit + 1e-9, "a burst over its limit"
            assert keeper.beating, "a light without heartbeat"
            assert not SETUP.darkens <= self.unplugged.keys(), "a light that no pedal could put out"
        if keeper.fault is not None:
            assert not any(self.lit[stay] for stay in self.setup.stay.values()), "a lamp on behind a shutter in a fault"

    @property
    def burning(self) -> bool:
        return any(level for line, level in self.lit.items() if line in SETUP.longest_s)

    def pass_time(self, seconds: float) -> None:
        until = self.now + seconds
        while (due := self.keeper.next_wake) is not None and due <= until:
            self.now = max(self.now, due)
            self.keeper.wake(self.now, self.now)
            self.settle()
        self.now = until
        self.keeper.wake(self.now, self.now)
        self.settle()

    def send(self, datagram: bytes) -> None:
        self.messages += 1
        self.keeper.receive(datagram, self.now)
        self.settle()

    def expose(self) -> dict[str, object]:
        """A burst, mostly one that may be taken; the more hostile the walk, the more often it may not."""
        pick = self.random

        def odd(usual: object, *others: object) -> object:
            return pick.choice(others) if pick.random() < self.hostility else usual

        self.burst += int(odd(1, 0, -1, 7))  # type: ignore[call-overload]
        return {
            "do": "expose",
            "burst": self.burst,
            "light": odd(pick.choice(("green", "blue", "soft", "flash")), "red", "", "lamp flasher"),
            "at": self.now + float(odd(pick.choice((0.0, 0.2, 0.2, 3.0)), -0.001, 500.0)),  # type: ignore[arg-type]
            "seconds": odd(pick.choice((0.5, 0.01, 4.9, 0.3)), 29.0, 31.0, 100.0, 2000.0, 0.0, -1.0),
            "cut_on": odd(["go", "end"], ["go", "end", "tray"], ["go"], []),
            "while_down": odd(None, "go", "end", "tray"),
            "safelight": pick.choice((None, {"dark": self.now, "stays": ["pedal"]}, {"dark": self.now, "stays": []})),
            "seen": odd(self.keeper._contacts.number, 0, 3),
            "view": odd(False, True),
            **({"cues": self.cues()} if pick.random() < 0.5 else {}),
        }

    def cues(self) -> object:
        """Pulses, mostly ones that may be taken."""
        pick = self.random
        if pick.random() < self.hostility:
            return pick.choice(
                (None, [[]], [[0, 1, 2]], [[0, 1, 1e9, 1]], [[0, -1, 2, 1]], [["a", 0, 1, 1]], [[0, 0, 1, 0]])
            )
        return [[pick.uniform(-0.2, 0.5), 0.05, pick.randrange(6), 0.02] for _ in range(pick.randrange(4))]

    def hostile(self) -> bytes:
        """Something that is not a message: torn, misspelt, of another type, too long, not JSON, not UTF-8."""
        pick = self.random
        message = self.expose()
        match pick.randrange(8):
            case 0:
                return pick.randbytes(pick.randrange(60))
            case 1:
                text = json.dumps(message).encode()
                cut = pick.randrange(len(text))
                return text[:cut] + pick.randbytes(pick.randrange(3)) + text[cut + pick.randrange(3) :]
            case 2:
                del message[pick.choice(list(message))]
            case 3:
                message[pick.choice(list(message))] = pick.choice(
                    (None, True, "", "1", [], {}, 1e300, -1, [[]], {"dark": "x"}, 10**40, ["go", 3])
                )
            case 4:
                return json.dumps(message).replace("0", "NaN", 1).encode()
            case 5:
                return b"[" * 3000
            case 6:
                return b'{"do":"cut"' + b" " * 5000 + b"}"
            case 7 if pick.random() < 0.5:
                return json.dumps({"do": "renew", "until": pick.choice(("soon", True, [], 1e999, -(10**40)))}).encode()
            case _:
                return b'{"do":"cut","do":"renew"}'
        return json.dumps(message).encode()

    def step(self) -> None:
        """One random thing happens."""
        pick = self.random
        roll = pick.random()
        if roll < self.hostility:
            self.send(self.hostile())
        elif roll < 0.45:
            if self.burning and pick.random() > self.hostility:
                self.send(b'{"do":"renew"}')
            else:
                self.send(json.dumps(self.expose()).encode())
        elif roll < 0.6:
            until = self.now + pick.choice((-1.0, 0.0, 0.1, 0.3, 5.0))
            self.send(
                json.dumps({"do": "renew", "until": until}).encode() if pick.random() < 0.3 else b'{"do":"renew"}'
            )
        elif roll < 0.65 or self.keeper.fault:
            self.send(b'{"do":"cut"}' if pick.random() < 0.2 else b'{"do":"clear"}')
        elif roll < 0.66:
            on = pick.choice(([], ["stay head-blue"], ["stay head-blue"]))
            self.send(json.dumps({"do": "stay", "on": on if self.setup.stay else []}).encode())
        elif roll < 0.68:
            out = list(self.unplugged)
            self.plug(pick.choice(out if out and pick.random() < 0.6 else SETUP.pedals))
        elif roll < 0.72:
            name = pick.choice(SETUP.pedals)
            for _ in range(pick.choice((1, 1, 1, 5))):
                self.down[name] = not self.down[name]
                self.keeper.edge(name, self.down[name], self.now, self.now)
                self.settle()
                self.pass_time(0.0004)
        else:
            self.pass_time(pick.choice((0.001, 0.05, 0.2, 0.4, 0.4, 3.0)))
        if pick.random() < 0.0005:
            self.close()

    def plug(self, name: str) -> None:
        """A pedal is pulled out, or put in again."""
        if name in self.unplugged:
            del self.unplugged[name]
            self.keeper.plugged_in(name, self.down[name], self.now)
        else:
            self.unplugged[name] = "is unplugged"
            self.keeper.unplugged(name, "is unplugged", self.now)
            assert not self.keeper._contacts.down(name)
        self.settle()

    def close(self) -> None:
        """The pipe closes: everything must be dark at once and stay so; a new keeper starts on the same lines."""
        self.keeper.closed(self.now)
        self.settle()
        assert not self.burning and self.lit[SAFELIGHT], "lit after the pipe was closed"
        assert not any(self.lit[stay] for stay in self.setup.stay.values()), "a lamp on that nobody keeps"
        self.send(json.dumps(self.expose()).encode())
        self.pass_time(4.0)
        assert not self.burning, "lit by a keeper whose pipe is closed"
        down = [name for name, down in self.down.items() if down and name not in self.unplugged]
        self.keeper = Keeper(self.setup, self.now, down, self.unplugged)
        self.burst = 0
        self.settle()

    def finish(self) -> None:
        """Nobody renews any more: the light must be out when the lease is, whatever was asked for."""
        self.pass_time(0.500001)
        assert not self.burning and self.lit[SAFELIGHT], "a light was left on"
        self.pass_time(STAY_S + 1)
        assert not any(lit for line, lit in self.lit.items() if line != SAFELIGHT), "a lamp or the cue line was left on"
