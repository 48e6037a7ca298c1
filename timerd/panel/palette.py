"""Red and nothing else: 256 levels that cannot hold green or blue, and their contrast."""

from __future__ import annotations

from functools import lru_cache

BLACK = 0
FAINT = 100
"""What fills the area at hand on the map, so that outlines over it are still seen; never for text."""
FULL = 255
"""Text, figures, bars. A screen is dimmed as a whole, never a text against the others."""

Colour = tuple[int, int, int]


@lru_cache(maxsize=8)
def palette(brightness: float) -> tuple[Colour, ...]:
    """The colours of the 256 levels, as bright as `brightness` (0 to 1, else ValueError) says."""
    if not 0 <= brightness <= 1:
        raise ValueError(f"a screen's brightness lies between 0 and 1; found {brightness!r}")
    return tuple((round(level * brightness), 0, 0) for level in range(256))


def contrast(one: Colour, other: Colour) -> float:
    """How two colours of 0 to 255 stand out from each other: 1 not at all, 21 black on white.

    From the W3C's Web Content Accessibility Guidelines 2.2, "contrast ratio" and "relative luminance".

    >>> round(contrast((119, 119, 119), (255, 255, 255)), 2), contrast((0, 0, 0), (255, 255, 255))
    (4.48, 21.0)
    """
    darker, lighter = sorted((_luminance(one), _luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: Colour) -> float:
    red, green, blue = (_linear(value / 255) for value in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(value: float) -> float:
    return float(value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4)
