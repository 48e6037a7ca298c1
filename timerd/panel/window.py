"""The window, or the whole display: nothing but shades of red is ever put on it."""

from __future__ import annotations

import os
import sys

import pygame

from timerd.panel.palette import palette

_KEYS = {
    pygame.K_PLUS: "brighter", pygame.K_KP_PLUS: "brighter", pygame.K_EQUALS: "brighter", pygame.K_UP: "brighter",
    pygame.K_MINUS: "dimmer", pygame.K_KP_MINUS: "dimmer", pygame.K_DOWN: "dimmer",
    pygame.K_m: "map", pygame.K_q: "quit", pygame.K_ESCAPE: "quit", pygame.K_g: "go", pygame.K_e: "end",
}  # fmt: skip
_SEEN_BY_NOBODY = ("dummy", "offscreen")


class NoDisplay(OSError):
    """No display can be opened."""


class Window:
    """A window of so many pixels, or with no size the whole display. Its cursor is hidden, its first picture black.

    NoDisplay where there is none.
    """

    def __init__(self, size: tuple[int, int] | None) -> None:
        chosen = os.environ.get("SDL_VIDEODRIVER", "")
        if not chosen and sys.platform == "linux" and not {"DISPLAY", "WAYLAND_DISPLAY"} & os.environ.keys():
            os.environ["SDL_VIDEODRIVER"] = "kmsdrm"  # the console; any other would only look for a desk
        try:
            pygame.display.init()
            if pygame.display.get_driver() in _SEEN_BY_NOBODY and pygame.display.get_driver() != chosen:
                raise pygame.error("no display was found")
            if pygame.display.get_driver() == "x11":
                # Else every frame goes through a texture: three times the work, where no graphics card does it.
                os.environ.setdefault("SDL_FRAMEBUFFER_ACCELERATION", "0")
            flags = pygame.FULLSCREEN if size is None else 0
            self._surface = pygame.display.set_mode(size or (0, 0), flags)
        except pygame.error as error:
            pygame.display.quit()
            raise NoDisplay(
                f"the panel finds no display ({error}): start it from a desktop; for a Raspberry Pi's console see "
                "timerd help screen"
            ) from None
        finally:
            if not chosen:
                os.environ.pop("SDL_VIDEODRIVER", None)
        self._surface.fill((0, 0, 0))
        pygame.display.flip()
        pygame.mouse.set_visible(False)
        pygame.display.set_caption("timerd")
        self.size = (self._surface.get_width(), self._surface.get_height())

    def show(self, canvas: pygame.Surface, brightness: float) -> None:
        """Put a picture in levels on the display, as bright as told (0 to 1)."""
        # A copy gets the dimmer palette: a canvas whose palette changes has every text's colours matched anew.
        levels = pygame.image.frombuffer(pygame.image.tobytes(canvas, "P"), canvas.get_size(), "P")
        levels.set_palette(palette(brightness))
        self._surface.blit(levels, (0, 0))
        pygame.display.flip()

    def presses(self) -> list[tuple[str, bool]]:
        """What was pressed (True) and let up since last asked: `brighter`, `dimmer`, `map`, `quit`, `go`, `end`."""
        found = []
        for event in pygame.event.get():
            if event.type == pygame.QUIT:
                found.append(("quit", True))
            elif event.type in (pygame.KEYDOWN, pygame.KEYUP) and event.key in _KEYS:
                found.append((_KEYS[event.key], event.type == pygame.KEYDOWN))
        return found

    def close(self) -> None:
        """Give the display back."""
        pygame.display.quit()
