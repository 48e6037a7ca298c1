"""The cue line against the sounds: the same instants for any burst, whatever was given before it."""

from __future__ import annotations

import json

import pytest
from hypothesis import given as drawn
from hypothesis import settings as told_to
from hypothesis import strategies as st
from panel.telling import dodge, lead_in, step

from timerd.bench.cueing import Cueing
from timerd.panel.beats import burst_of, burst_sounds
from timerd.printing.light import Response
from timerd.sheet.beats import Burst
from timerd.sheet.profile.sound import SoundSettings
from timerd.sheet.pulses import ANNOUNCED, MOST, PATTERNS, pulses
from timerd.wire.keeper import MOST_PULSES, TO_KEEPER, Expose, Pulses

PATTERN_OF = {**PATTERNS, "notice": ANNOUNCED}


def edges(rows: tuple[Pulses, ...], lit: float) -> list[tuple[float, bool]]:
    """What the line does of them, as the keeper has it."""
    cueing = Cueing(fitted=True)
    cueing.begin(rows, lit)
    found = []
    while (due := cueing.due(None)) is not None:
        level = cueing.wake(due, None)
        if level is not None:
            found.append((round(due, 5), level))
    return found


def painted(told: list[tuple[float, str]], ahead: set[float]) -> list[tuple[float, bool]]:
    """What the line must do for these sounds: each painted with its pattern onto one line, and its edges read off."""
    spans = []
    for at, sound in told:
        pattern = ANNOUNCED if at in ahead else PATTERN_OF[sound]
        for k in range(pattern.times):
            spans.append((at + 2 * k * pattern.seconds, at + (2 * k + 1) * pattern.seconds))
    points = sorted({round(point, 5) for span in spans for point in span})
    level, found = False, []
    for point in points:
        covered = any(a - 1e-7 <= point + 6e-6 < b for a, b in spans)
        if covered != level:
            level = covered
            found.append((point, level))
    return found


@told_to(max_examples=120, deadline=None)
@drawn(
    seconds=st.integers(5, 400).map(lambda n: n / 10),
    waited=st.sampled_from([0.2, 1.0, 3.0, 5.0]),
    before=st.sampled_from([0.0, 0.5, 1.25, 3.75]),
    spans=st.lists(st.tuples(st.floats(0.0, 0.8), st.floats(0.1, 0.9)), max_size=3),
    beat=st.sampled_from([0.0, 0.5, 1.0]),
    lamp=st.sampled_from([Response(), Response(rise_s=0.12, fall_s=0.06), Response(relay_on_s=0.02, relay_off_s=0.05)]),
)
def test_the_line_pulses_at_the_instants_of_the_sounds(
    seconds: float, waited: float, before: float, spans: list[tuple[float, float]], beat: float, lamp: Response
) -> None:
    """Sounds as the panel works them out from a status, without words and without light-off, which is the keeper's."""
    dose = lamp.dose(seconds) + before
    dodges = tuple(dodge("sky", dose * min(a, b), dose * max(a, b) + 0.01) for a, b in spans)
    of = step(dose, response=lamp, dodges=dodges)
    told = lead_in(100.0, 100.0 + waited, seconds, on_s=before, given=before)
    burst = burst_of(told)
    assert burst is not None
    plain = SoundSettings(say="beep", beat=beat or "off", count="off")
    heard = burst_sounds(burst, told, of, plain, lambda _: None)
    sounds = [(event.at, event.sound) for event in heard if event.sound != "light_off"]
    ahead = {event.at for event in heard if event.sound == "card_in" and _announces(event.at, event.key, heard, burst)}
    rows = pulses(burst, of, before, before, beat)
    found, wanted = edges(rows, burst.lit), painted(sounds, ahead)
    assert [level for _, level in found] == [level for _, level in wanted]
    assert [at for at, _ in found] == pytest.approx([at for at, _ in wanted], abs=2e-5)
    assert len(rows) <= MOST
    message = Expose(1, "green", 1.0, 1.0, ("go", "end") * 12, None, None, 0, False, rows)
    assert TO_KEEPER.decode(TO_KEEPER.encode(message)) == message


def _announces(at: float, key: tuple[str | float, ...], heard: list, burst: Burst) -> bool:
    """Whether a `card_in` is the announcement of a card that must be in before the light: then it is before it, or
    just after it where the lead-in is too short."""
    return at < burst.lit


def test_the_longest_burst_with_a_beat_every_half_second_fits_a_message() -> None:
    rows = pulses(Burst(1, 0.0, 5.0, 1805.0), step(1800.0), 0.25, 0.25, 0.5)
    raw = json.dumps({"cues": rows})
    assert len(raw) < 600 and sum(row[2] for row in rows) < MOST_PULSES
    beats = [at for at, on in edges(rows, 5.0) if on]
    assert len(beats) > 3590


def test_a_light_to_look_at_is_told_when_it_comes_on_and_no_more() -> None:
    assert pulses(Burst(1, 2.0, 2.0, 602.0), None, 0.0, 0.0, 1.0) == ((0.0, 0.0, 1, 0.3),)
