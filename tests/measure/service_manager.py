"""The appliance under a real service manager: Debian booted in a container, installed, printed on, killed, taken away.

    python tests/measure/service_manager.py            about four minutes; as root, with debootstrap and systemd-nspawn
    python tests/measure/service_manager.py --arm64    the same on a board's kind of processor, by user emulation
    python tests/measure/service_manager.py --short    only says what is missing here, or that the long form runs here

The bench is the simulated one and the panel draws for nobody (drop-ins, as a printer may have them); all else is the
units' own. Before that the panel is let run without a screen, and the boot files are written anew by Debian's own
hook, as at a kernel's update. Debian is kept in the cache between runs. In a container the units' two limits may be
more than the machine allows: tests/kernel/ shows those. What the container finds comes back as JSON, from `inside()`.
"""

from __future__ import annotations

import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
ARM = "--arm64" in sys.argv
EMULATED = "--emulated" in sys.argv or (ARM and os.uname().machine != "aarch64")
CACHE = Path.home() / ".cache" / "timerd" / ("debian-arm64" if ARM else "debian")
WANTED = "systemd,systemd-sysv,udev,dbus,python3,python3-venv,ca-certificates,procps,espeak-ng,libgbm1,libdrm2"
NEEDED = {"debootstrap": "debootstrap", "systemd-nspawn": "systemd-container"}
if EMULATED:
    NEEDED["qemu-aarch64-static"] = "qemu-user-static"
FORMATS = Path("/proc/sys/fs/binfmt_misc")
FORMAT = Path("/usr/lib/binfmt.d/qemu-aarch64.conf")
SLOW = 10 if EMULATED else 1
DARK_WITHIN_S = 1.0 * SLOW
"""The keeper is not killed with its daemon: the end of their pipe darkens the bench."""
NOT_EMULATED = "PrivateNetwork=no\nPrivateIPC=no"
"""Two of the units' namespaces, which the emulation's system calls cannot set up (an input/output error); nor has it
any filter for system calls, which the service manager leaves out by itself then."""
WITHIN_S = 900.0 * (4 if EMULATED else 1)
KILLS = 2 if EMULATED else 5
STANDS_STILL_S = 20.0
"""The units' WatchdogSec."""
LONG = "/root/long.yaml"
HOOK = "/etc/kernel/postinst.d/z50-raspi-firmware"
PRINT = """\
print: A wall
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {base: plain, light: green, seconds: 200, lead_in: 0.2}
"""


# -- outside -----------------------------------------------------------------------------------------------------------


def main() -> int:
    missing = [f"{tool} (apt install {package})" for tool, package in NEEDED.items() if shutil.which(tool) is None]
    if os.geteuid() != 0:
        missing.append("root")
    if missing or "--short" in sys.argv:
        print(f"skipped: {'needs ' + ', '.join(missing) if missing else 'the long form runs here'}")
        return 0
    if EMULATED and not (FORMATS / FORMAT.stem).exists():
        if not (FORMATS / "register").exists():
            subprocess.run(["mount", "-t", "binfmt_misc", "none", str(FORMATS)], check=True)
        (FORMATS / "register").write_bytes(FORMAT.read_bytes())
    if not (CACHE / "root").exists():
        make()
    with tempfile.TemporaryDirectory(dir="/var/tmp") as made:
        machine = Path(made) / "machine"
        subprocess.run(["cp", "-a", str(CACHE / "root"), str(machine)], check=True)
        furnish(machine)
        booted = subprocess.run(
            ["systemd-nspawn", "-q", "-D", str(machine), "--boot", "--register=no", "--keep-unit"],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=WITHIN_S,
        )  # fmt: skip
        found = machine / "root" / "found.json"
        if not found.exists():
            print((machine / "root/said.txt").read_text() if (machine / "root/said.txt").exists() else booted.stdout)
            raise SystemExit("the trial in the container came to no end")
        return judged(json.loads(found.read_text()))


