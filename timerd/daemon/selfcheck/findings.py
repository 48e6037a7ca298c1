"""What a machine's answers mean: right, to mind, or wrong, each with what to do. Pure."""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Iterator

from timerd.bench.lines import PIN_LIBRARY
from timerd.daemon.recovery import SLACK_S, next_instant
from timerd.daemon.selfcheck.answers import Answers, Disk
from timerd.daemon.selfcheck.finding import Finding, mind, right, wrong
from timerd.daemon.selfcheck.machine import pedal_pins, pins
from timerd.daemon.selfcheck.showing import screen, sound, speech
from timerd.daemon.selfcheck.starting import INSTALL, at_boot, dark_room, release
from timerd.sheet.telling import ink_words, mind_words, reason_words

ASK_AGAIN = "ask again when no sheet is under way, and nothing else runs here"
AS_ITS_USER = "ask as the service's user: sudo -u timerd timerd bench check"
LATE_S = 0.001
"""A keeper that is woken later than this at the worst spoils no light, but something holds it up."""
LEAST_FREE = 64 << 20
SLOW_SYNC_S = 0.1
RATE = 0.0005
"""The steering of a clock that Linux allows: 500 parts in a million."""
IN_MEMORY = frozenset({"tmpfs", "ramfs", "overlay"})


def findings(told: Answers) -> list[Finding]:
    """All that is to be said of these answers, subject by subject."""
    subjects = (
        board, daemon, factory, lines, at_boot, release, scheduling, memory, watchdog, heartbeat, clock, disk, copies,
        power, dark_room, screen, sound, speech,
    )  # fmt: skip
    return [finding for subject in subjects for finding in subject(told)]


def board(told: Answers) -> Iterator[Finding]:
    if told.board is not None and told.board.startswith("Raspberry Pi"):
        yield right("board", told.board)
    else:
        found = told.board or "this machine does not say what it is"
        yield mind("board", found, "real lines need a Raspberry Pi; elsewhere serve a bench with --simulated")
    if told.root:
        yield mind("user", "asked as root, who may everything: what timerd's users may is not seen", AS_ITS_USER)


def daemon(told: Answers) -> Iterator[Finding]:
    if told.daemon_trouble is not None:
        yield wrong("daemon", told.daemon_trouble, "see  systemctl status timerd; in doubt  timerd dark")
        return
    if told.daemon is None:
        yield mind("daemon", "none serves here", "with a bench that is built: sudo systemctl start timerd")
        return
    served = told.daemon
    kind = "SIMULATED lines" if served.simulated else "real lines"
    yield right("daemon", f"serves '{served.bench}' with {kind}, {served.state}")
    if served.state == "fault":
        words = reason_words(served.reason or "", served.unplugged)
        yield wrong("daemon", f"a fault: {words}", "see what is wrong, then hold both pedals for 2 s")
    if served.ink is not None:
        yield wrong("daemon", ink_words(served.ink), "see to the disk, then start timerd anew")


def factory(told: Answers) -> Iterator[Finding]:
    if "mock" in told.factory_named.lower():
        yield wrong("factory", f"GPIOZERO_PIN_FACTORY is {told.factory_named}: it only pretends", "unset it")
    elif told.factory_named not in ("", "lgpio"):
        yield mind("factory", f"GPIOZERO_PIN_FACTORY is {told.factory_named}", "unset it: only lgpio's was tried")
    version, pin_library = told.packages.get("gpiozero"), told.packages.get("lgpio")
    if version is None or int(version.partition(".")[0]) < 2:
        yield wrong("factory", f"gpiozero is {version or 'not installed'}: 2.0 or later is needed", INSTALL)
    if pin_library is None:
        yield wrong("factory", "lgpio is not installed: no real line can be had", f"{INSTALL}, or {PIN_LIBRARY}")
    elif pin_library.startswith("0.0."):
        yield wrong("factory", f"lgpio {pin_library} is an empty shell", f"pip uninstall lgpio, and {PIN_LIBRARY}")
    elif version is not None:
        yield right("factory", f"gpiozero {version} on lgpio {pin_library}")


