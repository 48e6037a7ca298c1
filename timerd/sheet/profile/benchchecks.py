"""What is wrong within a bench's file: names that lead nowhere, pins used twice, pins that move at boot."""

from __future__ import annotations

import re
from collections.abc import Iterable

from timerd.sheet.profile.benchfile import Bench, Lamp, Pedal
from timerd.sheet.profile.faults import Place, did_you_mean
from timerd.sheet.profile.given import Found, WrittenLines
from timerd.sheet.profile.keys import KEYS

TRAYS = "trays"
COLOURS = ("white", "red", "orange", "amber", "yellow", "green", "cyan", "blue", "violet", "magenta")
"""What a light's colour ends in; green and blue are what a variable-contrast paper is told by."""
SEEN_WITHIN_MS = 150
"""A light must be seen, or seen dark, so soon after its line has changed; a fault is told after 200 to 250 ms."""


def bench_faults(bench: Bench, given: WrittenLines) -> Found:
    """All that is wrong with a bench; what has no usable value is None and is passed over."""
    if TRAYS in (bench.stations or ()):
        yield (("stations", TRAYS), "is a name of its own, for pedals at the trays: call the station something else")
    for name, lamp in (bench.lamps or {}).items():
        if lamp is not None:
            yield from _lamp(bench, lamp, ("lamps", name), given)
    yield from _lights(bench, given)
    safelight = bench.safelight
    if given.written((), "safelight") and safelight is not None:
        if safelight.switchable and given.lacks(("safelight",), "pin"):
            yield ("safelight",), "needs 'pin', or 'switchable: false' where nothing switches it"
        elif safelight.switchable is False and given.written(("safelight",), "pin"):
            yield ("safelight", "pin"), "does not go with switchable: false"
    yield from _pedals(bench, given)
    yield from _pins(bench)
    screen = bench.screen
    if screen is not None and screen.size is not None and None not in screen.size and screen.size[0] < 800:
        width, height = screen.size
        yield ("screen", "size"), f"must be 800 wide or more, is {width} by {height}: the width comes first"


def bench_minds(bench: Bench) -> Found:
    """What is right as it stands and yet worth a thought, of a bench in which nothing is wrong."""
    if bench.heartbeat is None:
        yield (
            (),
            "no heartbeat: no interlock darkens the lamps where this computer stands still (hardware/INTERLOCK.md)",
        )
    for name, lamp in bench.lamps.items():
        if lamp.kind == "shutter" and lamp.stay_pin is None:
            yield (
                ("lamps", name, "kind"),
                "shutter changes nothing without stay_pin: light this lamp by hand beforehand",
            )


def _known(
    name: str | None, names: Iterable[str] | None, what: str, place: Place, given: WrittenLines, table: str
) -> Found:
    """A name leads somewhere."""
    names = list(names or ())
    if name is not None and name not in names and given.written((), table) and given.usable((table,)):
        yield place, f"this bench has no {what} '{name}'{did_you_mean(name, names)}"


def _lamp(bench: Bench, lamp: Lamp, here: Place, given: WrittenLines) -> Found:
    if lamp.station == TRAYS:
        yield (*here, "station"), "no lamp can stand at the trays"
    else:
        yield from _known(lamp.station, bench.stations, "station", (*here, "station"), given, "stations")
    if lamp.lag_s is not None and (lamp.rise_ms or lamp.fall_ms):
        yield (*here, "lag_s"), "has rise and fall in it already: give lag_s, or rise_ms and fall_ms"
    # The arithmetic takes a rise of under a thousandth of a millisecond for none.
    elif lamp.fall_ms and given.usable((*here, "rise_ms")) and (lamp.rise_ms or 0) < 0.001:
        yield (*here, "fall_ms"), "needs rise_ms: a lamp that fades also comes up slowly, measure both"
    if lamp.kind == "shutter":
        if lamp.warm_up_s and given.lacks(here, "stay_pin"):
            yield (*here, "warm_up_s"), "needs 'stay_pin': when a lamp that is switched by hand is warm nobody knows"
    elif lamp.kind is not None:
        for key in given.written(here, "stay_pin", "warm_up_s"):
            yield (*here, key), "is for kind: shutter only"
    if lamp.sense is not None:
        yield from _sense(lamp, (*here, "sense"))
    for key in ("relay_on_ms", "relay_off_ms"):
        if lamp.lag_s is not None and getattr(lamp, key):
            yield (*here, key), "is in lag_s already: leave out the one or the other"


