"""Every rehearsal once more through the real line code: edges on mock pins against those of the simulated bench.

The keeper's rules, the engine and the feet are the rehearsal's own. Between them stand `GpioLines` and `GpioPedals`: a
foot moves a pin's level, the pin calls back, the keeper writes a line, a pin changes. Virtual time throughout.
"""

from __future__ import annotations

import json
from typing import Any

import pytest
from gpiozero import Device
from lines.pins import Change, RecordingFactory
from rehearsals.record import HERE, NAMES, play

from timerd.bench import pedals, rehearsal, simulated
from timerd.bench.keeper import SAFELIGHT, Keeper
from timerd.bench.lines import GpioLines
from timerd.bench.pedals import GpioPedals
from timerd.bench.setup import wiring
from timerd.bench.simulated import LineEdge, SimulatedBench
from timerd.places import find, home, read_bytes
from timerd.sheet.plan.making import make_plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import read
from timerd.sheet.session import Session


class Clock:
    now = 0.0

    def monotonic(self) -> float:
        return self.now


CLOCK = Clock()


class PinLines:
    """What `SimulatedLines` offers, on pins."""

    def __init__(self, bench: Bench) -> None:
        self._outputs = wiring(bench)["outputs"]
        self.gpio = GpioLines(self._outputs)
        self.stuck: set[str] = set()
        self.dead: set[str] = set()
        self.welded: set[str] = set()
        self.name_of: dict[str, str] = {}
        self.edges: list[LineEdge] = []
        self.wanted: dict[str, bool] = {}

    @property
    def lit(self) -> dict[str, bool]:
        return self.gpio.read()

    def write(self, line: str, lit: bool, at: float) -> None:
        CLOCK.now = at
        self.wanted[line] = lit
        held = Device.pin_factory.held
        pin = self._outputs[line]["pin"]
        if line in self.stuck and self.gpio.read()[line]:
            held[pin] = self._outputs[line]["active"] == "high"
        if line not in self.stuck or lit:
            self.gpio.write(line, lit)

    def light(self, line: str) -> bool:
        return line in self.welded or (self.lit[line] and line not in self.dead)

    def free(self, line: str, at: float) -> None:
        self.stuck.discard(line)
        Device.pin_factory.held.pop(self._outputs[line]["pin"], None)
        self.write(line, self.wanted[line], at)


class PinBench(SimulatedBench):
    """The simulated bench with pins in place of its lines and contacts."""

    made: list[PinBench] = []  # noqa: RUF012

    def __init__(self, session: Session) -> None:
        bench = session.standing.bench
        CLOCK.now = 0.0
        self._heard: list[tuple[str, bool, float]] = []
        self._contacts = {name: wired for name, wired in wiring(bench)["contacts"].items() if "pin" in wired}
        self._gpio = GpioPedals(self._contacts, lambda name, down, at: self._heard.append((name, down, at)))
        self.made.append(self)
        super().__init__(session)

    def _foot(self, contact: str, down: bool) -> None:
        CLOCK.now = self.now
        wired = self._contacts[contact]
        Device.pin_factory.foot(wired["pin"], down == (wired["pull"] == "down"))
        (self.raw_down.add if down else self.raw_down.discard)(contact)

    def raw_edge(self, contact: str, down: bool) -> None:
        if contact not in self._contacts:  # a foot switch's, which hangs on no pin
            super().raw_edge(contact, down)
            return
        self._foot(contact, down)
        heard, self._heard = self._heard, []
        assert [edge[:2] for edge in heard] == [(contact, down)]
        if self._alive:
            for name, closed, at in heard:
                self.keeper.edge(name, closed, at, self.now)
                self._settle()

    def _sees(self, sense: str) -> bool:
        """The light reaches the input's pin, and that is read."""
        wired, lit = self._contacts[sense], super()._sees(sense)
        if lit != self._gpio.down(sense):
            Device.pin_factory.foot(wired["pin"], lit == (wired["pull"] == "down"))
            assert self._heard.pop()[:2] == (sense, lit)
        return self._gpio.down(sense)

    def found_down(self, contact: str) -> None:
        self._foot(contact, True)
        self._heard.clear()
        self.keeper = Keeper(self._setup, self.now, [name for name in self._setup.pedals if self._gpio.down(name)])
        self._settle()


