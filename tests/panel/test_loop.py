"""The panel's round on a display that nobody sees: drawn when something changes, 15 times a second at most."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import pygame
import pytest
from panel.screens import all_scenes
from panel.test_following import Daemon

from timerd.panel.drawing import Painter
from timerd.panel.loop import FRAME_S, Panel
from timerd.panel.scenes import NOW
from timerd.panel.window import NoDisplay, Window
from timerd.sheet.status import status_json


class Clock:
    def __init__(self) -> None:
        self.now = NOW

    def __call__(self) -> float:
        return self.now


class Bench:
    """A panel in a window, with a daemon and a clock in the test's hands, and every picture that was shown."""

    def __init__(self, **more: Any) -> None:
        self.clock, self.daemon = Clock(), Daemon()
        self.panel = Panel(self.daemon.connect, clock=self.clock, **more)
        self.window, self.painter = Window((800, 480)), Painter((800, 480))
        self.pictures: list[tuple[float, int, int]] = []
        show = self.window.show

        def shown(canvas: pygame.Surface, brightness: float) -> None:
            show(canvas, brightness)
            surface = pygame.display.get_surface()
            raw = pygame.image.tobytes(surface, "RGB")
            assert not raw[1::3].strip(b"\0") and not raw[2::3].strip(b"\0"), "red alone"
            self.pictures.append((self.clock.now, max(raw[0::3]), 1))

        self.window.show = shown  # type: ignore[method-assign]

    def turn(self, seconds: float = 0.0) -> bool:
        self.clock.now += seconds
        return self.panel.turn(self.window, self.painter)

    def tell(self, name: str, **facts: Any) -> None:
        self.daemon.tell(**{**status_json(all_scenes()[name].status), "plan": None, **facts})

    def key(self, key: int, kind: int = pygame.KEYDOWN) -> None:
        pygame.event.post(pygame.event.Event(kind, key=key))