def _sense(lamp: Lamp, here: Place) -> Found:
    """What a sense input sees may lag its lamp's line for a moment only."""
    for delay, slow, what in (("relay_on_ms", "rise_ms", "come up"), ("relay_off_ms", "fall_ms", "fade")):
        lags = (getattr(lamp, delay) or 0) + (getattr(lamp, slow) or 0)
        if lags > SEEN_WITHIN_MS:
            yield here, f"would tell of a fault: the lamp takes {lags:g} ms to {what}, at most {SEEN_WITHIN_MS} do"


def _lights(bench: Bench, given: WrittenLines) -> Found:
    bare: dict[str, str] = {}
    for name, light in (bench.lights or {}).items():
        if light is None:
            continue
        here: Place = ("lights", name)
        yield from _known(light.lamp, bench.lamps, "lamp", (*here, "lamp"), given, "lamps")
        if light.colour is not None and (plain := re.split("[ -]", light.colour)[-1]) not in COLOURS:
            yield (*here, "colour"), f"'{light.colour}' ends in no colour known here{did_you_mean(plain, COLOURS)}"
        if light.lamp is not None and light.filter == "none" and here not in given.odd:
            first = bare.setdefault(light.lamp, name)
            if first != name:
                yield (here, f"is lamp '{light.lamp}' without a filter, as '{first}' is: is one filtered by hand?")
    yield from _known(bench.viewing, bench.lights, "light", ("viewing",), given, "lights")


def _pedals(bench: Bench, given: WrittenLines) -> Found:
    pedals = bench.pedals
    if pedals is None:
        return
    for name, contacts in pedals.named():
        for i, contact in enumerate(contacts or ()):
            if contact is not None:
                yield from _contact(bench, contact, ("pedals", name, i), given)
        known = contacts is not None and None not in contacts
        at_trays = name == "third" and bench.third == "tray"
        if known and contacts and not at_trays and all(contact.station == TRAYS for contact in contacts):
            yield ("pedals", name), "all are at the trays: one must be where the light is"
    yield from _third(bench, given)
    if pedals.go and None not in pedals.go:
        yield from _served(bench, pedals.go, given)


def _third(bench: Bench, given: WrittenLines) -> Found:
    """A third pedal is there and has something to do, or neither."""
    if given.written(("pedals",), "third") and given.lacks((), "third"):
        yield ("pedals", "third"), "needs 'third' at the top of the file: what does it do, say, tray or view?"
    elif given.written((), "third") and given.lacks(("pedals",), "third"):
        yield ("third",), "needs 'third' among the pedals: where is it?"
    lights = (bench.lights or {}).values()
    if bench.third == "view" and given.complete("lights") and not any(light and light.paper_safe for light in lights):
        yield ("third",), "there is nothing to view: mark the light that paper does not see with paper_safe: true"


def _contact(bench: Bench, contact: Pedal, here: Place, given: WrittenLines) -> Found:
    told = given.written(here, "pin", "usb")
    if len(told) == 2:
        yield here, "has 'pin' and 'usb': make a pedal of each"
    elif given.lacks(here, "pin", "usb"):
        yield here, "needs 'pin' or 'usb'"
    if told == ["usb"] and given.lacks(here, "key"):
        yield here, "needs 'key': which key does the foot switch send?"
    if told == ["usb"] and contact.key is not None and contact.key not in KEYS:
        yield (*here, "key"), f"there is no key '{contact.key}'{did_you_mean(contact.key, KEYS)}"
    if told == ["pin"] and given.written(here, "key"):
        yield (*here, "key"), "is for a foot switch with 'usb' only"
    if told == ["usb"] and given.written(here, "pull"):
        yield (*here, "pull"), "is for a pedal with 'pin' only"
    if contact.station != TRAYS:
        yield from _known(contact.station, bench.stations, "station", (*here, "station"), given, "stations")


def _served(bench: Bench, pedals: list[Pedal], given: WrittenLines) -> Found:
    """Each station with a lamp needs a pedal that starts it."""
    if any(pedal.station is None for pedal in pedals) or all(pedal.station == TRAYS for pedal in pedals):
        return  # the latter is told already
    lit = {lamp.station for lamp in (bench.lamps or {}).values() if lamp is not None}
    for station in bench.stations or ():
        if station in lit and all(pedal.station != station for pedal in pedals):
            yield ("pedals", "go"), f"none serves station '{station}': no light there could be started"


