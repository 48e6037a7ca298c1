"""The first process of the emulated kernel: makes the system what a program expects, runs it, and halts."""

from __future__ import annotations

import ctypes
import json
import os
import subprocess
import sys
import traceback
from pathlib import Path

OUT = Path("/run/out")
REVISION = "c03111"
"""A Raspberry Pi 4 B's."""
LINES = 54
"""As many as that board's own chip has."""
_HALT = 0x4321FEDC
_BIND = 4096
_libc = ctypes.CDLL(None, use_errno=True)


def mount(what: str, where: str, kind: str, data: str = "", flags: int = 0) -> None:
    """Mount a file system. Raises OSError."""
    if _libc.mount(what.encode(), where.encode(), kind.encode(), flags, data.encode()):
        raise OSError(ctypes.get_errno(), f"mount {where}: {os.strerror(ctypes.get_errno())}")


def main(folder: str) -> None:
    """Run the job that lies in `folder`, and leave its exit status there."""
    for kind, where in (("proc", "/proc"), ("sysfs", "/sys"), ("tmpfs", "/run"), ("devtmpfs", "/dev")):
        mount(kind, where, kind)
    mount("configfs", "/sys/kernel/config", "configfs")
    mount("tracefs", "/sys/kernel/tracing", "tracefs")
    OUT.mkdir()
    mount("out", str(OUT), "hostfs", folder)
    _become_a_raspberry_pi()
    _plug_the_chip_in()
    (OUT / "begun").touch()
    job = json.loads((OUT / "job.json").read_text())
    Path("/run/tmp").mkdir(mode=0o1777)
    environment = {
        **job["environment"], "HOME": "/run", "TMPDIR": "/run/tmp", "PYTHONDONTWRITEBYTECODE": "1",
        "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1",
    }  # fmt: skip
    done = subprocess.run(job["program"], env=environment, cwd="/run/tmp", stdin=subprocess.DEVNULL)
    (OUT / "ended").write_text(str(done.returncode))


def _become_a_raspberry_pi() -> None:
    """What gpiozero looks for; all else of it is as it is."""
    told = Path("/run/cpuinfo")
    told.write_text(f"{Path('/proc/cpuinfo').read_text()}Revision\t: {REVISION}\n")
    mount(str(told), "/proc/cpuinfo", "", flags=_BIND)


def _plug_the_chip_in() -> None:
    chip = Path("/sys/kernel/config/gpio-sim/chip")
    (chip / "bank").mkdir(parents=True)
    (chip / "bank" / "num_lines").write_text(str(LINES))
    (chip / "live").write_text("1")


if __name__ == "__main__":
    try:
        main(sys.argv[1])
    except Exception:  # noqa: BLE001 - whatever it is, the machine must halt and say so
        traceback.print_exc()
    sys.stdout.flush()
    os.sync()
    _libc.reboot(_HALT)
