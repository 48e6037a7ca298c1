"""Pedals and lamps on a chip's lines, on a stand-in for the kernel's end; on the real one: tests/kernel/inside/."""

from __future__ import annotations

import errno
import fcntl
import os
import select
import struct
from collections.abc import Iterator
from pathlib import Path

import pytest

from timerd.bench.chip import KEPT, ChipLines, ChipPedals
from timerd.bench.lines import LinesError

GO, END = 5, 6
CONTACTS = {"go": {"pin": GO, "pull": "up"}, "end": {"pin": END, "pull": "down"}}
"""`go` closes to ground, `end` to the supply."""
ROSE, FELL = 1, 2


class FakeChip:
    """The calls that are made of a chip, by their numbers and structures in the kernel's linux/gpio.h.

    `busy` says for how many more tries another process has a line; `driven` is what was driven, in order.
    """

    def __init__(self) -> None:
        self.asked: list[tuple[int, int, bytes, int]] = []
        self.driven: list[tuple[int, int]] = []
        self.stuck: set[int] = set()
        self.busy: dict[int, int] = {}
        self.level: dict[int, int] = {}
        self.refuses: dict[int, int] = {}
        self._writing: dict[int, int] = {}
        self._pin_of: dict[int, int] = {}

    def ioctl(self, descriptor: int, call: int, what: bytearray) -> int:
        if call == 0xC250B407:
            assert len(what) == 592
            (pin,) = struct.unpack_from("=I", what, 0)
            (consumer,) = struct.unpack_from("=32s", what, 256)
            flags, attributes = struct.unpack_from("=QI", what, 288)
            lines, kept = struct.unpack_from("=II", what, 560)
            assert (attributes, lines) == (0, 1)
            if self.busy.get(pin, 0) > 0:
                self.busy[pin] -= 1
                raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))
            if pin in self.refuses:
                raise OSError(self.refuses[pin], os.strerror(self.refuses[pin]))
            self.asked.append((pin, flags, consumer.rstrip(b"\0"), kept))
            reading, self._writing[pin] = os.pipe()
            self._pin_of[reading] = pin
            struct.pack_into("=i", what, 588, reading)
        elif call == 0xC110B40D:
            assert len(what) == 272
            flags, attributes = struct.unpack_from("=QI", what, 0)
            kind, levels, lines = struct.unpack_from("=I4xQQ", what, 32)
            pull = 0x100 if levels else 0x200
            assert (flags, attributes, kind, lines) == (0x8 | pull, 1, 2, 1), "an output, at this level from the first"
            self._drive(descriptor, levels)
        elif call == 0xC010B40F:
            levels, lines = struct.unpack("=QQ", what)
            assert lines == 1
            self._drive(descriptor, levels)
        else:
            assert call == 0xC010B40E and len(what) == 16 and struct.unpack("=QQ", what) == (0, 1)
            struct.pack_into("=Q", what, 0, self.level[self._pin_of[descriptor]])
        return 0

    def _drive(self, descriptor: int, level: int) -> None:
        pin = self._pin_of[descriptor]
        self.driven.append((pin, level))
        if pin not in self.stuck:
            self.level[pin] = level

    def edge(self, pin: int, which: int, nanoseconds: int) -> None:
        """An event as the kernel gives it: its time, which edge, the line and two numbers."""
        os.write(self._writing[pin], struct.pack("=QIIII24x", nanoseconds, which, pin, 1, 1))

    def hang_up(self, pin: int) -> None:
        """The chip is there no more."""
        os.close(self._writing.pop(pin))

    def close(self) -> None:
        for descriptor in self._writing.values():
            os.close(descriptor)


@pytest.fixture
def device(tmp_path: Path) -> Path:
    path = tmp_path / "gpiochip0"
    path.touch()
    return path


@pytest.fixture
def chip(monkeypatch: pytest.MonkeyPatch) -> Iterator[FakeChip]:
    chip = FakeChip()
    monkeypatch.setattr(fcntl, "ioctl", chip.ioctl)
    yield chip
    chip.close()


def test_each_contact_is_asked_for_with_its_pull_and_both_edges(chip: FakeChip, device: Path) -> None:
    pedals = ChipPedals(CONTACTS, device)
    input_and_both_edges = 0x4 | 0x10 | 0x20
    assert chip.asked == [
        (GO, input_and_both_edges | 0x100, b"timerd", KEPT), (END, input_and_both_edges | 0x200, b"timerd", KEPT)
    ]  # fmt: skip
    pedals.close()


def test_edges_come_in_their_order_with_the_kernels_own_times(chip: FakeChip, device: Path) -> None:
    pedals = ChipPedals(CONTACTS, device)
    assert not select.select([pedals], [], [], 0)[0] and pedals.heard() == []
    chip.edge(END, ROSE, 2_000_000_000)
    chip.edge(END, FELL, 2_000_400_000)
    chip.edge(GO, FELL, 1_999_999_999)
    chip.edge(GO, ROSE, 2_000_100_000)
    assert select.select([pedals], [], [], 0)[0]
    assert pedals.heard() == [
        ("go", True, 1.999999999), ("end", True, 2.0), ("go", False, 2.0001), ("end", False, 2.0004)
    ]  # fmt: skip
    assert not select.select([pedals], [], [], 0)[0] and pedals.heard() == []
    pedals.close()


