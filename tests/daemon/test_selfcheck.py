"""The self-check: what each answer of a machine is made into, how a machine is asked, and that nothing is disturbed."""

from __future__ import annotations

import json
import math
import os
import re
import shutil
import signal
import subprocess
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from golden import Golden
from outside import need
from served import Served, bursts
from served.killing import PAPER

from timerd.cli import main
from timerd.daemon.recovery import SLACK_S, next_instant
from timerd.daemon.selfcheck import chip as chip_module
from timerd.daemon.selfcheck import machine, trials
from timerd.daemon.selfcheck.answers import (
    Answers,
    Chip,
    ChipLine,
    Clock,
    CopiesFound,
    Disk,
    Output,
    PanelMeans,
    SpeechFound,
    Trial,
    Watchdog,
    WrittenAnew,
)
from timerd.daemon.selfcheck.chip import ask_chip
from timerd.daemon.selfcheck.finding import Finding
from timerd.daemon.selfcheck.findings import findings, known
from timerd.daemon.selfcheck.machine import ask_machine, copies, pedal_pins, pins
from timerd.daemon.selfcheck.starting import lines_word
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import read
from timerd.sheet.reason import DiskSlow, LineNotLow, NotCopied
from timerd.sheet.status import CopiesStand, Since, Status

ROOT = Path(__file__).parents[2]
MEANS = PanelMeans("pygame-ce 2.5.8", ("KMSDRM", "dummy"), None)
BOARD = ROOT / "firmware" / "raspberrypi"
CONFIG = f"a=b\n# timerd: from here, by install.sh\n{(BOARD / 'config.txt').read_text()}# timerd: to here\n"
CMDLINE = f"root=/dev/a {(BOARD / 'cmdline.txt').read_text().strip()} {lines_word(CONFIG)}"
STATUS = Status(bench="two-station", now=1.0, since=Since(0, 1.0), scheduling="real time, memory locked")


def bench(name: str = "two-station", was: str = "", now: str = "") -> Bench:
    text = (ROOT / "profiles" / "benches" / f"{name}.yaml").read_text()
    assert was in text
    value: Bench = read(text.replace(was, now).encode(), "bench.yaml", "bench").value
    return value


BENCH = bench()
FREE = {pin: ChipLine("", False, False) for pin in pins(BENCH)}
HELD = {pin: ChipLine("lg", True, pin not in pedal_pins(BENCH)) for pin in pins(BENCH)}
GOOD = Answers(
    user="timerd", root=False, factory_named="", daemon_trouble=None, leds=(), desktop=False, written_anew=None,
    board="Raspberry Pi 4 Model B Rev 1.4", bench=BENCH,
    packages={"gpiozero": "2.0.1", "lgpio": "0.2.2.0"}, chips=(Chip("/dev/gpiochip0", "pinctrl-bcm2711", HELD),),
    trial=Trial(None, None, (0.00002, 0.00003, 0.0002)), daemon=STATUS,
    release={"pinctrl_bcm2835": "N"}, kernel="6.12.47+rpt-rpi-v8",
    watchdog=Watchdog("Broadcom BCM2835 Watchdog timer", "active", 10), config=CONFIG, cmdline=CMDLINE, throttled=0,
    clock=Clock("arch_sys_counter", 1.0, 2031, 0.0), disk=Disk((0.004, 0.005, 0.02), None, "ext4", 1 << 33),
    copies=CopiesFound("/media/copies/book", True, True, False, "book-2031-03-01.sqlite"),
    screens=(Output("HDMI-A-1", True, True),), cards=(Output("USB Audio", True, True),), means=MEANS,
    speech=SpeechFound("eSpeak NG text-to-speech: 1.51"),
)  # fmt: skip
"""A bench's computer on which all is well."""


def test_a_machine_is_asked_where_copies_go(tmp_path: Path) -> None:
    to = tmp_path / "stick"
    told = bench(was="\nheartbeat:", now=f"\nbackup_to: {to}\nheartbeat:")
    assert copies(BENCH, tmp_path) is None and copies(None, tmp_path) is None
    assert copies(told, tmp_path) == (str(to), False, False, False, None)
    to.mkdir()
    assert copies(told, tmp_path) == (str(to), True, True, True, None), "the book's own disk"
    for name in ("book-2031-03-01.sqlite", "book-2031-02-28.sqlite", "other.sqlite"):
        (to / name).touch()
    assert copies(told, Path("/proc")) == (str(to), True, True, False, "book-2031-03-01.sqlite")