@pytest.fixture
def pins(monkeypatch: pytest.MonkeyPatch) -> RecordingFactory:
    factory = RecordingFactory(CLOCK.monotonic)
    monkeypatch.setattr(Device, "pin_factory", factory)
    monkeypatch.setattr(simulated, "SimulatedLines", PinLines)
    monkeypatch.setattr(rehearsal, "SimulatedBench", PinBench)
    monkeypatch.setattr(pedals, "time", CLOCK)
    monkeypatch.setattr(PinBench, "made", [])
    return factory


def outputs_only(bench: Bench, changes: list[Change]) -> list[Change]:
    numbers = {out["pin"] for out in wiring(bench)["outputs"].values()}
    return [(round(at, 6), pin, level) for at, pin, level in changes if pin in numbers]


def on_pins(bench: Bench, edges: list[dict[str, Any]]) -> list[Change]:
    """The edges of a simulated bench as they must be on the pins of this one."""
    lines = wiring(bench)["outputs"]
    found = []
    for edge in edges:
        if edge["line"] == SAFELIGHT:
            out, active = lines[SAFELIGHT], not edge["on"]
        else:
            light = bench.lights.get(edge["line"])
            out, active = lines[edge["line"] if light is None else f"lamp {light.lamp}"], edge["on"]
        found.append((edge["t"], out["pin"], active == (out["active"] == "high")))
    return found


@pytest.mark.parametrize("name", NAMES)
def test_the_pins_do_what_the_simulated_bench_does(name: str, pins: RecordingFactory) -> None:
    expected = json.loads((HERE / f"{name}.expected.json").read_text())
    played = play(name)
    bench = PinBench.made[0].bench
    assert outputs_only(bench, pins.changes) == on_pins(bench, expected["edges"])
    assert json.loads(json.dumps(played.as_json()["records"])) == expected["records"]


def twelve_steps(change: Any = None) -> tuple[rehearsal.Rehearsed, Bench]:
    """The demo's print, two sheets of twelve steps, and the feet that come with it."""
    where = home(None)
    parts = {}
    for kind, name in (("print", "breakwater"), ("bench", "two-station"), ("paper", "demo-fibre-glossy"),
                       ("feet", "breakwater")):  # fmt: skip
        text = read_bytes(find(kind, name, None, where))
        if kind == "bench" and change is not None:
            text = change(text)
        parts[kind] = read(text, f"{name}.yaml", kind)
    plan = make_plan(parts["print"], parts["bench"], parts["paper"])
    return rehearsal.rehearse(plan, parts["bench"].value, parts["feet"]), parts["bench"].value


LIT_LOW = {17: 4, 23: 7, 22: 8}


def lit_low(text: bytes) -> bytes:
    """The bench with two of its lamps and the safelight on relays that a low line switches, on pins that allow it."""
    for high, low in LIT_LOW.items():
        text = text.replace(b"{pin: %d," % high, b"{pin: %d, active: low," % low)
    assert text.count(b"active: low") == 3
    return text


@pytest.mark.parametrize("change", [None, lit_low], ids=["active high", "active low"])
def test_a_whole_print_of_twelve_steps_and_two_sheets(change: Any, request: pytest.FixtureRequest) -> None:
    simulated_, _ = twelve_steps(change)
    factory: RecordingFactory = request.getfixturevalue("pins")
    if change is not None:
        factory.outside.update(dict.fromkeys(LIT_LOW.values(), True))
    on_the_pins, bench = twelve_steps(change)
    edges = simulated_.as_json()["edges"]
    assert len(edges) > 60
    assert outputs_only(bench, factory.changes) == on_pins(bench, edges)
    assert on_the_pins.records == simulated_.records
    assert on_the_pins.entered == simulated_.entered
