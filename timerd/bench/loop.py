"""The keeper's process: waits, spins over the last two milliseconds, and does what the rules say with the lines.

Run by the daemon with one end of a socket pair: `python -m timerd.bench.loop FD RUN`. The first datagram says what is
told once (`wire.keeper.KeepBench`). Nothing of timerd is imported here but the keeper's own modules.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import gc
import math
import os
import select
import signal
import socket
import sys
import time
from collections import deque
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

from timerd.bench.chip import ChipPedals
from timerd.bench.holding import Holding
from timerd.bench.keeper import LINE_NOT_LOW, SAFELIGHT, Keeper
from timerd.bench.lines import LAMP, GpioLines, Lines, LinesError, chip_of_the_pins, device_of, open_factory
from timerd.bench.note import Note, Noted, read_note
from timerd.bench.pedals import GpioPedals, LostPedals, PedalInput, ReadPedals
from timerd.bench.pretended import PretendedLines, PretendedPedals, PretendedSenses
from timerd.bench.settling import settle
from timerd.bench.usb import LOOK_EVERY_S, UsbPedals
from timerd.wire import keeper as wire
from timerd.wire.codec import json_object, read_as
from timerd.wire.keeper import FROM_KEEPER

EARLY_S = 0.002
"""An edge of light is woken for so early, and then waited for by spinning."""
QUIET_S = 0.0002
"""Over the last of it nothing is done but to look at the clock and the pedals."""
CLEAR_OF_EDGE_S = 0.25
"""So near to a lamp's edge nobody looks round for what was plugged in: opening a device may take a moment."""
BEAT_S = 0.002
"""The heartbeat toggles this often from the acceptance of a burst until dark."""
PRIORITY = 50
STACK = 512 * 1024
"""Bytes for each thread but the first."""
MOST_FOR_NOTHING = 1_000
"""Feet that are ready so often in a second and have nothing to say are watched no more."""
MOST_UNSENT = 20_000
"""Reports kept for a daemon that does not listen; one that is so far behind counts as gone."""
HERE = FROM_KEEPER.encode(wire.Here())
"""The answer to any message."""
FAILED = "keeper failed"
NOTHING_YET = "nothing lit yet"
"""The note of a keeper that nobody has asked for a light: so a daemon that dies now knows that none was."""
TIDY_EVERY = 2_000
FREE_WITHIN_S = 2.0
"""A last off that is at work has given the lines back in this time."""
NO_REAL_TIME = "TIMERD_NO_REAL_TIME"
"""Set in the environment, to measure what real-time scheduling is good for."""


def main(descriptor: int, folder: Path) -> int:
    """Keep the lines until the pipe closes or a signal says to stop."""
    pipe = socket.socket(fileno=descriptor)
    if not (first := pipe.recv(1 << 20)):
        return 1  # the daemon has gone already
    told = read_as(wire.KeepBench, json_object(first))
    scheduling = _real_time()
    pipe.setblocking(False)
    try:
        holding = Holding(folder, FREE_WITHIN_S)
        keeping = _Keeping(pipe, told, folder)
    except (LinesError, OSError) as error:
        why = str(error)
        if isinstance(error, OSError) and error.strerror:
            why = f"{error.filename or folder}: {error.strerror}"
        pipe.send(FROM_KEEPER.encode(wire.LacksLines(why)))
        return 1
    for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
        signal.signal(number, lambda *_: keeping.stop())
    pipe.send(FROM_KEEPER.encode(wire.HasLines(scheduling, keeping.factory, keeping.chip)))
    gc.collect()
    gc.freeze()
    gc.disable()
    try:
        keeping.run()
    finally:
        keeping.close()
        holding.close()
    return 0


def _real_time() -> str:
    """Raise this process over all others where that is allowed, and keep its memory; what came of it, in words."""
    words = []
    if os.environ.get(NO_REAL_TIME):
        words.append(f"NOT real time ({NO_REAL_TIME} is set)")
    else:
        try:
            os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(PRIORITY))
            words.append("real time")
        except OSError as error:
            words.append(f"NOT real time ({error.strerror}: this user needs the right rtprio {PRIORITY})")
    mcl_current, mcl_future = 1, 2
    libc = ctypes.CDLL(None, use_errno=True)
    _small_stacks(libc)
    if libc.mlockall(mcl_current | mcl_future) == 0:
        words.append("memory locked")
    else:
        words.append(f"memory NOT locked ({os.strerror(ctypes.get_errno())}: this user needs the right memlock)")
    return ", ".join(words)