def test_on_a_good_machine_everything_is_right() -> None:
    found = findings(GOOD)
    assert {finding.level for finding in found} == {"right"}
    assert [finding.subject for finding in found] == [
        "board", "daemon", "factory", "pins", "boot", "release", "scheduling", "scheduling", "memory", "watchdog",
        "heartbeat", "clock", "disk", "copies", "power", "darkness", "screen", "fonts", "sound", "speech",
    ]  # fmt: skip
    assert all(finding.found and not finding.do for finding in found)


def changed(**now: Any) -> list[Finding]:
    """What is found otherwise when some answers are others; what goes away is told by no finding of the subject."""
    before = findings(GOOD)
    return [finding for finding in findings(replace(GOOD, **now)) if finding not in before]


WITHOUT_HEARTBEAT = bench(was="heartbeat: {pin: 26}", now="")
LOW_ACTIVE = bench(was="flasher:    {pin: 23,", now="flasher:    {pin: 4, active: low,")


@pytest.mark.parametrize(
    ("now", "wanted"),
    [
        ({"board": None}, [("board", "mind", "this machine does not say what it is")]),
        ({"root": True}, [("user", "mind", "asked as root")]),
        ({"daemon": replace(STATUS, state="fault", reason=LineNotLow())},
         [("daemon", "right", "fault"), ("daemon", "wrong", "a fault: line not low")]),
        ({"daemon": replace(STATUS, ink=DiskSlow())}, [("daemon", "wrong", "waiting for the disk")]),
        ({"daemon_trouble": "the daemon does not answer"}, [("daemon", "wrong", "the daemon does not answer")]),
        ({"daemon": replace(STATUS, scheduling="NOT real time (no), memory NOT locked (no)")},
         [("scheduling", "wrong", "NOT real time"), ("memory", "wrong", "is not locked")]),
        ({"factory_named": "mock"}, [("factory", "wrong", "it only pretends")]),
        ({"factory_named": "rpigpio"}, [("factory", "mind", "GPIOZERO_PIN_FACTORY is rpigpio")]),
        ({"packages": {"gpiozero": "1.6.2", "lgpio": "0.2.2.0"}},
         [("factory", "wrong", "gpiozero is 1.6.2"), ("factory", "right", "gpiozero 1.6.2")]),
        ({"packages": {"gpiozero": None, "lgpio": None}},
         [("factory", "wrong", "gpiozero is not installed"), ("factory", "wrong", "lgpio is not installed")]),
        ({"packages": {"gpiozero": "2.0.1", "lgpio": "0.0.0.2"}}, [("factory", "wrong", "an empty shell")]),
        ({"bench": None}, [("pins", "mind", "no bench is served")]),
        ({"chips": ()}, [("pins", "wrong", "there is no /dev/gpiochip*")]),
        ({"chips": (Chip("/dev/gpiochip0", "", {}, "Permission denied"),)},
         [("pins", "mind", "/dev/gpiochip0: Permission denied; the daemon has them")]),
        ({"chips": (Chip("/dev/gpiochip0", "pinctrl-rp1", {p: l for p, l in HELD.items() if p != 27}),)},
         [("pins", "wrong", "pinctrl-rp1 has no GPIO27 (lamp head-blue)")]),
        ({"chips": (Chip("/dev/gpiochip0", "pinctrl-rp1", HELD | {17: ChipLine("spi0", True, False)}),)},
         [("pins", "wrong", "held by others: GPIO17 (lamp head-green) by 'spi0'")]),
        ({"chips": (Chip("/dev/gpiochip0", "pinctrl-rp1", HELD | {6: ChipLine("lg", True, True)}),)},
         [("pins", "wrong", "driven though a pedal is on them: GPIO6 (pedal end)")]),
        ({"bench": LOW_ACTIVE,
          "chips": (Chip("/dev/gpiochip0", "pinctrl-rp1", HELD | {4: ChipLine("lg", True, True)}),)},
         [("pins", "right", "pinctrl-rp1"),
          ("boot", "mind", "not held at rest from power-up: GPIO4 (lamp flasher, high)")]),
        ({"config": None}, [("boot", "mind", "there is no config.txt")]),
        ({"config": CONFIG.replace("=op,dl", "=op,dh")},
         [("boot", "mind", "not held at rest from power-up: GPIO17 (lamp head-green, low)")]),
        ({"cmdline": CMDLINE.replace("timerd.lines", "timerd.was")},
         [("boot", "mind", "the computer was not started with it")]),
        ({"config": CONFIG.replace("gpio=12,", "gpio=4,")}, [("boot", "mind", "the computer was not started with it")]),
        ({"config": CONFIG.replace("# timerd", "# mine")}, [("boot", "mind", "was started with it is not told")]),
        ({"written_anew": WrittenAnew("", CMDLINE)},
         [("boot", "mind", "the next kernel's update writes config.txt without them: GPIO17 (lamp head-green, low)")]),
        ({"written_anew": WrittenAnew(CONFIG, "quiet mine=1")},
         [("darkness", "mind", "the next kernel's update writes cmdline.txt without logo.nologo")]),
        ({"written_anew": WrittenAnew(CONFIG, CMDLINE)}, []),
        ({"config": CONFIG + "dtoverlay=pwm,pin=26,func=4\n"}, [("heartbeat", "wrong", "GPIO26 is given to PWM")]),
        ({"release": {"pinctrl_bcm2835": "Y"}}, [("release", "wrong", "leaves a killed program's lines")]),
        ({"release": {"pinctrl_bcm2835": "Y"}, "kernel": "6.12.48+deb13-arm64"},
         [("release", "wrong", "leaves a killed program's lines")]),
        ({"release": {}, "kernel": "6.1.0-37-arm64"},
         [("release", "right", "Debian's kernel 6.1.0-37-arm64 has no setting")]),
        ({"release": {}}, [("release", "mind", "the kernel 6.12.47+rpt-rpi-v8 does not say")]),
        ({"trial": Trial(None, None, (0.0001, 0.004))}, [("scheduling", "mind", "at worst 4.0 ms")]),
        ({"watchdog": None}, [("watchdog", "mind", "the board's own is not there")]),
        ({"watchdog": Watchdog("Broadcom", "inactive", 15)}, [("watchdog", "mind", "Broadcom: inactive")]),
        ({"bench": WITHOUT_HEARTBEAT}, [("pins", "right", "all 6 of"), ("heartbeat", "wrong", "the bench has none")]),
        ({"clock": Clock("tsc", 1.001, 2031, 0)}, [("clock", "wrong", "runs +1000 millionths off by tsc")]),
        ({"clock": Clock("tsc", None, 1970, 90.0)},
         [("clock", "right", "by tsc"), ("clock", "mind", "slept for 90 s"), ("clock", "mind", "the date says 1970")]),
        ({"disk": Disk((), "/var/lib/timerd: Read-only file system", "ext4", None)},
         [("disk", "mind", "/var/lib/timerd: Read-only file system; the daemon writes there")]),
        ({"disk": Disk((0.004, 0.005, 0.02), None, "tmpfs", 1 << 20)},
         [("disk", "wrong", "the book lies in memory (tmpfs)"), ("disk", "wrong", "1 MB are free")]),
        ({"copies": None}, [("copies", "mind", "no copies are made of the book")]),
        ({"copies": CopiesFound("/c", False, False, False, None)}, [("copies", "wrong", "/c is not there")]),
        ({"copies": CopiesFound("/c", True, False, False, None)},
         [("copies", "wrong", "/c: timerd may not write there")]),
        ({"copies": CopiesFound("/c", True, True, True, None)}, [("copies", "mind", "/c is on the book's own disk")]),
        ({"copies": CopiesFound("/c", True, True, False, None)}, [("copies", "right", "/c: none yet")]),
        ({"daemon": replace(STATUS, copies=CopiesStand("/c", None, NotCopied("its disk is full")))},
         [("copies", "wrong", "/media/copies/book: the book is not copied: its disk is full")]),
        ({"disk": Disk((0.01, 0.2), None, "ext4", 1 << 33)}, [("disk", "mind", "at worst 200.0 ms (of 2)")]),
        ({"disk": Disk((0.01, 0.6), None, "ext4", 1 << 33)},
         [("disk", "wrong", "a light may be put out before its end, since its ink dries too late")]),
        ({"throttled": 0x50005},
         [("power", "wrong", "the supply is too weak now"), ("power", "mind", "the processor is slowed down")]),
        ({"throttled": 0x50000}, [("power", "mind", "the supply was too weak since the start")]),
        ({"throttled": None}, [("power", "mind", "does not tell how the supply holds")]),
        ({"leds": ("ACT", "PWR")}, [("darkness", "mind", "lamps on the board are lit: ACT, PWR")]),
        ({"leds": None}, [("darkness", "mind", "the kernel tells of no lamp on the board")]),
        ({"cmdline": f"console=tty1 {lines_word(CONFIG)}"},
         [("darkness", "mind", "the console may show white: no quiet")]),
        ({"screens": ()}, [("screen", "mind", "no screen is connected")]),
        ({"screens": (Output("HDMI-A-1", True, False),)}, [("screen", "mind", "HDMI-A-1: timerd may not use it")]),
        ({"means": PanelMeans("pygame 2.6.1", ("x11",), "gone")},
         [("screen", "mind", "pygame 2.6.1 cannot draw on the bare console"), ("fonts", "wrong", "gone")]),
        ({"means": PanelMeans(None, (), None, "No module named 'pygame'")},
         [("screen", "wrong", "pygame cannot be used: No module named 'pygame'")]),
        ({"desktop": True, "screens": ()}, [("screen", "right", "a desktop")]),
        ({"cards": ()}, [("sound", "mind", "there is no card")]),
        ({"cards": (Output("USB Audio", True, False),)}, [("sound", "mind", "USB Audio: timerd may not use it")]),
        ({"speech": None}, [("speech", "mind", "espeak-ng is not installed")]),
        ({"speech": SpeechFound("a", "voice 'en-quay': does not exist")}, [("speech", "mind", "a: voice 'en-quay'")]),
        ({"speech": SpeechFound("a", untried="not tried: so")}, [("speech", "mind", "a: not tried: so")]),
        ({"clock": Clock("tsc", None, 2031, 0)}, [("clock", "right", "by tsc; how fast it runs was not tried")]),
    ],
)  # fmt: skip
def test_each_answer_has_its_finding_and_what_to_do(now: Mapping[str, Any], wanted: list[tuple[str, str, str]]) -> None:
    found = changed(**now)
    assert [(finding.subject, finding.level) for finding in found] == [(subject, level) for subject, level, _ in wanted]
    for finding, (_, level, words) in zip(found, wanted, strict=True):
        assert words in finding.found and bool(finding.do) == (level != "right")
        assert finding.do.count("\n") == 0 == finding.found.count("\n")


