"""What is to be seen: a status of the daemon, the plan, the bench and the time become one screen. Pure.

Doses are in seconds of full light, times are monotonic seconds of this machine, which the daemon's are too.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from timerd.panel import trays as at_trays
from timerd.panel.burst import (
    BurstShown,
    burst_seconds,
    cue_lines,
    edge,
    figure,
    figure_given,
    figure_nearest,
    owed_seconds,
    parts_words,
)
from timerd.panel.listing import beside_told, listed, planned
from timerd.panel.mapwords import map_lines
from timerd.panel.notice import notice
from timerd.panel.shown import MarkedMap, Shown
from timerd.sheet.map import CORNER, area_at_hand, image_falls, own_corner, sheet_map
from timerd.sheet.plan.value import LIGHTS, Plan, Step
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.refusal import NoPrint
from timerd.sheet.status import LightOn, Offered, Status
from timerd.sheet.telling import CLEAR, fault_words, refusal_words, white_light_words
from timerd.sheet.telling.endings import why_words
from timerd.sheet.words import area_words, counted_stops, dose_span, seconds_words, step_words

FREE_WARNED_S = 10.0
"""A free burn is warned of its limit so long before."""
_MAP_STATES = ("idle", "prompt", "ready", "paused", "done", "abandoned")


def view(status: Status, plan: Plan | None, bench: Bench | None, now: float, map_called: bool = False) -> Shown:
    """The screen for a status, or with `map_called` the map where there is time for it.

    Raises KeyError, TypeError or ValueError where the status is none that this version knows.
    """
    seen = _View(status, plan, bench, now)
    shown = seen.screen()
    if map_called and status.state in _MAP_STATES and (on_call := seen.map_on_call(shown)) is not None:
        shown = on_call
    settings = bench.screen if bench is not None else None
    noticed, trays = notice(status, now), at_trays.due_words(status, now)
    told = "" if status.state in ("lead-in", "exposing") else at_trays.told_words(status, now)
    if settings is not None and settings.off_while_exposing and _is_lit(status) and not noticed:
        return Shown("nothing")
    shown = replace(
        shown, white=f"white light: {white_light_words(status.white_light_spoils)}", white_safe=status.white_safe,
        sheet="" if trays else shown.sheet or seen.sheet_words(), trays=trays, told=told,
        notice=noticed,
    )  # fmt: skip
    if told:
        shown = replace(shown, rows=beside_told(shown.rows))
    if settings is not None and settings.flash_edge and not shown.edge:
        shown = replace(shown, edge=edge(status, now))
    return shown


def lost(why: str) -> Shown:
    """The screen while the daemon is not there, or is not understood."""
    return Shown(
        "words", state="no word", heading="timerd does not answer",
        lines=(
            why,
            "Take every lamp for lit until you have seen it dark. If one stays on: cover the paper, switch it off "
            "at the wall.",
            "Trying again by itself.",
        ),
        white="white light: not known here", white_safe=False,
    )  # fmt: skip


def _is_lit(status: Status) -> bool:
    return status.burst is not None and status.state == "exposing"


def _left(burst: LightOn, now: float) -> str:
    """A light to look by: how long until it goes off by itself."""
    return "" if burst.deadline is None else figure(burst.deadline - now)


_OF_TWO = ("end: ", "hold end ", "both ")
_CLEAR_BY_COMMAND = "timerd clear clears the fault once every line reads low; the sheet is kept."


class _View:
    """One status, looked at from each state."""

    def __init__(self, status: Status, plan: Plan | None, bench: Bench | None, now: float) -> None:
        self.status = status
        self.plan = plan
        self.bench = bench
        self.now = now
        self.state: str = status.state
        n = status.step
        self.step: Step | None = None
        if plan is not None and n is not None and 1 <= n <= len(plan.steps):
            self.step = plan.steps[n - 1]
        self.given: float = status.given or 0.0

    def screen(self) -> Shown:
        """The state's own screen; on a bench with one pedal without what only the other could do."""
        shown = self._of_state()
        if self.bench is None or self.bench.pedals.end:
            return shown
        lines = tuple(_CLEAR_BY_COMMAND if line == CLEAR else line for line in shown.lines)
        return replace(shown, lines=tuple(line for line in lines if not line.startswith(_OF_TWO)))

    def _of_state(self) -> Shown:
        match self.state:
            case "idle":
                return self._idle()
            case "prompt":
                return self._prompt()
            case "ready" | "paused":
                return self._waiting()
            case "lead-in" | "exposing":
                return self._burst()
            case "done" | "abandoned":
                return self._over()
            case "fault":
                return self._fault()
        raise ValueError(f"no state '{self.state}' is known here")

    # -- beside the state --------------------------------------------------------------------------------------------

    def sheet_words(self) -> str:
        """Which sheet of how many."""
        sheet, left = self.status.sheet, self.status.sheets_left
        if sheet is None:
            return ""
        return f"sheet {sheet}, the last" if not left else f"sheet {sheet}, then {left} more"

    def map_on_call(self, shown: Shown) -> Shown | None:
        """The map alone, as large as it goes, with the area of the step at hand or of the next light."""
        step = self._next_light(self.step)
        marked = self._marked(step)
        if marked is None:
            return None
        heading = shown.heading if step is None else step_words(step)
        return replace(shown, kind="map", map=marked, heading=heading, lines=map_lines(marked))

    def _next_light(self, step: Step | None) -> Step | None:
        steps = self.plan.steps if self.plan is not None else ()
        return next((s for s in steps[step.n - 1 if step is not None else 0 :] if s.kind in LIGHTS), None)

    def _following(self, step: Step) -> tuple[str, ...]:
        """What comes next, as a line of its own."""
        steps = self.plan.steps if self.plan is not None else ()
        return (f"next: {step_words(steps[step.n])}",) if step.n < len(steps) else ()

    def _turn(self, step: Step | None) -> int:
        """How the sheet lies before the printer at the step's station."""
        station = step.station if step is not None else None
        known = self.bench.stations if self.bench is not None else {}
        return known[station].turn if station in known else 0

    def _marked(self, step: Step | None) -> MarkedMap | None:
        made = sheet_map(self.plan) if self.plan is not None else None
        if made is None:
            return None
        made = made.turned(self._turn(step))
        if step is None:
            return MarkedMap(made, None, False)
        return MarkedMap(made, made.find(*area_at_hand(step)), not image_falls(step))

    def _light(self) -> str:
        return (self.step.light if self.step is not None else None) or ""

    def _heading(self) -> str:
        """What is done and where, without the light: that stands in the band."""
        if self.step is None:
            return f"step {self.status.step}"
        if self.step.kind not in LIGHTS:
            return step_words(self.step)
        return f"{self.step.kind} {area_words(self.step.area, self.step.mm)}"

    def _amount(self) -> str:
        step = self.step
        if step is None:
            return ""
        if step.stops is not None:
            return counted_stops(step.stops, step.stops_written)
        return "" if step.threshold is None else f"{step.threshold * 100:.0f} % of threshold"

    def _bar(self, dose: float) -> float | None:
        """How much of the step's dose is given."""
        planned = self.step.dose if self.step is not None else None
        return round(min(1.0, dose / planned), 3) if planned else None

    # -- the states ----------------------------------------------------------------------------------------------

    def _idle(self) -> Shown:
        status = self.status
        burst, unfinished = status.burst, status.unfinished
        heading = status.print or refusal_words(NoPrint())
        rows = planned(self.plan) if self.plan is not None else ()
        if burst is not None:
            return Shown(
                "steps", state="viewing light", light=burst.light, lit=True, heading=heading,
                figure=_left(burst, self.now), lines=("seconds, then it goes off by itself", "any press puts it off"),
                rows=rows,
            )  # fmt: skip
        where = "simulated" if status.simulated else status.bench
        if status.shows is not None:
            return self._to_show(status.shows)
        if unfinished is not None:
            return self._offer(unfinished)
        boxed = status.aside
        keeping = status.scheduling + ("; lamps not verified" if status.not_verified else "")
        hints = ["hold go for 1 s: begin a sheet"] if status.sheets_left and status.print else []
        if self.bench is not None and self.bench.viewing is not None and status.white_safe:
            hints.append("hold end for 1 s: viewing light")
        hints = [*at_trays.go_in_idle(status), *hints]
        if boxed:
            hints.append(f"in the box: sheet{'s' if len(boxed) > 1 else ''} {', '.join(map(str, boxed))}")
        if at_trays.stacks_of(status):
            return at_trays.screen(status, self.now, tuple(hints))
        if not status.print:
            hints.insert(0, "load one from the computer")
            return Shown("words", state="idle", light=where, heading=heading, lines=tuple(hints), sheet=keeping)
        return Shown(
            "steps", state="idle", light=where, heading=heading, figure=str(status.sheets_left),
            lines=("sheets to do", *hints), rows=rows, sheet=keeping,
        )  # fmt: skip

    def _offer(self, unfinished: Offered) -> Shown:
        """The daemon tells the plan of the sheet that it offers."""
        n, owed = unfinished.step, unfinished.owed
        given, lo = unfinished.given or 0.0, unfinished.given_lo or 0.0
        steps = self.plan.steps if self.plan is not None else ()
        step = steps[n - 1] if n is not None and n <= len(steps) else None
        words = "" if n is None else f"step {n}" + ("" if step is None else f", {step_words(step)}")
        seconds = (owed if step is None else owed_seconds(step, given)) or 0.0
        facts = (f"given {dose_span(lo, given)}" if given else "", f"owed {seconds_words(seconds)}" if owed else "")
        aside = unfinished.aside is not None
        how = "set aside" if aside else "unfinished"
        view = ("hold end for 1 s: viewing light",) if aside and self.status.white_safe else ()
        return Shown(
            "offer", state="idle", heading=f"sheet {unfinished.sheet} is {how}",
            figure=figure_nearest(seconds) if owed else "", side=(words, *facts),
            lines=("hold go for 1 s: take it up", "end: say what it was given", *view, "both for 2 s: give it up",
                   *at_trays.go_in_idle(self.status)),
        )  # fmt: skip

    def _to_show(self, light: str) -> Shown:
        """The next press shows a light to look by."""
        bench, station = self.bench, self.step.station if self.step is not None else None
        swung = bench.paper_safe_at(station) if bench is not None and self.status.sheet is not None else None
        by_hand = swung is not None and bench is not None and bench.lights[swung].filter == "by hand"
        first = (f"swing the {swung} filter in first",) if by_hand else ()
        return Shown("words", state=self.state, heading=f"go shows the {light}", lines=(*first, "end: leave it dark"))

    def _shown(self, burst: LightOn) -> Shown:
        """The paper-safe light is on: the image lies on the paper for the cards to be placed."""
        return Shown(
            "steps", state="paper-safe light", light=burst.light, lit=True, heading=self._heading(),
            figure=_left(burst, self.now), rows=self._rows(),
            lines=("seconds, then it goes off by itself", "place the cards; any press puts it off"),
        )  # fmt: skip

    def _prompt(self) -> Shown:
        step, plan = self.step, self.plan
        if step is None or plan is None:
            return Shown("words", state="prompt", heading=self._heading(), lines=("go: done, go on",))
        asks = tuple(self.status.asks or step.asks)
        following = self._following(step)
        told = tuple(text for text in (step.card, step.note) if text is not None)
        if step.kind == "wait":
            return Shown(
                "asks", state="prompt", heading=plan.print, figure=str(self.status.sheet or ""),
                caption="sheet number", lines=(*asks, *told, *following, "go: done"),
            )  # fmt: skip
        if asks != step.asks:  # out of its box, or to a step that the bench is not set up for
            shown = Shown(
                "asks", state="prompt", heading=f"for {step_words(step)}", figure=str(self.status.sheet or ""),
                caption="sheet number", lines=(*asks, "go: done, go on"),
            )  # fmt: skip
            light = self._next_light(step) if self.status.boxed is not None else None
            back = self._marked(light) if light is not None else None
            if light is None or back is None:
                return shown
            back = replace(back, corner=own_corner(self._turn(light)))
            return replace(shown, kind="carry", figure="", caption="", map=back)
        lines = (*told, *following, "go: done, go on")
        if step.kind == "carry":
            marked = self._marked(self._next_light(step))
            if marked is not None:
                if marked.ticked and marked.at_hand is not None:
                    lines = (*lines, f"mark {marked.at_hand.words} on the edges, in mm from the {CORNER} corner")
                return Shown("carry", state="prompt", heading=self._heading(), lines=lines, map=marked)
        return Shown("words", state="prompt", heading=", ".join(asks) or self._heading(), lines=lines)

    def _waiting(self) -> Shown:
        """Ready and paused: what is to be done, and how long."""
        step, status = self.step, self.status
        if status.shown is not None and status.burst is not None:
            return self._shown(status.burst)
        if status.shows is not None:
            return self._to_show(status.shows)
        paused = self.state == "paused"
        if step is None:
            return Shown("words", state=self.state, heading=self._heading())
        free = step.dose is None
        ahead = burst_seconds(step, self.given)
        lo = self.given if status.given_lo is None else status.given_lo
        given = f"given {dose_span(lo, self.given)}" if self.given > 0 else ""
        foot = "" if step.pedal == "press" else ", while the foot is down"
        if free:
            lines = [f"seconds given{foot}"]
        elif not given:
            lines = [f"{seconds_words(ahead)}{foot}"]
        else:
            left = owed_seconds(step, self.given) or 0.0
            owed = f"{seconds_words(left)} owed of {seconds_words(step.seconds or 0.0)}"
            exact = f"{given}, {owed}"
            lines = [f"{exact}{foot}"] if lo == self.given else [f"{owed}{foot}", given]
        if (of_several := parts_words(step, self.given)) is not None:
            lines[0] += f", {of_several}"
        if paused:
            lines += self._why_dark(free)
        if step.note is not None:
            lines.append(step.note)
        lines += cue_lines(step, self.given)
        amount = self._amount()
        shown = Shown(
            "steps", state=self.state, light=self._light(), bar=self._bar(self.given),
            figure=figure_given(self.given) if free else figure_nearest(ahead),
            heading=self._heading() + (f", {amount}" if amount else ""), card=step.card or "",
            lines=tuple(lines), rows=self._rows(),
        )  # fmt: skip
        marked = None if image_falls(step) or step.area == "all" else self._marked(step)
        if marked is None:
            return shown
        told = (lines[0], step.card or "", *lines[1:])
        return replace(shown, kind="marks", map=marked, rows=(), card="", lines=told)

    def _why_dark(self, free: bool) -> list[str]:
        why = self.status.dark.why if self.status.dark is not None else None
        if why == "deadline" and free:
            return ["the longest time for this lamp is over"]
        return [] if why in (None, "deadline", "pedal") else [f"went dark: {why_words(why)}"]

    def _rows(self) -> tuple[Any, ...]:
        if self.plan is None or self.status.steps is None:
            return ()
        return listed(self.plan, self.status.steps, self.status.step)

    def _burst(self) -> Shown:
        status, step = self.status, self.step
        burst, lead_in = status.burst, status.lead_in
        shown = Shown(
            "burst", state=self.state, light=self._light() or (burst.light if burst is not None else ""),
            lit=burst is not None, heading=self._heading(), amount=self._amount(),
        )  # fmt: skip
        if burst is not None and burst.deadline is not None:
            lit, ends, left = burst.lit, burst.deadline - burst.lit, burst.deadline - self.now
        elif lead_in is not None:
            lit, ends, left = None, lead_in.seconds, lead_in.at - self.now
        else:
            raise ValueError(f"{self.state} without a burst")
        if step is None:
            return replace(shown, figure=figure(left), caption="seconds to light" if lit is None else "seconds left")
        run = BurstShown(step, self.given, lit, ends)
        dose = run.dose(self.now)
        cues = run.cues(self.now)
        told = tuple(text for text in (step.card, step.note) if text is not None)
        shown = replace(shown, cues=tuple(cues), lines=told or self._following(step), bar=self._bar(dose))
        if lit is None and lead_in is not None:
            counted = lead_in.at - lead_in.from_ >= 1
            seconds = figure_given(self.given) if step.dose is None else figure_nearest(ends)
            return replace(
                shown,
                figure=str(max(1, math.ceil(left - 1e-6))) if counted else seconds,
                caption="seconds to light" if counted else "seconds",
            )
        if step.dose is None:
            near = f"longest in {figure(left)}" if left <= FREE_WARNED_S else "seconds given"
            return replace(shown, figure=figure_given(dose), caption=near)
        return replace(shown, figure=figure(left), caption="seconds left")

    def _over(self) -> Shown:
        status = self.status
        more = "next sheet" if status.sheets_left and status.print else "idle"
        if self.state == "done":
            idle = ("hold end for 1 s: idle",) if more != "idle" else ()
            hints = (*at_trays.go_at_done(status), f"hold go for 1 s: {more}", *idle)
        else:
            given_up = "give it up" + (", next sheet" if more == "next sheet" else "")
            hints = (f"hold go for 1 s: {given_up}", "hold end for 1 s: take it up again", "end: say what it was given")
        if self.state == "done" and at_trays.at_the_trays(status) and at_trays.stacks_of(status):
            return at_trays.caution(status, self.now) or at_trays.screen(status, self.now, hints)
        return Shown(
            "steps", state=self.state, heading=f"sheet {status.sheet} is {self.state}",
            figure=str(status.sheet or ""), lines=hints, rows=self._rows(),
        )  # fmt: skip

    def _fault(self) -> Shown:
        words = fault_words(self.status.fault)
        return Shown("words", state="FAULT", lit=True, heading=words.what, lines=words.do, edge=2)
