"""What a print names that its bench does not have: lights and stations. Told of a print with other faults too."""

from __future__ import annotations

from collections.abc import Iterator

from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import Place, did_you_mean
from timerd.sheet.profile.printfile import CarryStep, LightStep, Print


def no_light(bench: Bench, name: str) -> str | None:
    """What to say of a light that the bench does not have; None where it has it."""
    if name in bench.lights:
        return None
    return f"bench '{bench.bench}' has no light '{name}'{did_you_mean(name, bench.lights)}"


def no_station(bench: Bench, name: str) -> str | None:
    """What to say of a station that the bench does not have; None where it has it."""
    if name in bench.stations:
        return None
    return f"bench '{bench.bench}' has no station '{name}'{did_you_mean(name, bench.stations)}"


def missing_on(bench: Bench, print_: Print) -> Iterator[tuple[Place, str]]:
    """All lights and stations that a print names and its bench does not have, each with its place.

    A print with faults of its own has None where something did not fit: that is passed over.
    """
    for i, step in enumerate(print_.steps or ()):
        if isinstance(step, CarryStep) and step.carry is not None and (said := no_station(bench, step.carry)):
            yield ("steps", i, "carry"), said
        if isinstance(step, LightStep):
            lights = getattr(step, "light", None)
            for light in lights if isinstance(lights, list) else [lights]:
                if light is not None and (said := no_light(bench, light)):
                    yield ("steps", i, "light"), said
