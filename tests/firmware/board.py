"""A board that is not there, for firmware/guard/main.py: pins, clock and watchdog, each turn of the loop 300 us long.
CPython and MicroPython run this same file."""

import sys

TURN_US = 300
PERIOD_US = 1 << 30
"""MicroPython's microseconds start again from nought here, on a board with 32 bits."""


class End(Exception):
    """The play is over."""


class Board:
    """A play: `events` are (at_us, pin, level), in order; the heartbeat toggles every `half_us` from `beats[0]` to
    `beats[1]`. What the outputs did is in `edges`, as (at_us, pin, level)."""

    def __init__(self, events, beats, end_us, heartbeat, half_us=2000, watchdog_reset=False, break_at_us=None):
        self.events = list(events)
        self.beats = beats
        self.end_us = end_us
        self.heartbeat = heartbeat
        self.half_us = half_us
        self.watchdog_reset = watchdog_reset
        self.break_at_us = break_at_us
        self.us = 0
        self.started_us = PERIOD_US - 70_000  # the clock starts again within each play
        self.levels = {}
        self.modes = {}
        self.edges = []
        self.fed = []
        self.watchdog_ms = None

    def turn(self):
        self.us += TURN_US
        if self.us > self.end_us:
            raise End()
        while self.events and self.events[0][0] <= self.us:
            _, pin, level = self.events.pop(0)
            self.levels[pin] = level
        start, end = self.beats
        if start <= self.us < end:
            self.levels[self.heartbeat] = (self.us - start) // self.half_us % 2
        return (self.started_us + self.us) % PERIOD_US

    def read(self, pin):
        if self.break_at_us is not None and self.us >= self.break_at_us:
            raise OSError("a pin cannot be read")
        return self.levels.get(pin, 1 if self.modes[pin] == "in up" else 0)

    def write(self, pin, level):
        if self.levels.get(pin) != level:
            self.edges.append((self.us, pin, level))
        self.levels[pin] = level

    def modules(self):
        """The modules `machine` and `time` of this board."""
        board = self

        class Pin:
            IN, OUT, PULL_DOWN, PULL_UP = "in", "out", "down", "up"

            def __init__(self, number, mode, pull=None, value=None):
                assert number not in board.modes, "a pin is set up once"
                self.number = number
                board.modes[number] = mode if pull is None else mode + " " + pull
                if mode == "out":
                    assert value == 0, "an output starts low"
                    board.write(number, value)

            def value(self, level=None):
                if level is None:
                    return board.read(self.number)
                assert board.modes[self.number] == "out"
                board.write(self.number, level)

        class WDT:
            def __init__(self, timeout):
                board.watchdog_ms = timeout

            def feed(self):
                board.fed.append(board.us)

        class Machine:
            WDT_RESET, PWRON_RESET = 3, 1

            @staticmethod
            def reset_cause():
                return Machine.WDT_RESET if board.watchdog_reset else Machine.PWRON_RESET

        class Time:
            @staticmethod
            def ticks_us():
                return board.turn()

            @staticmethod
            def ticks_diff(a, b):
                return (a - b + PERIOD_US // 2) % PERIOD_US - PERIOD_US // 2

        Machine.Pin, Machine.WDT = Pin, WDT
        return Machine, Time


def play(board):
    """Run main.py on this board to the end of the play; what ended it, by name."""
    machine, clock = board.modules()
    kept = {name: sys.modules.get(name) for name in ("machine", "time", "main")}
    sys.modules["machine"], sys.modules["time"] = machine, clock
    sys.modules.pop("main", None)
    try:
        __import__("main")
    except (End, OSError) as end:
        return type(end).__name__
    finally:
        for name, module in kept.items():
            if module is None:
                sys.modules.pop(name, None)
            else:
                sys.modules[name] = module
