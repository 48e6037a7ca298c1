"""The lamp guard's rules: what it sees comes in, what it lets through goes out.

It stands between the computer and the relay drivers. A light is passed only while one light alone is asked for and the
heartbeat goes on, and never longer than its limit; anything else is a fault, and a fault is dark until the button has
been pressed. Nothing here reads a clock or a pin: `main.py` does. Plain Python that MicroPython runs too; no step
makes anything new on the heap, so that the guard never stops to tidy up.

Times are whole microseconds. A set of lights is a number: 1 the first, 2 the second, 4 the third, 3 the first two.
"""

SETTLE_US = 1_000
"""What is asked for counts once it has stood for this long: on and off alike, so that no dose changes."""
UNSTEADY_US = 5_000
"""What is asked for must come to rest within this long, or nobody knows what is wanted."""
EDGE_EARNS_US = 10_000
"""Each edge of the heartbeat is good for this long; at 500 edges a second it earns five times what passes."""
EARNED_AT_MOST_US = 100_000
"""So many in hand at most: without an edge the heartbeat is believed for this long at most."""
ALIVE_AT_US = 80_000
"""So many in hand and the heartbeat is believed; none, and it is not."""
TOO_CLOSE_US = 500
"""An edge sooner than this after the last earns nothing: it is noise."""
STEP_AT_MOST_US = 50_000
"""The rules must be asked at least this often, or whoever asks them has stood still."""
PRESSED_US = 20_000
"""The button counts once it has stood for this long."""

TWO_ASKED, NO_HEARTBEAT, TOO_LONG, UNSTEADY, STOOD_STILL, STARTED_AGAIN = 1, 2, 3, 4, 5, 6
"""Faults, by the number of times that the LED blinks."""

BLINK_US = 300_000
"""How long a blink is, and as long the dark after it; three times as long between two rounds."""


class Guard:
    """One guard. `longest_us` gives each light its limit; `fault` is what it begins with, 0 for none.

    After each `step`: `passed` is the set of lights to let through (none or one), `master` whether the master relay
    is to be pulled in, `fault` why nothing is, `led` whether the LED is lit.
    """

    def __init__(self, longest_us, fault=0):
        self._longest_us = tuple(longest_us)
        self.passed = 0
        self.master = False
        self.fault = fault
        self.led = False
        self._asked = 0  # as it counts
        self._seen = 0  # as it was at the last step
        self._seen_us = 0
        self._restless_us = 0
        self._beat = 0
        self._since_edge_us = 0
        self._earned_us = 0
        self._alive = False
        self._lit_us = 0
        self._button_up = False  # seen up since the fault began, so that a button that sticks clears nothing
        self._pressed = False
        self._button_us = 0
        self._blinking_us = 0

    def step(self, us, asked, beat, pressed):
        """`us` have passed since the last step; now `asked` is asked for, the heartbeat's level is `beat` (0 or 1), and
        the button is `pressed` or not."""
        steady_us = us
        if us < 0 or us > STEP_AT_MOST_US:
            # Nobody knows how long it was: long for what must end in time, no time at all for what must have stood.
            self._fail(STOOD_STILL)
            us, steady_us = STEP_AT_MOST_US, 0
        self._hear(us, beat)
        self._ask(steady_us, asked)
        if self.passed:
            self._lit_us += us
            if not self._alive:
                self._fail(NO_HEARTBEAT)
            elif self._lit_us > self._limit_us(self.passed):
                self._fail(TOO_LONG)
        self._press(steady_us, pressed)
        self.master = self._alive and not self.fault
        self._show(us)

    def _hear(self, us, beat):
        self._earned_us = max(0, self._earned_us - us)
        self._since_edge_us = min(self._since_edge_us + us, STEP_AT_MOST_US)
        if beat != self._beat:
            self._beat = beat
            if self._since_edge_us >= TOO_CLOSE_US:
                self._earned_us = min(EARNED_AT_MOST_US, self._earned_us + EDGE_EARNS_US)
            self._since_edge_us = 0
        if self._earned_us == 0:
            self._alive = False
        elif self._earned_us >= ALIVE_AT_US:
            self._alive = True

    def _ask(self, us, asked):
        was_at_rest = self._seen_us >= SETTLE_US
        self._seen_us = min(self._seen_us + us, SETTLE_US) if asked == self._seen else 0
        self._seen = asked
        if self._seen_us < SETTLE_US:
            self._restless_us = 0 if was_at_rest else self._restless_us + us
            if self._restless_us > UNSTEADY_US:
                self._restless_us = 0
                self._fail(UNSTEADY)
            return
        if asked == self._asked:
            return
        before, self._asked = self._asked, asked
        self.passed = 0
        if asked == 0:
            return
        # From dark, and one alone: from one light to another there must be dark between.
        if before or asked & (asked - 1) or asked >> len(self._longest_us):
            self._fail(TWO_ASKED)
        elif not self._alive:
            self._fail(NO_HEARTBEAT)
        elif not self.fault:
            self.passed = asked
            self._lit_us = 0

    def _limit_us(self, light):
        i = 0
        while light > 1:
            light >>= 1
            i += 1
        return self._longest_us[i]

    def _fail(self, fault):
        self.passed = 0
        if not self.fault:
            self.fault = fault
            self._button_up = False
            self._blinking_us = 0

    def _press(self, us, pressed):
        if pressed != self._pressed:
            self._pressed = pressed
            self._button_us = 0
            return
        self._button_us = min(self._button_us + us, PRESSED_US)
        if not self.fault or self._button_us < PRESSED_US:
            return
        if not pressed:
            self._button_up = True
        elif self._button_up and self._seen == 0:
            self.fault = 0
            self._earned_us = 0  # the heartbeat must show itself anew
            self._alive = False

    def _show(self, us):
        if not self.fault:
            self.led = False
            return
        # A round: on and off for each blink, then two more times as long in the dark.
        round_us = (2 * self.fault + 2) * BLINK_US
        self._blinking_us = (self._blinking_us + us) % round_us
        blink = self._blinking_us // BLINK_US
        self.led = blink % 2 == 0 and blink < 2 * self.fault
