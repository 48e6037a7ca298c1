"""The one table: what each thing that happens does in each state. What is not here does nothing there.

A row is a state, split where the step's pedal or an unfinished sheet makes a difference. The entries name methods of
the machine. A let-up of 1 s or more is `held`; where a row has no `held` of that pedal it is a plain let-up.
"""

from __future__ import annotations

from timerd.sheet.engine.events import ORDERS

IDLE = "idle"
PROMPT = "prompt"
READY = "ready"
LEAD_IN = "lead-in"
EXPOSING = "exposing"
PAUSED = "paused"
DONE = "done"
ABANDONED = "abandoned"
FAULT = "fault"
STATES = (IDLE, PROMPT, READY, LEAD_IN, EXPOSING, PAUSED, DONE, ABANDONED, FAULT)

UNFINISHED = "idle, a sheet unfinished"
ASIDE = "idle, a sheet set aside"
IDLE_TO_SHOW = "idle, to be shown"
VIEWING = "idle, viewing light on"
READY_HELD = "ready, held"
READY_TO_SHOW = "ready, to be shown"
READY_SHOWN = "ready, paper-safe light on"
PAUSED_TO_SHOW = "paused, to be shown"
PAUSED_SHOWN = "paused, paper-safe light on"
LEAD_IN_HELD = "lead-in, held"
EXPOSING_HELD = "exposing, held"

STATE_OF = {state: state for state in STATES} | {
    UNFINISHED: IDLE,
    ASIDE: IDLE,
    IDLE_TO_SHOW: IDLE,
    VIEWING: IDLE,
    READY_HELD: READY,
    READY_TO_SHOW: READY,
    READY_SHOWN: READY,
    PAUSED_TO_SHOW: PAUSED,
    PAUSED_SHOWN: PAUSED,
    LEAD_IN_HELD: LEAD_IN,
    EXPOSING_HELD: EXPOSING,
}
"""Each row's state."""

TRIGGERS = (
    "go pressed", "go let up", "go held", "end pressed", "end let up", "end held", "both held",
    "lit", "dark", "refused", "fault", "low", "rest", "load", "clear", *(f"told {order}" for order in ORDERS),
)  # fmt: skip

DARKENING = frozenset({LEAD_IN, LEAD_IN_HELD, EXPOSING, EXPOSING_HELD, VIEWING, READY_SHOWN, PAUSED_SHOWN})
"""Rows in which any press makes dark: the keeper cuts at the edge itself, so no press is too soon or stale here."""
OF_A_STEP = frozenset({LEAD_IN, EXPOSING})
"""Those of them in which it is the light of a `press` step that is called off, or put out."""

_ENDS = {"dark": "dark", "refused": "burst_refused"}
_IN_HAND = {
    "told say": "say_again",
    "told abandon": "abandon",
    "told step": "go_to",
    "told owe": "owe_again",
    "told set aside": "set_aside",
}
_READY = {
    "go pressed": "start",
    "end let up": "say_again",
    "end held": "skip",
    "both held": "abandon",
    "told skip": "skip",
    "told view": "to_show",
    **_IN_HAND,
}
_TO_SHOW = {
    "go pressed": "show",
    "end pressed": "not_shown",
    "told view": "not_shown",
    "told say": "say_to_show",
}
"""One press of `go` shows the light; anything else that is pressed leaves it dark."""
_SHOWN = {
    "go pressed": "view_goes_off",
    "end pressed": "view_goes_off",
    "lit": "view_lit",
    "dark": "shown_dark",
    "refused": "show_refused",
}

TABLE: dict[str, dict[str, str]] = {
    IDLE: {
        "go let up": "into_baths",
        "go held": "arm",
        "end held": "view",
        "load": "load",
        "told arm": "arm",
        "told take up": "take_up_told",
        "told give up": "give_up_told",
        "told tray": "into_baths",
        "told view": "to_show",
    },
    IDLE_TO_SHOW: {**_TO_SHOW, "load": "load"},
    ASIDE: {
        "go let up": "into_baths",
        "go held": "take_up",
        "end let up": "say_given",
        "end held": "view",
        "both held": "give_up",
        "load": "load",
        "told say": "say_given",
        "told arm": "arm",
        "told take up": "take_up_told",
        "told give up": "give_up_told",
        "told tray": "into_baths",
        "told view": "to_show",
    },
    VIEWING: {
        "go pressed": "view_goes_off",
        "end pressed": "view_goes_off",
        "load": "load",
        "lit": "view_lit",
        "dark": "view_dark",
        "refused": "view_refused",
    },
    UNFINISHED: {
        "go let up": "into_baths",
        "go held": "take_up",
        "end pressed": "say_given",
        "both held": "give_up",
        "load": "load",
        "told say": "say_given",
        "told take up": "take_up_told",
        "told give up": "give_up_told",
        "told set aside": "set_aside",
        "told tray": "into_baths",
    },
    PROMPT: {
        "go pressed": "pass_prompt",
        "end pressed": "say_again",
        "both held": "abandon",
        **_IN_HAND,
    },
    READY: _READY,
    READY_HELD: _READY,
    READY_TO_SHOW: _TO_SHOW,
    READY_SHOWN: _SHOWN,
    LEAD_IN: {
        "go pressed": "keeper_cuts",
        "go let up": "no_press_after_all",
        "end pressed": "keeper_cuts",
        "both held": "cut",
        "lit": "lit",
        **_ENDS,
    },
    LEAD_IN_HELD: {
        "go pressed": "keeper_cuts",
        "go let up": "keeper_cuts",
        "end pressed": "keeper_cuts",
        "both held": "cut",
        "lit": "lit",
        **_ENDS,
    },
    EXPOSING: {
        "go pressed": "keeper_cuts",
        "end pressed": "keeper_cuts",
        "both held": "cut",
        **_ENDS,
    },
    EXPOSING_HELD: {
        "go pressed": "keeper_cuts",
        "go let up": "keeper_cuts",
        "end pressed": "keeper_cuts",
        "both held": "cut",
        **_ENDS,
    },
    PAUSED: {
        "go pressed": "start",
        "end let up": "say_owed",
        "end held": "end_here",
        "both held": "abandon",
        "told end": "end_here",
        "told view": "to_show",
        **_IN_HAND,
    },
    PAUSED_TO_SHOW: _TO_SHOW,
    PAUSED_SHOWN: _SHOWN,
    DONE: {
        "go let up": "into_baths",
        "go held": "next_sheet",
        "end let up": "say_again",
        "end held": "rest",
        "load": "load",
        "told say": "say_again",
        "told arm": "next_armed",
        "told take up": "take_up_told",
        "told owe": "owe_again",
        "told tray": "into_baths",
        "told rest": "rest",
    },
    ABANDONED: {
        "go held": "next_sheet",
        "end let up": "say_given",
        "end held": "take_up",
        "load": "load",
        "told say": "say_given",
        "told take up": "take_up_told",
        "told give up": "give_up_told",
        "told set aside": "set_aside",
        "told tray": "into_baths",
    },
    FAULT: {
        "end pressed": "say_fault",
        "both held": "ask_clear",
        "dark": "dark_in_fault",
        "refused": "dark_in_fault",
        "low": "line_low",
        "rest": "clear",
        "clear": "ask_clear",
        "fault": "fail_again",
        "told say": "say_fault",
    },
}
for _row in TABLE:
    if _row != FAULT:
        TABLE[_row]["fault"] = "fail"
