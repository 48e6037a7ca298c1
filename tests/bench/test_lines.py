"""Real lines on mock pins that remember every change: whole lists are compared, and what a user reads on a fault."""

from __future__ import annotations

import sys
import time
import types
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from golden import Golden
from gpiozero import Device
from lines.pins import RecordingFactory

from timerd.bench import lines
from timerd.bench.lines import PIN_LIBRARY, GpioLines, LinesError, claiming, open_factory
from timerd.bench.pedals import GpioPedals

GREEN, BLUE, SAFE, BEAT = 17, 27, 22, 26
HIGH = {
    "lamp green": {"pin": GREEN, "active": "high"}, "lamp blue": {"pin": BLUE, "active": "high"},
    "safelight": {"pin": SAFE, "active": "high"}, "heartbeat": {"pin": BEAT, "active": "high"},
}  # fmt: skip
LOW = {name: {**out, "active": "low"} for name, out in HIGH.items() if name != "heartbeat"}
PULLED_UP = {GREEN: True, BLUE: True, SAFE: True}
"""What a relay board that is lit by a low line does to its inputs."""


class Clock:
    now = 100.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def pins(clock: Clock, monkeypatch: pytest.MonkeyPatch) -> Iterator[RecordingFactory]:
    factory = RecordingFactory(clock)
    monkeypatch.setattr(Device, "pin_factory", factory)
    yield factory


@pytest.mark.parametrize(("outputs", "outside"), [(HIGH, {}), (LOW, PULLED_UP)], ids=["active high", "active low"])
def test_claimed_at_rest_without_a_pulse(pins: RecordingFactory, outputs: Any, outside: dict[int, bool]) -> None:
    pins.outside.update(outside)
    lines = GpioLines(outputs)
    assert pins.changes == []
    assert pins.happened == [(out["pin"], "driven") for out in outputs.values()]
    assert lines.read() == {"lamp green": False, "lamp blue": False, "safelight": True}


def test_an_active_low_lamp_that_floated_low_goes_to_rest_at_once(pins: RecordingFactory) -> None:
    """Without the relay board's resistor the pin lay low: the one change is the one to rest."""
    lines = GpioLines({"lamp green": LOW["lamp green"]})
    assert pins.changes == [(100.0, GREEN, True)]
    assert lines.read() == {"lamp green": False}


def burn(lines: GpioLines, clock: Clock) -> None:
    """A lead-in with the safelight dark, 2 s of green, 0.5 s of blue, the safelight back."""
    for at, line, lit in (
        (101.0, "safelight", False), (101.2, "lamp green", True), (101.3, "lamp green", True),
        (103.2, "lamp green", False), (103.2, "lamp blue", True), (103.7, "lamp blue", False),
        (103.7, "safelight", True), (103.8, "lamp blue", False),
    ):  # fmt: skip
        clock.now = at
        lines.write(line, lit)


EDGES = [
    (101.0, SAFE, True), (101.2, GREEN, True), (103.2, GREEN, False), (103.2, BLUE, True), (103.7, BLUE, False),
    (103.7, SAFE, False),
]  # fmt: skip
"""An active safelight line is a dark safelight."""


def test_writes_are_these_edges_and_no_others(pins: RecordingFactory, clock: Clock) -> None:
    burn(GpioLines(HIGH), clock)
    assert pins.changes == EDGES


def test_writes_to_active_low_lines_are_the_same_edges_upside_down(pins: RecordingFactory, clock: Clock) -> None:
    pins.outside.update(PULLED_UP)
    burn(GpioLines(LOW), clock)
    assert pins.changes == [(at, pin, not level) for at, pin, level in EDGES]


def test_the_heartbeat_toggles_its_own_pin_only(pins: RecordingFactory, clock: Clock) -> None:
    lines = GpioLines(HIGH)
    for k in range(5):
        clock.now = 100 + k * 0.002
        lines.beat(k % 2 == 0)
    assert pins.changes == [(100 + k * 0.002, BEAT, k % 2 == 0) for k in range(5)]
    assert lines.read() == {"lamp green": False, "lamp blue": False, "safelight": True}, "no line to be read back"


