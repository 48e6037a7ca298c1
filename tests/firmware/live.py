"""The installer as root on the running system, as it is for a printer, but in an overlay that is thrown away.

The users are really made there, and commands really run as them; packages, Python's and the system's, and services are
stood in for, as in `machine.py`. What was changed anywhere in the system is what lies in the overlay's upper layer.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from firmware.machine import PYTHON, ROOT, TIMERD

_INSIDE = """\
set -e
mount -t overlay overlay -o lowerdir=$FOLDER/layer:/,upperdir=$FOLDER/upper,workdir=$FOLDER/work $FOLDER/merged
for there in /proc /dev; do mount --rbind $there $FOLDER/merged$there; done
mount --bind $FOLDER $FOLDER/merged$FOLDER
exec chroot $FOLDER/merged "$@"
"""
_TOOLS = {
    "python3": PYTHON, "stand-in": TIMERD.replace("case", 'echo "$4 by $(id -un)" >>$ASKED\ncase', 1),
    "systemctl": '#!/bin/sh\n[ "$1" != is-active ]\n', "udevadm": "#!/bin/sh\n",
    "dpkg-query": "#!/bin/sh\n[ -n \"$ALL_THERE\" ] && echo install ok installed\n",
    "apt-get": """\
#!/bin/sh
echo "apt-get $*" >>$ASKED
case "$*" in
    *--simulate*) [ -z "$CANNOT_BE_HAD" ] || { echo "E: $CANNOT_BE_HAD" >&2; exit 100; } ;;
    *install*) [ -z "$APT_FAILS" ] ;;
esac
""",
}  # fmt: skip


class Live:
    """One such system; `layer` is what it has that this machine has not. Raises OSError where it cannot be had here."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="timerd-live-", dir="/dev/shm"))  # not below what it overlays
        self.folder.chmod(0o755)  # its users come by
        for part in ("layer", "upper", "work", "merged", "tools"):
            (self.folder / part).mkdir()
        self.layer, self.upper, self.asked = self.folder / "layer", self.folder / "upper", self.folder / "asked"
        self.asked.touch()
        self.asked.chmod(0o666)
        for name, text in _TOOLS.items():
            (self.folder / "tools" / name).write_text(text)
            (self.folder / "tools" / name).chmod(0o755)
        self.put("boot/firmware/config.txt", "dtparam=audio=on\n")
        if (ran := self.run("true")).returncode:
            self.close()
            raise OSError(ran.stderr.strip())

    def put(self, path: str, text: str) -> None:
        """A file that this system has."""
        (self.layer / path).parent.mkdir(parents=True, exist_ok=True)
        (self.layer / path).write_text(text)

    def run(self, *command: str, **env: str) -> subprocess.CompletedProcess[str]:
        told = {
            "PATH": f"{self.folder}/tools:{os.environ['PATH']}", "ASKED": str(self.asked), "FOLDER": str(self.folder),
            "STAND_IN": f"{self.folder}/tools/stand-in",
        }  # fmt: skip
        return subprocess.run(
            ["unshare", "-m", "sh", "-c", _INSIDE, "sh", *command], env={**told, **env}, capture_output=True, text=True,
            stdin=subprocess.DEVNULL, timeout=60,
        )  # fmt: skip

    def install(self, *options: str, **env: str) -> subprocess.CompletedProcess[str]:
        """Run the installer; what is then in `upper` is what it has changed."""
        return self.run(str(ROOT / "firmware/raspberrypi/install.sh"), "--yes", *options, **env)

    def was_asked(self) -> list[str]:
        """What the stand-ins were asked since last looked: of packages, and of timerd, by whom."""
        told = self.asked.read_text().splitlines()
        self.asked.write_text("")
        return [line for line in told if line.startswith(("apt-get", "check", "status"))]

    def changed(self) -> list[str]:
        """Every file that was written."""
        return sorted(str(path.relative_to(self.upper)) for path in self.upper.rglob("*") if not path.is_dir())

    def close(self) -> None:
        shutil.rmtree(self.folder)