def _small_stacks(libc: ctypes.CDLL) -> None:
    """The pin library's threads get stacks of the size that they need: locked memory is taken whole, 8 MB a thread."""
    attributes = ctypes.create_string_buffer(256)
    with contextlib.suppress(AttributeError):  # a C library without this call has small stacks of its own
        libc.pthread_attr_init(attributes)
        libc.pthread_attr_setstacksize(attributes, ctypes.c_size_t(STACK))
        libc.pthread_setattr_default_np(attributes)


class _Keeping:
    """Lines, pedals, pipe and note, and the keeper's rules between them."""

    def __init__(self, pipe: socket.socket, told: wire.KeepBench, folder: Path) -> None:
        setup = told.rules
        self._pipe = pipe
        self._book, self._boot = told.book, told.boot
        self._unsent: deque[bytes] = deque()
        self._edges: deque[tuple[str, bool, float]] = deque()
        self._bell = os.eventfd(0, os.EFD_NONBLOCK | os.EFD_CLOEXEC)
        self._stopping = False
        self._noted: Noted | None = None
        self._written_at = {True: 0.0, False: 0.0}
        self._beat_at = 0.0
        self._high = False
        self._untidy = 0
        outputs, contacts = told.wiring["outputs"], told.wiring["contacts"]
        self._feet: list[ReadPedals] = []
        """Those that are read here; those of a pin library come by the bell."""
        self._for_nothing: dict[ReadPedals, tuple[float, int]] = {}
        self._pedal_names = setup.pedals
        self._look_at = math.inf
        self._seen: PretendedSenses | None = None
        self._pedals: dict[str, PedalInput] = {}
        self._lines: Lines
        self._lamps = frozenset(line for line in outputs if line.startswith(LAMP))
        self.chip: int | None = None
        """The number of the chip that the pins are lines of, where it is known."""
        if told.simulated:
            self.factory = "simulated"
            self._lines = PretendedLines(outputs, folder)
            self._read_here(contacts, PretendedPedals(contacts, folder))
            self._seen = PretendedSenses(self._lines, setup.senses, folder)
            self._pedals.update(dict.fromkeys(setup.senses.values(), self._seen))
        else:
            self.factory = open_factory(folder)
            self.chip = chip_of_the_pins()
            self._lines = GpioLines(outputs)
            self._claim(contacts)
        self._note = Note(folder)
        noted = read_note(folder)
        if noted is None or noted.boot != self._boot:  # else it may still be read by a daemon whose keeper died
            now = time.monotonic()
            self._note.write(Noted(self._book, self._boot, 0, now, None, now, NOTHING_YET))
        for line in self._lines.read():
            self._lines.write(line, line == SAFELIGHT)
        found_down = [name for name in setup.pedals if self._pedals[name].down(name)]
        self._missing = self._missing_now()
        self._keeper = Keeper(setup, time.monotonic(), found_down, self._missing)
        for name in set(setup.senses.values()):
            self._keeper.edge(name, self._pedals[name].down(name), time.monotonic(), time.monotonic())
        self._readers: list[Any] = [pipe, self._bell, *self._feet]
        self._poll = select.poll()
        for reader in self._readers:
            self._poll.register(reader, select.POLLIN)

    def _claim(self, contacts: dict[str, Any]) -> None:
        """Take the real contacts in hand: those on pins, and those on USB foot switches."""
        usb = {name: contact for name, contact in contacts.items() if "usb" in contact}
        pins = {name: contact for name, contact in contacts.items() if "usb" not in contact}
        if pins and self.chip is not None:
            self._read_here(pins, ChipPedals(pins, device_of(self.chip)))
        elif pins:
            self._pedals.update(dict.fromkeys(pins, GpioPedals(pins, self._edge)))
        if usb:
            self._read_here(usb, UsbPedals(usb))
            self._look_at = time.monotonic() + LOOK_EVERY_S

    def _read_here(self, contacts: Iterable[str], pedals: ReadPedals) -> None:
        self._feet.append(pedals)
        self._pedals.update(dict.fromkeys(contacts, pedals))

    def _missing_now(self) -> dict[str, str]:
        missing = {name: why for feet in set(self._pedals.values()) for name, why in feet.missing.items()}
        return {name: missing[name] for name in self._pedal_names if name in missing}

    def _look_after_plugs(self) -> None:
        """Tell the rules what was unplugged since, and what was plugged in."""
        was, self._missing = self._missing, self._missing_now()
        for name, why in self._missing.items():
            if was.get(name) != why:
                self._keeper.unplugged(name, why, time.monotonic())
        for name in was.keys() - self._missing.keys():
            self._keeper.plugged_in(name, self._pedals[name].down(name), time.monotonic())

    def _look_round(self, now: float) -> None:
        """See what was plugged in: not shortly before a lamp's edge."""
        edge = self._keeper.lamp_edge
        self._look_at = now + LOOK_EVERY_S
        if edge is None or edge - now > CLEAR_OF_EDGE_S:
            for feet in self._feet:
                feet.look_round()
            self._look_after_plugs()

    def _edge(self, name: str, down: bool, at: float) -> None:
        """Called by the pins' own thread: only put down what happened, and ring."""
        self._edges.append((name, down, at))
        os.eventfd_write(self._bell, 1)

    def stop(self) -> None:
        """Darken and end; called by a signal."""
        self._stopping = True
        os.eventfd_write(self._bell, 1)

    def run(self) -> None:
        """Until closed: everything of the moment is done before anything is waited for."""
        keeper = self._keeper
        while True:
            self._settle()
            if keeper.is_closed:
                return
            due = keeper.next_wake
            now = time.monotonic()
            if now >= self._look_at:
                self._look_round(now)
                continue
            wait = None if due is None else due - EARLY_S - now
            if keeper.beating:
                beat = self._beat_at + BEAT_S - now
                wait = beat if wait is None else min(beat, wait)
            elif self._untidy > TIDY_EVERY and not keeper.busy:
                self._untidy = 0
                gc.collect()
            if self._look_at < math.inf:
                wait = self._look_at - now if wait is None else min(wait, self._look_at - now)
            writers = [self._pipe] if self._unsent else []
            ready = select.select(self._readers, writers, [], None if wait is None else max(0.0, wait))[0]
            if ready:
                self._hear(ready)
            now = time.monotonic()
            if keeper.beating and now >= self._beat_at + BEAT_S:
                self._high = not self._high
                self._lines.beat(self._high)
                self._beat_at = now
                self._note.alive(now)
                self._wake(now, time.clock_gettime(time.CLOCK_BOOTTIME))
                continue
            if ready or due is None or due - now > EARLY_S:
                continue
            while (now := time.monotonic()) < due:
                if due - now > QUIET_S:  # what is to be done then is gone through now, so that it is at hand
                    self._wake(now)
                    self._settle()
                if self._poll.poll(0):
                    self._hear(select.select(self._readers, [], [], 0)[0])
                    break
            else:
                self._wake(now)

    def _wake(self, now: float, second: float | None = None) -> None:
        self._read_contacts(now)
        self._keeper.wake(now, second)

    def _read_contacts(self, now: float) -> None:
        """The contacts whose lock-out is over are read before the rules go on."""
        for name in self._keeper.to_read(now):
            try:
                self._keeper.level(name, self._pedals[name].down(name), now)
            except OSError as error:
                self._lose(self._pedals[name], error)

    def _hear(self, ready: list[Any]) -> None:
        """Take in all that has come: feet first, and what they darken is dark before the daemon is listened to."""
        keeper = self._keeper
        self._untidy += 1
        if moved := [feet for feet in self._feet if feet in ready]:
            edges = [edge for feet in moved for edge in self._heard(feet)]
            for name, down, at in sorted(edges, key=lambda edge: edge[2]):
                keeper.edge(name, down, at, time.monotonic())
            self._look_after_plugs()
        if self._bell in ready:
            try:
                os.eventfd_read(self._bell)
            except BlockingIOError:
                pass
            except OSError:  # no pedal of a pin library could be heard any more
                keeper.closed(time.monotonic(), FAILED)
            for _ in range(len(self._edges)):  # those that come meanwhile have their turn after the lines had theirs
                name, down, at = self._edges.popleft()
                keeper.edge(name, down, at, time.monotonic())
        if self._stopping:
            keeper.closed(time.monotonic(), "keeper stopped")
        self._settle()
        if self._pipe not in ready:
            return
        try:
            datagram = self._pipe.recv(1 << 16)
        except BlockingIOError:
            return
        except OSError:
            datagram = b""
        if datagram:
            now = time.monotonic()
            self._read_contacts(now)
            keeper.receive(datagram, now)
            # Whether or not anything depends on it: as long as a disk keeps the daemon from hearing that the safelight
            # is lit again it believes so, and takes silence for a keeper that hangs.
            self._unsent.append(HERE)
        else:
            keeper.closed(time.monotonic())

    def _heard(self, feet: ReadPedals) -> list[tuple[str, bool, float]]:
        """What feet have done. Whoever reports its end, or without end that there is something where there is nothing,
        would keep the loop busy for ever, over all other programs: it is watched no more."""
        now = time.monotonic()
        since, times = self._for_nothing.get(feet, (now, 0))
        try:
            edges = feet.heard()
            fresh = bool(edges) or now > since + 1.0
            self._for_nothing[feet] = (now, 0) if fresh else (since, times + 1)
            if not fresh and times >= MOST_FOR_NOTHING:
                raise OSError(errno.EIO, "they are ready without end, and have nothing to say")
        except OSError as error:
            self._lose(feet, error)
            return []
        return edges

    def _lose(self, pedals: PedalInput, error: OSError) -> None:
        """Pedals that can no longer be read: the rules are told, and nobody looks at them again."""
        names = [name for name, other in self._pedals.items() if other is pedals]
        self._pedals.update(dict.fromkeys(names, LostPedals(names, error.strerror or str(error))))
        for feet in [feet for feet in self._feet if feet is pedals]:
            self._feet.remove(feet)
            self._readers.remove(feet)
            self._poll.unregister(feet)
        with contextlib.suppress(OSError):
            pedals.close()
        now = time.monotonic()
        for name in set(names) - set(self._pedal_names):  # a sense input that sees nothing
            self._keeper.edge(name, False, now, now)
        self._look_after_plugs()

    def _settle(self) -> None:
        """Do to the lines what the rules want done, let them be read, and pass the reports on."""
        keeper = self._keeper
        while True:
            asked = keeper.asked
            if asked is not None and (self._noted is None or self._noted.burst != asked.burst):
                self._put_down(Noted(self._book, self._boot, asked.burst, asked.at, None, None, None))
            settle(keeper, self._drive, self._lines.read, time.monotonic, self._report)
            self._send()
            if not keeper.wants_reading:  # else the daemon was given up just now, and all must go dark
                return

    def _drive(self, line: str, lit: bool) -> None:
        keeper = self._keeper
        lamp = line in self._lamps
        if lamp:
            (self._note.going_lit if lit else self._note.going_dark)(time.monotonic())
        self._lines.write(line, lit)
        if self._seen is not None and (name := self._seen.of(line)) is not None:
            keeper.edge(name, self._seen.down(name), time.monotonic(), time.monotonic())
        if lamp:
            self._written_at[lit] = time.monotonic()
        if lamp and lit:
            keeper.came_on(self._written_at[True])

    def _report(self, report: wire.Report) -> None:
        """Note how the burst at hand goes, and have it told: when the line had been written, not when that was
        decided."""
        noted = self._noted
        if isinstance(report, wire.Lit):
            report = wire.Lit(report.burst, max(report.at, self._written_at[True]))
            if noted is not None and noted.burst == report.burst:
                self._put_down(noted._replace(lit=report.at))
        elif isinstance(report, wire.Dark):
            if report.why != LINE_NOT_LOW:
                report = replace(report, at=max(report.at, self._written_at[False]))
            if noted is not None and noted.burst == report.burst:
                self._put_down(noted._replace(dark=report.at, why=report.why))
        self._unsent.append(FROM_KEEPER.encode(report))

    def _put_down(self, noted: Noted) -> None:
        self._noted = noted
        self._note.alive(time.monotonic())
        self._note.write(noted)

    def _send(self) -> None:
        """Pass reports on as far as the daemon listens: it must never hold the lines up."""
        while self._unsent:
            try:
                self._pipe.send(self._unsent[0])
            except BlockingIOError:
                if len(self._unsent) > MOST_UNSENT:
                    self._keeper.closed(time.monotonic())
                    self._unsent.clear()
                return
            except OSError:  # the daemon is gone; the pipe tells of it in its own turn
                self._unsent.clear()
                return
            self._unsent.popleft()

    def close(self) -> None:
        """Everything at rest, the lines given back; if a burst was under way after all, that it is over."""
        try:
            self._lines.close()
        finally:
            noted = self._noted
            if noted is not None and noted.dark is None:
                self._put_down(noted._replace(dark=time.monotonic(), why=FAILED))
            for pedals in {id(pedals): pedals for pedals in self._pedals.values()}.values():
                pedals.close()


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), Path(sys.argv[2]).resolve()))
