"""When each sound is due: whole lists by hand, and any bursts and pauses against an independent slow computation."""

from __future__ import annotations

import pytest
from hypothesis import given as drawn
from hypothesis import settings as told_to
from hypothesis import strategies as st
from panel.slow_beats import Dodge, S, slow_burst
from panel.telling import but, dodge, exposing, lead_in, status, step

from timerd.panel.beats import Heard, announcements, burst_of, burst_sounds, change_sounds, waiting_sound
from timerd.panel.words_to_say import number_words
from timerd.printing.light import Response
from timerd.sheet.beats import Burst
from timerd.sheet.plan.value import Step
from timerd.sheet.profile.sound import SoundSettings

PLAIN = SoundSettings(say="beep")
BOTH = SoundSettings()


def heard(told: dict, of: Step | None, settings: SoundSettings = PLAIN, spoken=lambda words: None, known=None):
    burst = burst_of(told, known)
    assert burst is not None
    return burst_sounds(burst, told, of, settings, spoken)


def listed(events: list[Heard]) -> list[tuple[float, str]]:
    return [(event.at, event.words or event.sound) for event in events]


def half_a_second(words: str) -> float:
    return 0.5


# -- whole bursts by hand --------------------------------------------------------------------------------------------


def test_a_burst_with_its_lead_in() -> None:
    assert listed(heard(lead_in(100.0, 103.0, 9.5), step(9.5))) == [
        (100.0, "lead_in"), (101.0, "lead_in"), (102.0, "lead_in"), (103.0, "light_on"),
        (104.0, "beat"), (105.0, "beat"), (106.0, "beat"), (107.0, "beat"), (108.0, "accent"), (109.0, "beat"),
        (109.5, "last"), (110.5, "last"), (111.5, "last"), (112.5, "light_off"),
    ]  # fmt: skip


def test_after_a_pause_the_beat_goes_on_at_the_next_whole_second_of_on_time() -> None:
    told = lead_in(200.0, 203.0, 5.75, on_s=3.75, given=3.75)
    assert listed(heard(told, step(9.5))) == [
        (200.0, "lead_in"), (201.0, "lead_in"), (202.0, "lead_in"), (203.0, "light_on"),
        (203.25, "beat"), (204.25, "accent"), (205.25, "beat"), (205.75, "last"), (206.75, "last"), (207.75, "last"),
        (208.75, "light_off"),
    ]  # fmt: skip


def test_a_beat_that_would_be_one_sound_with_another_is_left_out() -> None:
    """Of two sounds within a tenth of a second the ear makes one: light-on and the last three come first."""
    told = lead_in(200.0, 200.2, 4.1, on_s=4.95, given=4.95)
    assert [(round(at, 6), sound) for at, sound in listed(heard(told, step(9.05)))] == [
        (200.2, "light_on"), (201.3, "last"), (202.3, "last"), (203.3, "last"), (204.3, "light_off"),
    ]  # fmt: skip


def test_halves_and_no_beat() -> None:
    told = exposing(10.0, 5.25)
    assert listed(heard(told, step(5.25), SoundSettings(say="beep", beat=0.5))) == [
        (10.0, "light_on"), (10.5, "half"), (11.0, "beat"), (11.5, "half"), (12.0, "beat"), (12.25, "last"),
        (13.25, "last"), (14.25, "last"), (15.25, "light_off"),
    ]  # fmt: skip
    assert listed(heard(told, step(5.25), SoundSettings.model_validate({"say": "beep", "beat": "off"}))) == [
        (10.0, "light_on"), (12.25, "last"), (13.25, "last"), (14.25, "last"), (15.25, "light_off"),
    ]  # fmt: skip
    assert heard(told, step(5.25), SoundSettings(say="off")) == []


def test_a_short_held_burst() -> None:
    assert listed(heard(lead_in(10.0, 10.2, 1.5), step(1.5, pedal="hold"))) == [
        (10.2, "light_on"), (10.7, "last"), (11.7, "light_off"),
    ]  # fmt: skip