def test_a_bench_without_heartbeat_and_safelight(pins: RecordingFactory) -> None:
    lines = GpioLines({"lamp green": HIGH["lamp green"]})
    lines.beat(True)
    lines.write("lamp green", True)
    assert pins.changes == [(100.0, GREEN, True)]
    assert lines.read() == {"lamp green": True}


def test_a_pin_held_at_the_other_level_is_read_as_it_is(pins: RecordingFactory, clock: Clock) -> None:
    """A short to the supply, or a driver that has failed: what was written is not what is there."""
    lines = GpioLines(HIGH)
    lines.write("lamp green", True)
    pins.held[GREEN] = True
    lines.write("lamp green", False)
    assert lines.read() == {"lamp green": True, "lamp blue": False, "safelight": True}
    pins.held = {BLUE: True, SAFE: True, GREEN: False}
    assert lines.read() == {"lamp green": False, "lamp blue": True, "safelight": False}
    assert pins.changes == [(100.0, GREEN, True)]


def test_close_puts_all_to_rest_before_any_pin_is_given_back(pins: RecordingFactory, clock: Clock) -> None:
    lines = GpioLines(HIGH)
    lines.write("lamp green", True)
    lines.write("safelight", False)
    lines.beat(True)
    pins.happened.clear()
    lines.close()
    rest, given_back = pins.happened[:3], pins.happened[3:]
    assert sorted(rest) == [(GREEN, "low"), (SAFE, "low"), (BEAT, "low")]
    assert sorted(given_back) == [(GREEN, "given back"), (SAFE, "given back"), (BEAT, "given back"),
                                  (BLUE, "given back")]  # fmt: skip


def test_close_of_active_low_lines_leaves_them_high(pins: RecordingFactory, clock: Clock) -> None:
    pins.outside.update(PULLED_UP)
    lines = GpioLines(LOW)
    lines.write("lamp green", True)
    lines.close()
    assert pins.changes == [(100.0, GREEN, False), (100.0, GREEN, True)]


def test_a_line_that_fails_keeps_no_other_from_being_put_to_rest(pins: RecordingFactory) -> None:
    lines = GpioLines(HIGH)
    for line in ("lamp green", "lamp blue"):
        lines.write(line, True)
    for broken in (GREEN, BLUE):
        pins.broken = {broken}
        pins.happened.clear()
        with pytest.raises(OSError, match="Input/output"):
            lines.close()
        pins.broken = set()
        other = BLUE if broken == GREEN else GREEN
        assert (other, "low") in pins.happened
        assert [what for _, what in pins.happened].count("given back") == 4
        lines = GpioLines(HIGH)
        for line in ("lamp green", "lamp blue"):
            lines.write(line, True)


# -- faults: one line, with the pin, why, and what to do ---------------------------------------------------------------


def said(call: Any, *args: Any) -> str:
    with pytest.raises(LinesError) as raised:
        call(*args)
    words = str(raised.value)
    assert "\n" not in words
    return words


def test_a_pin_in_use(pins: RecordingFactory) -> None:
    from gpiozero import OutputDevice

    held = OutputDevice(BLUE)
    words = said(GpioLines, HIGH)
    assert words.startswith(f"GPIO{BLUE} for lamp blue: pin GPIO27 is already in use by ")
    assert words.endswith(": another program holds it: stop that one (is a timerd running already?)")
    held.close()


def test_where_one_pin_cannot_be_had_all_others_are_put_to_rest(pins: RecordingFactory) -> None:
    """As the last off must: one pin that is held by somebody else leaves no lamp on beside it."""
    from gpiozero import OutputDevice

    held = OutputDevice(GREEN)
    pins.outside[BLUE] = True
    with pytest.raises(LinesError, match="GPIO17 for lamp green"):
        GpioLines(HIGH)
    assert (100.0, BLUE, False) in pins.changes
    held.close()
    GpioLines(HIGH).close()  # and nothing is held any more


