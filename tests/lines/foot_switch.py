"""A foot switch played by a named pipe: input events in the kernel's own form, one device a pipe.

What a pipe cannot answer, the ioctls, is answered here from a file beside it (`answering`); everything else that reads
the device is the keeper's own code. What was asked is written down, so that a test can see what was grabbed.
"""

from __future__ import annotations

import errno
import json
import os
import struct
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from timerd.bench import usb

NAME = "Marsh Lane foot switch"
A, B, C = 30, 48, 46
"""The codes of the keys a, b and c."""
ASKED = "asked"


class FootSwitch:
    """An input device in a folder, plugged in until it is pulled out."""

    def __init__(
        self, folder: Path, event: str = "event3", name: str = NAME, keys: Iterable[int] = (A, B, C),
        down: Iterable[int] = (),
    ) -> None:  # fmt: skip
        self.path = folder / event
        self._facts = folder / f"facts-{event}"
        self._name, self._keys, self.down = name, sorted(keys), set(down)
        self._pipe: int | None = None
        self.plug_in()

    def plug_in(self) -> None:
        """Put the plug in: first what it is, then the device, there at once."""
        self._tell()
        hidden = self.path.with_name(f".{self.path.name}")
        os.mkfifo(hidden, 0o660)
        self._pipe = os.open(hidden, os.O_RDWR | os.O_NONBLOCK)
        os.rename(hidden, self.path)

    def unplug(self) -> float:
        """Pull it out; when that was."""
        self.path.unlink()
        self.down.clear()
        at = time.monotonic()
        self.close()
        return at

    def _tell(self, trouble: int = 0) -> None:
        beside = self._facts.with_suffix(".new")
        facts = {"name": self._name, "keys": self._keys, "down": sorted(self.down), "trouble": trouble}
        beside.write_text(json.dumps(facts))
        os.replace(beside, self._facts)

    def trouble(self, number: int) -> None:
        """Whoever asks for the device alone is refused, with this errno (0: no more)."""
        self._tell(number)

    def key(self, code: int, value: int, at: float | None = None) -> float:
        """A key goes down (1), comes up (0) or repeats (2), and that is reported; when."""
        if value != 2:
            (self.down.add if value else self.down.discard)(code)
        self._tell()
        when = time.monotonic() if at is None else at
        self.send(event(1, code, value, when) + event(0, 0, 0, when))
        return when

    def send(self, raw: bytes) -> None:
        """Any bytes at all."""
        assert self._pipe is not None
        os.write(self._pipe, raw)

    def close(self) -> None:
        if self._pipe is not None:
            os.close(self._pipe)
            self._pipe = None


def event(kind: int, code: int, value: int, at: float) -> bytes:
    """struct input_event on this machine, written down apart from the keeper's own."""
    seconds, microseconds = divmod(round(at * 1e6), 1_000_000)
    return struct.pack("=qqHHi" if struct.calcsize("P") == 8 else "=iiHHi", seconds, microseconds, kind, code, value)


def answering(folder: Path) -> Callable[..., int]:
    """An `ioctl` for such devices: name, keys, levels; the rest is only written down."""

    def ioctl(descriptor: int, request: int, argument: Any = 0) -> int:
        path = os.readlink(f"/proc/self/fd/{descriptor}")
        if path.endswith("(deleted)"):
            raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))
        device = Path(path).name
        facts = json.loads((folder / f"facts-{device}").read_text())
        if request == usb.EVIOCGNAME:
            answer = facts["name"].encode() + b"\0"
            argument[: len(answer)] = answer
        elif request in (usb.EVIOCGBIT_KEY, usb.EVIOCGKEY):
            for code in facts["keys" if request == usb.EVIOCGBIT_KEY else "down"]:
                argument[code // 8] |= 1 << code % 8
        else:
            if request == usb.EVIOCGRAB and facts["trouble"]:
                raise OSError(facts["trouble"], os.strerror(facts["trouble"]))
            value = argument if isinstance(argument, int) else struct.unpack("i", argument)[0]
            told = {usb.EVIOCGRAB: "grab", usb.EVIOCSCLOCKID: "clock"}[request]
            with (folder / ASKED).open("a") as asked:
                asked.write(f"{device} {told} {value}\n")
        return 0

    return ioctl