def lines(told: Answers) -> Iterator[Finding]:
    """Each line of the bench: is it there, and is it anybody's?"""
    if told.bench is None:
        yield mind("pins", "not looked at: no bench is served, and none was named", "say --bench BENCH")
        return
    wanted = pins(told.bench)
    found = [chip for chip in told.chips if "pinctrl-" in chip.label] or list(told.chips)
    if not found:
        yield wrong("pins", "there is no /dev/gpiochip*", "run this on the bench's own computer")
        return
    chip = found[0]
    ours = told.daemon is not None and not told.daemon.simulated
    if chip.trouble is not None:
        words = f"{chip.path}: {chip.trouble}"
        if ours:
            yield mind("pins", f"{words}; the daemon has them", AS_ITS_USER)
        else:
            yield wrong("pins", words, f"let this user join the group gpio, or {AS_ITS_USER}")
        return
    missing = sorted(set(wanted) - set(chip.lines))
    if missing:
        names = ", ".join(f"GPIO{pin} ({wanted[pin]})" for pin in missing)
        yield wrong("pins", f"{chip.label} has no {names}", "mend the bench's file")
    strangers = [
        f"GPIO{pin} ({wanted[pin]}) by '{line.consumer}'"
        for pin, line in chip.lines.items()
        if line.used and pin in wanted and not (ours and line.consumer in ("lg", "timerd"))
    ]
    if strangers:
        do = "stop what holds them: another program, or an overlay in config.txt"
        yield wrong("pins", f"held by others: {', '.join(strangers)}", do)
    feet = pedal_pins(told.bench)
    backwards = [f"GPIO{pin} ({feet[pin]})" for pin, line in chip.lines.items() if line.output and pin in feet]
    if backwards:
        yield wrong("pins", f"driven though a pedal is on them: {', '.join(backwards)}", "free them: config.txt")
    if not (missing or strangers or backwards):
        held = "held by timerd" if ours else "free"
        yield right("pins", f"{chip.label}: all {len(wanted)} of '{told.bench.bench}' are {held}")


def scheduling(told: Answers) -> Iterator[Finding]:
    if told.daemon is not None:
        words = told.daemon.scheduling
        if "NOT real time" in words:
            yield wrong("scheduling", f"the keeper is {words}", "start it as the service does; see its limits")
        else:
            yield right("scheduling", f"the keeper is {words.split(',')[0]}")
    elif told.trial.untried is not None:
        yield mind("scheduling", told.trial.untried, ASK_AGAIN)
    elif told.trial.real_time is None:
        yield right("scheduling", f"{told.user} may run the keeper in real time")
    else:
        do = "serve it by the service, which may (LimitRTPRIO), or give this user the right rtprio 50"
        yield mind("scheduling", f"{told.user} may not run it in real time: {told.trial.real_time}", do)
    if told.trial.late:
        late = sorted(told.trial.late)
        words = f"woken late by {_ms(statistics.median(late))}, at worst {_ms(late[-1])} (of {len(late)} waits)"
        if late[-1] <= LATE_S or told.trial.real_time is not None:
            yield right("scheduling", words)
        else:
            yield mind("scheduling", words, "see what else runs here; a light may end so much too late")


def memory(told: Answers) -> Iterator[Finding]:
    if told.daemon is not None:
        if "memory locked" in told.daemon.scheduling:
            yield right("memory", "the keeper's is locked")
        else:
            yield wrong("memory", "the keeper's is not locked: it may wait for the disk", "see LimitMEMLOCK")
    elif told.trial.untried is not None:
        yield mind("memory", told.trial.untried, ASK_AGAIN)
    elif told.trial.memory is None:
        yield right("memory", f"{told.user} may lock the keeper's")
    else:
        do = "serve it by the service, which may (LimitMEMLOCK), or give this user the right memlock"
        yield mind("memory", f"{told.user} may not lock the keeper's: {told.trial.memory}", do)


def watchdog(told: Answers) -> Iterator[Finding]:
    found = told.watchdog
    if found is None:
        do = "put dtparam=watchdog=on into config.txt; a computer that stands still stays so"
        yield mind("watchdog", "the board's own is not there", do)
    elif found.state != "active":
        yield mind("watchdog", f"{found.identity}: {found.state}", f"{INSTALL}: it has the service manager feed it")
    else:
        seconds = f", {found.timeout_s} s" if found.timeout_s is not None else ""
        yield right("watchdog", f"{found.identity}: active{seconds}")


def heartbeat(told: Answers) -> Iterator[Finding]:
    if told.bench is None:
        return
    if told.bench.heartbeat is None:
        do = "build the interlock (hardware/INTERLOCK.md) or the lamp guard, and give the bench's file its pin"
        yield wrong("heartbeat", "the bench has none: nothing cuts the lamps off when the computer stands still", do)
        return
    pin = told.bench.heartbeat.pin
    if told.config is not None and re.search(rf"^dtoverlay=(pwm|[a-z-]*pwm)\b.*\bpin2?={pin}\b", told.config, re.M):
        yield wrong("heartbeat", f"GPIO{pin} is given to PWM, which beats on when a program hangs", "config.txt")
    else:
        yield right("heartbeat", f"on GPIO{pin}; only the cut-off test shows that K1 drops out: repeat it monthly")


