"""The house: what may import what, who may print, and what stays out of a room."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from golden import every

from timerd.cli.table import ALL, TOPICS, Group

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


_READS, _WRITES = ("pydantic", "yaml"), ("pydantic", "ruamel", "yaml")
BRINGS = {
    **dict.fromkeys(("status", "pressing", "dark", "orders", "stacks", "manual"), ()),
    **dict.fromkeys(("sheets", "remarks"), ("sqlite3",)),
    **dict.fromkeys(("sheet", "book"), ("pydantic", "sqlite3")),
    **dict.fromkeys(("planning", "loading", "listing", "tones", "flashing"), _READS),
    **dict.fromkeys(("serving", "bench", "baths", "batch", "repeat", "editions"), ("sqlite3", *_READS)),
    **dict.fromkeys(("mapping", "strips", "lamps", "enlarge", "paper", "moving"), _WRITES),
    **dict.fromkeys(("demo", "adopt", "comparing", "proof", "report"), ("sqlite3", *_WRITES)),
    "panel": ("numpy", "pygame", *_READS), "trial": ("numpy", "pygame", "sqlite3", *_WRITES),
    "speaking": ("numpy", "pydantic", "pygame"),
}  # fmt: skip
"""What the module of a command imports of all that takes time; numpy comes with pygame, where it is."""
LATER = {
    "bench": {"timerd.panel.means"}, "demo": {"timerd.cli.trial", "timerd.desk.timeline"},
    "editions": {"timerd.desk.editionshow"}, "paper": {"timerd.desk.fitting", "timerd.desk.papershow"},
    **{name: {"timerd.desk.papershow"} for name in ("flashing", "tones", "values")},
    "proof": {"timerd.desk.proof.making", "timerd.desk.proof.lights", "timerd.desk.proof.negative"},
    "report": {"timerd.desk.proof.making", "timerd.desk.report.proofs"},
    "selecting": {"timerd.cli.files"}, "sheets": {"timerd.book.carrying"},
}  # fmt: skip
"""What the commands import inside a function: what needs an extra, or is heavy and only one option needs it."""


def _modules(group: Group) -> set[str]:
    return {name for one in group.commands for name in (_modules(one) if isinstance(one, Group) else {one.module})}


def test_a_command_imports_what_it_needs_and_help_nothing() -> None:
    """Each module of the table by itself, in a process of its own: a light command must not wait for a heavy one."""
    assert set(BRINGS) == _modules(ALL)
    code = "import sys, importlib; importlib.import_module(sys.argv[1]); print(*sys.modules)"
    heavy = {name for names in BRINGS.values() for name in names} | HEAVY | {"gpiozero", "lgpio"}

    def brought(module: str) -> tuple[str, ...]:
        argv = [sys.executable, "-c", code, module]
        done = subprocess.run(argv, capture_output=True, text=True, check=True, cwd=ROOT)
        return tuple(sorted({name.split(".")[0] for name in done.stdout.split()} & heavy))

    assert brought("timerd.cli") == ()
    assert {name: brought(f"timerd.cli.{name}") for name in BRINGS} == {n: tuple(sorted(b)) for n, b in BRINGS.items()}


@pytest.mark.parametrize("path", sorted((PACKAGE / "cli").glob("*.py")), ids=lambda p: p.stem)
def test_commands_import_on_top_what_they_import(path: Path) -> None:
    inside = [
        node for function in nodes(path) if isinstance(function, ast.FunctionDef) for node in ast.walk(function)
        if isinstance(node, ast.Import | ast.ImportFrom)
    ]  # fmt: skip
    names = {n.module if isinstance(n, ast.ImportFrom) else n.names[0].name for n in inside}
    assert names == LATER.get(path.stem, set())


_TAKE = {"startswith", "endswith", "removeprefix", "removesuffix", "split", "partition", "rpartition", "replace"}
_MATCH = {"compile", "fullmatch", "match", "search", "sub", "findall"}
TAKEN_APART = {
    "sheet/plan/before.py": "plans in old books",
    "desk/keeping.py": "a file that somebody wrote",
    "daemon/selfcheck/findings.py": "the keeper's own scheduling, and what the board is called",
    "daemon/selfcheck/starting.py": "the system's files", "cli/serving.py": "the keeper's own scheduling",
    "book/present.py": "no text, but a set",
    "sheet/telling/reasons.py": "why a pedal is not there", "book/listing.py": "what stands there itself",
    "bench/lines.py": "the pin library", "book/store.py": "SQLite", "sheet/profile/text.py": "the YAML parser",
    "bench/pretended.py": "the simulated bench's own file of edges", "panel/words_to_say.py": "as it is pronounced",
    "printing/stops.py": "what somebody wrote", "sheet/profile/wording.py": "what somebody wrote",
}  # fmt: skip
"""Where words are looked for in a text, and whose text it is. Not one more: what is told as text is kept as a value."""


def _of_words(node: ast.AST) -> bool:
    """A literal of several words, or of one that stands beside another; in an f-string too."""
    if isinstance(node, ast.JoinedStr):
        return any(_of_words(part) for part in node.values)
    if isinstance(node, ast.Tuple):
        return any(_of_words(part) for part in node.elts)
    text = node.value if isinstance(node, ast.Constant) else None
    return isinstance(text, str) and " " in text and sum(c.isalpha() for c in text) > 1


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_no_text_is_taken_apart_to_get_data_back(path: Path) -> None:
    """As far as can be seen: searching a text for words. Comparing a whole one may be a code, and codes have blanks."""
    found = [
        node.lineno for node in nodes(path)
        if (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
        and node.func.attr in _TAKE | _MATCH and node.args and _of_words(node.args[0]))
        or (isinstance(node, ast.Compare) and isinstance(node.ops[0], ast.In | ast.NotIn) and _of_words(node.left)
        and not isinstance(node.comparators[0], ast.Set | ast.Tuple | ast.Attribute | ast.Subscript))
    ]  # fmt: skip
    assert not found or str(path.relative_to(PACKAGE)) in TAKEN_APART


def test_one_word_for_one_thing() -> None:
    names = Counter(
        node.name for path in FILES for node in nodes(path)
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_")
    )  # fmt: skip
    assert [name for name, times in names.items() if times > 1] == []


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


ASSERTED_AT_MOST = 189
"""Sentences of five words or more in asserts outside of telling's own tests. It only shrinks: `tests/golden.py`."""