def test_no_such_pin(golden: Golden, pins: RecordingFactory) -> None:
    words = said(GpioLines, {"lamp green": {"pin": 53, "active": "high"}})
    golden(words)


@pytest.fixture
def a_chip(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """This machine has a chip of pins, wherever the test runs."""
    monkeypatch.setattr(lines, "DEVICES", tmp_path)
    chip = tmp_path / "gpiochip0"
    chip.touch()
    return chip


def test_permission_denied(golden: Golden, a_chip: Path) -> None:
    def claim(error: BaseException) -> None:
        with claiming("GPIO17 for lamp green"):
            raise error

    join = "this user may not: join the group that may (on a Raspberry Pi: gpio)"
    denied = PermissionError(13, "Permission denied")
    assert said(claim, denied) == f"GPIO17 for lamp green: [Errno 13] Permission denied: {join}"
    # lgpio's own exception prints its text in quotes; these texts are its (read in liblg 0.2.2's lgErr.c)
    for text in ("can not open gpiochip", "no permission to access file", "GPIO not allowed"):
        assert said(claim, Exception(repr(text))) == f"GPIO17 for lamp green: {text}: {join}"
    a_chip.unlink()
    golden(said(claim, Exception("'can not open gpiochip'")))
    assert said(claim, Exception("'GPIO busy'")).startswith("GPIO17 for lamp green: GPIO busy: another program")
    assert said(claim, ValueError("")).startswith("GPIO17 for lamp green: ValueError: ")
    for error in (KeyboardInterrupt(), SystemExit(3)):
        with pytest.raises(type(error)):
            claim(error)


@pytest.fixture
def no_factory(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(Device, "pin_factory", None)
    for name in ("GPIOZERO_PIN_FACTORY", "LG_WD"):
        monkeypatch.setenv(name, "")  # so that what is set in the test is undone after it
        monkeypatch.delenv(name)


@pytest.mark.usefixtures("no_factory")
class TestFactory:
    def test_a_factory_that_is_not_there(self, golden: Golden, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
        monkeypatch.setenv("GPIOZERO_PIN_FACTORY", "nonsense")
        golden(said(open_factory, tmp_path))

    def test_pretended_pins_are_refused(self, golden: Golden, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
        monkeypatch.setenv("GPIOZERO_PIN_FACTORY", "mock")
        golden(said(open_factory, tmp_path))
        monkeypatch.setattr(Device, "pin_factory", RecordingFactory())
        assert said(open_factory, tmp_path).startswith("the pins: RecordingFactory only pretends")

    @pytest.mark.parametrize("named", [True, False])
    def test_without_lgpio_nothing_else_is_taken(
        self, named: bool, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, recwarn: pytest.WarningsRecorder
    ) -> None:
        """Left to itself gpiozero goes on to other libraries and then to one of its own, with a warning."""
        monkeypatch.setitem(sys.modules, "lgpio", None)
        monkeypatch.delitem(sys.modules, "gpiozero.pins.lgpio", raising=False)
        if named:
            monkeypatch.setenv("GPIOZERO_PIN_FACTORY", "lgpio")
        words = said(open_factory, tmp_path)
        assert words.startswith("the pins: ") and "lgpio" in words
        assert words.endswith(f": install the pin library: {PIN_LIBRARY}")
        assert "apt install python3-lgpio (Raspberry Pi OS)" in PIN_LIBRARY and "pip install 'lgpio" in PIN_LIBRARY
        fallbacks = [one for one in recwarn if not issubclass(one.category, ResourceWarning)]
        assert not fallbacks, "what other tests left open is not meant here"

    def test_lgpio_off_a_raspberry_pi(self, fake_lgpio: FakeLgpio, tmp_path: Path) -> None:
        fake_lgpio.revision = None
        assert said(open_factory, tmp_path).endswith(": is this a Raspberry Pi?")

    @pytest.mark.usefixtures("a_chip")
    def test_lgpio_without_the_right_group(self, golden: Golden, fake_lgpio: FakeLgpio, tmp_path: Path) -> None:
        fake_lgpio.refuses = "can not open gpiochip"
        golden(said(open_factory, tmp_path))


# -- lgpio: gpiozero's own lgpio pins, on a stand-in for the library that puts every call down ------------------------


class FakeLgpio(types.ModuleType):
    """As much of lgpio as gpiozero calls. A pin is claimed in one call, at the level that the call gives."""

    SET_PULL_NONE, SET_PULL_UP, SET_PULL_DOWN = 128, 32, 64
    RISING_EDGE, FALLING_EDGE, BOTH_EDGES = 1, 2, 3
    error = type("error", (Exception,), {})

    def __init__(self) -> None:
        super().__init__("lgpio")
        self.level: dict[int, int] = {}
        self.mode: dict[int, int] = {}
        self.pull: dict[int, int] = {}
        self.calls: list[tuple[Any, ...]] = []
        self.refuses = ""
        self.revision: int | None = 0xC03111
        self.callbacks: dict[int, Any] = {}

    def gpiochip_open(self, chip: int) -> int:
        if self.refuses:
            raise self.error(repr(self.refuses))
        return 7

    def gpiochip_close(self, handle: int) -> None:
        self.calls.append(("gpiochip_close",))

    def gpio_free(self, handle: int, gpio: int) -> None:
        self.calls.append(("free", gpio))

    def gpio_claim_input(self, handle: int, gpio: int, flags: int = 0) -> None:
        self.mode[gpio], self.pull[gpio] = flags & ~128, flags
        self.calls.append(("input", gpio))

    def gpio_claim_output(self, handle: int, gpio: int, level: int = 0, flags: int = 0) -> None:
        self.mode[gpio], self.level[gpio], self.pull[gpio] = 2, level, flags
        self.calls.append(("output", gpio, level))

    def gpio_claim_alert(self, handle: int, gpio: int, edges: int, flags: int = 0) -> None:
        self.calls.append(("alert", gpio, edges, flags))

    def gpio_get_mode(self, handle: int, gpio: int) -> int:
        return self.mode[gpio]

    def gpio_read(self, handle: int, gpio: int) -> int:
        return self.level.get(gpio, 0)

    def gpio_write(self, handle: int, gpio: int, level: int) -> None:
        self.level[gpio] = int(level)
        self.calls.append(("write", gpio, int(level)))

    def gpio_set_debounce_micros(self, handle: int, gpio: int, micros: int) -> None:
        self.calls.append(("debounce", gpio, micros))

    def callback(self, handle: int, gpio: int, edges: int, call: Any) -> Any:
        self.callbacks[gpio] = call
        return types.SimpleNamespace(cancel=lambda: self.callbacks.pop(gpio))


@pytest.fixture
def fake_lgpio(monkeypatch: pytest.MonkeyPatch) -> Iterator[FakeLgpio]:
    fake = FakeLgpio()
    monkeypatch.setitem(sys.modules, "lgpio", fake)
    monkeypatch.delitem(sys.modules, "gpiozero.pins.lgpio", raising=False)
    from gpiozero.exc import PinUnknownPi
    from gpiozero.pins import local

    def revision() -> int:
        if fake.revision is None:
            raise PinUnknownPi("unable to locate Pi revision")
        return fake.revision

    monkeypatch.setattr(local, "get_pi_revision", revision)
    local.LocalPiFactory.pins.clear()
    local.LocalPiFactory._reservations.clear()
    yield fake
    local.LocalPiFactory.pins.clear()
    local.LocalPiFactory._reservations.clear()
    sys.modules.pop("gpiozero.pins.lgpio", None)


@pytest.mark.usefixtures("no_factory")
class TestLgpio:
    def test_it_is_the_one_that_is_taken_and_keeps_its_pipe_in_the_run_folder(
        self, fake_lgpio: FakeLgpio, tmp_path: Path
    ) -> None:
        import os

        assert open_factory(tmp_path) == "LGPIOFactory"
        assert os.environ["LG_WD"] == str(tmp_path)

    @pytest.mark.parametrize(("outputs", "rest"), [(HIGH, 0), (LOW, 1)], ids=["active high", "active low"])
    def test_every_line_is_claimed_at_its_resting_level_in_one_call(
        self, outputs: Any, rest: int, fake_lgpio: FakeLgpio, tmp_path: Path
    ) -> None:
        open_factory(tmp_path)
        lines = GpioLines(outputs)
        expected = []
        for out in outputs.values():
            expected += [("input", out["pin"]), ("output", out["pin"], rest)]
        assert fake_lgpio.calls == expected
        assert lines.read() == {name: name == "safelight" for name in outputs if name != "heartbeat"}

    def test_as_it_comes_it_would_have_pulsed(self, fake_lgpio: FakeLgpio, tmp_path: Path) -> None:
        """The reason for a pin class of our own: if gpiozero mends this, that class can go."""
        from gpiozero.pins.lgpio import LGPIOFactory

        Device.pin_factory = LGPIOFactory()
        lines = GpioLines({"lamp green": LOW["lamp green"]})
        assert fake_lgpio.calls == [("input", GREEN), ("output", GREEN, 0), ("write", GREEN, 1)]
        lines.close()

    def test_close_puts_all_to_rest_first(self, fake_lgpio: FakeLgpio, tmp_path: Path) -> None:
        open_factory(tmp_path)
        lines = GpioLines({name: HIGH[name] for name in ("lamp green", "safelight")})
        lines.write("lamp green", True)
        lines.write("safelight", False)
        fake_lgpio.calls.clear()
        lines.close()
        assert sorted(fake_lgpio.calls[:2]) == [("write", GREEN, 0), ("write", SAFE, 0)]
        assert sorted(fake_lgpio.calls[2:]) == [("input", GREEN), ("input", SAFE)]

    @pytest.mark.parametrize(("outputs", "pull"), [(HIGH, FakeLgpio.SET_PULL_DOWN), (LOW, FakeLgpio.SET_PULL_UP)])
    def test_the_chip_s_own_resistor_holds_every_line_at_rest_from_first_to_last(
        self, outputs: Any, pull: int, fake_lgpio: FakeLgpio, tmp_path: Path
    ) -> None:
        open_factory(tmp_path)
        lines = GpioLines(outputs)
        held = {out["pin"]: pull for out in outputs.values()}
        assert fake_lgpio.pull == held
        lines.close()
        assert fake_lgpio.pull == held, "and as inputs too"

    def test_pedals_ask_for_raw_edges_with_their_pull_and_the_kernels_time(
        self, fake_lgpio: FakeLgpio, tmp_path: Path
    ) -> None:
        open_factory(tmp_path)
        heard: list[tuple[str, bool, float]] = []
        feet = GpioPedals(
            {"go": {"pin": 5, "pull": "up"}, "end": {"pin": 6, "pull": "down"}},
            lambda name, down, at: heard.append((name, down, at)),
        )
        alerts = [call for call in fake_lgpio.calls if call[0] in ("alert", "debounce")]
        assert alerts == [
            ("debounce", 5, 0), ("alert", 5, FakeLgpio.BOTH_EDGES, FakeLgpio.SET_PULL_UP),
            ("debounce", 6, 0), ("alert", 6, FakeLgpio.BOTH_EDGES, FakeLgpio.SET_PULL_DOWN),
        ]  # fmt: skip
        at = time.monotonic_ns()
        fake_lgpio.callbacks[5](0, 5, 0, at)
        fake_lgpio.callbacks[6](0, 6, 1, at)
        fake_lgpio.callbacks[6](0, 6, 0, at)
        assert heard == [("go", True, at / 1e9), ("end", True, at / 1e9), ("end", False, at / 1e9)]
        fake_lgpio.level.update({5: 0, 6: 0})
        assert (feet.down("go"), feet.down("end")) == (True, False)
        feet.close()
        assert fake_lgpio.callbacks == {}
