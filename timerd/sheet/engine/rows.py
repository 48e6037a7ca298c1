"""The nine states, and the rows of the table: a state, split where the step's pedal or an unfinished sheet makes a
difference. And what can happen in each."""

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

DARKENING = frozenset({LEAD_IN, LEAD_IN_HELD, EXPOSING, EXPOSING_HELD, VIEWING, READY_SHOWN, PAUSED_SHOWN})
"""Rows in which any press makes dark: the keeper cuts at the edge itself, so no press is too soon or stale here."""
OF_A_STEP = frozenset({LEAD_IN, EXPOSING})
"""Those of them in which it is the light of a `press` step that is called off, or put out."""
