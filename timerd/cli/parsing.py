"""How a module of commands tells the parser of them."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import Protocol

Command = Callable[[argparse.Namespace], int]


class Add(Protocol):
    """Add a command by name, with what it does and what to say of it; options are put on what comes back."""

    def __call__(self, name: str, command: Command, text: str) -> argparse.ArgumentParser: ...
