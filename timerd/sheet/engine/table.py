"""The one table: what each thing that happens does in each row. What is not here does nothing there.

A let-up of 1 s or more is `held`; where a row has no `held` of that pedal it is a plain let-up.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from timerd.sheet.engine import lights, orders, rows, sheets, showing
from timerd.sheet.engine.standing import Standing

Move = Callable[[Standing, Any, float], None]
"""What it does: with the contact or the event that asks for it, and the time."""

_ENDS: dict[str, Move] = {"dark": lights.dark, "refused": lights.burst_refused}
_IN_HAND: dict[str, Move] = {
    "told say": sheets.say_again,
    "told abandon": sheets.abandon,
    "told step": orders.go_to,
    "told owe": orders.owe_again,
    "told set aside": sheets.set_aside,
}
_BURNS: dict[str, Move] = {
    "go pressed": lights.keeper_cuts,
    "end pressed": lights.keeper_cuts,
    "both held": lights.cut,
    **_ENDS,
}
_BURNS_HELD: dict[str, Move] = {**_BURNS, "go let up": lights.keeper_cuts}
_LEFT: dict[str, Move] = {
    "load": sheets.load,
    "told say": sheets.say_given,
    "told take up": orders.take_up_told,
    "told give up": orders.give_up_told,
    "told tray": sheets.into_baths,
}
"""A sheet that was left before it was complete."""
_READY: dict[str, Move] = {
    "go pressed": lights.start,
    "end let up": sheets.say_again,
    "end held": sheets.skip,
    "both held": sheets.abandon,
    "told skip": sheets.skip,
    "told view": showing.to_show,
    **_IN_HAND,
}
_TO_SHOW: dict[str, Move] = {
    "go pressed": showing.show,
    "end pressed": showing.not_shown,
    "told view": showing.not_shown,
    "told say": showing.say_to_show,
}
"""One press of `go` shows the light; anything else that is pressed leaves it dark."""
_SHOWN: dict[str, Move] = {
    "go pressed": showing.view_goes_off,
    "end pressed": showing.view_goes_off,
    "lit": showing.view_lit,
    "dark": showing.shown_dark,
    "refused": showing.show_refused,
}

TABLE: dict[str, dict[str, Move]] = {
    rows.IDLE: {
        "go let up": sheets.into_baths,
        "go held": sheets.arm,
        "end held": showing.view,
        "load": sheets.load,
        "told arm": sheets.arm,
        "told take up": orders.take_up_told,
        "told give up": orders.give_up_told,
        "told tray": sheets.into_baths,
        "told view": showing.to_show,
    },
    rows.IDLE_TO_SHOW: {**_TO_SHOW, "load": sheets.load},
    rows.ASIDE: {
        "go let up": sheets.into_baths,
        "go held": sheets.take_up,
        "end let up": sheets.say_given,
        "end held": showing.view,
        "both held": sheets.give_up,
        "told arm": sheets.arm,
        "told view": showing.to_show,
        **_LEFT,
    },
    rows.VIEWING: {
        "go pressed": showing.view_goes_off,
        "end pressed": showing.view_goes_off,
        "load": sheets.load,
        "lit": showing.view_lit,
        "dark": showing.view_dark,
        "refused": showing.view_refused,
    },
    rows.UNFINISHED: {
        "go let up": sheets.into_baths,
        "go held": sheets.take_up,
        "end pressed": sheets.say_given,
        "both held": sheets.give_up,
        "told set aside": sheets.set_aside,
        **_LEFT,
    },
    rows.PROMPT: {
        "go pressed": sheets.pass_prompt,
        "end pressed": sheets.say_again,
        "both held": sheets.abandon,
        **_IN_HAND,
    },
    rows.READY: _READY,
    rows.READY_HELD: _READY,
    rows.READY_TO_SHOW: _TO_SHOW,
    rows.READY_SHOWN: _SHOWN,
    rows.LEAD_IN: {**_BURNS, "go let up": lights.no_press_after_all, "lit": lights.lit},
    rows.LEAD_IN_HELD: {**_BURNS_HELD, "lit": lights.lit},
    rows.EXPOSING: _BURNS,
    rows.EXPOSING_HELD: _BURNS_HELD,
    rows.PAUSED: {
        "go pressed": lights.start,
        "end let up": sheets.say_owed,
        "end held": sheets.end_here,
        "both held": sheets.abandon,
        "told end": sheets.end_here,
        "told view": showing.to_show,
        **_IN_HAND,
    },
    rows.PAUSED_TO_SHOW: _TO_SHOW,
    rows.PAUSED_SHOWN: _SHOWN,
    rows.DONE: {
        "go let up": sheets.into_baths,
        "go held": sheets.next_sheet,
        "end let up": sheets.say_again,
        "end held": sheets.rest,
        "load": sheets.load,
        "told say": sheets.say_again,
        "told arm": orders.next_armed,
        "told take up": orders.take_up_told,
        "told owe": orders.owe_again,
        "told tray": sheets.into_baths,
        "told rest": sheets.rest,
    },
    rows.ABANDONED: {
        "go held": sheets.next_sheet,
        "end let up": sheets.say_given,
        "end held": sheets.take_up,
        "told set aside": sheets.set_aside,
        **_LEFT,
    },
    rows.FAULT: {
        "end pressed": sheets.say_fault,
        "both held": lights.ask_clear,
        "dark": lights.dark_in_fault,
        "refused": lights.dark_in_fault,
        "low": lights.line_low,
        "rest": lights.clear,
        "clear": lights.ask_clear,
        "fault": lights.fail_again,
        "told say": sheets.say_fault,
    },
}
for _row in TABLE:
    if _row != rows.FAULT:
        TABLE[_row]["fault"] = lights.fail