def test_without_a_daemon_the_trial_counts(golden: Golden) -> None:
    alone = replace(GOOD, daemon=None, chips=(Chip("/dev/gpiochip0", "pinctrl-bcm2711", FREE),))
    found = {finding.subject: finding for finding in findings(alone)}
    assert found["daemon"].level == "mind"
    golden(found["pins"].found)
    golden(found["memory"].found)
    refused = replace(alone, trial=Trial("Operation not permitted", "Cannot allocate memory", (0.002,)))
    told = [(f.subject, f.level) for f in findings(refused) if f.subject in ("scheduling", "memory")]
    assert told == [("scheduling", "mind"), ("scheduling", "right"), ("memory", "mind")]
    late = replace(alone, trial=Trial(None, None, (), "not tried: so"))
    told = [f for f in findings(late) if f.subject in ("scheduling", "memory")]
    assert [(f.subject, f.level, f.found) for f in told] == [
        ("scheduling", "mind", "not tried: so"), ("memory", "mind", "not tried: so"),
    ]  # fmt: skip
    barred = replace(
        alone, chips=(Chip("/dev/gpiochip0", "", {}, "Permission denied"),), disk=Disk((), "/x: no", "ext4", None)
    )
    wrong = [(f.subject, f.found) for f in findings(barred) if f.level == "wrong"]
    assert wrong == [("pins", "/dev/gpiochip0: Permission denied"), ("disk", "/x: no")]
    held = {f.subject: f for f in findings(replace(GOOD, daemon=None))}
    assert held["pins"].level == "wrong", "what timerd's library holds while nobody serves is held by another program"


