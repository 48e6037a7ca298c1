"""The bench's key `sound`: what it means where it is not written, what is refused, and that its schema agrees."""

from __future__ import annotations

import json

import pytest
from sheet.telling import told
from sheet.test_profile_bench import G
from sheet.test_profile_schema import fits

from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import read
from timerd.sheet.profile.schema import schema
from timerd.sheet.profile.sound import Levels, SoundSettings
from timerd.sheet.profile.text import read_text

SOUND = {
    "say": "beep", "beat": 0.5, "count": "up", "beat_in_ready": True, "level": 0.2,
    "levels": {"fault": 0.9, "voice": 0}, "voice": "en-us", "words_a_minute": 200,
}  # fmt: skip


def bench(sound: str) -> Bench:
    value = read(f"{G}sound: {sound}\n".encode(), "p.yaml", "bench").value
    again = Bench.model_validate(json.loads(value.model_dump_json()))
    assert again == value, "the daemon sends it to the panel as JSON"
    return value


def test_a_bench_that_says_nothing_beeps_and_speaks() -> None:
    plain = read(G.encode(), "p.yaml", "bench").value.sound
    assert plain == bench("{}").sound == SoundSettings()
    assert (plain.say, plain.beat, plain.count, plain.beat_in_ready) == ("both", 1.0, "down", False)


def test_every_key_is_read() -> None:
    assert bench(json.dumps(SOUND)).sound == SoundSettings(
        say="beep", beat=0.5, count="up", beat_in_ready=True, level=0.2, levels=Levels(fault=0.9, voice=0.0),
        voice="en-us", words_a_minute=200,
    )  # fmt: skip
    assert [bench(f"{{beat: {beat}}}").sound.beat for beat in ("off", "1", "1.0", "0.5")] == [0.0, 1.0, 1.0, 0.5]


@pytest.mark.parametrize(
    ("key", "fault"),
    [
        ("say: loud", "say: must be beep, speak, both or off, is 'loud'"),
        ("beat: 2", "beat: write off, 1 or 0.5 (seconds between beats); found 2"),
        ("beat: true", "beat: write off, 1 or 0.5 (seconds between beats); found true"),
        ("beat: '1'", "beat: write off, 1 or 0.5 (seconds between beats); found '1'"),
        ("count: dwon", "count: must be up, down or off, is 'dwon': did you mean 'down'?"),
        ("beat_in_ready: yes", "beat_in_ready: must be true or false, is 'yes': write true"),
        ("level: 7", "level: must be at most 1, is 7"),
        ("levels: {bet: 0.5}", "levels: unknown key 'bet': did you mean 'beat'?"),
        ("levels: {light_on: loud}", "levels.light_on: must be a number, is 'loud'"),
        ("levels: {voice: -1}", "levels.voice: must be at least 0, is -1"),
        (
            "voice: --path",
            "voice: must be small letters, digits and single hyphens, as in 'low-tide-2', is '--path'",
        ),
        ("words_a_minute: 79", "words_a_minute: must be at least 80, is 79"),
        ("speed: 3", "unknown key 'speed'"),
    ],
)
def test_what_is_refused(key: str, fault: str) -> None:
    place = "sound: " if fault.startswith("unknown") else "sound."
    assert told(f"{G}sound: {{{key}}}\n") == [f"p.yaml:10: {place}{fault}"]
    made = schema("bench")
    assert not fits(read_text(f"{G}sound: {{{key}}}\n".encode(), "p.yaml").data, made, made)


def test_the_schema_takes_what_is_read() -> None:
    made = schema("bench")
    for sound in (json.dumps(SOUND), "{}", "{beat: off}", "{beat: 1}"):
        assert fits(read_text(f"{G}sound: {sound}\n".encode(), "p.yaml").data, made, made), sound
