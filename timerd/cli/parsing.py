"""The parser of commands, and how a module of commands tells it of them."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import Any, Protocol

Command = Callable[[argparse.Namespace], int]


class Add(Protocol):
    """Add a command by name, with what it does and what to say of it; options are put on what comes back."""

    def __call__(self, name: str, command: Command, text: str) -> argparse.ArgumentParser: ...


class Parser(argparse.ArgumentParser):
    """Answers a word that it does not know with the nearest that it does, where argparse would list them all."""

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        if action.choices is not None and value not in action.choices:
            from timerd.sheet.profile.faults import did_you_mean, shown

            choices = [str(choice) for choice in action.choices]
            raise argparse.ArgumentError(action, f"there is no {shown(value)}{did_you_mean(str(value), choices)}")