def test_what_is_known_of_a_light_after_a_power_cut_is_what_the_daemon_will_say() -> None:
    """Against the instants themselves, played one by one."""
    for sync_s in (0.0, 0.004, 0.08, 0.4):
        for seconds in (1.0, 10.0, 33.0, 299.0):
            on_disk = 0.0
            instant = next_instant(0.0)
            while instant <= seconds:
                if instant + sync_s <= seconds:
                    on_disk = instant
                instant = next_instant(instant)
            lo, hi = known(seconds, sync_s)
            assert lo == on_disk and hi == pytest.approx(next_instant(on_disk) + SLACK_S)
            assert lo <= seconds <= hi or sync_s > SLACK_S - 0.2
    assert math.log2(known(10.0, 0.004)[1] / known(10.0, 0.004)[0]) < 0.25


# -- asking ------------------------------------------------------------------------------------------------------


def test_the_kernel_s_numbers_and_layouts_are_those_of_its_header(tmp_path: Path) -> None:
    need(shutil.which("cc") is not None, "a C compiler", "apt install gcc libc6-dev")
    (tmp_path / "a.c").write_text("""
#include <linux/gpio.h>
#include <stddef.h>
#include <stdio.h>
#include <sys/ioctl.h>
int main(void) {
    struct gpio_v2_line_info *i = 0; struct gpiochip_info *c = 0;
    printf("%u %u %zu %zu %zu %zu %zu %zu %zu %llu %llu\\n",
        (unsigned)GPIO_GET_CHIPINFO_IOCTL, (unsigned)GPIO_V2_GET_LINEINFO_IOCTL, sizeof *c, sizeof *i,
        offsetof(struct gpiochip_info, label), offsetof(struct gpiochip_info, lines),
        offsetof(struct gpio_v2_line_info, consumer), offsetof(struct gpio_v2_line_info, offset),
        offsetof(struct gpio_v2_line_info, flags),
        (unsigned long long)GPIO_V2_LINE_FLAG_USED, (unsigned long long)GPIO_V2_LINE_FLAG_OUTPUT);
}""")
    subprocess.run(["cc", "-o", "a", "a.c"], cwd=tmp_path, check=True)
    told = [int(word) for word in subprocess.run([tmp_path / "a"], capture_output=True, text=True).stdout.split()]
    assert told == [
        chip_module.GET_CHIPINFO, chip_module.GET_LINEINFO, chip_module.CHIPINFO.size, chip_module.LINEINFO.size,
        32, 64, 32, 64, 72, chip_module.USED, chip_module.OUTPUT,
    ]  # fmt: skip


