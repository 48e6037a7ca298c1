"""When each light was lit and where it was paused: a strip a minute, a lane a light, bursts numbered by step."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from timerd.bench.keeper import SAFELIGHT
from timerd.desk.report.markup import Markup, tag
from timerd.desk.report.subject import Subject
from timerd.sheet import facts as fa
from timerd.sheet.history import Dated, paused
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.record import Record
from timerd.sheet.telling.endings import why_words
from timerd.sheet.words import step_words

STRIP_S = 60
_TICK_S = 10
_NEAR_S = 3.0  # numbers nearer than this would lie over each other
_SHORTEST = 0.35  # percent of a strip: a burst narrower than this could not be seen
_AFTER_A_RESTART_S = 1.0
_AT_THE_BENCH = (
    fa.SheetArmed, fa.BurstLit, fa.BurstDark, fa.BurstRecovered, fa.StepEnded, fa.PromptPassed, fa.StepGoneTo,
    fa.SetAside, fa.TakenUp, fa.SheetDone, fa.Abandoned, fa.FaultCame,
)  # fmt: skip
"""Facts up to which a sheet has the bench: afterwards another has, or the sheet is written about."""


@dataclass(frozen=True, slots=True)
class LitSpan:
    """One unbroken light, in seconds since the sheet was armed."""

    light: str
    step: int
    on: float
    off: float
    words: str


@dataclass(slots=True)
class Evening:
    """What the lines did for one sheet, and the pauses, in seconds since it was armed."""

    bursts: list[LitSpan] = field(default_factory=list)
    safelight: list[tuple[float, float]] = field(default_factory=list)
    pauses: list[tuple[float, float]] = field(default_factory=list)
    end: float = 0.0


def timeline_section(subject: Subject) -> Markup | None:
    """The strips of a sheet; None for a print, and for a sheet that never saw a light."""
    evening = evening_of(subject.plan, subject.dated)
    if not evening.bursts:
        return None
    lanes = [*dict.fromkeys(step.light for step in subject.plan.steps if step.light is not None), SAFELIGHT]
    strips: list[Markup] = []
    told = 0
    for minute in _minutes_lit(evening):
        if minute > told:
            strips.append(tag("p", f"{_clock(told)} to {_clock(minute)}: no light on this sheet", class_="small"))
        strips.append(_strip(evening, lanes, minute))
        told = minute + 1
    return tag(
        "section",
        tag("h2", "The lights"),
        tag("figure", *strips, class_="timeline"),
        tag(
            "p", "Minutes since the sheet was armed. Bars: lit, with the step's number at its first burst; ",
            tag("span", "shaded", class_="pause"), ": paused; the lighter bars are the safelight.", class_="small",
        ),
        id="timeline",
    )  # fmt: skip


def evening_of(plan: Plan, dated: Iterable[Dated]) -> Evening:
    """What a sheet's records tell of its lights. A light of which only its dose is known is left out."""
    found = Evening()
    lit: dict[int, tuple[str, float]] = {}
    off: dict[int, float] = {}
    safe_since: float | None = 0.0
    since = list(_since_armed(dated))
    for i, (at, record) in enumerate(since):
        if isinstance(record.fact, _AT_THE_BENCH):
            found.end = max(found.end, at)
        match record.fact:
            case fa.BurstLit() as begun:
                lit[record.burst] = (begun.light, at - (record.at - begun.lit))
            case fa.BurstDark(lit_at, dark_at) | fa.BurstRecovered(lit_at, dark_at) as burst if lit_at is not None:
                unseen = ("", at - (record.at - lit_at))  # by the keeper's note alone, of this same boot
                light, on = lit.get(record.burst, unseen)
                off[i] = on + (dark_at or lit_at) - lit_at
                step = plan.steps[record.step - 1]
                found.bursts.append(LitSpan(light or step.light or "", step.n, on, off[i], _words(step, burst)))
            case fa.TakenUp() | fa.SafelightTurned(True):
                safe_since = at if safe_since is None else safe_since
            case fa.SafelightTurned() | fa.SetAside() if (
                safe_since is not None
            ):  # in its box a sheet is not told of the safelight
                found.safelight.append((safe_since, at))
                safe_since = None
    ends = ((off.get(cut), since[end][0]) for cut, end in paused(record for _, record in since))
    found.pauses += [(cut, end) for cut, end in ends if cut is not None]
    spans = [*found.safelight, (safe_since, found.end)] if safe_since is not None else found.safelight
    found.safelight = [(on, min(off, found.end)) for on, off in spans if on < found.end]
    return found


def _words(step: Step, burst: fa.BurstDark | fa.BurstRecovered) -> str:
    given = f"{burst.given:.1f}" if burst.least == burst.given else f"{burst.least:.1f} to {burst.given:.1f}"
    return f"{step.n} {step_words(step)}: {given} s given ({why_words(burst.why)})"


