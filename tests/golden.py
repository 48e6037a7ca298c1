"""What is said, as data: `golden(value)` holds a value against `test_NAME.expected.yaml` beside the test's module.

There each test has its values under its name, in the order in which it gives them, and no others. The fixture is in
`conftest.py`. `GOLDEN=write python -m pytest -n 0 FILES` writes what came out: read all of it before it is kept.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import yaml


class Golden:
    """The values of one test. The test's own folder is written `TMP`, so that it is the same in each run."""

    def __init__(self, test_file: Path, name: str, own: Path, write: bool) -> None:
        self.path, self.name, self.own, self.write = test_file.with_suffix(".expected.yaml"), name, str(own), write
        self.found: list[Any] = []

    def __call__(self, value: Any) -> None:
        """Hold the test's next value."""
        self.found.append(self.plain(value))
        if not self.write:
            at = len(self.found) - 1
            wanted = every(self.path).get(self.name, [])[at : at + 1]
            told = f"{self.path.name}: {self.name}: found {self.found[at]!r}, expected {wanted or 'no more'}"
            assert self.found[at:] == wanted, told

    @contextmanager
    def raises(self, kind: type[BaseException]) -> Iterator[None]:
        """What is raised within, and its words as the test's next value."""
        try:
            yield
        except kind as error:
            return self(str(error))
        raise AssertionError(f"no {kind.__name__} was raised")

    def end(self) -> None:
        """No value may be left over."""
        if self.write and self.found:
            all_ = {**every.__wrapped__(self.path), self.name: self.found}
            self.path.write_text(yaml.dump(all_, Dumper=Lines, allow_unicode=True, width=10**6, sort_keys=False))
        assert self.write or self.found == every(self.path).get(self.name, []), (
            f"{self.path.name}: {self.name} has more"
        )

    def plain(self, value: Any) -> Any:
        """A value as YAML can hold it: a dataclass by its name, and by what in it is not as it is by default."""
        if dataclasses.is_dataclass(value):
            fields = ((field, getattr(value, field.name)) for field in dataclasses.fields(value))
            return {type(value).__name__: {f.name: self.plain(one) for f, one in fields if one != f.default}}
        if isinstance(value, Mapping):
            return {self.plain(key): self.plain(one) for key, one in value.items()}
        if isinstance(value, (list, tuple)):
            return [self.plain(one) for one in value]
        assert value is None or type(value) in (str, bool, int, float), f"{type(value).__name__}: not to be held"
        return value.replace(self.own, "TMP") if isinstance(value, str) else value


@cache
def every(path: Path) -> dict[str, list[Any]]:
    """The values of every test of a module."""
    return yaml.safe_load(path.read_text()) if path.exists() else {}


class Lines(yaml.SafeDumper):
    """Text of several lines is written as such."""

    def represent_str(self, text: str) -> yaml.Node:
        return self.represent_scalar("tag:yaml.org,2002:str", text, style="|" if "\n" in text else None)


Lines.add_representer(str, Lines.represent_str)