def test_what_is_no_chip_is_told(golden: Golden, tmp_path: Path) -> None:
    (tmp_path / "gpiochip0").write_text("no chip")
    assert ask_chip(tmp_path / "gpiochip0", [17]) == Chip(
        str(tmp_path / "gpiochip0"), "", {}, "Inappropriate ioctl for device"
    )
    golden(ask_chip(tmp_path / "gpiochip9", [17]).trouble)


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trials, "SYNCS", 3)
    monkeypatch.setattr(trials, "_CHILD", "print('[null, \"no\", [0.1]]')")


def test_a_machine_s_own_tables_are_read(quick: None, tmp_path: Path) -> None:
    tables = {
        "proc/device-tree/model": "Raspberry Pi 5 Model B Rev 1.0\0", "proc/cmdline": "quiet\n",
        "proc/sys/kernel/osrelease": "6.6.1-v8\n", "etc/kernel/postinst.d/z50-raspi-firmware": "another's",
        "proc/self/mounts": f"/dev/a / ext4 rw 0 0\n/dev/b {tmp_path} vfat rw 0 0\n",
        "proc/asound/pcm": "00-00: HDMI : HDMI : playback 1\n01-00: A mic : A mic : capture 1\n",
        "sys/module/pinctrl_rp1/parameters/persist_gpio_outputs": "Y\n", "dev/snd/pcmC0D0p": "",
        "sys/class/watchdog/watchdog0/identity": "A dog\n", "sys/class/watchdog/watchdog0/state": "active\n",
        "sys/class/watchdog/watchdog0/timeout": "10\n", "boot/firmware/config.txt": "a=b\n",
        "sys/class/leds/ACT/brightness": "255\n", "sys/class/leds/PWR/brightness": "0\n",
        "sys/class/leds/input0::capslock/brightness": "1\n",
        "sys/devices/platform/soc/soc:firmware/get_throttled": "50000\n",
        "sys/class/drm/card1-HDMI-A-1/status": "connected\n", "sys/class/drm/card1-HDMI-A-2/status": "disconnected\n",
        "sys/class/drm/version": "drm 1.1.0\n", "dev/dri/card1": "",
        "sys/devices/system/clocksource/clocksource0/current_clocksource": "arch_sys_counter\n",
    }  # fmt: skip
    for path, text in tables.items():
        (tmp_path / path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / path).write_text(text)
    told = ask_machine(BENCH, tmp_path / "none" / "yet", None, None, MEANS, tmp_path)
    assert (told.board, told.cmdline, told.config) == ("Raspberry Pi 5 Model B Rev 1.0", "quiet", "a=b")
    assert told.release == {"pinctrl_rp1": "Y"} and told.watchdog == Watchdog("A dog", "active", 10)
    assert told.written_anew is None and told.kernel == "6.6.1-v8"
    assert told.leds == ("ACT",) and told.throttled == 0x50000
    assert told.screens == (Output("HDMI-A-1", True, True), Output("HDMI-A-2", False, True))
    assert told.cards == (Output("HDMI", True, True),)
    assert told.trial == Trial(None, "no", (0.1,)) and told.clock.source == "arch_sys_counter"
    assert (len(told.disk.syncs), told.disk.kind, told.disk.trouble) == (3, "vfat", None)
    assert told.clock.rate is not None and abs(told.clock.rate - 1) < 0.01
    assert [path.name for path in tmp_path.iterdir() if "sync" in path.name] == []
    assert not (tmp_path / "none").exists(), "and nothing was made"


