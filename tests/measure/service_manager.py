"""The appliance under a real service manager: Debian booted in a container, installed, printed on, killed, taken away.

    python tests/measure/service_manager.py            about four minutes; as root, with debootstrap and systemd-nspawn
    python tests/measure/service_manager.py --short    only says what is missing here, or that the long form runs here

The bench is the simulated one and the panel draws for nobody (drop-ins, as a printer may have them); all else is the
units' own. Debian is kept in the cache between runs. In a container the units' two limits may be more than the machine
allows: tests/kernel/ shows those. What the container finds comes back as JSON, from `inside()`.
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
CACHE = Path.home() / ".cache" / "timerd" / "debian"
WANTED = "systemd,systemd-sysv,udev,dbus,python3,python3-venv,ca-certificates,procps,espeak-ng,libgbm1,libdrm2"
NEEDED = {"debootstrap": "debootstrap", "systemd-nspawn": "systemd-container"}
WITHIN_S = 900.0
KILLS = 5
STANDS_STILL_S = 20.0
"""The units' WatchdogSec."""
LONG = "/root/long.yaml"
PRINT = """\
print: A wall
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {base: plain, light: green, seconds: 200, lead_in: 0.2}
"""
CONFIG = "dtparam=audio=on\n[pi4]\narm_boost=1\n"
CMDLINE = "console=tty1 root=PARTUUID=0a-02 rootwait quiet\n"


# -- outside -----------------------------------------------------------------------------------------------------------


def main() -> int:
    missing = [f"{tool} (apt install {package})" for tool, package in NEEDED.items() if shutil.which(tool) is None]
    if os.geteuid() != 0:
        missing.append("root")
    if missing or "--short" in sys.argv:
        print(f"skipped: {'needs ' + ', '.join(missing) if missing else 'the long form runs here'}")
        return 0
    if not (CACHE / "root").exists():
        CACHE.mkdir(parents=True, exist_ok=True)
        subprocess.run(
            ["debootstrap", "--variant=minbase", f"--include={WANTED}", "bookworm", str(CACHE / "made")],
            check=True, stdout=subprocess.DEVNULL,
        )  # fmt: skip
        (CACHE / "made").rename(CACHE / "root")
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


def furnish(machine: Path) -> None:
    """The clone, the boot files, the trial as a service, and this machine's way to its packages."""
    subprocess.run(["git", "clone", "-q", str(ROOT), str(machine / "root" / "timerd")], check=True)
    boot = machine / "boot" / "firmware"
    boot.mkdir(parents=True)
    (boot / "config.txt").write_text(CONFIG)
    (boot / "cmdline.txt").write_text(CMDLINE)
    (machine / LONG[1:]).write_text(PRINT)
    shutil.copy("/etc/resolv.conf", machine / "etc" / "resolv.conf")
    authorities = "etc/ssl/certs/ca-certificates.crt"
    shutil.copy(f"/{authorities}", machine / authorities)
    (machine / "etc" / "pip.conf").write_text(f"[global]\ncert = /{authorities}\n")
    system = machine / "etc" / "systemd" / "system"
    for unit, settings in {
        "timerd": "ExecStart=\nExecStart=/opt/timerd/current/bin/timerd serve --bench ${BENCH} --simulated",
        "timerd-panel": "Environment=SDL_VIDEODRIVER=dummy SDL_AUDIODRIVER=dummy",
    }.items():
        (system / f"{unit}.service.d").mkdir()
        (system / f"{unit}.service.d" / "trial.conf").write_text(f"[Service]\n{settings}\n")
    trial = "/usr/bin/python3 /root/timerd/tests/measure/service_manager.py --inside"
    (system / "trial.service").write_text(
        f"[Unit]\nAfter=multi-user.target\n[Service]\nExecStart={trial}\nStandardOutput=file:/root/said.txt\n"
        "StandardError=file:/root/said.txt\nExecStopPost=/usr/bin/systemctl poweroff\n"
    )
    wants = system / "graphical.target.wants"
    wants.mkdir(exist_ok=True)
    (wants / "trial.service").symlink_to("../trial.service")


def judged(found: dict[str, Any]) -> int:
    """Print what was found, and say whether it is as it should be."""
    dark = sorted(kill["dark_after_s"] for kill in found["kills"])
    apart = max(abs(kill["given"] - kill["true"]) for kill in found["kills"])
    print(f"systemd {found['systemd']}; both services up by themselves: {found['active']}")
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
    right = (
        found["active"] == ["active", "active"] and found["member"] and not found["stranger"] and dark[-1] < 1.0
        and apart < 0.1 and found["daemon_anew"] == found["panel_anew"] == 1 and found["stopped"] == "success"
        and found["then"] == ["start timerd.service now"] and found["boot_as_before"]
        and found["once_more"] == ["nothing: all is as it should be"]
        and found["left"] == ["/etc/timerd", "/run/timerd", "/var/lib/timerd"]  # what is in /run goes with the power
    )  # fmt: skip
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
    end = time.monotonic() + 60
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
    time.sleep(STANDS_STILL_S + 12)
    return int(shown(unit, "NRestarts")) - before


def inside() -> None:
    found: dict[str, Any] = {"systemd": run("systemctl", "--version").stdout.split()[1]}
    before = {path: path.read_text() for path in Path("/boot/firmware").iterdir()}
    install("--bench", "two-station")
    until("idle")
    time.sleep(5)
    found["active"] = [shown(unit, "ActiveState") for unit in ("timerd", "timerd-panel")]
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
    found["boot_as_before"] = {path: path.read_text() for path in Path("/boot/firmware").iterdir()} == before
    left = run("find", "/etc", "/var", "/opt", "/usr", "/run", "-xdev", "-name", "*timerd*").stdout.split()
    found["left"] = sorted(path for path in left if not path.endswith((".service.d", ".journal")))
    Path("/root/found.json").write_text(json.dumps(found))


if __name__ == "__main__":
    if "--inside" in sys.argv:
        inside()
    else:
        sys.exit(main())
