"""The parser of commands: a command's module is imported, and its options are known, when it is used."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from importlib import import_module
from typing import Any, Protocol

from timerd.cli.table import Group
from timerd.sheet.profile.faults import did_you_mean, shown

Run = Callable[[argparse.Namespace], int]


class Add(Protocol):
    """Say what does a command of the table; its options are put on what comes back."""

    def __call__(self, name: str, run: Run) -> argparse.ArgumentParser: ...


class Parser(argparse.ArgumentParser):
    """Answers a word that it does not know with the nearest that it does, where argparse would list them all.

    `fill` gives it its options, before it parses anything.
    """

    fill: Callable[[], None] | None = None

    def filled(self) -> Parser:
        """This parser, with its options."""
        if self.fill is not None:
            self.fill()
        return self

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """As argparse does it, with the options that are to be known for it."""
        return super(Parser, self.filled()).parse_known_args(args, namespace)

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        if action.choices is not None and value not in action.choices:
            choices = [str(choice) for choice in action.choices]
            raise argparse.ArgumentError(action, f"there is no {shown(value)}{did_you_mean(str(value), choices)}")


def put_on(parser: Parser, group: Group) -> None:
    """Give a parser the commands of a group, each with its line of help."""
    parser.fill = None
    heading = {} if group.title is None else {"title": group.title}
    subs = parser.add_subparsers(metavar=group.word, required=True, **heading)
    made: dict[str, Parser] = {}

    def add(name: str, run: Run) -> argparse.ArgumentParser:
        made[name].fill = None
        made[name].set_defaults(run=run, command=name)
        return made[name]

    for one in group.commands:
        text = one.text[0].upper() + one.text[1:] + "." if group.described else None
        sub = made[one.name] = subs.add_parser(one.name, help=one.text, description=text)
        if isinstance(one, Group):
            sub.fill = lambda sub=sub, one=one: put_on(sub, one)
        else:
            sub.fill = lambda module=one.module: import_module(f"timerd.cli.{module}").commands(add)
