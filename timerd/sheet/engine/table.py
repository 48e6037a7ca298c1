"""The one table: what each thing that happens does in each state. What is not here does nothing there.

A row is a state, split where the step's pedal or an unfinished sheet makes a difference. The entries name methods of
the machine. A let-up of 1 s or more is `held`; where a row has no `held` of that pedal it is a plain let-up.
"""

from __future__ import annotations

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
VIEWING = "idle, viewing light on"
READY_HELD = "ready, held"
LEAD_IN_HELD = "lead-in, held"
EXPOSING_HELD = "exposing, held"

STATE_OF = {state: state for state in STATES} | {
    UNFINISHED: IDLE,
    VIEWING: IDLE,
    READY_HELD: READY,
    LEAD_IN_HELD: LEAD_IN,
    EXPOSING_HELD: EXPOSING,
}
"""Each row's state."""

TRIGGERS = (
    "go pressed", "go let up", "go held", "end pressed", "end let up", "end held", "both held",
    "lit", "dark", "refused", "fault", "low", "rest", "load", "clear",
)  # fmt: skip

DARKENING = frozenset({LEAD_IN, LEAD_IN_HELD, EXPOSING, EXPOSING_HELD, VIEWING})
"""Rows in which any press makes dark: the keeper cuts at the edge itself, so no press is too soon or stale here."""

_ENDS = {"dark": "dark", "refused": "burst_refused"}

TABLE: dict[str, dict[str, str]] = {
    IDLE: {
        "go let up": "into_stop_bath",
        "go held": "arm",
        "end held": "view",
        "load": "load",
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
        "go let up": "into_stop_bath",
        "go held": "take_up",
        "end pressed": "say_given",
        "both held": "give_up",
        "load": "load",
    },
    PROMPT: {
        "go pressed": "pass_prompt",
        "end pressed": "say_again",
        "both held": "abandon",
    },
    READY: {
        "go pressed": "start",
        "end let up": "say_again",
        "end held": "skip",
        "both held": "abandon",
    },
    READY_HELD: {
        "go pressed": "start",
        "end let up": "say_again",
        "end held": "skip",
        "both held": "abandon",
    },
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
        "end let up": "end_here",
        "both held": "abandon",
    },
    DONE: {
        "go let up": "into_stop_bath",
        "go held": "next_sheet",
        "end let up": "say_again",
        "end held": "rest",
        "load": "load",
    },
    ABANDONED: {
        "go held": "next_sheet",
        "end let up": "say_given",
        "end held": "take_up",
        "load": "load",
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
    },
}
for _row in TABLE:
    if _row != FAULT:
        TABLE[_row]["fault"] = "fail"
