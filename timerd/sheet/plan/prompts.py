"""What the printer is asked to do between lights: the start of a sheet, and filters changed by hand."""

from __future__ import annotations

from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.printfile import Print

_NOTHING_YET = object()


class Filters:
    """Which filter each lamp holds as the sheet goes on, where filters are put in by hand."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._by_hand = {light.lamp for light in bench.lights.values() if light.filter == "by hand"}
        self._held: dict[str, object] = {}

    def change_to(self, light: str) -> str | None:
        """What this light wants changed: the light whose filter goes in, `none` to take it out, or None."""
        lamp = self._bench.lights[light].lamp
        if lamp not in self._by_hand:
            return None
        wanted = light if self._bench.lights[light].filter == "by hand" else "none"
        if self._held.get(lamp, _NOTHING_YET) == wanted:
            return None
        self._held[lamp] = wanted
        return wanted

    def words(self, wanted: str) -> str:
        """What is asked for, with the colour where the light's name does not say it."""
        if wanted == "none":
            return "take the filter out"
        colour = self._bench.lights[wanted].colour
        return f"put the {wanted} filter in" + ("" if colour == wanted else f" ({colour})")


def start_asks(print_: Print, filter_words: str | None) -> tuple[str, ...]:
    """What the start prompt asks for, in the order of the hands: lens, filter, negative, pencil, paper."""
    asks = [
        f"lens at f/{print_.aperture:g}" if print_.aperture is not None else None,
        filter_words,
        f"negative {print_.negative}" if print_.negative is not None else None,
        "pencil the sheet's number on the back",
        "paper out",
    ]
    return tuple(ask for ask in asks if ask is not None)
