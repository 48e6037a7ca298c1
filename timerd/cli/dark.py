"""The commands of whoever wants it dark, or a fault cleared."""

from __future__ import annotations

import argparse

from timerd.bench.lastoff import hurry, last_off
from timerd.bench.lines import LinesError
from timerd.cli.parsing import Add
from timerd.control import ControlError, ask
from timerd.places import closed_service, run_folder
from timerd.wire.control import ClearFault, MakeDark, No


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    add("dark", _dark)
    add("clear", _clear)


def _dark(args: argparse.Namespace) -> int:
    caution = "Cover the paper and look at the lamps all the same: a welded relay stays on."
    try:
        ask(run_folder(args.home), MakeDark(), timeout=0.1)
    except ControlError as said:
        if said.code is No.LINE_HIGH:  # the keeper has done what a last off could do
            raise
        try:
            hurry()
            _, high = last_off(run_folder(args.home))
        except LookupError as error:
            raise LookupError(_closed_words() or str(error.args[0])) from None
        except (LinesError, OSError) as error:
            raise OSError(f"NOT dark: {error}. Cover the paper, switch the lamps off at the wall") from None
        if high:
            raise OSError(
                f"NOT dark: {', '.join(high)} reads high. Cover the paper, switch it off at the wall"
            ) from None
        print(f"dark, by the last off: no daemon answered. {caution}")
    else:
        print(f"dark. {caution}")
    return 0


def _closed_words() -> str | None:
    """Where a bench is served that this user may not darken: what to do."""
    if (closed := closed_service()) is None:
        return None
    return (
        f"NOT dark: the bench is served in {closed}, and this user may not talk to it: say  sudo timerd dark, "
        "or join the group that may. Cover the paper, switch the lamps off at the wall"
    )


def _clear(args: argparse.Namespace) -> int:
    ask(run_folder(args.home), ClearFault())
    print("cleared: every line reads low. A sheet that was under way is offered again.")
    return 0
