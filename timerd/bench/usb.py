"""USB foot switches: keyboards to Linux, read from their own input devices by the standard library alone.

A device is found by its name and by the keys that it can send. It is grabbed, so that a foot types into nothing else,
and only it is; its events are stamped by the monotonic clock. Unplugging ends its reading, and a slow look round finds
it when it is there again. Source of the numbers: Linux, include/uapi/linux/input.h and input-event-codes.h.
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import os
import select
import struct
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

DEVICES = Path("/dev/input")
UNPLUGGED = "is unplugged"
LOOK_EVERY_S = 1.0
"""How often the keeper looks round for what was plugged in."""

EVENT = struct.Struct("@llHHi")
"""struct input_event: seconds, microseconds, type, code, value."""
_EV_SYN, _EV_KEY, _SYN_REPORT, _SYN_DROPPED = 0, 1, 0, 3
_REPEATED = 2
_KEY_BYTES, _NAME_BYTES = 96, 256
_EVENTS_AT_ONCE = 64
_ENDED = select.EPOLLHUP | select.EPOLLERR
_BELIEVED_S = 1.0
"""An event's own time is taken where it lies no further back than this."""


def _request(direction: int, number: int, size: int) -> int:
    """An ioctl's number, as asm-generic/ioctl.h makes it."""
    return direction << 30 | size << 16 | ord("E") << 8 | number


_WRITE, _READ = 1, 2
EVIOCGNAME = _request(_READ, 0x06, _NAME_BYTES)
EVIOCGKEY = _request(_READ, 0x18, _KEY_BYTES)
EVIOCGBIT_KEY = _request(_READ, 0x20 + _EV_KEY, _KEY_BYTES)
EVIOCGRAB = _request(_WRITE, 0x90, struct.calcsize("i"))
EVIOCSCLOCKID = _request(_WRITE, 0xA0, struct.calcsize("i"))

Edge = tuple[str, bool, float]


class UsbPedals:
    """Contacts on keys of input devices. `missing` says of each that cannot be read why, in words.

    Two switches of one name cannot be told apart: a contact is down while its key is, on any of them.
    """

    def __init__(self, contacts: Mapping[str, Any], folder: Path = DEVICES) -> None:
        self._wanted = {name: (str(contact["usb"]), int(contact["key"])) for name, contact in contacts.items()}
        self._folder = folder
        self._devices: dict[str, _Device] = {}
        self._down = dict.fromkeys(contacts, False)
        self._poll = select.epoll()
        self._there: list[tuple[str, int]] | None = None
        self._not_ours: dict[str, str] = {}
        self.missing: dict[str, str] = {}
        self.look_round()

    def fileno(self) -> int:
        """Readable when a key has moved, or a device was unplugged."""
        return self._poll.fileno()

    def down(self, contact: str) -> bool:
        """Whether a contact is closed, as far as its events were heard."""
        return self._down[contact]

    def close(self) -> None:
        """Let go of every device."""
        for device in self._devices.values():
            device.close()
        self._poll.close()

    # -- what has moved ------------------------------------------------------------------------------------------

    def heard(self) -> list[Edge]:
        """The edges that have come. What was unplugged meanwhile stands in `missing` afterwards."""
        edges: list[Edge] = []
        ready = dict(self._poll.poll(0))
        for path, device in list(self._devices.items()):
            if device.descriptor not in ready:
                continue
            try:
                for at in device.read():
                    edges += self._edges(device.name, at)
                if ready[device.descriptor] & _ENDED and not ready[device.descriptor] & select.EPOLLIN:
                    raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))
            except OSError:
                self._lose(path)
                edges += self._edges(device.name, time.monotonic())
        return edges

    def _edges(self, device: str, at: float) -> list[Edge]:
        """What has become of the contacts on the devices of that name; of one that is missing the keeper is told
        otherwise."""
        edges = []
        for contact, (name, key) in self._wanted.items():
            if name == device:
                down = any(key in other.pressed for other in self._devices.values() if other.name == name)
                if down != self._down[contact]:
                    self._down[contact] = down
                    if contact not in self.missing:
                        edges.append((contact, down, at))
        return edges

    # -- what is plugged in --------------------------------------------------------------------------------------

    def look_round(self) -> None:
        """Take in hand what has been plugged in since the last look, if it is a foot switch of ours."""
        there = self._listed()
        if there == self._there and not (self.missing and self._not_ours):
            return
        self._there = there
        self._not_ours.clear()
        for path, _ in there:
            if path not in self._devices:
                self._try(path)
        for contact, (name, key) in self._wanted.items():
            self._down[contact] = any(key in d.pressed for d in self._devices.values() if d.name == name)
        self._take_stock()

    def _listed(self) -> list[tuple[str, int]]:
        """The input devices there are, each with when it was last given to somebody else."""
        with contextlib.suppress(OSError):
            return sorted(
                (entry.path, entry.stat().st_ctime_ns)
                for entry in os.scandir(self._folder)
                if entry.name.startswith("event")
            )
        return []

    def _try(self, path: str) -> None:
        keys: dict[str, set[int]] = {}
        for name, key in self._wanted.values():
            keys.setdefault(name, set()).add(key)
        try:
            device = _Device.ours(path, keys)
        except OSError as error:
            self._not_ours[path] = {
                errno.EACCES: "may not be read", errno.EBUSY: "is held by another program",
            }.get(error.errno or 0, "cannot be read")  # fmt: skip
            return
        if device is not None:
            self._devices[path] = device
            self._poll.register(device.descriptor, select.EPOLLIN)

    def _lose(self, path: str) -> None:
        device = self._devices.pop(path)
        device.close()
        self._there = None  # so that it is found again under the same path
        self._take_stock()

    def _take_stock(self) -> None:
        self.missing = {
            contact: self._why()
            for contact, (name, key) in self._wanted.items()
            if not any(device.name == name and key in device.keys for device in self._devices.values())
        }

    def _why(self) -> str:
        """Why a foot switch is missing: it is not there, or it may be among those that cannot be read."""
        for path, why in self._not_ours.items():
            if why == "may not be read":
                return f"is not found, and {path} may not be read: let this user join the group that may (input)"
        held = [path for path, why in self._not_ours.items() if why == "is held by another program"]
        return f"is not free: another program holds {held[0]}" if held else UNPLUGGED