def asserted(node: ast.AST) -> Iterator[ast.AST]:
    """What an assert, or a `raises`, compares with."""
    match node:
        case ast.Assert():
            yield node.test
        case ast.Call(func=ast.Attribute(attr="raises")):
            yield from node.keywords


def test_sentences_are_asserted_in_few_places() -> None:
    found = Counter(
        str(path.relative_to(ROOT))
        for path in (ROOT / "tests").rglob("*.py") if not path.name.startswith("test_telling")
        for node in nodes(path) for part in asserted(node) for text in ast.walk(part)
        if isinstance(text, ast.Constant) and isinstance(text.value, str)
        and " " in text.value.strip() and len(re.findall(r"[A-Za-z']{2,}", text.value)) >= 5
    )  # fmt: skip
    assert 0 < found.total() <= ASSERTED_AT_MOST, found.most_common(20)


@pytest.mark.parametrize("path", sorted((ROOT / "tests").rglob("*.expected.yaml")), ids=lambda path: path.name)
def test_what_is_expected_is_expected_by_a_test(path: Path) -> None:
    module = path.with_name(path.name.replace(".expected.yaml", ".py"))
    tests = {
        node.name for node in nodes(module)
        if isinstance(node, ast.FunctionDef) and "golden" in {given.arg for given in node.args.args}
    }  # fmt: skip
    assert {name.partition("[")[0] for name in every(path)} == tests


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


def test_every_command_is_in_the_manual_and_every_subject_in_the_readme() -> None:
    manual = "".join(page.read_text() for page in (PACKAGE / "manual").glob("*.md"))
    readme = (ROOT / "README.md").read_text()
    for command in ALL.commands:
        assert f"timerd {command.name}" in manual + readme and f"`{command.name}`" in readme, command.name
    assert {page.stem for page in (PACKAGE / "manual").glob("*.md")} == set(TOPICS)
    assert all(f"`{topic}`" in readme for topic in TOPICS) and len(readme.splitlines()) <= 250
