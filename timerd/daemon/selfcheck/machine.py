"""Asks a machine what it has and what this user may, by its own tables; `root` is where those lie."""

from __future__ import annotations

import contextlib
import getpass
import importlib.metadata
import os
import re
import shutil
import subprocess
from pathlib import Path

from timerd.daemon.selfcheck import answers
from timerd.daemon.selfcheck.chip import ask_chip
from timerd.daemon.selfcheck.trials import both_clocks, try_clock, try_disk, try_scheduling
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.status import Status

AT_REST = ("idle", "done", "abandoned", "fault")
"""Nothing of the disk or the processor is tried while a daemon is in any other state."""
UNDER_WAY = "not tried: a sheet is under way"
NOT_TOLD = "not tried: a sheet may be under way"
HOOK, TAKEN = "etc/kernel/postinst.d/z50-raspi-firmware", "raspi-firmware-custom"
"""Debian's, and what tells it from another system's of the same name: it writes both boot files anew."""
_SPEAKS_WITHIN_S = 10.0


def ask_machine(
    bench: Bench | None, home: Path, daemon: Status | None, daemon_trouble: str | None, means: answers.PanelMeans,
    root: Path = Path("/"),
) -> answers.Answers:  # fmt: skip
    """All of a machine's answers. Beside a daemon with a sheet under way, or one that says nothing, nothing is tried
    that could hold it up."""
    clocks = both_clocks()
    busy = UNDER_WAY if daemon is not None and daemon.state not in AT_REST else None
    busy = NOT_TOLD if daemon_trouble is not None else busy
    trial = answers.Trial(None, None, (), busy) if busy is not None else try_scheduling()
    disk = answers.Disk((), None, None, None, busy) if busy is not None else try_disk(home, root)
    return answers.Answers(
        user=_user(), root=os.geteuid() == 0, board=_text(root / "proc/device-tree/model"), packages=packages(),
        factory_named=os.environ.get("GPIOZERO_PIN_FACTORY", ""), bench=bench, chips=_chips(bench, root), trial=trial,
        daemon=daemon, daemon_trouble=daemon_trouble, release=release(root), watchdog=_watchdog(root),
        config=boot_config(root),
        cmdline=_text(root / "proc/cmdline") or "", written_anew=written_anew(root),
        kernel=_text(root / "proc/sys/kernel/osrelease") or "", leds=_leds(root), throttled=_throttled(root), disk=disk,
        copies=copies(bench, home),
        screens=_screens(root), desktop=bool({"DISPLAY", "WAYLAND_DISPLAY"} & os.environ.keys()), cards=_cards(root),
        means=means, speech=_speech(bench), clock=try_clock(clocks, root),
    )  # fmt: skip


def pins(bench: Bench) -> dict[int, str]:
    """Every pin of a bench, and what it is for."""
    return {pin: what for pin, (what, _) in resting(bench).items()} | pedal_pins(bench)


def resting(bench: Bench) -> dict[int, tuple[str, str]]:
    """The pins that go out: what each is for, and its level at rest (`low` or `high`)."""
    found = {lamp.pin: (f"lamp {name}", _rest(lamp.active)) for name, lamp in bench.lamps.items()}
    stays = [(name, lamp) for name, lamp in bench.lamps.items() if lamp.stay_pin is not None]
    found |= {lamp.stay_pin: (f"lamp {name}, stay line", _rest(lamp.active)) for name, lamp in stays if lamp.stay_pin}
    if bench.safelight.pin is not None:
        found[bench.safelight.pin] = ("safelight", _rest(bench.safelight.active))
    for what, line in (("heartbeat", bench.heartbeat), ("cue line", bench.cue_line)):
        if line is not None:
            found[line.pin] = (what, "low")
    return found


def _rest(active: str) -> str:
    return "low" if active == "high" else "high"


def pedal_pins(bench: Bench) -> dict[int, str]:
    """The pins that pedals are on."""
    feet = bench.pedals.named()
    return {pedal.pin: f"pedal {name}" for name, pedals in feet for pedal in pedals if pedal.pin is not None}


def packages() -> dict[str, str | None]:
    """The pin library and what lies under it."""
    found: dict[str, str | None] = {}
    for name in ("gpiozero", "lgpio"):
        try:
            found[name] = importlib.metadata.version(name)
        except importlib.metadata.PackageNotFoundError:
            found[name] = None
    return found


def release(root: Path) -> dict[str, str]:
    """The kernel's parameters that keep a line as it was when its owner dies."""
    found = {}
    for path in sorted((root / "sys/module").glob("pinctrl_*/parameters/persist_gpio_outputs")):
        if (value := _text(path)) is not None:
            found[path.parts[-3]] = value
    return found


