"""The kernel of these tests, built from Debian's kernel source and kept outside the repository.

python tests/kernel/build.py

Two processor minutes and 1.6 GB while it builds; 4 MB are kept, in the user's cache folder, under the source's version
and what `config` asks for. Needs: apt install linux-source gcc make flex bison bc xz-utils
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path

HERE = Path(__file__).parent
SOURCES = Path("/usr/src")
NEEDS = "linux-source gcc make flex bison bc xz-utils"
HOW = f"apt install {NEEDS}, then python tests/kernel/build.py"
CHANGES = (
    ("arch/um/include/asm/irq.h", r"^(#define NR_IRQS\s+)UM_LAST_SIGNAL_IRQ$", r"\1(UM_LAST_SIGNAL_IRQ + 64)"),
    ("drivers/gpio/gpio-sim.c", r"^#include <linux/irq_sim\.h>$", r"\g<0>\n#include <linux/irq_work.h>"),
    (
        "drivers/gpio/gpio-sim.c", r"irq_set_irqchip_state\(irq, IRQCHIP_STATE_PENDING,\s+true\);",
        r"\g<0>\n\t\t\tlocal_irq_disable();\n\t\t\tirq_work_run();\n\t\t\tlocal_irq_enable();",
    ),
)  # fmt: skip
"""What is changed in the source: as it comes, User-Mode Linux has no interrupts left for pins' edges, and tells of an
edge at its next tick only, which is 10 ms off at the worst; a second edge of the same line before that is lost."""


class NotBuilt(LookupError):
    """There is no kernel, and what is missing to build one."""


def kernel(environment: Mapping[str, str] = os.environ) -> Path:
    """The kernel that was built last for this `config`. Raises NotBuilt."""
    found = sorted(_cache(environment).glob(f"*-{_key()}/linux"), key=lambda path: path.stat().st_mtime)
    if not found:
        raise NotBuilt("a kernel with a simulated GPIO chip")
    return found[-1]


def build(environment: Mapping[str, str] = os.environ) -> Path:
    """The kernel of the source that is installed, built if that was not done yet. Raises NotBuilt."""
    source = _source()
    place = _cache(environment) / f"{_version(source)}-{_key()}"
    if not (place / "linux").exists():
        place.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix="timerd-kernel-") as folder:
            built = _built(source, Path(folder))
            beside = place / f"linux.{os.getpid()}"
            shutil.copy(built, beside)
            beside.replace(place / "linux")
    return place / "linux"


def _cache(environment: Mapping[str, str]) -> Path:
    base = environment.get("XDG_CACHE_HOME") or Path(environment.get("HOME") or Path.home()) / ".cache"
    return Path(base) / "timerd" / "kernels"


def _wanted() -> str:
    lines = (HERE / "config").read_text().splitlines()
    return "".join(f"{line}\n" for line in lines if line and not line.startswith("#"))


def _key() -> str:
    return hashlib.sha256((_wanted() + repr(CHANGES)).encode()).hexdigest()[:12]


def _source() -> Path:
    found = sorted(
        SOURCES.glob("linux-source-*.tar.xz"), key=lambda path: [int(n) for n in re.findall(r"\d+", path.name)]
    )
    tools = [tool for tool in ("gcc", "make", "flex", "bison", "bc", "xz") if shutil.which(tool) is None]
    if not found or tools:
        raise NotBuilt(f"no kernel can be built without {', '.join(tools or ['its source'])}: apt install {NEEDS}")
    return found[-1]


def _version(source: Path) -> str:
    """The version of Debian's package that the source came with."""
    package = source.name.removesuffix(".tar.xz")
    asked = subprocess.run(["dpkg-query", "-W", "-f=${Version}", package], capture_output=True, text=True)
    return asked.stdout.strip() or package


def _built(source: Path, folder: Path) -> Path:
    subprocess.run(["tar", "-xf", source, "-C", folder], check=True)
    (tree,) = folder.iterdir()
    for name, found, put in CHANGES:
        file = tree / name
        text, changed = re.subn(found, put, file.read_text(), flags=re.MULTILINE)
        if not changed:
            raise NotBuilt(f"{source}: {name} is not as it was: see CHANGES in tests/kernel/build.py")
        file.write_text(text)
    wanted = folder / "wanted"
    wanted.write_text(_wanted())
    log = folder / "log"
    _make(tree, log, f"KCONFIG_ALLCONFIG={wanted}", "allnoconfig")
    got = (tree / ".config").read_text().splitlines()
    if lost := [line for line in _wanted().splitlines() if line not in got]:
        raise NotBuilt(f"{source}: this kernel does not take {', '.join(lost)}: see tests/kernel/config")
    _make(tree, log, f"-j{len(os.sched_getaffinity(0))}", "linux")
    subprocess.run(["strip", "linux"], cwd=tree, check=True)
    return tree / "linux"


def _make(tree: Path, log: Path, *what: str) -> None:
    with log.open("a") as out:
        done = subprocess.run(
            ["nice", "make", "ARCH=um", *what], cwd=tree, stdout=out, stderr=out, stdin=subprocess.DEVNULL
        )
    if done.returncode:
        raise NotBuilt("the kernel did not build:\n" + "\n".join(log.read_text().splitlines()[-30:]))


if __name__ == "__main__":
    try:
        sys.stdout.write(f"{build()}\n")
    except (NotBuilt, OSError, subprocess.SubprocessError) as error:
        sys.exit(f"{error}")
