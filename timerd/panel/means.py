"""What there is to show with: the drawing library, the displays it can draw on, the typeface. Nothing is opened."""

from __future__ import annotations

import contextlib
import ctypes
from pathlib import Path
from typing import NamedTuple

import pygame

from timerd.panel.typeface import FILE, font


class Means(NamedTuple):
    """The library and its version, the kinds of display that its SDL knows, and what is wrong with the typeface."""

    library: str
    drivers: tuple[str, ...]
    typeface: str | None


def means() -> Means:
    """Ask the drawing library."""
    name = "pygame-ce" if getattr(pygame, "IS_CE", False) else "pygame"
    trouble = None
    try:
        font(20)
    except (pygame.error, OSError) as error:
        trouble = f"{FILE.name}: {error}"
    return Means(f"{name} {pygame.version.ver}", _drivers(), trouble)


def _drivers() -> tuple[str, ...]:
    """What the SDL that pygame has loaded was built with."""
    with contextlib.suppress(OSError, AttributeError, ValueError):
        maps = Path("/proc/self/maps").read_text().splitlines()
        sdl = ctypes.CDLL(next(line.split()[-1] for line in maps if "libSDL2-2" in line))
        sdl.SDL_GetVideoDriver.restype = ctypes.c_char_p
        return tuple(sdl.SDL_GetVideoDriver(number).decode() for number in range(sdl.SDL_GetNumVideoDrivers()))
    return ()
