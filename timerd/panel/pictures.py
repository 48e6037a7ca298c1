"""A picture of every state and size, from made-up statuses: to look at, to show, and to test against."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

import pygame

from timerd.inplace import placed
from timerd.panel.drawing import Painter
from timerd.panel.shown import Shown

SIZES = ((800, 480), (1024, 600), (1280, 800), (1920, 1080))
"""The sizes of which pictures are made: of small screens, and of those on desks."""


def draw_pictures(
    shown: Mapping[str, Shown], folder: Path, sizes: tuple[tuple[int, int], ...], over: bool
) -> Iterator[Path]:
    """Draw every screen in every size into a folder, as PNG files at full brightness; each is told when it is there.

    A picture that is there already is a FileExistsError, and nothing is drawn, unless `over` says to write over it.
    """
    names = {(name, size): folder / f"{name}-{size[0]}x{size[1]}.png" for size in sizes for name in shown}
    there = [path for path in names.values() if path.exists()]
    if there and not over:
        raise FileExistsError(f"{there[0]} is there already: choose another folder, or say --force")
    folder.mkdir(parents=True, exist_ok=True)
    for size in sizes:
        painter = Painter(size)
        for name, screen in shown.items():
            painter.draw(screen)
            path = names[name, size]
            with placed(path, over) as beside, beside.open("wb") as file:
                pygame.image.save(painter.canvas, file, ".png")
            yield path
