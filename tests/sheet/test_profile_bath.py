"""What is wrong with a bath line, whole lists compared; and what a sound one comes to."""

from __future__ import annotations

import pytest
from sheet.telling import told

from timerd.sheet.profile.reading import read

P = """\
bath: mine
base: fibre
carry_s: 20
develop: together
cues: softly
baths:
  - {name: developer, kind: developer, seconds: 120, drain_s: 10, agitate: {every_s: 30, for_s: 10}, factor: 6}
  - {name: stop, kind: stop bath, seconds: 10, drain_s: 10, drain: outside}
  - {name: fixer-1, kind: fixer, seconds: 60, capacity: {fibre: 50}, followed_by: fixer-2, cycles: 5, litres: 1.5}
  - {name: fixer-2, kind: fixer, seconds: 60, keeps_h: 168}
"""


def changed(lines: dict[int, str]) -> str:
    """The line above with some of its lines, counted from 1, written otherwise."""
    return "".join(lines.get(n, line) + "\n" for n, line in enumerate(P.splitlines(), start=1))


def test_a_sound_line() -> None:
    assert told(P) == []
    line = read(P.encode(), "p.yaml", "bath").value
    assert (line.bath, line.base, line.carry_s, line.develop, line.cues) == ("mine", "fibre", 20, "together", "softly")
    developer, stop, one, two = line.baths
    assert developer.agitate is not None and (developer.agitate.every_s, developer.agitate.for_s) == (30, 10)
    assert (developer.drain, stop.drain, developer.factor, two.keeps_h) == ("inside", "outside", 6, 168)
    assert one.capacity is not None and one.capacity.per_litre == {"fibre": 50.0}
    assert line.white_from == (2, 30, 30)
    assert (one.followed_by, one.cycles, one.litres, one.words) == ("fixer-2", 5, 1.5, "fixer 1")


def test_the_drain_is_counted_inside_or_comes_after() -> None:
    developer, stop, *_ = read(P.encode(), "p.yaml", "bath").value.baths
    assert developer.move_after(20) == 120 and stop.move_after(20) == 20
    warm = read(changed({7: P.splitlines()[6].replace("factor: 6", "per_degree: 0.08")}).encode(), "p.yaml", "bath")
    assert warm.value.baths[0].move_after(24) == pytest.approx(120 * 0.726149)  # exp(-0.32)