def test_an_empty_machine_is_no_trouble(quick: None, tmp_path: Path) -> None:
    told = ask_machine(None, tmp_path, None, None, MEANS, tmp_path)
    assert (told.board, told.config, told.watchdog, told.throttled, told.chips) == (None, None, None, None, ())
    assert (told.leds, told.kernel) == (None, "")
    assert {finding.level for finding in findings(told)} >= {"mind"}


def test_a_book_s_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "home").write_text("a file")
    found = trials.try_disk(tmp_path / "home")
    assert found.trouble == f"{tmp_path / 'home'}: Not a directory" and found.syncs == ()


def test_what_a_hook_of_debian_s_writes_anew_is_known(quick: None, tmp_path: Path) -> None:
    hook = tmp_path / "etc/kernel/postinst.d/z50-raspi-firmware"
    hook.parent.mkdir(parents=True)
    hook.write_text('firmware_custom="/etc/default/raspi-firmware-custom"')
    (tmp_path / "etc/default").mkdir()
    assert ask_machine(BENCH, tmp_path, None, None, MEANS, tmp_path).written_anew == ("", "")
    (tmp_path / "etc/default/raspi-firmware-custom").write_text("a=b\n")
    (tmp_path / "etc/default/raspi-extra-cmdline").write_text("quiet\n")
    assert ask_machine(BENCH, tmp_path, None, None, MEANS, tmp_path).written_anew == ("a=b", "quiet")