@pytest.mark.parametrize(("levels", "down"), [((0, 0), (True, False)), ((1, 1), (False, True))])
def test_a_level_is_read_by_the_way_in_which_a_contact_closes(
    levels: tuple[int, int], down: tuple[bool, bool], chip: FakeChip, device: Path
) -> None:
    pedals = ChipPedals(CONTACTS, device)
    chip.level = {GO: levels[0], END: levels[1]}
    assert (pedals.down("go"), pedals.down("end")) == down
    pedals.close()


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.EBUSY, "another program holds it: stop that one (is a timerd running already?)"),
        (errno.EPERM, "this user may not: join the group that may (on a Raspberry Pi: gpio)"),
        (errno.EINVAL, "is this a Raspberry Pi?"),
    ],
)
def test_a_line_that_cannot_be_had(number: int, words: str, chip: FakeChip, device: Path) -> None:
    chip.refuses[END] = number
    before = os.listdir("/proc/self/fd")
    with pytest.raises(LinesError) as told:
        ChipPedals(CONTACTS, device)
    assert str(told.value).startswith("GPIO6 for pedal end: ") and str(told.value).endswith(f": {words}")
    assert len(os.listdir("/proc/self/fd")) == len(before) + 1, "what it had is given back; that one is this test's"


def test_a_chip_that_is_gone_is_told_and_not_heard_for_ever(chip: FakeChip, device: Path) -> None:
    pedals = ChipPedals(CONTACTS, device)
    chip.edge(GO, FELL, 1_000_000_000)
    chip.hang_up(END)
    with pytest.raises(OSError, match="line has ended"):
        pedals.heard()
    pedals.close()


def test_no_chip_at_all(tmp_path: Path) -> None:
    with pytest.raises(LinesError, match=r"^GPIO5 for pedal go: .*No such"):
        ChipPedals(CONTACTS, tmp_path / "gpiochip9")


# -- lines that go out -----------------------------------------------------------------------------------------------

OUTPUTS = {
    "lamp a": {"pin": 17, "active": "high"}, "lamp b": {"pin": 4, "active": "low"},
    "safelight": {"pin": 22, "active": "high"}, "stay b": {"pin": 9, "active": "low"},
    "heartbeat": {"pin": 26, "active": "high"},
}  # fmt: skip
AS_IT_IS = 0
DRIVEN_TO_REST = [(17, 0), (4, 1), (22, 0), (9, 1), (26, 0)]


def left(chip: FakeChip, **levels: int) -> None:
    """The levels of all lines, at rest but for those that are named by their pins."""
    chip.level = dict(DRIVEN_TO_REST) | {int(pin.removeprefix("gpio")): level for pin, level in levels.items()}


@pytest.mark.parametrize(
    ("levels", "lit"),
    [
        ({}, {"lamp a": False, "lamp b": False, "safelight": True, "stay b": False}),
        ({"gpio17": 1, "gpio22": 1}, {"lamp a": True, "lamp b": False, "safelight": False, "stay b": False}),
        ({"gpio4": 0, "gpio9": 0, "gpio26": 1}, {"lamp a": False, "lamp b": True, "safelight": True, "stay b": True}),
    ],
)
def test_lines_are_taken_as_they_are_seen_and_then_driven_to_rest(
    levels: dict[str, int], lit: dict[str, bool], chip: FakeChip, device: Path
) -> None:
    left(chip, **levels)
    lines = ChipLines(OUTPUTS, device)
    assert lines.found == lit
    assert [(pin, flags, who) for pin, flags, who, _ in chip.asked] == [
        (pin, AS_IT_IS, b"timerd") for pin, _ in DRIVEN_TO_REST
    ]
    assert chip.driven == DRIVEN_TO_REST, "each once, and to no other level"
    assert lines.read() == {"lamp a": False, "lamp b": False, "safelight": True, "stay b": False}
    chip.driven.clear()
    for line, is_lit in lines.read().items():
        lines.write(line, is_lit)
    assert chip.driven == DRIVEN_TO_REST[:-1]
    before = len(os.listdir("/proc/self/fd"))
    lines.close()
    assert len(os.listdir("/proc/self/fd")) == before - len(OUTPUTS)


def test_a_line_that_does_not_go_low_reads_so(chip: FakeChip, device: Path) -> None:
    left(chip, gpio17=1)
    chip.stuck = {17}
    lines = ChipLines(OUTPUTS, device)
    assert lines.found["lamp a"] and lines.read()["lamp a"]
    lines.close()


def test_a_line_that_somebody_holds_keeps_no_other_lit(chip: FakeChip, device: Path) -> None:
    left(chip, gpio4=0)
    chip.refuses[17] = errno.EPERM
    before = os.listdir("/proc/self/fd")
    with pytest.raises(LinesError, match=r"^GPIO17 for lamp a: .* may not"):
        ChipLines(OUTPUTS, device)
    assert chip.driven == DRIVEN_TO_REST[1:]
    assert len(os.listdir("/proc/self/fd")) == len(before) + 4, "what it had is given back; those are this test's"


def test_a_dying_process_s_line_is_waited_for_once_all_others_are_dark(chip: FakeChip, device: Path) -> None:
    left(chip, gpio17=1, gpio4=0)
    chip.busy[17] = 3
    lines = ChipLines(OUTPUTS, device)
    assert chip.driven == [*DRIVEN_TO_REST[1:], DRIVEN_TO_REST[0]]
    assert (lines.found["lamp a"], lines.found["lamp b"]) == (True, True)
    lines.close()


def test_one_that_goes_on_holding_it_is_told(chip: FakeChip, device: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    left(chip)
    chip.busy[17] = 10_000
    monkeypatch.setattr("timerd.bench.chip._BUSY_S", 0.01)
    with pytest.raises(LinesError, match=r"^GPIO17 for lamp a: .* holds it"):
        ChipLines(OUTPUTS, device)
    assert chip.driven == DRIVEN_TO_REST[1:]
