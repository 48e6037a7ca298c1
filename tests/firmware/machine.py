"""A folder that stands for a Raspberry Pi's root, an installer that runs in it, and the tree that it leaves.

Python's packages are not fetched: a small program stands in for python3, which makes what the installer wants of an
environment and writes down what it was asked. tests/measure/appliance.py installs for real.
"""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
from pathlib import Path

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "firmware" / "raspberrypi"
PYTHON = """\
#!/bin/sh
[ "$1" = --version ] && echo "Python 3.11.2" && exit
[ "$1" = -IB ] && exec "$STAND_IN" "$@"
[ "$1" = -I ] || exit 9
shift
case "$1" in
    -c) echo "${PYTHON_MINOR:-11}" ;;
    -m)
        echo "-I $*" >>"$ASKED"
        [ "$2 $3" = "pip install" ] && [ -n "$NO_PACKAGES" ] && exit 1
        if [ "$2" = venv ]; then
            for folder; do :; done
            mkdir -p "$folder/bin" && cp "$0" "$folder/bin/python"
        fi ;;
esac
"""
TIMERD = """\
#!/bin/sh
[ "$1 $2 $3" = "-IB -m timerd" ] || exit 9
case "$4" in
    status) [ -f "$STATUS" ] && cat "$STATUS" ;;
    check) [ -z "$BENCH_REFUSED" ] ;;
esac
"""


class Machine:
    """One such root, as the system's own installer leaves it."""

    def __init__(self, folder: Path) -> None:
        self.root = folder / "root"
        self.asked = folder / "asked"
        self.status = folder / "status"
        self.clone = ROOT
        self._folder = folder
        tools = folder / "tools"
        tools.mkdir()
        for name, text in (("python3", PYTHON), ("stand-in", TIMERD)):
            (tools / name).write_text(text)
            (tools / name).chmod(0o755)
        for path, text in {
            "boot/firmware/config.txt": "dtparam=audio=on\n[pi4]\narm_boost=1\n",
            "boot/firmware/cmdline.txt": "console=tty1 root=PARTUUID=0a-02 rootwait quiet\n",
            "etc/passwd": "root:x:0:0:root:/root:/bin/bash\n",
            "etc/group": "root:x:0:\ngpio:x:997:\n",
        }.items():
            (self.root / path).parent.mkdir(parents=True, exist_ok=True)
            (self.root / path).write_text(text)
        self.env = {
            "PATH": f"{tools}:{os.environ['PATH']}", "ASKED": str(self.asked), "STAND_IN": str(tools / "stand-in"),
            "STATUS": str(self.status), "TIMERD_HOME": str(folder / "no-home"),
        }  # fmt: skip

    def take_own_clone(self) -> None:
        """From now on it is installed from a copy, which may be changed."""
        self.clone = self._folder / "clone"
        for part in ("timerd", "profiles", "firmware/raspberrypi"):
            shutil.copytree(ROOT / part, self.clone / part, ignore=shutil.ignore_patterns("__pycache__"))
        shutil.copy(ROOT / "pyproject.toml", self.clone)

    def install(self, *options: str, says: str = "", **env: str) -> subprocess.CompletedProcess[str]:
        """Run the installer of the clone in it."""
        command = [str(self.clone / "firmware/raspberrypi/install.sh"), "--root", str(self.root), *options]
        return subprocess.run(command, env={**self.env, **env}, capture_output=True, text=True, input=says, timeout=60)

    def packages_asked(self) -> list[str]:
        """What python3 was asked since last looked, without the paths before the clone and the root."""
        text = self.asked.read_text() if self.asked.exists() else ""
        self.asked.unlink(missing_ok=True)
        return text.replace(f"{self.clone}", "CLONE").replace(f"{self.root}", "").splitlines()

    def tree(self) -> dict[str, str]:
        """Every file with its mode and text, every link with where it leads, every folder but empty ones. Paths in it
        are the root's own."""
        found = {}
        for path in sorted(self.root.rglob("*")):
            name = str(path.relative_to(self.root))
            if path.is_symlink():
                found[name] = f"-> {os.readlink(path)}"
            elif path.is_file():
                found[name] = f"{stat.S_IMODE(path.stat().st_mode):o} {path.read_text().replace(str(self.root), '')}"
        return found
