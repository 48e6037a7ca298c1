"""Code that is changed at random, to see which changes no test notices.

    python tests/measure/mutants.py                       60 changes in each folder, seeded; about an hour
    python tests/measure/mutants.py --folder engine --count 20 --seed 3
    python tests/measure/mutants.py --short               the changes that once lived: each must fall now

A change is one operator, one comparison, one number, one condition turned round, `min` for `max`. It has fallen when
the tests beside its code fail, or do not end in a while. What lives is printed, to be looked at: some change nothing.
"""

from __future__ import annotations

import argparse
import ast
import copy
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
FOLDERS: dict[str, tuple[str, tuple[str, ...]]] = {
    "printing": ("timerd/printing/*.py", ("tests/printing", "timerd/printing")),
    "plan": ("timerd/sheet/plan/*.py", ("tests/sheet/test_plan*", "tests/sheet/test_given.py", "timerd/sheet/plan")),
    "engine": (
        "timerd/sheet/engine/*.py",
        ("tests/sheet/test_table.py", "tests/sheet/test_out_of_order.py", "tests/sheet/test_engine*",
         "tests/test_rehearsals.py", "tests/sheet/test_long_evening.py"),
    ),
    "keeper": ("timerd/bench/{keeper,contacts,staying,cueing,sensing,burst,limits,message}.py", ("tests/bench",)),
    "daemon": ("timerd/daemon/{ink,recovery,trays,past,remarks,clients,loading}.py", ("tests/daemon",)),
    "contrast": ("timerd/printing/contrast.py", ("tests/printing/test_contrast.py",)),
    "lights": ("timerd/desk/proof/lights.py", ("tests/desk/proof",)),
    "trays": ("timerd/sheet/trays/*.py", ("tests/sheet/trays", "tests/book/test_trays.py")),
}  # fmt: skip
"""Each folder's files, and the tests beside them."""
LONGEST_S = 240.0


@dataclass(frozen=True)
class Lived:
    """A change that no test beside its code noticed once."""

    file: str
    was: str
    became: str
    tests: tuple[str, ...]


ONCE_LIVED: tuple[Lived, ...] = (
    Lived(
        "timerd/sheet/engine/lights.py", "elif s.sheet is not None and s.sheet.swung is not None:", "elif False:",
        ("tests/sheet/test_out_of_order.py",),
    ),
    Lived(
        "timerd/bench/keeper.py", "min(now + LEASE_S, message.until)", "max(now + LEASE_S, message.until)",
        ("tests/bench/test_keeper.py",),
    ),
    Lived(
        "timerd/panel/trays.py", 'min(ahead, found.get(stack.bath, ahead))',
        'max(ahead, found.get(stack.bath, ahead))', ("tests/panel/test_trays.py",),
    ),
    Lived(
        "timerd/sheet/plan/summing.py", "(step.dose or 0.0) / step.scale for step",
        "(step.dose or 0.0) * step.scale for step", ("tests/sheet/test_plan_evening.py",),
    ),
    Lived(
        "timerd/printing/contrast.py", "_lightness(other.density + miss) - _lightness(other.density)",
        "_lightness(other.density + miss) + _lightness(other.density)", ("tests/printing/test_contrast.py",),
    ),
    Lived("timerd/printing/contrast.py", "R_WITHIN = 0.05", "R_WITHIN = 1.05", ("tests/printing/test_contrast.py",)),
    Lived(
        "timerd/book/rescue.py", "        return error.damage\n    return None", "        pass\n    return None",
        ("tests/book/test_rescue.py",),
    ),
    Lived(
        "timerd/daemon/asking.py", "self._in_its_turn(ev.Load(*found, time.monotonic()), client)",
        "self._clients.send(client, self._status()), self._tell(ev.Load(*found, time.monotonic()))",
        ("tests/daemon/test_reading.py",),
    ),
    Lived(
        "timerd/daemon/serving.py",
        "        outcomes = self._session.handle(event, now)\n        self._asking.done(event, outcomes)\n",
        "        self._asking.done(event, [])\n        outcomes = self._session.handle(event, now)\n",
        ("tests/daemon/test_serve.py::test_an_answer_tells_how_it_stands_when_what_was_asked_is_done",),
    ),
)  # fmt: skip

_OPERATORS: dict[type[ast.AST], tuple[type[ast.AST], ...]] = {
    ast.Add: (ast.Sub,), ast.Sub: (ast.Add,), ast.Mult: (ast.Div,), ast.Div: (ast.Mult,), ast.FloorDiv: (ast.Mult,),
    ast.Mod: (ast.Mult,), ast.Lt: (ast.LtE, ast.GtE), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt), ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,), ast.In: (ast.NotIn,), ast.NotIn: (ast.In,), ast.And: (ast.Or,), ast.Or: (ast.And,),
}  # fmt: skip
_NAMES = {"min": "max", "max": "min", "any": "all", "all": "any"}


def _changes(node: ast.AST) -> Iterator[tuple[str, object]]:
    """What may be changed of one node: the field, and what it becomes."""
    if isinstance(node, ast.BinOp | ast.BoolOp):
        for other in _OPERATORS.get(type(node.op), ()):
            yield "op", other()
    elif isinstance(node, ast.Compare):
        for i, op in enumerate(node.ops):
            for other in _OPERATORS.get(type(op), ()):
                yield "ops", [*node.ops[:i], other(), *node.ops[i + 1 :]]
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield "operand", ast.UnaryOp(ast.Not(), node.operand)
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield "value", not node.value
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        yield "value", node.value + 1
    elif isinstance(node, ast.Name) and node.id in _NAMES:
        yield "id", _NAMES[node.id]
    elif isinstance(node, ast.If | ast.IfExp | ast.While):
        yield "test", ast.UnaryOp(ast.Not(), node.test)


