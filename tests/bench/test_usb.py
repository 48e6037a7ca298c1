"""USB foot switches: the kernel's numbers, and the keeper's own reader on devices played by pipes."""

from __future__ import annotations

import errno
import os
import select
import shutil
import subprocess
import time
import types
from collections.abc import Iterator
from pathlib import Path

import pytest
from lines.foot_switch import ASKED, A, B, C, FootSwitch, answering, event
from outside import need

from timerd.bench import usb
from timerd.bench.usb import UNPLUGGED, UsbPedals

CONTACTS = {
    "go": {"usb": "Marsh Lane foot switch", "key": A},
    "end": {"usb": "Marsh Lane foot switch", "key": B},
}
_C = """
#include <stdio.h>
#include <linux/input.h>
int main(void) {
    printf("%zu %lu %lu %lu %lu %lu %d %d", sizeof(struct input_event), (unsigned long) EVIOCGNAME(256),
        (unsigned long) EVIOCGKEY(96), (unsigned long) EVIOCGBIT(EV_KEY, 96), (unsigned long) EVIOCGRAB,
        (unsigned long) EVIOCSCLOCKID, EV_KEY, SYN_DROPPED);
    return (KEY_MAX + 8) / 8 > 96 ? 1 : 0;
}
"""


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(usb, "fcntl", types.SimpleNamespace(ioctl=answering(tmp_path)))
    return tmp_path


@pytest.fixture
def switch(folder: Path) -> Iterator[FootSwitch]:
    switch = FootSwitch(folder)
    yield switch
    switch.close()


@pytest.fixture
def pedals(switch: FootSwitch, folder: Path) -> Iterator[UsbPedals]:
    pedals = UsbPedals(CONTACTS, folder)
    yield pedals
    pedals.close()


def asked(folder: Path) -> list[str]:
    return (folder / ASKED).read_text().splitlines()


def test_the_numbers_are_the_kernel_s_own(tmp_path: Path) -> None:
    """As a C compiler has them from linux/input.h."""
    header = Path("/usr/include/linux/input.h")
    need(shutil.which("cc") is not None and header.exists(), "a C compiler", "apt install gcc libc6-dev")
    (tmp_path / "numbers.c").write_text(_C)
    subprocess.run(["cc", "-o", "numbers", "numbers.c"], cwd=tmp_path, check=True)
    told = subprocess.run([tmp_path / "numbers"], capture_output=True, text=True, check=True).stdout
    ours = (
        usb.EVENT.size, usb.EVIOCGNAME, usb.EVIOCGKEY, usb.EVIOCGBIT_KEY, usb.EVIOCGRAB, usb.EVIOCSCLOCKID,
        usb._EV_KEY, usb._SYN_DROPPED,
    )  # fmt: skip
    assert tuple(map(int, told.split())) == ours
    assert len(event(1, A, 1, 12.5)) == usb.EVENT.size
    assert usb.EVENT.unpack(event(1, A, 1, 12.5)) == (12, 500_000, 1, A, 1)


def test_our_switch_is_grabbed_and_no_other_device(folder: Path) -> None:
    """One of another name, one of ours without our keys, and one with: that alone is grabbed and put on the clock."""
    others = [FootSwitch(folder, "event0", "Keyboard of the house"), FootSwitch(folder, "event1", keys=(C,))]
    ours = FootSwitch(folder, "event2", keys=(A, B))
    pedals = UsbPedals(CONTACTS, folder)
    assert asked(folder) == ["event2 grab 1", f"event2 clock {time.CLOCK_MONOTONIC}"]
    assert pedals.missing == {}
    others[0].key(A, 1)
    others[1].key(C, 1)
    assert pedals.heard() == []
    at = ours.key(A, 1)
    assert pedals.heard() == [("go", True, pytest.approx(at, abs=1e-6))]
    pedals.close()


def test_edges_with_their_own_times_and_no_repeats(pedals: UsbPedals, switch: FootSwitch) -> None:
    base = time.monotonic() - 0.5
    told = [(A, 1, 0.0), (A, 2, 0.1), (A, 2, 0.13), (B, 1, 0.2), (A, 0, 0.3), (C, 1, 0.31), (B, 2, 0.32), (B, 0, 0.4)]
    for code, value, after in told:
        switch.key(code, value, base + after)
    heard = pedals.heard()
    assert [(name, down) for name, down, _ in heard] == [("go", True), ("end", True), ("go", False), ("end", False)]
    assert [at - base for _, _, at in heard] == pytest.approx([0.0, 0.2, 0.3, 0.4], abs=2e-6)
    assert not pedals.down("go") and not pedals.down("end")


@pytest.mark.parametrize("off", [-3600.0, 5.0, 1.7e9], ids=["long ago", "still to come", "another clock"])
def test_a_time_that_cannot_be_is_now(pedals: UsbPedals, switch: FootSwitch, off: float) -> None:
    before = time.monotonic()
    switch.key(A, 1, max(0.0, before + off))
    [(_, _, at)] = pedals.heard()
    assert before <= at <= time.monotonic()


def test_events_that_come_in_pieces(pedals: UsbPedals, switch: FootSwitch) -> None:
    raw = event(1, A, 1, 1.0) + event(0, 0, 0, 1.0) + event(1, A, 0, 1.0)
    heard = []
    for i in range(0, len(raw), 7):
        switch.send(raw[i : i + 7])
        heard += [edge[:2] for edge in pedals.heard()]
    assert heard == [("go", True), ("go", False)]


