"""The panel's own round: follow the daemon, look at the keys, and draw what has changed, 15 times a second at most."""

from __future__ import annotations

import time
from collections.abc import Callable

from timerd.panel.drawing import Painter
from timerd.panel.following import Connection, Following
from timerd.panel.shown import Shown
from timerd.panel.view import lost, view
from timerd.panel.window import Window

FRAME_S = 1 / 15
FIRST_WORD_S = 1.0
"""How long the daemon is waited for before the window opens, since its bench says how large the window is."""
BRIGHTNESS = 0.6
"""Until a bench tells another."""
_STEP = 1.25
_DIMMEST = 0.05

Foot = Callable[[str, bool], None]
Hear = Callable[[Following, float], None]


class Panel:
    """A panel over a connection. `foot` gets the keys `g` (go) and `e` (end) as presses, where there is a simulated
    bench to take them; `hear` is called in every round with what the daemon last told, for what makes sound."""

    def __init__(
        self, connect: Callable[[], Connection], foot: Foot | None = None, hear: Hear | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:  # fmt: skip
        self.following = Following(connect)
        self.brightness: float | None = None
        self.map_called = False
        self._foot = foot
        self._hear = hear
        self._clock = clock
        self._visit: object = None
        self._drawn: tuple[Shown, float] | None = None
        self._drawn_at = float("-inf")

    def run(self, size: tuple[int, int] | None, whole_display: bool) -> None:
        """Open the window (of this size, else as the bench says; with neither the whole display) and go round until
        the quit key. NoDisplay where no window can be opened."""
        started = self._clock()
        while self.following.bench is None and self._clock() < started + FIRST_WORD_S:
            self.following.poll(self._clock())
            self.following.wait(0.05)
        bench = self.following.bench
        if size is None and not whole_display and bench is not None and bench.screen.size is not None:
            size = (bench.screen.size[0], bench.screen.size[1])
        window = Window(size)
        painter = Painter(window.size)
        try:
            while self.turn(window, painter):
                self.following.wait(self.rest())
        finally:
            self.following.close()
            window.close()

    def rest(self) -> float:
        """How long until the next frame may be drawn."""
        return max(0.0, min(FRAME_S, self._drawn_at + FRAME_S - self._clock()))

    def turn(self, window: Window, painter: Painter) -> bool:
        """One round; False when the quit key was pressed."""
        now = self._clock()
        self.following.poll(now)
        if self._hear is not None:
            self._hear(self.following, now)
        for key, down in window.presses():
            if key == "quit":
                return False
            self._key(key, down)
        if now >= self._drawn_at + FRAME_S - 1e-6:
            wanted = (self.shown(now), self._brightness())
            if wanted != self._drawn:
                painter.draw(wanted[0])
                window.show(painter.canvas, wanted[1])
                self._drawn = wanted
            self._drawn_at = now
        return True

    def shown(self, now: float) -> Shown:
        """The screen as it should be now. The map that was called goes when the state changes."""
        following = self.following
        if following.status is None:
            return lost(following.why)
        visit = following.status.since.number
        if visit != self._visit:
            self._visit, self.map_called = visit, False
        try:
            return view(following.status, following.plan, following.bench, now, self.map_called)
        except ValueError as error:
            return lost(f"It tells what this panel does not know ({error}): are both of one version?")

    def _brightness(self) -> float:
        if self.brightness is not None:
            return self.brightness
        bench = self.following.bench
        return BRIGHTNESS if bench is None else bench.screen.brightness

    def _key(self, key: str, down: bool) -> None:
        if key in ("go", "end"):
            if self._foot is not None:
                self._foot(key, down)
        elif not down:
            return
        elif key == "map":
            self.map_called = not self.map_called
        elif key == "brighter":
            self.brightness = min(1.0, self._brightness() * _STEP)
        elif key == "dimmer":
            self.brightness = max(_DIMMEST, self._brightness() / _STEP)
