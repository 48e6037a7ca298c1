"""Real pedals on mock pins: raw edges both ways, their times, levels, and what must not make a pedal deaf."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from typing import Any

import pytest
from gpiozero import Device, OutputDevice
from lines.pins import RecordingFactory

from timerd.bench import pedals
from timerd.bench.lines import LinesError
from timerd.bench.pedals import GpioPedals

GO, END = 5, 6
CONTACTS = {"go": {"pin": GO, "pull": "up"}, "end": {"pin": END, "pull": "down"}}
"""`go` closes to ground, `end` to the supply."""
DOWN = {GO: False, END: True}
"""The level of each pin under a foot."""


class Clock:
    now = 100.0

    def monotonic(self) -> float:
        return self.now


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(pedals, "time", clock)
    return clock


@pytest.fixture
def pins(clock: Clock, monkeypatch: pytest.MonkeyPatch) -> Iterator[RecordingFactory]:
    factory = RecordingFactory(clock.monotonic)
    monkeypatch.setattr(Device, "pin_factory", factory)
    yield factory


class Heard(list[tuple[str, bool, float]]):
    def __call__(self, name: str, down: bool, at: float) -> None:
        self.append((name, down, at))


def test_raw_edges_both_ways_and_no_bounce_taken_out(pins: RecordingFactory, clock: Clock) -> None:
    heard = Heard()
    feet = GpioPedals(CONTACTS, heard)
    assert heard == []
    expected = []
    for at, pin, down in (
        (100.0, GO, True), (100.0004, GO, False), (100.0005, GO, True), (100.2, END, True), (100.3, GO, False),
        (100.4, END, False), (100.4001, END, True), (100.4002, END, False),
    ):  # fmt: skip
        clock.now = at
        pins.foot(pin, DOWN[pin] if down else not DOWN[pin])
        name = "go" if pin == GO else "end"
        expected.append((name, down, at))
        assert feet.down(name) is down
    assert heard == expected


def test_a_foot_that_is_on_a_pedal_at_the_start_is_read_and_makes_no_edge(pins: RecordingFactory) -> None:
    pins.held = dict(DOWN)
    heard = Heard()
    feet = GpioPedals(CONTACTS, heard)
    assert (feet.down("go"), feet.down("end"), heard) == (True, True, [])
    pins.held.clear()


@pytest.mark.parametrize(
    ("stamp", "at"),
    [
        (100.0, 100.0), (99.9993, 99.9993), (99.0, 99.0),  # what a pin says, where it can be
        (98.999, 100.0), (100.000001, 100.0), (1764e6, 100.0), (0.0, 100.0),  # another clock's
    ],
)  # fmt: skip
def test_a_pins_own_time_is_taken_where_it_can_be_true(
    stamp: float, at: float, pins: RecordingFactory, clock: Clock
) -> None:
    heard = Heard()
    feet = GpioPedals(CONTACTS, heard)
    pins.stamp = stamp
    pins.foot(GO, False)
    assert heard == [("go", True, at)]
    feet.close()


def test_pedals_are_heard_after_a_collection_of_garbage(pins: RecordingFactory) -> None:
    """gpiozero's pins keep only a weak reference to whom they call."""
    heard = Heard()
    feet = GpioPedals(CONTACTS, heard)
    for _ in range(3):
        gc.collect()
    pins.foot(GO, False)
    pins.foot(END, True)
    assert heard == [("go", True, 100.0), ("end", True, 100.0)]
    feet.close()


def test_trouble_with_one_edge_makes_no_pedal_deaf_and_is_told(
    pins: RecordingFactory, caplog: pytest.LogCaptureFixture
) -> None:
    """With lgpio all pins call from one thread: an exception would end it, and every pedal with it."""
    heard = Heard()

    def trouble(name: str, down: bool, at: float) -> None:
        heard(name, down, at)
        raise RuntimeError("in the middle of an edge")

    feet = GpioPedals(CONTACTS, trouble)
    for level in (False, True, False):
        pins.foot(GO, level)
    pins.foot(END, True)
    assert [edge[:2] for edge in heard] == [("go", True), ("go", False), ("go", True), ("end", True)]
    assert [record.getMessage() for record in caplog.records] == [
        *["pedal go: an edge was not taken"] * 3, "pedal end: an edge was not taken",
    ]  # fmt: skip
    assert all(record.exc_info and str(record.exc_info[1]) == "in the middle of an edge" for record in caplog.records)
    feet.close()


def test_nothing_is_heard_after_close_and_the_pins_are_free(pins: RecordingFactory) -> None:
    heard = Heard()
    GpioPedals(CONTACTS, heard).close()
    pins.foot(GO, True)
    pins.foot(GO, False)
    assert heard == []
    GpioPedals(CONTACTS, heard).close()


def said(contacts: dict[str, Any]) -> str:
    with pytest.raises(LinesError) as raised:
        GpioPedals(contacts, Heard())
    assert "\n" not in str(raised.value)
    return str(raised.value)


def test_a_pedals_pin_in_use(pins: RecordingFactory) -> None:
    held = OutputDevice(END)
    assert said(CONTACTS).startswith("GPIO6 for pedal end: pin GPIO6 is already in use by ")
    held.close()
    GpioPedals(CONTACTS, Heard()).close()  # the first pedal's pin was given back


def test_a_pin_that_is_not_on_the_board(pins: RecordingFactory) -> None:
    assert said({"go": {"pin": 40, "pull": "up"}}).startswith("GPIO40 for pedal go: 40 is not a valid pin name: ")


def test_a_pin_with_a_pull_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """GPIO2 and 3 have resistors to the supply: a contact that closes to the supply would never be seen."""
    from gpiozero.pins.mock import MockFactory

    monkeypatch.setattr(Device, "pin_factory", MockFactory(revision="c03111"))
    assert said({"go": {"pin": 2, "pull": "down"}}) == (
        "GPIO2 for pedal go: GPIO2 has a fixed pull resistor: take another pin, or close the contact the other way"
    )