def test_counting_down_replaces_the_beat_it_falls_on() -> None:
    """24.5 s: the numbers count back from the end, and each stands for the one beat from a quarter before it on."""
    words = [(at - 10.0, word) for at, word in listed(heard(exposing(10.0, 24.5), step(24.5), BOTH, half_a_second))]
    assert words == [
        (0.0, "light_on"), (1.0, "beat"), (2.0, "beat"), (3.0, "beat"), (4.0, "beat"), (4.5, "twenty"), (6.0, "beat"),
        (7.0, "beat"), (8.0, "beat"), (9.0, "beat"), (9.5, "fifteen"), (11.0, "beat"), (12.0, "beat"), (13.0, "beat"),
        (14.0, "beat"), (14.5, "ten"), (16.0, "beat"), (17.0, "beat"), (18.0, "beat"), (19.0, "beat"), (19.5, "five"),
        (20.5, "four"), (21.5, "three"), (22.5, "two"), (23.5, "one"), (24.5, "light_off"),
    ]  # fmt: skip


def test_counting_up_says_the_seconds_of_light() -> None:
    """The step's on-time through its bursts; the last three seconds keep their own sound."""
    told = exposing(0.0, 12.5, on_s=4.0, given=4.0)
    up = SoundSettings(count="up")
    assert listed(heard(told, step(16.5), up, half_a_second)) == [
        (0.0, "light_on"), (1.0, "five"), (2.0, "beat"), (3.0, "beat"), (4.0, "beat"), (5.0, "beat"), (6.0, "ten"),
        (7.0, "beat"), (8.0, "twelve"), (9.0, "beat"), (9.5, "last"), (10.5, "last"), (11.5, "last"),
        (12.5, "light_off"),
    ]  # fmt: skip


def test_the_last_twenty_seconds_are_counted_by_fives() -> None:
    for count in ("up", "down"):
        times = heard(exposing(0.0, 41.0), step(41.0), SoundSettings(count=count), half_a_second)
        spoken = [event.at for event in times if event.words is not None]
        assert (
            spoken
            == {
                "up": [10.0, 20.0, 25.0, 30.0, 35.0, 36.0, 37.0],
                "down": [1.0, 11.0, 21.0, 26.0, 31.0, 36.0, 37.0, 38.0, 39.0, 40.0],
            }[count]
        )
    exact = heard(exposing(0.0, 25.0), step(25.0), SoundSettings(count="up"), half_a_second)
    assert [event.at for event in exact if event.words is not None] == [5.0, 10.0, 15.0, 20.0, 21.0]


def test_a_number_that_does_not_fit_or_is_not_rendered_leaves_the_beat() -> None:
    told = exposing(0.0, 6.0)
    beats = listed(heard(told, step(6.0), PLAIN))
    assert listed(heard(told, step(6.0), BOTH, lambda words: 0.71)) == beats
    assert listed(heard(told, step(6.0), BOTH, lambda words: None)) == beats
    some = {"five": 0.5}.get
    assert listed(heard(told, step(6.0), BOTH, some)) == [
        (at, "five" if at == 1.0 else word) for at, word in beats
    ]  # fmt: skip


def test_whole_minutes_take_the_place_of_two_beats() -> None:
    of, told = step(130.0), exposing(0.0, 130.0)
    times = listed(heard(told, of, BOTH, lambda words: 1.2 if "minutes" in words else 0.5))
    assert [(at, word) for at, word in times if 8.0 <= at <= 13.0] == [
        (8.0, "beat"), (9.0, "beat"), (10.0, "two minutes"), (12.0, "beat"), (13.0, "beat"),
    ]  # fmt: skip
    assert "two minutes" not in [word for _, word in listed(heard(told, of, BOTH, lambda words: 1.7))]


def test_a_free_burn_is_counted_up_by_tens_and_told_before_its_limit() -> None:
    times = heard(exposing(0.0, 130.0), step(None, pedal="free", longest_s=130.0), BOTH, half_a_second)
    spoken = [(event.at, event.words) for event in times if event.words is not None]
    assert spoken == [(10.0 * k, number_words(10 * k)) for k in range(1, 10)] + [(120.0, "two minutes")]
    assert [event.sound for event in times[-4:]] == ["last", "last", "last", "light_off"]


def test_the_viewing_light_has_no_beat() -> None:
    viewing = exposing(5.0, 600.0, state="idle", on_s=None, given=None)
    assert listed(heard(viewing, None)) == [(5.0, "light_on"), (605.0, "light_off")]
    viewing = but(viewing, burst={"burst": 7, "light": "green", "lit": 5.0, "deadline": None})
    assert listed(heard(viewing, None)) == [(5.0, "light_on")]