def _since_armed(dated: Iterable[Dated]) -> Iterator[tuple[float, Record]]:
    """Each record with its seconds since the sheet was armed, by the wall clock; where that is not known, or was set
    back meanwhile, by each boot's own clock, with a short gap where it began anew."""
    dated = list(dated)
    walls = [one.wall for one in dated if one.wall is not None]
    if len(walls) == len(dated) and walls == sorted(walls):
        yield from ((wall - walls[0], one.record) for wall, one in zip(walls, dated, strict=True))
        return
    begun = last = None
    for record, _ in dated:
        if begun is None or last is None:
            begun = record.at
        elif record.at < last:
            begun = record.at - (last - begun) - _AFTER_A_RESTART_S
        last = record.at
        yield record.at - begun, record


def _minutes_lit(evening: Evening) -> list[int]:
    """The minutes since the sheet was armed in which a light was on: a sheet may have lain in its box for days."""
    found = {int(burst.on // STRIP_S) + k for burst in evening.bursts for k in range(_strips_of(burst))}
    return sorted(minute for minute in found if minute >= 0)


def _strips_of(burst: LitSpan) -> int:
    """How many strips a burst reaches into."""
    return max(1, math.ceil(burst.off / STRIP_S - 1e-9) - int(burst.on // STRIP_S))


def _clock(minute: int) -> str:
    return _whole(minute * STRIP_S)


def _whole(seconds: int) -> str:
    return f"{seconds // 60}:{seconds % 60:02}"


def _strip(evening: Evening, lanes: Sequence[str], minute: int) -> Markup:
    begin = minute * STRIP_S
    rows: list[Markup] = []
    pauses = [
        tag("rect", class_="pause", x=f"{left:.3f}%", y="0", width=f"{wide:.3f}%", height="100%")
        for left, wide in _cuts(evening.pauses, begin)
    ]
    ticks = [_rule(second) for second in range(0, STRIP_S + 1, _TICK_S)]
    for lane in lanes:
        drawn = list(_safe_bars(evening, begin)) if lane == SAFELIGHT else list(_bars(evening, lane, begin))
        rows.append(tag("div", lane, class_="lane"))
        rows.append(tag("svg", *pauses, *ticks, *drawn, role="img", aria_label=f"{lane}, from {_clock(minute)}"))
    labels = [
        tag("text", _whole(begin + second), x=f"{second / STRIP_S * 100:.3f}%", y="11")
        for second in range(0, STRIP_S, _TICK_S)
    ]  # fmt: skip
    rows += [tag("div", class_="lane"), tag("svg", *labels, class_="axis", aria_hidden="true")]
    return tag("div", *rows, class_="strip")


def _rule(second: int) -> Markup:
    at = f"{second / STRIP_S * 100:.3f}%"
    return tag("line", class_="rule", x1=at, x2=at, y1="0", y2="100%")


def _cuts(spans: Iterable[tuple[float, float]], begin: float) -> Iterator[tuple[float, float]]:
    """Where those spans that reach into a strip begin in it, and how wide they are, in percent of the strip."""
    for on, off in spans:
        left, wide = _cut(on, off, begin)
        if wide > 0 and left < 100:
            yield left, wide


def _cut(on: float, off: float, begin: float) -> tuple[float, float]:
    """Where a span begins in a strip and how wide it is, in percent of the strip."""
    left = max(on, begin) - begin
    return left / STRIP_S * 100, (min(off, begin + STRIP_S) - begin - left) / STRIP_S * 100


def _bars(evening: Evening, lane: str, begin: float) -> Iterator[Markup]:
    told, last = 0, -_NEAR_S
    for burst in evening.bursts:
        left, wide = _cut(burst.on, burst.off, begin)
        if burst.light != lane or wide <= 0 or left >= 100:
            continue
        yield tag(
            "rect", tag("title", burst.words), class_="lit", x=f"{min(left, 100 - _SHORTEST):.3f}%", y="13",
            width=f"{max(wide, _SHORTEST):.3f}%", height="11",
        )  # fmt: skip
        at = max(burst.on, begin)
        if burst.step != told and at - last >= _NEAR_S:
            told, last = burst.step, at
            late = left > 94
            yield tag(
                "text", str(burst.step), x=f"{100 if late else left:.3f}%", y="10",
                text_anchor="end" if late else None,
            )  # fmt: skip


def _safe_bars(evening: Evening, begin: float) -> Iterator[Markup]:
    for left, wide in _cuts(evening.safelight, begin):
        yield tag("rect", class_="safe", x=f"{left:.3f}%", y="13", width=f"{wide:.3f}%", height="11")
