"""The wheel, installed as a user would: the command is there, all files are in it, a shipped print is worked out."""

from __future__ import annotations

import os
import subprocess
import sys
import sysconfig
from pathlib import Path

ROOT = Path(__file__).parents[1]


def run(*argv: str | Path, cwd: Path) -> str:
    env = {key: value for key, value in os.environ.items() if not key.startswith(("PYTHON", "TIMERD"))}
    done = subprocess.run([str(word) for word in argv], capture_output=True, text=True, cwd=cwd, env=env)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def files(folder: Path) -> set[str]:
    """All that lies in a folder and below, but for what Python makes there."""
    found = (path.relative_to(folder) for path in folder.rglob("*") if path.is_file())
    return {path.as_posix() for path in found if "__pycache__" not in path.parts}


def test_the_wheel_brings_all_it_needs(tmp_path: Path) -> None:
    run(sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", tmp_path, ROOT, cwd=tmp_path)
    wheel = next(tmp_path.glob("timerd-*.whl"))
    run(sys.executable, "-m", "venv", "--without-pip", tmp_path / "venv", cwd=tmp_path)
    python = tmp_path / "venv" / "bin" / "python"
    run(sys.executable, "-m", "pip", "--python", python, "install", "-q", "--no-deps", wheel, cwd=tmp_path)
    # What timerd needs is taken from here, to save the download; timerd itself is the wheel's.
    there = run(python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))", cwd=tmp_path).strip()
    (Path(there) / "dependencies.pth").write_text(sysconfig.get_path("purelib") + "\n")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    where = run(python, "-c", "import timerd; print(timerd.__file__)", cwd=elsewhere).strip()
    assert where.startswith(there)
    out = run(tmp_path / "venv" / "bin" / "timerd", "--home", elsewhere / "home", "plan", "breakwater", cwd=elsewhere)
    assert out.startswith("Breakwater"), "the profiles are found"
    brought = files(Path(there) / "timerd")
    assert brought == files(ROOT / "timerd") | {f"profiles/{name}" for name in files(ROOT / "profiles")}
    assert {"panel/fonts/DejaVuSans-Bold.ttf", "panel/fonts/LICENSE-DejaVu.txt"} <= brought
