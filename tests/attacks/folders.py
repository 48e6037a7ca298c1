"""What lies in timerd's folders and is not what it was: modules, links, a second keeper, a flipped bit."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

from lines.keeper import RealKeeper
from served import LIMIT_S, Served, lit_lamps
from walks.flips import flips, judged, write

from attacks import PAPER, PRINT, Ground, attack

NOBODY = 65534


@attack("15.11", "bits of the book's records flipped")
def flipped_bits(ground: Ground) -> str:
    count = 6 if ground.short else 100
    whole, home = ground.folder / "whole", ground.folder / "flipped"
    whole.mkdir()
    truth = write(whole, False)
    told = [judged(home, truth, flip, False) for flip in flips(truth, 15, count)]
    wrong = [words for one in told for words in one.wrong]
    assert wrong == [], wrong
    return f"{count} flips: each start served, or left one sheet out, in one line that names it"


@attack("15.12", "modules of a keeper, a last off and Python's own in the folder where it is served")
def planted_modules(ground: Ground) -> str:
    planted = ground.folder / "planted"
    names = ("select.py", "json.py", "timerd/__init__.py", "timerd/bench/loop.py", "timerd/bench/lastoff.py")
    for name in names:
        (planted / name).parent.mkdir(parents=True, exist_ok=True)
        (planted / name).write_text(f"open({str(planted / 'ran')!r}, 'a').write({name!r})\nraise SystemExit(1)\n")
    served = Served(ground.folder)
    try:
        served.daemon = subprocess.Popen(
            [Path(sys.executable).with_name("timerd"), "serve", "--bench", served.bench, "--simulated"], text=True,
            env=served.env, cwd=planted, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        )  # fmt: skip
        assert served.daemon.stdout is not None
        assert served.daemon.stdout.readline().startswith("serving")
        served.kill("keeper")
        assert served.state("fault")["reason"] == {"why": "keeper gone"}
        assert not (planted / "ran").exists(), (planted / "ran").read_text()
    finally:
        served.close()
    return f"of {len(names)} planted modules none ran; keeper and last off were timerd's own"


@attack("15.13", "links in the run folder of another user, and timerd dark as root")
def links_for_root(ground: Ground) -> str:
    if os.geteuid() != 0:
        return "not tried: this needs root"
    served = Served(ground.folder)
    try:
        served.start()
        run, home = served.run, ground.folder / "roots-own"
        served.kill("daemon", "beside", "keeper", how=signal.SIGKILL)
        served.gone()
        home.mkdir(mode=0o700)
        names = [path.name for path in run.iterdir() if path.is_file()]
        told = run / "bench.json"
        for name in names:
            if name != told.name:  # what is told of the bench is read: without it nothing is done at all
                (run / name).unlink()
                (run / name).symlink_to(home / name)
        for path in (run, *run.iterdir()):
            os.lchown(path, NOBODY, NOBODY)
        for parent in (ground.folder, served.memory):  # that user can look in there
            parent.chmod(0o755)
        done = served.timerd("dark")
        assert list(home.iterdir()) == [], f"made: {[path.name for path in home.iterdir()]}"
        assert "Traceback" not in done.stderr, done.stderr
        shutil.rmtree(run)
    finally:
        served.close()
    return f"{len(names)} links: nothing was made where they lead; it said: {(done.stdout + done.stderr).strip()[:90]}"


@attack("15.14", "a second keeper on the run folder of one that keeps")
def second_keeper(ground: Ground) -> str:
    with RealKeeper(ground.folder) as keeper:
        with RealKeeper(ground.folder) as second:
            assert second.first["is"] == "no lines", second.first
            assert second.ended() == 1
        assert (ground.folder / "keeper.pid").read_text().strip() == str(keeper.process.pid)
        keeper.expose(seconds=0.3)
        assert keeper.until("dark")["why"] == "deadline"
    return f"refused: '{second.first['why'][:60]}…', and the first one's light ended by its dose"


@attack("15.14", "the number of a keeper that hangs overwritten, and then timerd dark")
def lost_number(ground: Ground) -> str:
    with ground.served() as served:
        served.load(PRINT.replace("1.2", "60"), PAPER)
        served.arm()
        served.light()
        pid = served.keeper_pid
        (served.run / "keeper.pid").write_text("1\n")
        os.kill(pid, signal.SIGSTOP)
        served.daemon.kill()  # type: ignore[union-attr]
        served.daemon.wait(LIMIT_S)  # type: ignore[union-attr]
        done = served.timerd("dark")
        assert (done.returncode, lit_lamps(served.truth())) == (0, set()), done.stderr
        served.start()
    return "dark all the same: the keeper is found by what it is"
