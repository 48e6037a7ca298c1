"""The house: what may import what, who may print, and what stays out of a room."""

from __future__ import annotations

import ast
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "timerd"
FILES = sorted(path for path in PACKAGE.rglob("*.py"))

MAY_IMPORT = {
    "printing": set(),
    "wire": set(),
    "sheet": {"printing", "wire"},
    "bench": {"printing", "sheet", "wire"},
    "book": {"printing", "sheet", "inplace", "wire"},
    "control": {"wire"},
    "daemon": {"printing", "sheet", "bench", "book", "control", "inplace", "systemd", "wire"},
    "desk": {"printing", "sheet", "bench", "book", "inplace"},
    "panel": {"printing", "sheet", "control", "inplace", "wire"},
    "inplace": set(),
    "places": set(),
    "systemd": set(),
    "cli": {
        "printing",
        "sheet",
        "bench",
        "book",
        "control",
        "daemon",
        "desk",
        "inplace",
        "panel",
        "places",
        "systemd",
        "wire",
    },
    "__main__": {"cli"},
    "__init__": set(),
}
"""Rooms, and the rooms they may look into beside themselves."""

KEEPER = {
    "bench/keeper.py", "bench/limits.py", "bench/contacts.py", "bench/cueing.py", "bench/staying.py",
    "bench/burst.py", "bench/sensing.py", "bench/settling.py", "wire/codec.py", "wire/keeper.py",
    "bench/lines.py", "bench/pedals.py", "bench/chip.py", "bench/usb.py", "bench/pretended.py",
    "bench/note.py", "bench/holding.py", "bench/ending.py", "bench/loop.py", "bench/lastoff.py",
}  # fmt: skip
"""What the keeper's process and the last off are made of: they import each other, and nothing else of timerd."""
GPIO = {"bench/lines.py", "bench/pedals.py"}
"""The only files that may import gpiozero and what lies under it."""
HEAVY = {"numpy", "scipy", "matplotlib", "PIL"}
NOT_PURE = {
    "time", "datetime", "os", "io", "pathlib", "threading", "socket", "subprocess", "asyncio", "random", "sqlite3",
    "signal", "select", "gpiozero", "pygame", "shutil", "tempfile", "multiprocessing",
}  # fmt: skip


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """All that a file is made of."""
    return tuple(ast.walk(ast.parse(path.read_text())))


@cache
def imports(path: Path) -> set[str]:
    """Every module that a file imports, inside functions too."""
    found: set[str] = set()
    for node in nodes(path):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.add(node.module or "")
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_point_one_way(path: Path) -> None:
    room = room_of(path)
    looked_into = {name.split(".")[1] for name in imports(path) if name.startswith("timerd.")} - {"__version__"}
    assert looked_into <= MAY_IMPORT[room] | {room}
    roots = {name.split(".")[0] for name in imports(path)}
    if room != "desk":
        assert not roots & HEAVY, "only desk may"
    assert room == "panel" or "pygame" not in roots, "only panel may"
    if room in ("printing", "sheet", "wire"):
        assert not roots & NOT_PURE, "sheet, printing and wire have no clock, file or thread"
    here = str(path.relative_to(PACKAGE))
    assert here in GPIO or not roots & {"gpiozero", "lgpio"}
    if here in KEEPER:
        files = {name.removesuffix(".py").replace("/", ".") for name in KEEPER}
        own = {name.removeprefix("timerd.") for name in imports(path) if name.startswith("timerd")}
        assert all(any(name.startswith(file) or file.startswith(f"{name}.") for file in files) for name in own)
        gpio = {"gpiozero", "lgpio"} if here in GPIO else set()
        assert roots - {"timerd"} <= set(sys.stdlib_module_names) | gpio, "the keeper: the standard library, gpiozero"


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_rooms_are_small_and_only_the_commands_print(path: Path) -> None:
    assert len(path.read_text().splitlines()) <= 450
    calls = [node.func for node in nodes(path) if isinstance(node, ast.Call)]
    names = {call.id for call in calls if isinstance(call, ast.Name)}
    assert not names & {"open", "print", "eval", "exec"} or room_of(path) in ("cli", "places")
    assert "print" not in names or room_of(path) == "cli"


def texts(node: ast.AST) -> set[str]:
    return {n.value.strip() for n in ast.walk(node) if isinstance(n, ast.Constant) and isinstance(n.value, str)}


TELLING = {path for path in FILES if "telling" in path.parts}
SENTENCES = {text for path in TELLING for node in nodes(path) for text in texts(node) if len(text.split()) >= 3}
TELLERS = {node.name for path in TELLING for node in nodes(path) if isinstance(node, ast.FunctionDef)}
TAKES_APART = {"startswith", "endswith", "removeprefix", "removesuffix", "partition", "rpartition", "split", "index"}


@pytest.mark.parametrize("path", sorted({*FILES} - TELLING), ids=lambda p: str(p.relative_to(PACKAGE)))
def test_no_sentence_is_compared_or_taken_apart(path: Path) -> None:
    """What telling makes of a code is for eyes and ears: whoever decides by it goes by the code."""
    for node in nodes(path):
        if isinstance(node, ast.Compare):
            sides: list[ast.expr] = [node.left, *node.comparators]
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in TAKES_APART:
            sides = [node.func.value, *node.args]
        else:
            continue
        calls = [call.func for side in sides for call in ast.walk(side) if isinstance(call, ast.Call)]
        told = {call.id for call in calls if isinstance(call, ast.Name) and call.id.endswith("_words")}
        assert not told & TELLERS, f"line {node.lineno}: compares what {told} tells"
        assert not SENTENCES & {text for side in sides for text in texts(side)}, f"line {node.lineno}"


def test_heavy_rooms_are_entered_by_the_command_that_needs_them() -> None:
    """What `--help` imports: nothing but the standard library and the commands themselves."""
    code = "import sys; sys.argv=['timerd','--help']\ntry:\n import timerd.__main__\nexcept SystemExit: pass\n"
    code += "print([m for m in sys.modules if m.split('.')[0] in ('pydantic','yaml','numpy','matplotlib','pygame')])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.splitlines()[-1] == "[]"


def test_nothing_sleeps_but_measurements() -> None:
    for path in [*FILES, *(ROOT / "tests").rglob("*.py")]:
        if "measure" in path.parts or path == Path(__file__):
            continue
        assert "sleep(" not in path.read_text(), path


def test_the_top_level_is_as_agreed() -> None:
    listed = subprocess.run(["git", "ls-files"], capture_output=True, text=True, cwd=ROOT)
    if listed.returncode:
        pytest.skip("not a git checkout: the list of files is git's")
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    agreed = {
        "README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "timerd", "profiles", "tests", "firmware",
        "hardware",
    }  # fmt: skip
    assert {name for name in top if not name.startswith(".")} <= agreed


def test_every_command_is_in_the_readme() -> None:
    from timerd.cli import parser

    readme = (ROOT / "README.md").read_text()
    commands = next(a for a in parser()._actions if a.dest == "command" or a.metavar == "COMMAND").choices
    assert commands
    for name in commands:
        assert f"timerd {name}" in readme, name