# -- the hands -------------------------------------------------------------------------------------------------------


def test_a_dodge_has_two_beats_notice_and_its_moment() -> None:
    of = step(12.0, dodges=(dodge("boat", 4.25, 7.25),))
    told = exposing(0.0, 12.0)
    assert listed(heard(told, of)) == [
        (0.0, "light_on"), (1.0, "beat"), (2.0, "beat"), (2.25, "notice"), (3.0, "beat"), (3.25, "notice"),
        (4.0, "beat"), (4.25, "card_in"), (5.0, "accent"), (5.25, "notice"), (6.0, "beat"), (6.25, "notice"),
        (7.0, "beat"), (7.25, "card_out"), (8.0, "beat"), (9.0, "last"), (10.0, "last"), (11.0, "last"),
        (12.0, "light_off"),
    ]  # fmt: skip
    assert listed(heard(told, of, BOTH, {"boat in": 0.75, "boat out": 0.8, "in": 0.3, "out": 0.4}.get)) == [
        (0.0, "light_on"), (1.0, "beat"), (2.0, "beat"), (2.25, "boat in"), (3.25, "notice"),
        (4.0, "beat"), (4.25, "in"), (5.0, "accent"), (5.25, "boat out"), (6.25, "notice"),
        (7.0, "beat"), (7.25, "out"), (8.0, "beat"), (9.0, "last"), (10.0, "last"), (11.0, "last"),
        (12.0, "light_off"),
    ]  # fmt: skip


def test_a_card_that_is_in_before_the_light_is_told_in_the_lead_in() -> None:
    of = step(8.0, dodges=(dodge("boat", 0.0, 8.0),))
    assert listed(heard(lead_in(0.0, 3.0, 8.0), of))[:4] == [
        (0.0, "lead_in"), (1.0, "card_in"), (2.0, "lead_in"), (3.0, "light_on"),
    ]  # fmt: skip
    again = lead_in(0.0, 0.2, 5.0, on_s=3.0, given=3.0)
    assert listed(heard(again, of))[:2] == [(0.0, "card_in"), (0.2, "light_on")], "after a pause the card is due again"
    words = listed(heard(lead_in(0.0, 3.0, 8.0), of, BOTH, half_a_second))
    assert words[:4] == [(0.0, "lead_in"), (1.0, "boat in"), (2.0, "lead_in"), (3.0, "light_on")]
    assert "out" not in [word for _, word in words], "at the end light-off says it"


def test_a_dodge_runs_on_dose_and_survives_a_pause() -> None:
    """A lamp that loses half a second a burst: after 3 s of light 2.5 s are given, so the card goes in 2 s later."""
    lag = Response(lag_s=0.5)
    of = step(8.0, response=lag, dodges=(dodge("boat", 4.0, 6.0),))
    first = [event for event in heard(exposing(0.0, 8.5), of) if event.sound.startswith("card")]
    assert listed(first) == [(4.5, "card_in"), (6.5, "card_out")]
    again = exposing(20.0, 6.0, on_s=3.0, given=2.5)
    then = [event for event in heard(again, of) if event.sound.startswith("card")]
    assert listed(then) == [(22.0, "card_in"), (24.0, "card_out")]


def test_dodges_done_apart_are_announced_in_their_own_lead_in() -> None:
    of = step(10.0, parts=(8.0, 10.0), dodges=(dodge("boat", 1.0, 3.0), dodge("sand", 8.0, 10.0, apart=True)))
    first = [event for event in heard(lead_in(0.0, 3.0, 8.0), of) if event.sound.startswith("card")]
    assert listed(first) == [(4.0, "card_in"), (6.0, "card_out")]
    second = lead_in(50.0, 53.0, 2.0, on_s=8.0, given=8.0 + 1e-9)
    assert listed(heard(second, of)) == [
        (50.0, "lead_in"), (51.0, "card_in"), (52.0, "lead_in"), (53.0, "light_on"), (54.0, "last"),
        (55.0, "light_off"),
    ]  # fmt: skip