def test_a_trial_that_times_out_is_told_as_none(golden: Golden, monkeypatch: pytest.MonkeyPatch) -> None:
    """By a child that never answers, and by one that cannot be made."""
    monkeypatch.setattr(trials, "_CHILD", "import signal; signal.pause()")
    monkeypatch.setattr(trials, "_CHILD_WITHIN_S", 0.01)
    late = Trial(None, None, (), "not tried: this machine did not come to it within 0.01 s")
    assert trials.try_scheduling() == late
    monkeypatch.setattr("sys.executable", "/nowhere/python")
    golden(trials.try_scheduling())


def test_speech_that_does_not_answer_in_time_is_no_wrong_voice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    program = tmp_path / "espeak-ng"
    program.write_text('#!/bin/sh\n[ "$1" = --version ] && echo "Talker: 1.0  Data at: x" && exit\neval "$DOES"\n')
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    for does, within_s, speech in (
        ("exec sleep 60", 2.0, SpeechFound("Talker: 1.0", untried="not tried: it did not answer within 2 s")),
        ("echo no such voice >&2; exit 1", 20.0, SpeechFound("Talker: 1.0", "voice 'en': no such voice")),
        ("true", 20.0, SpeechFound("Talker: 1.0")),
    ):
        monkeypatch.setenv("DOES", does)
        monkeypatch.setattr(machine, "_SPEAKS_WITHIN_S", within_s)
        assert machine._speech(None) == speech


def test_the_trial_is_made_in_a_child() -> None:
    found = trials.try_scheduling()
    assert len(found.late) == trials.WAITS and min(found.late) >= 0

    assert os.sched_getscheduler(0) == os.SCHED_OTHER


# -- the command -------------------------------------------------------------------------------------------------


def check(capsys: pytest.CaptureFixture[str], home: Path, *options: str) -> tuple[int, str]:
    """The command, run here; its status and what it printed."""
    status = main(["--home", str(home), "bench", "check", *options])
    told = capsys.readouterr()
    assert told.err == ""
    return status, told.out


def test_the_command_says_what_is_missing_here_and_ends_with_1(
    quick: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    monkeypatch.setenv("GPIOZERO_PIN_FACTORY", "mock")
    status, told = check(capsys, tmp_path, "--bench", "two-station")
    said = told.splitlines()
    assert status == 1 and "wrong  factory: GPIOZERO_PIN_FACTORY is mock: it only pretends" in said
    assert all(line[:7] in ("right  ", "mind   ", "wrong  ", "       ") for line in said[:-2])
    assert re.fullmatch(r"for the user \S+: [0-9]+ wrong, [0-9]+ to mind, [0-9]+ right", said[-1])
    assert "mind   daemon: none serves here" in said


def test_beside_a_daemon_with_a_light_on_nothing_is_tried_and_nothing_is_disturbed(
    golden: Golden, quick: None, served: Served, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(served.memory))
    served.start()

    def words() -> dict[str, str]:
        found = json.loads(check(capsys, served.home, "--json")[1])["findings"]
        return {finding["subject"]: finding["found"] for finding in found}

    idle = words()
    assert served.truth() == []
    golden(idle["daemon"])
    assert idle["disk"].startswith("a sync takes ") and idle["heartbeat"].startswith("on GPIO26")
    print_ = "print: A wall\npaper: demo-resin-pearl\nbench: two-station\nsheet: 8x10 in\nsteps:\n"
    served.load(f"{print_}  - {{base: plain, light: green, seconds: 90, lead_in: 0.2}}\n", PAPER)
    served.arm()
    served.light()
    before = served.truth()
    lit = words()
    golden(lit["daemon"])
    assert served.truth() == before
    golden(lit["disk"])
    served.tap("end")
    served.state("paused")
    ((line, _, dark),) = bursts(served.truth())
    assert line == "lamp head-green" and dark is not None


def test_a_daemon_that_does_not_answer_is_told_and_nothing_is_tried(
    quick: None, served: Served, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(served.memory))
    monkeypatch.setattr("timerd.cli.bench.ANSWERS_WITHIN_S", 0.2)
    served.start()
    served.kill("daemon", how=signal.SIGSTOP)
    status, told = check(capsys, served.home)
    served.kill("daemon", how=signal.SIGCONT)
    assert status == 1 and "wrong  daemon: " in told
    assert "disk: not tried" in told