def make() -> None:
    """Debian, and the hook of its package for a Raspberry Pi's firmware, which is not installed: it wants a board."""
    made = CACHE / "made"
    shutil.rmtree(made, ignore_errors=True)
    made.mkdir(parents=True)
    arch = ["--arch=arm64"] if ARM else []
    subprocess.run(
        ["debootstrap", "--variant=minbase", *arch, f"--include={WANTED}", "bookworm", str(made)], check=True,
        stdout=subprocess.DEVNULL,
    )  # fmt: skip
    sources = made / "etc" / "apt" / "sources.list"
    sources.write_text(f"{sources.read_text().strip()} non-free-firmware\n")
    shutil.copy("/etc/resolv.conf", made / "etc" / "resolv.conf")
    get = "apt-get update -q && apt-get download -q raspi-firmware && dpkg-deb -x raspi-firmware_* firmware && rm *.deb"
    subprocess.run(["chroot", str(made), "sh", "-c", f"cd /root && {get}"], check=True, stdout=subprocess.DEVNULL)
    shutil.copytree(made / "root" / "firmware" / "etc", made / "root" / "hook" / "etc")
    shutil.rmtree(made / "root" / "firmware")
    made.rename(CACHE / "root")


def furnish(machine: Path) -> None:
    """The clone, the boot files, the trial as a service, and this machine's way to its packages."""
    subprocess.run(["git", "clone", "-q", str(ROOT), str(machine / "root" / "timerd")], check=True)
    for kernel in ("vmlinuz", "initrd.img"):
        (machine / "boot" / f"{kernel}-6.1.0-1-arm64").write_text("none\n")
    (machine / LONG[1:]).write_text(PRINT)
    shutil.copy("/etc/resolv.conf", machine / "etc" / "resolv.conf")
    authorities = "etc/ssl/certs/ca-certificates.crt"
    shutil.copy(f"/{authorities}", machine / authorities)
    (machine / "etc" / "pip.conf").write_text(f"[global]\ncert = /{authorities}\n")
    system = machine / "etc" / "systemd" / "system"
    drop_in(system, "timerd", "ExecStart=\nExecStart=/opt/timerd/current/bin/timerd serve --bench ${BENCH} --simulated")
    for unit in ("timerd", "timerd-panel") if EMULATED else ():
        drop_in(system, unit, NOT_EMULATED, "emulated.conf")
    trial = "/usr/bin/python3 /root/timerd/tests/measure/service_manager.py --inside" + " --emulated" * EMULATED
    (system / "trial.service").write_text(
        f"[Unit]\nAfter=multi-user.target\n[Service]\nExecStart={trial}\nStandardOutput=file:/root/said.txt\n"
        "StandardError=file:/root/said.txt\nExecStopPost=/usr/bin/systemctl poweroff\n"
    )
    wants = system / "graphical.target.wants"
    wants.mkdir(exist_ok=True)
    (wants / "trial.service").symlink_to("../trial.service")


def drop_in(system: Path, unit: str, settings: str, name: str = "trial.conf") -> None:
    """Settings of our own for a unit, as a printer may have them."""
    folder = system / f"{unit}.service.d"
    folder.mkdir(exist_ok=True)
    (folder / name).write_text(f"[Service]\n{settings}\n")


def judged(found: dict[str, Any]) -> int:
    """Print what was found, and say whether it is as it should be."""
    dark = sorted(kill["dark_after_s"] for kill in found["kills"])
    apart = max(abs(kill["given"] - kill["true"]) for kill in found["kills"])
    print(f"systemd {found['systemd']}, {found['machine']}; installed in {found['installed_s']:.0f} s")
    print(f"the panel without a screen: started again and again: {found['no_screen']['again']}; it says: ", end="")
    print(found["no_screen"]["says"])
    print(f"both services up by themselves: {found['active']}; as after a kernel's update: {found['updated']}")
    print(f"a user of the group timerd may operate it: {found['member']}; another one: {found['stranger']}")
    print(
        f"the daemon killed with a light on, {len(dark)} times: dark after {statistics.median(dark) * 1e3:.0f} ms "
        f"(median), {dark[-1] * 1e3:.0f} ms at most; served again after {found['again_s']:.1f} s at most; "
        f"dose in the book and on the line at most {apart * 1e3:.1f} ms apart; ended by: {found['ended_by']}"
    )
    print(
        f"stood still, and started anew by the watchdog: the daemon {found['daemon_anew']}, panel {found['panel_anew']}"
    )
    print(f"stopped: {found['stopped']}; the installer then: {found['then']}; once more: {found['once_more']}")
    print(f"after the uninstall: {found['left']}; boot files as before: {found['boot_as_before']}")
    wanted = {
        "active": ["active", "active"], "member": True, "stranger": False, "daemon_anew": 1, "panel_anew": 1,
        "updated": {"config.txt": True, "cmdline.txt": True}, "stopped": "success", "boot_as_before": True,
        "then": ["start timerd.service now"], "once_more": ["nothing: all is as it should be"],
        "left": ["/etc/timerd", "/run/timerd", "/var/lib/timerd"],  # what is in /run goes with the power
    }  # fmt: skip
    right = found["no_screen"]["again"] and dark[-1] < DARK_WITHIN_S and apart < 0.1
    right = right and {name: found[name] for name in wanted} == wanted
    if EMULATED:
        print(f"left out, since the emulation has none: {', '.join(NOT_EMULATED.split())}, and filters of system calls")
    print("as it should be" if right else "NOT as it should be")
    return 0 if right else 1


