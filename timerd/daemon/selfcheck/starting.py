"""What the answers mean for what this computer is started with: lines, console, what becomes of a dead program's lines.
Pure."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator

from timerd.daemon.selfcheck.answers import Answers
from timerd.daemon.selfcheck.finding import Finding, mind, right, wrong
from timerd.daemon.selfcheck.machine import resting

INSTALL = "run firmware/raspberrypi/install.sh"
START_ANEW = "start the computer anew; is it told again, see that the boot partition is mounted, and run the installer"
AT_REST = {"low": "op,dl", "high": "op,dh"}
"""A level at rest, as config.txt has it."""
STRICT = "put {name}.persist_gpio_outputs=0 onto the kernel's command line, as the installer does, and start anew"
CONSOLE = ("quiet", "logo.nologo", "vt.global_cursor_default=0")
_OURS = re.compile("^# timerd: from here.*?^# timerd: to here", re.M | re.S)


def lines_word(config: str) -> str | None:
    """The word that stands on the kernel's command line for the lines in the installer's part of a config.txt, or None
    where that has no such part.

    >>> lines_word("# timerd: from here\\ngpio=17=op,dl\\n# timerd: to here\\n")
    'timerd.lines=a772fa07'
    """
    ours = _OURS.search(config)
    if ours is None:
        return None
    lines = "".join(f"{line}\n" for line in re.findall("^gpio=(.*)$", ours[0], re.M))
    return f"timerd.lines={hashlib.sha256(lines.encode()).hexdigest()[:8]}"


def at_boot(told: Answers) -> Iterator[Finding]:
    """The level of every line from power-up until timerd drives it: in the file, and in what was started."""
    if told.bench is None:
        return
    if told.config is None:
        yield mind("boot", "there is no config.txt: what lines do at power-up is not known", INSTALL)
    elif floating := _not_held(told, told.config):
        do = "add them to config.txt, as gpio=...=op,dl for low (firmware/raspberrypi/config.txt shows it)"
        yield mind("boot", f"not held at rest from power-up: {', '.join(floating)}", do)
    elif told.written_anew is not None and (lost := _not_held(told, told.written_anew.config)):
        found = f"the next kernel's update writes config.txt without them: {', '.join(lost)}"
        yield mind("boot", found, f"{INSTALL}: it puts them where the hook takes them from")
    elif (word := lines_word(told.config)) is None:
        found = "config.txt holds every line at rest; whether the computer was started with it is not told"
        yield mind("boot", found, f"{INSTALL}: its part is known again")
    elif word not in told.cmdline.split():
        yield mind("boot", "config.txt holds every line at rest, but the computer was not started with it", START_ANEW)
    else:
        yield right("boot", "every line that goes out is held at rest from power-up, and was at this start")


def _not_held(told: Answers, config: str) -> list[str]:
    """The lines that go out which a config.txt does not hold at rest."""
    held: dict[int, str] = {}
    for numbers, how in re.findall(r"^gpio=([0-9,]+)=([a-z,]+)", config, re.M):
        held |= {int(number): how for number in numbers.split(",") if number}
    lines = resting(told.bench) if told.bench is not None else {}
    return [
        f"GPIO{pin} ({what}, {level})"
        for pin, (what, level) in sorted(lines.items())
        if held.get(pin) != AT_REST[level]
    ]


def release(told: Answers) -> Iterator[Finding]:
    """What becomes of a killed program's lines. Seen on an emulated Raspberry Pi 3B with Debian's kernels: 6.1, which
    has no setting, and 6.12 as it comes let a line go to input with its pull; 6.12 with the setting at Y leaves it
    high."""
    keeping = [name for name, value in told.release.items() if value in ("Y", "1")]
    if keeping:
        found = f"the kernel leaves a killed program's lines as they were ({', '.join(keeping)}: persist_gpio_outputs)"
        yield wrong("release", found, STRICT.format(name=keeping[0]))
    elif told.release:
        found = (
            f"the kernel lets go of a killed program's lines ({', '.join(told.release)}: persist_gpio_outputs is off)"
        )
        yield right("release", found)
    elif told.kernel.endswith("-arm64"):
        found = f"Debian's kernel {told.kernel} has no setting for a killed program's lines: it lets go of them"
        yield right("release", found)
    else:
        found = f"the kernel {told.kernel} does not say what becomes of a killed program's lines"
        do = "rely on the interlock alone, and try it: hardware/BUILD.md, stage 6"
        yield mind("release", found, do)


def dark_room(told: Answers) -> Iterator[Finding]:
    """No light but the panel's: the board's own lamps, and the console."""
    if told.leds:
        yield mind("darkness", f"lamps on the board are lit: {', '.join(told.leds)}", f"{INSTALL}, or cover them")
    if told.board is None or not told.board.startswith("Raspberry Pi"):
        return
    if told.leds is None:
        yield mind("darkness", "the kernel tells of no lamp on the board", "look at it in the dark")
    lacking = _lacking(told.cmdline)
    if lacking:
        yield mind("darkness", f"the console may show white: no {', '.join(lacking)}", INSTALL)
    elif told.written_anew is not None and (lost := _lacking(told.written_anew.words)):
        found = f"the next kernel's update writes cmdline.txt without {', '.join(lost)}"
        yield mind("darkness", found, f"{INSTALL}: it puts them where the hook takes them from")
    elif told.leds == ():
        yield right("darkness", "the console is silent, the board's own lamps are off")


def _lacking(words: str) -> list[str]:
    return [word for word in CONSOLE if word not in words.split()]