def clock(told: Answers) -> Iterator[Finding]:
    found = told.clock
    source = found.source or "a source that is not told"
    if found.rate is not None and abs(found.rate - 1) > RATE:
        yield wrong("clock", f"runs {(found.rate - 1) * 1e6:+.0f} millionths off by {source}", "see what steers it")
    else:
        yield right("clock", f"by {source}{'' if found.rate is not None else '; how fast it runs was not tried'}")
    if found.suspended_s > 1:
        do = "switch suspend off: a sleeping computer neither beats nor counts"
        yield mind("clock", f"this computer slept for {found.suspended_s:.0f} s since it started", do)
    if found.year < 2024:
        yield mind("clock", f"the date says {found.year}: sheets will carry it", "set it; no light is timed by it")


def disk(told: Answers) -> Iterator[Finding]:
    found = told.disk
    if found.untried is not None:
        yield mind("disk", found.untried, ASK_AGAIN)
        return
    if found.trouble is not None:
        if told.daemon is not None and told.daemon.ink is None:
            yield mind("disk", f"{found.trouble}; the daemon writes there", AS_ITS_USER)
        else:
            yield wrong("disk", found.trouble, f"no ink, no light: see that it can be written, or {AS_ITS_USER}")
        return
    if found.kind in IN_MEMORY:
        yield wrong("disk", f"the book lies in memory ({found.kind}): a power cut takes it", "mount a disk there")
    if found.free_bytes is not None and found.free_bytes < LEAST_FREE:
        yield wrong("disk", f"{found.free_bytes >> 20} MB are free", "make room: a full disk ends the run, dark")
    if found.syncs:
        yield from _syncs(found)


def _syncs(found: Disk) -> Iterator[Finding]:
    """What the time of a sync means for a light that burns when the power fails."""
    median, worst = statistics.median(found.syncs), max(found.syncs)
    words = f"a sync takes {_ms(median)}, at worst {_ms(worst)} (of {len(found.syncs)})"
    if worst >= SLACK_S:
        do = "take another card or disk, or stop what else writes to it"
        yield wrong("disk", f"{words}: a light may be put out before its end, since its ink dries too late", do)
        return
    lo, hi = known(10.0, worst)
    meaning = (
        f"a light of 10 s that the power ends is known to +/-{(hi - lo) / 2:.1f} s, {math.log2(hi / lo) / 2:.2f} stop"
    )
    if worst > SLOW_SYNC_S:
        yield mind("disk", f"{words}; {meaning}", "a better card makes it surer")
    else:
        yield right("disk", f"{words}; {meaning}")


def known(seconds: float, sync_s: float) -> tuple[float, float]:
    """Between which two doses a light lies, at the widest, that a power cut ended after so long: the last instant that
    was on disk, if each takes `sync_s` to get there, and as far as the keeper would have let it burn.

    >>> known(10.0, 0.01)
    (8.979696386474986, 10.579368399158987)
    """
    lo, instant = 0.0, next_instant(0.0)
    while instant + sync_s <= seconds:
        lo, instant = instant, next_instant(instant)
    return lo, next_instant(lo) + SLACK_S


def copies(told: Answers) -> Iterator[Finding]:
    """The copies of the book: cards die."""
    found = told.copies
    if told.bench is None:
        return
    if found is None:
        do = "cards die: name a folder on a stick in the bench's file, as in  backup_to: /media/copies/book"
        yield mind("copies", "no copies are made of the book", do)
        return
    served = told.daemon.copies if told.daemon is not None else None
    if served is not None and served.wrong is not None:
        do = "see to the folder and its disk; it is tried again when the bench comes to rest"
        yield wrong("copies", f"{found.folder}: {mind_words(served.wrong)}", do)
    elif not found.there:
        yield wrong("copies", f"{found.folder} is not there", "put the stick in, and see that it is mounted")
    elif not found.allowed and served is None:
        yield wrong("copies", f"{found.folder}: {told.user} may not write there", f"let it, or {AS_ITS_USER}")
    elif found.same_disk:
        yield mind("copies", f"{found.folder} is on the book's own disk: both die at once", "name one on another disk")
    else:
        yield right("copies", f"{found.folder}: {found.newest or 'none yet'}")


def power(told: Answers) -> Iterator[Finding]:
    if told.throttled is None:
        if told.board is not None and told.board.startswith("Raspberry Pi"):
            yield mind("power", "this kernel does not tell how the supply holds", "take the board's own supply")
        return
    if told.throttled & 0x1:
        yield wrong("power", "the supply is too weak now", "a stronger supply, a shorter lead")
    elif told.throttled & 0x10000:
        yield mind("power", "the supply was too weak since the start", "a stronger supply, a shorter lead")
    else:
        yield right("power", "the supply has held since the start")
    if told.throttled & 0x4:
        yield mind("power", "the processor is slowed down (heat or supply)", "see to its cooling")


def _ms(seconds: float) -> str:
    return f"{seconds * 1e3:.1f} ms" if seconds >= 1e-4 else f"{seconds * 1e3:.2f} ms"