# -- inside ------------------------------------------------------------------------------------------------------------


def run(*command: str, user: str | None = None) -> subprocess.CompletedProcess[str]:
    as_user = ["runuser", "-u", user, "--"] if user is not None else []
    done = subprocess.run([*as_user, *command], capture_output=True, text=True)
    print("$", *command, f"({user})" if user else "", f"[{done.returncode}]\n{done.stdout}{done.stderr}", flush=True)
    return done


def install(*options: str) -> list[str]:
    """What the installer said it would change, indented as it says it."""
    done = run("/root/timerd/firmware/raspberrypi/install.sh", "--yes", *options)
    if done.returncode:
        run("journalctl", "-u", "timerd", "-n", "30", "-o", "cat", "--no-pager")
        raise SystemExit("the installer failed")
    changes = done.stdout.partition("this would change:\n")[2].partition("changing:")[0]
    return [line.strip() for line in changes.splitlines()]


def shown(unit: str, what: str) -> str:
    return run("systemctl", "show", "-p", what, "--value", unit).stdout.strip()


def status() -> dict[str, Any] | None:
    done = run("timerd", "status", "--json", user="timerd")
    found: dict[str, Any] | None = json.loads(done.stdout) if done.returncode == 0 else None
    return found


def until(state: str) -> dict[str, Any]:
    end = time.monotonic() + 60 * SLOW
    while time.monotonic() < end:
        now = status()
        if now is not None and now["state"] == state:
            return now
        time.sleep(0.1)
    raise SystemExit(f"it never came to {state}")


def press(seconds: float) -> None:
    run("timerd", "press", "go", "--for", f"{seconds:g}", user="timerd")


def truth() -> list[dict[str, Any]]:
    edges = [json.loads(line) for line in Path("/run/timerd/truth").read_text().splitlines()]
    return [edge for edge in edges if edge["line"] == "lamp head-green"]


def killed_once(number: int) -> dict[str, Any]:
    """The sheet at hand goes on, and its daemon is killed with the light on; the sheet is offered again."""
    press(1.2)
    if number == 0:
        until("prompt")
        time.sleep(0.8)
        press(0.1)
        until("ready")
    else:
        until("paused")
    time.sleep(0.8)
    press(0.1)
    until("exposing")
    time.sleep(0.3 * number)
    before = len(truth())
    daemon = int(shown("timerd", "MainPID"))
    at = time.monotonic()
    os.kill(daemon, 9)
    while (now := status()) is None or now["unfinished"] is None:
        time.sleep(0.05)
    again = time.monotonic() - at
    edges = truth()
    (off,) = edges[before:]
    lit = sum(b["t"] - a["t"] for a, b in zip(edges[::2], edges[1::2], strict=True))
    return {"dark_after_s": off["t"] - at, "again_s": again, "given": now["unfinished"]["given"], "true": lit}


