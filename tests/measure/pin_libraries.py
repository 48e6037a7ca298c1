"""What a pin library costs on the emulated kernel's own chip: to start with seven lines claimed, and by write and read.

    python tests/measure/pin_libraries.py [--short]

gpiozero on lgpio, as the keeper has it; gpiod, where it is installed (`pip install gpiod`); and the chip's own calls,
as the pedals are read. All in one guest, one after the other: what counts is the ratio. A system call costs some tens
of times as much there as on a computer of its own.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from kernel.machine import NoMachine, run

PINS = (17, 27, 23, 22, 26, 25, 24)
CLAIM = {
    "Python itself": "",
    "gpiozero on lgpio": f"""
import os
os.environ["GPIOZERO_PIN_FACTORY"] = "lgpio"
import gpiozero
lines = [gpiozero.OutputDevice(pin, initial_value=False) for pin in {PINS}]
line = lines[0]
write, read = lambda level: setattr(line, "value", level), lambda: line.value
""",
    "gpiod": f"""
import gpiod
from gpiod.line import Direction, Value
told = gpiod.LineSettings(direction=Direction.OUTPUT, output_value=Value.INACTIVE)
lines = gpiod.request_lines("/dev/gpiochip0", config={{{PINS}: told}})
levels = Value.INACTIVE, Value.ACTIVE
write, read = lambda level: lines.set_value(17, levels[level]), lambda: lines.get_value(17)
""",
    "the chip's own calls": f"""
import fcntl, os, struct
request = struct.Struct("=64I32sQ264xII20xi")
chip = os.open("/dev/gpiochip0", os.O_RDWR)
def claim(pin):
    asked = bytearray(request.pack(pin, *[0] * 63, b"trial", 1 << 3 | 1 << 9, 1, 0, 0))
    fcntl.ioctl(chip, 0xC250B407, asked)
    return request.unpack(asked)[-1]
line = [claim(pin) for pin in {PINS}][0]
levels = [bytearray(struct.pack("=QQ", level, 1)) for level in (0, 1)]
found = bytearray(struct.pack("=QQ", 0, 1))
write, read = lambda level: fcntl.ioctl(line, 0xC010B40F, levels[level]), lambda: fcntl.ioctl(line, 0xC010B40E, found)
""",
}  # fmt: skip
TIMES = """
import time
for what in (lambda n: write(n & 1), lambda n: read()):
    begun = time.monotonic()
    for n in range({count}):
        what(n)
    print((time.monotonic() - begun) / {count} * 1e6)
"""


def main() -> int:
    count, rounds = ("200", "1") if "--short" in sys.argv else ("5000", "7")
    with tempfile.TemporaryDirectory() as made:
        try:
            said = run([str(Path(__file__)), "--inside", count, rounds], Path(made)).said
        except NoMachine as missing:
            if os.environ.get("TIMERD_REQUIRE_TOOLS") == "1":
                sys.exit(str(missing))
            print(f"skipped: {missing}")
            return 0
    print("\n".join(line for line in said.splitlines() if line.startswith("|")))
    return 0 if "| the chip's own calls | " in said else 1


def inside(count: str, rounds: int) -> None:
    """In the guest: a table of it. Rounds, and the least of each: what is read for the first time is slow."""
    taken: dict[str, list[float]] = {name: [] for name in CLAIM}
    cannot = {}
    for _ in range(rounds):
        for name, claim in CLAIM.items():
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            ran = python(claim)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            taken[name].append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
            if ran.returncode:
                cannot[name] = ran.stderr.strip().splitlines()[-1]
    print("| | to start and claim, processor ms | a write, us | a read, us |")
    print("|---|---|---|---|")
    for name, claim in CLAIM.items():
        each = ["", ""]
        if "write" in claim and name not in cannot:
            each = [f"{float(us):.0f}" for us in python(claim + TIMES.format(count=count)).stdout.split()]
        print(f"| {name} | {cannot.get(name, f'{min(taken[name]) * 1e3:.0f}')} | {' | '.join(each)} |")


def python(code: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-I", "-c", code], capture_output=True, text=True)


if __name__ == "__main__":
    if "--inside" in sys.argv:
        inside(sys.argv[2], int(sys.argv[3]))
    else:
        sys.exit(main())