BAD = {
    "no developer": (
        changed({7: ""}),
        ["p.yaml:8: baths[0].kind: the first bath must be a developer, is a stop bath"],
    ),
    "developer later": (
        changed({10: "  - {name: fixer-2, kind: developer, seconds: 60}"}),
        [
            "p.yaml:9: baths[2].followed_by: 'fixer-2' is a developer, this is a fixer",
            "p.yaml:10: baths[3].kind: a developer cannot come after the stop bath",
        ],
    ),
    "developers alone": (
        "bath: b\nbaths:\n  - {name: a, kind: developer, seconds: 9}\n  - {name: b, kind: developer, seconds: 9}\n",
        ["p.yaml:2: baths: has developers alone: what ends the development?"],
    ),
    "one bath": (
        "bath: b\nbaths:\n  - {name: a, kind: developer, seconds: 9}\n",
        ["p.yaml:2: baths: has developers alone: what ends the development?"],
    ),
    "twice": (
        changed({8: "  - {name: developer, kind: stop bath, seconds: 10}"}),
        ["p.yaml:8: baths[1].name: there is a bath 'developer' already: call one of them something else"],
    ),
    "all drain": (
        changed({8: "  - {name: stop, kind: stop bath, seconds: 10, drain_s: 10}"}),
        ["p.yaml:8: baths[1].drain_s: 10 s of drain leave nothing of 10 s: shorten it, or write drain: outside"],
    ),
    "no pause": (
        changed({8: "  - {name: stop, kind: stop bath, seconds: 10, agitate: {every_s: 5, for_s: 5}}"}),
        ["p.yaml:8: baths[1].agitate.for_s: must be below every_s, 5: without a pause, write 0"],
    ),
    "factor": (
        changed({8: "  - {name: stop, kind: stop bath, seconds: 10, factor: 6}"}),
        ["p.yaml:8: baths[1].factor: is for a developer: in a stop bath no image comes up"],
    ),
    "capacity": (
        changed({8: "  - {name: stop, kind: stop bath, seconds: 10, capacity: {}}"}),
        ["p.yaml:8: baths[1].capacity: needs 'fibre' or 'resin': sheets of 8x10 in a litre"],
    ),
    "capacity misspelt": (
        changed({8: "  - {name: stop, kind: stop bath, seconds: 10, capacity: {fiber: 20}}"}),
        ["p.yaml:8: baths[1].capacity: unknown key 'fiber': did you mean 'fibre'?"],
    ),
    "white light in the stop bath": (
        changed({5: "white_light: {bath: stop, after_s: 30}"}),
        ["p.yaml:5: white_light.bath: nothing is fixed in 'stop': name the fixer, 'fixer-1', or a bath after it"],
    ),
    "white light in a bath that is not there": (
        changed({5: "white_light: {bath: fixer-3}"}),
        ["p.yaml:5: white_light.bath: no bath of this line is called 'fixer-3': did you mean 'fixer-2'?"],
    ),
    "white light of nothing": (
        changed({5: "white_light: {}"}),
        ["p.yaml:5: white_light: needs 'bath' or 'after_s': from which bath on, how many seconds in it"],
    ),
    "white light misspelt": (
        changed({5: "white_light: {bath: fixer-1, after: 30}"}),
        ["p.yaml:5: white_light: unknown key 'after': did you mean 'after_s'?"],
    ),
    "white light at once": (
        changed({5: "white_light: {bath: fixer-1, after_s: 0}"}),
        ["p.yaml:5: white_light.after_s: must be at least 5, is 0"],
    ),
    "white light without a fixer": (
        "bath: b\nwhite_light: {after_s: 30}\n"
        "baths:\n  - {name: a, kind: developer, seconds: 9}\n  - {name: b, kind: wash, seconds: 9}\n",
        [
            "p.yaml:2: white_light: no bath of this line is a fixer: leave it out, white light is safe when the sheet "
            "is out of all baths"
        ],
    ),
    "followed by what is not there": (
        changed({9: "  - {name: fixer-1, kind: fixer, seconds: 60, followed_by: fixer-3}"}),
        [
            "p.yaml:9: baths[2]: needs 'capacity', to tell when the bath that follows takes its place",
            "p.yaml:9: baths[2].followed_by: no bath 'fixer-3' comes after this one: did you mean 'fixer-2'?",
        ],
    ),
    "cycles alone": (
        changed({10: "  - {name: fixer-2, kind: fixer, seconds: 60, cycles: 5}"}),
        ["p.yaml:10: baths[3].cycles: needs 'followed_by': which bath takes this one's place?"],
    ),
    "words and numbers": (
        changed({4: "develop: later", 5: "cues: loudly", 8: "  - {name: Stop, kind: stop, seconds: 2 min}"}),
        [
            "p.yaml:4: develop: must be at once or together, is 'later'",
            "p.yaml:5: cues: must be wait or softly, is 'loudly'",
            "p.yaml:8: baths[1].kind: must be developer, stop bath, fixer, rinse, hypo clear, wash or toner, "
            "is 'stop': did you mean 'stop bath'?",
            "p.yaml:8: baths[1].name: must be small letters, digits and single hyphens, as in 'low-tide-2', is 'Stop'",
            "p.yaml:8: baths[1].seconds: must be a number, is '2 min': write 120, in seconds",
        ],
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_what_is_wrong_is_told_at_its_line(name: str) -> None:
    text, faults = BAD[name]
    assert told(text) == faults