def stands_still(unit: str) -> int:
    """How often the manager starts a service anew whose process is stopped."""
    before = int(shown(unit, "NRestarts"))
    os.kill(int(shown(unit, "MainPID")), 19)
    end = time.monotonic() + STANDS_STILL_S + 12 * SLOW
    while time.monotonic() < end and (int(shown(unit, "NRestarts")) == before or not up(unit)):
        time.sleep(1)
    time.sleep(5)
    return int(shown(unit, "NRestarts")) - before


def up(unit: str) -> bool:
    return shown(unit, "ActiveState") == "active"


def without_a_screen() -> dict[str, Any]:
    """The panel where there is nothing to draw on, as in a room that is served by ear: it looks again and again."""
    end = time.monotonic() + 60 * SLOW
    while time.monotonic() < end and int(shown("timerd-panel", "NRestarts")) < 2:
        time.sleep(1)
    again = int(shown("timerd-panel", "NRestarts")) >= 2
    said = run("journalctl", "-u", "timerd-panel", "-o", "cat", "--no-pager").stdout.splitlines()
    by_itself = [
        line for line in said if not line.startswith(("Start", "Stopp", "timerd-panel.service", "Fail", "Sched"))
    ]
    return {"again": again, "says": by_itself[-1] if by_itself else "nothing"}


def update() -> None:
    """As a kernel's update: Debian's hook writes the boot files anew."""
    if run("sh", "-c", f"DEB_MAINT_PARAMS=configure exec {HOOK}").returncode:
        raise SystemExit("the hook failed")


def settings(text: str) -> list[list[str]]:
    """What is no comment in a boot file."""
    return [line.split() for line in text.splitlines() if line.strip() and not line.startswith("#")]


def boot_files() -> dict[Path, str]:
    return {path: path.read_text() for path in Path("/boot/firmware").glob("*.txt")}


def inside() -> None:
    found: dict[str, Any] = {"systemd": run("systemctl", "--version").stdout.split()[1], "machine": os.uname().machine}
    shutil.copytree("/root/hook/etc", "/etc", dirs_exist_ok=True)
    update()
    before = boot_files()
    begun = time.monotonic()
    install("--bench", "two-station")
    found["installed_s"] = time.monotonic() - begun
    until("idle")
    found["no_screen"] = without_a_screen()
    drop_in(Path("/etc/systemd/system"), "timerd-panel", "Environment=SDL_VIDEODRIVER=dummy SDL_AUDIODRIVER=dummy")
    run("systemctl", "daemon-reload")
    run("systemctl", "restart", "timerd-panel")
    time.sleep(5)
    found["active"] = [shown(unit, "ActiveState") for unit in ("timerd", "timerd-panel")]
    as_installed = boot_files()
    update()
    found["updated"] = {path.name: settings(boot_files()[path]) == settings(as_installed[path]) for path in before}
    run("timerd", "bench", "check", user="timerd")
    run("useradd", "-m", "-G", "timerd", "member")
    run("useradd", "-m", "stranger")
    Path("/root").chmod(0o755)
    found["member"] = run("timerd", "load", LONG, user="member").returncode == 0
    found["stranger"] = run("timerd", "load", LONG, user="stranger").returncode == 0
    kills = [killed_once(number) for number in range(KILLS)]
    found["kills"], found["again_s"] = kills, max(kill["again_s"] for kill in kills)
    told = json.loads(run("timerd", "sheet", "1", "--json", user="timerd").stdout)
    found["ended_by"] = sorted({burst["why"] for burst in told["bursts"]})
    found["daemon_anew"], found["panel_anew"] = stands_still("timerd"), stands_still("timerd-panel")
    run("timerd", "give-up", user="timerd")
    run("systemctl", "stop", "timerd")
    found["stopped"] = shown("timerd", "Result")
    found["then"] = install()
    until("idle")
    found["once_more"] = install()
    install("--uninstall")
    update()
    found["boot_as_before"] = boot_files() == before
    left = run("find", "/etc", "/var", "/opt", "/usr", "/run", "-xdev", "-name", "*timerd*").stdout.split()
    found["left"] = sorted(path for path in left if not path.endswith((".service.d", ".journal")))
    Path("/root/found.json").write_text(json.dumps(found))


if __name__ == "__main__":
    if "--inside" in sys.argv:
        inside()
    else:
        sys.exit(main())
