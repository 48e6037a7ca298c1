"""What is wrong within a bench, whole lists compared."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from outside import need
from sheet.telling import told

from timerd.sheet.profile.keys import KEYS

G = """\
bench: test
stations: {enlarger: {}, flashing: {turn: 180}}
lamps:
  head: {pin: 17, station: enlarger}
  flasher: {pin: 23, station: flashing}
lights:
  green: {lamp: head, colour: green}
  flash: {lamp: flasher, colour: white}
pedals: {go: [{pin: 5}], end: [{pin: 6}]}
"""


THERE = " (there: esc, 1, 2, 3, 4, 5, 6, 7, 8, 9, 0, minus and 112 more)"


def changed(lines: dict[int, str]) -> str:
    """The bench above with some of its lines, counted from 1, written otherwise."""
    return "".join(lines.get(n, line) + "\n" for n, line in enumerate(G.splitlines(), start=1))


BENCHES = {
    "lamp unknown": (
        changed({7: "  green: {lamp: haed, colour: green}"}),
        [
            "p.yaml:7: lights.green.lamp: this bench has no lamp 'haed': did you mean 'head'?",
        ],
    ),
    "lamp unknown and nothing like it": (
        changed({7: "  green: {lamp: zzz, colour: green}"}),
        [
            "p.yaml:7: lights.green.lamp: this bench has no lamp 'zzz' (there: head, flasher)",
        ],
    ),
    "station unknown": (
        changed({4: "  head: {pin: 17, station: enlargr}"}),
        [
            "p.yaml:4: lamps.head.station: this bench has no station 'enlargr': did you mean 'enlarger'?",
        ],
    ),
    "trays": (
        changed({2: "stations: {enlarger: {}, flashing: {}, trays: {}}", 5: "  flasher: {pin: 23, station: trays}"}),
        [
            (
                "p.yaml:2: stations.trays: is a name of its own, for pedals at the trays: call the "
                "station something else"
            ),
            "p.yaml:5: lamps.flasher.station: no lamp can stand at the trays",
        ],
    ),
    "viewing unknown": (
        G + "viewing: gren\n",
        [
            "p.yaml:10: viewing: this bench has no light 'gren': did you mean 'green'?",
        ],
    ),
    "one lamp bare twice": (
        changed({8: "  blue: {lamp: head, colour: blue}", 9: "  flash: {lamp: flasher, colour: white}"})
        + "pedals: {go: [{pin: 5}], end: [{pin: 6}]}\n",
        [
            "p.yaml:8: lights.blue: is lamp 'head' without a filter, as 'green' is: is one filtered by hand?",
        ],
    ),
    "pins used twice": (
        changed({5: "  flasher: {pin: 17, station: flashing}"})
        + "safelight: {pin: 17}\nheartbeat: {pin: 5}\ncue_line: {pin: 6}\n",
        [
            "p.yaml:5: lamps.flasher.pin: GPIO17 is already used by lamp 'head'",
            "p.yaml:9: pedals.end[0].pin: GPIO6 is already used by the cue line",
            "p.yaml:9: pedals.go[0].pin: GPIO5 is already used by the heartbeat",
            "p.yaml:10: safelight.pin: GPIO17 is already used by lamp 'head'",
            (
                "p.yaml:11: heartbeat.pin: GPIO5 is pulled up at boot, so it would come on by itself: "
                "choose GPIO 9-13 or 16-27"
            ),
            (
                "p.yaml:12: cue_line.pin: GPIO6 is pulled up at boot, so it would come on by itself: "
                "choose GPIO 9-13 or 16-27"
            ),
        ],
    ),
    "pedal pin used twice": (
        changed({9: "pedals: {go: [{pin: 17}], end: [{pin: 17}]}"}),
        [
            "p.yaml:9: pedals.end[0].pin: GPIO17 is already used by lamp 'head'",
            "p.yaml:9: pedals.go[0].pin: GPIO17 is already used by lamp 'head'",
        ],
    ),
    "outputs pulled up": (
        changed({4: "  head: {pin: 2, station: enlarger}", 5: "  flasher: {pin: 8, station: flashing}"})
        + "safelight: {pin: 0}\n",
        [
            (
                "p.yaml:4: lamps.head.pin: GPIO2 is pulled up at boot, so it would come on by itself: "
                "choose GPIO 9-13 or 16-27"
            ),
            (
                "p.yaml:5: lamps.flasher.pin: GPIO8 is pulled up at boot, so it would come on by itself: "
                "choose GPIO 9-13 or 16-27"
            ),
            (
                "p.yaml:10: safelight.pin: GPIO0 is pulled up at boot, so it would come on by itself: "
                "choose GPIO 9-13 or 16-27"
            ),
        ],
    ),
    "outputs of the serial port": (
        changed({4: "  head: {pin: 14, station: enlarger}"}) + "heartbeat: {pin: 15}\n",
        [
            (
                "p.yaml:4: lamps.head.pin: GPIO14 belongs to the serial port, which moves it at boot: "
                "choose GPIO 9-13 or 16-27"
            ),
            (
                "p.yaml:10: heartbeat.pin: GPIO15 belongs to the serial port, which moves it at boot: "
                "choose GPIO 9-13 or 16-27"
            ),
        ],
    ),
    "outputs off the header": (
        changed({4: "  head: {pin: 28, station: enlarger}"}) + "cue_line: {pin: 53}\n",
        [
            "p.yaml:4: lamps.head.pin: GPIO28 is not on the 40-pin header: choose GPIO 9-13 or 16-27",
            "p.yaml:10: cue_line.pin: GPIO53 is not on the 40-pin header: choose GPIO 9-13 or 16-27",
        ],
    ),
    "active low": (
        changed({5: "  flasher: {pin: 23, station: flashing, active: low}"}) + "safelight: {pin: 1, active: low}\n",
        [
            (
                "p.yaml:5: lamps.flasher.pin: GPIO23 is pulled down at boot, which is on for active: "
                "low: choose GPIO 2-8"
            ),
            "p.yaml:10: safelight.pin: GPIO1 is used by the board itself at boot: choose GPIO 2-8",
        ],
    ),
    "screens": (
        G + "screen: {brightness: 0, off_while_exposing: 1, size: [480, 800], flash: true}\n",
        [
            "p.yaml:10: screen: unknown key 'flash': did you mean 'flash_edge'?",
            "p.yaml:10: screen.brightness: must be at least 0.05, is 0",
            "p.yaml:10: screen.off_while_exposing: must be true or false, is 1",
            "p.yaml:10: screen.size: must be 800 wide or more, is 480 by 800: the width comes first",
        ],
    ),
    "screens that are none": (
        G + "screen: {brightness: 1.5, size: [800, 480, 32]}\n",
        [
            "p.yaml:10: screen.brightness: must be at most 1, is 1.5",
            "p.yaml:10: screen.size: must have 2 at most, has 3",
        ],
    ),
    "a screen too low": (
        G + "screen: {size: [800, 320]}\n",
        [
            "p.yaml:10: screen.size[1]: must be at least 480, is 320",
        ],
    ),
    "pins that are none": (
        changed({4: "  head: {pin: 54, station: enlarger}", 5: "  flasher: {pin: -1, station: flashing}"})
        + "heartbeat: {pin: 26.0}\ncue_line: {}\n",
        [
            "p.yaml:4: lamps.head.pin: must be at most 53, is 54",
            "p.yaml:5: lamps.flasher.pin: must be at least 0, is -1",
            "p.yaml:10: heartbeat.pin: must be a whole number, is 26.0",
            "p.yaml:11: cue_line: 'pin' is missing",
        ],
    ),
    "pedals unfit": (
        changed({9: "pedals: {go: [{pin: 0}, {pin: 2}, {pin: 3, pull: down}], end: [{pin: 15}, {pin: 30}, {pin: 1}]}"}),
        [
            "p.yaml:9: pedals.end[0].pin: GPIO15 belongs to the serial port: choose GPIO 4-13 or 16-27",
            "p.yaml:9: pedals.end[1].pin: GPIO30 is not on the 40-pin header: choose GPIO 4-13 or 16-27",
            "p.yaml:9: pedals.end[2].pin: GPIO1 is used by the board itself at boot: choose GPIO 4-13 or 16-27",
            "p.yaml:9: pedals.go[0].pin: GPIO0 is used by the board itself at boot: choose GPIO 4-13 or 16-27",
            (
                "p.yaml:9: pedals.go[2].pin: GPIO3 has a fixed resistor that pulls it up: write pull: "
                "up, and wire the pedal to ground"
            ),
        ],
    ),
    "pin and usb": (
        changed(
            {
                9: (
                    "pedals: {go: [{}, {pin: 5, usb: foot, key: a}, {usb: foot}, {pin: 7, key: a}], end: "
                    "[{usb: foot, key: b}, {usb: foot, key: b, pull: up}]}"
                )
            }
        ),
        [
            "p.yaml:9: pedals.end[1].key: 'b' of 'foot' is already used by another pedal",
            "p.yaml:9: pedals.end[1].pull: is for a pedal with 'pin' only",
            "p.yaml:9: pedals.go[0]: needs 'pin' or 'usb'",
            "p.yaml:9: pedals.go[1]: has 'pin' and 'usb': make a pedal of each",
            "p.yaml:9: pedals.go[2]: needs 'key': which key does the foot switch send?",
            "p.yaml:9: pedals.go[3].key: is for a foot switch with 'usb' only",
        ],
    ),
    "pedal station": (
        changed(
            {
                9: (
                    "pedals: {go: [{pin: 5, station: enlrger}, {pin: 7}, {pin: 9, station: trays}], end: "
                    "[{pin: 6, station: trays}]}"
                )
            }
        ),
        [
            "p.yaml:9: pedals.end: all are at the trays: one must be where the light is",
            "p.yaml:9: pedals.go[0].station: this bench has no station 'enlrger': did you mean 'enlarger'?",
        ],
    ),
    "station not served": (
        changed({9: "pedals: {go: [{pin: 5, station: enlarger}], end: [{pin: 6}]}"}),
        [
            "p.yaml:9: pedals.go: none serves station 'flashing': no light there could be started",
        ],
    ),
    "go at the trays only": (
        changed({9: "pedals: {go: [{pin: 5, station: trays}], end: [{pin: 6}]}"}),
        [
            "p.yaml:9: pedals.go: all are at the trays: one must be where the light is",
        ],
    ),
    "a third pedal without a use, and a key that is none": (
        changed({9: "pedals: {go: [{pin: 5}], third: [{usb: a foot, key: KEY_B}, {usb: a foot, key: pagdown}]}"}),
        [
            "p.yaml:9: pedals.third: needs 'third' at the top of the file: what does it do, say, tray or view?",
            "p.yaml:9: pedals.third[0].key: there is no key 'KEY_B'" + THERE,
            "p.yaml:9: pedals.third[1].key: there is no key 'pagdown': did you mean 'pagedown'?",
        ],
    ),
    "a use without a third pedal": (
        G + "third: say\n",
        [
            "p.yaml:10: third: needs 'third' among the pedals: where is it?",
        ],
    ),
    "a third pedal with nothing to view, and on a pin in use": (
        changed({9: "pedals: {go: [{pin: 5}], third: [{pin: 5}]}"}) + "third: view\n",
        [
            "p.yaml:9: pedals.third[0].pin: GPIO5 is already used by pedal 'go'",
            "p.yaml:10: third: there is nothing to view: mark the light that paper does not see with paper_safe: true",
        ],
    ),
    "a third pedal at the trays that is not theirs": (
        changed({9: "pedals: {go: [{pin: 5}], third: [{pin: 6, station: trays}]}"}) + "third: say\n",
        [
            "p.yaml:9: pedals.third: all are at the trays: one must be where the light is",
        ],
    ),
    "no go": (
        changed({9: "pedals: {end: [{pin: 5}]}"}),
        [
            "p.yaml:9: pedals: 'go' is missing",
        ],
    ),
    "misspelt end": (
        changed({9: "pedals: {go: [{pin: 5}], ned: [{pin: 6}]}"}),
        [
            "p.yaml:9: pedals: unknown key 'ned': did you mean 'end'?",
        ],
    ),
    "lag and rise": (
        changed({5: "  flasher: {pin: 23, station: flashing, lag_s: 0.1, rise_ms: 5}"}),
        [
            "p.yaml:5: lamps.flasher.lag_s: has rise and fall in it already: give lag_s, or rise_ms and fall_ms",
        ],
    ),
    "fall alone": (
        changed({5: "  flasher: {pin: 23, station: flashing, fall_ms: 5}"}),
        [
            ("p.yaml:5: lamps.flasher.fall_ms: needs rise_ms: a lamp that fades also comes up slowly, measure both"),
        ],
    ),
    "stay pin": (
        changed({5: "  flasher: {pin: 23, station: flashing, stay_pin: 24, warm_up_s: 3}"}),
        [
            "p.yaml:5: lamps.flasher.stay_pin: is for kind: shutter only",
            "p.yaml:5: lamps.flasher.warm_up_s: is for kind: shutter only",
        ],
    ),
    "a sense input of a lamp that is slow, of no use, and in use": (
        changed(
            {
                4: "  head: {pin: 17, station: enlarger, rise_ms: 151, fall_ms: 90, relay_off_ms: 61, sense: {pin: 5}}",
                5: "  flasher: {pin: 23, station: flashing, sense: {pin: 14}}",
            }
        ),
        [
            "p.yaml:4: lamps.head.sense: would tell of a fault: the lamp takes 151 ms to come up, at most 150 do",
            "p.yaml:4: lamps.head.sense: would tell of a fault: the lamp takes 151 ms to fade, at most 150 do",
            "p.yaml:5: lamps.flasher.sense.pin: GPIO14 belongs to the serial port: choose GPIO 4-13 or 16-27",
            "p.yaml:9: pedals.go[0].pin: GPIO5 is already used by a sense input",
        ],
    ),
    "one sense input wired in two ways": (
        changed(
            {
                4: "  head: {pin: 17, station: enlarger, sense: {pin: 12}}",
                5: "  flasher: {pin: 23, station: flashing, sense: {pin: 12, pull: down}}",
            }
        ),
        ["p.yaml:5: lamps.flasher.sense.pull: GPIO12 sees another lamp too, with the other pull"],
    ),
    "a lamp behind a shutter that is switched by hand": (
        changed({5: "  flasher: {pin: 23, station: flashing, kind: shutter, warm_up_s: 40}"}),
        [
            (
                "p.yaml:5: lamps.flasher.warm_up_s: needs 'stay_pin': when a lamp that is switched by hand is warm "
                "nobody knows"
            ),
        ],
    ),
    "a stay pin that moves at boot, and one in use": (
        changed(
            {
                4: "  head: {pin: 17, station: enlarger, kind: shutter, stay_pin: 4}",
                5: "  flasher: {pin: 23, station: flashing, kind: shutter, stay_pin: 17}",
            }
        ),
        [
            "p.yaml:4: lamps.head.stay_pin: GPIO4 is pulled up at boot, so it would come on by itself: "
            "choose GPIO 9-13 or 16-27",
            "p.yaml:5: lamps.flasher.stay_pin: GPIO17 is already used by lamp 'head'",
        ],
    ),
    "a stay pin on the wrong side for a low line": (
        changed({5: "  flasher: {pin: 7, station: flashing, active: low, kind: shutter, stay_pin: 24}"}),
        [
            "p.yaml:5: lamps.flasher.stay_pin: GPIO24 is pulled down at boot, which is on for active: low: "
            "choose GPIO 2-8",
        ],
    ),
    "relay and lag": (
        changed({5: "  flasher: {pin: 23, station: flashing, lag_s: 0.1, relay_on_ms: 5, relay_off_ms: 6}"}),
        [
            "p.yaml:5: lamps.flasher.relay_off_ms: is in lag_s already: leave out the one or the other",
            "p.yaml:5: lamps.flasher.relay_on_ms: is in lag_s already: leave out the one or the other",
        ],
    ),
    "density": (
        changed({8: "  flash: {lamp: flasher, colour: white, density: 0.3}"}),
        ["p.yaml:8: lights.flash: unknown key 'density'"],
    ),
    "a colour of another language": (
        changed({8: "  flash: {lamp: flasher, colour: blau}"}),
        [
            "p.yaml:8: lights.flash.colour: 'blau' ends in no colour known here: did you mean 'blue'?",
        ],
    ),
    "safelight without a pin": (
        G + "safelight: {}\n",
        [
            "p.yaml:10: safelight: needs 'pin', or 'switchable: false' where nothing switches it",
        ],
    ),
    "safelight not switched": (
        G + "safelight: {switchable: false, pin: 22}\n",
        [
            "p.yaml:10: safelight.pin: does not go with switchable: false",
        ],
    ),
    "choices": (
        changed(
            {
                2: "stations: {enlarger: {}, flashing: {turn: 45}}",
                8: "  flash: {lamp: flasher, colour: W, filter: hand}",
            }
        )
        + "safelight: {pin: 22, dark_from: leadin, on_when_paused: yes}\n",
        [
            "p.yaml:2: stations.flashing.turn: must be 0, 90, 180 or 270, is 45",
            "p.yaml:8: lights.flash.colour: must be a colour's word in small letters, as in 'green', is 'W'",
            "p.yaml:8: lights.flash.filter: must be by hand or none, is 'hand': did you mean 'by hand'?",
            ("p.yaml:10: safelight.dark_from: must be lead-in, light or never, is 'leadin': did you mean 'lead-in'?"),
            "p.yaml:10: safelight.on_when_paused: must be true or false, is 'yes': write true",
        ],
    ),
    "turn in words": (
        changed({2: "stations: {enlarger: {}, flashing: {turn: true}}"}),
        [
            "p.yaml:2: stations.flashing.turn: must be 0, 90, 180 or 270, is true",
        ],
    ),
    "names": (
        changed({1: "bench: My Bench", 4: "  Head 1: {pin: 17, station: enlarger}"}),
        [
            ("p.yaml:1: bench: must be small letters, digits and single hyphens, as in 'low-tide-2', is 'My Bench'"),
            (
                "p.yaml:4: lamps: a key must be small letters, digits and single hyphens, as in "
                "'low-tide-2', is 'Head 1'"
            ),
        ],
    ),
    "missing": (
        """\