def _places(tree: ast.Module) -> list[tuple[int, int]]:
    """Every change there is, but in annotations: the number of the node, and which of its changes."""
    skipped: set[int] = set()
    for node in ast.walk(tree):
        for field in ("annotation", "returns", "decorator_list"):
            for part in _nodes(getattr(node, field, None)):
                skipped |= {id(inner) for inner in ast.walk(part)}
    return [
        (n, which) for n, node in enumerate(ast.walk(tree)) if id(node) not in skipped
        for which, _ in enumerate(_changes(node))
    ]  # fmt: skip


def _nodes(value: object) -> list[ast.AST]:
    return [part for part in (value if isinstance(value, list) else [value]) if isinstance(part, ast.AST)]


def _changed(source: str, place: tuple[int, int]) -> tuple[str, str]:
    """The file with one change, and the change in words."""
    tree = copy.deepcopy(ast.parse(source))
    node = list(ast.walk(tree))[place[0]]
    line = getattr(node, "lineno", 0)
    was = ast.unparse(node) if not isinstance(node, ast.If | ast.While) else ast.unparse(node.test)
    field, value = list(_changes(node))[place[1]]
    setattr(node, field, value)
    ast.fix_missing_locations(tree)
    became = ast.unparse(node) if not isinstance(node, ast.If | ast.While) else ast.unparse(node.test)
    return ast.unparse(tree) + "\n", f"line {line}: {was}  ->  {became}"


def _files(pattern: str) -> list[Path]:
    head, brace, rest = pattern.partition("{")
    if not brace:
        return sorted(ROOT.glob(pattern))
    names, _, tail = rest.partition("}")
    return sorted(path for name in names.split(",") for path in ROOT.glob(f"{head}{name}{tail}"))


class Copy:
    """A copy of the project in which one file at a time is another."""

    def __init__(self, folder: Path) -> None:
        self.root = folder / "copy"
        away = shutil.ignore_patterns(".git", ".venv", "node_modules", "__pycache__", ".*_cache", ".hypothesis")
        shutil.copytree(ROOT, self.root, ignore=away)

    def tests(self, patterns: tuple[str, ...]) -> list[str]:
        found = []
        for pattern in patterns:
            files, colons, one = pattern.partition("::")
            found += [f"{path.relative_to(self.root)}{colons}{one}" for path in sorted(self.root.glob(files))]
        return found

    def fails(self, file: str, text: str, tests: list[str]) -> tuple[bool, str]:
        """Whether the tests fail with this text in the file's place; what they said last."""
        path = self.root / file
        was = path.read_text()
        path.write_text(text)
        try:
            done = subprocess.run(
                [sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider", *tests],
                cwd=self.root, capture_output=True, text=True, timeout=LONGEST_S,
            )  # fmt: skip
        except subprocess.TimeoutExpired:
            return True, f"did not end in {LONGEST_S:g} s"
        finally:
            path.write_text(was)
        if done.returncode not in (0, 1, 2):
            raise SystemExit(f"{file}: the tests could not be run:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
        return done.returncode != 0, done.stdout.strip().splitlines()[-1] if done.stdout.strip() else ""


def drawn(folder: str, count: int, seed: int, copy_: Copy) -> tuple[int, int, list[str]]:
    """Changes drawn in one folder: how many fell, how many were tried, and those that live."""
    pattern, patterns = FOLDERS[folder]
    tests = copy_.tests(patterns)
    rng = random.Random(f"{folder} {seed}")
    sources = {path.relative_to(ROOT).as_posix(): path.read_text() for path in _files(pattern)}
    places = [(file, place) for file, source in sources.items() for place in _places(ast.parse(source))]
    lived = []
    tried = rng.sample(places, min(count, len(places)))
    for file, place in tried:
        text, words = _changed(sources[file], place)
        fell, _ = copy_.fails(file, text, tests)
        if not fell:
            lived.append(f"{file}, {words}")
            print(f"  lives: {lived[-1]}", flush=True)
    return len(tried) - len(lived), len(tried), lived


def once_lived(copy_: Copy) -> int:
    """Each change that once lived, made again; how many live still."""
    living = 0
    for one in ONCE_LIVED:
        source = (ROOT / one.file).read_text()
        if source.count(one.was) != 1:
            raise SystemExit(f"{one.file}: {one.was!r} stands there {source.count(one.was)} times, not once")
        fell, _ = copy_.fails(one.file, source.replace(one.was, one.became), copy_.tests(one.tests))
        was, became = (" ".join(text.split()) for text in (one.was, one.became))
        print(f"{'fell ' if fell else 'LIVES'}  {one.file}: {was}  ->  {became}", flush=True)
        living += not fell
    return living


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--short", action="store_true", help="the changes that once lived")
    parser.add_argument("--folder", choices=FOLDERS, action="append", help="one folder; all of them otherwise")
    parser.add_argument("--count", type=int, default=60, help="changes in each folder (%(default)s)")
    parser.add_argument("--seed", type=int, default=1, help="which ones (%(default)s)")
    args = parser.parse_args()
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        copy_ = Copy(Path(folder))
        if args.short:
            living = once_lived(copy_)
            print(f"{len(ONCE_LIVED)} changes that once lived: {living} live still, {time.monotonic() - begun:.0f} s")
            return 1 if living else 0
        for name in args.folder or FOLDERS:
            fell, tried, _ = drawn(name, args.count, args.seed, copy_)
            print(
                f"{name}: {fell} of {tried} fell ({100 * fell / tried:.0f} %), {time.monotonic() - begun:.0f} s",
                flush=True,
            )
    return 0


if __name__ == "__main__":
    sys.exit(main())
