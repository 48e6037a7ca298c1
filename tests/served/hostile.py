"""Hostile and random talk at a real daemon's socket: what comes of it must be nothing."""

from __future__ import annotations

import array
import contextlib
import json
import os
import random
import socket
from collections import Counter
from pathlib import Path
from typing import Any

from test_control import MALFORMED

from served import BENCHES, LIMIT_S, Served
from served.asking import ask
from timerd.control import LONGEST_REQUEST, SOCKET

TWELVE = (Path(__file__).with_name("twelve.yaml")).read_text()
PAPER = BENCHES.parent / "papers" / "demo-fibre-glossy.yaml"
"""A print, and the paper that it is on."""
MOST_OPEN = 6
"""Two places are left, so that one who asks in between is always taken in."""
SAME = ("state", "since", "print", "plan", "sheet", "sheets_left", "step", "given", "owed", "steps", "lead_in", "burst",
        "dark", "white_light", "reason", "refused", "said", "unfinished", "ink")  # fmt: skip
"""What nobody at the socket may change by any of this."""


def resident_kib(pid: int) -> int:
    """A process's memory in use, in KiB."""
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1])
    raise LookupError(f"no process {pid}")


class Hostile:
    """Seeded talk at one daemon; `sent` counts messages, whole or not, `talks` how many of them were of which kind."""

    def __init__(self, served: Served, seed: int) -> None:
        self.sent = 0
        self._served = served
        self._pick = random.Random(seed)
        self._open: list[socket.socket] = []
        self._kinds = (
            self._malformed, self._malformed, self._bytes, self._bytes, self._mutated, self._mutated, self._mutated,
            self._keepers, self._keepers, self._bad_load, self._bad_load, self._half, self._files_along,
        )  # fmt: skip
        self._rare = (self._flood, self._deaf, self._harmless, self._come_and_go, self._too_long)
        self.talks: Counter[str] = Counter()

    def send(self, messages: int) -> None:
        """So many more messages."""
        wanted = self.sent + messages
        while self.sent < wanted:
            kind = self._pick.choice(self._rare if self._pick.random() < 0.003 else self._kinds)
            before = self.sent
            kind()
            self.talks[kind.__name__.strip("_").replace("_", " ")] += self.sent - before
            while len(self._open) > MOST_OPEN - 1:
                self._open.pop(self._pick.randrange(len(self._open))).close()

    def close(self) -> None:
        """Leave it alone."""
        while self._open:
            self._open.pop().close()

    # -- how it talks --------------------------------------------------------------------------------------------

    def _connect(self) -> socket.socket:
        end = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        folder = os.open(self._served.run, os.O_RDONLY)
        try:
            end.connect(f"/proc/self/fd/{folder}/{SOCKET}")
        finally:
            os.close(folder)
        end.settimeout(LIMIT_S)
        self._open.append(end)
        return end

    def _say(self, *lines: bytes, listen: bool = True) -> None:
        """Say it on a connection of its own, and mostly hear the answer out."""
        end = self._connect()
        self.sent += len(lines)
        with contextlib.suppress(OSError):
            end.sendall(b"".join(line + b"\n" for line in lines))
            if listen and self._pick.random() < 0.7:
                end.shutdown(socket.SHUT_WR)
                while end.recv(65536):
                    pass
        self._open.remove(end)
        end.close()

    # -- what it says --------------------------------------------------------------------------------------------

    def _malformed(self) -> None:
        self._say(self._pick.choice(MALFORMED))

    def _bytes(self) -> None:
        self._say(self._pick.randbytes(self._pick.choice((1, 10, 100, 3000))))

    def _good(self) -> dict[str, Any]:
        return self._pick.choice((
            {"do": "status"}, {"do": "follow"}, {"do": "plan"}, {"do": "bench"}, {"do": "clear"}, {"do": "dark"},
            {"do": "note", "sheet": self._pick.choice((1, 0, None, 10**25, "1")), "text": "\x1b[2J" * 9},
            {"do": "rate", "sheet": 1, "rating": self._pick.choice((3, 6, None, 10**25, "3", [])), "book": 7},
            self._load(),
        ))  # fmt: skip

    def _load(self) -> dict[str, Any]:
        """A load that is wrong in one way at least."""
        load: dict[str, Any] = {
            "do": "load", "sheets": 1, "print": {"name": "print.yaml", "text": TWELVE},
            "paper": {"name": "paper.yaml", "text": PAPER.read_text()},
        }  # fmt: skip
        match self._pick.randrange(5):
            case 0:
                load["sheets"] = self._pick.choice((0, -1, 1e9, "1", None, [], True, 10**25))
            case 1:
                load["paper"] = self._pick.choice((None, "x", {}, {"name": "x", "text": 7}))
            case 2:
                load["print"]["text"] = "\x1b[31m" + TWELVE
            case 3:
                load["print"]["text"] = TWELVE.replace("green", "\\e[2Jgreen\u202e") + "and: more\n"
            case _:
                load["print"]["text"] = TWELVE[: self._pick.randrange(len(TWELVE) // 2)] + "\n&a [*a"
        return load

    def _bad_load(self) -> None:
        self._say(json.dumps(self._load()).encode())

    def _mutated(self) -> None:
        """A good request with bytes of it gone, changed or added; never one that is still a good load."""
        raw = bytearray(json.dumps(self._good()).encode())
        for _ in range(self._pick.choice((1, 1, 2, 8))):
            at = self._pick.randrange(len(raw))
            match self._pick.randrange(3):
                case 0:
                    raw[at] = self._pick.randrange(256)
                case 1:
                    del raw[at : at + self._pick.randrange(4)]
                case _:
                    raw[at:at] = self._pick.randbytes(3)
        self._say(bytes(raw))

    def _keepers(self) -> None:
        """What the daemon says to its keeper: never taken from anybody else."""
        expose = {
            "do": "expose", "burst": 1, "light": "green", "at": 0, "seconds": 5, "cut_on": ["go", "end"],
            "while_down": None, "safelight": None, "seen": 0, "view": self._pick.random() < 0.5,
        }  # fmt: skip
        self._say(
            json.dumps(self._pick.choice((expose, {"do": "renew"}, {"do": "cut"}, {"is": "lit", "burst": 1}))).encode()
        )

    def _harmless(self) -> None:
        good = [{"do": self._pick.choice(("status", "plan", "bench", "clear", "dark"))} for _ in range(12)]
        self._say(*(json.dumps(one).encode() for one in good))

    def _half(self) -> None:
        """A request that is begun and never ended; it is left open."""
        self.sent += 1
        whole = json.dumps(self._good()).encode()
        with contextlib.suppress(OSError):
            self._connect().send(whole[: self._pick.randrange(len(whole))])

    def _flood(self) -> None:
        self._say(*[b'{"do": "status"}'] * 300)

    def _deaf(self) -> None:
        """Follows, asks for much, and reads nothing."""
        end = self._connect()
        self.sent += 100
        with contextlib.suppress(OSError):
            end.send(b'{"do": "follow"}\n' + b'{"do": "plan"}\n' * 99)

    def _files_along(self) -> None:
        end = self._connect()
        self.sent += 1
        files = array.array("i", [end.fileno()] * 10)
        with contextlib.suppress(OSError):
            end.sendmsg([b'{"do": "status"}\n'], [(socket.SOL_SOCKET, socket.SCM_RIGHTS, files)])

    def _come_and_go(self) -> None:
        """More at once than are taken in, each with a word, and gone."""
        self.close()
        for _ in range(12):
            end = self._connect()
            self.sent += 1
            with contextlib.suppress(OSError):
                end.send(self._pick.choice((b"x\n", b'{"do": "status"}\n', b"\n", b"\x00")))
        self.close()

    def _too_long(self) -> None:
        end = self._connect()
        self.sent += 1
        with contextlib.suppress(OSError):
            end.sendall(b'{"do": "load", "x": "' + b"y" * (LONGEST_REQUEST + 100_000))


def standing(served: Served) -> dict[str, Any]:
    """What must not change, as the daemon tells it now; it must tell."""
    status = ask(served.run, {"do": "status"}, LIMIT_S)
    return {key: status[key] for key in SAME}


def talk(served: Served, hostile: Hostile, messages: int, every: int) -> None:
    """Talk, and see in between that the daemon stands as before, both processes live, and no lamp was ever lit."""
    before = standing(served)
    assert served.daemon is not None
    keeper = served.keeper_pid
    end = hostile.sent + messages
    while hostile.sent < end:
        hostile.send(min(every, end - hostile.sent))
        hostile.close()
        assert standing(served) == before
        assert served.daemon.poll() is None and served.keeper_pid == keeper
        os.kill(keeper, 0)
        assert [edge for edge in served.truth() if edge["line"] != "safelight"] == []