def boot_config(root: Path) -> str | None:
    """The board's config.txt."""
    for place in ("boot/firmware/config.txt", "boot/config.txt"):
        if (text := _text(root / place)) is not None:
            return text
    return None


def written_anew(root: Path) -> answers.WrittenAnew | None:
    """What the next update of a kernel or of the firmware puts into the boot files; None where it leaves them alone."""
    if TAKEN not in (_text(root / HOOK) or ""):
        return None
    default = root / "etc/default"
    return answers.WrittenAnew(_text(default / TAKEN) or "", _text(default / "raspi-extra-cmdline") or "")


def _user() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return str(os.geteuid())


def _text(path: Path) -> str | None:
    with contextlib.suppress(OSError, ValueError):
        return path.read_text(errors="replace").strip("\0\n")
    return None


def _chips(bench: Bench | None, root: Path) -> tuple[answers.Chip, ...]:
    wanted = pins(bench) if bench is not None else {}
    return tuple(ask_chip(path, wanted) for path in sorted((root / "dev").glob("gpiochip*")))


def _watchdog(root: Path) -> answers.Watchdog | None:
    for place in sorted((root / "sys/class/watchdog").glob("watchdog*")):
        timeout = _text(place / "timeout") or ""
        seconds = int(timeout) if timeout.isdecimal() else None
        return answers.Watchdog(_text(place / "identity") or place.name, _text(place / "state") or "not told", seconds)
    return None


def _leds(root: Path) -> tuple[str, ...] | None:
    places = sorted((root / "sys/class/leds").glob("*"))
    ours = [place for place in places if "kbd" not in place.name and "::" not in place.name]
    return tuple(place.name for place in ours if (_text(place / "brightness") or "0") != "0") if ours else None


def _throttled(root: Path) -> int | None:
    text = _text(root / "sys/devices/platform/soc/soc:firmware/get_throttled")
    with contextlib.suppress(ValueError):
        return int(text, 16) if text is not None else None
    return None


def copies(bench: Bench | None, home: Path) -> answers.CopiesFound | None:
    """Where the bench's file has copies of the book go; None where it names no folder."""
    if bench is None or bench.backup_to is None:
        return None
    folder = Path(bench.backup_to)
    there = folder.is_dir()
    same = newest = None
    with contextlib.suppress(OSError):
        same = there and home.stat().st_dev == folder.stat().st_dev
        newest = max((path.name for path in folder.glob("book-*.sqlite")), default=None)
    return answers.CopiesFound(str(folder), there, os.access(folder, os.W_OK | os.X_OK), bool(same), newest)


def _screens(root: Path) -> tuple[answers.Output, ...]:
    found = []
    for place in sorted((root / "sys/class/drm").glob("card*-*")):
        card = place.name.partition("-")[0]
        allowed = os.access(root / "dev/dri" / card, os.R_OK | os.W_OK)
        found.append(answers.Output(place.name.partition("-")[2], _text(place / "status") == "connected", allowed))
    return tuple(found)


def _cards(root: Path) -> tuple[answers.Output, ...]:
    found = []
    for line in (_text(root / "proc/asound/pcm") or "").splitlines():
        number = re.match(r"([0-9]+)-([0-9]+): ", line)
        if number is not None and "playback" in line:
            device = root / f"dev/snd/pcmC{int(number[1])}D{int(number[2])}p"
            name = line.split(":")[1].strip()
            found.append(answers.Output(name, device.exists(), os.access(device, os.R_OK | os.W_OK)))
    return tuple(found)


def _speech(bench: Bench | None) -> answers.SpeechFound | None:
    program = shutil.which("espeak-ng")
    if program is None:
        return None
    voice = bench.sound.voice if bench is not None else "en"
    version = "espeak-ng"
    try:
        version = _said(program, "--version").partition("  ")[0].strip() or version
        _said(program, "-v", voice, "-q", "--stdin")
    except subprocess.TimeoutExpired:
        return answers.SpeechFound(version, untried=f"not tried: it did not answer within {_SPEAKS_WITHIN_S:g} s")
    except (OSError, subprocess.SubprocessError) as error:
        return answers.SpeechFound(
            version, f"voice '{voice}': {getattr(error, 'stderr', '') or type(error).__name__}".strip()
        )
    return answers.SpeechFound(version)


def _said(*command: str) -> str:
    return subprocess.run(
        command, capture_output=True, text=True, input="one\n", timeout=_SPEAKS_WITHIN_S, check=True
    ).stdout