class _Device:
    """One input device of ours, grabbed. `keys` are those of its keys that matter, `pressed` those that are down."""

    def __init__(self, descriptor: int, name: str, keys: set[int]) -> None:
        self.descriptor = descriptor
        self.name = name
        self.keys = keys
        self.pressed = self._levels()
        self._begun = b""
        self._dropped = False

    @classmethod
    def ours(cls, path: str, wanted: Mapping[str, set[int]]) -> _Device | None:
        """The device at a path, if it has a name and a key that is wanted; any other is left alone."""
        descriptor = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
        try:
            name = _asked(descriptor, EVIOCGNAME, _NAME_BYTES).split(b"\0")[0].decode("utf-8", "replace")
            keys = wanted.get(name, set()) & _bits(_asked(descriptor, EVIOCGBIT_KEY, _KEY_BYTES))
            if keys:
                fcntl.ioctl(descriptor, EVIOCGRAB, 1)
                fcntl.ioctl(descriptor, EVIOCSCLOCKID, struct.pack("i", time.CLOCK_MONOTONIC))
                return cls(descriptor, name, keys)
        except OSError:
            os.close(descriptor)
            raise
        os.close(descriptor)
        return None

    def _levels(self) -> set[int]:
        return self.keys & _bits(_asked(self.descriptor, EVIOCGKEY, _KEY_BYTES))

    def read(self) -> Iterator[float]:
        """Take in the events that have come; the time of each that moves a key, when it has moved it.

        Raises OSError where the device is there no more.
        """
        try:
            chunk = os.read(self.descriptor, _EVENTS_AT_ONCE * EVENT.size)
        except BlockingIOError:
            return
        if not chunk:
            raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))
        raw = self._begun + chunk
        whole = len(raw) - len(raw) % EVENT.size
        self._begun = raw[whole:]
        for seconds, microseconds, kind, code, value in EVENT.iter_unpack(raw[:whole]):
            if self._moved(kind, code, value):
                at, now = seconds + microseconds / 1e6, time.monotonic()
                yield at if now - _BELIEVED_S <= at <= now else now

    def _moved(self, kind: int, code: int, value: int) -> bool:
        """Whether an event moves a key of ours. After events were dropped nothing is believed until the levels are
        read."""
        before = set(self.pressed)
        if kind == _EV_SYN and code == _SYN_DROPPED:
            self._dropped = True
        elif self._dropped:
            if kind == _EV_SYN and code == _SYN_REPORT:
                self._dropped = False
                self.pressed = self._levels()
        elif kind == _EV_KEY and code in self.keys and value != _REPEATED:
            (self.pressed.add if value else self.pressed.discard)(code)
        return self.pressed != before

    def close(self) -> None:
        with contextlib.suppress(OSError):
            os.close(self.descriptor)


def _asked(descriptor: int, request: int, size: int) -> bytes:
    answer = bytearray(size)
    fcntl.ioctl(descriptor, request, answer)
    return bytes(answer)


def _bits(raw: bytes) -> set[int]:
    """The bits that are set, counted from the lowest of the first byte."""
    return {8 * i + k for i, byte in enumerate(raw) if byte for k in range(8) if byte >> k & 1}
