"""What must be said in the right words, and what must not be left open or written over, in places that go wrong."""

from __future__ import annotations

import os
import shutil
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

from served import LIMIT_S, Served, stand_still
from served.plugs import plug

from attacks import Ground, attack
from timerd.bench.pretended import PretendedFoot

TIMERD = (sys.executable, "-m", "timerd")
SMALL = "mount -t tmpfs -o size={kib}k tmpfs '{folder}' && head -c {fill} /dev/zero > '{folder}/fill'; exec \"$@\""
"""Run by a shell in a mount table of its own: a file system with so much room, of which so much is taken."""


def on_small_disk(folder: Path, kib: int, left: int, *argv: str, env: dict[str, str]) -> str | None:
    """What a command says where a folder has so many KiB, of which so many are left; None where that cannot be had."""
    folder.mkdir(parents=True, exist_ok=True)
    script = SMALL.format(kib=kib, folder=folder, fill=(kib - left) * 1024)
    try:
        done = subprocess.run(
            ["unshare", *([] if os.geteuid() == 0 else ["--map-root-user", "--user"]), "--mount", "sh", "-c", script,
             "sh", *argv], env={**os.environ, **env}, capture_output=True, text=True, timeout=LIMIT_S,
        )  # fmt: skip
    except (OSError, subprocess.TimeoutExpired) as error:
        return None if isinstance(error, OSError) else f"it serves: {error.stdout!r}"
    return None if "unshare" in done.stderr or "mount:" in done.stderr else (done.stdout + done.stderr).strip()


@attack("15.16", "a run folder, and a home, on a disk that is full")
def full_disks(ground: Ground) -> str:
    serve = (*TIMERD, "serve", "--bench", "two-station", "--simulated")
    said: list[str] = []
    for n, left in enumerate((0, 12) if ground.short else (0, 4, 8, 12)):
        run, home = ground.folder / f"run{n}", ground.folder / f"home{n}"
        env = {"XDG_RUNTIME_DIR": str(run), "TIMERD_HOME": str(home)}
        words = on_small_disk(run, 64, left, *serve, env=env)
        if words is None:
            return "not tried: this user may not mount anything in a name space of its own"
        said.append(words)
    for n, left in enumerate((16,) if ground.short else (0, 4, 8, 16, 32)):
        home = ground.folder / f"full{n}"
        env = {"XDG_RUNTIME_DIR": str(ground.folder), "TIMERD_HOME": str(home)}
        said.append(on_small_disk(home, 256, left, *serve, env=env) or "")
    for words in said:
        assert "full" in words or "No space left on device" in words, words
        assert "do not trust" not in words and len(words.splitlines()) == 1, words
    return f"{len(said)} times one line that says what is full, as '{said[1][-70:]}'"


@attack("15.16", "an umask of 000")
def umask_000(ground: Ground) -> str:
    served = Served(ground.folder)
    shutil.rmtree(served.home)
    before = os.umask(0)
    try:
        served.start()
        inside = [served.home, *served.home.rglob("*")]
        open_to_others = [path.name for path in inside if path.stat().st_mode & 0o002]
        modes = [oct(stat.S_IMODE(path.stat().st_mode)) for path in (served.home, served.run)]
        served.stop()
    finally:
        os.umask(before)
        served.close()
    assert modes == ["0o755", "0o750"] and not open_to_others, (modes, open_to_others)
    return f"home {modes[0]} with nothing in it that others may write, run folder {modes[1]}"


@attack("15.16", "a map written with --force where somebody has put a link to a book")
def map_through_link(ground: Ground) -> str:
    book = ground.folder / "book.sqlite"
    book.write_bytes(b"all sheets of a life")
    link = ground.folder / "map.svg"
    link.symlink_to(book)
    done = subprocess.run(
        [*TIMERD, "map", "breakwater", "--out", str(link), "--force"], capture_output=True, text=True, timeout=LIMIT_S
    )
    assert done.returncode == 1 and done.stderr.strip().endswith("is a link to another file: name that one"), done
    assert book.read_bytes() == b"all sheets of a life" and link.is_symlink()
    return "refused, and the book is as it was"


@attack("15.16", "three pedals that are unplugged at once")
def three_unplugged(ground: Ground) -> str:
    with ground.served("by-feel") as served:
        foot = PretendedFoot(served.run)
        for pedal in ("go", "end", "third"):
            plug(foot, pedal, False)
        foot.close()
        served.until(lambda s: len(s["unplugged"]) == 3)
        said = served.timerd("status").stdout
    assert said.count("pedals go, end and third are unplugged") == 1, said
    return "all three are named, once"


@attack("15.16", "an output that is not UTF-8")
def ascii_output(ground: Ground) -> str:
    print_ = ground.folder / "yard.yaml"
    shipped = Path(__file__).parents[2] / "profiles" / "prints" / "quiet-yard.yaml"
    print_.write_text(shipped.read_text().replace("Quiet yard", "Hofgäßchen"))
    done = subprocess.run(
        [*TIMERD, "plan", str(print_)], capture_output=True, timeout=LIMIT_S,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )  # fmt: skip
    assert done.returncode == 0 and b"Hofg\\xe4\\xdfchen" in done.stdout, done
    return "the plan is printed, and what ASCII does not have is written out"


@attack("15.16", "real lines where there is no chip")
def no_chip(ground: Ground) -> str:
    if any(Path("/dev").glob("gpiochip*")):
        return "not tried: there is a chip here"
    env = {**os.environ, "TIMERD_HOME": str(ground.folder / "home"), "XDG_RUNTIME_DIR": str(ground.folder)}
    done = subprocess.run(
        [*TIMERD, "serve", "--bench", "two-station"], env=env, capture_output=True, text=True, timeout=LIMIT_S
    )
    said = done.stderr.strip()
    assert done.returncode == 1 and "this user may not" not in said and len(said.splitlines()) == 1, done
    return f"refused: {said}"


@attack("15.16", "a machine so cold that the keeper takes 12 s to start")
def cold_start(ground: Ground) -> str:
    if ground.short:
        return "not tried: it takes 12 s"
    slow = ground.folder / "slow"
    slow.mkdir()
    (slow / "sitecustomize.py").write_text(
        "import select, sys\nif 'timerd.bench.loop' in sys.orig_argv:\n    select.select([], [], [], 12.0)\n"
    )
    served = Served(ground.folder)
    served.env["PYTHONPATH"] = str(slow)
    begun = time.monotonic()
    try:
        served.start()
        took = time.monotonic() - begun
        served.stop()
    finally:
        served.close()
    return f"it served after {took:.0f} s" if took > 12 else "not tried: the keeper's Python takes nothing from outside"


@attack("15.24", "a bench test started where a ^C is ignored, and a ^C")
def ignored_interrupt(ground: Ground) -> str:
    env = {**os.environ, "TIMERD_HOME": str(ground.folder / "home"), "XDG_RUNTIME_DIR": str(ground.folder)}
    one = subprocess.Popen(
        [sys.executable, "-u", *TIMERD[1:], "bench", "test", "--bench", "two-station", "--simulated"], env=env,
        stdout=subprocess.PIPE, text=True, preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_IGN),
    )  # fmt: skip
    assert one.stdout is not None
    try:
        for line in one.stdout:
            if "press" in line:
                break
        stand_still(0.1)
        one.send_signal(signal.SIGINT)
        rest = one.stdout.read()
        assert one.wait(LIMIT_S) == 1 and "ended early, by hand" in rest, rest
    finally:
        one.kill()
        one.wait()
    return "it ended, and left its sheet"