def _pins(bench: Bench) -> Found:
    """Every line in use: each once, and each fit for what it does before the program runs."""
    outputs: list[tuple[Place, int | None, str, bool]] = []
    for name, lamp in (bench.lamps or {}).items():
        if lamp is not None:
            low = lamp.active == "low"
            outputs.append((("lamps", name, "pin"), lamp.pin, f"lamp '{name}'", low))
            outputs.append((("lamps", name, "stay_pin"), lamp.stay_pin, f"lamp '{name}' (stay_pin)", low))
    if (safelight := bench.safelight) is not None:
        outputs.append((("safelight", "pin"), safelight.pin, "the safelight", safelight.active == "low"))
    for key, line in (("heartbeat", bench.heartbeat), ("cue_line", bench.cue_line)):
        if line is not None:
            outputs.append(((key, "pin"), line.pin, f"the {key.replace('_', ' ')}", False))
    users: dict[int, str] = {}
    for place, pin, user, low in outputs:
        if pin is not None:
            yield from _once(users, place, pin, user)
            yield from _fit_output(place, pin, low)
    yield from _senses(bench, users)
    keys: set[tuple[str, str]] = set()
    for name, contacts in bench.pedals.named() if bench.pedals else ():
        for i, contact in enumerate(contacts or ()):
            if contact is None:
                continue
            place = ("pedals", name, i)
            if contact.pin is not None:
                yield from _once(users, (*place, "pin"), contact.pin, f"pedal '{name}'")
                yield from _fit_input((*place, "pin"), contact.pin, contact.pull, "the pedal")
            if contact.usb is not None and contact.key is not None:
                if (contact.usb, contact.key) in keys:
                    yield ((*place, "key"), f"'{contact.key}' of '{contact.usb}' is already used by another pedal")
                keys.add((contact.usb, contact.key))


def _once(users: dict[int, str], place: Place, pin: int, user: str) -> Found:
    if pin in users:
        yield place, f"GPIO{pin} is already used by {users[pin]}"
    users.setdefault(pin, user)


def _fit_output(place: Place, pin: int, low: bool) -> Found:
    """A line must be at rest while the board starts, when nothing but the board's own resistor holds it."""
    choose = "choose GPIO 2-8" if low else "choose GPIO 9-13 or 16-27"
    if pin >= 28:
        yield place, f"GPIO{pin} is not on the 40-pin header: {choose}"
    elif pin in (14, 15):
        yield place, f"GPIO{pin} belongs to the serial port, which moves it at boot: {choose}"
    elif low and pin in (0, 1):
        yield place, f"GPIO{pin} is used by the board itself at boot: {choose}"
    elif low and pin >= 9:
        yield place, f"GPIO{pin} is pulled down at boot, which is on for active: low: {choose}"
    elif not low and pin <= 8:
        yield place, f"GPIO{pin} is pulled up at boot, so it would come on by itself: {choose}"


def _senses(bench: Bench, users: dict[int, str]) -> Found:
    """One input may see several lamps; then it is wired in one way, and serves nothing else."""
    seen: dict[int, str] = {}
    for name, lamp in (bench.lamps or {}).items():
        sense = lamp.sense if lamp is not None else None
        if sense is None or sense.pin is None or sense.pull is None:
            continue
        place: Place = ("lamps", name, "sense", "pin")
        if sense.pin not in seen:
            yield from _once(users, place, sense.pin, "a sense input")
            yield from _fit_input(place, sense.pin, sense.pull, "the sense input")
        elif seen[sense.pin] != sense.pull:
            yield ("lamps", name, "sense", "pull"), f"GPIO{sense.pin} sees another lamp too, with the other pull"
        seen.setdefault(sense.pin, sense.pull)


def _fit_input(place: Place, pin: int, pull: str, what: str) -> Found:
    if pin in (0, 1):
        yield place, f"GPIO{pin} is used by the board itself at boot: choose GPIO 4-13 or 16-27"
    elif pin in (2, 3) and pull == "down":
        yield place, f"GPIO{pin} has a fixed resistor that pulls it up: write pull: up, and wire {what} to ground"
    elif pin in (14, 15):
        yield place, f"GPIO{pin} belongs to the serial port: choose GPIO 4-13 or 16-27"
    elif pin >= 28:
        yield place, f"GPIO{pin} is not on the 40-pin header: choose GPIO 4-13 or 16-27"