@pytest.fixture
def hidden(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    yield
    pygame.display.quit()


def test_the_first_picture_is_black_and_the_cursor_hidden(hidden: None) -> None:
    pygame.display.init()
    window = Window((800, 480))
    surface = pygame.display.get_surface()
    assert window.size == (800, 480) and not pygame.image.tobytes(surface, "RGB").strip(b"\0")
    assert not pygame.mouse.get_visible()
    window.close()


def test_it_draws_when_something_changes_and_not_oftener_than_15_times_a_second(hidden: None) -> None:
    bench = Bench()
    bench.turn()
    assert len(bench.pictures) == 1, "that nothing answers is shown at once"
    bench.tell("ready-burn")
    bench.turn(0.01)
    assert len(bench.pictures) == 1, "too soon for another frame"
    assert bench.panel.rest() == pytest.approx(FRAME_S - 0.01)
    bench.turn(FRAME_S)
    assert len(bench.pictures) == 2
    for _ in range(100):
        bench.turn(0.05)
    assert len(bench.pictures) == 2, "nothing changes in ready"
    bench.tell("exposing-card", burst={"burst": 1, "light": "green", "lit": bench.clock.now, "deadline": 1e9})
    for _ in range(100):
        bench.turn(0.01)
    times = [at for at, _, _ in bench.pictures[2:]]
    assert 1 <= len(times) <= 16
    assert all(later - earlier >= FRAME_S - 1e-6 for earlier, later in pairwise(times))


def test_brightness_comes_from_the_bench_and_from_keys(hidden: None) -> None:
    bench = Bench()
    bench.turn()
    assert bench.pictures[-1][1] == round(255 * 0.6)
    told = all_scenes()["idle"].bench.model_dump(mode="json")
    told["screen"]["brightness"] = 0.2
    bench.daemon.tell(**{"is": "bench", "bench": told})
    bench.turn(0.1)
    assert bench.pictures[-1][1] == round(255 * 0.2)
    bench.key(pygame.K_PLUS)
    bench.turn(0.1)
    assert bench.pictures[-1][1] == round(255 * 0.25)
    for _ in range(30):
        bench.key(pygame.K_MINUS)
    bench.turn(0.1)
    assert bench.pictures[-1][1] == round(255 * 0.05), "never wholly dark by a key"
    for _ in range(30):
        bench.key(pygame.K_UP)
    bench.turn(0.1)
    assert bench.pictures[-1][1] == 255


def test_the_map_is_called_and_goes_with_the_state(hidden: None) -> None:
    bench = Bench()
    scene = all_scenes()["ready-burn"]
    assert scene.plan is not None
    bench.turn()
    bench.tell("ready-burn", plan="one")
    bench.daemon.tell(**{"is": "plan", "id": "one", "plan": scene.plan.model_dump(mode="json")})
    bench.turn(0.1)
    bench.key(pygame.K_m)
    bench.key(pygame.K_m, pygame.KEYUP)
    bench.turn(0.1)
    assert bench.panel.shown(bench.clock.now).kind == "map"
    bench.key(pygame.K_m)
    bench.turn(0.1)
    assert bench.panel.shown(bench.clock.now).kind == "steps"
    bench.key(pygame.K_m)
    bench.turn(0.1)
    bench.tell("ready-burn", plan="one", since={"number": 99, "at": NOW})
    bench.turn(0.1)
    assert bench.panel.shown(bench.clock.now).kind == "steps"


def test_what_it_does_not_know_is_said_and_it_goes_on(hidden: None) -> None:
    bench = Bench()
    bench.turn()
    bench.daemon.tell(**{"is": "status", "state": "asleep", "since": {"number": 1}, "plan": None})
    assert bench.turn(0.1)
    assert "of one version" in bench.panel.shown(bench.clock.now).lines[0]
    bench.tell("idle")
    bench.turn(0.1)
    assert bench.panel.shown(bench.clock.now).state == "idle"


def test_keys_are_feet_only_where_they_are_wanted_and_others_hear_every_round(hidden: None) -> None:
    feet: list[tuple[str, bool]] = []
    heard: list[float] = []
    bench = Bench(foot=lambda pedal, down: feet.append((pedal, down)), hear=lambda _, now: heard.append(now))
    for key in (pygame.K_g, pygame.K_e):
        bench.key(key)
        bench.key(key, pygame.KEYUP)
    bench.turn()
    bench.turn(0.01)
    assert feet == [("go", True), ("go", False), ("end", True), ("end", False)]
    assert heard == [NOW, NOW + 0.01]
    deaf = Bench()
    deaf.key(pygame.K_g)
    assert deaf.turn()


def test_quitting_ends_the_round(hidden: None) -> None:
    bench = Bench()
    assert bench.turn()
    bench.key(pygame.K_q)
    assert not bench.turn(0.1)


def test_run_opens_the_window_that_the_bench_wants_and_gives_it_back(
    hidden: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    daemon = Daemon()
    told = all_scenes()["idle"].bench.model_dump(mode="json")
    told["screen"]["size"] = [1024, 600]

    def connect() -> Any:
        end = daemon.connect()
        daemon.tell(**{"is": "bench", "bench": told})
        return end

    opened = []
    panel = Panel(connect, hear=lambda _, now: pygame.event.post(pygame.event.Event(pygame.QUIT)))
    init = Window.__init__

    def opening(self: Window, size: tuple[int, int] | None) -> None:
        init(self, size)
        opened.append((size, self.size))

    monkeypatch.setattr(Window, "__init__", opening)
    panel.run(None, False)
    assert opened == [((1024, 600), (1024, 600))]
    assert not pygame.display.get_init()


def test_without_a_display_there_is_one_clear_line(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER"):
        monkeypatch.delenv(name, raising=False)
    with pytest.raises(NoDisplay) as told:
        Window((800, 480))
    message = str(told.value)
    assert message.startswith("the panel finds no display (") and "timerd help screen" in message
    assert "\n" not in message
