"""The installer for real, into a folder: packages fetched by their hashes, and what was installed run in its cages.

    python tests/measure/appliance.py [--short]

Needs the package index. The daemon serves a simulated bench in the cage of its unit and prints a sheet of one light;
the panel follows it in the cage of its own, on SDL's dummy drivers. Then the panel's pictures, drawn by what was
installed, are held against those in tests/pictures (the long form draws all sizes). Ends with 1 where something failed.
"""

from __future__ import annotations

import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from firmware.machine import ROOT, SOURCE
from served import LIMIT_S, Served, bursts
from served.killing import PAPER

from firmware import cage

PANEL_S = 4.0
LONG_S = 20.0
PRINT = """\
print: A wall
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {base: plain, light: green, seconds: 2, lead_in: 1}
"""


def main() -> int:
    short = "--short" in sys.argv
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        root = folder / "root"
        root.mkdir()
        begun = time.monotonic()
        install(root, "--bench", "two-station")
        print(f"installed in {time.monotonic() - begun:.0f} s, packages fetched by their hashes")
        program = root / "opt/timerd/current/bin/timerd"
        print(told(program, "--version").strip())
        python = program.with_name("python")
        print(
            told(python, "-c", "import pygame; print('pygame-ce', pygame.version.ver, 'SDL', pygame.get_sdl_version())")
        )
        sdl = next((root / "opt/timerd/current").glob("lib/python*/site-packages/pygame_ce.libs/libSDL2-2*"))
        drivers = [name for name in (b"KMSDRM", b"wayland", b"x11") if name in sdl.read_bytes()]
        print("its SDL knows", ", ".join(name.decode() for name in drivers))
        if b"KMSDRM" not in drivers:
            raise SystemExit("the panel could not draw on the bare console")
        serve_and_show(folder / "bench", program, LONG_S if not short else PANEL_S)
        pictures(program, folder / "pictures", short)
        install(root, "--uninstall")
        left = [path for path in root.rglob("*") if "timerd" in path.name and path.is_file()]
        print("after the uninstall:", ", ".join(sorted(str(path.relative_to(root)) for path in left)) or "nothing left")
    return 0


def install(root: Path, *options: str) -> None:
    done = subprocess.run(
        [str(SOURCE / "install.sh"), "--root", str(root), "--yes", *options], capture_output=True, text=True
    )
    if done.returncode:
        raise SystemExit(f"{done.stdout}{done.stderr}")


def told(*command: str | Path) -> str:
    return subprocess.run([str(word) for word in command], capture_output=True, text=True, check=True).stdout.strip()


class Installed(Served):
    """The daemon that was installed, in its unit's cage."""

    def __init__(self, folder: Path, program: Path) -> None:
        super().__init__(folder)
        self.program = program
        self.cache = folder / "cache"
        self.cache.mkdir()

    def caged(self, unit: str, command: list[str], **env: str) -> subprocess.Popen[str]:
        where = SOURCE / f"{unit}.service"
        there = {"TIMERD_HOME": str(self.home), "XDG_RUNTIME_DIR": str(self.memory), "LG_WD": str(self.memory)}
        writable = [str(path) for path in (self.home, self.memory, self.cache)]
        return subprocess.Popen(
            [sys.executable, cage.__file__, str(where), *writable, "--", *command], text=True, cwd="/",
            env={**cage.environment(cage.settings(where)), **there, **env},
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        )  # fmt: skip

    def start(self, *more: str) -> None:
        words = cage.settings(SOURCE / "timerd.service")["ExecStart"][0].split()[1:-1]
        self.daemon = self.caged("timerd", [str(self.program), *words, "two-station", "--simulated"])
        assert self.daemon.stdout is not None
        for line in self.daemon.stdout:
            print("serve:", line.strip())
            if line.startswith("serving"):
                return
        raise SystemExit("the daemon does not serve")


def serve_and_show(folder: Path, program: Path, seconds: float) -> None:
    pins = [str(program.with_name("python")), "-c", "import lgpio; print('lgpio', lgpio.get_module_version())"]
    bench = Installed(folder, program)
    loaded = bench.caged("timerd", pins)
    print("in the cage:", loaded.communicate(timeout=LIMIT_S)[0].strip().splitlines()[-1])
    bench.start()
    panel = bench.caged(
        "timerd-panel", [str(program), "panel"], SDL_VIDEODRIVER="dummy", SDL_AUDIODRIVER="dummy",
        XDG_CACHE_HOME=str(bench.cache),
    )  # fmt: skip
    try:
        bench.load(PRINT, PAPER)
        bench.arm()
        bench.tap("go")
        bench.state("done")
        time.sleep(seconds)
        ((line, lit, dark),) = bursts(bench.truth())
        print(f"a light of 2 s: {line}, {dark - lit if dark else 0:.4f} s")
        if panel.poll() is not None:
            raise SystemExit(f"the panel ended: {panel.communicate()[0]}")
        panel.send_signal(signal.SIGTERM)
        said = panel.communicate(timeout=LIMIT_S)[0].strip()
        print(f"the panel followed; words rendered for it: {len(list(bench.cache.rglob('*.wav')))}")
        for line in said.splitlines():
            print("panel:", line)
        for line in bench.stop().splitlines():
            print("serve:", line)
    finally:
        panel.kill()
        bench.close()


def pictures(program: Path, folder: Path, short: bool) -> None:
    """Drawn by what was installed: the same, byte for byte or in what they show, as those that are kept?"""
    sizes = ["--size", "800x480"] if short else []
    print(told(program, "panel", "--pictures", folder, *sizes).splitlines()[-1].replace(str(folder), "a folder"))
    kept = sorted((ROOT / "tests/pictures/panel").glob("*.png"))
    same = [path for path in kept if (folder / path.name).read_bytes() == path.read_bytes()]
    print(f"{len(same)} of the {len(kept)} pictures that are kept are the same, byte for byte")


if __name__ == "__main__":
    sys.exit(main())