def test_two_cards_at_once_are_announced_together() -> None:
    of = step(20.0, dodges=(dodge("boat", 0.0, 6.0), dodge("left", 0.0, 9.0, mm=30.0)))
    words = listed(heard(lead_in(0.0, 3.0, 20.0), of, BOTH, lambda words: 0.9))
    assert (1.0, "boat in, left 30 millimetres in") in words
    assert announcements(of) == {
        "boat in, left 30 millimetres in": 1.8, "boat out": 0.9, "left 30 millimetres out": 0.9,
    }  # fmt: skip


# -- any sequence of bursts and pauses -------------------------------------------------------------------------------


@st.composite
def evenings(draw: st.DrawFn):
    """A step in ticks of 1/64 s, how it is heard, and where it is paused."""
    dose = draw(st.integers(S // 4, 40 * S))
    lag = draw(st.sampled_from([0, 0, 1, S // 4, 2 * S]))
    dodges, free = [], 0
    for k in range(draw(st.integers(0, 3))):
        start = free if draw(st.booleans()) else draw(st.integers(0, dose - 1))
        stop = draw(st.integers(min(start + 1, dose), dose))
        if start < stop:
            dodges.append(Dodge(f"a{k}", start, stop))
            free = min(dose - 1, stop + S)
    pauses = draw(st.lists(st.integers(1, 30 * S), max_size=5))
    ahead = draw(st.sampled_from([12, 3 * S, 5 * S, 2 * S + 13]))
    every = draw(st.sampled_from([0, S, S // 2]))
    count = draw(st.sampled_from(["up", "down", "off"]))
    lengths = draw(st.sampled_from([None, 20, 40, 44, 60]))
    return dose, lag, dodges, pauses, ahead, every, count, lengths


@told_to(max_examples=400, deadline=None)
@drawn(evenings())
def test_any_bursts_and_pauses_are_heard_as_the_slow_computation_says(evening) -> None:
    dose, lag, dodges, pauses, ahead, every, count, lengths = evening
    of = step(
        dose / S, response=Response(lag_s=lag / S), dodges=tuple(dodge(d.area, d.start / S, d.stop / S) for d in dodges)
    )
    settings = SoundSettings.model_validate({"beat": every / S or "off", "count": count})
    known = {number_words(n): f"#{n}" for n in range(1, 100)}

    def spoken(words: str) -> float | None:
        return None if lengths is None else (lengths + (len(words) % 3 if words not in known else 0)) / S

    def length(words: str) -> int | None:
        return None if lengths is None else lengths + (0 if words[0] == "#" else len(words) % 3)

    given = on = 0
    lit = 1000
    for number, pause in enumerate([*pauses, 10**9]):
        end, wanted = slow_burst(
            dose=dose, lag=lag, given=given, on=on, ahead=ahead, dodges=dodges, every=every, count=count, length=length
        )
        facts = {"on_s": on / S, "given": given / S}
        coming = lead_in((lit - ahead) / S, lit / S, end / S, burst=number, **facts)
        sounds = heard(coming, of, settings, spoken)
        assert [((e.at * S) - lit, e.sound, known.get(e.words, e.words)) for e in sounds] == wanted
        assert len({event.key for event in sounds}) == len(sounds)
        burning = exposing(lit / S, end / S, burst=number, **facts)
        assert heard(burning, of, settings, spoken, known=burst_of(coming)) == sounds, "the same once it burns"
        if pause >= end:
            break
        on, given = on + pause, given + max(0, pause - lag)
        lit += pause + 3 * ahead + number
    else:
        raise AssertionError("the last burst is whole")


# -- what has happened -----------------------------------------------------------------------------------------------


def since(number: int, at: float = 50.0) -> dict:
    return {"number": number, "at": at}


DARK = {"burst": 7, "at": 50.0, "why": "deadline"}
CUT = {"burst": 7, "at": 50.0, "why": "pedal"}


@pytest.mark.parametrize(
    ("before", "after", "sounds"),
    [
        # by itself: the light goes off, then what comes next
        (exposing(40.0, 10.0), status(state="ready", since=since(2), dark=DARK), [(50.0, "light_off")]),
        (exposing(40.0, 10.0), status(state="done", since=since(2), dark=DARK), [(50.0, "light_off"), (50.5, "done")]),
        (
            exposing(40.0, 10.0),
            status(state="prompt", since=since(2), dark=DARK),
            [(50.0, "light_off"), (50.5, "prompt")],
        ),
        (lead_in(39.0, 40.0, 10.0), status(state="ready", since=since(2), dark=DARK), [(50.0, "light_off")]),
        # cut: one sound says it
        (exposing(40.0, 30.0), status(state="paused", since=since(2), dark=CUT), [(50.0, "paused")]),
        (exposing(40.0, 30.0), status(state="fault", since=since(2), dark=CUT), [(50.0, "fault")]),
        (lead_in(49.0, 52.0, 10.0), status(state="ready", since=since(2), dark=CUT), [(50.0, "paused")]),
        (lead_in(49.0, 52.0, 10.0), status(state="paused", since=since(2), dark=CUT), [(50.0, "paused")]),
        # without light
        (status(state="prompt"), status(state="ready", since=since(2)), [(50.0, "ready")]),
        (status(state="ready"), status(state="ready", since=since(2)), [(50.0, "ready")]),
        (status(state="ready"), status(state="prompt", since=since(2)), [(50.0, "prompt")]),
        (status(state="paused"), status(state="abandoned", since=since(2)), [(50.0, "paused")]),
        (status(state="done"), status(state="idle", since=since(2)), [(50.0, "ready")]),
        (status(state="ready"), lead_in(50.0, 53.0, 9.0, since=since(2)), []),
        (lead_in(50.0, 53.0, 9.0), exposing(53.0, 9.0, since=since(2)), []),
        (status(), status(since=since(2)), []),
        (status(), status(now=101.0), []),
        # the viewing light
        (exposing(40.0, 600.0, state="idle"), status(dark=CUT, since=since(2)), [(50.0, "light_off")]),
        # told
        (status(), status(refused={"number": 1, "at": 49.0, "why": "late"}), [(49.0, "refused")]),
        (status(refused={"number": 1, "at": 49.0, "why": "late"}), status(), []),
        (
            status(said={"number": 3, "what": "step", "at": 1.0}),
            status(said={"number": 4, "what": "both held", "at": 49.0}),
            [(49.0, "warning")],
        ),
        (status(), status(said={"number": 1, "what": "ten seconds left", "at": 49.0}), [(49.0, "warning")]),
        (status(), status(worn="go", said={"number": 1, "what": "worn", "at": 49.0}), [(49.0, "warning")]),
        (status(), status(said={"number": 1, "what": "owed", "at": 49.0}), [(49.0, "ready")]),
        (status(), status(said={"number": 1, "what": "fault", "at": 49.0}), [(49.0, "fault")]),
        (status(), status(said={"number": 1, "what": "in the fixer", "at": 49.0}), [(49.0, "ready")]),
        # of a first status
        (None, status(state="paused", since=since(2), said={"number": 1, "what": "step", "at": 1.0}), []),
        (None, status(state="fault", since=since(2)), [(100.0, "fault")]),
    ],
)
def test_what_has_happened_has_one_sound(before, after, sounds) -> None:
    assert listed(change_sounds(before, after)) == sounds


def test_what_goes_on_while_nothing_happens() -> None:
    often = SoundSettings(beat_in_ready=True)
    told = {state: status(state=state, since=since(2)) for state in ("ready", "fault", "paused", "idle", "prompt")}
    assert {state: waiting_sound(s, often) for state, s in told.items()} == {
        "ready": ("ready", 51.0, 1.0), "fault": ("fault", 60.0, 10.0), "paused": None, "idle": None, "prompt": None,
    }  # fmt: skip
    assert waiting_sound(told["ready"], SoundSettings()) is None
    assert waiting_sound(told["fault"], SoundSettings(say="off")) is None


def test_a_burst_keeps_the_beginning_of_its_lead_in() -> None:
    known = burst_of(lead_in(1.0, 4.0, 5.0))
    assert known == Burst(7, 1.0, 4.0, 9.0)
    assert burst_of(exposing(4.25, 5.0), known) == Burst(7, 1.0, 4.25, 9.25)
    assert burst_of(exposing(4.25, 5.0, burst=8), known) == Burst(8, 4.25, 4.25, 9.25)
    assert burst_of(status(), known) is None
