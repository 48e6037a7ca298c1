"""What is heard of a burst, worked out the slow way: tick by tick, 64 to the second, whole numbers throughout.

Nothing of `timerd.panel.beats` is used. Light, dose and on-time are counted up one tick after another; who is heard
where two are due at once is found by painting the ticks that are taken.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

S = 64
"""Ticks a second."""
NEAR = 6
"""The largest number of ticks under a tenth of a second."""


class Dodge(NamedTuple):
    area: str
    start: int
    stop: int


class Want(NamedTuple):
    """Something due at a tick. It keeps off others by so many ticks before it and after it (both inclusive)."""

    tick: int
    sound: str
    words: str | None
    n: float
    before: int = NEAR
    after: int = NEAR
    only_words: bool = False


def slow_burst(
    *, dose: int, lag: int, given: int, on: int, ahead: int, dodges: Sequence[Dodge], every: int, count: str,
    length: Callable[[str], int | None], words_at_all: bool = True,
) -> tuple[int, list[tuple[int, str, str | None]]]:  # fmt: skip
    """The ticks that the burst lasts, and (tick, sound, words) of all that is heard, tick 0 being light-on; the
    lead-in begins `ahead` ticks before it."""
    say = length if words_at_all else lambda words: None

    # The light: dose grows by a tick a tick once the lag is over.
    end, so_far, dose_at = 0, given, {0: given}
    while so_far < dose:
        end += 1
        if end > lag:
            so_far += 1
        dose_at[end] = so_far

    ranks: list[list[Want]] = [[] for _ in range(8)]
    ranks[0] = [Want(0, "light_on", None, 0), Want(end, "light_off", None, 0)]
    for tick in range(-ahead, 0):
        if tick % S == 0:
            ranks[3].append(Want(tick, "lead_in", None, -tick / S))
    on_time = on
    for tick in range(1, end):
        on_time += 1
        left = end - tick
        if left in (3 * S, 2 * S, S):
            ranks[5].append(Want(tick, "last", None, left / S))
        if every and on_time % every == 0 and left > 3 * S:
            if on_time % S:
                ranks[7].append(Want(tick, "half", None, on_time / S))
            else:
                ranks[6].append(Want(tick, "accent" if on_time % (5 * S) == 0 else "beat", None, on_time / S))
        number = {"down": left if left % S == 0 else 0, "up": on_time if on_time % S == 0 and left >= 240 else 0}
        if count != "off" and number[count] and tick >= 16:
            n = number[count] // S
            said = n % 10 == 0 or (n % 5 == 0 and left <= 20 * S) or left <= 5 * S
            words = f"#{n}"
            if said and (ticks := say(words)) is not None and ticks < 45:  # 0.7 s
                ranks[4].append(Want(tick, "beat", words, n, 15, 47, True))  # a quarter, three quarters

    moves = []
    for i, dodge in enumerate(dodges):
        if dodge.stop - given <= 1:
            continue
        before_light = dodge.start - given <= 1
        begins = 0 if before_light else next((t for t, d in dose_at.items() if t and d >= dodge.start), end)
        ends = next((t for t, d in dose_at.items() if t and d >= dodge.stop), end)
        if begins < end - NEAR:
            moves.append((begins, "in", dodge.area, before_light, 2 * i))
        if ends < end - NEAR:
            moves.append((ends, "out", dodge.area, False, 2 * i + 1))

    def spoken(tick: int, sound: str, words: str, n: float) -> Want:
        ticks = say(words)
        return Want(tick, sound, None, n) if ticks is None else Want(tick, sound, words, n, NEAR, max(NEAR, ticks + 3))

    told: dict[int, list[tuple[int, str, str, bool, int]]] = {}
    for move in sorted(moves):
        tick, way, _, before_light, n = move
        if not before_light:
            ranks[1].append(spoken(tick, f"card_{way}", way, n))
            if tick - S > 0:
                ranks[3].append(Want(tick - S, "notice", None, n + 0.5))
        when: int | None = tick - 2 * S
        if when < 16:  # not clear of the light
            when = min(-S, (tick - 2 * S) // S * S)
            if when < -ahead:
                late = 16 if tick - 16 >= S // 2 else None
                when = (-ahead or None) if before_light else late
        if when is not None:
            told.setdefault(when, []).append(move)
    while told:
        first = min(told)
        group = [move for when in sorted(told) if when - first < 61 for move in told[when]]
        told = {when: some for when, some in told.items() if when - first >= 61}
        sound = "card_in" if any(move[3] for move in group) else "notice"
        ranks[2].append(spoken(first, sound, ", ".join(f"{m[2]} {m[1]}" for m in group), group[0][4]))

    taken: set[int] = set()
    heard: dict[int, Want] = {}
    for rank in ranks:
        for want in sorted(rank, key=lambda want: (want.tick, want.n)):
            ways = [want] if want.words is None else [want, want._replace(words=None, before=NEAR, after=NEAR)]
            for way in ways[: 1 if want.only_words else 2]:
                span = range(way.tick - way.before, way.tick + way.after + 1)
                if way.tick not in taken and not any(t in heard for t in span):
                    heard[way.tick] = way
                    taken.update(span)
                    break
    return end, [(tick, way.sound, way.words) for tick, way in sorted(heard.items())]