bench: test
stations: {}
lamps: {}
""",
        [
            "p.yaml:1: 'lights' is missing",
            "p.yaml:1: 'pedals' is missing",
            "p.yaml:2: stations: must have 1 or more, has 0",
            "p.yaml:3: lamps: must have 1 or more, has 0",
        ],
    ),
}


@pytest.mark.parametrize(("text", "faults"), BENCHES.values(), ids=BENCHES)
def test_benches(text: str, faults: list[str]) -> None:
    assert told(text) == faults
    assert all(fault.isprintable() for fault in faults)


SOUND = {
    "one pedal": changed({9: "pedals: {go: [{pin: 5}]}"}),
    "lamps that one input sees": changed(
        {
            4: "  head: {pin: 17, station: enlarger, sense: {pin: 12}}",
            5: "  flasher: {pin: 23, station: flashing, rise_ms: 150, fall_ms: 150, sense: {pin: 12, pull: up}}",
        }
    ),
    "one pedal, said so": changed({9: "pedals: {go: [{pin: 5}], end: []}"}),
    "USB pedals, two of one switch": changed(
        {9: "pedals: {go: [{usb: a foot, key: a}], end: [{usb: a foot, key: b}, {pin: 6}]}"}
    ),
    "a lamp that stays on": changed(
        {5: "  flasher: {pin: 23, station: flashing, kind: shutter, stay_pin: 24, warm_up_s: 40}"}
    ),
    "a shutter before a lamp that is switched by hand": changed(
        {5: "  flasher: {pin: 23, station: flashing, kind: shutter}"}
    ),
    "a third pedal at the trays": changed({9: "pedals: {go: [{pin: 5}], third: [{pin: 6, station: trays}]}"})
    + "third: tray\n",
    "a third pedal that shows the paper-safe light": changed(
        {8: "  flash: {lamp: flasher, colour: red, paper_safe: true}", 9: "pedals: {go: [{pin: 5}], third: [{pin: 6}]}"}
    )
    + "third: view\n",
    "a cue line": G + "cue_line: {pin: 25}\n",
}


@pytest.mark.parametrize("text", SOUND.values(), ids=SOUND)
def test_benches_that_are_sound(text: str) -> None:
    assert told(text) == []


def test_the_keys_are_the_kernel_s_own() -> None:
    """Against Linux's own header, as the C preprocessor reads it."""
    header = Path("/usr/include/linux/input-event-codes.h")
    need(shutil.which("cc") is not None and header.exists(), "a C compiler", "apt install gcc libc6-dev")
    defines = subprocess.run(
        ["cc", "-E", "-dM", "-x", "c", str(header)], capture_output=True,
        text=True, check=True,
    ).stdout  # fmt: skip
    codes = dict(re.findall(r"^#define ((?:KEY|BTN)_\w+) (0x[0-9a-f]+|[0-9]+)$", defines, re.M))
    named = {
        name: f"BTN_{name.split()[0].upper()}" if name.endswith(" button") else f"KEY_{name.upper()}" for name in KEYS
    }
    assert len(KEYS) > 100
    assert {name: int(codes[of], 0) for name, of in named.items()} == KEYS
