"""What the printer is asked to do between lights: how the bench is to stand, and what is to be changed for a step."""

from __future__ import annotations

from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.printfile import LightStep, NegativeStep, Print

STATION, LENS, DENSITY, NEGATIVE = "station", "lens", "density", "negative"
NO_DENSITY = "take the density out"
PAPER_OUT = "paper out"


class SetUp:
    """How the bench stands as the sheet goes on: where the sheet is, what is at the lens, in the lamps and the carrier.

    Each `*_to` says what this wants changed, in words, and takes it for changed; None where nothing is.
    """

    def __init__(self, print_: Print, bench: Bench) -> None:
        self._bench = bench
        self._by_hand = {light.lamp for light in bench.lights.values() if light.filter == "by hand"}
        self._lens = print_.aperture
        self._words: dict[str, str] = {}
        self.at_the_start: list[tuple[str, str | None]] = []
        if self._lens is not None:
            self._words[LENS] = _lens(self._lens)
            self.at_the_start.append((LENS, f"{self._lens:g}"))
        if any(isinstance(step, LightStep) and step.density for step in print_.steps):
            self._words[DENSITY] = NO_DENSITY
        if print_.negative is not None:
            self._words[NEGATIVE] = f"negative {print_.negative}"
            self.at_the_start.append((NEGATIVE, print_.negative))
        elif any(isinstance(step, NegativeStep) for step in print_.steps):
            self._words[NEGATIVE] = "the print's own negative"
            self.at_the_start.append((NEGATIVE, self._words[NEGATIVE]))

    @property
    def words(self) -> tuple[tuple[str, str], ...]:
        """Each thing with what is asked for to have it so."""
        return tuple(self._words.items())

    def be_at(self, station: str | None) -> None:
        """The sheet is there now."""
        if station is not None:
            self._words[STATION] = f"carry the sheet to the {station}"

    def filter_to(self, light: str) -> str | None:
        """The filter that is put in by hand for this light, or taken out."""
        lamp = self._bench.lights[light].lamp
        if lamp not in self._by_hand:
            return None
        put = dict(self.filter_of(light))
        colour = f" ({put['colour']})" if "colour" in put else ""
        words = "take the filter out" if put["filter"] is None else f"put the {light} filter in{colour}"
        return self._change(f"filter of {lamp}", words)

    def filter_of(self, light: str) -> tuple[tuple[str, str | None], ...]:
        """The filter that this light has by hand, with its colour where the light's name does not say it; nothing in a
        lamp that has none."""
        told = self._bench.lights[light]
        if told.lamp not in self._by_hand:
            return ()
        if told.filter != "by hand":
            return (("filter", None),)
        return (("filter", light), *((("colour", f"{told.colour}"),) if told.colour != light else ()))

    def lens_to(self, mark: float | None) -> str | None:
        """The lens at this mark, or back at the print's own."""
        wanted = mark if mark is not None else self._lens
        return None if wanted is None else self._change(LENS, _lens(wanted))

    def density_to(self, density: float | None) -> str | None:
        """A neutral density in the light, or none."""
        if not density and DENSITY not in self._words:
            return None
        return self._change(DENSITY, f"put density {density:g} in" if density else NO_DENSITY)

    def negative_to(self, negative: str) -> None:
        """Another negative is in the carrier from now on."""
        self._words[NEGATIVE] = f"negative {negative}"

    def _change(self, thing: str, words: str) -> str | None:
        if self._words.get(thing) == words:
            return None
        self._words[thing] = words
        return words


def start_asks(set_up: tuple[tuple[str, str], ...], corner: str) -> tuple[str, ...]:
    """What the start prompt asks for, in the order of the hands: lens, negative, density and filter; then the paper,
    and on its back the number, at the print's top left corner: `corner`, as the sheet lies there."""
    return (*_bench_asks(set_up), PAPER_OUT, f"pencil the sheet's number on the back of its {corner} corner")


def take_up_asks(sheet: int, set_up: tuple[tuple[str, str], ...], corner: str, mapped: bool) -> tuple[str, ...]:
    """The same for a sheet that comes out of its box. It is laid back as it lay: by its number, and as on the map if it
    is `mapped`."""
    where = (words for thing, words in set_up if thing == STATION)
    lay = f"lay it as it lay: the corner with its number at the {corner}{', as on the map' if mapped else ''}"
    return (*_bench_asks(set_up), f"take sheet {sheet} out of its box", *where, lay)


def _bench_asks(set_up: tuple[tuple[str, str], ...]) -> list[str]:
    """How the bench is to stand before there is paper in the hand."""
    first = [words for thing, words in set_up if thing == LENS] + [
        words for thing, words in set_up if thing == NEGATIVE
    ]
    return first + [words for thing, words in set_up if thing not in (STATION, LENS, NEGATIVE)]


def _lens(mark: float) -> str:
    return f"lens at f/{mark:g}"