def test_when_events_were_dropped_the_levels_are_read(pedals: UsbPedals, switch: FootSwitch) -> None:
    """A press before the gap, its let-up and another pedal's press lost in it: believed only what is read after it."""
    switch.key(A, 1)
    assert [edge[:2] for edge in pedals.heard()] == [("go", True)]
    switch.down = {B}
    switch._tell()
    now = time.monotonic()
    switch.send(event(0, 3, 0, now) + event(1, A, 1, now) + event(1, B, 0, now))
    assert pedals.heard() == [] and pedals.down("go")
    switch.send(event(0, 0, 0, now))
    assert [edge[:2] for edge in pedals.heard()] == [("go", False), ("end", True)]
    switch.key(B, 0)
    assert [edge[:2] for edge in pedals.heard()] == [("end", False)]


def test_a_foot_that_is_on_it_at_the_start_is_read(folder: Path) -> None:
    FootSwitch(folder, down={B})
    pedals = UsbPedals(CONTACTS, folder)
    assert (pedals.down("go"), pedals.down("end"), pedals.heard()) == (False, True, [])
    pedals.close()


def test_unplugged_with_a_foot_on_it_and_plugged_in_again(pedals: UsbPedals, switch: FootSwitch, folder: Path) -> None:
    switch.key(A, 1)
    assert [edge[:2] for edge in pedals.heard()] == [("go", True)]
    switch.unplug()
    assert pedals.heard() == [], "that it is unplugged says all: there is no edge of it"
    assert pedals.missing == dict.fromkeys(CONTACTS, UNPLUGGED)
    assert not pedals.down("go")
    pedals.look_round()
    assert pedals.missing == dict.fromkeys(CONTACTS, UNPLUGGED)
    switch.down = {A}
    switch.plug_in()
    pedals.look_round()
    assert (pedals.missing, pedals.down("go"), pedals.heard()) == ({}, True, [])
    switch.key(A, 0)
    assert [edge[:2] for edge in pedals.heard()] == [("go", False)]
    assert asked(folder).count("event3 grab 1") == 2


def test_a_device_that_hangs_up_and_gives_no_error_is_unplugged_too(
    pedals: UsbPedals, switch: FootSwitch, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else it is ready to be read for ever."""
    switch.unplug()

    def nothing(*_: object) -> bytes:
        raise BlockingIOError

    monkeypatch.setattr(usb.os, "read", nothing)
    assert select.select([pedals], [], [], 0)[0]
    assert pedals.heard() == [] and pedals.missing == dict.fromkeys(CONTACTS, UNPLUGGED)
    assert not select.select([pedals], [], [], 0)[0]


def test_two_switches_of_one_name_serve_the_same_contacts(pedals: UsbPedals, switch: FootSwitch, folder: Path) -> None:
    """Down while one of them is; pulling the one that is held out is its let-up, since the other is still there."""
    other = FootSwitch(folder, "event7")
    pedals.look_round()
    other.key(A, 1)
    assert [edge[:2] for edge in pedals.heard()] == [("go", True)]
    switch.key(A, 1)
    switch.key(A, 0)
    assert pedals.heard() == []
    before = time.monotonic()
    other.unplug()
    [(name, down, at)] = pedals.heard()
    assert (name, down, pedals.missing) == ("go", False, {})
    assert before <= at <= time.monotonic()


def test_nothing_there_at_all(tmp_path: Path) -> None:
    pedals = UsbPedals(CONTACTS, tmp_path / "nowhere")
    assert pedals.missing == dict.fromkeys(CONTACTS, UNPLUGGED)
    pedals.look_round()
    pedals.close()


def test_a_device_that_may_not_be_read_is_told_as_what_it_is(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    switch = FootSwitch(folder)
    real = os.open

    def refusing(path: str, flags: int, *more: int) -> int:
        if str(path).endswith("event3"):
            raise PermissionError(errno.EACCES, "Permission denied")
        return real(path, flags, *more)

    monkeypatch.setattr(usb.os, "open", refusing)
    pedals = UsbPedals(CONTACTS, folder)
    path = folder / "event3"
    assert pedals.missing["go"] == (
        f"is not found, and {path} may not be read: let this user join the group that may (input)"
    )
    monkeypatch.setattr(usb.os, "open", real)
    pedals.look_round()
    assert pedals.missing == {}, "tried again as long as a pedal is missing"
    pedals.close()
    switch.close()


def test_a_device_that_another_program_holds_is_left_to_it_until_it_is_free(folder: Path) -> None:
    switch = FootSwitch(folder)
    switch.trouble(errno.EBUSY)
    pedals = UsbPedals(CONTACTS, folder)
    assert pedals.missing["end"] == f"is not free: another program holds {folder / 'event3'}"
    switch.key(A, 1)
    assert pedals.heard() == []
    switch.key(A, 0)
    switch.trouble(0)
    pedals.look_round()
    assert pedals.missing == {}
    pedals.close()
    switch.close()


def test_looking_round_opens_nothing_while_nothing_has_changed(
    pedals: UsbPedals, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    FootSwitch(folder, "event0", "Keyboard of the house")
    pedals.look_round()
    opened: list[str] = []
    monkeypatch.setattr(usb._Device, "ours", lambda path, _: opened.append(path))
    for _ in range(3):
        pedals.look_round()
    assert opened == []
