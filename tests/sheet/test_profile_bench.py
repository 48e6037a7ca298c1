"""What is wrong within a bench, whole lists compared."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from golden import Golden
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
    "lamp unknown": changed({7: "  green: {lamp: haed, colour: green}"}),
    "lamp unknown and nothing like it": changed({7: "  green: {lamp: zzz, colour: green}"}),
    "station unknown": changed({4: "  head: {pin: 17, station: enlargr}"}),
    "trays": changed(
        {2: "stations: {enlarger: {}, flashing: {}, trays: {}}", 5: "  flasher: {pin: 23, station: trays}"}
    ),
    "viewing unknown": (G + "viewing: gren\n"),
    "one lamp bare twice": (
        changed({8: "  blue: {lamp: head, colour: blue}", 9: "  flash: {lamp: flasher, colour: white}"})
        + "pedals: {go: [{pin: 5}], end: [{pin: 6}]}\n"
    ),
    "pins used twice": (
        changed({5: "  flasher: {pin: 17, station: flashing}"})
        + "safelight: {pin: 17}\nheartbeat: {pin: 5}\ncue_line: {pin: 6}\n"
    ),
    "pedal pin used twice": changed({9: "pedals: {go: [{pin: 17}], end: [{pin: 17}]}"}),
    "outputs pulled up": (
        changed({4: "  head: {pin: 2, station: enlarger}", 5: "  flasher: {pin: 8, station: flashing}"})
        + "safelight: {pin: 0}\n"
    ),
    "outputs of the serial port": (changed({4: "  head: {pin: 14, station: enlarger}"}) + "heartbeat: {pin: 15}\n"),
    "outputs off the header": (changed({4: "  head: {pin: 28, station: enlarger}"}) + "cue_line: {pin: 53}\n"),
    "active low": (
        changed({5: "  flasher: {pin: 23, station: flashing, active: low}"}) + "safelight: {pin: 1, active: low}\n"
    ),
    "screens": (G + "screen: {brightness: 0, off_while_exposing: 1, size: [480, 800], flash: true}\n"),
    "screens that are none": (G + "screen: {brightness: 1.5, size: [800, 480, 32]}\n"),
    "a screen too low": (G + "screen: {size: [800, 320]}\n"),
    "pins that are none": (
        changed({4: "  head: {pin: 54, station: enlarger}", 5: "  flasher: {pin: -1, station: flashing}"})
        + "heartbeat: {pin: 26.0}\ncue_line: {}\n"
    ),
    "pedals unfit": changed(
        {9: "pedals: {go: [{pin: 0}, {pin: 2}, {pin: 3, pull: down}], end: [{pin: 15}, {pin: 30}, {pin: 1}]}"}
    ),
    "pin and usb": changed(
        {
            9: (
                "pedals: {go: [{}, {pin: 5, usb: foot, key: a}, {usb: foot}, {pin: 7, key: a}], end: "
                "[{usb: foot, key: b}, {usb: foot, key: b, pull: up}]}"
            )
        }
    ),
    "pedal station": changed(
        {
            9: (
                "pedals: {go: [{pin: 5, station: enlrger}, {pin: 7}, {pin: 9, station: trays}], end: "
                "[{pin: 6, station: trays}]}"
            )
        }
    ),
    "station not served": changed({9: "pedals: {go: [{pin: 5, station: enlarger}], end: [{pin: 6}]}"}),
    "go at the trays only": changed({9: "pedals: {go: [{pin: 5, station: trays}], end: [{pin: 6}]}"}),
    "a third pedal without a use, and a key that is none": changed(
        {9: "pedals: {go: [{pin: 5}], third: [{usb: a foot, key: KEY_B}, {usb: a foot, key: pagdown}]}"}
    ),
    "a use without a third pedal": (G + "third: say\n"),
    "a third pedal with nothing to view, and on a pin in use": (
        changed({9: "pedals: {go: [{pin: 5}], third: [{pin: 5}]}"}) + "third: view\n"
    ),
    "a third pedal at the trays that is not theirs": (
        changed({9: "pedals: {go: [{pin: 5}], third: [{pin: 6, station: trays}]}"}) + "third: say\n"
    ),
    "no go": changed({9: "pedals: {end: [{pin: 5}]}"}),
    "misspelt end": changed({9: "pedals: {go: [{pin: 5}], ned: [{pin: 6}]}"}),
    "lag and rise": changed({5: "  flasher: {pin: 23, station: flashing, lag_s: 0.1, rise_ms: 5}"}),
    "fall alone": changed({5: "  flasher: {pin: 23, station: flashing, fall_ms: 5}"}),
    "stay pin": changed({5: "  flasher: {pin: 23, station: flashing, stay_pin: 24, warm_up_s: 3}"}),
    "a sense input of a lamp that is slow, of no use, and in use": changed(
        {
            4: "  head: {pin: 17, station: enlarger, rise_ms: 151, fall_ms: 90, relay_off_ms: 61, sense: {pin: 5}}",
            5: "  flasher: {pin: 23, station: flashing, sense: {pin: 14}}",
        }
    ),
    "one sense input wired in two ways": changed(
        {
            4: "  head: {pin: 17, station: enlarger, sense: {pin: 12}}",
            5: "  flasher: {pin: 23, station: flashing, sense: {pin: 12, pull: down}}",
        }
    ),
    "a lamp behind a shutter that is switched by hand": changed(
        {5: "  flasher: {pin: 23, station: flashing, kind: shutter, warm_up_s: 40}"}
    ),
    "a stay pin that moves at boot, and one in use": changed(
        {
            4: "  head: {pin: 17, station: enlarger, kind: shutter, stay_pin: 4}",
            5: "  flasher: {pin: 23, station: flashing, kind: shutter, stay_pin: 17}",
        }
    ),
    "a stay pin on the wrong side for a low line": changed(
        {5: "  flasher: {pin: 7, station: flashing, active: low, kind: shutter, stay_pin: 24}"}
    ),
    "relay and lag": changed(
        {5: "  flasher: {pin: 23, station: flashing, lag_s: 0.1, relay_on_ms: 5, relay_off_ms: 6}"}
    ),
    "density": changed({8: "  flash: {lamp: flasher, colour: white, density: 0.3}"}),
    "a colour of another language": changed({8: "  flash: {lamp: flasher, colour: blau}"}),
    "safelight without a pin": (G + "safelight: {}\n"),
    "safelight not switched": (G + "safelight: {switchable: false, pin: 22}\n"),
    "choices": (
        changed(
            {
                2: "stations: {enlarger: {}, flashing: {turn: 45}}",
                8: "  flash: {lamp: flasher, colour: W, filter: hand}",
            }
        )
        + "safelight: {pin: 22, dark_from: leadin, on_when_paused: yes}\n"
    ),
    "turn in words": changed({2: "stations: {enlarger: {}, flashing: {turn: true}}"}),
    "names": changed({1: "bench: My Bench", 4: "  Head 1: {pin: 17, station: enlarger}"}),
    "missing": """\
bench: test
stations: {}
lamps: {}
""",
}


@pytest.mark.parametrize("text", BENCHES.values(), ids=BENCHES)
def test_benches(golden: Golden, text: str) -> None:
    faults = told(text)
    golden(faults)
    assert faults and all(fault.isprintable() for fault in faults)


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
